"""Rows that lie one in the other linked to one line without gaps: at corners that they share, else by a shift."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np
from scipy.spatial import cKDTree

from ...geometry import nearest_on, point_at, resample
from ...model import FloatArray, Path
from .shearing import sheared_at
from .turning import Corner, Joint, joined_at, matching

__all__ = ["EDGE", "Links", "Row", "is_opened", "nested_in"]

AS_WISHED = 1.4
"""So many gaps from where she comes in a line may begin; else its first row is let out to the edge nearer by."""

FEWER = 0.75
"""Where so many rows can't be joined by one shift, this part of them is tried next."""

SHIFTED = 4
"""So many rows are joined by a shift at least, where none leads to the edge: fewer show less with gaps."""

SHARED = 6
"""Half gaps for which rows run side by side at least, to be joined by a shift."""

EDGE = -1
"""Number of the gap that leads to the edge of the space."""

CLEAR = 1.7
"""Links lie at least so many gaps from others."""

SIDE = (0.75, 1.35)
"""So many gaps apart rows run side by side."""


@dataclass(slots=True, eq=False)
class Row:
    """A closed row, where it is opened, the numbers of the rows near it, and its corners.

    Each of ``ends`` is a place along the row, the number of the gap's side there, and which way the row goes on.
    """

    path: Path
    total: float
    ends: list[tuple[float, int, int]] = field(default_factory=list)
    beside: set[int] = field(default_factory=set)
    corners: list[Corner] = field(default_factory=list)


@dataclass(slots=True, eq=False)
class Links:
    """What is linked so far, and how.

    Attributes
    ----------
    rounded, nests : bool
        Whether turns are rounded; whether rows are linked at corners and by shifts.
    taken : list of (float, float)
        The middles of gaps and of the other links, by their numbers.
    between : dict
        The points between two ends, by their number: they lead from the end of the row that is named with them.
    shared : dict
        How long a row runs beside another, in half gaps.
    tried : set
        Runs of rows that were looked at: what did not fit fits no more.
    """

    rounded: bool
    nests: bool
    taken: list[tuple[float, float]] = field(default_factory=list)
    between: dict[int, tuple[int, FloatArray]] = field(default_factory=dict)
    shared: dict[tuple[int, int], int] = field(default_factory=dict)
    tried: set[tuple[str, bool, tuple[int, ...]]] = field(default_factory=set)

    def is_new(self, how: str, rows: Sequence[int], edges: Sequence[Path] | None) -> bool:
        """Return whether a run of rows is looked at for the first time, and note it."""
        key = how, edges is None, tuple(rows)
        new = key not in self.tried
        self.tried.add(key)
        return new


def nested_in(
    parts: list[Row],
    group: Sequence[int],
    waiting: list[int],
    gap: float,
    links: Links,
    edges: Sequence[Path] | None = None,
    near: FloatArray | None = None,
) -> tuple[list[int], tuple[FloatArray, FloatArray] | None] | None:
    """Link rows that wait, each inside the one before, to a row of a group without gaps: at corners, else by a shift.

    Parameters
    ----------
    edges : sequence of (n, 2), optional
        The first row is linked to the edge of the space; None: it is part of a line already.
    near : (2,), optional
        Where the line is wished to begin at the edge.

    Returns
    -------
    (rows, feet) or None
        The rows, that of the group first, and how they come from the edge. None where no row can be linked so.
    """
    if not links.nests:
        return None
    for first in group:
        for rows, joint in _joints(parts, first, waiting, gap, links, edges):
            if near is not None and joint.feet is not None:
                away = min(float(np.hypot(*(foot[0] - near))) for foot in joint.feet)
                if away > AS_WISHED * gap:
                    continue
            if _is_free(parts, rows, joint, links, gap):
                _open_at(parts, rows, joint, links)
                for k in rows[1:]:
                    waiting.remove(k)
                return rows, joint.feet
    return None


