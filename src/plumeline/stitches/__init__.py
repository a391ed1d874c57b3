"""Stitches: needle points, ties, limits, time, thread and bobbins."""

from __future__ import annotations

from .continuing import continue_from
from .drops import needle_points
from .lines import longest_for_bobbin, stitch_lines
from .machine_plan import MachinePlan, ZoneStitches, machine_plan, new_bobbins
from .thread import bobbins, longest_line_mm, thread_mm
from .timing import sewing_seconds

__all__ = [
    "MachinePlan",
    "ZoneStitches",
    "bobbins",
    "continue_from",
    "longest_for_bobbin",
    "longest_line_mm",
    "machine_plan",
    "needle_points",
    "new_bobbins",
    "sewing_seconds",
    "stitch_lines",
    "thread_mm",
]
