"""A meander in a strip too narrow to turn in: one calm wave along its middle, or round a border."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from shapely import Polygon

from ...geometry import (
    arc_lengths,
    band_of,
    bare_part,
    boundary_distance,
    chaikin,
    close_ring,
    dedupe,
    inscribed_circle,
    is_simple,
    long_axis,
    outside_mm,
    point_at,
    resample,
    smooth,
    tangents,
)
from ...model import FloatArray
from .calm import LEAST_RADIUS, calmed
from .tree import Walk

__all__ = ["calm_wave", "is_narrow"]

NARROW, NARROW_BORDER = 2.6, 3.4
"""Strips and borders narrower than this many spacings have no room for a line that goes and comes back: it would be
all teeth, and rails on some sides of a border."""

NARROWEST = 0.5
"""Strips narrower than this many spacings stay open: a line there would double their edges."""

LONG = 3.0
"""A strip is at least so many times as long as it is wide; what is less is no strip."""

WAVE, CLOSER = 2.8, 0.5
"""Length of a low wave in spacings, and how much shorter the highest are: their sides then lie a spacing apart."""

FINE = 40
"""Points of a wave."""

ROUND = 0.12
"""How far a wave is rounded where its strip has a corner, in spacings."""

EASED = 0.25
"""Distance of nodes, in spacings, at which a wave is looked over for tight bends."""

BARE = 0.05
"""A wave that leaves more of the space bare than this is none: the space has arms."""

STEEPEST = 1.9
"""Steepest way of a wave against its middle line, in radians: beyond a right one it folds back like a river."""

CALMER = (1.0, 0.5, 0.0)
"""Heights tried, the last a plain line: where a strip bends, the highest may fold."""


def is_narrow(piece: Polygon, spacing_mm: float) -> bool:
    """Return whether a region is a strip or a border with no room for a meander: long, and a few spacings wide."""
    _, radius = inscribed_circle(piece, tolerance_mm=0.01 * spacing_mm)
    width = 2 * radius
    if width >= 1.5 * NARROW_BORDER * spacing_mm or float(piece.area) <= LONG * width**2:
        return False
    band = band_of(piece)
    return width < NARROW * spacing_mm or (band is not None and band.width_mm < NARROW_BORDER * spacing_mm)


def calm_wave(piece: Polygon, spacing_mm: float, *, whole: bool = True) -> Walk | None:
    """Return one wave along a narrow strip, or round a narrow border; None where it can't lie.

    Nor, where the ``whole`` is wanted, if it leaves arms bare.

    It swings to half a spacing from both sides; where the strip is one spacing wide or less, it is a plain line.
    """
    _, radius = inscribed_circle(piece, tolerance_mm=0.01 * spacing_mm)
    if 2 * radius < NARROWEST * spacing_mm:
        return None
    for height in CALMER:
        wave = _round(piece, spacing_mm, height) if piece.interiors else _along(piece, spacing_mm, height)
        if wave is not None and _good(wave, piece, spacing_mm, whole):
            eased = wave if wave.closed else _eased(wave, spacing_mm)  # round a border it reaches into the corners
            return eased if _good(eased, piece, spacing_mm, whole) else wave
    return None


def _eased(wave: Walk, spacing: float) -> Walk:
    """Return an open wave without the bends that are too tight, as where its strip has a corner or narrows."""
    nodes = resample(wave.path, EASED * spacing)
    held = np.zeros(len(nodes), dtype=bool)
    nodes = calmed(nodes, held, closed=False, node=EASED * spacing, least=LEAST_RADIUS * spacing)
    return Walk(chaikin(nodes, 2, closed=False), False)


def _shape(height: float, spacing: float) -> tuple[float, FloatArray, FloatArray]:
    """Return a wave of a height (from its middle): its length, how far along and how far aside its points are.

    Along 0 to 1, aside -1 to 1. The line's way swings like a pendulum along it, as a river's does, so that its bends
    are as wide as they can be.
    """
    length = spacing * (WAVE - CLOSER * min(height / spacing, 1.0))
    share = np.linspace(0, 1, FINE + 1)
    best: tuple[float, FloatArray, FloatArray] | None = None
    for steep in np.linspace(0.05, STEEPEST, 60):
        way = steep * np.cos(2 * np.pi * share)
        x = np.concatenate([[0.0], np.cumsum(np.cos((way[1:] + way[:-1]) / 2))])
        y = np.concatenate([[0.0], np.cumsum(np.sin((way[1:] + way[:-1]) / 2))])
        y -= (y.max() + y.min()) / 2
        off = abs(y.max() / x[-1] - height / length)
        if best is None or off < best[0]:
            best = off, x / x[-1], y / y.max()
    assert best is not None  # the loop ran
    return length, best[1][:-1], best[2][:-1]


def _good(wave: Walk, piece: Polygon, spacing: float, whole: bool) -> bool:
    if not is_simple(wave.path, closed=wave.closed) or outside_mm([wave.path], piece, closed=wave.closed) > 0:
        return False
    if not whole:
        return True
    bare = bare_part([close_ring(wave.path, wave.closed)], piece, 1.5 * spacing)
    return bare is None or bare.area_mm2 < BARE * float(piece.area)


def _along(piece: Polygon, spacing: float, calm: float) -> Walk:
    axis = long_axis(piece)
    total = float(arc_lengths(axis)[-1])
    room = np.maximum(boundary_distance(piece, point_at(axis, total * np.linspace(0, 1, FINE))), 0.0)
    length, along, aside = _shape(calm * max(float(room.max()) - 0.5 * spacing, 0.0), spacing)
    waves = max(round(total / length), 1)
    at = total * np.append((np.arange(waves)[:, None] + along).ravel() / waves, 1.0)
    aside = np.append(np.tile(aside, waves), 0.0)
    at = np.clip(at, 0.0, total)
    middle, way = point_at(axis, at), tangents(axis)
    s = arc_lengths(axis)
    square = np.column_stack([-np.interp(at, s, way[:, 1]), np.interp(at, s, way[:, 0])])
    room = np.maximum(boundary_distance(piece, middle), 0.0)
    swing = calm * np.maximum(room - 0.5 * spacing, 0.0) * aside
    return Walk(dedupe(middle + swing[:, None] * square), False)


def _round(piece: Polygon, spacing: float, calm: float) -> Walk | None:
    band = band_of(piece)
    if band is None:
        return None
    # whole waves on each side, highest outwards at each corner, so that all corners look alike
    middle = close_ring(np.asarray(band.row(0.5)))
    s = arc_lengths(middle)
    stops = [*(s[band.corners] if len(band.corners) else [0.0])]
    stops = [*stops, stops[0] + s[-1]]
    length, along, aside = _shape(calm * max(band.width_mm / 2 - 0.5 * spacing, 0.0), spacing)
    top = int(np.argmax(aside))
    along, aside = np.roll(along - along[top], -top) % 1.0, np.roll(aside, -top)
    at, turn = [], []
    for start, stop in pairwise(stops):
        waves = max(round((stop - start) / length), 1)
        at.append(start + (stop - start) * (np.arange(waves)[:, None] + _unwrapped(along)).ravel() / waves)
        turn.append(np.tile(aside, waves))
    place = np.concatenate(at) % s[-1]
    outer, inner = (_at(close_ring(np.asarray(edge)), s, place) for edge in (band.outer, band.inner))
    width = np.hypot(*(outer - inner).T)
    swing = calm * np.maximum(np.minimum(width, band.width_mm) / 2 - 0.5 * spacing, 0.0) / np.maximum(width, 1e-9)
    path = (outer + inner) / 2 + (swing * np.concatenate(turn))[:, None] * (outer - inner)
    return Walk(np.asarray(smooth(path, ROUND * spacing, closed=True)), True)


def _unwrapped(along: FloatArray) -> FloatArray:
    # a folded wave starts by going back a little: that is less than 0, not nearly 1
    return np.where((along > 0.75) & (np.arange(len(along)) < len(along) // 4), along - 1.0, along)


def _at(edge: FloatArray, s: FloatArray, place: FloatArray) -> FloatArray:
    return np.column_stack([np.interp(place, s, edge[:, 0]), np.interp(place, s, edge[:, 1])])