def _joints(
    parts: list[Row], first: int, waiting: Sequence[int], gap: float, links: Links, edges: Sequence[Path] | None
) -> Iterator[tuple[list[int], Joint]]:
    """Yield how rows from one inwards can be joined: at corners first, then by a shift, many rows before few."""
    for rows, shared in reversed(_nested(parts, first, waiting, gap)):
        if links.is_new("corner", rows, edges):
            upright = sorted(shared, key=lambda run: round(abs(abs(run[0].turn) - np.pi / 2), 6))
            yield from ((rows, joint) for run in upright if (joint := joined_at(run, gap, edges)) is not None)
    run = _side_by_side(parts, first, waiting, gap, links)
    count, least = len(run), 2 if edges is not None else SHIFTED
    while count >= least:
        rows = run[:count]
        if links.is_new("shift", rows, edges):
            paths = [parts[k].path for k in rows]
            yield from ((rows, joint) for _, joint in sheared_at(paths, gap, edges, rounded=links.rounded))
        count = min(count - 1, int(FEWER * count))


def _side_by_side(parts: list[Row], first: int, waiting: Sequence[int], gap: float, links: Links) -> list[int]:
    """Return a run of rows from one inwards, each the one that runs a gap beside the last for longest."""
    rows = [first]
    while True:
        last = parts[rows[-1]]
        near = [k for k in waiting if k in last.beside and k not in rows]
        for k in near:
            if (rows[-1], k) not in links.shared:
                points = resample(parts[k].path, gap / 2, closed=True)
                foot = point_at(last.path, nearest_on(last.path, points), closed=True)
                far = np.hypot(*(points - foot).T) / gap
                links.shared[rows[-1], k] = int(((far > SIDE[0]) & (far < SIDE[1])).sum())
        after = max(near, key=lambda k: (links.shared[rows[-1], k], -k), default=None)
        if after is None or links.shared[rows[-1], after] < SHARED:
            return rows
        rows.append(after)


def _nested(
    parts: list[Row], first: int, waiting: Sequence[int], gap: float
) -> list[tuple[list[int], list[list[Corner]]]]:
    """Return runs of rows from one inwards, each longer by a row than the one before, with the corners they share."""
    rows, shared = [first], [[corner] for corner in parts[first].corners]
    out = []
    while shared:
        further: list[list[Corner]] = []
        after = -1
        for k in waiting:
            if k in parts[rows[-1]].beside and k not in rows:
                on = [
                    [*run, inner] for run in shared if (inner := matching(run[-1], parts[k].corners, gap)) is not None
                ]
                if len(on) > len(further):
                    further, after = on, k
        shared = further
        if shared:
            rows = [*rows, after]
            out.append((rows, shared))
    return out


def _is_free(parts: list[Row], rows: Sequence[int], joint: Joint, links: Links, gap: float) -> bool:
    """Return whether no row is open yet where a joint opens it, and other gaps are far enough."""
    for k, (end, start) in zip(rows, joint.opened):
        if is_opened(parts[k], (end, start if start > end else start + parts[k].total)):
            return False
    if not links.taken:
        return True
    places = np.vstack([points for *_, points in joint.links])
    far, _ = cKDTree(np.array(links.taken)).query(places)
    return bool((np.atleast_1d(far) >= CLEAR * gap).all())


def _open_at(parts: list[Row], rows: Sequence[int], joint: Joint, links: Links) -> None:
    """Open rows at a joint, and note what leads from one to the other."""
    for a, a_ends, b, b_ends, points in joint.links:
        number = 2 * len(links.taken)
        middle = points.mean(axis=0)
        links.taken.append((float(middle[0]), float(middle[1])))
        links.between[number] = rows[a], points
        for k, ends in ((a, a_ends), (b, b_ends)):
            at = joint.opened[k][0 if ends else 1]
            parts[rows[k]].ends.append((at % parts[rows[k]].total, number, -1 if ends else 1))
    if joint.feet is not None:
        for k in (0, 1):
            parts[rows[k]].ends.append((joint.opened[k][1] % parts[rows[k]].total, 2 * EDGE + k, 1))


def is_opened(row: Row, stretch: tuple[float, float]) -> bool:
    """Return whether a row is open already somewhere along a stretch of it, or the stretch lies in a gap."""
    low, high = min(stretch), max(stretch)
    for at, _, _ in row.ends:
        if (at - low) % row.total <= high - low:
            return True
    # the next end back from the stretch: where the row goes on backwards from it, the stretch lies in its gap
    before = min(((low - at) % row.total, way) for at, _, way in row.ends) if row.ends else (0.0, 1)
    return before[1] < 0
