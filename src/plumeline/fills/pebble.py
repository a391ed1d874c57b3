"""Pebble: circles that touch, each stitched once around, all in one line."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import ClassVar, Self, TypeAlias

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import Delaunay, QhullError, cKDTree
from shapely import Polygon

from ..codes import FindingCode
from ..geometry import (
    bounds,
    contains,
    dedupe,
    inscribed_circle,
    nearest_on_ring,
    pieces,
    rings,
    turns,
)
from ..model import Filled, Finding, FloatArray, IntArray, Stroke, Zone
from ..tolerances import CURVE_MM
from .kit.circles import Packing
from .kit.limits import check_amount
from .kit.registry import Fill, too_small
from .kit.settings import Mm, SpacedSettings, length

__all__ = ["FILL", "PebbleSettings"]


CLASSES = np.array([1.0, 1.44, 2.08, 3.0]) / 3
"""Radii of the size classes, in the largest: from 1 to 3."""

SHARES = np.array([0.35, 0.3, 0.2, 0.15])
"""How often each class is asked for; what finds no room at that size comes smaller."""

MARGIN = 0.02
"""How far pebbles keep from the edge, in the largest radius."""

HALVINGS = 8
"""How often the interval of radii is halved: pebbles end up to 1/400 of their radius short of the third they face."""

Place: TypeAlias = Callable[[FloatArray, IntArray], FloatArray]

ROUNDS = 400
"""Most rounds of putting in what fits: 90 in of the largest pebbles at half an inch each take 180."""

CORNER = np.radians(30.0)
"""Turn of the edge from which a corner is looked at for a pebble of its own."""

GRID = 0.5
"""Step at which room for a pebble is looked for at the end, in the least radius."""

STALLED = 0.3
"""Where so much of the region has room for a pebble's middle after the first growth, that came to a stop."""

REST = 1.2
"""Radius, in the largest, of a bald spot from which another line is started."""


LINES_A_PEBBLE = 4.0
"""Strands of line in the width of a large pebble: circles of that size alone have 3.6, smaller ones fill between."""


LEAST_SIZE_MM = 3.0
"""Pebbles smaller than this are knots."""


class PebbleSettings(SpacedSettings):
    """Settings of the pebbles."""

    sized_by: ClassVar[str] = "size_mm"

    size_mm: Mm = length(
        25.4, least=LEAST_SIZE_MM, description="diameter of the largest pebbles; the smallest are a third of it"
    )

    @property
    def promise_mm(self) -> float | None:
        """The middle of the largest pebble lies so far from its line; nobody knows it where a density sets it."""
        return self.size_mm / 2 if self.wanted_density is None else None

    def spaced(self, mean_mm: float) -> Self:
        """Return these settings with pebbles of another size, not under the smallest."""
        return super().spaced(max(mean_mm, LEAST_SIZE_MM))


def draw(zone: Zone, settings: PebbleSettings, *, rng: np.random.Generator, tolerance_mm: float = CURVE_MM) -> Filled:
    """Draw the pebbles in a zone.

    Returns
    -------
    Filled
        One closed stroke for each piece of the zone, and one more for each place that pebbles can't reach by
        touching. None, and a finding, when not even the smallest fits.

    Notes
    -----
    From a first pebble at the edge others are added, each touching two (a tangent circle packing grown at its
    front), then smaller ones in what is left. Each one's first neighbour is its parent. The line runs round a
    pebble, and wherever a child touches goes once round that first, the other way about, so that it passes
    smoothly from one to the other: every pebble is stitched exactly once and nothing is gone over again. O(n log n)
    a round, with rounds as the square root of the number of pebbles.
    """
    check_amount(zone, settings.size_mm / LINES_A_PEBBLE, key="size")
    strokes: list[Stroke] = []
    for piece in pieces(zone):
        heap = _Heap(piece, settings.size_mm / 2, rng)
        rest = [(heap, heap.first(zone))]
        while rest:
            heap, (centre, radius) = rest.pop()
            if radius < heap.least:
                continue
            heap.fill(centre, radius)
            strokes.append(Stroke(dedupe(heap.tour(piece, tolerance_mm), closed=True), closed=True))
            rest.extend(heap.others())
    if not strokes:
        return too_small(zone, "pebble", "there is no room for a pebble", "Choose smaller pebbles.")
    findings: tuple[Finding, ...] = ()
    if len(strokes) > len(pieces(zone)):
        findings = (
            Finding(
                FindingCode.PEBBLE_IN_PARTS,
                "note",
                zone.label,
                f"pebble: {len(strokes)} lines, because necks are too narrow for pebbles that touch",
                "Choose smaller pebbles, or give the zone travel = 'any-seam'.",
            ),
        )
    return Filled(tuple(strokes), findings=findings)


