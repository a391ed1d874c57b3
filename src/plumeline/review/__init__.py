"""Review: measures of what will be stitched."""

from __future__ import annotations

from .density import balance_findings, densest_inch, inches_per_square_inch, knot_findings
from .draw_in import LoftFigures, LoftPlace, LoftRow, loft_figures, loft_findings
from .figures import JumpFigures, ZoneFigures, ZoneRow, jump_figures, span_length, zone_figures, zone_rows
from .gaps import gap_findings, top_gap
from .loft import grid_step, inside_grid, parallel_draw_in, relief, springs
from .straight import crooked_seam_findings, straight_runs

__all__ = [
    "JumpFigures",
    "LoftFigures",
    "LoftPlace",
    "LoftRow",
    "ZoneFigures",
    "ZoneRow",
    "balance_findings",
    "crooked_seam_findings",
    "densest_inch",
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
    "span_length",
    "springs",
    "straight_runs",
    "top_gap",
    "zone_figures",
    "zone_rows",
]
