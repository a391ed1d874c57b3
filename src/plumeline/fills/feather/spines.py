"""Where the spines of a feather lie when she does not draw them: from the middle to corners, along, round.

Every function looks at one region and returns `Spines`. Spines run from base to tip.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Final, TypeAlias

import numpy as np
from shapely import Polygon

from ...geometry import (
    arc_lengths,
    arms_of,
    as_region,
    boundary_distance,
    carried_on,
    contains,
    corners_of,
    cut_by,
    dilate,
    disc,
    erode,
    halfway,
    inscribed_circle,
    is_simple,
    long_axis,
    mid_loop,
    mirror_axes,
    path_length,
    ray_length,
    resample,
    rings,
    smooth,
    subtract,
    tangents,
    unite,
)
from ...model import FloatArray, Path, as_path
from .branching import with_twigs
from .from_corner import FROM_CORNER
from .spine import Spine, Spines, bowed

__all__ = ["SHAPES", "lay_spines"]

Axis: TypeAlias = tuple[FloatArray, FloatArray]
"""A point and the unit way of a straight line through it."""

BLOCK_MM = 10 * 25.4
"""Squarish blocks from this width take one feather to each corner; one spine fills smaller ones."""

SQUARISH = 0.6
"""A region is squarish when its inscribed circle covers this part of it (a square 0.79, 3 : 2 0.52)."""

STRIP = 3.5
"""A strip this many times as long as wide takes a wavy spine."""

WAVE_LENGTH = 3.0
"""Length of a wave in widths of its strip: as in a hand-marked 6 in border."""

SWING = 0.17
"""A wavy spine swings this part of the strip's width to either side, so that plumes stay longer than wide."""

LEAST_BAND_MM = 6.35
"""A wreath keeps at least this far from the edge and the middle (1/4 in), or plumes would shrink to nothing."""

LEANING = 0.35
"""A triangle whose two shorter sides differ by more than this part of the longest has its spine along it."""

BLUNT = 1.15
"""A triangle whose longest side is nearly that of a right angle has its spine along it, bent towards that angle."""

MIDDLE = 0.4
"""Radius of the open middle of a wreath in a whole block, part of the block's inscribed radius."""

APART_DEG = 30.0
"""Corners seen from the middle at a smaller angle than this share one feather: two would be squeezed."""

LONG_ARM, MOST_ARMS, ARMS_FROM_MM = 1.5, 12, 2 * 25.4
"""Arms that reach this many inscribed radii from the middle, and are no more than so many, take a feather each, from so
large an inscribed circle: along one spine, single fat plumes would have to fill them."""

SHARP_DEG = 75.0
"""A corner sharper than this has a feather of its own beside those to the sides: their plumes would be spikes there."""

SEEN = 0.75
"""The middle must see this part of the corners, or one spine along the space suits it better."""

ROUND_FEATHERS = 5
"""Feathers round the middle of a space without corners."""


NOTCH_SHARE, PAIR_PARTS = 0.08, 0.2
"""An axis ends in a notch where the space goes on this part of its length beyond its end on either side; each half then
takes a spine, which has come over to its middle after that part of its own length."""

AXIS_LEAST = 0.7
"""An axis that mirrors the space is its spine from this part of the length of the longest way through it."""

FEW_CORNERS, GATHERED_FROM_MM = 5, 6 * 25.4
"""Feathers gather in the middle of a mirrored space from so many corners and so much room (6 in) across."""

CORE, OFF_MIDDLE = 0.9, 0.04
"""A space's middle is that of its area, unless that lies farther from where it is roomiest (within this part of its
inscribed radius) than the second part of the radius: an ear of a neighbour shifts a block's middle."""


ON_AXIS = 0.1
"""A tip this near to the axis, as part of the way to the farthest one, lies on it."""


