"""Many small outlines at once, each asked about its own points."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from ..model import FloatArray

__all__ = ["within_own"]


def within_own(outlines: Sequence[FloatArray], points: Sequence[FloatArray]) -> list[NDArray[np.bool_]]:
    """Return for each outline which of its own points lie inside it or on its edge.

    Parameters
    ----------
    outlines : sequence of (k, 2)
        Closed, first point not repeated; an outline of no area holds nothing.
    points : sequence of (m, 2)
        As many as outlines.
    """
    cells = shapely.polygons([shapely.linearrings(np.vstack([o, o[:1]])) for o in outlines])
    counts = [len(p) for p in points]
    every = np.vstack(points) if counts else np.zeros((0, 2))
    inside = shapely.intersects_xy(np.repeat(cells, counts), every[:, 0], every[:, 1])
    return np.split(np.asarray(inside, dtype=bool), np.cumsum(counts)[:-1])
