"""Starts and stops that show: ends of lines in open cloth, away from every seam."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..codes import FindingCode
from ..geometry import NearPaths
from ..model import Finding, FloatArray, Line
from ..tolerances import BESIDE_SEAM_MM
from ..units import Unit, format_length

__all__ = ["ends_that_show", "start_findings"]


def ends_that_show(lines: Sequence[Line], seams: Sequence[FloatArray]) -> FloatArray:
    """Return the places where a line starts or stops further than 1/4 in from every seam, ``(n, 2)``.

    Where a line goes on in the hole in which the one before stopped (a full bobbin), that place counts once.

    Parameters
    ----------
    lines : sequence of Line
        In sewing order.
    seams : sequence of (n, 2) arrays
        Of the top, its outer edge among them.

    Returns
    -------
    (n, 2) array
        ``(0, 2)`` where none shows.
    """
    ends = np.array([line.path[k] for line in lines for k in (0, -1)]).reshape(-1, 2)
    if not len(ends):
        return ends
    again = np.zeros(len(ends), dtype=bool)
    again[2::2] = (ends[2::2] == ends[1:-1:2]).all(axis=1)
    which, _ = NearPaths(seams).nearest(ends, BESIDE_SEAM_MM)
    shows = ~again
    shows[which] = False
    return ends[shows]


def start_findings(shown: FloatArray, *, unit: Unit = "in") -> tuple[Finding, ...]:
    """Return one note that says how many starts and stops show, and where the first one is.

    Parameters
    ----------
    shown : (n, 2) array
        As `ends_that_show` gives them.
    unit : {"in", "mm", "cm"}
        The unit of lengths in the words.

    Returns
    -------
    tuple of Finding
        One or none.
    """
    if not len(shown):
        return ()
    x, y = shown[0]
    count = "1 start or stop shows" if len(shown) == 1 else f"{len(shown)} starts and stops show"
    return (
        Finding(
            FindingCode.STARTS_SHOW,
            "note",
            None,
            f"{count} in open cloth, away from every seam; the first lies {format_length(x, unit)} from the left and "
            f"{format_length(y, unit)} from the top",
            'Bury the tails there (machine.ties = "bury"), or choose a fill whose lines end at the edge.',
        ),
    )
