"""Calming the line: teeth, hairs and tight bends draw back until each can be turned with ease."""

from __future__ import annotations

import numpy as np

from ...model import BoolArray, FloatArray, IntArray

__all__ = ["LEAST_RADIUS", "calmed"]

LEAST_RADIUS = 0.37
"""No bend is tighter than this, in spacings: 0.35 and what cutting corners takes."""

STEPS = 24
"""Steps at most; a hair of four nodes is gone after ten."""

MOVE = 0.5
"""How far a tight node moves to between its neighbours in a step; more and bends swing."""

SHARE = (1.0, 0.7, 0.3)
"""What part of it the nodes next to it move, by how far they are from it along the line."""

CLOSE = 0.55
"""Two nodes of a tight bend nearer than this part of their usual distance become one."""

WIDE = 1.5
"""Two further apart than so many times it get one between."""

UNEVEN = 1.3
"""Between a short and a long step a bend is as tight as if the long one were so many times the short."""

FEWEST = 4
"""A path of fewer nodes is let be."""

TIP = np.cos(np.radians(100.0))
"""A node at which the line turns by more is the tip of a hair: it goes."""


def calmed(path: FloatArray, held: BoolArray, *, closed: bool, node: float, least: float) -> FloatArray:
    """Return a path whose bends are no tighter than a radius, nodes as corners that are to be cut.

    Where a bend is tighter the line is made shorter, as a thread pulled: a tooth becomes lower, a hair draws back out
    of its tip until its sides are far enough apart, or is gone.

    Parameters
    ----------
    path : (n, 2)
        Nodes about ``node`` apart.
    held : (n,) bool
        Nodes that stay where they are.
    least : float
        The least radius.

    Notes
    -----
    O(steps x n). Pulling a thread straight in the plane makes no crossing where nothing lies in the bend; what may lie
    there, another strand or the region's edge, is for the caller to look at.
    """
    at = np.ascontiguousarray(path).view(np.complex128).ravel()  # gathered as one number a node, they cost half
    fixed = held.copy()
    if not closed:
        fixed[[0, -1]] = True
    for _ in range(STEPS):
        if len(at) < FEWEST:
            break
        before, after = _sides(len(at), closed)
        legs = at[after] - at
        one, two = legs[before], legs
        if not closed:
            one[0] = two[0]
        way, turn, dot = (one + two) / 2, two - one, (one * two.conj()).real
        first, second = np.abs(one), np.abs(two)
        far = np.minimum(np.abs(way), UNEVEN * np.minimum(first, second))
        tight = np.abs((way * turn.conj()).imag) * least > far**3
        tight |= (dot < 0) & (far < least)
        tight &= ~fixed
        if not tight.any():
            break
        share = _spread(tight, before, after)
        share[fixed] = 0.0
        at = at + MOVE / 2 * share * turn
        kept = ~_gone(first, second, dot, share, node)
        at, fixed, share = at[kept], fixed[kept], share[kept]
        legs = np.diff(at)
        wide = np.flatnonzero((np.abs(legs) > WIDE * node) & (share[:-1] + share[1:] > 0)) + 1
        if len(wide):
            at, fixed = np.insert(at, wide, at[wide - 1] + legs[wide - 1] / 2), np.insert(fixed, wide, False)
    return np.column_stack([at.real, at.imag])


def _sides(n: int, closed: bool) -> tuple[IntArray, IntArray]:
    at = np.arange(n)
    if closed:
        return (at - 1) % n, (at + 1) % n
    return np.maximum(at - 1, 0), np.minimum(at + 1, n - 1)


def _spread(tight: BoolArray, before: IntArray, after: IntArray) -> FloatArray:
    share, reached = tight * SHARE[0], tight
    for part in SHARE[1:]:
        reached = reached | reached[before] | reached[after]
        share = np.maximum(share, part * reached)
    return np.asarray(share)


def _gone(one: FloatArray, two: FloatArray, dot: FloatArray, share: FloatArray, node: float) -> BoolArray:
    """Return the nodes that are left out: tips of hairs, and of those that come too near to each other every other."""
    gone: BoolArray = (share > 0) & ((dot < TIP * one * two) | (np.minimum(one, two) < CLOSE * node))
    gone[1:] &= ~gone[:-1] | (np.arange(1, len(gone)) % 2 == 0)
    return gone
