"""Where the needle goes down along lines: even stitches, shorter in tight curves, corners kept.

Method
------
Lines are laid end to end on one axis of length. The wished stitch at each place is the longest whose chord
stays within `chord_mm` of the curve, ``sqrt(8 chord r)``, between the least stitch and the target. The integral of
one over that wish counts stitches; each section between corners gets a whole number of them, at equal steps of the
integral, so neighbouring stitches never differ suddenly. One numpy pass over many lines, O(n) but for sorting corners.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike

from ..errors import StitchError
from ..geometry import close_ring
from ..model import BoolArray, FloatArray, IntArray, Path, as_path
from ..tolerances import SAME_MM

__all__ = ["Axis", "Drops", "Steps", "needle_points", "place_drops"]


AT_ONCE = 100_000
"""Vertices in one run of paths that are laid out together: quick, and a large quilt takes no more memory for it."""
GAP_MM = 50.0
"""Empty length between two lines on the axis; wider than every window, so that lines don't feel each other."""
CORNER_RAD = math.radians(35.0)
"""A turn sharper than this gets a needle point of its own; higher rounds points off, lower breaks up tight curves."""
CORNER_REACH_MM = 0.3
"""A corner's turn is measured between the chords this far before and after it, so that rounded points count too."""
SLACK = 0.2
"""A section may have stitches this much over the wish (of one stitch) before it gets one more."""
LEAST_SLACK = 1.1
"""A section may have stitches this factor under the least one, to spare tight curves a polygon's look."""
END_CLEAR = 0.6
"""No corner nearer to a line's end than this times the least stitch."""
LEAST_SHARE = 0.25
"""Two holes in a row nearer than this times the least stitch are one to the eye, and hammer the cloth."""
TIP_SHARE = 0.5
"""A tip that stands out this far, in least stitches, from both of two such holes gets a hole of its own between."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Steps:
    """Stitch lengths in mm: target, least, and how far a chord may leave the curve."""

    stitch_mm: float = 2.54
    least_mm: float = 1.2
    chord_mm: float = 0.2

    def __post_init__(self) -> None:
        for name in ("stitch_mm", "least_mm", "chord_mm"):
            value = getattr(self, name)
            if not (math.isfinite(value) and value > 0):
                raise StitchError(f"is {value!r}; must be a length over 0 mm", key=name)
        if self.least_mm > self.stitch_mm:
            raise StitchError(
                f"is {self.least_mm:g} mm; must not be over the stitch length of {self.stitch_mm:g} mm", key="least_mm"
            )


@dataclass(frozen=True, slots=True, eq=False)
class Axis:
    """All lines end to end on one axis of length, with gaps between.

    Attributes
    ----------
    at : (n,) float64
        The axis at each vertex.
    xy : (n, 2) float64
        The vertices.
    first : (lines + 1,) int
        Line ``i`` has vertices ``first[i]:first[i + 1]``.
    fresh : (n,) bool
        False where a vertex doubles the one before.
    """

    at: FloatArray
    xy: FloatArray
    first: IntArray
    fresh: BoolArray

    @classmethod
    def of(cls, paths: Sequence[Path]) -> Axis:
        """Lay paths end to end."""
        xy = np.concatenate([*paths, np.zeros((0, 2))])
        first = np.concatenate([[0], np.cumsum([len(p) for p in paths])]).astype(np.intp)
        step = np.zeros(len(xy))
        step[1:] = np.hypot(xy[1:, 0] - xy[:-1, 0], xy[1:, 1] - xy[:-1, 1])
        fresh = step > SAME_MM
        begins = first[:-1][first[:-1] < len(xy)]
        step[begins], fresh[begins] = GAP_MM, True
        return cls(np.cumsum(step), xy, first, fresh)

    def point(self, at: FloatArray) -> FloatArray:
        """Return the points at places on the axis."""
        return np.column_stack([np.interp(at, self.at, self.xy[:, i]) for i in (0, 1)])


@dataclass(frozen=True, slots=True, eq=False)
class Drops:
    """Needle points of several lines as parallel arrays.

    Attributes
    ----------
    xy : (m, 2) float64
        mm, y down.
    at : (m,) float64
        Place along its line, from 0.
    first : (lines + 1,) int
        Line ``i`` has rows ``first[i]:first[i + 1]`` (none when it has no length).
    """

    xy: FloatArray
    at: FloatArray
    first: IntArray


def needle_points(
    path: ArrayLike, *, stitch_mm: float = 2.54, least_mm: float = 1.2, chord_mm: float = 0.2, closed: bool = False
) -> Path:
    """Return the needle points of one path, ``(m, 2)``: both ends and every corner exactly, even stitches between.

    Parameters
    ----------
    path : (n, 2) array_like
        mm; curves flattened to 0.05 mm or better. A closed path does not repeat its first point; its needle
        points do, at the end.
    stitch_mm : float
        Target; no stitch is longer than 1.2 times this.
    least_mm : float
        No stitch along a curve is wished shorter; two corners nearer than this share one needle point.
    chord_mm : float
        How far a full stitch may leave the curve; a section of few stitches may use 1.44 times as much.
    closed : bool
        Whether the path leads back to its start.

    Returns
    -------
    Path
        No points for an empty path, one for a path without length.

    Raises
    ------
    StitchError
        A length is not over 0, or the least stitch is over the target.

    Examples
    --------
    >>> needle_points([(0, 0), (10, 0)], stitch_mm=2.5)[:, 0].tolist()
    [0.0, 2.5, 5.0, 7.5, 10.0]
    """
    points = as_path(close_ring(as_path(path), closed))
    drops = place_drops([points], Steps(stitch_mm=stitch_mm, least_mm=least_mm, chord_mm=chord_mm))
    return as_path(drops.xy if len(drops.xy) else points[:1])


def place_drops(paths: Sequence[Path], steps: Steps, *, forced: BoolArray | None = None) -> Drops:
    """Return the needle points of all paths, many paths at once.

    Parameters
    ----------
    paths : sequence of Path
        Open paths, mm.
    forced : (vertices of all paths,) bool, optional
        Vertices that must get a needle point, corner or not.
    """
    ends = np.cumsum([0, *(len(p) for p in paths)])
    runs = np.flatnonzero(
        np.diff(ends[:-1] // AT_ONCE, prepend=-1, append=-1)
    )  # where a run of paths begins, and the end
    placed = [
        _placed(paths[a:b], steps, None if forced is None else forced[ends[a] : ends[b]])
        for a, b in pairwise(runs.tolist())
    ]
    first = np.concatenate([[0], *(np.diff(run.first) for run in placed)]).cumsum().astype(np.intp)
    xy, at = [np.zeros((0, 2)), *(run.xy for run in placed)], [np.zeros(0), *(run.at for run in placed)]
    return Drops(np.concatenate(xy), np.concatenate(at), first)


def _placed(paths: Sequence[Path], steps: Steps, forced: BoolArray | None) -> Drops:
    """Return the needle points of a run of paths in one pass."""
    axis = Axis.of(paths)
    counts = np.diff(np.concatenate([[0], np.cumsum(axis.fresh)])[axis.first])
    live = counts > 1  # the others have no length
    keep = axis.fresh & np.repeat(live, np.diff(axis.first))
    xy, s = axis.xy[keep], axis.at[keep]
    ends = np.cumsum(counts[live]) - 1
    starts = ends - counts[live] + 1
    if not len(starts):
        return Drops(np.zeros((0, 2)), np.zeros(0), np.zeros(len(paths) + 1, np.intp))
    turn = _turns(xy, starts, ends)
    corners = _corners(xy, s, turn, starts, ends, steps, None if forced is None else forced[keep])
    bounds = np.unique(np.concatenate([starts, ends, corners]))
    closes = np.zeros(len(s), dtype=bool)  # the last vertex of a line ends its last section and begins none
    closes[ends] = True
    begin = np.flatnonzero(~closes[bounds])
    a, b = bounds[begin], bounds[begin + 1]
    sample_s, sample_n, wishes = _density(s, turn, corners, a, b, closes, steps)
    n_a, n_b = (np.interp(s[i], sample_s, sample_n) for i in (a, b))
    counts_n = _counts(s[b] - s[a], n_b - n_a, wishes, steps)
    at, corner = _spread(s, a, b, closes, n_a, n_b, counts_n, sample_s, sample_n)
    out = np.column_stack([np.interp(at, s, xy[:, 0]), np.interp(at, s, xy[:, 1])])
    out[corner] = xy[bounds]
    number = np.zeros(len(paths), dtype=np.intp)  # needle points of each line
    line_of_section = np.searchsorted(starts, a, side="right") - 1
    number[np.flatnonzero(live)] = np.bincount(line_of_section, weights=counts_n).astype(np.intp) + 1
    out, at, number = _told_apart(out, at, number, xy, s, steps.least_mm)
    at -= np.repeat(s[starts], number[live])
    return Drops(out, at, np.concatenate([[0], np.cumsum(number)]))


def _told_apart(
    out: FloatArray, at: FloatArray, number: IntArray, xy: FloatArray, s: FloatArray, least_mm: float
) -> tuple[FloatArray, FloatArray, IntArray]:
    """Return the needle points without two in a row that are one hole.

    Stitches are even along a line, so where it goes to a tip and back the holes on both sides may fall on each other:
    the tip gets one between them, and where it hardly stands out one of the two goes. A lone stitch stays.
    """
    while True:
        line = np.repeat(np.arange(len(number)), number)
        near = np.hypot(*np.diff(out, axis=0).T) < LEAST_SHARE * least_mm
        twins = np.flatnonzero(near & (line[1:] == line[:-1]))
        tips, gone = _tips_and_gone(out, at, number, twins, xy, s, least_mm)
        if not (tips or gone):
            return out, at, number
        rows, vertices = (np.array([t[i] for t in tips], dtype=np.intp) for i in (0, 1))
        number = number + np.bincount(line[rows], minlength=len(number)).astype(np.intp)
        number -= np.bincount(line[gone], minlength=len(number)).astype(np.intp)
        stay = np.ones(len(out), dtype=bool)
        stay[gone] = False
        order = np.argsort(np.concatenate([np.flatnonzero(stay), rows - 0.5]), kind="stable")
        out = np.vstack([out[stay], xy[vertices]])[order]
        at = np.concatenate([at[stay], s[vertices]])[order]


def _tips_and_gone(
    out: FloatArray,
    at: FloatArray,
    number: IntArray,
    twins: IntArray,
    xy: FloatArray,
    s: FloatArray,
    least_mm: float,
) -> tuple[list[tuple[int, int]], list[int]]:
    """Return the vertices to be put in, each with the row that it comes before, and the rows to be left out."""
    last = np.cumsum(number) - 1
    ends = {*last.tolist(), *(last - number + 1).tolist()}
    gone: set[int] = set()
    tips = []
    for k in twins.tolist():
        between = np.arange(*np.searchsorted(s, at[[k, k + 1]]))
        far = np.minimum(*(np.hypot(*(xy[between] - out[i]).T) for i in (k, k + 1)))
        if len(far) and far.max() >= TIP_SHARE * least_mm:
            tips.append((k + 1, int(between[np.argmax(np.round(far, 9))])))
            continue
        free = [i for i in (k, k + 1) if i not in ends]
        if free and not gone & {k, k + 1}:  # the same one whichever way the line is gone along
            gone.add(min(free, key=lambda i: tuple(np.round(out[i], 6))))
    return tips, sorted(gone)


def _turns(xy: FloatArray, starts: IntArray, ends: IntArray) -> FloatArray:
    dx, dy = np.diff(xy[:, 0]), np.diff(xy[:, 1])
    turn = np.zeros(len(xy))
    cross, dot = dx[:-1] * dy[1:] - dy[:-1] * dx[1:], dx[:-1] * dx[1:] + dy[:-1] * dy[1:]
    turn[1:-1] = np.abs(np.arctan2(cross, dot))
    turn[starts] = turn[ends] = 0.0
    return turn


def _corners(
    xy: FloatArray,
    s: FloatArray,
    turn: FloatArray,
    starts: IntArray,
    ends: IntArray,
    steps: Steps,
    forced: BoolArray | None,
) -> IntArray:
    """Return the vertices that get a needle point of their own, none nearer to another than the least stitch."""
    dual = np.empty(len(s))
    dual[1:-1], dual[0], dual[-1] = (s[2:] - s[:-2]) / 2, 1.0, 1.0
    # A window that turns by 0.8 of a corner holds a vertex of at least its mean turn for each mm.
    dense_turn = 0.8 * CORNER_RAD / (2 * CORNER_REACH_MM)
    look = (turn > 0.3 * CORNER_RAD) | (turn > dense_turn * dual)
    if forced is not None:
        look |= forced
    index = np.flatnonzero(look)
    line = np.searchsorted(starts, index, side="right") - 1
    to_end = np.minimum(s[index] - s[starts[line]], s[ends[line]] - s[index])
    index = index[to_end >= END_CLEAR * steps.least_mm]
    sharp = _chord_turn(xy, s, index, starts, ends)
    wish = sharp > CORNER_RAD
    if forced is not None:
        sharp = np.where(forced[index], sharp + 2 * np.pi, sharp)  # forced ones win over every corner
        wish |= forced[index]
    index, sharp = index[wish], sharp[wish]
    return _sharpest(index, s[index], sharp, steps.least_mm)


def _chord_turn(xy: FloatArray, s: FloatArray, index: IntArray, starts: IntArray, ends: IntArray) -> FloatArray:
    line = np.searchsorted(starts, index, side="right") - 1
    before = np.maximum(s[index] - CORNER_REACH_MM, s[starts[line]])
    after = np.minimum(s[index] + CORNER_REACH_MM, s[ends[line]])
    u = [np.interp(before, s, xy[:, i]) - xy[index, i] for i in (0, 1)]
    v = [np.interp(after, s, xy[:, i]) - xy[index, i] for i in (0, 1)]
    out: FloatArray = np.abs(np.arctan2(u[1] * v[0] - u[0] * v[1], -(u[0] * v[0] + u[1] * v[1])))
    return out


def _sharpest(index: IntArray, at: FloatArray, sharp: FloatArray, apart_mm: float) -> IntArray:
    # the sharpest first, none nearer to a chosen one than apart_mm; ties go to the first along the line
    if len(index) < 2:
        return index
    near = np.diff(at) < apart_mm
    group = np.concatenate([[0], np.cumsum(~near)])
    alone = np.bincount(group)[group] == 1
    chosen = list(index[alone])
    crowd = np.flatnonzero(~alone)
    for members in np.split(crowd, np.flatnonzero(np.diff(group[crowd])) + 1):
        taken: list[float] = []
        for k in members[np.argsort(-np.round(sharp[members], 9), kind="stable")]:
            if all(abs(at[k] - other) >= apart_mm for other in taken):
                taken.append(at[k])
                chosen.append(index[k])
    return np.sort(np.array(chosen, dtype=np.intp))


def _density(
    s: FloatArray, turn: FloatArray, corners: IntArray, a: IntArray, b: IntArray, closes: BoolArray, steps: Steps
) -> tuple[FloatArray, FloatArray, tuple[FloatArray, FloatArray]]:
    """Return places, the count of stitches up to each, and each section's least and greatest wish."""
    bend = turn.copy()
    if len(corners):  # a corner's own turn is no curve
        inside = np.zeros(len(s) + 1, dtype=np.intp)
        np.add.at(inside, np.searchsorted(s, s[corners] - CORNER_REACH_MM), 1)
        np.add.at(inside, np.searchsorted(s, s[corners] + CORNER_REACH_MM, side="right"), -1)
        bend[np.cumsum(inside[:-1]) > 0] = 0.0
    total = np.cumsum(bend) - bend / 2
    # Long straight stretches get samples in between, so that a curve at one end is not felt at the other; each
    # section has samples of its own at both ends, so that it gets the same needle points when gone along backwards.
    step = np.diff(s)
    parts = np.maximum(np.ceil(step / (steps.stitch_mm / 2) - 1e-9), 1).astype(np.intp)
    rows = parts.copy()
    rows[b - 1] += 1
    rows[closes[:-1]] = 0
    source = np.repeat(np.arange(len(parts)), rows)
    begin_row = np.cumsum(rows) - rows
    where = s[source] + step[source] * ((np.arange(len(source)) - begin_row[source]) / parts[source])
    section_row = begin_row[a]
    section = np.repeat(np.arange(len(a)), np.diff(np.append(section_row, len(where))))
    # The window of one stitch, clipped to the section.
    low = np.maximum(where - steps.stitch_mm / 2, s[a][section])
    high = np.minimum(where + steps.stitch_mm / 2, s[b][section])
    turned = np.interp(high, s, total) - np.interp(low, s, total)
    wish = np.sqrt(8 * steps.chord_mm * (high - low) / np.maximum(turned, 1e-9))
    wish = np.clip(wish, steps.least_mm, steps.stitch_mm)
    count_up = np.zeros(len(where))
    np.cumsum(np.diff(where) * (0.5 / wish[1:] + 0.5 / wish[:-1]), out=count_up[1:])
    wishes = (np.minimum.reduceat(wish, section_row), np.maximum.reduceat(wish, section_row))
    return where, count_up, wishes


