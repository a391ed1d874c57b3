"""Closed rows linked to one line: where two run side by side both are opened, and the line goes over and back.

The two steps of a gap lie as far apart as the rows, so that they read as one more pair of lines. Rows linked along
a tree become one closed line, whatever their number, with every stretch but the gaps themselves sewn once. Where rows
that lie one in the other share a corner, they are linked by turning there instead, without any gap; where they only run
side by side for a while, by a shift of all of them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from ...geometry import (
    arc_lengths,
    crossings,
    dedupe,
    is_simple,
    near_points,
    nearest_on,
    path_length,
    point_at,
    resample,
    ring_stretch,
    signed_area,
    simplify_path,
)
from ...model import FloatArray, Path, as_path
from .nesting import EDGE, Links, Row, is_opened, nested_in
from .turning import corners_of

__all__ = ["linked"]

PLAIN = 0.002
"""How far rows are straightened first, in spacings: less than a thread."""

PLACES = 3
"""Places for a gap that are looked at, to a spacing."""

BEND = 0.6
"""Price of a radian that the rows turn at a gap, against one of them a whole spacing too near or far."""

NEXT, STRAY, STRAYED = 2.0, 0.12, 1.0
"""A row's gap lies so many spacings from that of the row before, so that all make one seam; the price of a spacing
more or less, and the most it comes to."""

SHORT = 0.3
"""A gap takes at most this part of a row."""

CRUMB = 3.0
"""A row that can't be linked and is shorter than so many spacings is not worth a start and a stop."""

FILLET = 0.35
"""Radius of rounded turns into and out of a gap, in spacings."""

CURVE = 5
"""Points of such a turn."""


@dataclass(frozen=True, slots=True)
class _Rule:
    """What a gap may be.

    Width, distance of the rows and of other gaps in spacings; its length in the other row in its own width; the
    radians that the rows may turn there.
    """

    width: float
    apart: tuple[float, float]
    lengths: tuple[float, float]
    turn: float
    clear: float


RULES = (
    _Rule(1.0, (0.75, 1.35), (0.6, 1.6), 0.7, 1.7),
    _Rule(0.8, (0.6, 1.7), (0.4, 2.0), 1.3, 1.4),
    _Rule(0.5, (0.4, 2.2), (0.2, 3.0), 2.2, 0.95),
)
"""Tried one after another: even gaps where rows run straight; where there are none, narrower ones round a bend, as in
tips and beside necks."""

AT_EDGE = _Rule(1.0, (0.3, 1.35), (0.6, 1.6), 0.7, 1.7)
"""What a gap to the edge of the space may be: the first row often lies half a spacing from it."""


@dataclass(frozen=True, slots=True)
class _Gap:
    """A gap between two rows: where it opens each (start and stop along it), its middle, its price, its feet there."""

    own: tuple[float, float]
    other: tuple[float, float]
    middle: tuple[float, float]
    price: float
    feet: FloatArray


def linked(
    rows: Sequence[Path],
    gap_mm: float,
    edges: Sequence[Path],
    *,
    rounded: bool,
    enter: tuple[float, float] | None = None,
) -> list[tuple[Path, bool]] | None:
    """Return rows linked to as few lines as they can be, each with whether it is closed.

    Parameters
    ----------
    rows : sequence of (n, 2)
        Closed rows that don't cross, outermost first.
    gap_mm : float
        How far apart they are.
    edges : sequence of (n, 2)
        The edges of the space. A line that has a row beside one begins and ends there.
    rounded : bool
        Round the turns into and out of gaps.
    enter : point, optional
        Where the first line is wished to begin.

    Returns
    -------
    list of (path, closed) or None
        None where a line would cross itself or another.

    Notes
    -----
    Each row is linked to one that is linked already, at the place whose price is least: rows evenly apart, straight,
    and near the gap of the row before. O(rows x places) after a search for neighbours.
    """
    plain = [simplify_path(r, PLAIN * gap_mm, closed=True) for r in rows]
    plain = [r if signed_area(r) > 0 else as_path(r[::-1]) for r in plain if len(r) > 2]
    corners = [corners_of(r, gap_mm) for r in plain]
    found_before: dict[tuple[int, int, int], list[_Gap]] = {}
    best: list[tuple[Path, bool]] | None = None
    for nests in (True, False):
        for rules in range(len(RULES), 0, -1):  # the last may make lines touch where they are tightest
            parts = [Row(r, path_length(r, closed=True), corners=c) for r, c in zip(plain, corners)]
            lines = _all_linked(parts, gap_mm, edges, Links(rounded, nests), enter, rules, found_before)
            if _clean(lines):
                best = lines if best is None or len(lines) < len(best) else best
                break
        if best is not None and len(best) == 1:
            break
    return best


