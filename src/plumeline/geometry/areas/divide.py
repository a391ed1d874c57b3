"""Divide regions: frame, square on point, circle, wedges, grid, line. Also joined regions and laid-over shapes.

Every division takes one region and returns a `Division`: its parts in their order, and what is left over. The
parts and the rest never overlap and together are the region (pieces below `SLIVER_MM2` aside). Divisions follow
the region as it is: a crooked block gets a crooked frame, a square on point between the middles of its real
sides, and rows that run from side to side.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from ...model import FloatArray, Frame
from ..curves.polylines import arc_lengths, dedupe, densify, path_length, point_at, rotate_start, signed_area, turns
from .clipping import clip_path
from .offsets import dilate, erode
from .pieces import cut_by
from .regions import (
    as_region,
    bounds,
    contains,
    disc,
    inscribed_circle,
    intersect,
    pieces_of,
    rings,
    subtract,
    unite,
)
from .trued import straightened

__all__ = [
    "Division",
    "corners_of",
    "divide_by_circle",
    "divide_by_frame",
    "divide_by_grid",
    "divide_by_line",
    "divide_on_point",
    "divide_wedges",
    "join_regions",
    "laid_shape",
    "meeting_point",
    "middle_of",
]

CORNER_TURN_DEG = 40.0
"""A vertex that turns by more is a corner. Flattening an arc at `CORNER_LEVEL` turns by 33 degrees at most."""

CORNER_LEVEL = 0.04
"""Share of the inscribed radius by which a side may waver (1/4 in on a 12 in block) and still be one side."""

CENTRED = 0.999
"""The centroid is the middle of a region when its distance from the edge is this share of the inscribed radius."""

STRAIGHT_MM = 1e-3
"""A vertex of a joined outline this close to the line through its neighbours is the end of a seam inside: it goes."""

TOP_LEFT = np.array([1.0, 1.5])
"""The first corner lies least far this way: top left in a block, the top in a block on point, crooked or not."""

ROWS_RISE_DEG = 10.0
"""The top side runs most to the right and this much up: in a block on point, crooked or not, the one that rises."""

TO_THE_SIDE_MM = 0.02
"""How far beside a dividing line its two sides are looked up; less than any part worth stitching."""


@dataclass(frozen=True, slots=True, eq=False)
class Division:
    """The parts of a division, each as its pieces, and the pieces of what is left over."""

    parts: tuple[tuple[Polygon, ...], ...]
    rest: tuple[Polygon, ...] = ()


def join_regions(regions: Sequence[Polygon], *, gap_mm: float = 0.05) -> list[Polygon]:
    """Return the union of regions without the seams between them, largest first.

    Gaps and slits up to ``gap_mm`` wide between them are closed; everything else stays where it is.

    Parameters
    ----------
    regions : sequence of shapely.Polygon
        Any number of them.
    gap_mm : float
        Gaps up to so wide are closed.

    Returns
    -------
    list of shapely.Polygon
        Empty for no regions.
    """
    joined = unite(regions)
    if len(joined) > 1 or any(piece.interiors for piece in joined):
        half = gap_mm / 2
        grown = dilate(shapely.union_all(list(regions)), half, join="mitre")
        closed = [piece for one in grown for piece in erode(one, half)]
        if len(closed) != len(joined) or sum(map(_holes, closed)) != sum(map(_holes, joined)):
            joined = closed
    return pieces_of(shapely.union_all([_straightened(piece) for piece in joined]))


def _holes(region: Polygon) -> int:
    return len(region.interiors)


def _straightened(region: Polygon) -> Polygon:
    # Twice, from another start: simplifying never drops the vertex a ring starts at.
    once = shapely.simplify(region, STRAIGHT_MM)
    shell, *holes = rings(once)
    again = shapely.simplify(Polygon(rotate_start(shell, 1), [rotate_start(h, 1) for h in holes]), STRAIGHT_MM)
    return again if again.is_valid and isinstance(again, Polygon) else region


def middle_of(region: Polygon) -> tuple[tuple[float, float], float]:
    """Return the middle of a region, its holes filled, and the radius of the largest circle that fits there.

    The middle is the centroid where a largest circle fits round it (squares, strips, crooked blocks, rings),
    else the middle of the largest circle (an L).

    Parameters
    ----------
    region : shapely.Polygon
        Its holes are not looked at.

    Returns
    -------
    (x, y), float
        The middle and that radius, mm.
    """
    filled = Polygon(region.exterior)
    centre, radius = inscribed_circle(filled)
    middle = filled.centroid
    if filled.contains(middle) and filled.boundary.distance(middle) >= CENTRED * radius:
        return (float(middle.x), float(middle.y)), radius
    return centre, radius


def corners_of(region: Polygon) -> tuple[FloatArray, FloatArray]:
    """Return the corners of a region's outer edge, ``(k, 2)``, clockwise as seen, and each one's turn in degrees.

    Wavering sides count as straight and curves have no corners; turns into the region are negative.
    """
    _, radius = inscribed_circle(region)
    shell = rings(region)[0]
    far = int(np.argmax(np.hypot(*(shell - shell.mean(axis=0)).T)))  # surely a corner if there is any
    ring = shapely.simplify(Polygon(rotate_start(shell, far)), CORNER_LEVEL * radius)
    if not isinstance(ring, Polygon) or ring.is_empty:
        return np.zeros((0, 2)), np.zeros(0)
    points = np.asarray(ring.exterior.coords)[:-1]
    points = points if signed_area(points) > 0 else points[::-1]
    turn = np.degrees(turns(points, closed=True))
    sharp = np.abs(turn) > CORNER_TURN_DEG
    return points[sharp], turn[sharp]


def divide_by_frame(region: Polygon, width_mm: float, *, straight: bool = False) -> Division:
    """Divide into a strip along every edge (holes too) and what it encloses.

    ``straight``: what it encloses has straight and true sides, the width counted from where they would touch the edge.

    Parameters
    ----------
    region : shapely.Polygon
        What is divided.
    width_mm : float
        Of the strip.
    straight : bool
        Whether what it encloses is made true.

    Returns
    -------
    Division
        Its parts, each as its pieces, and what is left over.
    """
    true = straightened(region, inside=True) if straight else None
    rest = erode(region if true is None else true, width_mm)
    return Division((tuple(subtract(region, rest)),), tuple(rest))


def divide_on_point(region: Polygon, *, apart: bool = False) -> Division:
    """Divide into corners and the square on point between the middles of the sides.

    A shape of n sides gives n corners, clockwise from the top left; a triangle leaves a triangle. ``apart``: each
    corner is a part of its own, else all are one part.

    Parameters
    ----------
    region : shapely.Polygon
        What is divided.
    apart : bool
        Whether each corner is a part of its own.

    Returns
    -------
    Division
        Its parts, each as its pieces, and what is left over.

    Raises
    ------
    ValueError
        The outer edge has fewer than three corners, or one that points inwards.
    """
    points, turn = corners_of(region)
    if len(points) < 3 or (turn < 0).any():
        kind = "has a corner that points inwards" if (turn < 0).any() else f"has {len(points)} corners"
        raise ValueError(f"{kind}; a square on point needs a shape of straight sides whose corners all point outwards")
    sides = _sides(region, points)
    before, after = zip(*(_halves(side) for side in sides))
    first = int(np.argmin(points @ TOP_LEFT))
    order = [(first + k) % len(points) for k in range(len(points))]
    corners: list[tuple[Polygon, ...]] = []
    edge = np.vstack([np.vstack([one[:-1], other[:-1]]) for one, other in zip(before, after)])
    rest = [Polygon(edge, [np.asarray(hole.coords) for hole in region.interiors])]  # the middles are vertices now
    for k in order:  # cut off one by one: they share points, and rounding must not join or overlap them
        corner = pieces_of(Polygon(np.vstack([after[k - 1], before[k][1:]])))
        corners.append(tuple(p for piece in rest for c in corner for p in intersect(piece, c)))
        rest = [p for piece in rest for p in subtract(piece, corner)]
    if apart:
        return Division(tuple(corners), tuple(rest))
    return Division((tuple(p for corner in corners for p in corner),), tuple(rest))


def _halves(side: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return a side up to its middle and from there on."""
    at = arc_lengths(side)
    middle, first = point_at(side, [at[-1] / 2]), int(np.searchsorted(at, at[-1] / 2, side="right"))
    return dedupe(np.vstack([side[:first], middle])), dedupe(np.vstack([middle, side[first:]]))


