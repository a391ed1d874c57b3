"""Needle points of whole lines: stitches, ties and commands of one reach, ready for a machine."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..geometry import path_length
from ..model import Batting, BoolArray, FloatArray, IntArray, Line, Machine, Needle, NeedlePoints, Path
from ..tolerances import SAME_MM
from .drops import Axis, Drops, Steps, place_drops
from .thread import bobbin_changes, longest_line_mm, thread_mm

__all__ = ["longest_for_bobbin", "stitch_lines"]

TIE_MM = 0.5
"""Length of a tying stitch: short enough to hold, long enough not to hammer one hole."""
TIE_STITCHES = 5
BACK_TIE = (0.5, 1.0, 0.5, 0.0)
"""Places of the "back" tie along the line, in mm from its end: forth, and back into the first hole."""
GRID_MM = 1e-3
"""Ends of backtracked stretches are looked for on this grid; they are the same numbers, so it only sorts."""


def longest_for_bobbin(lines: Sequence[Line], machine: Machine, batting: Batting) -> float | None:
    """Return how long a line may be so that no bobbin runs out within it, mm; None when any length will do.

    How closely the long ones among the lines are stitched is measured on them: tight curves take more thread.

    Parameters
    ----------
    lines : sequence of Line
        Those that are to be sewn.
    machine : Machine
        It says how much a bobbin holds.
    batting : Batting
        Its thickness counts for each stitch.

    Returns
    -------
    float or None
        mm of line.
    """
    straight = longest_line_mm(machine, thickness_mm=batting.thickness_mm)
    if straight is None:
        return None
    closest = longest_line_mm(
        machine, thickness_mm=batting.thickness_mm, stitches_per_mm=1 / min(machine.least_stitch_mm, machine.stitch_mm)
    )
    length = [path_length(line.path) for line in lines]
    long = [k for k, mm in enumerate(length) if mm > (closest or 0.0)]
    if not long:
        return None
    steps = _steps(machine)
    counts = np.diff(place_drops([lines[k].path for k in long], steps).first) - 1
    densest = max(float(count) / length[k] for count, k in zip(counts, long))
    return longest_line_mm(machine, thickness_mm=batting.thickness_mm, stitches_per_mm=densest)


def _steps(machine: Machine) -> Steps:
    return Steps(
        stitch_mm=machine.stitch_mm,
        least_mm=min(machine.least_stitch_mm, machine.stitch_mm),
        chord_mm=machine.chord_mm,
    )


def stitch_lines(
    lines: Sequence[Line],
    machine: Machine,
    *,
    names: Sequence[str] = (),
    batting: Batting | None = None,
    reach: int = 1,
) -> NeedlePoints:
    """Return the needle points and commands of the lines of one reach, in the order given.

    Each line is a jump to its start, its first stitch, without a trimmer a stop (pull the bobbin thread up, cut the
    old ends), the tie, the stitches, the tie, and with a trimmer a trim. Before a line of another thread, and where the
    bobbin would run out within the next line, there is a stop. A backtracked stretch goes through the holes of the
    stretch that it goes along.

    Parameters
    ----------
    lines : sequence of Line
        Those without length are left out.
    machine : Machine
        Stitch lengths, ties, trimmer, bobbin.
    names : sequence of str
        Zone names, as the spans number zones.
    batting : Batting, optional
        Its thickness counts for the thread on the bobbin.
    reach : int
        Number of the reach.

    Returns
    -------
    NeedlePoints
        Only an ``end`` at the origin when there is no line. A row's ``span`` and ``zone`` are those of the stitch
        that leads to it; commands have none (-1).

    Raises
    ------
    StitchError
        The machine's lengths contradict each other.

    Examples
    --------
    >>> from plumeline.model import Needle, Span, as_path
    >>> line = Line(as_path([(0, 0), (254, 0)]), (Span(0, 1, "stitch"),))
    >>> points = stitch_lines([line], Machine(ties="bury", trimmer=True))
    >>> [Needle(kind).name for kind in points.kind[:2]], [Needle(kind).name for kind in points.kind[-2:]]
    (['JUMP', 'STITCH'], ['TRIM', 'END'])
    """
    steps = _steps(machine)
    axis = Axis.of([line.path for line in lines])
    tied = _tied(_lengths(axis), machine, steps)
    bodies, forced = _bodies(lines, axis, tied)
    drops = place_drops(bodies, steps, forced=forced)
    number = np.flatnonzero(np.diff(drops.first) > 0)
    if not len(number):
        none = np.full(1, -1, np.int32)
        return NeedlePoints(np.zeros((1, 2)), np.full(1, Needle.END, np.uint8), none, none, none, tuple(names), reach)
    ends = _Ends.of(axis, number, tied, drops)
    pauses = _pauses(ends, lines, machine, batting or Batting())
    parts = [_starts(ends, machine), _body(ends, drops), *_ties(ends, machine), _trims(ends, machine), pauses]
    line = np.concatenate([p.line for p in parts])
    at = np.concatenate([p.at for p in parts])
    kind = np.concatenate([p.kind for p in parts])
    order = np.lexsort((np.concatenate([p.order for p in parts]), line))
    line, at, kind = line[order], at[order], kind[order]
    xy = axis.point(at)
    fixed = np.concatenate([p.drop for p in parts])[order]
    xy[fixed >= 0] = drops.xy[fixed[fixed >= 0]]
    span, zone = _spans(lines, axis, line, at, kind)
    end = np.full(1, -1, np.int32)
    return NeedlePoints(
        np.vstack([xy, xy[-1:]]),
        np.append(kind, np.uint8(Needle.END)),
        np.concatenate([span, end]),
        np.append(line, line[-1]).astype(np.int32),
        np.concatenate([zone, end]),
        tuple(names),
        reach,
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Rows:
    """Rows to be sorted by (line, order): place on the axis, kind, and the drop they stand for (-1: none)."""

    line: IntArray
    order: FloatArray
    at: FloatArray
    kind: NDArray[np.uint8]
    drop: IntArray


def _rows(line: IntArray, order: FloatArray, at: FloatArray, kind: int, drop: IntArray | None = None) -> _Rows:
    none = np.full(len(line), -1, np.intp)
    return _Rows(line, order, at, np.full(len(line), kind, np.uint8), none if drop is None else drop)


@dataclass(frozen=True, slots=True, eq=False)
class _Ends:
    """The lines that have length: number, start and end on the axis, length of each tie, rows of the drops between."""

    line: IntArray
    start: FloatArray
    end: FloatArray
    tied: FloatArray
    first: IntArray
    last: IntArray

    @classmethod
    def of(cls, axis: Axis, number: IntArray, tied: FloatArray, drops: Drops) -> _Ends:
        start, end = axis.at[axis.first[number]], axis.at[axis.first[number + 1] - 1]
        return cls(number, start, end, tied[number], drops.first[number], drops.first[number + 1] - 1)


UNMOVED_MM = 0.1
"""A move shorter than the step of a stitch file may be lost in it."""

# The order within a line is the place on the axis; rows that share a place are told apart by small steps.
_NUDGE = 1e-7
_AFTER = 10.0


def _starts(ends: _Ends, machine: Machine) -> _Rows:
    commands = [Needle.JUMP, Needle.STITCH] if machine.trimmer else [Needle.JUMP, Needle.STITCH, Needle.STOP]
    line, at = np.repeat(ends.line, len(commands)), np.repeat(ends.start, len(commands))
    step = np.tile(np.arange(len(commands)) - len(commands), len(ends.line)) * _NUDGE
    rows = _rows(line, at + step, at, Needle.STITCH)
    return _Rows(line, at + step, at, np.tile(np.array(commands, np.uint8), len(ends.line)), rows.drop)


def _trims(ends: _Ends, machine: Machine) -> _Rows:
    trimmed = slice(None) if machine.trimmer else slice(0)
    return _rows(ends.line[trimmed], ends.end[trimmed] + _AFTER, ends.end[trimmed], Needle.TRIM)


def _body(ends: _Ends, drops: Drops) -> _Rows:
    """Return the regular stitches: all drops but the first, which starts the line or ends its tie."""
    count = ends.last - ends.first
    i = np.repeat(np.arange(len(ends.line)), count)
    drop = np.arange(len(i)) - np.repeat(np.cumsum(count) - count, count) + ends.first[i] + 1
    at = drops.at[drop] + (ends.start + ends.tied)[i]
    return _rows(ends.line[i], at, at, Needle.STITCH, drop)


def _ties(ends: _Ends, machine: Machine) -> list[_Rows]:
    if machine.ties == "bury":
        return []
    if machine.ties == "back":
        i = np.repeat(np.flatnonzero(ends.end - ends.start >= 2 * max(BACK_TIE)), len(BACK_TIE))
        way = np.tile(BACK_TIE, len(i) // len(BACK_TIE))
        step = np.tile(np.arange(1, len(BACK_TIE) + 1), len(i) // len(BACK_TIE)) * _NUDGE
        head, tail = ends.start[i] + way, ends.end[i] - way
        return [
            _rows(ends.line[i], ends.start[i] + step, head, Needle.TIE),
            _rows(ends.line[i], ends.end[i] + step, tail, Needle.TIE),
        ]
    count = np.rint(ends.tied / TIE_MM).astype(np.intp)
    i = np.repeat(np.arange(len(count)), count)
    way = TIE_MM * (np.arange(len(i)) - np.repeat(np.cumsum(count) - count, count) + 1)
    head, tail = ends.start[i] + way, ends.end[i] - ends.tied[i] + way
    return [_rows(ends.line[i], head - _NUDGE, head, Needle.TIE), _rows(ends.line[i], tail + _NUDGE, tail, Needle.TIE)]


def _lengths(axis: Axis) -> FloatArray:
    begin, end = axis.first[:-1], axis.first[1:] - 1
    out = np.zeros(len(begin))
    some = end > begin
    out[some] = axis.at[end[some]] - axis.at[begin[some]]
    return out


def _tied(length: FloatArray, machine: Machine, steps: Steps) -> FloatArray:
    """Return how much of each end of each line a tie along the line takes up: short lines get shorter ones or none."""
    if machine.ties != "tiny":
        return np.zeros(len(length))
    most = np.floor((length - steps.least_mm) / (2 * TIE_MM) + 1e-9)
    return TIE_MM * np.clip(most, 0, TIE_STITCHES)


def _bodies(lines: Sequence[Line], axis: Axis, tied: FloatArray) -> tuple[list[Path], BoolArray | None]:
    """Return the lines without the ties at their ends, and which of their vertices must get a needle point."""
    forced = _ends_of_backtracks(lines)
    paths, marks = [], []
    begin = axis.first[:-1]
    tips = np.zeros((len(lines), 2, 2))
    cut = tied > 0
    cuts = np.column_stack([axis.at[begin[cut]], axis.at[axis.first[1:][cut] - 1]]) + tied[cut, None] * [1, -1]
    if cut.any():
        tips[cut] = axis.point(cuts.ravel()).reshape(-1, 2, 2)
    inside = np.searchsorted(axis.at, cuts + np.array([SAME_MM, -SAME_MM]))
    rows = np.column_stack([begin, axis.first[1:]])
    rows[cut] = inside
    for i, line in enumerate(lines):
        a, b = rows[i]
        mark = np.zeros(b - a, dtype=bool) if forced is None else forced[a:b]
        if cut[i]:
            paths.append(np.concatenate([tips[i, :1], axis.xy[a:b], tips[i, 1:]]))
            marks.append(np.concatenate([[False], mark, [False]]))
        else:
            paths.append(line.path)
            marks.append(mark)
    return paths, None if forced is None else np.concatenate(marks)


def _pauses(ends: _Ends, lines: Sequence[Line], machine: Machine, batting: Batting) -> _Rows:
    """Return a stop at the end of each line before another thread, before the bobbin would run out, or with no move.

    Without a move nothing but that stop says in a stitch file that a line ends and the next one begins.
    """
    need = thread_mm(
        ends.end - ends.start, ends.last - ends.first, machine, thickness_mm=batting.thickness_mm, lines=1
    )[1]
    threads = [lines[i].thread for i in ends.line]
    other = [k for k in range(1, len(threads)) if threads[k] != threads[k - 1]]
    unmoved = [
        k
        for k in range(1, len(threads))
        if np.abs(lines[ends.line[k]].path[0] - lines[ends.line[k - 1]].path[-1]).max() < UNMOVED_MM
    ]
    stops = np.array(sorted({*bobbin_changes(need, machine.bobbin_mm), *other, *unmoved}), dtype=np.intp) - 1
    at = ends.end[stops]
    return _rows(ends.line[stops], at + 2 * _AFTER, at, Needle.STOP)


def _ends_of_backtracks(lines: Sequence[Line]) -> BoolArray | None:
    # Where a backtracked stretch begins and ends gets a needle point on every pass, so both passes share all holes.
    offset, wanted = 0, []
    for line in lines:
        wanted += [offset + i for s in line.spans if s.kind == "backtrack" for i in (s.start, s.end)]
        offset += len(line.path)
    if not wanted:
        return None
    grid = np.rint(np.concatenate([line.path for line in lines]) / GRID_MM).astype(np.int64)
    key = grid[:, 0] * 2654435761 ^ grid[:, 1] * 40503  # spreads the grid over a table, far faster than sorting
    table = np.zeros(1 << 22, dtype=bool)
    slot = key & (len(table) - 1)
    table[slot[wanted]] = True
    maybe = np.flatnonzero(table[slot])
    out = np.zeros(len(grid), dtype=bool)
    out[maybe[np.isin(key[maybe], key[wanted])]] = True
    return out


def _spans(
    lines: Sequence[Line],
    axis: Axis,
    line: IntArray,
    at: FloatArray,
    kind: NDArray[np.uint8],
) -> tuple[NDArray[np.int32], NDArray[np.int32]]:
    """Return each row's span within its line and its zone: of the middle of the stitch that leads to it."""
    begins, index, zone = [], [], []
    for i, each in enumerate(lines):
        for k, span in enumerate(each.spans):
            begins.append(axis.first[i] + span.start)
            index.append(k)
            zone.append(span.zone)
    spans, zones = np.full(len(at), -1, np.int32), np.full(len(at), -1, np.int32)
    if begins:
        needle = np.flatnonzero(kind <= Needle.TIE)
        place = at[needle]
        middle = place.copy()
        same = line[needle][1:] == line[needle][:-1]
        middle[1:][same] = (place[1:] + place[:-1])[same] / 2
        found = np.maximum(np.searchsorted(axis.at[begins], middle + SAME_MM, side="right") - 1, 0)
        spans[needle] = np.array(index, np.int32)[found]
        zones[needle] = np.array(zone, np.int32)[found]
    return spans, zones
