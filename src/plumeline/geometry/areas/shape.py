"""The look of a region: its corners, how far it reaches, whether another is its image, holes cut open."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import Literal

import numpy as np
import shapely
from numpy.typing import ArrayLike
from shapely import LineString, Polygon

from ...model import FloatArray, Path, as_path
from ..curves.polylines import close_ring, path_length, turns
from .offsets import dilate, erode
from .regions import pieces_of, rings, transform

__all__ = [
    "Motion",
    "arms_of",
    "carried_on",
    "corners_of",
    "halfway",
    "mirror_axes",
    "motion_between",
    "opened",
    "ray_length",
    "same_shape",
    "strip",
    "without_slits",
]

Motion = tuple[FloatArray, FloatArray]
"""A turn or mirroring and a shift: a point ``p`` goes to ``matrix @ p + shift``."""

CORNER_ROUNDING = 0.012
"""Corners rounded or stepped by less than this part of the square root of the area still count as corners."""

MIN_ARMS = 3
"""With fewer arms between its notches a region is a strip, an elbow or a T."""

BRIDGE_MM = 0.8
"""Width of the cut from a hole to the edge (1/32 in): the tops of plumes stop on both sides of it."""


MIRROR_STEP_DEG, MIRROR_OFF, MIRROR_SAG_MM, FEW_CORNERS = 7.5, 0.04, 0.5, 16
"""Axes of a mirrored region are looked for at each of these steps; how much of its area may lie off its image; its
outline is straightened by so much for it; and with no more corners than so many only axes through those are tried."""


def corners_of(region: Polygon, *, least_turn_deg: float = 38.0) -> Path:
    """Return the outer edge's convex corners that turn at least so far, ``(k, 2)``, clockwise as seen.

    Small steps and roundings are taken for one corner (`CORNER_ROUNDING`); each corner returned is the vertex
    of the edge nearest to it. ``(0, 2)`` for a round region.

    Parameters
    ----------
    region : shapely.Polygon
        Its holes are not looked at.
    least_turn_deg : float
        What turns by less is no corner.

    Returns
    -------
    ``(k, 2)`` array
        Vertices of the outer edge.
    """
    coarse = _coarse(region)
    turn = turns(coarse, closed=True)
    return as_path(coarse[turn >= np.radians(least_turn_deg)])


def arms_of(region: Polygon, *, least_turn_deg: float = 38.0) -> tuple[Path, Path]:
    """Return the ends of a region's arms and the notches between them, ``(k, 2)`` each.

    An arm is what lies between two corners of the outer edge that jut inwards; it ends at its convex corner, or half
    way along the edge between its outermost two. The k-th notch follows the k-th arm, clockwise as seen. Both are
    empty for regions with fewer than three arms. Small steps and roundings are passed over as by `corners_of`.

    Parameters
    ----------
    region : shapely.Polygon
        Its holes are not looked at.
    least_turn_deg : float
        What turns by less is no corner.

    Returns
    -------
    ``(k, 2)`` array, ``(k, 2)`` array
        Ends and notches.
    """
    coarse = _coarse(region)
    turn = turns(coarse, closed=True)
    inward = np.flatnonzero(turn <= -np.radians(least_turn_deg))
    if len(inward) < MIN_ARMS:
        return as_path(coarse[:0]), as_path(coarse[:0])
    coarse, turn = np.roll(coarse, -inward[0], axis=0), np.roll(turn, -inward[0])
    inward = np.append(inward - inward[0], len(coarse))
    ends, notches = [], []
    for start, stop in pairwise(inward):
        corners = start + 1 + np.flatnonzero(turn[start + 1 : stop] >= np.radians(least_turn_deg))
        if len(corners):
            edge = LineString(coarse[[corners[0], *range(corners[0], corners[-1] + 1)]])
            ends.append(edge.interpolate(0.5, normalized=True).coords[0])
            notches.append(coarse[stop % len(coarse)])
    few = len(ends) < MIN_ARMS
    return (as_path(coarse[:0]), as_path(coarse[:0])) if few else (as_path(ends), as_path(notches))


def _coarse(region: Polygon) -> FloatArray:
    # the outer edge without its small steps and roundings
    shell = rings(region)[0]
    room = CORNER_ROUNDING * region.area**0.5
    far = int(np.argmax(np.hypot(*(shell - shell.mean(axis=0)).T)))  # a sure corner to start from
    plain = shapely.simplify(LineString(np.vstack([np.roll(shell, -far, axis=0), shell[far]])), room)
    return np.asarray(plain.coords)[:-1]


def halfway(region: Polygon, corners: Path) -> Path:
    """Return the points of the outer edge half way between corners that follow each other, ``(k, 2)``.

    Parameters
    ----------
    region : shapely.Polygon
        Its holes are not looked at.
    corners : (n, 2) array
        As `corners_of` gives them.

    Returns
    -------
    ``(k, 2)`` array
        As many as corners.
    """
    edge = LineString(np.vstack([rings(region)[0], rings(region)[0][:1]]))
    total = edge.length
    at = np.array([edge.project(shapely.Point(c)) for c in corners])
    on = np.roll(at, -1)
    middle = at + np.mod(on - at, total) / 2
    return as_path([edge.interpolate(float(m % total)).coords[0] for m in middle])


def mirror_axes(region: Polygon) -> tuple[FloatArray, list[FloatArray]]:
    """Return the middle of a region's area and the unit ways of the axes through it that mirror the region, best first.

    An axis of a true shape runs through a corner or the middle of a side; where there are more than `FEW_CORNERS`, or
    none of those axes does, every `MIRROR_STEP_DEG` is tried. What does not lie on its own image may be `MIRROR_OFF` of
    the area. Of equally good axes the steepest comes first; no ways where nothing mirrors the region.

    Parameters
    ----------
    region : shapely.Polygon
        Any region.

    Returns
    -------
    ``(2,)`` array, list of ``(2,)`` arrays
        The middle, and a unit vector for each axis.
    """
    centre = np.asarray(region.centroid.coords[0])
    shape = Polygon(shapely.get_coordinates(region.exterior.simplify(MIRROR_SAG_MM)) - centre).buffer(0)
    corners = _coarse(region) - centre
    _, _, principal = np.linalg.svd(corners, full_matrices=False)
    found: list[tuple[float, FloatArray]] = []
    if len(corners) <= FEW_CORNERS:
        found = _mirroring(shape, [*principal, *corners, *((corners + np.roll(corners, -1, axis=0)) / 2)])
    if not found:
        steps = np.radians(np.arange(0.0, 180.0, MIRROR_STEP_DEG))
        found = _mirroring(shape, [*principal, *np.column_stack([np.cos(steps), np.sin(steps)])])
    found.sort(key=lambda f: (round(f[0], 4), -round(abs(float(f[1][1])), 6)))
    apart = np.cos(np.radians(MIRROR_STEP_DEG))
    kept: list[FloatArray] = []
    for _, way in found:
        if all(abs(float(way @ other)) < apart for other in kept):
            kept.append(way)
    return centre, kept


def _mirroring(shape: Polygon, ways: Sequence[FloatArray]) -> list[tuple[float, FloatArray]]:
    """Return which ways through 0, 0 mirror a shape, each as a unit way after the part of the area that lies off."""
    found = []
    angles = {round(float(np.arctan2(y, x)) % np.pi, 9): (x, y) for x, y in ways if np.hypot(x, y) > 0}
    for _, (x, y) in sorted(angles.items()):
        way = np.array([x, y]) / np.hypot(x, y)
        image = transform(shape, 2 * np.outer(way, way) - np.eye(2))
        off = float(shapely.area(shapely.symmetric_difference(shape, image))) / float(shape.area)
        if off < MIRROR_OFF:
            found.append((off, way))
    return found


def ray_length(region: Polygon, start: ArrayLike, heading: ArrayLike) -> float:
    """Return how far a ray from a point runs inside a region before it meets the edge, mm; 0 from outside.

    Parameters
    ----------
    region : shapely.Polygon
        What it runs in.
    start : ``(2,)`` array_like
        Where it begins.
    heading : ``(2,)`` array_like
        Which way it goes, of any length but 0.

    Returns
    -------
    float
        mm.
    """
    origin, way = np.asarray(start, dtype=np.float64), np.asarray(heading, dtype=np.float64)
    left, top, right, bottom = region.bounds
    far = 2 * float(np.hypot(right - left, bottom - top)) + 1.0
    ray = LineString([origin, origin + way / np.hypot(*way) * far])
    hit = shapely.intersection(ray, region)
    best = 0.0
    for part in getattr(hit, "geoms", [hit]):
        if isinstance(part, LineString) and not part.is_empty:
            away = np.hypot(*(np.asarray(part.coords) - origin).T)
            if away.min() < 1e-6:
                best = max(best, float(away.max()))
    return best


def path_distance(point: ArrayLike, paths: Sequence[Path]) -> float:
    """Return the distance from a point to the nearest of some paths, mm; infinite without paths.

    Parameters
    ----------
    point : ``(2,)`` array_like
        A place, mm.
    paths : sequence of (n, 2) arrays
        Open polylines.

    Returns
    -------
    float
        mm.
    """
    at = shapely.Point(np.asarray(point, dtype=np.float64))
    return min((float(LineString(p).distance(at)) for p in paths), default=float("inf"))


def motion_between(
    region: Polygon, spine: Path, other: Polygon, other_spine: Path, *, tolerance_mm: float
) -> Motion | None:
    """Return the turn, or else mirroring, that takes a region with its spine onto another; None if none does.

    Both the spine and the outline must arrive within the tolerance (Hausdorff distance).

    Parameters
    ----------
    region, other : shapely.Polygon
        The one that is moved, and where it is to lie.
    spine, other_spine : (n, 2) array
        A line in each that must come to lie on the other's.
    tolerance_mm : float
        How far what arrives may be off.

    Returns
    -------
    Motion or None
        A matrix and a shift.
    """
    if abs(region.area - other.area) > tolerance_mm * region.length:
        return None
    if abs(path_length(spine) - path_length(other_spine)) > 2 * tolerance_mm:
        return None
    a, b = spine[-1] - spine[0], other_spine[-1] - other_spine[0]
    for mirrored in (False, True):
        matrix = _turn(a, b, mirrored)
        shift: FloatArray = other_spine[0] - matrix @ spine[0]
        image = LineString(spine @ matrix.T + shift)
        if shapely.hausdorff_distance(image, LineString(other_spine)) > tolerance_mm:
            continue
        moved = transform(region, matrix, (float(shift[0]), float(shift[1])))
        if shapely.hausdorff_distance(moved, other) <= tolerance_mm:
            return matrix, shift
    return None


def _turn(a: FloatArray, b: FloatArray, mirrored: bool) -> FloatArray:
    # complex numbers: z -> z b / a, mirrored z -> conj(z) b / conj(a)
    u, v = complex(*a), complex(*b)
    w = v / (u.conjugate() if mirrored else u)
    w /= abs(w)
    if mirrored:
        return np.array([[w.real, w.imag], [w.imag, -w.real]])
    return np.array([[w.real, -w.imag], [w.imag, w.real]])


def opened(region: Polygon, spine: Path, *, closed: bool = False) -> Polygon:
    """Return a region with its holes cut open to the edge by narrow bridges that avoid the spine.

    A bridge leaves a hole on the side away from the spine and is as short as that allows. Round a ``closed``
    spine the largest hole inside it stays, and other holes inside it are joined to that one. A hole whose
    every way out crosses the spine stays.

    Parameters
    ----------
    region : shapely.Polygon
        With holes.
    spine : (n, 2) array
        A line in it that no bridge may cross.
    closed : bool
        Whether the spine leads back to its start.

    Returns
    -------
    shapely.Polygon
        With fewer holes, or none.
    """
    line = LineString(close_ring(spine, closed))
    inside = Polygon(spine) if closed else None
    out = region
    for _ in range(len(region.interiors)):
        cut = _bridge(out, line, inside)
        if cut is None:
            break
        out = pieces_of(shapely.difference(out, shapely.buffer(cut, BRIDGE_MM / 2, cap_style="square")))[0]
    return out


def _bridge(region: Polygon, line: LineString, inside: Polygon | None) -> LineString | None:
    holes = list(region.interiors)
    kept = [k for k, h in enumerate(holes) if inside is not None and inside.contains(h)]
    main = max(kept, key=lambda k: Polygon(holes[k]).area, default=None)
    best: tuple[float, LineString] | None = None
    far = float(region.length)
    for k, hole in enumerate(holes):
        if k == main:
            continue
        goal = LineString(holes[main]) if main is not None and k in kept else LineString(region.exterior)
        middle = np.array(hole.centroid.coords[0])
        for t in np.arange(72) / 72:
            start = hole.interpolate(float(t), normalized=True)
            outward = np.array(start.coords[0]) - middle
            straight = LineString([start, np.array(start.coords[0]) + outward * (10 + far / np.hypot(*outward))])
            hit = shapely.intersection(straight, goal)
            ahead = [] if hit.is_empty else [shapely.shortest_line(start, hit)]
            for way in [shapely.shortest_line(start, goal), *ahead]:
                stays = shapely.length(shapely.intersection(way, region)) > 0.98 * way.length - 1e-9
                cost = way.length - 0.5 * start.distance(line)
                if stays and shapely.distance(way, line) >= BRIDGE_MM and (best is None or cost < best[0] - 1e-9):
                    best = (cost, way)
    return best[1] if best else None


def enclosed(paths: Sequence[Path]) -> list[Polygon]:
    """Return the area that paths enclose, alone or together, largest piece first; loose ends enclose nothing.

    Parameters
    ----------
    paths : sequence of (n, 2) arrays
        Open or closed polylines; a closed one repeats its first point.

    Returns
    -------
    list of shapely.Polygon
        Empty where they enclose nothing.
    """
    noded = shapely.node(shapely.union_all([LineString(p) for p in paths if len(p) > 1]))
    return pieces_of(shapely.union_all(shapely.polygonize(list(getattr(noded, "geoms", [noded])))))


def strip(path: Path, half_width_mm: float, *, round_ends: bool = False) -> list[Polygon]:
    """Return the region within a distance of a path, cut off square at its ends or rounded there.

    Parameters
    ----------
    path : (n, 2) array
        An open polyline.
    half_width_mm : float
        The distance.
    round_ends : bool
        Whether its ends are round.

    Returns
    -------
    list of shapely.Polygon
        Largest first.
    """
    cap: Literal["round", "flat"] = "round" if round_ends else "flat"
    return pieces_of(shapely.buffer(LineString(path), half_width_mm, cap_style=cap, join_style="mitre"))


def without_slits(region: Polygon, radius_mm: float) -> list[Polygon]:
    """Return a region without fingers narrower than twice the radius; corners stay sharp.

    Points are rounded to `SNAP_MM`, so that edges that came back almost where they were leave no steps.

    Parameters
    ----------
    region : shapely.Polygon
        Any region.
    radius_mm : float
        Half the width of a finger.

    Returns
    -------
    list of shapely.Polygon
        Each valid; empty where all of it is thin.
    """
    swept = [p for core in erode(region, radius_mm) for p in dilate(core, radius_mm, join="mitre")]
    return [p for s in swept for p in pieces_of(shapely.set_precision(shapely.intersection(s, region), SNAP_MM))]


SNAP_MM = 1e-4
"""Steps in an outline smaller than this are rounding."""

NEAR_FENCE_MM = 1.5
"""A fence's end this near to another fence or the edge was meant to reach it."""

