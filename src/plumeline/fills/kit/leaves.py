"""Leaves of a vine: pointed loops that grow out of a line, and out of each other, into whatever it left bald."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.ndimage import distance_transform_edt, maximum_filter
from scipy.spatial import cKDTree
from shapely import Polygon

from ...geometry import arc_lengths, bounds, contains, densify, is_simple, nearest_of, rings
from ...model import BoolArray, FloatArray

__all__ = ["with_leaves"]

CELL = 0.2
"""Cell of the picture in which bald spots are looked for, in spacings."""

BALD = 1.0
"""A place this many spacings from every line gets a leaf: less, and leaves crowd the vine."""

ROUNDS = 3
"""How often bald spots are looked for: leaves grow on leaves."""

FROM_EDGE, FROM_LINES = 0.25, 0.5
"""How far a leaf keeps from the edge and from other lines, in spacings; its point comes so near to them."""

PLUMP = 0.3
"""Half the width of a leaf, in its length; and no more than `WIDEST` spacings, so that it is not bald itself."""

WIDEST = 0.8

LEAST_LENGTH = 1.0
"""The shortest leaf, in spacings."""

TRIED = ((0.55, 1.0), (0.2, 1.0), (-0.3, 1.0), (0.0, 1.0), (0.2, 0.6), (0.0, 0.6))
"""How far before the nearest point of the line a leaf's stalk sets off along it, in the leaf's length, and in what
share of its full width: tried in turn. At 0 it stands straight up."""

SWING = 0.45
"""How far along the line the stalk swings before it turns out, in the leaf's length, at most `SWING_MOST` spacings."""

SWING_MOST = 1.5

SLIMMEST = 0.2
"""Half the width of the slimmest leaf, in spacings: less, and its sides are a double line."""

GAP = 0.3
"""How wide the line is opened for a leaf, in spacings."""

SAMPLES = 13
"""Points along each side of a leaf."""

U = np.linspace(0, 1, SAMPLES)
WEIGHTS = np.column_stack([(1 - U) ** 2, 2 * U * (1 - U), U**2])
SLOPES = np.column_stack([U - 1, 1 - 2 * U, U])
PROFILE = 1.9 * U**0.8 * (1 - U) ** 0.7
"""A leaf's axis as shares of its base, swing and tip, their slopes, and its half width along it."""

BY_ITSELF = 1.6
"""Stretch of the line beside a leaf's stalk that it may come near to, in spacings beyond the leaf's length."""


def with_leaves(
    path: FloatArray, region: Polygon, spacing_mm: float, *, others: Sequence[FloatArray] = ()
) -> FloatArray:
    """Return a line with a leaf in every bald spot that one grows into, itself free of crossings.

    Parameters
    ----------
    path : FloatArray
        Simple open line inside the region, ``(n, 2)`` in mm.
    spacing_mm : float
        The distance of lines wanted.
    others : sequence of FloatArray
        Other lines in the region, from which leaves keep as far.

    Notes
    -----
    The places farthest from every line are found on cells of `CELL` spacings. From the line's point nearest to each,
    a stalk sets off along the line and swings out to a point beyond that place; both sides of the leaf run out
    to there and back, as plump as the room beside them lets them. Whatever comes too near to another line is made
    slimmer, then left out. O(cells) a round.
    """
    field = _Field(region, spacing_mm)
    barren: set[tuple[float, float]] = set()
    beside = np.vstack([np.zeros((0, 2)), *(densify(other, field.cell) for other in others)])
    for _ in range(ROUNDS):
        grown = _one_round(path, beside, field, spacing_mm, barren)
        if len(grown) == len(path):
            break
        path = grown
    return path


