"""Whether what grows out of a strand keeps off all others, and off its own but for the stretch that it grows from."""

from __future__ import annotations

from scipy.spatial import cKDTree

from ...geometry import nearest_of
from ...model import BoolArray, FloatArray

__all__ = ["clear_of_others"]


def clear_of_others(points: FloatArray, strands: cKDTree, own: BoolArray, near_mm: float) -> BoolArray:
    """Return for each point whether what lies nearest is at least a distance away, or its own, ``(n,)``.

    Parameters
    ----------
    strands : cKDTree
        Samples of all strands.
    own : BoolArray
        Which of them may be near: the stretch that the points grow from.
    """
    far, nearest = nearest_of(strands, points)
    return (far >= near_mm) | own[nearest]
