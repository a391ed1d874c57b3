"""Points near each other."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from ...model import FloatArray

__all__ = ["near_points"]


def near_points(points: FloatArray, within_mm: float) -> NDArray[np.int64]:
    """Return all pairs of points at most a distance apart, ``(k, 2)``, the lower index first.

    Parameters
    ----------
    points : (n, 2) array
        Places, mm.
    within_mm : float
        How near counts.

    Returns
    -------
    ``(k, 2)`` array of int
        ``(0, 2)`` where none are so near.
    """
    if len(points) < 2:
        return np.zeros((0, 2), dtype=np.int64)
    pairs = cKDTree(points).query_pairs(within_mm, output_type="ndarray")
    return np.asarray(pairs, dtype=np.int64)
