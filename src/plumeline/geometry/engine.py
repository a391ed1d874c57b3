"""The engine's array functions with the types that they have for arrays: its own answers depend on what it is given."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeAlias

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray
from scipy.spatial import cKDTree
from shapely import LineString

from ..model import FloatArray
from .curves.polylines import close_ring

__all__ = ["Geometries", "geometries", "line_string", "line_strings", "nearest_of", "point_array", "segments_of"]

Geometries: TypeAlias = NDArray[np.object_]
"""An array of the engine's geometries."""


def geometries(value: object) -> Geometries:
    """Return an answer of the engine as the array that it is."""
    return np.asarray(value, dtype=object)


def line_string(path: ArrayLike, closed: bool = False) -> LineString:
    """Return a path ``(n, 2)`` as a line; a closed one comes back to its first point."""
    return LineString(close_ring(np.asarray(path, dtype=np.float64), closed))


def line_strings(paths: Sequence[FloatArray], closed: Sequence[bool] | NDArray[np.bool_] | bool = False) -> Geometries:
    """Return paths as an array of lines, in their order; ``closed`` for all or for each."""
    flags = np.broadcast_to(np.asarray(closed, dtype=bool), len(paths))
    full = [close_ring(p, bool(c)) for p, c in zip(paths, flags)]
    if not full:
        return np.zeros(0, dtype=object)
    index = np.repeat(np.arange(len(full)), [len(p) for p in full])
    return geometries(shapely.linestrings(np.vstack(full), indices=index))


def segments_of(starts: FloatArray, ends: FloatArray) -> Geometries:
    """Return the straight lines from each start to each end, both ``(n, 2)``."""
    return geometries(shapely.linestrings(np.stack([starts, ends], axis=1)))


def point_array(points: ArrayLike) -> Geometries:
    """Return points ``(n, 2)`` as an array of the engine's points."""
    return geometries(shapely.points(np.asarray(points, dtype=np.float64)))


def nearest_of(tree: cKDTree, points: ArrayLike) -> tuple[FloatArray, NDArray[np.intp]]:
    """Return the distance to the nearest point of a tree, and its number, for each of the points ``(n, 2)``.

    Parameters
    ----------
    tree : cKDTree
        Of points.
    points : (n, 2) array_like
        Places, mm.

    Returns
    -------
    ``(n,)`` array, ``(n,)`` array of int
        Distances and numbers.
    """
    far, which = tree.query(np.asarray(points, dtype=np.float64))
    return np.asarray(far, dtype=np.float64), np.asarray(which, dtype=np.intp)
