"""Feather borders composed of halves: from the middle of each side to the corners, or from the corners."""

from __future__ import annotations

from typing import Literal

import numpy as np
from shapely import Polygon

from ...geometry import arc_lengths, corners_of, nearest_on, path_length, point_at
from ...model import FloatArray, Path, as_path
from .spine import Spine, Spines

__all__ = ["composed"]

HALF_SIDE_POINTS = 240
"""Points of a spine along half a side of a border."""

CORNER_FAN = 0.35
"""Where feathers run from a corner, a third fills it: so wide on either side, part of the mitre there."""

BENDS_IN, TIP_OFF = 0.9, 0.2
"""Where they run to its corners, they bend into the corner over so much of the mitre, and end so far beside it."""


def composed(region: Polygon, laid: Spines, run: Literal["from-middle", "to-middle"]) -> Spines:
    """Return a spine all round a border cut into two for each side, from its middle or to it; others as they are."""
    corners = corners_of(region)
    if len(laid.spines) != 1 or not laid.spines[0].closed or len(corners) < 3 or laid.middle is not None:
        return laid
    loop = laid.spines[0].path
    at = np.sort(nearest_on(loop, corners, closed=True))
    total = path_length(loop, closed=True)
    ends = np.append(at, at[0] + total)
    middles = (ends[:-1] + ends[1:]) / 2
    spines: list[Spine] = []
    for k, (first, middle, last) in enumerate(zip(ends[:-1], middles, ends[1:], strict=True)):
        for end, mitre in ((first, at[k]), (last, at[(k + 1) % len(at)])):
            way = point_at(loop, np.mod(np.linspace(middle, end, HALF_SIDE_POINTS), total), closed=True)
            on = point_at(loop, np.array([mitre]), closed=True)[0]
            out = corners[int(np.hypot(*(corners - on).T).argmin())]
            spines.append(Spine(_into_corner(way, out) if run == "from-middle" else as_path(way[::-1])))
    fences = [_across(loop, middle % total) for middle in middles]
    for mitre in at:
        on = point_at(loop, np.array([mitre]), closed=True)[0]
        out = corners[int(np.hypot(*(corners - on).T).argmin())]
        if run == "from-middle":
            way = (out - on) / np.hypot(*(out - on))
            fences.append(as_path([on - way, on + way]))
            continue
        # a third feather fills the corner between the two that start there
        spines.append(Spine(as_path(on + np.linspace(0.0, 1.0, HALF_SIDE_POINTS)[:, None] * (out - on))))
        near = point_at(loop, np.mod(np.array([mitre - 1.0, mitre + 1.0]), total), closed=True)
        along = np.diff(near, axis=0)[0] / np.hypot(*np.diff(near, axis=0)[0])
        fences.append(as_path([on, on + (on - out) / np.hypot(*(on - out))]))
        fences += [as_path([on, out + sign * CORNER_FAN * np.hypot(*(out - on)) * along]) for sign in (-1.0, 1.0)]
    return Spines(tuple(spines), tuple(fences))


def _across(loop: Path, place: float) -> Path:
    # a short line across a loop
    on = point_at(
        loop, np.mod(np.array([place - 1.0, place, place + 1.0]), path_length(loop, closed=True)), closed=True
    )
    across = np.array([on[0, 1] - on[2, 1], on[2, 0] - on[0, 0]])
    across = across / np.hypot(*across)
    return as_path([on[1] - across, on[1] + across])


def _into_corner(way: FloatArray, out: FloatArray) -> Path:
    """Return half a side's spine bent so that its tip points into the outer corner, on its own side of the mitre."""
    gone = arc_lengths(as_path(way))
    mitre = out - way[-1]
    bend = BENDS_IN * float(np.hypot(*mitre))
    keep = gone < gone[-1] - bend
    start = way[keep][-1] if keep.any() else way[0]
    heading = way[keep][-1] - way[keep][-2] if keep.sum() > 1 else way[1] - way[0]
    heading = heading / np.hypot(*heading)
    # to a point of the mitre's own side a little before the corner, in between side and mitre
    back = start - way[-1]
    aside = back - (back @ mitre) / (mitre @ mitre) * mitre
    tip = way[-1] + mitre + TIP_OFF * np.hypot(*mitre) * aside / max(float(np.hypot(*aside)), 1e-9)
    t = np.linspace(0.0, 1.0, 60)[:, None]
    control = start + heading * 0.6 * float(np.hypot(*(tip - start)))
    curve = (1 - t) ** 2 * start + 2 * t * (1 - t) * control + t**2 * tip
    return as_path(np.vstack([way[keep][:-1], curve]) if keep.sum() > 1 else curve)
