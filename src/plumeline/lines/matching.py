"""The cheapest edges that pair up odd nodes: a minimum T-join, exactly.

PyMatching solves it on the sparse graph without distances between all pairs: at 3,000 odd nodes in 0.07 s where
rustworkx, which wants them, takes 12 s. It is slow to load, so few nodes are matched by rustworkx, each with every
other: exact as well. Where PyMatching has no build, rustworkx matches many nodes each with its nearest neighbours: as
good in practice, but not proven the cheapest.
"""

from __future__ import annotations

import importlib
import importlib.util
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array, csc_array, csr_array
from scipy.sparse.csgraph import dijkstra

from ..model import BoolArray, FloatArray, IntArray

__all__ = ["MOST_MM", "TJoin", "t_join"]

MOST_MM = 2e6
"""Prices are capped here: the solver rounds weights against the largest one, and this keeps 0.1 mm apart."""

FEW = 60
"""Up to this many odd nodes are matched each with every other, without the library that is slow to load."""

NEIGHBOURS = 10
"""Odd nodes that the fallback tries for each odd node: cost within 0.01 % of the optimum at 3,000 nodes."""


@dataclass(frozen=True, slots=True, eq=False)
class TJoin:
    """Chosen edges ``(m,)``, nodes left open ``(n,)``, and whether the choice is proven the cheapest."""

    edges: BoolArray
    opened: BoolArray
    proven: bool


def t_join(u: IntArray, v: IntArray, cost: FloatArray, odd: BoolArray, open_price: FloatArray) -> TJoin:
    """Choose the cheapest edges that give every odd node, and no other, an odd number of chosen edges.

    Parameters
    ----------
    u, v : (m,) int
        Ends of the edges; loops are never chosen.
    cost : (m,) float
        Cost of each edge, at least 0.
    odd : (n,) bool
        The nodes to be paired.
    open_price : (n,) float
        Price of leaving a node open (its parity then counts as turned); inf where it may not be.

    Notes
    -----
    Edmonds and Johnson (1973); solved as decoding with sparse blossom (Higgott and Gidney 2023).
    """
    none = TJoin(np.zeros(len(u), dtype=bool), np.zeros(len(odd), dtype=bool), True)
    if not odd.any():
        return none
    keep = _cheapest_of_parallel(u, v, cost)
    few = int(odd.sum()) <= FEW
    proven = few or importlib.util.find_spec("pymatching") is not None
    if few:
        chosen, opened = _nearest(u[keep], v[keep], cost[keep], odd, open_price, neighbours=FEW)
    elif proven:
        chosen, opened = _sparse(u[keep], v[keep], cost[keep], odd, open_price)
    else:
        chosen, opened = _nearest(u[keep], v[keep], cost[keep], odd, open_price, neighbours=NEIGHBOURS)
    none.edges[keep[chosen]] = True
    return TJoin(none.edges, opened, proven)


def _cheapest_of_parallel(u: IntArray, v: IntArray, cost: FloatArray) -> IntArray:
    low, high = np.minimum(u, v), np.maximum(u, v)
    order = np.lexsort((cost, high, low))
    order = order[low[order] != high[order]]
    first = np.concatenate([[True], (np.diff(low[order]) != 0) | (np.diff(high[order]) != 0)])[: len(order)]
    keep: IntArray = np.sort(order[first])
    return keep


def _sparse(
    u: IntArray, v: IntArray, cost: FloatArray, odd: BoolArray, open_price: FloatArray
) -> tuple[BoolArray, BoolArray]:
    pymatching = importlib.import_module("pymatching")  # brings heavy libraries of its own
    ends = np.flatnonzero(np.isfinite(open_price))
    m = len(u)
    row = np.concatenate([u, v, ends])
    column = np.concatenate([np.arange(m), np.arange(m), m + np.arange(len(ends))])
    shape = (len(odd), m + len(ends))
    incidence = csc_array((np.ones(len(row), dtype=np.uint8), (row, column)), shape=shape)
    weights = np.minimum(np.concatenate([cost, open_price[ends]]), MOST_MM)
    chosen = pymatching.Matching(incidence, weights=weights).decode(odd.astype(np.uint8)).astype(bool)
    opened = np.zeros(len(odd), dtype=bool)
    opened[ends[chosen[m:]]] = True
    return chosen[:m], opened


