"""One zone filled and measured: all that a process beside this one loads, which is less than reading a plan takes."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeAlias

from .. import review
from ..fills.kit.stack import Layer, fill_zone
from ..model import Filled, Zone
from ..review import ZoneFigures

__all__ = ["Task", "fill_one"]

Task: TypeAlias = tuple[Zone, tuple[Layer, ...], float | None, float | None]
"""What one process needs to fill and measure a zone: its layers, the spacing asked for, the batting's widest gap."""


def fill_one(task: Task, *, drawn: Callable[[Filled], None] | None = None) -> tuple[Filled, ZoneFigures]:
    """Return what fills a zone, and its figures; ``drawn`` is told what fills it before it is measured."""
    zone, layers, spacing_mm, widest_gap_mm = task
    filled = fill_zone(zone, layers, widest_gap_mm=widest_gap_mm, drawn=drawn)
    return filled, review.zone_figures(zone, filled, spacing_mm)
