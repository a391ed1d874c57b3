"""Grow one feather from its spine to the edge of its region."""

from __future__ import annotations

import numpy as np

from ...geometry import arc_lengths
from ...model import Finding, FloatArray
from .bed import Bed, make_bed
from .chain import Chain
from .chart import Chart, make_charts
from .growth import Grown, Growth, Plume
from .plumes import Cells, draw_tops
from .settings import FeatherSettings
from .sides import feet, side_table

__all__ = ["grow"]

ACROSS = 8
"""Sides drawn across each plume; tops are interpolated between them."""


def grow(growth: Growth, settings: FeatherSettings, *, rng: np.random.Generator, tolerance_mm: float = 0.05) -> Grown:
    """Return one feather that fills its region; no strokes and a finding when it is too small."""
    bed = make_bed(growth, settings)
    if bed is None:
        return Grown(
            findings=(
                Finding(
                    "feather-no-room", "warning", None, "there is no room for three plumes", "Choose another fill."
                ),
            )
        )
    rows = [_row(bed, chart, settings, rng) for chart in make_charts(bed, settings.stretch)]
    chain = Chain()
    (_ring_chain if growth.closed else _open_chain)(chain, growth, bed, rows)
    plumes = tuple(p for row in rows for p in row[3])
    return Grown(chain.strokes(), None, plumes)


def _row(bed: Bed, chart: Chart, settings: FeatherSettings, rng: np.random.Generator):
    ends = _ends(chart, settings.variation, rng)
    label = (ends[:-1, None] + np.diff(ends)[:, None] * np.linspace(0, 1, ACROSS + 1)[None, :-1]).ravel()
    label = np.append(label, ends[-1])
    place = feet(chart, label, settings.lean)
    if chart.tip is not None:
        k = round(chart.tip - chart.first - 0.5)
        place[k * ACROSS : (k + 1) * ACROSS + 1] = chart.turn_mm
    table = side_table(chart, label, place)
    if chart.tip is None:
        table[-1] = table[0]
    index = np.arange(chart.count)[:, None] * ACROSS + np.arange(ACROSS + 1)
    cells = Cells(table[index])
    tops = draw_tops(cells)
    sides = table[::ACROSS]
    tip = round(chart.tip - chart.first - 0.5) if chart.tip is not None else -1
    figures = [
        Plume(float(w), float(n), "tip" if i == tip else "left" if tip < 0 or i < tip else "right")
        for i, (w, n) in enumerate(zip(cells.width(), cells.length))
    ]
    return sides, tops, place[::ACROSS], figures


def _ends(chart: Chart, variation: float, rng: np.random.Generator) -> FloatArray:
    ends = chart.first + np.arange(chart.count + 1.0)
    sway = variation * rng.uniform(-1.0, 1.0, len(ends))
    if chart.tip is None:
        sway[-1] = sway[0]
    else:
        k = round(chart.tip - chart.first - 0.5)
        sway[[0, -1, k, k + 1]] = 0.0
    return ends + sway


def _open_chain(chain: Chain, growth: Growth, bed: Bed, rows) -> None:
    sides, tops, _, _ = rows[0]
    base = bed.spine[:1]
    lead = np.vstack([growth.spine[:1], base])
    if not np.array_equal(lead[0], lead[1]):
        chain.stitch(lead)
    chain.bump_back(sides, tops)
    chain.stitch(bed.spine)
    if growth.ends_at == "base":
        chain.backtrack(bed.spine[::-1])
        if not np.array_equal(lead[0], lead[1]):
            chain.backtrack(lead[::-1])


def _ring_chain(chain: Chain, growth: Growth, bed: Bed, rows) -> None:
    (outer, outer_tops, outer_feet, _), (inner, inner_tops, inner_feet, _) = rows
    start = (float(outer_feet[0]), float(inner_feet[0]))
    chain.bump_back(outer, outer_tops)
    chain.stitch(_spine_between(bed, start[0], start[1], outer[0, 0], inner[0, 0]))
    chain.bump_back(inner, inner_tops)
    chain.stitch(_spine_between(bed, start[1], start[0], inner[0, 0], outer[0, 0]))


def _spine_between(bed: Bed, start: float, end: float, first: FloatArray, last: FloatArray) -> FloatArray:
    """Return the closed spine from one place on to another, with these very ends."""
    s = arc_lengths(bed.spine, closed=True)
    turn = s[-1]
    start, end = start % turn, end % turn
    end = end if end > start else end + turn
    at = np.concatenate([s[:-1], s[:-1] + turn])
    between = (at > start + 1e-6) & (at < end - 1e-6)
    return np.vstack([first, np.vstack([bed.spine, bed.spine])[between], last])
