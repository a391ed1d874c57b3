"""Regions grown and shrunk by a margin."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from typing import Literal, TypeAlias

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from ...errors import EngineError
from ...model import FloatArray
from ...tolerances import ROUNDING_MM
from .regions import SLIVER_MM2, pieces_of, quad_segments
from .simplifying import followable

__all__ = ["MITRE_LIMIT", "Join", "calm_parts", "dilate", "erode", "erode_all"]

TURNED_OVER = 0.1
"""What an offset leaves that is smaller than this part of its distance squared is looked at for depth: what the engine
turned inside out came to 0.019 of it at most (regular polygons of 3 to 40 sides)."""


CALM_FROM, CALM_MM = 1500, 0.25
"""A region of more corners has its edge straightened by so much, half a thread, before it is filled."""


RAGGED = 300
"""An edge of more points is a coast: no patch has so many corners, and no curve so many chords."""


STRAIGHTENED_MM = 0.01
"""By how much what is left of a coast is straightened: as an offset's own tolerance."""


Join: TypeAlias = Literal["round", "mitre", "bevel"]
"""How the edge goes on round a corner."""


MITRE_LIMIT = 8.0
"""A mitred corner reaches at most this many offsets out: corners down to 14 degrees stay sharp."""


def erode(
    region: Polygon,
    by_mm: float,
    *,
    join: Join = "mitre",
    tolerance_mm: float = 0.01,
    sliver_mm2: float = SLIVER_MM2,
    mitre_limit: float = MITRE_LIMIT,
) -> list[Polygon]:
    """Return what is left of a region when a margin is taken off inside every edge and hole.

    The offset is taken from the region itself, never from an earlier offset, so errors don't add up.

    Parameters
    ----------
    region : shapely.Polygon
        With or without holes.
    by_mm : float
        Width of the margin.
    join : {"mitre", "round", "bevel"}
        How the edge goes on round a notch.
    tolerance_mm : float
        How far the chords of a round join may stray.
    sliver_mm2 : float
        Pieces smaller than this are dropped.
    mitre_limit : float
        Beside a notch sharper than this allows, the mitre is cut off.

    Returns
    -------
    list of shapely.Polygon
        Largest first; empty where the margin takes all of it.

    Examples
    --------
    >>> from shapely import box
    >>> [round(piece.area) for piece in erode(box(0, 0, 100, 50), 10)]
    [2400]
    >>> erode(box(0, 0, 100, 50), 30)
    []
    """
    left = _offset(region, -by_mm, join, tolerance_mm, sliver_mm2, mitre_limit)
    return [
        piece for piece in left if piece.area > TURNED_OVER * by_mm**2 or _is_deep(piece, region, by_mm - tolerance_mm)
    ]


def _is_deep(piece: Polygon, region: Polygon, by_mm: float) -> bool:
    # past the deepest place of a nearly round region the engine goes on for a little with the region turned inside out
    at = piece.representative_point()
    return bool(shapely.contains_xy(region, at.x, at.y) and region.boundary.distance(at) >= by_mm)


def erode_all(
    region: Polygon, by_mm: Iterable[float], *, join: Join = "mitre", mitre_limit: float = MITRE_LIMIT
) -> Iterator[list[Polygon]]:
    """Yield what is left of a region when each of some margins is taken off; see `erode`.

    Each is taken from the region itself, so that errors don't add up, unless its edge is a coast of over `RAGGED`
    points. Far in from a coast the offset of every bay crosses those of many others, which takes seconds: there each
    margin is taken from what an earlier one left, straightened by a hundredth of a millimetre. With round joins that is
    one at half of it or less; with mitres, which are cut off beside notches, the one before, so that no two cross.

    Parameters
    ----------
    region : shapely.Polygon
        What is shrunk.
    by_mm : iterable of float
        The margins.
    join : {"round", "mitre", "bevel"}
        How corners of the offset are drawn.
    mitre_limit : float
        Longer mitres are cut off.

    Yields
    ------
    list of shapely.Polygon
        The pieces left at one margin.
    """
    share = 1.0 if join == "mitre" else 0.5
    ragged = shapely.get_num_coordinates(region) > RAGGED
    bases: list[tuple[float, list[Polygon]]] = [(0.0, [region])]
    for by in by_mm:
        at, left = next(base for base in reversed(bases) if base[0] <= by * share)
        found = [p for part in left for p in erode(part, by - at, join=join, mitre_limit=mitre_limit)]
        if ragged:
            found.sort(key=lambda part: -part.area)
            bases.append((by, [followable(part, STRAIGHTENED_MM) for part in found]))
        yield found


