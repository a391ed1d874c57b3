"""Spaces alike up to turn, mirror and a tolerance: which they are, and how one lies on another."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from shapely import Polygon

from ..geometry import arc_lengths, close_ring, cornered, point_at, rings, rotate_start
from ..model import FloatArray
from ..specs import AlikeSpec

__all__ = ["EXACT_MM", "AlikeSet", "Lie", "alike_sets", "rows_and_columns", "size_in_places"]

EXACT_MM = 0.01
"""Outlines that differ by less everywhere are one shape: a needle shows no less."""

TOLERANCE = 1 / 12
"""Outlines off by up to this share of their size are alike: an inch in a 12 in block."""

AT_FIRST = 2.0
"""Against a space that may be the worst, so many times the tolerance is allowed until the middle one is found."""

NODE_MM, MOST_NODES = 5.0, 160
"""Distance of the places of a bent outline that are taken to their like, and how many there are at most."""

FLAT_MM = 0.02
"""A side that leaves the straight line between its corners by less is straight: its corners say all."""

COARSE = 5
"""Places on each side by which outlines are compared."""

ROUND_SIDES = 12
"""An outline without corners is parted into so many sides of one length from its topmost point on."""

TURN_STEP_DEG = 10.0
"""Turns that differ by less are one turn: out-of-true blocks lie a little turned."""

ROW_SHARE = 0.3
"""Middles that lie apart by more than this part of the spaces' width are in two rows."""


@dataclass(frozen=True, slots=True, eq=False)
class Lie:
    """How the model's design lies in one space: a point ``p`` goes to ``matrix @ p + shift``, and on by the outline.

    Attributes
    ----------
    space : int
        Index of the space.
    off_mm : float
        The most by which the space's outline then lies off the moved one; below `EXACT_MM` it is an exact copy.
    nodes : (k, 2) float64
        Where the nodes of the model's outline lie in this space.
    turn_deg : float
        Counter-clockwise as seen, from -180 (not included) to 180; of a mirrored one after mirroring left to right.
    """

    space: int
    matrix: FloatArray
    shift: FloatArray
    off_mm: float
    nodes: FloatArray
    turn_deg: float
    mirrored: bool
    scale: float

    @property
    def in_place(self) -> bool:
        """Whether nothing moves: the model as it is."""
        return self.exact and bool(np.allclose(self.matrix, np.eye(2)) and np.abs(self.shift).max() < EXACT_MM)

    @property
    def exact(self) -> bool:
        """Whether it is a copy to within less than a needle shows."""
        return self.off_mm < EXACT_MM


@dataclass(frozen=True, slots=True, eq=False)
class AlikeSet:
    """Spaces with one design: drawn in one of them, the model, and laid into the others.

    ``nodes``: places on the model's outline, ``(k, 2)``, between which all outlines run straight.
    """

    model: int
    nodes: FloatArray
    lies: tuple[Lie, ...]


@dataclass(frozen=True, slots=True, eq=False)
class _Sides:
    """An outline as its sides between corners, clockwise as seen, and `COARSE` places on each, ``x + i y``."""

    sides: tuple[FloatArray, ...]
    size: float
    coarse: NDArray[np.complex128]

    def nodes(self, counts: Sequence[int], first: int, mirrored: bool) -> FloatArray:
        """Return ``counts[k]`` places on the k-th side from ``first`` on, the other way round when mirrored."""
        n = len(self.sides)
        out = []
        for k, count in enumerate(counts):
            side = self.sides[(first - k - 1) % n][::-1] if mirrored else self.sides[(first + k) % n]
            out.append(side[:1] if count == 1 else point_at(side, arc_lengths(side)[-1] * np.arange(count) / count))
        return np.vstack(out)

    def is_flat(self, k: int) -> bool:
        """Return whether a side is straight."""
        side = self.sides[k % len(self.sides)]
        if len(side) == 2:
            return True
        side = side - side[0]
        chord = side[-1]
        off = np.abs(side[:, 0] * chord[1] - side[:, 1] * chord[0]).max() / max(float(np.hypot(*chord)), 1e-9)
        return bool(off < FLAT_MM)


