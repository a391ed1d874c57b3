"""How evenly lines lie: distance from strand to strand, and the widest gap between them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from scipy.spatial import cKDTree
from shapely import Polygon

from ...model import FloatArray
from ..curves.polylines import arc_lengths, resample
from ..engine import nearest_of
from ..fields.meshes import circumcircles

__all__ = ["Gap", "Spacing", "strand_spacing", "widest_gap"]

STEPS = 6
"""Samples a spacing: the nearest other strand is then right to about 0.4 % of the spacing."""

NEIGHBOURS = 64
"""Nearest samples looked through for one of another strand; a strand's own take up about 26 of them."""


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
    """Return mean and variation of the distance from strand to strand; None when there is no second strand.

    A point's nearest other strand is the nearest sample more than 2.2 spacings away along its own path
    and within 4 spacings.
    """
    step = spacing_mm / STEPS
    xy, which, at, total = [], [], [], []
    for i, path in enumerate(paths):
        ring = bool(closed[i]) if closed is not None else False
        if len(path) < 2:
            continue
        points = resample(path, step, closed=ring)
        s = arc_lengths(points)
        length = float(s[-1] + np.hypot(*(points[0] - points[-1])))
        xy.append(points)
        which.append(np.full(len(points), i))
        at.append(s)
        total.append(np.full(len(points), length if ring else np.inf))
    if not xy:
        return None
    p, w, s, ring_length = np.vstack(xy), np.concatenate(which), np.concatenate(at), np.concatenate(total)
    far, j = map(np.asarray, cKDTree(p).query(p, k=min(NEIGHBOURS, len(p))))
    own = np.arange(len(p))[:, None]
    gap = np.abs(s[own] - s[j])
    gap = np.minimum(gap, np.abs(ring_length[own] - gap))
    other = (w[own] != w[j]) | (gap > 2.2 * spacing_mm)
    first = np.argmax(other, axis=1)
    found = other.any(axis=1)
    best = far[np.arange(len(p)), first][found]
    best = best[best <= 4 * spacing_mm]
    if not len(best):
        return None
    return Spacing(float(best.mean()), float(100 * best.std() / best.mean()))


def widest_gap(
    paths: Sequence[FloatArray],
    region: Polygon,
    *,
    closed: Sequence[bool] | None = None,
    edge_counts: bool = True,
    step_mm: float | None = None,
) -> Gap:
    """Return the largest circle inside a region that no path enters.

    Parameters
    ----------
    edge_counts : bool
        Whether the region's edge bounds the circle as a line does; if not, only its centre must lie inside.
    step_mm : float, optional
        Sampling of paths and edge; the diameter is right to about half of it. Default: 1/150 of the
        region's diagonal, at most 2 mm.

    Notes
    -----
    The candidates are the centres of the Delaunay triangles' circumcircles of samples; O(n log n).
    """
    left, top, right, bottom = region.bounds
    step = step_mm or min(2.0, float(np.hypot(right - left, bottom - top)) / 150)
    samples = [
        resample(p, step, closed=bool(closed[i]) if closed is not None else False)
        for i, p in enumerate(paths)
        if len(p) > 1
    ]
    edge = [resample(np.asarray(r.coords)[:-1], step, closed=True) for r in (region.exterior, *region.interiors)]
    bounding = samples + edge if edge_counts or not samples else samples
    points: FloatArray = np.unique(np.round(np.vstack(bounding), 6), axis=0).astype(np.float64)
    candidates, _ = circumcircles(points)
    if not edge_counts:
        candidates = np.vstack([candidates, *edge])
    shapely.prepare(region)
    candidates = candidates[shapely.intersects_xy(region, candidates[:, 0], candidates[:, 1])]
    if not len(candidates):
        x, y = region.representative_point().coords[0]
        return Gap((float(x), float(y)), 0.0)
    far, _ = nearest_of(cKDTree(points), candidates)
    best = int(np.argmax(far))
    return Gap((float(candidates[best, 0]), float(candidates[best, 1])), float(2 * far[best]))
