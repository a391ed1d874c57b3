"""The tulip family: cups with three tips on a vine, with leaves beside them."""

from __future__ import annotations

import math
from collections.abc import Sequence

from ....geometry import Knot
from .elements import inner_count, leaf, tulip
from .frames import (
    ACUTE_DEG,
    INCENTRE,
    SQUARE,
    TRIANGLE,
    Family,
    Piece,
    block,
    border,
    corner,
    grown_to,
    left,
    polar,
    triangle,
)
from .pen import knot, mirrored, placed

__all__ = ["TULIP"]

ROOM = 0.04
"""Between a tulip and the edge of the frame."""

SMALL_LEAF = 0.222
"""Leaves are left out where a part is larger."""


def _cup(
    frame: Sequence[complex], at: complex, axis_deg: float, most: float, part: float, slim: float = 0.72
) -> list[Knot]:
    # the largest in the frame; slim: its width by its length
    def one(length: float) -> list[Knot]:
        width = slim * length
        return placed(tulip(length, width, inner=inner_count(0.8 * width, part)), at, axis_deg)

    return grown_to(frame, most, ROOM, one)[1]


def _grown(length: float, width: float, part: float) -> list[Knot]:
    return leaf(length, width, inner=inner_count(width, part))


def _block(part: float) -> Piece:
    small = placed(_grown(0.62, 0.27, part), 0.33j, 90) if part <= SMALL_LEAF else [knot(0, 0.28, 0)]
    return block(small + _cup(SQUARE, polar(0.42, 45), 45, 0.9, part))


def _triangle(part: float) -> Piece:
    top = _cup(TRIANGLE, INCENTRE - 0.10j, 90, 0.6, part)
    side = placed(_grown(0.66, 0.24, part), 0.21 + 0.245j, ACUTE_DEG + 4)
    return triangle(top, side, [knot(0, 0.12, 180)], left(side))


def _border(part: float) -> Piece:
    side = placed(_grown(0.92, 0.44, part), -0.56 - 0.66j, -40) if part <= SMALL_LEAF else []
    frame = (-1 + 1.4j, 1 + 1.4j, 1 - 1.4j, -1 - 1.4j)  # with its axis to the right
    return border(2.8, -0.88, 0, mirrored(side) + _cup(frame, -0.56, 0, 1.5, part) + side)


def _corner(part: float) -> Piece:
    side = placed(_grown(1.04, 0.42, part), -0.50 - 0.42j, -50) if part <= SMALL_LEAF else []
    diamond = tuple(polar(math.sqrt(2), angle) for angle in (90, 0, -90, 180))  # with its axis to the right
    return corner(-0.88, 0, mirrored(side) + _cup(diamond, -0.42, 0, 1.7, part) + side)


TULIP: Family = {"block": _block, "triangle": _triangle, "border": _border, "corner": _corner}
