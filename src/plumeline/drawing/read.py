"""Any drawing, read by what its file name ends in."""

from __future__ import annotations

from pathlib import Path as FilePath

from ..errors import DrawingError
from .painted import drawing_of
from .shapes import Art, Drawing
from .svg import svg_sheet

__all__ = ["DRAWINGS", "read_art", "read_drawing", "read_svg"]

DRAWINGS = (".svg", ".svgz")
"""What the names of drawings end in."""


def read_drawing(path: str | FilePath, *, unit_mm: float | None = None, page: int | None = None) -> Drawing:
    """Return the shapes and lines that a drawing shows, at true size where it says its size.

    A shape's name is what she called it (editor's label, title, id), else that of its layer, else a word for its
    colour, else the id that a program made up, else ``patch-7`` for the seventh shape; lines: ``line-7``. Several
    shapes may share a name. Connected pieces of one named path are ``name-1``, ``name-2``. Curves become chords that
    stray at most `FLATTEN_MM`. A drawing without anything drawn gives no shapes and no lines.

    Parameters
    ----------
    path : path
        An SVG file, plain or packed.
    unit_mm : float, optional
        Millimetres in one unit of the file, whatever the file says.
    page : int, optional
        Which page, from 1, of a file that has several.

    Raises
    ------
    DrawingError
        The file can't be read, refers to something outside itself, holds faults, or exceeds a limit.
    """
    source = FilePath(path)
    return drawing_of(svg_sheet(source, unit_mm=unit_mm))


def read_svg(path: str | FilePath) -> Drawing:
    """Return the shapes and lines of an SVG file at the true size that it says; see `read_drawing`.

    Raises
    ------
    DrawingError
        As `read_drawing`; or the file does not say its size.
    """
    sheet = svg_sheet(FilePath(path))
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

    Raises
    ------
    DrawingError
        As `read_svg`; or nothing is drawn.
    """
    sheet = svg_sheet(FilePath(path))
    if not sheet.sized:
        raise no_size(sheet.file)
    tracks = [t for mark in sheet.marks for t in mark.tracks]
    if not tracks:
        raise DrawingError("draws nothing", file=sheet.file, what_to_do="Draw the motif as paths.")
    size = sheet.page or (0.0, 0.0)
    return Art(
        tuple(t.path for t in tracks), tuple(t.closed and not t.gap for t in tracks), size, tuple(sheet.findings)
    )
