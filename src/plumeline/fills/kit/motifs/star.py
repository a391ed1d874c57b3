"""The star flower family: pointed petals round an open ring, as long as the frame allows."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import partial

from ....geometry import Knot
from .elements import inner_count, leaf
from .frames import INCENTRE, SQUARE, TRIANGLE, Family, Piece, border, corner, grown_to, polar
from .pen import placed

__all__ = ["STAR"]

ROOM = 0.035
"""Between a petal and the edge of the frame."""

FOOT = 0.12
"""What is inside a petal stands above this part of its length: further down its neighbours are near."""

ROOT2 = math.sqrt(2.0)

EIGHT, TWELVE = 0.5, 0.08
"""A block has eight petals where a part is no larger, and twelve where it is this small; else four."""


def _petals(
    frame: Sequence[complex],
    middle: complex,
    ring: float,
    part: float,
    angles_deg: Sequence[float],
    *,
    most: float,
    slim: float,
) -> list[Knot]:
    # petals from a ring outwards, clockwise; slim: width by length
    def petal(angle: float, length: float) -> list[Knot]:
        drawn = leaf(length, slim * length, inner=inner_count(slim * length, part), foot=FOOT)
        return placed(drawn, middle + polar(ring, angle), angle)

    return [k for a in angles_deg for k in grown_to(frame, most, ROOM, partial(petal, a))[1]]


def _block(part: float) -> Piece:
    count = 12 if part <= TWELVE else 8 if part <= EIGHT else 4
    ring, slim = (0.34, 0.40) if count == 12 else (0.26, 0.44)
    angles = [45.0 - 360.0 / count * k for k in range(count)]
    return Piece(tuple(_petals(SQUARE, 0, ring, part, angles, most=1.1, slim=slim)), True, SQUARE)


def _triangle(part: float) -> Piece:
    angles = [90.0, 34.0, -22.5, -90.0, 202.5, 146.0]
    return Piece(tuple(_petals(TRIANGLE, INCENTRE, 0.11, part, angles, most=0.85, slim=0.42)), True, TRIANGLE)


def _border(part: float) -> Piece:
    frame = (-1.2 + 1j, 1.2 + 1j, 1.2 - 1j, -1.2 - 1j)
    angles = [150.0, 120.0, 90.0, 60.0, 30.0] if part <= EIGHT else [140.0, 90.0, 40.0]
    flower = _petals(frame, -0.5j, 0.34, part, angles, most=1.2, slim=0.44)
    return border(2.4, -0.85, 0, placed(flower, 0, -90))


def _corner(part: float) -> Piece:
    angles = [75.0, 50.0, 25.0, 0.0, -25.0, -50.0, -75.0] if part <= EIGHT else [60.0, 0.0, -60.0]
    diamond = (polar(ROOT2, 90), ROOT2 + 0j, polar(ROOT2, -90), -ROOT2 + 0j)  # with its axis to the right
    flower = _petals(diamond, -0.56 + 0j, 0.40, part, angles, most=1.4, slim=0.44)
    return corner(-0.85, 0, flower)


STAR: Family = {"block": _block, "triangle": _triangle, "border": _border, "corner": _corner}
