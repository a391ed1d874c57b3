"""Circles that touch: the room beside them, where another touches two, and what they leave bare."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from scipy.spatial import cKDTree
from shapely import Polygon

from ...geometry import bounds, contains, densify, disc, inscribed_circle, rings, subtract
from ...model import FloatArray, IntArray

__all__ = ["Packing"]

FEW = 8000
"""Up to this many pairs of a point and a circle are all looked at for room: a tree is no quicker."""

NEAREST = 8
"""How many of the nearest circles are looked at for room at first; where one further off could be in the way, all."""

SEEN = 0.6
"""Step of the grid on which bald spots are looked for is half a spot's radius; some point of it lies so far from all
else, in that radius, wherever the grid lies: 1 - 0.5 / sqrt(2) is 0.646."""

FINE = 1 / 24
"""How closely the largest circle in what is left is found, in the least one's radius."""

STEP = 0.04
"""How far apart the points of the edge lie from which distances are taken, in the largest radius."""


class Packing:
    """Circles within a region, none of which overlap.

    Parameters
    ----------
    region : Polygon
        Where they lie.
    least_mm, most_mm : float
        Radii of the smallest and the largest.
    margin_mm : float
        How far they keep from the edge.
    """

    def __init__(self, region: Polygon, *, least_mm: float, most_mm: float, margin_mm: float) -> None:
        self.region = region
        self.least, self.most, self.margin = least_mm, most_mm, margin_mm
        self.rim = np.vstack([densify(ring, STEP * most_mm, closed=True) for ring in rings(region)])
        self.edge = cKDTree(self.rim)
        self.keep(np.zeros((0, 2)), np.zeros(0))

    def keep(self, centres: FloatArray, radii: FloatArray) -> None:
        """Have these circles and no others."""
        self.centres, self.radii = centres, radii
        self._tree: cKDTree | None = None

    def add(self, centres: FloatArray, radii: FloatArray) -> IntArray:
        """Put in circles and return their numbers."""
        new = len(self.radii) + np.arange(len(radii))
        self.keep(np.vstack([self.centres, centres]), np.concatenate([self.radii, radii]))
        return new

    def change(self, which: int, centre: FloatArray, radius: float) -> None:
        """Have one circle lie elsewhere, of another radius."""
        self.centres[which], self.radii[which] = centre, radius
        self._tree = None

    @property
    def tree(self) -> cKDTree:
        """The circles' centres, to be looked up by place."""
        if self._tree is None:
            self._tree = cKDTree(self.centres)
        return self._tree

    def room(self, points: FloatArray) -> FloatArray:
        """Return the radius that fits at each point beside the edge and all circles, ``(n,)``; nan where the point is.

        Nothing further off than the largest radius is looked for, so more than that is not told apart; nor is what is
        less than the smallest.
        """
        lost = ~np.isfinite(points[:, 0])
        points = np.where(lost[:, None], 0.0, points)
        return np.where(lost, np.nan, self.beside_circles(points, self.beside_edge(points)))

    def beside_edge(self, points: FloatArray) -> FloatArray:
        """Return the radius that fits at each point whatever circles there are, ``(n,)``."""
        far, _ = self.edge.query(points, distance_upper_bound=self.most + 2 * self.margin)
        return np.asarray(far - self.margin)

    def beside_circles(self, points: FloatArray, room: FloatArray) -> FloatArray:
        """Return the radius that fits at each point, of the room there would be without circles, ``(n,)``."""
        if not len(self.radii):
            return room
        if len(self.radii) * len(points) <= FEW:
            x, y = (points[:, k, None] - self.centres[:, k] for k in (0, 1))
            return np.asarray(np.minimum(room, (np.sqrt(x * x + y * y) - self.radii).min(axis=1)))
        radii = np.append(self.radii, 0.0)  # the last for what is not found
        reach = 2 * self.most + self.margin
        room, rows = room.copy(), np.arange(len(points))
        for count in (NEAREST, len(self.radii)):
            k = np.arange(1, min(count, len(self.radii)) + 1)
            far, which = self.tree.query(points[rows], k=k, distance_upper_bound=reach)
            far = np.asarray(far)
            room[rows] = np.minimum(room[rows], (far - radii[which]).min(axis=1))
            unseen = (room[rows] >= self.least) & (far[:, -1] - radii.max() < room[rows])
            rows = rows[unseen]
            if not len(rows):
                break
        return room

    def between(self, i: IntArray, j: IntArray, side: IntArray, radius: FloatArray) -> FloatArray:
        """Return the centres of circles that touch two each, on a side of them; nan where none of the radius does."""
        step = self.centres[j] - self.centres[i]
        apart = np.hypot(*step.T)
        a, b = self.radii[i] + radius, self.radii[j] + radius
        along = (apart**2 + a**2 - b**2) / (2 * apart)
        with np.errstate(invalid="ignore"):
            across = side * np.sqrt(a**2 - along**2)
        unit = step / apart[:, None]
        square = np.column_stack([-unit[:, 1], unit[:, 0]])
        return np.asarray(self.centres[i] + along[:, None] * unit + across[:, None] * square)

    def left(
        self,
        part: Polygon,
        least_mm: float,
        *,
        tolerance_mm: float,
        clear_mm: float = 0.0,
        taken: Sequence[Polygon] = (),
    ) -> list[tuple[Polygon, FloatArray]]:
        """Return the pieces of a region that the circles did not reach, each with the middle of its largest circle.

        Parameters
        ----------
        part : Polygon
            The region, or a part of it.
        least_mm : float
            Radius of a circle that a piece holds at least.
        tolerance_mm : float
            How far the chords of what is taken out may stray from the circles.
        clear_mm : float
            How far the pieces keep from the circles.
        taken : sequence of Polygon
            What else is taken out.
        """
        left, top, right, bottom = bounds(part)
        x, y = np.meshgrid(np.arange(left, right, 0.5 * least_mm), np.arange(top, bottom, 0.5 * least_mm))
        grid = np.column_stack([x.ravel(), y.ravel()])
        room = self.beside_circles(grid, Packing.beside_edge(self, grid))
        if not contains(part, grid[room > SEEN * least_mm - self.margin]).any():
            return []
        discs = [
            disc((float(x), float(y)), float(r) + clear_mm, tolerance_mm=tolerance_mm)
            for (x, y), r in zip(self.centres, self.radii)
        ]
        found = []
        for piece in subtract(part, [*discs, *taken], sliver_mm2=math.pi * least_mm**2):
            centre, radius = inscribed_circle(piece, tolerance_mm=FINE * least_mm)
            if radius > least_mm:
                found.append((piece, np.array(centre)))
        return found
