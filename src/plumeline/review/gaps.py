"""The widest gap of a whole top, against what the batting's label allows."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy.ndimage import distance_transform_edt
from scipy.spatial import cKDTree

from ..geometry import Gap, densify, nearest_of
from ..model import Batting, Finding, FloatArray
from ..units import format_length

__all__ = ["gap_findings", "top_gap"]

CELL_MM = 1.0
"""Cell of the coarse search; the answer itself is refined to `FINE_MM`."""

FINE_MM = 0.05


def top_gap(paths: Sequence[FloatArray], size: tuple[float, float]) -> Gap:
    """Return the largest circle inside a top of ``(width, height)`` that no stitching enters.

    The quilt's edge does not bound the circle (its centre must lie in the top), seams are no stitching. With
    no stitching at all the diameter is that of the circle round the whole top.

    Notes
    -----
    A distance transform on cells of `CELL_MM` finds the place, a pattern search on the exact distance to the
    sampled lines refines it.
    """
    width, height = size
    long = [densify(p, CELL_MM / 2) for p in paths if len(p) > 1]
    if not long:
        return Gap((width / 2, height / 2), float(np.hypot(width, height)))
    points = np.vstack(long)
    free = np.ones((int(np.ceil(width / CELL_MM)) + 1, int(np.ceil(height / CELL_MM)) + 1), dtype=bool)
    cell = np.clip(np.round(points / CELL_MM).astype(int), 0, np.array(free.shape) - 1)
    free[cell[:, 0], cell[:, 1]] = False
    far = distance_transform_edt(free)
    start = np.array(np.unravel_index(int(np.argmax(far)), far.shape), dtype=np.float64) * CELL_MM
    return _refined(start, cKDTree(points), np.array([width, height]))


def _refined(at: FloatArray, tree: cKDTree, size: FloatArray) -> Gap:
    turns = np.arange(12) * np.pi / 6
    ways = np.column_stack([np.cos(turns), np.sin(turns)])
    at = np.minimum(at, size)
    best, step = float(tree.query(at)[0]), 2 * CELL_MM
    while step > FINE_MM:
        tries = np.clip(at + step * ways, 0.0, size)
        far = nearest_of(tree, tries)[0]
        k = int(np.argmax(far))
        if far[k] > best + 1e-9:
            at, best = tries[k], float(far[k])
        else:
            step /= 2
    return Gap((float(at[0]), float(at[1])), 2 * best)


def gap_findings(gap: Gap, batting: Batting) -> tuple[Finding, ...]:
    """Return a warning when the widest gap is wider than the batting's label allows."""
    most = batting.widest_gap_mm
    if most is None or gap.diameter_mm <= most:
        return ()
    x, y = gap.centre
    return (
        Finding(
            "gap-too-wide",
            "warning",
            None,
            f"the widest space without stitching is {format_length(gap.diameter_mm)} across, "
            f"{format_length(x)} from the left and {format_length(y)} from the top; "
            f"the batting's label allows {format_length(most)}",
            "Fill the space there, or choose a batting that allows it.",
        ),
    )
