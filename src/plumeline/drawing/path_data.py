"""SVG path data (SVG 2, chapter 9) into polylines, one a subpath.

Subpaths are split here, so that closing is a flag that was written down and never a comparison of end points.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np

from ..model import FloatArray
from .curves import arc_points, curve_points

__all__ = ["MOST_LETTERS", "Subpath", "flatten_path_data"]

_LEAST_PX = 1e-9
"""Pieces shorter than this have no length: they are dropped and counted."""

MOST_LETTERS = 4_000_000
"""Letters of one path: some 200,000 points, ten times a feather sampled to a hair."""

_ALPHABET = re.compile(r"[MmZzLlHhVvCcSsQqTtAaEe0-9.,+\-\s]*")
"""All that path data may hold."""

_LONG_NUMBER = re.compile(r"[0-9]{301}")
"""No number needs so many digits, and the searches for numbers are slow on them."""

_NUMBER = r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?"
_NUMBERS = re.compile(_NUMBER)
_BETWEEN = re.compile(r"[\s,]*")
_COMMAND = re.compile(r"([MmZzLlHhVvCcSsQqTtAa])([^MmZzLlHhVvCcSsQqTtAa]*)")
_ARC = re.compile(
    rf"[\s,]*({_NUMBER})[\s,]*({_NUMBER})[\s,]*({_NUMBER})[\s,]*([01])[\s,]*([01])[\s,]*({_NUMBER})[\s,]*({_NUMBER})"
)
"""The two flags of an arc are one digit each, and need nothing between them and what follows."""

_TAKES = {"M": 2, "L": 2, "H": 1, "V": 1, "C": 6, "S": 4, "Q": 4, "T": 2, "A": 7, "Z": 0}
"""How many numbers each letter takes at a time."""


@dataclass(frozen=True, slots=True, eq=False)
class Subpath:
    """One subpath: its points ``(n, 2)`` in user units, whether it is closed by Z, how many pieces had no length."""

    points: FloatArray
    closed: bool
    dropped: int


@dataclass(slots=True, eq=False)
class _Pen:
    """Where the pen is, and what it has drawn: every piece as a cubic curve, and the subpath that it is of."""

    tolerance: float
    x: float = 0.0
    y: float = 0.0
    start: tuple[float, float] = (0.0, 0.0)
    down: bool = False
    handle: tuple[float, float, str] = (0.0, 0.0, "")
    """The last handle of a curve and its kind: S goes on from that of C and S, T from that of Q and T."""

    numbers: list[float] = field(default_factory=list)
    """Eight a piece: start, two handles, end."""

    straight: list[bool] = field(default_factory=list)
    first: list[int] = field(default_factory=list)
    """Of each subpath: its first piece, its start, whether it is closed."""

    starts: list[tuple[float, float]] = field(default_factory=list)
    closed: list[bool] = field(default_factory=list)

    def put_down(self) -> None:
        self.down, self.start = True, (self.x, self.y)
        self.first.append(len(self.straight))
        self.starts.append(self.start)
        self.closed.append(False)

    def close(self) -> None:
        if self.down:
            self.closed[-1], self.down = True, False
            self.x, self.y = self.start

    def line(self, x: float, y: float) -> None:
        self.numbers += (self.x, self.y, self.x, self.y, x, y, x, y)
        self.straight.append(True)
        self.x, self.y = x, y

    def cubic(self, a: float, b: float, c: float, d: float, x: float, y: float) -> None:
        self.numbers += (self.x, self.y, a, b, c, d, x, y)
        self.straight.append(False)
        self.x, self.y = x, y

    def curve(self, capital: str, xs: Sequence[float], ys: Sequence[float]) -> None:
        kind = "C" if capital in "CS" else "Q"
        if capital in "ST":  # the handle before, mirrored
            goes_on = self.handle[2] == kind
            a, b = (2 * self.x - self.handle[0], 2 * self.y - self.handle[1]) if goes_on else (self.x, self.y)
            xs, ys = [a, *xs], [b, *ys]
        self.handle = (xs[-2], ys[-2], kind)
        if kind == "C":
            self.cubic(xs[0], ys[0], xs[1], ys[1], xs[2], ys[2])
        else:  # the same curve with two handles
            a, b = xs[0], ys[0]
            x, y = xs[1], ys[1]
            self.cubic(
                self.x + (a - self.x) * 2 / 3,
                self.y + (b - self.y) * 2 / 3,
                x + (a - x) * 2 / 3,
                y + (b - y) * 2 / 3,
                x,
                y,
            )

    def arc(self, group: Sequence[float], ox: float, oy: float) -> None:
        start, end = np.array([self.x, self.y]), np.array([group[5] + ox, group[6] + oy])
        turned, large, clockwise = group[2], bool(group[3]), bool(group[4])
        for x, y in arc_points(start, end, group[:2], turned, large, clockwise, tolerance=self.tolerance).tolist():
            self.line(x, y)


def flatten_path_data(data: str, *, tolerance: float, most_points: int = 1_000_000) -> list[Subpath]:
    """Return the subpaths of path data as polylines that stray from the curves by at most ``tolerance``.

    A subpath without length comes back with one point; the first point of a closed one is not repeated.

    Raises
    ------
    ValueError
        The data breaks the grammar, a coordinate is not finite, or there are more than ``most_points`` points.
    """
    pen = _Pen(tolerance)
    with np.errstate(over="ignore", invalid="ignore"):  # what is not finite is refused by name
        for letter, numbers in _commands(data):
            if letter in "Zz":
                pen.close()
            else:
                _draw(pen, letter, [float(n) for n in numbers])
        return list(_subpaths(pen, most_points))


def _draw(pen: _Pen, letter: str, numbers: Sequence[float]) -> None:
    capital, relative = letter.upper(), letter.islower()
    if capital == "M":
        pen.x, pen.y = (pen.x + numbers[0], pen.y + numbers[1]) if relative else (numbers[0], numbers[1])
        pen.put_down()
        numbers, capital = numbers[2:], "L"  # numbers after a move are lines
    elif not pen.down:  # right after Z
        pen.put_down()
    takes = _TAKES[capital]
    if capital not in "CSQT":
        pen.handle = (0.0, 0.0, "")
    for k in range(0, len(numbers), takes):
        group = numbers[k : k + takes]
        ox, oy = (pen.x, pen.y) if relative else (0.0, 0.0)
        if capital == "L":
            pen.line(group[0] + ox, group[1] + oy)
        elif capital == "H":
            pen.line(group[0] + ox, pen.y)
        elif capital == "V":
            pen.line(pen.x, group[0] + oy)
        elif capital == "A":
            pen.arc(group, ox, oy)
        else:
            pen.curve(capital, [v + ox for v in group[::2]], [v + oy for v in group[1::2]])


def _subpaths(pen: _Pen, most_points: int) -> Iterator[Subpath]:
    pieces = np.array(pen.numbers, dtype=np.float64).reshape(-1, 4, 2)
    straight = np.array(pen.straight, dtype=bool)
    starts = np.array(pen.starts, dtype=np.float64).reshape(-1, 2)
    if not np.isfinite(starts).all():
        raise ValueError("a coordinate is not finite")
    points, ends = curve_points(pieces, straight, tolerance=pen.tolerance, most_points=most_points)
    # pieces without length are dropped
    counts = np.diff(np.concatenate([[-1], ends]))
    which = np.repeat(np.arange(len(pieces)), counts)
    far = np.zeros(len(pieces))
    np.maximum.at(far, which, np.abs(points - pieces[which, 0]).max(axis=1))
    long = far > _LEAST_PX
    kept = points[long[which]]
    last = np.concatenate([[0], np.cumsum(np.where(long, counts, 0))])
    short = np.concatenate([[0], np.cumsum(~long)])
    bounds = [*pen.first, len(pieces)]
    for k, closed in enumerate(pen.closed):
        a, b = bounds[k], bounds[k + 1]
        xy = np.vstack([starts[k : k + 1], kept[last[a] : last[b]]])
        if closed and len(xy) > 1 and np.abs(xy[-1] - xy[0]).max() <= _LEAST_PX:
            xy = xy[:-1]
        dropped = int(short[b] - short[a])
        yield Subpath(xy, closed, dropped + (len(xy) < 2 and not dropped))


def _commands(data: str) -> Iterator[tuple[str, list[str]]]:
    """Yield each letter with its numbers, as they are written."""
    if len(data) > MOST_LETTERS:
        raise ValueError(f"path data has {len(data):,} letters; must have at most {MOST_LETTERS:,}")
    if _LONG_NUMBER.search(data):
        raise ValueError("path data holds a number of more than 300 digits")
    if not _ALPHABET.fullmatch(data):
        raise ValueError(f"path data holds {_ALPHABET.sub('', data)[:1]!r}; must hold finite numbers and path letters")
    data = data.strip(" ,\t\r\n")
    if data and data[0] not in "Mm":
        raise ValueError("path data must start with a move (M)")
    for match in _COMMAND.finditer(data):
        yield match[1], _numbers(match[1], match[2])


def _numbers(letter: str, text: str) -> list[str]:
    """Return the numbers after one letter, as they are written."""
    takes = _TAKES[letter.upper()]
    if takes == 7:
        found = [value for m in _ARC.finditer(text) for value in m.groups()]
        rest = _ARC.sub("", text)
    else:
        found, rest = _NUMBERS.findall(text), _NUMBERS.sub("", text)
    if takes == 0:
        found, rest = [], text
    elif not found or len(found) % takes:
        if letter in "Mm" and len(found) < takes:
            raise ValueError(f"a move needs two numbers: {(letter + text)[:40]!r}")
        rest = "?"
    if not _BETWEEN.fullmatch(rest):
        raise ValueError(f"path data that can't be read near {(letter + text)[:40]!r}")
    return found
