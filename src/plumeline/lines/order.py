"""In which order lines are sewn, and which way round: short moves of the head between them.

Nearest neighbour, then 2-opt in which a turned stretch also turns each of its lines. Jump length is worth
seconds; the number of jumps, settled before, is worth minutes: no more effort is due.
"""

from __future__ import annotations

from typing import Literal, TypeAlias

import numpy as np
from numpy.typing import NDArray

from ..model import FloatArray

__all__ = ["Order", "bands", "order_lines"]

Order: TypeAlias = Literal["any", "rows", "centre-out"]

IN_A_ROW = 0.1
"""Centres that lie within this part of their longer spread are in a row: their small spread across it says nothing."""

SWEEPS = 30
"""Most sweeps of 2-opt over all lines; it settles in about ten."""


def order_lines(
    first: FloatArray, last: FloatArray, *, begin: FloatArray | None = None, then: FloatArray | None = None
) -> list[tuple[int, bool]]:
    """Return the lines in sewing order, each with whether it is turned round.

    Parameters
    ----------
    first, last : (k, 2)
        Where each line starts and stops, mm (the same point for a closed one).
    begin : (2,), optional
        Where the head stands before the first line; default: the top left corner of all.
    then : (2,), optional
        Where the head goes after the last one.

    Notes
    -----
    O(k^2) time for k lines, O(k) memory.
    """
    count = len(first)
    if not count:
        return []
    here = np.minimum(first.min(axis=0), last.min(axis=0)) if begin is None else np.asarray(begin, dtype=float)
    origin = here
    left = np.ones(count, dtype=bool)
    line, turned = np.empty(count, dtype=np.int64), np.zeros(count, dtype=bool)
    for k in range(count):
        to_first = np.where(left, np.hypot(*(first - here).T), np.inf)
        to_last = np.where(left, np.hypot(*(last - here).T), np.inf)
        a, b = int(np.argmin(to_first)), int(np.argmin(to_last))
        turned[k] = to_last[b] < to_first[a] - 1e-9
        line[k] = b if turned[k] else a
        left[line[k]] = False
        here = first[line[k]] if turned[k] else last[line[k]]
    _two_opt(line, turned, first, last, origin, then)
    return [(int(k), bool(t)) for k, t in zip(line, turned)]


def _two_opt(
    line: NDArray[np.int64],
    turned: NDArray[np.bool_],
    first: FloatArray,
    last: FloatArray,
    origin: FloatArray,
    then: FloatArray | None,
) -> None:
    count = len(line)
    enter = np.where(turned[:, None], last[line], first[line])
    leave = np.where(turned[:, None], first[line], last[line])
    for _ in range(SWEEPS):
        better = False
        for i in range(count):
            before = leave[i - 1] if i else origin
            now = float(np.hypot(*(enter[i] - before)))
            gain = now - np.hypot(*(leave[i:] - before).T)
            after = enter[i + 1 :]  # turning i..j joins before-leave[j] and enter[i]-enter[j + 1]
            gain[:-1] += np.hypot(*(after - leave[i:-1]).T) - np.hypot(*(after - enter[i]).T)
            if then is not None:
                gain[-1] += np.hypot(*(leave[-1] - then)) - np.hypot(*(enter[i] - then))
            j = i + int(np.argmax(gain))
            if gain[j - i] > 1e-6:
                stretch = slice(i, j + 1)
                line[stretch], turned[stretch] = line[stretch][::-1].copy(), ~turned[stretch][::-1]
                turning = leave[stretch][::-1].copy()
                leave[stretch], enter[stretch] = enter[stretch][::-1].copy(), turning
                better = True
        if not better:
            return


def bands(centres: FloatArray, order: Order, *, count: int) -> NDArray[np.int64]:
    """Return the band of each centre ``(k, 2)``, sewn from 0 up: rows from the top, or rings from the centre out."""
    if order == "any" or count < 2 or not len(centres):
        return np.zeros(len(centres), dtype=np.int64)
    low, high = centres.min(axis=0), centres.max(axis=0)
    if order == "rows":
        place = (centres[:, 1] - low[1]) / max(high[1] - low[1], 1e-9)
    else:
        half = (high - low) / 2
        half = np.maximum(half, max(IN_A_ROW * half.max(), 1e-9))
        place = np.abs((centres - (low + high) / 2) / half).max(axis=1)
    band: NDArray[np.int64] = np.minimum((place * count).astype(np.int64), count - 1)
    return band
