"""Any drawing, read by what its file name ends in."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path as FilePath

from ..errors import DrawingError
from ..units import Unit
from .marks import Sheet
from .painted import drawing_of, extent_of
from .shapes import Art, Drawing
from .svg import open_svg, svg_sheet

__all__ = ["DRAWINGS", "Extent", "OpenDrawing", "open_drawing", "read_art", "read_drawing", "read_svg"]

DRAWINGS = (".svg", ".svgz", ".dxf", ".pdf")
"""What the names of drawings end in."""


def read_drawing(
    path: str | FilePath, *, unit_mm: float | None = None, page: int | None = None, unit: Unit = "in"
) -> Drawing:
    """Return the shapes and lines that a drawing shows, at true size where it says its size.

    A shape's name is what she called it (editor's label, title, id), else that of its layer, else a word for its
    colour, else the id that a program made up, else ``patch-7`` for the seventh shape; lines: ``line-7``. Several
    shapes may share a name. Connected pieces of one named path are ``name-1``, ``name-2``. Curves become chords that
    stray at most `FLATTEN_MM`. A drawing without anything drawn gives no shapes and no lines.

    Parameters
    ----------
    path : path
        An SVG file, plain or packed; a DXF file; a PDF.
    unit_mm : float, optional
        Millimetres in one unit of the file, whatever the file says.
    page : int, optional
        Which page, from 1, of a file that has several.
    unit : {"in", "mm", "cm"}
        The unit of lengths and areas in findings.

    Returns
    -------
    Drawing
        Shapes, lines and guides, mm; what was noticed on the way.

    Raises
    ------
    DrawingError
        The file can't be read, refers to something outside itself, holds faults, or exceeds a limit.
    """
    return open_drawing(path, page=page).read(unit_mm=unit_mm, unit=unit)


@dataclass(frozen=True, slots=True)
class Extent:
    """How large what a drawing shows is: in mm, with the unit that this counts and whether the file says it."""

    width: float
    height: float
    unit_mm: float
    sized: bool


@dataclass(frozen=True, slots=True, eq=False)
class OpenDrawing:
    """A drawing whose file has been opened: it can be measured first, and then read at the size that is meant."""

    sheet: Callable[[float | None, Unit], Sheet]

    def extent(self, leave_out: Callable[[str], bool] = lambda _: False) -> Extent:
        """Return how large its shapes are (0 where there are none), by what the file itself says.

        ``leave_out`` says which names do not count.

        Raises
        ------
        DrawingError
            As `read_drawing`.
        """
        sheet = self.sheet(None, "in")
        return Extent(*extent_of(sheet, leave_out), sheet.unit_mm, sheet.sized)

    def read(self, *, unit_mm: float | None = None, unit: Unit = "in") -> Drawing:
        """Return what it shows; see `read_drawing`."""
        return drawing_of(self.sheet(unit_mm, unit))


def open_drawing(path: str | FilePath, *, page: int | None = None) -> OpenDrawing:
    """Return a drawing opened; an SVG is read and parsed here, once.

    Parameters
    ----------
    path : path
        An SVG file, plain or packed; a DXF file; a PDF.
    page : int, optional
        Which page of a PDF, from 1; it may be left out where there is one.

    Returns
    -------
    OpenDrawing
        What its kind reads from it, ready to be looked at and read.

    Raises
    ------
    DrawingError
        The file can't be read, or is of a kind that is not read.
    """
    path = FilePath(path)
    kind = path.suffix.lower()
    # the libraries of the rarer kinds take a while to load
    if kind == ".pdf":
        from .pdf import pdf_sheet

        return OpenDrawing(lambda unit_mm, unit: replace(pdf_sheet(path, unit_mm=unit_mm, page=page), unit=unit))
    if page not in (None, 1):
        raise DrawingError("has only one page", file=path.name, key="top.page", what_to_do="Take page out.")
    if kind == ".dxf":
        from .dxf import dxf_sheet

        return OpenDrawing(lambda unit_mm, unit: replace(dxf_sheet(path, unit_mm=unit_mm), unit=unit))
    if kind not in DRAWINGS:
        raise DrawingError(
            f"is no kind of drawing that is read; those end in {', '.join(DRAWINGS)}",
            file=path.name,
            what_to_do=WAYS.get(kind, "Save it as SVG in the program that made it; most can."),
        )
    opened = open_svg(path)
    return OpenDrawing(lambda unit_mm, unit: svg_sheet(opened, unit_mm=unit_mm, unit=unit))


_PICTURE = "A picture of pixels has no outlines: trace it in a vector editor and save that as SVG."

WAYS = {
    **dict.fromkeys((".png", ".jpg", ".jpeg", ".gif", ".bmp", ".webp", ".tif", ".tiff"), _PICTURE),
    ".dwg": "Save it as DXF in the program that made it.",
    ".ai": "Save it as SVG or PDF in the program that made it.",
    ".eps": "Turn it into a PDF or SVG with a vector editor.",
    ".ps": "Turn it into a PDF or SVG with a vector editor.",
    ".odg": "Export it as SVG or PDF in the program that made it.",
    ".csv": 'A table of rows of block names belongs below [top.blocks]: rows = "blocks.csv".',
}
"""Which way leads from a kind of file that is not read to one that is."""


def read_svg(path: str | FilePath) -> Drawing:
    """Return the shapes and lines of an SVG file at the true size that it says; see `read_drawing`.

    Parameters
    ----------
    path : path
        An SVG file, plain or packed.

    Returns
    -------
    Drawing
        As of `read_drawing`.

    Raises
    ------
    DrawingError
        As `read_drawing`; or the file does not say its size.
    """
    sheet = svg_sheet(open_svg(FilePath(path)))
    if not sheet.sized:
        raise no_size(sheet.file)
    return drawing_of(sheet)


def no_size(file: str) -> DrawingError:
    """Return the error of a drawing whose size must be known."""
    return DrawingError(
        "is missing, or a percentage; a drawing must say its true size",
        file=file,
        key="width and height",
        what_to_do='Set the page\'s width and height in in or mm, e.g. width="60in".',
    )


def read_art(path: str | FilePath) -> Art:
    """Return line art: every stroke of an SVG file in drawing order, in mm at the size it was drawn.

    Parameters
    ----------
    path : path
        An SVG file.

    Returns
    -------
    Art
        Its strokes in drawing order, mm.

    Raises
    ------
    DrawingError
        As `read_svg`; or nothing is drawn.
    """
    sheet = svg_sheet(open_svg(FilePath(path)))
    if not sheet.sized:
        raise no_size(sheet.file)
    tracks = [t for mark in sheet.marks for t in mark.tracks]
    if not tracks:
        raise DrawingError("draws nothing", file=sheet.file, what_to_do="Draw the motif as paths.")
    size = sheet.page or (0.0, 0.0)
    return Art(
        tuple(t.path for t in tracks), tuple(t.closed and not t.gap for t in tracks), size, tuple(sheet.findings)
    )
