"""Checks of finished paths: crossings, and what lies outside a region."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from ...model import Fence, FloatArray
from ..curves.polylines import close_ring
from ..engine import line_string, line_strings, segments_of

__all__ = ["crossings", "fence_crossings", "is_simple", "leaving", "outside_mm", "seen_length", "self_crossings"]


def _line(path: FloatArray, closed: bool = False) -> BaseGeometry:
    return line_string(path, closed)


def is_simple(path: FloatArray, *, closed: bool = False) -> bool:
    """Return whether a path neither crosses nor touches itself (shared closing point aside).

    Parameters
    ----------
    path : (n, 2) array
        A polyline.
    closed : bool
        Whether it leads back to its start.

    Returns
    -------
    bool
        True for a path that keeps clear of itself.
    """
    return len(path) < 2 or bool(shapely.is_simple(_line(path, closed)))


def _segments(paths: Sequence[FloatArray]) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    # starts and ends of all segments, and each one's rank with a gap between paths
    starts, ends, ranks, rank = [], [], [], 0
    for p in paths:
        if len(p) > 1:
            starts.append(p[:-1])
            ends.append(p[1:])
            ranks.append(np.arange(rank, rank + len(p) - 1))
            rank += len(p) + 1
    if not starts:
        empty = np.zeros((0, 2))
        return empty, empty, np.zeros(0, dtype=int)
    return np.vstack(starts), np.vstack(ends), np.concatenate(ranks)


def self_crossings(paths: Sequence[FloatArray], *, closed: bool = False) -> FloatArray:
    """Return the points where segments of the paths properly cross each other or themselves, ``(k, 2)``.

    Touching at an end and running along each other are no crossings: both ends of each segment must lie
    strictly on different sides of the other, by more than 1e-9 mm.

    Parameters
    ----------
    paths : sequence of (n, 2) arrays
        Polylines.
    closed : bool
        Whether they lead back to their starts.

    Returns
    -------
    (n, 2) array
        ``(0, 2)`` where nothing crosses.
    """
    a, b, rank = _segments([close_ring(p, closed) for p in paths])
    if not len(a):
        return np.zeros((0, 2))
    segments = segments_of(a, b)
    i, j = shapely.STRtree(segments).query(segments)
    pair = (i < j) & (np.abs(rank[i] - rank[j]) > 1)
    return _proper(a[i[pair]], b[i[pair]], a[j[pair]], b[j[pair]])


def crossings(paths: Sequence[FloatArray], others: Sequence[FloatArray]) -> FloatArray:
    """Return the points where any of the paths properly crosses any of the others, ``(k, 2)``.

    Parameters
    ----------
    paths, others : sequence of (n, 2) arrays
        Open polylines.

    Returns
    -------
    (n, 2) array
        ``(0, 2)`` where none cross.
    """
    a, b, _ = _segments([np.asarray(p, dtype=np.float64) for p in paths])
    c, d, _ = _segments([np.asarray(p, dtype=np.float64) for p in others])
    if not len(a) or not len(c):
        return np.zeros((0, 2))
    tree = shapely.STRtree(segments_of(a, b))
    j, i = tree.query(segments_of(c, d))
    return _proper(a[i], b[i], c[j], d[j])


SIDE_MM = 1e-9
"""How far from the other's line a segment's end must lie to be on a side of it."""


def _proper(a: np.ndarray, b: np.ndarray, c: np.ndarray, d: np.ndarray) -> FloatArray:
    def side(p: np.ndarray, q: np.ndarray, r: np.ndarray) -> np.ndarray:
        pq = q - p
        norm = np.hypot(pq[:, 0], pq[:, 1])
        cross = pq[:, 0] * (r - p)[:, 1] - pq[:, 1] * (r - p)[:, 0]
        return np.asarray(cross / np.where(norm > 0, norm, 1.0))

    c1, c2, a1, a2 = side(a, b, c), side(a, b, d), side(c, d, a), side(c, d, b)

    def apart(u: np.ndarray, v: np.ndarray) -> np.ndarray:
        return ((u > SIDE_MM) & (v < -SIDE_MM)) | ((u < -SIDE_MM) & (v > SIDE_MM))

    hit = apart(c1, c2) & apart(a1, a2)
    t = (a1 / np.where(hit, a1 - a2, 1.0))[hit]
    out: FloatArray = a[hit] + (b - a)[hit] * t[:, None]
    return out


def outside_mm(
    paths: Sequence[FloatArray], region: Polygon, *, tolerance_mm: float = 0.02, closed: bool = False
) -> float:
    """Return the length of the paths that lies more than the tolerance outside a region.

    Parameters
    ----------
    paths : sequence of (n, 2) arrays
        Polylines.
    region : shapely.Polygon
        What they should keep to.
    tolerance_mm : float
        So far outside is still inside.
    closed : bool
        Whether they lead back to their starts.

    Returns
    -------
    float
        mm; 0 where none leaves it.
    """
    grown = shapely.buffer(region, tolerance_mm, quad_segs=4)
    lines = line_strings([p for p in paths if len(p) > 1], closed)
    if not len(lines):
        return 0.0
    shapely.prepare(grown)
    stray = lines[~shapely.covers(grown, lines)]  # most lie inside, which is told sooner than what sticks out
    return float(shapely.length(shapely.difference(stray, grown)).sum())


def leaving(paths: Sequence[FloatArray], region: Polygon, *, tolerance_mm: float = 0.02) -> list[int]:
    """Return the numbers of the paths that lie somewhere more than the tolerance outside a region; none is empty.

    Parameters
    ----------
    paths : sequence of (n, 2) arrays
        Open polylines.
    region : shapely.Polygon
        What they should keep to.
    tolerance_mm : float
        So far outside is still inside.

    Returns
    -------
    list of int
        Rising.
    """
    grown = shapely.buffer(region, tolerance_mm, quad_segs=4)
    shapely.prepare(grown)
    found = ~shapely.covers(grown, np.array([_line(p, False) for p in paths]))
    return [int(k) for k in np.flatnonzero(found)]


def fence_crossings(paths: Sequence[FloatArray], fences: Sequence[Fence], *, closed: bool = False) -> int:
    """Return how often the paths properly cross firm fences.

    Parameters
    ----------
    paths : sequence of (n, 2) arrays
        Polylines.
    fences : sequence of Fence
        Soft ones do not count.
    closed : bool
        Whether the paths lead back to their starts.

    Returns
    -------
    int
        0 where none is crossed.
    """
    firm = [f.path for f in fences if f.soft_mm == 0]
    return len(crossings([close_ring(p, closed) for p in paths], firm)) if firm else 0


def seen_length(paths: Sequence[FloatArray], *, within_mm: float) -> float:
    """Return the length of some open paths with stretches that lie on each other counted once, mm; 0 for none.

    Paths are laid on a grid of ``within_mm``: what is nearer than about that is one, and the length of a curve is
    off by less than a hundredth.

    Parameters
    ----------
    paths : sequence of (n, 2) arrays
        Open polylines.
    within_mm : float
        Stretches nearer than this are one.

    Returns
    -------
    float
        mm.
    """
    lines = [_line(path) for path in paths if len(path) > 1]
    if not lines:
        return 0.0
    return float(shapely.union_all(lines, grid_size=within_mm).length)
