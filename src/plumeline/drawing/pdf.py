"""Reading one page of a PDF: its paths at true size. The only file that imports the PDF reader."""

from __future__ import annotations

import ctypes
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path as FilePath
from typing import Any

import numpy as np
import pypdfium2
import pypdfium2.raw as pdf
from shapely.geometry.base import BaseGeometry

from ..codes import FindingCode
from ..errors import DrawingError
from ..geometry import area_within, common_area, dedupe, painted_regions
from ..model import Finding, FloatArray
from ..tolerances import READ_MM
from .marks import Mark, Sheet, Track
from .path_data import flatten_path_data
from .xml_file import read_bytes

__all__ = ["pdf_sheet"]

POINT_MM = 25.4 / 72
FLATTEN_MM = 0.05
MOST_OBJECTS = 50_000
MOST_POINTS = 2_000_000
MOST_NESTED = 20
"""Limits that no quilt comes near; beyond them a file is a mistake or an attack."""


@dataclass(slots=True)
class _Page:
    """Reads the objects of one page."""

    file: str
    scale: float
    tolerance: float
    marks: list[Mark] = field(default_factory=list)
    objects: int = 0
    points: int = 0
    undrawn: int = 0

    def read(self, objects: Iterator[Any], to_page: FloatArray, depth: int) -> None:
        for item in objects:
            self.objects += 1
            if self.objects > MOST_OBJECTS or depth > MOST_NESTED:
                raise DrawingError("holds too many objects", file=self.file, what_to_do="Simplify the page.")
            kind = pdf.FPDFPageObj_GetType(item)
            if kind == pdf.FPDF_PAGEOBJ_PATH:
                self.path(item, to_page)
            elif kind == pdf.FPDF_PAGEOBJ_FORM:
                inner = to_page @ _matrix(item)
                count = pdf.FPDFFormObj_CountObjects(item)
                self.read((pdf.FPDFFormObj_GetObject(item, k) for k in range(count)), inner, depth + 1)
            else:
                self.undrawn += 1

    def path(self, item: Any, to_page: FloatArray) -> None:
        mode, stroke = ctypes.c_int(), ctypes.c_int()
        pdf.FPDFPath_GetDrawMode(item, mode, stroke)
        fill, line = _colour(pdf.FPDFPageObj_GetFillColor, item), _colour(pdf.FPDFPageObj_GetStrokeColor, item)
        filled = bool(mode.value) and (fill is None or fill[1] > 0)
        stroked = bool(stroke.value) and (line is None or line[1] > 0)
        count = pdf.FPDFPath_CountSegments(item)
        data = _data(pdf.FPDFPath_GetPathSegment(item, k) for k in range(count))
        tracks = self.tracks(data, to_page @ _matrix(item), filled)
        if not tracks or not (filled or stroked):
            return
        self.marks.append(
            Mark(
                tracks=tuple(tracks),
                filled=filled,
                stroked=stroked,
                evenodd=mode.value == pdf.FPDF_FILLMODE_ALTERNATE,
                colour=fill[0] if fill and filled else None,
                stroke=line[0] if line and stroked else None,
                cloth="plain" if fill else "figured",
                clip=self.clip(item, to_page),
            )
        )

    def tracks(self, data: str, matrix: FloatArray, filled: bool) -> list[Track]:
        if not data or not np.isfinite(matrix).all():
            return []
        grow = float(np.linalg.norm(matrix[:2, :2], 2)) or 1.0
        try:
            subs = flatten_path_data(data, tolerance=self.tolerance / grow, most_points=MOST_POINTS - self.points)
        except ValueError as error:
            raise DrawingError(str(error), file=self.file, what_to_do="Save the page as plain SVG.") from None
        out = []
        for sub in subs:
            xy = (sub.points @ matrix[:2, :2].T + matrix[:2, 2]) * self.scale
            self.points += len(xy)
            gap = float(np.hypot(*(xy[-1] - xy[0])))
            closed = sub.closed or (len(xy) > 3 and gap <= READ_MM) or (filled and len(xy) > 2)
            if closed and gap <= READ_MM and len(xy) > 1:
                xy = xy[:-1]
            path = dedupe(xy, closed=closed)
            if len(path) > 1:
                shut = closed and len(path) > 2
                out.append(Track(path, shut, 0.0 if sub.closed else gap if shut and gap > READ_MM else 0.0))
        return out

    def clip(self, item: Any, to_page: FloatArray) -> BaseGeometry | None:
        shape = pdf.FPDFPageObj_GetClipPath(item)
        count = pdf.FPDFClipPath_CountPaths(shape) if shape else 0
        shown: BaseGeometry | None = None
        for k in range(max(count, 0)):
            segments = range(pdf.FPDFClipPath_CountPathSegments(shape, k))
            data = _data(pdf.FPDFClipPath_GetPathSegment(shape, k, s) for s in segments)
            rings = [t.path for t in self.tracks(data, to_page, True)]
            region = common_area(painted_regions(rings))
            shown = region if shown is None else area_within(shown, region)
        return shown


