"""How much line lies where: inches of line per square inch, the densest inch, and balance between neighbours."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np
from scipy.spatial import cKDTree

from ..codes import FindingCode
from ..geometry import dense_runs
from ..model import Finding, FloatArray, IntArray
from ..units import Unit, format_length

__all__ = [
    "HAND_MM",
    "KNOT",
    "UNEVEN",
    "balance_findings",
    "dense_inches",
    "densest_inch",
    "inches_per_square_inch",
    "knot_findings",
]


INCH_MM = 25.4
CELL_MM = 1.27
"""Side of a counting cell: a twentieth of an inch. Smaller costs time, larger may miss the densest place."""

BAND = 128
"""Rows of cells that are summed at once."""

CANDIDATES = 40
"""Cells whose surroundings are measured exactly."""

UNEVEN = 2.0
"""Neighbours whose inches of line per square inch differ by more than this are worth a note (common practice)."""

MANY = 10.0
"""A figure above this says no more: one of the two is hardly quilted."""

KNOT = 10.0
"""Inches of line per square inch, within a circle of 1 in, that read and feel like a knot (common practice)."""

HAND_MM = 101.6
"""Places within a hand's breadth, 4 in, are one to the eye."""

NEARLY = 0.9
"""Length counted by cells differs from what is measured by less than this: places with less than so many of a knot are
none."""


def inches_per_square_inch(length_mm: float, area_mm2: float) -> float:
    """Return inches of line per square inch (0 for no area).

    Parameters
    ----------
    length_mm : float
        Of line.
    area_mm2 : float
        That it lies in.

    Returns
    -------
    float
        Finite.
    """
    return length_mm / area_mm2 * INCH_MM if area_mm2 > 0 else 0.0


def densest_inch(paths: Sequence[FloatArray]) -> tuple[float, tuple[float, float]]:
    """Return the most line within any circle of 1 in across, in inches per square inch, and its centre.

    Every pass counts. Without paths the answer is ``(0.0, (0.0, 0.0))``.

    Parameters
    ----------
    paths : sequence of (n, 2) arrays
        All that is sewn, each pass a path.

    Returns
    -------
    float, (x, y)
        Inches of line per square inch, and the centre in mm.
    """
    return dense_inches(paths, most=1)[0]


def dense_inches(paths: Sequence[FloatArray], *, most: int) -> list[tuple[float, tuple[float, float]]]:
    """Return the densest inch, and further knots a hand's breadth and more from it and from each other, densest first.

    Each as `densest_inch` gives it.

    Parameters
    ----------
    paths : sequence of (n, 2) arrays
        All that is sewn, each pass a path.
    most : int
        So many places at most.

    Returns
    -------
    list of (inches per square inch, (x, y))
        One at least.

    Notes
    -----
    Length is spread over cells of `CELL_MM` and summed over a disc row by row, O(cells); at the `CANDIDATES` best
    cells and around them the length inside the circle is then measured exactly. Line is broken up into bits in runs,
    twice: memory grows with the area, not with the stitching.
    """
    long = [np.asarray(p) for p in paths if len(p) > 1]
    if not long:
        return [(0.0, (0.0, 0.0))]
    low = np.min([p.min(axis=0) for p in long], axis=0) - INCH_MM
    high = np.max([p.max(axis=0) for p in long], axis=0)
    shape = ((high - low) / CELL_MM).astype(int) + 1 + int(INCH_MM / CELL_MM)
    total = _length_by_inch(_length_by_cell(long, low, shape))
    middles = [low[k] + (np.arange(shape[k]) + 0.5) * CELL_MM for k in range(2)]
    out: list[tuple[float, tuple[float, float]]] = []
    while len(out) < most and (not out or total.max() > NEARLY * KNOT * INCH_MM * np.pi / 4):
        found = _densest_about(long, low, total)
        if out and found[0] <= KNOT:
            break
        out.append(found)
        (x, y) = found[1]
        total[(middles[0][:, None] - x) ** 2 + (middles[1] - y) ** 2 < HAND_MM**2] = 0.0
    return out


def _densest_about(long: Sequence[FloatArray], low: FloatArray, total: FloatArray) -> tuple[float, tuple[float, float]]:
    """Return the densest inch about the cells in whose surroundings most line lies."""
    cells = _dense_cells(total)
    shift = CELL_MM / 3 * np.arange(-2, 3)
    tries = np.array([low + (at + 0.5) * CELL_MM + (dx, dy) for at in cells for dx in shift for dy in shift])
    start, end = _bits_about(long, low, np.array(total.shape), cells)
    tree = cKDTree((start + end) / 2)
    near = tree.query_ball_point(tries, INCH_MM / 2 + CELL_MM)
    inside = [_length_in_circle(start[i] - at, end[i] - at) for at, i in zip(tries, near)]
    best = int(np.argmax(inside))
    per_square_inch = inside[best] / INCH_MM / (np.pi / 4)
    return float(per_square_inch), (float(tries[best, 0]), float(tries[best, 1]))


def _cells(bits: FloatArray, low: FloatArray) -> IntArray:
    cells: IntArray = (((bits[:-1] + bits[1:]) / 2 - low) / CELL_MM).astype(np.int64)
    return cells


def _length_by_cell(paths: Sequence[FloatArray], low: FloatArray, shape: IntArray) -> FloatArray:
    """Return how much line each cell holds, mm, ``shape``."""
    grid = np.zeros(shape)
    for bits in dense_runs(paths, CELL_MM):
        cell = _cells(bits, low)
        first = cell.min(axis=0)
        size = cell.max(axis=0) - first + 1
        weights = np.hypot(*np.diff(bits, axis=0).T)
        flat = (cell[:, 0] - first[0]) * size[1] + cell[:, 1] - first[1]
        part = np.bincount(flat, weights=weights, minlength=int(size.prod())).reshape(size)
        grid[first[0] : first[0] + size[0], first[1] : first[1] + size[1]] += part
    return grid


