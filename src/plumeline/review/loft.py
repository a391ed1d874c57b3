"""How the quilted cloth stands up between the lines: a membrane on springs, held down by the thread (an estimate).

The batting wants to stand ``c`` above the stitch line; cloth and thread pull it down: ``lap(h) = (h - c) / lam**2``,
with ``h = 0`` on every stitched line and at the quilt's edge. ``c`` is the batting's loft, ``lam`` its range: how far
from a line the cloth is back up. Far from any line ``h`` is ``c``, between lines close together it stays flat.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..model import Batting, BattingKind, BattingSample, FloatArray, Relief

__all__ = ["KINDS", "grid_step", "inside_grid", "parallel_draw_in", "relief", "springs"]

KINDS: dict[BattingKind, tuple[float, float]] = {
    "thin cotton": (2.2, 4.0),
    "cotton-poly": (2.6, 4.5),
    "wool": (3.2, 5.0),
    "high loft": (4.5, 7.0),
}
"""Loft and range of each kind of batting, mm: common practice, no source; her own sample square tells better."""

CELLS = 2_700_000
"""Most cells of one field: a top of 64 in at 1 mm. More cost time and memory, fewer blur lines close together."""

STEP_MM = 1.0
"""Side of a cell for the figures of a whole top."""

SWEEPS = 16
"""Times that each level is gone over; with these the closed forms are met to a part in 100."""

HASTE = 1.5
"""Over-relaxation: between 1 (slow) and 2 (never settles)."""

NEAREST = 1e-3
"""A line nearer to a cell's middle than this share of the step counts as that near: keeps the weights finite."""

ASIDE = 1.37e-5
"""The grid lies this share of a step beside round coordinates, so that no line runs exactly through its middles."""

Grid = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class _Level:
    """The equations of one grid: which neighbours a line cuts off, and how heavily it holds each cell down."""

    right: Grid
    below: Grid
    at_left: Grid
    at_right: Grid
    at_above: Grid
    at_below: Grid
    weight: Grid


def springs(batting: Batting) -> tuple[float, float]:
    """Return loft and range of a batting, mm: as stated, as her sample square tells, or as its kind has them.

    Notes
    -----
    Draw-in grows with the square of the loft, so one sample square sets it. Across parallel lines ``d`` apart it is
    `parallel_draw_in`; for a crosshatch it is solved on one of its squares.
    """
    loft, far = KINDS[batting.kind]
    if batting.loft_mm is not None:
        loft = batting.loft_mm
    if batting.sample is not None:
        loft = _loft_of(batting.sample, far)
    return loft, far


def _loft_of(sample: BattingSample, range_mm: float) -> float:
    share = 1.0 - sample.after_mm / sample.before_mm
    if sample.quilted == "channel":
        unit = parallel_draw_in(sample.spacing_mm, 1.0, range_mm)
    else:
        side = sample.spacing_mm
        ring = np.array([(0, 0), (side, 0), (side, side), (0, side), (0, 0)], dtype=float)
        field = relief([ring], (0.0, 0.0, side, side), loft_mm=1.0, range_mm=range_mm, step_mm=side / 48)
        unit = float(field.across.mean())
    return math.sqrt(share / unit)


def parallel_draw_in(spacing_mm: float, loft_mm: float, range_mm: float) -> float:
    """Return the share of its width that cloth loses across parallel lines.

    Half the mean square of the slope of ``h(x) = c (1 - cosh((x - d/2) / lam) / cosh(d / (2 lam)))`` over ``0..d``:
    ``c**2 / (2 d lam) (tanh a - a / cosh(a)**2)`` with ``a = d / (2 lam)``.
    """
    a = spacing_mm / (2 * range_mm)
    return loft_mm**2 / (2 * spacing_mm * range_mm) * (math.tanh(a) - a / math.cosh(min(a, 300.0)) ** 2)


def grid_step(width_mm: float, height_mm: float) -> float:
    """Return the side of a cell for the figures of a whole top: `STEP_MM`, more where that were over `CELLS`."""
    return max(STEP_MM, math.sqrt(width_mm * height_mm / CELLS))


