"""The order of stitching: one unbroken chain up one side of the spine, round the tip, down the other."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise
from typing import Literal

import numpy as np

from ...geometry import arc_lengths
from ...model import FloatArray, Stroke, as_path
from ...tolerances import SAME_MM
from .rows import Row

__all__ = ["Chain", "chain_open", "chain_ring", "shares_left_out"]


class Chain:
    """A chain under construction: every piece starts bitwise where the one before ended."""

    def __init__(self) -> None:
        self._pieces: list[tuple[Literal["stitch", "backtrack"], list[FloatArray]]] = []

    def stitch(self, points: FloatArray) -> None:
        """Go along points for the first time."""
        self._add("stitch", points)

    def backtrack(self, points: FloatArray) -> None:
        """Go along points already stitched."""
        self._add("backtrack", points)

    def _add(self, role: Literal["stitch", "backtrack"], points: FloatArray) -> None:
        if len(points) < 2:
            return
        if self._pieces and self._pieces[-1][0] == role:
            self._pieces[-1][1].append(points[1:])
        else:
            self._pieces.append((role, [points]))

    def strokes(self) -> tuple[Stroke, ...]:
        """Return the chain as strokes in stitching order."""
        return tuple(Stroke(as_path(np.vstack(parts)), role=role, chain=0, atomic=True) for role, parts in self._pieces)

    def out_and_back(self, points: FloatArray) -> None:
        """Go along points for the first time and back to where they start."""
        self.stitch(points)
        self.backtrack(points[::-1])

    def row(self, row: Row, pass_by: Callable[[int], None]) -> None:
        """Stitch a row of plumes; the chain stands at the first foot and ends at the last.

        ``pass_by`` goes along the spine from the first foot of a plume left out to its last.
        """
        # how far the side before the next plume has been stitched; -1: not at all
        done = -1
        for k in range(len(row.tops.lines)):
            if row.skipped[k]:
                self.stitch(row.sides[k, row.starts[k] :: -1])
                pass_by(k)
                self.stitch(row.sides[k + 1, : row.starts[k + 1] + 1])
                done = -1
            elif row.apart:
                self.stitch(row.outline(k))
            else:
                done = self._bump_back(row, k, done)

    def _bump_back(self, row: Row, k: int, done: int) -> int:
        # up the first side as far as it is wanted, round the top, down the last side
        start, wanted = int(row.starts[k]), int(row.tops.first[k])
        side = row.sides[k]
        self.backtrack(side[start : min(done, wanted) + 1])
        self.stitch(side[max(start, done) : wanted + 1])
        self.stitch(row.tops.lines[k])
        side, start, reached = row.sides[k + 1], int(row.starts[k + 1]), int(row.tops.last[k])
        # in a closed row the last side is the first again
        again = row.closed and k == len(row.tops.lines) - 1 and not row.skipped[0]
        before = int(row.tops.first[0]) if again else -1
        self.stitch(side[max(start, before) : reached + 1][::-1])
        self.backtrack(side[start : min(reached, before) + 1][::-1])
        return reached


def chain_open(lead: FloatArray, spine: FloatArray, row: Row) -> Chain:
    """Return the chain of an open spine: in at the base, round the row, up the spine, and back out at the base.

    Where plumes are left out the line goes along the spine instead, and that stretch is then no more gone along: what
    lies beyond it is stitched out and back from there, so that no stretch is gone along three times.
    """
    chain = Chain()
    chain.stitch(lead)
    stretches = _Stretches(chain, spine, row)
    chain.row(row, stretches.pass_by)
    stretches.beyond(0)
    chain.backtrack(lead[::-1])
    return chain


class _Stretches:
    """An open spine cut at the feet of the plumes left out; stretches are numbered from the base."""

    def __init__(self, chain: Chain, spine: FloatArray, row: Row) -> None:
        self._chain = chain
        places = arc_lengths(spine)
        total = float(places[-1])
        left_out = [k for k, out in enumerate(row.skipped) if out]
        self._feet = np.minimum(row.places, 2 * total - row.places)
        points = {float(self._feet[k]): row.sides[k, 0] for j in left_out for k in (j, j + 1)}
        points[0.0], points[total] = spine[0], spine[-1]
        self._cuts = sorted(points)
        self._lines = [
            np.vstack([points[a], spine[(places > a + SAME_MM) & (places < b - SAME_MM)], points[b]])
            for a, b in pairwise(self._cuts)
        ]
        passed = {n for k in left_out for n in self._between(k)}
        self._left = set(range(len(self._lines))) - passed
        self._done: set[int] = set()

    def pass_by(self, k: int) -> None:
        """Go past a plume left out, and out and back along what begins at either of its feet."""
        between = self._between(k)
        first, last = self._number(k), self._number(k + 1)
        self.beyond(first)
        for n in between if first <= last else reversed(between):
            line = self._lines[n] if first <= last else self._lines[n][::-1]
            (self._chain.backtrack if n in self._done else self._chain.stitch)(line)
            self._done.add(n)
        self.beyond(last)

    def beyond(self, n: int) -> None:
        """Go out and back along a stretch that no plume left out passes, once."""
        if n in self._left:
            self._left.remove(n)
            self._chain.out_and_back(self._lines[n])

    def _number(self, foot: int) -> int:
        return self._cuts.index(float(self._feet[foot]))

    def _between(self, k: int) -> range:
        first, last = sorted((self._number(k), self._number(k + 1)))
        return range(first, last)


def chain_ring(spine: FloatArray, outer: Row, inner: Row) -> Chain:
    """Return the chain of a closed spine: the outer row, on to the inner row, that, and the rest of the spine."""
    chain = Chain()

    def way(a: Row, i: int, b: Row, j: int) -> FloatArray:
        between = _round(spine, float(a.places[i]), float(b.places[j]))
        return np.vstack([a.sides[i, 0], between[1:-1], b.sides[j, 0]])

    chain.row(outer, lambda k: chain.stitch(way(outer, k, outer, k + 1)))
    chain.stitch(way(outer, 0, inner, 0))
    chain.row(inner, lambda k: chain.stitch(way(inner, k, inner, k + 1)))
    chain.stitch(way(inner, 0, outer, 0))
    return chain


def shares_left_out(spine: FloatArray, outer: Row, inner: Row) -> bool:
    """Return whether plumes were left out on both sides of one place of a closed spine.

    The line would go along it past either, and once more round the ring.
    """
    total = float(arc_lengths(spine, closed=True)[-1])
    spans = [np.column_stack([r.places[:-1], r.places[1:]])[r.skipped] for r in (outer, inner)]
    apart = np.mod(spans[1][None, :, 0] - spans[0][:, None, 0], total)
    long = [np.diff(span, axis=1)[:, 0] for span in spans]
    return bool(((apart < long[0][:, None]) | (total - apart < long[1][None, :])).any())


def _round(spine: FloatArray, start: float, end: float) -> FloatArray:
    """Return the way on a closed spine from one place on to another."""
    s = arc_lengths(spine, closed=True)
    start, end = start % s[-1], end % s[-1]
    end = end if end > start else end + s[-1]
    places, points = np.concatenate([s[:-1], s[:-1] + s[-1]]), np.vstack([spine, spine])
    ends = [[np.interp(at, places, points[:, k]) for k in (0, 1)] for at in (start, end)]
    between = (places > start + SAME_MM) & (places < end - SAME_MM)
    return np.vstack([ends[0], points[between], ends[1]])
