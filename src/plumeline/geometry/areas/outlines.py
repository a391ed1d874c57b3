"""Whether a drawn outline is one sound region, and mending what a stated distance can mend."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from shapely import LinearRing, Polygon
from shapely.geometry.base import BaseGeometry

from ...model import FloatArray, Path, as_path
from ..engine import geometries, line_string
from .regions import as_region, fault_at, pieces_of

__all__ = ["check_rings", "inside_ring", "simplify_together", "sound_outline", "tidy_regions"]

MOST_POINTS = 20_000
"""Points of one outline: a feather's edge, sampled to a tenth of a thread, has a third of that."""

MOST_CROSSINGS = 20_000
"""An outline that crosses itself more often is a scribble; mending takes time and memory by the square of it."""

MOST_PAIRS = 100_000
"""Pairs of outlines of one shape whose boxes touch."""

SIDES_AT_ONCE = 100
"""Sides whose crossings are counted together."""

AT_ONCE = 2_000_000
"""Pairs of a point and a side looked at together: some 50 MB."""


def sound_outline(
    shell: FloatArray, holes: Sequence[FloatArray] = (), *, within_mm: float = 0.0
) -> tuple[Polygon, float]:
    """Return the region inside a drawn outline, and the area that mending it changed (0: nothing to mend).

    A ring that crosses itself is mended when no point of it has to move further than ``within_mm``; shell and
    holes are mended apart, for mending them together gives wrong areas.

    Parameters
    ----------
    shell : (n, 2) array
        Closed, first point repeated or not.
    holes : sequence of (n, 2) arrays
        Outlines inside it.
    within_mm : float
        How far a point may move to mend it.

    Returns
    -------
    shapely.Polygon, float
        The region, and mm2 of change.

    Raises
    ------
    ValueError
        The outline is no one region and can't be mended; the message says what is wrong, and where in mm.
    """
    if holes and all(len(r) > 2 for r in (shell, *holes)):
        whole = Polygon(shell, holes)
        if whole.is_valid and whole.area > 0:  # a hole may touch the outline, or another, at a point
            return as_region(shell, holes), 0.0
    outer, change = _sound_ring(shell, "its outline", within_mm)
    inner = []
    for hole in holes:
        region, changed = _sound_ring(hole, "a hole in it", within_mm)
        inner.append(region)
        change += changed
    for k, region in enumerate(inner):
        x, y = region.representative_point().coords[0]
        where = f"the hole at {x:.1f}, {y:.1f} mm"
        if not shapely.contains_properly(outer, region):
            raise ValueError(f"{where} touches, crosses or leaves its outline; a hole must lie inside")
        if any(shapely.intersects(region, other) for other in inner[:k]):
            raise ValueError(f"{where} touches or crosses another hole")
    if not inner:
        return outer, change
    return as_region(
        np.asarray(outer.exterior.coords)[:-1], [np.asarray(h.exterior.coords)[:-1] for h in inner]
    ), change


def _sound_ring(ring: FloatArray, what: str, within: float) -> tuple[Polygon, float]:
    if len(ring) < 3:
        raise ValueError(f"{what} has fewer than three corners")
    if len(ring) > MOST_POINTS:
        raise ValueError(f"{what} has {len(ring):,} points; must have at most {MOST_POINTS:,}")
    drawn = Polygon(ring)
    if drawn.is_valid and drawn.area > 0:
        return as_region(drawn), 0.0
    if _crosses_often(ring):
        raise ValueError(f"{what} crosses itself more than {MOST_CROSSINGS:,} times")
    mended = pieces_of(shapely.make_valid(drawn, method="structure", keep_collapsed=False), sliver_mm2=0.0)
    if not mended:
        raise ValueError(f"{what} encloses no area")
    strays = float(shapely.hausdorff_distance(drawn.exterior, mended[0].exterior))
    if strays <= within:
        return mended[0], abs(mended[0].area - abs(drawn.area))
    raise ValueError(f"{what} crosses or doubles back on itself{fault_at(drawn)}")


def check_rings(rings: Sequence[FloatArray]) -> None:
    """Check that closed paths drawn as one shape can be told apart in a time and memory that fit a laptop.

    Parameters
    ----------
    rings : sequence of (n, 2) arrays
        Closed paths, first point not repeated.

    Raises
    ------
    ValueError
        One of them crosses itself too often, or too many lie one within another.
    """
    if len(rings) > 1:
        low, high = np.array([r.min(axis=0) for r in rings]), np.array([r.max(axis=0) for r in rings])
        tree = shapely.STRtree(shapely.box(*low.T, *high.T))
        found = 0
        for k in range(0, len(rings), SIDES_AT_ONCE):
            found += tree.query(shapely.box(*low[k : k + SIDES_AT_ONCE].T, *high[k : k + SIDES_AT_ONCE].T)).shape[1]
            if found > MOST_PAIRS:
                raise ValueError(f"holds {len(rings):,} outlines, too many of them over or within one another")
    for ring in rings:
        if len(ring) > 2 and not Polygon(ring).is_valid and _crosses_often(ring):
            raise ValueError(f"crosses itself more than {MOST_CROSSINGS:,} times")


