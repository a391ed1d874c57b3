"""Lines that end on a zone's edge beside a seam go on into it: travel from there is hidden in the ditch."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..geometry import NearPaths
from ..model import FloatArray, Stroke, Way, as_path
from ..tolerances import BESIDE_SEAM_MM, MEET_MM

__all__ = ["into_seams"]

INTO_FACTOR = 2.0
"""Going on into the seam is seen as an edge is: it pays where the way along the edge is longer than both ends of it."""

AHEAD = 0.6
"""Cosine to the nearest way into the seam up to which a line goes straight on; one that runs flatter turns into it."""

TOUCHES_MM = 0.05
"""An end this near to a seam is in it already."""


def into_seams(strokes: Sequence[Stroke], ways: Sequence[Way]) -> list[Way]:
    """Return short links from the ends of strokes on the edge of their zone to the seam beside it.

    A line goes straight on where the seam lies ahead of it, else by the nearest way.
    """
    ends, aims = _ends(strokes)
    edges = NearPaths([way.path for way in ways if way.kind == "edge"])
    on_edge, _ = edges.nearest(ends, MEET_MM)
    ends, aims = ends[on_edge], aims[on_edge]
    seams = NearPaths([way.path for way in ways if way.kind == "seam"])
    which, feet = seams.nearest(ends, BESIDE_SEAM_MM)
    ends, aims = ends[which], aims[which]
    across = feet - ends
    far = np.hypot(*across.T)
    apart = far > TOUCHES_MM
    ends, aims, feet, far, across = ends[apart], aims[apart], feet[apart], far[apart], across[apart]
    ahead = (aims * across).sum(axis=1) / far
    straight = ends + aims * (far / np.maximum(ahead, AHEAD))[:, None]
    hit, there = seams.nearest(straight, TOUCHES_MM)
    goes_on = hit[ahead[hit] > AHEAD]
    feet[goes_on] = there[ahead[hit] > AHEAD]
    return [Way(as_path(pair), "link", INTO_FACTOR) for pair in np.stack([ends, feet], axis=1)]


def _ends(strokes: Sequence[Stroke]) -> tuple[FloatArray, FloatArray]:
    """Return where lines end, of a chain its first and last end, and the unit way in which they run out there."""
    chains: dict[int, list[Stroke]] = {}
    found: list[tuple[FloatArray, FloatArray]] = []
    for stroke in strokes:
        if stroke.chain is not None:
            chains.setdefault(stroke.chain, []).append(stroke)
        elif not stroke.closed and len(stroke.path) > 1:
            found += [(stroke.path[0], stroke.path[1]), (stroke.path[-1], stroke.path[-2])]
    for chain in chains.values():
        found += [(chain[0].path[0], chain[0].path[1]), (chain[-1].path[-1], chain[-1].path[-2])]
    if not found:
        return np.zeros((0, 2)), np.zeros((0, 2))
    ends, before = np.swapaxes(np.array(found), 0, 1)
    out = ends - before
    return ends, out / np.maximum(np.hypot(*out.T), 1e-12)[:, None]
