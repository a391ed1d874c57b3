"""The map of how straight a top is: seams out of true in red, the worst places numbered, with a list beside."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from xml.sax.saxutils import escape

import numpy as np

from ..geometry import rings
from ..model import Path, Top
from ._frame import Window
from ._names import visible
from ._page import number, path_data, text, wrapped
from ._photo import faded, photo_image

__all__ = ["StraightMark", "straight_svg"]

PAGE_MM, MARGIN_MM, HEAD_MM, LIST_MM = (279.4, 215.9), 8.0, 12.0, 82.0
"""Letter paper across, white round it, the strip for the title, the column for the list."""

WHITE, PHOTO_PX = 0.25, 1500
"""With a photo below the seams: how much white lies over it, its longer side."""

RED, AMBER, TRUE = "#b3261e", "#d98a1f", "#9a9287"
"""More than twice the limit of the eye, more than the limit, true."""

BAD_MM = 25.4 / 8
"""From here on a seam is drawn in the strongest colour."""


@dataclass(frozen=True, slots=True)
class StraightMark:
    """A numbered place: where, and what is said of it in the list."""

    at: tuple[float, float]
    said: str


def straight_svg(top: Top, seams: Sequence[tuple[Path, float, bool]], marks: Sequence[StraightMark], title: str) -> str:
    """Return the map as SVG text.

    Parameters
    ----------
    seams : sequence of (path, off_mm, out)
        Each seam, how far it is off, and whether that is out of true.
    """
    wide, high = PAGE_MM
    room = np.array([wide - 3 * MARGIN_MM - LIST_MM, high - 2 * MARGIN_MM - HEAD_MM])
    every = np.vstack([rings(p.outline)[0] for p in top.patches])
    low, high_at = every.min(axis=0), every.max(axis=0)
    scale = float((room / np.maximum(high_at - low, 1e-9)).min())
    shift = np.array([MARGIN_MM, MARGIN_MM + HEAD_MM]) - low * scale
    w, h = number(wide), number(high)
    linked = "" if top.photo is None else ' xmlns:xlink="http://www.w3.org/1999/xlink"'
    out = [
        f'<svg xmlns="http://www.w3.org/2000/svg"{linked} width="{w}mm" height="{h}mm" viewBox="0 0 {w} {h}">',
        f"<title>{escape(visible(title))}</title>",
        f'<rect width="{w}" height="{h}" fill="#ffffff"/>',
        text(MARGIN_MM, MARGIN_MM + 6.0, title, 5.0, bold=True),
    ]
    if top.photo is not None:
        x, y = shift.tolist()
        pale = faded(top.photo, PHOTO_PX, WHITE)
        image = photo_image(pale, Window(0.0, 0.0, *top.photo.size), PHOTO_PX / max(top.photo.size))
        out.append(f'<g transform="translate({number(x)},{number(y)}) scale({scale:.8f})">{image}</g>')
    for patch in top.patches if top.photo is None else ():
        ring = rings(patch.outline)[0] * scale + shift
        out.append(
            f'<path class="patch" fill="{patch.colour or "#f3eee3"}" fill-opacity="0.35" '
            f'd="{path_data(ring, closed=True)}"/>'
        )
    for path, off, crooked in sorted(seams, key=lambda s: s[1]):
        colour, width = (RED if off > BAD_MM else AMBER, 0.9) if crooked else (TRUE, 0.2)
        out.append(
            f'<path class="{"crooked" if crooked else "seam"}" fill="none" stroke="{colour}" stroke-width="{width}" '
            f'stroke-linecap="round" d="{path_data(path * scale + shift)}"/>'
        )
    for k, mark in enumerate(marks, 1):
        x, y = (np.array(mark.at) * scale + shift).tolist()
        out.append(
            f'<circle class="mark" cx="{number(x)}" cy="{number(y)}" r="2" fill="#ffffff" stroke="{RED}" '
            'stroke-width="0.3"/>'
        )
        out.append(text(x, y + 0.8, str(k), 2.2, anchor="middle"))
    return "\n".join([*out, *_list(marks), "</svg>"]) + "\n"


def _list(marks: Sequence[StraightMark]) -> list[str]:
    x, y = PAGE_MM[0] - MARGIN_MM - LIST_MM, MARGIN_MM + HEAD_MM + 3.0
    if not marks:
        return [text(x, y, "All is true.", 3.0)]
    out = []
    for k, mark in enumerate(marks, 1):
        for row, line in enumerate(wrapped(f"{k}. {mark.said}", LIST_MM, 2.5)):
            out.append(text(x + (3.0 if row else 0.0), y, line, 2.5))
            y += 3.4
        y += 0.8
    return out
