"""Smooth maps of the inside of an outline that take the outline where one says."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from ...model import FloatArray

__all__ = ["mean_values", "stretches"]

ON_EDGE = 1e-9
"""A point nearer to the edge than this part of the outline's size lies on it: its weights are those of the two ends."""

AT_ONCE = 2_000_000
"""Weights worked on at a time: 16 MB."""

STEP = 1e-4
"""Step, as part of the outline's size, over which the stretch of a map is measured."""


def mean_values(ring: ArrayLike, points: ArrayLike) -> FloatArray:
    """Return the mean value coordinates of points in a closed outline: how much each vertex has a say there.

    What is given at the vertices and runs evenly along the sides is carried on smoothly over the inside by
    ``mean_values(ring, points) @ given``: exactly at vertices and sides, and a linear function as it is.

    Parameters
    ----------
    ring : (k, 2) array
        Three or more vertices, the first not repeated; it need not be convex.
    points : (n, 2) array
        Anywhere, also on the outline.

    Returns
    -------
    (n, k) float64
        Rows sum to 1. ``(0, k)`` without points.

    Notes
    -----
    The weight of a vertex is ``(tan(a / 2) + tan(b / 2)) / r``, with r its distance and a, b the angles under which
    the sides at it are seen [1]_; a tangent is taken from cross and dot product, which holds beside an edge too [2]_.
    Cutting a side in two changes nothing. O(n k).

    References
    ----------
    .. [1] M. Floater, "Mean value coordinates", Computer Aided Geometric Design 20 (2003), 19-27.
    .. [2] K. Hormann, M. Floater, "Mean value coordinates for arbitrary planar polygons", ACM TOG 25 (2006), 1424-1441.

    Examples
    --------
    >>> square = [(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)]
    >>> mean_values(square, [(0.5, 0.5), (0.25, 0.0)]).round(6).tolist()
    [[0.25, 0.25, 0.25, 0.25], [0.75, 0.25, 0.0, 0.0]]
    """
    corners, at = np.asarray(ring, dtype=np.float64), np.asarray(points, dtype=np.float64).reshape(-1, 2)
    out = np.empty((len(at), len(corners)))
    size = float(np.ptp(corners, axis=0).max())
    some = max(1, AT_ONCE // len(corners))
    for first in range(0, len(at), some):
        out[first : first + some] = _weights(corners, at[first : first + some], ON_EDGE * size)
    return out


def _weights(corners: FloatArray, points: FloatArray, near: float) -> FloatArray:
    x, y = (corners[None, :, axis] - points[:, None, axis] for axis in (0, 1))
    r = np.hypot(x, y)
    x2, y2, r2 = (np.roll(v, -1, axis=1) for v in (x, y, r))
    cross, dot = x * y2 - x2 * y, x * x2 + y * y2
    side = np.hypot(x2 - x, y2 - y)
    on_side = (np.abs(cross) <= near * side) & (dot <= near * near)
    on_side |= np.minimum(r, r2) <= near
    sum_ = r * r2 + dot
    with np.errstate(divide="ignore", invalid="ignore"):
        tangent = np.where(sum_ != 0, cross / sum_, 0.0)
        weight = (np.roll(tangent, 1, axis=1) + tangent) / r
        weight /= weight.sum(axis=1, keepdims=True)
    rows = np.flatnonzero(on_side.any(axis=1))
    if len(rows):
        ends = np.argmax(on_side[rows], axis=1)
        after = (ends + 1) % len(corners)
        share = np.clip(r[rows, ends] / np.maximum(side[rows, ends], 1e-300), 0.0, 1.0)
        weight[rows] = 0.0
        weight[rows, ends], weight[rows, after] = 1 - share, share
    return np.asarray(weight)


def stretches(ring: ArrayLike, onto: ArrayLike, points: ArrayLike) -> tuple[FloatArray, FloatArray]:
    """Return how a map of an outline onto others stretches at points inside.

    Parameters
    ----------
    ring : (k, 2) array
        Closed, first point not repeated.
    onto : (m, k, 2) array
        Where its vertices go, for each of m maps.
    points : (n, 2) array
        Places inside.

    Returns
    -------
    least, most : (m, n) float64
        The shortest and the longest that a short line of length 1 becomes there. The least is below 0 where the map
        folds over or mirrors.
    """
    corners, at, goals = (np.asarray(v, dtype=np.float64) for v in (ring, points, onto))
    step = STEP * float(np.ptp(corners, axis=0).max())
    here = mean_values(corners, at)
    along = [(mean_values(corners, at + shift) - here) / step for shift in np.eye(2) * step]
    a, b = (np.einsum("nk,mkd->mnd", w, goals) for w in along)
    # singular values of the 2 x 2 derivative by the sums of its squares and its determinant
    squares, turn = (a * a + b * b).sum(axis=-1) / 2, a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0]
    root = np.sqrt(np.maximum(squares * squares - turn * turn, 0.0))
    least, most = np.sqrt(np.maximum(squares - root, 0.0)), np.sqrt(squares + root)
    return np.asarray(np.sign(turn) * least), np.asarray(most)
