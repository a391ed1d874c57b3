"""Seams found in a squared-up photo, each with how sure it is.

Along a planned seam the picture is sampled on lines across it. The score of an offset is how far the mean colours
of two strips, one either side and clear of it, lie apart in the way that the two fabrics do; the best path is found by
dynamic programming. A seam between like fabrics is not seen. A path is sure when it stands out from the best one that
keeps away from it, has most of the contrast of its fabrics, and does not lie along the end of the search.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.polynomial import legendre
from scipy.ndimage import map_coordinates

from ..geometry import arc_lengths, point_at
from ..model import FloatArray
from .seam_net import Stretch

__all__ = ["PLACED_MM", "PhotoColours", "SeenSeam", "see_seam"]

EVERY_MM, STEP_MM = 3.0, 0.25
"""From one line across the seam to the next; from one offset to the next."""

SEARCH_MM, LEAST_SEARCH_MM = 16.0, 4.0
"""Nobody sews a seam further off than this; between narrow patches less, lest the next seam be taken for it."""

STRIP_MM, CLEAR_MM, LEAST_STRIP_MM = 6.0, 0.5, 2.0
"""Width of the strips that are compared, their distance from the seam, and the narrowest that tells a fabric."""

STEP_COST = 1.5
"""Cost of each step aside, in units of colour: a path wanders only where the picture shows it."""

MOST_STEPS = 4
"""Steps aside from one line to the next: 1 mm in 3 mm, steeper than any seam leans."""

LEAST_CONTRAST = 9.0
"""Fabrics nearer in colour than this are alike: their seam is not seen through print and shadow."""

SHARE_SEEN, RUNNER_UP, APART_MM, END_SHARE, ROUGH_MM = 0.5, 0.8, 3.0, 0.15, 1.2
"""What makes a path sure: its share of the fabrics' contrast; how little the best path `APART_MM` away may reach of it;
how much of it may lie at the end of the search; how far it may stray from a smooth line."""

PLACED_MM = 2.0
"""A seam that may lie further off than this, by the measured points, is marked."""

LEAST_STATIONS = 4
"""A path of fewer lines is too short to be sure."""


CORNER_STATIONS, LONG_STATIONS = 2, 16
"""Lines at either end that are left out of the smooth line, of a path of so many at least."""


@dataclass(frozen=True, slots=True, eq=False)
class PhotoColours:
    """A squared-up photo in even colours, and which patch each spot belongs to by plan.

    ``lab`` ``(rows, cols, 3)`` at ``px_a_mm`` and ``label`` ``(rows, cols)`` at ``label_px`` (0: no patch) begin at
    ``origin``, mm; ``fabric`` is the middle colour of each label.
    """

    lab: np.ndarray
    px_a_mm: float
    label: np.ndarray
    label_px: float
    origin: tuple[float, float]
    fabric: Mapping[int, FloatArray]

    def at(self, points: FloatArray) -> FloatArray:
        """Return the colours at points, ``(..., 3)``."""
        xy = (points - np.asarray(self.origin)) * self.px_a_mm - 0.5
        return np.stack(
            [map_coordinates(self.lab[..., k], [xy[..., 1], xy[..., 0]], order=1, mode="nearest") for k in range(3)],
            axis=-1,
        ).astype(np.float64)

    def labels_at(self, points: FloatArray) -> np.ndarray:
        """Return the labels at points; 0 outside."""
        xy = np.floor((points - np.asarray(self.origin)) * self.label_px).astype(int)
        rows, cols = self.label.shape
        inside = (xy >= 0).all(axis=-1) & (xy[..., 0] < cols) & (xy[..., 1] < rows)
        held = np.clip(xy, 0, (cols - 1, rows - 1))
        return np.where(inside, self.label[held[..., 1], held[..., 0]], 0)


@dataclass(frozen=True, slots=True, eq=False)
class SeenSeam:
    """What was seen of a stretch.

    ``curve``: Legendre terms of the offset to the left of the way, over the way from -1 to 1; ``why``: "" for a sure
    one, else what makes it unsure, in words; ``may_be_off_mm``: how far the measured points let it lie off its true
    place.
    """

    stretch: Stretch
    curve: FloatArray
    why: str
    contrast: float
    may_be_off_mm: float = 0.0

    @property
    def seen(self) -> bool:
        """Whether the photo shows it, and it is used."""
        return not self.why

    @property
    def placed(self) -> bool:
        """Whether the measured points tell its place to `PLACED_MM`."""
        return self.may_be_off_mm <= PLACED_MM

    @property
    def sure(self) -> bool:
        """Whether it is seen, and its place is sure."""
        return self.seen and self.placed

    def offset(self, share: FloatArray) -> FloatArray:
        """Return the offset at shares, 0 to 1, of its length, mm."""
        return np.asarray(legendre.legval(2 * np.asarray(share, dtype=np.float64) - 1, self.curve), dtype=np.float64)

    def across(self, share: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return where it is seen at shares of its length, and unit vectors across it, to the left of its way."""
        at, normal = _stations(self.stretch, np.asarray(share, dtype=np.float64))
        return at + self.offset(share)[:, None] * normal, normal


