"""A meander that is to start beside a motif: the hole is opened to the edge by a cut that wanders as the line does."""

from __future__ import annotations

import numpy as np
from shapely import Polygon

from ...geometry import dilate, line_of, nearest_on_ring, outside_mm, resample, rings, subtract
from ...model import FloatArray

__all__ = ["opened_at"]

WAVE, SWING = 5.0, 0.6
"""Length and height of the cut's waves, in spacings: about those of the line itself."""

ENDS = 96
"""Places on the edge that the cut is tried to."""

BESIDE = 0.05
"""Steps, as parts of a spacing, by which the cut goes past both its ends."""


def opened_at(piece: Polygon, enter: tuple[float, float] | None, spacing_mm: float, *, width_mm: float) -> Polygon:
    """Return a region whose hole beside a wished start is open to the outer edge, else the region itself.

    The line can enter only from the outer edge; a cut makes the hole's edge part of that. Nothing is cut when the
    start lies nearer to the outer edge than to any hole, or when no straight way leads from it to that. The cut only
    tells the line how to go round: relaxing it pays no heed to the cut, so that no scar shows.
    """
    if enter is None or not piece.interiors:
        return piece
    at = np.asarray(enter)
    feet = np.array([nearest_on_ring(ring, at) for ring in rings(piece)])
    nearest = int(np.argmin(np.hypot(*(feet - at).T)))
    if nearest == 0:
        return piece
    start = feet[nearest]
    edge = rings(piece)[0]
    places = resample(edge, float(piece.exterior.length) / ENDS, closed=True)
    for stop in places[np.argsort(np.hypot(*(places - start).T), kind="stable")]:
        if outside_mm([np.array([start, stop])], piece) == 0:
            cut = dilate(line_of(_wavy(start, stop, spacing_mm)), width_mm / 2)
            return subtract(piece, cut)[0]
    return piece


def _wavy(start: FloatArray, stop: FloatArray, spacing: float) -> FloatArray:
    length = float(np.hypot(*(stop - start)))
    way = (stop - start) / length
    t = np.linspace(0, 1, max(int(length / spacing * 6), 8))
    swing = SWING * spacing * np.minimum(1.0, 4 * np.minimum(t, 1 - t))
    waves = max(round(length / (WAVE * spacing)), 1)
    aside = (swing * np.sin(2 * np.pi * waves * t))[:, None] * np.array([-way[1], way[0]])
    past = BESIDE * spacing * way
    return np.vstack([start - past, start + (stop - start) * t[:, None] + aside, stop + past])
