"""SVG path data into polylines, one a subpath. The only file that imports fontTools, and only for path data.

Subpaths are split here, so that closing is a flag that was written down and never a comparison of end points.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
from fontTools.svgLib.path import parse_path
from numpy.typing import NDArray

from ..model import FloatArray
from .curves import arc_points, curve_points

__all__ = ["MOST_LETTERS", "PathPieces", "Subpath", "flatten_path_data"]

_LEAST_PX = 1e-9
"""Pieces shorter than this have no length: they are dropped and counted."""

MOST_LETTERS = 4_000_000
"""Letters of one path: some 200,000 points, ten times a feather sampled to a hair."""

_ALPHABET = re.compile(r"[MmZzLlHhVvCcSsQqTtAaEe0-9.,+\-\s]*")
"""All that path data may hold."""

_LONG_NUMBER = re.compile(r"[0-9]{301}")
"""No number needs so many digits, and the searches for numbers are slow on them."""

_DIGITS = r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?"
_NUMBER = re.compile(_DIGITS)
_ODD = re.compile(r"[0-9]\.(?![0-9])|(?<![0-9.])0[0-9]")
"""A number that ends in a point, or begins with 0 and another digit: the parser knows neither."""

_STRETCH = re.compile(r"[MmZzLlHhVvCcSsQqTtAa][^MmZzLlHhVvCcSsQqTtAa]*")
_ARC = re.compile(r"[\s,]*".join(["", *[f"({_DIGITS})"] * 3, "([01])", "([01])", *[f"({_DIGITS})"] * 2]))
"""The two flags of an arc are one digit each, and need nothing between them and what follows."""


@dataclass(frozen=True, slots=True, eq=False)
class Subpath:
    """One subpath: its points ``(n, 2)`` in user units, whether it is closed by Z, how many pieces had no length."""

    points: FloatArray
    closed: bool
    dropped: int


@dataclass(frozen=True, slots=True, eq=False)
class PathPieces:
    """Path data as it was parsed: pieces ``(n, 4, 2)`` as cubic curves, and of each subpath where it begins.

    ``first`` is each subpath's first piece, ``starts`` its start, ``closed`` whether it is closed by Z.
    """

    pieces: FloatArray
    straight: NDArray[np.bool_]
    first: list[int]
    starts: FloatArray
    closed: list[bool]


@dataclass(slots=True, eq=False)
class _Pen:
    """What the parser draws with: every piece is kept as a cubic curve, and which subpath it is of."""

    tolerance: float
    here: tuple[float, float] = (0.0, 0.0)
    numbers: list[float] = field(default_factory=list)
    """Eight a piece: start, two handles, end."""

    straight: list[bool] = field(default_factory=list)
    first: list[int] = field(default_factory=list)
    """Of each subpath: its first piece, its start, whether it is closed."""

    starts: list[tuple[float, float]] = field(default_factory=list)
    closed: list[bool] = field(default_factory=list)
    arcs: int = 0

    def moveTo(self, point: tuple[float, float]) -> None:
        self.here = point
        self.first.append(len(self.straight))
        self.starts.append(point)
        self.closed.append(False)

    def lineTo(self, point: tuple[float, float]) -> None:
        self.numbers += (*self.here, *self.here, *point, *point)
        self.straight.append(True)
        self.here = point

    def curveTo(self, a: tuple[float, float], b: tuple[float, float], end: tuple[float, float]) -> None:
        self.numbers += (*self.here, *a, *b, *end)
        self.straight.append(False)
        self.here = end

    def qCurveTo(self, handle: tuple[float, float], end: tuple[float, float]) -> None:
        two = [tuple(p + (h - p) * 2 / 3 for p, h in zip(at, handle)) for at in (self.here, end)]
        self.curveTo((two[0][0], two[0][1]), (two[1][0], two[1][1]), end)

    def arcTo(
        self, rx: float, ry: float, turned: float, large: bool, clockwise: bool, end: tuple[float, float]
    ) -> None:
        self.arcs += 1
        start, to = np.array(self.here), np.array(end)
        for x, y in arc_points(start, to, (rx, ry), turned, large, clockwise, tolerance=self.tolerance).tolist():
            self.lineTo((x, y))

    def closePath(self) -> None:
        self.closed[-1] = True

    def endPath(self) -> None:
        """Leave the subpath open."""


def flatten_path_data(
    data: str, *, tolerance: float, most_points: int = 1_000_000, parsed: dict[str, PathPieces] | None = None
) -> list[Subpath]:
    """Return the subpaths of path data as polylines that stray from the curves by at most ``tolerance``.

    A subpath without length comes back with one point; the first point of a closed one is not repeated. ``parsed``
    keeps what data was parsed to, for the next time it is flattened, to another tolerance; data with arcs is not kept.

    Raises
    ------
    ValueError
        The data breaks the grammar, a coordinate is not finite, or there are more than ``most_points`` points.
    """
    with np.errstate(over="ignore", invalid="ignore"):  # what is not finite is refused by name
        found = None if parsed is None else parsed.get(data)
        if found is None:
            pen = _drawn(data, tolerance)
            found = PathPieces(
                np.array(pen.numbers, dtype=np.float64).reshape(-1, 4, 2),
                np.array(pen.straight, dtype=bool),
                pen.first,
                np.array(pen.starts, dtype=np.float64).reshape(-1, 2),
                pen.closed,
            )
            if parsed is not None and not pen.arcs:
                parsed[data] = found
        return list(_subpaths(found, tolerance, most_points))


def _drawn(data: str, tolerance: float) -> _Pen:
    pen = _Pen(tolerance)
    plain = _plain(data)
    try:
        parse_path(plain, pen)
    except (ValueError, OverflowError) as error:  # the parser's words hold the whole path
        raise ValueError(f"path data that can't be read near {data.strip()[:40]!r}") from error
    return pen


def _subpaths(path: PathPieces, tolerance: float, most_points: int) -> Iterator[Subpath]:
    pieces, starts = path.pieces, path.starts
    if not np.isfinite(starts).all():
        raise ValueError("a coordinate is not finite")
    points, ends = curve_points(pieces, path.straight, tolerance=tolerance, most_points=most_points)
    # pieces without length are dropped
    counts = np.diff(np.concatenate([[-1], ends]))
    which = np.repeat(np.arange(len(pieces)), counts)
    far = np.zeros(len(pieces))
    np.maximum.at(far, which, np.abs(points - pieces[which, 0]).max(axis=1))
    long = far > _LEAST_PX
    kept = points[long[which]]
    last = np.concatenate([[0], np.cumsum(np.where(long, counts, 0))])
    short = np.concatenate([[0], np.cumsum(~long)])
    bounds = [*path.first, len(pieces)]
    for k, closed in enumerate(path.closed):
        a, b = bounds[k], bounds[k + 1]
        xy = np.vstack([starts[k : k + 1], kept[last[a] : last[b]]])
        if closed and len(xy) > 1 and np.abs(xy[-1] - xy[0]).max() <= _LEAST_PX:
            xy = xy[:-1]
        dropped = int(short[b] - short[a])
        yield Subpath(xy, closed, dropped + (len(xy) < 2 and not dropped))


def _plain(data: str) -> str:
    """Return path data, checked, in the form that the parser knows: no ``1.`` and no ``007`` but in arcs."""
    if len(data) > MOST_LETTERS:
        raise ValueError(f"path data has {len(data):,} letters; must have at most {MOST_LETTERS:,}")
    if _LONG_NUMBER.search(data):
        raise ValueError("path data holds a number of more than 300 digits")
    if not _ALPHABET.fullmatch(data):
        raise ValueError(f"path data holds {_ALPHABET.sub('', data)[:1]!r}; must hold finite numbers and path letters")
    stretches = _STRETCH.findall(data)
    if stretches and data.strip(" ,\t\r\n")[0] not in "Mm":
        raise ValueError("path data must start with a move (M)")
    return "".join(stretch if _is_plain(stretch) else stretch[0] + " ".join(_numbers(stretch)) for stretch in stretches)


def _is_plain(stretch: str) -> bool:
    return stretch[0] not in "Aa" and bool(_NUMBER.search(stretch)) and not _ODD.search(stretch)


def _numbers(stretch: str) -> Iterator[str]:
    if stretch[0] not in "Aa":
        found = _NUMBER.findall(stretch)
        if not found and stretch[0] not in "Zz":
            raise ValueError(f"path data that can't be read near {stretch[:40]!r}")
        yield from (repr(float(n)) for n in found)
        return
    if _ARC.sub("", stretch[1:]).strip(" ,\t\r\n"):
        raise ValueError(f"path data that can't be read near {stretch[:40]!r}")
    for rx, ry, turned, large, clockwise, x, y in _ARC.findall(stretch):
        yield from (repr(float(n)) for n in (rx, ry, turned))
        yield from (large, clockwise, repr(float(x)), repr(float(y)))
