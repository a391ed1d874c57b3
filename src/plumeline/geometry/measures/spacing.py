"""How evenly lines lie: distance from strand to strand, and the widest gap between them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt
from scipy.spatial import cKDTree
from shapely import Polygon

from ...model import FloatArray
from ...tolerances import ROUNDING_MM
from ..engine import nearest_of
from ..fields.mesh import circumcircles
from .samples import PathSamples

__all__ = ["Gap", "Spacing", "strand_spacing", "widest_gap"]

STEPS = 6
"""Samples a spacing: the nearest other strand is then right to about 0.4 % of the spacing."""

NEIGHBOURS, NEIGHBOURS_FIRST = 64, 32
"""Nearest samples looked through for one of another strand, and how many of them at first: a strand's own take up about
26."""


SAMPLES_AT_ONCE, SAMPLES_A_TILE = 200_000, 40_000
"""More samples than the first are looked at square by square, about so many at a time: memory against overlap."""

SQUARES, SAMPLES_A_SQUARE = 12, 15_000
"""In so many squares of about so many samples the spacing of a large zone is measured."""

STRAND_AWAY, STRAND_FAR = 2.2, 4.0
"""Another strand is more spacings away than the first along the path, and at most the second across."""

SQUARES_ACROSS, FEW_SQUARES, FINEST = 24, 48, 1e-3
"""The widest gap is first looked for in so many squares across, which are quartered until so few can hold it, or they
are so small a part of a step."""

QUARTERS = np.array([(-1.0, -1.0), (1.0, -1.0), (-1.0, 1.0), (1.0, 1.0)])
"""Where the middles of the quarters of a square lie from its own, in half their side."""

HALF_ACROSS = 0.7072
"""From the middle of a square to its corner, in its side; not less than a half of sqrt 2."""

CELLS_MOST = 4_000_000
"""Cells of the distance transform that says where to look: more find the place nearer, and take memory."""

JITTER = 1e-4
"""Samples on a grid are moved by so much of a step: four on one circle take the triangulation twice as long."""

CELL_SLACK = 1.5
"""The distance of two cells' centres is that of any points in them but for so many cells: over sqrt 2."""


@dataclass(frozen=True, slots=True)
class Spacing:
    """Mean distance from a point of the lines to the nearest other strand, mm, and its variation in percent."""

    mean_mm: float
    varies_percent: float


@dataclass(frozen=True, slots=True)
class Gap:
    """The largest circle that no stitching enters: its centre and diameter in mm."""

    centre: tuple[float, float]
    diameter_mm: float


def strand_spacing(
    paths: Sequence[FloatArray], spacing_mm: float, *, closed: Sequence[bool] | None = None
) -> Spacing | None:
    """Return mean and variation of the distance from strand to strand; None when there is no second strand beside.

    A point's nearest other strand is the nearest sample more than 2.2 spacings away along its own path
    and within 4 spacings. Of more than `SAMPLES_AT_ONCE` samples, those in squares spread over all are measured.

    Parameters
    ----------
    paths : sequence of (n, 2) arrays
        Polylines.
    spacing_mm : float
        About how far strands are apart.
    closed : sequence of bool, optional
        Whether each leads back to its start; none does when left out.

    Returns
    -------
    Spacing or None
        In mm and percent.
    """
    samples = PathSamples.of(paths, spacing_mm / STEPS, closed=closed)
    if not samples.count:
        return None
    low, high = samples.points.min(axis=0), samples.points.max(axis=0) + spacing_mm
    best = [
        _to_other_strands(samples, corner, corner + side, spacing_mm)
        for corner, side in _spread_squares(low, high, samples.count)
    ]
    far = np.concatenate(best)
    if not far.any():  # what lies upon itself has no other strand beside it
        return None
    return Spacing(float(far.mean()), float(100 * far.std() / far.mean()))


def _spread_squares(low: FloatArray, high: FloatArray, count: int) -> list[tuple[FloatArray, FloatArray]]:
    """Return windows (corner, size) to measure in: one of all, or of too many samples `SQUARES` spread evenly."""
    if count <= SAMPLES_AT_ONCE:
        return [(low, high - low)]
    across = int(np.ceil(np.sqrt(count / SAMPLES_A_SQUARE)))
    size = (high - low) / across
    chosen = np.linspace(0, across**2 - 1, SQUARES).astype(int)
    rows, columns = chosen // across, (chosen * 7) % across  # a step that shares no factor keeps them off one column
    return [(low + np.array([column, row]) * size, size) for row, column in zip(rows, columns)]


