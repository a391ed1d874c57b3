"""Curves that touch an edge and leave it again: what lies between is a cusp, and no gap to be closed."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

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
    nearest: dict[tuple[int, int], int] = {}
    for k in np.argsort(-beside.far, kind="stable").tolist():
        nearest[int(beside.node[k]), int(beside.shape[k])] = k
    shapes_near: dict[int, list[int]] = {}
    for n, s in sorted(nearest):
        shapes_near.setdefault(n, []).append(s)

    def leaves(last: int, beyond: int, s: int) -> bool:
        k = nearest[last, s]
        a, b = int(beside.start[k]), int(beside.end[k])
        way = nodes[b] - nodes[a]
        at = float((nodes[beyond] - nodes[a]) @ way)
        return 0 < at < float(way @ way) or not sharp[a if at <= 0 else b]

    def meets(n: int, s: int) -> bool:
        return (n, s) in nearest and bool(beside.far[nearest[n, s]] <= meet_mm)

    found: set[tuple[int, int]] = set()
    for chain, ring, own in zip(chains, closed, shape.tolist()):
        ids = chain.tolist()
        for s in sorted({s for n in ids for s in shapes_near.get(n, ()) if s != own}):
            loose = [(n, s) in nearest and not meets(n, s) for n in ids]
            for before, run, after in _runs(ids, loose, ring):
                ends = [(run[0], before), (run[-1], after)]
                if sharp[run].any() or any(beyond is None for _, beyond in ends):
                    continue
                met = [meets(beyond, s) for _, beyond in ends if beyond is not None]
                left = [leaves(last, beyond, s) for last, beyond in ends if beyond is not None]
                if met[0] != met[1] and left[met.index(False)]:
                    found |= {(n, s) for n in run}
    pairs = zip(beside.node.tolist(), beside.shape.tolist())
    return np.fromiter(((n, s) in found for n, s in pairs), dtype=bool, count=len(beside.node))


def _runs(ids: Sequence[int], loose: Sequence[bool], ring: bool) -> Iterator[tuple[int | None, list[int], int | None]]:
    """Yield each longest run of loose nodes with the node before and the node after it (None at a free end)."""
    count = len(ids)
    if all(loose) or not any(loose):
        return
    first = loose.index(False) if ring else 0  # a ring is walked from a node that no run goes through
    run: list[int] = []
    for k in range(first, first + count + ring):
        i = k % count
        if loose[i]:
            run.append(i)
        elif run:
            before = ids[run[0] - 1] if ring or run[0] else None
            yield before, [ids[r] for r in run], ids[i]
            run = []
    if run:
        yield (ids[run[0] - 1] if run[0] else None), [ids[r] for r in run], None
