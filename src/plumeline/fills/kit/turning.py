"""Rows linked at a turn: each strand leaves its row at a corner and goes on two rows further in.

Two rows lie between the strand that comes in and the same strand one turn later, so a second strand comes back out
between them. Past the corner every strand lies on a row again, an even gap from its neighbours: nothing is slanted,
no row is broken, and there are two U-turns in all, one at the innermost row and, inside other rows, one at the
outermost.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ...geometry import arc_lengths, crossings
from ...model import FloatArray, Path

__all__ = ["Corner", "Joint", "corners_of", "joined_at", "matching"]

LONG = 2.0
"""A side of a corner is at least so many gaps long, in one straight stretch."""

BETWEEN = 1.7
"""A corner lies between two sides that are at most so many gaps apart along the row: rounded ones too."""

TURN = (0.6, 2.3)
"""Least and greatest turn of a corner, radians: flatter ones shift strands far, sharper ones leave no room."""

EVEN = 0.2
"""How far from a gap apart, in gaps, the sides of two rows may lie."""

ALONG = 0.1
"""How much the direction of a side may differ from row to row, radians."""

SPARE = 0.5
"""Of each side at least so many gaps stay."""

TO_EDGE = 2.0
"""The edge is at most so many gaps beyond the outermost row, along a side."""


@dataclass(frozen=True, slots=True, eq=False)
class _Side:
    # a straight stretch of a row: where it starts, its direction, the places along the row where it starts and ends
    start: FloatArray
    way: FloatArray
    first: float
    last: float

    @property
    def length(self) -> float:
        return self.last - self.first


@dataclass(frozen=True, slots=True, eq=False)
class Corner:
    """A corner of a row: the side that leads to it, the one that leads on, where both would meet, and its turn."""

    before: _Side
    after: _Side
    at: FloatArray
    turn: float


@dataclass(frozen=True, slots=True, eq=False)
class Joint:
    """How rows are opened and joined at one corner.

    Attributes
    ----------
    opened : list of (float, float)
        For each row, outermost first, where it ends before the corner and where it begins again after it, mm along it.
    links : list of (int, bool, int, bool, (n, 2))
        Which row is led to which: the row and whether where it ends, the other and whether where it ends, and the
        points between.
    feet : pair of (n, 2) or None
        How the two outermost rows come from the edge of the space; None where they are joined.
    """

    opened: list[tuple[float, float]]
    links: list[tuple[int, bool, int, bool, FloatArray]]
    feet: tuple[FloatArray, FloatArray] | None


def corners_of(row: Path, gap: float) -> list[Corner]:
    """Return the corners of a closed row between straight sides that are long enough to link rows at."""
    s = arc_lengths(row, closed=True)
    step = np.diff(np.vstack([row, row[:1]]), axis=0)
    length = np.hypot(*step.T)
    long = np.flatnonzero(length >= LONG * gap)
    if len(long) < 2:
        return []
    total = float(s[-1])
    sides = [_Side(row[k], step[k] / length[k], float(s[k]), float(s[k] + length[k])) for k in long.tolist()]
    out = []
    for a, b in zip(sides, [*sides[1:], sides[0]]):
        if (b.first - a.last) % total > BETWEEN * gap:
            continue
        turn = float(np.arctan2(a.way[0] * b.way[1] - a.way[1] * b.way[0], a.way @ b.way))
        if TURN[0] <= abs(turn) <= TURN[1]:
            out.append(Corner(a, b, _meet(a, b), turn))
    return out


def matching(outer: Corner, corners: Sequence[Corner], gap: float) -> Corner | None:
    """Return the one of a row's corners that lies a gap inside that of another row, on both of its sides, if any."""
    for inner in corners:
        if min(outer.before.way @ inner.before.way, outer.after.way @ inner.after.way) < np.cos(ALONG):
            continue
        off = [_off(side, inner.at) for side in (outer.before, outer.after)]
        if off[0] * off[1] > 0 and all(abs(abs(x) - gap) <= EVEN * gap for x in off):
            return inner
    return None


def joined_at(corners: Sequence[Corner], gap: float, edges: Sequence[Path] | None) -> Joint | None:
    """Return how nested rows are joined at their corners, one of each row, outermost first; None where it can't be.

    Parameters
    ----------
    corners : sequence of Corner
        At least two.
    edges : sequence of (n, 2), optional
        The edges of the space, to which the two outermost rows lead; None: these two are joined to each other.
    """
    count = len(corners)
    shift = corners[-1].at - corners[-2].at  # the virtual row inside the innermost one
    inside = _Side(corners[-1].after.start + shift, corners[-1].after.way, 0.0, 0.0)
    aims = [*(c.after for c in corners[2:]), inside, inside]
    turns = [_meet(c.before, aim) for c, aim in zip(corners, aims)]
    ends = [_place(c.before, x) for c, x in zip(corners, turns)]
    if any(e - c.before.first < SPARE * gap for e, c in zip(ends, corners)):
        return None
    comes = [_meet(corners[0].before, c.after) for c in corners[:2]] + turns[: count - 2]
    starts = [_place(c.after, x) for c, x in zip(corners, comes)]
    if any(c.after.last - s < SPARE * gap for s, c in zip(starts, corners)):
        return None
    opened = [(min(e, c.before.last), max(s, c.after.first)) for e, s, c in zip(ends, starts, corners)]
    links = [(k, True, k + 2, False, turns[k][None]) for k in range(count - 2)]
    links.append((count - 2, True, count - 1, True, np.array(turns[-2:])))
    if edges is None:
        return Joint(opened, [*links, (0, False, 1, False, np.array(comes[:2]))], None)
    feet = [_foot(c.after, x, edges, gap) for c, x in zip(corners, comes[:2])]
    if feet[0] is None or feet[1] is None:
        return None
    return Joint(opened, links, (feet[0][None], feet[1][None]))


def _off(side: _Side, point: FloatArray) -> float:
    # how far a point lies to the side of a line
    d = point - side.start
    return float(side.way[0] * d[1] - side.way[1] * d[0])


def _meet(a: _Side, b: _Side) -> FloatArray:
    along = _off(b, a.start) / float(a.way[0] * b.way[1] - a.way[1] * b.way[0])
    return np.asarray(a.start + a.way * along)


def _place(side: _Side, point: FloatArray) -> float:
    return side.first + float((point - side.start) @ side.way)


def _foot(side: _Side, point: FloatArray, edges: Sequence[Path], gap: float) -> FloatArray | None:
    """Return where a side, led back beyond a point of it, comes to the edge of the space."""
    ray = np.array([point + side.way * 0.01 * gap, point - side.way * TO_EDGE * gap])
    hits = crossings([np.vstack([e, e[:1]]) for e in edges], [ray])
    if not len(hits):
        return None
    return np.asarray(hits[int(np.argmin(np.round(np.hypot(*(hits - point).T), 6)))])