def _to_other_strands(samples: PathSamples, low: FloatArray, high: FloatArray, spacing_mm: float) -> FloatArray:
    """Return the distance to the nearest other strand of each sample in a window that has one near."""
    margin = STRAND_FAR * spacing_mm
    p, w, s = samples.within(low - margin, high + margin)
    own = np.flatnonzero(((p >= low) & (p < high)).all(axis=1))
    if not len(own):
        return np.zeros(0)
    tree, ring, best = cKDTree(p), samples.ring_mm, np.full(len(own), np.inf)
    left = np.arange(len(own))
    for count in (NEIGHBOURS_FIRST, NEIGHBOURS):
        if not len(left):
            break
        k = own[left]
        far, j = tree.query(p[k], k=min(count, len(p)))
        far, j = np.asarray(far).reshape(len(k), -1), np.asarray(j).reshape(len(k), -1)
        gap = np.abs(s[k, None] - s[j])
        gap = np.minimum(gap, np.abs(ring[w[k], None] - gap))
        other = (w[k, None] != w[j]) | (gap > STRAND_AWAY * spacing_mm)
        found = other.any(axis=1)
        best[left[found]] = far[found, np.argmax(other[found], axis=1)]
        left = left[~found & (far[:, -1] <= margin)]
    return np.asarray(best[best <= margin])


def widest_gap(
    paths: Sequence[FloatArray],
    region: Polygon,
    *,
    closed: Sequence[bool] | None = None,
    step_mm: float | None = None,
) -> Gap:
    """Return the largest circle inside a region that neither a path nor the region's edge enters.

    Parameters
    ----------
    paths : sequence of (n, 2) arrays
        Polylines.
    region : shapely.Polygon
        What is looked at.
    closed : sequence of bool, optional
        Whether each leads back to its start; none does when left out.
    step_mm : float, optional
        Sampling of paths and edge; the diameter is right to about half of it. Default: 1/150 of the
        region's diagonal, at most 2 mm.

    Returns
    -------
    Gap
        Its diameter and centre.

    Notes
    -----
    The candidates are the centres of the Delaunay triangles' circumcircles of samples; O(n log n). Of more than
    `SAMPLES_AT_ONCE` samples that is done square by square, and only where a distance transform of the samples' cells
    says that the largest circle may lie; memory then grows with the area, not with the stitching.
    """
    left, top, right, bottom = region.bounds
    step = step_mm or min(2.0, float(np.hypot(right - left, bottom - top)) / 150)
    edge = [np.asarray(r.coords)[:-1, :2] for r in (region.exterior, *region.interiors)]
    shut = [bool(closed[i]) if closed is not None else False for i in range(len(paths))]
    samples = PathSamples.of([*paths, *edge], step, closed=[*shut, *[True] * len(edge)])
    shapely.prepare(region)
    if samples.count > SAMPLES_AT_ONCE:
        best = _widest_by_tiles(samples, region, step)
    else:
        best = _widest_narrowed(np.asarray(np.round(np.vstack(list(samples.runs())), 6)), region, step)
    if best is not None:
        return best
    x, y = region.representative_point().coords[0]
    return Gap((float(x), float(y)), 0.0)


def _widest_narrowed(points: FloatArray, region: Polygon, step: float) -> Gap | None:
    """Return the largest circle, looked for only where it can lie: squares that can't hold its centre are passed by.

    From a square's middle to anywhere in it is at most half its diagonal, so the distance at the middle bounds both
    ways what is in it; the squares that are left are quartered until few are.
    """
    tree = cKDTree(points)
    left, top, right, bottom = region.bounds
    side = max(right - left, bottom - top) / SQUARES_ACROSS
    across, down = (np.arange(np.ceil(size / side)) + 0.5 for size in (right - left, bottom - top))
    middles = np.stack(np.meshgrid(left + across * side, top + down * side), axis=-1).reshape(-1, 2)
    least = 0.0
    while True:
        half = HALF_ACROSS * side
        far, _ = nearest_of(tree, middles)
        inside = shapely.intersects_xy(region, middles[:, 0], middles[:, 1])
        least = max(least, float(far[inside].max(initial=0.0)))
        # a square that the edge goes through has a sample of the edge near
        holds = (far + half >= least) & (inside | (far <= half + step))
        middles, far = middles[holds], far[holds]
        many = 4 * len(middles) > len(points)  # as between parallel lines, all along the middle
        if many or len(middles) <= FEW_SQUARES or half < FINEST * step:
            break
        side /= 2
        middles = (middles[:, None] + side / 2 * QUARTERS).reshape(-1, 2)
    if not many:
        near = tree.query_ball_point(middles, far + 2 * half + ROUNDING_MM)
        points = points[np.unique(np.concatenate(near).astype(np.intp))]
    return _widest(np.unique(points, axis=0), tree, region, more_than=least * (1 - ROUNDING_MM))


