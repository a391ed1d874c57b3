"""The meander's lines in a zone: piece by piece, from edge to edge, several drawings tried."""

from __future__ import annotations

import numpy as np
from shapely import Polygon

from ...geometry import (
    arc_lengths,
    bounds,
    dilate,
    edge_samples,
    erode,
    nearest_on_ring,
    outside_mm,
    pieces,
    point_at,
    project_on_ring,
    rings,
)
from ...model import FloatArray, Path, Zone
from .opening import opened_at
from .points import tree_points
from .relax import LONGEST, NODE, Room, relaxed
from .tree import Walk, walk

__all__ = ["GRAIN", "MARGIN", "meander_lines"]

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


def meander_lines(
    zone: Zone, spacing_mm: float, wander: float, *, rng: np.random.Generator, tolerance_mm: float
) -> list[Walk]:
    """Return the lines of a meander in a zone, those of each piece between its fences together.

    Open ones run from edge to edge; a closed one goes round each place behind a neck too narrow to pass. None
    crosses itself or another or leaves the region.
    """
    grain = GRAIN * spacing_mm
    found: list[Walk] = []
    for piece in pieces(zone):
        for part in erode(piece, MARGIN * grain, tolerance_mm=0.2 * tolerance_mm):
            found.extend(_part(part, piece, zone, grain, wander, rng))
    return found


def _part(
    part: Polygon, piece: Polygon, zone: Zone, grain: float, wander: float, rng: np.random.Generator
) -> list[Walk]:
    pitch, margin = wander * grain, MARGIN * grain
    shift = np.array(bounds(part)[:2])
    room = _room(part, grain, shift)
    whole, part = part, opened_at(part, zone.enter, grain / GRAIN, width_mm=2 * margin)
    edges = rings(piece)[: None if part is not whole else 1]
    best: list[Walk] = []
    for enter, leave in _ends(part, zone, pitch, margin):
        points = tree_points(part, pitch, margin, rng)
        walks = walk(part, points, pitch, margin, enter, leave, rng) if len(points.xy) else []
        if not walks or (best and len(walks) >= len(best)):
            continue
        path = (walks[0].path - shift) / grain
        path[0], path[-1] = ((_nearest(edges, p) - shift) / grain for p in (enter, leave))
        small = [Walk(path, False), *(Walk((w.path - shift) / grain, True) for w in walks[1:])]
        paths = relaxed(small, room)
        if paths is not None:
            best = [Walk(p * grain + shift, w.closed) for p, w in zip(paths, walks)]
            best[0] = Walk(_trimmed(best[0].path, piece), False)
        if len(best) == 1:
            break
    return best


def _nearest(edges: list[Path], point: FloatArray) -> FloatArray:
    feet = [nearest_on_ring(edge, point) for edge in edges]
    return min(feet, key=lambda foot: float(np.hypot(*(foot - point))))


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
    return np.asarray(point_at(ring, [project_on_ring(ring, point) + half], closed=True)[0])


def _apart(ring: FloatArray, enter: FloatArray, leave: FloatArray, least: float) -> FloatArray:
    """Return ``leave``, or where it is slid to along the ring when it is too near to ``enter``."""
    around = arc_lengths(ring, closed=True)[-1]
    here, least = project_on_ring(ring, enter), min(least, around / 4)
    gap = (project_on_ring(ring, leave) - here) % around
    if min(gap, around - gap) >= least:
        return leave
    return np.asarray(point_at(ring, [here + (least if gap < around / 2 else -least)], closed=True)[0])


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
