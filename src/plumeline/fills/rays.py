"""Rays: straight lines from a point, thinned towards it so that no thread piles up."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import partial
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
    intersect,
    long_axis,
    near_points,
    nearest_on,
    outside_mm,
    path_length,
    pieces,
    point_at,
    ray_length,
    resample,
    rings,
)
from ..model import Filled, FloatArray, Path, Stroke, Zone, as_path
from ..tolerances import CURVE_MM, MEET_MM
from .kit.hops import hops
from .kit.limits import check_amount
from .kit.parallel import LEAST_GAP_MM, alternately
from .kit.registry import Fill, does_nothing, too_small
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

ASTRAY, HALF, GAZES = 2.0, 0.5, 90
"""A space has legs where its roomiest point lies farther than so many of its inscribed radii from the middle of its
area and sees less than that part of so many points of its edge."""

AROUND = 0.7
"""A space that takes up more than this part of the view from a point beside it has rays all round it."""

ALIKE_DEG = 2.0
"""Corners that differ by less are equally sharp: piecing is no truer."""

LEAST_RADIUS_MM = 1.5
"""A zone with a smaller inscribed circle has no room for rays."""

SHORTEST = 0.3
"""Bits shorter than this part of the spacing are left out."""

LONG = 2.5
"""A space so many times as long as wide has several middles: from one the rays crowd, and its ends lie along them."""

BENT = 0.9
"""A long space whose axis is straighter than this, chord to length, has its middles in a row; one that bends has one
where one sees it all: rays of several would meet askew at the bend."""

BESIDE = 0.9
"""A long space's edge lies no farther than this many widths from its axis: else it has arms, as a K and a star do."""

REACH = 3.0
"""Middles farther apart than this many times the usual don't share a border."""

GRID = 40
"""Points a side of the grid on which the median distance from the point is measured."""


