"""How large an SVG is: its page, its units, and what it says of its maker."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from ..codes import FindingCode
from ..errors import DrawingError
from ..model import Finding, FloatArray
from ..units import Unit, format_length
from .transforms import PX_MM, length_px, parse_view_box, view_box_matrix

if TYPE_CHECKING:
    from xml.etree.ElementTree import Element

__all__ = ["Page", "page_of"]

GUESSED_MM: Final = 1000.0
"""The longer side of a page that does not say its size, until she says it."""

PER_INCH: Final = (72, 90, 96)
"""What programs have counted as an inch: the printer's point, an old custom, today's standard."""

_INKSCAPE: Final = "{http://www.inkscape.org/namespaces/inkscape}version"
_SODIPODI: Final = "{http://sodipodi.sourceforge.net/DTD/sodipodi-0.dtd}version"


@dataclass(frozen=True, slots=True, eq=False)
class Page:
    """The page of an SVG.

    Attributes
    ----------
    matrix : (3, 3) array
        From user units to pixels.
    view : (width, height)
        What percentages are of, in user units.
    px_mm : float
        Millimetres in a pixel.
    size : (width, height) or None
        The page in mm; None when the file says nothing of a page.
    sized : bool
        Whether the file says its true size.
    """

    matrix: FloatArray
    view: tuple[float, float]
    px_mm: float
    size: tuple[float, float] | None
    sized: bool
    findings: tuple[Finding, ...] = ()

    @property
    def unit_mm(self) -> float:
        """Millimetres in a user unit."""
        return self.px_mm * float(np.sqrt(abs(np.linalg.det(self.matrix[:2, :2]))))


def page_of(root: Element, head: str, file: str, *, unit_mm: float | None = None, unit: Unit = "in") -> Page:
    """Return the page; ``unit_mm`` sets the millimetres in a user unit, whatever the file says.

    ``unit`` is that of lengths in findings.

    Raises
    ------
    DrawingError
        A width or height is there that is no length, or not above 0.
    """
    try:
        box = parse_view_box(root.get("viewBox"))
    except ValueError as error:
        raise DrawingError(str(error), file=file, key="viewBox") from error
    said = [_side(root, key, file) for key in ("width", "height")]
    width, height = said
    if box is not None and (width is None) != (height is None):  # the view box says the other
        width = height * box[2] / box[3] if width is None and height else width
        height = width * box[3] / box[2] if height is None and width else height
    sized = width is not None and height is not None
    if box is not None and not sized:
        width, height = box[2], box[3]
    if width is None or height is None:
        page, matrix = None, np.eye(3)
    else:
        page, matrix = (width, height), view_box_matrix(box, width, height, root.get("preserveAspectRatio"))
    pixels = any((root.get(k) or "").strip().lower().removesuffix("px")[-1:].isdigit() for k in ("width", "height"))
    per_inch, maker = _maker(root, head) if pixels else (96, None)
    px_mm = 25.4 / per_inch if sized else GUESSED_MM / max(page) if page else PX_MM
    notes = []
    if sized and pixels and page and unit_mm is None:
        notes.append(_pixel_note(page, per_inch, maker, file, unit))
    out = Page(matrix, _view(box, page), px_mm, None, sized, tuple(notes))
    if unit_mm is not None:
        px_mm *= unit_mm / out.unit_mm
    size = (page[0] * px_mm, page[1] * px_mm) if page else None
    return Page(matrix, out.view, px_mm, size, sized or unit_mm is not None, tuple(notes))


def _side(root: Element, key: str, file: str) -> float | None:
    text = root.get(key)
    if text is None or text.strip().endswith("%") or text.strip().lower() == "auto":
        return None
    try:
        value = length_px(text)
    except ValueError as error:
        raise DrawingError(str(error), file=file, key=key, what_to_do="Use in, mm or cm.") from error
    if value <= 0:
        raise DrawingError(f"is {text!r}; must be above 0", file=file, key=key)
    return value


def _view(box: tuple[float, float, float, float] | None, page: tuple[float, float] | None) -> tuple[float, float]:
    return (box[2], box[3]) if box else page or (300.0, 150.0)  # what CSS gives a page that says nothing


def _maker(root: Element, head: str) -> tuple[int, str | None]:
    """Return how many units to the inch a file's maker counts, and its name where the file says it."""
    version = re.match(r"\s*(\d+)\.(\d+)", root.get(_INKSCAPE) or "")
    if version:
        old = (int(version[1]), int(version[2])) < (0, 92)
        return (90 if old else 96), f"Inkscape {version[1]}.{version[2]}"
    if root.get(_SODIPODI) or "Created with Sodipodi" in head:
        return 90, "Sodipodi"
    if "Adobe Illustrator" in head:
        return 72, "Adobe Illustrator"
    return 96, None


def _pixel_note(page: tuple[float, float], per_inch: int, maker: str | None, file: str, unit: Unit) -> Finding:
    def size(units: int) -> str:
        return " x ".join(format_length(side * 25.4 / units, unit) for side in page)

    others = [f"{size(units)} at {units}" for units in PER_INCH if units != per_inch]
    why = f", as {maker} counts," if maker else ","
    return Finding(
        FindingCode.SIZE_IN_PIXELS,
        "note",
        None,
        f"{file} gives its size in pixels; read at {per_inch} to the inch{why} the page is {size(per_inch)} "
        f"(it would be {' and '.join(others)})",
        "If that is not the page you drew, write the top's true width in the plan: width = ... below [top].",
    )
