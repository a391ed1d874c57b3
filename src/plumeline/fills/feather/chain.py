"""The order of stitching: one unbroken chain up one side of the spine, round the tip, down the other."""

from __future__ import annotations

from typing import Literal

import numpy as np

from ...model import FloatArray, Stroke, as_path
from .rows import Row

__all__ = ["Chain"]


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

    def row(self, row: Row) -> None:
        """Stitch a row of plumes; the chain stands at the first foot and ends at the last."""
        if row.apart:
            for k in range(len(row.tops.lines)):
                self.stitch(row.outline(k))
        else:
            self._bump_back(row)

    def _bump_back(self, row: Row) -> None:
        # down each side, and back up it to the next shoulder; the last side may be the first again
        sides, starts, tops = row.sides, row.starts, row.tops
        count = len(tops.lines)
        self.stitch(sides[0, starts[0] : tops.first[0] + 1])
        for k in range(count):
            self.stitch(tops.lines[k])
            side, start, reached = sides[k + 1], int(starts[k + 1]), int(tops.last[k])
            if k == count - 1:
                done = int(tops.first[0]) if row.closed else start
                self.stitch(side[done : reached + 1][::-1])
                self.backtrack(side[start : min(reached, done) + 1][::-1])
                return
            wanted = int(tops.first[k + 1])
            self.stitch(side[start : reached + 1][::-1])
            self.backtrack(side[start : min(reached, wanted) + 1])
            self.stitch(side[reached : wanted + 1])