def lay_spines(
    shape: str,
    region: Polygon,
    *,
    bow: float,
    waves: int | None,
    corner: str = "squarest",
    at: FloatArray | None = None,
) -> Spines:
    """Return the spines of a region for one of `SHAPES` or `FROM_CORNER`.

    Parameters
    ----------
    shape : str
        A key of `SHAPES` or `FROM_CORNER`.
    bow : float
        Swing of each spine to one side and the other, part of its length.
    waves : int or None
        Waves of a wavy spine along its (longest) side; None: about three widths each.
    corner : str
        ``"squarest"``, or where the corner lies, as ``"bottom-left"``; for `FROM_CORNER`.
    at : (x, y) or None
        Where several feathers meet, for ``auto``, ``corners`` and ``sides``; None: in the middle.
    """
    if shape in FROM_CORNER:
        return FROM_CORNER[shape](region, bow, corner) or _along(region, bow, None)
    if at is not None and contains(region, at[None])[0] and shape in ("auto", "corners", "sides"):
        return (_sides if shape == "sides" else _corners)(region, bow, waves, at)
    return SHAPES[shape](region, bow, waves)


def _auto(region: Polygon, bow: float, waves: int | None) -> Spines:
    loop = mid_loop(region)
    if loop is not None and _is_ring(region, loop):
        width = _width(region, loop)
        long = path_length(loop, closed=True) > 12 * width
        twigged = with_twigs(region, _wreath(region, bow, waves))
        # twigs leave a calm spine; a vine swings only where it is alone
        return _wave(region, bow, waves) if long and len(twigged.spines) == 1 else twigged
    _, radius = inscribed_circle(region)
    arms = _arms(region, bow, radius)
    if arms is not None:
        return arms
    squarish = np.pi * radius**2 >= SQUARISH * region.area
    count = len(corners_of(region))
    if squarish and 2 * radius >= 0.9 * BLOCK_MM and count != 3 and not region.interiors:
        return _corners(region, bow, waves)
    axis = long_axis(region)
    if not squarish and path_length(axis) > STRIP * _width(region, axis) and count == 4:
        return _wave(region, bow, waves)
    if count == 3:
        return _triangle(region, bow)
    axes = _axes(region)
    if count == 4 and len(axes) == 1:
        own = axes[0]
        return _on_axis(region, own) if _is_long(region, own, path_length(axis)) else _garland(region, own, bow)
    if count == 4 and squarish:
        return _diagonal(region, bow, waves)
    return _gathered(region, bow, radius, axes[:1]) or _twigged(region, bow, waves, axes[:1])


def _is_long(region: Polygon, axis: Axis, along: float) -> bool:
    # whether an axis is long enough to be a spine
    return math.dist(*_axis_ends(region, axis)) >= AXIS_LEAST * along


def _garland(region: Polygon, axis: Axis, bow: float) -> Spines:
    """Return two spines from the shorter side that a short axis crosses to the far corners of the longer one."""
    at, way = axis
    corners = corners_of(region)
    aside = (corners - at) @ np.array([-way[1], way[0]])
    tips = corners[[int(np.argmin(aside)), int(np.argmax(aside))]]
    ends = _axis_ends(region, axis)
    start, far = sorted(ends, key=lambda e: -abs(float((e - tips[0]) @ way)))
    spines = tuple(Spine(bowed(start, tip, sign * bow, region)) for tip, sign in zip(tips, (1.0, -1.0), strict=True))
    return Spines(spines, fences=(as_path([start, far]),))


def _axes(region: Polygon) -> list[Axis]:
    """Return the axes that mirror a region, the best first; none where a hole is in their way."""
    if region.interiors:
        return []
    centre, ways = mirror_axes(region)
    return [(centre, way) for way in ways]


