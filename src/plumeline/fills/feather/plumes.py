"""Plumes drawn in their cells: the shared sides, the round tops, and what keeps each inside its own cell."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from ...model import FloatArray
from .sides import POINTS

__all__ = ["Cells", "Tops", "draw_tops"]

TOP_POINTS = 24
"""Points of each half of a round top."""

SHARPEST_DEG = 38.0
"""Corners between side and outline count as no sharper: else a shoulder would fall to the foot."""

BLUNT_DROP, CORNER_DROP = 0.8, 1.35
"""Least depth of a shoulder in radii, ordinarily and where the plume fills a corner of the outline: less leaves a
shoulder angular."""

LOWEST = 0.3
"""No shoulder lies lower on its side: below, there is no side left to be seen."""

ROUND_SHARE, ROUND_CORNER_SHARE = 0.06, 0.26
"""Rounding of a top along its line as a share of its width, ordinarily and in a square corner of the outline."""

SHARPEST_CORNER = 1.6
"""Corners of the outline count as no sharper than this many square ones."""

FADE_SHARE = 0.2
"""The rounding sets in over this share of a top from either end."""


@dataclass(frozen=True, eq=False, slots=True)
class Cells:
    """The cells of one row: ``table[k]`` holds the sides across plume k, ``(count, across + 1, POINTS, 2)``.

    ``table[k, 0]`` is its first side and ``table[k, -1]`` its last, which is bitwise the first of plume k + 1.
    """

    table: FloatArray

    @property
    def length(self) -> FloatArray:
        """Length of each plume along its middle, mm, ``(count,)``."""
        middle = self.table[:, self.table.shape[1] // 2]
        return np.asarray(np.hypot(*np.moveaxis(np.diff(middle, axis=1), 2, 0)).sum(axis=1))

    def at(self, across: FloatArray, level: FloatArray) -> FloatArray:
        """Return places in each cell, ``(count, k, 2)``, from shares across and up (both ``(count, k)``, 0..1)."""
        count, rows, points, _ = self.table.shape
        x, y = across * (rows - 1), level * (points - 1)
        i, j = np.clip(x.astype(int), 0, rows - 2), np.clip(y.astype(int), 0, points - 2)
        a, b = (x - i)[..., None], (y - j)[..., None]
        k = np.arange(count)[:, None]
        t = self.table
        return np.asarray(
            (1 - a) * ((1 - b) * t[k, i, j] + b * t[k, i, j + 1])
            + a * ((1 - b) * t[k, i + 1, j] + b * t[k, i + 1, j + 1])
        )

    def corner_angles(self) -> tuple[FloatArray, FloatArray]:
        """Return the angles in the cell between its first side and the outline, and its last, radians."""
        t, j = self.table, POINTS - 1
        first = np.abs(_angle(t[:, 0, j - 6] - t[:, 0, j], t[:, 1, j] - t[:, 0, j]))
        last = np.abs(_angle(t[:, -1, j - 6] - t[:, -1, j], t[:, -2, j] - t[:, -1, j]))
        least = np.radians(SHARPEST_DEG)
        return np.clip(first, least, np.radians(172.0)), np.clip(last, least, np.radians(172.0))

    def corner_share(self) -> FloatArray:
        """Return how much of a corner the outline makes above each plume: 0 where straight, 1 where it turns by 90."""
        outer = self.table[:, :, -1]
        first, last = outer[:, 1] - outer[:, 0], outer[:, -1] - outer[:, -2]
        return np.clip(np.abs(_angle(first, last)) / (np.pi / 2), 0.0, SHARPEST_CORNER)

    def width(self, level: float = 0.78) -> FloatArray:
        """Return the width of each plume square to its middle line at a level, mm, ``(count,)``."""
        rows = self.table.shape[1]
        j = int(round(level * (POINTS - 1)))
        middle = self.table[:, rows // 2]
        way = middle[:, j + 2] - middle[:, j - 2]
        way = way / np.hypot(way[:, 0], way[:, 1])[:, None]
        span = self.table[:, -1, j] - self.table[:, 0, j]
        return np.asarray(np.abs(span[:, 0] * way[:, 1] - span[:, 1] * way[:, 0]))


@dataclass(frozen=True, eq=False, slots=True)
class Tops:
    """Round tops: the point of its first side that each leaves, the point of its last that it reaches, its line."""

    first: NDArray[np.intp]
    last: NDArray[np.intp]
    line: FloatArray


def draw_tops(cells: Cells) -> Tops:
    """Return the round tops of a row of plumes.

    Notes
    -----
    A circle of half the plume's width, pushed up between the sides until it meets the outline, touches each
    side ``radius / tan(angle / 2)`` below the corner of side and outline, and the outline as far from it. The top
    is drawn through these points in cell coordinates by rational quadratics of weight ``sin(angle / 2)``, which
    are circles where the cell is straight and stay in it where it is not.
    """
    length, width = cells.length, cells.width()
    left, right = cells.corner_angles()
    corner = cells.corner_share()
    least = BLUNT_DROP + (CORNER_DROP - BLUNT_DROP) * corner
    half_left, half_right = np.maximum(1 / np.tan(left / 2), least), np.maximum(1 / np.tan(right / 2), least)
    radius = 0.5 * width
    first, last = (_on_points(np.clip(1 - radius * half / length, LOWEST, None)) for half in (half_left, half_right))
    peak = half_left / (half_left + half_right)
    up = _fillet(first, peak, np.sin(left / 2))
    down = _fillet(last, 1 - peak, np.sin(right / 2))[:, ::-1]
    across = np.concatenate([up[..., 0], 1 - down[:, 1:, 0]], axis=1)
    level = np.concatenate([up[..., 1], down[:, 1:, 1]], axis=1)
    line = cells.at(across, level)
    return Tops(_index(first), _index(last), _rounded(line, width, corner))


def _fillet(shoulder: FloatArray, peak: FloatArray, weight: FloatArray) -> FloatArray:
    # from (0, shoulder) towards (0, 1), round, to (peak, 1), as (across, level)
    t = np.linspace(0.0, 1.0, TOP_POINTS)[None, :]
    a, b, c = (1 - t) ** 2, 2 * t * (1 - t) * weight[:, None], t**2
    total = a + b + c
    return np.stack([c * peak[:, None] / total, (a * shoulder[:, None] + b + c) / total], axis=2)


def _on_points(level: FloatArray) -> FloatArray:
    return np.asarray(_index(level) / (POINTS - 1))


def _index(level: FloatArray) -> NDArray[np.intp]:
    return np.asarray(np.round(level * (POINTS - 1)), dtype=np.intp)


def _rounded(line: FloatArray, width: FloatArray, corner: FloatArray) -> FloatArray:
    share = ROUND_SHARE + (ROUND_CORNER_SHARE - ROUND_SHARE) * corner
    out = line.copy()
    n = 2 * line.shape[1]
    for k in range(len(line)):
        s = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(line[k], axis=0).T))])
        even = np.linspace(0.0, s[-1], n)
        points = np.column_stack([np.interp(even, s, line[k, :, 0]), np.interp(even, s, line[k, :, 1])])
        sigma = share[k] * width[k] / max(even[1], 1e-9)
        # reflected in its ends, a line keeps both its ends and its directions there
        padded = np.vstack([2 * points[0] - points[:0:-1], points, 2 * points[-1] - points[-2::-1]])
        smooth = gaussian_filter1d(padded, sigma, axis=0, mode="nearest")[n - 1 : 2 * n - 1]
        fade = np.minimum(1.0, np.minimum(s, s[-1] - s) / (FADE_SHARE * s[-1]))
        smooth = np.column_stack([np.interp(s, even, smooth[:, 0]), np.interp(s, even, smooth[:, 1])])
        out[k] += (smooth - line[k]) * (fade**2 * (3 - 2 * fade))[:, None]
        out[k, [0, -1]] = line[k, [0, -1]]
    return out


def _angle(a: FloatArray, b: FloatArray) -> FloatArray:
    cross = a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0]
    return np.asarray(np.arctan2(cross, (a * b).sum(axis=-1)))