def pdf_sheet(path: FilePath, *, unit_mm: float | None = None, page: int | None = None) -> Sheet:
    """Return the marks of one page of a PDF at true size, or with ``unit_mm`` millimetres in a point.

    Raises
    ------
    DrawingError
        The file can't be read, it has several pages and none was named, or it exceeds a limit.
    """
    file = path.name
    try:
        document = pypdfium2.PdfDocument(read_bytes(path))
    except pypdfium2.PdfiumError as error:
        raise DrawingError(
            f"is no readable PDF ({error})", file=file, what_to_do="Save it again, without a password."
        ) from None
    try:
        count = len(document)
        if page is None and count > 1:
            raise DrawingError(
                f"has {count} pages",
                file=file,
                what_to_do="Say which one below [top], as page = 1 (new, fill and inspect take --page 1).",
            )
        if not 1 <= (page or 1) <= count:
            raise DrawingError(f"has {count} pages, no page {page}", file=file, key="top.page")
        return _sheet(document[(page or 1) - 1], file, unit_mm)
    finally:
        document.close()


def _sheet(page: Any, file: str, unit_mm: float | None) -> Sheet:
    scale = unit_mm or POINT_MM
    left, bottom, right, top = page.get_bbox()
    turned = page.get_rotation()
    width, height = right - left, top - bottom
    flip = np.array([[1, 0, -left], [0, -1, top], [0, 0, 1]], dtype=np.float64)
    turn = {
        0: np.eye(3),
        90: np.array([[0, -1, height], [1, 0, 0], [0, 0, 1]]),
        180: np.array([[-1, 0, width], [0, -1, height], [0, 0, 1]]),
        270: np.array([[0, 1, 0], [-1, 0, width], [0, 0, 1]]),
    }[turned]
    reader = _Page(file, scale, FLATTEN_MM / scale)
    count = pdf.FPDFPage_CountObjects(page)
    reader.read((pdf.FPDFPage_GetObject(page, k) for k in range(count)), turn @ flip, 0)
    if turned in (90, 270):
        width, height = height, width
    sheet = Sheet(file, reader.marks, (width * scale, height * scale), scale, True)
    if reader.undrawn:
        text = f"{reader.undrawn} texts, pictures and shadings were left out"
        sheet.findings.append(
            Finding(FindingCode.NOT_READ, "note", None, text, "Turn what must be stitched into paths.")
        )
    return sheet


def _matrix(item: Any) -> FloatArray:
    m = pdf.FS_MATRIX()
    pdf.FPDFPageObj_GetMatrix(item, m)
    return np.array([[m.a, m.c, m.e], [m.b, m.d, m.f], [0, 0, 1]], dtype=np.float64)


def _colour(get: Callable[..., Any], item: Any) -> tuple[str, int] | None:
    # colour and opacity (0 to 255); None for a pattern
    red, green, blue, alpha = (ctypes.c_uint() for _ in range(4))
    if not get(item, red, green, blue, alpha):
        return None
    return f"#{red.value:02x}{green.value:02x}{blue.value:02x}", alpha.value


def _data(segments: Iterator[Any]) -> str:
    # as path data; the reader hands over the three points of a curve one by one
    out: list[str] = []
    waiting: list[str] = []
    x, y = ctypes.c_float(), ctypes.c_float()
    for segment in segments:
        pdf.FPDFPathSegment_GetPoint(segment, x, y)
        kind, point = pdf.FPDFPathSegment_GetType(segment), f"{x.value!r} {y.value!r}"
        if kind == pdf.FPDF_SEGMENT_BEZIERTO:
            waiting.append(point)
            if len(waiting) == 3:
                out.append("C" + " ".join(waiting))
                waiting = []
        else:
            out.append(("M" if kind == pdf.FPDF_SEGMENT_MOVETO else "L") + point)
        if pdf.FPDFPathSegment_GetClose(segment):
            out.append("Z")
    return "".join(out)
