"""Paper cut into sheets: a first page with map, test squares and cautions, then the drawing tile by tile at true size.

Sheets overlap by half an inch. Where two meet, crosses lie in the overlap on both, each with its own letter: laid cross
on cross and taped, the sheets are the whole again.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np

from ...errors import OutputError, nearest
from ...model import FloatArray
from ...units import parse_length
from .._page import wrapped
from ..cautions import SHEET_CAUTIONS
from ..pdf import PdfPages
from .drawing import LETTERS, Mark, PaperDrawing

__all__ = ["EDGE_MM", "OVERLAP_MM", "PAPERS", "Paper", "Tiling", "find_paper", "paper_pdf", "sheet_count", "tiling_of"]

EDGE_MM = 25.4 / 4
"""What a printer leaves white along each edge (common practice, no source)."""

OVERLAP_MM = 25.4 / 2
"""Of neighbouring sheets (common practice, no source)."""

FOOT_MM = 6.0
"""Strip below each sheet for its number and the way to print it."""

CROSS_MM = 3.0
"""Half the length of a cross's arms."""

CHUNK = 64
"""Points of a path that are looked at together when a sheet picks what lies on it."""

LEAST_ROLL_MM, MOST_ROLL_MM = 100.0, 2000.0


@dataclass(frozen=True, slots=True)
class Paper:
    """A paper by name: width and height of a sheet in mm; a roll has no height of its own (None)."""

    name: str
    width_mm: float
    height_mm: float | None


PAPERS: dict[str, Paper] = {
    "letter": Paper("letter", 215.9, 279.4),
    "a4": Paper("a4", 210.0, 297.0),
    "tabloid": Paper("tabloid", 279.4, 431.8),
    "a3": Paper("a3", 297.0, 420.0),
}
"""Sizes: ISO 216 for A3 and A4; ANSI/ASME Y14.1 for letter and tabloid (from memory)."""


def find_paper(name: str, units: str = "in") -> Paper:
    """Return a paper by name, or a roll: ``roll:24in``.

    Parameters
    ----------
    name : str
        ``letter``, ``a4``, ``tabloid``, ``a3``, or a roll with its width.
    units : str
        Unit of a width without one.

    Returns
    -------
    Paper
        Its size.

    Raises
    ------
    OutputError
        No such paper, or a roll without a width that can be.
    """
    low = name.strip().lower()
    if low in PAPERS:
        return PAPERS[low]
    if low.split(":")[0] != "roll":
        near = nearest(low, PAPERS)
        raise OutputError(
            f"is {name!r}; must be {', '.join(PAPERS)}, or roll:WIDTH",
            key="--paper",
            what_to_do=f"Did you mean {near!r}?" if near else "For a roll write its width: roll:24in.",
        )
    try:
        width = parse_length(low.partition(":")[2], units)
    except ValueError:
        width = math.nan
    if not LEAST_ROLL_MM <= width <= MOST_ROLL_MM:
        raise OutputError(
            f"is {name!r}; a roll must have a width from {LEAST_ROLL_MM:g} to {MOST_ROLL_MM:g} mm",
            key="--paper",
            what_to_do="Write its width behind a colon: roll:24in.",
        )
    return Paper(low, width, None)


@dataclass(frozen=True, slots=True)
class Tiling:
    """How a drawing lies on sheets: their size, the window that each shows, columns and rows."""

    sheet_mm: tuple[float, float]
    window_mm: tuple[float, float]
    columns: int
    rows: int

    @property
    def step_mm(self) -> tuple[float, float]:
        """From one sheet's window to the next one's, right and down."""
        return self.window_mm[0] - OVERLAP_MM, self.window_mm[1] - OVERLAP_MM

    def corner(self, column: int, row: int) -> tuple[float, float]:
        """Return where on the drawing a sheet's window begins."""
        return column * self.step_mm[0], row * self.step_mm[1]


def tiling_of(size: tuple[float, float], paper: Paper) -> Tiling:
    """Return the tiling with the fewest sheets, upright or turned; upright where both need as many."""
    if paper.height_mm is None:
        long = size[1] + 2 * EDGE_MM + FOOT_MM
        return _tiling(size, paper.width_mm, max(long, 100.0))
    upright = _tiling(size, paper.width_mm, paper.height_mm)
    turned = _tiling(size, paper.height_mm, paper.width_mm)
    return turned if turned.columns * turned.rows < upright.columns * upright.rows else upright


