"""Crosshatch: two sets of parallel lines square to each other, through the corners of the zone."""

from __future__ import annotations

import math
from collections.abc import Mapping
from itertools import pairwise
from typing import Literal

import numpy as np
from pydantic import Field
from shapely import Polygon

from ..codes import FindingCode
from ..errors import FillError
from ..geometry import bounds, cornered, extent_along, path_length, pieces, rings
from ..model import Filled, Finding, FloatArray, Path, Stroke, Zone
from ..tolerances import CURVE_MM
from .kit.bent import bent_grid
from .kit.limits import check_amount, nearest_count
from .kit.parallel import LEAST_GAP_MM, hatch, offsets_on_page, stretched
from .kit.registry import Fill, too_small
from .kit.settings import Mm, SpacedSettings, length, number

__all__ = ["FILL", "CrosshatchSettings", "through_corners"]

WIDE_MM, CLOSE_MM, SMALL_BLOCK_MM = 25.4, 19.05, 254.0
"""Common spacing: 1 in, and 3/4 in blocks under 10 in."""

EVEN = 0.06
"""Spacings on both sides of a corner may differ by this much; the eye sees no more."""

GIVE = 0.12
"""The spacing may give by this much to meet more corners."""

TRUE = 0.02
"""Lines through the corners that miss a density by more than this give way to lines from the middle of the space."""

MOST_CORNERS = 12
"""The sharpest corners are looked at, at most so many."""

TOGETHER = 0.25
"""Corners nearer than this part of the spacing, across the lines, share one line halfway between them."""


class CrosshatchSettings(SpacedSettings):
    """Settings of crosshatch."""

    spacing_mm: Mm | None = length(
        None,
        least=LEAST_GAP_MM,
        description="from line to line; left out: 1 in, and 3/4 in where the block is under 10 in",
    )
    angle_deg: float | None = number(
        None,
        least=-360.0,
        most=360.0,
        unit="degrees",
        description="of one set of lines; left out: 45, or 0 when not on point",
    )
    on_point: bool = Field(default=True, description="squares stand on their points; an angle overrides it")
    run_on: bool = Field(
        default=False, description="count lines and angle from the page, so that they run on from block to block"
    )

    follow: Literal["straight", "corners"] = Field(
        default="straight",
        description="straight: straight lines; corners: bent to a four-cornered block, even along its sides",
    )

    @property
    def idle(self) -> Mapping[str, str]:
        """Whether squares stand on their points, where an angle is given."""
        return {**super().idle, **({} if self.angle_deg is None else {"on_point": "the angle overrides it"})}

    @property
    def promise_mm(self) -> float | None:
        """The spacing, left out the widest that is chosen."""
        return super().promise_mm or WIDE_MM

    @property
    def on_page(self) -> bool:
        """Whether what is drawn depends on where the zone lies: lines that run on from zone to zone do."""
        return self.run_on


def draw(
    zone: Zone, settings: CrosshatchSettings, *, rng: np.random.Generator, tolerance_mm: float = CURVE_MM
) -> Filled:
    """Draw both sets, the second after the first, one stroke a line, alternately turned."""
    spacing = settings.spacing_mm or _usual(zone)
    check_amount(zone, spacing / 2)
    angle = settings.angle_deg if settings.angle_deg is not None else 45.0 if settings.on_point else 0.0
    if settings.run_on:
        angle -= zone.frame.angle_deg
    if settings.follow == "corners" and (settings.angle_deg is not None or settings.run_on):
        raise FillError(
            "is 'corners', which takes its directions from the sides of the block; leave out angle and run_on",
            zone=zone.label,
            key="follow",
        )
    strokes: list[Stroke] = []
    findings: list[Finding] = []
    for piece in pieces(zone):
        bent = bent_grid(piece, spacing, on_point=settings.on_point) if settings.follow == "corners" else None
        if bent is not None:
            sets, stretch = bent
            strokes += [Stroke(line) for lines in sets for line in lines]
            findings += stretched(zone, "crosshatch", stretch)
            continue
        findings += [_not_bent(zone)] if settings.follow == "corners" else []
        for turned in (angle, angle + 90.0):
            lines, stretch = _one_set(
                zone,
                piece,
                turned,
                spacing,
                run_on=settings.run_on,
                exact=settings.wanted_density is not None,
            )
            strokes += [Stroke(line) for line in lines]
            findings += stretched(zone, "crosshatch", stretch) if lines else ()
    if not strokes:
        return too_small(
            zone, "crosshatch", "the space is smaller than one square of the grid", "Choose a smaller spacing."
        )
    return Filled(strokes=tuple(strokes), findings=tuple(dict.fromkeys(findings)))


