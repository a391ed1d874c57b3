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

from ..codes import FindingCode
from ..errors import LineError
from ..model import Finding, FloatArray, Reach, Zone, as_path
from .order import Order
from .windows import EDGE_MM, Box, choose_windows

__all__ = ["Box", "Reach", "Reaches", "Refit", "choose_reaches", "refit"]

MARKS_APART = 0.7
"""Marks lie at least this share of the reach apart: nearer ones turn a small misreading into a large turn."""

REACHES_MANY = 12
"""More reaches than this are a day of moving: perhaps the machine gets further than was said."""

SHRINK_WARNED = 0.01
"""Shrinkage between two reaches beyond which zones no longer meet."""


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
        What the machine gets to at once; a width of inf is that of the quilt (a frame).
    order : {"rows", "centre-out", "any"}
        Rows from the top; from the centre outwards; or rows to and fro, for short moves.
    crossings : (k, 2) array, optional
        Places that can be found again on the cloth (seam crossings): the best marks.
    paths : sequence of sequences of (n, 2) arrays, optional
        The strokes of each zone: a zone that must be cut is cut where it cuts the fewest of them.
    overlap_mm : float
        How far the two sides of a cut overlap (three stitches).

    Returns
    -------
    Reaches
        Where each lies, in sewing order; which zone is cut where; what she should know.

    Raises
    ------
    LineError
        The reach is not larger than twice the overlap.
    """
    width, height = float(reach_mm[0]), float(reach_mm[1])
    if not min(width, height) > 2 * overlap_mm:
        raise LineError(
            f"is {width:g} x {height:g} mm; must be more than {2 * overlap_mm:g} mm each way", key="machine.reach"
        )
    boxes = np.array([_box(zone) for zone in zones]).reshape(-1, 4)
    across = float(np.ptp(boxes[:, [0, 2]])) if len(boxes) else 2 * overlap_mm
    size = (min(width, max(across, 2 * overlap_mm) + EDGE_MM) if math.isinf(width) else width, height)
    drawn = paths or [()] * len(zones)
    chosen = choose_windows(
        [_box(zone) for zone in zones], [_sewn_box(z, p) for z, p in zip(zones, drawn)], size, overlap_mm, drawn
    )
    windows = list(zip(chosen.rows, chosen.boxes))
    counts = np.bincount([k for k, _ in chosen.cells], minlength=len(zones))
    cut = [zone.label for zone, count in zip(zones, counts) if count > 1]
    sequence = _sequence(windows, order)
    number = {w: k + 1 for k, w in enumerate(sequence)}
    parts: list[list[tuple[int, Box]]] = [[] for _ in zones]
    for (k, box), window in zip(chosen.cells, chosen.held):
        parts[k].append((number[window], box))
    places = np.asarray(crossings, dtype=np.float64).reshape(-1, 2)
    reaches, near = _placed([windows[w] for w in sequence], size, places)
    return Reaches(reaches, tuple(tuple(sorted(p)) for p in parts), (*_cut_findings(cut), *near, *_many(len(reaches))))


def _box(zone: Zone) -> Box:
    left, top, right, bottom = zone.outline.bounds
    return float(left), float(top), float(right), float(bottom)


def _sewn_box(zone: Zone, paths: Sequence[FloatArray]) -> Box:
    corners = [(*path.min(axis=0), *path.max(axis=0)) for path in paths if len(path)]
    if not corners:
        return _box(zone)
    low, high = np.min(corners, axis=0)[:2], np.max(corners, axis=0)[2:]
    return float(low[0]), float(low[1]), float(high[0]), float(high[1])


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


def _many(count: int) -> list[Finding]:
    if count <= REACHES_MANY:
        return []
    return [
        Finding(
            FindingCode.MANY_REACHES,
            "note",
            None,
            f"The quilt is moved {count - 1} times.",
            "If your machine runs on a frame, say frame = true and its throat: then it sews right across the quilt. "
            "Else choose smaller spaces, which fit into the reach more than one at a time.",
        )
    ]


def _near_finding(number: int, share: float) -> Finding:
    return Finding(
        FindingCode.MARKS_NEAR,
        "warning",
        None,
        f"The registration marks of reach {number} lie only {share:.0%} of the reach apart.",
        "State a smaller reach, so that reaches overlap more, or mark further points by hand.",
    )


def _marks(window: Box, before: Sequence[Box], size: FloatArray, crossings: FloatArray) -> tuple[FloatArray, float]:
    """Return two marks in the overlap with an earlier window, and how far apart they lie as a share of the reach.

    Far enough apart before all else; then seam crossings before corners of the overlap, which must be drawn.
    """
    best: tuple[tuple[bool, int, float], FloatArray] = ((False, 0, 0.0), np.zeros((0, 2)))
    for other in before:
        box = np.array([*np.maximum(window[:2], other[:2]), *np.minimum(window[2:], other[2:])])
        if (box[2:] < box[:2] - EDGE_MM).any():
            continue
        known = crossings[((crossings >= box[:2] - EDGE_MM) & (crossings <= box[2:] + EDGE_MM)).all(axis=1)]
        corners = np.array([[box[0], box[1]], [box[2], box[3]], [box[0], box[3]], [box[2], box[1]]])
        found = _best_pair(np.vstack([known, corners]), len(known), size)
        if found[0] > best[0]:
            best = found
    (_, _, share), pair = best
    return pair, share


def _best_pair(points: FloatArray, known: int, size: FloatArray) -> tuple[tuple[bool, int, float], FloatArray]:
    """Return the best two of points, the first ``known`` of them seam crossings: apart enough, crossings, share."""
    share = np.round((np.abs(points[:, None] - points[None]) / np.maximum(size, EDGE_MM)).max(axis=2), 9)
    crossing = np.arange(len(points)) < known
    count = crossing[:, None].astype(int) + crossing[None]
    far = share >= MARKS_APART
    # without enough room between them the distance alone counts
    order = np.lexsort((-share.ravel(), -np.where(far, count, 0).ravel(), ~far.ravel()))
    i, j = divmod(int(order[0]), len(points))
    apart = bool(far[i, j])
    return (apart, int(count[i, j]) if apart else 0, float(share[i, j])), points[[min(i, j), max(i, j)]]


def _cut_findings(names: Sequence[str]) -> list[Finding]:
    return [
        Finding(
            FindingCode.ZONE_CUT,
            "warning",
            name,
            "It is sewn in more than one reach: its lines are cut, tied off and overlap by three stitches.",
            "Where it is larger than the reach, divide it along a seam; or choose a fill in which a tie does not show.",
        )
        for name in dict.fromkeys(names)
    ]


def refit(planned: ArrayLike, measured: ArrayLike) -> Refit:
    """Return how the quilt lies after it has been moved, from marks measured on it.

    Parameters
    ----------
    planned, measured : (k, 2)
        At least two marks, in the plan and as they lie now, mm, in the same order.

    Returns
    -------
    Refit
        The turn and shift that take planned points to measured ones, how much the marks have come together or gone
        apart, and a finding where that is more than `SHRINK_WARNED`.

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
        FindingCode.QUILT_SHRUNK,
        "warning",
        None,
        f"The marks lie {abs(shrink):.1%} {'further apart' if shrink > 0 else 'nearer together'} than planned.",
        "Measure them again; if they are right, the cloth has drawn in: mark what is stitched with done = true, and "
        "draw the rest as it is now.",
    )
