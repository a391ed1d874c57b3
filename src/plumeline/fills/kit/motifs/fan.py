"""The fan family: round-ended blades spread from one base, as long as the frame allows."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial

from ....geometry import Knot
from .elements import blade, inner_count
from .frames import SQUARE, TRIANGLE, Family, Piece, block, grown_to, polar
from .pen import knot, placed

__all__ = ["FAN"]

ROOM = 0.055
"""Between a blade and the edge of the frame."""

FULL, STOUT = 0.70, 0.50
"""A blade is as wide as this part of the room between two where they are widest, and no wider than this part of its
length."""

THREE = 0.09
"""The fans of a block have five blades where a part is no larger, else three."""


def _fan(
    frame: Sequence[complex],
    base: complex,
    ring: float,
    part: float,
    *,
    axis_deg: float,
    spread_deg: float,
    count: int,
    most: float,
) -> list[Knot]:
    step = 2 * spread_deg / (count - 1)

    def one(angle: float, length: float) -> list[Knot]:
        width = min(FULL * (ring + 0.7 * length) * abs(polar(1, step) - 1), STOUT * length)
        return placed(blade(length, width, inner=inner_count(width, part)), base + polar(ring, angle), angle)

    angles = [axis_deg + spread_deg - step * k for k in range(count)]
    knots: list[Knot] = []
    for k, angle in enumerate(angles):
        if k:
            between = angle + step / 2
            knots.append(Knot(base + polar(ring, between), between - 90))
        knots += grown_to(frame, most, ROOM, partial(one, angle))[1]
    return knots


def _count(part: float, parts: float) -> int:
    # three, five or seven blades, each about four smallest parts wide
    found = int(parts / (4 * part))
    return min(max(found - 1 + found % 2, 3), 7)


def _block(part: float) -> Piece:
    quadrant = (1j, 1 + 1j, 1 + 0j, 0j)
    count = 3 if part > THREE else 5
    fan = _fan(quadrant, 0, 0.44, part, axis_deg=45, spread_deg=30, count=count, most=0.95)
    return block(fan)


def _triangle(part: float) -> Piece:
    fan = _fan(TRIANGLE, 0.13j, 0.16, part, axis_deg=90, spread_deg=86, count=_count(part, 1.4), most=0.8)
    return Piece((*fan, knot(0, 0.04, 180)), True, TRIANGLE)


def _border(part: float) -> Piece:
    frame = (1j, 2.4 + 1j, 2.4 - 1j, -1j)
    fan = _fan(frame, 1.2 - 0.72j, 0.30, part, axis_deg=90, spread_deg=76, count=_count(part, 3.4), most=1.4)
    return Piece((knot(0, -0.88, 0), *fan, knot(2.4, -0.88, 0)), False, frame)


def _corner(part: float) -> Piece:
    fan = _fan(SQUARE, -0.56 - 0.56j, 0.34, part, axis_deg=45, spread_deg=66, count=_count(part, 3.4), most=1.6)
    return Piece((knot(-1, -0.88, 0), *fan, knot(-0.88, -1, -90)), False, SQUARE)


FAN: Family = {"block": _block, "triangle": _triangle, "border": _border, "corner": _corner}