def _not_bent(zone: Zone) -> Finding:
    text = "crosshatch: a grid bends to a space of four corners; this one has others, and its lines are straight"
    return Finding(FindingCode.GRID_NOT_BENT, "note", zone.label, text, "Divide the space, or leave follow out.")


def _usual(zone: Zone) -> float:
    left, top, right, bottom = bounds(zone.outline)
    return CLOSE_MM if min(right - left, bottom - top) < SMALL_BLOCK_MM else WIDE_MM


def _one_set(
    zone: Zone, piece: Polygon, angle_deg: float, spacing: float, *, run_on: bool, exact: bool
) -> tuple[list[Path], float]:
    low, high = extent_along(piece, angle_deg - 90.0)
    if run_on:
        return hatch(
            piece, angle_deg, offsets_on_page(low, high, (spacing,), "full", zone.frame, angle_deg), spacing
        ), 1.0
    if high - low < spacing:
        return [], 1.0
    offsets = through_corners(piece, angle_deg, spacing, give=0.0 if exact else GIVE)
    if exact and abs(float(np.diff([low, *offsets, high]).mean()) / spacing - 1.0) > TRUE:
        return _as_tight(piece, angle_deg, low, high, spacing), 1.0
    stretch = float(np.diff(np.concatenate([[low], offsets, [high]])).mean()) / spacing
    return hatch(piece, angle_deg, offsets, spacing), stretch


def _as_tight(piece: Polygon, angle_deg: float, low: float, high: float, spacing: float) -> list[Path]:
    """Return lines a spacing apart, as near to the area over the spacing in length as where they start allows.

    A line or a gap lies in the middle, or a line half a spacing from one of the two extremes.
    """
    starts = [(low + high) / 2, (low + high + spacing) / 2, low + spacing / 2, high - spacing / 2]
    sets = []
    for start in starts:
        first = low + (start - low) % spacing
        sets.append(hatch(piece, angle_deg, np.arange(first, high, spacing), spacing))
    wanted = float(piece.area) / spacing
    return min(sets, key=lambda lines: round(abs(sum(path_length(line) for line in lines) / wanted - 1.0), 2))


def through_corners(piece: Polygon, angle_deg: float, spacing_mm: float, *, give: float = GIVE) -> FloatArray:
    """Return the offsets of lines at an angle that pass through the corners of a region where they can.

    The region's two extremes always lie on the grid; the lines there touch it in a point or an edge and are left
    out. Among the counts whose spacing is within ``give`` of the one wished, the one that meets most corners is
    taken, then the one nearest to the wish. Corners that are out of true are met by spacings that differ a little
    from corner to corner, by at most `EVEN`. O(counts x corners).
    """
    low, high = extent_along(piece, angle_deg - 90.0)
    width = high - low
    outline = cornered(rings(piece)[0])
    a = np.radians(angle_deg)
    at = outline.points @ np.array([np.sin(a), np.cos(a)]) - low
    sharpest = at[np.argsort(np.round(outline.inner_deg, 3), kind="stable")][:MOST_CORNERS]
    corners = _shared(sharpest, TOGETHER * spacing_mm)
    nearest = nearest_count(width / spacing_mm)
    fewest, most = math.ceil(width / spacing_mm / (1.0 + give)), math.floor(width / spacing_mm / (1.0 - give))
    knots = {count: _knots(corners, width, count) for count in range(max(fewest, 1), most + 1)}
    knots = knots or {nearest: {0: 0.0, nearest: width}}
    best = min(knots, key=lambda n: (-len(knots[n]), round(abs(width / n / spacing_mm - 1.0), 6)))
    chosen = sorted(knots[best].items())
    offsets: FloatArray = low + np.interp(np.arange(1, best), [n for n, _ in chosen], [x for _, x in chosen])
    return offsets


def _knots(corners: list[float], width: float, count: int) -> dict[int, float]:
    # number of the line -> its offset, for both extremes and the corners that an even grid can be bent to meet
    pitch = width / count
    knots = {0: 0.0, count: width}
    for corner in sorted(corners, key=lambda x: round(abs(x / pitch - round(x / pitch)), 6)):
        place = round(corner / pitch)
        if place not in knots and 0 < place < count:
            tried = sorted({**knots, place: corner}.items())
            pitches = [(b[1] - a[1]) / (b[0] - a[0]) for a, b in pairwise(tried)]
            if max(pitches) <= min(pitches) * (1.0 + EVEN):
                knots = dict(tried)
    return knots


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
    description="a grid of squares, on point or upright, through the corners",
)
