"""Triangle meshes of a region that keep its outline and lines drawn in it as mesh edges."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial import Delaunay, cKDTree
from shapely import Polygon

from ...errors import EngineError
from ...model import FloatArray
from ..curves.polylines import close_ring, densify

__all__ = ["Mesh", "mesh_region"]

IntArray = NDArray[np.intp]

KEEP_OFF = 0.62
"""Inner points keep this many steps from outline and lines: nearer ones make flat triangles, farther ones long ones."""

ROUNDS = 12
"""Rounds of splitting missing edges. A zone of ordinary corners needs 1 or 2; each halves the step at the spot."""

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
    step_mm : float
        Distance between nodes.
    lines : sequence of (k, 2)
        Lines inside the region, crossing neither each other nor the outline; they may end on its vertices.
    closed : sequence of bool
        Whether each line is closed; none is when left out.
    axis : (origin, direction), optional
        Inner nodes lie on a honeycomb symmetric about this axis, so that the mesh moves, turns and mirrors
        with the shape.

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
    inner = _honeycomb(region, chains, step_mm, axis)
    for round_ in range(ROUNDS):
        points, index = _numbered(chains, inner)
        triangles = np.asarray(Delaunay(points).simplices, dtype=np.intp)
        split = _to_split(points, triangles, index, square_up=round_ < SQUARE_UP_ROUNDS, least=0.2 * step_mm)
        if not any(s.any() for s in split):
            triangles = _inside(points, triangles, region)
            ends = [i[:-1] if c else i for i, c in zip(index, is_closed)]
            count = 1 + len(region.interiors)
            return Mesh(points, triangles, tuple(ends[:count]), tuple(ends[count:]))
        chains = [_split(c, s) for c, s in zip(chains, split)]
    raise EngineError("the mesh of a zone did not close along its outline")


def _honeycomb(
    region: Polygon, chains: Sequence[FloatArray], step: float, axis: tuple[FloatArray, FloatArray] | None
) -> FloatArray:
    left, top, right, bottom = region.bounds
    origin, along = axis if axis is not None else (np.array([left, top]), np.array([1.0, 0.0]))
    turn = np.array([along, [-along[1], along[0]]])
    corners = (np.array([(left, top), (right, top), (right, bottom), (left, bottom)]) - origin) @ turn.T
    low, high = corners.min(axis=0), corners.max(axis=0)
    row_step = step * np.sqrt(3) / 2
    rows = np.arange(np.floor(low[1] / row_step), np.ceil(high[1] / row_step) + 1)
    columns = np.arange(np.floor(low[0] / step), np.ceil(high[0] / step) + 1)
    x = (columns[None, :] + 0.5 * (rows[:, None] % 2)) * step
    y = np.broadcast_to(rows[:, None] * row_step, x.shape)
    grid = np.column_stack([x.ravel(), y.ravel()]) @ turn + origin
    edge = np.vstack([densify(c, step / 4) for c in chains])
    grid = grid[shapely.contains_xy(region, grid[:, 0], grid[:, 1])]
    far, _ = cKDTree(edge).query(grid, distance_upper_bound=KEEP_OFF * step)
    kept: FloatArray = grid[np.isinf(far)]
    return kept


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
