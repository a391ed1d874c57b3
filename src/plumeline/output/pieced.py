"""The top as pieced: its drawing, and a picture of the seams that were found."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal
from xml.sax.saxutils import escape

from ..model import FloatArray, Patch, Photo
from ._frame import PAPER, Window, outline_data, short, short_path, words
from ._names import visible
from ._photo import photo_image
from .png import png_of

__all__ = ["pieced_svg", "seams_png"]

SeamSeen = Literal["sure", "loose", "unseen"]
"""A seam that is seen, one that is seen but whose place is unsure, and one that is not seen for sure."""

COLOURS: dict[SeamSeen, str] = {"sure": "#00a0ff", "loose": "#ffd000", "unseen": "#e00060"}
"""Colours of the seams: rare in fabrics, and apart for every eye."""

PICTURE_PX = 1600
"""Longer side of the picture of the seams."""


def pieced_svg(patches: Sequence[Patch], size: tuple[float, float], *, title: str) -> str:
    """Return the drawing of a top as pieced, true size, each patch by its planned name."""
    width, height = (f"{v:.4f}" for v in size)
    rows = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}mm" height="{height}mm" '
        f'viewBox="0 0 {width} {height}">',
        f"<title>{escape(visible(title))}: as pieced</title>",
    ]
    rows += [
        f'<path d="{outline_data(patch)}" fill="{patch.colour or "#e8e2d6"}" fill-rule="evenodd">'
        f"<title>{escape(patch.name)}</title></path>"
        for patch in patches
    ]
    return "\n".join([*rows, "</svg>"]) + "\n"


def seams_png(
    photo: Photo, seams: Sequence[tuple[FloatArray, SeamSeen]], *, title: str, caption: Sequence[str]
) -> bytes:
    """Return the photo with the seams on it: whole where they are seen, dashed where they are not seen for sure."""
    view = Window(0.0, 0.0, *photo.size)
    u = view.unit
    said, depth = words(title, caption, view)
    margin, foot = 20 * u, depth + 20 * u
    width, height = view.width + 2 * margin, view.height + 2 * margin + foot
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
        f'width="{short(width)}" height="{short(height)}" '
        f'viewBox="{short(-margin)} {short(-margin)} {short(width)} {short(height)}">'
        f'<rect x="{short(-margin)}" y="{short(-margin)}" width="{short(width)}" height="{short(height)}" '
        f'fill="{PAPER}"/>{photo_image(photo, view, PICTURE_PX / max(photo.size))}'
        f"{_lines(seams, u)}{''.join(said)}</svg>"
    )
    return png_of(svg, PICTURE_PX)


def _lines(seams: Sequence[tuple[FloatArray, SeamSeen]], u: float) -> str:
    out = []
    for kind, colour in COLOURS.items():
        data = "".join(short_path(path) for path, seen in seams if seen == kind)
        dash = f' stroke-dasharray="{short(6 * u)} {short(4 * u)}"' if kind == "unseen" else ""
        out.append(f'<path d="{data}" fill="none" stroke="{colour}" stroke-width="{short(1.6 * u)}"{dash}/>')
    return "".join(out)
