"""The knot family: one cord braided round a ring, or coiled along a border."""

from __future__ import annotations

import math

from ....geometry import Knot
from .elements import inner_count, loop
from .frames import INCENTRE, SQUARE, TRIANGLE, Family, Piece, corner
from .pen import knot, placed

__all__ = ["KNOT"]

KNOTS_A_BIGHT = 10
"""Points that the curve is drawn through from bight to bight of a braid."""

SQUARISH = 5.0
"""Exponent of the rounded square that a braid fills in a block: 2 is a circle, more is squarer."""

BLOCKS = ((0.28, 3, 4), (0.14, 3, 8), (0.10, 5, 8), (0.07, 5, 12), (0.045, 7, 12), (0.0, 7, 16))
TRIANGLES = ((0.12, 2, 3), (0.05, 4, 9), (0.035, 5, 9), (0.0, 7, 12))
"""Strands side by side and turns at each edge, where a part is larger than the first number."""

TIP = 0.78
"""How far from its middle a braid goes into a tip of a triangle."""

LENGTH, HIGH = 3.4, 0.86
"""A repeat of the rope, and half the height of its coils."""

SLIM, STOUT, PITCH = 0.42, 0.86, 0.70
"""Half the width of its coils at least and at most, and how far each lies from the last, as a part of that."""

GRAIN = 3.4
"""Coils are half so many smallest parts wide."""


def _grade(grades: tuple[tuple[float, int, int], ...], part: float) -> tuple[int, int]:
    return next((leads, bights) for least, leads, bights in grades if part > least)


def _braid(leads: int, bights: int, low: float, high: float) -> list[tuple[float, float]]:
    # radius and angle of one closed cord that goes round `leads` times and turns back `bights` times at each edge
    total = KNOTS_A_BIGHT * bights * 2
    found = []
    for k in range(total):
        angle = math.tau * leads * k / total
        found.append(((low + high) / 2 + (high - low) / 2 * math.cos(bights * angle / leads), angle))
    return found


def _block(part: float) -> Piece:
    knots = []
    for radius, angle in _braid(*_grade(BLOCKS, part), 0.30, 0.95):
        c, s = math.cos(angle + math.pi / 4), math.sin(angle + math.pi / 4)
        fill = (abs(c) ** SQUARISH + abs(s) ** SQUARISH) ** (-1 / SQUARISH)
        knots.append(Knot(radius * fill * complex(c, s)))
    return Piece(tuple(knots), True, SQUARE)


def _triangle(part: float) -> Piece:
    knots = []
    normals = (-math.pi / 2, math.pi / 4, 3 * math.pi / 4)
    for radius, turned in _braid(*_grade(TRIANGLES, part), 0.26, 0.95):
        angle = turned + math.pi / 2
        sharp = sum(max(math.cos(angle - n), 0.0) ** 9 for n in normals) ** (1 / 9)
        # a soft least of the way to the edge and of the way into a tip
        fill = ((INCENTRE.imag / sharp) ** -12 + TIP**-12) ** (-1 / 12)
        knots.append(Knot(INCENTRE + radius * fill * complex(math.cos(angle), math.sin(angle))))
    return Piece(tuple(knots), True, TRIANGLE)


def _border(part: float) -> Piece:
    half = min(max(GRAIN * part, SLIM), STOUT)
    way = LENGTH - 2 * half - 0.10
    coils = max(2, round(way / (PITCH * half)))
    steps = 8 * coils
    knots = [knot(0, -HIGH, 0)]
    for k in range(1, steps):
        t = math.tau * coils * k / steps
        knots.append(Knot(complex((LENGTH - way) / 2 + way * k / steps + half * math.sin(t), -HIGH * math.cos(t))))
    knots.append(knot(LENGTH, -HIGH, 0))
    return Piece(tuple(knots), False, (1j, LENGTH + 1j, LENGTH - 1j, -1j))


def _corner(part: float) -> Piece:
    coil = loop(1.84, 1.58, inner=inner_count(1.58, 1.6 * part))
    return corner(-HIGH, 0, placed(coil, -0.84, 0))


KNOT: Family = {"block": _block, "triangle": _triangle, "border": _border, "corner": _corner}