def dilate(
    shape: BaseGeometry,
    by_mm: float,
    *,
    join: Join = "round",
    tolerance_mm: float = 0.01,
    sliver_mm2: float = SLIVER_MM2,
) -> list[Polygon]:
    """Return a region (or a line, or points) grown by a margin on every side.

    Parameters
    ----------
    shape : shapely geometry
        What is grown.
    by_mm : float
        Width of the margin.
    join : {"round", "mitre", "bevel"}
        How the edge goes on round a corner.
    tolerance_mm : float
        How far the chords of a round join may stray.
    sliver_mm2 : float
        Pieces smaller than this are dropped.

    Returns
    -------
    list of shapely.Polygon
        Largest first.

    Examples
    --------
    >>> from shapely import box
    >>> [round(piece.area) for piece in dilate(box(0, 0, 100, 50), 10, join="mitre")]
    [8400]
    """
    return _offset(shape, by_mm, join, tolerance_mm, sliver_mm2)


def _offset(
    shape: BaseGeometry, by: float, join: Join, tolerance: float, sliver: float, mitre_limit: float = MITRE_LIMIT
) -> list[Polygon]:
    if by == 0:
        return pieces_of(shape, sliver_mm2=sliver)
    if not (math.isfinite(by) and np.isfinite(shapely.get_coordinates(shape)).all()):
        raise EngineError(f"an offset of {by} mm was asked where a coordinate is no number")
    segments = quad_segments(by, tolerance)
    # where an outline folds back on itself the engine divides by nothing, or nothing by nothing, and bevels the fold
    with np.errstate(divide="ignore", invalid="ignore"):
        grown = shapely.buffer(_undoubled(shape), by, quad_segs=segments, join_style=join, mitre_limit=mitre_limit)
    return pieces_of(grown, sliver_mm2=sliver)


def _undoubled(shape: BaseGeometry) -> BaseGeometry:
    """Return polygons without corners that rounding doubled: the engine bevels such a one where it should mitre."""
    if not _doubled(shapely.get_coordinates(shape)).any() or not isinstance(shape, Polygon | MultiPolygon):
        return shape
    kept = []
    for part in shapely.get_parts(shape):
        single = [ring[~_doubled(ring)] for ring in (np.asarray(r.coords) for r in (part.exterior, *part.interiors))]
        if len(single[0]) > 3:
            kept.append(Polygon(single[0], [hole for hole in single[1:] if len(hole) > 3]))
    return MultiPolygon(kept)


def _doubled(points: FloatArray) -> NDArray[np.bool_]:
    """Return which points are one with the point before."""
    return np.concatenate([np.zeros(1, dtype=bool), np.hypot(*np.diff(points, axis=0).T) <= ROUNDING_MM])


def calm_parts(region: Polygon, within_mm: float = CALM_MM) -> list[Polygon]:
    """Return a region of very many corners with its edge straightened, within it; others as they are.

    No edge is drawn in by more than twice ``within_mm``; what hangs together by less than that comes in parts. Work
    that grows with the square of the corners is then spared.

    Parameters
    ----------
    region : shapely.Polygon
        Any region.
    within_mm : float
        How far its edge may be drawn in.

    Returns
    -------
    list of shapely.Polygon
        One or more.
    """
    if shapely.get_num_coordinates(region) <= CALM_FROM:
        return [region]
    return [followable(part, within_mm) for part in erode(region, within_mm)]