def _length_by_inch(grid: FloatArray) -> FloatArray:
    """Return how much line the circle of 1 in about each cell holds, mm, written over what each cell holds.

    The circle is a stack of runs, one a row: each is the difference of two running sums, so that nothing has to be
    transformed, and what is empty is exactly 0.
    """
    radius = INCH_MM / 2 / CELL_MM
    half, rows, cols = math.ceil(radius), *grid.shape
    above = np.zeros((half, cols))
    for first in range(0, rows, BAND):  # band by band, each in the place of what it was made from
        past = min(first + BAND, rows)
        below = np.zeros((past + half - min(past + half, rows), cols))
        band = np.vstack([above, grid[first : past + half], below])
        above = band[past - first : past - first + half]
        running = np.zeros((len(band), cols + 2 * half + 2))
        np.cumsum(band, axis=1, out=running[:, half + 1 : half + 1 + cols])
        running[:, half + 1 + cols :] = running[:, half + cols, None]
        out = grid[first:past]
        out[:] = 0.0
        for down in range(-half, half + 1):
            if abs(down) > radius:
                continue
            wide = int(math.sqrt(radius**2 - down**2))
            row = running[half + down : half + down + past - first]
            out += row[:, half + 1 + wide : half + 1 + wide + cols]
            out -= row[:, half - wide : half - wide + cols]
    return grid


def _dense_cells(total: FloatArray) -> IntArray:
    """Return the cells round which most line lies, most first, `CANDIDATES` at most, ``(k, 2)``."""
    flat = total.ravel()
    best = np.argpartition(flat, -min(CANDIDATES, flat.size))[-CANDIDATES:]
    best = best[np.argsort(-flat[best], kind="stable")]
    return np.column_stack(np.unravel_index(best, total.shape)).astype(np.int64)


def _bits_about(
    paths: Sequence[FloatArray], low: FloatArray, shape: IntArray, cells: IntArray
) -> tuple[FloatArray, FloatArray]:
    """Return both ends of every bit of line that may lie in a circle of 1 in about the given cells."""
    half = int(np.ceil(INCH_MM / 2 / CELL_MM)) + 3
    near = np.zeros(shape, dtype=bool)
    for x, y in cells.tolist():
        near[max(x - half, 0) : x + half + 1, max(y - half, 0) : y + half + 1] = True
    start, end = [np.zeros((0, 2))], [np.zeros((0, 2))]
    for bits in dense_runs(paths, CELL_MM):
        keep = near[tuple(_cells(bits, low).T)]
        start.append(bits[:-1][keep])
        end.append(bits[1:][keep])
    return np.vstack(start), np.vstack(end)


def _length_in_circle(a: FloatArray, b: FloatArray) -> float:
    """Return the length of the segments from ``a`` to ``b`` inside the circle of 1 in about 0."""
    way = b - a
    aa, ab = (way**2).sum(axis=1), (a * way).sum(axis=1)
    inner = ab**2 - aa * ((a**2).sum(axis=1) - (INCH_MM / 2) ** 2)
    cut = (inner > 0) & (aa > 0)
    root = np.sqrt(np.where(cut, inner, 0.0))
    safe = np.where(aa > 0, aa, 1.0)
    share = np.clip((-ab + root) / safe, 0, 1) - np.clip((-ab - root) / safe, 0, 1)
    return float((share * np.sqrt(aa))[cut].sum())


def knot_findings(densest: float, at: tuple[float, float], *, unit: Unit = "in") -> tuple[Finding, ...]:
    """Return a note when the densest inch is a knot.

    Parameters
    ----------
    densest : float
        Inches of line per square inch.
    at : (float, float)
        The place, mm on the top.
    unit : {"in", "mm", "cm"}
        The unit of lengths in the words.

    Returns
    -------
    tuple of Finding
        One or none.
    """
    if densest <= KNOT:
        return ()
    return (
        Finding(
            FindingCode.KNOT,
            "note",
            None,
            f"{densest:.0f} in of line lie in one square inch, {format_length(at[0], unit)} from the left and "
            f"{format_length(at[1], unit)} from the top: it will be hard and stand in the cloth",
            "Leave the middle open, use fewer lines there, or a finer thread.",
        ),
    )


def balance_findings(
    density: Mapping[str, float], neighbours: Sequence[tuple[str, str]], *, silent: Sequence[str] = ()
) -> tuple[Finding, ...]:
    """Return a note for each pair of neighbouring zones of which one is quilted more than twice as tightly.

    Parameters
    ----------
    density : mapping
        Inches of line per square inch by zone name.
    neighbours : sequence of (str, str)
        Names of zones side by side.
    silent : sequence of str
        Zones that are meant to differ.

    Returns
    -------
    tuple of Finding
        Empty where all are even.
    """
    out = []
    for a, b in neighbours:
        low, high = sorted((a, b), key=lambda name: density.get(name, 0.0))
        thin, thick = density.get(low, 0.0), density.get(high, 0.0)
        if thin > 0 and thick / thin > UNEVEN and low not in silent and high not in silent:
            out.append(
                Finding(
                    FindingCode.UNEVEN_DENSITY,
                    "note",
                    high,
                    f"the quilting here is {_times(thick / thin)} as tight as in the neighbour '{low}': "
                    "it will draw in and lie flat, and the neighbour will puff",
                    f"Widen the spacing here, tighten '{low}', or leave it if one is meant to stand up.",
                )
            )
    return tuple(out)


def _times(ratio: float) -> str:
    return f"{ratio:.1f} times" if ratio < MANY else f"more than {MANY:g} times"
