"""Chords: straight lines between marked points of the zone's edge; curved webs of straight lines in its corners."""

from __future__ import annotations

import itertools
import math
from collections import defaultdict
from typing import ClassVar, Literal

import numpy as np
from pydantic import Field
from shapely import Polygon

from ..geometry import (
    Outline,
    as_region,
    boundary_distance,
    clip_paths,
    cornered,
    erode,
    path_length,
    pieces,
    point_at,
    rings,
)
from ..model import Filled, FloatArray, Path, Stroke, Zone, as_path
from ..tolerances import CURVE_MM
from .kit.registry import Fill, too_small
from .kit.settings import FillSettings, number

__all__ = ["FILL", "ChordsSettings"]

Marks = Literal["corners", "middles", "thirds", "quarters"]

FRACTIONS: dict[str, tuple[float, ...]] = {
    "corners": (0.0,),
    "middles": (0.5,),
    "thirds": (1 / 3, 2 / 3),
    "quarters": (0.25, 0.5, 0.75),
}
"""Where the marks lie on each side from corner to corner."""

ROUND_SIDES = 8
"""An edge without corners, or with too many, is marked as if it had so many equal sides."""

MOST_SIDES = 24
"""An edge with more corners is marked as a round one: lines between them all would be a tangle."""

HUDDLED, BULGING = 0.4, 0.6
"""Nor is an edge marked at its corners where the middle one of its sides is shorter than this part of their mean, or
the longest goes round so that its ends are nearer than this part of its length: corners huddle in a few places, as on
a coast, and so would the lines."""

LEAST_RADIUS_MM = 3.0
"""A zone with a smaller inscribed circle has no room for chords."""

NARROW_DEG = 7.0
"""Two chords from one mark at a smaller angle read as one thick line: the longer one is left out. An even shape
of eleven corners, the most that count as corners, has its chords 8 degrees apart."""

SAMPLES = 33
"""Points at which a chord is tested to run inside the zone."""

EDGE_MM = 0.2
"""How far inside the edge each of them must lie."""

SHORTEST_MM = 2.0
"""Shorter bits of chord are left out."""

Mark = tuple[int, float]


class ChordsSettings(FillSettings):
    """Settings of chords."""

    fills_space: ClassVar[bool] = False

    from_marks: Marks = Field(default="corners", validation_alias="from", description="where the lines start")
    to_marks: Marks = Field(default="middles", validation_alias="to", description="where they end")
    count: int | None = number(
        None,
        least=2,
        most=200,
        description="instead: so many lines across each corner, their crossings drawing a curve",
    )


def draw(zone: Zone, settings: ChordsSettings, *, rng: np.random.Generator, tolerance_mm: float = CURVE_MM) -> Filled:
    """Draw every chord that runs inside the outer edge once, one stroke a chord, alternately turned; holes cut it."""
    strokes: list[Stroke] = []
    for piece in pieces(zone):
        if not erode(piece, LEAST_RADIUS_MM):
            continue
        shell = as_region(rings(piece)[0])
        sides = _sides(cornered(rings(piece)[0]))
        if settings.count is not None:
            lines = _webs(sides, settings.count)
        else:
            lines = _pairs(sides, settings.from_marks, settings.to_marks)
        inside = [line for line in lines if _runs_inside(line, shell)]
        if settings.count is None:
            inside = _without_bundles(inside)
        found = [path for _, path in clip_paths(inside, piece, least_mm=SHORTEST_MM)]
        strokes += [Stroke(as_path(path[::-1]) if i % 2 else path) for i, path in enumerate(found)]
    if not strokes:
        return too_small(
            zone, "chords", "no line between these marks runs through the space", "Choose other marks or another fill."
        )
    return Filled(strokes=tuple(strokes))


def _sides(outline: Outline) -> list[Path]:
    sides = outline.sides()
    long = np.array([path_length(side) for side in sides])
    across = [float(np.hypot(*(side[-1] - side[0]))) for side in sides]
    few = 2 < len(sides) <= MOST_SIDES
    if few and np.median(long) > HUDDLED * long.mean() and across[long.argmax()] > BULGING * long.max():
        return sides
    ring = np.vstack([outline.path, outline.path[:1]])
    total = path_length(ring)
    ends = np.linspace(0.0, total, ROUND_SIDES + 1)
    return [as_path(point_at(ring, np.linspace(a, b, 13))) for a, b in itertools.pairwise(ends)]


def _point(sides: list[Path], mark: Mark) -> FloatArray:
    side = sides[mark[0]]
    point: FloatArray = point_at(side, [mark[1] * path_length(side)])[0]
    return point


def _on_sides(mark: Mark, count: int) -> set[int]:
    return {mark[0], (mark[0] - 1) % count} if mark[1] == 0.0 else {mark[0]}


def _pairs(sides: list[Path], start: Marks, end: Marks) -> list[Path]:
    count = len(sides)
    starts, ends = ([(side, f) for side in range(count) for f in FRACTIONS[marks]] for marks in (start, end))
    lines: dict[frozenset[Mark], Path] = {}
    for a in starts:
        for b in ends:
            if not _on_sides(a, count) & _on_sides(b, count):
                lines.setdefault(frozenset((a, b)), as_path([_point(sides, a), _point(sides, b)]))
    return list(lines.values())


def _webs(sides: list[Path], count: int) -> list[Path]:
    # mark i of the side that comes in to a corner meets mark i of the side that leaves it
    lines = []
    for j in range(len(sides)):
        before = (j - 1) % len(sides)
        for i in range(1, count + 1):
            t = i / (count + 1)
            lines.append(as_path([_point(sides, (before, t)), _point(sides, (j, t))]))
    return lines


def _runs_inside(line: Path, shell: Polygon) -> bool:
    # a chord along the edge, past a corner that points inwards, or out of the shape and back is none
    at = np.linspace(0.0, 1.0, SAMPLES)[1:-1, None]
    return bool(boundary_distance(shell, line[0] + (line[1] - line[0]) * at).min() > EDGE_MM)


def _without_bundles(lines: list[Path]) -> list[Path]:
    """Return the chords without those that leave a mark beside a shorter one, by hardly more than a line's width.

    Of two as long as each other both stay: a space that is its own mirror image keeps a pattern that is so too.
    """
    ways = [np.diff(line, axis=0)[0] for line in lines]
    long = [round(float(np.hypot(*way)), 3) for way in ways]
    at: defaultdict[tuple[float, float], list[FloatArray]] = defaultdict(list)
    kept = set()
    for _, alike in itertools.groupby(sorted(range(len(lines)), key=lambda k: long[k]), key=lambda k: long[k]):
        new = []
        for k in alike:
            leaving = [
                ((round(float(end[0]), 3), round(float(end[1]), 3)), way / np.hypot(*way))
                for end, way in ((lines[k][0], ways[k]), (lines[k][1], -ways[k]))
            ]
            if all(way @ other < math.cos(math.radians(NARROW_DEG)) for mark, way in leaving for other in at[mark]):
                kept.add(k)
                new += leaving
        for mark, way in new:
            at[mark].append(way)
    return [line for k, line in enumerate(lines) if k in kept]


FILL = Fill(
    name="chords",
    settings=ChordsSettings,
    draw=draw,
    stage="ruler",
    description="straight lines between corners, middles or thirds of the edge; webs in the corners",
)
