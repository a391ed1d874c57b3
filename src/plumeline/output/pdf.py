"""PDF pages at true size: the one place that writes them. Millimetres, y down from the top, fonts embedded."""

from __future__ import annotations

import io
from collections.abc import Sequence
from typing import Any

from reportlab.lib.colors import HexColor
from reportlab.lib.utils import ImageReader
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas

from ..drawing.raster import Pixels, png_bytes
from ..model import FloatArray
from ._names import ascii_text, visible

__all__ = ["PT_MM", "PdfPages"]

PT_MM = 72 / 25.4
"""Points, the unit of the format, in a millimetre."""

PLAIN, BOLD = "Vera", "VeraBd"
"""Free fonts that come with the library; only the letters used go into the file."""


class PdfPages:
    """A PDF file in the making: `page` begins one, the other calls draw on it, `data` gives the file.

    The same calls give the same bytes. Colours are ``#rrggbb``; widths, sizes and places are mm.

    Examples
    --------
    >>> pages = PdfPages("Two lines")
    >>> pages.page(215.9, 279.4)
    >>> pages.text(20, 20, "Print at 100 %", 4)
    >>> pages.data()[:5]
    b'%PDF-'
    """

    def __init__(self, title: str) -> None:
        for name in (PLAIN, BOLD):
            if name not in pdfmetrics.getRegisteredFontNames():
                pdfmetrics.registerFont(TTFont(name, f"{name}.ttf"))
        self._out = io.BytesIO()
        self._canvas: Any = Canvas(self._out, invariant=1, pageCompression=1, initialFontName=PLAIN)
        self._canvas.setTitle(visible(title))
        self._canvas.setCreator("plumeline")
        self._height = 0.0
        self._pages = 0

    def page(self, width_mm: float, height_mm: float) -> None:
        """Begin a page of this size."""
        if self._pages:
            self._canvas.showPage()
        self._canvas.setPageSize((width_mm * PT_MM, height_mm * PT_MM))
        # from here on the page's own unit is the millimetre, from its lower left corner
        self._canvas.scale(PT_MM, PT_MM)
        self._height = height_mm
        self._pages += 1

    def picture(self, pixels: Pixels, x: float, y: float, width_mm: float, height_mm: float) -> None:
        """Draw pixels ``(rows, cols, 3)`` into a box, given by its upper left corner and size."""
        # an image of its own for each call: the library remembers pictures by name
        image = ImageReader(io.BytesIO(png_bytes(pixels)))
        self._canvas.drawImage(image, x, self._height - y - height_mm, width_mm, height_mm)

    def path(
        self,
        points: FloatArray,
        *,
        closed: bool = False,
        stroke: str | None = "#222222",
        width_mm: float = 0.3,
        fill: str | None = None,
        dash: Sequence[float] = (),
    ) -> None:
        """Draw a path ``(n, 2)``; with one point or none nothing is drawn."""
        if len(points) < 2:
            return
        pen = self._canvas
        pen.saveState()
        pen.setLineWidth(width_mm)
        pen.setLineCap(1)
        pen.setLineJoin(1)
        pen.setDash(list(dash))
        if stroke is not None:
            pen.setStrokeColor(_colour(stroke))
        if fill is not None:
            pen.setFillColor(_colour(fill))
        drawn = pen.beginPath()
        (x, y), *rest = points.tolist()
        drawn.moveTo(x, self._height - y)
        for x, y in rest:
            drawn.lineTo(x, self._height - y)
        if closed:
            drawn.close()
        pen.drawPath(drawn, stroke=int(stroke is not None), fill=int(fill is not None))
        pen.restoreState()

    def text(
        self,
        x: float,
        y: float,
        words: str,
        size_mm: float,
        *,
        bold: bool = False,
        anchor: str = "start",
        colour: str = "#222222",
    ) -> None:
        """Write one line of words; ``y`` is its base line, ``anchor`` start, middle or end."""
        pen = self._canvas
        pen.setFont(BOLD if bold else PLAIN, size_mm)
        pen.setFillColor(_colour(colour))
        write = {"start": pen.drawString, "middle": pen.drawCentredString, "end": pen.drawRightString}[anchor]
        write(x, self._height - y, self._known(words))

    def text_width(self, words: str, size_mm: float, *, bold: bool = False) -> float:
        """Return how wide a line of words is, mm."""
        return float(pdfmetrics.stringWidth(self._known(words), BOLD if bold else PLAIN, size_mm))

    def data(self) -> bytes:
        """Return the file; nothing more can be drawn."""
        self._canvas.save()
        return self._out.getvalue()

    @staticmethod
    def _known(words: str) -> str:
        """Return words in letters that the font has: the nearest plain ones for those that it lacks."""
        has = pdfmetrics.getFont(PLAIN).face.charToGlyph
        return "".join(c if ord(c) in has else ascii_text(c) for c in visible(words))


def _colour(text: str) -> Any:
    return HexColor(text)