def _counts(length: FloatArray, wished: FloatArray, wishes: tuple[FloatArray, FloatArray], steps: Steps) -> IntArray:
    """Return how many stitches each section gets: the wish, not under the least stitch, never over 1.2 x target."""
    least, greatest = wishes
    most = np.minimum(np.floor(length / steps.least_mm), np.floor(LEAST_SLACK * wished * least / steps.least_mm + 1e-9))
    fewest = np.maximum(np.ceil(wished * greatest / ((1 + SLACK) * steps.stitch_mm) - 1e-9), 1)
    return np.maximum(np.minimum(np.ceil(wished - SLACK - 1e-9), most), fewest).astype(np.intp)


def _spread(
    s: FloatArray,
    a: IntArray,
    b: IntArray,
    closes: BoolArray,
    n_a: FloatArray,
    n_b: FloatArray,
    counts: IntArray,
    sample_s: FloatArray,
    sample_n: FloatArray,
) -> tuple[FloatArray, BoolArray]:
    # places of all drops: each section's first and those between, and the last of each line
    rows = counts + closes[b]
    section = np.repeat(np.arange(len(a)), rows)
    k = np.arange(len(section)) - np.repeat(np.cumsum(rows) - rows, rows)
    at = np.interp(n_a[section] + (n_b - n_a)[section] * (k / counts[section]), sample_n, sample_s)
    corner = (k == 0) | (k == counts[section])
    at[corner] = np.where(k[corner] == 0, s[a[section[corner]]], s[b[section[corner]]])
    return at, corner
