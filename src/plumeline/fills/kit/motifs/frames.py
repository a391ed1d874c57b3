"""Frames of motifs: how parts are put together to a block, a triangle, a border or a corner.

A piece is drawn in its own frame, y UP: a block and a corner from -1 to 1, a triangle over the base from -1 to 1
with its right angle at (0, 1), a border from 0 to its length, -1 to 1 high. Borders run to the right with the outer
edge above; a corner takes the line from the left edge round to the lower one, and joins its border in place and
direction.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal, TypeAlias

from ....geometry import Knot
from .pen import knot, mirrored, placed

__all__ = [
    "ACUTE_DEG",
    "INCENTRE",
    "SHORT",
    "SQUARE",
    "TRIANGLE",
    "Family",
    "Piece",
    "PieceKind",
    "block",
    "border",
    "corner",
    "grown_to",
    "left",
    "polar",
    "triangle",
]

PieceKind: TypeAlias = Literal["block", "triangle", "border", "corner"]

INCENTRE = 1j * (math.sqrt(2.0) - 1.0)
ACUTE_DEG = -22.5
"""The middle of the triangle's largest circle, and the direction from it to the right-hand tip."""

SQUARE = (-1 + 1j, 1 + 1j, 1 - 1j, -1 - 1j)
TRIANGLE = (1j, 1 + 0j, -1 + 0j)

SHORT: dict[PieceKind, float] = {"block": 2.0, "triangle": 1.0, "border": 2.0, "corner": 2.0}
"""How far across each frame is, the short way."""

SHORTER, LEAST = 0.97, 0.02
"""A part that leaves its frame is tried shorter by this factor, down to a trace."""


@dataclass(frozen=True, slots=True)
class Piece:
    """One motif in its own frame: its knots, whether they close, the corners of its frame (y up)."""

    knots: tuple[Knot, ...]
    closed: bool
    frame: tuple[complex, ...]


Family: TypeAlias = dict[PieceKind, Callable[[float], Piece]]
"""The four pieces of a family, each by its smallest part (in units of the frame)."""


def block(quarter: Sequence[Knot]) -> Piece:
    """Return a block of a quarter from the top to the right-hand side, four times round."""
    return Piece(tuple(k for turn in range(4) for k in placed(quarter, 0, -90.0 * turn)), True, SQUARE)


def triangle(*parts: Sequence[Knot]) -> Piece:
    """Return a triangle of parts that follow each other clockwise."""
    return Piece(tuple(k for part in parts for k in part), True, TRIANGLE)


def border(length: float, at: float, heading: float, part: Sequence[Knot]) -> Piece:
    """Return a repeat that comes in and leaves at a height and heading, its part upright in the middle."""
    ends = knot(0, at, heading), knot(length, at, heading)
    return Piece((ends[0], *placed(part, length / 2, 90), ends[1]), False, (1j, length + 1j, length - 1j, -1j))


def corner(at: float, heading: float, part: Sequence[Knot]) -> Piece:
    """Return a corner of a border: its part points to the outer corner."""
    ends = knot(-1, at, heading), knot(at, -1, heading - 90)
    return Piece((ends[0], *placed(part, 0, 45), ends[1]), False, SQUARE)


def left(part: Sequence[Knot]) -> list[Knot]:
    """Return a part of the triangle's right-hand half on its left (its axis is upright)."""
    upright = placed(part, 0, -90)
    return placed(mirrored(upright), 0, 90)


def polar(radius: float, angle_deg: float) -> complex:
    """Return the point at a distance and direction from 0."""
    return cmath.rect(radius, math.radians(angle_deg))


def grown_to(
    frame: Sequence[complex], most: float, room: float, part: Callable[[float], list[Knot]]
) -> tuple[float, list[Knot]]:
    """Return the longest part that stays inside a convex frame, with some room, and how long it is.

    ``part`` draws it at a length, at most ``most``; it is shortened by `SHORTER` until it goes in.
    """
    length = most
    while True:
        knots = part(length)
        if length < LEAST or all(_depth(frame, k.at) >= room for k in knots):
            return length, knots
        length *= SHORTER


def _depth(frame: Sequence[complex], at: complex) -> float:
    # how far inside a convex frame, clockwise (y up), a point lies
    sides = ((a, b - a) for a, b in zip(frame, (*frame[1:], frame[0])))
    return min(-((at - a) * side.conjugate()).imag / abs(side) for a, side in sides)
