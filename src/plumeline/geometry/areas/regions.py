"""Regions: polygons of the plane, through shapely. Typed results, normalised.

Every function that can yield several pieces returns a list of polygons, largest first (ties from the top left),
with slivers below a stated area dropped; an empty list is a normal answer. Rings run clockwise as seen (y down)
for shells, the other way for holes, and start at their top-left vertex.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import Literal, TypeAlias, cast

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray
from shapely import LineString, MultiPolygon, Point, Polygon
from shapely.affinity import affine_transform
from shapely.geometry.base import BaseGeometry

from ...errors import EngineError
from ...model import FloatArray, Frame, Path, as_path
from ...tolerances import ROUNDING_MM
from ..curves.polylines import LOCAL_GRID_MM, close_ring, signed_area
from ..engine import line_strings

__all__ = [
    "SLIVER_MM2",
    "Join",
    "as_region",
    "boundary_distance",
    "bounds",
    "calm_parts",
    "contains",
    "dilate",
    "disc",
    "erode",
    "erode_all",
    "extent_along",
    "fault_at",
    "followable",
    "inscribed_circle",
    "intersect",
    "line_of",
    "moved_inside",
    "outline_to_local",
    "pieces_of",
    "quad_segments",
    "region_bytes",
    "region_of_bytes",
    "region_to_local",
    "region_to_page",
    "rings",
    "simplify_path",
    "simplify_paths",
    "subtract",
    "touching",
    "transform",
    "unite",
]

TURNED_OVER = 0.1
"""What an offset leaves that is smaller than this part of its distance squared is looked at for depth: what the engine
turned inside out came to 0.019 of it at most (regular polygons of 3 to 40 sides)."""

SLIVER_MM2 = 1e-3
"""Pieces smaller than this are dropped: rounding leaves them, a needle could not enter them."""

RETRY_GRID_MM = 1e-6
"""Grid of an overlay that is done again: far below any tolerance, far above rounding."""

CALM_FROM, CALM_MM = 1500, 0.25
"""A region of more corners has its edge straightened by so much, half a thread, before it is filled."""

TINIEST = float(np.finfo(np.float64).tiny)
"""The smallest number that is held with all its digits; a coordinate nearer to 0 is 0."""

NO_OUTLINE = "is no outline: it needs at least three points that enclose an area"

NECK_MM = 10 * LOCAL_GRID_MM
"""What an outline grows by where rounding closed a neck: wide enough to stay one piece, too little to measure."""

Join: TypeAlias = Literal["round", "mitre", "bevel"]
"""``"round"`` or ``"mitre"``."""

MITRE_LIMIT = 8.0
"""A mitred corner reaches at most this many offsets out: corners down to 14 degrees stay sharp."""


def quad_segments(radius_mm: float, tolerance_mm: float) -> int:
    """Return how many chords a quarter turn needs so that none strays more than the tolerance.

    The sagitta of a chord over the angle a is ``r (1 - cos(a / 2))``.
    """
    radius = abs(radius_mm)
    if radius <= tolerance_mm:
        return 2
    half = math.acos(1.0 - tolerance_mm / radius)
    return max(2, math.ceil(math.pi / 4 / half))


def as_region(shell: ArrayLike | Polygon, holes: Sequence[FloatArray] = ()) -> Polygon:
    """Return one valid, normalised polygon.

    Raises
    ------
    ValueError
        The outline is not one simple ring with an area (a bow-tie, a spike, a hole that leaves the shell).
    """
    region = shell if isinstance(shell, Polygon) else Polygon(_ring_of(shell), [_ring_of(h) for h in holes])
    at = shapely.get_coordinates(region)
    if region.is_empty or not region.area > 0 or not np.isfinite(at).all():
        raise ValueError(NO_OUTLINE)
    if ((np.abs(at) < TINIEST) & (at != 0)).any():  # simplifying may never end beside such numbers: seen with GEOS 3.14
        region = shapely.transform(region, lambda xy: np.where(np.abs(xy) < TINIEST, 0.0, xy))
    if not region.is_valid:
        raise ValueError(f"is not one plain outline: it crosses, touches or doubles back on itself{fault_at(region)}")
    return _normal(region)


def _ring_of(points: ArrayLike) -> FloatArray:
    try:
        ring = np.asarray(points, dtype=np.float64)
    except (TypeError, ValueError):
        raise ValueError(NO_OUTLINE) from None
    if ring.ndim != 2 or len(ring) < 3 or ring.shape[1] < 2 or not np.isfinite(ring).all():
        raise ValueError(NO_OUTLINE)
    return ring[:, :2]


def fault_at(region: Polygon) -> str:
    """Return where an outline is at fault, as `` at 12.0, 3.5 mm``; empty when it is sound or that is not known."""
    where = shapely.is_valid_reason(region).partition("[")[2].rstrip("]").split()
    return f" at {float(where[0]):.1f}, {float(where[1]):.1f} mm" if len(where) == 2 else ""


def _normal(region: Polygon) -> Polygon:
    if not shapely.get_num_interior_rings(region):  # most regions: asked for thousands of times, without a ring each
        return cast(Polygon, shapely.polygons(_oriented(shapely.get_coordinates(region)[:-1], 1)))
    shell = _oriented(np.asarray(region.exterior.coords)[:-1], 1)
    holes = sorted((_oriented(np.asarray(h.coords)[:-1], -1) for h in region.interiors), key=lambda r: tuple(r[0]))
    return Polygon(shell, holes)


def _oriented(ring: FloatArray, sign: int) -> FloatArray:
    ring = ring[:, :2]
    if signed_area(ring) * sign < 0:
        ring = ring[::-1]
    upper = np.flatnonzero(ring[:, 1] == ring[:, 1].min())
    start = int(upper[ring[upper, 0].argmin()])
    return np.concatenate((ring[start:], ring[:start]))


def pieces_of(shape: BaseGeometry, *, sliver_mm2: float = SLIVER_MM2) -> list[Polygon]:
    """Return the polygons in any shape, normalised, largest first; points, lines and slivers are dropped."""
    if isinstance(shape, Polygon):
        found = [shape]
    elif isinstance(shape, MultiPolygon) or hasattr(shape, "geoms"):
        found = [p for part in shape.geoms for p in pieces_of(part, sliver_mm2=sliver_mm2)]
    else:
        return []
    kept = [_normal(q) for p in found for q in _valid(p) if q.area > sliver_mm2]
    return kept if len(kept) < 2 else sorted(kept, key=lambda p: (-round(p.area, 6), p.bounds[1], p.bounds[0]))


def _valid(region: Polygon) -> list[Polygon]:
    """Return a polygon as valid ones: rounding may close a neck, so that one falls into several; all are kept."""
    if region.is_empty:
        return []
    if region.is_valid:
        return [region]
    mended = shapely.make_valid(region, method="structure", keep_collapsed=False)
    parts = [mended] if isinstance(mended, Polygon) else list(getattr(mended, "geoms", ()))
    return [p for p in parts if isinstance(p, Polygon) and not p.is_empty]


RAGGED = 300
"""An edge of more points is a coast: no patch has so many corners, and no curve so many chords."""

STRAIGHTENED_MM = 0.01
"""By how much what is left of a coast is straightened: as an offset's own tolerance."""


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


