"""Meander (stipple): one line that wanders everywhere and never crosses itself.

A random tree grows through the zone; the line runs round it and is then relaxed until its strands lie evenly. See
``_meander/points.py``, ``_meander/tree.py`` and ``_meander/relax.py`` for the three steps.
"""

from __future__ import annotations

import numpy as np
from shapely import Polygon

from ..geometry import (
    along,
    arc_lengths,
    bounds,
    dilate,
    edge_samples,
    erode,
    nearest_on_ring,
    outside_mm,
    pieces,
    rings,
)
from ..model import Filled, Finding, FloatArray, Stroke, Zone, as_path
from ._meander.points import tree_points
from ._meander.relax import LONGEST, NODE, Room, relaxed
from ._meander.tree import Walk, walk
from .registry import Fill, too_small
from .settings import FillSettings, Mm, length, number

__all__ = ["FILL", "MeanderSettings"]

GRAIN = 0.77
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
    findings: tuple[Finding, ...] = ()
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
    shift = np.array(bounds(part)[:2])
    room = _room(part, grain, shift)
    best: list[Walk] = []
    for enter, leave in _ends(part, zone, pitch, margin):
        points = tree_points(part, pitch, margin, rng)
        walks = walk(part, points, pitch, margin, enter, leave, rng) if len(points.xy) else []
        if not walks or (best and len(walks) >= len(best)):
            continue
        path = (walks[0].path - shift) / grain
        path[0], path[-1] = ((nearest_on_ring(rings(piece)[0], p) - shift) / grain for p in (enter, leave))
        small = [Walk(path, False), *(Walk((w.path - shift) / grain, True) for w in walks[1:])]
        paths = relaxed(small, room)
        if paths is not None:
            best = [Walk(p * grain + shift, w.closed) for p, w in zip(paths, walks)]
            best[0] = Walk(_trimmed(best[0].path, piece), False)
        if len(best) == 1:
            break
    return [Stroke(as_path(w.path), closed=w.closed) for w in best]


def _trimmed(path: FloatArray, piece: Polygon) -> FloatArray:
    """Return the path without what leaves the region at its very ends: the way in may cut a corner of the edge."""
    for _ in range(2):
        while outside_mm([path[:2]], piece) > 0:
            path = path[1:]
        path = path[::-1]
    return path


def _ends(part: Polygon, zone: Zone, pitch: float, margin: float) -> list[tuple[FloatArray, FloatArray]]:
    """Return where the line may enter and leave, on the outer edge, in the order to be tried.

    As wished; else across from each other where the zone is wide, or side by side.
    """
    ring = rings(part)[0]
    left, top, right, bottom = bounds(part)
    middle = (top + bottom) / 2
    if zone.enter is not None and zone.leave is not None:
        enter, leave = (nearest_on_ring(ring, np.asarray(p)) for p in (zone.enter, zone.leave))
        return [(enter, _apart(ring, enter, leave, MOUTH * pitch))] * TRIES
    if zone.enter is not None:
        enter = nearest_on_ring(ring, np.asarray(zone.enter))
        return [(enter, _opposite(ring, enter))] * TRIES
    if zone.leave is not None:
        leave = nearest_on_ring(ring, np.asarray(zone.leave))
        return [(_opposite(ring, leave), leave)] * TRIES
    wide = [part, *erode(part, 0.5 * pitch - margin, tolerance_mm=0.02 * pitch)[:1]][-1]
    enter, leave = (
        nearest_on_ring(ring, nearest_on_ring(rings(wide)[0], np.array([x, middle]))) for x in (left, right)
    )
    across = (enter, _apart(ring, enter, leave, MOUTH * pitch))
    beside = [(p, _apart(ring, p, p, MOUTH * pitch)) for p in (enter, leave)]
    return [across, *beside, across][:TRIES]


def _opposite(ring: FloatArray, point: FloatArray) -> FloatArray:
    half = arc_lengths(ring, closed=True)[-1] / 2
    return np.asarray(along(ring, [_position(ring, point) + half], closed=True)[0])


def _apart(ring: FloatArray, enter: FloatArray, leave: FloatArray, least: float) -> FloatArray:
    """Return ``leave``, or where it is slid to along the ring when it is too near to ``enter``."""
    around = arc_lengths(ring, closed=True)[-1]
    here, least = _position(ring, enter), min(least, around / 4)
    gap = (_position(ring, leave) - here) % around
    if min(gap, around - gap) >= least:
        return leave
    return np.asarray(along(ring, [here + (least if gap < around / 2 else -least)], closed=True)[0])


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
