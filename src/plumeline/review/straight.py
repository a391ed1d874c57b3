"""Whether a straight line will stand beside a crooked seam and show it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from scipy.spatial import cKDTree

from ..codes import FindingCode
from ..geometry import arc_lengths, close_ring, densify, nearest_of
from ..model import Finding, FloatArray, Stroke
from ..units import format_length

__all__ = ["crooked_seam_findings", "straight_runs"]

BESIDE_MM = 25.4
"""A line within an inch of a seam is compared with it by the eye."""

STRAIGHT_MM = 63.5
"""A run of this length without a bend reads as straight."""

BEND_RAD = np.radians(1.0)
PARALLEL_RAD = np.radians(10.0)
"""A line that runs at more than this to the seam is not compared with it."""

GRID_LINES, GRID_RAD = 3, np.radians(30.0)
"""A grid is two families of at least so many parallel lines each, at more than this to each other."""

SAMPLE_MM = 6.0
"""Distance between the places of a seam that are compared."""

SHARE = 0.5
"""How much of the shorter of the two must run beside the other."""


def straight_runs(path: FloatArray, *, closed: bool = False) -> list[FloatArray]:
    """Return the straight stretches of a path at least `STRAIGHT_MM` long, each as its two ends ``(2, 2)``."""
    points = close_ring(path, closed)
    if len(points) < 2:
        return []
    step = np.diff(points, axis=0)
    heading = np.unwrap(np.arctan2(step[:, 1], step[:, 0]))
    breaks = np.flatnonzero(np.abs(np.diff(heading)) > BEND_RAD) + 1
    edges = np.concatenate([[0], breaks, [len(points) - 1]])
    runs = [points[[a, b]] for a, b in pairwise(edges)]
    return [run for run in runs if np.hypot(*(run[1] - run[0])) >= STRAIGHT_MM and _is_straight(points, run)]


def _is_straight(points: FloatArray, run: FloatArray) -> bool:
    # a gentle curve has no single bend over the limit; its length against its chord tells
    first = int(np.flatnonzero((points == run[0]).all(axis=1))[0])
    last = int(np.flatnonzero((points == run[1]).all(axis=1))[-1])
    if last <= first:
        return False
    along = arc_lengths(points[first : last + 1])[-1]
    return bool(along <= 1.0005 * np.hypot(*(run[1] - run[0])))


@dataclass(frozen=True, slots=True)
class _Shown:
    """A seam that straight lines show: how far it is off, and how far the nearest of them is from it."""

    off_mm: float
    away_mm: float | None
    name: str

    @property
    def score(self) -> float:
        """How plainly it shows: what it is off as a share of the gap that the eye sees beside it."""
        return self.off_mm / (BESIDE_MM if self.away_mm is None else max(self.away_mm, self.off_mm))


def crooked_seam_findings(
    strokes: Sequence[Stroke], crooked: Sequence[tuple[FloatArray, float, str]]
) -> tuple[Finding, ...]:
    """Return a note for each zone in which straight lines run beside crooked seams.

    Parameters
    ----------
    strokes : sequence of Stroke
        All that will be stitched.
    crooked : sequence of (path, off_mm, name)
        The seams that are off, by how much, and what to call them ("the seam between 'a' and 'b'").
    """
    if not crooked:
        return ()
    runs: dict[str, list[FloatArray]] = {}
    for stroke in strokes:
        if stroke.role == "stitch":
            runs.setdefault(stroke.zone, []).extend(straight_runs(stroke.path, closed=stroke.closed))
    seams = [(densify(path, SAMPLE_MM), off, name) for path, off, name in crooked]
    out = []
    for zone, lines in runs.items():
        shown = [
            _Shown(off, away, name) for seam, off, name in seams if (away := _nearest_beside(lines, seam)) is not None
        ]
        said = "straight lines run within an inch of"
        if not shown:
            shown = [_Shown(off, None, name) for seam, off, name in seams if _grid_meets(lines, seam)]
            said = "a grid of straight lines meets"
        if shown:
            worst = max(shown, key=lambda s: (s.score, s.name))
            near = "" if worst.away_mm is None else f"; the nearest is {format_length(worst.away_mm)} from it"
            others = f"; the worst of {len(shown)} such seams" if len(shown) > 1 else ""
            out.append(
                Finding(
                    FindingCode.STRAIGHT_BESIDE_CROOKED,
                    "note",
                    zone,
                    f"{said} {worst.name}, which is {format_length(worst.off_mm)} out of true{near}{others}",
                    "The eye compares the two. A curved or all-over fill there forgives the piecing; so do both "
                    "patches in one zone, or an inset that keeps straight lines over an inch away from it.",
                )
            )
    return tuple(out)


def _grid_meets(runs: Sequence[FloatArray], seam: FloatArray) -> bool:
    """Return whether two families of parallel lines end at a seam: their squares are cut unevenly along it."""
    ends = np.array(runs).reshape(-1, 2, 2)
    far = nearest_of(cKDTree(seam), ends.reshape(-1, 2))[0].reshape(-1, 2)
    ends = ends[(far <= BESIDE_MM).any(axis=1)]
    way = ends[:, 1] - ends[:, 0]
    heading = np.arctan2(way[:, 1], way[:, 0])
    apart = np.abs((heading[:, None] - heading[None] + np.pi / 2) % np.pi - np.pi / 2)
    parallel = (apart <= BEND_RAD).sum(axis=1) >= GRID_LINES
    return bool((apart[np.ix_(parallel, parallel)] > GRID_RAD).any())


def _nearest_beside(runs: Sequence[FloatArray], seam: FloatArray) -> float | None:
    """Return how far the nearest run beside a seam is from it on the mean; None when none runs beside it."""
    low, high = seam.min(axis=0) - BESIDE_MM, seam.max(axis=0) + BESIDE_MM
    ends = np.array(runs).reshape(-1, 2, 2)
    near = ((ends.max(axis=1) >= low) & (ends.min(axis=1) <= high)).all(axis=1)
    found = [away for run in ends[near] if (away := _beside(run, seam)) is not None]
    return min(found, default=None)


def _beside(run: FloatArray, seam: FloatArray) -> float | None:
    way = run[1] - run[0]
    length = float(np.hypot(*way))
    way = way / length
    course = seam[-1] - seam[0]
    norm = float(np.hypot(*course))
    if norm == 0 or abs(way[0] * course[1] - way[1] * course[0]) / norm > np.sin(PARALLEL_RAD):
        return None
    off = seam - run[0]
    along, across = off @ way, np.abs(off[:, 0] * way[1] - off[:, 1] * way[0])
    near = (across <= BESIDE_MM) & (along >= 0) & (along <= length)
    if near.mean() * norm < SHARE * min(length, norm):
        return None
    return float(across[near].mean())
