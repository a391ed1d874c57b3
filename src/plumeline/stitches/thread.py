"""Thread and bobbins of a lockstitch (ISO 4915 type 301).

Straight-leg model: over a seam of length L with n stitches through a sandwich of thickness T, each thread lies once
along the seam and dips to where the two interlace and back: needle ``L + 2 q T n``, bobbin ``L + 2 (1 - q) T n``, with
q = 0.5 when they interlace in the middle. Together that is the textbook ``2 + 2 T S`` for S stitches a unit of length.
The threads' own thickness and tension are left out; the waste covers them.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from ..errors import StitchError
from ..model import FloatArray, Machine
from ..tolerances import SAME_MM

__all__ = ["WASTE", "bobbin_changes", "bobbins", "longest_line_mm", "thread_mm"]

WASTE = 0.15
"""Thread for tails, tension tests and breaks; suppliers' sheets say 10 to 20 %."""
INTERLACE = 0.5
"""Where the threads interlace: in the middle of the sandwich."""
TAIL_MM = 120.0
"""Tail of each thread at each end of a line; `BURIED_TAIL_MM` (6 in) where tails are buried."""
BURIED_TAIL_MM = 152.4
BOBBIN_USE = 0.95
"""Share of a bobbin that gets used before it is changed."""
LINE_USE = 0.9
"""Share of a bobbin that a line may need before it is stopped: the rest is doubt about the wind and the tension."""


def thread_mm(
    sewn_mm: ArrayLike, stitches: ArrayLike, machine: Machine, *, thickness_mm: float, lines: ArrayLike = 0
) -> tuple[FloatArray, FloatArray]:
    """Return needle and bobbin thread in mm, waste and tails included.

    Parameters
    ----------
    sewn_mm, stitches, lines : array_like
        Length sewn, number of stitches, and number of lines (each has two tails), of one or many stretches.
    machine : Machine
        Its ties and tails count.
    thickness_mm : float
        Thickness of the quilt sandwich under the thread.

    Returns
    -------
    array, array
        Needle thread and bobbin thread, of the shape of ``sewn_mm``.
    """
    sewn, count = np.asarray(sewn_mm, dtype=np.float64), np.asarray(stitches, dtype=np.float64)
    tail = BURIED_TAIL_MM if machine.ties == "bury" else TAIL_MM
    tails = 2 * tail * np.asarray(lines, dtype=np.float64)
    needle = (sewn + 2 * INTERLACE * thickness_mm * count) * (1 + WASTE) + tails
    bobbin = (sewn + 2 * (1 - INTERLACE) * thickness_mm * count) * (1 + WASTE) + tails
    return needle, bobbin


def bobbin_changes(line_mm: ArrayLike, capacity_mm: float | None) -> list[int]:
    """Return the lines, by their number, before which the bobbin is changed: it would run out within them.

    ``line_mm`` is the bobbin thread of each line, ``(n,)``, in sewing order.
    """
    full = math.inf if capacity_mm is None else BOBBIN_USE * capacity_mm
    left, out = full, []
    for k, wanted in enumerate(np.atleast_1d(np.asarray(line_mm, dtype=np.float64)).tolist()):
        if k and wanted > left + SAME_MM:
            out.append(k)
            left = full
        left -= wanted
    return out


def bobbins(line_mm: ArrayLike, capacity_mm: float | None) -> int | None:
    """Return how many bobbins lines need, changed between them; None when nobody said how much one holds.

    A line that a full bobbin does not sew takes as many as its thread fills.

    Parameters
    ----------
    line_mm : array_like
        Bobbin thread that each line takes, in sewing order, mm.
    capacity_mm : float, optional
        What a bobbin holds, mm.

    Returns
    -------
    int or None
        0 for no lines.
    """
    if capacity_mm is None:
        return None
    need = np.atleast_1d(np.asarray(line_mm, dtype=np.float64))
    if not need.any():
        return 0
    over = np.ceil((need - SAME_MM) / (BOBBIN_USE * capacity_mm)) - 1
    return 1 + len(bobbin_changes(need, capacity_mm)) + int(np.maximum(over, 0).sum())


def longest_line_mm(machine: Machine, *, thickness_mm: float, stitches_per_mm: float | None = None) -> float | None:
    """Return how long a line may be so that it needs 90 % of a bobbin; None when nobody said how much one holds.

    The inverse of `thread_mm` for one line, its tails included.

    Parameters
    ----------
    machine : Machine
        It says how much a bobbin holds, and how long a stitch is.
    thickness_mm : float
        Of the quilt sandwich under the thread.
    stitches_per_mm : float, optional
        How closely the line is stitched; left out, as closely as a straight line.

    Returns
    -------
    float or None
        mm of line.

    Raises
    ------
    StitchError
        So short a bobbin does not even hold the tails of a line.
    """
    if machine.bobbin_mm is None:
        return None
    each = 1 / machine.stitch_mm if stitches_per_mm is None else stitches_per_mm
    none, one = (float(thread_mm(mm, mm * each, machine, thickness_mm=thickness_mm, lines=1)[1]) for mm in (0.0, 1.0))
    longest = (LINE_USE * machine.bobbin_mm - none) / (one - none)
    if not longest > 0:
        raise StitchError(
            f"is {machine.bobbin_mm:g} mm; must be more than the {none / LINE_USE:.0f} mm that a line's tails take",
            key="machine.bobbin",
        )
    return longest
