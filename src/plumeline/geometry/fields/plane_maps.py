"""Plane maps: how one plane lies in a picture of it, from points known in both."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ...model import FloatArray

__all__ = ["PlaneMap", "plane_map"]


@dataclass(frozen=True, slots=True, eq=False)
class PlaneMap:
    """A map of one plane onto another that keeps lines straight: ``matrix`` ``(3, 3)`` of homogeneous coordinates."""

    matrix: FloatArray

    def __call__(self, points: FloatArray) -> FloatArray:
        """Return points, ``(n, 2)``, on the other plane; what lies on the horizon comes out infinite."""
        xy, w = self._raw(points)
        with np.errstate(divide="ignore", invalid="ignore"):
            mapped: FloatArray = xy / w[:, None]
        return mapped

    def depth(self, points: FloatArray) -> FloatArray:
        """Return the divisor of each point: of one sign on one side of the horizon, 0 on it."""
        return self._raw(points)[1]

    def inverse(self) -> PlaneMap:
        """Return the map back."""
        back = np.linalg.inv(self.matrix)
        return PlaneMap(back / np.abs(back).max())

    def stretch(self, point: FloatArray) -> FloatArray:
        """Return how the map stretches near a point, ``(2, 2)``: its derivative."""
        (xy,), (w,) = self._raw(np.asarray(point, dtype=np.float64)[None])
        at = xy / w
        near: FloatArray = (self.matrix[:2, :2] - np.outer(at, self.matrix[2, :2])) / w
        return near

    def _raw(self, points: FloatArray) -> tuple[FloatArray, FloatArray]:
        p = np.asarray(points, dtype=np.float64) @ self.matrix[:, :2].T + self.matrix[:, 2]
        return p[:, :2], p[:, 2]


def plane_map(points: FloatArray, onto: FloatArray) -> PlaneMap:
    """Return the plane map that takes points nearest onto others: exactly for four, else by least squares.

    Parameters
    ----------
    points, onto : (n, 2) arrays
        Four or more, no three of four on one line.

    Returns
    -------
    PlaneMap
        It takes arrays of points both ways.

    Raises
    ------
    ValueError
        Fewer than four points, or points that lie so that no one map is singled out.

    Notes
    -----
    Direct linear transformation: both sets are moved and scaled to a mean distance of the square root of 2 from their
    middle, which makes the least singular vector of the 2n x 9 system well conditioned [1]_. O(n).

    References
    ----------
    .. [1] R. Hartley, "In defense of the eight-point algorithm", IEEE PAMI 19 (1997), 580-593.

    Examples
    --------
    >>> square = np.array([(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)])
    >>> plane_map(square, 2 * square + 3)(np.array([(0.5, 0.5)])).round(6).tolist()
    [[4.0, 4.0]]
    """
    a, b = np.asarray(points, dtype=np.float64), np.asarray(onto, dtype=np.float64)
    if len(a) < 4 or len(a) != len(b):
        raise ValueError(f"has {len(a)} points; must have at least 4")
    (p, to_p), (q, to_q) = _levelled(a), _levelled(b)
    rows = np.zeros((2 * len(p), 9))
    rows[0::2, 0:2], rows[0::2, 2] = p, 1
    rows[1::2, 3:5], rows[1::2, 5] = p, 1
    rows[0::2, 6:8], rows[0::2, 8] = -q[:, :1] * p, -q[:, 0]
    rows[1::2, 6:8], rows[1::2, 8] = -q[:, 1:] * p, -q[:, 1]
    _, strength, vectors = np.linalg.svd(rows, full_matrices=True)
    if strength[7] < 1e-9 * strength[0]:
        raise ValueError("has points that lie so that no one map is singled out")
    matrix = np.linalg.inv(to_q) @ vectors[8].reshape(3, 3) @ to_p
    # of one sign and size whatever the solver returned, so that equal points give equal bytes
    depth = (a @ matrix[2, :2] + matrix[2, 2]).mean()
    return PlaneMap(matrix / (math.copysign(np.abs(matrix).max(), depth)))


def _levelled(points: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return points about their middle at a mean distance of the square root of 2, and the matrix that did it."""
    middle = points.mean(axis=0)
    spread = float(np.hypot(*(points - middle).T).mean())
    if spread == 0:
        raise ValueError("has points that all lie at one place")
    s = math.sqrt(2) / spread
    matrix = np.array([[s, 0.0, -s * middle[0]], [0.0, s, -s * middle[1]], [0.0, 0.0, 1.0]])
    return (points - middle) * s, matrix
