"""The bed of a feather: where its plumes may lie, how far they reach, how many there are and how wide each is.

All of it is plain geometry of outline and spine, so the number of plumes does not depend on any mesh.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import gaussian_filter1d
from shapely import Polygon

from ...geometry import (
    arc_lengths,
    boundary_distance,
    clip_path,
    closed_up,
    dense,
    erode,
    path_length,
    resample,
    rings,
    signed_area,
    subtract,
    tangents,
    turns,
    unite,
)
from ...geometry import along as along_path
from ...model import FloatArray, Path, as_path
from .growth import Growth
from .settings import LEAST_PLUME_MM, FeatherSettings

__all__ = ["Bed", "Row", "make_bed"]

SLIM = 2.75
"""Length over width of an ordinary plume: under 2 a blob, over 4 a finger."""

EVEN_OUT = 0.8
"""Width grows as this power of length: 1 keeps every plume's shape but crowds tips, 0 keeps every width."""

LEAST_SHARE, MOST_SHARE = 0.3, 2.4
"""Least and greatest width as a share of the ordinary one."""

CURVED = 1.06
"""A plume's middle line over the straight distance from foot to top."""

BASE_SHARE, BASE_MOST = 0.9, 0.12
"""Length of outline on either side of the base that is the first plume's own edge, in ordinary widths (at most this
part of the outline): shorter gives a rainbow of tiny arcs, longer leaves the first plume alone in a long corner."""

LEAST_BASE_MM = 3.0
"""A corner this far from the base ends the first plume's own edge, so that no plume lies along two edges."""

TIP_AHEAD, TIP_ASIDE = 1.45, 0.35
"""Room the last plume needs ahead of the spine's end and beside it, in ordinary widths."""

STEP_MM = 1.5
"""Outline and spine are measured at points this far apart."""

CORNER_ROOM = 0.15
"""A plume that points into a corner may be wider by about this share."""

CONVEX_DEG, REENTRANT_DEG = 50.0, 30.0
"""An outline that turns by this much at a point has a corner there."""


@dataclass(frozen=True, eq=False, slots=True)
class Row:
    """The stretch of outline that one row of plumes ends on.

    Attributes
    ----------
    at : (n,)
        Places along the ring, mm from its start.
    label : (n,)
        Wished label at each: plume k lies between labels k and k + 1.
    width : (n,)
        Wished width of a plume there, mm.
    corners : tuple of (mm along the ring, whether a plume should point into it)
        Corners that the plumes mind.
    count : int
        Number of plumes.
    ahead : (mm along the ring, label) or None
        The place straight ahead of the spine's tip and the middle of the last plume; None for a closed spine.
    """

    at: FloatArray
    label: FloatArray
    width: FloatArray
    corners: tuple[tuple[float, bool], ...]
    count: int
    ahead: tuple[float, float] | None = None


@dataclass(frozen=True, eq=False, slots=True)
class Bed:
    """Region and spine of one feather, ready to be charted.

    Attributes
    ----------
    region : shapely.Polygon
        The growth's region less the clearance.
    spine : Path
        The spine within it, without the room of the last plume.
    rings : tuple of Path
        The outline from the base round; for a closed spine the outline and the hole. All clockwise as seen.
    rows : tuple of Row
        One for each ring.
    ordinary_mm : float
        Width of an ordinary plume.
    """

    region: object
    spine: Path
    rings: tuple[Path, ...]
    rows: tuple[Row, ...]
    ordinary_mm: float


def make_bed(growth: Growth, settings: FeatherSettings) -> Bed | None:
    """Return the bed of a feather, or None when not even three plumes fit."""
    found = [r for r in _cleared(growth, settings.clearance_mm) if len(r.interiors) == int(growth.closed)]
    return (_closed_bed if growth.closed else _open_bed)(growth, found[0], settings) if found else None


def _cleared(growth: Growth, clearance: float) -> list[Polygon]:
    if growth.bare is None:
        return erode(growth.region, clearance)
    whole = unite([growth.region, growth.bare])[0]
    return [p for part in erode(whole, clearance, join="round") for p in subtract(part, [growth.bare])]


