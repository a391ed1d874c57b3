"""Reach by reach: a quilt larger than the machine gets to at once, divided at its natural breaks before joining.

Whole zones go to one reach wherever they fit, so that a break lies in seams and cuts no line. Registration
marks in the overlap of two reaches say where the quilt lies after it has been moved.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import ArrayLike

from ..errors import LineError
from ..model import Finding, FloatArray, Reach, Zone, as_path
from .order import Order

__all__ = ["Box", "Reach", "Reaches", "Refit", "choose_reaches", "refit"]

Box = tuple[float, float, float, float]
"""left, top, right, bottom in mm."""

MARKS_APART = 0.7
"""Marks lie at least this share of the reach apart: nearer ones turn a small misreading into a large turn."""

SHRINK_WARNED = 0.01
"""Shrinkage between two reaches beyond which zones no longer meet."""

EDGE_MM = 0.01
"""A zone may overhang its reach by this much: rounding, not cloth."""

BIN_MM = 1.0
"""Step at which places to cut a zone are tried."""


@dataclass(frozen=True, slots=True, eq=False)
class Reaches:
    """The reaches of a quilt.

    Attributes
    ----------
    reaches : tuple of Reach
        In sewing order.
    parts : tuple of tuple of (reach number, box)
        For each zone the reaches that it is sewn in and the part of it that each of them sews; one part, the
        whole zone, unless the zone is larger than the reach.
    findings : tuple of Finding
        Zones that are cut, marks that lie too near each other.
    """

    reaches: tuple[Reach, ...]
    parts: tuple[tuple[tuple[int, Box], ...], ...]
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True)
class Refit:
    """How the quilt lies now: turn a planned point by ``angle_deg``, then shift it.

    ``angle_deg`` is counter-clockwise as seen; ``shrink`` is how much longer (+) or shorter (-) the measured
    distances are, as a share.
    """

    angle_deg: float
    shift: tuple[float, float]
    shrink: float
    findings: tuple[Finding, ...] = ()

    def apply(self, points: ArrayLike) -> FloatArray:
        """Return planned points where they lie now, ``(n, 2)``."""
        c, s = math.cos(math.radians(self.angle_deg)), math.sin(math.radians(self.angle_deg))
        turned: FloatArray = np.asarray(points, dtype=np.float64) @ np.array([[c, -s], [s, c]])
        turned += np.asarray(self.shift)
        return turned


def choose_reaches(
    zones: Sequence[Zone],
    reach_mm: tuple[float, float],
    *,
    order: Order = "rows",
    crossings: ArrayLike = (),
    paths: Sequence[Sequence[FloatArray]] | None = None,
    overlap_mm: float = 7.62,
) -> Reaches:
    """Choose reaches at natural breaks.

    Parameters
    ----------
    zones : sequence of Zone
        The zones to be sewn.
    reach_mm : (width, height)
        What the machine gets to at once.
    order : {"rows", "centre-out", "any"}
        Rows from the top; from the centre outwards; or rows to and fro, for short moves.
    crossings : (k, 2) array, optional
        Places that can be found again on the cloth (seam crossings): the best marks.
    paths : sequence of sequences of (n, 2) arrays, optional
        The strokes of each zone: a zone that must be cut is cut where it cuts the fewest of them.
    overlap_mm : float
        How far the two sides of a cut overlap (three stitches).

    Raises
    ------
    LineError
        The reach is not larger than twice the overlap.

    Notes
    -----
    Rows first, then the same along each row: the fewest windows that each hold whole zones, by taking the first
    zone not yet held and all that fit beside it (optimal along one axis where no zone is larger). A larger zone is
    cut where a window ends: within what the next window still gets to, and without needing a further window, at the
    place that fewest of its lines cross.
    """
    width, height = float(reach_mm[0]), float(reach_mm[1])
    if not min(width, height) > 2 * overlap_mm:
        raise LineError(
            f"is {width:g} x {height:g} mm; must be more than {2 * overlap_mm:g} mm each way", key="machine.reach"
        )
    size = (width, height)
    boxes, windows, held = _cells(zones, size, overlap_mm, paths or [()] * len(zones))
    counts = np.bincount([k for k, _ in boxes], minlength=len(zones))
    cut = [zone.label for zone, count in zip(zones, counts) if count > 1]
    sequence = _sequence(windows, order)
    number = {w: k + 1 for k, w in enumerate(sequence)}
    parts: list[list[tuple[int, Box]]] = [[] for _ in zones]
    for (k, box), window in zip(boxes, held):
        parts[k].append((number[window], box))
    places = np.asarray(crossings, dtype=np.float64).reshape(-1, 2)
    reaches, near = _placed([windows[w] for w in sequence], size, places)
    return Reaches(reaches, tuple(tuple(sorted(p)) for p in parts), (*_cut_findings(cut), *near))


def _box(zone: Zone) -> Box:
    left, top, right, bottom = zone.outline.bounds
    return float(left), float(top), float(right), float(bottom)


def _cells(
    zones: Sequence[Zone], size: tuple[float, float], overlap_mm: float, paths: Sequence[Sequence[FloatArray]]
) -> tuple[list[tuple[int, Box]], list[tuple[int, Box]], list[int]]:
    """Return the parts of all zones as (zone, box), the windows as (row, tight box), and the window of each part."""
    whole = [_box(zone) for zone in zones]
    cells: list[tuple[int, Box]] = []
    windows: list[tuple[int, Box]] = []
    held: list[int] = []
    rows = _swept([(b[1], b[3]) for b in whole], size[1], overlap_mm, 1, paths)
    for row, inside in enumerate(rows):
        ids = sorted(inside)
        stretches = [(whole[k][0], whole[k][2]) for k in ids]
        for column in _swept(stretches, size[0], overlap_mm, 0, [paths[k] for k in ids]):
            here = [
                (ids[i], (left, inside[ids[i]][0], right, inside[ids[i]][1])) for i, (left, right) in column.items()
            ]
            corners = np.array([box for _, box in here])
            left, top = corners[:, :2].min(axis=0)
            right, bottom = corners[:, 2:].max(axis=0)
            held += [len(windows)] * len(here)
            cells += here
            windows.append((row, (float(left), float(top), float(right), float(bottom))))
    return cells, windows, held


def _swept(
    stretches: Sequence[tuple[float, float]],
    longest: float,
    overlap_mm: float,
    axis: int,
    paths: Sequence[Sequence[FloatArray]],
) -> list[dict[int, tuple[float, float]]]:
    """Return the windows along one axis: for each the stretches that it holds, by index, and the part that it holds.

    A window begins where the first stretch not yet held begins, and holds all that end within it; longer stretches
    are cut, and the later side of a cut begins ``overlap_mm`` before it.
    """
    open_at = {k: low for k, (low, _) in enumerate(stretches)}
    out: list[dict[int, tuple[float, float]]] = []
    while open_at:
        start = min(open_at.values())
        end = start + longest + EDGE_MM
        held = {k: (at, stretches[k][1]) for k, at in open_at.items() if stretches[k][1] <= end}
        larger = [k for k, at in open_at.items() if stretches[k][1] - stretches[k][0] > longest + EDGE_MM]
        cut = [k for k in larger if k not in held and open_at[k] < end - overlap_mm]
        if cut:
            waiting = [at for k, at in open_at.items() if k not in held and k not in cut]
            place = _cut_place(
                start,
                end - EDGE_MM,
                min(waiting, default=np.inf),
                max(stretches[k][1] for k in cut),
                overlap_mm,
                axis,
                [path for k in cut for path in paths[k]],
            )
            held |= {k: (open_at[k], place) for k in cut if open_at[k] < place}
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


def _sequence(windows: Sequence[tuple[int, Box]], order: Order) -> list[int]:
    ids = range(len(windows))
    if order == "centre-out":
        boxes = np.array([w[1] for w in windows])
        middle = np.array([boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)]).mean(axis=0)
        far = np.abs((boxes[:, :2] + boxes[:, 2:]) / 2 - middle)
        ring, within = (
            far.max(axis=1).round(3),
            far.sum(axis=1).round(3),
        )  # middles of a ring's sides before its corners
        return sorted(ids, key=lambda k: (ring[k], within[k], windows[k][0], windows[k][1][0]))
    to_and_fro = order == "any"
    return sorted(
        ids, key=lambda k: (windows[k][0], windows[k][1][0] * (-1 if to_and_fro and windows[k][0] % 2 else 1))
    )


def _placed(
    windows: Sequence[tuple[int, Box]], size: tuple[float, float], crossings: FloatArray
) -> tuple[tuple[Reach, ...], list[Finding]]:
    """Return the reaches at full size, spare room laid so that marks shared with an earlier one lie far apart."""
    boxes = np.array([w[1] for w in windows]).reshape(-1, 4)
    low, high = boxes[:, :2].min(axis=0, initial=np.inf), boxes[:, 2:].max(axis=0, initial=-np.inf)
    room = np.asarray(size)
    quilt = np.minimum(room, high - low)  # marks on the quilt lie no further apart than this
    reaches: list[Reach] = []
    findings: list[Finding] = []
    for k, box in enumerate(boxes):
        back = np.minimum(np.maximum(box[2:] - room, low), box[:2])
        choices = []
        for x, y in product((back[0], box[0]), (back[1], box[1])):
            window = (float(x), float(y), float(x + room[0]), float(y + room[1]))
            on_quilt = (*np.maximum(window[:2], low), *np.minimum(window[2:], high))
            choices.append((*_marks(on_quilt, [r.window for r in reaches], quilt, crossings), window))
        marks, share, window = max(choices, key=lambda c: round(c[1], 6))
        reaches.append(Reach(k + 1, window, as_path(marks)))
        if k and share < MARKS_APART:
            findings.append(_near_finding(k + 1, share))
    return tuple(reaches), findings


def _near_finding(number: int, share: float) -> Finding:
    return Finding(
        "marks-near",
        "warning",
        None,
        f"The registration marks of reach {number} lie only {share:.0%} of the reach apart.",
        "State a smaller reach, so that reaches overlap more, or mark further points by hand.",
    )


def _marks(window: Box, before: Sequence[Box], size: FloatArray, crossings: FloatArray) -> tuple[FloatArray, float]:
    """Return two marks in the overlap with an earlier window, and how far apart they lie as a share of the reach."""
    best: tuple[float, FloatArray] = (0.0, np.zeros((0, 2)))
    for known in (True, False):
        for other in before:
            box = np.array([*np.maximum(window[:2], other[:2]), *np.minimum(window[2:], other[2:])])
            if (box[2:] < box[:2] - EDGE_MM).any():
                continue
            inside = ((crossings >= box[:2] - EDGE_MM) & (crossings <= box[2:] + EDGE_MM)).all(axis=1)
            corners = np.array([[box[0], box[1]], [box[2], box[3]], [box[0], box[3]], [box[2], box[1]]])
            points = crossings[inside] if known else corners
            share, pair = _furthest(points, size)
            if share > best[0] + 1e-9:
                best = (share, pair)
        if best[0] >= MARKS_APART:  # seam crossings before points that must be drawn
            break
    return best[1], best[0]


def _furthest(points: FloatArray, size: FloatArray) -> tuple[float, FloatArray]:
    if len(points) < 2:
        return 0.0, np.zeros((0, 2))
    apart = np.abs(points[:, None] - points[None]) / np.maximum(size, EDGE_MM)
    share = apart.max(axis=2)
    i, j = divmod(int(np.argmax(share)), len(points))
    return float(share[i, j]), points[[min(i, j), max(i, j)]]


def _cut_findings(names: Sequence[str]) -> list[Finding]:
    return [
        Finding(
            "zone-cut",
            "warning",
            name,
            "The zone is larger than the machine's reach: its lines are cut, tied off and overlap by three stitches.",
            "Divide the zone along a seam, or choose a fill in which a tie does not show.",
        )
        for name in dict.fromkeys(names)
    ]


def refit(planned: ArrayLike, measured: ArrayLike) -> Refit:
    """Return how the quilt lies after it has been moved, from marks measured on it.

    Parameters
    ----------
    planned, measured : (k, 2)
        At least two marks, in the plan and as they lie now, mm, in the same order.

    Raises
    ------
    LineError
        Fewer than two marks, different numbers of them, or marks in one place.

    Notes
    -----
    The rigid motion of least squares (for two marks the one that takes mid to mid and direction to direction).

    Examples
    --------
    >>> fit = refit([(0, 0), (100, 0)], [(10, 5), (10, -95)])
    >>> fit.angle_deg, fit.apply([(50, 0)]).round(6).tolist()
    (90.0, [[10.0, -45.0]])
    """
    p, q = as_path(planned), as_path(measured)
    if len(p) < 2 or p.shape != q.shape:
        raise LineError(
            f"has {len(p)} planned and {len(q)} measured marks; must have the same two or more", key="marks"
        )
    p0, q0 = p - p.mean(axis=0), q - q.mean(axis=0)
    spread = float(np.hypot(*p0.T).sum())
    if spread == 0 or not np.hypot(*q0.T).any():
        raise LineError("has all its marks in one place; must have them apart", key="marks")
    turn = math.atan2(float((p0[:, 0] * q0[:, 1] - p0[:, 1] * q0[:, 0]).sum()), float((p0 * q0).sum()))
    shrink = float(np.hypot(*q0.T).sum()) / spread - 1
    fit = Refit(-math.degrees(turn), (0.0, 0.0), shrink)
    shift = q.mean(axis=0) - fit.apply(p).mean(axis=0)
    findings = () if abs(shrink) <= SHRINK_WARNED else (_shrink_finding(shrink),)
    return Refit(fit.angle_deg, (float(shift[0]), float(shift[1])), shrink, findings)


def _shrink_finding(shrink: float) -> Finding:
    return Finding(
        "quilt-shrunk",
        "warning",
        None,
        f"The marks lie {abs(shrink):.1%} {'further apart' if shrink > 0 else 'nearer together'} than planned.",
        "Measure them again; if they are right, refit the zones of this reach to their measured size.",
    )
