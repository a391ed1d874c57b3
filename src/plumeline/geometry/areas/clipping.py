"""Paths clipped to regions, through shapely: their stretches inside, in the path's own order and direction."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from shapely import LinearRing, LineString
from shapely.geometry.base import BaseGeometry

from ...model import FloatArray, Path, as_path
from ..engine import geometries, line_strings

__all__ = ["clip_path", "clip_paths"]

LONG_LINE = 500
"""Points of a line from which looking its legs up is quicker than going along all of them."""


def clip_path(path: FloatArray, region: BaseGeometry, *, closed: bool = False, least_mm: float = 1e-6) -> list[Path]:
    """Return the stretches of a path inside a region, in the path's order and direction.

    Parameters
    ----------
    path : (n, 2) array
        mm.
    region : shapely geometry
        What it is clipped to.
    closed : bool
        Whether the path leads back to its first point.
    least_mm : float
        Stretches shorter than this are dropped.

    Returns
    -------
    list of (n, 2) Path
        Empty where the path runs outside. A closed path that is wholly inside comes back once, with its first point
        repeated; one that leaves and returns is rejoined over its start.

    Examples
    --------
    >>> import numpy as np
    >>> from shapely import box
    >>> [piece.tolist() for piece in clip_path(np.array([[-5.0, 5.0], [15.0, 5.0]]), box(0, 0, 10, 10))]
    [[[0.0, 5.0], [10.0, 5.0]]]
    """
    return [piece for _, piece in clip_paths([path], region, closed=closed, least_mm=least_mm)]


def clip_paths(
    paths: Sequence[FloatArray], region: BaseGeometry, *, closed: bool = False, least_mm: float = 1e-6
) -> list[tuple[int, Path]]:
    """Return ``(index of the path, stretch)`` for many paths; see `clip_path`.

    Parameters
    ----------
    paths : sequence of (n, 2) arrays
        Polylines.
    region : shapely geometry
        What is kept of them.
    closed : bool
        Whether they lead back to their starts.
    least_mm : float
        Shorter stretches are left out.

    Returns
    -------
    list of (int, (n, 2) array)
        In the order of the paths.
    """
    if not len(paths):
        return []
    shapely.prepare(region)
    lines = line_strings(paths, closed)
    out: list[tuple[int, Path]] = []
    for i, (line, cut) in enumerate(zip(lines, geometries(shapely.intersection(lines, region)))):
        found = [np.asarray(g.coords) for g in _lines_of(cut) if g.length > least_mm]
        out.extend((i, as_path(piece)) for piece in _in_order(line, _merged(found), closed))
    return out


def _lines_of(shape: BaseGeometry) -> list[LineString]:
    if isinstance(shape, (LineString, LinearRing)):
        return [shape]
    return [line for part in getattr(shape, "geoms", ()) for line in _lines_of(part)]


def _merged(found: list[FloatArray]) -> list[FloatArray]:
    # Overlay may split a stretch at touching points; pieces that continue each other exactly are one stretch.
    out: list[FloatArray] = []
    for piece in found:
        if out and np.array_equal(out[-1][-1], piece[0]):
            out[-1] = np.vstack([out[-1], piece[1:]])
        else:
            out.append(piece)
    return out


def _in_order(line: LineString, found: list[FloatArray], closed: bool) -> list[FloatArray]:
    if not found:
        return []
    pieces = np.array([LineString(piece) for piece in found], dtype=object)
    shares = (0.4, 0.5, 0.6)  # GEOS may reverse a piece; two points on it tell its direction along the line
    points = np.concatenate([shapely.line_interpolate_point(pieces, share, normalized=True) for share in shares])
    early, middle, late = _located(line, points).reshape(3, -1)
    out = [
        found[i][::-1] if early[i] > late[i] and not np.array_equal(found[i][0], found[i][-1]) else found[i]
        for i in np.argsort(middle, kind="stable").tolist()
    ]
    if closed and len(out) > 1 and np.array_equal(out[-1][-1], out[0][0]):
        out[0] = np.vstack([out.pop(), out[0][1:]])
    return out


def _located(line: LineString, points: np.ndarray) -> FloatArray:
    """Return how far along a line the places nearest to points lie, ``(n,)``; the first of several as near.

    The engine looks at every leg for every point; on a long line they are looked up.
    """
    xy = shapely.get_coordinates(line)
    if len(xy) < LONG_LINE:
        return np.asarray(shapely.line_locate_point(line, points))
    legs = geometries(shapely.linestrings(np.stack([xy[:-1], xy[1:]], axis=1)))
    begin = np.concatenate([[0.0], np.cumsum(shapely.length(legs))])
    point, leg = shapely.STRtree(legs.tolist()).query_nearest(points, all_matches=True)
    out = np.full(len(points), np.inf)
    np.minimum.at(out, point, begin[leg] + shapely.line_locate_point(legs[leg], points[point]))
    return out
