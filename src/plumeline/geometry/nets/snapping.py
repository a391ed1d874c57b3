"""Bringing together corners and edges that are meant to be the same.

Method: corners nearer than a stated distance are merged, nearest first, as long as everything merged stays within
that distance of each other and no two corners of one shape are merged (complete linkage: a row of close points never
collapses into one). A corner that then lies beside an edge of another shape becomes a point of that edge, and the two
meet half way; where a curve only touches an edge and leaves it again, both stay as they are. What comes out are paths
over shared nodes, so that neighbours have exactly the same points.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise, product

import numpy as np
import shapely
from scipy.spatial import cKDTree

from ...model import FloatArray, Path, as_path
from ..curves.polylines import dedupe, turns
from ..curves.tangents import Beside, tangent
from ..engine import point_array

__all__ = ["NODE_GRID_MM", "Snapped", "snap_together"]

NODE_GRID_MM = 1e-4
"""Nodes are rounded to this: far below a thread's thickness, far above what noding loses."""

_DOUBLED_MM = 1e-3
"""Points of one path nearer than this are one point."""

_CORNER_RAD = np.radians(15)
"""A turn of more than this is a corner; points that turn less lie on a curve or a straight edge."""


@dataclass(frozen=True, slots=True, eq=False)
class Snapped:
    """Paths over shared nodes.

    Attributes
    ----------
    paths : tuple of Path
        One for each path given, in order; fewer than two points where a path shrank to nothing.
    moved_mm : (n,) array
        The furthest that a point of each path moved.
    """

    paths: tuple[Path, ...]
    moved_mm: FloatArray


def snap_together(
    paths: Sequence[FloatArray],
    closed: Sequence[bool],
    shape: Sequence[int],
    *,
    within_mm: float,
    follows: Sequence[bool] = (),
) -> Snapped:
    """Return paths whose near corners and edges are the same.

    Parameters
    ----------
    paths, closed : sequences of ``(n, 2)`` arrays and flags
        The first point of a closed path is not repeated.
    shape : sequence of int
        Which shape each path belongs to; a shape is never snapped to itself.
    within_mm : float
        Corners and edges nearer than this are the same. A point moves at most one and a half times as far.
    follows : sequence of bool, optional
        Paths that give way to the others (lines drawn over patches): they move, the others stay.

    Returns
    -------
    Snapped
        The paths moved, and how far any point went.
    """
    gives = np.array(follows if len(follows) else [False] * len(paths), dtype=bool)
    if not paths:
        return Snapped((), np.zeros(0))
    clean = [dedupe(p, closed=c, nearer_than_mm=_DOUBLED_MM) for p, c in zip(paths, closed)]
    counts = np.array([len(p) for p in clean])
    xy = np.vstack(clean)
    path_of = np.repeat(np.arange(len(clean)), counts)
    corner = np.concatenate([_corners(p, c) for p, c in zip(clean, closed)])
    node_of = _clusters(xy, np.asarray(shape)[path_of], corner, within_mm)
    nodes = _node_positions(xy, node_of, gives[path_of])
    starts = np.concatenate([[0], np.cumsum(counts)])
    chains = [node_of[a:b] for a, b in pairwise(starts.tolist())]
    sharp = np.bincount(node_of, corner, len(nodes)) > 0
    inserted, nodes = _corners_on_edges(nodes, chains, closed, np.asarray(shape), gives, sharp, within_mm)
    nodes = np.round(nodes / NODE_GRID_MM) * NODE_GRID_MM
    moved = np.zeros(len(clean))
    np.maximum.at(moved, path_of, np.hypot(*(nodes[node_of] - xy).T))
    out = tuple(
        as_path(dedupe(nodes[_without_spikes(chain, c)].reshape(-1, 2), closed=c)) for chain, c in zip(inserted, closed)
    )
    return Snapped(out, moved)


def _corners(path: FloatArray, closed: bool) -> np.ndarray:
    corner = np.abs(turns(path, closed=closed)) > _CORNER_RAD
    if not closed:
        corner[[0, -1]] = True
    return np.asarray(corner)


