"""Triangle meshes of a region: one with chains of nodes along its outline and lines, one that knows its neighbours."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial import Delaunay, QhullError, cKDTree
from shapely import Polygon

from ...errors import EngineError
from ...model import BoolArray, FloatArray, IntArray
from ..areas.regions import contains
from ..curves.polylines import close_ring, densify
from .honeycomb import Honeycomb

__all__ = ["EdgeMesh", "EdgeSamples", "Mesh", "circumcircles", "edge_samples", "mesh_of", "mesh_region"]


ROUNDS = 12
"""Rounds of splitting missing edges. A zone of ordinary corners needs 1 or 2; each halves the step at the spot."""

ENCROACHED = 1 - 1e-7
"""Share of a segment's half length within which another point keeps it from being an edge of the mesh; just
below 1, so that points exactly on the circle (mirrored samples at a corner) split nothing."""

JITTER_MM = 1e-7
"""So much are points moved to be triangulated: four on one circle, or three on one straight side of the hull, take
two or three times as long."""

FLAT = 0.5e-12
"""Twice the area of a triangle below which it is flat, in its longest side squared: rounding of points on a line."""

SQUARE_UP_ROUNDS = 1
"""Rounds that also split edges facing an obtuse corner; each costs a triangulation, and acute corners never end."""


@dataclass(frozen=True, eq=False, slots=True)
class Mesh:
    """A triangle mesh.

    Attributes
    ----------
    points : (n, 2) float64
        Nodes, mm.
    triangles : (m, 3) int
        Nodes of each triangle, all turning the same way.
    rings : tuple of (k,) int
        Nodes along the shell and the holes, in the region's order, first not repeated.
    lines : tuple of (k,) int
        Nodes along each line.
    """

    points: FloatArray
    triangles: IntArray
    rings: tuple[IntArray, ...]
    lines: tuple[IntArray, ...]


def mesh_region(
    region: Polygon,
    step_mm: float,
    *,
    lines: Sequence[FloatArray] = (),
    closed: Sequence[bool] = (),
    axis: tuple[FloatArray, FloatArray] | None = None,
) -> Mesh:
    """Return a mesh of a region in which the outline and the lines are chains of edges.

    Parameters
    ----------
    region : shapely.Polygon
        Any region.
    step_mm : float
        Distance between nodes.
    lines : sequence of (k, 2)
        Lines inside the region, crossing neither each other nor the outline; they may end on its vertices.
    closed : sequence of bool
        Whether each line is closed; none is when left out.
    axis : (origin, direction), optional
        Inner nodes lie on a honeycomb symmetric about this axis, so that the mesh moves, turns and mirrors
        with the shape.

    Returns
    -------
    Mesh
        Nodes, triangles, and which of the nodes lie on the edge and on each line.

    Raises
    ------
    EngineError
        An edge was still missing after `ROUNDS` rounds of splitting.

    Notes
    -----
    Delaunay triangulation made conforming by splitting each missing edge at its middle, and in the first
    rounds each edge that faces an obtuse corner. In a Delaunay triangulation opposite angles never sum to
    more than 180 degrees, so the cotangent weights between inner nodes are not negative (Rippa 1990; Wardetzky
    et al. 2007) and discrete harmonic fields keep the maximum principle. O(n log n).
    """
    is_closed = [True] * (1 + len(region.interiors)) + (list(closed) or [False] * len(lines))
    steps = [step_mm] * (1 + len(region.interiors)) + [0.7 * step_mm] * len(lines)
    drawn = [np.asarray(r.coords)[:-1, :2] for r in (region.exterior, *region.interiors)]
    drawn += [np.asarray(line) for line in lines]
    chains = [close_ring(densify(p, s, closed=c), c) for p, s, c in zip(drawn, steps, is_closed)]
    inner = Honeycomb.inside(region, chains, step_mm, axis)
    for round_ in range(ROUNDS):
        points, index = _numbered(chains, inner.points)
        triangles = _around(inner, points)
        split = _to_split(points, triangles, index, square_up=round_ < SQUARE_UP_ROUNDS, least=0.2 * step_mm)
        if not any(s.any() for s in split):
            deep = inner.triangles + (len(points) - len(inner.points))
            triangles = np.vstack([_inside(points, triangles, region), deep])
            ends = [i[:-1] if c else i for i, c in zip(index, is_closed)]
            count = 1 + len(region.interiors)
            return Mesh(points, triangles, tuple(ends[:count]), tuple(ends[count:]))
        chains = [_split(c, s) for c, s in zip(chains, split)]
    raise EngineError("the mesh of a zone did not close along its outline")


def _around(inner: Honeycomb, points: FloatArray) -> IntArray:
    """Return the triangles of points, the last of which are a honeycomb, but those that it knows."""
    first = len(points) - len(inner.points)
    used = np.concatenate([np.arange(first), first + np.flatnonzero(~inner.amid)])
    triangles = used[_triangulated(points[used])]
    return np.asarray(triangles[~inner.knows(points[triangles].mean(axis=1))])


def _triangulated(points: FloatArray) -> IntArray:
    moved = np.random.default_rng(0).normal(0.0, JITTER_MM, points.shape)
    return np.asarray(Delaunay(points + moved).simplices, dtype=np.intp)


def _numbered(chains: Sequence[FloatArray], inner: FloatArray) -> tuple[FloatArray, list[IntArray]]:
    # one number for each place: lines may end on the outline, closed chains end where they start
    stacked = np.vstack(chains)
    keys = np.round(stacked, 7)
    _, first, inverse = np.unique(keys, axis=0, return_index=True, return_inverse=True)
    order = np.argsort(np.argsort(first))
    numbers = order[inverse.ravel()]
    points = np.vstack([stacked[np.sort(first)], inner])
    cuts = np.cumsum([len(c) for c in chains])[:-1]
    return points, [np.asarray(i, dtype=np.intp) for i in np.split(numbers, cuts)]


def _to_split(
    points: FloatArray, triangles: IntArray, index: Sequence[IntArray], *, square_up: bool, least: float
) -> list[NDArray[np.bool_]]:
    n = len(points)
    apex = triangles
    a, b = np.roll(triangles, -1, axis=1), np.roll(triangles, -2, axis=1)
    keys = (np.minimum(a, b) * n + np.maximum(a, b)).ravel()
    obtuse = ((points[a] - points[apex]) * (points[b] - points[apex])).sum(axis=2).ravel() < 0
    blunt, keys = np.sort(keys[obtuse]), np.sort(keys)
    out = []
    for chain in index:
        key = np.minimum(chain[:-1], chain[1:]) * n + np.maximum(chain[:-1], chain[1:])
        bad = ~_among(key, keys)
        if square_up:
            long = np.hypot(*(points[chain[1:]] - points[chain[:-1]]).T) > least
            bad |= _among(key, blunt) & long
        out.append(bad)
    return out


def _among(wanted: IntArray, ordered: IntArray) -> NDArray[np.bool_]:
    if not len(ordered):
        return np.zeros(len(wanted), dtype=bool)
    place = np.minimum(np.searchsorted(ordered, wanted), len(ordered) - 1)
    return np.asarray(ordered[place] == wanted)


def _split(chain: FloatArray, where: NDArray[np.bool_]) -> FloatArray:
    at = np.flatnonzero(where)
    return np.insert(chain, at + 1, (chain[at] + chain[at + 1]) / 2, axis=0)


def _inside(points: FloatArray, triangles: IntArray, region: Polygon) -> IntArray:
    middle = points[triangles].mean(axis=1)
    a, b, c = (points[triangles[:, i]] for i in range(3))
    twice_area = np.abs((b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0])
    # three nodes of one straight edge make a triangle of no area that Qhull may still return
    keep = shapely.contains_xy(region, middle[:, 0], middle[:, 1]) & (twice_area > 1e-9)
    kept: IntArray = triangles[keep]
    return kept


@dataclass(frozen=True, slots=True, eq=False)
class EdgeSamples:
    """Points along rings, and the segments between them.

    Attributes
    ----------
    points : (n, 2)
        The rings' vertices and the points added between them.
    segments : (m, 2) int
        Indices of the ends of each segment, in the rings' direction.
    marks : (m,) int
        The mark of the ring segment that each lies on.
    """

    points: FloatArray
    segments: IntArray
    marks: IntArray


def edge_samples(rings: Sequence[FloatArray], marks: Sequence[IntArray], pitch_mm: float) -> EdgeSamples:
    """Return points about ``pitch_mm`` apart along closed rings, all vertices kept.

    Points are laid out from both ends of each straight stretch, so that they mirror each other at a corner:
    four mirrored points lie on one circle, and a mesh keeps to both legs however sharp the corner is.

    Parameters
    ----------
    rings : sequence of (k, 2)
        Closed paths, first point not repeated.
    marks : sequence of (k,) int
        A mark for each ring's segments; segment i runs from vertex i to the next.
    pitch_mm : float
        About so far apart.

    Returns
    -------
    EdgeSamples
        The points, which segment each lies on, and its mark.
    """
    points: list[FloatArray] = []
    segments: list[IntArray] = []
    labels: list[IntArray] = []
    count = 0
    for ring, mark in zip(rings, marks):
        after = np.roll(ring, -1, axis=0)
        lengths = np.hypot(*(after - ring).T)
        fractions = [_stretch(length, pitch_mm) for length in lengths]
        of = np.repeat(np.arange(len(ring)), [len(f) for f in fractions])
        at = np.concatenate(fractions)[:, None]
        laid = ring[of] * (1 - at) + after[of] * at
        index = count + np.arange(len(laid))
        points.append(laid)
        segments.append(np.column_stack([index, np.roll(index, -1)]))
        labels.append(np.asarray(mark)[of])
        count += len(laid)
    return EdgeSamples(np.vstack(points), np.vstack(segments), np.concatenate(labels))


def _stretch(length: float, pitch: float) -> FloatArray:
    # fractions of one straight stretch, without its far end
    if length <= 1.25 * pitch:
        return np.zeros(1)
    each_end = max(int((length / pitch - 0.5) / 2), 0)
    from_start = np.arange(each_end + 1) * pitch / length
    gap = length - 2 * each_end * pitch
    middle = [0.5] if gap > 1.25 * pitch else []
    return np.concatenate([from_start, middle, 1 - from_start[:0:-1]])


@dataclass(frozen=True, slots=True, eq=False)
class EdgeMesh:
    """Triangles of a region, with the mark of each stretch of its edge and each triangle's neighbours.

    Attributes
    ----------
    points : (n, 2)
        The edge samples first, then the inner points.
    triangles : (t, 3) int
        Corners, all turning the same way: positive `signed_area`.
    twins : (3 t,) int
        Half-edge ``3 t + c`` runs from corner c of triangle t to corner c + 1; its twin runs back in the
        neighbouring triangle, -1 where there is none.
    segments, marks
        The segments of the edge, as in `EdgeSamples`, those split on the way included.
    """

    points: FloatArray
    triangles: IntArray
    twins: IntArray
    segments: IntArray
    marks: IntArray


def mesh_of(region: Polygon, edge: EdgeSamples, inner: FloatArray, *, least_mm: float) -> EdgeMesh | None:
    """Return the Delaunay mesh of edge samples and inner points, inside a region and keeping to its edge.

    Segments that another point comes too near are split at their middle until the mesh holds them
    (Ruppert 1995, the splitting of encroached segments alone), never below ``least_mm``.

    Parameters
    ----------
    region : shapely.Polygon
        What is meshed.
    edge : EdgeSamples
        As `edge_samples` gives them.
    inner : (n, 2) array
        Points inside it.
    least_mm : float
        No segment is split below this.

    Returns
    -------
    EdgeMesh or None
        None when there are too few points, or all lie on one line.
    """
    edge = _split_encroached(edge, inner, least_mm)
    points = np.vstack([edge.points, inner])
    try:
        corners = Delaunay(points).simplices.astype(np.int64)
    except (QhullError, ValueError):
        return None
    a, b, c = (points[corners[:, k]] for k in range(3))
    twice = (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0])
    corners[twice < 0] = corners[twice < 0][:, ::-1]
    keep = contains(region, (a + b + c) / 3) & ~_is_flat(b - a, c - a, twice)
    corners = corners[keep]
    return EdgeMesh(points, corners, _twins(corners, len(points)), edge.segments, edge.marks) if len(corners) else None


def _is_flat(u: FloatArray, v: FloatArray, twice_area: FloatArray) -> BoolArray:
    """Return which triangles, by two of their sides, are no more than the rounding of points on one line."""
    flat: BoolArray = np.abs(twice_area) < FLAT * (np.abs(u) + np.abs(v)).max(axis=1) ** 2
    return flat


def _split_encroached(edge: EdgeSamples, inner: FloatArray, least: float) -> EdgeSamples:
    points, segments, marks = edge.points, edge.segments, edge.marks
    while True:
        everything = np.vstack([points, inner])
        a, b = points[segments[:, 0]], points[segments[:, 1]]
        middle, half = (a + b) / 2, np.hypot(*(b - a).T) / 2
        near, _ = cKDTree(everything).query(middle)
        split = (near < ENCROACHED * half) & (half > least)
        if not split.any():
            return EdgeSamples(points, segments, marks)
        index = len(points) + np.arange(split.sum())
        points = np.vstack([points, middle[split]])
        first = np.column_stack([segments[split, 0], index])
        second = np.column_stack([index, segments[split, 1]])
        segments = np.vstack([segments[~split], first, second])
        marks = np.concatenate([marks[~split], marks[split], marks[split]])


def _twins(corners: IntArray, count: int) -> IntArray:
    start = corners.ravel()
    end = np.roll(corners, -1, axis=1).ravel()
    key, back = start * count + end, end * count + start
    order = np.argsort(key)
    at = np.searchsorted(key[order], back)
    at[at == len(key)] = 0
    found = order[at]
    return np.where(key[found] == back, found, -1)


def circumcircles(points: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return centres ``(t, 2)`` and radii ``(t,)`` of the circles through the corners of each Delaunay triangle.

    Of points along a region's edge, those inside the region lie on its medial axis and the radius is the
    clearance there (Amenta et al. 2001). Empty for fewer than three points or all on one line.

    Parameters
    ----------
    points : (n, 2) array
        Places, mm.

    Returns
    -------
    ``(t, 2)`` array, ``(t,)`` array
        Centres and radii.
    """
    try:
        corners = _triangulated(points)
    except (QhullError, ValueError):
        return np.zeros((0, 2)), np.zeros(0)
    a, b, c = (points[corners[:, k]] for k in range(3))
    u, v = b - a, c - a
    twice = 2 * (u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0])
    flat = _is_flat(u, v, twice / 2)
    twice = np.where(flat, 1.0, twice)
    uu, vv = (u * u).sum(axis=1), (v * v).sum(axis=1)
    shift = np.column_stack([v[:, 1] * uu - u[:, 1] * vv, u[:, 0] * vv - v[:, 0] * uu]) / twice[:, None]
    return (a + shift)[~flat], np.hypot(*shift[~flat].T)
