"""The order of stitching: one unbroken chain up one side of the spine, round the tip, down the other."""

from __future__ import annotations

from collections.abc import Callable
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

    def row(self, row: Row, spine: Callable[[float, float], FloatArray]) -> None:
        """Stitch a row of plumes; the chain stands at the first foot and ends at the last.

        ``spine`` gives the way along the spine between two places of feet.
        """
        count = len(row.tops.lines)
        # how far the side before the next plume has been stitched; -1: not at all
        done = -1
        for k in range(count):
            if row.skipped[k]:
                self._pass_by(row, k, spine)
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

    def _pass_by(self, row: Row, k: int, spine: Callable[[float, float], FloatArray]) -> None:
        first, last = row.sides[k, : row.starts[k] + 1], row.sides[k + 1, : row.starts[k + 1] + 1]
        between = spine(float(row.places[k]), float(row.places[k + 1]))
        self.stitch(first[::-1])
        self.stitch(np.vstack([first[0], *between[1:-1], last[0]]))
        self.stitch(last)