def _clean(lines: Sequence[tuple[Path, bool]]) -> bool:
    """Return whether no line crosses itself or another."""
    return all(
        is_simple(path, closed=closed) and not len(crossings([path], [p for p, _ in lines[:k]]))
        for k, (path, closed) in enumerate(lines)
    )


def _all_linked(
    parts: list[Row],
    gap: float,
    edges: Sequence[Path],
    links: Links,
    enter: tuple[float, float] | None,
    rules: int,
    found_before: dict[tuple[int, int, int], list[_Gap]],
) -> list[tuple[Path, bool]]:
    waiting = list(range(len(parts)))
    lines: list[tuple[Path, bool]] = []
    _neighbours(parts, gap)
    while waiting:
        root = waiting.pop(0)
        near = None if enter is None or lines else np.asarray(enter, dtype=np.float64)
        nested = nested_in(parts, [root], waiting, gap, links, edges, near)
        if nested is None:
            edge = _edge_gap(parts[root], edges, gap, links.taken, near)
            feet = None if edge is None else (edge.feet[:1], edge.feet[1:])
            seam = near if edge is None else np.asarray(edge.middle)
            if edge is not None:
                _open(parts[root], edge.own, EDGE)
            group, seams = [root], {root: seam}
        else:
            group, feet = nested
            seams = dict.fromkeys(group, np.asarray(links.taken[-1]))
        _grow(parts, group, seams, waiting, gap, links, rules, found_before)
        if len(group) == 1 and lines and parts[root].total < CRUMB * gap:
            continue
        lines.append(_walked(parts, group, root, feet, links, FILLET * gap if links.rounded else 0.0))
    return lines


def _grow(
    parts: list[Row],
    group: list[int],
    seams: dict[int, FloatArray | None],
    waiting: list[int],
    gap: float,
    links: Links,
    rules: int,
    found_before: dict[tuple[int, int, int], list[_Gap]],
) -> None:
    """Link rows taken from those waiting to a group, as many as can be; their gaps are opened in them."""
    rule = 0
    while rule < rules:
        any_found = False
        while (nested := nested_in(parts, group, waiting, gap, links)) is not None:
            seams.update(dict.fromkeys(nested[0][1:], np.asarray(links.taken[-1])))
            group += nested[0][1:]
            any_found = True
        for k in list(waiting):
            to = [to for to in group if to in parts[k].beside]
            found = _best(parts, to, k, gap, rule, links.taken, seams, found_before)
            if found is None:
                continue
            one, other = found
            _open(parts[k], one.own, len(links.taken))
            _open(parts[other], one.other, len(links.taken))
            links.taken.append(one.middle)
            seams[k] = np.asarray(one.middle)
            group.append(k)
            waiting.remove(k)
            any_found = True
            if rule:
                break  # what hangs on it may be linked evenly
        rule = 0 if any_found else rule + 1


def _neighbours(parts: list[Row], gap: float) -> None:
    """Note for each row which others come near it."""
    samples = [resample(row.path, gap / 2, closed=True) for row in parts]
    which = np.repeat(np.arange(len(parts)), [len(s) for s in samples])
    pairs = near_points(np.vstack(samples), RULES[-1].apart[1] * gap)
    both = np.unique(np.sort(which[pairs], axis=1), axis=0)
    for a, b in both[both[:, 0] != both[:, 1]].tolist():
        parts[a].beside.add(b)
        parts[b].beside.add(a)


def _edge_gap(
    row: Row, edges: Sequence[Path], gap: float, taken: list[tuple[float, float]], near: FloatArray | None
) -> _Gap | None:
    # where the first row is opened to the edge of the space
    found = [one for edge in edges for one in _candidates(row, Row(edge, path_length(edge, closed=True)), gap, AT_EDGE)]
    found = _clear(found, taken, AT_EDGE.clear * gap)
    if not found:
        return None
    away = [0.0 if near is None else float(np.hypot(*(np.asarray(one.middle) - near))) / gap for one in found]
    best = found[int(np.argmin([round(one.price + far, 6) for one, far in zip(found, away)]))]
    taken.append(best.middle)
    return best


