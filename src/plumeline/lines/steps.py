"""Short visible steps from stroke to stroke, where nothing hidden connects them and she allows it."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from ..geometry import near_pairs
from ..model import Path, Stroke
from .sources import STEP, Source, Woven

__all__ = ["step_ways"]


def step_ways(
    sources: Sequence[Source],
    woven: Woven,
    strokes: Sequence[Stroke],
    *,
    within_mm: float,
    passes: int,
    may_step: Callable[[Path, int], bool],
) -> tuple[Source, ...]:
    """Return steps between strokes of one zone that the net does not connect, the shortest of each two groups.

    A step also leads from a stroke to a way; never from way to way, never from zone to zone, and only where
    ``may_step`` (path, number of a stroke at its end) says so.
    """
    u, v = woven.net.ends.T
    n = len(woven.nodes)
    _, label = connected_components(coo_array((np.ones(len(u)), (u, v)), shape=(n, n)), directed=False)
    group = np.full(len(sources), -1)
    group[woven.source] = label[u]
    open_at = [k for k, s in enumerate(sources) if s.splits and group[k] >= 0]
    paths = [sources[k].path[:-1] if sources[k].closed else sources[k].path for k in open_at]
    pairs, across = near_pairs(paths, closed=[sources[k].closed for k in open_at], within_mm=within_mm)
    best: dict[tuple[int, int], tuple[float, int]] = {}
    for k, (i, j) in enumerate((open_at[a], open_at[b]) for a, b in pairs.tolist()):
        a, b = sources[i], sources[j]
        if group[i] == group[j] or not (a.required or b.required):
            continue
        numbers = [s.members[0].stroke for s in (a, b) if s.required]
        if len({strokes[n].zone for n in numbers}) > 1 or not may_step(across[k], numbers[0]):
            continue
        key = (min(group[i], group[j]), max(group[i], group[j]))
        length = float(np.hypot(*(across[k][1] - across[k][0])))
        best[key] = min(best.get(key, (np.inf, -1)), (length, k))
    return tuple(
        Source(across[k], closed=False, splits=False, kind="step", factor=STEP, spare=passes)
        for _, k in (best[key] for key in sorted(best))
    )
