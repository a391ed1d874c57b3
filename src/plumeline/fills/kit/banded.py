"""One line round a frame, from its outer edge to its hole: each turn keeps to both, and leads into the next.

From one row to the next the line goes at one corner: it follows the last side of a row up to the first side of the next
and turns there, so that every strand stands on its row and nothing slants. Round a frame without corners it winds
evenly.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from shapely import Polygon

from ...geometry import Band, band_of, boundary_distance, is_simple, outside_mm
from ...model import FloatArray, Path, as_path

__all__ = ["wound_band", "wound_in_and_out"]

EVEN = 2.0
"""A band at most so many times as wide at its widest as at its narrowest is gone round in even rows; in others they
would crowd."""

ROUND = 0.5
"""Radius of rounded corners, in gaps, as of all echoes inwards."""

BEND_RAD, ARC_RAD, ARC_SHARE = 0.35, 0.2, 0.45
"""A corner that turns by less is left as it is; steps of an arc; and most of a side that an arc takes at either end."""


def wound_band(piece: Polygon, gap_mm: float, *, sharp: bool, near: FloatArray | None = None) -> Path | None:
    """Return one line that winds from the outer edge of a frame to its hole, None where it is no band that is even.

    Its rows stand a gap apart and from both edges, the gap fitted to the width; ``near`` is where it shall start.
    """
    band = _even_band(piece)
    if band is None:
        return None
    parts = max(round(band.width_mm / gap_mm), 1)
    if parts < 2:
        return None
    if not len(band.corners):
        share = (np.arange(parts * len(band.outer) + 1) / (parts * len(band.outer)))[:, None]
        which = np.arange(len(share)) % len(band.outer)
        return _good((1 - share) * band.outer[which] + share * band.inner[which], piece)
    seam = _seam(band, near)
    path = _turned(band, seam, np.arange(parts + 1) / parts)
    path = np.vstack([path, band.inner[seam]])
    return _good(path if sharp else _rounded(path, ROUND * band.width_mm / parts), piece)


def wound_in_and_out(piece: Polygon, gap_mm: float, *, sharp: bool, near: FloatArray | None = None) -> Path | None:
    """Return one line that winds into a frame with corners and out again between its own turns; both ends at one edge.

    None where the piece is no band that is even, or no turn goes in. Its strands stand half a gap from either edge.
    """
    band = _even_band(piece)
    if band is None or not len(band.corners):
        return None
    rows = max(round(band.width_mm / gap_mm), 1)
    if rows < 2:
        return None
    at = (np.arange(rows) + 0.5) / rows
    beyond, seam = (rows + 0.5) / rows, _seam(band, near)
    inwards = _turned(band, seam, np.array([0.0, *at[0::2], beyond]))
    outwards = _turned(band, seam, np.array([0.0, *at[1::2], beyond]))
    path = np.vstack([inwards, outwards[::-1]])
    return _good(path if sharp else _rounded(path, ROUND * band.width_mm / rows), piece)


def _even_band(piece: Polygon) -> Band | None:
    band = band_of(piece)
    if band is None:
        return None
    mitred = len(band.corners) > 0
    wide = 2 * boundary_distance(piece, band.row(0.5)) if mitred else np.hypot(*(band.outer - band.inner).T)
    return band if wide.max() <= EVEN * wide.min() else None


def _seam(band: Band, near: FloatArray | None) -> int:
    """Return the corner at which the line goes from row to row: the one nearest to a point, else the first."""
    if near is None:
        return int(band.corners[0])
    return int(band.corners[np.argmin(np.hypot(*(band.outer[band.corners] - near).T))])


def _turned(band: Band, seam: int, fractions: FloatArray) -> FloatArray:
    """Return the line once round each row but the first and last, which it begins and ends at."""
    rows = [np.roll(band.row(float(f)), -seam, axis=0) for f in fractions]
    corners = [_meeting(a[-1], a[0], b[0], b[1]) for a, b in pairwise(rows)]
    parts = [corners[0][None]]
    for row, corner in zip(rows[1:-1], corners[1:], strict=True):
        parts += [row[1:], corner[None]]
    return np.vstack(parts)


def _meeting(a: FloatArray, b: FloatArray, c: FloatArray, d: FloatArray) -> FloatArray:
    """Return where the lines through two pairs of points meet; the first pair's end where they run alike."""
    one, other = b - a, d - c
    cross = one[0] * other[1] - one[1] * other[0]
    if abs(cross) < 1e-9:
        return b
    along = ((c - a)[0] * other[1] - (c - a)[1] * other[0]) / cross
    return np.asarray(a + along * one)


def _rounded(path: FloatArray, radius: float) -> FloatArray:
    """Return an open line with its corners rounded by arcs, smaller ones where a side is too short."""
    steps = np.diff(path, axis=0)
    long = np.hypot(*steps.T)
    steps = steps / long[:, None]
    parts = [path[:1]]
    for k in range(1, len(path) - 1):
        before, after = steps[k - 1], steps[k]
        turn = np.arctan2(before[0] * after[1] - before[1] * after[0], before @ after)
        if abs(turn) < BEND_RAD:
            parts.append(path[k : k + 1])
            continue
        tangent = min(radius * np.tan(abs(turn) / 2), ARC_SHARE * min(long[k - 1], long[k]))
        arm = tangent / np.tan(abs(turn) / 2)
        start = path[k] - tangent * before
        side = np.sign(turn) * np.array([-before[1], before[0]])
        angle = np.linspace(0.0, abs(turn), max(int(np.ceil(abs(turn) / ARC_RAD)), 2) + 1)[:, None]
        parts.append(start + arm * (np.sin(angle) * before + (1 - np.cos(angle)) * side))
    return np.vstack([*parts, path[-1:]])


def _good(path: FloatArray, piece: Polygon) -> Path | None:
    return as_path(path) if is_simple(path) and outside_mm([path], piece, tolerance_mm=1e-6) == 0 else None
