"""A paper as one full-size SVG: the drawing in true millimetres, one class a path, with test squares and cautions."""

from __future__ import annotations

from xml.sax.saxutils import escape, quoteattr

import numpy as np

from .._names import visible
from .._page import number, path_data, text, wrapped
from ..cautions import SHEET_CAUTIONS
from .drawing import Mark, PaperDrawing

__all__ = ["cutter_svg", "full_size_svg"]

STRIP_MM = 62.0
"""Height of the strip below the drawing that holds the test squares."""


def full_size_svg(drawing: PaperDrawing) -> bytes:
    """Return a drawing as one SVG; the drawing's millimetres are the file's.

    Parameters
    ----------
    drawing : PaperDrawing
        Any of the paper drawings.

    Returns
    -------
    bytes
        The SVG file.
    """
    width, height = max(drawing.size[0], 100.0), drawing.size[1] + STRIP_MM
    rows = [
        _head(width, height),
        f"<title>{escape(visible(f'{drawing.title}: {drawing.zone}, {drawing.kind}'))}</title>",
        f"<desc>{escape(' '.join(SHEET_CAUTIONS))}</desc>",
        f"<g id={quoteattr(drawing.kind)}>",
        *(_mark(mark) for mark in drawing.marks),
        *(text(*w.at, w.text, w.size_mm, bold=w.bold, anchor=w.anchor, colour=w.colour) for w in drawing.words),
        "</g>",
    ]
    y = drawing.size[1] + 4.0
    if drawing.true_size:
        for side, name, x in ((25.4, "1 in", 4.0), (50.0, "50 mm", 36.0)):
            box = np.array([(x, y), (x + side, y), (x + side, y + side), (x, y + side)])
            rows.append(
                f'<path class="mark" fill="none" stroke="#555" stroke-width=".25" d="{path_data(box, closed=True)}"/>'
            )
            rows.append(text(x + side / 2, y + side / 2 + 1, name, 3.2, anchor="middle"))
    for k, row in enumerate(wrapped(" ".join(drawing.notes), max(width - 96.0, 40.0), 3.0)[:12]):
        rows.append(text(92.0, y + 4.0 + 4.4 * k, row, 3.0))
    return ("\n".join([*rows, "</svg>"]) + "\n").encode()


def cutter_svg(drawing: PaperDrawing) -> bytes:
    """Return only what a cutter cuts: the slots' outlines and, in a group of their own, their centre lines.

    Parameters
    ----------
    drawing : PaperDrawing
        A drawing with slots.

    Returns
    -------
    bytes
        The SVG file, at true size.
    """
    rows = [_head(*drawing.size), f"<title>{escape(visible(f'{drawing.title}: {drawing.zone}, to cut'))}</title>"]
    slots = [mark for mark in drawing.marks if mark.kind == "slot"]
    rows += ['<g id="slots" fill="none" stroke="#d00" stroke-width=".1">']
    rows += [f'<path class="slot" d="{_rings(mark)}"/>' for mark in slots]
    rows += ["</g>", '<g id="centre-lines" fill="none" stroke="#06c" stroke-width=".1">']
    rows += [f'<path class="centre-line" d="{path_data(path)}"/>' for path in drawing.cut_lines]
    return ("\n".join([*rows, "</g>", "</svg>"]) + "\n").encode()


def _head(width: float, height: float) -> str:
    w, h = number(width), number(height)
    return f'<svg xmlns="http://www.w3.org/2000/svg" width="{w}mm" height="{h}mm" viewBox="0 0 {w} {h}">'


def _rings(mark: Mark) -> str:
    return "".join(path_data(ring, closed=mark.closed) for ring in (mark.path, *mark.holes))


def _mark(mark: Mark) -> str:
    if mark.kind == "dot":
        (x, y), radius = mark.path.mean(axis=0).tolist(), mark.width_mm / 2
        return f'<circle class="dot" cx="{number(x)}" cy="{number(y)}" r="{number(radius)}" fill="{mark.colour}"/>'
    dash = f' stroke-dasharray="{" ".join(number(d) for d in mark.dash_mm)}"' if mark.dash_mm else ""
    line = f' stroke="{mark.colour}" stroke-width="{number(mark.width_mm)}"' if mark.colour else ""
    return (
        f'<path class="{mark.kind}" fill="{mark.fill or "none"}" fill-rule="evenodd"{line}{dash} '
        f'stroke-linecap="round" stroke-linejoin="round" d="{_rings(mark)}"/>'
    )
