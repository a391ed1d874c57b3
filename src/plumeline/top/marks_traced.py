"""Marks of one colour traced as lines: straight on at crossings, rings closed, dots joined to dotted lines.

Marks are thinned to their middle lines. Where three or more of those meet, the two that run on most straightly are one
line, then the next two; what is left over ends there as a branch. Free ends are joined over gaps: a solid line where
another marker crosses it, dots and dashes to the next ones, nearest first, never more than two to a dot.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import binary_dilation, center_of_mass, convolve, distance_transform_edt, label
from scipy.spatial import cKDTree

from ..drawing.thinning import thinned
from ..model import FloatArray

__all__ = ["Traced", "traced_marks"]

Mask = NDArray[np.bool_]

DASH_MM = 15.0
"""A mark that is longer is a line; a shorter one a dot or a dash."""

GAP_MM, SKIP_MM, CROSSED_MM = 14.0, 22.0, 7.0
"""Dots no further apart are one line; where a dot lies under another line, its neighbours; ends of a solid line."""

WIDTHS = 4.5
"""Crossings of lines leave two meetings of three no further apart than so many widths of the marker."""

LOOK_MM = 7.0
"""Over so much of its end it is judged which way a line runs."""

RUNS_ON = math.cos(math.radians(55))
"""Lines that turn by more are not one line that runs on."""

MEETS = math.sin(math.radians(15))
"""A branch that leaves its line at less than this runs into it where its ink does."""

DOT = 0.3
"""A mark that is shorter than this share of the end that is looked at runs no way: a dot."""

LEAST_RING = 5
"""Dots of the smallest ring."""

BRANCH_WIDTHS = 2.5
"""A branch that is shorter than so many widths is a blot on the side of a line."""


@dataclass(frozen=True, slots=True, eq=False)
class Traced:
    """A line: points ``(n, 2)`` in pixels, x and y; if it closes; the share of it that is inked; if it branches off."""

    path: FloatArray
    closed: bool
    inked: float
    branch: bool


@dataclass(slots=True, eq=False)
class _Piece:
    """A piece of line while it grows: its points, whether it has closed, marks it was made of, ends at a meeting."""

    path: FloatArray
    closed: bool = False
    inked: float = 0.0
    parts: int = 1
    met: tuple[int, int] = (-1, -1)
    branch: bool = False

    @property
    def length(self) -> float:
        return float(np.hypot(*np.diff(self.path, axis=0).T).sum())

    def end(self, k: int) -> FloatArray:
        """Return the first (0) or last (1) point."""
        last: FloatArray = self.path[-1 if k else 0]
        return last

    def way(self, k: int, look: float) -> FloatArray | None:
        """Return the unit vector in which it runs out of an end; None of a dot."""
        path = self.path[::-1] if k else self.path
        far = np.hypot(*(path - path[0]).T)
        beyond = np.flatnonzero(far >= look)
        other = path[beyond[0]] if len(beyond) else path[-1]
        step = path[0] - other
        long = float(np.hypot(*step))
        return step / long if long > DOT * look else None


def traced_marks(marks: Mask, px_a_mm: float) -> list[Traced]:
    """Return the lines that marks of one colour make, from the top down; none for no marks.

    Parameters
    ----------
    marks : (rows, cols) bool array
    px_a_mm : float
        Pixels a millimetre.
    """
    if not marks.any():
        return []
    thin = thinned(marks)
    width = 2 * float(np.median(distance_transform_edt(marks)[thin]))
    pieces = _through(*_pieces(thin), width, LOOK_MM * px_a_mm)
    for piece in pieces:
        piece.inked = piece.length
    dashes = [p for p in pieces if not p.closed and not p.branch and p.length < DASH_MM * px_a_mm]
    lines = [p for p in pieces if not any(p is d for d in dashes)]
    look = LOOK_MM * px_a_mm
    lines = _joined(lines, CROSSED_MM * px_a_mm, look, math.cos(math.radians(30)))
    dotted = _joined(dashes, GAP_MM * px_a_mm, 2.5 * look, math.cos(math.radians(70)))
    dotted = _joined(dotted, SKIP_MM * px_a_mm, 2.5 * look, math.cos(math.radians(35)), least=3)
    found = [*lines, *dotted]
    found.sort(key=lambda p: tuple(p.path.min(axis=0)[::-1].tolist()))
    return [
        Traced(p.path, p.closed, (p.inked + width * p.parts) / max(p.length + width, 1e-9), p.branch) for p in found
    ]


def _pieces(thin: Mask) -> tuple[list[_Piece], FloatArray]:
    """Return the stretches of middle lines between their meetings, and where those lie by number, from 1.

    ``met`` of a stretch numbers the meetings at its ends.
    """
    neighbours = convolve(thin.astype(np.int32), np.ones((3, 3), dtype=np.int32), mode="constant") - 1
    meetings = binary_dilation(thin & (neighbours >= 3), np.ones((3, 3), dtype=np.bool_)) & thin
    labelled, many = label(meetings, np.ones((3, 3)))
    places = np.asarray(labelled, dtype=np.int32)
    centres = np.array(center_of_mass(meetings, places, np.arange(1, many + 1)), dtype=np.float64).reshape(-1, 2)
    numbered, count = label(thin & ~meetings, np.ones((3, 3)))
    at = np.argwhere(numbered > 0)
    order = np.argsort(numbered[tuple(at.T)], kind="stable")
    bounds = np.searchsorted(numbered[tuple(at[order].T)], np.arange(1, count + 2))
    out = []
    for first, last in itertools.pairwise(bounds.tolist()):
        pixels, closed = _in_order(at[order[first:last]])
        met = [_meeting(places, pixel) for pixel in (pixels[0], pixels[-1])]
        if len(pixels) == 1 and met[0] >= 0:
            met = _meetings(places, pixels[0])
        path = pixels[:, ::-1].astype(np.float64)
        ring = closed and max(met) < 0
        out.append(_Piece(np.vstack([path, path[:1]]) if ring else path, ring, met=(met[0], met[1])))
    return out, centres[:, ::-1]


def _meetings(places: NDArray[np.int32], pixel: NDArray[np.int64]) -> list[int]:
    y, x = pixel
    near = np.unique(places[max(0, y - 1) : y + 2, max(0, x - 1) : x + 2])
    out = [int(n) for n in near if n][:2]
    return [*out, -1, -1][:2]


def _meeting(places: NDArray[np.int32], pixel: NDArray[np.int64]) -> int:
    return _meetings(places, pixel)[0]


def _in_order(pixels: NDArray[np.int64]) -> tuple[NDArray[np.int64], bool]:
    """Return the pixels of a line from end to end, and whether it is a ring."""
    if len(pixels) < 3:
        return pixels, False
    tree = cKDTree(pixels)
    near = tree.query_ball_tree(tree, 1.5)
    ends = [k for k, some in enumerate(near) if len(some) <= 2]
    start = ends[0] if ends else 0
    way, taken = [start], {start}
    while True:
        here = pixels[way[-1]]
        free = [k for k in near[way[-1]] if k not in taken]
        if not free:
            break
        step = min(free, key=lambda k: (int(np.abs(pixels[k] - here).sum()), k))  # side by side before corner to corner
        way.append(step)
        taken.add(step)
    closed = not ends and len(way) > 8 and int(np.abs(pixels[way[-1]] - pixels[start]).max()) <= 2
    return pixels[way], closed


def _through(every: list[_Piece], centres: FloatArray, width: float, look: float) -> list[_Piece]:
    """Return pieces joined straight on where they meet; blots on the side of a line are left out."""
    loose = [p for p in every if max(p.met) < 0]
    every = [p for p in every if max(p.met) >= 0]
    every = [p for p in every if not (min(p.met) < 0 and p.length < BRANCH_WIDTHS * width / 2)]
    same = _one_meeting(
        [p.met for p in every if min(p.met) >= 0 and p.length < WIDTHS * width and p.met[0] != p.met[1]]
    )
    kept, first = [], []
    for p in every:
        met = tuple(same.get(m, m) for m in p.met)
        if met[0] == met[1] >= 0 and p.length < WIDTHS * width:
            continue
        kept.append(_Piece(p.path, met=(met[0], met[1])))
        first.append(p.met)
    ends: dict[int, list[tuple[int, int]]] = {}
    for k, p in enumerate(kept):
        for e in (0, 1):
            if p.met[e] >= 0:
                ends.setdefault(p.met[e], []).append((k, e))
    links: dict[tuple[int, int], tuple[int, int]] = {}
    for some in ends.values():
        links |= _straight_on(kept, some, look)
    for some in ends.values():
        trunks = [end for end in some if end in links]
        for k, e in (end for end in some if end not in links):
            kept[k].path = _to_its_line(kept, (k, e), centres[first[k][e] - 1], trunks, width, look)
    out = _chained(kept, links)
    blots = BRANCH_WIDTHS * width
    return loose + [p for p in out if p.closed or p.length >= blots or not p.branch]


def _to_its_line(
    pieces: Sequence[_Piece],
    end: tuple[int, int],
    there: FloatArray,
    trunks: Sequence[tuple[int, int]],
    width: float,
    look: float,
) -> FloatArray:
    """Return the path of a branch up to the line that it leaves; straight where the two inks run together."""
    k, e = end
    path = pieces[k].path if e else pieces[k].path[::-1]
    clear = path[np.hypot(*(path - there).T) > 1.5 * width]
    if len(clear) > 2:
        way = _Piece(clear).way(1, look)
        trunk = pieces[trunks[0][0]].way(trunks[0][1], look) if trunks else None
        path = clear
        if way is not None and trunk is not None and abs(float(np.linalg.det([way, trunk]))) > MEETS:
            along = float(np.linalg.solve(np.column_stack([way, -trunk]), there - clear[-1])[0])
            if 0 < along < 5 * width:
                there = clear[-1] + along * way
    path = np.vstack([path, there])
    return path if e else path[::-1]


def _one_meeting(short: Sequence[tuple[int, int]]) -> dict[int, int]:
    """Return for each meeting the one that stands for all that short pieces join."""
    stands: dict[int, int] = {}

    def of(m: int) -> int:
        while stands.get(m, m) != m:
            m = stands[m]
        return m

    for a, b in short:
        stands[of(a)] = of(b)
    return {m: of(m) for m in {*stands, *stands.values()}}


def _straight_on(
    pieces: Sequence[_Piece], ends: Sequence[tuple[int, int]], look: float
) -> dict[tuple[int, int], tuple[int, int]]:
    """Return the ends at one meeting that run on into each other, both ways, the straightest first."""
    ways = [pieces[k].way(e, look) for k, e in ends]
    pairs = []
    for i in range(len(ends)):
        for j in range(i):
            a, b = ways[i], ways[j]
            if a is not None and b is not None and -float(a @ b) >= RUNS_ON:
                pairs.append((-float(a @ b), i, j))
    links: dict[tuple[int, int], tuple[int, int]] = {}
    for _, i, j in sorted(pairs, reverse=True):
        if ends[i] not in links and ends[j] not in links:
            links[ends[i]], links[ends[j]] = ends[j], ends[i]
    return links


def _chained(pieces: Sequence[_Piece], links: dict[tuple[int, int], tuple[int, int]]) -> list[_Piece]:
    """Return pieces put together at their linked ends; an end of (k, 0) is its first point, (k, 1) its last."""
    left, out = set(range(len(pieces))), []
    # from free ends first, what is left over are rings
    starts = [(k, e) for k in range(len(pieces)) for e in (0, 1) if (k, e) not in links]
    for k, e in [*starts, *((k, 0) for k in range(len(pieces)))]:
        if k not in left:
            continue
        paths, at, inked, parts = [], (k, e), 0.0, 0
        free = at not in links
        started = pieces[k].met[e]
        while True:
            k, e = at
            left.discard(k)
            paths.append(pieces[k].path if e == 0 else pieces[k].path[::-1])
            inked, parts = inked + pieces[k].inked, parts + pieces[k].parts
            other = (k, 1 - e)
            if other not in links or links[other][0] not in left:
                break
            at = links[other]
        closed = not free and (other in links)
        path = np.vstack(paths)
        met = (started if free else -1, -1 if other in links else pieces[other[0]].met[other[1]])
        lone = pieces[k].closed if len(paths) == 1 else False
        path = np.vstack([path, path[:1]]) if closed and not lone else path
        branch = max(met) >= 0 or any(pieces[n].branch for n in (k,))
        out.append(_Piece(path, closed or lone, inked, parts, met, branch))
    return out


def _joined(pieces: Sequence[_Piece], gap: float, look: float, straight: float, *, least: int = 1) -> list[_Piece]:
    """Return pieces whose free ends lie near each other and run on, nearest first, as one; of ``least`` marks each."""
    pieces = list(pieces)
    spots = [(k, e) for k, p in enumerate(pieces) if not p.closed for e in (0, 1) if p.met[e] < 0]
    if len(spots) < 2:
        return pieces
    at = np.array([pieces[k].end(e) for k, e in spots])
    pairs = cKDTree(at).query_pairs(gap, output_type="ndarray")
    long = np.hypot(*(at[pairs[:, 0]] - at[pairs[:, 1]]).T)
    links: dict[tuple[int, int], tuple[int, int]] = {}
    stands = list(range(len(pieces)))

    def of(m: int) -> int:
        while stands[m] != m:
            m = stands[m]
        return m

    sizes = [p.parts for p in pieces]
    for n in np.argsort(long, kind="stable").tolist():
        one, two = (spots[i] for i in pairs[n])
        if one in links or two in links or (one[0] == two[0] and pieces[one[0]].length < 4 * gap):
            continue
        a, b = of(one[0]), of(two[0])
        if (
            pieces[one[0]].parts < least
            or pieces[two[0]].parts < least
            or (one[0] != two[0] and a == b and sizes[a] < LEAST_RING)
        ):
            continue
        if not _runs_on(pieces, links, one, two, look, straight):
            continue
        links[one], links[two] = two, one
        if a != b:
            stands[a] = b
            sizes[b] += sizes[a]
    return _chained(pieces, links)


def _runs_on(
    pieces: Sequence[_Piece],
    links: dict[tuple[int, int], tuple[int, int]],
    one: tuple[int, int],
    two: tuple[int, int],
    look: float,
    straight: float,
) -> bool:
    """Return whether a link between two ends runs on from what lies beyond each of them."""
    a, b = pieces[one[0]].end(one[1]), pieces[two[0]].end(two[1])
    step = b - a
    long = float(np.hypot(*step))
    if long < 1e-9:
        return True
    step = step / long
    for (k, e), towards in ((one, step), (two, -step)):
        way = pieces[k].way(e, look)
        beyond = links.get((k, 1 - e))
        if way is None and beyond is not None:  # a dot: from where it was linked to
            back = pieces[k].end(e) - pieces[beyond[0]].end(beyond[1])
            way = back / max(float(np.hypot(*back)), 1e-9)
        if way is not None and float(way @ towards) < straight:
            return False
    return True
