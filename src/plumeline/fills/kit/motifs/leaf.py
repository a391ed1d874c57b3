"""The leaf family: pointed leaves on a vine, with others inside them where they are wide."""

from __future__ import annotations

from ....geometry import Knot
from .elements import inner_count, leaf
from .frames import ACUTE_DEG, INCENTRE, Family, Piece, block, border, corner, left, polar, triangle
from .pen import knot, mirrored, placed

__all__ = ["LEAF"]

SMALL_LEAF = 0.222
"""Small leaves are left out where a part is larger."""


def _grown(length: float, width: float, part: float, foot: float = 0.0) -> list[Knot]:
    return leaf(length, width, inner=inner_count(width, part), foot=foot)


def _block(part: float) -> Piece:
    small = placed(_grown(0.51, 0.257, part), 0.404j, 90) if part <= SMALL_LEAF else [knot(0, 0.33, 0)]
    return block(small + placed(_grown(0.827, 0.575, part), polar(0.527, 45), 45))


def _triangle(part: float) -> Piece:
    top = placed(_grown(0.42, 0.40, part), INCENTRE + 0.10j, 90)
    side = placed(_grown(0.75, 0.335, part), INCENTRE + polar(0.22, ACUTE_DEG), ACUTE_DEG)
    return triangle(top, side, [knot(0, 0.23, 180)], left(side))


def _border(part: float) -> Piece:
    side = placed(_grown(0.89, 0.56, part), -0.53 - 0.64j, -36) if part <= SMALL_LEAF else []
    big = placed(_grown(1.46, 0.92, part), -0.61, 0)
    return border(2.7, -0.88, 0, mirrored(side) + big + side)


def _corner(part: float) -> Piece:
    side = placed(_grown(1.034, 0.48, part, 0.2), -0.469 - 0.417j, -49) if part <= SMALL_LEAF else []
    big = placed(_grown(1.717, 0.888, part), -0.352, 0)
    return corner(-0.88, 0, mirrored(side) + big + side)


LEAF: Family = {"block": _block, "triangle": _triangle, "border": _border, "corner": _corner}
