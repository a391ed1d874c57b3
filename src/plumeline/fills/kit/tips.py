"""Tips of a space: the nearest strand is led out into what a fill leaves bare in a corner, and back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal, TypeAlias

import numpy as np
from scipy.spatial import cKDTree
from shapely import Polygon

from ...geometry import (
    Bare,
    arc_lengths,
    bare_spots,
    boundary_distance,
    close_ring,
    dedupe,
    is_simple,
    nearest_of,
    nearest_on,
    point_at,
    resample,
    turns,
)
from ...model import FloatArray, IntArray, Stroke, as_path
from .bald import FAR, worth_a_word

__all__ = ["Look", "led_into_tips"]

ROUNDS = 3
"""How often bare spots are looked for: one finger does not cover a wide one."""

MOST = 200
"""Most spots of a space that are looked at in a round: what has more is too ragged for its spacing, and is told so."""

Look: TypeAlias = Literal["mitred", "swept", "lobe"]
"""How fingers look: pointed with straight sides, as mitred rows are; swept out of a row to a narrow end; or lobes."""

TRIED: dict[Look, tuple[tuple[float, float], ...]] = {
    "mitred": ((1.0, 1.6), (1.0, 1.0), (1.0, 0.6), (1.35, 0.6), (1.35, 0.35)),
    "swept": ((1.0, 1.6), (1.0, 1.0), (1.0, 0.6), (1.35, 0.6), (1.35, 0.35)),
    "lobe": ((1.0, 0.8), (1.0, 1.2), (1.35, 0.8), (1.35, 1.2), (1.9, 0.8), (2.5, 0.8)),
}
"""How far before the barest point a finger ends, and how far to either side of its middle it leaves the strand, in
spacings: tried in turn. Nearer to the point of a sharp tip its two sides would be one line."""

BLUNT, SQUARED = 1.85, (1.42, 0.5)
"""A corner no farther than this in spacings is about a right one: there the strand's own corner is made crisp."""

LONGEST = 6.0
"""The longest finger in spacings: a longer one is a hair."""

FROM_EDGE, FROM_LINES = 0.1, 0.35
"""How far a finger keeps from the edge and from other strands, in spacings."""

BESIDE = 0.75
"""Stretch of its own strand on either side that a finger may come near to, in spacings."""

END = 0.15
"""What is left of a strand at its end, in spacings: it is carried on from there."""

RISE = 0.3
"""How soon a finger that begins by the edge must be clear of it."""

CAP, CAP_MOST = 0.2, 0.3
"""How wide the end of a swept finger is, in its length, and at most in spacings."""

ROUND, TIGHTEST = 0.3, 0.24
"""Radius of a lobe's end, and the least that it may have anywhere, in spacings: less, and it is a hair or a tooth."""

SHARE_TURNED = 0.35
"""Stretch over which a radius is measured, in spacings: a fine line's every vertex is a turn."""

SHORTEST = 0.1
"""A shorter finger, in spacings, is none."""

SWEEP = 0.45
"""How far a rounded finger goes on along the strand that it leaves, in the length of its side."""

SAME_WAY = 0.05
"""Stretch over which the way of a strand is taken where a finger leaves it, in spacings."""

SAMPLE = 0.25
"""Distance of the samples of strands, in spacings."""

SIDE = np.linspace(0.0, 1.0, 25)[:, None]
BEZIER = np.hstack([(1 - SIDE) ** 3, 3 * (1 - SIDE) ** 2 * SIDE, 3 * (1 - SIDE) * SIDE**2, SIDE**3])
"""Shares of the four points of a finger's side."""


@dataclass(frozen=True, slots=True, eq=False)
class _Strands:
    """The strands of a space: samples, which stroke each is of, and how far along it."""

    points: FloatArray
    owner: IntArray
    at: FloatArray
    tree: cKDTree


@dataclass(frozen=True, slots=True, eq=False)
class _Finger:
    """A stretch of one stroke and what takes its place."""

    stroke: int
    start: float
    stop: float
    path: FloatArray


def led_into_tips(strokes: Sequence[Stroke], region: Polygon, spacing_mm: float, *, look: Look) -> list[Stroke]:
    """Return strokes of which the nearest is led into each bare spot of a region, where a finger fits.

    Parameters
    ----------
    strokes : sequence of Stroke
        All that is stitched in the region, without crossings. Their ends stay, and so do their steps.
    spacing_mm : float
        The distance of lines promised.

    Notes
    -----
    A finger ends a spacing before the barest point and keeps `FROM_EDGE` and `FROM_LINES` from all else; where none
    fits the spot stays, and is said. O(n log n) in the samples of the strokes.
    """
    done = list(strokes)
    for _ in range(ROUNDS if strokes else 0):
        lines = [close_ring(s.path, s.closed) for s in done]
        spots = worth_a_word(bare_spots(lines, region, FAR * spacing_mm), spacing_mm)[:MOST]
        if not spots:
            break
        strands = _strands(lines, SAMPLE * spacing_mm)
        fingers: list[_Finger] = []
        for spot in spots:
            finger = _finger(spot, done, strands, fingers, region, spacing_mm, look)
            fingers += () if finger is None else (finger,)
        if not fingers:
            break
        done = [_with_fingers(s, [f for f in fingers if f.stroke == k]) for k, s in enumerate(done)]
    return done


def _strands(lines: Sequence[FloatArray], step: float) -> _Strands:
    runs = [resample(line, step) for line in lines]
    at = [np.minimum(_step(run, line) * np.arange(len(run)), arc_lengths(line)[-1]) for run, line in zip(runs, lines)]
    points = np.vstack(runs)
    return _Strands(
        points, np.repeat(np.arange(len(runs)), [len(r) for r in runs]), np.concatenate(at), cKDTree(points)
    )


