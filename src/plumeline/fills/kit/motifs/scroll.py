"""The scroll family: spirals that wind in and out again, with more turns where there is room."""

from __future__ import annotations

from ....geometry import Knot
from .elements import scroll
from .frames import ACUTE_DEG, Family, Piece, block, border, corner, polar, triangle
from .pen import knot, placed

__all__ = ["SCROLL"]

CLOSEST = 0.24
"""In a border at least this part: with more turns the outermost would run along the line that comes in."""

TIGHTEST = 0.7
"""At most this part of a scroll's radius between its arms: one S is left of it."""


def _scroll(radius: float, part: float, lead_deg: float, closest: float = 0.16) -> list[Knot]:
    gap = min(max(part, closest * radius), TIGHTEST * radius)
    return scroll(radius, gap, lead_deg=lead_deg)


def _block(part: float) -> Piece:
    return block(placed(_scroll(0.395, part, -54), polar(0.723, 45), 45))


def _triangle(part: float) -> Piece:
    top = placed(_scroll(0.259, part, -53), 0.552j, 90)
    right = placed(_scroll(0.164, part, -57.5), 0.481 + 0.209j, ACUTE_DEG)
    across = placed(_scroll(0.202, part, -100), -0.484 + 0.221j, 180 - ACUTE_DEG)
    return triangle(top, right, [knot(0, 0.051, 182)], across)


def _border(part: float) -> Piece:
    return border(2.1, 0, 45, _scroll(0.86, part, -15, CLOSEST))


def _corner(part: float) -> Piece:
    return corner(0, 45, placed(_scroll(0.749, part, -63, CLOSEST), 0.068, 0))


SCROLL: Family = {"block": _block, "triangle": _triangle, "border": _border, "corner": _corner}
