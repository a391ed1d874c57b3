"""One row of plumes: where its sides run, which of them part above the spine, and how wide the plumes came out."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from ...geometry import close_ring, crossing_pairs, knotted, leave_region, path_distance
from ...model import FloatArray, as_path
from .bed import Bed
from .chart import Chart
from .growth import Plume
from .plumes import Cells, Tops, draw_tops
from .settings import FeatherSettings
from .sides import POINTS, feet, foot_along, side_table
from .sweep import Sweep, fitted, swept

__all__ = ["Row", "draw_row", "without_crossed"]

ACROSS = 6
"""Sides drawn across each plume; tops are interpolated between them."""

NECK_MM, NECK_LONG_MM = 2.5, 10.0
"""Where a plume is narrower than this over more than that length, it and its neighbour share one trunk."""

TRUNK_MOST = 0.6
"""A shared trunk is at most this part of a side."""

OVER_TRUNK = 0.1
"""A plume rises at least by this part of its length over a trunk that it shares: shorter plumes part lower."""

ROUNDS, SHORTER, OUT_MM = 12, 0.83, 0.01
"""A plume that would leave the region or cross another is cut shorter, at most so often, each time to this share of its
length; then it is left out. Lines nearer than the last to the region count as inside."""

SIDES: tuple[Literal["left", "tip", "right"], ...] = ("left", "tip", "right")

TWICE, DOUBLE_OVER, AT_LEVEL = 2.0, 1.5, 0.7
"""A plume that is more than this many times as wide as its neighbours, at the last part of its length, is drawn as two,
each with a foot of its own; where it is asked for, also one wider than the second many middle ones of its row."""

LEAST_MM, NECK_LEVEL, NECK_TIMES, HAIR = 4.0, 0.4, 2.5, 5.0
"""Plumes narrower than this at their heads, or at the level of their necks than this over the third, and longer than
the last many of that width are hairs: several are drawn as one."""

CORNER, THREE = 0.5, 1.4
"""In a corner that turns by this part of a square one it is drawn as three, so that one points into it, from so many
times that width on, and as one below."""


@dataclass(frozen=True, eq=False, slots=True)
class Row:
    """One row of plumes, ready to be stitched.

    Attributes
    ----------
    sides : (count + 1, POINTS, 2)
        The sides between plumes, from foot to outline. In a closed row the last is bitwise the first.
    starts : (count + 1,) int
        The point of each side where its two plumes part; 0 is its foot.
    places : (count + 1,)
        Place of each foot along the strip's inner side, mm.
    tops : Tops
        The round tops.
    which : tuple of {"left", "tip", "right"}
        Where each plume stands; all are left in a closed row.
    skipped : (count,) bool
        Plumes left out; the line goes along the spine from their first foot to their last.
    apart, closed : bool
        Whether plumes keep off each other; whether the row closes on itself.
    """

    cells: Cells
    sides: FloatArray
    starts: NDArray[np.intp]
    places: FloatArray
    tops: Tops
    which: tuple[Literal["left", "tip", "right"], ...]
    skipped: NDArray[np.bool_]
    apart: bool
    closed: bool

    @property
    def plumes(self) -> tuple[Plume, ...]:
        """The figures of each plume."""
        widths = self.cells.widths() * (1 - self.tops.inset.sum(axis=1))
        shoulder = (self.tops.first + self.tops.last) // 2
        return tuple(
            Plume(float(w[: s + 1].max()), float(length), side)
            for w, s, length, side in zip(widths, shoulder, self.cells.length, self.which, strict=True)
        )

    def outline(self, k: int) -> FloatArray:
        """Return the line of one plume from its first foot over its top to its last foot, ``(n, 2)``."""
        up, top, down = self.parts(k)
        return np.vstack([up[:-1], top, down[1:]])

    def parts(self, k: int) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return the line of one plume in three: up its first side, its top, down its last side."""
        first, last = int(self.tops.first[k]), int(self.tops.last[k])
        if not self.apart:
            up, down = self.sides[k, self.starts[k] : first + 1], self.sides[k + 1, self.starts[k + 1] : last + 1]
        else:
            up = self._kept_off(k, 0, int(self.starts[k]), first)
            down = self._kept_off(k, 1, int(self.starts[k + 1]), last)
        return up, self.tops.lines[k], down[::-1]

    def covered(self, k: int) -> FloatArray:
        """Return the outline of what one plume covers, its share of the gap to its neighbours included, ``(n, 2)``."""
        up, down = self.sides[k, : self.tops.first[k]], self.sides[k + 1, : self.tops.last[k]]
        return np.vstack([up, self.tops.lines[k], down[::-1], self.cells.table[k, -2:0:-1, 0]])

    def _kept_off(self, k: int, side: int, start: int, end: int) -> FloatArray:
        level = np.arange(start, end + 1)
        share = self.tops.inset[k, side, level]
        across = share if side == 0 else 1 - share
        line: FloatArray = Cells(self.cells.table[k : k + 1]).at(across[None], level[None] / (POINTS - 1))[0]
        line[0] = self.sides[k + side, start]
        return line


