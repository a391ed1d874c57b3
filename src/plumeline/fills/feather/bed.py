"""The bed of a feather: where its plumes may lie, how far they reach, how many there are and how wide each is.

All of it is plain geometry of outline and spine, so the number of plumes does not depend on any mesh.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import gaussian_filter1d
from scipy.spatial import cKDTree
from shapely import Polygon

from ...geometry import (
    arc_lengths,
    as_region,
    boundary_distance,
    clip_path,
    close_ring,
    densify,
    erode,
    nearest_on,
    path_length,
    resample,
    rings,
    signed_area,
    tangents,
    turns,
)
from ...geometry import point_at as along_path
from ...model import FloatArray, Path, as_path
from .growth import Growth
from .settings import LEAST_PLUME_MM, FeatherSettings

__all__ = ["Bed", "Row", "make_bed"]

SLIM, SLIM_WIDE, WIDE, SLIM_RINGED = 3.3, 3.5, (0.2, 0.32), 2.2
"""Length over width of an ordinary plume: under 2 a blob, over 4 a finger. Plumes are slimmer where longer than
these parts of their spine: one feather across a block then has about ten a side. Round a ring they are fuller, so that
they don't crowd it."""

EVEN_OUT, EVEN_VINE, EVEN_FAR, EVEN_WITHIN, EVEN_SLANT = 0.6, 0.3, 0.9, (0.65, 1.1), 0.6
"""Width grows as this power of length: 1 keeps every plume's shape but crowds tips, 0 keeps every width. Along a vine
as the second for lengths within these parts of the middle one, so that heads are alike on both sides of a wave, and as
the third beyond, as in its corners; and the slant counts there less by the last."""

LEAST_SHARE, MOST_SHARE, LEAST_ON_EDGE = 0.4, 1.45, 1.35
"""Least and greatest width as a share of the ordinary one; and the least on the outline as a share of the least width
of a plume, which narrows below its top."""

BASE_LEAST_SHARE, BASE_WIDE, BASE_ENDS = 0.7, 3.0, 1.7
RINGED_LEAST_SHARE, RINGED_WIDE = 1.2, 2.5
"""Within about so many ordinary widths of a base no plume is wished narrower than this part of an ordinary one; and of
a base on a ring, round which small plumes would crowd. Beyond the third times that far the space narrows to a tip."""

RINGED_EVEN, RINGED_MOST_SHARE, RINGED_SLANT, RINGED_CORNER_ROOM = 0.4, 1.1, 0.75, -0.6
"""Of plumes whose feather starts on a ring, instead of `EVEN_OUT`, `MOST_SHARE`, `SLANT_POWER` and `CORNER_ROOM`: they
grow evenly along the wall between two feathers, and the one in its far corner, which fills it, is wished slimmer."""

VINE = 0.13, 0.21
"""A spine is a vine where an ordinary plume is at most the first part of it as long, and none from the second on."""

CURVED, LEANED = 1.1, 1.2
"""A plume's middle line over the straight distance from foot to top; and how far back its foot stands for each part of
lean and of the way out."""

BASE_SHARE, FLAT_BASE_SHARE, BASE_MOST = 0.85, 2.2, 0.15
"""Where the first plume's outer side meets the outline, in ordinary widths from a base in a square corner and from one
on a straight edge (at most this part of the outline): nearer gives a rainbow of tiny arcs, farther a bare base."""

BEFORE_CORNER, PAST_CORNER, PAST_RING = 0.65, 0.9, 3.0
"""From a base on a straight edge the first plume starts at most this part of the way to the next corner; from a base on
a ring, as many ordinary widths past the corner of ring and fence, or the last many times as far as the corner: the
sliver between would hold but a crumb, or a line close beside the ring."""

SHARP_BASE, WEDGE_ROOM = 3.0, 1.5
"""Between a spine and an edge at a sharp angle the first plume starts where it is as long as so many least widths, but
at most so many ordinary widths from the base."""

FLOATING_FIRST = 0.35
"""Label of the first side of a feather whose base lies inside its region: its two first plumes part like a tail."""