def unite(regions: Iterable[BaseGeometry], *, sliver_mm2: float = SLIVER_MM2) -> list[Polygon]:
    """Return the union of regions."""
    return pieces_of(shapely.union_all(list(regions)), sliver_mm2=sliver_mm2)


def intersect(a: BaseGeometry, b: BaseGeometry, *, sliver_mm2: float = SLIVER_MM2) -> list[Polygon]:
    """Return what two regions share."""
    return pieces_of(_overlay(shapely.intersection, a, b), sliver_mm2=sliver_mm2)


def subtract(region: BaseGeometry, taken: Iterable[BaseGeometry], *, sliver_mm2: float = SLIVER_MM2) -> list[Polygon]:
    """Return a region less others."""
    others = list(taken)
    if not others:
        return pieces_of(region, sliver_mm2=sliver_mm2)
    return pieces_of(_overlay(shapely.difference, region, shapely.union_all(others)), sliver_mm2=sliver_mm2)


def _overlay(operation: Callable[..., BaseGeometry], a: BaseGeometry, b: BaseGeometry) -> BaseGeometry:
    """Return an overlay; where the engine took regions that lie on each other for apart, that on a fine grid.

    Seen with GEOS 3.14 on two outlines that differ by rounding only: it gave an empty intersection and the whole
    as difference. A point inside both tells.
    """
    out = operation(a, b)
    unmoved = out.area <= SLIVER_MM2 if operation is shapely.intersection else abs(out.area - a.area) <= SLIVER_MM2
    if unmoved and min(a.area, b.area) > SLIVER_MM2:
        small, large = (a, b) if a.area < b.area else (b, a)
        inside = small.representative_point()
        if large.contains(inside) and min(g.boundary.distance(inside) for g in (a, b)) > RETRY_GRID_MM * 1e3:
            return operation(a, b, grid_size=RETRY_GRID_MM)
    return out


