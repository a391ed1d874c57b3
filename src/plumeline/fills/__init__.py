"""Fills: ways of turning a zone into strokes. One file each; `registry` holds them."""

from __future__ import annotations

from .kit.registry import Fill, all_fills, broken_fills, fill_names, find_fill, register, too_small
from .kit.settings import FillSettings, Mm, Sources, length, number

__all__ = [
    "Fill",
    "FillSettings",
    "Mm",
    "Sources",
    "all_fills",
    "broken_fills",
    "fill_names",
    "find_fill",
    "length",
    "number",
    "register",
    "too_small",
]