SLANT_LEAST, SLANT_POWER = 0.7, 1.5
"""Sine of the flattest arrival at the outline that the width there makes up for, and as what power of it: a plume that
comes in aslant is also longer."""

TIP_AHEAD, TIP_ASIDE, TIP_WITHIN = 1.45, 0.35, 0.6
"""Room the last plume needs ahead of the spine's end and beside it, in ordinary widths. Beside it, it also needs
1/4 in, as far as the last share of the spine's widest room: in the very point of a tip, plumes shrink to nothing."""

SHARP_AHEAD, SHARP_ASIDE, SHARP_LONG, SHARP_LEAST_MM = 2.0, 0.2, 2.2, 4.5
"""In a tip with so many times the room ahead than beside, as in corners under 55 degrees, plumes grow small with it:
the spine goes on to this share of an ordinary width beside it, or so many mm; ahead, an ordinary width counts no more
than so many times the room beside."""

TIP_PLUME_MM, TIP_PLUME = 4.0, 0.6
"""In a tip a plume may be as narrow as this, and as this part of its length."""

BASE_BEND = 8.0
"""A spine that starts beside its base is bent towards it over about this many times the distance."""

STEP_MM = 1.5
"""The outline is measured at points this far apart."""

BEND_MM = 6.0
"""Bends of a spine are measured over this much of it, so that its own vertices don't count as bends."""

ASIDE_MM, ASIDE_SHARE, ASIDE_FROM_MM = 1.0, 0.08, 5.0
"""A spine keeps this far from the outline; from a base on the outline, at least that part of the way after some mm."""

SPINE_STEP, SPINE_STEP_MOST_MM, SPINE_SAG_MM = 0.011, 4.0, 0.03
"""Points of the spine: this part of the square root of the area apart, at most so many mm, and so near in bends that no
chord strays more than that from the curve."""

CORNER_ROOM = 0.1
"""A plume that points into a corner may be wider by about this share."""

CONVEX_DEG, REENTRANT_DEG = 50.0, 30.0
"""An outline that turns by this much at a point has a corner there."""

CRUMB_MM = 0.15
"""Points of the outline nearer to the base than this are crumbs, which a spine would cross on its way in."""


@dataclass(frozen=True, eq=False, slots=True)
class Row:
    """The stretch of outline that one row of plumes ends on.

    Attributes
    ----------
    at : (n,)
        Places along the ring, mm from its start.
    label : (n,)
        Wished label at each, from 0 to ``span``: plume k lies between labels ``first + k`` and ``first + k + 1``.
    width : (n,)
        Wished width of a plume there, mm.
    corners : tuple of (mm along the ring, whether a plume should point into it)
        Corners that the plumes mind.
    count : int
        Number of plumes.
    first, span : float
        Label of the first side, and of the end of the row.
    ahead : (mm along the ring, label) or None
        The place straight ahead of the spine's tip and the middle of the last plume; None for a closed spine.
    """

    at: FloatArray
    label: FloatArray
    width: FloatArray
    corners: tuple[tuple[float, bool], ...]
    count: int
    first: float
    span: float
    ahead: tuple[float, float] | None = None


@dataclass(frozen=True, eq=False, slots=True)
class Bed:
    """Region and spine of one feather, ready to be charted.

    Attributes
    ----------
    region : shapely.Polygon
        The growth's region less the clearance.
    roomy : shapely.Polygon
        The growth's region itself, which nothing may leave.
    spine : Path
        The spine within it, without the room of the last plume.
    tail : (k, 2)
        Where the line of a floating spine carried backwards meets the outline; else nothing.
    outlined : shapely.Polygon
        The region with the base, or the end of the tail, as a point of its outline.
    rings : tuple of Path
        The outline from the base round; for a closed spine the outline and the hole. All clockwise as seen.
    rows : tuple of Row
        One for each ring.
    ordinary_mm : float
        Width of an ordinary plume.
    vine : float
        How much the spine is a vine, long for its plumes: 0 to 1.
    ringed : bool
        Whether the base lies on a ring that several feathers share.
    """

    region: Polygon
    roomy: Polygon
    spine: Path
    tail: FloatArray
    outlined: Polygon
    rings: tuple[Path, ...]
    rows: tuple[Row, ...]
    ordinary_mm: float
    vine: float
    ringed: bool = False


