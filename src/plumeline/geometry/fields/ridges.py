"""Ridges: depths at which long parts of a region vanish all at once when it is eroded."""

from __future__ import annotations

import numpy as np
import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from ..areas.offsets import MITRE_LIMIT

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
    region : shapely.Polygon
        Any region.
    radius_mm : float
        Of the largest inscribed circle: how deep to look. The depths are right to its 768th part.
    least_mm : float
        Shorter ridges are left out.

    Returns
    -------
    list of (float, float)
        mm; empty for a region without arms.
    """
    if region.area > (1.0 - 1e-6) * region.convex_hull.area:
        return []
    cell = radius_mm / CELLS
    levels = _levels(region, cell, CELLS)
    fall = -np.diff(shapely.length(levels))
    beside = np.maximum(np.concatenate([fall[:1], fall[:-1]]), np.concatenate([fall[1:], [0.0]]))
    found = []
    for k in np.flatnonzero((fall > CURVED * np.maximum(beside, 0.0)) & (fall > 2.0 * least_mm)):
        fine = -np.diff(shapely.length(_levels(levels[k], cell / WITHIN, WITHIN)))
        depth = cell * (int(k) + (int(np.argmax(fine)) + 0.5) / WITHIN)
        found.append((depth, float(fall[k] - max(beside[k], 0.0)) / 2.0))
    return found


def _levels(region: BaseGeometry, step: float, count: int) -> list[BaseGeometry]:
    # Each from the one before: the drift of chained insets is far below a cell, and a rough edge is soon gone.
    levels = [region]
    for _ in range(count):
        levels.append(shapely.buffer(levels[-1], -step, join_style="mitre", mitre_limit=MITRE_LIMIT))
    return levels
