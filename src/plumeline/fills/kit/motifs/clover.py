"""The clover family: three round loops together, with others inside them where they are wide."""

from __future__ import annotations

import cmath
import math

from ....geometry import Knot
from .elements import inner_count, loop
from .frames import ACUTE_DEG, Family, Piece, block, border, corner, left, polar, triangle
from .pen import knot, placed

__all__ = ["CLOVER"]

SIDE_LOOPS, INNER_LOOPS = 0.222, 0.167
"""Side loops and the small ones between are left out where a part is larger."""

VALLEY = 0.02
"""How far from the middle of a clover the line passes from loop to loop: apart enough to be no knot."""

Size = tuple[float, float]


def _clover(middle: Size, sides: Size, part: float, *, spread_deg: float, ring: float) -> list[Knot]:
    # three loops (length, width), the middle one along the axis, round a small open ring; or the middle one
    if part > SIDE_LOOPS:
        return placed(loop(*middle), ring, 0)
    angles = (spread_deg, 0.0, -spread_deg)
    knots: list[Knot] = []
    for before, angle in zip((None, *angles), angles):
        if before is not None:
            knots.append(Knot(cmath.rect(VALLEY, math.radians(angle + before) / 2)))
        size = sides if angle else middle
        grown = loop(*size, inner=inner_count(size[1], part))
        knots += placed(grown, cmath.rect(ring, math.radians(angle)), angle)
    return knots


def _block(part: float) -> Piece:
    at_corner = _clover((0.566, 0.338), (0.474, 0.262), part, spread_deg=76, ring=0.105)
    between = [knot(0, 0.5, 0)]
    if part <= INNER_LOOPS:
        small = loop(0.258, 0.173, inwards=True, inner=inner_count(0.173, part))
        between = [knot(-0.166, 0.514), *placed(small, 0.447j, -90), knot(0.166, 0.514)]
    return block(between + placed(at_corner, polar(0.60, 45), 45))


def _triangle(part: float) -> Piece:
    top = placed(_clover((0.357, 0.228), (0.237, 0.164), part, spread_deg=62, ring=0.061), 0.468j, 90)
    tip = _clover((0.426, 0.203), (0.17, 0.151), part, spread_deg=74, ring=0.0)
    side = placed(tip, 0.424 + 0.259j, ACUTE_DEG)
    return triangle(top, side, [knot(0, 0.232, 180)], left(side))


def _border(part: float) -> Piece:
    flower = _clover((1.1, 0.72), (0.86, 0.56), part, spread_deg=72, ring=0.2)
    return border(2.4, -0.85, 0, placed(flower, -0.377, 0))


def _corner(part: float) -> Piece:
    flower = _clover((1.1, 0.68), (0.90, 0.56), part, spread_deg=68, ring=0.2)
    return corner(-0.85, 0, placed(flower, -0.07, 0))


CLOVER: Family = {"block": _block, "triangle": _triangle, "border": _border, "corner": _corner}
