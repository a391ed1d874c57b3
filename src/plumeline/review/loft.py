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
from scipy.ndimage import uniform_filter

from ..model import Batting, BattingKind, BattingSample, FloatArray, Relief

__all__ = ["KINDS", "draw_in", "grid_step", "inside_grid", "parallel_draw_in", "relief", "springs"]

KINDS: dict[BattingKind, tuple[float, float]] = {
    "thin cotton": (2.2, 4.0),
    "cotton-poly": (2.6, 4.5),
    "wool": (3.2, 5.0),
    "high loft": (4.5, 7.0),
}
"""Loft and range of each kind of batting, mm: common practice, no source; her own sample square tells better."""

CELLS = 1_600_000
"""Most cells for the figures of a top: 50 in square at 1 mm. More cost time and memory, fewer blur close lines."""

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

DENSE = 1.6393
"""Half the spacing, in ranges, of the parallel lines whose relief draws in most: 1/2 in apart on thin cotton."""

LEAST_DENSE = 0.2
"""Lines closer than this count as this close: a grid of 1 mm tells them apart no more."""

AT_ONCE = 50_000
"""Stitches whose crossings with the grid are looked for at once: more take memory, fewer time."""

NET = 32
"""Cells across one square of a crosshatch."""

Grid = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class _Cuts:
    """Where lines cut the links between neighbours of one direction: the cells before and after each link.

    The numbers are one over the share of the link from the cell to the line; 0 where no line cuts it.
    """

    before: Grid
    after: Grid


