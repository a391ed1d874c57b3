"""Reading DXF drawings: closed lines are outlines, hatches are fills, loose lines are seams; layers give the names."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path as FilePath

import numpy as np

from ..codes import FindingCode
from ..errors import DrawingError
from ..geometry import dedupe
from ..model import Finding
from .dxf_files import DxfOutline, open_document, outlines_of
from .marks import Mark, Sheet, Track
from .names import is_made_up_layer
from .said import count_of, were
from .xml_file import read_bytes

__all__ = ["dxf_sheet"]

GUESSED_MM = 1000.0
"""The longer side of a drawing that says no unit, until she says its size."""

FLAT_SHARE = 1e-5
"""Curves stray from their chords by at most this share of the drawing's longer side: 0.02 mm of a quilt of 2 m."""

MOST_POINTS = 2_000_000
MOST_MM = 1e6
"""Limits that no quilt comes near; beyond them a file is a mistake or an attack."""

SAME_SHARE = 1e-6
"""Ends that lie this near, as a share of the longer side, are one point."""


def dxf_sheet(path: FilePath, *, unit_mm: float | None = None) -> Sheet:
    """Return the marks of a DXF file in the unit of its header, or with ``unit_mm`` millimetres in a unit.

    Raises
    ------
    DrawingError
        The file can't be read, or exceeds a limit.
    """
    file = path.name
    try:
        document, said_mm = open_document(read_bytes(path), mended=True)
        low, high = _extent(outlines_of(document, tolerance=1.0, most_points=MOST_POINTS).outlines)
        longest = float((high - low).max())
        page = outlines_of(document, tolerance=max(longest * FLAT_SHARE, 1e-9), most_points=MOST_POINTS)
    except ValueError as error:
        raise DrawingError(str(error), file=file, what_to_do="Save it again as DXF, or as plain SVG.") from None
    scale = unit_mm or said_mm or (GUESSED_MM / longest if longest > 0 else 1.0)
    if longest * scale > MOST_MM:
        raise DrawingError(f"is more than {MOST_MM / 1e6:g} km large", file=file, what_to_do="Check its units.")
    outlines = _loops_joined(page.outlines, SAME_SHARE * longest)
    marks = [_mark(outline, low[0], high[1], scale, longest) for outline in outlines]
    sheet = Sheet(file, [m for m in marks if m.tracks], None, scale, unit_mm is not None or said_mm is not None)
    sheet.origin = (-float(low[0]) * scale, float(high[1]) * scale)
    sheet.outlines = any(not t.closed for m in sheet.marks for t in m.tracks)
    if page.undrawn:
        what = count_of(page.undrawn, "text, dimension or the like", "texts, dimensions and the like")
        text = f"{what} {were(page.undrawn)} left out"
        sheet.findings.append(Finding(FindingCode.NOT_READ, "note", None, text, "Draw what must be stitched as lines."))
    return sheet


def _loops_joined(outlines: Sequence[DxfOutline], near: float) -> list[DxfOutline]:
    """Return outlines with lines that follow one another on a layer, end to start, back to the first as one ring.

    Where some lines close no ring, they are seams: all stay as they are.
    """
    out: list[DxfOutline] = []
    loop: list[DxfOutline] = []
    for outline in outlines:
        if len(outline.paths) != 1 or outline.closed[0] or len(outline.paths[0]) < 2:
            out.append(outline)
            continue
        if loop and not (outline.layer == loop[0].layer and _meet(loop[-1], outline, near)):
            return list(outlines)
        loop.append(outline)
        if len(loop) > 2 and _meet(outline, loop[0], near):
            ring = np.vstack([o.paths[0][:-1] for o in loop])
            out.append(replace(loop[0], paths=(np.vstack([ring, ring[:1]]),), closed=(True,)))
            loop = []
    return list(outlines) if loop else out


def _meet(one: DxfOutline, other: DxfOutline, near: float) -> bool:
    return bool(np.hypot(*(one.paths[0][-1] - other.paths[0][0])) <= near)


def _extent(outlines: tuple[DxfOutline, ...]) -> tuple[np.ndarray, np.ndarray]:
    points = [p for o in outlines for p in o.paths if len(p)]
    if not points:
        return np.zeros(2), np.zeros(2)
    xy = np.vstack(points)
    return xy.min(axis=0), xy.max(axis=0)


def _mark(outline: DxfOutline, left: float, top: float, scale: float, longest: float) -> Mark:
    tracks = []
    for xy, closed in zip(outline.paths, outline.closed):
        ends = float(np.hypot(*(xy[0] - xy[-1])))
        shut = closed or (len(xy) > 3 and ends <= SAME_SHARE * longest)
        path = np.column_stack([xy[:, 0] - left, top - xy[:, 1]]) * scale
        if shut and ends <= SAME_SHARE * longest:
            path = path[:-1]
        path = dedupe(path, closed=shut)
        if len(path) > 1:
            tracks.append(Track(path, shut and len(path) > 2))
    return Mark(
        tracks=tuple(tracks),
        filled=outline.filled,
        stroked=not outline.filled,
        evenodd=True,
        colour=outline.colour if outline.filled else None,
        stroke=outline.colour,
        layer=None if is_made_up_layer(outline.layer) else outline.layer,
    )