def _step(run: FloatArray, line: FloatArray) -> float:
    """Return the distance along a line of the samples that were taken of it evenly."""
    return float(arc_lengths(line)[-1]) / max(len(run) - 1, 1)


def _finger(
    spot: Bare,
    strokes: Sequence[Stroke],
    strands: _Strands,
    before: Sequence[_Finger],
    region: Polygon,
    spacing: float,
    look: Look,
) -> _Finger | None:
    """Return the first finger tried that fits into a spot, or None."""
    target = np.array(spot.centre)
    which = int(strands.owner[int(nearest_of(strands.tree, target[None])[1][0])])
    stroke = strokes[which]
    if stroke.role != "stitch" or stroke.atomic or spot.far_mm > LONGEST * spacing:
        return None
    line = close_ring(stroke.path, stroke.closed)
    foot = float(nearest_on(line, target, closed=False)[0])
    total = float(arc_lengths(line)[-1])
    room = END * spacing
    blunt = (SQUARED,) if look != "lobe" and spot.far_mm < BLUNT * spacing else ()
    for short, half in (*blunt, *TRIED[look]):
        middle = min(max(foot, half * spacing + room), total - half * spacing - room)
        start, stop = middle - half * spacing, middle + half * spacing
        if start < room or any(f.stroke == which and start < f.stop and f.start < stop for f in before):
            continue
        path = _drawn(line, start, min(max(foot, start), stop), stop, target, short * spacing, spacing, look)
        if path is not None and _fits(path, line, which, start, stop, strands, before, region, spacing):
            return _Finger(which, start, stop, path)
    return None


def _drawn(
    line: FloatArray,
    start: float,
    foot: float,
    stop: float,
    target: FloatArray,
    short: float,
    spacing: float,
    look: Look,
) -> FloatArray | None:
    """Return a finger from one place of a line to another, its end a distance short of the target; None: too short."""
    root, first, last = point_at(line, [foot, start, stop])
    out = target - root
    far = float(np.hypot(*out))
    length = far - short
    if length < SHORTEST * spacing:
        return None
    out = out / far
    tip = root + length * out
    if look == "mitred":
        return np.vstack([first, tip, last])
    ahead, behind = point_at(line, [start + SAME_WAY * spacing, stop - SAME_WAY * spacing])
    across = last - first - np.dot(last - first, out) * out
    wide = float(np.hypot(*across))
    if wide == 0.0:
        return None
    sides = []
    for end, inner, way in ((first, ahead, -1.0), (last, behind, 1.0)):
        along = inner - end
        along = along / max(float(np.hypot(*along)), 1e-9) * SWEEP * float(np.hypot(*(tip - end)))
        cap = min(CAP * length, CAP_MOST * spacing)
        if look == "lobe":  # a cubic's radius at its end: 3/2 of the last side squared over the depth of the one before
            cap = float(np.sqrt(ROUND * spacing * max(np.dot(tip - end - along, out), 0.0) / 1.5))
        sides.append(BEZIER @ np.vstack([end, end + along, tip + way * cap * across / wide, tip]))
    path = np.vstack([sides[0], sides[1][-2::-1]])
    return path if look != "lobe" or _calm(path, spacing) else None


def _calm(path: FloatArray, spacing: float) -> bool:
    """Return whether a lobe turns nowhere tighter than `TIGHTEST`."""
    step = SHARE_TURNED * spacing / 7
    turn = np.abs(turns(resample(path, step)))
    return float(np.convolve(turn, np.ones(7)).max()) < SHARE_TURNED / TIGHTEST


def _fits(
    path: FloatArray,
    line: FloatArray,
    which: int,
    start: float,
    stop: float,
    strands: _Strands,
    before: Sequence[_Finger],
    region: Polygon,
    spacing: float,
) -> bool:
    """Return whether a finger keeps off the edge and every strand but the stretch that it grows from."""
    fine = resample(path, SAMPLE * spacing / 2)[1:-1]
    along = np.arange(1, len(fine) + 1) * SAMPLE * spacing / 2
    clear = np.minimum(FROM_EDGE * spacing, RISE * np.minimum(along, along[::-1]))
    if (boundary_distance(region, fine) < clear).any():
        return False
    far, nearest = nearest_of(strands.tree, fine)
    at = strands.at[nearest]
    own = (strands.owner[nearest] == which) & (at > start - BESIDE * spacing) & (at < stop + BESIDE * spacing)
    if not ((far >= FROM_LINES * spacing) | own).all():
        return False
    others = [resample(f.path, SAMPLE * spacing) for f in before]
    if others and (nearest_of(cKDTree(np.vstack(others)), fine)[0] < FROM_LINES * spacing).any():
        return False
    s = arc_lengths(line)
    head = line[(s < start) & (s > start - 3 * spacing)]
    tail = line[(s > stop) & (s < stop + 3 * spacing)]
    return bool(is_simple(dedupe(np.vstack([head, path, tail]))))


def _with_fingers(stroke: Stroke, fingers: Sequence[_Finger]) -> Stroke:
    if not fingers:
        return stroke
    line = close_ring(stroke.path, stroke.closed)
    s = arc_lengths(line)
    parts, done = [], -1.0
    for finger in sorted(fingers, key=lambda f: f.start):
        parts += [line[(s > done) & (s < finger.start)], finger.path]
        done = finger.stop
    parts.append(line[s > done])
    path = dedupe(np.vstack(parts))
    return replace(stroke, path=as_path(path[:-1] if stroke.closed else path))
