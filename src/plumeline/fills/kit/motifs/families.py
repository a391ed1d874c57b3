"""The families of motifs: leaf, clover and scroll, each a block, a triangle, a border and a corner.

A piece is drawn in its own frame, y UP: a block and a corner from -1 to 1, a triangle over the base from -1 to 1
with its right angle at (0, 1), a border from 0 to its length, -1 to 1 high. Borders run to the right with the outer
edge above; a corner takes the line from the left edge round to the lower one, and joins its border in place and
direction. ``detail`` is how many times the smallest part goes across: with less, a piece is grown with fewer parts.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal, TypeAlias

from ....geometry import Knot
from .elements import clover, leaf, loop, scroll
from .pen import knot, mirrored, placed

__all__ = ["FAMILIES", "Piece", "PieceKind"]

PieceKind: TypeAlias = Literal["block", "triangle", "border", "corner"]

INNER_LEAVES = 14.0
SMALL_LEAVES = 9.0
SIDE_LOOPS = 9.0
INNER_LOOPS = 12.0
"""Least detail for the parts that are left out first: below it they would lie closer than the smallest part."""

INCENTRE = 1j * (math.sqrt(2.0) - 1.0)
ACUTE_DEG = -22.5
"""The middle of the triangle's largest circle, and the direction from it to the right-hand tip."""


@dataclass(frozen=True, slots=True)
class Piece:
    """One motif in its own frame: its knots, whether they close, the corners of its frame (y up)."""

    knots: tuple[Knot, ...]
    closed: bool
    frame: tuple[complex, ...]


SQUARE = (-1 + 1j, 1 + 1j, 1 - 1j, -1 - 1j)
TRIANGLE = (1j, 1 + 0j, -1 + 0j)


def _block(quarter: list[Knot]) -> Piece:
    # a quarter from the top to the right-hand side, four times round
    knots = [k for turn in range(4) for k in placed(quarter, 0, -90.0 * turn)]
    return Piece(tuple(knots), True, SQUARE)


def _triangle(*parts: list[Knot]) -> Piece:
    return Piece(tuple(k for part in parts for k in part), True, TRIANGLE)


def _border(length: float, at: float, heading: float, part: list[Knot]) -> Piece:
    ends = knot(0, at, heading), knot(length, at, heading)
    return Piece((ends[0], *placed(part, length / 2, 90), ends[1]), False, (1j, length + 1j, length - 1j, -1j))


def _corner(at: float, heading: float, part: list[Knot]) -> Piece:
    ends = knot(-1, at, heading), knot(at, -1, heading - 90)
    return Piece((ends[0], *placed(part, 0, 45), ends[1]), False, SQUARE)


def _left(part: list[Knot]) -> list[Knot]:
    # a part of the triangle's right-hand half on its left (its axis is upright)
    upright = placed(part, 0, -90)
    return placed(mirrored(upright), 0, 90)


def _leaf_block(detail: float) -> Piece:
    small = placed(leaf(0.51, 0.257), 0.404j, 90) if detail >= SMALL_LEAVES else [knot(0, 0.33, 0)]
    big = leaf(0.827, 0.575, inner=detail >= INNER_LEAVES)
    return _block(small + placed(big, _polar(0.527, 45), 45))


def _leaf_triangle(detail: float) -> Piece:
    inner = detail >= INNER_LEAVES / 2
    top = placed(leaf(0.42, 0.40, inner=inner), INCENTRE + 0.10j, 90)
    side = placed(leaf(0.75, 0.335, inner=inner), INCENTRE + _polar(0.22, ACUTE_DEG), ACUTE_DEG)
    return _triangle(top, side, [knot(0, 0.23, 180)], _left(side))


def _leaf_border(detail: float) -> Piece:
    side = placed(leaf(0.89, 0.56), -0.53 - 0.64j, -36) if detail >= SMALL_LEAVES else []
    big = placed(leaf(1.46, 0.92, inner=detail >= INNER_LEAVES), -0.61, 0)
    return _border(2.7, -0.88, 0, mirrored(side) + big + side)


