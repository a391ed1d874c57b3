"""Ideas side by side: each as cloth at one scale, its figures below, and what sets it apart; as PNG and as PDF."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from textwrap import wrap
from xml.sax.saxutils import escape

from ..drawing.raster import Pixels, pixels_of, png_bytes, resized
from ._frame import FONT, INK, PAPER, short
from ._names import visible
from ._page import Words
from .pdf import PdfPages
from .png import png_of

__all__ = ["PAPERS", "Column", "side_by_side_pdf", "side_by_side_png"]

PAPERS = {"in": (279.4, 215.9), "mm": (297.0, 210.0), "cm": (297.0, 210.0)}
"""Letter on its side where she measures in inches, else A4."""

EDGE_MM, GAP_MM = 12.0, 6.0
TITLE_MM, NAME_MM, ROW_MM, NOTE_MM = 6.0, 4.6, 3.4, 3.2
"""Sizes of letters."""

LETTER = 0.56
"""Mean width of a letter as a share of its size; bold ones are a quarter wider."""

PX_A_MM = 6.0
"""Pixels of the PNG for each mm of the page."""


@dataclass(frozen=True, slots=True, eq=False)
class Column:
    """One idea: its name, its cloth, rows of figures (name, value), and one line of what sets it apart."""

    name: str
    cloth: Pixels
    rows: Sequence[tuple[str, str]]
    apart: str


@dataclass(frozen=True, slots=True, eq=False)
class _Picture:
    x: float
    y: float
    width: float
    height: float
    pixels: Pixels


@dataclass(frozen=True, slots=True, eq=False)
class _Page:
    width: float
    height: float
    words: Sequence[Words]
    pictures: Sequence[_Picture]


def _page(title: str, note: str, columns: Sequence[Column], units: str) -> _Page:
    width, paper_height = PAPERS[units]
    wide = (width - 2 * EDGE_MM - (len(columns) - 1) * GAP_MM) / len(columns)
    rows, cols = columns[0].cloth.shape[:2]
    below = max(
        ROW_MM * 1.6 * len(c.rows) + NOTE_MM * 1.45 * len(_lines(c.apart, wide, NOTE_MM)) for c in columns
    )  # figures and note
    first = EDGE_MM + TITLE_MM + 9.0
    most = paper_height - first - below - EDGE_MM - 16.0
    scale = min(wide / cols, most / rows)
    words = [Words(EDGE_MM, EDGE_MM + TITLE_MM, title, TITLE_MM, bold=True)]
    pictures = []
    deepest = 0.0
    for k, column in enumerate(columns):
        x = EDGE_MM + k * (wide + GAP_MM)
        words.append(Words(x, first + NAME_MM, column.name, NAME_MM, bold=True))
        y = first + NAME_MM + 3.0
        pictures.append(_Picture(x, y, scale * cols, scale * rows, column.cloth))
        y += scale * rows + 6.0
        for name, value in column.rows:
            words.append(Words(x, y, name, ROW_MM))
            words.append(Words(x + min(wide, max(scale * cols, 55.0)), y, value, ROW_MM, anchor="end"))
            y += 1.6 * ROW_MM
        y += 1.0
        for line in _lines(column.apart, wide, NOTE_MM):
            words.append(Words(x, y, line, NOTE_MM, bold=True))
            y += 1.45 * NOTE_MM
        deepest = max(deepest, y)
    words.append(Words(EDGE_MM, deepest + 3.0, note, 2.6))
    return _Page(width, min(paper_height, deepest + EDGE_MM), words, pictures)


def _lines(text: str, wide: float, size: float) -> list[str]:
    return wrap(text, max(12, int(wide / (LETTER * 1.25 * size)))) or [""]


def side_by_side_pdf(title: str, note: str, columns: Sequence[Column], *, units: str) -> bytes:
    """Return ideas side by side as one PDF page on her paper, on its side.

    Parameters
    ----------
    title, note : str
        Heading, and a line of small print.
    columns : sequence of Column
        Two to four; their cloths are of one size and scale.
    units : {"in", "mm", "cm"}
        Chooses the paper.
    """
    page = _page(title, note, columns, units)
    width, height = PAPERS[units]
    pages = PdfPages(title)
    pages.page(width, height)
    for p in page.pictures:
        pages.picture(png_bytes(p.pixels), p.x, p.y, p.width, p.height)
    for w in page.words:
        pages.words(w.x, w.y, w.text, w.size, bold=w.bold, anchor=w.anchor, colour=INK)
    return pages.finish()


def side_by_side_png(title: str, note: str, columns: Sequence[Column], *, units: str) -> bytes:
    """Return ideas side by side as a PNG picture; see `side_by_side_pdf`."""
    page = _page(title, note, columns, units)
    body = [
        f'<text x="{short(w.x)}" y="{short(w.y)}" font-size="{short(w.size)}" font-family="{FONT}" '
        f'text-anchor="{w.anchor}" fill="{INK}"{" font-weight=" + chr(34) + "bold" + chr(34) if w.bold else ""}>'
        f"{escape(visible(w.text))}</text>"
        for w in page.words
    ]
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{short(page.width)}mm" height="{short(page.height)}mm" '
        f'viewBox="0 0 {short(page.width)} {short(page.height)}">'
        f'<rect width="{short(page.width)}" height="{short(page.height)}" fill="{PAPER}"/>{"".join(body)}</svg>'
    )
    picture = pixels_of(png_of(svg, round(page.width * PX_A_MM)), name="page").copy()
    for p in page.pictures:
        x, y = round(p.x * PX_A_MM), round(p.y * PX_A_MM)
        cloth = resized(p.pixels, round(p.width * PX_A_MM), round(p.height * PX_A_MM))
        picture[y : y + len(cloth), x : x + cloth.shape[1]] = cloth[: len(picture) - y, : picture.shape[1] - x]
    return png_bytes(picture, px_a_mm=PX_A_MM)
