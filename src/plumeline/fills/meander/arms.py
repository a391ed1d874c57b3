"""Waves in the arms that a meander did not get into: the thin strokes of a letter, a spit of a coast."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from shapely import Polygon

from ...geometry import (
    close_ring,
    crossings,
    dilate,
    erode,
    intersect,
    is_simple,
    line_of,
    long_axis,
    nearest_on_ring,
    outside_mm,
    path_length,
    rings,
    subtract,
)
from ...model import FloatArray, Stroke, as_path
from .narrow import calm_wave

__all__ = ["waves_in_arms"]

BESIDE, OPEN, SLIM = 0.9, 0.28, 1.0
"""How far a wave keeps from what is drawn, and half the width of the narrowest and widest arm that takes one, in
spacings."""

LONG, ROUNDS = 2.4, 2
"""The shortest arm in spacings; and how often arms are looked for: a stroke's wave leaves those of its serif."""


def waves_in_arms(strokes: Sequence[Stroke], piece: Polygon, spacing_mm: float) -> list[Stroke]:
    """Return one wave for each arm of a piece that some strokes leave bare, both its ends on the edge of the piece."""
    roomy = [
        whole for core in erode(piece, SLIM * spacing_mm) for whole in dilate(core, SLIM * spacing_mm, join="mitre")
    ]
    slim = subtract(piece, roomy, sliver_mm2=LONG * OPEN * spacing_mm**2)
    drawn = list(strokes)
    for _ in range(ROUNDS if slim else 0):
        arms = _arms(drawn, slim, spacing_mm)
        found = [stroke for arm in arms for stroke in _wave(arm, drawn, piece, spacing_mm)]
        if not found:
            break
        drawn += found
    return drawn[len(strokes) :]


def _arms(strokes: Sequence[Stroke], slim: Sequence[Polygon], spacing: float) -> list[Polygon]:
    """Return the strips of some slim parts that lie off all strokes, long enough for a wave."""
    fine = 0.1 * spacing
    lines = [line_of(close_ring(s.path, s.closed)) for s in strokes]
    near = [part for line in lines for part in dilate(line, BESIDE * spacing, tolerance_mm=fine)]
    arms = []
    for left in (p for part in slim for p in subtract(part, near, sliver_mm2=LONG * OPEN * spacing**2)):
        for core in erode(left, OPEN * spacing, tolerance_mm=fine):
            (whole,) = dilate(core, OPEN * spacing, tolerance_mm=fine)
            arms += [arm for arm in intersect(whole, left) if path_length(long_axis(arm)) > LONG * spacing]
    return arms


def _wave(arm: Polygon, strokes: Sequence[Stroke], piece: Polygon, spacing: float) -> list[Stroke]:
    wave = calm_wave(arm, spacing, whole=False)
    if wave is None or wave.closed:
        return []
    path = np.vstack([_on_edge(piece, wave.path[0]), wave.path, _on_edge(piece, wave.path[-1])])
    clear = is_simple(path) and outside_mm([path], piece) == 0
    if not clear or len(crossings([s.path for s in strokes], [path])):
        return []
    return [Stroke(as_path(path))]


def _on_edge(piece: Polygon, at: FloatArray) -> FloatArray:
    """Return the point of a piece's edge nearest to another, or nothing where that lies on it."""
    nearest = min((nearest_on_ring(ring, at) for ring in rings(piece)), key=lambda p: float(np.hypot(*(p - at))))
    return nearest[None] if np.hypot(*(nearest - at)) > 1e-3 else nearest[None][:0]
