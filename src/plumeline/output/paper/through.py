"""Through: light grey lines on paper that is quilted through and torn or washed away."""

from __future__ import annotations

from collections.abc import Sequence

from .drawing import PaperDrawing, PaperKind, PaperSettings, Space
from .trace import traced

__all__ = ["KIND"]

INK = "#b5b5b5"
"""Light enough that no ink is driven into the cloth in plain sight, dark enough to follow under a lamp."""


def draw(spaces: Sequence[Space], settings: PaperSettings) -> PaperDrawing:
    """Draw spaces for quilting through the paper."""
    return traced(spaces, ink=INK, width_mm=0.3, kind="through", notes=NOTES)


NOTES = (
    "Print on paper that tears or washes away. Pin it over the space, quilt on the grey lines through it, then take "
    "it off. Test the print on a scrap of the same cloth: ink that washes out of paper can stay in cloth.",
)

KIND = PaperKind("through", "light grey lines to quilt straight through", draw)
