"""Rings joined to one line like a spiral: the last stretch of each ring slants into the next, without a scar."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray
from shapely import Polygon

from ...geometry import contains, dedupe, erode, nearest_on, path_length, point_at, ring_stretch, tangents, turns
from ...model import FloatArray
from .echoes import HAIR, Curve, on_edge

__all__ = ["slanted"]

WINDOW = 4.0
"""Length of a slant from ring to ring, in gaps: shorter looks like a step, longer spreads into corners."""

MOST = (0.2, 0.12, 0.08)
"""A slant takes at most this part of a ring; the less where no place does for more: small squares about the middle of
large ones have sides too short for it."""

TRIES = 12
"""Places tried for each such part."""

STEPS = 33
"""Points of a slant."""

SEAMS = 32
"""Places tried for the slants, evenly along the last ring."""

COARSE = 7
"""Points of a slant by which a place is judged."""

OFF = 0.15
"""Rings may be this part of the gap too near or too far from each other along a slant before it counts."""

APART = 0.5
"""Rings too near or too far by more than this part of the gap are not beside each other: no slant leads across."""

JUMP, JUMP_GAPS = 2.0, 1.0
"""Two points of a slant that are a step apart come to places on the next ring at most so many steps, and so many gaps
more, apart: round a corner they do; over the mouth of an arm they are further."""

CORNER_RAD = 0.35
"""Turning along a slant beyond this spoils it: it would cut a corner."""

PRICES = (20.0, 12.0, 400.0)
"""Price in gaps of a slant where rings are unevenly apart, of one round a corner, of an end that misses the edge."""

LEAVES_AT = 0.7
"""A line that is to end on the edge of the zone must be out of the zone this far along its last slant."""

DOUBLED_MM = 1e-4
"""Points of the line nearer than this are one."""


def slanted(chain: Sequence[Curve], piece: Polygon, tail_mm: float, near: FloatArray | None) -> Iterator[FloatArray]:
    """Yield lines through a chain of curves, best place of the slants first.

    Parameters
    ----------
    chain : sequence of Curve
        Each leads into the next. The first may be the shape's own edge: the line then starts on it. The last may
        leave the zone: the line then ends where it meets the zone's edge, or on the arc that is in the zone.
    tail_mm : float
        How far the last ring leans out at its end, so that the line does not run into itself.
    near : point or None
        Where the line is wanted to start.
    """
    curves = [np.asarray(c.path) for c in chain]
    gaps = [c.gap_mm for c in chain]
    last = path_length(curves[-1], closed=True)
    seams = last * np.arange(SEAMS) / SEAMS
    clear = None if chain[-1].ring else erode(piece, HAIR * gaps[-1])
    for most in MOST:
        cost = _costs(curves, gaps, seams, most, clear, near)
        order = np.argsort(np.round(cost, 6), kind="stable")
        for i in order[np.isfinite(cost[order])][:TRIES]:
            path = _line(chain, curves, gaps, float(seams[i]), most, tail_mm)
            path = _from_edge(path, piece)
            yield path if clear is None else _to_edge(path, piece, clear)


def _window(curve: FloatArray, gap: float, seam: FloatArray, most: float, steps: int) -> FloatArray:
    """Return the points of the windows that end at distances along a curve, ``(n, steps, 2)``."""
    size = min(WINDOW * gap, most * path_length(curve, closed=True))
    at = seam[:, None] - size * np.linspace(1, 0, steps)[None, :]
    return point_at(curve, at.ravel(), closed=True).reshape(len(seam), steps, 2)


def _costs(
    curves: list[FloatArray],
    gaps: list[float],
    seams: FloatArray,
    most: float,
    clear: list[Polygon] | None,
    near: FloatArray | None,
) -> FloatArray:
    uneven, corner, misses = PRICES
    cost = np.zeros(len(seams))
    if clear is not None:
        out = _window(curves[-1], gaps[-1], seams, most, COARSE)[:, round(LEAVES_AT * (COARSE - 1))]
        cost += misses * gaps[-1] * np.any([contains(region, out) for region in clear], axis=0)
    for k in range(len(curves) - 1, 0, -1):
        window = _window(curves[k], gaps[k], seams, most, COARSE)
        place = nearest_on(curves[k - 1], window.reshape(-1, 2))
        feet = point_at(curves[k - 1], place, closed=True).reshape(window.shape)
        off = np.abs(np.hypot(*np.moveaxis(window - feet, -1, 0)) / gaps[k] - 1).max(axis=1)
        cost += np.where(off > APART, np.inf, uneven * gaps[k] * np.maximum(off - OFF, 0))
        cost[_skips(place.reshape(len(seams), COARSE), window, path_length(curves[k - 1], closed=True), gaps[k])] = (
            np.inf
        )
        turned = np.array([max(np.abs(turns(a)).sum(), np.abs(turns(b)).sum()) for a, b in zip(window, feet)])
        cost += corner * gaps[k] * np.maximum(turned - CORNER_RAD, 0)
        seams = place.reshape(len(seams), COARSE)[:, -1]
    if near is not None:
        cost += np.hypot(*(point_at(curves[0], seams, closed=True) - near).T)
    return cost


def _skips(place: FloatArray, window: FloatArray, total: float, gap: float) -> NDArray[np.bool_]:
    """Return for which slants the places they come to on the next ring jump: over an arm's mouth or back.

    What lies between would be skipped, or gone along twice.
    """
    onward = (np.diff(place, axis=1) + total / 2) % total - total / 2
    steps = np.hypot(*np.moveaxis(np.diff(window, axis=1), -1, 0))
    return np.asarray((np.abs(onward) > JUMP * steps + JUMP_GAPS * gap).any(axis=1))


def _line(
    chain: Sequence[Curve], curves: list[FloatArray], gaps: list[float], seam: float, most: float, tail_mm: float
) -> FloatArray:
    # from the last curve to the first: where each ring is left and where the next one is met
    ease = np.linspace(0, 1, STEPS)
    ease = (ease * ease * (3 - 2 * ease))[:, None]
    parts: list[FloatArray] = []
    if chain[-1].ring:
        total = path_length(curves[-1], closed=True)
        window = _window(curves[-1], gaps[-1], np.array([seam]), most, STEPS)[0]
        way = tangents(window)
        out = np.column_stack([-way[:, 1], way[:, 0]])  # what is open lies to the right, y down
        parts = [window + out * ease * tail_mm]
        left = seam - min(WINDOW * gaps[-1], most * total)
        parts.insert(0, ring_stretch(curves[-1], seam - total, left))
    for k in range(len(curves) - 1, 0, -1):
        window = _window(curves[k], gaps[k], np.array([seam]), most, STEPS)[0]
        place = nearest_on(curves[k - 1], window)
        feet = point_at(curves[k - 1], place, closed=True)
        parts.insert(0, feet * (1 - ease) + window * ease)
        if chain[k - 1].level:
            total = path_length(curves[k - 1], closed=True)
            span = float(place[-1] - place[0]) % total
            parts.insert(0, ring_stretch(curves[k - 1], float(place[-1]) - total, float(place[-1]) - span))
        seam = float(place[-1])
    return np.asarray(dedupe(np.vstack(parts), nearer_than_mm=DOUBLED_MM))


def _from_edge(path: FloatArray, piece: Polygon) -> FloatArray:
    """Return the path from where it is in the piece: a clearance round the motif cuts its very start."""
    return path[int(np.argmax(contains(piece, path))) :]


def _to_edge(path: FloatArray, piece: Polygon, clear: list[Polygon]) -> FloatArray:
    """Return the path up to where it comes to the edge of the piece, and into it; all of it when it never does."""
    inside = np.any([contains(region, path) for region in clear], axis=0)
    last = STEPS - 1
    near = np.flatnonzero(~inside[-last:])
    if not len(near):
        return path
    path = path[: len(path) - last + int(near[0])]
    return np.vstack([path, on_edge(path[-1], piece)])
