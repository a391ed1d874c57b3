"""Outline: lines at a stated distance inside the edge of the zone."""

from __future__ import annotations

from typing import ClassVar, Self

import numpy as np
from pydantic import model_validator

from ..geometry import dedupe, erode, pieces, rings, subtract
from ..model import Filled, Stroke, Zone
from .kit.limits import check_amount
from .kit.parallel import LEAST_GAP_MM
from .kit.registry import Fill, too_small
from .kit.settings import FillSettings, Mm, length, number

__all__ = ["FILL", "OutlineSettings"]


DOUBLED_MM = 1e-4
"""Vertices that an inset leaves closer than this are one."""


class OutlineSettings(FillSettings):
    """Settings of outline quilting."""

    fills_space: ClassVar[bool] = False

    distance_mm: Mm = length(6.35, least=0.0, description="from the edge of the zone to the line")
    rows: int = number(1, least=1, most=100, description="how many lines, each the distance inside the one before")

    @model_validator(mode="after")
    def _rows_apart(self) -> Self:
        if self.rows > 1 and self.distance_mm < LEAST_GAP_MM:
            raise ValueError(f"with several rows the distance must be at least {LEAST_GAP_MM:g} mm")
        return self


def draw(zone: Zone, settings: OutlineSettings, *, rng: np.random.Generator, tolerance_mm: float = 0.05) -> Filled:
    """Draw closed lines with sharp corners along the edge and every hole; ``taken`` is the band they stand in."""
    distance = settings.distance_mm
    if settings.rows > 1:
        check_amount(zone, distance, key="distance")
    strokes, taken = [], []
    for piece in pieces(zone):
        inside = [piece]
        for row in range(1, settings.rows + 1):
            level = erode(piece, row * distance)
            edges = [ring for region in level for ring in rings(region)]
            strokes += [Stroke(dedupe(edge, closed=True, nearer_than_mm=DOUBLED_MM), closed=True) for edge in edges]
            inside = level or inside
            if not level:
                break
        taken += subtract(piece, inside)
    if not strokes:
        return too_small(
            zone, "outline", "the space is narrower than twice the distance", "Choose a smaller distance from the edge."
        )
    return Filled(strokes=tuple(strokes), taken=tuple(taken))


FILL = Fill(
    name="outline",
    settings=OutlineSettings,
    draw=draw,
    stage="ruler",
    description="a line 1/4 in inside the edge, or several",
)
