"""How near is the same, in mm: every tolerance that more than one room relies on, and what it trades.

Each is far above the one before it, so that what is one place to a room is one place to the rooms after it.
"""

from __future__ import annotations

__all__ = [
    "BESIDE_SEAM_MM",
    "COARSE_MM",
    "CORNER_MM",
    "CURVE_MM",
    "DOUBLED_MM",
    "MEET_MM",
    "READ_MM",
    "ROUNDING_MM",
    "SAME_MM",
]

ROUNDING_MM = 1e-9
"""Equal but for the rounding of float64 on a quilt of some metres; smaller, and sums in another order differ."""

SAME_MM = 1e-6
"""Distances along a path, and points on it, that are one: a thousandth of the last digit that any file holds. Larger,
and short stitches beside a tie are lost; smaller, and interpolated points count twice."""

READ_MM = 0.01
"""Ends of a path in a drawing that are one: the last digit of most editors. Larger closes what she left open."""

CORNER_MM = 0.02
"""Corners of patches that are one: above what editors round, below any piece. Larger eats slivers without a word."""

CURVE_MM = 0.05
"""How far a drawn polyline may lie off its curve: a tenth of a thread. Smaller gives more points, not a finer line."""

DOUBLED_MM = 0.05
"""Lines nearer than this are one to the eye: a stretch that is sewn again. Larger, and lines side by side are one."""

COARSE_MM = 0.5
"""How far a polyline of a first look may lie off its curve: a thread's width, which nobody sees while a hand moves."""

MEET_MM = 0.25
"""Ends of strokes joined without a jump: half a thread. Larger pulls lines out of true, smaller costs starts."""

BESIDE_SEAM_MM = 6.35
"""A start or stop within 1/4 in of a seam, the usual clearance, is lost beside it. Larger hides what shows, smaller
sends lines out of their way to end where nobody would have seen it."""