def springs(batting: Batting) -> tuple[float, float]:
    """Return loft and range of a batting, mm: as stated, as her sample square tells, or as its kind has them.

    Parameters
    ----------
    batting : Batting
        What the plan says of it.

    Returns
    -------
    float, float
        How high it stands in the open, and over how far a line still holds it down.

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
        unit = parallel_draw_in(max(sample.spacing_mm, 2 * DENSE * range_mm), 1.0, range_mm)
    else:
        unit = _crosshatch_draw_in(sample.spacing_mm, range_mm)
    return math.sqrt(share / unit)


def _crosshatch_draw_in(spacing_mm: float, range_mm: float) -> float:
    """Return the share of its width that cloth of loft 1 loses in a square net of lines: one whole square of it."""
    many = math.ceil(range_mm / spacing_mm) + 1
    far, lines = (many + 1) * spacing_mm, np.arange(-many, many + 1) * spacing_mm
    net = [np.array([(-far, y), (far, y)]) for y in lines]
    window = (-far, -far, 2 * far, 2 * far)
    field = relief([*net, *(p[:, ::-1] for p in net)], window, loft_mm=1.0, range_mm=range_mm, step_mm=spacing_mm / NET)
    middle = slice((many + 1) * NET - NET // 2, (many + 1) * NET + NET // 2)
    return float(draw_in(field)[0][middle, middle].mean())


def parallel_draw_in(spacing_mm: float, loft_mm: float, range_mm: float) -> float:
    """Return the share of its width that cloth loses across parallel lines.

    Half the mean square of the slope of ``h(x) = c (1 - cosh((x - d/2) / lam) / cosh(d / (2 lam)))`` over ``0..d``:
    ``c**2 / (2 d lam) (tanh a - a / cosh(a)**2)`` with ``a = d / (2 lam)``.

    Parameters
    ----------
    spacing_mm : float
        From line to line.
    loft_mm, range_mm : float
        As `springs` returns them.

    Returns
    -------
    float
        A share: 0.02 is two in a hundred.
    """
    a = spacing_mm / (2 * range_mm)
    return loft_mm**2 / (2 * spacing_mm * range_mm) * (math.tanh(a) - a / math.cosh(min(a, 300.0)) ** 2)


def draw_in(field: Relief) -> tuple[Grid, Grid]:
    """Return the share of its width and of its height that each cell of cloth loses; dense quilting never loses less.

    Notes
    -----
    The relief alone (``field.across``, ``field.down``) is shortest for lines `DENSE` apart. Quilted closer, cloth lies
    flatter and its relief loses less; but what thread gathers, which no relief shows, grows with every line. So where
    cloth stands lower in the mean than between lines `DENSE` apart (within two such spacings) its loss is raised by as
    much as that of parallel lines there falls short of the most: closer lines draw in as much as those, not less.
    """
    height = field.height / np.float32(field.loft_mm)
    cloth = (field.height > 0).astype(np.float32)
    side = max(1, round(4 * DENSE * field.range_mm / field.step_mm))
    share = uniform_filter(height, side) / np.maximum(uniform_filter(cloth, side), 1e-3)
    a = np.linspace(LEAST_DENSE, DENSE, 200)
    bend = (np.tanh(a) - a / np.cosh(a) ** 2) / a
    raised = np.interp(share, 1 - np.tanh(a) / a, bend[-1] / bend).astype(np.float32)
    return field.across * raised, field.down * raised


def grid_step(width_mm: float, height_mm: float) -> float:
    """Return the side of a cell for the figures of a whole top: `STEP_MM`, more where that were over `CELLS`.

    Parameters
    ----------
    width_mm, height_mm : float
        Of the top.

    Returns
    -------
    float
        mm.
    """
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
        The part to work out, mm; what lies 6 ranges outside it no longer matters. Where the quilt's edge is to hold
        the cloth down the window must go on for a range beyond it.
    loft_mm, range_mm : float
        As `springs` returns them.
    step_mm : float
        Side of a cell.

    Returns
    -------
    Relief
        Heights and slopes on the cells of the window.

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
        cuts = _both_cuts(ends, low, step, shape)
        u = _solved(_finer(u, shape), cuts, (step / range_mm) ** 2)
    across, down = _losses(u, cuts, loft_mm / step_mm)
    return Relief(left, top, step_mm, loft_mm, range_mm, u * np.float32(loft_mm), across, down)


def _finer(u: Grid, shape: tuple[int, int]) -> Grid:
    """Return a field on a grid of half the step: between the middles of the coarse cells it runs straight."""
    tall = _between(_between(u).T).T
    short = [max(0, want - have) for want, have in zip(shape, tall.shape)]
    return np.pad(tall[: shape[0], : shape[1]], ((0, short[0]), (0, short[1])), mode="edge")


def _between(u: Grid) -> Grid:
    wide = np.pad(u, ((0, 0), (1, 1)), mode="edge")
    out = np.empty((u.shape[0], 2 * u.shape[1]), dtype=np.float32)
    out[:, 0::2] = 0.75 * wide[:, 1:-1] + 0.25 * wide[:, :-2]
    out[:, 1::2] = 0.75 * wide[:, 1:-1] + 0.25 * wide[:, 2:]
    return out


def _crossings(start: FloatArray, end: FloatArray, rows: int) -> tuple[NDArray[np.int64], FloatArray]:
    """Return row and x of every place where segments cross the lines ``y = 0, 1, ... rows - 1``."""
    a, b = start[:, 1], end[:, 1]
    first = np.clip(np.ceil(np.minimum(a, b)), 0, rows).astype(np.int64)
    past = np.clip(np.ceil(np.maximum(a, b)), 0, rows).astype(np.int64)  # a row through a corner is crossed once
    count = past - first
    which = np.repeat(np.arange(len(a)), count)
    row = first[which] + np.arange(len(which)) - np.repeat(np.cumsum(count) - count, count)
    share = (row - a[which]) / (b - a)[which]
    return row, start[which, 0] + share * (end[which, 0] - start[which, 0])


def _both_cuts(
    ends: tuple[FloatArray, FloatArray] | None, low: FloatArray, step: float, shape: tuple[int, int]
) -> tuple[_Cuts, _Cuts]:
    """Return the cuts of the links along rows, and of those along columns (those with rows and columns changed)."""
    rows, cols = shape
    along, down = _uncut(rows, cols - 1), _uncut(cols, rows - 1)
    for k in range(0, len(ends[0]) if ends else 0, AT_ONCE):
        start, end = (((p[k : k + AT_ONCE] - low) / step - 0.5 + ASIDE) for p in ends or ())
        _cut(along, start, end)
        _cut(down, start[:, ::-1], end[:, ::-1])
    return along, down


def _uncut(rows: int, links: int) -> _Cuts:
    return _Cuts(np.zeros((rows, links), dtype=np.float32), np.zeros((rows, links), dtype=np.float32))


def _cut(cuts: _Cuts, start: FloatArray, end: FloatArray) -> None:
    """Put in where segments cut the links along the rows of a grid; the cut nearest to a cell counts."""
    rows, links = cuts.before.shape
    row, x = _crossings(start, end, rows)
    col = np.floor(x).astype(np.int64)
    seen = (col >= 0) & (col < links)
    place, part = row[seen] * links + col[seen], x[seen] - col[seen]
    np.maximum.at(cuts.before.reshape(-1), place, (1 / np.maximum(part, NEAREST)).astype(np.float32))
    np.maximum.at(cuts.after.reshape(-1), place, (1 / np.maximum(1 - part, NEAREST)).astype(np.float32))


def _pulls(cuts: _Cuts, shape: tuple[int, int]) -> tuple[list[Grid], Grid]:
    """Return how strongly each cell is pulled by its neighbours before and after it, and by both and the lines between.

    Differences over unequal distances: ``2 / (a + b) (u1 / a + u2 / b - u (1 / a + 1 / b))``.
    """
    near = np.ones(shape, dtype=np.float32), np.ones(shape, dtype=np.float32)
    near[0][:, 1:], near[1][:, :-1] = np.maximum(cuts.after, 1), np.maximum(cuts.before, 1)
    share: Grid = (2 / (1 / near[0] + 1 / near[1])).astype(np.float32)
    near[0][:, 0] = near[1][:, -1] = 0  # nothing pulls from off the grid
    both = np.add(*near, out=near[0])
    both *= share
    del near
    before, after = np.zeros(shape, dtype=np.float32), np.zeros(shape, dtype=np.float32)
    np.multiply(share[:, 1:], cuts.after == 0, out=before[:, 1:])
    np.multiply(share[:, :-1], cuts.before == 0, out=after[:, :-1])
    return [before, after], both


def _quarters(grid: Grid) -> list[list[Grid]]:
    """Return a grid's cells by even and odd row and column, each a block of its own: quick to go over."""
    even = np.pad(grid, ((0, grid.shape[0] % 2), (0, grid.shape[1] % 2)))
    return [[np.ascontiguousarray(even[p::2, q::2]) for q in (0, 1)] for p in (0, 1)]


