"""Curves that touch an edge and leave it again: what lies between is a cusp, and no gap to be closed."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from ...model import FloatArray

__all__ = ["Beside", "tangent"]


@dataclass(frozen=True, slots=True, eq=False)
class Beside:
    """Nodes near edges, as parallel arrays: node, the edge's shape, how far, and the edge's two end nodes."""

    node: np.ndarray
    shape: np.ndarray
    far: np.ndarray
    start: np.ndarray
    end: np.ndarray


def tangent(
    nodes: FloatArray,
    chains: Sequence[np.ndarray],
    closed: Sequence[bool],
    shape: np.ndarray,
    sharp: np.ndarray,
    beside: Beside,
    *,
    meet_mm: float,
) -> np.ndarray:
    """Return which of the near nodes lie on a curve that only touches the shape there, ``(k,)`` bool.

    Along its own path such a curve is near the shape over a stretch without a corner; at one end of the stretch it
    meets the shape (within ``meet_mm``), at the other it leaves it: beside an edge, not because the shape ends there
    in a corner. So the gap grows from nothing, and closing a part of it would only bend the edge.

    Parameters
    ----------
    nodes : ``(n, 2)`` array
    chains : sequence of int arrays
        The nodes of each path; ``closed`` says which are rings, ``shape`` whose they are.
    sharp : ``(n,)`` bool
        Which nodes are corners.
    """
    order = np.lexsort((-np.arange(len(beside.node)), beside.far, beside.shape, beside.node))
    first = np.ones(len(order), dtype=bool)
    first[1:] = (np.diff(beside.node[order]) != 0) | (np.diff(beside.shape[order]) != 0)
    order = order[first]
    nearest = dict(zip(zip(beside.node[order].tolist(), beside.shape[order].tolist()), order.tolist()))
    loose_near: dict[int, list[int]] = {}  # near a shape, but not met with it
    for k in order[beside.far[order] > meet_mm].tolist():
        loose_near.setdefault(int(beside.node[k]), []).append(int(beside.shape[k]))

    def leaves(last: int, beyond: int, s: int) -> bool:
        k = nearest[last, s]
        a, b = int(beside.start[k]), int(beside.end[k])
        way = nodes[b] - nodes[a]
        at = float((nodes[beyond] - nodes[a]) @ way)
        return 0 < at < float(way @ way) or not sharp[a if at <= 0 else b]

    def meets(n: int, s: int) -> bool:
        return (n, s) in nearest and bool(beside.far[nearest[n, s]] <= meet_mm)

    found: set[tuple[int, int]] = set()
    is_loose = np.zeros(len(nodes), dtype=bool)
    is_loose[list(loose_near)] = True
    for chain, ring, own in zip(chains, closed, shape.tolist()):
        ids = chain.tolist()
        loose: dict[int, list[int]] = {}
        for place in np.flatnonzero(is_loose[chain]).tolist():
            for s in loose_near[ids[place]]:
                if s != own:
                    loose.setdefault(s, []).append(place)
        for s, places in sorted(loose.items()):
            for before, run, after in _runs(ids, places, ring):
                ends = [(run[0], before), (run[-1], after)]
                if sharp[run].any() or any(beyond is None for _, beyond in ends):
                    continue
                met = [meets(beyond, s) for _, beyond in ends if beyond is not None]
                left = [leaves(last, beyond, s) for last, beyond in ends if beyond is not None]
                if met[0] != met[1] and left[met.index(False)]:
                    found |= {(n, s) for n in run}
    kinds = int(shape.max()) + 1
    touching = np.array([n * kinds + s for n, s in found], dtype=np.int64)
    return np.isin(beside.node * kinds + beside.shape, touching)


def _runs(ids: Sequence[int], places: Sequence[int], ring: bool) -> Iterator[tuple[int | None, list[int], int | None]]:
    """Yield each longest run of nodes at places that follow each other, the node before and the one after (or None)."""
    count = len(ids)
    if len(places) == count:
        return
    breaks = [0, *(k for k in range(1, len(places)) if places[k] != places[k - 1] + 1), len(places)]
    runs = [list(places[a:b]) for a, b in pairwise(breaks)]
    if ring and len(runs) > 1 and runs[0][0] == 0 and runs[-1][-1] == count - 1:
        runs[0] = runs.pop() + runs[0]
    for run in runs:
        before = ids[run[0] - 1] if ring or run[0] else None
        beyond = (run[-1] + 1) % count
        yield before, [ids[k] for k in run], ids[beyond] if ring or beyond else None
