"""A top as the tape says: its planned shapes moved by one smooth map that is exact at what was measured.

Every measure is an equation between points of the plan: a side or diagonal is a distance, a bow the height of a side's
middle over its chord. Of all smooth maps that satisfy them the one that moves the top least is taken (a Matern
kernel, solved by Gauss-Newton steps with one unknown a measure): first over the whole top for what is long, borders
and edges, then round each measured piece for what is short, so that one block out of true does not stretch the quilt.
Everything is moved by the same map: seams stay together.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from ..codes import FindingCode
from ..drawing import Shape
from ..errors import TopError, nearest
from ..geometry import arc_lengths, corners_from_upper_left, densify, point_at, rings, simplify_path
from ..model import Finding, FloatArray, Path, Severity, Top, as_path
from ..specs import LETTERS
from ..units import Unit, format_length
from .assemble import assemble
from .made_guides import BlockPlace

__all__ = ["Measured", "as_measured"]

EDGES = ("top", "right", "bottom", "left")

NOTICED_MM, REFUSED_MM = 25.4 / 16, 25.4 / 4
"""A tape is read to the first; measures that miss each other by more than the second can't all be right."""

SHARE_OFF = 0.2
"""Nothing is pieced a fifth off its planned size: a slip of the tape or of the name."""

EXACT_MM, YIELDING_MM = 1e-3, 0.5
"""How nearly a measure is met where it can be; how far a side that nothing was said of may give way."""

LONG_SHARE = 0.4
"""What is longer than this share of the top belongs to the whole top, and is spread over it."""

ROUND_SHARE = 0.6
"""How far round a measured piece the top is moved, as a share of its side: from its corner to the middle of a side."""

STEPS = 25
"""Gauss-Newton steps at most; measures near the plan need three or four."""

STEP_MM, STRAY_MM = 9.0, 0.01
"""Between points of an outline that are moved, and what may be left out of it again."""

SAME_MM = 0.1
"""Corners that the map leaves this near are the same."""


@dataclass(frozen=True, slots=True, eq=False)
class Measured:
    """What the tape says of one piece; lengths in mm.

    Attributes
    ----------
    patch, block : str or None
        The piece; neither: the whole top.
    sides_mm, bows_mm : mapping of int to float
        By the place of the side, from 0, clockwise from the upper left corner; a bow is the height of the side's
        middle over its chord, above 0 when it bows out.
    diagonals_mm : mapping of int to float
        0: from the first corner to the third; 1: from the second to the fourth.
    edges_mm : mapping of str to sequence of float
        Of the whole top: lengths along ``top``, ``right``, ``bottom``, ``left`` from seam to seam, left to right or
        from the top down; one length is the whole edge.
    """

    patch: str | None = None
    block: str | None = None
    sides_mm: Mapping[int, float] = field(default_factory=dict)
    diagonals_mm: Mapping[int, float] = field(default_factory=dict)
    bows_mm: Mapping[int, float] = field(default_factory=dict)
    edges_mm: Mapping[str, Sequence[float]] = field(default_factory=dict)

    @property
    def name(self) -> str:
        """What it is called."""
        return self.patch or self.block or "the top"


@dataclass(frozen=True, slots=True, eq=False)
class _Row:
    """One equation: the distance of two points, or with ``middle`` the height of a point over the chord of the two."""

    ends: tuple[FloatArray, FloatArray]
    value: float
    said: str
    key: str
    middle: FloatArray | None = None
    firm: bool = True

    @property
    def planned(self) -> float:
        a, b = self.ends
        return float(np.hypot(*(b - a))) if self.middle is None else _height(a, b, self.middle)

    @property
    def span(self) -> float:
        a, b = self.ends
        return float(np.hypot(*(b - a)))


def _height(a: FloatArray, b: FloatArray, p: FloatArray) -> float:
    # outward of a side that runs clockwise as seen (y down): to the left of its way
    way = (b - a) / np.hypot(*(b - a))
    return float((p[0] - a[0]) * way[1] - (p[1] - a[1]) * way[0])