def _widest(
    points: FloatArray,
    around: cKDTree,
    region: Polygon,
    keep: Callable[[FloatArray], NDArray[np.bool_]] | None = None,
    more_than: float = 0.0,
) -> Gap | None:
    """Return the largest circle about a circumcentre of points that no point of a tree ``around`` enters.

    ``more_than``: smaller radii are of no interest.
    """
    candidates, radii = circumcircles(points)
    candidates = candidates[radii > more_than]  # no empty circle about a circumcentre is larger than its own
    if keep is not None:
        candidates = candidates[keep(candidates)]
    candidates = candidates[shapely.intersects_xy(region, candidates[:, 0], candidates[:, 1])]
    if not len(candidates):
        return None
    far, _ = nearest_of(around, candidates)
    best = int(np.argmax(far))
    return Gap((float(candidates[best, 0]), float(candidates[best, 1])), float(2 * far[best]))


def _widest_by_tiles(samples: PathSamples, region: Polygon, step: float) -> Gap | None:
    """Return the largest circle, looked for in squares of about `SAMPLES_A_TILE` samples.

    Every circle's centre lies in a cell; the distance of that cell from the nearest cell with a sample bounds the
    circle both ways. Cells that can't hold the largest are passed by, and so are points too far from all others.
    """
    low = np.array(region.bounds[:2]) - step
    span = np.array(region.bounds[2:]) + step - low
    cell = max(step, float(np.sqrt(span.prod() / CELLS_MOST)))
    shape = np.ceil(span / cell).astype(int) + 1
    free = np.ones(shape, dtype=bool)
    for run in samples.runs():
        at = ((run - low) / cell).astype(int)
        free[at[:, 0], at[:, 1]] = False
    far = distance_transform_edt(free).astype(np.float32)
    far[~_cells_in(region, low, cell, shape)] = -np.inf
    least = float(far.max()) - CELL_SLACK
    side = max(int(np.sqrt(free.size * SAMPLES_A_TILE / samples.count)), 1)
    tiles = [far[i : i + side, j : j + side] for i in range(0, shape[0], side) for j in range(0, shape[1], side)]
    starts = [(i, j) for i in range(0, shape[0], side) for j in range(0, shape[1], side)]
    best: Gap | None = None
    rng = np.random.default_rng(0)
    for k in sorted(range(len(tiles)), key=lambda k: -float(tiles[k].max())):
        most = (float(tiles[k].max()) + CELL_SLACK) * cell
        if most <= (best.diameter_mm / 2 if best else 0.0) or float(tiles[k].max()) + CELL_SLACK < least:
            break
        wanted = tiles[k] + CELL_SLACK >= least
        centres = low + (np.argwhere(wanted) + starts[k] + 0.5) * cell
        reach = most + cell
        around, _, _ = samples.within(centres.min(axis=0) - reach, centres.max(axis=0) + reach)
        near = np.isfinite(cKDTree(centres).query(around, distance_upper_bound=reach)[0])
        points = np.unique(np.round(around[near], 6), axis=0).astype(np.float64)
        points += rng.normal(0.0, JITTER * step, points.shape)
        keep = _in_cells(wanted, low + np.array(starts[k]) * cell, cell)
        found = _widest(points, cKDTree(around), region, keep, more_than=best.diameter_mm / 2 if best else 0.0)
        if found and (best is None or found.diameter_mm > best.diameter_mm):
            best = found
    return best


def _cells_in(region: Polygon, low: FloatArray, cell: float, shape: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Return which cells lie in a region or touch it."""
    grown = shapely.buffer(region, cell, join_style="mitre")
    shapely.prepare(grown)
    y = low[1] + (np.arange(shape[1]) + 0.5) * cell
    rows = [shapely.contains_xy(grown, np.full(len(y), low[0] + (i + 0.5) * cell), y) for i in range(shape[0])]
    return np.array(rows, dtype=bool)


def _in_cells(wanted: NDArray[np.bool_], low: FloatArray, cell: float) -> Callable[[FloatArray], NDArray[np.bool_]]:
    def keep(points: FloatArray) -> NDArray[np.bool_]:
        at = np.floor((points - low) / cell).astype(int)
        inside = np.asarray(((at >= 0) & (at < wanted.shape)).all(axis=1))
        inside[inside] = wanted[at[inside, 0], at[inside, 1]]
        return inside

    return keep
