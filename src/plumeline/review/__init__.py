"""Review: measures of what will be stitched."""

from __future__ import annotations

from .density import balance_findings, dense_inches, densest_inch, inches_per_square_inch, knot_findings
from .draw_in import LoftFigures, LoftPlace, LoftRow, loft_figures, loft_findings
from .figures import JumpFigures, ZoneFigures, ZoneRow, jump_figures, span_length, zone_figures, zone_rows
from .gaps import gap_findings, top_gap
from .loft import grid_step, inside_grid, parallel_draw_in, relief, springs
from .starts import ends_that_show, start_findings
from .straight import ShownSeam, crooked_seam_findings, shown_seams, straight_runs
from .weakest import (
    MOST_PLACES,
    WeakPlace,
    weak_bald,
    weak_knots,
    weak_neighbours,
    weak_seams,
    weak_starts,
    weakest_findings,
)

__all__ = [
    "MOST_PLACES",
    "JumpFigures",
    "LoftFigures",
    "LoftPlace",
    "LoftRow",
    "ShownSeam",
    "WeakPlace",
    "ZoneFigures",
    "ZoneRow",
    "balance_findings",
    "crooked_seam_findings",
    "dense_inches",
    "densest_inch",
    "ends_that_show",
    "gap_findings",
    "grid_step",
    "inches_per_square_inch",
    "inside_grid",
    "jump_figures",
    "knot_findings",
    "loft_figures",
    "loft_findings",
    "parallel_draw_in",
    "relief",
    "shown_seams",
    "span_length",
    "springs",
    "start_findings",
    "straight_runs",
    "top_gap",
    "weak_bald",
    "weak_knots",
    "weak_neighbours",
    "weak_seams",
    "weak_starts",
    "weakest_findings",
    "zone_figures",
    "zone_rows",
]