def _nearest(
    u: IntArray, v: IntArray, cost: FloatArray, odd: BoolArray, open_price: FloatArray, *, neighbours: int
) -> tuple[BoolArray, BoolArray]:
    # One more node stands for "open"; the twin of each odd node may go there, twins pair up for nothing.
    rustworkx = importlib.import_module("rustworkx")
    n = len(odd)
    ends = np.flatnonzero(np.isfinite(open_price))
    price = np.minimum(open_price[ends], MOST_MM)
    least = 1e-9  # a sparse graph drops edges of weight 0
    edges = csr_array(coo_array((np.maximum(cost, least), (u, v)), shape=(n, n)))
    edges = edges.maximum(edges.T)
    full = csr_array(
        coo_array(
            (
                np.maximum(np.concatenate([cost, price]), least),
                (np.concatenate([u, ends]), np.concatenate([v, np.full(len(ends), n)])),
            ),
            shape=(n + 1, n + 1),
        )
    )
    out_cost, out_before = dijkstra(full.maximum(full.T), indices=np.asarray(n), return_predecessors=True)
    odd_ids = np.flatnonzero(odd)
    graph = rustworkx.PyGraph(multigraph=False)
    graph.add_nodes_from(list(range(2 * len(odd_ids))))
    unit = 1e3  # weights as whole thousandths of a millimetre
    rank = {int(node): k for k, node in enumerate(odd_ids)}
    befores: dict[int, NDArray[np.int32]] = {}
    top = 0
    pairs: dict[tuple[int, int], int] = {}
    for k, node in enumerate(odd_ids):
        far, before = dijkstra(edges, indices=np.asarray(node), return_predecessors=True)
        befores[k] = before
        near = odd_ids[np.argsort(far[odd_ids], kind="stable")[1 : neighbours + 1]]
        for other in near[np.isfinite(far[near])]:
            a, b = sorted((k, rank[int(other)]))
            pairs[a, b] = round(float(far[other]) * unit)
        if np.isfinite(out_cost[node]):
            graph.add_edge(2 * k, 2 * k + 1, round(float(out_cost[node]) * unit))
    for (a, b), weight in sorted(pairs.items()):
        graph.add_edge(2 * a, 2 * b, weight)
        graph.add_edge(2 * a + 1, 2 * b + 1, 0)
    top = max(graph.edges(), default=0) + 1
    matched = rustworkx.max_weight_matching(graph, max_cardinality=True, weight_fn=lambda w: top - w)
    return _paths_of(matched, odd_ids, befores, out_before, u, v, cost, n)


def _paths_of(
    matched: set[tuple[int, int]],
    odd_ids: IntArray,
    befores: Mapping[int, NDArray[np.int32]],
    out_before: NDArray[np.int32],
    u: IntArray,
    v: IntArray,
    cost: FloatArray,
    n: int,
) -> tuple[BoolArray, BoolArray]:
    # edges along the shortest paths of the matched pairs; an edge met twice cancels out
    edge_of = {(int(min(a, b)), int(max(a, b))): k for k, (a, b) in enumerate(zip(u, v))}
    chosen, opened = np.zeros(len(cost), dtype=bool), np.zeros(n, dtype=bool)
    for a, b in sorted((min(p), max(p)) for p in matched):
        if a % 2 or (b % 2 and b != a + 1):
            continue
        before, at = (out_before, int(odd_ids[a // 2])) if b == a + 1 else (befores[a // 2], int(odd_ids[b // 2]))
        while before[at] >= 0:
            after = int(before[at])
            if after == n:
                opened[at] ^= True
            else:
                chosen[edge_of[min(at, after), max(at, after)]] ^= True
            at = after
    return chosen, opened
