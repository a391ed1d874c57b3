"""Points on a honeycomb inside a region, and those of its triangles that any mesh of region and points has."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from scipy.spatial import cKDTree
from shapely import Polygon

from ...model import BoolArray, FloatArray, IntArray
from ..curves.polylines import densify

__all__ = ["Honeycomb"]

KEEP_OFF = 0.62
"""Inner points keep this many steps from outline and lines: nearer ones make flat triangles, farther ones long ones."""

DEEP = 1.2
"""A triangle whose corners all lie this many steps from outline and lines has none of their points in its circle, which
reaches 2 / sqrt(3) = 1.155 from a corner."""


@dataclass(frozen=True, eq=False, slots=True)
class Honeycomb:
    """Points of a honeycomb, and its triangles far from everything else.

    In every Delaunay triangulation of the points and others near outline and lines, those triangles are as they are
    here; only what is round them has to be triangulated.

    Attributes
    ----------
    points : (n, 2) float64
        Points inside the region that keep off its outline and the lines.
    triangles : (m, 3) int
        The triangles, all turning the same way.
    amid : (n,) bool
        Points that have those triangles all round.
    """

    points: FloatArray
    triangles: IntArray
    amid: BoolArray
    _origin: FloatArray
    _turn: FloatArray
    _step: float
    _first: tuple[int, int]
    _known: tuple[BoolArray, BoolArray]

    @classmethod
    def inside(
        cls, region: Polygon, chains: Sequence[FloatArray], step: float, axis: tuple[FloatArray, FloatArray] | None
    ) -> Honeycomb:
        """Lay a honeycomb inside a region, off chains of points; symmetric about an axis (origin, direction)."""
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
        place = np.flatnonzero(shapely.contains_xy(region, grid[:, 0], grid[:, 1]))
        far = np.asarray(cKDTree(edge).query(grid[place], distance_upper_bound=DEEP * step)[0])
        off = far > KEEP_OFF * step
        place, far = place[off], far[off]
        deep = np.full(x.size, -1)
        deep[place[np.isinf(far)]] = np.flatnonzero(np.isinf(far))
        triangles, known = _lattice_triangles(deep.reshape(x.shape), (rows % 2).astype(int))
        amid = np.bincount(triangles.ravel(), minlength=len(place)) == 6
        first = int(rows[0]), int(columns[0])
        return cls(grid[place], triangles, amid, np.asarray(origin), turn, step, first, known)

    def knows(self, points: FloatArray) -> BoolArray:
        """Return which points lie in one of the triangles, ``(k,)``."""
        x, y = ((points - self._origin) @ self._turn.T).T / self._step
        y = y / (np.sqrt(3) / 2)
        row = np.floor(y).astype(int)
        up = y - row
        x = x - 0.5 * (row % 2) - 0.5 * up
        column = np.floor(x).astype(int)
        on_base = x - column <= 1 - up
        row, column = row - self._first[0], np.where(on_base, column, column + 1) - self._first[1]
        base, tip = self._known
        within = (row >= 0) & (row < base.shape[0]) & (column >= 0) & (column < base.shape[1])
        row, column = np.where(within, row, 0), np.where(within, column, 0)
        return np.asarray(within & np.where(on_base, base[row, column], tip[row, column]))


def _lattice_triangles(number: IntArray, odd: IntArray) -> tuple[IntArray, tuple[BoolArray, BoolArray]]:
    """Return the triangles of numbered places, -1 for none, and which places are the first of a base, and a tip.

    Odd rows lie half a step further on.
    """
    wide = np.pad(number, ((0, 1), (1, 1)), constant_values=-1)
    row, column = np.indices(number.shape)
    here, beside = number, wide[row, column + 2]
    above = column + 1 + odd[:, None]
    further, nearer = wide[row + 1, above], wide[row + 1, above - 1]
    base = (here >= 0) & (beside >= 0) & (further >= 0)
    tip = (here >= 0) & (further >= 0) & (nearer >= 0)
    on_base = np.stack([here, beside, further], axis=-1)[base]
    on_tip = np.stack([here, further, nearer], axis=-1)[tip]
    return np.vstack([on_base, on_tip]).astype(np.intp), (base, tip)