def _best(
    parts: list[Row],
    group: list[int],
    k: int,
    gap: float,
    rule: int,
    taken: list[tuple[float, float]],
    seams: dict[int, FloatArray | None],
    found_before: dict[tuple[int, int, int], list[_Gap]],
) -> tuple[_Gap, int] | None:
    best: tuple[float, _Gap, int] | None = None
    for to in group:
        if (k, to, rule) not in found_before:
            found_before[k, to, rule] = _candidates(parts[k], parts[to], gap, RULES[rule])
        clear = _clear(found_before[k, to, rule], taken, RULES[rule].clear * gap)
        seam = seams[to]
        for found in clear:
            if is_opened(parts[k], found.own) or is_opened(parts[to], found.other):
                continue
            stray = 0.0 if seam is None else abs(float(np.hypot(*(np.asarray(found.middle) - seam))) / gap - NEXT)
            price = round(found.price + min(STRAY * stray, STRAYED), 6)
            if best is None or price < best[0]:
                best = price, found, to
    return None if best is None else (best[1], best[2])


def _clear(found: list[_Gap], taken: list[tuple[float, float]], least: float) -> list[_Gap]:
    """Return the gaps that are far enough from those already made."""
    if not taken or not found:
        return found
    far, _ = cKDTree(np.array(taken)).query(np.array([one.middle for one in found]))
    return [one for one, away in zip(found, np.atleast_1d(far).tolist()) if away >= least]


def _candidates(row: Row, other: Row, gap: float, rule: _Rule) -> list[_Gap]:
    """Return the gaps that can be between two rows."""
    width = min(rule.width * gap, SHORT * row.total, SHORT * other.total)
    places = np.arange(0.0, row.total, gap / PLACES)
    at = np.stack([places - width / 2, places, places + width / 2])
    points = point_at(row.path, at.ravel(), closed=True)
    foot = nearest_on(other.path, points)
    far = np.hypot(*(points - point_at(other.path, foot, closed=True)).T).reshape(at.shape) / gap
    feet = point_at(other.path, foot, closed=True).reshape(3, -1, 2)
    foot = foot.reshape(at.shape)
    span = (foot[2] - foot[0] + other.total / 2) % other.total - other.total / 2
    off = np.abs(far - 1).max(axis=0)
    good = (far >= rule.apart[0]).all(axis=0) & (far <= rule.apart[1]).all(axis=0)
    good &= (np.abs(span) >= rule.lengths[0] * width) & (np.abs(span) <= rule.lengths[1] * width)
    middle = points.reshape(3, -1, 2)[1]
    kept = np.flatnonzero(good)
    if not len(kept):
        return []
    start, stop = at[0, kept], at[2, kept]
    faced = np.stack([foot[0, kept], foot[0, kept] + span[kept]])
    bend = np.maximum(_bend(row, start, stop, width), _bend(other, faced.min(axis=0), faced.max(axis=0), width))
    price = off[kept] + np.abs(np.abs(span[kept]) / width - 1) + BEND * bend
    return [
        _Gap(
            (float(start[i]), float(stop[i])),
            (float(faced[0, i]), float(faced[1, i])),
            (float(middle[k, 0]), float(middle[k, 1])),
            float(price[i]),
            feet[[0, 2], k],
        )
        for i, k in enumerate(kept.tolist())
        if bend[i] <= rule.turn
    ]


def _bend(row: Row, start: FloatArray, stop: FloatArray, width: float) -> FloatArray:
    """Return how much a row turns at gaps and half their width on either side, radians, ``(n,)``."""
    at = np.linspace(start - width / 2, stop + width / 2, 9)
    step = np.diff(point_at(row.path, at.ravel(), closed=True).reshape(*at.shape, 2), axis=0)
    cross = step[:-1, :, 0] * step[1:, :, 1] - step[:-1, :, 1] * step[1:, :, 0]
    return np.asarray(np.abs(np.arctan2(cross, (step[:-1] * step[1:]).sum(axis=2))).sum(axis=0))


