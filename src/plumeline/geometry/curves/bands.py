"""A ring-shaped region as a band: its outer edge and its hole matched point by point.

Rows that follow a frame, and keys that stand across it, both need to know which point of the hole faces which
point of the outer edge. A frame is matched corner to corner, so that a frame out of true stays even from mitre to
mitre; a round or mixed ring is matched along rays from the middle of its hole.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from shapely import Polygon

from ...model import FloatArray, Path, as_path
from ..areas.regions import rings
from ..measures.checks import is_simple, outside_mm
from .corners import Outline, arc_fractions, cornered
from .polylines import signed_area

__all__ = ["Band", "band_of"]

FACING_DEG = 30.0
"""A side of the hole faces a side of the outer edge when they run alike to within this."""

RAYS = 360
"""Rays for a ring matched from its middle: a row strays at most R (1 - cos 0.5 degrees), 0.01 mm at R = 10 in."""

SAME = 1e-6
"""Vertices of the two edges whose places (part of a side, or angle) differ by less face each other."""

NARROWEST = 0.25
"""A ring that narrows to less than this part of its mean width is no band: its rows would run into each other."""


@dataclass(frozen=True, slots=True, eq=False)
class Band:
    """The two edges of a ring-shaped region, point facing point, clockwise as seen.

    Attributes
    ----------
    outer, inner : (n, 2) float64
        Matched points of the outer edge and of the hole.
    corners : (k,) int array
        Indices of the mitres; empty when the ring was matched by rays.
    width_mm : float
        Mean width, twice the area over both perimeters: exact for mitred frames and round rings.
    """

    outer: Path
    inner: Path
    corners: np.ndarray
    width_mm: float

    def row(self, fraction: float) -> Path:
        """Return the closed row at a fraction of the way from the outer edge (0) to the hole (1)."""
        return as_path((1.0 - fraction) * self.outer + fraction * self.inner)


def band_of(region: Polygon) -> Band | None:
    """Return a region with one hole as a band.

    None when its edges can't be matched without a fold, or when it is nearly pinched off somewhere.

    Parameters
    ----------
    region : shapely.Polygon
        With one hole.

    Returns
    -------
    Band or None
        Its two edges, matched point by point.
    """
    if len(region.interiors) != 1:
        return None
    shell, hole = (cornered(ring) for ring in rings(region))
    width = 2.0 * float(region.area) / float(region.length)
    for matched in (_by_corners(shell, hole), _by_rays(shell, hole)):
        if matched is not None:
            band = Band(*matched, width_mm=width)
            if _even(band, region):
                return band
    return None


def _even(band: Band, region: Polygon) -> bool:
    if np.hypot(*(band.outer - band.inner).T).min() < NARROWEST * band.width_mm:
        return False
    rows = [band.row(f) for f in (0.25, 0.5, 0.75)]
    return all(is_simple(row, closed=True) for row in rows) and outside_mm(rows, region, closed=True) == 0.0


def _by_corners(shell: Outline, hole: Outline) -> tuple[Path, Path, np.ndarray] | None:
    count = len(shell.corners)
    if count < 3 or len(hole.corners) != count:
        return None
    far = [float(((shell.points - np.roll(hole.points, -k, axis=0)) ** 2).sum()) for k in range(count)]
    shift = int(np.argmin(far))
    faced = hole.sides()
    outer: list[FloatArray] = []
    inner: list[FloatArray] = []
    corners: list[int] = []
    for j, side in enumerate(shell.sides()):
        other = faced[(j + shift) % count]
        if _runs_apart(side, other):
            return None
        at = _merged(arc_fractions(side), arc_fractions(other))[:-1]
        corners.append(sum(len(points) for points in outer))
        outer.append(_at(side, at))
        inner.append(_at(other, at))
    return as_path(np.vstack(outer)), as_path(np.vstack(inner)), np.array(corners)


def _runs_apart(side: Path, other: Path) -> bool:
    a, b = side[-1] - side[0], other[-1] - other[0]
    return float(a @ b) < math.cos(math.radians(FACING_DEG)) * float(np.hypot(*a) * np.hypot(*b))


def _merged(a: FloatArray, b: FloatArray) -> FloatArray:
    both = np.unique(np.concatenate([a, b]))
    kept: FloatArray = both[np.concatenate([[True], np.diff(both) > SAME])]
    return kept


def _at(side: Path, fractions: FloatArray) -> FloatArray:
    own = arc_fractions(side)
    return np.column_stack([np.interp(fractions, own, side[:, 0]), np.interp(fractions, own, side[:, 1])])


def _by_rays(shell: Outline, hole: Outline) -> tuple[Path, Path, np.ndarray] | None:
    centre = _centroid(hole.path)
    sweeps = [_sweep(ring.path - centre) for ring in (shell, hole)]
    if any(np.any(np.diff(sweep) <= 0) for sweep in sweeps):
        return None
    angles = np.concatenate([np.mod(sweep[:-1], 2 * math.pi) for sweep in sweeps] + [np.arange(RAYS) * math.tau / RAYS])
    angles = _merged(angles, angles)
    angles = angles[angles < math.tau - SAME]
    outer, inner = (centre + _on_rays(ring.path - centre, sweep, angles) for ring, sweep in zip((shell, hole), sweeps))
    return as_path(outer), as_path(inner), np.zeros(0, dtype=int)


def _centroid(ring: Path) -> FloatArray:
    after = np.roll(ring, -1, axis=0)
    cross = ring[:, 0] * after[:, 1] - after[:, 0] * ring[:, 1]
    middle: FloatArray = ((ring + after) * cross[:, None]).sum(axis=0) / (6.0 * signed_area(ring))
    return middle


def _sweep(ring: FloatArray) -> FloatArray:
    # the angle of each vertex about the middle, once round and back to the first
    angle = np.arctan2(ring[:, 1], ring[:, 0])
    return np.unwrap(np.concatenate([angle, angle[:1]]))


def _on_rays(ring: FloatArray, sweep: FloatArray, angles: FloatArray) -> FloatArray:
    turned = sweep[0] + np.mod(angles - sweep[0], math.tau)
    at = np.clip(np.searchsorted(sweep, turned, side="right") - 1, 0, len(ring) - 1)
    a, b = ring[at], np.roll(ring, -1, axis=0)[at]
    ray = np.column_stack([np.cos(angles), np.sin(angles)])
    edge = b - a
    far = (a[:, 0] * edge[:, 1] - a[:, 1] * edge[:, 0]) / (ray[:, 0] * edge[:, 1] - ray[:, 1] * edge[:, 0])
    points: FloatArray = ray * far[:, None]
    return points