class _Heap(Packing):
    """Pebbles that touch; none overlap."""

    def __init__(self, region: Polygon, largest: float, rng: np.random.Generator) -> None:
        super().__init__(region, least_mm=float(CLASSES[0]) * largest, most_mm=largest, margin_mm=MARGIN * largest)
        self.rng = rng
        self.parents: IntArray = np.zeros(0, dtype=np.int64)

    def first(self, zone: Zone) -> tuple[FloatArray, float]:
        """Return the first pebble: at the edge where the line is wished to enter, else at its left."""
        left, top, _, bottom = bounds(self.region)
        wish = zone.enter if zone.enter is not None else zone.leave
        at = nearest_on_ring(rings(self.region)[0], np.array([left, (top + bottom) / 2] if wish is None else wish))
        (x, y), most = inscribed_circle(self.region, tolerance_mm=0.02 * self.most)
        # On the way from there to the middle of the piece: the nearest place where a middling pebble fits.
        radius = min(CLASSES[2] * self.most, 0.95 * most)
        way = at + np.linspace(0, 1, 400)[:, None] * (np.array([x, y]) - at)
        fits = np.flatnonzero(contains(self.region, way) & (self.edge.query(way)[0] >= radius))
        return (way[fits[0]], radius) if len(fits) else (np.array([x, y]), radius)

    def others(self) -> list[tuple[_Heap, tuple[FloatArray, float]]]:
        """Return a heap for each place that these pebbles did not reach and that is large enough, and its first."""
        fine = 0.5 * self.margin  # the discs' chords cut in by less than pebbles keep from an edge
        found = self.left(self.region, REST * self.most, tolerance_mm=fine)
        return [(_Heap(piece, self.most, self.rng), (middle, float(CLASSES[2] * self.most))) for piece, middle in found]

    def fill(self, centre: FloatArray, radius: float) -> None:
        """Put in a first pebble and all that fit after it."""
        self.put(centre[None], np.array([radius]), np.array([-1]))
        beside = self.touching(np.zeros(16, dtype=np.int64), np.arange(16) * np.pi / 8)
        if not len(beside):
            return
        self.grow(np.array([[0, 1, -1], [0, 1, 1]]))
        if len(self.open_grid()) * (GRID * self.least) ** 2 > STALLED * float(self.region.area):
            self.reach_out()  # else corner after corner would string large ones along a strip
        for mixed in (True, True, True, False):
            self.into_corners()
            self.grow(self.neighbours(), mixed=mixed)
        self.reach_out()

    def put(self, centres: FloatArray, radii: FloatArray, parents: IntArray) -> IntArray:
        """Put in pebbles, each the child of another, and return their numbers."""
        self.parents = np.concatenate([self.parents, parents])
        return self.add(centres, radii)

    def grow(self, pairs: IntArray, *, mixed: bool = True) -> None:
        """Put pebbles beside pairs ``(i, j, side)``, and beside the pairs that those make, until none fit."""
        most = self.asked(len(pairs), mixed)
        for _ in range(ROUNDS):
            if not len(pairs):
                return
            radius = self.largest_fit(self.beside(pairs), most)
            open_up = radius >= self.least
            pairs, most, radius = pairs[open_up], most[open_up], radius[open_up]
            if not len(pairs):
                return
            i, j, side = pairs.T
            centres = self.between(i, j, side, radius)
            chosen = self.apart(centres, radius)
            new = self.put(centres[chosen], radius[chosen], np.minimum(i, j)[chosen])
            fresh = [np.column_stack([a, new, np.full(len(new), s)]) for a in (i[chosen], j[chosen]) for s in (-1, 1)]
            kept = np.ones(len(pairs), dtype=bool)
            kept[chosen] = False
            added = np.vstack(fresh)
            pairs = np.vstack([pairs[kept], added])
            most = np.concatenate([most[kept], self.asked(len(added), mixed)])

    def asked(self, count: int, mixed: bool) -> FloatArray:
        """Return the largest radii that pebbles may have: of all classes by chance, or the largest."""
        if not mixed:
            return np.full(count, self.most)
        drawn: FloatArray = self.rng.choice(CLASSES, size=count, p=SHARES) * self.most
        return drawn

    def largest_fit(self, place: Place, most: FloatArray) -> FloatArray:
        """Return for each place a radius that fits there while a little more does not, up to its most.

        0 where the least does not fit. ``place(radii, which)`` gives centres.
        """
        best = np.zeros(len(most))
        rows = np.arange(len(most))

        def fits(radius: FloatArray, which: IntArray) -> NDArray[np.bool_]:
            return np.asarray(self.room(place(radius, which)) >= radius - 1e-9 * self.most)

        rows = rows[fits(np.full(len(rows), self.least), rows)]
        best[rows] = self.least
        whole = fits(most[rows], rows)
        best[rows[whole]] = most[rows[whole]]
        rows = rows[~whole]
        low, high = best[rows], most[rows]
        for _ in range(HALVINGS):
            middle = (low + high) / 2
            good = fits(middle, rows)
            low, high = np.where(good, middle, low), np.where(good, high, middle)
        best[rows] = low
        return best

    def beside(self, pairs: IntArray) -> Place:
        """Return where circles lie that touch both of some pairs."""

        def place(radius: FloatArray, which: IntArray) -> FloatArray:
            i, j, side = pairs[which].T
            return self.between(i, j, side, radius)

        return place

    def apart(self, centres: FloatArray, radius: FloatArray) -> IntArray:
        """Return the circles kept when, from the largest on, each drops those that it overlaps."""
        order = np.argsort(-radius, kind="stable")
        pairs = cKDTree(centres).query_pairs(2 * self.most, output_type="ndarray")
        i, j = pairs.T
        over = np.hypot(*(centres[i] - centres[j]).T) < radius[i] + radius[j] - 1e-9 * self.most
        clash: dict[int, list[int]] = {}
        for a, b in pairs[over].tolist():
            clash.setdefault(a, []).append(b)
            clash.setdefault(b, []).append(a)
        dropped = np.zeros(len(radius), dtype=bool)
        kept = []
        for k in order.tolist():
            if not dropped[k]:
                kept.append(k)
                dropped[clash.get(k, [])] = True
        return np.array(kept, dtype=np.int64)

    def neighbours(self) -> IntArray:
        """Return all pairs that lie beside each other, each on both sides."""
        try:
            corners = Delaunay(self.centres).simplices
        except (QhullError, ValueError):
            return np.zeros((0, 3), dtype=np.int64)
        edges = np.unique(
            np.sort(np.vstack([corners[:, [0, 1]], corners[:, [1, 2]], corners[:, [2, 0]]]), axis=1), axis=0
        )
        gap = np.hypot(*(self.centres[edges[:, 0]] - self.centres[edges[:, 1]]).T) - self.radii[edges].sum(axis=1)
        edges = edges[gap < 2 * self.most]
        return np.vstack([np.column_stack([edges, np.full(len(edges), s)]) for s in (-1, 1)]).astype(np.int64)

    def touching(self, circles: IntArray, angles: FloatArray, *, most: float | None = None) -> IntArray:
        """Put in the largest pebble that touches a circle in one of some directions; return its number, if any.

        ``most`` is the largest radius it may have; of several as large one is taken by chance.
        """
        unit = np.column_stack([np.cos(angles), np.sin(angles)])

        def place(radius: FloatArray, which: IntArray) -> FloatArray:
            k = circles[which]
            return np.asarray(self.centres[k] + (self.radii[k] + radius)[:, None] * unit[which])

        radius = self.largest_fit(place, np.full(len(circles), self.most if most is None else most))
        best = int(np.argmax(radius))
        if most is not None:
            alike = np.flatnonzero(radius >= radius[best] - 1e-9 * self.most)
            best = int(alike[self.rng.integers(len(alike))])
        if radius[best] < self.least:
            return np.zeros(0, dtype=np.int64)
        at = np.array([best])
        return self.put(place(radius[at], at), radius[at], circles[at])

    def into_corners(self) -> None:
        """Put pebbles into corners that a single one closes off."""
        for ring in rings(self.region):
            for corner in ring[turns(ring, closed=True) > CORNER]:
                far = np.hypot(*(self.centres - corner).T) - self.radii
                near = np.argsort(far, kind="stable")[:2]
                circles = np.repeat(near, 32)
                new = self.touching(circles, np.tile(np.arange(32) * np.pi / 16, len(near)))
                if len(new):
                    pair = np.array([[self.parents[new[0]], new[0], s] for s in (-1, 1)])
                    self.grow(pair)

    def reach_out(self) -> None:
        """Put pebbles one after another into what only a single one leads to: strips a pebble wide, and beyond."""
        grid = self.open_grid()
        dead: set[int] = set()
        while len(grid):
            grid = grid[self.room(grid) >= self.least]
            nearest = self.tree.query(grid)[1] if len(grid) else np.zeros(0, dtype=np.int64)
            alive = [k for k in np.unique(nearest).tolist() if k not in dead]
            if not alive:
                return
            gaps = {k: float(np.hypot(*(grid[nearest == k] - self.centres[k]).T).min() - self.radii[k]) for k in alive}
            k = min(alive, key=lambda one: (round(gaps[one], 6), one))
            asked = float(self.asked(1, mixed=True)[0])
            new = self.touching(np.full(32, k, dtype=np.int64), np.arange(32) * np.pi / 16, most=asked)
            if not len(new):
                dead.add(k)
                continue
            self.grow(np.array([[k, new[0], s] for s in (-1, 1)]))

    def open_grid(self) -> FloatArray:
        """Return points of the region, half the least radius apart, at which a pebble could stand, ``(n, 2)``."""
        left, top, right, bottom = bounds(self.region)
        step = GRID * self.least
        x, y = np.meshgrid(np.arange(left + step / 2, right, step), np.arange(top + step / 2, bottom, step))
        grid = np.column_stack([x.ravel(), y.ravel()])
        grid = grid[self.room(grid) >= self.least]
        return grid[contains(self.region, grid)] if len(grid) else grid

    def tour(self, piece: Polygon, tolerance: float) -> FloatArray:
        """Return the line round all pebbles, from the first one's nearest point to the edge."""
        children: list[list[int]] = [[] for _ in self.radii]
        for k, parent in enumerate(self.parents.tolist()):
            if parent >= 0:
                children[parent].append(k)
        start = nearest_on_ring(rings(piece)[0], self.centres[0]) - self.centres[0]
        arcs: list[tuple[int, float, float]] = []
        # A pebble on the stack: number, direction, angle reached, angles still to go to, and to whom there.
        stack = [(0, 1, *self.stops(0, 1, math.atan2(start[1], start[0]), children[0]))]
        while stack:
            k, turn, at, stops = stack.pop()
            angle, child = stops.pop()
            arcs.append((k, at, angle))
            if stops:
                stack.append((k, turn, angle, stops))
            if child >= 0:
                stack.append((child, -turn, *self.stops(child, -turn, angle + math.pi, children[child])))
        return self.drawn(arcs, tolerance)

    def stops(self, k: int, turn: int, start: float, children: list[int]) -> tuple[float, list[tuple[float, int]]]:
        """Return where a round begins, and where it stops, last first: at each child, and where it began."""
        step = self.centres[children] - self.centres[k] if children else np.zeros((0, 2))
        angles = np.arctan2(step[:, 1], step[:, 0])
        onward = np.sort((turn * (angles - start)) % (2 * math.pi))
        order = np.argsort((turn * (angles - start)) % (2 * math.pi), kind="stable")
        found = [(start + turn * float(a), children[int(o)]) for a, o in zip(onward, order)]
        return start, [(start + turn * 2 * math.pi, -1), *found[::-1]]

    def drawn(self, arcs: list[tuple[int, float, float]], tolerance: float) -> FloatArray:
        """Return arcs of pebbles, each from one angle to another, as one path."""
        k = np.array([a[0] for a in arcs])
        first, last = np.array([a[1:] for a in arcs]).T
        step = 2 * np.arccos(np.maximum(1 - tolerance / self.radii[k], 0.9))
        count = np.maximum(np.ceil(np.abs(last - first) / step), 1).astype(np.int64) + 1
        at = np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count)
        angle = np.repeat(first, count) + at * np.repeat((last - first) / (count - 1), count)
        k = np.repeat(k, count)
        return np.asarray(self.centres[k] + self.radii[k, None] * np.column_stack([np.cos(angle), np.sin(angle)]))


FILL = Fill(
    name="pebble",
    settings=PebbleSettings,
    draw=draw,
    stage="background",
    description="circles that touch, each stitched once around, all in one line",
    by_chance=True,
)
