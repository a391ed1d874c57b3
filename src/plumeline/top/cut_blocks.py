r"""Blocks cut on a grid: a small picture of letters into the pieces of a block, each with its fabric.

A picture has one word for each cell of a square grid. A word is a fabric's letter (``b``); two letters with the slope
of the seam between them, left one first (``b/s``, ``b\s``); four letters for the quarters of a cell cut both ways: top,
right, bottom, left (``bsbs``); or ``.`` for a cell that a larger piece covers.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from ..model import FloatArray, Path, as_path

__all__ = ["Cut", "TraditionalBlock", "block_of", "four_turns"]

Cut = tuple[str, tuple[tuple[float, float], ...]]
"""A piece: the letter of its fabric, and its corners in units of the grid."""


@dataclass(frozen=True, slots=True, eq=False)
class TraditionalBlock:
    """A block of the common trade.

    Attributes
    ----------
    name, also : str, tuple of str
        What it is called, and what it is called too.
    grid : float
        Units along its side.
    cut : tuple of (fabric, outline)
        Its pieces, outlines in those units, y down, from the block's top left corner.
    """

    name: str
    grid: float
    cut: tuple[tuple[str, Path], ...]
    also: tuple[str, ...] = ()

    @property
    def fabrics(self) -> tuple[str, ...]:
        """The fabrics in it, each once, in the order in which the pieces name them."""
        return tuple(dict.fromkeys(fabric for fabric, _ in self.cut))

    def pieces(self, size_mm: float, turns: int = 0) -> tuple[tuple[str, Path], ...]:
        """Return its pieces at a finished side in mm, turned counter-clockwise by so many quarters of a turn."""
        return tuple(
            (fabric, as_path(_turned(ring, self.grid, -turns) * (size_mm / self.grid))) for fabric, ring in self.cut
        )


def _turned(points: FloatArray, side: float, quarters: int) -> FloatArray:
    """Return points turned clockwise as seen about the middle of a square, by quarters of a turn."""
    x, y = np.asarray(points, dtype=np.float64).T
    for _ in range(quarters % 4):
        x, y = side - y, x
    return np.column_stack([x, y])


def block_of(
    name: str,
    picture: str,
    more: Sequence[Cut] = (),
    *,
    fabrics: Mapping[str, str],
    also: Sequence[str] = (),
    side: float = 0.0,
) -> TraditionalBlock:
    """Return the block of a picture and of larger pieces.

    Parameters
    ----------
    fabrics : mapping
        What each letter stands for.
    side : float
        Units along the block's side where there is no picture.
    """
    rows = [line.split() for line in picture.split("\n") if line.strip()]
    cuts = [*_cells(rows), *more]
    grid = float(len(rows)) or side
    return TraditionalBlock(name, grid, tuple((fabrics[key], as_path(points)) for key, points in cuts), tuple(also))


def _cells(rows: Sequence[Sequence[str]]) -> Iterator[Cut]:
    for y, row in enumerate(rows):
        for x, word in enumerate(row):
            a, b, c, d = (x, y), (x + 1, y), (x + 1, y + 1), (x, y + 1)
            middle = (x + 0.5, y + 0.5)
            if len(word) == 4:
                for letter, (p, q) in zip(word, ((a, b), (b, c), (c, d), (d, a)), strict=True):
                    yield letter, (p, q, middle)
            elif word[1:2] == "/":
                yield word[0], (a, b, d)
                yield word[2], (b, c, d)
            elif word[1:2] == "\\":
                yield word[0], (a, c, d)
                yield word[2], (a, b, c)
            elif word != ".":
                yield word, (a, b, c, d)


def four_turns(side: float, *pieces: Cut) -> tuple[Cut, ...]:
    """Return pieces and what comes of them by quarter turns about the block's middle."""
    return tuple(
        (letter, tuple((float(x), float(y)) for x, y in _turned(np.array(points), side, quarters)))
        for quarters in range(4)
        for letter, points in pieces
    )
