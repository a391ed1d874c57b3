"""Smooth curves through points, as a hand would draw them.

Method: J. D. Hobby, "Smooth, Easy to Compute Interpolating Splines", Discrete & Computational Geometry 1, 1986,
all tensions 1: the directions at the points are those at which the (mock) curvature is the same on both sides.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from ...model import Path, as_path

__all__ = ["Knot", "smooth_through"]


@dataclass(frozen=True, slots=True)
class Knot:
    """A point that a smooth curve goes through.

    Attributes
    ----------
    at : complex
        Its place, mm, y down.
    heading_deg : float or None
        The direction of the curve there, counter-clockwise as seen; None: the smoothest.
    leaves_deg : float or None
        For a tip: the direction in which the curve goes on; None: no tip.
    """

    at: complex
    heading_deg: float | None = None
    leaves_deg: float | None = None


def smooth_through(knots: Sequence[Knot], *, closed: bool = False, tolerance_mm: float = 0.02) -> Path:
    """Return a smooth curve through knots as a polyline whose chords stray at most the tolerance.

    Directions are continuous at every knot but tips; the curve is that of Hobby, cubic between the knots. O(n).
    A closed curve with no stated heading is solved all round.

    Parameters
    ----------
    knots : sequence of Knot
        Places, with headings where they are to have one.
    closed : bool
        Whether it leads back to its start.
    tolerance_mm : float
        How far a chord may stray from the curve.

    Returns
    -------
    ``(n, 2)`` array
        Every knot is one of its points.

    Raises
    ------
    ValueError
        There are fewer than two knots (three when closed), or two that follow each other fall together.
    """
    if len(knots) < (3 if closed else 2):
        raise ValueError("a smooth curve needs at least two knots, a closed one three")
    cubics: list[np.ndarray] = []
    fixed = [i for i, k in enumerate(knots) if k.heading_deg is not None]
    if closed and not fixed:
        cubics = _cubics(np.array([k.at for k in knots]), None, None, cyclic=True)
    else:
        run = [*knots[fixed[0] :], *knots[: fixed[0] + 1]] if closed else list(knots)
        stops = [i for i, k in enumerate(run) if k.heading_deg is not None or i in (0, len(run) - 1)]
        for a, b in pairwise(stops):
            leaves = run[a].heading_deg if run[a].leaves_deg is None else run[a].leaves_deg
            cubics += _cubics(np.array([k.at for k in run[a : b + 1]]), leaves, run[b].heading_deg)
    points = np.concatenate([_flat(c, tolerance_mm) for c in cubics] + ([] if closed else [cubics[-1][3:]]))
    return as_path(np.column_stack([points.real, points.imag]))


def _flat(cubic: np.ndarray, tolerance: float) -> np.ndarray:
    # a chord over 1/n of a cubic strays at most |second derivative| / (8 n^2)
    bend = 6.0 * max(abs(cubic[0] - 2 * cubic[1] + cubic[2]), abs(cubic[1] - 2 * cubic[2] + cubic[3]))
    t = np.arange(n := max(1, math.ceil(math.sqrt(bend / (8.0 * tolerance))))) / n
    s = 1.0 - t
    return np.asarray(s**3 * cubic[0] + 3 * s * s * t * cubic[1] + 3 * s * t * t * cubic[2] + t**3 * cubic[3])


def _cubics(z: np.ndarray, leaves: float | None, arrives: float | None, *, cyclic: bool = False) -> list[np.ndarray]:
    after = np.append(z, z[0]) if cyclic else z
    chord = np.diff(after)
    far = np.abs(chord)
    if not far.all():
        raise ValueError("two knots that follow each other fall together")
    theta, phi = _angles(chord, far, leaves, arrives, cyclic)
    out = []
    for k, c in enumerate(chord):
        u = after[k] + cmath.exp(1j * theta[k]) * c * _speed(theta[k], phi[k])
        v = after[k + 1] - cmath.exp(-1j * phi[k]) * c * _speed(phi[k], theta[k])
        out.append(np.array([after[k], u, v, after[k + 1]]))
    return out


def _angles(
    chord: np.ndarray, far: np.ndarray, leaves: float | None, arrives: float | None, cyclic: bool
) -> tuple[np.ndarray, np.ndarray]:
    # theta[k]: from chord k to the direction leaving knot k; phi[k]: from the direction arriving to chord k
    count = len(chord)
    if cyclic:
        turn = np.angle(chord / np.roll(chord, 1))
        before = np.roll(far, 1)
        matrix = np.zeros((count, count))
        for k in range(count):
            matrix[k, k - 1] += 1 / before[k]
            matrix[k, k] += 2 / before[k] + 2 / far[k]
            matrix[k, (k + 1) % count] += 1 / far[k]
        theta = np.linalg.solve(matrix, -2 * turn / before - np.roll(turn, -1) / far)
        return theta, -np.roll(turn, -1) - np.roll(theta, -1)
    turn = np.concatenate([[0.0], np.angle(chord[1:] / chord[:-1]), [0.0]])
    matrix, right = np.zeros((count + 1, count + 1)), np.zeros(count + 1)
    for k in range(1, count):
        matrix[k, k - 1 : k + 2] = 1 / far[k - 1], 2 / far[k - 1] + 2 / far[k], 1 / far[k]
        right[k] = -2 * turn[k] / far[k - 1] - turn[k + 1] / far[k]
    for k, heading, along in ((0, leaves, chord[0]), (count, arrives, chord[-1])):
        matrix[k, k] = 1.0
        if heading is not None:
            right[k] = np.angle(_unit(heading) / along)
        else:  # an open end bends as its neighbour does
            near = 1 if k == 0 else count - 1
            matrix[k, near] = 1.0
            right[k] = -turn[near]
    theta = np.linalg.solve(matrix, right)
    return theta[:-1], -turn[1:] - theta[1:]


def _unit(heading_deg: float) -> complex:
    return cmath.exp(-1j * math.radians(heading_deg))  # y down


def _speed(theta: float, phi: float) -> float:
    st, sp, ct, cp = math.sin(theta), math.sin(phi), math.cos(theta), math.cos(phi)
    lead = math.sqrt(2.0) * (st - sp / 16) * (sp - st / 16) * (ct - cp)
    return (2.0 + lead) / (3.0 * (1.0 + 0.5 * (math.sqrt(5.0) - 1.0) * ct + 0.5 * (3.0 - math.sqrt(5.0)) * cp))
