"""Plumes drawn in their cells: the shared sides, the round tops, and what keeps each inside its own cell."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import binary_dilation, gaussian_filter1d

from ...geometry import within_own
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

CLOSED_UP = 0.5
"""A plume apart that had to be cut shorter than this closes up to its neighbours: there is no room between them."""

LEAVES = 0.1
"""A top leaves its side at a small angle, a degree or two: nearer, its chords would cross those of the side."""

LOWEST = 0.3
"""No shoulder lies lower on its side: below, there is no side left to be seen."""

ROUND_SHARE, ROUND_CORNER_SHARE = 0.06, 0.26
"""Rounding of a top along its line as a share of its width, ordinarily and in a square corner of the outline."""

SHARPEST_CORNER = 1.6
"""Corners of the outline count as no sharper than this many square ones."""

STEP_MM = 1.0
"""Points of a top are about this far apart."""

SHOULDER, HIGH_SHOULDER, STOUT = 0.78, 0.92, 0.6
"""Level at which a plume's width sets the radius of its top; and of one wider than the last part of its length, which
would have square shoulders else."""

GAP_OPENS, GAP_OPENS_MM, INSET_MOST = 0.3, 6.0, 0.3
"""Plumes apart part over this share of their length, or this many mm, and keep off each side by at most that share of
their width."""

FOOT_SHARE = 0.5
"""Share of its inset that a plume keeps at the first point of a side beyond its foot."""

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

    def widths(self) -> FloatArray:
        """Return the width of each plume square to its middle line at each level, mm, ``(count, POINTS)``."""
        middle = self.table[:, self.table.shape[1] // 2]
        way = np.gradient(middle, axis=1)
        way = way / np.maximum(np.hypot(way[..., 0], way[..., 1]), 1e-12)[..., None]
        span = self.table[:, -1] - self.table[:, 0]
        return np.asarray(np.abs(span[..., 0] * way[..., 1] - span[..., 1] * way[..., 0]))


@dataclass(frozen=True, eq=False, slots=True)
class Tops:
    """Round tops of a row.

    Attributes
    ----------
    first, last : (count,) int
        The point of its first side that each top leaves, and the point of its last side that it reaches.
    lines : list of (k, 2)
        The tops, from the one point to the other.
    inset : (count, 2, POINTS)
        How far each plume keeps off its first and last side, as a share of its width; 0 where sides are shared.
    """

    first: NDArray[np.intp]
    last: NDArray[np.intp]
    lines: list[FloatArray]
    inset: FloatArray


def draw_tops(
    cells: Cells,
    starts: NDArray[np.intp],
    reach: FloatArray,
    *,
    gap_mm: float = 0.0,
    belly: float = 0.0,
    closed: bool = False,
) -> Tops:
    """Return the round tops of a row of plumes.

    Parameters
    ----------
    starts : (count + 1,) int
        The point of each side where the plumes on either side of it part; 0 is its foot.
    reach : (count,)
        Level of the highest point of each top: 1 at the outline.
    gap_mm, belly
        What lies between neighbours; both 0 for plumes that share their sides.
    closed : bool
        Whether the first and the last plume are neighbours.

    Notes
    -----
    A circle of half the plume's width, pushed up between the sides until it meets the outline, touches each
    side ``radius / tan(angle / 2)`` below the corner of side and outline, and the outline as far from it. The top
    is drawn through these points in cell coordinates by rational quadratics of weight ``sin(angle / 2)``, which
    are circles where the cell is straight and stay in it where it is not.
    """
    length, widths = cells.length, cells.widths()
    usual, high = (widths[:, round(level * (POINTS - 1))] for level in (SHOULDER, HIGH_SHOULDER))
    width = np.where(high > STOUT * length, np.maximum(usual, high), usual)
    inset = _inset(widths, starts, length, gap_mm, belly)
    inset[reach < CLOSED_UP] = 0.0
    if not closed:
        inset[0, 0] = inset[-1, 1] = 0.0
    left, right = cells.corner_angles()
    corner = cells.corner_share()
    least = BLUNT_DROP + (CORNER_DROP - BLUNT_DROP) * corner
    half_left, half_right = np.maximum(1 / np.tan(left / 2), least), np.maximum(1 / np.tan(right / 2), least)
    radius = 0.5 * width * (1 - inset[:, :, round(SHOULDER * (POINTS - 1))].sum(axis=1))
    trunk = np.maximum(starts[:-1], starts[1:]) / (POINTS - 1)
    low = np.maximum(np.minimum(LOWEST, 0.6 * reach), trunk + 0.04)
    first = _index(np.clip(reach - radius * half_left / length, low, reach))
    last = _index(np.clip(reach - radius * half_right / length, low, reach))
    peak = half_left / (half_left + half_right)
    rows = np.arange(len(length))
    up = _fillet(inset[rows, 0, first], first / (POINTS - 1), reach, peak, np.sin(left / 2))
    down = _fillet(inset[rows, 1, last], last / (POINTS - 1), reach, 1 - peak, np.sin(right / 2))[:, ::-1]
    across = np.concatenate([up[..., 0], 1 - down[:, 1:, 0]], axis=1)
    level = np.concatenate([up[..., 1], down[:, 1:, 1]], axis=1)
    lines = cells.at(across, level)
    # tops that stand on a side start and end on its very points
    shared = inset[rows, 0, first] == 0, inset[rows, 1, last] == 0
    lines[shared[0], 0] = cells.table[rows, 0, first][shared[0]]
    lines[shared[1], -1] = cells.table[rows, -1, last][shared[1]]
    return Tops(first, last, _rounded(cells, lines, width, corner), inset)


def _inset(widths: FloatArray, starts: NDArray[np.intp], length: FloatArray, gap: float, belly: float) -> FloatArray:
    # from 0 at the foot straight off, not slowly: lines that part slowly graze each other
    level = np.linspace(0.0, 1.0, POINTS)
    out = np.zeros((len(widths), 2, POINTS))
    if gap == 0 and belly == 0:
        return out
    for side, start in enumerate((starts[:-1], starts[1:])):
        rise = (level - start[:, None] / (POINTS - 1)) / np.maximum(GAP_OPENS, GAP_OPENS_MM / length)[:, None]
        rise = np.clip(rise, 0.0, 1.0)
        out[:, side] = gap / 2 / np.maximum(widths, 1e-9) * rise * (2 - rise)
        out[:, side] += belly * np.sin(np.pi * level**0.8) ** 1.3
    out = np.minimum(out, INSET_MOST)
    # beside a foot, where sides leave the spine along it, keeping off a side must not carry over the spine
    out[:, :, 1] *= FOOT_SHARE
    return out


def _fillet(
    inset: FloatArray, shoulder: FloatArray, reach: FloatArray, peak: FloatArray, weight: FloatArray
) -> FloatArray:
    # from (inset, shoulder) towards (inset, reach), round, to (peak, reach), as (across, level)
    t = np.linspace(0.0, 1.0, TOP_POINTS)[None, :]
    a, b, c = (1 - t) ** 2, 2 * t * (1 - t) * weight[:, None], t**2
    total = a + b + c
    rise = (c + LEAVES * b * (1 - t)) / total
    across = inset[:, None] + (peak - inset)[:, None] * rise
    return np.stack([across, (a * shoulder[:, None] + (b + c) * reach[:, None]) / total], axis=2)


def _index(level: FloatArray) -> NDArray[np.intp]:
    return np.asarray(np.round(level * (POINTS - 1)), dtype=np.intp)


def _rounded(cells: Cells, lines: FloatArray, width: FloatArray, corner: FloatArray) -> list[FloatArray]:
    plain, smooth = [], []
    for line, w, c in zip(lines, width, corner):
        s = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))])
        n = max(TOP_POINTS, int(s[-1] / STEP_MM))
        even = np.linspace(0.0, s[-1], n)
        points = np.column_stack([np.interp(even, s, line[:, k]) for k in (0, 1)])
        points[[0, -1]] = line[[0, -1]]
        sigma = (ROUND_SHARE + (ROUND_CORNER_SHARE - ROUND_SHARE) * c) * w / max(even[1], 1e-9)
        # mirrored in its ends, a line keeps both them and its directions there
        padded = np.vstack([2 * points[0] - points[:0:-1], points, 2 * points[-1] - points[-2::-1]])
        shift = gaussian_filter1d(padded, sigma, axis=0, mode="nearest")[n - 1 : 2 * n - 1] - points
        fade = np.minimum(1.0, np.minimum(even, s[-1] - even) / (FADE_SHARE * s[-1]))
        shift *= (fade**2 * (3 - 2 * fade))[:, None]
        plain.append(points)
        smooth.append(points + shift)
    return _kept_inside(cells, plain, smooth)


def _kept_inside(cells: Cells, plain: list[FloatArray], smooth: list[FloatArray]) -> list[FloatArray]:
    # where rounding left a plume's own cell it is undone, gently to either side
    outlines = [np.vstack([t[0], t[1:-1, -1], t[-1, ::-1]]) for t in cells.table]
    outlines = [o[np.hypot(*(o - np.roll(o, 1, axis=0)).T) > 0] for o in outlines]
    out = []
    for line, rounded, inside in zip(plain, smooth, within_own(outlines, smooth)):
        bad = ~inside
        bad[[0, -1]] = False
        if bad.any():
            undo = gaussian_filter1d(binary_dilation(bad, iterations=4).astype(float), 2.0)
            undo = np.where(bad, 1.0, undo)[:, None]
            rounded = rounded + (line - rounded) * undo
            rounded[[0, -1]] = line[[0, -1]]
        out.append(rounded)
    return out


def _angle(a: FloatArray, b: FloatArray) -> FloatArray:
    cross = a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0]
    return np.asarray(np.arctan2(cross, (a * b).sum(axis=-1)))