def _gathered(region: Polygon, bow: float, radius: float, mirror: list[Axis]) -> Spines | None:
    """Return a feather from the middle into each corner where a short axis mirrors the space, None elsewhere.

    So half a star beside a border is filled as the whole stars are: a spine along it would spoil its symmetry.
    """
    corners = corners_of(region)
    if not mirror or not FEW_CORNERS <= len(corners) <= MOST_ARMS or 2 * radius < GATHERED_FROM_MM:
        return None
    (axis,), along = mirror, path_length(long_axis(region))
    if along > STRIP * 2 * radius or _is_long(region, axis, along):
        return None
    centre, _ = _middle_point(region)
    if len(_spread(corners, centre)) < len(corners) or not all(_sees(region, centre, corner) for corner in corners):
        return None
    return _from_centre(region, corners, halfway(region, corners), bow, swings=_mirrored_swings(region, corners, axis))


def _mirrored_swings(region: Polygon, tips: Path, axis: Axis) -> FloatArray:
    # those on either side of the axis swing as mirror images, first towards its nearer end; one on it runs straight
    at, _ = axis
    near, far = sorted(_axis_ends(region, axis), key=lambda end: float(np.hypot(*(end - at))))
    apart = math.dist(near, far)
    way = (near - far) / apart if apart else axis[1]  # in an L the middle lies outside
    aside = (tips - at) @ np.array([-way[1], way[0]])
    return np.where(np.abs(aside) > ON_AXIS * np.abs(aside).max(), np.sign(aside), 0.0)


def _axis_ends(region: Polygon, axis: Axis) -> list[FloatArray]:
    at, way = axis
    return [at + sign * ray_length(region, at, sign * way) * way for sign in (1.0, -1.0)]


def _arms(region: Polygon, bow: float, radius: float) -> Spines | None:
    """Return a feather from the middle into each arm of a star or cross, None for other shapes."""
    ends, notches = arms_of(region)
    if region.interiors or not 1 <= len(ends) <= MOST_ARMS or 2 * radius < ARMS_FROM_MM:
        return None
    centre, _ = _middle_point(region)
    long = np.hypot(*(ends - centre).T).min() >= LONG_ARM * radius
    if not long or not all(_sees(region, centre, p) for p in [*ends, *notches]):
        return None
    return _from_centre(region, ends, notches, bow)


def _is_ring(region: Polygon, loop: Path) -> bool:
    # a hole that nearly touches the edge, or a speck of a hole, leaves no band to go round in
    room = boundary_distance(region, loop)
    biggest = max(Polygon(h).area for h in region.interiors)
    return bool(room.min() > 0.4 * np.median(room)) and biggest > 0.01 * region.area


