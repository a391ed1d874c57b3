"""Paths and edges with fewer points, which stray little from what they were."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from shapely import LineString, Polygon

from ...model import FloatArray, Path, as_path
from ..curves.polylines import close_ring
from ..engine import line_strings
from .regions import normalised

__all__ = ["followable", "simplify_path", "simplify_paths"]


def simplify_path(path: FloatArray, tolerance_mm: float, *, closed: bool = False) -> Path:
    """Return a path with fewer points that strays at most the tolerance; ends stay.

    Parameters
    ----------
    path : (n, 2) array
        A polyline.
    tolerance_mm : float
        How far it may stray from the old one.
    closed : bool
        Whether it leads back to its start.

    Returns
    -------
    (n, 2) array
        Some of its points.

    Examples
    --------
    >>> import numpy as np
    >>> simplify_path(np.array([[0, 0], [5, 0.01], [10, 0.0]]), 0.05).tolist()
    [[0.0, 0.0], [10.0, 0.0]]
    """
    if len(path) < 3:
        return as_path(path)
    line = shapely.simplify(LineString(close_ring(path, closed)), tolerance_mm, preserve_topology=False)
    points = np.asarray(line.coords)
    return as_path(points[:-1] if closed else points)


def simplify_paths(paths: Sequence[FloatArray], tolerance_mm: float) -> list[Path]:
    """Return open paths as `simplify_path` gives each, all at once.

    Parameters
    ----------
    paths : sequence of (n, 2) arrays
        Open polylines.
    tolerance_mm : float
        How far each may stray from the old one.

    Returns
    -------
    list of (n, 2) arrays
        As many, in their order.
    """
    out = [as_path(p) for p in paths]
    bent = [k for k, p in enumerate(out) if len(p) > 2]
    plain = shapely.simplify(line_strings([out[k] for k in bent]), tolerance_mm, preserve_topology=False)
    points, of = shapely.get_coordinates(plain, return_index=True)
    for k, part in zip(bent, np.split(points, np.searchsorted(of, np.arange(1, len(bent))))):
        out[k] = as_path(part)
    return out


def followable(region: Polygon, within_mm: float) -> Polygon:
    """Return a region whose edge is straightened by less than a needle shows: no edge moves by more than that.

    The region itself comes back where that would part or spoil it.

    Parameters
    ----------
    region : shapely.Polygon
        Any region.
    within_mm : float
        How far the edge may move.

    Returns
    -------
    shapely.Polygon
        With fewer points, or the region itself.
    """
    plain = shapely.simplify(region, within_mm, preserve_topology=True)
    return normalised(plain) if isinstance(plain, Polygon) and plain.is_valid and not plain.is_empty else region