def as_measured(
    top: Top,
    measured: Sequence[Measured],
    blocks: Sequence[BlockPlace] = (),
    *,
    pressed_open: bool = False,
    unit: Unit = "in",
) -> Top:
    """Return a top moved so that what was measured is as the tape says; the same top when nothing was.

    Parameters
    ----------
    top : Top
        As planned.
    measured : sequence of Measured
        What the tape says of its pieces.
    blocks : sequence of BlockPlace
        Where the blocks of a table lie, whose names may be measured.
    pressed_open : bool
        Whether seams are pressed open.
    unit : {"in", "mm", "cm"}
        The unit of lengths in the words.

    Returns
    -------
    Top
        With the same names; seams and findings anew.

    Raises
    ------
    TopError
        A piece is not there, has other sides, a measure is far from the plan, or they can't all be right; the key
        names the measure.
    """
    if not measured:
        return top
    rows = [row for k, one in enumerate(measured, 1) for row in _rows(top, one, blocks, f"measured.{k}")]
    for row in rows:
        if row.firm and row.middle is None and abs(row.value - row.planned) > SHARE_OFF * row.planned:
            raise TopError(
                f"{row.said} is {format_length(row.value, unit)}, but {format_length(row.planned, unit)} in the plan; "
                f"must be within {100 * SHARE_OFF:g} % of it",
                key=row.key,
                what_to_do="Measure it again, or set the plan's size right.",
            )
    size = max(top.size)
    smooth = _Smooth(rows)
    long = [row.span > LONG_SHARE * size for row in rows]
    if any(long):
        smooth.fit(0.5 * size, long)
    short = [row.span for row, is_long in zip(rows, long, strict=True) if row.firm and not is_long]
    if short:
        smooth.fit(ROUND_SHARE * float(np.median(short)), [True] * len(rows))
    finding = _misfit(rows, smooth.misfits(), unit)
    moved = _moved(top, smooth, pressed_open)
    most = max(float(np.hypot(*smooth(ring).T).max()) for p in top.patches for ring in rings(p.outline))
    note = Finding(
        FindingCode.TOP_AS_MEASURED,
        "note",
        None,
        f"{sum(r.firm for r in rows)} measures move the planned top by up to {format_length(most, unit)}",
        "Nothing, if that is what you measured.",
    )
    return replace(moved, findings=(*top.findings, note, *finding), photo=top.photo)


def _misfit(rows: Sequence[_Row], off: FloatArray, unit: Unit) -> tuple[Finding, ...]:
    firm = [k for k, row in enumerate(rows) if row.firm]
    worst = max(firm, key=lambda k: abs(float(off[k])))
    row, by = rows[worst], abs(float(off[worst]))
    said = f"the nearest shape misses {row.said} by {format_length(by, unit, per_inch=64)}"
    if by > REFUSED_MM:
        raise TopError(
            f"the measures don't close: {said}; must be within {format_length(REFUSED_MM, unit)}",
            key=row.key,
            what_to_do="Measure it and what lies beside it again.",
        )
    if by <= NOTICED_MM / 8:
        return ()
    severity: Severity = "warning" if by > NOTICED_MM else "note"
    return (
        Finding(
            FindingCode.MEASURES_MISFIT,
            severity,
            None,
            said,
            "Measure it again if that is more than the tape can be read to.",
        ),
    )


def _moved(top: Top, smooth: _Smooth, pressed_open: bool) -> Top:
    def placed(path: FloatArray, *, closed: bool) -> Path:
        fine = densify(path, STEP_MM, closed=closed)
        return simplify_path(as_path(fine + smooth(fine)), STRAY_MM, closed=closed)

    shapes = [
        Shape(p.name, placed(shell, closed=True), tuple(placed(h, closed=True) for h in holes), p.colour)
        for p in top.patches
        for shell, *holes in [rings(p.outline)]
    ]
    guides = {name: placed(path, closed=False) for name, path in top.guides.items()}
    return assemble(shapes, (), guides, close_gaps_mm=SAME_MM, may_travel=not pressed_open)


