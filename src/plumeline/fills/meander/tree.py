"""The walk: a line that separates a random tree from all that the tree does not touch.

In a triangulated zone take a tree through the inner points. The curve that runs round the tree, between it and
everything else, is simple whatever the tree looks like; it passes both sides of every twig, goes round every hole
and comes near every point (the Peano curve of a spanning tree). Counting a stretch of the zone's edge to the tree
opens the curve: it then begins at one end of the stretch and ends at the other.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components, minimum_spanning_tree
from scipy.spatial import cKDTree
from shapely import Polygon

from ...geometry import EdgeMesh, arc_lengths, edge_samples, mesh_of, rings
from ...model import BoolArray, FloatArray, IntArray
from .points import TreePoints

__all__ = ["Walk", "walk"]


EDGE_PITCH = 0.36
"""Distance of samples along the edge, in pitches of the tree's points."""

FROM_ARC = 0.72
"""Least distance of a point from the wired stretch of edge, in pitches."""

LEAVES_ARC = 0.55
"""Weight of twigs that leave the wired stretch: many short roots, no long stroll along the edge."""

RIM_RIM = 0.2
"""Added weight of twigs along the rim: fewer of them, fewer strolls along the edge."""

SPECK, TIGHT = 2.0, 0.4
"""A tree of so few points, cut off from the rest, is no meander but a bean: left out. Points in necks and tips
count for less."""


@dataclass(frozen=True, slots=True, eq=False)
class Walk:
    """One control polygon: a simple polyline inside the region, open from edge to edge or closed."""

    path: FloatArray
    closed: bool


def walk(
    region: Polygon,
    points: TreePoints,
    pitch: float,
    margin: float,
    enter: FloatArray,
    leave: FloatArray,
    rng: np.random.Generator,
) -> list[Walk]:
    """Return the line from ``enter`` to ``leave``, and a closed one for each place that it can't reach.

    Parameters
    ----------
    region : shapely.Polygon
        Where the line may run.
    points : TreePoints
        The tree's points inside it.
    enter, leave : (2,)
        Points of the region's outer edge.

    Returns
    -------
    list of Walk
        Disjoint, each simple, inside the region; the open one first. Empty when the region is too small or the
        mesh does not keep to its edge.
    """
    outline = rings(region)
    shell, mark = _with_arc(outline[0], enter, leave)
    edge = edge_samples([shell, *outline[1:]], [mark, *(np.zeros(len(r), dtype=np.int64) for r in outline[1:])],
                        EDGE_PITCH * pitch)  # fmt: skip
    on_arc = edge.points[np.unique(edge.segments[edge.marks == 1])]
    keep = np.ones(len(points.xy), dtype=bool)
    if len(on_arc):
        keep = points.neck | (cKDTree(on_arc).query(points.xy)[0] > FROM_ARC * pitch - margin)
    mesh = mesh_of(region, edge, points.xy[keep], least_mm=1e-3 * pitch)
    if mesh is None:
        return []
    tree = _Tree(mesh, points, keep, pitch, rng)
    walks = tree.walks()
    if [w.closed for w in walks].count(False) != 1:
        return []
    path = walks[0].path
    if np.hypot(*(path[0] - enter)) > np.hypot(*(path[-1] - enter)):
        walks[0] = Walk(path[::-1], False)
    return walks


def _with_arc(ring: FloatArray, enter: FloatArray, leave: FloatArray) -> tuple[FloatArray, IntArray]:
    """Return the ring with both points as vertices and a mark 1 on the shorter way from one to the other."""
    for point in (enter, leave):
        after = np.roll(ring, -1, axis=0)
        step = after - ring
        t = ((point - ring) * step).sum(axis=1) / np.maximum((step * step).sum(axis=1), 1e-300)
        far = np.hypot(*(ring + np.clip(t, 0, 1)[:, None] * step - point).T)
        at = int(np.argmin(far))
        if np.hypot(*(ring - point).T).min() > 1e-9:
            ring = np.insert(ring, at + 1, point, axis=0)
    a, b = (int(np.argmin(np.hypot(*(ring - p).T))) for p in (enter, leave))
    s = arc_lengths(ring, closed=True)
    onward = (s[b] - s[a]) % s[-1]
    first, last = (a, b) if onward <= s[-1] / 2 else (b, a)
    index = np.arange(len(ring))
    mark = (index >= first) & (index < last) if first < last else (index >= first) | (index < last)
    if mark.sum() == 1:  # straight across: one vertex between, for the tree to hold on to
        ring = np.insert(ring, first + 1, (ring[first] + ring[last]) / 2, axis=0)
        mark = np.insert(mark, first + 1, True)
    return ring, mark.astype(np.int64)


