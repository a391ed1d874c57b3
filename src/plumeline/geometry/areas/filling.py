"""What rings paint by a fill rule, whether they cross themselves and each other or not."""

from __future__ import annotations

from collections.abc import Container, Iterator, Sequence

import numpy as np
import shapely
from shapely import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from ...model import FloatArray, Path, as_path
from ..engine import geometries, line_string

__all__ = [
    "Cover",
    "area_within",
    "common_area",
    "gaps_at_ends",
    "painted_regions",
    "paths_outside",
    "paths_within",
    "regions_outside",
    "regions_within",
    "thick_overlaps",
    "thick_together",
    "twins",
    "winding",
]


MOST_PAIRS = 200_000
"""Rings and the places within their boxes that are compared; beyond, a drawing is a mistake or an attack."""

MOST_TRIED = 100_000
MOST_NEAR = 20_000_000
"""Shapes of one size in one place that are compared, and that are looked through for it."""

AT_ONCE = 1_000_000
"""Corners times points that are compared at once: keeps the memory small."""


def painted_regions(rings: Sequence[FloatArray], *, evenodd: bool = False) -> list[Polygon]:
    """Return the connected regions that rings paint, those of the first ring first; none when nothing is painted.

    Every face between the rings is painted when the rings wind round it in all a number of times that is not 0
    (``evenodd``: that is odd), as SVG 2 section 13.4.2 says. Rings that are simple and lie side by side
    come back as drawn, even where they share an edge: it is drawn, so it is a seam.
    Rings of fewer than three corners paint nothing. O(n log n) in corners for rings that seldom cross.

    Parameters
    ----------
    rings : sequence of (n, 2) arrays
        Closed, first point not repeated.
    evenodd : bool
        Which rule says what is painted.

    Returns
    -------
    list of shapely.Polygon
        Each is connected.

    Raises
    ------
    ValueError
        More than `MOST_PAIRS` rings lie one within another.
    """
    usable = [np.asarray(r, dtype=np.float64) for r in rings if len(r) > 2]
    if not usable:
        return []
    if apart := _side_by_side(usable):
        return apart
    noded = shapely.union_all([line_string(np.vstack([r, r[:1]])) for r in usable])
    faces = list(shapely.polygonize([noded]).geoms)
    if not faces:
        return []
    middle = np.array([f.representative_point().coords[0] for f in faces])
    turns = np.zeros(len(faces), dtype=int)
    points = shapely.STRtree(geometries(shapely.points(middle)).tolist())
    pairs = 0
    for ring in usable:
        (low, high) = ring.min(axis=0), ring.max(axis=0)
        near = points.query(shapely.box(*low, *high))
        pairs += len(near)
        if pairs > MOST_PAIRS:
            raise ValueError(f"holds {len(usable):,} outlines, too many of them one within another")
        for some in np.array_split(near, 1 + len(near) * len(ring) // AT_ONCE):
            turns[some] += winding(ring, middle[some])
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


def _side_by_side(rings: Sequence[FloatArray]) -> list[Polygon]:
    """Return the regions of rings of which none lies over or in another, as drawn; none when they are not so."""
    drawn = [Polygon(r) for r in rings]
    if not all(p.is_valid and p.area > 0 for p in drawn):
        return []
    if len(drawn) == 1:
        return drawn
    one, other = shapely.STRtree(drawn).query(drawn, predicate="intersects")
    half = one < other
    if int(half.sum()) > MOST_PAIRS:
        return []
    every = geometries(drawn)
    return drawn if shapely.touches(every[one[half]], every[other[half]]).all() else []


def winding(ring: FloatArray, points: FloatArray) -> np.ndarray:
    """Return how often a closed path goes round each point, ``(n,)`` int; turns with the axes' sense count up.

    Counts the signed crossings of a ray to the right (Sunday, "Inclusion of a point in a polygon", 2001).

    Parameters
    ----------
    ring : (n, 2) array
        Closed, first point not repeated.
    points : (n, 2) array
        Places, mm.

    Returns
    -------
    ``(n,)`` array of int
        0 outside.
    """
    a, b = np.asarray(ring), np.roll(ring, -1, axis=0)
    x, y = np.asarray(points, dtype=np.float64).T[:, :, None]
    up = (a[:, 1] <= y) & (b[:, 1] > y)
    down = (a[:, 1] > y) & (b[:, 1] <= y)
    side = (b[:, 0] - a[:, 0]) * (y - a[:, 1]) - (x - a[:, 0]) * (b[:, 1] - a[:, 1])
    return np.asarray((up & (side > 0)).sum(axis=1) - (down & (side < 0)).sum(axis=1))


def twins(regions: Sequence[Polygon], gone: Container[int], *, within_mm: float) -> Iterator[tuple[int, int]]:
    """Yield the pairs ``(i, j)``, i < j, of regions that cover the same place but for a hair along their edges.

    What the caller puts into ``gone`` on the way is passed over, so that a thousand regions in one place cost a
    thousand comparisons and not half a million.

    Parameters
    ----------
    regions : sequence of shapely.Polygon
        Any number of them.
    gone : Container[int]
        Numbers of those that are out already.
    within_mm : float
        How far their edges may lie apart.

    Yields
    ------
    (int, int)
        Numbers of two of them.

    Raises
    ------
    ValueError
        More than `MOST_TRIED` pairs of one size lie in one place, or more than `MOST_NEAR` pairs of any size.
    """
    if len(regions) < 2:
        return
    every = geometries(regions)
    bounds, areas, hair = shapely.bounds(every), shapely.area(every), within_mm * shapely.length(every)
    corners = geometries(shapely.points(bounds[:, :2])).tolist()
    tree = shapely.STRtree(corners)
    looked = tried = 0
    for i in range(len(regions)):
        if i in gone:
            continue
        near = tree.query(corners[i], predicate="dwithin", distance=2 * within_mm)
        looked += len(near)
        near = np.sort(near[near > i])
        near = near[np.abs(areas[i] - areas[near]) <= hair[i]]
        near = near[(np.abs(bounds[i] - bounds[near]) <= 2 * within_mm).all(axis=1)]
        for j in near.tolist():
            if j in gone:
                continue
            tried += 1
            if tried > MOST_TRIED or looked > MOST_NEAR:
                raise ValueError(f"holds {len(regions):,} shapes, too many of them of one size in one place")
            if shapely.area(shapely.symmetric_difference(every[i], every[j])) <= hair[i]:
                yield i, j
            if i in gone:
                break


def common_area(regions: Sequence[Polygon]) -> BaseGeometry:
    """Return the union of regions; an empty area when there are none.

    Parameters
    ----------
    regions : sequence of shapely.Polygon
        Any number of them.

    Returns
    -------
    shapely geometry
        One area of one or many pieces.
    """
    return shapely.union_all(list(regions)) if regions else Polygon()


def regions_within(regions: Sequence[Polygon], area: BaseGeometry) -> list[Polygon]:
    """Return what of regions lies in an area, in connected pieces; regions wholly inside come back unchanged.

    Parameters
    ----------
    regions : sequence of shapely.Polygon
        What is cut.
    area : shapely geometry
        What is kept of them.

    Returns
    -------
    list of shapely.Polygon
        Empty where they share nothing.
    """
    out: list[Polygon] = []
    shapely.prepare(area)
    for region in regions:
        if shapely.covers(area, region):
            out.append(region)
        else:
            out += _polygons(shapely.intersection(region, area))
    return out


def regions_outside(region: Polygon, areas: Sequence[BaseGeometry]) -> list[Polygon]:
    """Return what areas leave of a region, in connected pieces.

    Parameters
    ----------
    region : shapely.Polygon
        What is cut.
    areas : sequence of shapely geometry
        What is taken out.

    Returns
    -------
    list of shapely.Polygon
        Empty where nothing is left.
    """
    return _polygons(shapely.difference(region, shapely.union_all(list(areas))))


def thick_overlaps(regions: Sequence[Polygon], *, thicker_mm: float) -> list[list[int]]:
    """Return for each region which others share room with it that a circle of this diameter fits into, in order.

    Such a circle's middle lies in both regions when these are made smaller by half of it all round.

    Parameters
    ----------
    regions : sequence of shapely.Polygon
        Any number of them.
    thicker_mm : float
        Diameter of the circle.

    Returns
    -------
    list of lists of int
        One list a region, rising.
    """
    out: list[list[int]] = [[] for _ in regions]
    if not regions:
        return out
    inner = geometries(shapely.buffer(geometries(regions), -thicker_mm / 2, quad_segs=4))
    one, other = shapely.STRtree(inner.tolist()).query(inner.tolist(), predicate="intersects")
    for i, j in sorted(zip(one.tolist(), other.tolist())):
        if i != j:
            out[i].append(j)
    return out


def thick_together(pieces: Sequence[Polygon], *, apart_mm: float) -> list[tuple[Polygon, list[tuple[int, float]]]]:
    """Return the regions that thin pieces cover together, and for each the pieces in it with the area each has there.

    Pieces hang together across a quarter of ``apart_mm``. A region holds circles of twice ``apart_mm``; arms of it
    that are thinner are cut off. From the top left; none when no such circle fits.

    Parameters
    ----------
    pieces : sequence of shapely.Polygon
        Thin regions side by side.
    apart_mm : float
        How thin a piece may be.

    Returns
    -------
    list of (shapely.Polygon, list of (int, float))
        Regions, each with numbers of pieces and mm2.
    """
    if len(pieces) < 2:
        return []
    bridge = apart_mm / 8
    every = geometries(pieces)
    whole = shapely.buffer(shapely.union_all(shapely.buffer(every, bridge, quad_segs=4)), -bridge, quad_segs=4)
    heart = shapely.buffer(whole, -apart_mm, quad_segs=4)
    if heart.is_empty:
        return []
    # half as much again as was taken off: so right angles keep their corners
    found = _polygons(shapely.intersection(whole, shapely.buffer(heart, 1.5 * apart_mm, quad_segs=4)))
    found.sort(key=lambda p: (p.bounds[1], p.bounds[0], p.area))
    tree = shapely.STRtree(every.tolist())
    out = []
    for region in found:
        own = np.sort(tree.query(region, predicate="intersects"))
        areas = shapely.area(shapely.intersection(every[own], region))
        out.append((region, [(k, a) for k, a in zip(own.tolist(), areas.tolist()) if a > 0]))
    return out


class Cover:
    """What the later ones of a row of areas cover together, found fast for each place in the row.

    The areas are put together two and two, those again, and so on; what lies after a place in the row is at most
    one of each size. Most of what lies under much is found to be covered by the first of them.
    """

    def __init__(self, areas: Sequence[Polygon | None]) -> None:
        self._areas = list(areas)
        self._size = 1 << max(len(self._areas) - 1, 0).bit_length()
        self._known: dict[tuple[int, int], BaseGeometry | None] = {}

    def left_of(self, region: Polygon, place: int) -> list[Polygon]:
        """Return what the areas after a place leave of a region, in connected pieces."""
        left: BaseGeometry = region
        for low, high in self._after(0, self._size, place):
            over = self._together(low, high)
            if over is None or not shapely.intersects(over, left):
                continue
            if shapely.covers(over, left):
                return []
            left = shapely.difference(left, over)
        return _polygons(left)

    def _after(self, low: int, high: int, place: int) -> Iterator[tuple[int, int]]:
        # the largest first
        if high <= place + 1 or low >= len(self._areas):
            return
        if low > place:
            yield low, high
            return
        middle = (low + high) // 2
        yield from self._after(middle, high, place)
        yield from self._after(low, middle, place)

    def _together(self, low: int, high: int) -> BaseGeometry | None:
        if low >= len(self._areas):
            return None
        if (low, high) not in self._known:
            if high - low == 1:
                whole: BaseGeometry | None = self._areas[low]
            else:
                halves = [self._together(low, (low + high) // 2), self._together((low + high) // 2, high)]
                parts = [half for half in halves if half is not None]
                whole = None if not parts else parts[0] if len(parts) == 1 else shapely.union(parts[0], parts[1])
            if whole is not None:
                shapely.prepare(whole)
            self._known[low, high] = whole
        return self._known[low, high]


def _polygons(shape: BaseGeometry) -> list[Polygon]:
    return [p for p in shapely.get_parts(shape) if isinstance(p, Polygon) and p.area > 0]


def paths_within(path: FloatArray, area: BaseGeometry) -> list[Path]:
    """Return the stretches of an open path that lie in an area.

    Parameters
    ----------
    path : (n, 2) array
        An open polyline.
    area : shapely geometry
        What is kept of it.

    Returns
    -------
    list of (n, 2) arrays
        In its direction; empty where none lies in it.
    """
    return _paths(shapely.intersection(line_string(path), area))


def paths_outside(path: FloatArray, areas: Sequence[Polygon]) -> list[Path]:
    """Return the stretches of an open path that lie in none of the areas.

    Parameters
    ----------
    path : (n, 2) array
        An open polyline.
    areas : sequence of shapely.Polygon
        What is taken out.

    Returns
    -------
    list of (n, 2) arrays
        In its direction; empty where none is left.
    """
    return _paths(shapely.difference(line_string(path), shapely.union_all(list(areas))))


def _paths(shape: BaseGeometry) -> list[Path]:
    lines = [g for g in shapely.get_parts(shape) if isinstance(g, LineString) and g.length > 0]
    if len(lines) > 1:
        lines = [g for g in shapely.get_parts(shapely.line_merge(shapely.union_all(lines))) if g.length > 0]
    return [as_path(np.asarray(g.coords)) for g in lines]


def area_within(area: BaseGeometry, other: BaseGeometry) -> BaseGeometry:
    """Return what two areas share.

    Parameters
    ----------
    area, other : shapely geometry
        Areas of one or many pieces.

    Returns
    -------
    shapely geometry
        Empty where they share nothing.
    """
    return shapely.intersection(area, other)


def gaps_at_ends(paths: Sequence[FloatArray], closed: Sequence[bool], *, most_mm: float) -> FloatArray:
    """Return for each end of each open path how far the nearest other path is, ``(2 * open paths,)``.

    Farther than ``most_mm``: inf. A path of four points or more may also come back to its own start.

    Parameters
    ----------
    paths : sequence of (n, 2) arrays
        Polylines.
    closed : sequence of bool
        Whether each leads back to its start.
    most_mm : float
        How far is looked.

    Returns
    -------
    ``(k,)`` array
        mm; two for each open path, start before end.
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