def _tiling(size: tuple[float, float], width: float, height: float) -> Tiling:
    window = (width - 2 * EDGE_MM, height - 2 * EDGE_MM - FOOT_MM)
    count = [1 if s <= w else math.ceil((s - OVERLAP_MM) / (w - OVERLAP_MM) - 1e-9) for s, w in zip(size, window)]
    return Tiling((width, height), window, count[0], count[1])


def sheet_count(drawing: PaperDrawing, paper: Paper) -> int:
    """Return how many pages a drawing takes, the first page too.

    Parameters
    ----------
    drawing : PaperDrawing
        Any of the paper drawings.
    paper : Paper
        A sheet or a roll.

    Returns
    -------
    int
        1 for a sketch; else one for each sheet and one for the first page.
    """
    if not drawing.true_size:
        return 1
    tiling = tiling_of(drawing.size, paper)
    return 1 + tiling.columns * tiling.rows


def paper_pdf(drawing: PaperDrawing, paper: Paper) -> bytes:
    """Return a drawing as a PDF: a first page, then its sheets; a sketch is fitted to one sheet.

    Parameters
    ----------
    drawing : PaperDrawing
        Any of the paper drawings.
    paper : Paper
        A sheet or a roll.

    Returns
    -------
    bytes
        The PDF file.
    """
    pdf = PdfPages(f"{drawing.title}: {drawing.kind}, {drawing.zone}")
    if not drawing.true_size:
        _sketch(pdf, drawing, paper)
        return pdf.finish()
    tiling = tiling_of(drawing.size, paper)
    count = 1 + tiling.columns * tiling.rows
    _first_page(pdf, drawing, paper, tiling, count)
    crosses = _crosses(drawing, tiling)
    boxes = [_boxes(mark) for mark in drawing.marks]
    for number, (row, column) in enumerate(product(range(tiling.rows), range(tiling.columns)), start=2):
        _sheet(pdf, drawing, tiling, (column, row), boxes, crosses, f"page {number} of {count}")
    return pdf.finish()


# --- the first page ------------------------------------------------------------------------------------------------


def _first_page(pdf: PdfPages, drawing: PaperDrawing, paper: Paper, tiling: Tiling, count: int) -> None:
    width, height = (
        (paper.width_mm, paper.height_mm) if paper.height_mm else (paper.width_mm, max(paper.width_mm, 279.4))
    )
    pdf.page(width, height)
    left, y = EDGE_MM + 6.0, EDGE_MM + 12.0
    room = width - 2 * left
    pdf.words(left, y, drawing.title, 6.0, bold=True)
    y += 7.5
    pdf.words(left, y, f"{drawing.zone}: {drawing.kind}", 4.2)
    y += 8.0
    y = _test_squares(pdf, left, y) + 6.0
    y = _say(
        pdf,
        left,
        y,
        room,
        ["Print at 100 % (actual size), never 'fit to page'. Then measure the test squares."],
        bold=True,
    )
    y = _say(pdf, left, y, room, drawing.notes)
    sheets = tiling.columns * tiling.rows
    if sheets > 1:
        said = (
            f"{sheets} sheets, {tiling.columns} across and {tiling.rows} down. Lay cross on cross, letter on letter, "
            "hold both sheets to the light or a window, and tape them."
        )
        y = _say(pdf, left, y, room, [said])
    below = height - EDGE_MM - FOOT_MM - 4.0
    cautions = [row for text in SHEET_CAUTIONS for row in wrapped(text, room, 2.5)]
    map_height = below - y - len(cautions) * 3.6 - 8.0
    if map_height > 15.0:
        y = _map(pdf, drawing, tiling, left, y, room, map_height) + 6.0
    for row in cautions:
        pdf.words(left, y, row, 2.5, colour="#444444")
        y += 3.6
    pdf.words(left, height - EDGE_MM - 1.5, f"page 1 of {count}", 2.6, colour="#666666")


def _say(pdf: PdfPages, left: float, y: float, room: float, texts: Sequence[str], *, bold: bool = False) -> float:
    for text in texts:
        for row in wrapped(text, room, 3.1):
            pdf.words(left, y, row, 3.1, bold=bold)
            y += 4.4
        y += 1.2
    return y


