"""Line art: every outline and line is a seam, and every face between them a patch."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from shapely import Polygon

from ..codes import FindingCode
from ..drawing import Drawing, Shape
from ..geometry import close_ring, covering, dedupe, faces, gaps_at_ends, is_thin, snap_together
from ..model import Finding, FloatArray, as_path
from ..units import Unit, format_length

__all__ = ["GapsFound", "faces_between", "gap_finding", "gap_words", "gaps_between", "said_of_lines"]

MOST_GAP_MM = 12.7
"""An end that lies further than 1/2 in from any other line hangs free; it is no gap."""

STEP_MM = 25.4 / 32
"""Proposed closing distances are whole thirty-seconds of an inch."""

TOUCH_MM = 1e-3
"""Ends that lie this near a line lie on it."""


@dataclass(frozen=True, slots=True)
class GapsFound:
    """Ends of lines that meet nothing: how many, how far the farthest is, and the distance that closes them."""

    count: int
    widest_mm: float
    closing_mm: float


def faces_between(drawing: Drawing, *, within_mm: float) -> list[Shape]:
    """Return every face between the lines of a drawing as a shape, thin ones left out; none between no lines.

    A face is called by the shape it lies in: the filled one on top, else the smallest; else ``patch``.
    """
    paths, closed = _paths(drawing)
    if not paths:
        return []
    snapped = snap_together(paths, closed, range(len(paths)), within_mm=within_mm)
    table = faces([close_ring(p) if c and len(p) > 2 else p for p, c in zip(snapped.paths, closed)])
    regions = [r for r in table.regions if not is_thin(r, within_mm)]
    drawn = [Polygon(s.shell, s.holes) for s in drawing.shapes]
    sound = [k for k, p in enumerate(drawn) if p.is_valid]
    found = covering(regions, [drawn[k] for k in sound])
    out = []
    for region, cover in zip(regions, found):
        name, colour = _called([sound[k] for k in cover], drawing.shapes, drawn)
        shell = as_path(dedupe(np.asarray(region.exterior.coords)[:-1], closed=True))
        holes = tuple(as_path(np.asarray(r.coords)[:-1]) for r in region.interiors)
        out.append(Shape(name, shell, holes, colour))
    return out


def _called(cover: Sequence[int], shapes: Sequence[Shape], drawn: Sequence[Polygon]) -> tuple[str, str | None]:
    filled = [k for k in cover if shapes[k].filled]
    if not cover:
        return "patch", None
    k = max(filled) if filled else min(cover, key=lambda i: drawn[i].area)
    name = shapes[k].name
    return ("patch" if re.fullmatch(r"patch-\d+", name) else name), shapes[k].colour


def _paths(drawing: Drawing) -> tuple[list[FloatArray], list[bool]]:
    rings = [r for s in drawing.shapes for r in (s.shell, *s.holes)]
    lines = [line.path for line in drawing.lines if not line.bare]
    return [*rings, *lines], [True] * len(rings) + [False] * len(lines)


def gaps_between(drawing: Drawing, *, within_mm: float) -> GapsFound | None:
    """Return the gaps that ``within_mm`` leaves between ends of lines and other lines; None when there are none."""
    paths, closed = _paths(drawing)
    least = gaps_at_ends(paths, closed, most_mm=MOST_GAP_MM)
    gaps = least[np.isfinite(least) & (least > max(within_mm, TOUCH_MM))]
    if not len(gaps):
        return None
    widest = float(gaps.max())
    return GapsFound(len(gaps), widest, STEP_MM * math.ceil(widest / STEP_MM - 1e-6))


def said_of_lines(drawing: Drawing, *, within_mm: float, unit: Unit = "in") -> str | None:
    """Return what reading a drawing as lines would give, as a way out; None when it would give nothing."""
    count = len(faces_between(drawing, within_mm=within_mm))
    gaps = gaps_between(drawing, within_mm=within_mm)
    if gaps:
        closed = len(faces_between(drawing, within_mm=gaps.closing_mm))
        if closed > count:
            size = format_length(gaps.closing_mm, unit)
            return (
                f'Write read = "lines" and close_gaps = "{size}" below [top]: that closes {gap_words(gaps)} and makes '
                f"{_patches(closed)} of the faces between the lines."
            )
    if count:
        return f'Write read = "lines" below [top]: the faces between the lines make {_patches(count)}.'
    return None


def gap_words(gaps: GapsFound) -> str:
    """Return "the gap" or "all 41 gaps"."""
    return "the gap" if gaps.count == 1 else f"all {gaps.count} gaps"


def _patches(n: int) -> str:
    return "1 patch" if n == 1 else f"{n} patches"


def gap_finding(gaps: GapsFound, unit: Unit) -> Finding:
    """Return the warning of ends that meet nothing, with the distance that would do."""
    size = format_length(gaps.closing_mm, unit)
    return Finding(
        FindingCode.LINES_APART,
        "warning",
        None,
        f"{gaps.count} {'end' if gaps.count == 1 else 'ends'} of lines {'meets' if gaps.count == 1 else 'meet'} no "
        f"other line, by up to {format_length(gaps.widest_mm, unit)}",
        f'Write close_gaps = "{size}" below [top]: that closes {gap_words(gaps)}.',
    )
