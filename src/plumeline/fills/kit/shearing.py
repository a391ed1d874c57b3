"""Rows linked by a shift: over a stretch where they run side by side every strand slants to the row two further in.

As the strands slant together they stay as far apart as the rows. A second line comes back out between them, so that
there are two U-turns in all, as where rows are linked at a turn (`turning`).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from ...geometry import arc_lengths, crossings, nearest_on, path_length, point_at
from ...model import BoolArray, FloatArray, Path
from .turning import Joint

__all__ = ["sheared_at"]

WINDOWS = (9.0, 6.0, 4.0)
"""Lengths of the stretch that are tried, in gaps: the longer, the less the slants are seen."""

SHARE = 0.35
"""A stretch takes at most this part of the innermost row."""

PITCH = 0.5
"""Distance of the places that are looked at, in gaps."""

APART = (0.75, 1.3)
"""How far apart rows may lie there, in gaps."""

ALONG = (0.3, 2.2)
"""How far one row may go on while another goes on by one."""

BEND = 0.4
"""Price of a radian that a row turns there, against rows a whole gap too near or far."""

TRIED = 12
"""The cheapest stretches that are looked at."""

WEDGE = 0.3
"""How far into the slants the U-turns reach: their two sides are then 0.4 of a gap apart, and 1.4 gaps stay open."""

OUT = 2.6
"""How many rows the two outermost strands come in by: past the edge, wherever it lies."""


def sheared_at(
    rows: Sequence[Path], gap: float, edges: Sequence[Path] | None, *, rounded: bool
) -> Iterator[tuple[FloatArray, Joint]]:
    """Yield how nested rows, outermost first, can be joined by a shift, the best places first, each with its middle.

    Parameters
    ----------
    rows : sequence of (n, 2)
        At least two closed rows, all the same way round.
    edges : sequence of (n, 2), optional
        The edges of the space, to which the two outermost rows lead; None: these two are joined to each other.
    rounded : bool
        Strands ease into their slant and out of it.
    """
    total = path_length(rows[-1], closed=True)
    places = np.arange(0.0, total, PITCH * gap)
    if len(places) < 8:
        return
    along, points, off, fits = _abreast(rows, places, gap)
    for wide in WINDOWS:
        steps = round(min(wide * gap, SHARE * total) / (PITCH * gap))
        if steps < min(WINDOWS) / PITCH:
            continue
        found = _stretches(points, off, fits, steps)
        for first in found:
            at = (first + np.arange(steps + 1)) % len(places)
            joint = _joint(along[:, at], points[:, at], edges, rounded)
            if joint is not None:
                yield points[0, at[steps // 2]], joint
        if found:
            return


def _abreast(
    rows: Sequence[Path], places: FloatArray, gap: float
) -> tuple[FloatArray, FloatArray, FloatArray, BoolArray]:
    """Return for places along the innermost row those abreast of them in every row, and whether rows run evenly there.

    Each row's place is that nearest to the one in the row inside it: exact for rows that are offsets of each other.
    """
    along, points = [places], [point_at(rows[-1], places, closed=True)]
    for row in rows[-2::-1]:
        along.insert(0, nearest_on(row, points[0]))
        points.insert(0, point_at(row, along[0], closed=True))
    at, where = np.array(along), np.array(points)
    off = np.hypot(*np.moveaxis(np.diff(where, axis=0), -1, 0)) / gap
    turns = np.array([path_length(row, closed=True) for row in rows])[:, None]
    on = (np.roll(at, -1, axis=1) - at + turns / 2) % turns - turns / 2
    fits = ((off >= APART[0]) & (off <= APART[1])).all(axis=0)
    fits &= ((on >= ALONG[0] * PITCH * gap) & (on <= ALONG[1] * PITCH * gap)).all(axis=0)
    return at, where, off, fits


def _stretches(points: FloatArray, off: FloatArray, fits: BoolArray, steps: int) -> list[int]:
    """Return where the cheapest stretches of so many steps begin, at most a few."""
    count = len(fits)
    at = (np.arange(count)[:, None] + np.arange(steps + 1)) % count
    good = np.flatnonzero(fits[at].all(axis=1))
    if not len(good):
        return []
    step = np.roll(points, -1, axis=1) - points
    turn = np.diff(np.unwrap(np.arctan2(step[..., 1], step[..., 0]), axis=1), axis=1, append=0.0)
    turn[:, -1] = 0.0
    bend = np.abs(turn)[:, at[good][:, :-1]].sum(axis=2).max(axis=0)
    price = np.abs(off - 1)[:, at[good]].mean(axis=(0, 2)) + BEND * bend
    best = np.argsort(np.round(price, 6), kind="stable")
    out: list[int] = []
    for k in good[best].tolist():  # places next to one another differ by nothing
        if all(min((k - o) % count, (o - k) % count) > steps // 2 for o in out):
            out.append(k)
        if len(out) == TRIED:
            break
    return out


def _joint(along: FloatArray, points: FloatArray, edges: Sequence[Path] | None, rounded: bool) -> Joint | None:
    count, last = len(points), points.shape[1] - 1
    t = np.linspace(0.0, 1.0, last + 1)
    ease = t * t * (3 - 2 * t) if rounded else t
    opened = [(float(a[0]), float(a[-1])) for a in along]
    links = [(k, True, k + 2, False, _strand(points, k + 2 * ease)[1:-1]) for k in range(count - 2)]
    # U-turns reach in between the strands: one side goes on along its row, the other slants towards it
    inner = int(np.argmax(ease >= WEDGE))
    slant, flat = _strand(points, count - 2 + 2 * ease), points[-1]
    links.append((count - 2, True, count - 1, True, np.vstack([slant[1 : inner + 1], flat[inner:0:-1]])))
    if edges is None:
        outer = last - inner
        slant, flat = _strand(points, 2 * ease - 1), points[0]
        between = np.vstack([flat[outer:last][::-1], slant[outer:last]])
        return Joint(opened, [*links, (0, False, 1, False, between)], None)
    feet = [_from_edge(_strand(points, k - OUT * (1 - ease)), edges) for k in (0, 1)]
    if feet[0] is None or feet[1] is None:
        return None
    return Joint(opened, links, (feet[0], feet[1]))


def _strand(points: FloatArray, row: FloatArray) -> FloatArray:
    """Return the points that lie so many rows from the outermost one, one for each place abreast."""
    low = np.clip(np.floor(row).astype(int), 0, len(points) - 2)
    part = (row - low)[:, None]
    at = np.arange(points.shape[1])
    out: FloatArray = points[low, at] * (1 - part) + points[low + 1, at] * part
    return out


def _from_edge(strand: FloatArray, edges: Sequence[Path]) -> FloatArray | None:
    """Return the last part of a strand, from where it crosses an edge of the space for the last time; None if never."""
    hits = crossings([np.vstack([e, e[:1]]) for e in edges], [strand])
    if not len(hits):
        return None
    s = arc_lengths(strand)
    cut = nearest_on(strand, hits, closed=False)
    at = float(cut.max())
    return np.vstack([hits[int(np.argmax(cut))], strand[s > at + 1e-6]])