def make_bed(growth: Growth, settings: FeatherSettings) -> Bed | None:
    """Return the bed of a feather, or None when not even three plumes fit."""
    found = [r for r in erode(growth.region, settings.clearance_mm) if len(r.interiors) == int(growth.closed)]
    return (_closed_bed if growth.closed else _open_bed)(growth, found[0], settings) if found else None


def _open_bed(growth: Growth, region: Polygon, settings: FeatherSettings) -> Bed | None:
    inside = clip_path(growth.spine, region)
    if not inside:
        return None
    spine = np.array(max(inside, key=path_length))
    ring = np.array(rings(region)[0])
    ring, spine, tail = _based(ring, spine, growth.floating, settings.clearance_mm)
    spine = np.array(resample(spine, _spine_step(spine, region)))
    spine = _clear_of(region, spine, growth.floating)
    if len(spine) < 3:
        return None
    points = np.array(close_ring(densify(ring, STEP_MM, closed=True)))
    at = arc_lengths(points)
    length, _ = _reach(points, spine, settings.lean, closed=False)
    middle = float(np.median(length))
    part = middle / path_length(spine)
    ordinary, vine = _ordinary(middle, _slim(part, growth.ringed), settings), _vine(part)
    spine, ahead_point = _trimmed(spine, region, ring, ordinary)
    if path_length(spine) < ordinary:
        return None
    base = (RINGED_LEAST_SHARE, RINGED_WIDE) if growth.ringed else (BASE_LEAST_SHARE, BASE_WIDE)
    reach = _reach(points, spine, settings.lean, closed=False)
    width = _widths(*reach, at, ordinary, middle, vine=vine, base=base, ringed=growth.ringed)
    corners = _corners(ring, hole=False)
    ahead = float(nearest_on(ring, ahead_point[None], closed=True)[0])
    near = [c for c, points_in in corners if points_in and abs(c - ahead) < 0.8 * np.interp(ahead, at, width)]
    ahead = min(near, key=lambda c: abs(c - ahead)) if near else ahead
    bare = (0.0, 0.0) if growth.floating else _bare(ring, spine, ordinary, corners, growth.ringed)
    row = _open_row(at, width, corners, ahead, bare, growth.ringed)
    if row is None:
        return None
    outline = as_path(ring)
    return Bed(
        region, growth.region, as_path(spine), tail, as_region(ring), (outline,), (row,), ordinary, vine, growth.ringed
    )


def _bare(
    ring: FloatArray, spine: FloatArray, ordinary: float, corners: list[tuple[float, bool]], ringed: bool
) -> tuple[float, float]:
    # from the base, the ring's first point, to the first plume on either side
    total = path_length(ring, closed=True)
    reach = min(ordinary, BASE_MOST * total)
    before, after = along_path(ring, np.array([total - reach, reach]), closed=True) - ring[0]
    angle = _degrees_between(before, after)
    share = float(np.interp(angle, [90.0, 180.0], [BASE_SHARE, FLAT_BASE_SHARE]))
    # the first plume is to fill the corner beside the base
    nearest = min((min(c, total - c) for c, inward in corners if inward), default=total)
    if ringed and nearest < ordinary:
        share = nearest / ordinary + max(PAST_CORNER, PAST_RING * nearest / ordinary)
    else:
        share = min(share, max(BASE_SHARE, BEFORE_CORNER * nearest / ordinary))
    way = along_path(spine, np.array([min(reach, path_length(spine))]))[0] - ring[0]
    return _first(after, way, share * ordinary, ordinary, total), _first(before, way, share * ordinary, ordinary, total)


def _first(edge: FloatArray, way: FloatArray, wished: float, ordinary: float, total: float) -> float:
    # between a spine and an edge at a sharp angle, where there is room for the least plume
    angle = np.radians(max(_degrees_between(edge, way), 1.0))
    roomy = min(WEDGE_ROOM * LEAST_PLUME_MM / np.sin(min(angle, np.pi / 2)), SHARP_BASE * ordinary)
    return float(min(max(wished, roomy), BASE_MOST * total))


