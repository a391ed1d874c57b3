"""Drawings: files of several kinds read into named shapes, lines and colours, in mm."""

from __future__ import annotations

from .read import DRAWINGS, Extent, OpenDrawing, open_drawing, read_art, read_drawing, read_svg
from .said import named
from .shapes import Art, Drawing, OpenLine, Shape

__all__ = [
    "DRAWINGS",
    "Art",
    "Drawing",
    "Extent",
    "OpenDrawing",
    "OpenLine",
    "Shape",
    "named",
    "open_drawing",
    "read_art",
    "read_drawing",
    "read_svg",
]
