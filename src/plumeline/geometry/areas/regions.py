"""Regions: polygons of the plane, through shapely. Typed results, normalised.

Every function that can yield several pieces returns a list of polygons, largest first (ties from the top left),
with slivers below a stated area dropped; an empty list is a normal answer. Rings run clockwise as seen (y down)
for shells, the other way for holes, and start at their top-left vertex.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from typing import cast

import numpy as np
import shapely
from numpy.typing import ArrayLike
from shapely import LineString, MultiPolygon, Point, Polygon
from shapely.affinity import affine_transform
from shapely.geometry.base import BaseGeometry

from ...model import FloatArray, Path, as_path
from ..curves.polylines import signed_area

__all__ = [
    "SLIVER_MM2",
    "as_region",
    "boundary_distance",
    "bounds",
    "contains",
    "disc",
    "extent_along",
    "fault_at",
    "inscribed_circle",
    "intersect",
    "line_of",
    "moved_inside",
    "normalised",
    "pieces_of",
    "quad_segments",
    "region_bytes",
    "region_of_bytes",
    "rings",
    "subtract",
    "touching",
    "transform",
    "unite",
    "valid_parts",
]


SLIVER_MM2 = 1e-3
"""Pieces smaller than this are dropped: rounding leaves them, a needle could not enter them."""

RETRY_GRID_MM = 1e-6
"""Grid of an overlay that is done again: far below any tolerance, far above rounding."""


TINIEST = float(np.finfo(np.float64).tiny)
"""The smallest number that is held with all its digits; a coordinate nearer to 0 is 0."""

NO_OUTLINE = "is no outline: it needs at least three points that enclose an area"


def quad_segments(radius_mm: float, tolerance_mm: float) -> int:
    """Return how many chords a quarter turn needs so that none strays more than the tolerance.

    The sagitta of a chord over the angle a is ``r (1 - cos(a / 2))``.

    Parameters
    ----------
    radius_mm : float
        Of the circle.
    tolerance_mm : float
        How far a chord may stray from it.

    Returns
    -------
    int
        2 at least.
    """
    radius = abs(radius_mm)
    if radius <= tolerance_mm:
        return 2
    half = math.acos(1.0 - tolerance_mm / radius)
    return max(2, math.ceil(math.pi / 4 / half))


def as_region(shell: ArrayLike | Polygon, holes: Sequence[FloatArray] = ()) -> Polygon:
    """Return one valid, normalised polygon.

    Parameters
    ----------
    shell : array_like or shapely.Polygon
        The outline, its first point repeated or not; or a polygon.
    holes : sequence of (n, 2) arrays
        Outlines inside it.

    Returns
    -------
    shapely.Polygon
        Valid, its rings begun and turned as all of ours are.

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
    return normalised(region)


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


def normalised(region: Polygon) -> Polygon:
    """Return a region with its rings begun and turned as all of ours are."""
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
    """Return the polygons in any shape, normalised, largest first; points, lines and slivers are dropped.

    Parameters
    ----------
    shape : shapely geometry
        Anything the engine gives.
    sliver_mm2 : float
        Smaller pieces are left out.

    Returns
    -------
    list of shapely.Polygon
        Empty where there is no area.
    """
    if isinstance(shape, Polygon):
        found = [shape]
    elif isinstance(shape, MultiPolygon) or hasattr(shape, "geoms"):
        found = [p for part in shape.geoms for p in pieces_of(part, sliver_mm2=sliver_mm2)]
    else:
        return []
    kept = [normalised(q) for p in found for q in valid_parts(p) if q.area > sliver_mm2]
    return kept if len(kept) < 2 else sorted(kept, key=lambda p: (-round(p.area, 6), p.bounds[1], p.bounds[0]))


def valid_parts(region: Polygon) -> list[Polygon]:
    """Return a polygon as valid ones: rounding may close a neck, so that one falls into several; all are kept."""
    if region.is_empty:
        return []
    if region.is_valid:
        return [region]
    mended = shapely.make_valid(region, method="structure", keep_collapsed=False)
    parts = [mended] if isinstance(mended, Polygon) else list(getattr(mended, "geoms", ()))
    return [p for p in parts if isinstance(p, Polygon) and not p.is_empty]


def unite(regions: Iterable[BaseGeometry], *, sliver_mm2: float = SLIVER_MM2) -> list[Polygon]:
    """Return the union of regions.

    Parameters
    ----------
    regions : iterable of shapely geometry
        Areas of one or many pieces.
    sliver_mm2 : float
        Smaller pieces are left out.

    Returns
    -------
    list of shapely.Polygon
        Largest first; empty for none.
    """
    return pieces_of(shapely.union_all(list(regions)), sliver_mm2=sliver_mm2)


def intersect(a: BaseGeometry, b: BaseGeometry, *, sliver_mm2: float = SLIVER_MM2) -> list[Polygon]:
    """Return what two regions share.

    Parameters
    ----------
    a, b : shapely geometry
        Areas of one or many pieces.
    sliver_mm2 : float
        Smaller pieces are left out.

    Returns
    -------
    list of shapely.Polygon
        Largest first; empty where they share nothing.
    """
    return pieces_of(_overlay(shapely.intersection, a, b), sliver_mm2=sliver_mm2)


