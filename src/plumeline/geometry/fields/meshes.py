"""Triangle meshes that keep to a region's edge."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import Delaunay, QhullError, cKDTree
from shapely import Polygon

from ...model import FloatArray
from ..areas.regions import contains

__all__ = ["EdgeSamples", "Mesh", "circumcircles", "edge_samples", "mesh_of"]

IntArray = NDArray[np.int64]

ENCROACHED = 1 - 1e-7
"""Share of a segment's half length within which another point keeps it from being an edge of the mesh; just
below 1, so that points exactly on the circle (mirrored samples at a corner) split nothing."""


@dataclass(frozen=True, slots=True, eq=False)
class EdgeSamples:
    """Points along rings, and the segments between them.

    Attributes
    ----------
    points : (n, 2)
        The rings' vertices and the points added between them.
    segments : (m, 2) int
        Indices of the ends of each segment, in the rings' direction.
    marks : (m,) int
        The mark of the ring segment that each lies on.
    """

    points: FloatArray
    segments: IntArray
    marks: IntArray


def edge_samples(rings: Sequence[FloatArray], marks: Sequence[IntArray], pitch_mm: float) -> EdgeSamples:
    """Return points about ``pitch_mm`` apart along closed rings, all vertices kept.

    Points are laid out from both ends of each straight stretch, so that they mirror each other at a corner:
    four mirrored points lie on one circle, and a mesh keeps to both legs however sharp the corner is.

    Parameters
    ----------
    rings : sequence of (k, 2)
        Closed paths, first point not repeated.
    marks : sequence of (k,) int
        A mark for each ring's segments; segment i runs from vertex i to the next.
    """
    points: list[FloatArray] = []
    segments: list[IntArray] = []
    labels: list[IntArray] = []
    count = 0
    for ring, mark in zip(rings, marks):
        after = np.roll(ring, -1, axis=0)
        lengths = np.hypot(*(after - ring).T)
        fractions = [_stretch(length, pitch_mm) for length in lengths]
        of = np.repeat(np.arange(len(ring)), [len(f) for f in fractions])
        at = np.concatenate(fractions)[:, None]
        laid = ring[of] * (1 - at) + after[of] * at
        index = count + np.arange(len(laid))
        points.append(laid)
        segments.append(np.column_stack([index, np.roll(index, -1)]))
        labels.append(np.asarray(mark)[of])
        count += len(laid)
    return EdgeSamples(np.vstack(points), np.vstack(segments), np.concatenate(labels))


def _stretch(length: float, pitch: float) -> FloatArray:
    # fractions of one straight stretch, without its far end
    if length <= 1.25 * pitch:
        return np.zeros(1)
    each_end = max(int((length / pitch - 0.5) / 2), 0)
    from_start = np.arange(each_end + 1) * pitch / length
    gap = length - 2 * each_end * pitch
    middle = [0.5] if gap > 1.25 * pitch else []
    return np.concatenate([from_start, middle, 1 - from_start[:0:-1]])


@dataclass(frozen=True, slots=True, eq=False)
class Mesh:
    """Triangles of a region.

    Attributes
    ----------
    points : (n, 2)
        The edge samples first, then the inner points.
    triangles : (t, 3) int
        Corners, all turning the same way: positive `signed_area`.
    twins : (3 t,) int
        Half-edge ``3 t + c`` runs from corner c of triangle t to corner c + 1; its twin runs back in the
        neighbouring triangle, -1 where there is none.
    segments, marks
        The segments of the edge, as in `EdgeSamples`, those split on the way included.
    """

    points: FloatArray
    triangles: IntArray
    twins: IntArray
    segments: IntArray
    marks: IntArray


def mesh_of(region: Polygon, edge: EdgeSamples, inner: FloatArray, *, least_mm: float) -> Mesh | None:
    """Return the Delaunay mesh of edge samples and inner points, inside a region and keeping to its edge.

    Segments that another point comes too near are split at their middle until the mesh holds them
    (Ruppert 1995, the splitting of encroached segments alone), never below ``least_mm``.

    Returns
    -------
    Mesh or None
        None when there are too few points, or all lie on one line.
    """
    edge = _split_encroached(edge, inner, least_mm)
    points = np.vstack([edge.points, inner])
    try:
        corners = Delaunay(points).simplices.astype(np.int64)
    except (QhullError, ValueError):
        return None
    a, b, c = (points[corners[:, k]] for k in range(3))
    twice = (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0])
    corners[twice < 0] = corners[twice < 0][:, ::-1]
    keep = contains(region, (a + b + c) / 3) & (np.abs(twice) > 1e-9 * least_mm * least_mm)
    corners = corners[keep]
    return Mesh(points, corners, _twins(corners, len(points)), edge.segments, edge.marks) if len(corners) else None


def _split_encroached(edge: EdgeSamples, inner: FloatArray, least: float) -> EdgeSamples:
    points, segments, marks = edge.points, edge.segments, edge.marks
    while True:
        everything = np.vstack([points, inner])
        a, b = points[segments[:, 0]], points[segments[:, 1]]
        middle, half = (a + b) / 2, np.hypot(*(b - a).T) / 2
        near, _ = cKDTree(everything).query(middle)
        split = (near < ENCROACHED * half) & (half > least)
        if not split.any():
            return EdgeSamples(points, segments, marks)
        index = len(points) + np.arange(split.sum())
        points = np.vstack([points, middle[split]])
        first = np.column_stack([segments[split, 0], index])
        second = np.column_stack([index, segments[split, 1]])
        segments = np.vstack([segments[~split], first, second])
        marks = np.concatenate([marks[~split], marks[split], marks[split]])


def _twins(corners: IntArray, count: int) -> IntArray:
    start = corners.ravel()
    end = np.roll(corners, -1, axis=1).ravel()
    key, back = start * count + end, end * count + start
    order = np.argsort(key)
    at = np.searchsorted(key[order], back)
    at[at == len(key)] = 0
    found = order[at]
    return np.where(key[found] == back, found, -1)


def circumcircles(points: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return centres ``(t, 2)`` and radii ``(t,)`` of the circles through the corners of each Delaunay triangle.

    Of points along a region's edge, those inside the region lie on its medial axis and the radius is the
    clearance there (Amenta et al. 2001). Empty for fewer than three points or all on one line.
    """
    try:
        corners = Delaunay(points).simplices
    except (QhullError, ValueError):
        return np.zeros((0, 2)), np.zeros(0)
    a, b, c = (points[corners[:, k]] for k in range(3))
    u, v = b - a, c - a
    twice = 2 * (u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0])
    flat = np.abs(twice) < 1e-12 * (np.abs(u) + np.abs(v)).max(axis=1) ** 2
    twice = np.where(flat, 1.0, twice)
    uu, vv = (u * u).sum(axis=1), (v * v).sum(axis=1)
    shift = np.column_stack([v[:, 1] * uu - u[:, 1] * vv, u[:, 0] * vv - v[:, 0] * uu]) / twice[:, None]
    return (a + shift)[~flat], np.hypot(*shift[~flat].T)
