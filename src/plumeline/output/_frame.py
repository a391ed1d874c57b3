"""What the pictures share: the part shown, numbers and paths to 0.01 mm, fabrics, inch tapes, words below."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from textwrap import wrap
from xml.sax.saxutils import escape

import numpy as np

from ..model import FloatArray, Patch, Top
from ._names import visible

__all__ = [
    "FONT",
    "INK",
    "PAPER",
    "STRAY",
    "Window",
    "fabric_colours",
    "outline_data",
    "short",
    "short_path",
    "tape",
    "words",
]

FONT = "Bitstream Vera Sans, DejaVu Sans, sans-serif"
INK, PAPER = "#2b2118", "#f4f0e8"
"""Colours of words and of the page."""

FABRICS = ("#efe6d5", "#8fa9a4", "#c98b6b", "#5f7488", "#d9b75f", "#9a6d7d", "#7f8d5b", "#b9a28a")
"""Colours for patches whose drawing gives none, one a family of names."""

LETTER = 0.56
"""Mean width of a letter of that font, in its size; bold ones are a quarter wider."""

STRAY = 0.12
"""Lines are drawn to this share of the picture's unit."""

_ZEROS, _LAST_ZERO = re.compile(r"\.00(?![0-9])"), re.compile(r"(\.[1-9])0(?![0-9])")
_MINUS_ZERO = re.compile(r"-0(?![.0-9])")


@dataclass(frozen=True, slots=True)
class Window:
    """The part of the page to show, mm."""

    left: float
    top: float
    width: float
    height: float

    @property
    def unit(self) -> float:
        """A thousandth of the longer side: sizes of marks are given in it."""
        return max(self.width, self.height) / 1000

    @property
    def corners(self) -> tuple[FloatArray, FloatArray]:
        """The upper left and the lower right corner."""
        low = np.array([self.left, self.top])
        return low, low + np.array([self.width, self.height])

    def touches(self, points: FloatArray) -> bool:
        """Return whether the upright box about points, ``(n, 2)``, meets the window."""
        low, high = self.corners
        return bool((points.max(axis=0) >= low).all() and (points.min(axis=0) <= high).all())


def short(value: float) -> str:
    """Return a length to 0.01 mm."""
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def short_path(path: FloatArray, *, closed: bool = False) -> str:
    """Return a path's ``d``, its numbers as `short` writes them."""
    # one formatting of all numbers, and then what `short` does to each: a large top has half a million of them
    text = ("%.2f,%.2fL" * len(path) % tuple(path.ravel().tolist()))[:-1]
    text = _ZEROS.sub("", _LAST_ZERO.sub(r"\1", text))
    return "M" + _MINUS_ZERO.sub("0", text) + ("Z" if closed else "")


def outline_data(patch: Patch) -> str:
    """Return the ``d`` of a patch's outline, holes too."""
    rings = [patch.outline.exterior, *patch.outline.interiors]
    return "".join(short_path(np.asarray(r.coords)[:-1, :2], closed=True) for r in rings)


def fabric_colours(top: Top) -> list[str]:
    """Return a colour for each patch: its own, or one for its family of names."""
    families: dict[str, str] = {}
    for patch in top.patches:
        families.setdefault(patch.name.split("-")[0], FABRICS[len(families) % len(FABRICS)])
    return [patch.colour or families[patch.name.split("-")[0]] for patch in top.patches]


def tape(view: Window) -> list[str]:
    """Return inch tapes along the bottom and the left side, counted from the left and from the top as plans do."""
    u = view.unit
    wide, inch = 16 * u, 25.4
    every = next(n for n in (1, 2, 3, 6, 12, 24, 48, 96, 192, 384, 768) if n * inch / u >= 26)
    out = []
    for length, low, turn in ((view.width, view.height, 0), (view.height, 0.0, 90)):
        ticks = [
            f"M{short(k * inch)},0V{short(wide * (0.5 if k % every == 0 else 0.25))}"
            for k in range(math.floor(length / inch) + 1)
        ]
        numbers = "".join(
            f'<text x="{short(k * inch + 2 * u)}" y="{short(wide * 0.85)}" font-size="{short(8 * u)}" '
            f'font-family="{FONT}" fill="#3b2a10">{k}</text>'
            for k in range(0, math.floor((length - 12 * u) / inch) + 1, every)
        )
        out.append(
            f'<g transform="translate({short(view.left)},{short(view.top + low)}) rotate({turn}) '
            f'translate(0,{short(wide * 0.45)})"><rect width="{short(length)}" height="{short(wide)}" '
            f'fill="#f0cf6e" stroke="#8d6d1f" stroke-width="{short(0.5 * u)}"/>'
            f'<path d="{"".join(ticks)}" stroke="#3b2a10" stroke-width="{short(0.6 * u)}" fill="none"/>{numbers}</g>'
        )
    return out


def words(title: str, caption: Sequence[str], view: Window) -> tuple[list[str], float]:
    """Return title and plain words below a picture and its tape, wrapped to its width, and their depth, mm."""
    u = view.unit
    out: list[str] = []
    deep = 0.0
    for text, size, bold in ((title, 22.0, True), *((line, 15.5, False) for line in caption)):
        letter = LETTER * (1.25 if bold else 1.0) * size * u
        weight = 'font-weight="bold" ' if bold else ""
        for part in wrap(text, max(int(view.width / letter), 12)):
            y = view.top + view.height + 64 * u + deep
            out.append(
                f'<text x="{short(view.left)}" y="{short(y)}" font-size="{short(size * u)}" '
                f'font-family="{FONT}" {weight}fill="{INK}">{escape(visible(part))}</text>'
            )
            deep += 24 * u
    return out, deep
