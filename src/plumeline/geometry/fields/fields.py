"""Harmonic fields on a mesh, cuts through it, and charts that take a region to a strip and back."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.sparse import coo_matrix, csc_matrix, csr_matrix, diags_array
from scipy.sparse.linalg import splu

from ...model import FloatArray, IntArray

__all__ = ["Strip", "harmonic", "slit", "stiffness", "unwrapped"]


def stiffness(points: FloatArray, triangles: IntArray) -> csr_matrix:
    """Return the matrix of the Laplace operator for linear triangles, ``(n, n)``.

    Notes
    -----
    ``K[i, j] = (e_i . e_j) / (4 area)`` summed over the triangles, ``e_i`` the edge opposite node i (the
    cotangent formula).
    """
    p = points[triangles]
    edge = np.roll(p, -2, axis=1) - np.roll(p, -1, axis=1)
    area2 = np.abs(edge[:, 0, 0] * edge[:, 1, 1] - edge[:, 0, 1] * edge[:, 1, 0])
    local = np.einsum("tik,tjk->tij", edge, edge) / (2 * area2)[:, None, None]
    rows, columns = np.repeat(triangles, 3, axis=1), np.tile(triangles, (1, 3))
    n = len(points)
    return coo_matrix((local.ravel(), (rows.ravel(), columns.ravel())), shape=(n, n)).tocsr()


def harmonic(
    matrix: csr_matrix,
    fixed: IntArray,
    values: FloatArray,
    *,
    robin: tuple[IntArray, FloatArray, FloatArray] | None = None,
    load: FloatArray | None = None,
) -> FloatArray:
    """Return the harmonic field with given values at some nodes, ``(n,)``.

    Parameters
    ----------
    fixed, values
        Nodes with a given value (Dirichlet).
    robin : (nodes, weights, targets), optional
        Nodes drawn towards a target: ``d field/d normal = weight x (target - field)``, weights already times
        the length of edge that belongs to each node.
    load : (n,), optional
        Right-hand side. Edge without any condition lets nothing through (Neumann).
    """
    n = matrix.shape[0]
    right = np.zeros(n) if load is None else load.copy()
    if robin is not None:
        nodes, weights, targets = robin
        extra = np.zeros(n)
        np.add.at(extra, nodes, weights)
        matrix = matrix + diags_array(extra)
        np.add.at(right, nodes, weights * targets)
    field = np.zeros(n)
    field[fixed] = values
    free = np.ones(n, dtype=bool)
    free[fixed] = False
    rows = matrix.tocsr()[free]
    right = right[free] - rows[:, ~free] @ field[~free]
    # so sparse that columns taken together cost more than they save
    field[free] = splu(
        csc_matrix(rows[:, free]),
        permc_spec="MMD_AT_PLUS_A",
        diag_pivot_thresh=0.0,
        relax=1,
        panel_size=1,
        options={"SymmetricMode": True},
    ).solve(right)
    return field


def slit(
    points: FloatArray, triangles: IntArray, line: IntArray, ring: IntArray
) -> tuple[FloatArray, IntArray, IntArray]:
    """Return the mesh cut open along a line that starts on the ring and ends inside.

    Parameters
    ----------
    line : (k,) int
        Nodes of the cut; its first is the ring's first. The last stays whole.
    ring : (m,) int
        Nodes of the outline, clockwise as seen.

    Returns
    -------
    points, triangles, right
        The mesh with each node of the cut but the last doubled, and for each node of ``line`` the one on
        its right as seen (its left one keeps the number).
    """
    doubled = line[:-1]
    right = np.append(len(points) + np.arange(len(doubled)), line[-1])
    place = np.full(len(points), -1)
    place[doubled] = np.arange(len(doubled))
    t, corner = np.nonzero(place[triangles] >= 0)
    k = place[triangles[t, corner]]
    here = points[doubled]
    ahead = points[line[1:]] - here
    behind = np.vstack([ahead[:1], points[doubled[:-1]] - here[1:]])

    def turn(to: FloatArray, frm: FloatArray) -> FloatArray:
        # counter-clockwise as seen, 0..2 pi (y down)
        a = np.arctan2(to[:, 1], to[:, 0]) - np.arctan2(frm[:, 1], frm[:, 0])
        return np.asarray(np.mod(-a, 2 * np.pi))

    back = turn(behind, ahead)
    # where the cut leaves the outline its back is the middle of the outside
    out, into = points[ring[[1]]] - here[:1], points[ring[[-1]]] - here[:1]
    back[0] = (turn(out, ahead[:1])[0] + turn(into, ahead[:1])[0]) / 2
    middle = points[triangles[t]].mean(axis=1)
    on_right = turn(middle - here[k], ahead[k]) > back[k]
    cut = triangles.copy()
    cut[t[on_right], corner[on_right]] = right[k[on_right]]
    return np.vstack([points, here]), cut, np.asarray(right, dtype=np.intp)


def unwrapped(triangles: IntArray, field: FloatArray, period: float) -> FloatArray:
    """Return a field of a ring at the corners of its triangles, ``(m, 3)``, without the jump of a period."""
    corners = field[triangles]
    return np.asarray(corners - period * np.round((corners - corners[:, :1]) / period))


@dataclass(frozen=True, eq=False, slots=True)
class Strip:
    """A region charted as a strip: across is 0 on its inner side and 1 on its outer, along grows from 0 to ``length``.

    Attributes
    ----------
    along, across : (m, 3) float64
        Chart coordinates at the corners of each triangle.
    corners : (m, 3, 2) float64
        Places of those corners, mm.
    period : float or None
        For a strip that closes on itself, the length after which ``along`` repeats.
    """

    along: FloatArray
    across: FloatArray
    corners: FloatArray
    length: float
    period: float | None = None

    BUCKETS_ACROSS = 64
    """Rows of search buckets; with 4 a unit along, a bucket holds a handful of triangles."""

    def places(self, along: FloatArray, across: FloatArray) -> FloatArray:
        """Return the places with given chart coordinates, ``(k, 2)``; those just outside take the nearest triangle.

        Notes
        -----
        Each triangle is entered in the buckets that its box touches; each question is put to the triangles
        of its bucket by barycentric coordinates.
        """
        ax, triangle = self.along, np.arange(len(self.along))
        if self.period is not None:
            along = np.mod(along, self.period)
            ax = np.vstack([ax - self.period, ax, ax + self.period])
            triangle = np.tile(triangle, 3)
            near = (ax.max(axis=1) >= 0) & (ax.min(axis=1) <= self.period)
            ax, triangle = ax[near], triangle[near]
        columns = max(int(np.ceil(4 * self.length)), 1)
        uy = _stretched(self.across[triangle])
        starts, members = _buckets(ax / self.length * columns, uy * self.BUCKETS_ACROSS, columns, self.BUCKETS_ACROSS)
        column = np.clip((along / self.length * columns).astype(int), 0, columns - 1)
        row = np.clip((_stretched(across) * self.BUCKETS_ACROSS).astype(int), 0, self.BUCKETS_ACROSS - 1)
        bucket = column * self.BUCKETS_ACROSS + row
        count = starts[bucket + 1] - starts[bucket]
        asked = np.flatnonzero(count)
        out = np.full((len(along), 2), np.nan)
        if not len(asked):
            return out
        along, across, count = along[asked], across[asked], count[asked]
        begin = np.cumsum(count) - count
        member = members[np.arange(count.sum()) + np.repeat(starts[bucket[asked]] - begin, count)]
        own = _inverted(ax, self.across[triangle])
        least = _barycentric(own.take(member, axis=0), np.repeat(along, count), np.repeat(across, count)).min(axis=0)
        # the triangle whose least weight is largest contains the question, or misses it by least; the first of several
        largest = np.flatnonzero(least == np.repeat(np.maximum.reduceat(least, begin), count))
        best = member[largest[np.searchsorted(largest, begin)]]
        w = np.clip(_barycentric(own[best], along, across), 0.0, None)
        out[asked] = np.einsum("jk,kjc->kc", w / w.sum(axis=0), self.corners[triangle[best]])
        return out


def _stretched(across: FloatArray) -> FloatArray:
    # corners far from the inner side are all near across = 1: half of the buckets go there, by logarithm
    near = -np.log10(np.clip(1.0 - across, 1e-4, 1.0)) / 4
    return np.asarray(0.5 * across + 0.5 * near)


def _buckets(x: FloatArray, y: FloatArray, columns: int, rows: int) -> tuple[IntArray, IntArray]:
    x0, x1 = (np.clip(np.floor(f(axis=1)).astype(int), 0, columns - 1) for f in (x.min, x.max))
    y0, y1 = (np.clip(np.floor(f(axis=1)).astype(int), 0, rows - 1) for f in (y.min, y.max))
    nx, ny = x1 - x0 + 1, y1 - y0 + 1
    total = nx * ny
    member = np.repeat(np.arange(len(x)), total)
    offset = np.arange(len(member)) - np.repeat(np.cumsum(total) - total, total)
    bucket = (x0[member] + offset // ny[member]) * rows + y0[member] + offset % ny[member]
    order = np.argsort(bucket, kind="stable")
    starts = np.searchsorted(bucket[order], np.arange(columns * rows + 1))
    return np.asarray(starts, dtype=np.intp), np.asarray(member[order], dtype=np.intp)


def _inverted(x: FloatArray, y: FloatArray) -> FloatArray:
    """Return what takes a place to its weights in each triangle, ``(m, 6)``: the first corner, and a matrix."""
    x0, y0 = x[:, 0], y[:, 0]
    ax, ay, bx, by = x[:, 1] - x0, y[:, 1] - y0, x[:, 2] - x0, y[:, 2] - y0
    twice = ax * by - ay * bx
    twice = np.where(np.abs(twice) > 1e-300, twice, 1e-300)
    return np.column_stack([x0, y0, by / twice, -bx / twice, -ay / twice, ax / twice])


def _barycentric(inverted: FloatArray, px: FloatArray, py: FloatArray) -> FloatArray:
    """Return the weights of the corners of a triangle each at a place each, ``(3, k)``."""
    x0, y0, m00, m01, m10, m11 = inverted.T
    qx, qy = px - x0, py - y0
    b, c = qx * m00 + qy * m01, qx * m10 + qy * m11
    return np.stack([1 - b - c, b, c])
