"""Spaces that are alike: which ones, and how a mark in one is carried into another, turned, mirrored and fitted."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .geometry import close_ring, corners_of, densify, resample, rings
from .model import FloatArray, Zone
from .quilt import Drawn

__all__ = ["ALIKE_SHARE", "Carry", "alike_spaces", "alike_zones", "carry"]

ALIKE_SHARE = 0.03
"""Corners that miss by less than this share of the space's width are those of an alike space, a little out of true."""

TIE_SHARE = 0.005
"""Ways of laying one space on the other that fit as well but for this share: the one that turns least is taken."""

RING_POINTS = 72
"""Points of an edge without corners that are laid on each other: every 5 degrees of a circle."""


@dataclass(frozen=True, slots=True, eq=False)
class Carry:
    """How points of one space become those of another: ``points @ matrix.T + shift``.

    ``off`` is how far the edge misses where the space was only turned and moved, a share of its width.
    """

    matrix: FloatArray
    shift: FloatArray
    off: float
    mirrored: bool

    def __call__(self, points: FloatArray) -> FloatArray:
        """Return ``(n, 2)`` points carried over."""
        return np.asarray(points @ self.matrix.T + self.shift)


def carry(source: Zone, target: Zone) -> Carry:
    """Return how marks of one space are carried into another.

    The corners of one are laid on those of the other, turned and mirrored in every way, the best way is taken (of
    equal ones that which mirrors not and turns least) and then stretched so that all corners meet as nearly as an
    affine map can make them. Spaces without as many corners are laid by their edge. O(n^2) in corners.
    """
    return _best(*_marks_of(source, target))


def alike_zones(drawn: Drawn, zone: Zone) -> list[str]:
    """Return the names of the other zones of a plan whose first space has the shape of one, turned or mirrored."""
    found = []
    for other in dict.fromkeys(z.name for z in (*drawn.zones, *drawn.bare)):
        first = next(z for z in (*drawn.zones, *drawn.bare) if z.name == other)
        if other == zone.name or first.part != zone.part:
            continue
        if _alike(zone, first):
            found.append(other)
    return found


def alike_spaces(drawn: Drawn, zone: Zone) -> list[Zone]:
    """Return the spaces of one zone that have the shape of one of them, turned or mirrored, that one among them."""
    every = (z for z in (*drawn.zones, *drawn.bare) if (z.name, z.part) == (zone.name, zone.part))
    return [other for other in every if other.label == zone.label or _alike(zone, other)]


def _alike(zone: Zone, other: Zone) -> bool:
    if abs(other.outline.area - zone.outline.area) > 2 * ALIKE_SHARE * zone.outline.area:
        return False
    return len(rings(other.outline)) == len(rings(zone.outline)) and carry(zone, other).off <= ALIKE_SHARE


def _marks_of(source: Zone, target: Zone) -> tuple[FloatArray, FloatArray]:
    a, b = corners_of(source.outline), corners_of(target.outline)
    if len(a) == len(b) and len(a) >= 3:
        return a, b
    return _round(source), _round(target)


def _round(zone: Zone) -> FloatArray:
    ring = close_ring(rings(zone.outline)[0])
    step = float(np.hypot(*np.diff(ring, axis=0).T).sum()) / RING_POINTS
    points = resample(densify(ring, step), step)
    places = np.linspace(0, len(points) - 1, RING_POINTS, endpoint=False).round().astype(int)
    return np.asarray(points[places])


def _best(a: FloatArray, b: FloatArray) -> Carry:
    """Return the best way of laying points on as many others in their order or against it, from any of them on."""
    n, width = len(a), float(np.ptp(a, axis=0).max())
    found = []
    for mirrored in (False, True):
        order = b[::-1] if mirrored else b
        for k in range(n):
            turned = np.roll(order, k, axis=0)
            matrix, off = _turn(a, turned, mirrored)
            turn = abs(float(np.degrees(np.arctan2(matrix[1, 0], matrix[0, 0]))))
            found.append((off / width, mirrored, turn, turned))
    least = min(off for off, *_ in found)
    off, mirrored, _, turned = min((f for f in found if f[0] <= least + TIE_SHARE), key=lambda f: f[1:3])
    matrix, shift = _affine(a, turned)
    return Carry(matrix, shift, off, mirrored)


def _turn(a: FloatArray, b: FloatArray, mirrored: bool) -> tuple[FloatArray, float]:
    """Return the turn, or mirrored turn, that lays points on others best, and how far the worst misses."""
    p, q = a - a.mean(axis=0), b - b.mean(axis=0)
    # orthogonal Procrustes with the sign of the determinant given: U diag(1, s) V^T of the correlation
    u, _, vt = np.linalg.svd(q.T @ p)
    sign = float(np.sign(np.linalg.det(u) * np.linalg.det(vt))) * (-1.0 if mirrored else 1.0)
    matrix = u @ np.diag([1.0, sign]) @ vt
    return matrix, float(np.hypot(*(p @ matrix.T - q).T).max())


def _affine(a: FloatArray, b: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the affine map that takes points nearest to others, least squares."""
    rows = np.column_stack([a, np.ones(len(a))])
    found, *_ = np.linalg.lstsq(rows, b, rcond=None)
    return np.asarray(found[:2].T), np.asarray(found[2])
