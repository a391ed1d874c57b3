"""Drawing on a page in millimetres: numbers, paths and words as SVG text."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from xml.sax.saxutils import escape

from ..model import FloatArray
from ._names import visible

__all__ = ["FONT", "LETTER_WIDTH", "Words", "number", "path_data", "text", "wrapped"]

FONT = "Bitstream Vera Sans, DejaVu Sans, Arial, Helvetica, sans-serif"

LETTER_WIDTH = 0.56
"""Mean width of a letter as a share of the font's size: running text in the widest of these fonts."""


def number(value: float) -> str:
    """Return a length to 0.01 mm."""
    out = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if out in ("-0", "") else out


@dataclass(frozen=True, slots=True)
class Words:
    """A line of words on the page: its base line, its height, and whether it reads upwards along a strip."""

    x: float
    y: float
    text: str
    size: float
    bold: bool = False
    anchor: str = "start"
    colour: str = "#222222"
    turned: bool = False


def path_data(path: FloatArray, *, closed: bool = False) -> str:
    """Return a path's ``d``."""
    return "M" + "L".join(f"{number(x)},{number(y)}" for x, y in path.tolist()) + ("Z" if closed else "")


def text(
    x: float,
    y: float,
    words: str,
    size: float,
    *,
    bold: bool = False,
    anchor: str = "start",
    colour: str = "#222",
    turned: bool = False,
) -> str:
    """Return one line of words; ``y`` is its base line; turned, it reads upwards."""
    weight = ' font-weight="bold"' if bold else ""
    weight += f' transform="rotate(-90 {number(x)} {number(y)})"' if turned else ""
    return (
        f'<text x="{number(x)}" y="{number(y)}" font-size="{number(size)}" font-family="{FONT}" '
        f'text-anchor="{anchor}" fill="{colour}"{weight}>{escape(visible(words))}</text>'
    )


def wrapped(words: str, width: float, size: float) -> Sequence[str]:
    """Return words in lines that fit a width; a word longer than a line stands alone.

    Examples
    --------
    >>> wrapped("one two three", 10.0, 2.5)
    ['one two', 'three']
    """
    most, rows = int(width / (LETTER_WIDTH * size)), [""]
    for word in words.split():
        if rows[-1] and len(rows[-1]) + 1 + len(word) > most:
            rows.append("")
        rows[-1] = f"{rows[-1]} {word}".strip()
    return rows