def see_seam(stretch: Stretch, colours: PhotoColours) -> SeenSeam:
    """Return what a photo shows of a planned stretch of seam.

    Parameters
    ----------
    stretch : Stretch
        Where it is planned.
    colours : PhotoColours
        Of the photo.

    Returns
    -------
    SeenSeam
        Where it was seen, how surely, and why not.
    """
    none = np.zeros(1)
    long = stretch.length
    count = int(long // EVERY_MM)
    if count < LEAST_STATIONS:
        return SeenSeam(stretch, none, "is too short", 0.0)
    share = (np.arange(count) + 0.5) / count
    at, normal = _stations(stretch, share)
    left, right, wide = _sides(at, normal, colours)
    if left == right:
        return SeenSeam(stretch, none, "is not seen", 0.0)
    apart = colours.fabric[left] - colours.fabric[right]
    contrast = float(np.hypot(np.hypot(apart[0], apart[1]), apart[2]))
    if contrast < LEAST_CONTRAST:
        return SeenSeam(stretch, none, "lies between like fabrics", contrast)
    reach = float(np.clip(np.median(wide.min(axis=1)) - LEAST_STRIP_MM, LEAST_SEARCH_MM, SEARCH_MM))
    strips = np.minimum(wide, STRIP_MM)
    good = np.asarray((strips >= LEAST_STRIP_MM).all(axis=1), dtype=bool)
    if good.sum() < LEAST_STATIONS:
        return SeenSeam(stretch, none, "is too short", contrast)
    steps = round(reach / STEP_MM)
    score = _scores(at, normal, strips, apart / contrast, steps, colours)
    score = np.where(good[:, None], np.clip(score, 0, 1.2 * contrast), 0.0)
    cost = STEP_COST * min(1.0, contrast / 30)
    path, best = _best_path(score, cost)
    far = np.abs(np.arange(2 * steps + 1)[None] - path[:, None]) * STEP_MM >= APART_MM
    _, other = _best_path(np.where(far, score, -contrast), cost)
    offset = (path - steps) * STEP_MM
    curve = _smooth(*_clear_of_corners(share[good], offset[good]), long)
    seen = score[np.arange(count), path][good]
    rough = float(np.sqrt(np.mean((legendre.legval(2 * share[good] - 1, curve) - offset[good]) ** 2)))
    at_end = float((np.abs(offset[good]) > reach - 2 * STEP_MM).mean())
    why = ""
    if seen.mean() < SHARE_SEEN * contrast:
        why = "is faint"
    elif other > RUNNER_UP * best:
        why = "could be one of two lines"
    elif at_end > END_SHARE:
        why = f"lies more than {reach:.0f} mm from its place"
    elif rough > ROUGH_MM:
        why = "wanders"
    return SeenSeam(stretch, curve, why, contrast)


def _stations(stretch: Stretch, share: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return points along a stretch, and which way is left of its way there (y down: up, going right)."""
    s = share * arc_lengths(stretch.path)[-1]
    at = point_at(stretch.path, s)
    way = point_at(stretch.path, s + 0.5) - point_at(stretch.path, s - 0.5)
    way /= np.hypot(*way.T)[:, None]
    return at, np.column_stack([way[:, 1], -way[:, 0]])


def _sides(at: FloatArray, normal: FloatArray, colours: PhotoColours) -> tuple[int, int, FloatArray]:
    """Return the labels to the left and right of a seam, and how wide each is at each station, mm."""
    t = np.arange(1.0, SEARCH_MM + STRIP_MM + 3.0)
    labels = [colours.labels_at(at[:, None] + sign * t[None, :, None] * normal[:, None]) for sign in (1, -1)]
    owns = [int(np.bincount(side[:, :2].ravel()).argmax()) for side in labels]
    wide = [np.cumprod(side == own, axis=1).sum(axis=1).astype(float) for side, own in zip(labels, owns)]
    return owns[0], owns[1], np.column_stack(wide)


def _scores(
    at: FloatArray, normal: FloatArray, strips: FloatArray, unit: FloatArray, steps: int, colours: PhotoColours
) -> FloatArray:
    """Return the score of each offset, ``(stations, 2 * steps + 1)``, from right to left."""
    beyond = round((STRIP_MM + CLEAR_MM) / STEP_MM)
    t = np.arange(-steps - beyond, steps + beyond + 1) * STEP_MM
    seen = colours.at(at[:, None] + t[None, :, None] * normal[:, None]) @ unit
    total = np.concatenate([np.zeros((len(at), 1)), np.cumsum(seen, axis=1)], axis=1)
    middle = np.arange(2 * steps + 1) + beyond
    clear = round(CLEAR_MM / STEP_MM)
    rows = np.arange(len(at))[:, None]
    wide = np.maximum(1, np.round(strips / STEP_MM).astype(int))
    left_from, left_to = middle + clear, middle[None] + clear + wide[:, :1]
    right_from, right_to = middle[None] - clear - wide[:, 1:] + 1, middle - clear + 1
    left = (total[rows, left_to] - total[rows, left_from[None]]) / wide[:, :1]
    right = (total[rows, right_to[None]] - total[rows, right_from]) / wide[:, 1:]
    scores: FloatArray = left - right
    return scores


def _best_path(score: FloatArray, cost: float) -> tuple[np.ndarray, float]:
    """Return the offsets of the best path, as indices, and its score less the cost of its steps. O(n k)."""
    count, wide = score.shape
    came = np.zeros((count, wide), dtype=int)
    total = score[0].copy()
    for k in range(1, count):
        best, step = total, np.zeros(wide, dtype=int)
        for d in range(1, MOST_STEPS + 1):
            for sign in (-d, d):
                moved = np.full(wide, -np.inf)
                if sign > 0:
                    moved[sign:] = total[:-sign] - cost * d
                else:
                    moved[:sign] = total[-sign:] - cost * d
                better = moved > best
                best, step = np.where(better, moved, best), np.where(better, sign, step)
        came[k], total = step, best + score[k]
    path = np.zeros(count, dtype=int)
    path[-1] = int(total.argmax())
    for k in range(count - 1, 0, -1):
        path[k - 1] = path[k] - came[k, path[k]]
    return path, float(total.max())


def _clear_of_corners(share: FloatArray, offset: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return a path without its ends, where the strips show what lies round the corner; all of a short one."""
    if len(share) < LONG_STATIONS:
        return share, offset
    return share[CORNER_STATIONS:-CORNER_STATIONS], offset[CORNER_STATIONS:-CORNER_STATIONS]


def _smooth(share: FloatArray, offset: FloatArray, long: float) -> FloatArray:
    """Return the Legendre terms of the smooth line nearest to offsets; those that stray count less."""
    degree = int(min(6, 2 + long // 150, len(share) // 4))
    weight = np.ones(len(share))
    curve = np.zeros(degree + 1)
    for _ in range(4):
        curve = np.asarray(legendre.legfit(2 * share - 1, offset, degree, w=np.sqrt(weight)), dtype=np.float64)
        stray = np.abs(legendre.legval(2 * share - 1, curve) - offset)
        weight = 1 / np.maximum(1.0, stray / 0.5)
    return curve
