"""Border motifs laid along a strip or round a border: whole repeats along each side, a corner piece at each corner."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np
from shapely import Polygon

from ...geometry import (
    Band,
    Patchwork,
    arc_lengths,
    band_of,
    cornered,
    dedupe,
    densify,
    outside_mm,
    path_length,
    point_at,
    rings,
    simplify_path,
)
from ...model import FloatArray, Path
from .limits import nearest_count
from .motifs import Motif, Recipe

__all__ = ["Border", "border_round"]

STRETCH = 0.05
"""Repeats may be this part longer or shorter than drawn; the height gives first."""

GIVE = 0.12
"""How far the height may give, as a part of the width, so that whole repeats go in."""

TRIES = 12
"""Heights tried to either side of the one that is asked for."""

LONGEST = 1.8
"""A four-sided space this many times as long as wide is a strip."""

BEND_PARTS = 100
"""Straight stretches of a motif are divided into parts of its size over this before they are laid."""

PLAIN_MM = 0.01
"""Points laid nearer than this to the chord of their neighbours are left out: a fifth of what a curve may be off."""

INSIDE_MM = 0.02
"""How far rounding may carry a border over the edge."""

Lay = Callable[[float], tuple["_Side", ...]]


@dataclass(frozen=True, slots=True, eq=False)
class Border:
    """A border of repeats: one line, the height it is drawn at, and the stretch of its most stretched repeat."""

    motif: Motif
    size_mm: float
    stretch: float


@dataclass(frozen=True, slots=True, eq=False)
class _Side:
    """A stretch of border: how long it is, where its points lie, and the corner piece before it, if any.

    ``at`` takes the part of the way along (0 to 1) and the height (0 inner, 1 outer); ``corner`` both parts of the
    way across the corner's square.
    """

    length_mm: float
    height_mm: float
    at: Callable[[FloatArray, FloatArray], FloatArray]
    corner: Callable[[FloatArray, FloatArray], FloatArray] | None = None


def border_round(piece: Polygon, recipe: Recipe, percent: float) -> Border | None:
    """Return a border motif laid round a ring-shaped region or along a strip, one line.

    Parameters
    ----------
    percent : float
        Height of the border as a part of the region's width; it gives by up to `GIVE` so that the repeats are
        stretched by at most `STRETCH`.

    Returns
    -------
    Border or None
        None when the region is neither, or so bent that the border would leave it.
    """
    lay, closed = _way_to_lay(piece)
    if lay is None:
        return None
    best: tuple[float, tuple[_Side, ...]] | None = None
    for part in _heights(percent):
        sides = lay(part)
        if not sides:
            continue
        stretch = max((_stretch(side, recipe) for side in sides), key=lambda s: abs(s - 1.0))
        if best is None or abs(stretch - 1.0) < abs(best[0] - 1.0) - 1e-9:
            best = stretch, sides
        if abs(stretch - 1.0) <= STRETCH:
            break
    if best is None:
        return None
    stretch, sides = best
    height = sum(side.height_mm for side in sides) / len(sides)
    path = _one_line(sides, recipe, closed)
    if outside_mm([path], piece, tolerance_mm=INSIDE_MM, closed=closed) > 0.0:
        return None
    return Border(Motif((path,), (closed,), recipe.drawn(height).frame, "border"), height, stretch)


def _heights(percent: float) -> list[float]:
    steps = {min(percent + GIVE * k / TRIES, 1.0) for k in range(-TRIES, TRIES + 1)}
    return sorted((p for p in steps if p > 0), key=lambda p: (round(abs(p - percent), 9), p))


def _way_to_lay(piece: Polygon) -> tuple[Lay | None, bool]:
    band = band_of(piece)
    if band is not None:
        return (partial(_round_corners, band) if len(band.corners) else partial(_round_ring, band)), True
    strip = None if piece.interiors else _strip(piece)
    return (None if strip is None else partial(_along_strip, *strip)), False


def _cell_mm(recipe: Recipe, height: float) -> float:
    return float(np.ptp(recipe.drawn(height).frame[:, 0]))


def _stretch(side: _Side, recipe: Recipe) -> float:
    cell = _cell_mm(recipe, side.height_mm)
    return side.length_mm / (nearest_count(side.length_mm / cell) * cell)


def _one_line(sides: Sequence[_Side], recipe: Recipe, closed: bool) -> Path:
    parts: list[FloatArray] = []
    for side in sides:
        if side.corner is not None:
            turn = recipe.drawn(side.height_mm, "corner")
            parts.append(_placed(turn, side.corner))
        repeat = recipe.drawn(side.height_mm)
        count = nearest_count(side.length_mm / float(np.ptp(repeat.frame[:, 0])))
        parts.append(_placed(repeat, partial(_repeats, side, count)))
    return simplify_path(dedupe(np.vstack(parts), closed=closed, nearer_than_mm=1e-3), PLAIN_MM, closed=closed)


def _repeats(side: _Side, count: int, u: FloatArray, v: FloatArray) -> FloatArray:
    along = (np.arange(count)[:, None] + u).ravel() / count
    return side.at(along, np.tile(1.0 - v, count))


def _placed(motif: Motif, at: Callable[[FloatArray, FloatArray], FloatArray]) -> FloatArray:
    points = densify(motif.paths[0], motif.size_mm / BEND_PARTS)
    part = (points - motif.frame[0]) / (motif.frame[2] - motif.frame[0])
    return at(part[:, 0], part[:, 1])


def _round_corners(band: Band, height: float) -> tuple[_Side, ...]:
    """Return the sides of a border with mitres, each with the corner before it; none when a side has no length."""
    edge = (1.0 - height) / 2.0
    outer, inner, corners = band.row(edge), band.row(1.0 - edge), band.corners
    count = len(corners)
    stretches = [_between(outer, corners, j) for j in range(count)]
    holes = [_between(inner, corners, j) for j in range(count)]
    feet = [(_foot(side, hole[0]), _foot(side, hole[-1])) for side, hole in zip(stretches, holes)]
    sides = []
    for j, (side, hole, (a, b)) in enumerate(zip(stretches, holes, feet)):
        before, (_, c) = stretches[j - 1], feet[j - 1]
        if b - a <= 0:
            return ()
        mid = _cut(side, a, b)
        turn = Patchwork(
            [
                _cut(before, c, path_length(before)),
                _cut(side, 0.0, a),
                np.array([mid[0], hole[0]]),
                np.array([hole[0], point_at(before, [c])[0]]),
            ]
        )
        straight = Patchwork([mid, np.array([mid[-1], hole[-1]]), hole[::-1], np.array([hole[0], mid[0]])])
        sides.append(
            _Side(
                length_mm=(path_length(mid) + path_length(hole)) / 2,
                height_mm=band.width_mm * height,
                at=partial(_upright, straight),
                corner=turn.four,
            )
        )
    return tuple(sides)


def _upright(patch: Patchwork, u: FloatArray, v: FloatArray) -> FloatArray:
    return patch.four(u, 1.0 - v)


def _between(ring: Path, corners: np.ndarray, j: int) -> FloatArray:
    a, b = int(corners[j]), int(corners[(j + 1) % len(corners)])
    return np.asarray(ring[np.arange(a, b + 1 if b > a else b + len(ring) + 1) % len(ring)])


def _foot(path: FloatArray, point: FloatArray) -> float:
    # how far along a path the place nearest to a point lies
    step = np.diff(path, axis=0)
    size = (step**2).sum(axis=1)
    t = np.clip(((point - path[:-1]) * step).sum(axis=1) / np.where(size > 0, size, 1.0), 0.0, 1.0)
    far = np.hypot(*(path[:-1] + step * t[:, None] - point).T)
    k = int(np.argmin(far))
    return float(arc_lengths(path)[k] + t[k] * np.sqrt(size[k]))


def _cut(path: FloatArray, start: float, end: float) -> FloatArray:
    own = arc_lengths(path)
    ends = point_at(path, [start, end])
    return np.vstack([ends[:1], path[(own > start + 1e-9) & (own < end - 1e-9)], ends[1:]])


def _round_ring(band: Band, height: float) -> tuple[_Side, ...]:
    middle = band.row(0.5)
    own = arc_lengths(middle, closed=True)
    outer, inner = (np.vstack([edge, edge[:1]]) for edge in (band.outer, band.inner))

    def at(u: FloatArray, v: FloatArray) -> FloatArray:
        s = u * own[-1]
        far, near = (np.column_stack([np.interp(s, own, e[:, 0]), np.interp(s, own, e[:, 1])]) for e in (outer, inner))
        part = (0.5 + (v - 0.5) * height)[:, None]
        return np.asarray(near + (far - near) * part)

    return (_Side(float(own[-1]), band.width_mm * height, at),)


def _strip(piece: Polygon) -> tuple[Patchwork, float, float] | None:
    """Return a long four-sided region as a patch from end to end, its length and its width; else None."""
    outline = cornered(rings(piece)[0])
    if len(outline.corners) != 4 or (outline.inner_deg > 180.0).any():
        return None
    sides = outline.sides()
    lengths = [path_length(side) for side in sides]
    first = 0 if lengths[0] + lengths[2] >= lengths[1] + lengths[3] else 1
    long, wide = (lengths[first] + lengths[first + 2]) / 2, (lengths[1 - first] + lengths[3 - first]) / 2
    if long < LONGEST * wide:
        return None
    # the upper long side is the outer one; of two upright ones, the left
    top = min((first, first + 2), key=lambda k: float(sides[k].mean(axis=0) @ np.array([0.1, 1.0])))
    return Patchwork([sides[(top + k) % 4] for k in range(4)]), long, wide


def _along_strip(patch: Patchwork, long: float, wide: float, height: float) -> tuple[_Side, ...]:
    return (_Side(long, wide * height, lambda u, v: patch.four(u, 0.5 - (v - 0.5) * height)),)