def _open_bed(growth: Growth, region, settings: FeatherSettings) -> Bed | None:
    inside = clip_path(growth.spine, region)
    if not inside:
        return None
    spine = np.array(max(inside, key=path_length))
    ring = np.array(rings(region)[0])
    ring, spine = _based(ring, spine, growth.floating, settings.clearance_mm)
    spine = np.array(resample(spine, STEP_MM))
    points = np.array(closed_up(dense(ring, STEP_MM, closed=True)))
    at = arc_lengths(points)
    length = _reach(points, spine, settings.lean, closed=False)
    middle = float(np.median(length))
    ordinary = settings.plume_mm or max(middle / SLIM, LEAST_PLUME_MM)
    spine, ahead_point = _trimmed(spine, region, ring, ordinary)
    if path_length(spine) < ordinary:
        return None
    width = _widths(_reach(points, spine, settings.lean, closed=False), at, ordinary, middle)
    corners = _corners(ring, hole=False)
    base = 0.0 if growth.floating else min(BASE_SHARE * ordinary, BASE_MOST * at[-1])
    turned = [c for c, points_in in corners if points_in and LEAST_BASE_MM < c < at[-1] - LEAST_BASE_MM]
    first, last = min([base, *turned]), max([at[-1] - base, *turned])
    ahead = float(at[np.hypot(*(points - ahead_point).T).argmin()])
    near = [c for c, points_in in corners if points_in and abs(c - ahead) < 0.8 * np.interp(ahead, at, width)]
    ahead = min(near, key=lambda c: abs(c - ahead)) if near else ahead
    row = _open_row(at, width, corners, ahead, (first, last))
    return Bed(region, as_path(spine), (as_path(ring),), (row,), ordinary) if row else None


def _open_row(
    at: FloatArray, width: FloatArray, corners: list[tuple[float, bool]], ahead: float, ends: tuple[float, float]
) -> Row | None:
    places = np.unique(np.concatenate([at[(at > ends[0]) & (at < ends[1])], [*ends, ahead]]))
    width = np.interp(places, at, width)
    grown = _count_up(places, width, corners)
    at_tip = float(np.interp(ahead, places, grown))
    left, right = max(round(at_tip - 0.5), 1), max(round(grown[-1] - at_tip - 0.5), 1)
    middle, count = left + 0.5, left + right + 1
    if not 0.5 < at_tip < grown[-1] - 0.5:
        return None
    label = np.interp(grown, [0.0, at_tip, grown[-1]], [0.0, middle, count])
    return Row(places, label, width, tuple(c for c in corners if ends[0] < c[0] < ends[1]), count, (ahead, middle))


def _closed_bed(growth: Growth, region, settings: FeatherSettings) -> Bed | None:
    spine = np.array(resample(growth.spine, STEP_MM, closed=True))
    spine = spine if signed_area(spine) > 0 else spine[::-1]
    outlines = [r if signed_area(r) > 0 else r[::-1] for r in rings(region)]
    lengths, points, ats = [], [], []
    for ring in outlines:
        p = closed_up(dense(ring, STEP_MM, closed=True))
        points.append(p)
        ats.append(arc_lengths(p))
        lengths.append(_reach(p, spine, settings.lean, closed=True))
    middle = float(np.median(np.concatenate(lengths)))
    ordinary = settings.plume_mm or max(middle / SLIM, LEAST_PLUME_MM)
    rows = []
    for i, (ring, at, length) in enumerate(zip(outlines, ats, lengths)):
        width = _widths(length, at, ordinary, middle)
        corners = _corners(ring, hole=i == 1)
        grown = _count_up(at, width, corners)
        count = max(round(float(grown[-1])), 3)
        rows.append(Row(at, grown * (count / grown[-1]), width, tuple(corners), count))
    return Bed(region, as_path(spine), tuple(as_path(r) for r in outlines), tuple(rows), ordinary)


