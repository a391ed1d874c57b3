"""Polylines: length, resampling, smoothing. Pure numpy; an empty path stays empty.

Every function takes ``(n, 2)`` arrays in mm and returns new read-only ones. A closed path does not repeat its
first point; ``closed`` is a flag, never inferred.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike

from ...model import FloatArray, Frame, Path, as_path

__all__ = [
    "arc_lengths",
    "chaikin",
    "close_ring",
    "dedupe",
    "dense_points",
    "dense_runs",
    "densify",
    "nearest_on_ring",
    "path_length",
    "path_to_local",
    "path_to_page",
    "point_at",
    "project_on_ring",
    "resample",
    "ring_stretch",
    "rotate_start",
    "signed_area",
    "tangents",
    "turning",
    "turns",
]

LOCAL_GRID_MM = 1e-6
"""Frame coordinates are rounded to this, so that a moved or turned zone gives the same numbers again."""


def path_to_page(path: Path, frame: Frame) -> Path:
    """Return a path of a frame as a path of the page.

    Parameters
    ----------
    path : (n, 2) array
        In the frame.
    frame : Frame
        Where it lies.

    Returns
    -------
    (n, 2) array
        On the page.
    """
    return as_path(frame.to_page(path))


def path_to_local(path: ArrayLike, frame: Frame) -> Path:
    """Return a path of the page in a frame, rounded to `LOCAL_GRID_MM`.

    Parameters
    ----------
    path : (n, 2) array_like
        On the page.
    frame : Frame
        Of its zone.

    Returns
    -------
    (n, 2) array
        In the frame.
    """
    return as_path(np.round(frame.to_local(path) / LOCAL_GRID_MM) * LOCAL_GRID_MM)


def close_ring(path: ArrayLike, closed: bool = True) -> FloatArray:
    """Return the path with its first point repeated at the end when it is closed.

    Parameters
    ----------
    path : (n, 2) array_like
        A polyline.
    closed : bool
        False gives it back as it is.

    Returns
    -------
    (n, 2) array
        One point longer where it is closed.
    """
    points = np.asarray(path, dtype=np.float64)
    return np.concatenate((points, points[:1])) if closed and len(points) else points


def arc_lengths(path: ArrayLike, *, closed: bool = False) -> FloatArray:
    """Return the distance along the path at each point, ``(n,)`` (``(n + 1,)`` when closed).

    Parameters
    ----------
    path : (n, 2) array_like
        A polyline, mm.
    closed : bool
        Whether it leads back to its start.

    Returns
    -------
    ``(n,)`` or ``(n + 1,)`` array
        mm, rising from 0.
    """
    points = close_ring(path, closed)
    out = np.zeros(len(points))
    if len(points) > 1:  # called tens of thousands of times on short paths: no arrays but those needed
        steps = points[1:] - points[:-1]
        np.cumsum(np.hypot(steps[:, 0], steps[:, 1]), out=out[1:])
    return out


def path_length(path: ArrayLike, *, closed: bool = False) -> float:
    """Return the length in mm (0 for fewer than two points).

    Parameters
    ----------
    path : (n, 2) array_like
        A polyline.
    closed : bool
        Whether it leads back to its start.

    Returns
    -------
    float
        mm.

    Examples
    --------
    >>> path_length([(0, 0), (3, 4)], closed=True)
    10.0
    """
    lengths = arc_lengths(path, closed=closed)
    return float(lengths[-1]) if len(lengths) else 0.0


def point_at(path: ArrayLike, at_mm: ArrayLike, *, closed: bool = False) -> FloatArray:
    """Return the points at distances along the path, ``(m, 2)``; clamped at the ends, wrapped when closed.

    Parameters
    ----------
    path : (n, 2) array_like
        A polyline.
    at_mm : ``(m,)`` array_like
        Distances from its first point.
    closed : bool
        Whether it leads back to its start.

    Returns
    -------
    ``(m, 2)`` array
        Points on the path.

    Examples
    --------
    >>> point_at([(0, 0), (10, 0), (10, 10)], [5, 15]).tolist()
    [[5.0, 0.0], [10.0, 5.0]]
    """
    points = close_ring(path, closed)
    s = arc_lengths(points)
    at = np.asarray(at_mm, dtype=np.float64)
    if closed and s[-1] > 0:
        at = np.mod(at, s[-1])
    return _between(points, s, at)


def _between(points: FloatArray, s: FloatArray, at: FloatArray) -> FloatArray:
    out = np.empty((at.size, 2))
    out[:, 0], out[:, 1] = np.interp(at, s, points[:, 0]), np.interp(at, s, points[:, 1])
    return out


def resample(path: ArrayLike, step_mm: float, *, closed: bool = False) -> Path:
    """Return the path with evenly spaced points, at most ``step_mm`` apart; both ends are kept.

    Corners between samples are cut; use `densify` to keep every vertex.

    Parameters
    ----------
    path : (n, 2) array_like
        A polyline.
    step_mm : float
        The most from point to point.
    closed : bool
        Whether it leads back to its start.

    Returns
    -------
    (n, 2) array
        Evenly spaced along the old one.

    Examples
    --------
    >>> resample([(0, 0), (10, 0)], 4).round(2).tolist()
    [[0.0, 0.0], [3.33, 0.0], [6.67, 0.0], [10.0, 0.0]]
    """
    points = close_ring(path, closed)
    s = arc_lengths(points)
    if not len(s) or s[-1] == 0:
        return as_path(points[:1])
    count = max(int(np.ceil(s[-1] / step_mm - 1e-9)), 3 if closed else 1)
    at = np.linspace(0.0, s[-1], count + 1)
    return as_path(_between(points, s, at[:-1] if closed else at))


def densify(path: ArrayLike, step_mm: float, *, closed: bool = False) -> Path:
    """Return the path with points added so that none are further apart than ``step_mm``; vertices stay.

    Parameters
    ----------
    path : (n, 2) array_like
        A polyline.
    step_mm : float
        The most from point to point.
    closed : bool
        Whether it leads back to its start.

    Returns
    -------
    (n, 2) array
        Points between vertices are evenly spaced.

    Examples
    --------
    >>> densify([(0, 0), (6, 0), (6, 1)], 4).tolist()
    [[0.0, 0.0], [3.0, 0.0], [6.0, 0.0], [6.0, 1.0]]
    """
    points = close_ring(path, closed)
    if len(points) < 2:
        return as_path(points)
    way = points[1:] - points[:-1]
    parts = np.maximum(np.ceil(np.hypot(way[:, 0], way[:, 1]) / step_mm - 1e-9), 1).astype(int)
    index = np.repeat(np.arange(len(parts)), parts)
    fraction = (np.arange(len(index)) - np.repeat(np.cumsum(parts) - parts, parts)) / parts[index]
    out = points[index] + way[index] * fraction[:, None]
    return as_path(out if closed else np.vstack([out, points[-1:]]))


def dense_points(paths: Sequence[ArrayLike], step_mm: float) -> FloatArray:
    """Return the points of open paths as `densify` gives them, all in one array ``(n, 2)``; no paths, no points.

    Parameters
    ----------
    paths : sequence of (n, 2) arrays
        Open polylines.
    step_mm : float
        The most from point to point.

    Returns
    -------
    (n, 2) array
        Path after path.
    """
    full = [np.asarray(p, dtype=np.float64).reshape(-1, 2) for p in paths]
    if not full:
        return np.zeros((0, 2))
    points = np.vstack(full)
    last = np.cumsum([len(p) for p in full]) - 1
    last = last[np.array([len(p) for p in full]) > 0]
    way = np.zeros_like(points)
    way[:-1] = points[1:] - points[:-1]
    parts = np.maximum(np.ceil(np.hypot(way[:, 0], way[:, 1]) / step_mm - 1e-9), 1).astype(int)
    parts[last] = 1  # from one path to the next is no way
    index = np.repeat(np.arange(len(parts)), parts)
    fraction = (np.arange(len(index)) - np.repeat(np.cumsum(parts) - parts, parts)) / parts[index]
    out: FloatArray = points[index] + way[index] * fraction[:, None]
    return out


def dense_runs(paths: Iterable[ArrayLike], step_mm: float, *, at_once: int = 50_000) -> Iterator[Path]:
    """Yield open paths as `densify` gives them, in runs of about ``at_once`` points; a run begins where one ended.

    Paths of fewer than two points are left out.

    Parameters
    ----------
    paths : iterable of (n, 2) arrays
        Open polylines.
    step_mm : float
        The most from point to point.
    at_once : int
        So many points a run, about.

    Yields
    ------
    (n, 2) array
        Runs of them all, path after path.
    """
    for path in paths:
        points = np.asarray(path, dtype=np.float64)
        if len(points) < 2:
            continue
        parts = np.ceil(np.hypot(*np.diff(points, axis=0).T) / step_mm) + 1
        total = np.cumsum(parts)
        cuts = np.searchsorted(total, np.arange(at_once, total[-1], at_once)).tolist()
        for a, b in pairwise(sorted({0, *cuts, len(points) - 1})):
            yield densify(points[a : b + 1], step_mm)


def dedupe(path: ArrayLike, *, closed: bool = False, nearer_than_mm: float = 1e-6) -> Path:
    """Return the path without points that double the one before (the last point of an open path stays).

    Parameters
    ----------
    path : (n, 2) array_like
        A polyline.
    closed : bool
        Whether it leads back to its start.
    nearer_than_mm : float
        Points nearer than this are one.

    Returns
    -------
    (n, 2) array
        The same points but for the doubles.
    """
    points = np.asarray(path, dtype=np.float64)
    if len(points) < 2:
        return as_path(points)
    keep = np.concatenate([[True], np.hypot(*np.diff(points, axis=0).T) > nearer_than_mm])
    out = points[keep]
    if closed:
        while len(out) > 1 and np.hypot(*(out[-1] - out[0])) <= nearer_than_mm:
            out = out[:-1]
    elif not keep[-1]:
        out = np.vstack([out[:-1], points[-1:]]) if len(out) > 1 else out
    return as_path(out)


def chaikin(path: ArrayLike, times: int = 1, *, closed: bool = False) -> Path:
    """Return the path with its corners cut at a quarter, ``times`` times; open ends stay.

    Parameters
    ----------
    path : (n, 2) array_like
        A polyline.
    times : int
        How often; each doubles the points.
    closed : bool
        Whether it leads back to its start.

    Returns
    -------
    (n, 2) array
        Rounder, and within the old one's corners.
    """
    points = np.asarray(path, dtype=np.float64)
    for _ in range(times):
        if len(points) < 3:
            break
        after = np.roll(points, -1, axis=0) if closed else points[1:]
        before = points if closed else points[:-1]
        cut = np.empty((2 * len(before), 2))
        cut[0::2], cut[1::2] = 0.75 * before + 0.25 * after, 0.25 * before + 0.75 * after
        points = cut if closed else np.vstack([points[:1], cut[1:-1], points[-1:]])
    return as_path(points)


def tangents(path: ArrayLike, *, closed: bool = False) -> FloatArray:
    """Return unit tangents at each point, ``(n, 2)``, by central differences.

    Parameters
    ----------
    path : (n, 2) array_like
        A polyline.
    closed : bool
        Whether it leads back to its start.

    Returns
    -------
    (n, 2) array
        As many as points.
    """
    points = np.asarray(path, dtype=np.float64)
    if closed:
        step = np.roll(points, -1, axis=0) - np.roll(points, 1, axis=0)
    else:
        step = np.gradient(points, axis=0) if len(points) > 1 else np.zeros_like(points)
    norm = np.hypot(step[:, 0], step[:, 1])
    return step / np.where(norm > 0, norm, 1.0)[:, None]


def turns(path: ArrayLike, *, closed: bool = False) -> FloatArray:
    """Return the signed turn at each vertex in radians, ``(n,)``, positive clockwise as seen (y down).

    The ends of an open path turn by 0.

    Parameters
    ----------
    path : (n, 2) array_like
        A polyline.
    closed : bool
        Whether it leads back to its start.

    Returns
    -------
    ``(n,)`` array
        Radians from -pi to pi.
    """
    points = np.asarray(path, dtype=np.float64)
    out = np.zeros(len(points))
    if len(points) < 3:
        return out
    ring = np.vstack([points[-1:], points, points[:1]]) if closed else points
    step = np.diff(ring, axis=0)
    cross = step[:-1, 0] * step[1:, 1] - step[:-1, 1] * step[1:, 0]
    dot = (step[:-1] * step[1:]).sum(axis=1)
    out[slice(None) if closed else slice(1, -1)] = np.arctan2(cross, dot)
    return out


def turning(path: ArrayLike, *, closed: bool = False) -> float:
    """Return the total absolute turn in radians (a circle: 2 pi).

    Parameters
    ----------
    path : (n, 2) array_like
        A polyline.
    closed : bool
        Whether it leads back to its start.

    Returns
    -------
    float
        Radians.
    """
    return float(np.abs(turns(path, closed=closed)).sum())


def signed_area(ring: ArrayLike) -> float:
    """Return the area enclosed by a closed path; positive when it runs clockwise as seen (y down).

    Parameters
    ----------
    ring : (n, 2) array_like
        Closed, first point not repeated.

    Returns
    -------
    float
        mm2.
    """
    points = np.asarray(ring, dtype=np.float64)
    ahead = np.concatenate((points[1:], points[:1]))
    return float(0.5 * (points[:, 0] * ahead[:, 1] - ahead[:, 0] * points[:, 1]).sum())


def rotate_start(ring: ArrayLike, index: int) -> Path:
    """Return a closed path that starts at another of its vertices.

    Parameters
    ----------
    ring : (n, 2) array_like
        Closed, first point not repeated.
    index : int
        Of the vertex that comes first.

    Returns
    -------
    (n, 2) array
        The same points.
    """
    return as_path(np.roll(np.asarray(ring, dtype=np.float64), -index, axis=0))


def ring_stretch(ring: ArrayLike, start_mm: float, stop_mm: float) -> FloatArray:
    """Return a closed path's stretch from one distance along it to another, with every vertex between.

    Distances may lie before the start or beyond a whole turn; nothing is between when ``stop`` is not after ``start``.

    Parameters
    ----------
    ring : (n, 2) array_like
        Closed, first point not repeated.
    start_mm, stop_mm : float
        Distances from its first point.

    Returns
    -------
    (n, 2) array
        From the one place to the other.
    """
    s = arc_lengths(ring, closed=True)
    turns_round = range(math.floor(start_mm / s[-1]), math.ceil(stop_mm / s[-1]) + 1)
    marks = np.concatenate([s[:-1] + s[-1] * k for k in turns_round])
    between = marks[(marks > start_mm + 1e-9) & (marks < stop_mm - 1e-9)]
    return point_at(ring, np.concatenate([[start_mm], between, [stop_mm]]), closed=True)


def nearest_on_ring(ring: ArrayLike, point: ArrayLike) -> FloatArray:
    """Return the point of a closed path nearest to another, ``(2,)``.

    Parameters
    ----------
    ring : (n, 2) array_like
        Closed, first point not repeated.
    point : ``(2,)`` array_like
        A place, mm.

    Returns
    -------
    ``(2,)`` array
        It lies on the path.
    """
    points = np.asarray(ring, dtype=np.float64)
    at, t, step = _foot(points, point)
    return np.asarray(points[at] + t * step)


def project_on_ring(ring: ArrayLike, point: ArrayLike) -> float:
    """Return how far along a closed path its point nearest to another lies, mm.

    Parameters
    ----------
    ring : (n, 2) array_like
        Closed, first point not repeated.
    point : ``(2,)`` array_like
        A place, mm.

    Returns
    -------
    float
        From its first point.
    """
    points = np.asarray(ring, dtype=np.float64)
    at, t, step = _foot(points, point)
    return float(arc_lengths(points, closed=True)[at] + t * np.hypot(*step))


def _foot(points: FloatArray, point: ArrayLike) -> tuple[int, float, FloatArray]:
    """Return the segment of a ring nearest to a point, the share along it, and the segment."""
    there = np.asarray(point, dtype=np.float64)
    step = np.roll(points, -1, axis=0) - points
    t = np.clip(((there - points) * step).sum(axis=1) / np.maximum((step * step).sum(axis=1), 1e-300), 0, 1)
    at = int(np.argmin(np.hypot(*(points + t[:, None] * step - there).T)))
    return at, float(t[at]), step[at]