def _open(row: Row, stretch: tuple[float, float], number: int) -> None:
    """Open a row between two places; the first given is the side that leads to the first of the other row."""
    first, second = stretch
    forward = 1 if second > first else -1  # at the first the row ends when it runs forward into the gap
    row.ends += [(first % row.total, 2 * number, -forward), (second % row.total, 2 * number + 1, forward)]


def _walked(
    parts: list[Row],
    group: list[int],
    root: int,
    feet: tuple[FloatArray, FloatArray] | None,
    links: Links,
    fillet: float,
) -> tuple[Path, bool]:
    """Return the one line through a group of linked rows: closed, or from edge to edge."""
    if not parts[root].ends:
        return parts[root].path, True
    rows_at: dict[int, list[int]] = {}
    for k in group:
        for _, end, _ in parts[k].ends:
            rows_at.setdefault(end, []).append(k)
    row, end = root, 2 * EDGE if feet is not None else parts[root].ends[0][1]
    start = (row, end)
    pieces: list[FloatArray] = []
    while not pieces or (row, end) != start:
        stretch, end = _arc(parts[row], end)
        pieces.append(stretch)
        if end // 2 == EDGE:
            break
        after = next((k for k in rows_at[end] if k != row), row)
        if end in links.between:
            whose, points = links.between[end]
            onward = point_at(parts[after].path, [next(at for at, n, _ in parts[after].ends if n == end)], closed=True)
            pieces[-1] = _led_on(stretch, points if whose == row else points[::-1], onward, fillet)
        row = after
    if feet is not None:
        pieces = [feet[0], *pieces, feet[1][::-1]]
    return as_path(dedupe(_joined(pieces, fillet, closed=feet is None), closed=feet is None)), feet is None


def _led_on(stretch: FloatArray, points: FloatArray, onward: FloatArray, fillet: float) -> FloatArray:
    """Return a stretch of a row led on over points towards where the line goes on; its new corners are rounded."""
    way = dedupe(np.vstack([stretch[-1:], points, onward]))
    out = [stretch]
    for a, b, c in zip(way[:-2], way[1:-1], way[2:]):
        out.append(_turn(_towards(b, a, fillet), b, _towards(b, c, fillet)) if fillet else b[None])
    return np.vstack(out)


def _arc(row: Row, end: int) -> tuple[FloatArray, int]:
    """Return the stretch of a row from one of its ends to the next, and which that is."""
    at, way = next((at, way) for at, number, way in row.ends if number == end)
    onward = [((other - at) * way % row.total, number) for other, number, _ in row.ends if number != end]
    far, after = min(onward)
    if way > 0:
        return ring_stretch(row.path, at, at + far), after
    return ring_stretch(row.path, at - far, at)[::-1], after


def _joined(pieces: list[FloatArray], fillet: float, *, closed: bool) -> FloatArray:
    if fillet == 0.0:
        return np.vstack(pieces)
    out: list[FloatArray] = []
    count = len(pieces)
    for k, piece in enumerate(pieces):
        first = not closed and k == 0
        last = not closed and k == count - 1
        total = path_length(piece)
        room = min(fillet, total / 2)
        before, after = pieces[k - 1][-1], pieces[(k + 1) % count][0]
        head = (
            np.zeros((0, 2))
            if first
            else _turn(_towards(piece[0], before, fillet), piece[0], point_at(piece, [room])[0])
        )
        tail = (
            np.zeros((0, 2))
            if last
            else _turn(point_at(piece, [total - room])[0], piece[-1], _towards(piece[-1], after, fillet))
        )
        s = arc_lengths(piece)
        keep = ((s > room) | first) & ((s < total - room) | last)
        out += [head, piece[keep], tail]
    return np.vstack(out)


def _towards(start: FloatArray, stop: FloatArray, by: float) -> FloatArray:
    far = float(np.hypot(*(stop - start)))
    return start + (stop - start) * (min(by / far, 0.5) if far > 0 else 0.0)


def _turn(start: FloatArray, corner: FloatArray, stop: FloatArray) -> FloatArray:
    t = np.linspace(0, 1, CURVE)[:, None]
    return np.asarray((1 - t) ** 2 * start + 2 * t * (1 - t) * corner + t**2 * stop)
