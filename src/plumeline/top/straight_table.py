"""How straight a top is, as a table: each seam, each block, each corner that misses. All in mm."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from ..geometry import arc_lengths, corners_from_upper_left, near_paths, point_at, rings, unite
from ..model import FloatArray, Path, Top, as_path
from .made_guides import BlockPlace
from .straightness import CORNER_DEG, ON_SIDE_MM, Side, off_true_mm, sides_meant_true

__all__ = ["BlockRow", "CornerRow", "SeamRow", "StraightLimits", "StraightTable", "straight_table"]

EYE_MM = 25.4 / 16
"""The eye sees more than this beside a straight line, and a tape is read to it."""

KINK_DEG, KINK_MM = 3.0, 12.7
"""A seam bends where the half inches before and after a place differ by more than this in direction."""

MOST_MISS_MM = 25.4 / 4
"""Corners further apart than a seam allowance are meant to be two."""


@dataclass(frozen=True, slots=True)
class StraightLimits:
    """From where on a seam, a corner or a block is out of true; mm."""

    bow_mm: float = EYE_MM
    lean_mm: float = EYE_MM
    miss_mm: float = EYE_MM
    skew_mm: float = 2 * EYE_MM

    @property
    def least_mm(self) -> float:
        """From where on a seam is crooked, by its bow or its lean."""
        return min(self.bow_mm, self.lean_mm)


@dataclass(frozen=True, slots=True, eq=False)
class SeamRow:
    """One straight stretch of a seam: how far it bows, where it bends, how far its one end leans off the true line.

    ``bow_mm`` is None where it is a curve by design; ``bends`` are places along it.
    """

    a: str
    b: str | None
    path: Path
    length_mm: float
    bow_mm: float | None
    bends: tuple[tuple[float, float], ...]
    lean_mm: float

    @property
    def name(self) -> str:
        """The two patches, or the patch and the edge of the top."""
        return f"{self.a} | {self.b or 'edge'}"

    def out(self, limits: StraightLimits) -> bool:
        """Whether it is out of true."""
        return (self.bow_mm or 0.0) > limits.bow_mm or self.lean_mm > limits.lean_mm

    @property
    def off_mm(self) -> float:
        """The worse of bow and lean."""
        return max(self.bow_mm or 0.0, self.lean_mm)


@dataclass(frozen=True, slots=True, eq=False)
class BlockRow:
    """One block or patch: sides clockwise from the upper left, diagonals, and by how much these differ."""

    name: str
    corners: FloatArray
    sides_mm: tuple[float, ...]
    diagonals_mm: tuple[float, ...]

    @property
    def skew_mm(self) -> float:
        """Difference of its diagonals; 0 where it has not four corners."""
        return abs(self.diagonals_mm[0] - self.diagonals_mm[1]) if self.diagonals_mm else 0.0


@dataclass(frozen=True, slots=True)
class CornerRow:
    """A corner that misses: where, by how much, and the patches that come between."""

    at: tuple[float, float]
    miss_mm: float
    between: tuple[str, str]


@dataclass(frozen=True, slots=True, eq=False)
class StraightTable:
    """All seams, blocks and corners that miss, in the order of the top."""

    seams: tuple[SeamRow, ...]
    blocks: tuple[BlockRow, ...]
    corners: tuple[CornerRow, ...]
    limits: StraightLimits

    @property
    def crooked(self) -> list[SeamRow]:
        """Seams out of true, the worst first."""
        return sorted((s for s in self.seams if s.out(self.limits)), key=lambda s: -s.off_mm)

    @property
    def skewed(self) -> list[BlockRow]:
        """Blocks out of square, the worst first."""
        return sorted((b for b in self.blocks if b.skew_mm > self.limits.skew_mm), key=lambda b: -b.skew_mm)


def straight_table(
    top: Top, blocks: Sequence[BlockPlace] = (), *, limits: StraightLimits | None = None
) -> StraightTable:
    """Return how straight a top is.

    Parameters
    ----------
    top : Top
        Any top.
    blocks : sequence of BlockPlace
        Blocks of a table; each is measured whole, besides its patches.
    limits : StraightLimits, optional
        From where on something is out of true; the usual ones when left out.

    Returns
    -------
    StraightTable
        All that misses, in the order of the top.
    """
    limits = limits or StraightLimits()
    sides = sides_meant_true(top, more_than_mm=limits.lean_mm)
    seams: list[SeamRow] = []
    corners: list[CornerRow] = []
    for seam in top.seams:
        length = float(arc_lengths(seam.path)[-1])
        if seam.b is not None and length <= MOST_MISS_MM:
            if length > limits.miss_mm and not _is_small(top, (seam.a, seam.b), length):
                x, y = seam.path.mean(axis=0).tolist()
                corners.append(CornerRow((x, y), length, (seam.a, seam.b)))
            continue
        own = [sides.get(name or "", []) for name in (seam.a, seam.b)]
        for path in _stretches(seam.path):
            bow = off_true_mm(path)
            lean = 0.0 if bow is None else max(_lean(path, beside) for beside in own)
            bends = () if bow is None else tuple(_bends(path))
            seams.append(SeamRow(seam.a, seam.b, path, float(arc_lengths(path)[-1]), bow, bends, lean))
    return StraightTable(tuple(seams), tuple(_blocks(top, blocks)), tuple(corners), limits)


def _is_small(top: Top, names: tuple[str, str], length: float) -> bool:
    """Return whether one of two patches has sides so short by design that a short seam is no missed corner."""
    wide = [min(b[2] - b[0], b[3] - b[1]) for p in top.patches if p.name in names for b in [p.outline.bounds]]
    return min(wide) < 2 * length


def _stretches(path: Path) -> Iterator[Path]:
    """Give a seam's stretches from corner to corner."""
    step = np.diff(path, axis=0)
    heading = np.degrees(np.arctan2(step[:, 1], step[:, 0]))
    turn = np.abs((np.diff(heading) + 180) % 360 - 180)
    cuts = [0, *(np.flatnonzero(turn > CORNER_DEG) + 1).tolist(), len(path) - 1]
    for a, b in pairwise(cuts):
        yield as_path(path[a : b + 1])


