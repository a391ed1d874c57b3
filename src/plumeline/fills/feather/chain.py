"""The order of stitching: one unbroken chain up one side of the spine, round the tip, down the other."""

from __future__ import annotations

from typing import Literal

import numpy as np

from ...model import FloatArray, Stroke, as_path
from .plumes import Tops

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

    def bump_back(self, sides: FloatArray, tops: Tops) -> None:
        """Stitch a row whose plumes share their sides: down each side, and back up it to the next shoulder.

        Parameters
        ----------
        sides : (count + 1, POINTS, 2)
            From foot to outline; the chain stands at the first foot and ends at the last.
        """
        count = len(tops.line)
        self.stitch(sides[0, : tops.first[0] + 1])
        shared = np.array_equal(sides[0], sides[-1])
        for k in range(count):
            self.stitch(tops.line[k])
            down = sides[k + 1, tops.last[k] :: -1]
            if k == count - 1:
                self._last_side(sides[-1], int(tops.last[k]), int(tops.first[0]) if shared else -1)
                return
            self.stitch(down)
            reached, wanted = int(tops.last[k]), int(tops.first[k + 1])
            self.backtrack(sides[k + 1, : min(reached, wanted) + 1])
            self.stitch(sides[k + 1, reached : wanted + 1])

    def _last_side(self, side: FloatArray, reached: int, stitched: int) -> None:
        # the last side may be the first, stitched up to a point already
        self.stitch(side[max(stitched, 0) : reached + 1][::-1])
        self.backtrack(side[min(reached, stitched) :: -1] if stitched >= 0 else side[:0])
