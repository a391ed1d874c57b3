"""What the motifs are made of: leaves, loops, clovers and scrolls, as knots in their own frame.

Each stands at 0 with its axis along ``u``; the line comes from the left of the axis (``v > 0``), goes round and
leaves to the right, so that elements set round a middle follow each other clockwise.
"""

from __future__ import annotations

import cmath
import math

from ....geometry import Knot
from .pen import knot, placed

__all__ = ["clover", "leaf", "loop", "scroll"]

BASE = 0.12
"""Where an inner leaf stands, as a part of the outer one's length."""

INNER_WIDTH, INNER_LENGTH = 0.54, 0.70
"""An inner leaf as a part of the outer one: the room between them is then about even."""

VALLEY = 0.02
"""How far from the middle of a clover the line passes from loop to loop: apart enough to be no knot."""

STEP_DEG = 45.0
"""Knots of a scroll: the curve through them strays from an even spiral by less than a thread."""

EYE = 0.75
"""A scroll's arms end this part of their gap from its middle and meet there in an S."""


def leaf(length: float, width: float, *, inner: bool = False) -> list[Knot]:
    """Return a pointed leaf whose sides cross at its base, with another inside it if asked for."""
    half = width / 2
    knots = [knot(0.50 * length, -half, 4), knot(length, 0, 35, 145), knot(0.46 * length, half, 184)]
    if inner:
        small = half * INNER_WIDTH
        knots += [
            knot(BASE * length, 0.0, 270),
            knot(0.42 * length, -small, 4),
            knot(INNER_LENGTH * length, 0, 40, 140),
            knot(0.40 * length, small, 184),
        ]
    return knots


def loop(length: float, width: float, *, inwards: bool = False) -> list[Knot]:
    """Return a round loop; ``inwards``: one that lies on the other side of the line (axis to the right of travel)."""
    half = -width / 2 if inwards else width / 2
    return [knot(0.58 * length, -half), knot(length, 0, -90 if inwards else 90), knot(0.58 * length, half)]


def clover(
    middle: tuple[float, float], sides: tuple[float, float] | None, *, spread_deg: float, ring: float
) -> list[Knot]:
    """Return three loops (length, width), the middle one along the axis, round a small open ring; or the middle one."""
    if sides is None:
        return placed(loop(*middle), ring, 0)
    angles = (spread_deg, 0.0, -spread_deg)
    knots: list[Knot] = []
    for before, angle in zip((None, *angles), angles):
        if before is not None:
            knots.append(Knot(cmath.rect(VALLEY, math.radians(angle + before) / 2)))
        size = sides if angle else middle
        knots += placed(loop(*size), cmath.rect(ring, math.radians(angle)), angle)
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
