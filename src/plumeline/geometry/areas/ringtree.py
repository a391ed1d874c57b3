"""Nested rings: the offsets of a region's edge, as a tree.

One piece may fall into several under erosion, so echoes of an edge are a tree of rings, not a list. Every offset
is taken from the region itself, so errors don't add up.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import Polygon

from ...model import FloatArray, Path
from ..curves.polylines import close_ring, resample
from ..engine import point_array, segments_of
from .offsets import dilate, erode, erode_all
from .regions import inscribed_circle, pieces_of, rings

__all__ = ["Ring", "bridge_holes", "nearest_on", "ring_tree"]

MANY, BY_TREE = 50, 50_000
"""So many points, and points times vertices, from which a tree is quicker than going along the path for each: about two
milliseconds."""


@dataclass(frozen=True, slots=True, eq=False)
class Ring:
    """One ring: its depth's number from 0, its closed path, its piece, and the rings next inside it."""

    level: int
    path: Path
    piece: Polygon
    children: tuple[Ring, ...] = ()


def ring_tree(
    region: Polygon,
    spacing_mm: float,
    *,
    first_mm: float | None = None,
    rounding_mm: float = 0.0,
    shortest_mm: float = 0.0,
    step_mm: float | None = None,
) -> list[Ring]:
    """Return the outermost rings of a region without holes, each with those inside it.

    Parameters
    ----------
    region : shapely.Polygon
        Without holes.
    spacing_mm : float
        Distance from ring to ring; the first lies ``first_mm`` (half a spacing) from the edge.
    first_mm : float, optional
        How far the first ring lies from the edge.
    rounding_mm : float
        Radius of the rings' convex corners (0: mitred).
    shortest_mm : float
        Rings with a shorter path are left out.
    step_mm : float, optional
        Resampling of the paths; default an eighth of the spacing.

    Returns
    -------
    list of Ring
        Empty when not even the first ring goes in.
    """
    first = spacing_mm / 2 if first_mm is None else first_mm
    _, deepest = inscribed_circle(region)
    levels: list[list[Polygon]] = []
    count = max(0, int((deepest - first) / spacing_mm) + 2)
    for left in erode_all(region, (first + k * spacing_mm for k in range(count))):
        pieces = [
            p
            for piece in left
            for p in ([piece] if rounding_mm == 0 else _opened(piece, rounding_mm))
            if p.exterior.length >= shortest_mm
        ]
        if not pieces:
            break
        levels.append(pieces)
    step = step_mm or spacing_mm / 8
    below: list[Ring] = []
    for level in range(len(levels) - 1, -1, -1):
        here = levels[level]
        owner = [_holder(ring.piece, here) for ring in below]
        below = [
            Ring(level, _ring_path(p, step, rounding_mm), p, tuple(r for r, o in zip(below, owner) if o == i))
            for i, p in enumerate(here)
        ]
    return below


def _opened(piece: Polygon, radius: float) -> list[Polygon]:
    small = erode(piece, radius, join="round")
    if not small:
        return [piece]
    return pieces_of(shapely.union_all([p for s in small for p in dilate(s, radius)]))


def _ring_path(piece: Polygon, step: float, rounding: float) -> Path:
    outline = rings(piece)[0]
    return resample(outline, step, closed=True) if rounding else outline


def _holder(piece: Polygon, outer: Sequence[Polygon]) -> int:
    point = piece.representative_point()
    return int(np.argmin([o.distance(point) for o in outer]))


def nearest_on(path: FloatArray, points: FloatArray, *, closed: bool = True) -> FloatArray:
    """Return the distance along a path of the place nearest to each point, ``(n,)`` mm.

    Of places equally near it is the first. Many points are looked up in a tree of segments, O(n log m) for m of them;
    the engine goes along the whole path for each.

    Parameters
    ----------
    path : (n, 2) array
        A polyline.
    points : (n, 2) array
        Places, mm.
    closed : bool
        Whether it leads back to its start.

    Returns
    -------
    ``(n,)`` array
        mm from its first point.
    """
    at = np.atleast_2d(points)
    if len(at) >= MANY and len(path) * len(at) > BY_TREE:
        return _nearest_by_tree(path, at, closed=closed)
    line = shapely.LinearRing(path) if closed else shapely.LineString(path)
    return np.atleast_1d(np.asarray(shapely.line_locate_point(line, shapely.points(at))))


def _nearest_by_tree(path: FloatArray, points: FloatArray, *, closed: bool) -> FloatArray:
    run = close_ring(path, closed)
    start, step = run[:-1], np.diff(run, axis=0)
    tree = shapely.STRtree(segments_of(start, run[1:]))
    which, segment = tree.query_nearest(point_array(points), all_matches=True)
    order = np.lexsort((segment, which))
    _, first = np.unique(which[order], return_index=True)  # the first of those that share a corner
    at = segment[order][first]
    long = np.hypot(*step.T)
    along = ((points - start[at]) * step[at]).sum(axis=1) / np.maximum(long[at] ** 2, np.finfo(float).tiny)
    out: FloatArray = (np.cumsum(long) - long)[at] + np.clip(along, 0.0, 1.0) * long[at]
    return out


def bridge_holes(region: Polygon, width_mm: float) -> Polygon:
    """Return a region whose holes are opened to the outside by hair cuts along the shortest links.

    The links are a minimum tree over shell and holes, so no cut is longer than it need be.

    Parameters
    ----------
    region : shapely.Polygon
        Any region.
    width_mm : float
        Of the cuts.

    Returns
    -------
    shapely.Polygon
        Without holes.
    """
    if not region.interiors:
        return region
    parts = [shapely.LineString(r.coords) for r in (region.exterior, *region.interiors)]
    joined, left, cuts = [0], set(range(1, len(parts))), []
    while left:
        best = min((parts[i].distance(parts[j]), i, j) for i in joined for j in sorted(left))
        cuts.append(shapely.shortest_line(parts[best[1]], parts[best[2]]))
        joined.append(best[2])
        left.discard(best[2])
    long = [shapely.LineString(_stretched(np.asarray(c.coords), width_mm)) for c in cuts if c.length > 0]
    opened = shapely.difference(region, shapely.buffer(shapely.union_all(long), width_mm / 2, cap_style="flat"))
    return max(pieces_of(opened), key=lambda p: p.area)


def _stretched(cut: FloatArray, by: float) -> FloatArray:
    way = (cut[1] - cut[0]) / np.hypot(*(cut[1] - cut[0])) * by
    return np.array([cut[0] - way, cut[1] + way])