PAST_MM = 1e-3
"""Fences are carried on this far past what they reach, so that rounding leaves no gap."""


def carried_on(region: Polygon, fences: Sequence[Path]) -> list[Path]:
    """Return fences whose loose ends inside a region are carried on to the edge or the next fence.

    An end within `NEAR_FENCE_MM` of another fence is drawn to it; any other is carried on straight ahead. A
    fence that never meets the region comes back as it is.

    Parameters
    ----------
    region : shapely.Polygon
        The space that they part.
    fences : sequence of (n, 2) arrays
        Polylines.

    Returns
    -------
    list of (n, 2) arrays
        As many, in their order.
    """
    lines = [LineString(path) for path in fences]
    out = []
    for k, path in enumerate(fences):
        others = [line for i, line in enumerate(lines) if i != k]
        start = _carried(region, path[0], path[0] - path[1], others)
        end = _carried(region, path[-1], path[-1] - path[-2], others)
        out.append(as_path(np.vstack([start, path, end])))
    return out


def _carried(region: Polygon, end: FloatArray, heading: FloatArray, others: list[LineString]) -> FloatArray:
    point = shapely.Point(end)
    if not region.contains(point):
        return np.zeros((0, 2))
    unit = heading / max(float(np.hypot(*heading)), 1e-12)
    near = min(others, key=lambda line: float(line.distance(point)), default=None)
    if near is not None and near.distance(point) <= NEAR_FENCE_MM:
        to = np.asarray(shapely.shortest_line(point, near).coords[1])
        gap = float(np.hypot(*(to - end)))
        return np.asarray([to + ((to - end) / gap if gap > PAST_MM else unit) * PAST_MM])
    ahead = ray_length(region, end, unit)
    ray = LineString([end, end + unit * ahead])
    met = [float(point.distance(ray.intersection(line))) for line in others if ray.intersects(line)]
    return np.asarray([end + unit * (min([ahead, *met]) + PAST_MM)])


