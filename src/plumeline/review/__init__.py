"""Review: measures of what will be stitched."""

from __future__ import annotations

from .density import balance_findings, densest_inch, inches_per_square_inch, knot_findings
from .figures import JumpFigures, ZoneFigures, ZoneRow, jump_figures, span_length, zone_figures, zone_rows
from .gaps import gap_findings, top_gap
from .straight import crooked_seam_findings, straight_runs

__all__ = [
    "JumpFigures",
    "ZoneFigures",
    "ZoneRow",
    "balance_findings",
    "crooked_seam_findings",
    "densest_inch",
    "gap_findings",
    "inches_per_square_inch",
    "jump_figures",
    "knot_findings",
    "span_length",
    "straight_runs",
    "top_gap",
    "zone_figures",
    "zone_rows",
]
