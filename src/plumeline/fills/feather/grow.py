"""Grow one feather from its spine to the edge of its region."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ...codes import FindingCode
from ...geometry import self_crossings, united_outlines
from ...model import Finding, FloatArray, Stroke
from ...tolerances import CURVE_MM
from .bed import Bed, make_bed
from .chain import chain_open, chain_ring, shares_left_out
from .chart import COARSE, FINE, Chart, make_charts
from .growth import Grown, Growth
from .rows import OUT_MM, Row, draw_row, without_crossed
from .settings import FeatherSettings

__all__ = ["Ground", "grow", "make_ground"]

CROSSED_MOST = 3
"""So many times plumes whose lines cross beside the spine are left out; what crosses then is folded."""

LEAD_MOST_MM = 5.0
"""A base farther than this from where plumes can start has been cut off from them: the feather starts without it."""


@dataclass(frozen=True, eq=False, slots=True)
class Ground:
    """A growth charted: what feathers that differ only by chance have in common."""

    growth: Growth
    bed: Bed
    charts: tuple[Chart, ...]


def make_ground(growth: Growth, settings: FeatherSettings, *, tolerance_mm: float = CURVE_MM) -> Ground | None:
    """Return the ground of a growth, or None where not even three plumes fit; its mesh coarser for a first look."""
    bed = make_bed(growth, settings)
    fine = FINE if tolerance_mm <= CURVE_MM else COARSE
    return None if bed is None else Ground(growth, bed, tuple(make_charts(bed, settings.stretch, fine=fine)))


def grow(
    ground: Growth | Ground, settings: FeatherSettings, *, rng: np.random.Generator, tolerance_mm: float = CURVE_MM
) -> Grown:
    """Return one feather that fills its region; no strokes and a finding when it is too small.

    Parameters
    ----------
    ground : Growth or Ground
        Region and spine, charted or not.
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
    cross in the strip do not cross in the region. About 80 ms for a 12 in square, half of it for the chart, nearly
    linear in the length of the outline.
    """
    charted = make_ground(ground, settings, tolerance_mm=tolerance_mm) if isinstance(ground, Growth) else ground
    if charted is None:
        text = "there is no room for three plumes"
        return Grown(findings=(Finding(FindingCode.FEATHER_NO_ROOM, "warning", None, text, "Choose another fill."),))
    bed, out_mm = charted.bed, min(OUT_MM, tolerance_mm)
    rows = [draw_row(bed, chart, settings, rng, out_mm) for chart in charted.charts]
    for _ in range(CROSSED_MOST):
        strokes = _stitched(charted.growth, bed, rows)
        crossed = self_crossings([s.path for s in strokes if s.role == "stitch"])
        if not len(crossed):
            break
        rows = [without_crossed(row, crossed) for row in rows]
    thrice = len(rows) > 1 and shares_left_out(bed.spine, *rows)
    if thrice or len(crossed):
        text = "the space folds back on itself so that its plumes would cross"
        return Grown(
            findings=(Finding(FindingCode.FEATHER_FOLDED, "warning", None, text, "Draw the spine through its middle."),)
        )
    plumes = tuple(p for row in rows for p, out in zip(row.plumes, row.skipped) if not out)
    skipped = sum(int(row.skipped.sum()) for row in rows)
    outlines = [row.covered(k) for row in rows for k, out in enumerate(row.skipped) if not out]
    return Grown(strokes, united_outlines(outlines), plumes, skipped, _left_out(skipped))


def _stitched(growth: Growth, bed: Bed, rows: Sequence[Row]) -> tuple[Stroke, ...]:
    ring = len(rows) > 1
    return (chain_ring(bed.spine, *rows) if ring else chain_open(_lead(growth, bed), bed.spine, rows[0])).strokes()


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
            FindingCode.FEATHER_PLUME_LEFT_OUT,
            "note",
            None,
            f"{what} left out where the space folds back on itself",
            "Draw the spine through the middle of that part, or set a wider plume.",
        ),
    )
