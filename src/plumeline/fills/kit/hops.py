"""Short steps between rays near their middle: the line goes in along one and out along the next, each sewn once."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from shapely import Polygon

from ...geometry import outside_mm
from ...model import FloatArray, Path, Stroke, as_path

__all__ = ["hops"]

LONGEST_MM = 6.35
"""A step over 1/4 in would be seen as a line of its own."""

SAME_MM = 1e-6
"""Rays whose distance from the middle differs by less begin at one."""


def hops(rays: Sequence[Path], centre: FloatArray, piece: Polygon, *, whole: bool) -> list[Stroke]:
    """Return the steps that lead from the inner ends of rays to rays beside them.

    Parameters
    ----------
    rays : sequence of Path
        From the inner end outwards, in order round the middle.
    whole : bool
        Whether they go all round, so that the last is beside the first.

    Notes
    -----
    A ray that stops short steps across to the one of its two neighbours that stops next; that one is met from both
    sides in one place, so that an even number of lines meets everywhere and none has to be sewn again. Those that come
    nearest to the middle step to each other in pairs.
    """
    inner = np.array([np.hypot(*(ray[0] - centre)) for ray in rays])
    reach = np.array([np.hypot(*(ray[-1] - centre)) for ray in rays])
    nearest = np.flatnonzero(inner <= inner.min() + SAME_MM) if len(inner) else np.zeros(0, dtype=np.int64)
    place = {int(k): n for n, k in enumerate(nearest)}
    steps: list[Stroke] = []
    for k in range(len(rays)):
        if k in place:
            n = place[k]
            partner = int(nearest[n + 1]) if n % 2 == 0 and n + 1 < len(nearest) else None
        else:
            beside = [_beside(inner, reach, k, way, whole) for way in (1, -1)]
            found = [j for j in beside if j is not None]
            # of the two nearest to the middle every other one is met
            partner = max(found, key=lambda j: (round(float(inner[j]), 6), place.get(j, 0) % 2 == 0), default=None)
        if partner is not None:
            step = as_path([rays[k][0], _at_radius(rays[partner], centre, float(inner[k]))])
            if math.dist(*step.tolist()) <= LONGEST_MM and outside_mm([step], piece) == 0.0:
                steps.append(Stroke(step, role="step"))
    return steps


def _beside(inner: FloatArray, reach: FloatArray, k: int, way: int, whole: bool) -> int | None:
    """Return the next ray on one side that is there where a ray begins, or None."""
    count = len(inner)
    for far in range(1, count):
        j = k + way * far
        if not (whole or 0 <= j < count):
            return None
        if inner[j % count] < inner[k] - SAME_MM:
            return j % count if reach[j % count] > inner[k] else None
    return None


def _at_radius(ray: Path, centre: FloatArray, radius: float) -> FloatArray:
    way = ray[-1] - centre
    return np.asarray(centre + way / np.hypot(*way) * radius)