def _degrees_between(a: FloatArray, b: FloatArray) -> float:
    return float(np.degrees(np.arccos(np.clip(a @ b / np.hypot(*a) / np.hypot(*b), -1.0, 1.0))))


def _open_row(
    at: FloatArray,
    width: FloatArray,
    corners: list[tuple[float, bool]],
    ahead: float,
    bare: tuple[float, float],
    ringed: bool,
) -> Row | None:
    corners = [c for c in corners if bare[0] < c[0] < at[-1] - bare[1]]
    grown = _count_up(at, width, corners, RINGED_CORNER_ROOM if ringed else CORNER_ROOM)
    first, tip, last = (float(g) for g in np.interp([bare[0], ahead, at[-1] - bare[1]], at, grown))
    if tip - first < 1.0 or last - tip < 1.0:
        return None
    left, right = max(round(tip - first - 0.5), 1), max(round(last - tip - 0.5), 1)
    # whole numbers of plumes between the bare stretch at the base and the plume at the tip
    up, down = (left + 0.5) / (tip - first), (right + 0.5) / (last - tip)
    label = np.where(grown <= tip, grown * up, tip * up + (grown - tip) * down)
    lead = FLOATING_FIRST if bare[0] == 0 else first * up
    if bare[0] == 0:
        count_up = label * ((left + right + 1 + 2 * lead) / label[-1])
        label = np.interp(label, [0.0, tip * up, label[-1]], [0.0, lead + left + 0.5, count_up[-1]])
    return Row(at, label, width, tuple(corners), left + right + 1, lead, float(label[-1]), (ahead, lead + left + 0.5))


def _closed_bed(growth: Growth, region: Polygon, settings: FeatherSettings) -> Bed | None:
    spine = np.array(resample(growth.spine, _spine_step(growth.spine, region), closed=True))
    spine = spine if signed_area(spine) > 0 else spine[::-1]
    outlines = [r if signed_area(r) > 0 else r[::-1] for r in rings(region)]
    lengths, points, ats = [], [], []
    for ring in outlines:
        p = close_ring(densify(ring, STEP_MM, closed=True))
        points.append(p)
        ats.append(arc_lengths(p))
        lengths.append(_reach(p, spine, settings.lean, closed=True))
    middle = float(np.median(np.concatenate([n for n, _ in lengths])))
    ordinary, vine = _ordinary(middle, SLIM, settings), _vine(middle / path_length(spine, closed=True))
    rows = []
    for i, (ring, at, length) in enumerate(zip(outlines, ats, lengths)):
        width = _widths(*length, at, ordinary, middle, vine=vine)
        corners = _corners(ring, hole=i == 1)
        grown = _count_up(at, width, corners, CORNER_ROOM)
        count = max(round(float(grown[-1])), 3)
        rows.append(Row(at, grown * (count / grown[-1]), width, tuple(corners), count, 0.0, float(count)))
    return Bed(
        region,
        growth.region,
        as_path(spine),
        spine[:0],
        region,
        tuple(as_path(r) for r in outlines),
        tuple(rows),
        ordinary,
        vine,
    )


def _based(
    ring: FloatArray, spine: FloatArray, floating: bool, clearance: float
) -> tuple[FloatArray, FloatArray, FloatArray]:
    # the ring from the base round, the spine, its tail; a base next to a corner moves into it
    tail = spine[:0]
    if floating:
        back = spine[0] - tangents(spine)[0] * 10.0 * np.ptp(ring, axis=0).max()
        tail = _first_hit(spine[0], back, ring)[None]
    base = tail[0] if floating else spine[0]
    corner = np.hypot(*(ring - base).T)
    if not floating and corner.min() < 3 * clearance + 1e-6:
        k = int(corner.argmin())
        return _cleared(np.roll(ring, -k, axis=0)), _started_at(ring[k], spine), tail
    a, b = ring, np.roll(ring, -1, axis=0)
    along = np.clip(((base - a) * (b - a)).sum(axis=1) / ((b - a) ** 2).sum(axis=1), 0, 1)
    foot = a + along[:, None] * (b - a)
    k = int(np.hypot(*(foot - base).T).argmin())
    spine, tail = (spine, foot[k][None]) if floating else (_started_at(foot[k], spine), tail)
    return _cleared(np.vstack([foot[k], np.roll(ring, -k - 1, axis=0)])), spine, tail