def rings(region: Polygon) -> list[Path]:
    """Return the shell and the holes of a region as closed paths.

    Parameters
    ----------
    region : shapely.Polygon
        With or without holes.

    Returns
    -------
    list of (n, 2) Path
        The shell first; the first point of each is not repeated.

    Examples
    --------
    >>> from shapely import box
    >>> [len(ring) for ring in rings(box(0, 0, 100, 50))]
    [4]
    """
    return [as_path(np.asarray(r.coords)[:-1, :2]) for r in (region.exterior, *region.interiors)]


def contains(region: BaseGeometry, points: ArrayLike) -> np.ndarray:
    """Return for each point whether it lies inside or on the edge, ``(n,)`` bool."""
    shapely.prepare(region)
    xy = np.asarray(points, dtype=np.float64)
    return np.asarray(shapely.intersects_xy(region, xy[:, 0], xy[:, 1]))


def boundary_distance(region: Polygon, points: ArrayLike) -> FloatArray:
    """Return the distance from each point to the nearest edge or hole, ``(n,)``, negative outside."""
    xy = np.asarray(points, dtype=np.float64)
    edge = region.boundary
    shapely.prepare(edge)
    far = np.asarray(shapely.distance(edge, shapely.points(xy)))
    return np.where(contains(region, xy), far, -far)


def moved_inside(region: Polygon, points: ArrayLike) -> FloatArray:
    """Return points, those outside a region moved to the nearest place of its edge."""
    xy = np.array(points, dtype=np.float64)
    out = np.flatnonzero(~contains(region, xy))
    if len(out):
        edge = region.boundary
        at = shapely.line_locate_point(edge, shapely.points(xy[out]))
        xy[out] = shapely.get_coordinates(shapely.line_interpolate_point(edge, at))
    return xy


def inscribed_circle(region: Polygon, *, tolerance_mm: float = 0.01) -> tuple[tuple[float, float], float]:
    """Return centre and radius of the largest circle inside a region.

    Examples
    --------
    >>> from shapely import box
    >>> centre, radius = inscribed_circle(box(0, 0, 40, 20))
    >>> round(radius, 2)
    10.0
    """
    line = shapely.maximum_inscribed_circle(region, tolerance=tolerance_mm)
    x, y = line.coords[0]
    return (float(x), float(y)), float(line.length)


def bounds(region: BaseGeometry) -> tuple[float, float, float, float]:
    """Return how far a shape reaches each way.

    Parameters
    ----------
    region : shapely geometry
        Not empty.

    Returns
    -------
    tuple of float
        Least x, least y, greatest x, greatest y: left, top, right, bottom.

    Examples
    --------
    >>> from shapely import box
    >>> bounds(box(5, 10, 105, 60))
    (5.0, 10.0, 105.0, 60.0)
    """
    left, top, right, bottom = region.bounds
    return float(left), float(top), float(right), float(bottom)


def extent_along(region: BaseGeometry, angle_deg: float) -> tuple[float, float]:
    """Return least and greatest coordinate of a region along a direction (0 right, 90 up as seen)."""
    a = math.radians(angle_deg)
    reach = shapely.get_coordinates(region) @ np.array([math.cos(a), -math.sin(a)])
    return float(reach.min()), float(reach.max())


def disc(centre: tuple[float, float], radius_mm: float, *, tolerance_mm: float = 0.01) -> Polygon:
    """Return a round region.

    Parameters
    ----------
    centre : (x, y)
        mm.
    radius_mm : float
        Radius of the circle that its corners lie on.
    tolerance_mm : float
        How far its chords may stray from the circle.

    Returns
    -------
    shapely.Polygon
        A regular polygon of as many corners as the tolerance wants.

    Examples
    --------
    >>> round(disc((0.0, 0.0), 100.0).area / 100**2, 3)
    3.141
    """
    return _normal(Point(centre).buffer(radius_mm, quad_segs=quad_segments(radius_mm, tolerance_mm)))


def line_of(path: ArrayLike) -> LineString:
    """Return an open path as a shape, to be grown or taken out of a region."""
    return LineString(np.asarray(path, dtype=np.float64))