def _width(region: Polygon, path: Path) -> float:
    inner = path[len(path) // 10 : len(path) - len(path) // 10] if len(path) > 20 else path
    return 2 * float(np.median(boundary_distance(region, inner)))


def _middle_point(region: Polygon, at: FloatArray | None = None) -> tuple[FloatArray, bool]:
    # the point where feathers meet, and whether it lies in a hole
    if at is not None:
        return at, False
    shell = as_region(rings(region)[0])
    centroid = np.array([shell.centroid.x, shell.centroid.y])
    if any(contains(Polygon(hole), centroid[None])[0] for hole in rings(region)[1:]):
        return centroid, True
    best, radius = inscribed_circle(region)
    # where a block has an ear of its neighbour, the middle of its roomiest part, not of its area, is its middle
    core = max(erode(region, CORE * radius), key=lambda p: float(p.area), default=None)
    middle = np.asarray(best if core is None else (core.centroid.x, core.centroid.y))
    return centroid if np.hypot(*(centroid - middle)) < OFF_MIDDLE * radius else middle, False


def _corners(region: Polygon, bow: float, waves: int | None, at: FloatArray | None = None) -> Spines:
    corners = _spread(corners_of(region), _middle_point(region, at)[0])
    if len(corners) < 2:
        return _round(region, bow, at)
    # all swing as mirror images: over the only axis of the space, or neighbours where the count allows it; else all
    # swing one way round
    axes = _axes(region) if at is None else []
    if len(axes) == 1:
        swings: FloatArray | None = _mirrored_swings(region, corners, axes[0])
    else:
        swings = np.where(np.arange(len(corners)) % 2, -1.0, 1.0) if len(corners) % 2 == 0 else None
    return _from_centre(region, corners, halfway(region, corners), bow, at, swings=swings)


def _sides(region: Polygon, bow: float, waves: int | None, at: FloatArray | None = None) -> Spines:
    """Return a spine to the middle of each side and into each sharp corner; fences run to the corners between."""
    centre, _ = _middle_point(region, at)
    corners = _spread(corners_of(region), centre)
    if len(corners) < 2:
        return _round(region, bow, at)
    middles, after = halfway(region, corners), np.roll(corners, -1, axis=0)
    to_one, to_other = middles - after, np.roll(middles, -1, axis=0) - after
    cosine = (to_one * to_other).sum(axis=1) / np.hypot(*to_one.T) / np.hypot(*to_other.T)
    sharp = np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0))) < SHARP_DEG
    # each side and the corner after it, round the edge; only what has a feather is a tip
    places = as_path(np.stack([middles, after], axis=1).reshape(-1, 2))
    can = np.stack([np.ones(len(corners), dtype=bool), sharp], axis=1).ravel()
    tips = _spread(as_path(places[can]), centre)
    is_tip = (places[:, None] == tips[None]).all(axis=2).any(axis=1)
    on = np.flatnonzero(is_tip)
    between = halfway(region, tips).copy()
    for k, (one, other) in enumerate(zip(on, [*on[1:], on[0] + len(places)])):
        corner = [j % len(places) for j in range(one + 1, other) if j % 2 and not can[j % len(places)]]
        if corner:
            between[k] = places[corner[0]]
    return _from_centre(region, tips, as_path(between), bow, at)


def _spread(corners: Path, centre: FloatArray) -> Path:
    """Return the corners less those seen from the centre too near to a farther one."""
    away = corners - centre
    far, angle = np.hypot(*away.T), np.degrees(np.arctan2(away[:, 1], away[:, 0]))
    kept: list[int] = []
    for k in np.argsort(-np.round(far, 3), kind="stable"):
        apart = np.abs((angle[kept] - angle[k] + 180) % 360 - 180)
        if (apart >= APART_DEG).all():
            kept.append(int(k))
    return as_path(corners[sorted(kept)])


def _round(region: Polygon, bow: float, at: FloatArray | None) -> Spines:
    centre, _ = _middle_point(region, at)
    angle = np.pi / 2 + np.arange(2 * ROUND_FEATHERS) * np.pi / ROUND_FEATHERS
    heading = np.column_stack([np.cos(angle), -np.sin(angle)])[::-1]
    shell = as_region(rings(region)[0])
    ends = np.array([centre + h * ray_length(shell, centre, h) for h in heading])
    ends = np.roll(ends, -(2 * ROUND_FEATHERS - 1), axis=0)
    laid = _from_centre(region, as_path(ends[::2]), as_path(ends[1::2]), bow, at)
    note = f"the space has no corners; {ROUND_FEATHERS} feathers are set evenly round its middle"
    return Spines(laid.spines, laid.fences, laid.centre, None, note)


def _from_centre(
    region: Polygon,
    tips: Path,
    between: Path,
    bow: float,
    at: FloatArray | None = None,
    *,
    swings: FloatArray | None = None,
) -> Spines:
    centre, hole = _middle_point(region, at)
    seen = [k for k, tip in enumerate(tips) if hole or _sees(region, centre, tip)]
    if len(seen) < SEEN * len(tips):
        return _along(region, bow, None)
    spines = []
    for k in seen:
        start = _out_of_hole(region, centre, tips[k]) if hole else centre
        spines.append(Spine(bowed(start, tips[k], bow if swings is None else bow * swings[k], region)))
    fences: tuple[Path, ...] = ()
    if len(seen) == len(tips) and (hole or all(_sees(region, centre, b) for b in between)):
        fences = tuple(as_path([centre, b]) for b in between)
    return Spines(tuple(spines), fences, None if hole else (float(centre[0]), float(centre[1])))