def _solved(u: Grid, cuts: tuple[_Cuts, _Cuts], spring: float) -> Grid:
    rows, cols = u.shape
    sides, weight = _pulls(cuts[0], u.shape)
    more, down = _pulls(cuts[1], (cols, rows))
    weight += down.T
    weight += np.float32(spring)
    np.divide(HASTE, weight, out=weight)
    del down
    sides += [pull.T for pull in more]
    del more
    pulls = []
    while sides:  # one after the other: on a large top nothing else is as large as these grids
        pulls.append(_quarters(weight * sides.pop(0)))
    cells, level = _quarters(u), _quarters(weight * np.float32(spring))
    total, part = np.empty_like(cells[0][0]), np.empty_like(cells[0][0])
    for _ in range(SWEEPS):
        for p, q in ((0, 0), (1, 1), (0, 1), (1, 0)):
            from_left, from_right, from_above, from_below = (pull[p][q] for pull in pulls)
            np.copyto(total, level[p][q])
            _add_pair(total, part, from_left, from_right, cells[p][1 - q], q)
            _add_pair(total.T, part.T, from_above.T, from_below.T, cells[1 - p][q].T, p)
            cells[p][q] *= 1 - HASTE
            cells[p][q] += total
    out = np.empty((rows + rows % 2, cols + cols % 2), dtype=np.float32)
    for p in (0, 1):
        for q in (0, 1):
            out[p::2, q::2] = cells[p][q]
    return out[:rows, :cols]


def _add_pair(total: Grid, part: Grid, before: Grid, after: Grid, beside: Grid, odd: int) -> None:
    """Add the pull of the two neighbours along a row; one lies at the same place of its block, one beside it."""
    np.multiply(before if odd else after, beside, out=part)
    total += part
    if odd:
        np.multiply(after[:, :-1], beside[:, 1:], out=part[:, :-1])
        total[:, :-1] += part[:, :-1]
    else:
        np.multiply(before[:, 1:], beside[:, :-1], out=part[:, 1:])
        total[:, 1:] += part[:, 1:]


def _losses(u: Grid, cuts: tuple[_Cuts, _Cuts], scale: float) -> tuple[Grid, Grid]:
    """Return how much each cell loses of its width and height: half the mean square of the slopes on its two sides.

    Where a line lies between two cells the cloth goes down to it and up again.
    """
    across, down = np.zeros_like(u), np.zeros_like(u)
    for cut, part, out in ((cuts[0], u, across), (cuts[1], u.T, down.T)):
        free = (cut.before == 0).astype(np.float32)
        slope = free * (part[:, 1:] - part[:, :-1]) ** 2
        slope += cut.before * part[:, :-1] ** 2 + cut.after * part[:, 1:] ** 2
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
    field : Relief
        Its cells are looked at.

    Returns
    -------
    slice, slice, bool array
        Rows, columns, and which of the cells in them lie inside; empty slices where nothing does.
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
