"""SVG path data into polylines, one a subpath. The only file that imports svgpathtools, and only for path data.

Subpaths are split here, so that closing is a flag that was written down and never a comparison of end points.
"""

from __future__ import annotations

import importlib
import math
import re
import warnings
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

from ..model import FloatArray

__all__ = ["Subpath", "flatten_path_data"]

_LEAST_PX = 1e-9
"""Pieces shorter than this have no length: they are dropped and counted."""

_ALPHABET = re.compile(r"[MmZzLlHhVvCcSsQqTtAaEe0-9.,+\-\s]*")
"""All that path data may hold; the parser would pass over the rest without a word."""

_LONG_NUMBER = re.compile(r"[0-9]{301}")
"""No number needs so many digits, and the searches for numbers are slow on them."""

MOST_LETTERS = 4_000_000
"""Letters of one path: some 200,000 points, ten times a feather sampled to a hair."""

_CHUNK = re.compile(r"[Mm][^MmZz]*|[Zz]|[^MmZz]+")


@dataclass(frozen=True, slots=True, eq=False)
class Subpath:
    """One subpath: its points ``(n, 2)`` in user units, whether it is closed by Z, how many pieces had no length."""

    points: FloatArray
    closed: bool
    dropped: int


def flatten_path_data(data: str, *, tolerance: float, most_points: int = 1_000_000) -> list[Subpath]:
    """Return the subpaths of path data as polylines that stray from the curves by at most ``tolerance``.

    A subpath without length comes back with one point; the first point of a closed one is not repeated.

    Raises
    ------
    ValueError
        The data breaks the grammar, a coordinate is not finite, or there are more than ``most_points`` points.
    """
    with np.errstate(over="ignore", invalid="ignore"):  # what is not finite is refused by name
        out: list[Subpath] = []
        for segments, start, closed in _subpaths(data):
            out.append(_flat_subpath(segments, start, closed, tolerance, most_points))
            most_points -= len(out[-1].points)
        return out


def _flat_subpath(segments: list[Any], start: complex, closed: bool, tolerance: float, most_points: int) -> Subpath:
    points = [np.array([[start.real, start.imag]])]
    dropped = 0
    for segment in segments:
        piece = _flat(segment, tolerance)
        if np.abs(piece - piece[0]).max() <= _LEAST_PX:
            dropped += 1
        else:
            points.append(piece[1:])
            most_points -= len(piece)
        if most_points < 0:
            raise ValueError("the drawing holds too many points; simplify it")
    xy = np.vstack(points)
    if closed and len(xy) > 1 and np.abs(xy[-1] - xy[0]).max() <= _LEAST_PX:
        xy = xy[:-1]
    return Subpath(xy, closed, dropped + (len(xy) < 2 and not dropped))


def _subpaths(data: str) -> Iterator[tuple[list[Any], complex, bool]]:
    if len(data) > MOST_LETTERS:
        raise ValueError(f"path data has {len(data):,} letters; must have at most {MOST_LETTERS:,}")
    if _LONG_NUMBER.search(data):
        raise ValueError("path data holds a number of more than 300 digits")
    if not _ALPHABET.fullmatch(data):
        raise ValueError(f"path data holds {_ALPHABET.sub('', data)[:1]!r}; must hold finite numbers and path letters")
    chunks = _CHUNK.findall(data.strip())
    if chunks and chunks[0][0] not in "Mm":
        raise ValueError("path data must start with a move (M)")
    start = here = 0j
    waiting: tuple[list[Any], complex] | None = None
    for chunk in filter(None, (c.strip(" ,\t\r\n") for c in chunks)):
        if chunk in "Zz":
            if waiting is not None:
                yield (*waiting, True)
            waiting, here = None, start
            continue
        if waiting is not None:
            yield (*waiting, False)
        segments, start, here = _parsed(chunk, start if chunk[0] not in "Mm" else here)
        waiting = (segments, start)
    if waiting is not None:
        yield (*waiting, False)


_MOVE = re.compile(
    r"([Mm])\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)[\s,]*([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)"
)


def _paths() -> Any:
    """Return the library: loaded when the first path is read, since it is slow to load and many runs read none."""
    return importlib.import_module("svgpathtools")


def _parsed(chunk: str, here: complex) -> tuple[list[Any], complex, complex]:
    # segments, start and end of one stretch that begins at a move, or right after a Z
    start, rest = here, chunk
    if chunk[0] in "Mm":
        move = _MOVE.match(chunk)
        if not move:
            raise ValueError(f"a move needs two numbers: {chunk[:40]!r}")
        point = complex(float(move[2]), float(move[3]))
        start = here + point if move[1] == "m" else point
        rest = chunk[move.end() :].strip(" ,\t\r\n")
        if rest and not rest[0].isalpha():  # numbers after a move are lines
            rest = ("l" if move[1] == "m" else "L") + rest
    if not all(map(math.isfinite, (start.real, start.imag))):
        raise ValueError("a coordinate is not finite")
    if not rest:
        return [], start, start
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # an arc without a radius is a straight line, as the standard says
        try:
            segments = list(_paths().parse_path(rest, current_pos=start))
        except (AssertionError, IndexError, TypeError) as error:  # what the parser raises on broken data
            raise ValueError(f"path data that can't be read near {rest[:40]!r}") from error
    return segments, start, complex(segments[-1].end) if segments else start


def _flat(segment: Any, tolerance: float) -> FloatArray:
    # A piece of a curve over a parameter step h strays from its chord by at most h^2 max|B''| / 8.
    paths = _paths()
    if isinstance(segment, paths.Line):
        z = np.array([segment.start, segment.end])
    elif isinstance(segment, paths.Arc):
        z = _flat_arc(segment, tolerance)
    elif isinstance(segment, (paths.CubicBezier, paths.QuadraticBezier)):
        p = np.array(segment.bpoints())
        if not np.isfinite(p).all():
            raise ValueError("a coordinate is not finite")
        bend = (len(p) - 1) * (len(p) - 2) * float(np.abs(np.diff(p, 2)).max())
        t = np.linspace(0.0, 1.0, _steps(math.sqrt(bend / (8 * tolerance))) + 1)[:, None]
        k = np.arange(len(p))
        z = (np.array([math.comb(len(p) - 1, i) for i in k]) * t**k * (1 - t) ** k[::-1]) @ p
        z[0], z[-1] = p[0], p[-1]
    else:
        raise ValueError(f"a piece of an unknown kind: {type(segment).__name__}")
    if not np.isfinite(z).all():
        raise ValueError("a coordinate is not finite")
    return np.column_stack([z.real, z.imag])


def _flat_arc(arc: Any, tolerance: float) -> FloatArray:
    radius = max(arc.radius.real, arc.radius.imag)
    sweep = math.radians(arc.delta)
    n = _steps(abs(sweep) * math.sqrt(radius / (8 * tolerance)))
    a = math.radians(arc.theta) + sweep * np.linspace(0.0, 1.0, n + 1)
    turn = complex(math.cos(math.radians(arc.rotation)), math.sin(math.radians(arc.rotation)))
    z: FloatArray = arc.center + turn * (arc.radius.real * np.cos(a) + 1j * arc.radius.imag * np.sin(a))
    z[0], z[-1] = arc.start, arc.end
    return z


_MOST_STEPS = 100_000
"""Pieces of one curve; a curve that needs more is a mistake in the drawing."""


def _steps(wanted: float) -> int:
    if not wanted < _MOST_STEPS:
        raise ValueError("a curve is too large to follow, or not finite")
    return max(1, math.ceil(wanted))
