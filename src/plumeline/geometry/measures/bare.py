"""What stitching leaves bare: the part of a region that lies too far from every line."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree
from shapely import Polygon

from ...model import FloatArray
from ..areas.regions import bounds, contains
from ..curves.polylines import dense_points

__all__ = ["Bare", "bare_part"]

CELL = 2 / 3
"""Side of a cell in the distance allowed: a cell that holds a line has no point further than its diagonal, 0.94."""

FINE = 6
"""Points a side at which a cell without a line is looked at, a ninth of the distance apart."""

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
    step = within_mm * CELL / 2
    long = [p for p in paths if len(p) > 1]
    if not long:
        x, y = region.representative_point().coords[0]
        return Bare(float(region.area), (float(x), float(y)), float("inf"))
    lines = dense_points(long, step)
    left, top, right, bottom = bounds(region)
    cell, low = within_mm * CELL, np.array([left, top])
    shape = np.maximum(np.ceil((np.array([right, bottom]) - low) / cell).astype(int), 1)
    place = np.floor((lines - low) / cell).astype(int)
    inside = ((place >= 0) & (place < shape)).all(axis=1)
    empty = np.ones(tuple(shape), dtype=bool)
    empty[tuple(place[inside].T)] = False
    cells = np.argwhere(empty)
    fine = FINE if len(cells) * FINE**2 <= POINTS_MOST else 1
    parts = (np.arange(fine) + 0.5) / fine
    within = np.stack(np.meshgrid(parts, parts), axis=-1).reshape(-1, 2)
    points = low + ((cells[:, None] + within) * cell).reshape(-1, 2)
    points = points[contains(region, points)]
    if not len(points):
        return None
    # a point that far from a path lies at most this far from the path's nearest sample
    reach = float(np.hypot(within_mm, step / 2))
    far, _ = cKDTree(_beside(lines, points, reach)).query(points, distance_upper_bound=reach)
    bare = points[np.isinf(far)]
    if not len(bare):
        return None
    distance = np.asarray(cKDTree(lines).query(bare)[0])
    worst = int(np.argmax(np.round(distance, 6)))
    return Bare(len(bare) * (cell / fine) ** 2, (float(bare[worst, 0]), float(bare[worst, 1])), float(distance[worst]))


def _beside(lines: FloatArray, points: FloatArray, within: float) -> FloatArray:
    # the samples that can be near any of the points; one of the others stands in when there are none
    near = ((lines >= points.min(axis=0) - within) & (lines <= points.max(axis=0) + within)).all(axis=1)
    return lines[near] if near.any() else lines[:1]
