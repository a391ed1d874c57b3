"""Which windows of one size hold what is to be sewn: few of them, whole zones in one wherever that costs no move."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np
from scipy.sparse import csr_array

from ..model import FloatArray

__all__ = ["Box", "Windows", "choose_windows"]

Box = tuple[float, float, float, float]
"""left, top, right, bottom in mm."""

Span1 = tuple[float, float]

EDGE_MM = 0.01
"""A zone may overhang its reach by this much: rounding, not cloth."""

BIN_MM = 1.0
"""Step at which places to cut a zone are tried."""

A_MOVE = 8
"""Moving the quilt is worth cutting so many zones: each cut is a start and a stop for every line that crosses it."""

COVER_WINDOWS, COVER_NODES = 3000, 2000
"""More possible windows than this are not weighed against each other, and no more nodes are searched."""


@dataclass(frozen=True, slots=True)
class Windows:
    """Windows and what each holds.

    Attributes
    ----------
    cells : tuple of (zone, box)
        The parts of all zones.
    held : tuple of int
        The window of each cell.
    boxes : tuple of Box
        For each window what its cells take up.
    rows : tuple of int
        The row of each window, from the top.
    """

    cells: tuple[tuple[int, Box], ...]
    held: tuple[int, ...]
    boxes: tuple[Box, ...]
    rows: tuple[int, ...]

    @property
    def cost(self) -> int:
        """Moves and cuts, weighed."""
        return A_MOVE * len(self.boxes) + len(self.cells) - len({k for k, _ in self.cells})


def choose_windows(
    whole: Sequence[Box], sewn: Sequence[Box], size: Span1, overlap_mm: float, paths: Sequence[Sequence[FloatArray]]
) -> Windows:
    """Return the windows that hold all zones with the fewest moves and cuts.

    Parameters
    ----------
    whole, sewn : sequence of Box
        The upright box of each zone, and of what is stitched in it.
    size : (width, height)
        Of a window.
    overlap_mm : float
        How far the two sides of a cut overlap.
    paths : sequence of sequences of (n, 2) arrays
        The strokes of each zone: it is cut where fewest of them cross.

    Notes
    -----
    Tried are: whole zones, the fewest windows exactly (an integer program, set cover over windows that begin with a
    zone, to `COVER_NODES` nodes); and sweeps in rows, then along each row, or in columns, in which zones are cut where
    they must be, or wherever a window ends, along either axis or both. The least cost wins, the first of equal ones.
    """
    tried = [
        _sweep(boxes, size, overlap_mm, paths, upright, free)
        for boxes in (whole, sewn)
        for free in ((False, False), (False, True), (True, False), (True, True))
        for upright in (False, True)
    ]
    tried += [found for boxes in (whole, sewn) for found in _cover(boxes, size)]
    return min(tried, key=lambda windows: windows.cost)


def _gathered(cells: list[tuple[int, Box]], held: list[int], height: float) -> Windows:
    count = max(held) + 1 if held else 0
    corners = np.array([box for _, box in cells]).reshape(-1, 4)
    which = np.array(held, dtype=int)
    boxes = [
        (*corners[which == w, :2].min(axis=0).tolist(), *corners[which == w, 2:].max(axis=0).tolist())
        for w in range(count)
    ]
    rows, row, begun = [0] * count, -1, -math.inf
    for w in sorted(range(count), key=lambda w: (boxes[w][1], boxes[w][0])):
        if boxes[w][1] > begun + height / 2:
            row, begun = row + 1, boxes[w][1]
        rows[w] = row
    return Windows(tuple(cells), tuple(held), tuple(boxes), tuple(rows))


def _cover(boxes: Sequence[Box], size: Span1) -> Iterator[Windows]:
    """Yield the fewest windows that hold every zone whole; nothing where a zone is too large, or there are too many."""
    from scipy.optimize import Bounds, LinearConstraint, milp  # slow to load, needed here alone

    b = np.array(boxes).reshape(-1, 4)
    if not len(b) or ((b[:, 2:] - b[:, :2]) > np.array(size) + EDGE_MM).any():
        return
    lefts, tops = np.unique(b[:, 0]), np.unique(b[:, 1])
    if len(lefts) * len(tops) > COVER_WINDOWS:
        return
    held: dict[bytes, np.ndarray] = {}
    for left, top in product(lefts, tops):
        low, high = np.array([left, top]), np.array([left, top]) + size
        inside = ((b[:, :2] >= low - EDGE_MM) & (b[:, 2:] <= high + EDGE_MM)).all(axis=1)
        held.setdefault(inside.tobytes(), np.asarray(inside))
    sets = np.array(list(held.values()))
    found = milp(
        np.ones(len(sets)),
        constraints=LinearConstraint(csr_array(sets.T.astype(float)), 1.0, np.inf),
        integrality=np.ones(len(sets), dtype=np.int64),
        bounds=Bounds(0.0, 1.0),
        options={"node_limit": COVER_NODES},
    )
    if found.x is None:
        return
    chosen = np.flatnonzero(found.x > 0.5)
    window = np.argmax(sets[chosen], axis=0)  # the first of those that hold a zone
    _, window = np.unique(window, return_inverse=True)
    yield _gathered(list(enumerate(boxes)), window.tolist(), size[1])


def _sweep(
    boxes: Sequence[Box],
    size: Span1,
    overlap_mm: float,
    paths: Sequence[Sequence[FloatArray]],
    upright: bool,
    free: tuple[bool, bool],
) -> Windows:
    """Return the windows of a sweep in rows, or ``upright`` in columns; ``free``: cut wherever a window ends."""
    across, along = (0, 1) if upright else (1, 0)
    cells: list[tuple[int, Box]] = []
    held: list[int] = []
    count = 0
    for inside in _swept([(b[across], b[across + 2]) for b in boxes], size[across], overlap_mm, across, paths, free[0]):
        ids = sorted(inside)
        stretches = [(boxes[k][along], boxes[k][along + 2]) for k in ids]
        for column in _swept(stretches, size[along], overlap_mm, along, [paths[k] for k in ids], free[1]):
            for i, (low, high) in column.items():
                first, last = inside[ids[i]]
                cells.append((ids[i], (first, low, last, high) if upright else (low, first, high, last)))
                held.append(count)
            count += 1
    return _gathered(cells, held, size[1])


def _swept(
    stretches: Sequence[Span1],
    longest: float,
    overlap_mm: float,
    axis: int,
    paths: Sequence[Sequence[FloatArray]],
    free: bool,
) -> list[dict[int, Span1]]:
    """Return the windows along one axis: for each the stretches that it holds, by index, and the part that it holds.

    A window begins where the first stretch not yet held begins, and holds all that end within it; longer stretches
    (all of them when ``free``) are cut, and the later side of a cut begins ``overlap_mm`` before it.
    """
    open_at = {k: low for k, (low, _) in enumerate(stretches)}
    out: list[dict[int, Span1]] = []
    while open_at:
        start = min(open_at.values())
        end = start + longest + EDGE_MM
        held = {k: (at, stretches[k][1]) for k, at in open_at.items() if stretches[k][1] <= end}
        larger = [k for k, at in open_at.items() if free or stretches[k][1] - stretches[k][0] > longest + EDGE_MM]
        cut = [k for k in larger if k not in held and open_at[k] < end - overlap_mm]
        if cut:
            waiting = [at for k, at in open_at.items() if k not in held and k not in cut]
            place = _cut_place(
                start,
                end - EDGE_MM,
                min(waiting, default=np.inf),
                max(stretches[k][1] for k in (open_at if free else cut)),
                overlap_mm,
                axis,
                [path for k in cut for path in paths[k]],
            )
            held |= {k: (open_at[k], place) for k in cut if open_at[k] < place - overlap_mm}
        out.append(held)
        for k, (_, high) in held.items():
            if high >= stretches[k][1]:
                del open_at[k]
            else:
                open_at[k] = high - overlap_mm
    return out


def _cut_place(
    start: float,
    end: float,
    next_start: float,
    last: float,
    overlap_mm: float,
    axis: int,
    paths: Sequence[FloatArray],
) -> float:
    """Return where to cut what goes on beyond a window: where fewest lines cross, from the window's middle on.

    Late enough that no further window is needed, and that the next one begins with the next whole zone.
    """
    longest = end - start
    more = math.ceil((last - end) / (longest - overlap_mm) - 1e-9)  # windows still needed after this one
    even = start + (last - start) / (more + 1)  # parts about alike look best
    low = max(last - more * (longest - overlap_mm), start + longest / 2)
    if next_start < end - overlap_mm:
        low = max(low, next_start + overlap_mm)
    places = np.arange(min(low, end), end + 1e-9, BIN_MM)
    crossed = _crossing_counts(paths, axis, start, last)
    load = crossed[np.clip(((places - start) / BIN_MM).astype(int), 0, len(crossed) - 1)]
    return float(places[np.lexsort((np.abs(places - even), load))[0]])


def _crossing_counts(paths: Sequence[FloatArray], axis: int, low: float, high: float) -> FloatArray:
    # how many segments lie across each bin, by a difference array
    bins = int((high - low) / BIN_MM) + 2
    change = np.zeros(bins + 1)
    for path in paths:
        at = np.clip(((path[:, axis] - low) / BIN_MM).astype(int), 0, bins - 1)
        a, b = np.minimum(at[:-1], at[1:]), np.maximum(at[:-1], at[1:])
        np.add.at(change, a, 1.0)
        np.add.at(change, b, -1.0)
    return np.asarray(np.cumsum(change)[:-1])