class RaysSettings(FillSettings):
    """Settings of rays."""

    at: Literal["middle", "corner"] | tuple[Mm, Mm] = Field(
        default="middle",
        description="where they come from: the middle (of a long space a row of middles), the sharpest corner (of a "
        "triangle with two alike the third), or a point [x, y] of the page",
        json_schema_extra={"unit": "length"},
    )
    middles: int | None = number(
        None,
        least=1,
        most=100,
        description="how many middles stand in a row along a space without openings; left out: one, or more where "
        "it is long",
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
        """From ray to ray, where they are counted; the number of middles, where the rays come from elsewhere."""
        counted = {} if self.count is None else {"spacing_mm": "the count overrides it"}
        return counted if self.at == "middle" else {**counted, "middles": "it is for rays from the middle"}

    @property
    def on_page(self) -> bool:
        """Whether what is drawn depends on where the zone lies: rays from a point of the page do."""
        return not isinstance(self.at, str)


def draw(zone: Zone, settings: RaysSettings, *, rng: np.random.Generator, tolerance_mm: float = CURVE_MM) -> Filled:
    """Draw rays in order round the point, one stroke a ray, alternately turned; then the rim.

    From several middles each has the part of the space nearest to it; rays that meet between two are one stroke.
    """
    if not erode(zone.region, LEAST_RADIUS_MM):
        return too_small(zone, "rays", "the space is a sliver", "Choose another fill, or join it to its neighbour.")
    check_amount(zone, settings.spacing_mm)
    row = _row_of_middles(zone.region, settings.middles) if settings.at == "middle" else []
    if len(row) > 1:
        bursts = _bursts(zone.region, row, settings)
    else:
        bursts = [_burst(zone.region, _centre(zone, settings, as_region(rings(zone.region)[0])), settings)]
    strokes: list[Stroke] = []
    for piece in pieces(zone):
        strokes += _zigzags(piece, bursts, settings) if len(bursts) > 1 else _rays(piece, bursts[0], settings)
        if settings.rim and strokes:
            strokes += [rim for burst in bursts for rim in _rim(piece, burst.centre, burst.inner_mm)]
    if not strokes:
        return too_small(zone, "rays", "the space has no room for rays so far apart", "Choose a smaller spacing.")
    idle = settings.at == "middle" and (settings.middles or 1) > 1 and len(row) < 2
    why = "a row of middles is for a space without openings"
    return Filled(tuple(strokes), findings=(does_nothing(zone, "rays", "middles", why),) if idle else ())


@dataclass(frozen=True, slots=True, eq=False)
class _Burst:
    """Rays from one centre, outwards and in order, the part of the space that they are for, and where they begin."""

    centre: FloatArray
    cell: Polygon
    lines: list[Path]
    least_mm: FloatArray
    inner_mm: float
    whole: bool


def _burst(
    cell: Polygon, centre: FloatArray, settings: RaysSettings, *, first_rad: float = 0.0, count_given: int | None = None
) -> _Burst:
    """Return the rays from a centre over its part of the space; from inside they go all round from a first angle."""
    spacing = settings.spacing_mm
    shell = as_region(rings(cell)[0])
    start, span, whole = _sweep(shell, centre)
    count = count_given or settings.count or _usual_count(cell, centre, span, spacing, whole)
    inner = _starts(count, span, whole, settings)
    step = span / (count if whole else count + 1)
    angles = np.asarray(start + first_rad + (np.arange(count) if whole else np.arange(1, count + 1)) * step)
    far = float(np.hypot(*(rings(cell)[0] - centre).T).max()) + 1.0
    whole_rays = inner
    if settings.count is None and count_given is None:
        angles, inner = _between(angles, inner, step, spacing, far, whole=whole)
    kept = inner < far - LEAST_GAP_MM
    towards = np.column_stack([np.cos(angles), np.sin(angles)])
    lines = [as_path([centre + way * r, centre + way * far]) for way, r in zip(towards[kept], inner[kept])]
    least = np.where(~np.isin(inner, whole_rays), spacing, 0.0)[kept]
    return _Burst(centre, cell, lines, least, float(inner.min()), whole)


def _between(
    angles: FloatArray, inner: FloatArray, step: float, spacing: float, far: float, *, whole: bool
) -> tuple[FloatArray, FloatArray]:
    """Return rays with more between them where they are over two spacings apart: there each begins a spacing off."""
    begin = 2.0 * spacing / step
    while begin < far:
        halves = angles + step / 2
        halves = halves if whole else np.concatenate([angles[:1] - step / 2, halves])
        angles = np.concatenate([angles, halves])
        inner = np.concatenate([inner, np.full(len(halves), begin)])
        order = np.argsort(np.round(angles, 12), kind="stable")
        angles, inner = angles[order], inner[order]
        step, begin = step / 2, 2.0 * begin
    return angles, inner


def _row_of_middles(region: Polygon, asked: int | None) -> list[FloatArray]:
    """Return middles in a row along a long space without openings, as far apart as it is wide; else none."""
    if region.interiors or asked == 1:
        return []
    axis = long_axis(region)
    total = path_length(axis)
    count = asked or round(total**2 / region.area)
    if asked is None and total**2 / region.area < LONG:
        return []
    outline = rings(region)[0]
    off = np.hypot(*(outline - point_at(axis, nearest_on(axis, outline, closed=False))).T)
    if asked is None and float(off.max()) > BESIDE * region.area / total:
        return []
    if asked is None and np.hypot(*(axis[-1] - axis[0])) < BENT * total and _sees_all(region, _middle(region, [])):
        return []
    row = point_at(axis, (np.arange(count) + 0.5) * total / count)
    return [point for point in row if bool(contains(region, point[None])[0])]


def _sees_all(region: Polygon, centre: FloatArray) -> bool:
    """Return whether a straight line leads from a point to every corner of a region without openings."""
    ways = rings(region)[0] - centre
    return all(ray_length(region, centre, way) >= 0.999 * float(np.hypot(*way)) for way in ways)


def _bursts(region: Polygon, row: list[FloatArray], settings: RaysSettings) -> list[_Burst]:
    """Return a burst for each middle, so turned that its rays meet those of the one before halfway."""
    apart = float(np.median([np.hypot(*(b - a)) for a, b in itertools.pairwise(row)]))
    cells: list[tuple[FloatArray, Polygon]] = []
    for centre in row:
        near = [region]
        for other in row:
            if 0.0 < np.hypot(*(other - centre)) < REACH * apart:
                near = [p for c in near for p in intersect(c, _nearer(centre, other, region))]
        own = [p for p in near if bool(contains(p, centre[None])[0])]
        cells += [(centre, own[0])] if own else []
    counts = [_usual_count(cell, centre, math.tau, settings.spacing_mm, True) for centre, cell in cells]
    count = settings.count or int(np.sort(counts)[len(counts) // 2])
    bursts: list[_Burst] = []
    first, before = 0.0, None
    for centre, cell in cells:
        if before is not None:  # mirrored at the line halfway, an angle a is one of 2 way + pi - a
            way = math.atan2(*(centre - before)[::-1])
            first = math.remainder(2.0 * way + math.pi - first, math.tau / count)
        bursts.append(_burst(cell, centre, settings, first_rad=first, count_given=count))
        before = centre
    return bursts


def _nearer(centre: FloatArray, other: FloatArray, region: Polygon) -> Polygon:
    """Return the half of the plane, as far as a region goes, that is nearer to a point than to another."""
    left, top, right, bottom = bounds(region)
    size = 2.0 * (right - left + bottom - top)
    way = (other - centre) / np.hypot(*(other - centre))
    across = np.array([-way[1], way[0]])
    middle = (centre + other) / 2
    return as_region(
        [middle + size * across, middle - size * across, middle - size * (across + way), middle + size * (across - way)]
    )


def _rays(region: Polygon, burst: _Burst, settings: RaysSettings) -> list[Stroke]:
    found = clip_paths(burst.lines, region, least_mm=SHORTEST * settings.spacing_mm)
    kept = [(n, path) for n, path in found if path_length(path) >= burst.least_mm[n]]
    steps = [] if settings.rim else _hops(burst, [path for _, path in kept], region)
    return [*(Stroke(path) for path in alternately(kept)), *steps]


def _hops(burst: _Burst, paths: Iterable[Path], piece: Polygon) -> list[Stroke]:
    """Return the steps from ray to ray about a centre; those that begin far out between two have none."""
    starts = {tuple(line[0].tolist()) for line, least in zip(burst.lines, burst.least_mm) if least == 0.0}
    return hops([path for path in paths if tuple(path[0].tolist()) in starts], burst.centre, piece, whole=burst.whole)


def _zigzags(piece: Polygon, bursts: list[_Burst], settings: RaysSettings) -> list[Stroke]:
    """Return the rays of several middles: those that meet between two go to and fro, the others end on the edge.

    From one ray to the next a short step leads beside the middle. A zigzag comes in along the ray before its first and
    goes out along the ray after its last, so that it hangs on the edge at both ends.
    """
    least = SHORTEST * settings.spacing_mm
    rays = [
        [path for cell in intersect(piece, b.cell) for _, path in clip_paths(b.lines, cell, least_mm=least)]
        for b in bursts
    ]
    for k, burst in enumerate(bursts):  # round each middle, from the side that is away from the next one
        way = bursts[min(k + 1, len(bursts) - 1)].centre - bursts[max(k - 1, 0)].centre
        back = math.atan2(-way[1], -way[0])
        rays[k] = sorted(rays[k], key=partial(_turn_from, back, burst.centre))
    used: set[tuple[int, int]] = set()
    strokes: list[Stroke] = []
    for k in range(len(bursts) - 1):
        strokes += _zigzag(rays, k, used, len(strokes), piece)
    left = [(i, path) for k, own in enumerate(rays) for i, path in enumerate(own) if (k, i) not in used]
    strokes += [Stroke(path) for path in alternately(left)]
    for k, burst in enumerate(bursts):
        strokes += _hops(burst, [path for i, path in enumerate(rays[k]) if (k, i) not in used], piece)
    return strokes


def _turn_from(back: float, centre: FloatArray, ray: Path) -> float:
    way = ray[-1] - centre
    return float(np.mod(math.atan2(way[1], way[0]) - back, math.tau))


def _zigzag(rays: list[list[Path]], k: int, used: set[tuple[int, int]], chain: int, piece: Polygon) -> list[Stroke]:
    """Return the chain of rays that meet between one middle and the next; what it uses is noted."""
    here, there = rays[k], rays[k + 1]
    if not here or not there:
        return []
    ends = np.array([path[-1] for path in (*here, *there)])
    pairs = sorted((a, b - len(here)) for a, b in near_points(ends, MEET_MM).tolist() if a < len(here) <= b)
    pairs = [(a, b) for a, b in pairs if (k, a) not in used and (k + 1, b) not in used]
    if not pairs:
        return []
    used.update(place for a, b in pairs for place in ((k, a), (k + 1, b)))
    run = [as_path(np.vstack([here[a], there[b][-2::-1]])) for a, b in pairs]
    run = [as_path(path[::-1]) if n % 2 else path for n, path in enumerate(run)]
    first = (k, pairs[0][0] - 1)
    last = (k, pairs[-1][0] + 1) if len(run) % 2 == 0 else (k + 1, pairs[-1][1] - 1)
    for (burst, i), at_end in ((first, False), (last, True)):
        if 0 <= i < len(rays[burst]) and (burst, i) not in used:
            used.add((burst, i))
            ray = rays[burst][i]
            run = [*run, ray] if at_end else [as_path(ray[::-1]), *run]
    strokes = [Stroke(run[0], chain=chain, entry="ends")]
    for before, path in itertools.pairwise(run):
        step = as_path([before[-1], path[0]])
        if outside_mm([step], piece) == 0.0:
            strokes.append(Stroke(step, role="step", chain=chain, entry="ends"))
        else:  # a bay of the edge lies between
            chain += 1
        strokes.append(Stroke(path, chain=chain, entry="ends"))
    return strokes


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
    # in a long zone many points have equal room: the centre of its area is the one she means, as in one of several
    # legs, where the roomiest point lies in one of them and sees little of the others; in a hole, the hole's
    best, radius = inscribed_circle(shell)
    mass, roomiest = np.array(shell.centroid.coords[0]), np.array(best)
    roomy = float(boundary_distance(shell, mass[None, :])[0]) >= ROOMY * radius
    legs = not roomy and np.hypot(*(mass - roomiest)) > ASTRAY * radius and _seen(shell, roomiest) < HALF
    middle = mass if roomy or legs else roomiest
    for hole in map(as_region, holes):
        if bool(contains(hole, middle[None, :])[0]):
            return np.array(hole.centroid.coords[0])
    return middle


def _seen(region: Polygon, centre: FloatArray) -> float:
    """Return which part of the edge of a region a point sees."""
    edge = resample(rings(region)[0], path_length(rings(region)[0], closed=True) / GAZES, closed=True)
    ways = [as_path([centre, centre + 0.999 * (point - centre)]) for point in edge]
    long = np.hypot(*(edge - centre).T)
    whole = sum(path_length(path) > 0.998 * long[n] for n, path in clip_paths(ways, region))
    return float(whole) / len(edge)


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
    span = float(turn.max() - turn.min())
    return (0.0, math.tau, True) if span > AROUND * math.tau else (towards + float(turn.min()), span, False)


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
