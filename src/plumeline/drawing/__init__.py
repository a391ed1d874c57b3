"""Drawings: SVG files read into named shapes, lines and colours, in mm."""

from __future__ import annotations

from .shapes import Art, Drawing, OpenLine, Shape
from .svg import read_art, read_svg

__all__ = ["Art", "Drawing", "OpenLine", "Shape", "read_art", "read_svg"]
