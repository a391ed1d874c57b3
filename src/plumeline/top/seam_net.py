"""The seams of a top as a net: stretches from corner to corner, and the corners where they meet."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..geometry import arc_lengths
from ..model import FloatArray, Path, Top, as_path
from ..tolerances import CORNER_MM

__all__ = ["SeamNet", "Stretch", "rings_of", "seam_net"]

BEND_DEG = 20.0
"""A seam that turns by more than this at a point has a corner there."""


@dataclass(frozen=True, slots=True, eq=False)
class Stretch:
    """A stretch of seam between patches ``a`` and ``b`` (None: the edge), from one corner of the net to another."""

    a: str
    b: str | None
    path: Path
    start: int
    end: int

    @property
    def length(self) -> float:
        """Length in mm."""
        return float(arc_lengths(self.path)[-1])


@dataclass(frozen=True, slots=True, eq=False)
class SeamNet:
    """Stretches, and the corners ``(n, 2)`` where they start and end."""

    stretches: tuple[Stretch, ...]
    corners: FloatArray


def seam_net(top: Top) -> SeamNet:
    """Return the net of a top's seams; a closed seam without a corner has one where its path begins.

    Parameters
    ----------
    top : Top
        Any top.

    Returns
    -------
    SeamNet
        Corners, and the stretches of seam between them.
    """
    numbers: dict[tuple[int, int], int] = {}
    corners: list[FloatArray] = []

    def corner(at: FloatArray) -> int:
        x, y = (int(v) for v in np.round(at / CORNER_MM))
        for key in ((x + i, y + j) for i in (0, -1, 1) for j in (0, -1, 1)):
            if key in numbers:
                return numbers[key]
        numbers[x, y] = len(corners)
        corners.append(at)
        return numbers[x, y]

    stretches = []
    for seam in top.seams:
        for path in _broken(np.asarray(seam.path)):
            stretches.append(Stretch(seam.a, seam.b, as_path(path), corner(path[0]), corner(path[-1])))
    return SeamNet(tuple(stretches), np.array(corners).reshape(-1, 2))


def _broken(path: FloatArray) -> list[FloatArray]:
    """Return a seam's path cut at its bends."""
    step = np.diff(path, axis=0)
    heading = np.arctan2(step[:, 1], step[:, 0])
    turn = np.abs((np.diff(heading) + np.pi) % (2 * np.pi) - np.pi)
    cuts = [0, *(np.flatnonzero(turn > np.radians(BEND_DEG)) + 1).tolist(), len(path) - 1]
    return [path[i : j + 1] for i, j in itertools.pairwise(cuts)]


def rings_of(stretches: Sequence[tuple[int, int, FloatArray]]) -> list[FloatArray]:
    """Return the rings that stretches (start, end, path) of one outline close; the longest way round first.

    Raises
    ------
    ValueError
        They do not close.
    """
    left = dict(enumerate(stretches))
    out = []
    while left:
        k, (start, at, path) = next(iter(left.items()))
        del left[k]
        parts = [path[:-1]]
        while at != start:
            k, way = next(
                ((k, w) for k, w in left.items() if at in (w[0], w[1])), (-1, None)
            )  # a seam net leaves no outline open
            if way is None:
                raise ValueError("has an outline that does not close")
            del left[k]
            forward = way[0] == at
            parts.append((way[2] if forward else way[2][::-1])[:-1])
            at = way[1] if forward else way[0]
        out.append(np.vstack(parts))
    return sorted(out, key=lambda ring: -float(np.prod(np.ptp(ring, axis=0))))