class _Field:
    """Cells of a region, and how far each lies from its edge."""

    def __init__(self, region: Polygon, spacing_mm: float) -> None:
        self.cell = CELL * spacing_mm
        left, top, right, bottom = bounds(region)
        self.low = np.array([left, top]) - self.cell
        self.shape = tuple(np.ceil((np.array([right, bottom]) - self.low) / self.cell).astype(int) + 2)
        place = np.stack(np.meshgrid(*(np.arange(n) for n in self.shape), indexing="ij"), axis=-1).reshape(-1, 2)
        self.points = self.low + place * self.cell
        self.inside = contains(region, self.points).reshape(self.shape)
        self.region = region
        self.edge = cKDTree(np.vstack([densify(ring, self.cell, closed=True) for ring in rings(region)]))

    def bald(self, lines: FloatArray, spacing_mm: float) -> FloatArray:
        """Return the places farthest from all lines, the farthest first, ``(n, 2)``."""
        free = np.ones(self.shape, dtype=bool)
        at = np.clip(np.round((lines - self.low) / self.cell).astype(int), 0, np.array(self.shape) - 1)
        free[at[:, 0], at[:, 1]] = False
        far = np.where(self.inside, distance_transform_edt(free) * self.cell, 0.0)
        peak = (far >= BALD * spacing_mm) & (far == maximum_filter(far, size=5))
        found = np.flatnonzero(peak)
        return np.asarray(self.points[found[np.argsort(-np.round(far.ravel()[found], 6), kind="stable")]])

    def within(self, points: FloatArray) -> BoolArray:
        """Return whether the cells that points lie in are inside."""
        at = np.clip(np.round((points - self.low) / self.cell).astype(int), 0, np.array(self.shape) - 1)
        return np.asarray(self.inside[at[:, 0], at[:, 1]])

    def clear(self, points: FloatArray) -> FloatArray:
        """Return how far points lie from the edge, negative outside."""
        far = self.edge.query(points)[0]
        return np.asarray(np.where(contains(self.region, points), far, -far))


@dataclass(frozen=True, slots=True, eq=False)
class _Line:
    """The line that leaves grow from, densely: its points, how far along it each lies, and all lines as a tree."""

    fine: FloatArray
    at: FloatArray
    tree: cKDTree
    field: _Field
    spacing: float


class _Drawn:
    """The leaves of one round, each with its box: most of them are far from any place that is asked of."""

    def __init__(self) -> None:
        self.leaves: list[FloatArray] = []
        self.boxes = np.zeros((0, 4))

    def add(self, leaf: FloatArray) -> None:
        """Take up a leaf's points."""
        self.leaves.append(leaf)
        self.boxes = np.vstack([self.boxes, [*leaf.min(axis=0), *leaf.max(axis=0)]])

    def nearer_than(self, far_mm: float, points: FloatArray) -> bool:
        """Return whether any of the points lies nearer to a leaf."""
        low, high = points.min(axis=0) - far_mm, points.max(axis=0) + far_mm
        near = np.flatnonzero((self.boxes[:, :2] <= high).all(axis=1) & (self.boxes[:, 2:] >= low).all(axis=1))
        return any(bool(nearest_of(cKDTree(self.leaves[k]), points)[0].min() < far_mm) for k in near)


def _one_round(
    path: FloatArray, others: FloatArray, field: _Field, spacing: float, barren: set[tuple[float, float]]
) -> FloatArray:
    """Return the path with what grows into its bald spots, one leaf each; those where none grows are kept in mind."""
    fine = densify(path, field.cell)
    lines = np.vstack([fine, others])
    line = _Line(fine, arc_lengths(fine), cKDTree(lines), field, spacing)
    spots = field.bald(lines, spacing)
    if not len(spots):
        return path
    near = nearest_of(line.tree, spots)
    new: list[tuple[int, int, FloatArray]] = []
    drawn = _Drawn()
    for spot, foot in zip(spots, near[1]):
        place = (float(spot[0]), float(spot[1]))
        if place in barren or foot >= len(fine):
            continue
        if drawn.nearer_than(BALD * spacing, spot[None]):
            continue
        leaf = _leaf(spot, int(foot), line)
        if leaf is None:
            barren.add(place)
            continue
        first, last, sides = leaf
        if drawn.nearer_than(FROM_LINES * spacing, sides):
            continue
        if any(first <= b + 1 and a <= last + 1 for a, b, _ in new):
            continue
        new.append(leaf)
        drawn.add(densify(sides, field.cell))
    if not new:
        return path
    parts, done = [], 0
    for first, last, sides in sorted(new, key=lambda leaf: leaf[0]):
        parts += [fine[done : first + 1], sides]
        done = last
    return np.vstack([*parts, fine[done:]])


