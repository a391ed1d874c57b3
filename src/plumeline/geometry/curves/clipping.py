"""Clipping paths that cross themselves, whose stretches an overlay would cut up at every crossing."""

from __future__ import annotations

import numpy as np
import shapely
from shapely import Polygon

from ...model import FloatArray, Path
from ...tolerances import ROUNDING_MM
from ..engine import segments_of
from .polylines import close_ring, dedupe, path_length

__all__ = ["clip_crossing_path"]

TINY_MM = 1e-3
"""Points of a stretch this close are one: a path that begins on the edge would be clipped to a bit of no length."""


def clip_crossing_path(
    path: FloatArray, region: Polygon, *, closed: bool = False, least_mm: float = 1e-6
) -> list[Path]:
    """Return the stretches of a path inside a region, in the path's order and direction, whole across its crossings.

    A closed path that is wholly inside comes back once, with its first point repeated; one that leaves and returns
    is rejoined over its start. Stretches shorter than ``least_mm`` are dropped. Each segment is clipped by itself;
    O(n log m) for n segments and m edges.

    Parameters
    ----------
    path : (n, 2) array
        It may cross itself.
    region : shapely.Polygon
        What is kept of it.
    closed : bool
        Whether it leads back to its start.
    least_mm : float
        Shorter stretches are left out.

    Returns
    -------
    list of (n, 2) arrays
        Empty where none lies inside.
    """
    points = close_ring(path, closed)
    if len(points) < 2:
        return []
    shapely.prepare(region)
    segments = segments_of(points[:-1], points[1:])
    whole = np.asarray(shapely.covers(region, segments))
    runs: list[list[FloatArray]] = []
    for k in np.flatnonzero(whole | shapely.intersects(region, segments)):
        for bit in [points[k : k + 2]] if whole[k] else _inside(points[k], points[k + 1], segments[k], region):
            if runs and np.abs(runs[-1][-1] - bit[0]).max() <= ROUNDING_MM:
                runs[-1].append(bit[1])
            else:
                runs.append([bit[0], bit[1]])
    if closed and len(runs) > 1 and np.abs(runs[-1][-1] - runs[0][0]).max() <= ROUNDING_MM:
        runs[0] = [*runs.pop(), *runs[0][1:]]
    found = [dedupe(np.array(run), nearer_than_mm=TINY_MM) for run in runs]
    return [run for run in found if path_length(run) > least_mm]


def _inside(a: FloatArray, b: FloatArray, segment: shapely.LineString, region: Polygon) -> list[FloatArray]:
    cut = shapely.intersection(segment, region)
    parts = [g for g in getattr(cut, "geoms", [cut]) if isinstance(g, shapely.LineString) and not g.is_empty]
    bits = [np.asarray(g.coords)[[0, -1]] for g in parts]
    bits = [bit if (bit[1] - bit[0]) @ (b - a) >= 0 else bit[::-1] for bit in bits]
    return sorted(bits, key=lambda bit: float((bit[0] - a) @ (b - a)))
