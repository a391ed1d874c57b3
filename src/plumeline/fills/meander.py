"""Meander (stipple): one line that wanders everywhere and never crosses itself."""

from __future__ import annotations

import numpy as np
from shapely import Polygon

from ..geometry import bounds, dilate, edge_samples, erode, path_length, pieces, rings, subtract
from ..model import Filled, Finding, FloatArray, Stroke, Zone, as_path
from ._meander.points import tree_points
from ._meander.relax import LONGEST, NODE, Room, relaxed
from ._meander.tree import Walk, walk
from .registry import Fill, too_small
from .settings import FillSettings, Mm, length, number

__all__ = ["FILL", "MeanderSettings"]

GRAIN = 0.70
"""The method's own scale in line spacings; calibrated so that the mean distance of strands is the spacing."""

MARGIN = 0.1
"""How far the line keeps from the edge, in grains, but at its start and end."""

GHOST = 0.5
"""How far outside the edge the strand lies that the edge acts as, in grains."""


class MeanderSettings(FillSettings):
    """Settings of the meander."""

    spacing_mm: Mm = length(12.7, least=0.5, says="mean distance from strand to strand")
    wander: float = number(2.0, least=1.5, most=2.6, says="how far the line strolls: small is busy, large is lazy")


def draw(zone: Zone, settings: MeanderSettings, *, rng: np.random.Generator, tolerance_mm: float = 0.05) -> Filled:
    """Draw the meander in a zone."""
    grain = GRAIN * settings.spacing_mm
    strokes: list[Stroke] = []
    for piece in pieces(zone):
        for part in erode(piece, MARGIN * grain, tolerance_mm=0.2 * tolerance_mm):
            strokes.extend(_part(part, piece, zone, settings, rng))
    if not strokes:
        return too_small(zone, "meander", "no room for a line that turns", "Choose a closer spacing.")
    return Filled(tuple(strokes))


def _part(part: Polygon, piece: Polygon, zone: Zone, settings: MeanderSettings, rng: np.random.Generator) -> list[Stroke]:
    grain = GRAIN * settings.spacing_mm
    pitch = settings.wander * grain
    margin = MARGIN * grain
    points = tree_points(part, pitch, margin, rng)
    if not len(points.xy):
        return []
    left, top, right, bottom = bounds(part)
    shell = rings(part)[0]
    enter = _nearest(shell, np.array([left, (top + bottom) / 2]))
    leave = _nearest(shell, np.array([right, (top + bottom) / 2]))
    walks = walk(part, points, pitch, margin, enter, leave, rng)
    if not walks:
        return []
    shift = np.array([left, top])
    small = [Walk((w.path - shift) / grain, w.closed) for w in walks]
    paths = relaxed(small, _room(part, grain, shift))
    return [Stroke(as_path(p * grain + shift), closed=w.closed) for p, w in zip(paths, walks)]


def _room(part: Polygon, grain: float, shift: FloatArray) -> Room:
    outline = rings(part)
    edge = edge_samples(outline, [np.zeros(len(r), dtype=np.int64) for r in outline], LONGEST * grain / 1.25)
    ghosts = [np.zeros((0, 2))]
    for grown in dilate(part, (GHOST + MARGIN) * grain, tolerance_mm=0.05 * grain):
        ghost = rings(grown)
        ghosts.append(edge_samples(ghost, [np.zeros(len(r), dtype=np.int64) for r in ghost], NODE * grain).points)
    onward = np.empty(len(edge.points), dtype=np.int64)
    onward[edge.segments[:, 0]] = edge.segments[:, 1]
    return Room((edge.points - shift) / grain, onward, (np.vstack(ghosts) - shift) / grain)


def _nearest(ring: FloatArray, point: FloatArray) -> FloatArray:
    after = np.roll(ring, -1, axis=0)
    step = after - ring
    t = np.clip(((point - ring) * step).sum(axis=1) / np.maximum((step * step).sum(axis=1), 1e-300), 0, 1)
    foot: FloatArray = ring + t[:, None] * step
    return np.asarray(foot[np.argmin(np.hypot(*(foot - point).T))])


FILL = Fill(
    name="meander",
    settings=MeanderSettings,
    draw=draw,
    stage="background",
    says="one line that wanders everywhere and never crosses itself (stipple)",
)
