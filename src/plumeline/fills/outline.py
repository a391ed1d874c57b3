"""Outline: lines at a stated distance inside the edge of the zone."""

from __future__ import annotations

from collections.abc import Mapping
from typing import ClassVar, Literal, Self

import numpy as np
from pydantic import Field, model_validator
from shapely import Polygon

from ..geometry import dedupe, erode, pieces, rings, subtract, unite
from ..model import Filled, Path, Stroke, Zone
from ..tolerances import CURVE_MM
from .kit.following import Follow, straight_pieces
from .kit.limits import check_amount
from .kit.parallel import LEAST_GAP_MM
from .kit.registry import Fill, too_small
from .kit.settings import FillSettings, Mm, length, number

__all__ = ["FILL", "OutlineSettings"]


MITRE = 1.5
"""A corner's line lies no farther from it than so many distances: round the tip of a slit in the edge it would shoot
across the space. About a square corner it is 1.42."""

DOUBLED_MM = 1e-4
"""Vertices that an inset leaves closer than this are one."""


class OutlineSettings(FillSettings):
    """Settings of outline quilting."""

    fills_space: ClassVar[bool] = False

    distance_mm: Mm = length(6.35, least=0.0, description="from the edge of the zone to the line")
    rows: int = number(1, least=1, most=100, description="how many lines, one inside the other")
    spacing_mm: Mm | None = length(
        None, least=LEAST_GAP_MM, description="from line to line; left out: the distance from the edge"
    )
    times: int = number(1, least=1, most=2, description="how many times over each line is sewn: 2 makes it bold")

    follow: Follow = Field("seam", description="with the seams as they are, or straight and true within them")

    @property
    def gap_mm(self) -> float:
        """From line to line."""
        return self.distance_mm if self.spacing_mm is None else self.spacing_mm

    @property
    def idle(self) -> Mapping[str, str]:
        """From line to line, where there is one line only."""
        return {"spacing_mm": "there is one row only"} if self.rows == 1 else {}

    @property
    def promise_mm(self) -> float | None:
        """An outline promises nothing of the space inside it."""
        return None

    @model_validator(mode="after")
    def _rows_apart(self) -> Self:
        if self.rows > 1 and self.gap_mm < LEAST_GAP_MM:
            raise ValueError(f"with several rows the distance must be at least {LEAST_GAP_MM:g} mm, or give a spacing")
        return self


def draw(zone: Zone, settings: OutlineSettings, *, rng: np.random.Generator, tolerance_mm: float = CURVE_MM) -> Filled:
    """Draw closed lines with sharp corners along the edge and every hole; ``taken`` is the band they stand in."""
    distance = settings.distance_mm
    if settings.rows > 1:
        check_amount(zone, settings.gap_mm, key="distance" if settings.spacing_mm is None else "spacing")
    strokes: list[Stroke] = []
    taken: list[Polygon] = []
    for piece in straight_pieces(pieces(zone), settings.follow):
        inside = [piece]
        for row in range(settings.rows):
            level = _inset(piece, distance + row * settings.gap_mm)
            edges = [ring for region in level for ring in rings(region)]
            for edge in edges:
                strokes += _sewn(dedupe(edge, closed=True, nearer_than_mm=DOUBLED_MM), settings.times, len(strokes))
            inside = level or inside
            if not level:
                break
        taken += subtract(piece, inside)
    if not strokes:
        return too_small(
            zone, "outline", "the space is narrower than twice the distance", "Choose a smaller distance from the edge."
        )
    return Filled(strokes=tuple(strokes), taken=tuple(taken))


def _inset(piece: Polygon, distance: float) -> list[Polygon]:
    """Return a piece less what lies within a distance of its edge: corners sharp, but blunt about the tips of slits."""
    mitred = erode(piece, distance)
    surely = erode(piece, MITRE * distance, join="round")
    return unite([*mitred, *surely]) if any(subtract(part, mitred) for part in surely) else mitred


def _sewn(line: Path, times: int, chain: int) -> list[Stroke]:
    """Return a closed line, sewn once or gone over again."""
    if times == 1:
        return [Stroke(line, closed=True)]
    again: Literal["backtrack"] = "backtrack"
    return [Stroke(line, closed=True, chain=chain), Stroke(line, closed=True, role=again, chain=chain)]


FILL = Fill(
    name="outline",
    settings=OutlineSettings,
    draw=draw,
    stage="ruler",
    description="a line 1/4 in inside the edge, or several",
)
