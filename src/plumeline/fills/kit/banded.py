"""Echoes in a frame: rings from its outer edge to its hole that keep to both, mitre to mitre."""

from __future__ import annotations

import numpy as np
from shapely import Polygon

from ...geometry import as_region, band_of, boundary_distance, dilate, erode, rings
from .echoes import Curve

__all__ = ["band_levels"]

EVEN = 1.35
"""A band at most so many times as wide at its widest as at its narrowest has even rings; in others they would crowd."""

ROUND = 0.5
"""Radius of rounded corners, in gaps, as of all echoes inwards."""


def band_levels(piece: Polygon, gap_mm: float, *, sharp: bool) -> list[list[Curve]] | None:
    """Return rings at even distances across a frame, each leading into the next; None where it is no even band.

    The first list is the outer edge. Rings from either edge alone would meet in the corners, where the outer ones are
    mitred and those about the hole are round, and leave pockets between.
    """
    band = band_of(piece)
    if band is None:
        return None
    mitred = len(band.corners) > 0
    wide = 2 * boundary_distance(piece, band.row(0.5)) if mitred else np.hypot(*(band.outer - band.inner).T)
    if wide.max() > EVEN * wide.min():
        return None
    parts = max(round(band.width_mm / gap_mm), 1)
    gap = band.width_mm / parts
    edge = Curve(band.row(0.0), 0, 0.0)
    levels = [[edge]]
    for k in range(1, parts):
        row = as_region(band.row(k / parts))
        found = row if sharp else _rounded(row, ROUND * gap)
        curve = Curve(rings(found)[0], k, gap, ring=True, follows=True)
        levels[-1][0].next = curve
        levels.append([curve])
    return levels


def _rounded(region: Polygon, radius: float) -> Polygon:
    """Return a region with its outer corners rounded."""
    inner = max(erode(region, radius), key=lambda part: part.area)
    (out,) = dilate(inner, radius)
    return out
