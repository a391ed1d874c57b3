"""What stitching leaves bare: the part of a region that lies too far from every line."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree
from shapely import Polygon

from ...model import BoolArray, FloatArray, IntArray
from ..areas.regions import bounds, contains, rings
from ..curves.polylines import dense_points

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
    within_mm : float
        Farther than this from every path is bare.

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
    """
    return bare_spots_each(paths, [region], within_mm)[0]


def bare_spots_each(paths: Sequence[FloatArray], regions: Sequence[Polygon], within_mm: float) -> list[list[Bare]]:
    """Return the `bare_spots` of each of several regions beside the same paths, which are sampled once."""
    step = within_mm * CELL / 2
    long = [p for p in paths if len(p) > 1]
    lines = dense_points(long, step) if long else np.zeros((0, 2))
    return [_spots(lines, region, within_mm, step) for region in regions]


def _spots(lines: FloatArray, region: Polygon, within_mm: float, step: float) -> list[Bare]:
    """Return the bare spots of a region beside lines that are sampled at a step."""
    if not len(lines):
        x, y = region.representative_point().coords[0]
        return [Bare(float(region.area), (float(x), float(y)), float("inf"))]
    # a point that far from a path lies at most this far from the path's nearest sample
    reach = float(np.hypot(within_mm, step / 2))
    corners = np.vstack(rings(region))  # the barest place of a tip is its corner
    cells, cell = _empty_cells(lines, region, within_mm)
    middles = np.array(bounds(region)[:2]) + (cells + 0.5) * cell
    tree = _tree(_beside(lines, np.vstack([middles, corners]), reach + HALF_ACROSS * cell))
    # a cell whose middle is near enough to a line has no bare point
    open_to = np.isinf(tree.query(middles, distance_upper_bound=reach - HALF_ACROSS * cell)[0])
    points, side = _looked_at(cells, open_to, cell, region)
    area = np.repeat([side**2, 0.0], [len(points), len(corners)])
    points = np.vstack([points, corners])
    far, _ = tree.query(points, distance_upper_bound=reach)
    bare, area = points[np.isinf(far)], area[np.isinf(far)]
    if not len(bare):
        return []
    distance = np.round(np.asarray(_tree(lines).query(bare)[0]), 6)
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


def _empty_cells(lines: FloatArray, region: Polygon, within_mm: float) -> tuple[IntArray, float]:
    """Return the cells over a region, from its upper left, that hold no sample of a line, and their side."""
    left, top, right, bottom = bounds(region)
    cell, low = within_mm * CELL, np.array([left, top])
    shape = np.maximum(np.ceil((np.array([right, bottom]) - low) / cell).astype(int), 1)
    place = np.floor((lines - low) / cell).astype(int)
    inside = ((place >= 0) & (place < shape)).all(axis=1)
    empty = np.ones(tuple(shape), dtype=bool)
    empty[tuple(place[inside].T)] = False
    return np.argwhere(empty), cell


def _looked_at(cells: IntArray, open_to: BoolArray, cell: float, region: Polygon) -> tuple[FloatArray, float]:
    """Return the points of a region in those of its empty cells that are open to it, and how far apart they are."""
    fine = FINE if len(cells) * FINE**2 <= POINTS_MOST else 1
    parts = (np.arange(fine) + 0.5) / fine
    within = np.stack(np.meshgrid(parts, parts), axis=-1).reshape(-1, 2)
    points = np.array(bounds(region)[:2]) + ((cells[open_to][:, None] + within) * cell).reshape(-1, 2)
    return points[contains(region, points)], cell / fine


def _beside(lines: FloatArray, places: FloatArray, within: float) -> FloatArray:
    """Return the samples that can lie within a distance of any of the places; another where there are none."""
    low = places.min(axis=0) - within
    at = ((places - low) / within).astype(int)
    near = np.zeros(at.max(axis=0) + 2, dtype=bool)
    for step in np.ndindex(3, 3):
        near[tuple((at + step - 1).T)] = True
    cell = np.floor((lines - low) / within).astype(int)
    inside = ((cell >= 0) & (cell < near.shape)).all(axis=1)
    inside[inside] = near[tuple(cell[inside].T)]
    return lines[inside] if inside.any() else lines[:1]


def _tree(points: FloatArray) -> cKDTree:
    """Return a tree that is quick to build: few are asked of it."""
    return cKDTree(points, balanced_tree=False, compact_nodes=False)
