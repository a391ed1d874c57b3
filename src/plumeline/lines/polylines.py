"""`join`: any polylines into the fewest continuous lines."""

from __future__ import annotations

from collections.abc import Sequence
from typing import get_args

import numpy as np
from numpy.typing import ArrayLike

from ..errors import LineError
from ..model import Line, Path, Stroke, Way, as_path
from ..tolerances import MEET_MM
from .joining import join_group
from .order import Order

__all__ = ["join"]


def join(
    paths: Sequence[ArrayLike],
    *,
    closed: Sequence[bool] | None = None,
    travel: Sequence[ArrayLike | Way] = (),
    passes: int = 2,
    jump_mm: float = 1500.0,
    start: tuple[float, float] | None = None,
    end: tuple[float, float] | None = None,
    steps_mm: float = 0.0,
    order: Order = "any",
    tolerance_mm: float = MEET_MM,
) -> tuple[Line, ...]:
    """Join polylines into the fewest continuous lines.

    Parameters
    ----------
    paths : sequence of (n, 2) arrays
        What must be stitched, mm; at least two points each.
    closed : sequence of bool, optional
        Which paths lead back to their first point; default: none.
    travel : sequence of (n, 2) arrays or Way, optional
        Where the needle may go from path to path; an array is a seam, gone along at most ``passes`` times.
    passes : int
        How often any place may be sewn: 2 allows backtracking, 1 forbids it.
    jump_mm : float
        What another start and stop is worth, in mm of sewing.
    start, end : (x, y), optional
        Wished start of the first line and end of the last; the same point asks for a closed line.
    steps_mm : float
        Longest visible step from path to path where nothing else connects them; 0: none.
    order : {"any", "rows", "centre-out"}
        Order of the lines: short moves, rows from the top, or from the centre outwards.
    tolerance_mm : float
        Ends nearer than this meet.

    Returns
    -------
    tuple of Line
        In sewing order; empty for no paths. ``Span.stroke`` is the number of the path.

    Raises
    ------
    LineError
        A path is not ``(n, 2)``, not finite or has no length; a number is out of its range.

    Examples
    --------
    >>> lines = join([[(0, 0), (500, 0)], [(500, 10), (0, 10)]], travel=[[(500, 0), (500, 10)]])
    >>> len(lines), lines[0].path.tolist()
    (1, [[0.0, 0.0], [500.0, 0.0], [500.0, 10.0], [0.0, 10.0]])
    >>> [span.kind for span in lines[0].spans]
    ['stitch', 'seam', 'stitch']
    """
    for key, value, least in (("passes", passes, 1), ("jump_mm", jump_mm, 0.0), ("steps_mm", steps_mm, 0.0)):
        if not value >= least:
            raise LineError(f"is {value}; must be at least {least}", key=key)
    if order not in get_args(Order):
        raise LineError(f"is '{order}'; must be one of {', '.join(get_args(Order))}", key="order")
    if not tolerance_mm > 0:
        raise LineError(f"is {tolerance_mm} mm; must be more than 0", key="tolerance_mm")
    if closed is not None and len(closed) != len(paths):
        raise LineError(f"has {len(closed)} entries for {len(paths)} paths; must have one for each", key="closed")
    shut = [False] * len(paths) if closed is None else [bool(c) for c in closed]
    strokes = [Stroke(_checked(p, f"paths[{k}]"), closed=shut[k]) for k, p in enumerate(paths)]
    ways = [
        w if isinstance(w, Way) else Way(_checked(w, f"travel[{k}]"), "seam", passes=passes)
        for k, w in enumerate(travel)
    ]
    return join_group(
        strokes,
        ways,
        jump_mm=jump_mm,
        passes=passes,
        start=start,
        end=end,
        steps_mm=steps_mm,
        order=order,
        tolerance_mm=tolerance_mm,
    ).lines


def _checked(points: ArrayLike, key: str) -> Path:
    try:
        path = as_path(points)
    except ValueError as error:
        raise LineError(str(error), key=key) from None
    if len(path) < 2 or not np.ptp(path, axis=0).any():
        raise LineError("has no length; must have at least two points apart", key=key)
    return path
