"""What on a sheet is the page and what lies beside it: neither is cloth."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
from shapely import Polygon

from ..codes import FindingCode
from ..geometry import common_area, painted_regions
from ..model import Finding, FloatArray, Path
from ..units import format_area, format_length
from .colours import colour_word
from .marks import Mark, Sheet
from .said import count_of, were

__all__ = ["Seen", "Stroke", "on_page", "without_ground"]

PAGE_SHARE = 0.01
"""A rectangle that misses the page's edges by at most this share of its sides is the page."""

SOLID_SHARE = 0.9
"""Shapes that fill this much of the box round them are a whole that lies on a page, not motifs on cloth."""

NO_BORDER_MM = 6.35
"""Nobody pieces a border of less than 1/4 in: so narrow a frame of a white ground is the paper."""


@dataclass(slots=True, eq=False)
class Seen:
    """One closed piece of a mark: its region and the mark's place in the order of painting."""

    region: Polygon
    mark: Mark
    filled: bool
    order: int
    path: Path | None = None
    """As drawn, where it is one plain ring: kept to the bit."""

    open_ended: bool = False


@dataclass(slots=True, eq=False)
class Stroke:
    """One open line of a mark, or an outline that nothing paints (``bare``)."""

    path: Path
    mark: Mark
    order: int
    part: int = 0
    bare: bool = False


def without_ground(seen: list[Seen], sheet: Sheet) -> list[Seen]:
    """Return what is seen without a ground that is the page, which is noted."""
    boxes = [np.array(s.region.bounds) for s in seen]
    page = None if sheet.page is None else np.array([0.0, 0.0, *sheet.page])

    def is_ground(k: int) -> bool:
        s, box = seen[k], boxes[k]
        plain = s.filled and not s.mark.name and s.region.area >= 0.999 * float(np.prod(box[2:] - box[:2]))
        if not plain:
            return False
        if page is not None and _within(box, page, -PAGE_SHARE * float(max(page[2:]))):
            return True
        rest = boxes[k + 1 :]  # on the page there may lie the white ground of a chart, which shows all round
        return (
            k > 0
            and _is_white(s)
            and len(rest) > 1
            and _within(box, _round(rest), PAGE_SHARE * float((box[2:] - box[:2]).max()))
        )

    grounds = list(itertools.takewhile(is_ground, range(len(seen))))
    others = seen[len(grounds) :]
    if not grounds or len(others) < 2:
        return seen
    box, ground = _round(boxes[len(grounds) :]), boxes[grounds[0]]
    margin = np.concatenate([box[:2] - ground[:2], ground[2:] - box[2:]])
    white = all(_is_white(seen[k]) for k in grounds)
    narrow = white and 0 < margin.min() <= margin.max() < NO_BORDER_MM
    if not narrow and margin.min() < PAGE_SHARE * float((ground[2:] - ground[:2]).max()):
        return seen  # no margin shows all round: what shows of the ground is cloth
    as_page = page is not None and all(_within(boxes[k], page, -PAGE_SHARE * float(max(page[2:]))) for k in grounds)
    if not (white and as_page and not narrow):
        solid = common_area(_whole(others)).area / float(np.prod(box[2:] - box[:2]))
        if solid < SOLID_SHARE:
            return seen
    width, height = (ground[2:] - ground[:2]).tolist()
    _note(
        sheet,
        FindingCode.PAGE_GROUND,
        f"a ground {'as large as the page' if as_page else 'behind everything'} ({format_length(width, sheet.unit)} x "
        f"{format_length(height, sheet.unit)}) was taken for the page and left out",
        "Give it a name in the drawing if it is a patch.",
    )
    return others


def _is_white(s: Seen) -> bool:
    return s.mark.colour is None or colour_word(s.mark.colour) == "white"


def _round(boxes: list[FloatArray]) -> FloatArray:
    # the box round boxes
    every = np.array(boxes)
    return np.concatenate([every[:, :2].min(axis=0), every[:, 2:].max(axis=0)])


def _within(outer: FloatArray, inner: FloatArray, margin: float) -> bool:
    # whether a box lies in another with so much room all round; less than nothing: it may stand out by so much
    return bool((inner[:2] - outer[:2] >= margin).all() and (outer[2:] - inner[2:] >= margin).all())


def on_page(seen: list[Seen], strokes: list[Stroke], sheet: Sheet) -> tuple[list[Seen], list[Stroke]]:
    """Return what is seen without what lies beside the page, which is noted."""
    if sheet.page is None:
        return seen, strokes
    width, height = sheet.page

    def beside(low: FloatArray, high: FloatArray) -> bool:
        return bool(high[0] <= 0 or high[1] <= 0 or low[0] >= width or low[1] >= height)

    off = [beside(np.array(s.region.bounds[:2]), np.array(s.region.bounds[2:])) for s in seen]
    lines_off = [beside(line.path.min(axis=0), line.path.max(axis=0)) for line in strokes]
    away = sum(s.region.area for s, o in zip(seen, off) if o)
    if not any(off) or 2 * away > sum(s.region.area for s in seen):
        return seen, strokes
    left = sum(off)
    _note(
        sheet,
        FindingCode.OFF_PAGE,
        f"{count_of(left, 'shape')} ({format_area(away, sheet.unit)}) {'lies' if left == 1 else 'lie'} beside the "
        f"page and {were(left)} left out",
        "Move it onto the page if it is a patch.",
    )
    return [s for s, o in zip(seen, off) if not o], [line for line, o in zip(strokes, lines_off) if not o]


def _whole(seen: list[Seen]) -> list[Polygon]:
    # without holes; what crosses itself counts as its parts
    rings = [Polygon(s.region.exterior) for s in seen]
    return [part for ring in rings for part in ([ring] if ring.is_valid else painted_regions([_open(ring)]))]


def _open(ring: Polygon) -> FloatArray:
    return np.asarray(ring.exterior.coords)[:-1]


def _note(sheet: Sheet, code: FindingCode, text: str, what_to_do: str) -> None:
    sheet.findings.append(Finding(code, "note", None, text, what_to_do))
