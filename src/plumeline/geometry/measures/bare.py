"""What stitching leaves bare: the part of a region that lies too far from every line."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.ndimage import maximum_filter
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree
from shapely import Polygon

from ...model import BoolArray, FloatArray, IntArray
from ..areas.regions import bounds, contains, rings
from ..curves.polylines import arc_lengths, dense_points, dense_runs

__all__ = ["Bare", "bare_part", "bare_spots", "bare_spots_each"]

CELL = 2 / 3
"""Side of a cell in the distance allowed: a cell that holds a line has no point further than its diagonal, 0.94."""

FINE = 6
"""Points a side at which a cell without a line is looked at, a ninth of the distance apart."""

HALF_ACROSS = 0.7072
"""From the middle of a square to its corner, in its side; not less than a half of sqrt 2."""

TOUCHING = 1.5
"""Points so many times their distance apart touch: beside each other or across a corner."""

NEAR = 0.5
"""A bare corner this near to other bare points, in the distance allowed, is of their spot: a tip is slim there."""

POINTS_MOST = 1_000_000
"""More points than this, and cells are looked at by their middles only: a region nearly all bare needs no better."""


SAMPLES_MOST = 500_000
"""Points of lines that are held at once: a million stitches and more make tens of millions of them."""


@dataclass(frozen=True, slots=True)
class Bare:
    """What is bare: its area, the point farthest from every line, and how far that is, mm.

    Without any line the point is the region's own and the distance infinite.
    """

    area_mm2: float
    centre: tuple[float, float]
    far_mm: float


def bare_part(paths: Sequence[FloatArray], region: Polygon, within_mm: float) -> Bare | None:
    """Return the part of a region that lies farther than a distance from every path, or None.

    Parameters
    ----------
    paths : sequence of (n, 2) arrays
        Open paths in mm, inside the region or beside it.
    region : shapely.Polygon
        What is looked at.
    within_mm : float
        Farther than this from every path is bare.

    Returns
    -------
    Bare or None
        Its area, its barest point and how far that is; None where nothing is bare.

    Notes
    -----
    Cells that a path goes through have no bare point; the others are looked at point by point. O(n log n) in the
    samples of the paths beside those.
    """
    spots = bare_spots(paths, region, within_mm)
    return replace(spots[0], area_mm2=sum(spot.area_mm2 for spot in spots)) if spots else None


def bare_spots(paths: Sequence[FloatArray], region: Polygon, within_mm: float) -> list[Bare]:
    """Return the spots of a region that lie farther than a distance from every path, the barest first.

    Bare points that touch, across a corner too, are one spot. Parameters and method are those of `bare_part`; a region
    without a path is one spot.

    Parameters
    ----------
    paths : sequence of (n, 2) arrays
        Open paths, mm.
    region : shapely.Polygon
        What is looked at.
    within_mm : float
        Farther than this from every path is bare.

    Returns
    -------
    list of Bare
        Empty where nothing is bare.
    """
    return bare_spots_each(paths, [region], within_mm)[0]


def bare_spots_each(paths: Sequence[FloatArray], regions: Sequence[Polygon], within_mm: float) -> list[list[Bare]]:
    """Return the `bare_spots` of each of several regions beside the same paths, which are sampled once.

    Parameters
    ----------
    paths : sequence of (n, 2) arrays
        Open paths, mm.
    regions : sequence of shapely.Polygon
        What is looked at.
    within_mm : float
        Farther than this from every path is bare.

    Returns
    -------
    list of lists of Bare
        One list a region.
    """
    lines = _Samples([p for p in paths if len(p) > 1], within_mm * CELL / 2)
    return [_spots(lines, region, within_mm) for region in regions]


def _spots(lines: _Samples, region: Polygon, within_mm: float) -> list[Bare]:
    """Return the bare spots of a region beside sampled lines."""
    if not lines.paths:
        x, y = region.representative_point().coords[0]
        return [Bare(float(region.area), (float(x), float(y)), float("inf"))]
    # a point that far from a path lies at most this far from the path's nearest sample
    reach = float(np.hypot(within_mm, lines.step_mm / 2))
    grid = _Grid.over(region, within_mm * CELL)
    middles, corners = grid.without(lines), np.vstack(rings(region))  # the barest place of a tip is its corner
    around = grid.around(np.vstack([middles, corners]), reach)
    near = _tree(np.vstack([run[grid.are_near(run, around)] for run in lines]))
    points, side = _looked_at(middles, grid.cell, near, region, reach)
    area = np.repeat([side**2, 0.0], [len(points), len(corners)])
    points = np.vstack([points, corners])
    far, _ = near.query(points, distance_upper_bound=reach)
    bare, area = points[np.isinf(far)], area[np.isinf(far)]
    if not len(bare):
        return []
    distance = np.full(len(bare), np.inf)
    for run in lines:
        distance = np.minimum(distance, _tree(run).query(bare)[0])
    distance = np.round(distance, 6)
    which = _together(bare, area > 0.0, side, NEAR * within_mm)
    order = np.lexsort((bare[:, 1], bare[:, 0], -distance))
    barest = order[np.sort(np.unique(which[order], return_index=True)[1])]
    size = np.bincount(which, weights=area, minlength=int(which.max()) + 1)
    return [
        Bare(float(size[which[i]]), (float(bare[i, 0]), float(bare[i, 1])), float(distance[i])) for i in barest.tolist()
    ]


def _together(points: FloatArray, even: BoolArray, side: float, near: float) -> IntArray:
    """Return the number of the spot that each point is of: even points that touch, and corners near them."""
    grid, corners = np.flatnonzero(even), np.flatnonzero(~even)
    pairs = [grid[cKDTree(points[grid]).query_pairs(TOUCHING * side, output_type="ndarray")]] if len(grid) else []
    if len(corners):
        tree = cKDTree(points[corners])
        pairs.append(corners[tree.query_pairs(near, output_type="ndarray")])
        if len(grid):
            far, to = cKDTree(points[grid]).query(points[corners])
            pairs.append(np.column_stack([corners, grid[to]])[far <= near])
    a, b = np.vstack(pairs).T
    touching = coo_array((np.ones(len(a)), (a, b)), shape=(len(points), len(points)))
    return np.asarray(connected_components(touching, directed=False)[1])


class _Samples:
    """The points of open paths at most a step apart, in runs: of very many no more at once than fit the memory."""

    def __init__(self, paths: Sequence[FloatArray], step_mm: float) -> None:
        self.paths, self.step_mm = paths, step_mm
        count = sum(len(path) + arc_lengths(path)[-1] / step_mm for path in paths)
        self._whole = dense_points(paths, step_mm) if paths and count <= SAMPLES_MOST else None

    def __iter__(self) -> Iterator[FloatArray]:
        """Yield the runs."""
        if self._whole is not None:
            yield self._whole
        else:
            yield from dense_runs(self.paths, self.step_mm, at_once=SAMPLES_MOST)


@dataclass(frozen=True, slots=True, eq=False)
class _Grid:
    """Cells over a region: the corner of the first, their side, and how many there are across and down."""

    low: FloatArray
    cell: float
    shape: IntArray

    @staticmethod
    def over(region: Polygon, cell: float) -> _Grid:
        """Return the cells that cover a region."""
        left, top, right, bottom = bounds(region)
        low = np.array([left, top])
        return _Grid(low, cell, np.maximum(np.ceil((np.array([right, bottom]) - low) / cell).astype(int), 1))

    def places(self, points: FloatArray) -> IntArray:
        """Return the cell of each point, across and down."""
        return np.floor((points - self.low) / self.cell).astype(int)

    def without(self, lines: _Samples) -> FloatArray:
        """Return the middles of the cells that no line goes through."""
        empty = np.ones(tuple(self.shape), dtype=np.bool_)
        for run in lines:
            place = self.places(run)
            inside = ((place >= 0) & (place < self.shape)).all(axis=1)
            empty[tuple(place[inside].T)] = False
        return np.asarray(self.low + (np.argwhere(empty) + 0.5) * self.cell)

    def around(self, points: FloatArray, reach: float) -> BoolArray:
        """Return which cells, with a margin of the reach on every side, may hold what is near the points' cells."""
        margin = math.ceil(reach / self.cell)
        near = np.zeros(tuple(self.shape + 2 * margin + 1), dtype=np.bool_)
        near[tuple((self.places(points) + margin).T)] = True
        return np.asarray(maximum_filter(near, 2 * margin + 1))

    def are_near(self, points: FloatArray, near: BoolArray) -> BoolArray:
        """Return which points lie in cells that `around` tells."""
        place = self.places(points) + (np.array(near.shape) - self.shape) // 2
        inside = np.asarray(((place >= 0) & (place < near.shape)).all(axis=1), dtype=np.bool_)
        inside[inside] = near[tuple(place[inside].T)]
        return inside


def _looked_at(
    middles: FloatArray, cell: float, near: cKDTree, region: Polygon, reach: float
) -> tuple[FloatArray, float]:
    """Return the points of cells that may lie farther than ``reach`` from every line, and how far apart they are."""
    fine = FINE if len(middles) * FINE**2 <= POINTS_MOST else 1
    # a cell whose middle is near enough to a line has no bare point
    close = reach - HALF_ACROSS * cell
    middles = middles[np.isinf(near.query(middles, distance_upper_bound=close)[0])]
    parts = ((np.arange(fine) + 0.5) / fine - 0.5) * cell
    within = np.stack(np.meshgrid(parts, parts), axis=-1).reshape(-1, 2)
    points = (middles[:, None] + within).reshape(-1, 2)
    return points[contains(region, points)], cell / fine


def _tree(points: FloatArray) -> cKDTree:
    """Return a tree that is quick to build: few are asked of it."""
    return cKDTree(points, balanced_tree=False, compact_nodes=False)
