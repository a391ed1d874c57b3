"""Blocks out of true, made by chance, and what tests ask of a design laid into them."""

from __future__ import annotations

import numpy as np
from shapely import LineString, Polygon, STRtree

from plumeline.model import Frame, Zone

BLOCK_MM, OFF_MM, INSET_MM = 304.8, 12.7, 3.175


def crooked_blocks(count, *, seed=3):
    """Return zones of 12 in blocks, the corners of all but the first off by up to 1/2 in any way."""
    rng = np.random.default_rng(seed)
    zones = []
    for k in range(count):
        corners = np.array([(0, 0), (1, 0), (1, 1), (0, 1)]) * BLOCK_MM + (330.0 * (k % 10), 330.0 * (k // 10))
        far, way = rng.uniform(0, OFF_MM, 4) * (k > 0), rng.uniform(0, 2 * np.pi, 4)
        outline = Polygon(corners + far[:, None] * np.column_stack([np.cos(way), np.sin(way)]))
        middle = outline.centroid
        region = outline.buffer(-INSET_MM, join_style="mitre")
        zones.append(Zone("block", "", k + 1, region, outline, frame=Frame((middle.x, middle.y)), chance=5))
    return zones


def crossing_pieces(paths, *, deeper_mm=0.0):
    """Return the pairs of pieces of line, counted through all paths, that cross, each going so far beyond the other.

    By the plane sweep of another library, and the distances of the ends from the other piece's line.
    """
    ends = np.vstack([np.stack([p[:-1], p[1:]], axis=1) for p in paths])
    pieces = np.array([LineString(e) for e in ends])
    i, j = STRtree(pieces).query(pieces, predicate="intersects")
    i, j = i[i < j], j[i < j]

    def beyond(a, b):
        step = a[:, 1] - a[:, 0]
        size = np.maximum(np.hypot(*step.T), 1e-12)
        off = [(step[:, 0] * (b[:, k] - a[:, 0])[:, 1] - step[:, 1] * (b[:, k] - a[:, 0])[:, 0]) / size for k in (0, 1)]
        return (off[0] * off[1] < 0) & (np.minimum(np.abs(off[0]), np.abs(off[1])) > deeper_mm)

    if deeper_mm == 0.0:
        return set(zip(i.tolist(), j.tolist()))
    good = beyond(ends[i], ends[j]) & beyond(ends[j], ends[i])
    return set(zip(i[good].tolist(), j[good].tolist()))
