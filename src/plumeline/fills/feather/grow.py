"""Grow one feather from its spine to the edge of its region."""

from __future__ import annotations

import numpy as np

from ...geometry import united_outlines
from ...model import Finding, FloatArray
from .bed import Bed, make_bed
from .chain import chain_open, chain_ring
from .chart import make_charts
from .growth import Grown, Growth
from .rows import OUT_MM, draw_row
from .settings import FeatherSettings

__all__ = ["grow"]

LEAD_MOST_MM = 5.0
"""A base farther than this from where plumes can start has been cut off from them: the feather starts without it."""


def grow(growth: Growth, settings: FeatherSettings, *, rng: np.random.Generator, tolerance_mm: float = 0.05) -> Grown:
    """Return one feather that fills its region; no strokes and a finding when it is too small.

    Parameters
    ----------
    growth : Growth
        Region and spine.
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
    chain = chain_ring(bed.spine, *rows) if growth.closed else chain_open(_lead(growth, bed), bed.spine, rows[0])
    plumes = tuple(p for row in rows for p, out in zip(row.plumes, row.skipped) if not out)
    skipped = sum(int(row.skipped.sum()) for row in rows)
    outlines = [row.covered(k) for row in rows for k, out in enumerate(row.skipped) if not out]
    return Grown(chain.strokes(), united_outlines(outlines), plumes, skipped, _left_out(skipped))


def _lead(growth: Growth, bed: Bed) -> FloatArray:
    """Return the way from the growth's base over its clearance to the bed's, nothing when they are not neighbours."""
    way = np.vstack([growth.spine[:1], bed.spine[:1]])
    length = float(np.hypot(*(way[1] - way[0])))
    return way if 0 < length <= LEAD_MOST_MM else way[:0]


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
