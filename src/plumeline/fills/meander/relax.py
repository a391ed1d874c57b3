"""Relaxing the walk: strands push each other apart, bends round out, and nothing ever crosses.

Each cycle of a few steps starts by spacing the nodes evenly and listing their neighbours. It ends with a check: the
nodes of strands that would cross, or have left the region, go back to where the cycle started, with a few of
their neighbours. So what was free of crossings and inside at the start is so at the end.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree
from shapely import Polygon

from ...geometry import chaikin, close_ring, contains, dedupe, densify, is_simple, near_points, self_crossings
from ...model import BoolArray, FloatArray, IntArray
from .calm import calmed
from .tree import Walk

__all__ = ["Room", "relaxed"]


# All lengths in grains (see meander.GRAIN).
NODE = 0.43
"""Distance of nodes: less is a little more even and less round, and takes longer; more leaves bald spots."""

LISTED = 1.42
"""How far neighbours are listed at the start of a cycle: `PUSH` and what two nodes move meanwhile."""

PUSH = 1.3
"""How far strands push each other."""

APART = 3
"""Nodes nearer than this along one strand do not push each other."""

CYCLES, STEPS = 5, 4
"""Cycles, and steps in each: more steps a cycle and the lists go stale, fewer and listing costs more."""

STIFF = 0.36
"""The first half of the steps: how strongly short bends are held back while strands push each other into long ones."""

ROUND, SOFT = 0.25, 0.6
"""The second half: how strongly bends are rounded, and the share of the push that is left."""

LONGEST = 1.25 * NODE
"""Longest segment at the start of a cycle: two that cross have their first nodes within `LISTED`."""

FREE = 0.3
"""Share of the clearance to the nearest other strand that a node may move in one step."""

HELD = (0.6, 1.2, 3.0, 9.0)
"""How far about a place where calming goes wrong the nodes are held, try after try."""

OPEN, BALD = 0.9, 1.4
"""A node further than the first from the edge lies in the open; one that comes to lie further than the second from the
line leaves a bald spot."""

BACK = (3, 9, 27, 81, 243)
"""How many nodes on either side go back with an offender, try after try."""


@dataclass(frozen=True, slots=True, eq=False)
class Room:
    """What holds the nodes inside, all in grains.

    Attributes
    ----------
    edge : (m, 2)
        Samples of the region's edge that no strand may cross, at most `LONGEST` apart.
    onward : (m,) int
        The sample after each along the edge.
    ghosts : (k, 2)
        Samples outside the region that push like a strand one spacing away.
    region : Polygon
        What the finished line may not leave.
    radius : float
        The least radius of a bend.
    """

    edge: FloatArray
    onward: IntArray
    ghosts: FloatArray
    region: Polygon
    radius: float


@dataclass(slots=True)
class _Strands:
    """Several paths as one list of nodes."""

    xy: FloatArray
    first: IntArray
    count: IntArray
    closed: BoolArray

    @classmethod
    def of(cls, paths: Sequence[FloatArray], closed: BoolArray) -> _Strands:
        count = np.array([len(p) for p in paths], dtype=np.int64)
        return cls(np.vstack(paths), np.cumsum(count) - count, count, closed)

    def paths(self) -> list[FloatArray]:
        return [self.xy[a : a + n] for a, n in zip(self.first, self.count)]

    def neighbours(self) -> tuple[IntArray, IntArray]:
        """Return the node before and after each; the ends of open paths are their own."""
        before, after = np.arange(len(self.xy)) - 1, np.arange(len(self.xy)) + 1
        last = self.first + self.count - 1
        before[self.first] = np.where(self.closed, last, self.first)
        after[last] = np.where(self.closed, self.first, last)
        return before, after


def relaxed(walks: Sequence[Walk], room: Room) -> list[FloatArray] | None:
    """Return the walks relaxed, in the same order, ends where they were; all in grains.

    None when the walks cross or leave the region to begin with, or can't be kept from it.
    """
    closed = np.array([w.closed for w in walks], dtype=bool)
    strands = _Strands.of([w.path for w in walks], closed)
    for cycle in range(CYCLES):
        strands, pairs = _respaced(strands, room)
        if pairs.crossing(strands.xy).any():
            return None
        _cycle(strands, pairs, cycle * STEPS)
    return _calm(strands, room) or _finished(strands)


def _calm(strands: _Strands, room: Room) -> list[FloatArray] | None:
    """Return the paths with tight bends drawn back and corners cut; None where they can't be kept free and inside.

    Where the line would cross itself or leave the region the nodes near by stay as they are, and so does a hair that
    would leave a bald spot in the open.
    """
    old = strands.paths()
    held = [np.zeros(len(p), dtype=bool) for p in old]
    for reach in HELD:
        drawn = [
            calmed(p, h, closed=bool(c), node=NODE, least=room.radius) for p, h, c in zip(old, held, strands.closed)
        ]
        smooth = [chaikin(p, 2, closed=bool(c)) for p, c in zip(drawn, strands.closed)]
        inner = [p if c else p[1:-1] for p, c in zip(smooth, strands.closed)]  # its ends lie on the edge itself
        bad = np.vstack([p[~contains(room.region, p)] for p in inner])
        if len(smooth) > 1 or not is_simple(smooth[0], closed=bool(strands.closed[0])):
            bad = np.vstack([bad, _crossings(smooth, strands.closed)])
        moved = np.vstack([p[~np.isin(_complex(p), _complex(d))] for p, d in zip(old, drawn)])
        moved = moved[cKDTree(np.vstack(drawn)).query(moved)[0] > BALD]
        bald = moved[cKDTree(room.edge).query(moved)[0] > OPEN] if len(moved) else moved
        if not len(bad) and not len(bald):
            return smooth
        for where, far in ((bad, reach), (bald, reach + BALD)):
            if len(where):
                tree = cKDTree(where)
                held = [h | (tree.query(p, distance_upper_bound=far)[0] < far) for p, h in zip(old, held)]
    return None


def _cycle(strands: _Strands, pairs: _Pairs, step: int) -> None:
    """Move the nodes through one cycle, in place."""
    start = strands.xy
    before, after = strands.neighbours()
    pinned = (before == np.arange(len(start))) | (after == np.arange(len(start)))
    xy = start.copy()
    for k in range(step, step + STEPS):
        push, clear = pairs.push(xy)
        bend = (xy[before] + xy[after]) / 2 - xy
        bend[pinned] = 0
        if k < CYCLES * STEPS // 2:
            move = push - STIFF * ((bend[before] + bend[after]) / 2 - bend)
        else:
            sharp = np.clip(1.2 / NODE**2 * np.hypot(bend[:, 0], bend[:, 1]) - 1, 0, 2.6)
            move = SOFT * push + (ROUND * (1 + sharp))[:, None] * bend
        far = np.hypot(move[:, 0], move[:, 1])
        most = FREE * np.minimum(clear, NODE)
        move *= np.minimum(1, most / np.maximum(far, 1e-300))[:, None]
        move[pinned] = 0
        xy += move
    strands.xy = xy
    _take_back(strands, start, pairs)


def _take_back(strands: _Strands, start: FloatArray, pairs: _Pairs) -> None:
    for reach in BACK:
        bad = pairs.crossing(strands.xy)
        if not bad.any():
            return
        back = _spread(bad, reach)
        strands.xy = np.where(back[:, None], start, strands.xy)
    if pairs.crossing(strands.xy).any():
        strands.xy = start


def _spread(bad: BoolArray, reach: int) -> BoolArray:
    index = np.flatnonzero(bad)
    edge = np.zeros(len(bad) + 1, dtype=np.int64)
    np.add.at(edge, np.maximum(index - reach, 0), 1)
    np.add.at(edge, np.minimum(index + reach + 2, len(bad)), -1)
    return np.cumsum(edge)[:-1] > 0


class _Pairs:
    """Nodes near each other on different strands, listed once a cycle."""

    def __init__(self, strands: _Strands, room: Room) -> None:
        n, edge = len(strands.xy), len(room.edge)
        self.count, self.room = n, room
        i, j = near_points(np.vstack([strands.xy, room.edge, room.ghosts]), LISTED).T
        some = i < n  # i < j, and nodes come first
        i, j = i[some], j[some]
        # A closed path's last nodes are neighbours of its first: told apart by the size of their gap.
        serial = np.arange(n + edge + len(room.ghosts))
        serial[n:] += 2**40
        serial[:n] += np.repeat(np.arange(len(strands.count)) * APART, strands.count)
        gap = serial.take(j) - serial.take(i)
        if strands.closed.any():
            size = np.repeat(np.where(strands.closed, strands.count, 2**41), strands.count)
            gap = np.minimum(gap, np.abs(size.take(i) - gap))
        push = (gap >= APART) & ((j < n) | (j >= n + edge))
        self.i, self.j = i[push], j[push]
        self.j[self.j >= n] -= edge
        touch = (gap >= 2) & (j < n + edge)
        self.a, self.b = i[touch], j[touch]
        _, after = strands.neighbours()
        self.after = np.concatenate([after, n + room.onward])
        # The first and last segment of an open path start on the edge itself.
        self.at_edge = np.zeros(n, dtype=bool)
        self.at_edge[strands.first[~strands.closed]] = True
        self.at_edge[(strands.first + strands.count - 2)[~strands.closed]] = True

    def push(self, xy: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return the push on each node ``(n, 2)`` and the distance to the nearest other strand ``(n,)``."""
        n, i, j = self.count, self.i, self.j
        every = _complex(np.vstack([xy, self.room.ghosts]))
        d = every.take(i)
        d -= every.take(j)
        far = np.sqrt(np.maximum(d.real**2 + d.imag**2, 1e-18))
        d *= np.maximum(NODE / far - NODE / PUSH, 0)
        out = np.empty((n, 2))
        for c, part in enumerate((d.real, d.imag)):
            out[:, c] = np.bincount(i, part, n) - np.bincount(j, part, len(every))[:n]
        clear = np.full(len(every), NODE)
        close = np.flatnonzero(far < NODE)
        close = close[j[close] < n]
        np.minimum.at(clear, i[close], far[close])
        np.minimum.at(clear, j[close], far[close])
        return out, clear[:n]

    def crossing(self, xy: FloatArray) -> BoolArray:
        """Return the nodes whose segments onward cross or touch another, or the region's edge, ``(n,)``."""
        every = np.vstack([xy, self.room.edge])
        onward = every[self.after]
        middle = _complex((every + onward) / 2)
        half = np.hypot(*(onward - every).T) / 2
        # Segments that meet have their middles no further apart than their halves reach: few do.
        apart = middle.take(self.a)
        apart -= middle.take(self.b)
        near = np.flatnonzero(apart.real**2 + apart.imag**2 <= (half.take(self.a) + half.take(self.b)) ** 2 + 1e-12)
        a, b = self.a[near], self.b[near]
        hit = _cross(every[a], onward[a], every[b], onward[b]) & (self.after[a] != a) & (self.after[b] != b)
        hit &= ~((b >= self.count) & self.at_edge[a])
        bad = np.zeros(len(every), dtype=bool)
        bad[a[hit]] = bad[b[hit]] = True
        return bad[: self.count]