def transform(region: Polygon, matrix: ArrayLike, shift: tuple[float, float] = (0.0, 0.0)) -> Polygon:
    """Return a region with every point ``p`` taken to ``matrix @ p + shift``."""
    m = np.asarray(matrix, dtype=np.float64)
    return _normal(affine_transform(region, [m[0, 0], m[0, 1], m[1, 0], m[1, 1], shift[0], shift[1]]))


def region_bytes(region: Polygon) -> bytes:
    """Return a region as bytes that hold every coordinate exactly (well-known binary)."""
    return bytes(shapely.to_wkb(region))


def region_of_bytes(data: bytes) -> Polygon:
    """Return the region that `region_bytes` wrote.

    Raises
    ------
    ValueError
        It is no region.
    """
    region = shapely.from_wkb(data)
    if not isinstance(region, Polygon):
        raise ValueError("must hold one polygon")
    return region


def region_to_page(region: Polygon, frame: Frame) -> Polygon:
    """Return a region of a frame as a region of the page."""
    return _normal(shapely.transform(region, frame.to_page))


def region_to_local(region: Polygon, frame: Frame) -> list[Polygon]:
    """Return a region of the page in a frame, rounded to `LOCAL_GRID_MM` and valid, largest piece first.

    Necks narrower than that grid close: the region may fall into several pieces.
    """
    return pieces_of(_rounded(region, frame))


def outline_to_local(region: Polygon, frame: Frame) -> Polygon:
    """Return a region of the page in a frame as ONE valid polygon; necks that rounding closes are held open."""
    local = _rounded(region, frame)
    if local.is_valid:
        return _normal(local)
    seams = shapely.buffer(local.boundary, NECK_MM, join_style="mitre")  # a closed neck is a doubled line in it
    return pieces_of(shapely.union_all([*_valid(local), seams]))[0]


def _rounded(region: Polygon, frame: Frame) -> Polygon:
    out: Polygon = shapely.transform(region, lambda p: np.round(frame.to_local(p) / LOCAL_GRID_MM) * LOCAL_GRID_MM)
    return out


def simplify_path(path: FloatArray, tolerance_mm: float, *, closed: bool = False) -> Path:
    """Return a path with fewer points that strays at most the tolerance; ends stay.

    Examples
    --------
    >>> import numpy as np
    >>> simplify_path(np.array([[0, 0], [5, 0.01], [10, 0.0]]), 0.05).tolist()
    [[0.0, 0.0], [10.0, 0.0]]
    """
    if len(path) < 3:
        return as_path(path)
    line = shapely.simplify(LineString(close_ring(path, closed)), tolerance_mm, preserve_topology=False)
    points = np.asarray(line.coords)
    return as_path(points[:-1] if closed else points)


def simplify_paths(paths: Sequence[FloatArray], tolerance_mm: float) -> list[Path]:
    """Return open paths as `simplify_path` gives each, all at once."""
    out = [as_path(p) for p in paths]
    bent = [k for k, p in enumerate(out) if len(p) > 2]
    plain = shapely.simplify(line_strings([out[k] for k in bent]), tolerance_mm, preserve_topology=False)
    points, of = shapely.get_coordinates(plain, return_index=True)
    for k, part in zip(bent, np.split(points, np.searchsorted(of, np.arange(1, len(bent))))):
        out[k] = as_path(part)
    return out


def followable(region: Polygon, within_mm: float) -> Polygon:
    """Return a region whose edge is straightened by less than a needle shows: no edge moves by more than that.

    The region itself comes back where that would part or spoil it.
    """
    plain = shapely.simplify(region, within_mm, preserve_topology=True)
    return _normal(plain) if isinstance(plain, Polygon) and plain.is_valid and not plain.is_empty else region


def calm_parts(region: Polygon, within_mm: float = CALM_MM) -> list[Polygon]:
    """Return a region of very many corners with its edge straightened, within it; others as they are.

    No edge is drawn in by more than twice ``within_mm``; what hangs together by less than that comes in parts. Work
    that grows with the square of the corners is then spared.
    """
    if shapely.get_num_coordinates(region) <= CALM_FROM:
        return [region]
    return [followable(part, within_mm) for part in erode(region, within_mm)]


def touching(regions: Sequence[Polygon], *, within_mm: float) -> list[tuple[int, int]]:
    """Return the pairs of regions that lie no further than ``within_mm`` from each other, smaller index first."""
    if not regions:
        return []
    i, j = shapely.STRtree(list(regions)).query(list(regions), predicate="dwithin", distance=within_mm)
    return sorted((int(a), int(b)) for a, b in zip(i, j) if a < b)