def relief(
    paths: Sequence[FloatArray],
    window: tuple[float, float, float, float],
    *,
    loft_mm: float,
    range_mm: float,
    step_mm: float,
) -> Relief:
    """Return how cloth stands up between stitched paths.

    Parameters
    ----------
    paths : sequence of (n, 2) arrays
        All that holds it down: stitching, and the quilt's edge. With none it stands at ``loft_mm`` everywhere.
    window : (left, top, width, height)
        The part to work out, mm; what lies 6 ranges outside it no longer matters.
    loft_mm, range_mm : float
        As `springs` returns them.
    step_mm : float
        Side of a cell.

    Notes
    -----
    Five-point differences; where a path crosses between two cells each sees it at its true distance (so errors fall
    with the square of the step). Solved from coarse grids to fine, red and black cells in turn; the range is short,
    so few sweeps do. O(cells + crossings).
    """
    left, top, width, height = window
    long = [np.asarray(p, dtype=np.float64) for p in paths if len(p) > 1]
    ends = (np.vstack([p[:-1] for p in long]), np.vstack([p[1:] for p in long])) if long else None
    low = np.array([left, top])
    steps = [step_mm]
    while 2 * steps[-1] <= range_mm and min(width, height) > 8 * steps[-1]:
        steps.append(2 * steps[-1])
    u = np.ones((1, 1), dtype=np.float32)
    for step in reversed(steps):
        shape = (max(2, math.ceil(height / step - 1e-9)), max(2, math.ceil(width / step - 1e-9)))
        level = _level(ends, low, step, shape, (step / range_mm) ** 2)
        u = _solved(_finer(u, shape), level, (step / range_mm) ** 2)
    across, down = _losses(u, level, loft_mm / step_mm)
    return Relief(left, top, step_mm, loft_mm, range_mm, u * np.float32(loft_mm), across, down)


def _finer(u: Grid, shape: tuple[int, int]) -> Grid:
    out = np.repeat(np.repeat(u, 2, axis=0), 2, axis=1)[: shape[0], : shape[1]]
    short = (shape[0] - out.shape[0], shape[1] - out.shape[1])
    return np.pad(out, ((0, max(0, short[0])), (0, max(0, short[1]))), mode="edge")


def _crossings(
    start: FloatArray, end: FloatArray, rows: int
) -> tuple[NDArray[np.int64], FloatArray]:
    """Return row and x of every place where segments cross the lines ``y = 0, 1, ... rows - 1``."""
    a, b = start[:, 1], end[:, 1]
    first = np.clip(np.ceil(np.minimum(a, b)), 0, rows).astype(np.int64)
    past = np.clip(np.ceil(np.maximum(a, b)), 0, rows).astype(np.int64)  # a row through a corner is crossed once
    count = past - first
    which = np.repeat(np.arange(len(a)), count)
    row = first[which] + np.arange(len(which)) - np.repeat(np.cumsum(count) - count, count)
    share = (row - a[which]) / (b - a)[which]
    return row, start[which, 0] + share * (end[which, 0] - start[which, 0])


def _cuts(start: FloatArray, end: FloatArray, shape: tuple[int, int]) -> tuple[Grid, Grid]:
    """Return the weights with which lines hold the cells left and right of each link of a row (0: no line)."""
    rows, links = shape[0], shape[1] - 1
    row, x = _crossings(start, end, rows)
    col = np.floor(x).astype(np.int64)
    seen = (col >= 0) & (col < links)
    place, part = row[seen] * links + col[seen], x[seen] - col[seen]
    before, after = np.zeros(rows * links, dtype=np.float32), np.zeros(rows * links, dtype=np.float32)
    np.maximum.at(before, place, (1 / np.maximum(part, NEAREST)).astype(np.float32))
    np.maximum.at(after, place, (1 / np.maximum(1 - part, NEAREST)).astype(np.float32))
    return before.reshape(rows, links), after.reshape(rows, links)


def _level(
    ends: tuple[FloatArray, FloatArray] | None, low: FloatArray, step: float, shape: tuple[int, int], spring: float
) -> _Level:
    start, end = (((p - low) / step - 0.5 + ASIDE) for p in ends) if ends else (np.zeros((0, 2)), np.zeros((0, 2)))
    at_left, at_right = _cuts(start, end, shape)
    at_above, at_below = (w.T for w in _cuts(start[:, ::-1], end[:, ::-1], (shape[1], shape[0])))
    held = np.full(shape, spring, dtype=np.float32)
    for near, mine in ((at_left, held[:, :-1]), (at_right, held[:, 1:]), (at_above, held[:-1]), (at_below, held[1:])):
        mine += np.maximum(near, 1)  # a link that no line cuts weighs 1, a cut one 1 / its share: more
    return _Level(
        right=(at_left == 0).astype(np.float32),
        below=(at_above == 0).astype(np.float32),
        at_left=at_left,
        at_right=at_right,
        at_above=at_above,
        at_below=at_below,
        weight=1 / held,
    )


