"""Customer: one sheet with two or three ideas as cloth, their figures, a box to tick, and a line to sign."""

from __future__ import annotations

import base64
from dataclasses import dataclass
from xml.sax.saxutils import escape

import numpy as np

from .._names import visible
from .._page import number, path_data, text, wrapped
from ..pdf import PdfPages
from .drawing import Words
from .sheets import EDGE_MM, Paper

__all__ = ["CustomerIdea", "CustomerSheet", "customer_pdf", "customer_svg"]

LEFT_MM = EDGE_MM + 6.0
GAP_MM = 8.0
BOX_MM = 6.0
"""A box that a pen can tick."""


@dataclass(frozen=True, slots=True, eq=False)
class CustomerIdea:
    """One idea: its name, its picture (PNG) with height over width, and its figures as name and value."""

    name: str
    picture: bytes
    tall: float
    rows: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True, eq=False)
class CustomerSheet:
    """What the sheet says: title, lines about the quilt (size, thread, batting), two or three ideas, a closing note."""

    title: str
    about: tuple[str, ...]
    ideas: tuple[CustomerIdea, ...]
    note: str


@dataclass(frozen=True, slots=True, eq=False)
class _Layout:
    size: tuple[float, float]
    words: tuple[Words, ...]
    lines: tuple[tuple[np.ndarray, bool], ...]
    pictures: tuple[tuple[bytes, float, float, float, float], ...]


def customer_pdf(sheet: CustomerSheet, paper: Paper) -> bytes:
    """Return the sheet as a PDF of one page.

    Parameters
    ----------
    sheet : CustomerSheet
        What it says and shows.
    paper : Paper
        What it is printed on.

    Returns
    -------
    bytes
        The PDF file.
    """
    made = _layout(sheet, paper)
    pdf = PdfPages(f"{sheet.title}: ideas")
    pdf.page(*made.size)
    for picture, x, y, wide, high in made.pictures:
        pdf.picture(picture, x, y, wide, high)
    for path, closed in made.lines:
        pdf.path(path, closed=closed, width_mm=0.3, colour="#333333")
    for word in made.words:
        pdf.words(*word.at, word.text, word.size_mm, bold=word.bold, anchor=word.anchor, colour=word.colour)
    return pdf.finish()


def customer_svg(sheet: CustomerSheet, paper: Paper) -> bytes:
    """Return the sheet as one SVG with its pictures inside.

    Parameters
    ----------
    sheet : CustomerSheet
        What it says and shows.
    paper : Paper
        What it is printed on.

    Returns
    -------
    bytes
        The SVG file.
    """
    made = _layout(sheet, paper)
    wide, high = (number(v) for v in made.size)
    rows = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide}mm" height="{high}mm" viewBox="0 0 {wide} {high}">',
        f"<title>{escape(visible(sheet.title))}: ideas</title>",
    ]
    for picture, x, y, w, h in made.pictures:
        data = base64.b64encode(picture).decode()
        rows.append(
            f'<image x="{number(x)}" y="{number(y)}" width="{number(w)}" height="{number(h)}" '
            f'href="data:image/png;base64,{data}"/>'
        )
    rows += [
        f'<path class="mark" fill="none" stroke="#333" stroke-width=".3" d="{path_data(p, closed=c)}"/>'
        for p, c in made.lines
    ]
    rows += [text(*w.at, w.text, w.size_mm, bold=w.bold, anchor=w.anchor, colour=w.colour) for w in made.words]
    return ("\n".join([*rows, "</svg>"]) + "\n").encode()


def _layout(sheet: CustomerSheet, paper: Paper) -> _Layout:
    width = paper.width_mm
    height = paper.height_mm or max(width, 279.4)
    room = width - 2 * LEFT_MM
    y = EDGE_MM + 12.0
    words = [Words((LEFT_MM, y), sheet.title, 6.5, "start", True)]
    for line in sheet.about:
        y += 5.2
        words.append(Words((LEFT_MM, y), line, 3.4, "start"))
    y += 8.0
    count = len(sheet.ideas)
    column = (room - GAP_MM * (count - 1)) / count
    figures = max(len(idea.rows) for idea in sheet.ideas)
    below = 4.8 * figures + 66.0
    tall = min(max(idea.tall for idea in sheet.ideas) * column, height - EDGE_MM - y - below)
    lines: list[tuple[np.ndarray, bool]] = []
    pictures = []
    for k, idea in enumerate(sheet.ideas):
        x = LEFT_MM + k * (column + GAP_MM)
        wide = min(column, tall / idea.tall)
        pictures.append((idea.picture, x, y, wide, wide * idea.tall))
        at = y + tall + 4.0
        lines.append((np.array([(x, at), (x + BOX_MM, at), (x + BOX_MM, at + BOX_MM), (x, at + BOX_MM)]), True))
        words.append(Words((x + BOX_MM + 2.5, at + BOX_MM - 1.4), idea.name, 4.0, "start", True))
        for row, (name, value) in enumerate(idea.rows):
            base = at + BOX_MM + 6.0 + 4.8 * row
            words.append(Words((x, base), name, 2.9, "start", colour="#555555"))
            words.append(Words((x + column, base), value, 2.9, "end"))
    y = y + tall + BOX_MM + 4.8 * figures + 14.0
    for said in wrapped(sheet.note, room, 2.9):
        words.append(Words((LEFT_MM, y), said, 2.9, "start", colour="#555555"))
        y += 4.2
    y = max(y + 12.0, height - EDGE_MM - 16.0)
    for name, x, wide in (("date", LEFT_MM, 0.3 * room), ("signed", LEFT_MM + 0.4 * room, 0.6 * room)):
        lines.append((np.array([(x, y), (x + wide, y)]), False))
        words.append(Words((x, y + 4.0), name, 2.9, "start", colour="#555555"))
    return _Layout((width, height), tuple(words), tuple(lines), tuple(pictures))