def _test_squares(pdf: PdfPages, left: float, y: float) -> float:
    for side, name, x in ((25.4, "1 in", left), (50.0, "50 mm", left + 36.0)):
        pdf.path(_box(x, y, side, side), closed=True, width_mm=0.2)
        pdf.words(x + side / 2, y + side / 2 + 1.0, name, 3.0, anchor="middle")
    return y + 52.0


def _map(
    pdf: PdfPages, drawing: PaperDrawing, tiling: Tiling, left: float, y: float, room: float, most: float
) -> float:
    """Draw the whole small, with the sheets and their numbers on it, and return where it ends."""
    scale = min(room / drawing.size[0], most / drawing.size[1], 1.0)
    for mark in drawing.marks:
        if mark.kind in ("outline", "stitch", "slot"):
            small = mark.path[:: max(1, len(mark.path) // 400)] * scale + (left, y)
            if len(small) > 1:
                pdf.path(small, closed=mark.closed, width_mm=0.12, colour="#999999")
    number = 2
    for row, column in product(range(tiling.rows), range(tiling.columns)):
        x0, y0 = tiling.corner(column, row)
        wide = min(tiling.window_mm[0], drawing.size[0] - x0)
        high = min(tiling.window_mm[1], drawing.size[1] - y0)
        pdf.path(
            _box(left + x0 * scale, y + y0 * scale, wide * scale, high * scale),
            closed=True,
            width_mm=0.15,
            colour="#3b78b5",
        )
        size = min(4.0, max(1.4, 0.3 * min(wide, high) * scale))
        pdf.words(
            left + (x0 + wide / 2) * scale,
            y + (y0 + high / 2) * scale + size / 3,
            str(number),
            size,
            anchor="middle",
            colour="#3b78b5",
        )
        number += 1
    return y + drawing.size[1] * scale


# --- sheets --------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Cross:
    at: tuple[float, float]
    letter: str


def _letters() -> Iterator[str]:
    """Give A, B, ...; then A2, B2, ..."""
    for turn in range(1, 1_000_000):
        yield from (f"{c}{turn if turn > 1 else ''}" for c in LETTERS)


def _crosses(drawing: PaperDrawing, tiling: Tiling) -> list[_Cross]:
    """Return two crosses for each pair of neighbouring sheets, in the middle of their overlap."""
    letters, out = _letters(), []
    (step_x, step_y), half = tiling.step_mm, OVERLAP_MM / 2
    for row, column in product(range(tiling.rows), range(tiling.columns)):
        x0, y0 = tiling.corner(column, row)
        wide = min(tiling.window_mm[0], drawing.size[0] - x0)
        high = min(tiling.window_mm[1], drawing.size[1] - y0)
        if column + 1 < tiling.columns:
            out += [_Cross((x0 + step_x + half, y0 + high * part), next(letters)) for part in (0.25, 0.75)]
        if row + 1 < tiling.rows:
            out += [_Cross((x0 + wide * part, y0 + step_y + half), next(letters)) for part in (0.25, 0.75)]
    return out


def _boxes(mark: Mark) -> FloatArray:
    """Return the boxes ``(k, 4)`` of a path's chunks, a closed or filled one in one."""
    path = mark.path
    if mark.closed or mark.fill is not None or len(path) <= CHUNK:
        low, high = path.min(axis=0), path.max(axis=0)
        return np.array([[*low, *high]])
    starts = np.arange(0, len(path) - 1, CHUNK)
    return np.array([[*path[s : s + CHUNK + 1].min(axis=0), *path[s : s + CHUNK + 1].max(axis=0)] for s in starts])


def _sheet(
    pdf: PdfPages,
    drawing: PaperDrawing,
    tiling: Tiling,
    place: tuple[int, int],
    boxes: Sequence[FloatArray],
    crosses: Sequence[_Cross],
    page: str,
) -> None:
    (x0, y0), (wide, high) = tiling.corner(*place), tiling.window_mm
    pdf.page(*tiling.sheet_mm)
    pdf.begin_window(EDGE_MM, EDGE_MM, wide, high, (EDGE_MM - x0, EDGE_MM - y0))
    for mark, box in zip(drawing.marks, boxes):
        _draw(pdf, mark, box, (x0 - 2, y0 - 2, x0 + wide + 2, y0 + high + 2))
    for word in drawing.words:
        if -40 < word.at[0] - x0 < wide + 40 and -5 < word.at[1] - y0 < high + 5:
            pdf.words(*word.at, word.text, word.size_mm, bold=word.bold, anchor=word.anchor, colour=word.colour)
    for cross in crosses:
        x, y = cross.at
        if x0 - 5 < x < x0 + wide + 5 and y0 - 5 < y < y0 + high + 5:
            pdf.path(np.array([(x - CROSS_MM, y), (x + CROSS_MM, y)]), width_mm=0.2, colour="#3b78b5")
            pdf.path(np.array([(x, y - CROSS_MM), (x, y + CROSS_MM)]), width_mm=0.2, colour="#3b78b5")
            pdf.words(x + 1.0, y - 1.0, cross.letter, 2.6, colour="#3b78b5")
    pdf.end_window()
    where = f"{drawing.title}: {drawing.zone}, {drawing.kind}. {page}, column {place[0] + 1}, row {place[1] + 1}."
    foot = tiling.sheet_mm[1] - EDGE_MM - 1.2
    size = min(2.6, 2.6 * (wide - 45) / max(pdf.width_of(where, 2.6), 1.0))
    pdf.words(EDGE_MM, foot, where, size, colour="#666666")
    pdf.words(tiling.sheet_mm[0] - EDGE_MM, foot, "print at 100 %", 2.6, anchor="end", colour="#666666")


def _draw(pdf: PdfPages, mark: Mark, boxes: FloatArray, window: tuple[float, float, float, float]) -> None:
    """Draw what of a mark may lie in a window: whole, or the chunks of a long path that touch it."""
    left, top, right, bottom = window
    near = (boxes[:, 0] <= right) & (boxes[:, 2] >= left) & (boxes[:, 1] <= bottom) & (boxes[:, 3] >= top)
    if not near.any():
        return
    if len(boxes) == 1:
        if mark.kind == "dot":
            (x, y), radius = mark.path.mean(axis=0), mark.width_mm / 2
            pdf.dot(float(x), float(y), radius, mark.colour or "#000000")
            return
        pdf.rings(
            [mark.path, *mark.holes],
            closed=mark.closed,
            width_mm=mark.width_mm,
            colour=mark.colour,
            fill=mark.fill,
            dash_mm=mark.dash_mm,
        )
        return
    runs = np.split(np.flatnonzero(near), np.flatnonzero(np.diff(np.flatnonzero(near)) > 1) + 1)
    for run in runs:
        piece = mark.path[run[0] * CHUNK : (run[-1] + 1) * CHUNK + 1]
        pdf.path(piece, width_mm=mark.width_mm, colour=mark.colour, dash_mm=mark.dash_mm)


def _sketch(pdf: PdfPages, drawing: PaperDrawing, paper: Paper) -> None:
    """Draw what is not at true size on one sheet, with its notes and the cautions below."""
    height = paper.height_mm or max(paper.width_mm, 279.4)
    pdf.page(paper.width_mm, height)
    left, y = EDGE_MM + 6.0, EDGE_MM + 12.0
    room = paper.width_mm - 2 * left
    pdf.words(left, y, drawing.title, 6.0, bold=True)
    pdf.words(left, y + 7.0, f"{drawing.zone}: {drawing.kind} (not at true size)", 4.0)
    y = _say(pdf, left, y + 14.0, room, drawing.notes)
    cautions = [row for text in SHEET_CAUTIONS for row in wrapped(text, room, 2.3)]
    most = height - y - EDGE_MM - len(cautions) * 3.2 - 8.0
    scale = min(room / drawing.size[0], most / drawing.size[1])
    for mark in drawing.marks:
        pdf.rings(
            [p * scale + (left, y) for p in (mark.path, *mark.holes)],
            closed=mark.closed,
            width_mm=mark.width_mm,
            colour=mark.colour,
            fill=mark.fill,
            dash_mm=mark.dash_mm,
        )
    for word in drawing.words:
        at = (left + word.at[0] * scale, y + word.at[1] * scale)
        pdf.words(*at, word.text, word.size_mm, bold=word.bold, anchor=word.anchor, colour=word.colour)
    y += drawing.size[1] * scale + 7.0
    for row in cautions:
        pdf.words(left, y, row, 2.3, colour="#444444")
        y += 3.2


def _box(x: float, y: float, wide: float, high: float) -> FloatArray:
    return np.array([(x, y), (x + wide, y), (x + wide, y + high), (x, y + high)])
