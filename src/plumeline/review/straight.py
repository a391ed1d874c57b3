"""Whether a straight line will stand beside a crooked seam and show it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from ..codes import FindingCode
from ..geometry import arc_lengths, close_ring, densify, nearest_of
from ..model import Finding, FloatArray, Path, Stroke, as_path
from ..units import Unit, format_length

__all__ = ["ShownSeam", "crooked_seam_findings", "shown_seams", "straight_runs"]

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

SEEN_MM = 25.4 / 32
"""A gap beside a seam that changes by less looks even."""

FOLLOWS = ("channel", "rings", "outline", "echo")
"""Fills whose lines can go with a crooked seam."""

SHARE = 0.5
"""How much of the shorter of the two must run beside the other."""


def straight_runs(path: FloatArray, *, closed: bool = False) -> list[FloatArray]:
    """Return the straight stretches of a path at least `STRAIGHT_MM` long, each as its two ends ``(2, 2)``.

    Parameters
    ----------
    path : (n, 2) array
        A polyline.
    closed : bool
        Whether it leads back to its start.

    Returns
    -------
    list of (n, 2) arrays
        Empty for a curve.
    """
    points = close_ring(path, closed)
    if len(points) < 2:
        return []
    step = np.diff(points, axis=0)
    heading = np.unwrap(np.arctan2(step[:, 1], step[:, 0]))
    breaks = np.flatnonzero(np.abs(np.diff(heading)) > BEND_RAD) + 1
    edges = np.concatenate([[0], breaks, [len(points) - 1]])
    runs = np.stack([points[edges[:-1]], points[edges[1:]]], axis=1)
    way = runs[:, 1] - runs[:, 0]
    long = np.hypot(way[:, 0], way[:, 1]) >= STRAIGHT_MM
    return [run for run in runs[long] if _is_straight(points, run)]


def _is_straight(points: FloatArray, run: FloatArray) -> bool:
    # a gentle curve has no single bend over the limit; its length against its chord tells
    first = int(np.flatnonzero((points == run[0]).all(axis=1))[0])
    last = int(np.flatnonzero((points == run[1]).all(axis=1))[-1])
    if last <= first:
        return False
    along = arc_lengths(points[first : last + 1])[-1]
    return bool(along <= 1.0005 * np.hypot(*(run[1] - run[0])))


@dataclass(frozen=True, slots=True, eq=False)
class ShownSeam:
    """A crooked seam that straight lines of a fill show.

    Attributes
    ----------
    off_mm : float
        How far the seam is out of true.
    seam : Path
        Where it lies.
    line : (2, 2) array or None
        The straight run beside it that shows it most; None where a grid of lines ends at it.
    away_mm, varies_mm : float or None
        How far the line is from it on the mean, and by how much that changes along it.
    """

    zone: str
    fill: str
    name: str
    off_mm: float
    seam: Path
    line: FloatArray | None = None
    away_mm: float | None = None
    varies_mm: float | None = None

    @property
    def score(self) -> float:
        """How plainly it shows: how much the gap beside it changes, as a share of the gap; 1 is as much as it is wide.

        A grid that ends at it is scored as a line an inch away.
        """
        if self.away_mm is None or self.varies_mm is None:
            return self.off_mm / BESIDE_MM
        return self.varies_mm / max(self.away_mm, self.varies_mm)


def shown_seams(strokes: Sequence[Stroke], crooked: Sequence[tuple[FloatArray, float, str]]) -> tuple[ShownSeam, ...]:
    """Return the crooked seams that straight lines show, fill by fill, the plainest of each first.

    A line that keeps its distance along a seam shows nothing, however the seam runs.

    Parameters
    ----------
    strokes : sequence of Stroke
        All that will be stitched.
    crooked : sequence of (path, off_mm, name)
        The seams that are off, by how much, and what to call them ("the seam between 'a' and 'b'").

    Returns
    -------
    tuple of ShownSeam
        Each with its line, how far apart the two are, and by how much that changes.
    """
    if not crooked:
        return ()
    runs: dict[tuple[str, str], list[FloatArray]] = {}
    for stroke in strokes:
        if stroke.role == "stitch":
            runs.setdefault((stroke.zone, stroke.fill), []).extend(straight_runs(stroke.path, closed=stroke.closed))
    seams = [(densify(path, SAMPLE_MM), path, off, name) for path, off, name in crooked]
    out: list[ShownSeam] = []
    for (zone, fill), lines in runs.items():
        found = [
            ShownSeam(zone, fill, name, off, as_path(path), *beside)
            for seam, path, off, name in seams
            if (beside := _most_shown_by(lines, seam)) is not None
        ]
        if not found:
            found = [
                ShownSeam(zone, fill, name, off, as_path(path))
                for seam, path, off, name in seams
                if _grid_meets(lines, seam)
            ]
        out += sorted(found, key=lambda s: (-s.score, s.name))
    return tuple(out)


def crooked_seam_findings(shown: Sequence[ShownSeam], *, unit: Unit = "in") -> tuple[Finding, ...]:
    """Return a note for each zone in which straight lines run beside crooked seams, as `shown_seams` tells them.

    Parameters
    ----------
    shown : sequence of ShownSeam
        As `shown_seams` gives them.
    unit : {"in", "mm", "cm"}
        The unit of lengths in the words.

    Returns
    -------
    tuple of Finding
        Empty for no seams.
    """
    out = []
    inch = "an inch" if unit == "in" else format_length(BESIDE_MM, unit)
    for zone in dict.fromkeys(s.zone for s in shown):
        own = [s for s in shown if s.zone == zone]
        worst = max(own, key=lambda s: (s.score, s.name))
        grid = worst.away_mm is None
        said = "a grid of straight lines meets" if grid else f"straight lines run within {inch} of"
        near = "" if worst.away_mm is None else f"; the nearest is {format_length(worst.away_mm, unit)} from it"
        others = f"; the worst of {len(own)} such seams" if len(own) > 1 else ""
        out.append(
            Finding(
                FindingCode.STRAIGHT_BESIDE_CROOKED,
                "note",
                zone,
                f"{said} {worst.name}, which is {format_length(worst.off_mm, unit)} out of true{near}{others}",
                f"The eye compares the two. {_way_out(worst.fill)}A curved or all-over fill there forgives the "
                f"piecing; so do both patches in one zone, or an inset that keeps straight lines over {inch} away from "
                "it.",
            )
        )
    return tuple(out)


def _way_out(fill: str) -> str:
    """Return what the fill itself can do; nothing where its lines can't follow a seam."""
    return 'With follow = "seam" its lines go with the seams as they are. ' if fill in FOLLOWS else ""


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


def _most_shown_by(runs: Sequence[FloatArray], seam: FloatArray) -> tuple[FloatArray, float, float] | None:
    """Return the run beside a seam that shows it most, how far it is from it, and by how much that changes."""
    low, high = seam.min(axis=0) - BESIDE_MM, seam.max(axis=0) + BESIDE_MM
    ends = np.array(runs).reshape(-1, 2, 2)
    near = ((ends.max(axis=1) >= low) & (ends.min(axis=1) <= high)).all(axis=1)
    found = [(run, *away) for run in ends[near] if (away := _beside(run, seam)) is not None]
    return max(found, key=lambda f: (round(f[2] / max(f[1], f[2]), 6), -f[1]), default=None)


def _beside(run: FloatArray, seam: FloatArray) -> tuple[float, float] | None:
    """Return how far a run lies from a seam on the mean and how that changes; None where it shows nothing of it."""
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
    varies = float(np.ptp(across[near]))
    return (float(across[near].mean()), varies) if varies > SEEN_MM else None