def draw_row(
    bed: Bed, chart: Chart, settings: FeatherSettings, rng: np.random.Generator, out_mm: float = OUT_MM
) -> Row:
    """Return the plumes of one chart of a bed; none of them leaves the region by more than ``out_mm``."""
    ends = _ends(chart, settings.variation, rng)
    tip = -1 if chart.tip is None else round(chart.tip - chart.first - 0.5)
    # plumes apart have their necks from the gap, which the later swing would carry over the spine
    sweep = swept(chart, settings.lean, 0.0 if settings.style == "apart" else bed.vine, ringed=bed.ringed)
    sweep = fitted(sweep, foot_along(chart, sweep))
    crown = None if tip < 0 else (float(ends[tip]), float(ends[tip + 1]))
    table, places = _sides(chart, sweep, ends, crown)
    edges = _redrawn(_cells(table), ends, tip, wanted=settings.double_where_wide)
    if len(edges) != len(ends) or (edges != ends).any():
        table, places = _sides(chart, sweep, edges, crown)
    cells = _cells(table)
    fixed = np.array([0, -1]) if crown is None else np.searchsorted(edges, [edges[0], edges[-1], *crown])
    starts = _trunks(cells, fixed)
    which = np.sign(edges[:-1] - ends[tip]).astype(int) + 1 if tip >= 0 else np.zeros(len(edges) - 1, dtype=int)
    row = Row(
        cells,
        table[::ACROSS],
        starts,
        places[::ACROSS],
        _tops(cells, starts, settings, np.ones(len(edges) - 1), chart.closed),
        tuple(SIDES[k] for k in which),
        np.zeros(len(which), dtype=bool),
        settings.style == "apart",
        chart.closed,
    )
    return _settled(row, settings, bed, out_mm)


def _tops(cells: Cells, starts: NDArray[np.intp], settings: FeatherSettings, reach: FloatArray, closed: bool) -> Tops:
    gap = settings.gap_mm if settings.style == "apart" else 0.0
    return draw_tops(cells, starts, reach, gap_mm=gap, belly=settings.belly, closed=closed)


def _settled(row: Row, settings: FeatherSettings, bed: Bed, out_mm: float) -> Row:
    """Return the row with each plume that left the region or crossed another cut shorter, until none does."""
    reach = np.ones(len(row.tops.lines))
    for _ in range(ROUNDS):
        wrong = _wrong(row, bed, out_mm)
        if not wrong.any():
            return row
        reach = np.where(wrong, SHORTER * reach, reach)
        starts = np.minimum(row.starts, _below(reach))
        row = replace(row, starts=starts, tops=_tops(row.cells, starts, settings, reach, row.closed))
    return replace(row, skipped=_wrong(row, bed, out_mm))