def _sees(region: Polygon, start: FloatArray, end: FloatArray) -> bool:
    way = end - start
    return ray_length(region, start, way) >= 0.999 * float(np.hypot(*way))


def _out_of_hole(region: Polygon, centre: FloatArray, tip: FloatArray) -> FloatArray:
    back = centre - tip
    return np.asarray(tip + back / np.hypot(*back) * ray_length(region, tip, back))


def _diagonal(region: Polygon, bow: float, waves: int | None) -> Spines:
    corners = corners_of(region)
    best: tuple[float, int, int] = (0.0, -1, -1)
    for i in range(len(corners)):
        for j in range(len(corners)):
            far = float(np.hypot(*(corners[i] - corners[j])))
            # of equal diagonals the one that rises to the right as seen
            rising = corners[j][0] > corners[i][0] and corners[j][1] < corners[i][1]
            score = far * (1.02 if rising else 1.0)
            if i != j and score > best[0] and _crosses_over(region, corners[i], corners[j]):
                best = (score, i, j)
    if best[1] < 0:
        return Spines(_along(region, bow, waves).spines, note="the space has no diagonal; one spine runs along it")
    return Spines((Spine(bowed(corners[best[1]], corners[best[2]], bow, region)),))


def _crosses_over(region: Polygon, start: FloatArray, end: FloatArray) -> bool:
    # inside all the way, and not along an edge
    depth = boundary_distance(region, np.array([start + t * (end - start) for t in (0.3, 0.5, 0.7)]))
    return bool(depth.min() > 0.1 * np.hypot(*(end - start))) and _sees(region, start, end)


def _triangle(region: Polygon, bow: float) -> Spines:
    # from the middle of the longest side to the corner across: both sharp corners are filled by long plumes
    corners = corners_of(region)
    after = np.roll(corners, -1, axis=0)
    side = np.hypot(*(after - corners).T)
    low = np.where(side > 0.98 * side.max(), corners[:, 1] + after[:, 1], -np.inf)  # of equal sides the lowest as seen
    k = int(np.argmax(low))
    start, tip = halfway(region, corners)[k], corners[(k + 2) % 3]
    one, other = side[(k + 1) % 3], side[(k + 2) % 3]
    blunt = np.hypot(one, other) <= BLUNT * side[k]
    axes = [] if blunt else _axes(region)
    if axes:
        return _on_axis(region, axes[0])
    if blunt or abs(one - other) > LEANING * side[k] or not _sees(region, tip, start):
        return _along(region, bow, None)
    return Spines((Spine(bowed(start, tip, bow, region)),))


def _along(region: Polygon, bow: float, waves: int | None) -> Spines:
    axis = long_axis(region)
    turned = np.hypot(*(axis[-1] - axis[0])) / max(path_length(axis), 1e-9)
    if turned > 0.995:  # a straight axis may swing like any other spine
        return Spines((Spine(bowed(axis[0], axis[-1], bow, region)),))
    return Spines((Spine(axis),))


def _wave(region: Polygon, bow: float, waves: int | None) -> Spines:
    loop = mid_loop(region)
    if loop is not None and _is_ring(region, loop) and boundary_distance(region, loop).min() >= LEAST_BAND_MM:
        return Spines((Spine(_wavy_loop(region, loop, waves), closed=True),))
    axis = long_axis(region)
    axis = smooth(axis, path_length(axis) / 60)
    total, width = path_length(axis), _width(region, axis)
    count = waves or max(1, round(total / (WAVE_LENGTH * width)))
    phase = arc_lengths(axis) / total * count
    return Spines((Spine(_swung(region, axis, phase, width, closed=False)),))


