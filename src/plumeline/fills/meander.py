"""Meander (stipple): one line that wanders everywhere and never crosses itself.

A random tree grows through the zone; the line runs round it and is then relaxed until its strands lie evenly. See
``_meander/points.py``, ``_meander/tree.py`` and ``_meander/relax.py`` for the three steps.
"""

from __future__ import annotations

import numpy as np
from shapely import Polygon

from ..geometry import along, arc_lengths, bounds, dilate, edge_samples, erode, nearest_on_ring, pieces, rings
from ..model import Filled, Finding, FloatArray, Stroke, Zone, as_path
from ._meander.points import tree_points
from ._meander.relax import LONGEST, NODE, Room, relaxed
from ._meander.tree import Walk, walk
from .registry import Fill, too_small
from .settings import FillSettings, Mm, length, number

__all__ = ["FILL", "MeanderSettings"]

GRAIN = 0.81
"""The method's own scale in line spacings; calibrated so that the mean distance of strands is the spacing."""

MARGIN = 0.1
"""How far the line keeps from the edge, in grains, but at its start and end."""

GHOST = 0.5
"""How far outside the edge the strand lies that the edge acts as, in grains: the line lies half a space inside."""

MOUTH = 0.6
"""Least distance of start and end along the edge, in pitches: the tree needs a root between them."""

TRIES = 4
"""Drawings tried before giving up: one in some thousand crowded zones yields a walk that can't be relaxed."""


class MeanderSettings(FillSettings):
    """Settings of the meander."""

    spacing_mm: Mm = length(12.7, least=0.5, says="mean distance from strand to strand")
    wander: float = number(2.0, least=1.5, most=2.6, says="how far the line strolls: small is busy, large is lazy")


def draw(zone: Zone, settings: MeanderSettings, *, rng: np.random.Generator, tolerance_mm: float = 0.05) -> Filled:
    """Draw the meander in a zone.

    Returns
    -------
    Filled
        One open stroke from edge to edge for each piece of the zone, from ``zone.enter`` to ``zone.leave`` where
        they are given; a closed one more for each place behind a neck too narrow to pass. None, and a finding,
        when the line can't turn anywhere.

    Notes
    -----
    O(n log n) in the length of the line. No stroke crosses itself or another, and none leaves the region.
    """
    margin = MARGIN * GRAIN * settings.spacing_mm
    strokes: list[Stroke] = []
    for piece in pieces(zone):
        for part in erode(piece, margin, tolerance_mm=0.2 * tolerance_mm):
            strokes.extend(_part(part, piece, zone, settings, rng))
    if not strokes:
        return too_small(zone, "meander", "there is no room for the line to turn", "Choose a closer spacing.")
    findings = ()
    if len(strokes) > len(pieces(zone)):
        findings = (
            Finding(
                "meander-in-parts",
                "note",
                zone.label,
                f"meander: {len(strokes)} lines, because necks are too narrow for one to pass both ways",
                "Choose a closer spacing, or let the joining travel along the seams.",
            ),
        )
    return Filled(tuple(strokes), findings=findings)


def _part(
    part: Polygon, piece: Polygon, zone: Zone, settings: MeanderSettings, rng: np.random.Generator
) -> list[Stroke]:
    grain = GRAIN * settings.spacing_mm
    pitch, margin = settings.wander * grain, MARGIN * grain
    enter, leave = _ends(part, zone, MOUTH * pitch)
    shift = np.array(bounds(part)[:2])
    room = _room(part, grain, shift)
    for _ in range(TRIES):
        points = tree_points(part, pitch, margin, rng)
        walks = walk(part, points, pitch, margin, enter, leave, rng) if len(points.xy) else []
        if not walks:
            continue
        path = walks[0].path.copy()
        path[0], path[-1] = (nearest_on_ring(rings(piece)[0], p) for p in (enter, leave))
        walks[0] = Walk(path, False)
        paths = relaxed([Walk((w.path - shift) / grain, w.closed) for w in walks], room)
        if paths is not None:
            return [Stroke(as_path(p * grain + shift), closed=w.closed) for p, w in zip(paths, walks)]
    return []


def _ends(part: Polygon, zone: Zone, apart: float) -> tuple[FloatArray, FloatArray]:
    """Return where the line enters and leaves: as wished, else across from each other, on the outer edge."""
    ring = rings(part)[0]
    left, top, right, bottom = bounds(part)
    around = arc_lengths(ring, closed=True)
    apart = min(apart, around[-1] / 4)
    if zone.enter is None and zone.leave is None:
        enter, leave = (nearest_on_ring(ring, np.array([x, (top + bottom) / 2])) for x in (left, right))
    else:
        wish = zone.enter if zone.enter is not None else zone.leave
        enter = nearest_on_ring(ring, np.asarray(wish))
        if zone.enter is not None and zone.leave is not None:
            leave = nearest_on_ring(ring, np.asarray(zone.leave))
        else:
            leave = along(ring, [_position(ring, enter) + around[-1] / 2], closed=True)[0]
            if zone.enter is None:
                enter, leave = leave, enter
    here, there = _position(ring, enter), _position(ring, leave)
    gap = (there - here) % around[-1]
    if min(gap, around[-1] - gap) < apart:
        leave = along(ring, [here + (apart if gap < around[-1] / 2 else -apart)], closed=True)[0]
    return enter, leave


def _position(ring: FloatArray, point: FloatArray) -> float:
    """Return how far along a ring a point on it lies."""
    step = np.roll(ring, -1, axis=0) - ring
    t = np.clip(((point - ring) * step).sum(axis=1) / np.maximum((step * step).sum(axis=1), 1e-300), 0, 1)
    at = int(np.argmin(np.hypot(*(ring + t[:, None] * step - point).T)))
    return float(arc_lengths(ring, closed=True)[at] + t[at] * np.hypot(*step[at]))


def _room(part: Polygon, grain: float, shift: FloatArray) -> Room:
    """Return the edge that holds the line and the ghosts that push it from outside, in grains."""
    outline = rings(part)
    unmarked = [np.zeros(len(r), dtype=np.int64) for r in outline]
    edge = edge_samples(outline, unmarked, LONGEST * grain / 1.25)
    onward = np.empty(len(edge.points), dtype=np.int64)
    onward[edge.segments[:, 0]] = edge.segments[:, 1]
    ghosts = [np.zeros((0, 2))]
    for grown in dilate(part, (GHOST + MARGIN) * grain, tolerance_mm=0.05 * grain):
        outside = rings(grown)
        unmarked = [np.zeros(len(r), dtype=np.int64) for r in outside]
        ghosts.append(edge_samples(outside, unmarked, NODE * grain).points)
    return Room((edge.points - shift) / grain, onward, (np.vstack(ghosts) - shift) / grain)


FILL = Fill(
    name="meander",
    settings=MeanderSettings,
    draw=draw,
    stage="background",
    says="one line that wanders everywhere and never crosses itself (stipple)",
)
