"""Machine time: how long the needle points take.

A computer-guided machine slows down before corners and short stitches. Between needle points it goes at most one
stitch a beat; at a needle point it goes no faster than a junction deviation allows, ``v^2 = a d c / (1 - c)`` with c
the cosine of half the turn (the speed at which it could round the corner by d under the acceleration a). What
acceleration leaves possible is a forward and a backward pass, both in closed form, O(n): two running minima of
``v_i^2 = min_j (limit_j^2 + 2 a |s_i - s_j|)``.
"""

from __future__ import annotations

import numpy as np

from ..model import FloatArray, IntArray, Machine

__all__ = ["sewing_seconds", "speed_limits"]

ACCELERATION_MM_S2 = 1500.0
JUNCTION_MM = 0.05
"""How far the path may be thought rounded at a needle point: larger takes corners faster."""
RULER_MM = 152.4
"""By ruler, one move of the ruler for each 6 in of line."""
RULER_MOVE_S = 10.0


def sewing_seconds(
    xy: FloatArray, line: IntArray, machine: Machine, *, acceleration_mm_s2: float = ACCELERATION_MM_S2
) -> float:
    """Return the seconds of sewing along needle points, without starts, stops and jumps.

    Parameters
    ----------
    xy : (n, 2) float64
        Needle points, mm, line after line.
    line : (n,) int
        Line of each needle point; each starts and stops at rest.
    machine : Machine
        Guided by a computer, the speed is limited by beats a minute, ``speed_mm_s`` if stated, and acceleration; by
        hand it is the mean pace; by ruler the mean pace and 10 s for each 6 in.
    acceleration_mm_s2 : float
        Of a machine that a computer guides.

    Returns
    -------
    float
        Seconds; 0 where nothing is sewn.
    """
    step = np.hypot(*np.diff(xy, axis=0).T) if len(xy) > 1 else np.zeros(0)
    sewn = np.diff(line) == 0 if len(xy) > 1 else np.zeros(0, dtype=bool)
    length = float(step[sewn].sum())
    if machine.guided != "computer":
        moves = RULER_MOVE_S * length / RULER_MM if machine.guided == "ruler" else 0.0
        return length / machine.pace_mm_s + moves
    if not sewn.any():
        return 0.0
    beat = 60.0 / machine.stitches_a_minute
    top = np.minimum(step / beat, np.inf if machine.speed_mm_s is None else machine.speed_mm_s)
    speed = speed_limits(xy, step, top, sewn, acceleration_mm_s2)
    v0, v1, cap, d = speed[:-1][sewn], speed[1:][sewn], top[sewn], step[sewn]
    a = acceleration_mm_s2
    peak = np.minimum(cap, np.sqrt((v0**2 + v1**2) / 2 + a * d))
    cruise = d - (2 * peak**2 - v0**2 - v1**2) / (2 * a)
    moving = peak > 0
    seconds = (2 * peak - v0 - v1) / a
    seconds[moving] += np.maximum(cruise[moving], 0.0) / peak[moving]
    return float(np.maximum(seconds, beat).sum())


def speed_limits(
    xy: FloatArray, step: FloatArray, top: FloatArray, sewn: np.ndarray, acceleration_mm_s2: float
) -> FloatArray:
    """Return the speed at each needle point in mm/s: 0 at both ends of a line.

    ``step``, ``top`` and ``sewn`` are each step's length, highest speed, and whether it is sewn.
    """
    squared = np.zeros(len(xy))
    between = np.flatnonzero(sewn[:-1] & sewn[1:]) + 1
    u, v = xy[between] - xy[between - 1], xy[between + 1] - xy[between]
    turn = np.abs(np.arctan2(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0], (u * v).sum(axis=1)))
    c = np.cos(turn / 2)
    junction = acceleration_mm_s2 * JUNCTION_MM * c / np.maximum(1 - c, 1e-12)
    squared[between] = np.minimum(junction, np.minimum(top[between - 1], top[between]) ** 2)
    s = np.concatenate([[0.0], np.cumsum(np.where(sewn, step, 0.0))])
    reach = 2 * acceleration_mm_s2 * s
    ahead = np.minimum.accumulate(squared - reach) + reach
    behind = np.minimum.accumulate((squared + reach)[::-1])[::-1] - reach
    out: FloatArray = np.sqrt(np.maximum(np.minimum(ahead, behind), 0.0))
    return out
