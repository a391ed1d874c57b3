"""The meander's lines in a zone: piece by piece, from edge to edge, several drawings tried."""

from __future__ import annotations

import numpy as np
from shapely import Polygon

from ...geometry import (
    arc_lengths,
    as_region,
    bounds,
    contains,
    dilate,
    edge_samples,
    erode,
    followable,
    nearest_on_ring,
    outside_mm,
    path_length,
    pieces,
    point_at,
    project_on_ring,
    resample,
    rings,
)
from ...model import FloatArray, Path, Zone
from .calm import LEAST_RADIUS
from .narrow import calm_wave, is_narrow
from .opening import opened_at
from .points import tree_points
from .relax import LONGEST, NODE, Room, relaxed
from .tree import Walk, walk

__all__ = ["GRAIN", "MARGIN", "meander_lines"]

GRAIN = 0.76
"""The method's own scale in line spacings; calibrated so that the mean distance of strands is the spacing."""

MARGIN = 0.1
"""How far the line keeps from the edge, in grains, but at its start and end."""

GHOST = 0.5
"""How far outside the edge the strand lies that the edge acts as, in grains: the line lies half a space inside."""

MOUTH = 0.6
"""Least distance of start and end along the edge, in pitches: the tree needs a root between them."""

WISHED_TRIES = 4
"""Drawings tried between the ends that are wished for, before the end may slide further along the edge."""

WAY_IN = 4.0
"""How far along the line its way in is looked at, in grains: further in, relaxing holds it inside."""

LONG, SAMPLES = 2.0, 200
"""How much longer than wide a region is that is gone through from end to end; points at which that is looked at."""

FOLLOWED = 0.05
"""How far the edge that the line keeps from is straightened, in grains: half its margin, so that it stays inside."""


def meander_lines(
    zone: Zone, spacing_mm: float, wander: float, *, rng: np.random.Generator, tolerance_mm: float, calm: bool = True
) -> list[Walk]:
    """Return the lines of a meander in a zone, those of each piece between its fences together.

    Open ones run from edge to edge; a closed one goes round each place behind a neck too narrow to pass, or round a
    narrow border. None crosses itself or another or leaves the region. ``calm``: one wave where a strip or a border is
    too narrow to meander in.
    """
    grain = GRAIN * spacing_mm
    found: list[Walk] = []
    for piece in pieces(zone):
        if calm and is_narrow(piece, spacing_mm):
            wave = calm_wave(piece, spacing_mm)
            if wave is not None:
                found.append(_turned(wave, zone))
                continue
        for part in erode(piece, MARGIN * grain, tolerance_mm=0.2 * tolerance_mm):
            found.extend(_part(followable(part, FOLLOWED * grain), piece, zone, grain, wander, rng))
    return found


def _turned(wave: Walk, zone: Zone) -> Walk:
    """Return a wave that runs as wished: from the end nearer to where the line enters."""
    path = wave.path
    enter, leave = zone.enter, zone.leave
    if not wave.closed and (
        (enter is not None and np.hypot(*(path[-1] - enter)) < np.hypot(*(path[0] - enter)))
        or (enter is None and leave is not None and np.hypot(*(path[0] - leave)) < np.hypot(*(path[-1] - leave)))
    ):
        return Walk(path[::-1], False)
    return wave


def _part(
    part: Polygon, piece: Polygon, zone: Zone, grain: float, wander: float, rng: np.random.Generator
) -> list[Walk]:
    pitch, margin = wander * grain, MARGIN * grain
    shift = np.array(bounds(part)[:2])
    room = _room(part, piece, grain, shift)
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
            drawn = [Walk(p * grain + shift, w.closed) for p, w in zip(paths, walks)]
            drawn[0] = Walk(_trimmed(drawn[0].path, piece, grain), False)
            kept = [w for w in drawn if len(w.path) > 2 and outside_mm([w.path], piece, closed=w.closed) == 0]
            best = kept if len(kept) == len(drawn) or not best else best
        if len(best) == 1:
            break
    return best


