"""PDF pages in millimetres, y down: the one place that knows the PDF library. Same calls, same bytes."""

from __future__ import annotations

import io
from collections.abc import Sequence
from functools import cache
from pathlib import Path as FilePath

import numpy as np
import reportlab
from reportlab.lib.colors import HexColor
from reportlab.lib.utils import ImageReader
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas

from ..model import FloatArray
from ._names import ascii_text, visible

__all__ = ["PdfPages"]

POINT_MM = 72 / 25.4
"""PDF counts in points, 72 to the inch."""

PLAIN, BOLD = "Plain", "Bold"


@cache
def _fonts() -> bool:
    """Register the fonts that come with the PDF library, so that every page carries the letters that it shows."""
    folder = FilePath(reportlab.__file__).parent / "fonts"
    for name, file in ((PLAIN, "Vera.ttf"), (BOLD, "VeraBd.ttf")):
        pdfmetrics.registerFont(TTFont(name, str(folder / file)))
    return True


def _written(text: str) -> str:
    """Return words in letters that the fonts have: the nearest plain ones for those that they lack."""
    has = pdfmetrics.getFont(PLAIN).face.charToGlyph
    return "".join(c if ord(c) in has else ascii_text(c) for c in visible(text))


class PdfPages:
    """Pages drawn one after another; `finish` gives the file.

    Parameters
    ----------
    title : str
        Of the document.

    Notes
    -----
    Lengths are mm, x right and y down from the upper left corner of the page; colours are ``#rrggbb``.
    """

    def __init__(self, title: str) -> None:
        _fonts()
        self._file = io.BytesIO()
        self._canvas = Canvas(self._file, pageCompression=1, invariant=1, initialFontName=PLAIN)
        self._canvas.setTitle(visible(title))
        self._canvas.setProducer("plumeline")
        self._canvas.setCreator("plumeline")
        self._height = 0.0
        self._open = False

    def page(self, width_mm: float, height_mm: float) -> None:
        """Begin a page of a size."""
        if self._open:
            self._canvas.showPage()
        self._canvas.setPageSize((width_mm * POINT_MM, height_mm * POINT_MM))
        self._canvas.setLineCap(1)
        self._canvas.setLineJoin(1)
        self._height, self._open = height_mm, True

    def path(
        self,
        points: FloatArray,
        *,
        closed: bool = False,
        width_mm: float = 0.3,
        colour: str | None = "#000000",
        fill: str | None = None,
        dash_mm: Sequence[float] = (),
        clear: float = 1.0,
    ) -> None:
        """Draw a polyline ``(n, 2)``; ``colour`` None draws no line, ``fill`` paints what a closed one holds.

        ``clear``: how much that paint covers.
        """
        self.rings([points], closed=closed, width_mm=width_mm, colour=colour, fill=fill, dash_mm=dash_mm, clear=clear)

    def rings(
        self,
        rings: Sequence[FloatArray],
        *,
        closed: bool = True,
        width_mm: float = 0.3,
        colour: str | None = "#000000",
        fill: str | None = None,
        dash_mm: Sequence[float] = (),
        clear: float = 1.0,
    ) -> None:
        """Draw polylines as one shape: what an even number of closed ones surround stays unpainted."""
        pdf, drawn = self._canvas, self._canvas.beginPath()
        for ring in rings:
            at = self._points(ring)
            drawn.moveTo(*at[0])
            for x, y in at[1:]:
                drawn.lineTo(x, y)
            if closed:
                drawn.close()
        if colour is not None:
            pdf.setStrokeColor(HexColor(colour))
            pdf.setLineWidth(width_mm * POINT_MM)
            pdf.setDash([d * POINT_MM for d in dash_mm])
        if fill is not None:
            pdf.setFillColor(HexColor(fill))
            if clear < 1:
                pdf.setFillAlpha(clear)
        pdf.drawPath(drawn, stroke=int(colour is not None), fill=int(fill is not None), fillMode=0)
        if clear < 1:
            pdf.setFillAlpha(1)

    def dot(self, x: float, y: float, radius_mm: float, colour: str = "#000000") -> None:
        """Draw a filled disc."""
        self._canvas.setFillColor(HexColor(colour))
        at = self._points(np.array([(x, y)]))[0]
        self._canvas.circle(at[0], at[1], radius_mm * POINT_MM, stroke=0, fill=1)

    def words(
        self,
        x: float,
        y: float,
        text: str,
        size_mm: float,
        *,
        bold: bool = False,
        anchor: str = "start",
        colour: str = "#222222",
        turned: bool = False,
    ) -> None:
        """Write one line of words on its base line; ``anchor`` is start, middle or end; turned, it reads upwards."""
        self._canvas.setFillColor(HexColor(colour))
        self._canvas.setFont(BOLD if bold else PLAIN, size_mm * POINT_MM)
        put = {
            "start": self._canvas.drawString,
            "middle": self._canvas.drawCentredString,
            "end": self._canvas.drawRightString,
        }[anchor]
        if not turned:
            put(x * POINT_MM, (self._height - y) * POINT_MM, _written(text))
            return
        self._canvas.saveState()
        self._canvas.translate(x * POINT_MM, (self._height - y) * POINT_MM)
        self._canvas.rotate(90)
        put(0, 0, _written(text))
        self._canvas.restoreState()

    def width_of(self, text: str, size_mm: float, *, bold: bool = False) -> float:
        """Return how wide a line of words is, mm."""
        return float(pdfmetrics.stringWidth(_written(text), BOLD if bold else PLAIN, size_mm))

    def picture(self, data: bytes, x: float, y: float, width_mm: float, height_mm: float) -> None:
        """Place a PNG or JPEG with its upper left corner at a place."""
        self._canvas.drawImage(
            ImageReader(io.BytesIO(data)),
            x * POINT_MM,
            (self._height - y - height_mm) * POINT_MM,
            width_mm * POINT_MM,
            height_mm * POINT_MM,
        )

    def begin_window(self, x: float, y: float, width_mm: float, height_mm: float, shift: tuple[float, float]) -> None:
        """Cut all that follows off outside a window, and move it by ``shift``; `end_window` ends this."""
        pdf = self._canvas
        pdf.saveState()
        window = pdf.beginPath()
        window.rect(x * POINT_MM, (self._height - y - height_mm) * POINT_MM, width_mm * POINT_MM, height_mm * POINT_MM)
        pdf.clipPath(window, stroke=0, fill=0)
        pdf.translate(shift[0] * POINT_MM, -shift[1] * POINT_MM)

    def end_window(self) -> None:
        """End the window."""
        self._canvas.restoreState()

    def finish(self) -> bytes:
        """Return the file."""
        self._canvas.showPage()
        self._canvas.save()
        return self._file.getvalue()

    def _points(self, path: FloatArray) -> list[tuple[float, float]]:
        turned = np.column_stack([path[:, 0], self._height - path[:, 1]]) * POINT_MM
        return [(x, y) for x, y in np.round(turned, 4).tolist()]
