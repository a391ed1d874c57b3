"""Regions and zones in a frame of their own, and what was filled there as it lies on the page."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import shapely
from shapely import Polygon

from ...model import Barest, Fence, Filled, Frame, Zone
from ..curves.polylines import LOCAL_GRID_MM, path_to_local, path_to_page
from .regions import normalised, pieces_of, valid_parts

__all__ = ["filled_to_page", "outline_to_local", "region_to_local", "region_to_page", "zone_to_local"]

NECK_MM = 10 * LOCAL_GRID_MM
"""What an outline grows by where rounding closed a neck: wide enough to stay one piece, too little to measure."""

Point = tuple[float, float]


def region_to_page(region: Polygon, frame: Frame) -> Polygon:
    """Return a region of a frame as a region of the page.

    Parameters
    ----------
    region : shapely.Polygon
        In the frame.
    frame : Frame
        Where it lies.

    Returns
    -------
    shapely.Polygon
        On the page.
    """
    return normalised(shapely.transform(region, frame.to_page))


def region_to_local(region: Polygon, frame: Frame) -> list[Polygon]:
    """Return a region of the page in a frame, rounded to `LOCAL_GRID_MM` and valid, largest piece first.

    Necks narrower than that grid close: the region may fall into several pieces.

    Parameters
    ----------
    region : shapely.Polygon
        On the page.
    frame : Frame
        Of its zone.

    Returns
    -------
    list of shapely.Polygon
        In the frame.
    """
    return pieces_of(_rounded(region, frame))


def outline_to_local(region: Polygon, frame: Frame) -> Polygon:
    """Return a region of the page in a frame as ONE valid polygon; necks that rounding closes are held open.

    Parameters
    ----------
    region : shapely.Polygon
        On the page.
    frame : Frame
        Of its zone.

    Returns
    -------
    shapely.Polygon
        In the frame.
    """
    local = _rounded(region, frame)
    if local.is_valid:
        return normalised(local)
    seams = shapely.buffer(local.boundary, NECK_MM, join_style="mitre")  # a closed neck is a doubled line in it
    return pieces_of(shapely.union_all([*valid_parts(local), seams]))[0]


def _rounded(region: Polygon, frame: Frame) -> Polygon:
    out: Polygon = shapely.transform(region, lambda p: np.round(frame.to_local(p) / LOCAL_GRID_MM) * LOCAL_GRID_MM)
    return out


def zone_to_local(zone: Zone) -> list[Zone]:
    """Return a zone in its own frame, rounded as `path_to_local` rounds: once for each piece of its region there.

    Parameters
    ----------
    zone : Zone
        On the page.

    Returns
    -------
    list of Zone
        Largest piece first; more than one only where rounding closes a neck. ``frame`` still says where on the page
        they lie.

    Examples
    --------
    >>> from shapely import box
    >>> square = box(100, 50, 110, 60)
    >>> (there,) = zone_to_local(Zone("block", "", 1, square, square, enter=(105.0, 50.0), frame=Frame((100.0, 50.0))))
    >>> there.region.bounds, there.enter
    ((0.0, 0.0, 10.0, 10.0), (5.0, 0.0))
    """
    frame = zone.frame
    local = replace(
        zone,
        outline=outline_to_local(zone.outline, frame),
        fences=tuple(Fence(path_to_local(f.path, frame), f.soft_mm) for f in zone.fences),
        left_open=tuple(piece for r in zone.left_open for piece in region_to_local(r, frame)),
        laid=tuple(piece for r in zone.laid for piece in region_to_local(r, frame)),
        ways=tuple(replace(w, path=path_to_local(w.path, frame)) for w in zone.ways),
        enter=_point_to_local(zone.enter, frame),
        leave=_point_to_local(zone.leave, frame),
    )
    return [replace(local, region=piece) for piece in region_to_local(zone.region, frame)]


def filled_to_page(filled: Filled, frame: Frame) -> Filled:
    """Return what was filled in a frame as it lies on the page; findings stay as they are.

    Parameters
    ----------
    filled : Filled
        In the frame.
    frame : Frame
        Where it lies.

    Returns
    -------
    Filled
        On the page.

    Examples
    --------
    >>> from plumeline.model import Stroke, as_path
    >>> there = Filled(strokes=(Stroke(as_path([(0, 0), (5, 0)])),))
    >>> filled_to_page(there, Frame((100.0, 50.0))).strokes[0].path.tolist()
    [[100.0, 50.0], [105.0, 50.0]]
    """
    return replace(
        filled,
        strokes=tuple(replace(s, path=path_to_page(s.path, frame)) for s in filled.strokes),
        taken=tuple(region_to_page(r, frame) for r in filled.taken),
        fences=tuple(Fence(path_to_page(f.path, frame), f.soft_mm) for f in filled.fences),
        enclosed=tuple(region_to_page(r, frame) for r in filled.enclosed),
        barest=filled.barest and Barest(_point_to_page(filled.barest.place, frame), filled.barest.times),
    )


def _point_to_local(at: Point | None, frame: Frame) -> Point | None:
    if at is None:
        return None
    ((x, y),) = path_to_local([at], frame).tolist()
    return x, y


def _point_to_page(at: Point, frame: Frame) -> Point:
    x, y = frame.to_page(at).tolist()
    return x, y