def _quarters(grid: Grid) -> list[list[Grid]]:
    """Return a grid's cells by even and odd row and column, each a block of its own: quick to go over."""
    even = np.pad(grid, ((0, grid.shape[0] % 2), (0, grid.shape[1] % 2)))
    return [[np.ascontiguousarray(even[p::2, q::2]) for q in (0, 1)] for p in (0, 1)]


def _solved(u: Grid, level: _Level, spring: float) -> Grid:
    rows, cols = u.shape
    cells, weight = _quarters(u), _quarters(HASTE * level.weight)
    right = _quarters(np.pad(level.right, ((0, 0), (0, 1))))
    below = _quarters(np.pad(level.below, ((0, 1), (0, 0))))
    total, part = np.empty_like(cells[0][0]), np.empty_like(cells[0][0])
    for _ in range(SWEEPS):
        for p, q in ((0, 0), (1, 1), (0, 1), (1, 0)):
            total.fill(spring)
            _add_pair(total, part, right[p], cells[p][1 - q], q)
            _add_pair(total.T, part.T, [below[0][q].T, below[1][q].T], cells[1 - p][q].T, p)
            total *= weight[p][q]
            cells[p][q] *= 1 - HASTE
            cells[p][q] += total
    out = np.empty((rows + rows % 2, cols + cols % 2), dtype=np.float32)
    for p in (0, 1):
        for q in (0, 1):
            out[p::2, q::2] = cells[p][q]
    return out[:rows, :cols]


def _add_pair(total: Grid, part: Grid, links: Sequence[Grid], beside: Grid, odd: int) -> None:
    """Add what the two neighbours along a row pull; of two blocks, one holds them at the same place and one beside."""
    np.multiply(links[0], beside, out=part)
    total += part
    np.multiply(links[1][:, :-1], beside[:, 1:] if odd else beside[:, :-1], out=part[:, :-1])
    mine = total[:, :-1] if odd else total[:, 1:]
    mine += part[:, :-1]


def _losses(u: Grid, level: _Level, scale: float) -> tuple[Grid, Grid]:
    """Return how much each cell loses of its width and height: half the mean square of the slopes on its two sides.

    Where a line lies between two cells the cloth goes down to it and up again.
    """
    across, down = np.zeros_like(u), np.zeros_like(u)
    for before, after, free, part, out in (
        (level.at_left, level.at_right, level.right, u, across),
        (level.at_above.T, level.at_below.T, level.below.T, u.T, down.T),
    ):
        slope = free * (part[:, 1:] - part[:, :-1]) ** 2 + before * part[:, :-1] ** 2 + after * part[:, 1:] ** 2
        slope *= np.float32(scale**2 / 4)  # half of it, shared by the two cells
        out[:, :-1] += slope
        out[:, 1:] += slope
    return across, down


def inside_grid(bounds: Sequence[FloatArray], field: Relief) -> tuple[slice, slice, NDArray[np.bool_]]:
    """Return the rows and columns of a field about what paths enclose, and which of those cells lie inside.

    Parameters
    ----------
    bounds : sequence of (n, 2) arrays
        Paths that enclose an area together, each closed by itself (its first point repeated) or by the others; a cell
        inside an even number of them lies outside: holes are bounds too.
    """
    shape = field.height.shape
    low = np.array([field.left, field.top])
    mine = [(np.asarray(path) - low) / field.step_mm - 0.5 + ASIDE for path in bounds]
    box = np.vstack(mine)
    (x0, y0), (x1, y1) = np.floor(box.min(axis=0)).astype(int), np.ceil(box.max(axis=0)).astype(int)
    rows = slice(min(max(y0, 0), shape[0]), max(0, min(y1 + 1, shape[0])))
    cols = slice(min(max(x0, 0), shape[1]), max(0, min(x1 + 1, shape[1])))
    high, wide = max(0, rows.stop - rows.start), max(0, cols.stop - cols.start)
    if not high or not wide:
        return rows, cols, np.zeros((high, wide), dtype=bool)
    moved = [r - (cols.start, rows.start) for r in mine]
    row, x = _crossings(np.vstack([r[:-1] for r in moved]), np.vstack([r[1:] for r in moved]), high)
    first = np.clip(np.ceil(x), 0, wide).astype(np.int64)
    turns = np.bincount(row * (wide + 1) + first, minlength=high * (wide + 1)).reshape(high, wide + 1)
    return rows, cols, (np.cumsum(turns[:, :wide], axis=1) % 2).astype(bool)
