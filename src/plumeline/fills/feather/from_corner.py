"""Spines that start in one corner of a space: one and its twigs, or a fan."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import numpy as np
from shapely import Polygon

from ...geometry import corners_of, nearest_on, point_at, ray_length, rings
from ...model import FloatArray
from .branching import with_twigs
from .spine import Spine, Spines, bowed

__all__ = ["FROM_CORNER"]

CORNER_SIDE = 0.05
"""The sides of a corner are looked at this part of the square root of the area from it."""

FAN_DEG, FAN_MOST = 34.0, 5
"""A fan has a spine for each so many degrees of its corner, and no more than so many."""


def _from_corner(region: Polygon, bow: float, corner: str) -> Spines | None:
    at, ways = _corner(region, corner)
    if at is None:
        return None
    middle = ways.sum(axis=0)
    laid = Spines((Spine(bowed(at, at + middle * _ahead(region, at, middle), bow, region)),))
    twigged = with_twigs(region, laid)
    # an arm on either side, as in a triangle from its right angle: one alone the plumes of the spine reach into
    return twigged if len(twigged.spines) > 2 else laid


def _fan(region: Polygon, bow: float, corner: str) -> Spines | None:
    at, ways = _corner(region, corner)
    if at is None:
        return None
    first, last = (float(np.arctan2(w[1], w[0])) for w in ways)
    open_by = (last - first + np.pi) % (2 * np.pi) - np.pi
    count = int(np.clip(round(abs(np.degrees(open_by)) / FAN_DEG), 2, FAN_MOST))
    spines = []
    for k in range(count):
        angle = first + open_by * (k + 0.5) / count
        way = np.array([np.cos(angle), np.sin(angle)])
        spines.append(Spine(bowed(at, at + way * _ahead(region, at, way), bow, region)))
    return Spines(tuple(spines))


def _ahead(region: Polygon, at: FloatArray, way: FloatArray) -> float:
    # how many times a way fits from a corner to the edge across
    off = at + 1e-6 * way / np.hypot(*way)
    return ray_length(region, off, way) / float(np.hypot(*way))


def _corner(region: Polygon, which: str) -> tuple[FloatArray | None, FloatArray]:
    """Return a corner and the unit ways along its two sides: the squarest, or the one that lies where it says."""
    corners = corners_of(region)
    if len(corners) < 2:
        return None, np.zeros((2, 2))
    ring = rings(region)[0]
    at, near = nearest_on(ring, corners, closed=True), CORNER_SIDE * float(np.sqrt(region.area))
    after, before = (point_at(ring, at + step, closed=True) - corners for step in (near, -near))
    after, before = (w / np.hypot(*w.T)[:, None] for w in (after, before))
    if which == "squarest":
        # of equally square corners the one farthest to the left, of these the lowest as seen
        off = np.round(np.abs((after * before).sum(axis=1)), 2)
        k = int(np.lexsort((-corners[:, 1], np.round(corners[:, 0], 1), off))[0])
    else:
        down, right = ("top" not in which) - ("bottom" not in which), ("left" not in which) - ("right" not in which)
        k = int(np.argmax(corners @ [right, down]))
    return corners[k], np.stack([after[k], before[k]])


FROM_CORNER: Final[dict[str, Callable[[Polygon, float, str], Spines | None]]] = {
    "from-corner": _from_corner,
    "fan": _fan,
}
"""Ways that start in a corner: a function of region, bow and the corner; None without one."""