def _wavy_loop(region: Polygon, loop: Path, waves: int | None) -> Path:
    width = _width(region, loop)
    even = smooth(loop, 0.25 * width, closed=True, step_mm=width / 40)
    total = path_length(even, closed=True)
    marks = _mitres(region, even)
    sides = np.diff(np.append(marks, marks[0] + total))
    counts = _waves_a_side(sides, WAVE_LENGTH * width, waves)
    s = arc_lengths(even)
    at = np.mod(s - marks[0], total)
    edges = np.concatenate([[0.0], np.cumsum(sides)])
    phase = np.interp(at, edges, np.concatenate([[0.0], np.cumsum(counts)]))
    # nearest to the opening at every mitre: waves mirror about it and the middle of each side, and plumes fan round it
    inwards = 0.75 if _outer_on_left(region, even) else 0.25
    return _swung(region, even, phase + inwards, width, closed=True)


def _outer_on_left(region: Polygon, loop: Path) -> bool:
    # as `_swung` counts left, whether the outline lies there and the opening on the other hand
    heading = tangents(loop, closed=True)[0]
    return not bool(contains(as_region(loop), (loop[0] + 0.5 * np.array([heading[1], -heading[0]]))[None])[0])


def _mitres(region: Polygon, loop: Path) -> FloatArray:
    # distances along the loop that lie under the outer corners; one for a round ring
    corners = corners_of(region)
    s = arc_lengths(loop)
    marks = sorted({float(s[np.argmin(np.hypot(*(loop - c).T))]) for c in corners})
    return np.asarray(marks if len(marks) > 1 else [0.0])


def _waves_a_side(sides: FloatArray, target: float, waves: int | None) -> list[int]:
    """Return whole numbers of waves whose lengths differ least, near the target length."""
    if waves is not None:
        target = float(sides.max()) / waves
        return [max(1, round(side / target)) for side in sides]
    best: tuple[float, list[int]] = (np.inf, [])
    for wanted in target * np.linspace(0.8, 1.25, 46):
        counts = [max(1, round(side / wanted)) for side in sides]
        lengths = sides / counts
        spread = float(lengths.max() / lengths.min()) + 0.05 * abs(np.log(float(lengths.mean()) / target))
        if spread < best[0] - 1e-9:
            best = (spread, counts)
    return best[1]


def _swung(region: Polygon, axis: Path, phase: FloatArray, width: float, *, closed: bool) -> Path:
    # offset of a middle line by a sine of the phase (in waves), no wider than the place allows
    heading = tangents(axis, closed=closed)
    left = np.column_stack([heading[:, 1], -heading[:, 0]])
    room = 2 * np.minimum(boundary_distance(region, axis), 0.6 * width)
    for part in (1.0, 0.7, 0.4, 0.2):
        swing = SWING * part * np.minimum(width, room) * np.sin(2 * np.pi * phase)
        path = smooth(as_path(axis + swing[:, None] * left), width / 20, closed=closed)
        if is_simple(path, closed=closed) and (boundary_distance(region, path)[1:-1] > 0).all():
            return path
    return axis


def _wreath(region: Polygon, bow: float, waves: int | None) -> Spines:
    loop = mid_loop(region)
    middle: Polygon | None = None
    band = region
    if loop is None or not _is_ring(region, loop):
        middle = _open_middle(region)
        band = max(subtract(region, [middle]), key=lambda p: len(p.interiors), default=region)
        loop = mid_loop(band)
    if loop is not None:
        spine = _rounded(band, loop)
        if boundary_distance(band, spine).min() >= LEAST_BAND_MM:
            return Spines((Spine(spine, closed=True),), middle=middle)
    along = _along(region, bow, waves)
    return Spines(along.spines, note="there is no room for a wreath; one spine runs along the space")


