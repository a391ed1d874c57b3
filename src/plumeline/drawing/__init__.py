"""Drawings: files of several kinds read into named shapes, lines and colours, in mm."""

from __future__ import annotations

from .read import DRAWINGS, read_art, read_drawing, read_svg
from .shapes import Art, Drawing, OpenLine, Shape

__all__ = ["DRAWINGS", "Art", "Drawing", "OpenLine", "Shape", "read_art", "read_drawing", "read_svg"]
