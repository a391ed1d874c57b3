"""Ridges: depths at which long parts of a region vanish all at once when it is eroded."""

from __future__ import annotations

import numpy as np
import shapely
from shapely import Polygon

from .regions import MITRE_LIMIT

__all__ = ["ridges"]

CELLS = 48
"""Depths at which the perimeter is looked at between the edge and the middle."""

WITHIN = 16
"""Each cell that holds a ridge is looked at again with so many."""

CURVED = 2.0
"""A ridge makes the perimeter fall by this many times what it falls in the cells beside."""


def ridges(region: Polygon, radius_mm: float, *, least_mm: float) -> list[tuple[float, float]]:
    """Return ``(depth, length)`` of the ridges of a region that are at least ``least_mm`` long, outermost first.

    An arm of even width vanishes at half its width, and the perimeter of the eroded region falls by twice the
    arm's length there, where otherwise it falls steadily. A convex region has no ridge before its own middle.

    Parameters
    ----------
    radius_mm : float
        Of the largest inscribed circle: how deep to look. The depths are right to its 768th part.
    """
    if region.area > (1.0 - 1e-6) * region.convex_hull.area:
        return []
    depths = np.linspace(0.0, radius_mm, CELLS + 1)
    fall = -np.diff(_perimeters(region, depths))
    beside = np.maximum(np.concatenate([fall[:1], fall[:-1]]), np.concatenate([fall[1:], [0.0]]))
    found = []
    for k in np.flatnonzero((fall > CURVED * np.maximum(beside, 0.0)) & (fall > 2.0 * least_mm)):
        fine = np.linspace(depths[k], depths[k + 1], WITHIN + 1)
        steepest = int(np.argmax(-np.diff(_perimeters(region, fine))))
        found.append((float(fine[steepest : steepest + 2].mean()), float(fall[k] - max(beside[k], 0.0)) / 2.0))
    return found


def _perimeters(region: Polygon, depths: np.ndarray) -> np.ndarray:
    eroded = shapely.buffer(region, -depths, join_style="mitre", mitre_limit=MITRE_LIMIT)
    return np.asarray(shapely.length(eroded))