def _sides(region: Polygon, corners: FloatArray) -> list[FloatArray]:
    """Return the outer edge from corner to corner, clockwise, as it really runs."""
    shell = rings(region)[0]
    at = [int(np.argmin(np.hypot(*(shell - corner).T))) for corner in corners]
    ring = np.vstack([shell, shell])
    return [ring[a : (b if b > a else b + len(shell)) + 1] for a, b in zip(at, at[1:] + at[:1])]


def divide_by_circle(region: Polygon, radius_mm: float | None = None, *, fit_percent: float = 100.0) -> Division:
    """Divide into what lies outside a circle round the middle and what lies inside.

    Without a radius the circle is ``fit_percent`` of the largest that goes in.

    Parameters
    ----------
    region : shapely.Polygon
        What is divided.
    radius_mm : float, optional
        Of the circle.
    fit_percent : float
        Size of the circle where no radius is said.

    Returns
    -------
    Division
        Its parts, each as its pieces, and what is left over.
    """
    centre, largest = middle_of(region)
    inside = disc(centre, largest * fit_percent / 100.0 if radius_mm is None else radius_mm)
    return Division((tuple(subtract(region, [inside])),), tuple(intersect(region, inside)))


def divide_wedges(region: Polygon, count: int) -> Division:
    """Divide into wedges of equal angle round the middle (see `middle_of`), clockwise from straight up.

    Parameters
    ----------
    region : shapely.Polygon
        What is divided.
    count : int
        How many.

    Returns
    -------
    Division
        Its parts, each as its pieces, and what is left over.
    """
    centre, _ = middle_of(region)
    reach = _reach(region)
    parts = []
    for k in range(count):
        arc = np.radians(np.linspace(k, k + 1, 2 + 8 // count) * 360.0 / count)
        rim = np.asarray(centre) + reach * np.column_stack([np.sin(arc), -np.cos(arc)])
        parts.append(tuple(intersect(region, Polygon([centre, *rim]))))
    return Division(tuple(parts))


def divide_by_grid(region: Polygon, rows: int, cols: int) -> Division:
    """Divide into cells, row by row from the top left.

    In a shape of four corners the rows and columns run from side to side at equal shares of its sides;
    in any other they divide the rectangle round it.

    Parameters
    ----------
    region : shapely.Polygon
        What is divided.
    rows, cols : int
        How many.

    Returns
    -------
    Division
        Its parts, each as its pieces, and what is left over.
    """
    top, right, bottom, left = _four_sides(region)
    reach = _reach(region)
    across = [_line_between(left, right, k / rows, reach) for k in range(1, rows)]
    down = [_line_between(top, bottom, k / cols, reach) for k in range(1, cols)]
    bands = _bands(region, across, reach)
    return Division(tuple(tuple(cell) for band in bands for cell in _split(band, down, reach)))


def _four_sides(region: Polygon) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Return the top and bottom side from left to right, the right and left one from top to bottom."""
    points, turn = corners_of(region)
    if len(points) == 4 and (turn > 0).all():
        sides = _sides(region, points)
        heading = [math.degrees(math.atan2(*(s[-1] - s[0])[::-1])) for s in sides]
        first = int(np.argmin([abs((h + ROWS_RISE_DEG + 180.0) % 360.0 - 180.0) for h in heading]))
        top, right, bottom, left = (sides[(first + k) % 4] for k in range(4))
        return top, right, bottom[::-1], left[::-1]
    x0, y0, x1, y1 = bounds(region)
    a, b, c, d = (np.array(p) for p in ((x0, y0), (x1, y0), (x1, y1), (x0, y1)))
    return np.array([a, b]), np.array([b, c]), np.array([d, c]), np.array([a, d])


def _line_between(one: FloatArray, other: FloatArray, share: float, reach: float) -> FloatArray:
    """Return the straight line between two sides at a share of each, drawn out beyond the region."""
    ends = np.vstack([point_at(side, [share * path_length(side)]) for side in (one, other)])
    heading = (ends[1] - ends[0]) / np.hypot(*(ends[1] - ends[0]))
    return np.vstack([ends[0] - reach * heading, ends[1] + reach * heading])


def _bands(region: Polygon, lines: Sequence[FloatArray], reach: float) -> list[list[Polygon]]:
    return _split([region], lines, reach, side=-1.0)


def _split(
    pieces: Sequence[Polygon], lines: Sequence[FloatArray], reach: float, *, side: float = 1.0
) -> list[list[Polygon]]:
    """Return what lies before the first line, between each two, and after the last."""
    out, left = [], list(pieces)
    for line in lines:
        heading = (line[1] - line[0]) / np.hypot(*(line[1] - line[0]))
        away = side * reach * np.array([-heading[1], heading[0]])
        before = Polygon([*line, line[1] + away, line[0] + away])
        out.append([p for piece in left for p in intersect(piece, before)])
        left = [p for piece in left for p in subtract(piece, [before])]
    return [*out, left]


def divide_by_line(region: Polygon, line: FloatArray) -> Division:
    """Divide into the two sides of a line: first the side to its left as it is drawn, then the right.

    An end inside the region is drawn on, straight, to the edge. A line that returns to its start divides into
    inside and outside.

    Parameters
    ----------
    region : shapely.Polygon
        What is divided.
    line : (n, 2) array
        A polyline.

    Returns
    -------
    Division
        Its parts, each as its pieces, and what is left over.

    Raises
    ------
    ValueError
        The line leaves the region in one piece.
    """
    path = np.asarray(line, dtype=np.float64)
    if len(path) > 3 and np.allclose(path[0], path[-1], atol=1e-6):
        loop = as_region(path[:-1])
        parts = (tuple(intersect(region, loop)), tuple(subtract(region, [loop])))
    else:
        path = _drawn_on(region, _drawn_on(region, path)[::-1])[::-1]
        parts = _beside(region, path)
    if not all(parts):
        raise ValueError("is not crossed by the line; it must run from edge to edge")
    return Division(parts)


def _drawn_on(region: Polygon, path: FloatArray) -> FloatArray:
    """Return the path with its last end drawn on past the outer edge, over holes, if it ends within it."""
    filled, end = Polygon(region.exterior), path[-1]
    if not contains(filled, [end])[0]:
        return path
    heading = (end - path[-2]) / np.hypot(*(end - path[-2]))
    ray = np.vstack([end, end + _reach(region) * heading])
    inside = [s[-1] for s in clip_path(ray, filled) if np.hypot(*(s[0] - end)) < TO_THE_SIDE_MM]
    return np.vstack([path, (inside[0] if inside else end) + heading])


def _beside(region: Polygon, path: FloatArray) -> tuple[tuple[Polygon, ...], tuple[Polygon, ...]]:
    steps = densify(path, 2.0)
    middle, heading = (steps[1:] + steps[:-1]) / 2, np.diff(steps, axis=0)
    length = np.hypot(*heading.T)
    normal = TO_THE_SIDE_MM * np.column_stack([heading[:, 1], -heading[:, 0]]) / length[:, None]
    left: list[Polygon] = []
    right: list[Polygon] = []
    for face in cut_by(region, [path]):
        lean = length[contains(face, middle + normal)].sum() - length[contains(face, middle - normal)].sum()
        (left if lean > 0 else right).append(face)
    return tuple(left), tuple(right)


def _reach(region: Polygon) -> float:
    x0, y0, x1, y1 = bounds(region)
    return 4.0 * math.hypot(x1 - x0, y1 - y0) + 1.0


def laid_shape(
    kind: str,
    centre: tuple[float, float] | None,
    *,
    width_mm: float = 0.0,
    height_mm: float = 0.0,
    points: Sequence[tuple[float, float]] = (),
    turn_deg: float = 0.0,
) -> Polygon:
    """Return a shape to lay over seams: see `plumeline.specs.ShapeSpec` for kinds and sizes.

    Parameters
    ----------
    kind : str
        What it is.
    centre : (float, float), optional
        Its middle; a polygon has none.
    width_mm, height_mm : float
        Across and down, before it is turned.
    points : sequence of (float, float)
        Corners of a polygon.
    turn_deg : float
        Against the clock as seen.

    Returns
    -------
    shapely.Polygon
        On the page.

    Raises
    ------
    ValueError
        The points of a polygon are not one plain outline.
    """
    if kind == "polygon":
        region = as_region(np.asarray(points, dtype=np.float64))
        middle = region.centroid
        frame = Frame((float(middle.x), float(middle.y)), turn_deg)
        return as_region(frame.to_page(rings(region)[0] - np.asarray(frame.origin)))
    frame = Frame(centre or (0.0, 0.0), turn_deg + (45.0 if kind == "on-point" else 0.0))
    half = np.array([width_mm, height_mm]) / 2
    if kind in ("circle", "oval"):
        round_one = rings(disc((0.0, 0.0), float(half.max())))[0]
        return as_region(frame.to_page(round_one * half / half.max()))
    return as_region(frame.to_page(np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)]) * half))


def meeting_point(regions: Sequence[Polygon], *, within_mm: float = 0.5) -> tuple[float, float] | None:
    """Return the place where regions meet: their common corner, or the middle of their common seam; else None.

    Parameters
    ----------
    regions : sequence of shapely.Polygon
        Two or more.
    within_mm : float
        Corners nearer than this are one.

    Returns
    -------
    (x, y) or None
        None where they do not meet in one place.
    """
    shared: BaseGeometry = shapely.buffer(regions[0], within_mm, join_style="mitre")
    for other in regions[1:]:
        shared = shapely.intersection(shared, shapely.buffer(other, within_mm, join_style="mitre"))
    if shared.is_empty:
        return None
    middle = shared.centroid
    return float(middle.x), float(middle.y)