def same_shape(region: Polygon, other: Polygon, *, within_mm: float) -> bool:
    """Return whether a region, turned and moved but not mirrored, covers another to within a distance.

    The corner farthest from the middle is laid on each corner of the other that lies as far out; O(n^2) in corners.

    Parameters
    ----------
    region, other : shapely.Polygon
        Two regions.
    within_mm : float
        How far their edges may lie apart.

    Returns
    -------
    bool
        True where one covers the other.
    """
    if abs(region.area - other.area) > within_mm * (region.length + other.length) / 2:
        return False
    a, b = (np.asarray(r.exterior.coords)[:-1] - np.asarray(r.centroid.coords)[0] for r in (region, other))
    far = np.hypot(b[:, 0], b[:, 1])
    first = a[int(np.argmax(np.hypot(a[:, 0], a[:, 1])))]
    out = float(np.hypot(*first))
    moved = transform(region, np.eye(2), tuple(-np.asarray(region.centroid.coords)[0]))
    still = transform(other, np.eye(2), tuple(-np.asarray(other.centroid.coords)[0]))
    for corner in b[np.abs(far - out) <= within_mm]:
        turned = transform(moved, _turn(first, corner, False), (0.0, 0.0))
        if shapely.hausdorff_distance(turned, still) <= within_mm:
            return True
    return False
