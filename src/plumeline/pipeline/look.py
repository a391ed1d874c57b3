"""One small picture of what is filled: quick to draw, before any line is joined."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..drawing.raster import drawn_pixels, png_bytes
from ..geometry import close_ring, rings
from ..model import Filled, FloatArray, Top

__all__ = ["LOOK_PX", "look_picture"]

LOOK_PX = 900
"""Longer side of the picture in pixels."""

GROUND, NO_COLOUR, SEAM, THREAD = "#ffffff", "#f4f1ea", "#c9c4ba", "#1d3557"
"""Colours of the page, of cloth whose colour is not known, of seams, and of all stitching: seen on every cloth."""

THREAD_PX = 1.0
PALE = 0.55
"""How far cloth goes towards white, so that the stitching stands out."""


def look_picture(top: Top, filled: Sequence[Filled]) -> bytes:
    """Return patches, seams and strokes as a PNG of `LOOK_PX`."""
    scale = LOOK_PX / max(top.size)
    width, height = (max(1, round(side * scale)) for side in top.size)

    def line(path: FloatArray, closed: bool = False) -> FloatArray:
        return np.asarray(close_ring(path, closed) * scale)

    areas = [(line(rings(p.outline)[0]), _pale(p.colour or NO_COLOUR)) for p in top.patches]
    seams = [(line(seam.path), SEAM) for seam in top.seams]
    strokes = [(line(s.path, s.closed), THREAD) for f in filled for s in f.strokes]
    pixels = drawn_pixels((width, height), areas, [*seams, *strokes], ground=GROUND, line_px=THREAD_PX)
    return png_bytes(pixels, px_a_mm=scale)


def _pale(colour: str) -> str:
    parts = [int(colour[k : k + 2], 16) for k in (1, 3, 5)]
    return "#" + "".join(f"{round(part + (255 - part) * PALE):02x}" for part in parts)
