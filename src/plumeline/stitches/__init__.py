"""Stitches: needle points, ties, limits, time, thread and bobbins."""

from __future__ import annotations

from .continuing import continue_from
from .drops import needle_points
from .lines import stitch_lines
from .machine_plan import MachinePlan, ZoneStitches, machine_plan
from .thread import bobbins, thread_mm
from .timing import sewing_seconds

__all__ = [
    "MachinePlan",
    "ZoneStitches",
    "bobbins",
    "continue_from",
    "machine_plan",
    "needle_points",
    "sewing_seconds",
    "stitch_lines",
    "thread_mm",
]