def _sides(outline: Polygon) -> _Sides:
    found = cornered(rings(outline)[0])
    sides = [np.asarray(side) for side in found.sides()]
    if len(sides) < 3:
        ring = found.path
        closed = close_ring(rotate_start(ring, int(np.lexsort((ring[:, 0], np.round(ring[:, 1], 3)))[0])))
        points = point_at(closed, np.linspace(0.0, arc_lengths(closed)[-1], ROUND_SIDES * COARSE + 1))
        sides = [points[COARSE * k : COARSE * (k + 1) + 1] for k in range(ROUND_SIDES)]
    closed = np.vstack([*(side[:-1] for side in sides), sides[0][:1]])
    s = arc_lengths(closed)
    ends = s[np.cumsum([0, *(len(side) - 1 for side in sides)])]
    coarse = point_at(closed, (ends[:-1, None] + np.diff(ends)[:, None] * np.arange(COARSE) / COARSE).ravel())
    return _Sides(tuple(sides), float(np.sqrt(outline.area)), coarse[:, 0] + 1j * coarse[:, 1])


def alike_sets(outlines: Sequence[Polygon], spec: AlikeSpec) -> list[AlikeSet]:
    """Return the sets of two or more spaces that are alike; what is like no other is in none.

    Parameters
    ----------
    outlines : sequence of shapely.Polygon
        Their outer edges are compared.
    spec : AlikeSpec
        Sizes, tolerance, and how the design is to be turned and mirrored by row and column.

    Returns
    -------
    list of AlikeSet
        Each with its model, and how every space lies on it.

    Notes
    -----
    Outlines of one number of corners are laid on the first, each corner on each, mirrored too, by least squares; the
    one that most others equal, then the one nearest to all, is the model, on which all are laid anew. What is off by
    more than the tolerance is looked at again without them. O(n k^2) for n outlines of k corners, and n^2 for the
    model.
    """
    parted = [_sides(outline) for outline in outlines]
    places = rows_and_columns(outlines)
    left, sets = list(range(len(outlines))), []
    while left:
        corners = len(parted[left[0]].sides)
        own = [k for k in left if len(parted[k].sides) == corners]
        near = [lie for lie in _lies(parted, own[0], own, spec, AT_FIRST) if lie is not None]
        model = _middle_one(parted, near, [_tolerance(parted[lie.space], spec) for lie in near])
        own = [lie.space for lie in near]
        kept = [lie for lie in _lies(parted, model, own, spec, 1.0, places) if lie is not None]
        left = [k for k in left if k not in {model, *(lie.space for lie in kept)}]
        if len(kept) > 1:
            sets.append(_fine(parted, model, kept))
    return sets


@dataclass(frozen=True, slots=True)
class _Rough:
    """One outline laid on another by its coarse places: ``w`` turns and scales, ``first`` is the corner laid on."""

    space: int
    w: complex
    mirrored: bool
    first: int
    off_mm: float


def _tolerance(one: _Sides, spec: AlikeSpec) -> float:
    return TOLERANCE * one.size if spec.within_mm is None else spec.within_mm


def _lies(
    parted: Sequence[_Sides],
    model: int,
    spaces: Sequence[int],
    spec: AlikeSpec,
    times: float,
    places: Sequence[tuple[int, int]] | None = None,
) -> list[_Rough | None]:
    """Return how the model lies in each space by the turn and mirroring wished there; None where it is not alike."""
    n = len(parted[model].sides)
    own = parted[model].coarse - parted[model].coarse.mean()
    ring = np.arange(n * COARSE)
    order = np.vstack(
        [np.roll(ring, -COARSE * k) for k in range(n)] + [(COARSE * k - ring) % len(ring) for k in range(n)]
    )
    goals = np.stack([parted[k].coarse[order] for k in spaces])
    goals = goals - goals.mean(axis=2, keepdims=True)
    source = np.where(np.arange(2 * n)[:, None] >= n, -own.conj(), own)  # mirrored left to right
    w = (source.conj() * goals).sum(axis=2) / (np.abs(source) ** 2).sum(axis=1)
    if not spec.any_size:
        w = w / np.maximum(np.abs(w), 1e-300)
    off = np.abs(w[..., None] * source - goals).max(axis=2)
    found: list[_Rough | None] = []
    size = (1, 1) if places is None else size_in_places(places)
    for at, k in enumerate(spaces):
        turn, mirrored = (0.0, False) if places is None else spec.at(*places[k], *size)
        aside = np.abs((-np.degrees(np.angle(w[at])) - turn + 180) % 360 - 180)
        wrong = (np.arange(2 * n) >= n) != mirrored
        good = off[at] <= times * _tolerance(parted[k], spec)
        best = np.lexsort((off[at], np.round(aside / TURN_STEP_DEG), wrong, ~good))[0]
        lie = _Rough(k, complex(w[at, best]), bool(best >= n), int(best % n), float(off[at, best]))
        found.append(lie if good[best] else None)
    return found


