"""Ideas for one space side by side: one card each, all at one scale, with figures and reasons."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from xml.sax.saxutils import escape

import numpy as np

from ..model import FloatArray

__all__ = ["Card", "ideas_svg"]

ACROSS = 4
"""Cards in a row."""

WIDE, PICTURE, WORDS, GAP = 380.0, 250.0, 128.0, 16.0
"""Width of a card, height of its picture and of its words, and room between cards; units of the drawing."""


@dataclass(frozen=True, slots=True, eq=False)
class Card:
    """One idea: its name, one line of figures, one of reasons, the space's edge and the lines in it (mm)."""

    name: str
    figures: str
    why: str
    outline: tuple[FloatArray, ...]
    paths: tuple[FloatArray, ...]


def ideas_svg(title: str, cards: Sequence[Card]) -> str:
    """Return the cards as one SVG picture, four in a row; only the title when there are none."""
    rows = -(-len(cards) // ACROSS)
    width, height = ACROSS * (WIDE + GAP) + GAP, 60 + rows * (PICTURE + WORDS + GAP)
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:g}" height="{height:g}" '
        f'viewBox="0 0 {width:g} {height:g}" font-family="sans-serif" fill="#2c261f">',
        f"<title>{escape(title)}</title>",
        f'<rect width="{width:g}" height="{height:g}" fill="#fbf8f1"/>',
        f'<text x="{GAP:g}" y="38" font-size="24" font-weight="bold">{escape(title)}</text>',
    ]
    for place, card in enumerate(cards):
        row, column = divmod(place, ACROSS)
        parts.append(_card(card, place, GAP + column * (WIDE + GAP), 60 + row * (PICTURE + WORDS + GAP)))
    return "\n".join([*parts, "</svg>\n"])


def _card(card: Card, place: int, left: float, top: float) -> str:
    points = np.vstack(card.outline)
    low, high = points.min(axis=0), points.max(axis=0)
    scale = float(min((WIDE - 20) / max(high[0] - low[0], 1e-6), (PICTURE - 20) / max(high[1] - low[1], 1e-6)))
    shift = np.array([left + WIDE / 2, top + PICTURE / 2]) - scale * (low + high) / 2
    edge = " ".join(_data(ring * scale + shift) + "Z" for ring in card.outline)
    lines = " ".join(_data(path * scale + shift) for path in card.paths)
    words = [f'<text x="{left:g}" y="{top + PICTURE + 20:g}" font-size="17" font-weight="bold">'
             f"{place + 1}. {escape(card.name)}</text>",
             f'<text x="{left:g}" y="{top + PICTURE + 40:g}" font-size="13">{escape(card.figures)}</text>']  # fmt: skip
    for k, said in enumerate(textwrap.wrap(card.why, 56)[:4]):
        at = top + PICTURE + 60 + 17 * k
        words.append(f'<text x="{left:g}" y="{at:g}" font-size="13" fill="#665c4d">{escape(said)}</text>')
    return "\n".join(
        [
            "<g>",
            f'<path d="{edge}" fill="#f3ecdc" fill-rule="evenodd" stroke="#a99b82"/>',
            f'<path d="{lines}" fill="none" stroke="#4d4030" stroke-width="1.1" stroke-linejoin="round"/>',
            *words,
            "</g>",
        ]
    )


def _data(path: FloatArray) -> str:
    return "M" + " ".join(f"{x:.1f} {y:.1f}" for x, y in path)
