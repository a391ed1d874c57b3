"""Pictures: the one place that turns SVG into PNG."""

from __future__ import annotations

from functools import cache
from importlib.util import find_spec
from pathlib import Path

import resvg_py

from ..errors import OutputError

__all__ = ["png_of"]

WIDEST_PX = 16_384
"""More than any screen or page needs; keeps a slip of the pen from filling the memory."""

CSS_DPI = 96
"""Pixels an inch of SVG lengths, by its standard; without it the library refuses sizes in mm."""


def png_of(svg_text: str, width_px: int, *, background: str | None = "white") -> bytes:
    """Return an SVG as a PNG of a width in pixels, height in proportion; without a background it is clear.

    Raises
    ------
    OutputError
        The width is not from 1 to 16,384, or the SVG can't be drawn.
    """
    if not 1 <= width_px <= WIDEST_PX:
        raise OutputError(f"is {width_px} px; must be from 1 to {WIDEST_PX} px", key="width")
    try:
        return bytes(
            resvg_py.svg_to_bytes(
                svg_string=svg_text, width=width_px, dpi=CSS_DPI, background=background, font_files=_fonts()
            )
        )
    except ValueError as error:
        raise OutputError(f"can't be drawn: {error}", key="svg") from error


@cache
def _fonts() -> list[str]:
    """Return the free fonts that come with the PDF library, so that a machine without fonts draws the same words."""
    found = find_spec("reportlab")
    if found is None or found.origin is None:
        return []
    folder = Path(found.origin).parent / "fonts"
    return [str(path) for name in ("Vera", "VeraBd") if (path := folder / f"{name}.ttf").is_file()]