def _bends(path: Path) -> Iterator[tuple[float, float]]:
    """Give the places where a seam changes its direction within an inch: a kink, not a bow."""
    total = float(arc_lengths(path)[-1])
    at = np.arange(KINK_MM, total - KINK_MM + 1e-9, KINK_MM / 4)
    if not len(at):
        return
    middle = point_at(path, at)
    before, after = middle - point_at(path, at - KINK_MM), point_at(path, at + KINK_MM) - middle
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    turn = np.abs(np.degrees(np.arctan2(cross, (before * after).sum(axis=1))))
    over = np.flatnonzero(turn > KINK_DEG)
    for group in np.split(over, np.flatnonzero(np.diff(over) > 1) + 1):
        if len(group):
            x, y = middle[group[np.argmax(turn[group])]].tolist()
            yield x, y


def _lean(path: Path, sides: Sequence[Side]) -> float:
    if not sides:
        return 0.0
    middles = (path[:-1] + path[1:]) / 2
    at = near_paths(middles, [s.path for s in sides], within_mm=ON_SIDE_MM)
    return max((sides[k].run_out_mm for k in set(at[at >= 0].tolist())), default=0.0)


def _blocks(top: Top, blocks: Sequence[BlockPlace]) -> Iterator[BlockRow]:
    outlines = {p.name: rings(p.outline)[0] for p in top.patches}
    for block in blocks:
        own = [p.outline for p in top.patches if p.name.startswith(f"{block.name}-")]
        whole = unite(own) if len(own) > 1 else []
        if len(whole) == 1:
            outlines[block.name] = rings(whole[0])[0]
    names = [*dict.fromkeys((*(b.name for b in blocks if b.name in outlines), *outlines))]
    for name in names:
        corners = corners_from_upper_left(outlines[name])
        if not 3 <= len(corners) <= 8:
            continue
        sides = np.hypot(*(np.roll(corners, -1, axis=0) - corners).T)
        diagonals = np.hypot(*(corners[2:] - corners[:2]).T) if len(corners) == 4 else np.zeros(0)
        yield BlockRow(name, corners, tuple(sides.tolist()), tuple(diagonals.tolist()))
