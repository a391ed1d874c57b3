"""Straight-sided swirls for triangles and other convex polygons."""

from __future__ import annotations

import numpy as np
from shapely import Polygon

from ...geometry import rings, simplify_path, turns
from ...model import FloatArray

__all__ = ["corners_of", "swirl"]

MOST_SIDES = 12
"""With more sides a swirl no longer reads as straight."""


def corners_of(region: Polygon, *, tolerance_mm: float) -> FloatArray | None:
    """Return the corners of a convex polygon without holes, clockwise as seen, or None for any other shape.

    Wobble below the tolerance is taken out.
    """
    if region.interiors:
        return None
    outline = rings(region)[0]
    start = int(np.argmax(np.abs(turns(outline, closed=True))))
    corners = simplify_path(np.roll(outline, -start, axis=0), tolerance_mm, closed=True)
    if not 3 <= len(corners) <= MOST_SIDES or (turns(corners, closed=True) <= 0).any():
        return None
    return np.asarray(corners)


def swirl(corners: FloatArray, spacing: float, deepest: float, *, arms: int, first: int = 0) -> FloatArray | None:
    """Return a spiral of straight sides; None when not one turn goes in.

    Parameters
    ----------
    corners : (n, 2)
        Of a convex polygon, clockwise as seen.
    deepest : float
        Radius of the largest circle inside.
    arms : {1, 2}
        Two: in and out again, the second arm one spacing deeper. One: ends in the middle.
    first : int
        The side along which it starts.

    Notes
    -----
    Side number J of an arm runs parallel to side ``J mod n`` at a depth that grows by ``arms`` spacings a turn;
    its corners are where consecutive sides meet.
    """
    count = len(corners)
    order = np.roll(corners, -first, axis=0)

    def arm(lead: float) -> FloatArray:
        sides = np.arange(0, int((deepest / spacing / arms + 1) * count) + 1)
        depth = lead + arms * spacing * sides / count
        sides = sides[depth < deepest - 0.2 * spacing]
        return _meets(order, sides, depth[: len(sides)]) if len(sides) else corners[:0]

    one = arm(spacing / 2)
    if len(one) < count:
        return None
    if arms == 1:
        return one
    two = arm(1.5 * spacing)
    return np.vstack([one, two[::-1]]) if len(two) >= 2 else None


def _meets(corners: FloatArray, sides: np.ndarray, depth: FloatArray) -> FloatArray:
    count = len(corners)
    way = np.roll(corners, -1, axis=0) - corners
    way = way / np.hypot(way[:, 0], way[:, 1])[:, None]
    inward = np.column_stack([-way[:, 1], way[:, 0]])
    k = sides % count
    base = corners[k] + inward[k] * depth[:, None]
    a, b = base[:-1], base[1:]
    u, v = way[k[:-1]], way[k[1:]]
    across = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
    t = ((b - a)[:, 0] * v[:, 1] - (b - a)[:, 1] * v[:, 0]) / across
    met = a + u * t[:, None]
    # from where the side at the edge would begin
    start = corners[k[0]] + inward[k[0]] * depth[0]
    return np.vstack([start, met])
