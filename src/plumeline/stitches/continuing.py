"""Going on after a thread break: the rest of a stitch file, from a little before the place where it stopped."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..errors import StitchError
from ..geometry import arc_lengths
from ..model import FloatArray, Needle, NeedlePoints
from ..tolerances import SAME_MM

__all__ = ["continue_from"]

TIE_MM = 0.5
"""Length of a tying stitch."""

TIE_SLACK_MM = 0.15
"""Stitch files hold places to 0.1 mm: a tying stitch may come back this much longer or shorter."""

MOST_TIES = 5
"""Stitches of the longest tie."""

BACK_TIE = (0.5, 1.0, 0.5, 0.0)
"""A tie forth and back into the first hole: distances along the line."""

CLEAR_MM = 0.6
"""The first hole after the tie is at least this far from it."""


def continue_from(points: NeedlePoints, line: int, *, stitch: int | None = None, back_mm: float = 25.4) -> NeedlePoints:
    """Return the rest of a stitch file after a thread break.

    Parameters
    ----------
    points : NeedlePoints
        The whole file.
    line : int
        Line that broke, from 1.
    stitch : int, optional
        Stitch of that line at which it broke, from 1; its first when left out.
    back_mm : float
        How far before the break to begin, along the line; at most to the line's start.

    Returns
    -------
    NeedlePoints
        A move to the hole where it begins, its first stitch, a stop if the line has one there (pull the bobbin
        thread up), a tie like the line's own, then every needle point and command that follows, unchanged.

    Raises
    ------
    StitchError
        There is no such line or stitch; ``back_mm`` is negative.
    """
    if not back_mm >= 0:
        raise StitchError(f"is {back_mm:g} mm; must be 0 or more", key="--back")
    needle = np.flatnonzero(points.kind <= Needle.TIE)
    numbers = np.unique(points.line[needle])
    if not 1 <= line <= len(numbers):
        raise StitchError(f"is {line}; the file has lines 1 to {len(numbers)}", key="--line")
    mine = needle[points.line[needle] == numbers[line - 1]]
    if stitch is not None and not 1 <= stitch < len(mine):
        raise StitchError(f"is {stitch}; line {line} has stitches 1 to {len(mine) - 1}", key="--stitch")
    path = points.xy[mine]
    s = arc_lengths(path)
    # the first hole is no stitch: stitch k ends in hole k
    start = int(np.searchsorted(s, s[stitch or 0] - back_mm + SAME_MM, side="right")) - 1
    if start < 1:
        rest = np.arange(mine[0], len(points.kind))
        if mine[0] and points.kind[mine[0] - 1] == Needle.JUMP:
            return _rows(points, np.concatenate([mine[:1] - 1, rest]))
        # after a planned stop there is no move
        return _headed(points, rest, int(mine[0]), [Needle.JUMP], np.zeros((0, 2)))
    tie, resume = _tie(path[start:], *_tied(path))
    head = [Needle.JUMP, Needle.STITCH]
    if mine[0] + 1 < len(points.kind) and points.kind[mine[0] + 1] == Needle.STOP:
        head.append(Needle.STOP)
    rest = np.arange(mine[start + resume], len(points.kind))
    return _headed(points, rest, int(mine[start]), head, tie)


def _tied(path: FloatArray) -> tuple[int, bool]:
    """Return how many tying stitches a line begins with, and whether they lead back into its first hole."""
    steps = np.hypot(*np.diff(path[: MOST_TIES + 1], axis=0).T)
    count = int(np.cumprod(np.abs(steps - TIE_MM) <= TIE_SLACK_MM).sum())
    back = count == len(BACK_TIE) and float(np.hypot(*(path[count] - path[0]))) <= TIE_SLACK_MM
    return count, back


def _tie(path: FloatArray, count: int, back: bool) -> tuple[FloatArray, int]:
    """Return the tying needle points after the first point of a path, and which of its points comes next."""
    s = arc_lengths(path)
    fits = int(max(float(s[-1]) - CLEAR_MM, 0.0) / TIE_MM)
    ways = list(BACK_TIE) if back else [TIE_MM * (k + 1) for k in range(min(count, fits))]
    resume = 1 if back or not ways else int(np.searchsorted(s, ways[-1] + CLEAR_MM - SAME_MM))
    tie = np.column_stack([np.interp(ways, s, path[:, axis]) for axis in (0, 1)]).reshape(-1, 2)
    return tie, min(resume, len(path) - 1)


def _headed(points: NeedlePoints, rest: np.ndarray, begin: int, head: Sequence[int], tie: FloatArray) -> NeedlePoints:
    new = np.full(len(head) + len(tie), begin)
    whole = _rows(points, np.concatenate([new, rest]))
    xy, kind, span, zone = whole.xy.copy(), whole.kind.copy(), whole.span.copy(), whole.zone.copy()
    xy[len(head) : len(new)] = tie
    kind[: len(new)] = [*head, *[Needle.TIE] * len(tie)]
    commands = np.flatnonzero(kind[: len(new)] > Needle.TIE)
    span[commands] = zone[commands] = -1
    return NeedlePoints(xy, kind, span, whole.line, zone, points.names, points.reach)


def _rows(points: NeedlePoints, rows: np.ndarray) -> NeedlePoints:
    return NeedlePoints(
        points.xy[rows],
        points.kind[rows],
        points.span[rows],
        points.line[rows],
        points.zone[rows],
        points.names,
        points.reach,
    )
