"""Regions in the order in which one reads."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from shapely import Polygon

__all__ = ["reading_order"]


def reading_order(regions: Sequence[Polygon]) -> list[int]:
    """Return the indices of regions as they are read: row by row from the top, each row from the left.

    A row ends where the next middle lies lower than the row's first by more than a twentieth of the whole height.

    Parameters
    ----------
    regions : sequence of shapely.Polygon
        Any number of them.

    Returns
    -------
    list of int
        Each index once.
    """
    if not regions:
        return []
    middle = np.array([[(b[0] + b[2]) / 2, (b[1] + b[3]) / 2] for b in (r.bounds for r in regions)])
    height = max(r.bounds[3] for r in regions) - min(r.bounds[1] for r in regions)
    by_y = np.lexsort((middle[:, 0], np.round(middle[:, 1], 3))).tolist()
    out: list[int] = []
    row: list[int] = []
    for k in by_y:
        if row and middle[k, 1] - middle[row[0], 1] > height / 20:
            out += sorted(row, key=lambda i: float(middle[i, 0]))
            row = []
        row.append(k)
    return out + sorted(row, key=lambda i: float(middle[i, 0]))