def _middle_one(parted: Sequence[_Sides], near: Sequence[_Rough], tolerances: Sequence[float]) -> int:
    """Return the space that most others equal; of several, the one whose outline is nearest to all."""
    laid = []
    for lie in near:
        ring = np.arange(len(parted[lie.space].coarse))
        order = (COARSE * lie.first - ring) % len(ring) if lie.mirrored else (COARSE * lie.first + ring) % len(ring)
        z = parted[lie.space].coarse[order]
        back = (z - z.mean()) / lie.w
        laid.append(-back.conj() if lie.mirrored else back)
    all_laid = np.array(laid)
    apart = np.stack([np.abs(all_laid - one).max(axis=1) for one in all_laid])
    equal = (apart < EXACT_MM).sum(axis=1)
    unlike = (apart > np.array(tolerances)).sum(axis=1)
    best = np.lexsort((np.arange(len(near)), np.round(apart.sum(axis=1), 6), unlike, -equal))[0]
    return near[int(best)].space


def _fine(parted: Sequence[_Sides], model: int, lies: Sequence[_Rough]) -> AlikeSet:
    """Return a set with as many nodes on each side as the most bent of its outlines needs."""
    own = parted[model]
    n = len(own.sides)
    lengths = np.array([arc_lengths(side)[-1] for side in own.sides])
    step = max(NODE_MM, float(lengths.sum()) / MOST_NODES)
    counts = []
    for k in range(n):
        like = [(parted[x.space], x.first - k - 1 if x.mirrored else x.first + k) for x in lies]
        flat = own.is_flat(k) and all(other.is_flat(side) for other, side in like)
        counts.append(1 if flat else int(np.ceil(lengths[k] / step)))
    nodes = own.nodes(counts, 0, False)
    return AlikeSet(
        model, nodes, tuple(_lie(nodes, parted[x.space].nodes(counts, x.first, x.mirrored), x) for x in lies)
    )


def _lie(nodes: FloatArray, goal: FloatArray, rough: _Rough) -> Lie:
    w = complex(round(rough.w.real, 12), round(rough.w.imag, 12))
    c, s = w.real, w.imag
    matrix = np.array([[c, -s], [s, c]]) @ np.diag([-1.0 if rough.mirrored else 1.0, 1.0])
    shift = goal.mean(axis=0) - nodes.mean(axis=0) @ matrix.T
    off = np.hypot(*(nodes @ matrix.T + shift - goal).T).max()
    turn = -float(np.degrees(np.angle(w)))
    return Lie(rough.space, matrix, shift, float(off), goal, turn, rough.mirrored, abs(w))


def rows_and_columns(outlines: Sequence[Polygon]) -> list[tuple[int, int]]:
    """Return the row and the column of each space, from 0 at the top left: by where their middles lie.

    Spaces set on point stand in rows and columns half a block apart.

    Parameters
    ----------
    outlines : sequence of shapely.Polygon
        The spaces.

    Returns
    -------
    list of (row, column)
        One a space, in their order.
    """
    if not outlines:
        return []
    boxes = np.array([outline.bounds for outline in outlines])
    wide = float(np.median(boxes[:, 2:] - boxes[:, :2]))
    middles = np.array([(outline.centroid.x, outline.centroid.y) for outline in outlines])
    ranks = []
    for along in middles.T:
        order = np.argsort(along, kind="stable")
        steps = np.concatenate([[False], np.diff(along[order]) > ROW_SHARE * wide])
        rank = np.empty(len(order), dtype=int)
        rank[order] = np.cumsum(steps)
        ranks.append(rank)
    return list(zip(ranks[1].tolist(), ranks[0].tolist()))


def size_in_places(places: Sequence[tuple[int, int]]) -> tuple[int, int]:
    """Return how many rows and columns there are.

    Parameters
    ----------
    places : sequence of (row, column)
        As `rows_and_columns` gives them.

    Returns
    -------
    rows, columns
        0 of each for no places.
    """
    return max((row for row, _ in places), default=0) + 1, max((column for _, column in places), default=0) + 1
