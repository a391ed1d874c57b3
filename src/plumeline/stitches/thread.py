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

from ..model import FloatArray, Machine

__all__ = ["BOBBIN_USE", "WASTE", "bobbins", "thread_mm"]

WASTE = 0.15
"""Thread for tails, tension tests and breaks; suppliers' sheets say 10 to 20 %."""
INTERLACE = 0.5
"""Where the threads interlace: in the middle of the sandwich."""
TAIL_MM = 120.0
"""Tail of each thread at each end of a line; `BURIED_TAIL_MM` (6 in) where tails are buried."""
BURIED_TAIL_MM = 152.4
BOBBIN_USE = 0.95
"""Share of a bobbin that gets used before it is changed."""


def thread_mm(
    sewn_mm: ArrayLike, stitches: ArrayLike, machine: Machine, *, thickness_mm: float, lines: ArrayLike = 0
) -> tuple[FloatArray, FloatArray]:
    """Return needle and bobbin thread in mm, waste and tails included.

    Parameters
    ----------
    sewn_mm, stitches, lines : array_like
        Length sewn, number of stitches, and number of lines (each has two tails), of one or many stretches.
    thickness_mm : float
        Thickness of the quilt sandwich under the thread.
    """
    sewn, count = np.asarray(sewn_mm, dtype=np.float64), np.asarray(stitches, dtype=np.float64)
    tail = BURIED_TAIL_MM if machine.ties == "bury" else TAIL_MM
    tails = 2 * tail * np.asarray(lines, dtype=np.float64)
    needle = (sewn + 2 * INTERLACE * thickness_mm * count) * (1 + WASTE) + tails
    bobbin = (sewn + 2 * (1 - INTERLACE) * thickness_mm * count) * (1 + WASTE) + tails
    return needle, bobbin


def bobbins(bobbin_mm: float, capacity_mm: float | None) -> int | None:
    """Return how many bobbins that thread needs; None when nobody said how much one holds."""
    return None if capacity_mm is None else math.ceil(bobbin_mm / (BOBBIN_USE * capacity_mm) - 1e-9)