class _Smooth:
    """The map: the sum of one displacement over the whole top and one round the measured pieces."""

    def __init__(self, rows: Sequence[_Row]) -> None:
        self.rows = rows
        points = [p for row in rows for p in (*row.ends, *([] if row.middle is None else [row.middle]))]
        unique, inverse = np.unique(np.round(np.array(points, dtype=np.float64), 6), axis=0, return_inverse=True)
        self.points: FloatArray = np.asarray(unique, dtype=np.float64)
        taken = iter(inverse.ravel().tolist())
        self.places = [(next(taken), next(taken), None if row.middle is None else next(taken)) for row in rows]
        self.shift: FloatArray = np.zeros((len(unique), 2))
        self.parts: list[tuple[float, FloatArray]] = []

    def __call__(self, path: FloatArray) -> FloatArray:
        """Return how far each point of a path is moved, ``(n, 2)``."""
        out: FloatArray = np.zeros((len(path), 2), dtype=np.float64)
        for scale, weights in self.parts:
            out = out + _kernel(np.asarray(path), self.points, scale) @ weights
        return out

    def misfits(self) -> FloatArray:
        """Return by how much each measure is missed."""
        off: FloatArray = self._values(self.points + self.shift)[0] - np.array([row.value for row in self.rows])
        return off

    def _values(self, at: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return the value of each row and its derivatives by the points, ``(rows, 2 points)``."""
        value, by = np.zeros(len(self.rows)), np.zeros((len(self.rows), len(at), 2))
        for k, (i, j, m) in enumerate(self.places):
            chord = at[j] - at[i]
            length = float(np.hypot(*chord))
            way = chord / length
            if m is None:
                value[k] = length
                by[k, i], by[k, j] = -way, way
                continue
            away = at[m] - at[i]
            value[k] = away[0] * way[1] - away[1] * way[0]
            out, along = np.array([way[1], -way[0]]), float(away @ way) / length
            by[k, m] = out
            by[k, j] -= along * out
            by[k, i] -= (1 - along) * out
        return value, by.reshape(len(self.rows), -1)

    def fit(self, scale: float, use: Sequence[bool]) -> None:
        """Add the least smooth displacement of a scale that satisfies some of the rows."""
        kept = np.flatnonzero(use)
        wanted = np.array([row.value for row in self.rows])[kept]
        slack = np.array([EXACT_MM if row.firm else YIELDING_MM for row in self.rows])[kept] ** 2
        one = _kernel(self.points, self.points, scale)
        kernel: FloatArray = np.zeros((2 * len(one), 2 * len(one)))
        kernel[::2, ::2] = kernel[1::2, 1::2] = one
        before: FloatArray = self.shift.ravel()
        shift: FloatArray = before.copy()
        weights: FloatArray = np.zeros(len(before))
        for _ in range(STEPS):
            value, by = self._values(self.points + shift.reshape(-1, 2))
            by = by[kept]
            rest = wanted - value[kept] + by @ (shift - before)
            weights = by.T @ np.linalg.solve(by @ kernel @ by.T + np.diag(slack), rest)
            new = before + kernel @ weights
            done = float(np.abs(new - shift).max()) < 1e-7
            shift = new
            if done:
                break
        self.shift = shift.reshape(-1, 2)
        self.parts.append((scale, weights.reshape(-1, 2)))


def _kernel(a: FloatArray, b: FloatArray, scale: float) -> FloatArray:
    # smooth once (Matern 3/2): smoother ones carry a whole block off rather than bow one side of it
    apart = np.sqrt(3 * ((a[:, None] - b[None]) ** 2).sum(axis=2)) / scale
    out: FloatArray = (1 + apart) * np.exp(-apart)
    return out


def _rows(top: Top, one: Measured, blocks: Sequence[BlockPlace], key: str) -> Iterator[_Row]:
    ring = _outline(top, one, blocks, key)
    corners = corners_from_upper_left(ring)
    count = len(corners)
    if one.edges_mm and (one.patch or one.block):
        raise TopError(f"has lengths along the {next(iter(one.edges_mm))}, which only the whole top has", key=key)
    for said, given in (("sides", one.sides_mm), ("bows", one.bows_mm)):
        if given and max(given) >= count:
            raise TopError(
                f"{said} name {LETTERS[max(given)]}; {one.name} has {count} sides", key=f"{key}.{said}",
                what_to_do="'plumeline paper --kind measure' draws them with their letters.",
            )  # fmt: skip
    if one.diagonals_mm and count != 4:
        raise TopError(f"are given; {one.name} has {count} corners, diagonals need 4", key=f"{key}.diagonals")
    for k in range(count):
        a, b = corners[k], corners[(k + 1) % count]
        letter = f"side {LETTERS[k]} of {one.name}"
        if k in one.sides_mm:
            yield _Row((a, b), one.sides_mm[k], letter, f"{key}.sides")
        quarter, middle, last = _along(ring, a, b)
        planned = _height(a, b, middle)
        if k in one.bows_mm:
            bow = one.bows_mm[k]
            yield _Row((a, b), bow, f"the bow of {letter}", f"{key}.bows", middle)
            for at in (quarter, last):  # an arc is three quarters as high at its quarters
                yield _Row((a, b), _height(a, b, at) + 0.75 * (bow - planned), letter, key, at, firm=False)
        elif k in one.sides_mm:
            yield _Row((a, b), planned, letter, key, middle, firm=False)
    for k, value in sorted(one.diagonals_mm.items()):
        yield _Row((corners[k], corners[k + 2]), value, f"diagonal {k + 1} of {one.name}", f"{key}.diagonals")
    if count == 4 and one.sides_mm and not one.diagonals_mm:  # the corners stay as square as the plan has them
        grown = float(np.mean([v / math.dist(corners[k], corners[(k + 1) % 4]) for k, v in one.sides_mm.items()]))
        for a, b in ((corners[0], corners[2]), (corners[1], corners[3])):
            yield _Row((a, b), grown * math.dist(a, b), f"a diagonal of {one.name}", key, firm=False)
    for edge, lengths in one.edges_mm.items():
        yield from _edge_rows(top, edge, lengths, f"{key}.{edge}")


def _along(ring: FloatArray, a: FloatArray, b: FloatArray) -> FloatArray:
    """Return the quarters of a side along the outline, clockwise from a to b, ``(3, 2)``."""
    start, end = (int(np.argmin(((ring - p) ** 2).sum(axis=1))) for p in (a, b))
    side = ring[np.arange(start, end + 1 + (len(ring) if end <= start else 0)) % len(ring)]
    return point_at(side, arc_lengths(side)[-1] * np.array([0.25, 0.5, 0.75]))


def _outline(top: Top, one: Measured, blocks: Sequence[BlockPlace], key: str) -> FloatArray:
    """Return the outline of the piece, clockwise as seen."""
    known: dict[str, FloatArray]
    if one.patch is not None:
        known = {p.name: rings(p.outline)[0] for p in top.patches}
        what, name = "patch", one.patch
    elif one.block is not None:
        known = {b.name: rings(b.outline)[0] for b in blocks}
        what, name = "block", one.block
    else:
        width, height = top.size
        return np.array([(0.0, 0.0), (width, 0.0), (width, height), (0.0, height)])
    if name not in known:
        near = nearest(name, known)
        way_out = f"Did you mean '{near}'?" if near else "'plumeline map' draws their names."
        raise TopError(f"'{name}' is the name of no {what}", key=f"{key}.{what}", what_to_do=way_out)
    ring = np.asarray(known[name])
    x, y = ring.T
    clockwise = float((x * np.roll(y, -1) - y * np.roll(x, -1)).sum()) > 0
    return ring if clockwise else ring[::-1]


def _edge_rows(top: Top, edge: str, lengths: Sequence[float], key: str) -> Iterator[_Row]:
    """Give the lengths along an edge of the top, from seam to seam."""
    width, height = top.size
    upright = edge in ("left", "right")
    at, long = {"left": 0.0, "top": 0.0, "right": width, "bottom": height}[edge], height if upright else width
    ends = np.array([p for s in top.seams if s.b is not None for p in (s.path[0], s.path[-1])]).reshape(-1, 2)
    on = ends[np.abs(ends[:, 0 if upright else 1] - at) < SAME_MM][:, 1 if upright else 0]
    stops = [0.0, *np.unique(np.round(on[(on > SAME_MM) & (on < long - SAME_MM)], 3)).tolist(), long]
    if len(lengths) == 1:
        stops = [0.0, long]
    if len(lengths) != len(stops) - 1:
        raise TopError(
            f"holds {len(lengths)} lengths; {len(stops) - 1} patches lie along the {edge}, so it must hold as many, "
            "or one",
            key=key,
        )
    points = np.array([(at, v) if upright else (v, at) for v in stops])
    for k, value in enumerate(lengths):
        said = f"the {edge} edge" if len(lengths) == 1 else f"length {k + 1} along the {edge} edge"
        yield _Row((points[k], points[k + 1]), value, said, key)
