"""From "how often each edge" to lines: at every node the needle goes on with the least turn.

Each pass over an edge has two ends. At a node these are paired, straight on first; the pairs make open trails
and rings; rings are then merged into the trail or ring that they meet at the cost of the least further turn
(Kruskal's rule), until each group has as many trails as Euler's theorem asks for.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..model import FloatArray, IntArray

__all__ = ["Trail", "walk"]


TURN_BACK = 0.5
"""Radians added to turning back on the line just sewn: any other way on is better, and knots less."""

NOTHING = -1
"""Stands for the other end of a pass where a trail begins or stops."""


@dataclass(frozen=True, slots=True)
class Trail:
    """Edges in sewing order, each with whether it is sewn from its first end to its second; closed or not."""

    edges: tuple[tuple[int, bool], ...]
    closed: bool


def walk(ends: IntArray, times: IntArray, heading: FloatArray) -> tuple[Trail, ...]:
    """Walk a net.

    Parameters
    ----------
    ends : (m, 2) int
        The nodes that each edge joins.
    times : (m,) int
        How often each edge is sewn.
    heading : (m, 2) float
        Direction in which an edge leaves each of its ends, radians.

    Returns
    -------
    tuple of Trail
        max(1, odd nodes / 2) trails for each connected group, every edge as often as asked.
    """
    passes = np.repeat(np.arange(len(times)), times)
    if not len(passes):
        return ()
    # pass p has the ends 2 p and 2 p + 1, at the first and second node of its edge
    node = ends[passes].ravel()
    angle = heading[passes].ravel()
    edge = np.repeat(passes, 2)
    order = np.argsort(node, kind="stable")
    cuts = np.flatnonzero(np.diff(node[order])) + 1
    at_node = [group.tolist() for group in np.split(order, cuts)]
    turn = _Turns(angle.tolist(), (2 * edge + np.arange(len(edge)) % 2).tolist())
    mate = [NOTHING] * len(node)
    for group in at_node:
        for a, b in _pairs(group, turn):
            mate[a], mate[b] = b, a
    _merge_rings(at_node, mate, turn)
    return _trails(mate, edge)


class _Turns:
    """How far the needle turns from one end of a pass on to another."""

    def __init__(self, angle: Sequence[float], side: Sequence[int]) -> None:
        self._angle, self._side = angle, side

    def __call__(self, a: int, b: int) -> float:
        if a == NOTHING or b == NOTHING:
            return 0.0
        apart = abs(self._angle[a] - self._angle[b]) % (2 * math.pi)
        turn = math.pi - min(apart, 2 * math.pi - apart)
        return max(turn, 0.0) + (TURN_BACK if self._side[a] == self._side[b] else 0.0)


def _pairs(group: list[int], turn: _Turns) -> list[tuple[int, int]]:
    """Pair the ends at a node by least turn: exactly up to four ends, from straightest to sharpest beyond."""
    if len(group) < 2:
        return []
    if len(group) == 2:
        return [(group[0], group[1])]
    if len(group) == 4:
        a, b, c, d = group
        ways = [[(a, b), (c, d)], [(a, c), (b, d)], [(a, d), (b, c)]]
        return min(ways, key=lambda pairs: sum(turn(*p) for p in pairs))
    free, out = set(group), []
    for _, a, b in sorted((turn(a, b), a, b) for i, a in enumerate(group) for b in group[i + 1 :]):
        if a in free and b in free:
            free -= {a, b}
            out.append((a, b))
    return out


def _name_trails(mate: list[int]) -> tuple[list[int], list[bool]]:
    # number of the trail that each pass lies on, and whether the trail is open
    name = [-1] * (len(mate) // 2)
    is_open: list[bool] = []
    starts = [e for e, m in enumerate(mate) if m == NOTHING]
    for first in (*starts, *range(0, len(mate), 2)):
        if name[first // 2] >= 0:
            continue
        end = first
        while end != NOTHING and name[end // 2] < 0:
            name[end // 2] = len(is_open)
            end = mate[end ^ 1]
        is_open.append(mate[first] == NOTHING)
    return name, is_open


def _merge_rings(at_node: list[list[int]], mate: list[int], turn: _Turns) -> None:
    name, is_open = _name_trails(mate)
    trails = _Merged(len(is_open))
    root = trails.root

    def passages(group: list[int]) -> list[tuple[int, int]]:
        return [(e, mate[e]) for e in group if mate[e] == NOTHING or e < mate[e]]

    def swaps(i: int) -> list[tuple[float, int, int, int, int, int]]:
        # best re-pairing of each two passages of different trails; two open trails stay apart
        out, here = [], passages(at_node[i])
        roots = [root(name[a // 2]) for a, _ in here]
        if len(set(roots)) < 2:
            return []
        for k, (a, b) in enumerate(here):
            for m in range(k + 1, len(here)):
                if roots[k] == roots[m] or (is_open[roots[k]] and is_open[roots[m]]):
                    continue
                c, d = here[m]
                now = turn(a, b) + turn(c, d)
                out.append(
                    min((turn(a, c) + turn(b, d) - now, i, a, b, c, d), (turn(a, d) + turn(b, c) - now, i, a, b, d, c))
                )
        return out

    heap = [swap for i in range(len(at_node)) for swap in swaps(i)]
    heapq.heapify(heap)
    while heap:
        _, i, a, b, c, d = heapq.heappop(heap)
        first, second = (
            root(name[a // 2] if a != NOTHING else name[b // 2]),
            root(name[c // 2] if c != NOTHING else name[d // 2]),
        )
        if first == second or (is_open[first] and is_open[second]):
            continue
        if not (_mates(mate, a, b) and _mates(mate, c, d)):  # re-paired since: ask that node again
            for swap in swaps(i):
                heapq.heappush(heap, swap)
            continue
        _pair(mate, a, c)
        _pair(mate, b, d)
        if is_open[second]:
            first, second = second, first
        trails.parent[second] = first


class _Merged:
    """Which trails have become one, as a forest with halved paths."""

    def __init__(self, count: int) -> None:
        self.parent = list(range(count))

    def root(self, k: int) -> int:
        while self.parent[k] != k:
            self.parent[k] = self.parent[self.parent[k]]
            k = self.parent[k]
        return k


def _pair(mate: list[int], p: int, q: int) -> None:
    if p != NOTHING:
        mate[p] = q
    if q != NOTHING:
        mate[q] = p


def _mates(mate: list[int], a: int, b: int) -> bool:
    return mate[a] == b if a != NOTHING else mate[b] == a


def _trails(mate: list[int], edge: IntArray) -> tuple[Trail, ...]:
    done = [False] * (len(mate) // 2)
    out = []
    starts = [e for e, m in enumerate(mate) if m == NOTHING]
    for first in (*starts, *range(0, len(mate), 2)):
        if done[first // 2]:
            continue
        end, steps = first, []
        while end != NOTHING and not done[end // 2]:
            done[end // 2] = True
            steps.append((int(edge[end]), end % 2 == 0))
            end = mate[end ^ 1]
        out.append(Trail(tuple(steps), mate[first] != NOTHING))
    return tuple(out)