def _crosses_often(ring: FloatArray) -> bool:
    """Whether a closed path crosses itself more than `MOST_CROSSINGS` times; it stops counting there."""
    sides = geometries(shapely.linestrings(np.stack([ring, np.roll(ring, -1, axis=0)], axis=1)))
    tree, found = shapely.STRtree(sides.tolist()), 0
    for k in range(0, len(sides), SIDES_AT_ONCE):
        some = sides[k : k + SIDES_AT_ONCE]
        found += tree.query(some, predicate="intersects").shape[1] - 3 * len(some)  # itself and its two neighbours
        if found > 2 * MOST_CROSSINGS:  # each is met from both sides
            return True
    return False


def tidy_regions(shell: FloatArray, holes: Sequence[FloatArray] = ()) -> list[Polygon]:
    """Return the regions of rings that small moves may have made touch themselves, largest first.

    Several where a neck has closed: each side of it is still there. None when nothing is left.

    Parameters
    ----------
    shell : (n, 2) array
        Closed, first point repeated or not.
    holes : sequence of (n, 2) arrays
        Outlines inside it.

    Returns
    -------
    list of shapely.Polygon
        Each valid.
    """
    if len(shell) < 3:
        return []
    whole = Polygon(shell, [h for h in holes if len(h) > 2])
    if whole.is_valid and whole.area > 0:
        return [whole]
    left = shapely.make_valid(Polygon(shell), method="structure", keep_collapsed=False)
    inner = [Polygon(h) for h in holes if len(h) > 2]
    if inner:
        mended = shapely.make_valid(geometries(inner), method="structure", keep_collapsed=False)
        left = shapely.difference(left, shapely.union_all(mended))
    return pieces_of(left, sliver_mm2=0.0)


def simplify_together(paths: Sequence[FloatArray], closed: Sequence[bool], within_mm: float) -> list[Path]:
    """Return the paths of one shape with the points left out that they stray from by at most ``within_mm``.

    None crosses itself or another that did not do so before; a path never loses so many points that it is none.

    Parameters
    ----------
    paths : sequence of (n, 2) arrays
        Of one shape.
    closed : sequence of bool
        Whether each leads back to its start.
    within_mm : float
        How far each may stray from the old one.

    Returns
    -------
    list of (n, 2) arrays
        As many, in their order.
    """
    drawn: list[BaseGeometry] = [LinearRing(p) if c else line_string(p) for p, c in zip(paths, closed)]
    plain = shapely.get_parts(shapely.simplify(shapely.geometrycollections(drawn), within_mm, preserve_topology=True))
    found = [np.asarray(line.coords)[: -1 if c else None] for line, c in zip(plain, closed)]
    return [as_path(xy if len(xy) > 1 + c else p) for xy, p, c in zip(found, paths, closed)]


def inside_ring(ring: FloatArray, points: FloatArray) -> np.ndarray:
    """Return for each point whether a closed path goes round it an odd number of times, ``(n,)`` bool.

    The ring need not be simple; a point on it may fall on either side.

    Parameters
    ----------
    ring : (n, 2) array
        Closed, first point not repeated.
    points : (n, 2) array
        Places, mm.

    Returns
    -------
    ``(n,)`` array of bool
        In the order of the points.
    """
    xy = np.asarray(points, dtype=np.float64)
    at_once = max(1, AT_ONCE // max(len(ring), 1))
    return np.concatenate(
        [_inside_ring(ring, xy[k : k + at_once]) for k in range(0, len(xy), at_once)] or [np.zeros(0, dtype=bool)]
    )


def _inside_ring(ring: FloatArray, points: FloatArray) -> np.ndarray:
    a, b = np.asarray(ring), np.roll(ring, -1, axis=0)
    x, y = points.T[:, :, None]
    spans = (a[:, 1] > y) != (b[:, 1] > y)
    rise = np.where(a[:, 1] == b[:, 1], 1.0, b[:, 1] - a[:, 1])
    beyond = x < a[:, 0] + (b[:, 0] - a[:, 0]) * (y - a[:, 1]) / rise
    return np.asarray((spans & beyond).sum(axis=1) % 2 == 1)
