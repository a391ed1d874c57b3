"""Grow one feather from its spine to the edge of its region."""

from __future__ import annotations

import numpy as np

from ...geometry import arc_lengths
from ...model import Finding, FloatArray
from .bed import Bed, make_bed
from .chain import Chain
from .chart import make_charts
from .growth import Grown, Growth
from .rows import Row, draw_row
from .settings import FeatherSettings

__all__ = ["grow"]

LEAD_MOST_MM = 5.0
"""A base farther than this from where plumes can start has been cut off from them: the feather starts without it."""


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
    rows = [draw_row(bed, chart, settings, rng) for chart in make_charts(bed, settings.stretch)]
    chain = Chain()
    (_ring_chain if growth.closed else _open_chain)(chain, growth, bed, rows)
    plumes = tuple(p for row in rows for p in row.plumes)
    return Grown(chain.strokes(), None, plumes)


def _open_chain(chain: Chain, growth: Growth, bed: Bed, rows: list[Row]) -> None:
    row = rows[0]
    lead = _lead(growth, bed)
    chain.stitch(lead)
    chain.row(row)
    chain.stitch(bed.spine)
    if growth.ends_at == "base":
        chain.backtrack(bed.spine[::-1])
        chain.backtrack(lead[::-1])


def _lead(growth: Growth, bed: Bed) -> FloatArray:
    """Return the way from the growth's base over its clearance to the bed's, nothing when they are not neighbours."""
    way = np.vstack([growth.spine[:1], bed.spine[:1]])
    length = float(np.hypot(*(way[1] - way[0])))
    return way if 0 < length <= LEAD_MOST_MM else way[:0]


def _ring_chain(chain: Chain, growth: Growth, bed: Bed, rows: list[Row]) -> None:
    outer, inner = rows
    start, first = (float(r.places[0]) for r in rows), [r.sides[0, 0] for r in rows]
    here, there = start
    chain.row(outer)
    chain.stitch(_spine_between(bed, here, there, first[0], first[1]))
    chain.row(inner)
    chain.stitch(_spine_between(bed, there, here, first[1], first[0]))


def _spine_between(bed: Bed, start: float, end: float, first: FloatArray, last: FloatArray) -> FloatArray:
    """Return the closed spine from one place on to another, with these very ends."""
    s = arc_lengths(bed.spine, closed=True)
    turn = s[-1]
    start, end = start % turn, end % turn
    end = end if end > start else end + turn
    at = np.concatenate([s[:-1], s[:-1] + turn])
    between = (at > start + 1e-6) & (at < end - 1e-6)
    return np.vstack([first, np.vstack([bed.spine, bed.spine])[between], last])
