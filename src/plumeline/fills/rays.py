"""Rays: straight lines from a point, thinned towards it so that no thread piles up."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Literal

import numpy as np
from pydantic import Field
from shapely import Polygon

from ..geometry import (
    as_region,
    boundary_distance,
    bounds,
    clip_path,
    clip_paths,
    contains,
    cornered,
    disc,
    erode,
    inscribed_circle,
    pieces,
    rings,
)
from ..model import Filled, FloatArray, Path, Stroke, Zone, as_path
from ..tolerances import CURVE_MM
from .kit.limits import check_amount
from .kit.parallel import LEAST_GAP_MM, alternately
from .kit.registry import Fill, too_small
from .kit.settings import FillSettings, Mm, length, number

__all__ = ["FILL", "RaysSettings"]

FEWEST_AT_MIDDLE = 6
"""Every second ray stops short only while at least so many are left."""

ROUND_TO = 8
"""Rays counted from a spacing are a multiple of this, so that every second can stop three times over."""

EDGE_MM = 0.5
"""A point this close to the edge counts as on it."""

ROOMY = 0.9
"""The centre of the area is the middle where it has this part of the room that the best point has."""

ALIKE_DEG = 2.0
"""Corners that differ by less are equally sharp: piecing is no truer."""

LEAST_RADIUS_MM = 1.5
"""A zone with a smaller inscribed circle has no room for rays."""

SHORTEST = 0.3
"""Bits shorter than this part of the spacing are left out."""

GRID = 40
"""Points a side of the grid on which the median distance from the point is measured."""


class RaysSettings(FillSettings):
    """Settings of rays."""

    at: Literal["middle", "corner"] | tuple[Mm, Mm] = Field(
        default="middle",
        description="where they come from: the middle, the sharpest corner (of a triangle with two alike the third), "
        "or a point [x, y] of the page",
        json_schema_extra={"unit": "length"},
    )
    spacing_mm: Mm = length(
        12.7, least=LEAST_GAP_MM, description="from ray to ray at the middle distance from the point"
    )
    count: int | None = number(None, least=2, most=2000, description="how many rays; overrides the spacing")
    least_mm: Mm = length(3.175, least=LEAST_GAP_MM, description="rays never come closer than this")
    radius_mm: Mm | None = length(None, description="of the disc left free; left out: as small as the rays allow")
    rim: bool = Field(default=False, description="draw the rim of the disc")
    stop_short: bool = Field(default=True, description="every second ray stops where they would come too close")

    @property
    def idle(self) -> Mapping[str, str]:
        """From ray to ray, where they are counted."""
        return {} if self.count is None else {"spacing_mm": "the count overrides it"}

    @property
    def on_page(self) -> bool:
        """Whether what is drawn depends on where the zone lies: rays from a point of the page do."""
        return not isinstance(self.at, str)


def draw(zone: Zone, settings: RaysSettings, *, rng: np.random.Generator, tolerance_mm: float = CURVE_MM) -> Filled:
    """Draw rays in order round the point, one stroke a ray, alternately turned; then the rim."""
    if not erode(zone.region, LEAST_RADIUS_MM):
        return too_small(zone, "rays", "the space is a sliver", "Choose another fill, or join it to its neighbour.")
    shell = as_region(rings(zone.region)[0])
    centre = _centre(zone, settings, shell)
    start, span, whole = _sweep(shell, centre)
    spacing = settings.spacing_mm
    check_amount(zone, spacing)
    count = settings.count or _usual_count(zone.region, centre, span, spacing, whole)
    inner = _starts(count, span, whole, settings)
    steps = (np.arange(count) if whole else np.arange(1, count + 1)) * span / (count if whole else count + 1)
    angles = start + steps
    far = float(np.hypot(*(rings(zone.region)[0] - centre).T).max()) + 1.0
    towards = np.column_stack([np.cos(angles), np.sin(angles)])
    lines = [
        as_path([centre + way * r, centre + way * far]) for way, r in zip(towards, inner) if r < far - LEAST_GAP_MM
    ]
    strokes: list[Stroke] = []
    for piece in pieces(zone):
        strokes += [Stroke(path) for path in alternately(clip_paths(lines, piece, least_mm=SHORTEST * spacing))]
        if settings.rim and strokes:
            strokes += _rim(piece, centre, float(inner.min()))
    if not strokes:
        return too_small(zone, "rays", "the space has no room for rays so far apart", "Choose a smaller spacing.")
    return Filled(strokes=tuple(strokes))


def _centre(zone: Zone, settings: RaysSettings, shell: Polygon) -> FloatArray:
    if settings.at == "middle":
        return _middle(shell, rings(zone.region)[1:])
    if settings.at == "corner":
        outline = cornered(rings(zone.region)[0])
        if not len(outline.corners):
            return np.array(outline.path[0])
        corner: FloatArray = outline.points[_chief(outline.inner_deg)]
        return corner
    return zone.frame.to_local(settings.at)


def _chief(inner_deg: FloatArray) -> int:
    """Return the index of the sharpest corner, in a triangle with two alike that of the third."""
    order = np.argsort(np.round(inner_deg, 3), kind="stable").tolist()
    two_alike = len(order) == 3 and inner_deg[order[1]] - inner_deg[order[0]] < ALIKE_DEG
    return int(order[2] if two_alike else order[0])


def _middle(shell: Polygon, holes: list[Path]) -> FloatArray:
    # in a long zone many points have equal room: the centre of its area is the one she means; in a hole, the hole's
    centre, radius = inscribed_circle(shell)
    mass = np.array(shell.centroid.coords[0])
    middle = mass if float(boundary_distance(shell, mass[None, :])[0]) >= ROOMY * radius else np.array(centre)
    for hole in map(as_region, holes):
        if bool(contains(hole, middle[None, :])[0]):
            return np.array(hole.centroid.coords[0])
    return middle


def _sweep(shell: Polygon, centre: FloatArray) -> tuple[float, float, bool]:
    # first angle, span and whether the rays go all round; from the edge or outside, what the zone takes up of the view
    ring = rings(shell)[0]
    away = ring - centre
    inside = bool(contains(shell, centre[None, :])[0])
    after = np.roll(ring, -1, axis=0)
    edge = after - ring
    t = np.clip((-away * edge).sum(axis=1) / np.maximum((edge**2).sum(axis=1), 1e-12), 0.0, 1.0)
    if inside and float(np.hypot(*(away + edge * t[:, None]).T).min()) > EDGE_MM:
        return 0.0, math.tau, True
    middle = np.array(inscribed_circle(shell)[0]) - centre
    towards = math.atan2(middle[1], middle[0])
    seen = away[np.hypot(*away.T) > EDGE_MM]
    turn = np.mod(np.arctan2(seen[:, 1], seen[:, 0]) - towards + math.pi, math.tau) - math.pi
    return towards + float(turn.min()), float(turn.max() - turn.min()), False


def _usual_count(region: Polygon, centre: FloatArray, span: float, spacing: float, whole: bool) -> int:
    left, top, right, bottom = bounds(region)
    x, y = np.meshgrid(*(a + (b - a) * (np.arange(GRID) + 0.5) / GRID for a, b in ((left, right), (top, bottom))))
    grid = np.column_stack([x.ravel(), y.ravel()])
    grid = grid[contains(region, grid)]
    median = float(np.median(np.hypot(*(grid - centre).T))) if len(grid) else 0.0
    eights = max(1, round(span * median / spacing / ROUND_TO))
    return ROUND_TO * eights - (0 if whole else 1)


def _starts(count: int, span: float, whole: bool, settings: RaysSettings) -> FloatArray:
    """Return how far from the point each ray starts.

    Rays so many radians apart come within ``least`` at the radius least / step. There every second one stops;
    the others, twice as far apart, go on to half that radius, and so on while enough are left.
    """
    parts = count if whole else count + 1
    step = span / parts
    place = np.arange(count) if whole else np.arange(1, count + 1)
    generations = 0
    while (
        settings.stop_short and parts % 2 ** (generations + 1) == 0 and parts >> (generations + 1) >= FEWEST_AT_MIDDLE
    ):
        generations += 1
    halvings = np.zeros(count, dtype=int)
    for g in range(1, generations + 1):
        halvings[place % 2**g == 0] = g
    starts = settings.least_mm / (step * 2.0**halvings)
    return np.maximum(starts, settings.radius_mm or 0.0)


def _rim(piece: Polygon, centre: FloatArray, radius: float) -> list[Stroke]:
    rim = rings(disc((float(centre[0]), float(centre[1])), radius))[0]
    found = clip_path(rim, piece, closed=True)
    if len(found) == 1 and np.array_equal(found[0][0], found[0][-1]):
        return [Stroke(as_path(found[0][:-1]), closed=True)]
    return [Stroke(path) for path in found]


FILL = Fill(
    name="rays",
    settings=RaysSettings,
    draw=draw,
    stage="ruler",
    description="straight lines from the middle, a corner or a point",
)
