"""Where a line may be begun and left, and which of these places make the head move least.

An open line is sewn from either end. A closed one begins and ends in one place: where that is hidden, if anywhere.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np

from ..geometry import NearPaths
from ..model import FloatArray, IntArray
from ..tolerances import BESIDE_SEAM_MM
from .sources import Source, Woven
from .walk import Trail

__all__ = ["Entries", "Sewn", "best_entries", "entries_of", "nodes_of"]

PAIRS_MOST = 1_000_000
"""Most pairs of places that are weighed between two closed lines: beyond, every so many-th place stands for all."""

Sewn: TypeAlias = tuple[Trail, "int | None"]
"""A line as it is sewn; of a ring that meets nothing also the number of the point where it begins."""


@dataclass(frozen=True, slots=True, eq=False)
class Entries:
    """The places where one line may be begun and left.

    Attributes
    ----------
    trail : Trail
        The line as it was walked.
    where : (n, 2, 2) float
        For each choice where the line begins and where it ends, mm.
    at : (n,) int
        For an open line 0 (as walked) or 1 (turned round); for a closed one which of its nodes comes first; for a ring
        that meets nothing which of its points.
    ring : bool
        Whether it is such a ring.
    """

    trail: Trail
    where: FloatArray
    at: IntArray
    ring: bool = False

    def sewn(self, choice: int) -> Sewn:
        """Return the line as one choice sews it."""
        k, edges = int(self.at[choice]), self.trail.edges
        if self.ring:
            return self.trail, k
        if self.trail.closed:
            return Trail(edges[k:] + edges[:k], True), None
        return (_turned(self.trail) if k else self.trail), None

    def some(self, most: int) -> FloatArray:
        """Return the places, at most so many, evenly spread along the line."""
        return self.where if len(self.at) <= most else self.where[spread(len(self.at), most)]

    def at_node(self, node: int, woven: Woven, *, last: bool) -> Entries:
        """Return the choices that begin at a node, or end there; all of them if none does."""
        on = nodes_of(self.trail, woven.net.ends)
        if self.trail.closed:
            fits = np.flatnonzero(np.array(on[:-1]) == node)
            if not len(fits):
                return self
            return Entries(self.trail, _same_place(woven.nodes[np.array(on)[fits]]), fits)
        keep = [k for k in (0, 1) if node == on[-1 if (k == 0) == last else 0]]
        return Entries(self.trail, self.where[keep], self.at[keep]) if keep else self


def spread(count: int, most: int) -> IntArray:
    """Return at most so many of the numbers below a count, evenly spread."""
    return np.unique(np.linspace(0, count - 1, min(most, count)).round().astype(np.int64))


def nodes_of(trail: Trail, ends: IntArray) -> list[int]:
    """Return the nodes that a trail passes, in order."""
    nodes = [int(ends[e, 0 if forward else 1]) for e, forward in trail.edges]
    e, forward = trail.edges[-1]
    return [*nodes, int(ends[e, 1 if forward else 0])]


def _turned(trail: Trail) -> Trail:
    return Trail(tuple((e, not forward) for e, forward in reversed(trail.edges)), trail.closed)


def _same_place(places: FloatArray) -> FloatArray:
    return np.repeat(places[:, None], 2, axis=1)


def entries_of(trails: Sequence[Trail], woven: Woven, sources: Sequence[Source]) -> list[Entries]:
    """Return the places where each trail may be begun and left; of a ring that where its fill begins it comes first."""
    seams = NearPaths([s.path for s in sources if s.kind == "seam"])
    # nodes that more than one source meets: a line there starts where it was planned
    busy = np.bincount(woven.net.ends.ravel(), minlength=len(woven.nodes)) > 2
    out = []
    for trail in trails:
        on = np.array(nodes_of(trail, woven.net.ends))
        source = sources[int(woven.source[trail.edges[0][0]])]
        if not trail.closed:
            ways = np.array([woven.nodes[on[[0, -1]]], woven.nodes[on[[-1, 0]]]])
            out.append(Entries(trail, ways, np.arange(2)))
        elif len(trail.edges) == 1 and source.closed and source.splits and not busy[on[0]]:
            ring = source.path[:-1]
            beside, _ = seams.nearest(ring, BESIDE_SEAM_MM)
            points = beside if len(beside) else np.arange(len(ring))
            points = points[np.argsort(np.round(far_from(ring[0], ring[points]), 6), kind="stable")]
            out.append(Entries(trail, _same_place(ring[points]), points, ring=True))
        else:
            hidden = np.flatnonzero(woven.net.hidden[on[:-1]])
            at = hidden if len(hidden) else np.arange(len(on) - 1)
            out.append(Entries(trail, _same_place(woven.nodes[on[at]]), at))
    return out


def best_entries(
    lines: Sequence[Entries], begin: FloatArray | None, then: FloatArray | None
) -> tuple[list[int], float]:
    """Return how each of the lines, sewn in this order, is entered so that the head moves least, and how far that is.

    Parameters
    ----------
    begin, then : (2,), optional
        Where the head comes from and where it goes on to.

    Notes
    -----
    Shortest path through the choices of one line after the other (Viterbi), exact but for two closed lines in a row
    of very many places.
    """
    kept = [np.arange(len(line.at)) for line in lines]
    for k in range(1, len(lines)):
        if len(kept[k - 1]) * len(kept[k]) > PAIRS_MOST:
            kept[k] = spread(len(kept[k]), max(PAIRS_MOST // len(kept[k - 1]), 1000))
    far = far_from(begin, lines[0].where[kept[0], 0])
    came: list[IntArray] = []
    for k in range(1, len(lines)):
        leave, enter = lines[k - 1].where[kept[k - 1], 1], lines[k].where[kept[k], 0]
        cost = far[:, None] + np.hypot(*(leave[:, None] - enter[None]).transpose(2, 0, 1))
        came.append(np.argmin(np.round(cost, 6), axis=0))
        far = cost[came[-1], np.arange(len(enter))]
    far = far + far_from(then, lines[-1].where[kept[-1], 1])
    at = int(np.argmin(np.round(far, 6)))
    total, chosen = float(far[at]), [at]
    for back in reversed(came):
        chosen.append(int(back[chosen[-1]]))
    return [int(kept[k][c]) for k, c in enumerate(reversed(chosen))], total


def far_from(place: FloatArray | None, places: FloatArray) -> FloatArray:
    """Return how far places lie from a place; nothing where it is not known."""
    return np.zeros(len(places)) if place is None else np.hypot(*(places - place).T)
