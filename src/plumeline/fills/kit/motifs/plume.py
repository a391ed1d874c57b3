"""The plume family: plumes that swing out of a spine to either side in turn, round a ring or along a border."""

from __future__ import annotations

import cmath
import math
from collections.abc import Sequence

from ....geometry import Knot
from .elements import inner_count, loop, plume
from .frames import SQUARE, TRIANGLE, Family, Piece, grown_to, left, polar, triangle
from .pen import knot, placed

__all__ = ["PLUME"]

LEAN = 0.55
"""How far plumes lean, as a part of their length."""

ROOM = 0.05
"""Between a plume and the edge of the frame."""

MOST_INNER = 3
"""At most so many lie inside each other: the room in a leaning head is narrow."""

LEAST = 0.3
"""Plumes shorter than this are left out."""

FULL, STOUT = 0.88, 0.56
"""A plume is as wide as this part of the room that it has at its head, and no wider than this part of its length."""

OUTER_ONLY = 0.4
"""A ring has no plumes inside where a part is larger."""

SMALL = 0.2
"""A border has fewer plumes where a part is larger."""

SAMPLES = 720
"""Places at which a round spine is measured."""

Place = tuple[complex, float]
"""A place on the spine and the direction away from its middle, degrees."""


def _plumes(
    frame: Sequence[complex], at: Place, part: float, *, most: float, room: tuple[float, float], inwards: bool
) -> list[Knot]:
    # room: from plume to plume along the spine, and how much that grows by unit of length away from it
    def one(length: float) -> list[Knot]:
        width = min(FULL * (room[0] + room[1] * 0.65 * length), STOUT * length)
        drawn = plume(length, width, LEAN, inwards=inwards, inner=min(inner_count(width, part), MOST_INNER))
        return placed(drawn, at[0], at[1] + (180 if inwards else 0))

    length, knots = grown_to(frame, most, ROOM, one)
    return knots if length >= LEAST else []


def _ring(frame: tuple[complex, ...], middle: complex, spine: Sequence[complex], part: float, most: float) -> Piece:
    """Return plumes outside and inside a closed spine, given clockwise."""
    steps = [abs(b - a) for a, b in zip(spine, (*spine[1:], spine[0]))]
    total = sum(steps)
    count = min(max(int(total / (2.8 * part)), 6), 16)
    places: list[Place] = []
    gone = 0.0
    for k, step in enumerate(steps):
        if gone >= total * len(places) / (2 * count) and len(places) < 2 * count:
            way = spine[(k + 1) % len(spine)] - spine[k]
            places.append((spine[k], math.degrees(cmath.phase(way)) + 90))
        gone += step
    each = total / count
    radius = total / math.tau
    knots: list[Knot] = []
    for k, place in enumerate(places):
        inwards = k % 2 == 1
        if inwards and part > OUTER_ONLY:
            continue
        spread = each / radius * (-1 if inwards else 1)
        depth = 0.55 * abs(place[0] - middle) if inwards else most
        knots += _plumes(frame, place, part, most=depth, room=(each, spread), inwards=inwards)
    return Piece(tuple(knots), True, frame)


def _block(part: float) -> Piece:
    spine = [polar(0.56, 90 - 360 * k / SAMPLES) for k in range(SAMPLES)]
    return _ring(SQUARE, 0, spine, part, 0.40)


def _triangle(part: float) -> Piece:
    # plumes that part to either side of an upright one
    base, ring, most = 0.12j, 0.15, 0.85
    angles = (48.0, 8.0) if part > 0.12 else (58.0, 30.0, 3.0)
    knots: list[Knot] = []
    for angle in angles:
        place = (base + polar(ring, angle), angle)
        knots += _plumes(TRIANGLE, place, part, most=most, room=(0.55 * ring, 0.55), inwards=False)
    upright = loop(0.68, 0.24, inner=inner_count(0.24, part))
    return triangle(left(knots), placed(upright, base + ring * 1j, 90), knots, [knot(0, 0.04, 180)])


def _border(part: float) -> Piece:
    length = 2.4
    frame = (1j, length + 1j, length - 1j, -1j)
    count = 3 if part <= SMALL else 2
    each = length / count
    knots: list[Knot] = [knot(0, 0, 0)]
    for k in range(count):
        for inwards, at in ((False, 0.10), (True, 0.26)):
            place = ((k + at) * each + 0j, 90.0)
            knots += _plumes(frame, place, part, most=0.96, room=(each, 0.0), inwards=inwards)
    knots.append(knot(length, 0, 0))
    return Piece(tuple(knots), False, frame)


def _corner(part: float) -> Piece:
    count = 4 if part <= SMALL else 3
    knots: list[Knot] = [knot(-1, 0, 0)]
    each = math.pi / 2 / count
    for k in range(count):
        for inwards, at in ((False, 0.26), (True, 0.56)):
            angle = 90 - 90 * (k + at) / count
            knots += _plumes(
                SQUARE,
                (-1 - 1j + polar(1, angle), angle),
                part,
                most=0.5 if inwards else 1.2,
                room=(each, each * (-1 if inwards else 1)),
                inwards=inwards,
            )
    knots.append(knot(0, -1, -90))
    return Piece(tuple(knots), False, SQUARE)


PLUME: Family = {"block": _block, "triangle": _triangle, "border": _border, "corner": _corner}
