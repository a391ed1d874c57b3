"""The widest gap of a whole top, against what the batting's label allows."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt
from scipy.spatial import cKDTree
from shapely import Polygon

from ..codes import FindingCode
from ..geometry import Gap, bounds, contains, dense_runs, nearest_of, unite
from ..model import Batting, Finding, FloatArray
from ..units import Unit, format_length

__all__ = ["gap_findings", "top_gap"]

CELL_MM = 1.0
"""Cell of the coarse search; the answer itself is refined to `FINE_MM`."""

FINE_MM = 0.05

NEAR_MM = 25.0
"""Lines so much further from the place found first than the nearest one can't bound the circle about it."""

FIRST_LOOKED_AT = 4096
"""Cells looked at first for one that lies in the cloth: on a rectangular quilt the first does."""


def top_gap(paths: Sequence[FloatArray], cloth: Sequence[Polygon]) -> Gap:
    """Return the largest circle about a point of the cloth that no stitching enters.

    Parameters
    ----------
    paths : sequence of (n, 2) arrays
        All that is sewn.
    cloth : sequence of shapely.Polygon
        What is looked at: all patches of a top, or the zones asked for. Its edge does not bound the circle (the
        centre must lie in it), seams are no stitching. With no stitching at all the diameter is that of the circle
        round the whole. No cloth has no gap.

    Returns
    -------
    Gap
        Its diameter and centre.

    Notes
    -----
    A distance transform on cells of `CELL_MM` finds the place, a pattern search on the exact distance to the
    sampled lines refines it. Lines are sampled in runs, so that memory grows with the area alone.
    """
    pieces = unite(cloth)
    if not pieces:
        return Gap((0.0, 0.0), 0.0)
    boxes = np.array([bounds(piece) for piece in pieces])
    low, high = boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)
    if not any(len(p) > 1 for p in paths):
        middle = (low + high) / 2
        return Gap((float(middle[0]), float(middle[1])), float(np.hypot(*(high - low))))
    free = np.ones(np.ceil((high - low) / CELL_MM).astype(int) + 1, dtype=bool)
    for run in dense_runs(paths, CELL_MM / 2):
        cell = np.clip(np.round((run - low) / CELL_MM).astype(int), 0, np.array(free.shape) - 1)
        free[cell[:, 0], cell[:, 1]] = False
    start, far = _farthest_cell(_squared_distance(free), pieces, low, high)
    near = [
        run[np.hypot(*(run - start).T) <= far + NEAR_MM] for run in dense_runs(paths, CELL_MM / 2)
    ]  # the search climbs a few cells at most
    return _refined(start, cKDTree(np.vstack(near)), pieces, low, high)


def _squared_distance(free: NDArray[np.bool_]) -> NDArray[np.int32]:
    """Return the square of each free cell's distance from the nearest that is not, in cells.

    The transform is asked for the nearest cells alone: its own distances take five times the memory.
    """
    nearest = distance_transform_edt(free, return_distances=False, return_indices=True)
    across = np.arange(free.shape[1], dtype=np.int32)
    out = np.empty(free.shape, dtype=np.int32)
    for row in range(len(free)):
        out[row] = (nearest[0, row] - row) ** 2 + (nearest[1, row] - across) ** 2
    return out


def _farthest_cell(
    squared: NDArray[np.int32], pieces: Sequence[Polygon], low: FloatArray, high: FloatArray
) -> tuple[FloatArray, float]:
    """Return the middle of the cell of the cloth furthest from all lines, and how far that is."""
    flat, count = squared.ravel(), FIRST_LOOKED_AT
    while True:
        least = np.partition(flat, -min(count, flat.size))[-min(count, flat.size)]
        best = np.flatnonzero(flat >= least)
        best = best[np.argsort(-flat[best], kind="stable")]
        places = np.minimum(low + np.column_stack(np.unravel_index(best, squared.shape)) * CELL_MM, high)
        inside = np.flatnonzero(_in_cloth(pieces, places))
        if len(inside):
            return places[inside[0]], math.sqrt(flat[best[inside[0]]]) * CELL_MM
        if count >= flat.size:  # cloth narrower than a cell
            middle = np.array(pieces[0].representative_point().coords[0])
            return middle, math.sqrt(flat.max()) * CELL_MM
        count *= 8


def _in_cloth(pieces: Sequence[Polygon], points: FloatArray) -> NDArray[np.bool_]:
    return np.asarray(np.any([contains(piece, points) for piece in pieces], axis=0))


def _refined(at: FloatArray, tree: cKDTree, pieces: Sequence[Polygon], low: FloatArray, high: FloatArray) -> Gap:
    turns = np.arange(12) * np.pi / 6
    ways = np.column_stack([np.cos(turns), np.sin(turns)])
    best, step = float(nearest_of(tree, at[None])[0][0]), 2 * CELL_MM
    while step > FINE_MM:
        tries = np.clip(at + step * ways, low, high)
        tries = tries[_in_cloth(pieces, tries)]
        far = nearest_of(tree, tries)[0] if len(tries) else np.zeros(1)
        k = int(np.argmax(far))
        if far[k] > best + 1e-9:
            at, best = tries[k], float(far[k])
        else:
            step /= 2
    return Gap((float(at[0]), float(at[1])), 2 * best)


def gap_findings(gap: Gap, batting: Batting, *, zone: str | None = None, unit: Unit = "in") -> tuple[Finding, ...]:
    """Return a warning when the widest gap is wider than the batting's label allows.

    Parameters
    ----------
    gap : Gap
        The widest.
    batting : Batting
        Its label's limit; without one nothing is said.
    zone : str, optional
        Label of the space that the gap lies in.
    unit : {"in", "mm", "cm"}
        The unit of lengths in the words.

    Returns
    -------
    tuple of Finding
        One or none.
    """
    most = batting.widest_gap_mm
    if most is None or gap.diameter_mm <= most:
        return ()
    x, y = gap.centre
    return (
        Finding(
            FindingCode.GAP_TOO_WIDE,
            "warning",
            zone,
            f"the widest space without stitching is {format_length(gap.diameter_mm, unit)} across, "
            f"{format_length(x, unit)} from the left and {format_length(y, unit)} from the top; "
            f"the batting's label allows {format_length(most, unit)}",
            "Fill the space there, or choose a batting that allows it.",
        ),
    )