def _complex(xy: FloatArray) -> NDArray[np.complex128]:
    """Return points as complex numbers: gathered in one go, they cost half."""
    return xy.view(np.complex128).ravel()


def _cross(a: FloatArray, b: FloatArray, c: FloatArray, d: FloatArray) -> BoolArray:
    def side(p: FloatArray, q: FloatArray, r: FloatArray) -> FloatArray:
        out: FloatArray = (q[:, 0] - p[:, 0]) * (r[:, 1] - p[:, 1]) - (q[:, 1] - p[:, 1]) * (r[:, 0] - p[:, 0])
        return out

    hit = (side(a, b, c) * side(a, b, d) <= 0) & (side(c, d, a) * side(c, d, b) <= 0)
    # On one line all four are 0: there, and there alone, the boxes may still lie apart.
    meet = (np.minimum(a, b) <= np.maximum(c, d)) & (np.minimum(c, d) <= np.maximum(a, b))
    return hit & meet.all(axis=1)


def _respaced(strands: _Strands, room: Room) -> tuple[_Strands, _Pairs]:
    """Return the strands with evenly spaced nodes, and their pairs; where that would cross, with the nodes they had."""
    old = [densify(p, LONGEST, closed=bool(c)) for p, c in zip(strands.paths(), strands.closed)]
    keep = [np.zeros(len(p), dtype=bool) for p in old]
    for reach in (1.0, 3.0, 9.0, np.inf):
        laid = [_laid(p, k, bool(c)) for p, k, c in zip(old, keep, strands.closed)]
        fresh = _Strands.of([p for p, _ in laid], strands.closed)
        pairs = _Pairs(fresh, room)
        bad = pairs.crossing(fresh.xy)
        if not bad.any():
            break
        for path, kept, (_, at), hit in zip(old, keep, laid, np.split(bad, fresh.first[1:])):
            if hit.any():
                s = _at(path)
                near = np.searchsorted(at[hit], s)
                wrong = np.concatenate([[-np.inf], at[hit], [np.inf]])
                kept |= np.minimum(s - wrong[near], wrong[near + 1] - s) < reach
    return fresh, pairs


