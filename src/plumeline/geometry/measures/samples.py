"""Even samples of many paths, given window by window: what a large zone holds never lies in memory at once."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ...model import FloatArray, IntArray
from ..curves.polylines import arc_lengths, close_ring

__all__ = ["PathSamples"]


WHOLE = 1e-9
"""A sample so near to a vertex, as a share of a step, falls on it."""

AT_ONCE = 200_000
"""Samples in one of the runs that `PathSamples.runs` yields."""


@dataclass(frozen=True, slots=True, eq=False)
class PathSamples:
    """Samples at most a step apart along each of many paths, both ends of an open one among them.

    They are those of `resample`, path by path; paths of fewer than two points or no length have none.

    Attributes
    ----------
    points : (n, 2) float64
        The vertices of all paths, closed ones closed up.
    along : (n,) float64
        How far along its path each vertex lies, mm.
    path : (n,) int32
        Index of each vertex's path among those given.
    step : (k,) float64
        Distance of the samples of each path given; inf for one that has none.
    closed : (k,) bool
        Which paths lead back to their start.
    """

    points: FloatArray
    along: FloatArray
    path: NDArray[np.int32]
    step: FloatArray
    closed: NDArray[np.bool_]

    @classmethod
    def of(cls, paths: Sequence[FloatArray], step_mm: float, *, closed: Sequence[bool] | None = None) -> PathSamples:
        """Lay out the samples of paths; nothing is sampled yet."""
        shut = np.zeros(len(paths), dtype=bool) if closed is None else np.asarray(closed, dtype=bool)
        step = np.full(len(paths), np.inf)
        points, along, path = [np.zeros((0, 2))], [np.zeros(0)], [np.zeros(0, dtype=np.int32)]
        for k, given in enumerate(paths):
            if len(given) < 2:
                continue
            vertices = close_ring(given, bool(shut[k]))
            s = arc_lengths(vertices)
            if s[-1] > 0:
                step[k] = s[-1] / max(int(np.ceil(s[-1] / step_mm - WHOLE)), 3 if shut[k] else 1)
                points.append(vertices)
                along.append(s)
                path.append(np.full(len(s), k, dtype=np.int32))
        return cls(np.concatenate(points), np.concatenate(along), np.concatenate(path), step, shut)

    @property
    def ring_mm(self) -> FloatArray:
        """The length of each closed path, inf for the others, ``(k,)``."""
        last = np.flatnonzero(np.diff(self.path, append=-1) != 0)
        out = np.full(len(self.step), np.inf)
        out[self.path[last]] = self.along[last]
        return np.where(self.closed, out, np.inf)

    @property
    def count(self) -> int:
        """How many samples there are, ends of closed paths counted twice."""
        last = np.flatnonzero(np.diff(self.path, append=-1) != 0)
        return int(np.rint(self.along[last] / self.step[self.path[last]]).sum()) + len(last)

    def within(self, low: FloatArray, high: FloatArray) -> tuple[FloatArray, IntArray, FloatArray]:
        """Return the samples of a window ``low <= p < high``: where, on which path, how far along it."""
        a, b = self.points[:-1], self.points[1:]
        near = self.path[:-1] == self.path[1:]
        for axis in (0, 1):
            near &= (a[:, axis] >= low[axis]) | (b[:, axis] >= low[axis])
            near &= (a[:, axis] < high[axis]) | (b[:, axis] < high[axis])
        xy, path, at = self._on(np.flatnonzero(near), low, high)
        inside = ((xy >= low) & (xy < high)).all(axis=1)
        return xy[inside], path[inside], at[inside]

    def runs(self) -> Iterator[FloatArray]:
        """Yield all samples, ``(n, 2)`` at a time, in the order of the paths."""
        same = self.path[:-1] == self.path[1:]
        load = np.where(same, np.diff(self.along) / self.step[self.path[:-1]] + 1, 0.0)
        cuts = np.searchsorted(np.cumsum(load), np.arange(AT_ONCE, load.sum(), AT_ONCE))
        for rows in np.split(np.arange(len(load)), cuts):
            yield self._on(rows[same[rows]], np.full(2, -np.inf), np.full(2, np.inf))[0]

    def _on(self, rows: IntArray, low: FloatArray, high: FloatArray) -> tuple[FloatArray, IntArray, FloatArray]:
        """Return the samples on segments, of each the part that crosses a window."""
        a, b = self.points[rows], self.points[rows + 1]
        way = b - a
        first, last = np.zeros(len(rows)), np.ones(len(rows))
        for axis in (0, 1):
            moves = way[:, axis] != 0
            with np.errstate(divide="ignore", invalid="ignore"):
                t = np.column_stack([low[axis] - a[:, axis], high[axis] - a[:, axis]]) / way[:, axis, None]
            first = np.where(moves, np.maximum(first, t.min(axis=1)), first)
            last = np.where(moves, np.minimum(last, t.max(axis=1)), last)
        crosses = last >= first
        rows, first, last = rows[crosses], first[crosses], last[crosses]
        s_a, s_b, k = self.along[rows], self.along[rows + 1], self.path[rows]
        step = self.step[k]
        begin = np.ceil((s_a + first * (s_b - s_a)) / step - WHOLE)
        stops = np.ceil(s_b / step - WHOLE)  # the vertex that ends a segment begins the next one
        ends_path = np.append(self.path, -1)[rows + 2] != k
        stops = np.where(ends_path & ~self.closed[k], np.floor(s_b / step + WHOLE) + 1, stops)
        stop = np.minimum(stops, np.floor((s_a + last * (s_b - s_a)) / step + WHOLE) + 1)
        count = np.maximum(stop - begin, 0).astype(np.int64)
        which = np.repeat(np.arange(len(rows)), count)
        number = np.arange(len(which)) - np.repeat(np.cumsum(count) - count, count) + np.repeat(begin, count)
        at = number * step[which]
        share = (at - s_a[which]) / np.maximum(s_b - s_a, WHOLE)[which]
        start = self.points[rows[which]]
        return start + (self.points[rows[which] + 1] - start) * share[:, None], k[which].astype(np.int64), at
