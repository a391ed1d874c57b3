"""Channels: parallel straight lines, even or alternating; and piano keys, which stand across a border."""

from __future__ import annotations

import math
from typing import Literal, Self

import numpy as np
from pydantic import Field, model_validator
from shapely import Polygon

from ..geometry import band_of, cornered, extent_along, pieces, rings
from ..model import Filled, Finding, FloatArray, Path, Stroke, Zone
from ..tolerances import CURVE_MM
from .kit.around import arcs_of, mitred_rows, no_shape
from .kit.following import Follow, in_true
from .kit.keys import keys_round
from .kit.limits import check_amount
from .kit.parallel import Gaps, hatch, offsets_across, offsets_on_page, stretched
from .kit.registry import Fill, too_small
from .kit.settings import SpacedSettings, number

__all__ = ["FILL", "ChannelSettings"]

NARROWEST = 0.5
"""A space narrower than this part of the spacing takes no line."""

STRIP = 3.0
"""A space so many times as long as wide is a strip: lines run along it where neither angle nor ``along`` is said."""


class ChannelSettings(SpacedSettings):
    """Settings of channels."""

    spacing_mm: Gaps = Field(
        default=(12.7,),
        description="from line to line; a list alternates",
        json_schema_extra={"unit": "length"},
    )
    angle_deg: float = number(
        0.0,
        least=-360.0,
        most=360.0,
        unit="degrees",
        description="direction of the lines, 0 to the right, 90 upwards; left out: along a strip, else 0",
    )
    edge: Literal["half", "full"] | None = Field(
        default=None,
        description="half or all of a space at both edges; left out: half when even, the first gap when alternating",
    )
    run_on: bool = Field(
        default=False, description="count lines and angle from the page, so that they run on from block to block"
    )
    along: bool = Field(default=False, description="lines along the long edge of any space, not only of a strip")
    piano_keys: bool = Field(default=False, description="lines square to the long edge, mitred round a border")
    of: Literal["shape"] | None = Field(
        default=None, description="shape: parallel to all sides of a shape laid over the zone, mitred at its corners"
    )

    follow: Follow = Field("straight", description="straight in spite of a crooked seam, or with the seam as it is")

    @model_validator(mode="after")
    def _keys_go_alone(self) -> Self:
        if self.piano_keys and (self.run_on or len(self.spacing_mm) > 1):
            raise ValueError("piano_keys takes one spacing and no run_on: each border is divided by itself")
        if self.along and (self.piano_keys or self.run_on or self.of or "angle_deg" in self.model_fields_set):
            raise ValueError(
                "along takes no angle, run_on, piano_keys or of: the long edge says which way the lines go"
            )
        if self.of is not None and (self.piano_keys or self.run_on or "angle_deg" in self.model_fields_set):
            raise ValueError("of = 'shape' takes no angle, run_on or piano_keys: the shape says which way the lines go")
        if self.follow == "seam" and (self.run_on or self.of is not None):
            raise ValueError("follow = 'seam' takes no run_on and no of: the seams say which way the lines go")
        return self

    @property
    def on_page(self) -> bool:
        """Whether what is drawn depends on where the zone lies: lines that run on from zone to zone do."""
        return self.run_on


def draw(zone: Zone, settings: ChannelSettings, *, rng: np.random.Generator, tolerance_mm: float = CURVE_MM) -> Filled:
    """Draw parallel lines, one stroke a line, alternately turned."""
    gaps = settings.spacing_mm
    check_amount(zone, sum(gaps) / len(gaps))
    strokes: list[Stroke] = []
    findings: list[Finding] = []
    shaped = settings.of == "shape" and bool(zone.laid)
    if settings.of == "shape" and not shaped:
        findings.append(no_shape(zone, "channel"))
    for piece in pieces(zone):
        if shaped:
            strokes += _along_shape(zone, piece, settings)
            continue
        lines, stretch = _lines(zone, piece, settings)
        strokes += [Stroke(line) for line in lines]
        findings += stretched(zone, "channel", stretch) if lines else ()
    if not strokes:
        return too_small(
            zone, "channel", "the space is too narrow for one line at this spacing", "Choose a smaller spacing."
        )
    return Filled(strokes=tuple(strokes), findings=tuple(dict.fromkeys(findings)))


