"""The top as pieced: its drawing, and a picture of the seams that were found."""

from __future__ import annotations

from collections.abc import Sequence
from xml.sax.saxutils import escape

from ..model import FloatArray, Patch, Photo
from ._frame import PAPER, Window, outline_data, short, short_path, words
from ._names import visible
from ._photo import photo_image
from .png import png_of

__all__ = ["pieced_svg", "seams_png"]

SURE, UNSURE = "#00a0ff", "#e00060"
"""Colours of seams that are seen for sure and of those that are not: rare in fabrics, and apart for every eye."""

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


def seams_png(photo: Photo, seams: Sequence[tuple[FloatArray, bool]], *, title: str, caption: Sequence[str]) -> bytes:
    """Return the photo with the seams on it: whole where they are seen for sure, dashed where they are not."""
    view = Window(0.0, 0.0, *photo.size)
    u = view.unit
    said, depth = words(title, caption, view)
    margin, foot = 20 * u, depth + 20 * u
    width, height = view.width + 2 * margin, view.height + 2 * margin + foot
    sure = "".join(short_path(path) for path, good in seams if good)
    unsure = "".join(short_path(path) for path, good in seams if not good)
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
        f'width="{short(width)}" height="{short(height)}" '
        f'viewBox="{short(-margin)} {short(-margin)} {short(width)} {short(height)}">'
        f'<rect x="{short(-margin)}" y="{short(-margin)}" width="{short(width)}" height="{short(height)}" '
        f'fill="{PAPER}"/>{photo_image(photo, view, PICTURE_PX / max(photo.size))}'
        f'<path d="{sure}" fill="none" stroke="{SURE}" stroke-width="{short(1.6 * u)}"/>'
        f'<path d="{unsure}" fill="none" stroke="{UNSURE}" stroke-width="{short(1.6 * u)}" '
        f'stroke-dasharray="{short(6 * u)} {short(4 * u)}"/>{"".join(said)}</svg>'
    )
    return png_of(svg, PICTURE_PX)
