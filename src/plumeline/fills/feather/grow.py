"""Grow one feather from its spine to the edge of its region."""

from __future__ import annotations

import numpy as np

from ...geometry import arc_lengths, united_outlines
from ...model import Finding, FloatArray
from .bed import Bed, make_bed
from .chain import Chain
from .chart import make_charts
from .growth import Grown, Growth
from .rows import OUT_MM, Row, draw_row
from .settings import FeatherSettings

__all__ = ["grow"]

NEAR_MM = 1e-6
"""Points of the spine this near to a foot are that foot."""

LEAD_MOST_MM = 5.0
"""A base farther than this from where plumes can start has been cut off from them: the feather starts without it."""


def grow(growth: Growth, settings: FeatherSettings, *, rng: np.random.Generator, tolerance_mm: float = 0.05) -> Grown:
    """Return one feather that fills its region; no strokes and a finding when it is too small.

    Parameters
    ----------
    growth : Growth
        Region, spine, and where the line is to end.
    settings : FeatherSettings
        How it looks.
    rng : numpy.random.Generator
        What plumes differ by; two generators of one seed give the same bytes.
    tolerance_mm : float
        No line leaves the region by more; in practice by more than a hundredth of a mm.

    Notes
    -----
    The region, cut open along the spine, is charted onto a strip by two harmonic fields (`chart`); sides of
    plumes are plain curves of the strip (`sides`), tops are round in true size (`plumes`). Lines that do not
    cross in the strip do not cross in the region. About 80 ms for a 12 in square, nearly linear in the length
    of the outline.
    """
    bed = make_bed(growth, settings)
    if bed is None:
        return Grown(
            findings=(
                Finding(
                    "feather-no-room", "warning", None, "there is no room for three plumes", "Choose another fill."
                ),
            )
        )
    out_mm = min(OUT_MM, tolerance_mm)
    rows = [draw_row(bed, chart, settings, rng, out_mm) for chart in make_charts(bed, settings.stretch)]
    chain = Chain()
    (_ring_chain if growth.closed else _open_chain)(chain, growth, bed, rows)
    plumes = tuple(p for row in rows for p, out in zip(row.plumes, row.skipped) if not out)
    skipped = sum(int(row.skipped.sum()) for row in rows)
    outlines = [row.covered(k) for row in rows for k, out in enumerate(row.skipped) if not out]
    return Grown(chain.strokes(), united_outlines(outlines), plumes, skipped, _left_out(skipped))


def _open_chain(chain: Chain, growth: Growth, bed: Bed, rows: list[Row]) -> None:
    row = rows[0]
    lead = _lead(growth, bed)
    chain.stitch(lead)
    chain.row(row, lambda a, b: _along(bed.spine, a, b))
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
    chain.row(outer, lambda a, b: _round(bed.spine, a, b))
    chain.stitch(np.vstack([first[0], _round(bed.spine, here, there)[1:-1], first[1]]))
    chain.row(inner, lambda a, b: _round(bed.spine, a, b))
    chain.stitch(np.vstack([first[1], _round(bed.spine, there, here)[1:-1], first[0]]))


def _along(spine: FloatArray, start: float, end: float) -> FloatArray:
    """Return the way on an open spine between two places, counted up its left side and on down its right."""
    s = arc_lengths(spine)
    places = np.concatenate([s, 2 * s[-1] - s[-2::-1]])
    points = np.vstack([spine, spine[-2::-1]])
    return _stretch(places, points, start, end)


def _round(spine: FloatArray, start: float, end: float) -> FloatArray:
    """Return the way on a closed spine from one place on to another."""
    s = arc_lengths(spine, closed=True)
    start, end = start % s[-1], end % s[-1]
    end = end if end > start else end + s[-1]
    return _stretch(np.concatenate([s[:-1], s[:-1] + s[-1]]), np.vstack([spine, spine]), start, end)


def _stretch(places: FloatArray, points: FloatArray, start: float, end: float) -> FloatArray:
    ends = [[np.interp(at, places, points[:, k]) for k in (0, 1)] for at in (start, end)]
    between = (places > start + NEAR_MM) & (places < end - NEAR_MM)
    return np.vstack([ends[0], points[between], ends[1]])


def _left_out(count: int) -> tuple[Finding, ...]:
    if not count:
        return ()
    what = "a plume was" if count == 1 else f"{count} plumes were"
    return (
        Finding(
            "feather-plume-left-out",
            "note",
            None,
            f"{what} left out where the space folds back on itself",
            "Draw the spine through the middle of that part, or set a wider plume.",
        ),
    )