def _lines(zone: Zone, piece: Polygon, settings: ChannelSettings) -> tuple[list[Path], float]:
    """Return the lines of a piece, and how far they stand apart against what was asked."""
    stretch = 1.0

    def drawn(region: Polygon) -> list[Path]:
        nonlocal stretch
        keys = settings.piano_keys
        lines, stretch = _piano_keys(region, settings.spacing_mm) if keys else _channels(zone, region, settings)
        return lines

    return (in_true(piece, drawn) if settings.follow == "seam" else drawn(piece)), stretch


def _along_shape(zone: Zone, piece: Polygon, settings: ChannelSettings) -> list[Stroke]:
    gaps = settings.spacing_mm
    half = (settings.edge or ("half" if len(gaps) == 1 else "full")) == "half"
    _, levels = mitred_rows(zone, piece, gaps, first=0.5 if half else 1.0)
    whole = [curve.path for found in levels for level in found[1:] for curve in level if curve.ring]
    return [*(Stroke(path, closed=True) for path in whole), *(Stroke(path) for path in arcs_of(levels))]


def _channels(zone: Zone, piece: Polygon, settings: ChannelSettings) -> tuple[list[Path], float]:
    gaps, angle = settings.spacing_mm, _direction_deg(piece, settings)
    if settings.run_on:
        angle -= zone.frame.angle_deg
        low, high = extent_along(piece, angle - 90.0)
        offsets = offsets_on_page(low, high, gaps, settings.edge, zone.frame, angle)
        return hatch(piece, angle, offsets, min(gaps)), 1.0
    return _across(piece, angle, gaps, settings.edge)


def _direction_deg(piece: Polygon, settings: ChannelSettings) -> float:
    """Return which way the lines run: as she says; else along the long edge of a strip, or with ``along`` of any."""
    if settings.run_on or "angle_deg" in settings.model_fields_set:
        return settings.angle_deg
    long_edge = _long_edge_deg(piece)
    (start, end), (low, high) = extent_along(piece, long_edge), extent_along(piece, long_edge + 90.0)
    slim = end - start >= STRIP * (high - low)
    return long_edge if settings.along or slim else settings.angle_deg


def _across(
    piece: Polygon, angle_deg: float, gaps: tuple[float, ...], edge: Literal["half", "full"] | None
) -> tuple[list[Path], float]:
    low, high = extent_along(piece, angle_deg - 90.0)
    if high - low < NARROWEST * gaps[0]:
        return [], 1.0
    offsets, stretch = offsets_across(high - low, gaps, edge)
    return hatch(piece, angle_deg, low + offsets, min(gaps)), stretch


def _piano_keys(piece: Polygon, gaps: tuple[float, ...]) -> tuple[list[Path], float]:
    band = band_of(piece)
    if band is not None:
        return keys_round(band, piece, gaps[0])
    return _across(piece, _long_edge_deg(piece) + 90.0, gaps, None)


def _long_edge_deg(piece: Polygon) -> float:
    # the direction of the longest side from corner to corner; of the longest extent when there are no corners
    sides = cornered(rings(piece)[0]).sides()
    if not sides:
        angles = np.arange(180.0)
        return float(angles[int(np.argmax([np.subtract(*extent_along(piece, a)[::-1]) for a in angles]))])
    spans: list[FloatArray] = [side[-1] - side[0] for side in sides]
    longest = spans[int(np.argmax([round(float(np.hypot(*span)), 3) for span in spans]))]
    return math.degrees(math.atan2(-longest[1], longest[0]))


FILL = Fill(
    name="channel",
    settings=ChannelSettings,
    draw=draw,
    stage="ruler",
    description="parallel straight lines, even or alternating; piano keys along a border",
)
