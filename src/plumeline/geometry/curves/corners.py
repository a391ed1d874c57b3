"""Corners of an outline, and the sides between them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ...model import FloatArray, Path, as_path
from .polylines import arc_lengths, close_ring, dedupe, signed_area

__all__ = ["Outline", "cornered", "corners_from_upper_left"]

CORNER_DEG = 30.0
"""An outline that turns by less at a vertex runs on: seams wander, and curves are many small turns."""

DOUBLED_MM = 0.01
"""Vertices closer than this are one: digitised outlines double points, and a doubled corner has no turn."""


TIE_MM = 0.5
"""Corners that differ by less in how near the upper left they lie count as equally near."""

SHOWN_MM = 0.75
"""A turn is that between chords so long before and after a vertex: a jog of under 0.25 mm, less than a thread is wide,
makes no corner, and one that is cut off or rounded by as little is one corner."""


@dataclass(frozen=True, slots=True, eq=False)
class Outline:
    """One ring of a region with its corners marked.

    Attributes
    ----------
    path : Path
        The ring without doubled points, clockwise as seen (y down), first point not repeated.
    corners : (k,) int array
        Indices of the corners in ``path``, in order round the ring.
    inner_deg : (k,) float64
        The angle inside the ring at each corner, 0 to 360.
    """

    path: Path
    corners: np.ndarray
    inner_deg: FloatArray

    @property
    def points(self) -> FloatArray:
        """The corners themselves, ``(k, 2)``."""
        at: FloatArray = self.path[self.corners]
        return at

    def sides(self) -> list[Path]:
        """Return the ``k`` stretches from each corner to the next; none when there are fewer than two corners."""
        if len(self.corners) < 2:
            return []
        count = len(self.path)
        ends = np.roll(self.corners, -1)
        ends = np.where(ends <= self.corners, ends + count, ends)
        return [as_path(self.path[np.arange(a, b + 1) % count]) for a, b in zip(self.corners, ends)]


def cornered(ring: ArrayLike, *, least_deg: float = CORNER_DEG) -> Outline:
    """Return a closed path with the corners at which it turns by more than ``least_deg`` marked.

    Parameters
    ----------
    ring : (n, 2) array_like
        Closed, first point not repeated.
    least_deg : float
        What turns by less is no corner.

    Returns
    -------
    Outline
        Its points, corners and inner angles.
    """
    path = dedupe(ring, closed=True, nearer_than_mm=DOUBLED_MM)
    if signed_area(path) < 0:
        path = as_path(path[::-1])
    turn, at, total = _shown_turns(path)
    corners: list[int] = []
    for k in np.argsort(-np.round(np.abs(turn), 9), kind="stable").tolist():
        if not abs(turn[k]) > least_deg:
            break
        apart = np.abs(at[corners] - at[k])
        beside = np.minimum(apart, total - apart) < SHOWN_MM
        if not (beside & (np.sign(turn[corners]) == np.sign(turn[k]))).any():
            corners.append(k)
    corners.sort()
    return Outline(path, np.array(corners, dtype=np.int64), 180.0 - turn[corners])


def corners_from_upper_left(ring: ArrayLike) -> FloatArray:
    """Return the corners ``(k, 2)`` of a closed path, clockwise from the one nearest its upper left.

    Of two equally near, as of a square on point, the upper one is first; a path without three corners gives all points.

    Parameters
    ----------
    ring : (n, 2) array_like
        Closed, first point not repeated.

    Returns
    -------
    ``(k, 2)`` array
        First point not repeated.
    """
    found = cornered(ring)
    corners = found.points if len(found.corners) >= 3 else found.path
    away = corners.sum(axis=1)
    near = np.flatnonzero(away <= away.min() + TIE_MM)
    return np.roll(corners, -int(near[np.argmin(corners[near, 1])]), axis=0)


def _shown_turns(path: Path) -> tuple[FloatArray, FloatArray, float]:
    """Return the turn of a closed path at each vertex as the eye sees it, degrees, where each lies, and the length."""
    if len(path) < 3:
        return np.zeros(len(path)), np.zeros(len(path)), 0.0
    s = arc_lengths(close_ring(path))
    total, at = float(s[-1]), s[:-1]
    reach = min(SHOWN_MM, total / 8)
    round_it = np.concatenate([at - total, at, at + total])
    ring = np.vstack([path, path, path])
    before, after = (
        np.column_stack([np.interp(at + shift, round_it, ring[:, axis]) for axis in (0, 1)])
        for shift in (-reach, reach)
    )
    u, v = path - before, after - path
    cross = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
    return np.degrees(np.arctan2(cross, (u * v).sum(axis=1))), at, total


def arc_fractions(side: Sequence[FloatArray] | FloatArray) -> FloatArray:
    """Return how far along an open path each of its points lies, 0 to 1."""
    steps = np.hypot(*np.diff(np.asarray(side), axis=0).T)
    total = np.concatenate([[0.0], np.cumsum(steps)])
    fractions: FloatArray = total / total[-1]
    return fractions
