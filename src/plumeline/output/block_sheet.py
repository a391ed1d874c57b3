"""A sheet of pictures of blocks, each with its name, its pieces and fabrics; millimetres."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from xml.sax.saxutils import escape

from ..model import Path
from ._page import number, path_data, text, wrapped

__all__ = ["BlockPicture", "block_sheet_svg"]

ACROSS = 6
"""Blocks in a row."""

SIDE_MM, GAP_MM, WORDS_MM, MARGIN_MM, HEAD_MM = 30.0, 6.0, 15.0, 8.0, 12.0
"""Side of a picture, room between pictures and for the words below each, white round the page, strip for the title."""

NAME_MM, SMALL_MM = 2.7, 2.0
"""Height of the letters of a name, and of what is said below it."""

BOLD_WIDTH = 0.68
"""Mean width of a bold letter as a share of its height: a longer name is set smaller, to stay in its column."""


@dataclass(frozen=True, slots=True, eq=False)
class BlockPicture:
    """A block on the sheet: its name, what is said of it, its pieces in a square of `SIDE_MM`, each with a colour."""

    name: str
    said: str
    pieces: tuple[tuple[Path, str], ...]


def block_sheet_svg(title: str, blocks: Sequence[BlockPicture]) -> str:
    """Return the sheet as SVG text; only its title when there are no blocks."""
    rows = -(-len(blocks) // ACROSS)
    wide = 2 * MARGIN_MM + ACROSS * (SIDE_MM + GAP_MM) - GAP_MM
    high = 2 * MARGIN_MM + HEAD_MM + rows * (SIDE_MM + WORDS_MM)
    w, h = number(wide), number(high)
    out = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{w}mm" height="{h}mm" viewBox="0 0 {w} {h}">',
        f"<title>{escape(title)}</title>",
        f'<rect width="{w}" height="{h}" fill="#ffffff"/>',
        text(MARGIN_MM, MARGIN_MM + 5.0, title, 5.0, bold=True),
    ]
    for k, block in enumerate(blocks):
        row, column = divmod(k, ACROSS)
        out += _picture(
            block, MARGIN_MM + column * (SIDE_MM + GAP_MM), MARGIN_MM + HEAD_MM + row * (SIDE_MM + WORDS_MM)
        )
    return "\n".join([*out, "</svg>"]) + "\n"


def _picture(block: BlockPicture, left: float, top: float) -> list[str]:
    out = [f'<g id="{escape(block.name.replace(" ", "-"))}" transform="translate({number(left)} {number(top)})">']
    out += [
        f'<path class="patch" fill="{colour}" stroke="#5d564c" stroke-width="0.15" stroke-linejoin="round" '
        f'd="{path_data(ring, closed=True)}"/>'
        for ring, colour in block.pieces
    ]
    size = min(NAME_MM, (SIDE_MM + GAP_MM - 1.0) / (BOLD_WIDTH * len(block.name)))
    out.append(text(0.0, SIDE_MM + 3.4, block.name, size, bold=True))
    for k, line in enumerate(wrapped(block.said, SIDE_MM + GAP_MM - 1.0, SMALL_MM)):
        out.append(text(0.0, SIDE_MM + 6.2 + 2.5 * k, line, SMALL_MM))
    return [*out, "</g>"]
