"""What the motifs are made of: leaves, loops, blades, plumes and scrolls, as knots in their own frame.

Each stands at 0 with its axis along ``u``; the line comes from the left of the axis (``v > 0``), goes round and
leaves to the right, so that elements set round a middle follow each other clockwise. ``inner`` is how many smaller
ones are drawn inside, evenly apart, before the line leaves.
"""

from __future__ import annotations

import cmath
import math

from ....geometry import Knot
from .pen import knot

__all__ = ["blade", "inner_count", "leaf", "loop", "plume", "scroll", "tulip"]

LEAST_WIDE = 2.0
"""Parts across which a leaf or loop gets another inside it: the room between them is then about a part wide."""

MOST_INNER = 5
"""At most so many lie inside each other: with more their bases would be a knot."""

BASE, DRAWN_IN, SHORTER = (0.06, 0.42), 0.92, 0.44
"""Where an inner one stands, how much narrower and how much shorter it is, as parts of the outer one at the innermost;
those between lie evenly."""

BLADE_FOOT = 0.32
"""What is inside a blade stands above this part of its length: further down its neighbours are near."""

STEP_DEG = 45.0
"""Knots of a scroll: the curve through them strays from an even spiral by less than a thread."""

EYE = 0.75
"""A scroll's arms end this part of their gap from its middle and meet there in an S."""


def inner_count(width: float, part: float) -> int:
    """Return how many smaller ones go into a leaf or loop of a width, whose smallest part is ``part``."""
    return min(max(0, int(width / (LEAST_WIDE * part) + 1e-9) - 1), MOST_INNER)


def _nested(inner: int, foot: float = 0.0) -> list[tuple[float, float, float]]:
    # base, width and length of each inner one, as parts of the outer one; none stands lower than its foot
    steps = [k / (inner + 1) for k in range(1, inner + 1)]
    rise = BASE[1] * (1 - foot)
    return [(BASE[0] + foot + rise * t, 1.0 - DRAWN_IN * t, 1.0 - SHORTER * (1 - 0.5 * foot) * t) for t in steps]


def leaf(length: float, width: float, *, inner: int = 0, foot: float = 0.0) -> list[Knot]:
    """Return a pointed leaf whose sides cross at its base; those inside it stand above its foot."""
    half = width / 2
    knots = [knot(0.50 * length, -half, 4), knot(length, 0, 35, 145), knot(0.46 * length, half, 184)]
    for base, narrow, short in _nested(inner, foot):
        small, middle = half * narrow * (1 - 0.5 * foot), length * (base + 0.42 * (short - base))
        knots += [
            knot(base * length, 0.0, 270),
            knot(middle, -small, 4),
            knot(short * length, 0, 40, 140),
            knot(middle - 0.02 * length, small, 184),
        ]
    return knots


def loop(length: float, width: float, *, inwards: bool = False, inner: int = 0) -> list[Knot]:
    """Return a round loop; ``inwards``: one that lies on the other side of the line (axis to the right of travel)."""
    way = -1.0 if inwards else 1.0
    half = width / 2
    knots = [knot(0.58 * length, -way * half), knot(length, 0, way * 90), knot(0.58 * length, way * half)]
    for base, narrow, short in _nested(inner):
        small, middle = half * narrow, length * (base + 0.58 * (short - base))
        knots += [
            knot(base * length, 0.0, -way * 90),
            knot(middle, -way * small),
            knot(short * length, 0, way * 90),
            knot(middle, way * small),
        ]
    return knots


def blade(length: float, width: float, *, inner: int = 0) -> list[Knot]:
    """Return a blade of a fan: narrow at its base, widest near its round end."""
    half = width / 2
    knots = [knot(0.70 * length, -half, 2), knot(length, 0, 90), knot(0.70 * length, half, 178)]
    for base, narrow, short in _nested(inner, BLADE_FOOT):
        foot, top = base * length, (0.08 + 0.92 * short) * length
        small, middle = half * narrow, foot + 0.58 * (top - foot)
        knots += [knot(foot, 0.0, 270), knot(middle, -small, 2), knot(top, 0, 90), knot(middle, small, 178)]
    return knots


def plume(length: float, width: float, lean: float, *, inwards: bool = False, inner: int = 0) -> list[Knot]:
    """Return a plume of a feather: a drop that swings out of its spine, leans the way the line goes, and ends on it.

    ``lean`` is how far its head lies ahead of it, as a part of the length; ``inwards``: on the other side of the line.
    """
    way = -1.0 if inwards else 1.0
    tilt = math.degrees(math.atan(1.3 * lean))

    def at(u: float, v: float, heading: float) -> Knot:
        return knot(u * length, way * (v * width / 2 - lean * length * u**1.3), way * heading)

    knots = [
        knot(0, way * 0.06 * width, way * 270),
        Knot(at(0.24, -0.58, 0).at),
        at(0.70, -1.0, -0.8 * tilt),
        at(1.0, 0.1, 90 - tilt),
        at(0.72, 1.0, 180 - tilt),
    ]
    for base, narrow, short in _nested(inner):
        foot, top = base + 0.22, 0.06 + 0.94 * short
        middle = foot + 0.62 * (top - foot)
        knots += [at(foot, 0.0, 270 - tilt), at(middle, -narrow, -0.9 * tilt), at(top, 0.05, 90 - tilt)]
        knots.append(at(middle, narrow, 180 - tilt))
    return [*knots, Knot(at(0.24, 0.36, 0).at), knot(0, -way * 0.12 * width, way * 270)]


def tulip(length: float, width: float, *, inner: int = 0) -> list[Knot]:
    """Return a tulip: a cup with three tips, whose sides cross at its base; drops inside it."""
    half = width / 2
    right = [
        knot(0.32 * length, -0.96 * half, 4),
        knot(0.95 * length, -half, -14, 128),
        knot(0.72 * length, -0.46 * half, 90),
    ]
    left = [
        knot(0.72 * length, 0.46 * half, 90),
        knot(0.95 * length, half, 52, 194),
        knot(0.32 * length, 0.96 * half, 176),
    ]
    knots = [*right, knot(length, 0.0, 50, 130), *left]
    for base, narrow, short in _nested(inner):
        small, foot, top = 0.74 * half * narrow, (0.04 + 0.6 * base) * length, (0.10 + 0.60 * short) * length
        middle = foot + 0.42 * (top - foot)
        knots += [knot(foot, 0.0, 270), knot(middle, -small, 4), knot(top, 0, 40, 140), knot(middle, small, 176)]
    return knots


def scroll(radius: float, gap: float, *, lead_deg: float) -> list[Knot]:
    """Return a spiral that winds in and, between its own turns, out again.

    Its two arms are each other's half turn, ``gap`` apart; the line comes in 90 degrees and ``lead_deg`` round from
    the axis, turning clockwise, and leaves on the other side in the same direction.
    """
    arm: list[complex] = []
    turned = 0.0
    while (left := radius - gap * turned / 180.0) > EYE * gap:
        arm.append(cmath.rect(left, math.radians(90.0 + lead_deg - turned)))
        turned += STEP_DEG
    return [Knot(z) for z in (*arm, *(-z for z in reversed(arm)))]
