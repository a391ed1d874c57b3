"""How often each edge of a net is sewn, so that few and short lines cover all that must be stitched.

The problem is the rural postman's with priced jumps: every required edge at least once, further passes and
travel at a cost, each further line at the price of a jump.
"""

from __future__ import annotations

import heapq
from dataclasses import dataclass

import numpy as np
from scipy.sparse import coo_array, csr_array
from scipy.sparse.csgraph import connected_components, dijkstra

from ..model import BoolArray, FloatArray, IntArray
from .matching import MOST_MM, t_join

__all__ = ["Net", "Passes", "choose_passes", "fewest_lines", "lines_needed"]


OPEN_CLOTH_MM = 300.0
"""Price of a start or stop in open cloth beside one in a seam: about a foot of sewing is spent to hide it."""

RESTARTS, RESTART_EDGES = 24, 30_000
"""Shaken restarts for small nets, at most so many, and so many edges in all of them: quality against time."""

LARGE_EDGES, LARGE_JUMP_MM = 10_000, 500.0
"""Pairing in nets of more edges takes a jump as worth no more than this: the search reaches that far around each
odd node. Measured on 300 to 1,000 zones: the same lines as at 3,000 mm, up to six times as fast."""

FREE_ENDS_EDGES = 5_000
"""Groups of more edges end where they began: free ends would save under 0.1 % and take most of the time."""

NO_ODD, ONE_ODD = 2.0, 1.5
"""What a link weighs more that ends on no odd node, or on one: it makes odd nodes that must be paired again."""


@dataclass(frozen=True, slots=True, eq=False)
class Net:
    """A net of edges between numbered nodes.

    Attributes
    ----------
    ends : (m, 2) int
        The nodes that each edge joins.
    cost : (m,) float
        Cost of each extra pass over an edge (of each pass, where it isn't required), mm of sewing.
    required : (m,) bool
        Whether the edge must be sewn at least once.
    spare : (m,) int
        Passes allowed beyond the required one.
    hidden : (n,) bool
        Nodes where a start or stop can't be seen.
    """

    ends: IntArray
    cost: FloatArray
    required: BoolArray
    spare: IntArray
    hidden: BoolArray


@dataclass(frozen=True, slots=True, eq=False)
class Passes:
    """How often each edge is sewn ``(m,)``, cost of the extra passes (mm), lines needed, whether pairing was exact."""

    times: IntArray
    extra: float
    lines: int
    proven: bool