def subtract(region: BaseGeometry, taken: Iterable[BaseGeometry], *, sliver_mm2: float = SLIVER_MM2) -> list[Polygon]:
    """Return a region less others.

    Parameters
    ----------
    region : shapely geometry
        An area of one or many pieces.
    taken : iterable of shapely geometry
        What is taken out.
    sliver_mm2 : float
        Smaller pieces are left out.

    Returns
    -------
    list of shapely.Polygon
        Largest first; empty where nothing is left.
    """
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
    """Return for each point whether it lies inside or on the edge, ``(n,)`` bool.

    Parameters
    ----------
    region : shapely geometry
        An area of one or many pieces.
    points : (n, 2) array_like
        Places, mm.

    Returns
    -------
    ``(n,)`` array of bool
        In the order of the points.
    """
    shapely.prepare(region)
    xy = np.asarray(points, dtype=np.float64)
    return np.asarray(shapely.intersects_xy(region, xy[:, 0], xy[:, 1]))


def boundary_distance(region: Polygon, points: ArrayLike) -> FloatArray:
    """Return the distance from each point to the nearest edge or hole, ``(n,)``, negative outside.

    Parameters
    ----------
    region : shapely.Polygon
        One region.
    points : (n, 2) array_like
        Places, mm.

    Returns
    -------
    ``(n,)`` array
        mm.
    """
    xy = np.asarray(points, dtype=np.float64)
    edge = region.boundary
    shapely.prepare(edge)
    far = np.asarray(shapely.distance(edge, shapely.points(xy)))
    return np.where(contains(region, xy), far, -far)


def moved_inside(region: Polygon, points: ArrayLike) -> FloatArray:
    """Return points, those outside a region moved to the nearest place of its edge.

    Parameters
    ----------
    region : shapely.Polygon
        One region.
    points : (n, 2) array_like
        Places, mm.

    Returns
    -------
    (n, 2) array
        As many, in their order.
    """
    xy = np.array(points, dtype=np.float64)
    out = np.flatnonzero(~contains(region, xy))
    if len(out):
        edge = region.boundary
        at = shapely.line_locate_point(edge, shapely.points(xy[out]))
        xy[out] = shapely.get_coordinates(shapely.line_interpolate_point(edge, at))
    return xy


def inscribed_circle(region: Polygon, *, tolerance_mm: float = 0.01) -> tuple[tuple[float, float], float]:
    """Return centre and radius of the largest circle inside a region.

    Parameters
    ----------
    region : shapely.Polygon
        Any region.
    tolerance_mm : float
        How far the radius may be off.

    Returns
    -------
    (x, y), float
        Centre and radius, mm.

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
    """Return least and greatest coordinate of a region along a direction (0 right, 90 up as seen).

    Parameters
    ----------
    region : shapely geometry
        An area of one or many pieces.
    angle_deg : float
        The direction.

    Returns
    -------
    float, float
        mm along it, from the page's 0, 0.
    """
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
    return normalised(Point(centre).buffer(radius_mm, quad_segs=quad_segments(radius_mm, tolerance_mm)))


def line_of(path: ArrayLike) -> LineString:
    """Return an open path as a shape, to be grown or taken out of a region.

    Parameters
    ----------
    path : (n, 2) array_like
        An open polyline.

    Returns
    -------
    shapely.LineString
        Without a width.
    """
    return LineString(np.asarray(path, dtype=np.float64))


def transform(region: Polygon, matrix: ArrayLike, shift: tuple[float, float] = (0.0, 0.0)) -> Polygon:
    """Return a region with every point ``p`` taken to ``matrix @ p + shift``.

    Parameters
    ----------
    region : shapely.Polygon
        Any region.
    matrix : ``(2, 2)`` array_like
        A turn, a mirror, a scale.
    shift : (float, float)
        Added after it.

    Returns
    -------
    shapely.Polygon
        With its points moved.
    """
    m = np.asarray(matrix, dtype=np.float64)
    return normalised(affine_transform(region, [m[0, 0], m[0, 1], m[1, 0], m[1, 1], shift[0], shift[1]]))


def region_bytes(region: Polygon) -> bytes:
    """Return a region as bytes that hold every coordinate exactly (well-known binary).

    Parameters
    ----------
    region : shapely.Polygon
        Any region.

    Returns
    -------
    bytes
        `region_of_bytes` reads it.
    """
    return bytes(shapely.to_wkb(region))


def region_of_bytes(data: bytes) -> Polygon:
    """Return the region that `region_bytes` wrote.

    Parameters
    ----------
    data : bytes
        As `region_bytes` writes them.

    Returns
    -------
    shapely.Polygon
        Coordinate for coordinate the same.

    Raises
    ------
    ValueError
        It is no region.
    """
    region = shapely.from_wkb(data)
    if not isinstance(region, Polygon):
        raise ValueError("must hold one polygon")
    return region


def touching(regions: Sequence[Polygon], *, within_mm: float) -> list[tuple[int, int]]:
    """Return the pairs of regions that lie no further than ``within_mm`` from each other, smaller index first.

    Parameters
    ----------
    regions : sequence of shapely.Polygon
        Any number of them.
    within_mm : float
        How near counts.

    Returns
    -------
    list of (int, int)
        Sorted; empty for none.
    """
    if not regions:
        return []
    i, j = shapely.STRtree(list(regions)).query(list(regions), predicate="dwithin", distance=within_mm)
    return sorted((int(a), int(b)) for a, b in zip(i, j) if a < b)
