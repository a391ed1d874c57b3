"""The top: patches and the seams between them, from a drawing, a block table or a tape measure."""

from __future__ import annotations

from .from_drawing import from_drawing, top_of_drawing

__all__ = ["from_drawing", "top_of_drawing"]
