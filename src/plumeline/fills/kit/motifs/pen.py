"""Knots of a motif in its own frame (y UP, half a block = 1), and how they are moved, mirrored and drawn."""

from __future__ import annotations

import cmath
import math
from collections.abc import Sequence
from dataclasses import replace

from ....geometry import Knot, smooth_through
from ....model import Path

__all__ = ["drawn", "knot", "mirrored", "placed"]


def knot(u: float, v: float, heading_deg: float | None = None, leaves_deg: float | None = None) -> Knot:
    """Return a knot at ``u`` along the axis of its part and ``v`` to the left of it."""
    return Knot(complex(u, v), heading_deg, leaves_deg)


def placed(knots: Sequence[Knot], at: complex, axis_deg: float, size: float = 1.0) -> list[Knot]:
    """Return knots scaled, turned so that their axis points along ``axis_deg``, and moved."""
    turn = size * cmath.exp(1j * math.radians(axis_deg))

    def turned(deg: float | None) -> float | None:
        return None if deg is None else deg + axis_deg

    return [Knot(at + k.at * turn, turned(k.heading_deg), turned(k.leaves_deg)) for k in knots]


def mirrored(knots: Sequence[Knot]) -> list[Knot]:
    """Return knots mirrored in their axis and gone through the other way, so that travel keeps its direction."""

    def flipped(deg: float | None) -> float | None:
        return None if deg is None else 180.0 - deg

    return [
        Knot(
            k.at.conjugate(),
            flipped(k.heading_deg if k.leaves_deg is None else k.leaves_deg),
            None if k.leaves_deg is None else flipped(k.heading_deg),
        )
        for k in reversed(knots)
    ]


def drawn(knots: Sequence[Knot], scale_mm: float, *, closed: bool, tolerance_mm: float = 0.02) -> Path:
    """Return the curve through knots at a scale (mm a unit), y down, as a polyline."""
    flipped = [replace(k, at=k.at.conjugate() * scale_mm) for k in knots]
    return smooth_through(flipped, closed=closed, tolerance_mm=tolerance_mm)
