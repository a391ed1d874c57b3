"""The machine plan: what stitching the needle points takes in time, thread and bobbins."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..model import Batting, FloatArray, Machine, Needle, NeedlePoints
from .thread import bobbin_changes, bobbins, thread_mm
from .timing import sewing_seconds

__all__ = ["MachinePlan", "ZoneStitches", "machine_plan", "new_bobbins"]

JUMP_MM_S = 100.0
"""Pace of a move without sewing."""


@dataclass(frozen=True, slots=True)
class ZoneStitches:
    """Stitches and length sewn in one zone (``""``: travel between zones)."""

    name: str
    stitches: int
    sewn_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class MachinePlan:
    """What stitching takes. Every number is 0 when there is nothing to stitch.

    Attributes
    ----------
    stitches : int
        Stitches, ties included: one less than the needle points of each line.
    sewn_mm, jump_mm, longest_line_mm : float
        Length of all stitches, of the moves from line to line, of the longest line.
    lines, jumps, trims, stops : int
        A jump is the move from a line to the next of the same reach.
    minutes : float
        Sewing, moves of the head and of the quilt, and the pause at each line's start and stop.
    moving_minutes : float
        Moving the quilt from reach to reach.
    sewing_minutes : float
        Sewing alone.
    needle_thread_m, bobbin_thread_m : float
        Waste and tails included.
    bobbins : int or None
        None when the machine does not say how much one holds.
    shortest_stitch_mm, longest_stitch_mm : float
        Ties left out.
    zones : tuple of ZoneStitches
        One for each zone that has stitches, in the order of the names; travel between zones last.
    """

    stitches: int
    sewn_mm: float
    lines: int
    jumps: int
    jump_mm: float
    trims: int
    stops: int
    minutes: float
    sewing_minutes: float
    moving_minutes: float
    needle_thread_m: float
    bobbin_thread_m: float
    bobbins: int | None
    shortest_stitch_mm: float
    longest_stitch_mm: float
    longest_line_mm: float
    zones: tuple[ZoneStitches, ...] = ()


def machine_plan(points: Sequence[NeedlePoints], machine: Machine, batting: Batting | None = None) -> MachinePlan:
    """Return what stitching the needle points of all reaches takes.

    Parameters
    ----------
    points : sequence of NeedlePoints
        One for each reach.
    machine : Machine
        Pace, pauses, ties and bobbin.
    batting : Batting, optional
        Its thickness counts for the thread.

    Returns
    -------
    MachinePlan
        All figures 0 where there is no line.

    Examples
    --------
    >>> from plumeline.model import Line, Span, as_path
    >>> from plumeline.stitches import stitch_lines
    >>> line = Line(as_path([(0, 0), (254, 0)]), (Span(0, 1, "stitch"),))
    >>> plan = machine_plan([stitch_lines([line], Machine(ties="bury"))], Machine(ties="bury"))
    >>> plan.stitches, round(plan.longest_stitch_mm, 6)
    (100, 2.54)
    """
    batting = batting or Batting()
    reaches = [_sewn(p) for p in points]
    length = np.concatenate([np.zeros(0), *(r.length for r in reaches)])
    plain = np.concatenate([np.zeros(0), *(r.length[~r.tie] for r in reaches)])
    per_line = np.concatenate([np.zeros(0), *(r.lines_mm for r in reaches)])
    per_line_count = np.concatenate([np.zeros(0), *(r.line_stitches for r in reaches)])
    lines = len(per_line)
    jump_mm = sum(r.jump_mm for r in reaches)
    sewn_mm = float(length.sum())
    needle, bobbin = thread_mm(sewn_mm, len(length), machine, thickness_mm=batting.thickness_mm, lines=lines)
    sewing = sum(sewing_seconds(r.xy, r.line, machine) for r in reaches)
    moving = machine.move_s * (sum(bool(len(r.lines_mm)) for r in reaches) - 1) if lines else 0.0
    return MachinePlan(
        stitches=len(length),
        sewn_mm=sewn_mm,
        lines=lines,
        jumps=sum(max(len(r.lines_mm) - 1, 0) for r in reaches),
        jump_mm=jump_mm,
        trims=sum(int((p.kind == Needle.TRIM).sum()) for p in points),
        stops=sum(int((p.kind == Needle.STOP).sum()) for p in points),
        minutes=(sewing + jump_mm / JUMP_MM_S + lines * machine.pause_s + moving) / 60,
        sewing_minutes=sewing / 60,
        moving_minutes=moving / 60,
        needle_thread_m=float(needle) / 1000,
        bobbin_thread_m=float(bobbin) / 1000,
        bobbins=bobbins(
            thread_mm(per_line, per_line_count, machine, thickness_mm=batting.thickness_mm, lines=1)[1],
            machine.bobbin_mm,
        ),
        shortest_stitch_mm=float(plain.min()) if len(plain) else 0.0,
        longest_stitch_mm=float(plain.max()) if len(plain) else 0.0,
        longest_line_mm=float(per_line.max()) if lines else 0.0,
        zones=_by_zone(points, reaches),
    )


def new_bobbins(points: NeedlePoints, machine: Machine, batting: Batting) -> list[int]:
    """Return the lines of a reach, from 1 in sewing order, before which its bobbin, full at the start, is changed.

    Parameters
    ----------
    points : NeedlePoints
        The needle points of one reach.
    machine : Machine
        It says how much a bobbin holds.
    batting : Batting
        Its thickness counts for each stitch.

    Returns
    -------
    list of int
        Numbers of lines; empty where one bobbin does, or nobody said how much it holds.
    """
    sewn = _sewn(points)
    need = thread_mm(sewn.lines_mm, sewn.line_stitches, machine, thickness_mm=batting.thickness_mm, lines=1)[1]
    return [k + 1 for k in bobbin_changes(need, machine.bobbin_mm)]


@dataclass(frozen=True, slots=True, eq=False)
class _Sewn:
    xy: FloatArray
    line: np.ndarray
    length: FloatArray
    tie: np.ndarray
    zone: np.ndarray
    lines_mm: FloatArray
    line_stitches: FloatArray
    jump_mm: float


def _sewn(points: NeedlePoints) -> _Sewn:
    needle = points.kind <= Needle.TIE
    xy, line = points.xy[needle], points.line[needle]
    step = np.hypot(*np.diff(xy, axis=0).T) if len(xy) > 1 else np.zeros(0)
    same = np.diff(line) == 0 if len(xy) > 1 else np.zeros(0, dtype=bool)
    to = np.flatnonzero(needle)[1:][same]
    lines, index = np.unique(line, return_inverse=True)
    lines_mm = np.bincount(index[1:][same], weights=step[same], minlength=len(lines)).astype(np.float64)
    count = np.bincount(index[1:][same], minlength=len(lines)).astype(np.float64)
    jump_mm = float(step[~same].sum())
    return _Sewn(xy, line, step[same], points.kind[to] == Needle.TIE, points.zone[to], lines_mm, count, jump_mm)


def _by_zone(points: Sequence[NeedlePoints], reaches: Sequence[_Sewn]) -> tuple[ZoneStitches, ...]:
    names = points[0].names if points else ()  # all reaches share them
    zone = np.concatenate([np.zeros(0, np.int32), *(r.zone for r in reaches)])
    length = np.concatenate([np.zeros(0), *(r.length for r in reaches)])
    place = np.where(zone < 0, len(names), zone)
    count = np.bincount(place, minlength=len(names) + 1)
    total = np.bincount(place, weights=length, minlength=len(names) + 1)
    return tuple(ZoneStitches(n, int(c), float(t)) for n, c, t in zip([*names, ""], count, total) if c)
