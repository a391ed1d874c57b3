"""Crosshatch: two sets of parallel lines square to each other, through the corners of the zone."""

from __future__ import annotations

import itertools

import numpy as np
from pydantic import Field
from shapely import Polygon

from ..geometry import bounds, cornered, extent_along, pieces, rings
from ..model import Filled, Finding, FloatArray, Path, Stroke, Zone
from ._parallel import LEAST_GAP_MM, hatch, offsets_on_page, stretched
from .limits import check_amount, nearest_count
from .registry import Fill, too_small
from .settings import FillSettings, Mm, length, number

__all__ = ["FILL", "CrosshatchSettings", "through_corners"]

WIDE_MM, CLOSE_MM, SMALL_BLOCK_MM = 25.4, 19.05, 254.0
"""Common spacing: 1 in, and 3/4 in blocks under 10 in."""

EVEN = 0.06
"""Spacings on both sides of a corner may differ by this much; the eye sees no more."""

TOGETHER = 0.25
"""Corners nearer than this part of the spacing, across the lines, share one line halfway between them."""


class CrosshatchSettings(FillSettings):
    """Settings of crosshatch."""

    spacing_mm: Mm | None = length(
        None, least=LEAST_GAP_MM, says="from line to line; left out: 1 in, and 3/4 in where the block is under 10 in"
    )
    angle_deg: float | None = number(
        None, least=-360.0, most=360.0, unit="degrees", says="of one set of lines; left out: 45, or 0 when not on point"
    )
    on_point: bool = Field(default=True, description="squares stand on their points; an angle given goes before it")
    run_on: bool = Field(
        default=False, description="count lines and angle from the page, so that they run on from block to block"
    )


def draw(zone: Zone, settings: CrosshatchSettings, *, rng: np.random.Generator, tolerance_mm: float = 0.05) -> Filled:
    """Draw both sets, the second after the first, one stroke a line, alternately turned."""
    spacing = settings.spacing_mm or _usual(zone)
    check_amount(zone, spacing / 2)
    angle = settings.angle_deg if settings.angle_deg is not None else 45.0 if settings.on_point else 0.0
    if settings.run_on:
        angle -= zone.frame.angle_deg
    strokes: list[Stroke] = []
    findings: list[Finding] = []
    for piece in pieces(zone):
        for turned in (angle, angle + 90.0):
            lines, stretch = _one_set(zone, piece, turned, spacing, settings.run_on)
            strokes += [Stroke(line) for line in lines]
            findings += stretched(zone, "crosshatch", stretch) if lines else ()
    if not strokes:
        return too_small(
            zone, "crosshatch", "the space is smaller than one square of the grid", "Choose a smaller spacing."
        )
    return Filled(strokes=tuple(strokes), findings=tuple(dict.fromkeys(findings)))


def _usual(zone: Zone) -> float:
    left, top, right, bottom = bounds(zone.outline)
    return CLOSE_MM if min(right - left, bottom - top) < SMALL_BLOCK_MM else WIDE_MM


def _one_set(zone: Zone, piece: Polygon, angle_deg: float, spacing: float, run_on: bool) -> tuple[list[Path], float]:
    low, high = extent_along(piece, angle_deg - 90.0)
    if run_on:
        return hatch(
            piece, angle_deg, offsets_on_page(low, high, (spacing,), "full", zone.frame, angle_deg), spacing
        ), 1.0
    if high - low < spacing:
        return [], 1.0
    offsets = through_corners(piece, angle_deg, spacing)
    stretch = float(np.diff(np.concatenate([[low], offsets, [high]])).mean()) / spacing
    return hatch(piece, angle_deg, offsets, spacing), stretch


def through_corners(piece: Polygon, angle_deg: float, spacing_mm: float) -> FloatArray:
    """Return the offsets of lines at an angle that pass through the corners of a region where they can.

    The region's two extremes always count as corners. Each other corner is taken in turn, sharpest first, and
    kept when the spaces between the corners can still be divided into spacings that differ by at most `EVEN`.
    The lines at the extremes themselves touch the region in a point or an edge and are left out.
    """
    low, high = extent_along(piece, angle_deg - 90.0)
    outline = cornered(rings(piece)[0])
    a = np.radians(angle_deg)
    at = outline.points @ np.array([np.sin(a), np.cos(a)])
    anchors = [low, high]
    for corner in _shared(at[np.argsort(outline.inner_deg, kind="stable")], TOGETHER * spacing_mm):
        tried = sorted([*anchors, corner])
        if min(np.diff(tried)) > spacing_mm * (1.0 - TOGETHER):
            pitches = _pitches(tried, spacing_mm)
            if max(pitches) <= min(pitches) * (1.0 + EVEN):
                anchors = tried
    lines = [
        np.linspace(start, end, nearest_count((end - start) / spacing_mm) + 1)[:-1]
        for start, end in itertools.pairwise(anchors)
    ]
    offsets: FloatArray = np.concatenate(lines)[1:]
    return offsets


def _pitches(anchors: list[float], spacing: float) -> list[float]:
    return [(b - a) / nearest_count((b - a) / spacing) for a, b in itertools.pairwise(anchors)]


def _shared(at: FloatArray, near: float) -> list[float]:
    # corners that lie nearly on one line, as the middle of each such group, in the order of their first members
    left, groups = list(at), []
    while left:
        first = left[0]
        groups.append(float(np.mean([x for x in left if abs(x - first) <= near])))
        left = [x for x in left if abs(x - first) > near]
    return groups


FILL = Fill(
    name="crosshatch",
    settings=CrosshatchSettings,
    draw=draw,
    stage="ruler",
    says="a grid of squares, on point or upright, through the corners",
)