def _nearest(edges: list[Path], point: FloatArray) -> FloatArray:
    feet = [nearest_on_ring(edge, point) for edge in edges]
    return min(feet, key=lambda foot: float(np.hypot(*(foot - point))))


def _trimmed(path: FloatArray, piece: Polygon, grain: float) -> FloatArray:
    """Return the path without what leaves the region near its ends: the way in may cut a corner of the edge.

    What lies between the edge and the last such place within the first few bends goes too.
    """
    for _ in range(2):
        near = path[: max(int(np.searchsorted(arc_lengths(path), WAY_IN * grain)), 2)]
        inside = contains(piece, near)
        if not inside[1:].all():
            path = path[1 + int(np.flatnonzero(~inside[1:])[-1]) + 1 :]
        while len(path) > 2 and outside_mm([path[:2]], piece) > 0:
            path = path[1:]
        path = path[::-1]
    return path


def _ends(part: Polygon, zone: Zone, pitch: float, margin: float) -> list[tuple[FloatArray, FloatArray]]:
    """Return where the line may enter and leave, on the outer edge, in the order to be tried.

    As wished; else across from each other where the zone is wide, or side by side.
    """
    ring = rings(part)[0]
    wished: list[tuple[FloatArray, FloatArray]] = []
    if zone.enter is not None and zone.leave is not None:
        enter, leave = (nearest_on_ring(ring, np.asarray(p)) for p in (zone.enter, zone.leave))
        wished = [(enter, _apart(ring, enter, leave, share * pitch)) for share in (*[MOUTH] * WISHED_TRIES, 2 * MOUTH)]
    elif zone.enter is not None:
        enter = nearest_on_ring(ring, np.asarray(zone.enter))
        wished = [(enter, _opposite(ring, enter))] * WISHED_TRIES + [
            (enter, _apart(ring, enter, enter, 2 * MOUTH * pitch))
        ]
    elif zone.leave is not None:
        leave = nearest_on_ring(ring, np.asarray(zone.leave))
        wished = [(_opposite(ring, leave), leave)] * WISHED_TRIES + [
            (_apart(ring, leave, leave, 2 * MOUTH * pitch), leave)
        ]
    wide = rings([part, *erode(part, 0.5 * pitch - margin, tolerance_mm=0.02 * pitch)[:1]][-1])[0]
    enter, leave = (nearest_on_ring(ring, nearest_on_ring(wide, at)) for at in _far_ends(part))
    across = (enter, _apart(ring, enter, leave, MOUTH * pitch))
    beside = [(p, _apart(ring, p, p, MOUTH * pitch)) for p in (enter, leave)]
    half = [nearest_on_ring(ring, p) for p in point_at(wide, path_length(wide, closed=True) * np.array([0.2, 0.7]))]
    return [*wished, across, *beside, (half[0], _apart(ring, half[0], half[1], MOUTH * pitch))]


def _far_ends(part: Polygon) -> FloatArray:
    """Return the two ends of a region, ``(2, 2)``: along its length where it is long, else left and right."""
    left, top, right, bottom = bounds(part)
    points = resample(rings(part)[0], float(part.length) / SAMPLES, closed=True)
    middle = points.mean(axis=0)
    spread, axes = np.linalg.eigh(np.cov((points - middle).T))
    if spread[1] < LONG**2 * spread[0]:
        return np.array([(left, (top + bottom) / 2), (right, (top + bottom) / 2)])
    way = axes[:, 1] * (1 if axes[np.argmax(np.abs(axes[:, 1])), 1] > 0 else -1)
    reach = (points - middle) @ way
    return np.array([middle + reach.min() * way, middle + reach.max() * way])


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


def _room(part: Polygon, piece: Polygon, grain: float, shift: FloatArray) -> Room:
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
    shell, *holes = ((ring - shift) / grain for ring in rings(piece))
    return Room(
        (edge.points - shift) / grain,
        onward,
        (np.vstack(ghosts) - shift) / grain,
        as_region(shell, holes),
        LEAST_RADIUS / GRAIN,
    )