def _clusters(xy: FloatArray, shape: np.ndarray, corner: np.ndarray, within: float) -> np.ndarray:
    # Complete linkage, nearest pairs first; the order of equal pairs is that of the points. Two points of curves are
    # left to meet each other's edges: merged, they would slide along the curve.
    pairs = np.sort(cKDTree(xy).query_pairs(within * (1 + 1e-9), output_type="ndarray").reshape(-1, 2), axis=1)
    far = np.hypot(*(xy[pairs[:, 0]] - xy[pairs[:, 1]]).T)
    meant = (shape[pairs[:, 0]] != shape[pairs[:, 1]]) & ((far <= _DOUBLED_MM) | corner[pairs].any(axis=1))
    pairs, far = pairs[meant], far[meant]
    order = np.lexsort((pairs[:, 1], pairs[:, 0], np.round(far, 9)))
    pairs, far = pairs[order], far[order]
    growing = _Clusters(xy, shape, within * (1 + 1e-9))
    doubled = int(np.searchsorted(np.round(far, 9), _DOUBLED_MM, side="right"))
    growing.merge(pairs[:doubled])
    growing.merge(pairs[doubled:][growing.may_merge(pairs[doubled:])])
    return np.asarray(np.unique(growing.cluster, return_inverse=True)[1]).ravel()


class _Clusters:
    """Points merged under complete linkage, no two of one shape in one cluster."""

    def __init__(self, xy: FloatArray, shape: np.ndarray, most: float) -> None:
        self.x, self.y = xy.T.tolist()
        self.most = most
        self.cluster = list(range(len(xy)))
        self.members: dict[int, list[int]] = {}
        self.kinds = [{s} for s in shape.tolist()]
        self.refused: set[tuple[int, int]] = set()  # clusters only grow, so what is refused once stays so

    def merge(self, pairs: np.ndarray) -> None:
        """Merge the clusters of pairs of points, in their order, where that is allowed."""
        x, y, cluster, members, kinds = self.x, self.y, self.cluster, self.members, self.kinds
        for i, j in pairs.tolist():
            a, b = cluster[i], cluster[j]
            if a == b or (a, b) in self.refused or (b, a) in self.refused:
                continue
            left, right = members.get(a, [a]), members.get(b, [b])
            if not kinds[a].isdisjoint(kinds[b]) or any(
                math.hypot(x[p] - x[q], y[p] - y[q]) > self.most for p in left for q in right
            ):
                self.refused.add((a, b))
                continue
            members[a] = left + right
            kinds[a] |= kinds[b]
            for k in right:
                cluster[k] = a

    def may_merge(self, pairs: np.ndarray) -> np.ndarray:
        """Return which pairs are of clusters that share no shape: all others stay apart, or are one already."""
        heads, which = np.unique(self.cluster, return_inverse=True)
        own = [sorted(self.kinds[a]) for a in heads.tolist()]
        table = np.full((len(own), max(map(len, own), default=1)), -1)
        for k, row in enumerate(own):
            table[k, : len(row)] = row
        left, right = table[which[pairs[:, 0]]], table[which[pairs[:, 1]]]
        apart = np.ones(len(pairs), dtype=bool)
        for p, q in product(range(table.shape[1]), repeat=2):
            apart &= (left[:, p] != right[:, q]) | (left[:, p] < 0)
        return apart


def _node_positions(xy: FloatArray, node_of: np.ndarray, gives: np.ndarray) -> FloatArray:
    # the mean of what was merged; corners that give way count only where there are no others
    weight = np.where(gives, 1e-12, 1.0)
    total = np.bincount(node_of, weight)
    return np.column_stack([np.bincount(node_of, weight * xy[:, k]) / total for k in (0, 1)])


