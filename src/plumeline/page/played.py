"""What the page plays: runs of needle points by line, space and kind, and the stops on the way."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from ..model import FloatArray, Line, Needle, NeedlePoints
from ..quilt import Quilt

__all__ = ["KINDS", "pieces", "stops"]

KINDS = ("stitch", "seam-travel", "edge-travel", "step")
"""What a run is, by its number: thread that is meant to be seen, and the kinds of travel."""

KIND_OF_SPAN = {"seam": 1, "edge": 2, "step": 3}

PULL_UP = "Stop: pull the bobbin thread up."
NEW_BOBBIN = "Stop: the bobbin is empty here, put a new one in."


def _numbers(quilt: Quilt, points: NeedlePoints) -> list[int]:
    """Return for each line of a reach its number among all lines."""
    return [n for n, line in enumerate(quilt.lines) if line.reach == points.reach]


def pieces(quilt: Quilt) -> Iterator[tuple[FloatArray, int, int, int]]:
    """Yield runs of stitches of one space, line and kind: points, space, number of the line from 0, index of `KINDS`.

    Each begins where the one before it in its line ended.
    """
    for points in quilt.points:
        sewn = np.flatnonzero((points.kind == Needle.STITCH) | (points.kind == Needle.TIE))
        if len(sewn):
            numbers = _numbers(quilt, points)
            yield from _runs(points, sewn, [quilt.lines[n] for n in numbers], numbers)


def _runs(
    points: NeedlePoints, sewn: NDArray[np.intp], lines: Sequence[Line], numbers: Sequence[int]
) -> Iterator[tuple[FloatArray, int, int, int]]:
    zone, line, span = points.zone[sewn], points.line[sewn], points.span[sewn]
    first = np.cumsum([0, *(len(one.spans) for one in lines)])
    every = np.array([KIND_OF_SPAN.get(s.kind, 0) for one in lines for s in one.spans])
    kind = every[first[line] + span]
    changed = (np.diff(zone) != 0) | (np.diff(line) != 0) | (np.diff(kind) != 0)
    breaks = np.flatnonzero(changed) + 1
    for start, end in zip([0, *breaks], [*breaks, len(sewn)]):
        joins = start > 0 and line[start] == line[start - 1]
        run = sewn[start - joins : end]
        if len(run) > 1:
            yield points.xy[run], int(zone[start]), numbers[int(line[start])], int(kind[start])


def stops(quilt: Quilt) -> list[tuple[int, int, str]]:
    """Return each stop: number of its line from 0, stitches of that line sewn before it, what it is for in words."""
    out: list[tuple[int, int, str]] = []
    for points in quilt.points:
        numbers = _numbers(quilt, points)
        needle = (points.kind == Needle.STITCH) | (points.kind == Needle.TIE)
        line = -1
        for row in np.flatnonzero(points.kind == Needle.STOP).tolist():
            line = int(points.line[row])
            before = int((needle[:row] & (points.line[:row] == line)).sum()) - 1
            out.append((numbers[line], max(before, 0), PULL_UP if before < 1 else NEW_BOBBIN))
    return out