def _at(path: FloatArray) -> FloatArray:
    return np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(path, axis=0).T))])


def _laid(path: FloatArray, keep: BoolArray, closed: bool) -> tuple[FloatArray, FloatArray]:
    """Return nodes evenly along a path, its own vertices where kept; and where along it they lie."""
    ring = np.vstack([path, path[:1]]) if closed else path
    s = _at(ring)
    count = max(round(s[-1] / NODE), 2 * APART if closed else 2)
    at = np.linspace(0, s[-1], count + 1)
    if keep.any():
        held = np.append(keep, keep[0]) if closed else keep
        segment = np.clip(np.searchsorted(s, at, side="right") - 1, 0, len(s) - 2)
        free = ~(held[segment] | held[segment + 1])
        free[0] = free[-1] = True
        at = np.unique(np.concatenate([at[free], s[:-1][held[:-1]]]))
    if closed:
        at = at[:-1]
    return np.column_stack([np.interp(at, s, ring[:, 0]), np.interp(at, s, ring[:, 1])]), at


def _finished(strands: _Strands) -> list[FloatArray] | None:
    """Return the paths with their corners cut twice, but where that would cross; None when they cross before."""
    paths = strands.paths()
    sharp = [np.zeros(len(p), dtype=bool) for p in paths]
    for reach in (0.0, 2.0, 6.0, np.inf):
        smooth = [_rounded(p, s, bool(c)) for p, s, c in zip(paths, sharp, strands.closed)]
        if all(is_simple(p, closed=bool(c)) for p, c in zip(smooth, strands.closed)) and (
            len(smooth) == 1 or not len(_crossings(smooth, strands.closed))
        ):
            return smooth
        where = _crossings(smooth, strands.closed)
        if not len(where) or reach == np.inf:
            sharp = [np.ones(len(p), dtype=bool) for p in paths]
        else:
            tree = cKDTree(where)
            sharp = [s | (tree.query(p)[0] < reach + 2 * NODE) for p, s in zip(paths, sharp)]
    return None


def _crossings(paths: Sequence[FloatArray], closed: BoolArray) -> FloatArray:
    return self_crossings([close_ring(p, bool(c)) for p, c in zip(paths, closed)])


def _rounded(path: FloatArray, sharp: BoolArray, closed: bool) -> FloatArray:
    """Return a path with its corners cut at a quarter, twice, those marked sharp left alone."""
    if not sharp.any():
        return chaikin(path, 2, closed=closed)
    for _ in range(2):
        share = np.where(sharp, 0.0, 0.25)[:, None]
        after, after_share = np.roll(path, -1, axis=0), np.roll(share, -1, axis=0)
        cut = np.empty((2 * len(path), 2))
        cut[0::2], cut[1::2] = path + share * (after - path), after + after_share * (path - after)
        kept = np.repeat(sharp, 2)
        kept[1::2] = np.roll(sharp, -1)
        if not closed:
            cut, kept = cut[:-2], kept[:-2]
            cut[0], cut[-1] = path[0], path[-1]
        path, sharp = cut, kept
    return dedupe(path, closed=closed)
