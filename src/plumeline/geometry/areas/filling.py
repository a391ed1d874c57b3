"""What rings paint by a fill rule, whether they cross themselves and each other or not."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from shapely import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from ...model import FloatArray, Path, as_path
from ..engine import geometries, line_string

__all__ = [
    "area_within",
    "common_area",
    "gaps_at_ends",
    "painted_regions",
    "paths_outside",
    "paths_within",
    "regions_outside",
    "regions_within",
    "twins",
    "winding",
]


def painted_regions(rings: Sequence[FloatArray], *, evenodd: bool = False) -> list[Polygon]:
    """Return the connected regions that rings paint, those of the first ring first; none when nothing is painted.

    Every face between the rings is painted when the rings wind round it in all a number of times that is not 0
    (``evenodd``: that is odd), as SVG 2 section 13.4.2 says. A ring that is alone and simple comes back as drawn.
    Rings of fewer than three corners paint nothing. O(n log n) in corners for rings that seldom cross.
    """
    usable = [np.asarray(r, dtype=np.float64) for r in rings if len(r) > 2]
    if len(usable) == 1:
        drawn = Polygon(usable[0])
        if drawn.is_valid and drawn.area > 0:
            return [drawn]
    if not usable:
        return []
    noded = shapely.union_all([line_string(np.vstack([r, r[:1]])) for r in usable])
    faces = list(shapely.polygonize([noded]).geoms)
    if not faces:
        return []
    middle = np.array([f.representative_point().coords[0] for f in faces])
    turns = np.zeros(len(faces), dtype=int)
    points = shapely.STRtree(geometries(shapely.points(middle)).tolist())
    for ring in usable:
        (low, high) = ring.min(axis=0), ring.max(axis=0)
        near = points.query(shapely.box(*low, *high))
        if len(near):
            turns[near] += winding(ring, middle[near])
    painted = [f for f, n in zip(faces, turns.tolist()) if (n % 2 if evenodd else n)]
    merged = shapely.get_parts(shapely.union_all(painted))
    first: dict[tuple[float, float], int] = {}
    for k, ring in enumerate(usable):
        for x, y in ring.tolist():
            first.setdefault((x, y), k)
    found = [p for p in merged if isinstance(p, Polygon) and p.area > 0]
    last = len(usable)

    def place(region: Polygon) -> tuple[int, float, float]:
        corners = shapely.get_coordinates(region.exterior).tolist()
        return min(first.get((x, y), last) for x, y in corners), region.bounds[1], region.bounds[0]

    return sorted(found, key=place)


def winding(ring: FloatArray, points: FloatArray) -> np.ndarray:
    """Return how often a closed path goes round each point, ``(n,)`` int; turns with the axes' sense count up.

    Counts the signed crossings of a ray to the right (Sunday, "Inclusion of a point in a polygon", 2001).
    """
    a, b = np.asarray(ring), np.roll(ring, -1, axis=0)
    x, y = np.asarray(points, dtype=np.float64).T[:, :, None]
    up = (a[:, 1] <= y) & (b[:, 1] > y)
    down = (a[:, 1] > y) & (b[:, 1] <= y)
    side = (b[:, 0] - a[:, 0]) * (y - a[:, 1]) - (x - a[:, 0]) * (b[:, 1] - a[:, 1])
    return np.asarray((up & (side > 0)).sum(axis=1) - (down & (side < 0)).sum(axis=1))


def twins(regions: Sequence[Polygon], *, within_mm: float) -> list[tuple[int, int]]:
    """Return the pairs ``(i, j)``, i < j, of regions that cover the same place but for a hair along their edges."""
    if len(regions) < 2:
        return []
    corners = geometries(shapely.points(np.array([r.bounds[:2] for r in regions]))).tolist()
    one, other = shapely.STRtree(corners).query(corners, predicate="dwithin", distance=2 * within_mm)
    pairs = []
    for i, j in sorted(zip(one.tolist(), other.tolist())):
        if i < j and np.allclose(regions[i].bounds, regions[j].bounds, rtol=0, atol=2 * within_mm):
            a, b = regions[i], regions[j]
            if abs(a.area - b.area) <= within_mm * a.length and (
                shapely.symmetric_difference(a, b).area <= within_mm * a.length
            ):
                pairs.append((i, j))
    return pairs


def common_area(regions: Sequence[Polygon]) -> BaseGeometry:
    """Return the union of regions; an empty area when there are none."""
    return shapely.union_all(list(regions)) if regions else Polygon()


def regions_within(regions: Sequence[Polygon], area: BaseGeometry) -> list[Polygon]:
    """Return what of regions lies in an area, in connected pieces; regions wholly inside come back unchanged."""
    out: list[Polygon] = []
    shapely.prepare(area)
    for region in regions:
        if shapely.covers(area, region):
            out.append(region)
        else:
            out += _polygons(shapely.intersection(region, area))
    return out


def regions_outside(region: Polygon, areas: Sequence[Polygon]) -> list[Polygon]:
    """Return what areas leave of a region, in connected pieces."""
    return _polygons(shapely.difference(region, shapely.union_all(list(areas))))


def _polygons(shape: BaseGeometry) -> list[Polygon]:
    return [p for p in shapely.get_parts(shape) if isinstance(p, Polygon) and p.area > 0]


def paths_within(path: FloatArray, area: BaseGeometry) -> list[Path]:
    """Return the stretches of an open path that lie in an area."""
    return _paths(shapely.intersection(line_string(path), area))


def paths_outside(path: FloatArray, areas: Sequence[Polygon]) -> list[Path]:
    """Return the stretches of an open path that lie in none of the areas."""
    return _paths(shapely.difference(line_string(path), shapely.union_all(list(areas))))


def _paths(shape: BaseGeometry) -> list[Path]:
    lines = [g for g in shapely.get_parts(shape) if isinstance(g, LineString) and g.length > 0]
    if len(lines) > 1:
        lines = [g for g in shapely.get_parts(shapely.line_merge(shapely.union_all(lines))) if g.length > 0]
    return [as_path(np.asarray(g.coords)) for g in lines]


def area_within(area: BaseGeometry, other: BaseGeometry) -> BaseGeometry:
    """Return what two areas share."""
    return shapely.intersection(area, other)


def gaps_at_ends(paths: Sequence[FloatArray], closed: Sequence[bool], *, most_mm: float) -> FloatArray:
    """Return for each end of each open path how far the nearest other path is, ``(2 * open paths,)``.

    Farther than ``most_mm``: inf. A path of four points or more may also come back to its own start.
    """
    own = np.array([k for k, c in enumerate(closed) if not c for _ in range(2)], dtype=int)
    least = np.full(len(own), np.inf)
    if not len(own):
        return least
    lines = [line_string(p, closed=bool(c)) for p, c in zip(paths, closed)]
    ends = [Point(paths[k][e]) for k, e in zip(own.tolist(), (0, -1) * (len(own) // 2))]
    at, near = shapely.STRtree(lines).query(ends, predicate="dwithin", distance=most_mm)
    for i, k in zip(at.tolist(), near.tolist()):
        if own[i] != k:
            least[i] = min(least[i], ends[i].distance(lines[k]))
    for i, k in enumerate(own.tolist()):
        loop = float(np.hypot(*(paths[k][0] - paths[k][-1])))
        if len(paths[k]) > 3 and loop <= most_mm:
            least[i] = min(least[i], loop)
    return least
