"""Where a line comes into a feather: at the edge of the space, whichever feather it is.

A chain that ends where it starts can start anywhere along itself without another pass. One whose base lies inside,
round a centre or on a closed spine, is therefore started at the top of a plume beside the edge, so that its start and
stop can hide in a seam.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import groupby

import numpy as np
from shapely import Polygon

from ...geometry import boundary_distance, contains, erode, nearest_on, point_at, rings
from ...model import FloatArray, Stroke, as_path

__all__ = ["entered_at_edge"]

AT_EDGE_MM = 0.3
"""A chain that starts this near the edge starts at it."""

REACH_MM = 4.0
"""A plume's top no further from the edge than this can be stepped to from there."""

LEVEL_MM = 0.2
"""Tops that come this near to the nearest one are as good; the first of them along the chain is taken."""


def entered_at_edge(
    strokes: Sequence[Stroke], region: Polygon, *, enter: tuple[float, float] | None = None
) -> list[Stroke]:
    """Return the strokes with every closed chain started at the edge of a region, a short step at both its ends.

    Chains that are open, start at the edge anyway, or come nowhere near it stay as they are.
    """
    out: list[Stroke] = []
    for _, group in groupby(strokes, key=lambda s: s.chain):
        out += _entered(list(group), region, enter)
    return out


def _entered(chain: list[Stroke], region: Polygon, enter: tuple[float, float] | None) -> list[Stroke]:
    start = chain[0].path[0]
    if (start != chain[-1].path[-1]).any() or boundary_distance(region, start[None])[0] <= AT_EDGE_MM:
        return chain
    place = _place(chain, region, enter)
    if place is None:
        return chain
    k, i = place
    at = chain[k].path[i]
    path = chain[k].path
    first, last = replace(chain[k], path=as_path(path[i:])), replace(chain[k], path=as_path(path[: i + 1]))
    walk = [s for s in (first, *chain[k + 1 :], *chain[:k], last) if len(s.path) > 1]
    edge = _on_edge(region, at)
    step = replace(first, path=as_path([edge, at]), role="step")
    return [step, *walk, replace(step, path=as_path([at, edge]))]


def _place(chain: list[Stroke], region: Polygon, enter: tuple[float, float] | None) -> tuple[int, int] | None:
    """Return the stroke and vertex of the chain that lies best for coming in, or None."""
    open_to = [k for k, s in enumerate(chain) if s.role == "stitch"]
    points = np.vstack([chain[k].path for k in open_to])
    beside = np.ones(len(points), dtype=bool)
    for deep in erode(region, REACH_MM + 2 * LEVEL_MM):
        beside &= ~contains(deep, points)  # told sooner than a distance
    far = boundary_distance(region, points[beside])
    if far.min(initial=np.inf) > REACH_MM:
        return None
    level = np.flatnonzero(beside)[far <= max(far.min(), 0.0) + LEVEL_MM]
    if enter is not None:
        level = level[[int(np.argmin(np.hypot(*(points[level] - np.asarray(enter)).T)))]]
    ends = np.cumsum([len(chain[k].path) for k in open_to])
    of = int(np.searchsorted(ends, level[0], side="right"))
    return open_to[of], int(level[0]) - int(ends[of]) + len(chain[open_to[of]].path)


def _on_edge(region: Polygon, at: FloatArray) -> FloatArray:
    """Return the point of the edge nearest to a point."""
    found = [point_at(r, nearest_on(r, at[None]), closed=True)[0] for r in rings(region)]
    return min(found, key=lambda p: float(np.hypot(*(p - at))))