def without_crossed(row: Row, crossed: FloatArray) -> Row:
    """Return the row with the shortest plume whose line runs through each of some points left out."""
    skipped = row.skipped.copy()
    for point in crossed:
        on = [
            k
            for k in np.flatnonzero(~skipped).tolist()
            if path_distance(point, [as_path(part) for part in row.parts(k) if len(part) > 1]) < OUT_MM
        ]
        if on:
            skipped[min(on, key=lambda k: float(row.cells.length[k]))] = True
    return replace(row, skipped=skipped)


def _below(reach: FloatArray) -> NDArray[np.intp]:
    # the highest point of each side at which plumes of this reach may part
    highest = np.floor((reach - OVER_TRUNK) * (POINTS - 1)).clip(0.0)
    return np.asarray(np.minimum(np.append(highest, POINTS), np.insert(highest, 0, POINTS)), dtype=np.intp)


def _wrong(row: Row, bed: Bed, out_mm: float) -> NDArray[np.bool_]:
    """Return which plumes leave the region, cross the spine, a neighbour or themselves, ``(count,)``."""
    count = len(row.tops.lines)
    plumes = np.arange(count)
    if row.apart:
        # part by part: lines that share a stretch are not seen to cross elsewhere
        lines = [part for k in range(count) for part in row.parts(k)]
        lines = [line if len(line) > 1 else lines[3 * (k // 3) + 1] for k, line in enumerate(lines)]
        free = [line[k % 3 == 0 : len(line) - (k % 3 == 2)] for k, line in enumerate(lines)]
        free = [f if len(f) > 1 else line for f, line in zip(free, lines, strict=True)]
        owner = other = np.repeat(plumes, 3)
    else:
        before, after = row.tops.last[[-1, *plumes]], row.tops.first[[*plumes, 0]]
        ends = np.maximum(before, after)
        ends[[0, -1]] = ends[[0, -1]] if row.closed else (after[0], before[-1])
        sides = [side[start + 1 : end + 1] for side, start, end in zip(row.sides, row.starts, ends)]
        lines = [*row.tops.lines, *(s if len(s) > 1 else row.tops.lines[0] for s in sides)]
        free = lines
        owner = np.concatenate([plumes, np.clip(np.arange(count + 1) - 1, 0, None)])
        other = np.concatenate([plumes, np.clip(np.arange(count + 1), None, count - 1)])
    bad = leave_region(lines, bed.roomy, tolerance_mm=out_mm) | knotted(lines)
    # feet stand on the spine, so lines that start there are tested from their second point
    pairs = crossing_pairs([*free, close_ring(bed.spine, row.closed)])
    bad[pairs[pairs[:, 1] == len(free), 0]] = True
    among = crossing_pairs(lines) if row.apart else pairs[pairs[:, 1] < len(free)]
    bad[among.ravel()] = True
    wrong = np.zeros(count, dtype=bool)
    wrong[owner[bad]] = wrong[other[bad]] = True
    return wrong


def _ends(chart: Chart, variation: float, rng: np.random.Generator) -> FloatArray:
    ends = chart.first + np.arange(chart.count + 1.0)
    sway = variation * rng.uniform(-1.0, 1.0, len(ends))
    if chart.tip is None:
        sway[-1] = sway[0]
    else:
        k = round(chart.tip - chart.first - 0.5)
        sway[[0, -1, k, k + 1]] = 0.0
    return ends + sway


def _sides(
    chart: Chart, sweep: Sweep, edges: FloatArray, crown: tuple[float, float] | None
) -> tuple[FloatArray, FloatArray]:
    """Return the sides across plumes that lie between labels, and where their feet stand.

    ``crown`` holds the labels of the plume at the tip.
    """
    label = np.append(
        (edges[:-1, None] + np.diff(edges)[:, None] * np.linspace(0, 1, ACROSS + 1)[:-1]).ravel(), edges[-1]
    )
    places = feet(chart, sweep, label)
    if crown is not None:
        places[[0, -1]] = 0.0, 2 * chart.turn_mm
        places[(label >= crown[0]) & (label <= crown[1])] = chart.turn_mm
    table = side_table(chart, sweep, label, places)
    if chart.closed:
        table[-1] = table[0]
    return table, places


def _cells(table: FloatArray) -> Cells:
    first = np.arange(0, len(table) - 1, ACROSS)
    return Cells(table[first[:, None] + np.arange(ACROSS + 1)])


def _redrawn(cells: Cells, ends: FloatArray, tip: int, *, wanted: bool) -> FloatArray:
    """Return the labels between plumes anew: more where one is wide, fewer where several would be hairs."""
    kept = _kept(cells, tip)
    parts = np.where(kept[:-1] & kept[1:], _parts(cells, wanted, closed=tip < 0), 1)
    if tip >= 0:
        parts[tip] = 1
    within = np.arange(parts.sum()) - np.repeat(np.cumsum(parts) - parts, parts)
    between = np.repeat(ends[:-1], parts) + within * np.repeat(np.diff(ends) / parts, parts)
    return np.append(between[np.repeat(kept[:-1], parts)], ends[-1])


def _parts(cells: Cells, wanted: bool, closed: bool) -> NDArray[np.intp]:
    """Return as how many plumes each is drawn: two where it is wide, three where it is and fills a corner."""
    width = cells.widths()[:, round(AT_LEVEL * (POINTS - 1))]
    before, after = np.roll(width, 1), np.roll(width, -1)
    if not closed:
        before[0], after[-1] = after[0], before[-1]
    over = width / np.maximum(np.maximum(before, after), 1e-9) / TWICE
    if wanted:
        over = np.maximum(over, width / np.median(width) / DOUBLE_OVER)
    corner = cells.corner_share() > CORNER
    return np.where(over <= 1, 1, np.where(corner, np.where(over > THREE, 3, 1), 2)).astype(np.intp)


def _kept(cells: Cells, tip: int) -> NDArray[np.bool_]:
    """Return which sides are drawn, ``(count + 1,)``: plumes too slim for thread to show them are taken together."""
    widths = cells.widths()
    head, neck = (widths[:, round(level * (POINTS - 1))] for level in (AT_LEVEL, NECK_LEVEL))
    wide = np.minimum(head, NECK_TIMES * neck)
    # in a tip, plumes are as short as they are slim
    wide = np.where(cells.length > HAIR * wide, wide, LEAST_MM)
    count, kept, so_far = len(wide), np.ones(len(wide) + 1, dtype=bool), 0.0
    tips = {tip, tip + 1} if tip >= 0 else set()
    for k in range(count):
        so_far += float(wide[k])
        if so_far < LEAST_MM and k + 1 < count and k + 1 not in tips:
            kept[k + 1] = False
        else:
            so_far = 0.0
    return kept


def _trunks(cells: Cells, fixed: NDArray[np.intp]) -> NDArray[np.intp]:
    """Return where neighbours part: at the foot, or higher where one of them would be a thread's breadth wide."""
    span = np.hypot(*np.moveaxis(cells.table[:, -1] - cells.table[:, 0], 2, 0))
    narrow = np.minimum(span, cells.widths()) < NECK_MM
    opens = np.where(narrow.any(axis=1), POINTS - narrow[:, ::-1].argmax(axis=1), 0)
    opens = np.where(opens > 0.9 * POINTS, 0, opens)
    step = cells.length / (POINTS - 1)
    long = opens * step > NECK_LONG_MM
    count = len(span)
    starts = np.zeros(count + 1, dtype=np.intp)
    wanted = np.zeros(count + 1, dtype=np.intp)
    wanted[:-1] = np.where(long, opens, 0)
    wanted[1:] = np.maximum(wanted[1:], np.where(long, opens, 0))
    wanted[fixed] = 0
    for k in range(1, count):
        if wanted[k] and not starts[k - 1]:
            starts[k] = min(round(1.1 * wanted[k]), round(TRUNK_MOST * (POINTS - 1)))
    return starts