def choose_passes(net: Net, *, jump_mm: float, start: int | None = None, end: int | None = None) -> Passes:
    """Choose how often each edge is sewn.

    Parameters
    ----------
    jump_mm : float
        Price of each jump from line to line.
    start, end : int, optional
        Node where the first line starts, where the last one ends. The same node for both: a closed line.

    Notes
    -----
    Islands are connected by a spanning tree over their nearest links (Kruskal, links between odd nodes first);
    then a minimum T-join pairs the odd nodes of all. One extra node for each group, odd itself, joined to every
    possible end at half the price of a jump, makes the first two ends of a group free and prices all others
    exactly in that one T-join. Links doubled for nothing are dropped. Small nets are tried again with shaken
    travel lengths, a fixed number of times; the cheapest answer wins. The pairing is optimal for its links.
    """
    jump_mm = min(jump_mm, MOST_MM)
    restarts = min(RESTARTS, RESTART_EDGES // max(len(net.cost), 1)) if not net.required.all() else 0
    if len(np.unique(_labels(net, net.required)[net.ends[net.required, 0]])) < 2:
        restarts = 0  # nothing to connect, so nothing that another length would change
    rng = np.random.default_rng(0)
    best: Passes | None = None
    price = np.inf
    known: set[bytes] = set()
    for k in range(restarts + 1):
        shaken = net.cost * (1 + rng.random(len(net.cost))) if k else net.cost
        linked, group = _connect(net, shaken, jump_mm)
        mark = linked.tobytes() + group.tobytes()
        if mark in known:  # the same links give the same answer
            continue
        known.add(mark)
        tried, cost = _one_try(net, linked, group, jump_mm, (start, end))
        if best is None or cost < price - 1e-6:
            best, price = tried, cost
    return best if best is not None else Passes(np.zeros(0, dtype=np.int64), 0.0, 0, True)


def fewest_lines(net: Net) -> int:
    """Return the fewest lines possible at any length: what the allowed ways and passes can connect.

    Each group of stitching that ways connect is one line, unless more than two odd nodes are cut off from
    every partner by edges that may not be sewn again.
    """
    if not net.required.any():
        return 0
    group = _labels(net, np.ones(len(net.cost), dtype=bool))
    pocket = _labels(net, net.spare > 0)
    lone = np.zeros(pocket.max() + 1, dtype=np.int64)
    np.add.at(lone, pocket, _degrees(net, net.required) % 2)
    first = np.full(len(lone), -1)
    first[pocket] = group
    ends = np.bincount(first[lone % 2 == 1], minlength=group.max() + 1)
    used = np.unique(group[net.ends[net.required].ravel()])
    return int(np.maximum(ends[used] // 2, 1).sum())


def lines_needed(net: Net, times: IntArray) -> int:
    """Return how many lines sew each edge the given number of times: max(1, odd / 2) for each group."""
    if not times.any():
        return 0
    group = _labels(net, times > 0)
    odd = np.bincount(group, _degrees(net, times) % 2)
    used = np.unique(group[net.ends[times > 0].ravel()])
    return int(np.maximum(odd[used] // 2, 1).sum())


def _labels(net: Net, edges: BoolArray) -> IntArray:
    u, v = net.ends[edges].T
    n = len(net.hidden)
    _, label = connected_components(coo_array((np.ones(len(u)), (u, v)), shape=(n, n)), directed=False)
    out: IntArray = label.astype(np.int64)
    return out


def _degrees(net: Net, times: IntArray | BoolArray) -> IntArray:
    n = len(net.hidden)
    sums = np.bincount(net.ends[:, 0], times, n) + np.bincount(net.ends[:, 1], times, n)
    return np.round(sums).astype(np.int64)


def _one_try(
    net: Net, linked: BoolArray, group: IntArray, jump_mm: float, wished: tuple[int | None, int | None]
) -> tuple[Passes, float]:
    odd = _degrees(net, net.required | linked) % 2 == 1
    for node in wished:
        if node is not None:
            odd[node] ^= True
    fixed = {int(group[node]) for node in wished if node is not None}
    cloth = _cloth_price(net, group)
    chosen, proven = _pair(net, linked, group, odd, jump_mm, cloth, fixed)
    times = net.required.astype(np.int64) + linked + chosen
    times = _drop_needless(net, times, ~net.required & linked & chosen)
    lines = lines_needed(net, times)
    extra = float((net.cost * (times - net.required)).sum())
    seen = float(cloth[_degrees(net, times) % 2 == 1].sum())
    return Passes(times, extra, lines, proven), extra + jump_mm * lines + seen


def _cloth_price(net: Net, group: IntArray) -> FloatArray:
    """Return the price of a start or stop at each node for being seen; 0 in groups with nowhere to hide it."""
    may_hide = np.zeros(group.max(initial=-1) + 2, dtype=bool)  # the last stands for "no group"
    may_hide[group[net.hidden]] = True
    return np.where(may_hide[group] & ~net.hidden, OPEN_CLOTH_MM, 0.0)


def _connect(net: Net, shaken: FloatArray, jump_mm: float) -> tuple[BoolArray, IntArray]:
    """Return the way edges that connect islands of stitching, and the group of each node (-1: none near)."""
    n = len(net.hidden)
    linked = np.zeros(len(net.cost), dtype=bool)
    island = _labels(net, net.required)
    sewn = np.unique(net.ends[net.required].ravel())
    ways = np.flatnonzero(~net.required & (net.spare > 0) & (net.ends[:, 0] != net.ends[:, 1]))
    group = np.full(n, -1, dtype=np.int64)
    group[sewn] = island[sewn]
    if not len(ways) or not len(sewn):
        return linked, group
    low, high = np.sort(net.ends[ways], axis=1).T
    order = np.lexsort((shaken[ways], high, low))
    key = low[order] * n + high[order]
    first = np.concatenate([[True], np.diff(key) > 0])
    ways, low, high, key = ways[order][first], low[order][first], high[order][first], key[first]
    cost = np.maximum(shaken[ways], 1e-9)  # a sparse graph drops edges of weight 0
    graph = csr_array(coo_array((cost, (low, high)), shape=(n, n)))
    far, before, source = dijkstra(graph, directed=False, indices=sewn, min_only=True, return_predecessors=True)
    reached = source >= 0
    group[reached] = island[source[reached]]
    joins = np.flatnonzero(reached[low] & reached[high])
    joins = joins[group[low[joins]] != group[high[joins]]]
    length = far[low[joins]] + cost[joins] + far[high[joins]]
    odd = _degrees(net, net.required) % 2 == 1
    parent = np.arange(n)
    for k in _kruskal(
        length,
        2 * jump_mm if shaken is not net.cost else jump_mm,  # shaken lengths are up to double
        island[source[low[joins]]],
        island[source[high[joins]]],
        source[low[joins]],
        source[high[joins]],
        odd,
        parent,
    ):
        edge = joins[k]
        path = [int(ways[edge])]
        for node in (int(low[edge]), int(high[edge])):
            while before[node] >= 0:
                a, b = sorted((node, int(before[node])))
                path.append(int(ways[np.searchsorted(key, a * n + b)]))
                node = int(before[node])
        linked[path] = True
    root = np.array([_root(parent, k) for k in range(n)])
    group[reached] = root[group[reached]]
    return linked, group


def _root(parent: IntArray, node: int) -> int:
    while parent[node] != node:
        parent[node] = parent[parent[node]]
        node = int(parent[node])
    return node


def _kruskal(
    length: FloatArray,
    most: float,
    a: IntArray,
    b: IntArray,
    end_a: IntArray,
    end_b: IntArray,
    odd: BoolArray,
    parent: IntArray,
) -> list[int]:
    """Return the links of a spanning forest, cheapest first (links between odd nodes before others), to ``most``."""

    def weight(k: int) -> float:
        return float(length[k]) * (1.0, ONE_ODD, NO_ODD)[2 - int(odd[end_a[k]]) - int(odd[end_b[k]])]

    heap = [(weight(k), k) for k in range(len(length))]
    heapq.heapify(heap)
    taken = []
    while heap:
        said, k = heapq.heappop(heap)
        root_a, root_b = _root(parent, int(a[k])), _root(parent, int(b[k]))
        if root_a == root_b:
            continue
        now = weight(k)
        if now > most:
            continue
        if now > said + 1e-9:  # an end has been paired since
            heapq.heappush(heap, (now, k))
            continue
        parent[max(root_a, root_b)] = min(root_a, root_b)
        odd[end_a[k]] ^= True
        odd[end_b[k]] ^= True
        taken.append(k)
    return taken


def _pair(
    net: Net, linked: BoolArray, group: IntArray, odd: BoolArray, jump_mm: float, cloth: FloatArray, fixed: set[int]
) -> tuple[BoolArray, bool]:
    """Return the further passes that pair up odd nodes, all but two of each group, and whether that is proven."""
    n = len(net.hidden)
    may = np.flatnonzero(net.spare - (linked & ~net.required) > 0)
    u, v = net.ends[may].T
    if len(net.cost) > LARGE_EDGES:
        jump_mm = min(jump_mm, LARGE_JUMP_MM)
    price = np.where((net.hidden | odd) & (group >= 0), jump_mm / 2 + cloth, np.inf)
    size = np.bincount(group[net.ends[net.required, 0]], minlength=1)
    groups = np.setdiff1d(np.unique(group[odd & (group >= 0)]), sorted(fixed))
    groups = groups[size[groups] <= FREE_ENDS_EDGES]
    free = np.full(group.max(initial=-1) + 2, -1)  # the last stands for "no group"
    free[groups] = n + np.arange(len(groups))
    ends = np.flatnonzero(np.isfinite(price) & (free[group] >= 0))
    join = t_join(
        np.concatenate([u, ends]),
        np.concatenate([v, free[group[ends]]]),
        np.concatenate([net.cost[may], price[ends]]),
        np.concatenate([odd, np.ones(len(groups), dtype=bool)]),
        np.concatenate([price, np.full(len(groups), np.inf)]),
    )
    chosen = np.zeros(len(net.cost), dtype=bool)
    chosen[may] = join.edges[: len(may)]
    return chosen, join.proven


def _drop_needless(net: Net, times: IntArray, doubled: BoolArray) -> IntArray:
    """Return the passes without ways gone to and fro for nothing: shortest first, those that connect stay."""
    if not doubled.any():
        return times
    parent = _labels(net, (times > 0) & ~doubled)
    parent = np.arange(len(net.hidden))[parent]
    roots = np.arange(int(parent.max()) + 1)
    out = times.copy()
    for k in np.flatnonzero(doubled)[np.argsort(net.cost[doubled], kind="stable")]:
        a, b = (_root(roots, int(parent[node])) for node in net.ends[k])
        if a == b:
            out[k] = 0
        else:
            roots[max(a, b)] = min(a, b)
    return out
