"""Many lines or small outlines at once: what lies inside its own outline, what crosses what."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LinearRing, Polygon

from ...model import FloatArray
from ..areas.regions import pieces_of
from ..engine import geometries

__all__ = ["crossing_pairs", "knotted", "leave_region", "united_outlines", "within_own"]


def within_own(outlines: Sequence[FloatArray], points: Sequence[FloatArray]) -> list[NDArray[np.bool_]]:
    """Return for each outline which of its own points lie inside it or on its edge.

    Parameters
    ----------
    outlines : sequence of (k, 2)
        Closed, first point not repeated; an outline of no area holds nothing.
    points : sequence of (m, 2)
        As many as outlines.

    Returns
    -------
    list of ``(m,)`` arrays of bool
        In their order.
    """
    cells = geometries(shapely.polygons([LinearRing(np.vstack([o, o[:1]])) for o in outlines]))
    counts = [len(p) for p in points]
    every = np.vstack(points) if counts else np.zeros((0, 2))
    inside = shapely.intersects_xy(np.repeat(cells, counts), every[:, 0], every[:, 1])
    return np.split(np.asarray(inside, dtype=bool), np.cumsum(counts)[:-1])


def united_outlines(
    outlines: Sequence[FloatArray], *, close_mm: float = 0.05, sliver_mm2: float = 1.0
) -> Polygon | None:
    """Return the area that closed outlines cover together: its largest piece, None when they cover nothing.

    Outlines that touch themselves count by their inside; gaps and slits up to twice ``close_mm`` are closed.

    Parameters
    ----------
    outlines : sequence of (n, 2) arrays
        Closed, first point not repeated.
    close_mm : float
        Half the width of the gaps that are closed.
    sliver_mm2 : float
        Smaller pieces are left out.

    Returns
    -------
    shapely.Polygon or None
        One region.
    """
    areas = [Polygon(o) for o in outlines if len(o) > 2]
    mended = [a if a.is_valid else shapely.make_valid(a, method="structure", keep_collapsed=False) for a in areas]
    grown = shapely.buffer(shapely.union_all(mended), close_mm, join_style="mitre")
    found = pieces_of(shapely.buffer(grown, -close_mm, join_style="mitre"), sliver_mm2=sliver_mm2)
    return found[0] if found else None


def leave_region(lines: Sequence[FloatArray], region: Polygon, *, tolerance_mm: float) -> NDArray[np.bool_]:
    """Return for each line whether any of it lies more than the tolerance outside a region, ``(n,)``.

    Parameters
    ----------
    lines : sequence of (n, 2) arrays
        Open polylines.
    region : shapely.Polygon
        What they should keep to.
    tolerance_mm : float
        So far outside is still inside.

    Returns
    -------
    ``(n,)`` array of bool
        In the order of the lines.
    """
    if not len(lines):
        return np.zeros(0, dtype=bool)
    grown = shapely.buffer(region, tolerance_mm, quad_segs=4)
    shapely.prepare(grown)
    return ~np.asarray(shapely.covers(grown, _drawn(lines)), dtype=bool)


def knotted(lines: Sequence[FloatArray]) -> NDArray[np.bool_]:
    """Return for each line whether it crosses or touches itself away from its ends, ``(n,)``.

    Parameters
    ----------
    lines : sequence of (n, 2) arrays
        Open polylines.

    Returns
    -------
    ``(n,)`` array of bool
        In the order of the lines.
    """
    return ~np.asarray(shapely.is_simple(_drawn(lines)), dtype=bool) if len(lines) else np.zeros(0, dtype=bool)


def crossing_pairs(lines: Sequence[FloatArray]) -> NDArray[np.intp]:
    """Return the pairs of lines that cross, ``(k, 2)``, lower number first.

    Lines that touch at an end of one of them, or share a stretch, do not cross there.

    Parameters
    ----------
    lines : sequence of (n, 2) arrays
        Open polylines.

    Returns
    -------
    ``(k, 2)`` array of int
        ``(0, 2)`` where none cross.
    """
    drawn = _drawn(lines)
    i, j = shapely.STRtree(drawn).query(drawn, predicate="crosses")
    pairs: NDArray[np.intp] = np.column_stack([i, j])[i < j]
    return pairs


def _drawn(lines: Sequence[FloatArray]) -> NDArray[np.object_]:
    return np.asarray(
        shapely.linestrings(np.vstack(lines), indices=np.repeat(np.arange(len(lines)), [len(x) for x in lines]))
    )
