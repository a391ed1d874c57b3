"""A twig is stitched on the way: its line is put into the line of the feather that it grows out of."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from scipy.spatial import cKDTree

from ...geometry import crossing_pairs
from ...model import FloatArray, Stroke, as_path

__all__ = ["with_twig"]

REACH_MM = 8.0
"""A twig that no line stitched before passes nearer than this stays a line of its own."""

TRIED = 40
"""So many of the shortest stems are tried for one that crosses nothing."""


def with_twig(strokes: Sequence[Stroke], twig: Sequence[Stroke]) -> list[Stroke]:
    """Return strokes with a twig's put in where the two pass nearest to each other.

    The line leaves there by a short stem, goes all round the twig, and comes back by the stem: no stretch is gone along
    more than twice. A twig that is not closed, or that nothing passes near enough, follows after the rest.

    Parameters
    ----------
    strokes : sequence of Stroke
        Chains in stitching order.
    twig : sequence of Stroke
        One chain.
    """
    if not twig or not strokes or (twig[0].path[0] != twig[-1].path[-1]).any():
        return [*strokes, *twig]
    (mine, at_mine), (theirs, at_theirs) = _vertices(strokes), _vertices(twig)
    far, near = (np.atleast_1d(found) for found in cKDTree(at_mine).query(at_theirs))
    for n in np.argsort(far, kind="stable")[:TRIED]:
        if far[n] > REACH_MM:
            break
        (k, i), (j, h) = mine[int(near[n])], theirs[int(n)]
        out = replace(strokes[k], path=as_path([strokes[k].path[i], twig[j].path[h]]))
        if far[n] > 0 and _crosses(out, [*strokes, *twig]):
            continue
        stem = [[out], [replace(out, path=as_path(out.path[::-1]), role="backtrack")]] if far[n] > 0 else [[], []]
        before, after = _cut(strokes[k], i)
        own = [replace(s, chain=strokes[k].chain) for s in _round_from(twig, j, h)]
        return [*strokes[:k], *before, *stem[0], *own, *stem[1], *after, *strokes[k + 1 :]]
    return [*strokes, *twig]


def _vertices(strokes: Sequence[Stroke]) -> tuple[list[tuple[int, int]], FloatArray]:
    # vertices of what is stitched for the first time, as (stroke, vertex) and as points
    which = [(k, i) for k, s in enumerate(strokes) if s.role == "stitch" for i in range(len(s.path))]
    return which, np.vstack([s.path for s in strokes if s.role == "stitch"])


def _crosses(stem: Stroke, strokes: Sequence[Stroke]) -> bool:
    # a stem ends on lines, so it is looked at a little within both its ends
    a, b = stem.path
    inner = as_path([a + 0.02 * (b - a), b + 0.02 * (a - b)])
    pairs = crossing_pairs([inner, *(s.path for s in strokes if s.role == "stitch")])
    return bool((pairs == 0).any())


def _cut(stroke: Stroke, i: int) -> tuple[list[Stroke], list[Stroke]]:
    halves = [as_path(stroke.path[: i + 1]), as_path(stroke.path[i:])]
    first, last = ([replace(stroke, path=h)] if len(h) > 1 else [] for h in halves)
    return first, last


def _round_from(chain: Sequence[Stroke], j: int, h: int) -> list[Stroke]:
    # a closed chain started at a vertex of its stroke j
    before, after = _cut(chain[j], h)
    return [*after, *chain[j + 1 :], *chain[:j], *before]