def _leaf_corner(detail: float) -> Piece:
    side = placed(leaf(1.034, 0.48), -0.469 - 0.417j, -49) if detail >= SMALL_LEAVES else []
    big = placed(leaf(1.717, 0.888, inner=detail >= INNER_LEAVES), -0.352, 0)
    return _corner(-0.88, 0, mirrored(side) + big + side)


def _clover_block(detail: float) -> Piece:
    sides = (0.474, 0.262) if detail >= SIDE_LOOPS else None
    corner = placed(clover((0.566, 0.338), sides, spread_deg=76, ring=0.105), _polar(0.60, 45), 45)
    inner = [knot(-0.166, 0.514), *placed(loop(0.258, 0.173, inwards=True), 0.447j, -90), knot(0.166, 0.514)]
    return _block((inner if detail >= INNER_LOOPS else [knot(0, 0.5, 0)]) + corner)


def _clover_triangle(detail: float) -> Piece:
    side_loops = detail >= SIDE_LOOPS / 2
    top = placed(clover((0.357, 0.228), (0.237, 0.164) if side_loops else None, spread_deg=62, ring=0.061), 0.468j, 90)
    tip = clover((0.426, 0.203), (0.17, 0.151) if side_loops else None, spread_deg=74, ring=0.0)
    side = placed(tip, 0.424 + 0.259j, ACUTE_DEG)
    return _triangle(top, side, [knot(0, 0.232, 180)], _left(side))


def _clover_border(detail: float) -> Piece:
    sides = (0.86, 0.56) if detail >= SIDE_LOOPS else None
    return _border(2.4, -0.85, 0, placed(clover((1.1, 0.72), sides, spread_deg=72, ring=0.2), -0.377, 0))


def _clover_corner(detail: float) -> Piece:
    sides = (0.90, 0.56) if detail >= SIDE_LOOPS else None
    return _corner(-0.85, 0, placed(clover((1.1, 0.68), sides, spread_deg=68, ring=0.2), -0.07, 0))


def _gap(detail: float, least: float, radius: float, across: float) -> float:
    # the smallest part is the gap between a scroll's arms; at most, one S is left of it
    return min(max(least, across / detail), 0.7 * radius)


def _scroll_block(detail: float) -> Piece:
    gap = _gap(detail, 0.145, 0.395, 2.0)
    return _block(placed(scroll(0.395, gap, lead_deg=-54), _polar(0.723, 45), 45))


def _scroll_triangle(detail: float) -> Piece:
    def turned(radius: float, lead_deg: float) -> list[Knot]:
        return scroll(radius, _gap(detail, 0.104, radius, 1.0), lead_deg=lead_deg)

    top = placed(turned(0.259, -53), 0.552j, 90)
    right = placed(turned(0.164, -57.5), 0.481 + 0.209j, ACUTE_DEG)
    left = placed(turned(0.202, -100), -0.484 + 0.221j, 180 - ACUTE_DEG)
    return _triangle(top, right, [knot(0, 0.051, 182)], left)


def _scroll_border(detail: float) -> Piece:
    return _border(2.1, 0, 45, scroll(0.86, _gap(detail, 0.27, 0.86, 2.0), lead_deg=-15))


def _scroll_corner(detail: float) -> Piece:
    return _corner(0, 45, placed(scroll(0.749, _gap(detail, 0.285, 0.749, 2.0), lead_deg=-63), 0.068, 0))


def _polar(radius: float, angle_deg: float) -> complex:
    return cmath.rect(radius, math.radians(angle_deg))


FAMILIES: Mapping[str, Mapping[PieceKind, Callable[[float], Piece]]] = MappingProxyType(
    {
        "leaf": {
            "block": _leaf_block,
            "triangle": _leaf_triangle,
            "border": _leaf_border,
            "corner": _leaf_corner,
        },
        "clover": {
            "block": _clover_block,
            "triangle": _clover_triangle,
            "border": _clover_border,
            "corner": _clover_corner,
        },
        "scroll": {
            "block": _scroll_block,
            "triangle": _scroll_triangle,
            "border": _scroll_border,
            "corner": _scroll_corner,
        },
    }
)
"""Every piece of every family, by its detail."""
