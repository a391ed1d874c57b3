"""What lies beside what: stretches of paths near other paths or outside regions, nearest points."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray
from shapely.geometry.base import BaseGeometry

from ...model import FloatArray, Path, as_path
from ..areas.clipping import clip_path
from ..curves.polylines import close_ring
from ..engine import geometries, line_string, line_strings, point_array, segments_of

__all__ = ["NearPaths", "away_from"]


class NearPaths:
    """Paths that are searched for what is near, through a tree of their segments.

    Parameters
    ----------
    paths : sequence of (n, 2) arrays
        Open paths in mm; those of fewer than two points are never near.
    """

    def __init__(self, paths: Sequence[FloatArray]) -> None:
        runs = [p for p in paths if len(p) > 1]
        ends = np.vstack([np.stack([p[:-1], p[1:]], axis=1) for p in runs]) if runs else np.zeros((0, 2, 2))
        self._segments = segments_of(ends[:, 0], ends[:, 1])
        self._tree = shapely.STRtree(self._segments)

    def nearest(self, points: ArrayLike, within_mm: float) -> tuple[NDArray[np.intp], FloatArray]:
        """Return which of the points have a path within reach, and the nearest point of the paths for each."""
        at = point_array(points)
        which, segment = self._tree.query_nearest(at, max_distance=within_mm, all_matches=False)
        links = shapely.shortest_line(at[which], self._segments[segment])
        return which, shapely.get_coordinates(links).reshape(-1, 2, 2)[:, 1]

    def split(self, path: FloatArray, within_mm: float, *, closed: bool = False) -> tuple[list[Path], list[Path]]:
        """Return the stretches of a path that run within reach of the paths, and the others."""
        line = line_string(path, closed)
        close = self._segments[self._tree.query(line, predicate="dwithin", distance=within_mm)]
        if not len(close):
            return [], [as_path(close_ring(path, closed))]
        zone = shapely.union_all(shapely.buffer(close, within_mm, cap_style="flat"))
        near = [p for p in clip_path(path, zone, closed=closed) if _length(p) > within_mm]
        far = away_from([path], [zone], closed=closed, least_mm=within_mm)
        return near, far


def away_from(
    paths: Sequence[FloatArray], regions: Sequence[BaseGeometry], *, closed: bool = False, least_mm: float = 1e-6
) -> list[Path]:
    """Return the stretches of paths outside all the regions, in their order and direction.

    Parameters
    ----------
    paths : sequence of (n, 2) arrays
        Polylines.
    regions : sequence of shapely geometry
        What is taken out.
    closed : bool
        Whether the paths lead back to their starts.
    least_mm : float
        Shorter stretches are left out.

    Returns
    -------
    list of (n, 2) arrays
        Empty where nothing lies outside.
    """
    out: list[Path] = []
    lines = line_strings(paths, closed)
    # the regions ask for lines: the engine prepares what asks, so one of many corners costs no more for each line
    region, near = shapely.STRtree(lines).query(geometries(regions), predicate="intersects")
    over: dict[int, list[int]] = {}
    for k, i in sorted(zip(near.tolist(), region.tolist())):
        over.setdefault(k, []).append(i)
    for k, path in enumerate(paths):
        if k not in over:
            out.append(as_path(close_ring(path, closed)))
            continue
        x0, y0, x1, y1 = lines[k].bounds
        outside = shapely.difference(
            shapely.box(x0 - 1, y0 - 1, x1 + 1, y1 + 1), shapely.union_all([regions[i] for i in over[k]])
        )
        out.extend(clip_path(path, outside, closed=closed, least_mm=least_mm))
    return out


def _length(path: FloatArray) -> float:
    return float(np.hypot(*np.diff(path, axis=0).T).sum())
