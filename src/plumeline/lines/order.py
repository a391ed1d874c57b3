"""In which order lines are sewn, and which way round: short moves of the head between them.

A few lines are put in the best order there is. For many it is nearest neighbour, then 2-opt, in which a turned stretch
also turns each of its lines, and Or-opt, in which a few lines in a row move elsewhere. Jump length is worth seconds;
the number of jumps, settled before, is worth minutes: no more effort is due.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, TypeAlias

import numpy as np
from numpy.typing import NDArray

from ..model import FloatArray
from .entering import far_from

__all__ = ["FEW", "Order", "bands", "best_orders", "order_lines"]

Order: TypeAlias = Literal["any", "rows", "centre-out"]

IN_A_ROW = 0.1
"""Centres that lie within this part of their longer spread are in a row: their small spread across it says nothing."""

SWEEPS = 30
"""Most sweeps of 2-opt over all lines; it settles in about ten."""

FEW = 8
"""So many lines are put in the best order there is: the work doubles with each further one."""

TOGETHER = 3
"""Or-opt moves up to so many lines in a row."""

OR_OPT_LINES = 150
"""Or-opt is left out for more lines: its time grows with the square of their number, and it saves 1 to 3 %."""


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
    O(k^2) time for k lines, O(k) memory. 2-opt and Or-opt: Lin (1965), Or (1976).
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
    if count <= OR_OPT_LINES and _or_opt(line, turned, first, last, origin, then):
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


def _or_opt(
    line: NDArray[np.int64],
    turned: NDArray[np.bool_],
    first: FloatArray,
    last: FloatArray,
    origin: FloatArray,
    then: FloatArray | None,
) -> bool:
    """Move up to three lines in a row, turned or not, to where the head moves less; return whether any moved."""
    count, moved = len(line), False
    goal = np.full(2, np.nan) if then is None else then  # nowhere to go on to: no move to there
    for size in range(1, min(TOGETHER, count - 1) + 1):
        for i in range(count - size + 1):
            enter = np.vstack([np.where(turned[:, None], last[line], first[line]), goal])
            leave = np.vstack([origin, np.where(turned[:, None], first[line], last[line])])
            head, tail = enter[i], leave[i + size]
            gain = _apart(leave[i], head) + _apart(tail, enter[i + size]) - _apart(leave[i], enter[i + size])
            before = np.delete(leave, slice(i + 1, i + size + 1), axis=0)  # place p of the rest lies between these two
            after = np.delete(enter, slice(i, i + size), axis=0)
            now = _apart(before, after)
            ways = np.array([_apart(before, a) + _apart(b, after) - now for a, b in ((head, tail), (tail, head))])
            way, place = np.unravel_index(int(np.argmin(np.round(ways, 6))), ways.shape)
            if ways[way, place] < gain - 1e-6:
                taken = slice(i, i + size)
                one, turn = line[taken].copy(), turned[taken].copy()
                if way:
                    one, turn = one[::-1], ~turn[::-1]
                line[:] = np.insert(np.delete(line, taken), int(place), one)
                turned[:] = np.insert(np.delete(turned, taken), int(place), turn)
                moved = True
    return moved


def _apart(a: FloatArray, b: FloatArray) -> FloatArray:
    # how far places lie apart; nothing to a place that is not known
    out: FloatArray = np.nan_to_num(np.hypot(*np.moveaxis(b - a, -1, 0)), nan=0.0)
    return out


def best_orders(
    groups: Sequence[Sequence[FloatArray]],
    *,
    begin: FloatArray | None = None,
    then: FloatArray | None = None,
    before: Sequence[Sequence[set[int]]] | None = None,
) -> list[list[int]]:
    """Return the order of a few lines in each of several groups in which the head moves least from start to stop.

    Parameters
    ----------
    groups : sequence of sequence of (n, 2, 2)
        The groups, sewn one after the other. For each line of a group the ways to sew it: where it begins and where it
        ends, mm.
    begin, then : (2,), optional
        Where the head comes from and where it goes on to, as far as that is known.
    before : sequence of sequence of set, optional
        For each line of a group those that must be sewn before it; some order must allow that.

    Notes
    -----
    Exact, over all subsets of each group (Held and Karp, 1962): O(2^k c^2) time for k lines with c ways in all.
    """
    tables: list[_Table] = []
    for k, places in enumerate(groups):
        needs = [set[int]()] * len(places) if before is None else before[k]
        enter = np.vstack([p[:, 0] for p in places])
        if tables:
            on = tables[-1].least[:, None] + np.round(_apart(tables[-1].leave[:, None], enter[None]), 6)
            came = np.argmin(on, axis=0)
            tables.append(_table(places, needs, on[came, np.arange(len(enter))], came))
        else:
            tables.append(_table(places, needs, np.round(far_from(begin, enter), 6), np.zeros(len(enter), np.int64)))
    at = int(np.argmin(tables[-1].least + np.round(far_from(then, tables[-1].leave), 6)))
    out = []
    for table in reversed(tables):
        done, order = len(table.came) - 1, [at]
        while table.came[done, order[-1]] >= 0:
            done, on_from = done & ~(1 << int(table.owner[order[-1]])), int(table.came[done, order[-1]])
            order.append(on_from)
        out.append([int(table.owner[k]) for k in reversed(order)])
        at = int(table.first[order[-1]])
    return out[::-1]


@dataclass(frozen=True, slots=True, eq=False)
class _Table:
    # for each way to end a group: the least move up to there; for each subset sewn and way to end it the way before;
    # for each way to begin it the way in which the group before ends
    owner: NDArray[np.int64]
    leave: FloatArray
    least: FloatArray
    came: NDArray[np.int64]
    first: NDArray[np.int64]


def _table(
    places: Sequence[FloatArray], before: Sequence[set[int]], start: FloatArray, first: NDArray[np.int64]
) -> _Table:
    count = len(places)
    owner = np.repeat(np.arange(count), [len(p) for p in places])
    enter, leave = (np.vstack([p[:, k] for p in places]) for k in (0, 1))
    apart = np.round(_apart(leave[:, None], enter[None]), 6)
    needs = [sum(1 << k for k in one) for one in before]
    cost = np.full((1 << count, len(owner)), np.inf)
    came = np.full(cost.shape, -1, dtype=np.int64)
    for k in range(count):
        if not needs[k]:
            cost[1 << k, owner == k] = start[owner == k]
    for done in range(1, 1 << count):
        sewn = np.flatnonzero(np.isfinite(cost[done]))
        if not len(sewn):
            continue
        on = cost[done, sewn, None] + apart[sewn]
        best = np.argmin(on, axis=0)
        for k in range(count):
            if not done >> k & 1 and needs[k] & ~done == 0:
                ways = np.flatnonzero(owner == k)
                cost[done | 1 << k, ways] = on[best[ways], ways]
                came[done | 1 << k, ways] = sewn[best[ways]]
    return _Table(owner, leave, cost[-1], came, first)


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