def _leaf(spot: FloatArray, foot: int, line: _Line) -> tuple[int, int, FloatArray] | None:
    """Return where the line is opened, where it goes on, and the leaf's two sides; None where none grows."""
    fine, field, spacing = line.fine, line.field, line.spacing
    out = spot - fine[foot]
    height = float(np.hypot(*out))
    out = out / height
    # on from the spot for as long as there is room: to where other lines or the edge come near
    ahead = spot + np.arange(-0.9 * height, 4 * spacing, 0.5 * field.cell)[:, None] * out
    room = np.minimum(
        np.where(field.within(ahead), field.edge.query(ahead)[0], 0.0) - FROM_EDGE * spacing,
        nearest_of(line.tree, ahead)[0] - FROM_LINES * spacing,
    )
    start = np.arange(len(ahead)) * 0.5 * field.cell < 0.4 * height  # beside the line that it grows from
    shut = np.flatnonzero((room < 0) & ~start)
    tip = ahead[shut[0] - 1 if len(shut) else -1]
    length = float(np.hypot(*(tip - fine[foot])))
    if length < LEAST_LENGTH * spacing:
        return None
    for share, slim in TRIED:
        found = _tried(min(share * length, 2 * SWING_MOST * spacing), slim, tip, foot, line)
        if found is not None:
            return found
    return None


def _tried(back: float, slim: float, tip: FloatArray, foot: int, line: _Line) -> tuple[int, int, FloatArray] | None:
    fine, at, field, spacing = line.fine, line.at, line.field, line.spacing
    first = int(np.searchsorted(at, at[foot] - back))
    last = int(np.searchsorted(at, at[min(first, len(at) - 1)] + GAP * spacing))
    if first < 2 or last > len(fine) - 3:
        return None
    base = (fine[first] + fine[last]) / 2
    length = float(np.hypot(*(tip - base)))
    way = fine[last] - fine[first - 1]
    way = way / max(float(np.hypot(*way)), 1e-9)
    swing = base + min(SWING * length, SWING_MOST * spacing) * way if back > 0 else (base + tip) / 2
    axis = WEIGHTS @ np.vstack([base, swing, tip])
    side = SLOPES @ np.vstack([base, swing, tip])
    side = np.column_stack([-side[:, 1], side[:, 0]]) / np.maximum(np.hypot(*side.T), 1e-9)[:, None]
    half = slim * min(PLUMP * length, WIDEST * spacing) * PROFILE
    half = np.minimum(half, np.maximum(field.edge.query(axis)[0] - FROM_EDGE * spacing, 0.02 * spacing))
    if half.max() < SLIMMEST * spacing:
        return None
    ways = axis + half[:, None] * side, axis - half[:, None] * side
    # the side that the line comes to first goes out, the other comes back
    if np.hypot(*(ways[0][2] - fine[first])) > np.hypot(*(ways[1][2] - fine[first])):
        ways = ways[::-1]
    sides = np.vstack([ways[0][1:-1], axis[-1:], ways[1][-2:0:-1]])
    if not _fits(sides, first, last, length, line):
        return None
    return (first, last, sides) if field.clear(sides).min() >= 0.5 * FROM_EDGE * spacing else None


def _fits(sides: FloatArray, first: int, last: int, length: float, line: _Line) -> bool:
    """Return whether a leaf keeps off every line but the stretch it grows from, and does not cross that."""
    fine, at, spacing = line.fine, line.at, line.spacing
    beside = BY_ITSELF * spacing + length
    from_, to = np.searchsorted(at, [at[first] - beside, at[last] + beside])
    # beside its stalk it may lie near the line it grows from, further out near none
    outer = np.hypot(*(sides - fine[first]).T) > 0.5 * length
    far, nearest = nearest_of(line.tree, sides)
    own = (nearest >= from_) & (nearest < to) & ~outer
    if not ((far >= 0.8 * FROM_LINES * spacing) | own).all():
        return False
    return is_simple(np.vstack([fine[from_ : first + 1], sides, fine[last:to]]))
