"""Lines along crooked seams: as the seam is, or straight in spite of it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Literal, TypeAlias

import numpy as np
from shapely import Polygon

from ...geometry import arc_lengths, cornered, densify, mean_values, moved_inside, point_at, rings, straightened
from ...model import FloatArray, Path, as_path

__all__ = ["Follow", "in_true", "straight_pieces"]

Follow: TypeAlias = Literal["seam", "straight"]
"""Whether lines go with a seam as it is, or straight and true in spite of it."""

NODE_MM = 6.0
"""Places of a bent side that are taken to their like on the straight one are so far apart."""

CHORD_MM = 4.0
"""A straight line is bent at places so far apart: between them it is off by micrometres."""

SIDE_DEG = 20.0
"""Corners of the sides, as `straightened` finds them."""


def straight_pieces(parts: Sequence[Polygon], follow: Follow) -> list[Polygon]:
    """Return the pieces of a zone as lines are to follow them; one without straight sides stays as it is."""
    if follow == "seam":
        return list(parts)
    return [part if (true := straightened(part, inside=True)) is None else true for part in parts]


def in_true(piece: Polygon, draw: Callable[[Polygon], list[Path]]) -> list[Path]:
    """Return lines drawn in a piece as it was meant, laid into it as it is: they go with its seams.

    The true outline goes onto the crooked one, side on side, and what is inside follows smoothly. A piece with a side
    curved by design, or with holes, is drawn as it is.
    """
    true = straightened(piece, inside=False) if not len(piece.interiors) else None
    if true is None:
        return draw(piece)
    sides = cornered(rings(piece)[0], least_deg=SIDE_DEG).sides()
    ring = cornered(rings(true)[0]).path
    if len(ring) != len(sides):
        return draw(piece)
    first = int(np.argmin(np.hypot(*(ring - sides[0][0]).T)))
    corners = np.roll(ring, -first, axis=0)
    nodes, goals = _nodes(corners, sides)
    out = []
    for line in draw(true):
        dense = densify(line, CHORD_MM)
        out.append(as_path(moved_inside(piece, mean_values(nodes, dense) @ goals)))
    return out


def _nodes(corners: FloatArray, sides: Sequence[Path]) -> tuple[FloatArray, FloatArray]:
    """Return places on the true outline and where they lie on the crooked one."""
    nodes, goals = [], []
    for k, side in enumerate(sides):
        s = arc_lengths(side)
        count = 1 if len(side) == 2 else max(1, int(s[-1] / NODE_MM))
        share = np.arange(count) / count
        nodes.append(corners[k] + share[:, None] * (corners[(k + 1) % len(corners)] - corners[k]))
        goals.append(point_at(side, s[-1] * share))
    return np.vstack(nodes), np.vstack(goals)
