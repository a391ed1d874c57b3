"""Review: measures of what will be stitched."""

from __future__ import annotations

from .density import balance_findings, densest_inch, inches_per_square_inch, knot_findings
from .gaps import gap_findings, top_gap
from .report import jump_figures, make_report, zone_figures, zone_rows
from .straight import crooked_seam_findings, straight_runs

__all__ = [
    "balance_findings",
    "crooked_seam_findings",
    "densest_inch",
    "gap_findings",
    "inches_per_square_inch",
    "jump_figures",
    "knot_findings",
    "make_report",
    "straight_runs",
    "top_gap",
    "zone_figures",
    "zone_rows",
]
