"""Curves of a drawing as points that stray from them by at most a stated tolerance."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from ..model import FloatArray

__all__ = ["arc_points", "curve_points"]

MOST_STEPS = 100_000
"""Pieces of one curve; a curve that needs more is a mistake in the drawing."""


def curve_points(
    pieces: FloatArray, straight: np.ndarray, *, tolerance: float, most_points: int
) -> tuple[FloatArray, np.ndarray]:
    """Return the points of cubic curves one after the other, without their starts, and which point ends each curve.

    Parameters
    ----------
    pieces : (k, 4, 2) array
        Start, two handles and end of each.
    straight : (k,) bool
        Which are straight, wherever their handles lie.
    tolerance : float
        A piece of a curve over a parameter step h strays from its chord by at most ``h^2 max|B''| / 8``.
    most_points : int
        So many points are made at most.

    Raises
    ------
    ValueError
        A coordinate is not finite, a curve needs more than `MOST_STEPS` points, or all more than ``most_points``.
    """
    if not np.isfinite(pieces).all():
        raise ValueError("a coordinate is not finite")
    second = np.diff(pieces, 2, axis=1)
    bend = np.where(straight, 0.0, 6 * np.hypot(second[..., 0], second[..., 1]).max(axis=1, initial=0.0))
    wanted = np.sqrt(bend / (8 * tolerance))
    if not (wanted < MOST_STEPS).all():
        raise ValueError("a curve is too large to follow, or not finite")
    steps = np.maximum(1, np.ceil(wanted - 1e-9).astype(int))
    if steps.sum() > most_points:
        raise ValueError("the drawing holds too many points; simplify it")
    ends = np.cumsum(steps) - 1
    which = np.repeat(np.arange(len(pieces)), steps)
    t = ((np.arange(len(which)) - (ends - steps)[which]) / steps[which])[:, None]
    points: FloatArray = (1 - t) ** 3 * pieces[which, 0] + 3 * t * (1 - t) ** 2 * pieces[which, 1]
    points += 3 * t**2 * (1 - t) * pieces[which, 2] + t**3 * pieces[which, 3]
    points[ends] = pieces[:, -1]
    return points, ends


def arc_points(
    start: FloatArray,
    end: FloatArray,
    radii: Sequence[float],
    turned_deg: float,
    large: bool,
    clockwise: bool,
    *,
    tolerance: float,
) -> FloatArray:
    """Return the points of an elliptic arc, without its start.

    The middle and the angles are found as in SVG 2, "Implementation notes: conversion from endpoint to center
    parameterization"; an arc without a radius is a straight line, radii too small are enlarged.

    Raises
    ------
    ValueError
        It needs more than `MOST_STEPS` points, or is not finite.
    """
    rx, ry = (abs(r) for r in radii)
    if rx == 0 or ry == 0 or (start == end).all():
        return end[None]
    c, s = math.cos(math.radians(turned_deg)), math.sin(math.radians(turned_deg))
    half = (start - end) / 2
    x, y = c * half[0] + s * half[1], -s * half[0] + c * half[1]
    grow = (x / rx) ** 2 + (y / ry) ** 2
    if grow > 1:
        rx, ry = rx * math.sqrt(grow), ry * math.sqrt(grow)
    below = rx**2 * y**2 + ry**2 * x**2
    root = math.sqrt(max(rx**2 * ry**2 / below - 1, 0.0)) * (-1 if large == clockwise else 1) if below > 0 else 0.0
    u, v = root * rx * y / ry, -root * ry * x / rx
    middle = np.array([c * u - s * v, s * u + c * v]) + (start + end) / 2
    begin = math.atan2((y - v) / ry, (x - u) / rx)
    sweep = math.atan2((-y - v) / ry, (-x - u) / rx) - begin
    if clockwise and sweep < 0:
        sweep += 2 * math.pi
    elif not clockwise and sweep > 0:
        sweep -= 2 * math.pi
    wanted = abs(sweep) * math.sqrt(max(rx, ry) / (8 * tolerance))
    if not wanted < MOST_STEPS:
        raise ValueError("a curve is too large to follow, or not finite")
    a = begin + sweep * np.linspace(0.0, 1.0, max(1, math.ceil(wanted)) + 1)[1:]
    p, q = rx * np.cos(a), ry * np.sin(a)
    points: FloatArray = middle + np.column_stack([c * p - s * q, s * p + c * q])
    points[-1] = end
    return points