def _based(ring: FloatArray, spine: FloatArray, floating: bool, clearance: float) -> tuple[FloatArray, FloatArray]:
    # the ring from the base round; a base next to a corner moves into it
    if floating:
        back = spine[0] - tangents(spine)[0] * 10.0 * np.ptp(ring, axis=0).max()
        spine = np.vstack([_first_hit(spine[0], back, ring), spine])
    base = spine[0]
    corner = np.hypot(*(ring - base).T)
    if not floating and corner.min() < 3 * clearance + 1e-6:
        k = int(corner.argmin())
        spine = np.vstack([ring[k], spine[1:]])
        return np.roll(ring, -k, axis=0), spine
    a, b = ring, np.roll(ring, -1, axis=0)
    along = np.clip(((base - a) * (b - a)).sum(axis=1) / ((b - a) ** 2).sum(axis=1), 0, 1)
    foot = a + along[:, None] * (b - a)
    k = int(np.hypot(*(foot - base).T).argmin())
    spine = np.vstack([foot[k], spine[1:]])
    return np.vstack([foot[k], np.roll(ring, -k - 1, axis=0)]), spine


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


def _reach(points: FloatArray, spine: FloatArray, lean: float, *, closed: bool) -> FloatArray:
    """Return how long a leaning plume that ends at each point is, ``(n,)``."""
    s = arc_lengths(spine, closed=closed)
    line = closed_up(spine, closed)
    far = np.hypot(points[:, None, 0] - line[None, :, 0], points[:, None, 1] - line[None, :, 1])
    near = far.argmin(axis=1)
    foot = s[near] - lean * far[np.arange(len(points)), near]
    foot = along_path(spine, foot if closed else np.maximum(foot, 0.0), closed=closed)
    return np.asarray(CURVED * np.hypot(*(points - foot).T))


def _widths(length: FloatArray, at: FloatArray, ordinary: float, middle: float) -> FloatArray:
    w = ordinary * (length / middle) ** EVEN_OUT
    w = np.clip(w, max(LEAST_PLUME_MM, LEAST_SHARE * ordinary), MOST_SHARE * ordinary)
    step = at[-1] / (len(at) - 1)
    smooth = gaussian_filter1d(np.log(w[:-1]), 0.5 * ordinary / step, mode="wrap")
    return np.exp(np.append(smooth, smooth[0]))


def _trimmed(spine: FloatArray, region, ring: FloatArray, ordinary: float) -> tuple[FloatArray, FloatArray]:
    # walk back from the end of the spine until the last plume has room
    reach = 10.0 * np.ptp(ring, axis=0).max()
    ways = tangents(spine)
    aside = boundary_distance(region, spine)
    for k in range(len(spine) - 1, 0, -1):
        ahead = _first_hit(spine[k], spine[k] + reach * ways[k], ring)
        if aside[k] >= TIP_ASIDE * ordinary and np.hypot(*(ahead - spine[k])) >= TIP_AHEAD * ordinary:
            return spine[: k + 1], ahead
    return spine[:1], spine[0]


def _corners(ring: FloatArray, *, hole: bool) -> list[tuple[float, bool]]:
    turn = np.degrees(turns(ring, closed=True)) * (-1 if hole else 1)
    at = arc_lengths(ring, closed=True)
    return [
        (float(at[k]), bool(turn[k] > 0)) for k in range(len(ring)) if turn[k] > CONVEX_DEG or turn[k] < -REENTRANT_DEG
    ]


def _count_up(at: FloatArray, width: FloatArray, corners: list[tuple[float, bool]]) -> FloatArray:
    per_mm = 1.0 / width
    for place, inward in corners:
        if inward:
            per_mm = per_mm * (1.0 - CORNER_ROOM * np.exp(-(((at - place) / width) ** 2)))
    return np.concatenate([[0.0], np.cumsum(np.diff(at) * (per_mm[1:] + per_mm[:-1]) / 2)])