def _open_middle(region: Polygon) -> Polygon:
    at, radius = inscribed_circle(region)
    if np.pi * radius**2 >= SQUARISH * region.area:
        centre, _ = _middle_point(region)
        return disc((float(centre[0]), float(centre[1])), MIDDLE * radius)
    core = erode(region, (1 - MIDDLE + 0.15) * radius)
    grown = [g for part in core[:1] for g in dilate(part, 0.15 * radius)]
    return unite(grown)[0] if grown else disc(at, MIDDLE * radius)


def _rounded(region: Polygon, loop: Path) -> Path:
    # as round as the band allows: corners of the middle line would pinch the plumes inside them
    total, width = path_length(loop, closed=True), _width(region, loop)
    for part in (0.5, 0.35, 0.2, 0.1):
        path = smooth(loop, part * width, closed=True, step_mm=total / 400)
        if (boundary_distance(region, path) > 0.6 * boundary_distance(region, loop).min()).all():
            return path
    return loop


def _branching(region: Polygon, bow: float, waves: int | None) -> Spines:
    loop = mid_loop(region)
    if loop is not None and _is_ring(region, loop):
        return with_twigs(region, _wreath(region, bow, waves))
    return _twigged(region, bow, waves, _axes(region)[:1])


def _twigged(region: Polygon, bow: float, waves: int | None, mirror: list[Axis]) -> Spines:
    # on the axis that mirrors the space where that is long enough for a spine
    along = path_length(long_axis(region)) if mirror else 0.0
    own = [_on_axis(region, axis) for axis in mirror if _is_long(region, axis, along)]
    return with_twigs(region, own[0] if own else _along(region, bow, waves))


def _on_axis(region: Polygon, axis: Axis) -> Spines:
    """Return a straight spine on an axis, base in its sharper end, or a pair beside it that end in a notch."""
    _, way = axis
    ends = _axis_ends(region, axis)
    length = math.dist(*ends)
    # how wide the region is a little way in from either end
    inner = [e + 0.15 * (o - e) for e, o in zip(ends, ends[::-1], strict=True)]
    side = np.array([-way[1], way[0]])
    wide = [ray_length(region, p, side) for p in inner]
    start, end = ends if wide[0] < wide[1] or (wide[0] == wide[1] and ends[0][1] > ends[1][1]) else ends[::-1]
    path = resample(np.vstack([start, end]), length / 200)
    return _pair(region, path) or Spines((Spine(path),))


def _pair(region: Polygon, axis: Path) -> Spines | None:
    """Return two spines that mirror each other from the start of an axis, None unless the axis ends in a notch."""
    way = axis[-1] - axis[0]
    way = way / np.hypot(*way)
    side, past = np.array([-way[1], way[0]]), axis[-1] + NOTCH_SHARE * path_length(axis) * way
    wide = NOTCH_SHARE * path_length(axis)
    if not contains(region, np.array([past + wide * side, past - wide * side])).all():
        return None
    halves = cut_by(region, carried_on(region, [axis]))
    if len(halves) != 2:
        return None
    own = long_axis(halves[0])
    own = own if np.hypot(*(own[0] - axis[0])) < np.hypot(*(own[-1] - axis[0])) else own[::-1]
    # from the very start of the axis, over to the middle of the half
    gone = arc_lengths(own)
    half = smooth(as_path(np.vstack([axis[:1], own[gone > PAIR_PARTS * gone[-1]]])), gone[-1] / 12)
    other = half - 2 * ((half - axis[0]) @ side)[:, None] * side
    return Spines((Spine(half), Spine(as_path(other))), fences=(axis,))


SHAPES: Final[dict[str, Callable[[Polygon, float, int | None], Spines]]] = {
    "auto": _auto,
    "corners": _corners,
    "sides": _sides,
    "diagonal": _diagonal,
    "along": _along,
    "wave": _wave,
    "wreath": _wreath,
    "branching": _branching,
}
"""Ways of laying spines by name: a function of region, bow and waves."""