def _cleared(ring: FloatArray) -> FloatArray:
    # without crumbs beside the base, its first point
    far = np.hypot(*(ring - ring[0]).T) >= CRUMB_MM
    far[0] = True
    kept: FloatArray = ring[far]
    return kept


def _started_at(base: FloatArray, spine: FloatArray) -> FloatArray:
    """Return the spine bent gently so that it starts at a base nearby: a kink there would cross the first plume."""
    shift = base - spine[0]
    gone = arc_lengths(spine) / max(BASE_BEND * float(np.hypot(*shift)), 1e-9)
    out: FloatArray = spine + np.exp(-(gone**2))[:, None] * shift
    out[0] = base
    return out


def _first_hit(start: FloatArray, end: FloatArray, ring: FloatArray) -> FloatArray:
    """Return where the way from start to end first meets the ring (the end when it does not)."""
    a, b = ring, np.roll(ring, -1, axis=0)
    d, e = end - start, b - a
    cross = d[0] * e[:, 1] - d[1] * e[:, 0]
    cross = np.where(np.abs(cross) > 1e-12, cross, np.inf)
    t = ((a - start)[:, 0] * e[:, 1] - (a - start)[:, 1] * e[:, 0]) / cross
    v = ((a - start)[:, 0] * d[1] - (a - start)[:, 1] * d[0]) / cross
    hit = (t > 1e-9) & (t <= 1) & (v >= -1e-9) & (v <= 1 + 1e-9)
    found: FloatArray = start + d * (t[hit].min() if hit.any() else 1.0)
    return found


def _clear_of(region: Polygon, spine: FloatArray, floating: bool) -> FloatArray:
    # a spine ends where it comes back to the outline, or runs along it
    gone = arc_lengths(spine)
    needed = np.full(len(spine), ASIDE_MM) if floating else np.clip(ASIDE_SHARE * (gone - ASIDE_FROM_MM), 0.0, ASIDE_MM)
    near = np.flatnonzero(boundary_distance(region, spine)[1:] < needed[1:])
    return spine[: near[0] + 1] if len(near) else spine


def _spine_step(spine: FloatArray, region: Polygon) -> float:
    # a chord of length s strays s^2 / 8 R from a bend of radius R
    bends = turns(resample(spine, BEND_MM))
    radius = BEND_MM / max(float(np.abs(bends).max(initial=0.0)), 1e-6)
    widest = min(SPINE_STEP * float(np.sqrt(region.area)), SPINE_STEP_MOST_MM)
    return float(np.clip(np.sqrt(8 * radius * SPINE_SAG_MM), 0.3 * widest, widest))


def _slim(part: float, ringed: bool) -> float:
    # part: how long an ordinary plume is, of the spine
    return SLIM_RINGED if ringed else float(np.interp(part, WIDE, (SLIM, SLIM_WIDE)))


def _vine(part: float) -> float:
    return float(np.interp(part, VINE, (1.0, 0.0)))


def _ordinary(middle: float, slim: float, settings: FeatherSettings) -> float:
    # the width of a cell: of the plume and what it keeps off its neighbours
    plume = settings.plume_mm or max(middle / slim, LEAST_PLUME_MM)
    return plume + settings.gap_mm if settings.style == "apart" else plume


def _reach(points: FloatArray, spine: FloatArray, lean: float, *, closed: bool) -> tuple[FloatArray, FloatArray]:
    """Return how long a leaning plume that ends at each point is, and the sine of its angle there, ``(n,)`` each."""
    s = arc_lengths(spine, closed=closed)
    line = close_ring(spine, closed)
    far, near = cKDTree(line).query(points)
    foot = s[near] - LEANED * lean * far
    foot = along_path(spine, foot if closed else np.maximum(foot, 0.0), closed=closed)
    plume, edge = points - foot, tangents(points[:-1], closed=True)
    edge = np.vstack([edge, edge[:1]])
    straight = np.hypot(*plume.T)
    sine = np.abs(plume[:, 0] * edge[:, 1] - plume[:, 1] * edge[:, 0]) / np.maximum(straight, 1e-9)
    return CURVED * straight, np.maximum(sine, SLANT_LEAST)


