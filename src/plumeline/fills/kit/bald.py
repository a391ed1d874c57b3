"""Bald spots: what a fill of even lines says where the shape of a space keeps its lines out."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import repeat

import numpy as np
from scipy.spatial import cKDTree
from shapely import Polygon

from ...geometry import bounds, contains, densify, rings, widest_gap
from ...model import Finding, FloatArray, Zone
from ...units import format_length

__all__ = ["bald_spot"]

BALD = 3.0
"""Widest gap that is not worth a word, in spacings: between lines it is one or two, in corners and beside holes up to
nearly three."""

STEPS = 4
"""Samples a spacing: the gap is then right to about an eighth of the spacing."""


def bald_spot(
    zone: Zone,
    fill: str,
    paths: Sequence[FloatArray],
    piece: Polygon,
    spacing_mm: float,
    *,
    closed: Sequence[bool] | None = None,
    what_to_do: str,
) -> tuple[Finding, ...]:
    """Return a finding when the paths leave a gap in a piece of the zone that is wider than `BALD` spacings."""
    if not _may_be_bald(paths, piece, spacing_mm, closed):
        return ()
    gap = widest_gap(paths, piece, closed=closed, step_mm=spacing_mm / STEPS).diameter_mm
    if gap <= BALD * spacing_mm:
        return ()
    text = (
        f"{fill}: a bald spot {format_length(gap)} across is left between lines {format_length(spacing_mm)} apart: "
        "the space is too ragged for it"
    )
    return (Finding("bald-spot", "warning", zone.label, text, what_to_do),)


def _may_be_bald(paths: Sequence[FloatArray], piece: Polygon, spacing_mm: float, closed: Sequence[bool] | None) -> bool:
    # A bald spot holds a point of a grid of half spacings that lies 0.36 spacings from its middle or nearer.
    step = spacing_mm / 2
    left, top, right, bottom = bounds(piece)
    x, y = np.meshgrid(np.arange(left, right, step), np.arange(top, bottom, step))
    grid = np.column_stack([x.ravel(), y.ravel()])
    lines = [densify(p, step, closed=c) for p, c in zip(paths, repeat(False) if closed is None else closed)]
    edges = [densify(ring, step, closed=True) for ring in rings(piece)]
    least = (BALD / 2 - 0.36) * spacing_mm
    far, _ = cKDTree(np.vstack([*lines, *edges])).query(grid, distance_upper_bound=1.01 * least)
    return bool(contains(piece, grid[far > least]).any())