class _Tree:
    """The tree in a mesh, and the walks round it."""

    def __init__(
        self, mesh: EdgeMesh, points: TreePoints, keep: BoolArray, pitch: float, rng: np.random.Generator
    ) -> None:
        self.mesh, self.pitch = mesh, pitch
        count, inner = len(mesh.points), len(mesh.points) - int(keep.sum())
        self.arc = _inside_arc(mesh, count)
        self.in_tree = self.arc.copy()
        self.in_tree[inner:] = True
        none = np.zeros(inner, dtype=bool)
        self.rim, self.neck, self.narrow = (
            np.concatenate([none, of[keep]]) for of in (points.rim, points.neck, points.narrow)
        )
        self.start = mesh.triangles.ravel()
        self.end = np.roll(mesh.triangles, -1, axis=1).ravel()
        self.twigs = self._grow(rng)
        self._prune()

    def _grow(self, rng: np.random.Generator) -> IntArray:
        """Return the twigs ``(k, 2)`` of a random spanning forest."""
        a, b = np.minimum(self.start, self.end), np.maximum(self.start, self.end)
        both = self.in_tree[a] & self.in_tree[b]
        edges = np.unique(np.column_stack([a[both], b[both]]), axis=0)
        a, b = edges.T
        length = np.hypot(*(self.mesh.points[a] - self.mesh.points[b]).T) / self.pitch
        weight = (rng.random(len(a)) + 0.02 + RIM_RIM * (self.rim[a] & self.rim[b])) * length**2
        weight[self.arc[a] != self.arc[b]] *= LEAVES_ARC
        chain = self.mesh.segments[self.mesh.marks == 1]
        chain = np.sort(chain[self.arc[chain].all(axis=1)], axis=1)
        count = len(self.mesh.points)
        weight[np.isin(a * count + b, chain[:, 0] * count + chain[:, 1])] = 1e-6
        forest = minimum_spanning_tree(coo_matrix((weight, (a, b)), shape=(count, count)).tocsr()).tocoo()
        return np.column_stack([forest.row, forest.col]).astype(np.int64)

    def _prune(self) -> None:
        """Take off the twigs in narrow places that lead nowhere, and specks cut off from the rest."""
        count = len(self.mesh.points)
        while len(self.twigs):
            degree = np.bincount(self.twigs.ravel(), minlength=count)
            leaf = (degree == 1) & self.narrow
            dead = leaf[self.twigs].any(axis=1)
            if not dead.any():
                break
            self.twigs = self.twigs[~dead]
        degree = np.bincount(self.twigs.ravel(), minlength=count)
        self.in_tree &= ~(self.narrow & (degree == 0))
        link = coo_matrix((np.ones(len(self.twigs)), (self.twigs[:, 0], self.twigs[:, 1])), shape=(count, count))
        _, self.part = connected_components(link, directed=False)
        size = np.bincount(self.part, np.where(self.neck, TIGHT, 1.0) * self.in_tree, minlength=count)
        rooted = np.zeros(count, dtype=bool)
        rooted[self.part[self.arc]] = True
        self.in_tree &= (size[self.part] > SPECK) | rooted[self.part]
        self.twigs = self.twigs[self.in_tree[self.twigs].all(axis=1)]

    def walks(self) -> list[Walk]:
        """Return the walk round each tree of the forest."""
        follow, laid = self._tables()
        twins = self.mesh.twins
        crossing = self.in_tree[self.start] & ~self._is_twig(self.start, self.end)
        begins = np.flatnonzero(crossing & (twins < 0) & ~self.in_tree[self.end])
        inner = np.flatnonzero(crossing & ~self.in_tree[self.end])
        out = []
        seen = np.zeros(len(follow), dtype=bool)
        onward = follow.tolist()
        for start in [*begins.tolist(), *self._one_each(inner)]:
            if seen[start]:
                continue
            states: list[int] = []
            h = start
            while h >= 0 and (h != start or not states):
                states.append(h)
                h = onward[h]
            seen[states] = True
            out.append(self._drawn(np.array(states, dtype=np.int64), laid, closed=h >= 0))
        return out

    def _one_each(self, inner: IntArray) -> list[int]:
        # the first half-edge of each tree's rim, for the trees that no open walk has gone round
        _, first = np.unique(self.part[self.start[inner]], return_index=True)
        return [int(k) for k in inner[first]]

    def _is_twig(self, a: IntArray, b: IntArray) -> BoolArray:
        count = len(self.mesh.points)
        low, high = np.minimum(a, b), np.maximum(a, b)
        keys = np.sort(self.twigs.min(axis=1) * count + self.twigs.max(axis=1))
        return np.isin(low * count + high, keys) if len(keys) else np.zeros(len(a), dtype=bool)

    def _tables(self) -> tuple[IntArray, IntArray]:
        """Return for each half-edge u -> x of the walk the next one, and how many twigs lie between.

        The walk crosses u - x with u on its left hand and turns about u through the triangle before it. The
        triangle's third edge at u is crossed next, unless it is a twig: then the walk goes along the twig and
        carries on about the twig's other end.
        """
        twins = self.mesh.twins
        h = np.arange(len(twins))
        base, corner = h // 3 * 3, h % 3
        onward, back = base + (corner + 1) % 3, base + (corner + 2) % 3
        twig = self._is_twig(self.start, self.end)
        laid = np.where(~twig[back], 0, np.where(~twig[onward], 1, 2))
        follow = np.where(laid == 0, twins[back], np.where(laid == 1, twins[onward], twins[h]))
        return follow, laid

    def _drawn(self, states: IntArray, laid: IntArray, *, closed: bool) -> Walk:
        """Return the control polygon: a point on each edge crossed, and one beside each twig passed."""
        xy, start, end = self.mesh.points, self.start[states], self.end[states]
        share = np.where(self.in_tree[end], 0.25, 0.5)[:, None]
        crossed = xy[start] * (1 - share) + xy[end] * share
        base, corner = states // 3 * 3, states % 3
        third = self.start[base + (corner + 2) % 3]
        middle = (xy[start] + xy[end] + xy[third]) / 3
        beside_first = ((xy[start] + xy[third]) / 2 + middle) / 2
        beside_second = ((xy[end] + xy[third]) / 2 + middle) / 2
        count = laid[states]
        at = np.cumsum(1 + count) - (1 + count)
        path = np.empty((int((1 + count).sum()), 2))
        path[at] = crossed
        path[at[count > 0] + 1] = beside_first[count > 0]
        path[at[count > 1] + 2] = beside_second[count > 1]
        if not closed:
            # The ends lie on the edge samples beside the wired stretch: the very points asked for.
            base, corner = states[-1] // 3 * 3, states[-1] % 3
            last = [base + (corner + 2) % 3, base + (corner + 1) % 3, states[-1]][int(count[-1])]
            outer = self.start[last] if not self.in_tree[self.start[last]] else self.end[last]
            path = np.vstack([xy[end[0]], path[1:], xy[outer]])
        return Walk(path, closed)


def _inside_arc(mesh: EdgeMesh, count: int) -> BoolArray:
    """Return the samples that have the wired stretch on both sides."""
    marked = np.bincount(mesh.segments[mesh.marks == 1].ravel(), minlength=count)
    return np.asarray(marked == 2)