def _widths(
    length: FloatArray,
    sine: FloatArray,
    at: FloatArray,
    ordinary: float,
    middle: float,
    *,
    vine: float,
    base: tuple[float, float] | None = None,
    ringed: bool = False,
) -> FloatArray:
    # of a closed spine's rows, each is even in itself
    even, most, slanted = (
        (RINGED_EVEN, RINGED_MOST_SHARE, RINGED_SLANT) if ringed else (EVEN_OUT, MOST_SHARE, SLANT_POWER)
    )
    own = middle if base is not None else float(np.median(length))
    ordinary, share = ordinary * (own / middle) ** even, length / own
    usual = np.clip(share, *EVEN_WITHIN)
    w = ordinary * usual ** (even + vine * (EVEN_VINE - even)) * (share / usual) ** (even + vine * (EVEN_FAR - even))
    least = np.full(len(at), LEAST_SHARE)
    if base is not None:
        # small plumes at a base look like crumbs, at a tip they are grown
        more, wide = base
        away = np.minimum(at, at[-1] - at) / (wide * ordinary)
        least += (more - LEAST_SHARE) * np.exp(-(away**2))
    floor = np.maximum(LEAST_ON_EDGE * LEAST_PLUME_MM, least * ordinary)
    if base is not None:
        narrows = np.minimum(at, at[-1] - at) > BASE_ENDS * base[1] * ordinary
        floor = np.where(narrows, np.minimum(floor, np.maximum(TIP_PLUME * length, TIP_PLUME_MM)), floor)
    w = np.clip(w, floor, most * ordinary)
    step = at[-1] / (len(at) - 1)
    slant = sine**slanted
    slant = slant + EVEN_SLANT * vine * (np.median(slant) - slant)
    smooth = gaussian_filter1d(np.log(w[:-1] / slant[:-1]), 0.5 * ordinary / step, mode="wrap")
    return np.asarray(np.exp(np.append(smooth, smooth[0])))


def _trimmed(spine: FloatArray, region: Polygon, ring: FloatArray, ordinary: float) -> tuple[FloatArray, FloatArray]:
    # walk back from the end of the spine until the last plume has room
    reach = 10.0 * np.ptp(ring, axis=0).max()
    ways = tangents(spine)
    aside = boundary_distance(region, spine)
    most = TIP_WITHIN * float(aside.max())
    blunt = max(TIP_ASIDE * ordinary, min(LEAST_PLUME_MM, most))
    sharp = min(max(SHARP_ASIDE * ordinary, SHARP_LEAST_MM), most)
    for k in range(len(spine) - 1, 0, -1):
        ahead = _first_hit(spine[k], spine[k] + reach * ways[k], ring)
        far = float(np.hypot(*(ahead - spine[k])))
        tapers = far > SHARP_AHEAD * aside[k]
        room = TIP_AHEAD * (min(ordinary, SHARP_LONG * float(aside[k])) if tapers else ordinary)
        if aside[k] >= (sharp if tapers else blunt) and far >= room:
            return spine[: k + 1], ahead
    return spine[:1], spine[0]


def _corners(ring: FloatArray, *, hole: bool) -> list[tuple[float, bool]]:
    turn = np.degrees(turns(ring, closed=True)) * (-1 if hole else 1)
    at = arc_lengths(ring, closed=True)
    return [
        (float(at[k]), bool(turn[k] > 0)) for k in range(len(ring)) if turn[k] > CONVEX_DEG or turn[k] < -REENTRANT_DEG
    ]


def _count_up(at: FloatArray, width: FloatArray, corners: list[tuple[float, bool]], room: float) -> FloatArray:
    per_mm = 1.0 / width
    for place, inward in corners:
        if inward:
            away = np.abs(at - place)
            away = np.minimum(away, at[-1] - away)
            per_mm = per_mm * (1.0 - room * np.exp(-((away / width) ** 2)))
    return np.concatenate([[0.0], np.cumsum(np.diff(at) * (per_mm[1:] + per_mm[:-1]) / 2)])