def _corners_on_edges(
    nodes: FloatArray,
    chains: Sequence[np.ndarray],
    closed: Sequence[bool],
    shape: np.ndarray,
    gives: np.ndarray,
    sharp: np.ndarray,
    within: float,
) -> tuple[list[np.ndarray], FloatArray]:
    start, end, path_of, place = _edges_of(chains, closed)
    tree = shapely.STRtree(point_array(nodes))
    segments = shapely.linestrings(np.stack([nodes[start], nodes[end]], axis=1))
    edge, node = tree.query(segments, predicate="dwithin", distance=within)
    kinds = int(shape.max()) + 1  # a node and a shape it is of, as one number
    owned = np.concatenate([chain * kinds + s for chain, s in zip(chains, shape.tolist())])
    other = shape[path_of[edge]]
    foreign = ~np.isin(node * kinds + other, owned)
    # of the edges of a node's own shapes only those that end there say anything: that it lies on the shape
    said = foreign | (node == start[edge]) | (node == end[edge])
    edge, node, other, foreign = edge[said], node[said], other[said], foreign[said]
    firm = np.zeros(len(nodes), dtype=bool)
    for chain, g in zip(chains, gives.tolist()):
        if not g:
            firm[chain] = True
    way = nodes[end[edge]] - nodes[start[edge]]
    length2 = (way**2).sum(axis=1)
    at = ((nodes[node] - nodes[start[edge]]) * way).sum(axis=1) / np.where(length2 > 0, length2, 1.0)
    inside = (at > 0) & (at < 1) & (node != start[edge]) & (node != end[edge])
    far = np.hypot(*(nodes[start[edge]] + way * np.clip(at, 0, 1)[:, None] - nodes[node]).T)
    beside = Beside(node, other, far, start[edge], end[edge])
    foreign &= ~tangent(nodes, chains, closed, shape, sharp, beside, meet_mm=_DOUBLED_MM)
    keep = np.flatnonzero(inside & foreign) if len(edge) else np.zeros(0, dtype=int)
    edge, node, at, way = edge[keep], node[keep], at[keep], way[keep]
    foot = nodes[start[edge]] + way * at[:, None]
    # the nearest edge of each shape only: a cusp between two edges of one shape stays open
    other = shape[path_of[edge]]
    order = np.lexsort((edge, np.hypot(*(foot - nodes[node]).T), other, node))
    first = np.ones(len(order), dtype=bool)
    first[1:] = (np.diff(node[order]) != 0) | (np.diff(other[order]) != 0)
    nearest = np.sort(order[first])
    edge, node, at, foot = edge[nearest], node[nearest], at[nearest], foot[nearest]
    moved = _meet(nodes, node, foot, firm, gives[path_of[edge]])
    order = np.lexsort((node, at, edge))
    added: dict[int, dict[int, list[int]]] = {}
    for i, k, n in zip(path_of[edge[order]].tolist(), place[edge[order]].tolist(), node[order].tolist()):
        added.setdefault(i, {}).setdefault(k, []).append(n)
    return [_lengthened(chain, added.get(i, {})) for i, chain in enumerate(chains)], moved


def _lengthened(chain: np.ndarray, added: Mapping[int, Sequence[int]]) -> np.ndarray:
    # a chain with the nodes that come in after some of its places
    longer: list[int] = []
    done = 0
    for k in sorted(added):
        longer += [*chain[done : k + 1].tolist(), *added[k]]
        done = k + 1
    return np.concatenate([np.array(longer, dtype=int), chain[done:]])


def _edges_of(
    chains: Sequence[np.ndarray], closed: Sequence[bool]
) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    # start node, end node, path and place in the path of every edge
    start, end, path_of, place = [], [], [], []
    for i, (chain, ring) in enumerate(zip(chains, closed)):
        last = len(chain) if ring else len(chain) - 1
        start.append(chain[:last])
        end.append(np.roll(chain, -1)[:last])
        path_of.append(np.full(last, i))
        place.append(np.arange(last))
    return np.concatenate(start), np.concatenate(end), np.concatenate(path_of), np.concatenate(place)


def _meet(
    nodes: FloatArray, node: np.ndarray, foot: FloatArray, firm: np.ndarray, edge_gives: np.ndarray
) -> FloatArray:
    # A corner meets the nearest edge half way (so that two rows of patches meet in one straight seam); a corner of
    # a line goes all the way; nothing moves towards a line.
    moved = nodes.copy()
    far = np.hypot(*(foot - nodes[node]).T)
    done: set[int] = set()
    for k in np.lexsort((node, far, edge_gives)).tolist():
        n = int(node[k])
        if n in done or (firm[n] and edge_gives[k]):
            continue
        done.add(n)
        moved[n] = (nodes[n] + foot[k]) / 2 if firm[n] else foot[k]
    return moved


def _without_spikes(chain: np.ndarray, closed: bool) -> np.ndarray:
    # merging may leave doubled nodes, and a-b-a turns of no area
    if not (chain[1:] == chain[:-1]).any() and not (chain[2:] == chain[:-2]).any() and chain[0] != chain[-1]:
        return chain
    ids = chain.tolist()
    changed = True
    while changed and len(ids) > 1:
        changed = False
        out: list[int] = []
        for n in ids:
            if out and out[-1] == n:
                changed = True
            elif closed and len(out) > 1 and out[-2] == n:
                out.pop()
                changed = True
            else:
                out.append(n)
        while closed and len(out) > 1 and out[0] == out[-1]:
            out.pop()
            changed = True
        ids = out
    return np.array(ids, dtype=int)
