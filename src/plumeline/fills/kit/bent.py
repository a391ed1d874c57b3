"""Grids bent to a crooked block: even along each of its four sides, and through its corners."""

from __future__ import annotations

import numpy as np
from shapely import Polygon

from ...geometry import Patchwork, clip_crossing_path, cornered, path_length, rings
from ...model import FloatArray, Path, as_path
from .limits import nearest_count
from .parallel import SHORTEST, alternately

__all__ = ["bent_grid"]

SAMPLES = 64
"""Points of one line: in a block an inch out of true at 40 in, chords stray by less than a thread."""

Lines = list[tuple[FloatArray, FloatArray]]
"""Ends of straight lines in the plane of a grid's own squares, ``(2,)`` each."""


def bent_grid(piece: Polygon, spacing_mm: float, *, on_point: bool) -> tuple[list[list[Path]], float] | None:
    """Return both sets of lines of a grid bent to a four-cornered region, each alternately turned, and the stretch.

    The lines start and end evenly along each side, measured along it; on point they go through all four corners.
    Between the sides they follow Coons' blend, so that in a block of straight sides an upright grid's lines are
    straight. What lies in a hole is clipped.

    Parameters
    ----------
    spacing_mm : float
        From line to line, as wished; the stretch is by how much it gave, on the mean of opposite sides.

    Returns
    -------
    tuple or None
        None when the region has not just four corners, all of them pointing outwards.
    """
    outline = cornered(rings(piece)[0])
    if len(outline.corners) != 4 or (outline.inner_deg >= 180.0).any():
        return None
    sides = outline.sides()
    lengths = [path_length(side) for side in sides]
    wide, high = (lengths[0] + lengths[2]) / 2, (lengths[1] + lengths[3]) / 2
    square = spacing_mm * (np.sqrt(2.0) if on_point else 1.0)
    count = np.array([nearest_count(wide / square), nearest_count(high / square)])
    a, b = wide / count[0], high / count[1]
    found = float(a * b / np.hypot(a, b)) if on_point else float(a + b) / 2
    patch = Patchwork(sides)
    sets = _on_point(*count.tolist()) if on_point else _upright(*count.tolist())
    drawn = [_drawn(patch, lines, count, piece, SHORTEST * spacing_mm) for lines in sets]
    return drawn, found / spacing_mm


def _upright(n: int, m: int) -> tuple[Lines, Lines]:
    across = [(np.array([k, 0.0]), np.array([k, float(m)])) for k in range(1, n)]
    along = [(np.array([0.0, k]), np.array([float(n), k])) for k in range(1, m)]
    return across, along


def _on_point(n: int, m: int) -> tuple[Lines, Lines]:
    # u - v = k and u + v = k: both end on whole numbers of every side
    down = [(max(0, k), min(n, m + k), k) for k in range(1 - m, n)]
    up = [(max(0, k - m), min(n, k), k) for k in range(1, n + m)]
    falling = [(np.array([a, a - k]), np.array([b, b - k])) for a, b, k in down]
    rising = [(np.array([a, k - a]), np.array([b, k - b])) for a, b, k in up]
    return falling, rising


def _drawn(patch: Patchwork, lines: Lines, count: FloatArray, piece: Polygon, least_mm: float) -> list[Path]:
    found: list[tuple[int, Path]] = []
    part = np.linspace(0.0, 1.0, SAMPLES)[:, None]
    for number, (start, end) in enumerate(lines):
        at = (start + (end - start) * part) / count
        path = patch.four(at[:, 0], at[:, 1])
        if not piece.interiors:
            found.append((number, as_path(path)))
            continue
        found += [(number, stretch) for stretch in clip_crossing_path(path, piece, least_mm=least_mm)]
    return alternately(found)
