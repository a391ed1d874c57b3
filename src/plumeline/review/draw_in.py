"""What the relief tells: how much the quilting draws the top in, what stands up, what lies flat (all estimates)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

import numpy as np
from numpy.typing import NDArray
from shapely import Polygon

from ..codes import FindingCode
from ..geometry import close_ring, contains, rings, subtract
from ..model import Batting, Filled, Finding, FloatArray, Relief, Zone
from ..units import Unit, format_length
from .loft import Grid, draw_in, inside_grid

__all__ = ["LoftFigures", "LoftPlace", "LoftRow", "loft_figures", "loft_findings"]

INCH_MM = 25.4

FLAT, PUFFED = 0.25, 0.75
"""Cloth below the one share of the loft lies flat, above the other it puffs."""

PLACE_MM = 50.8
"""Side of the squares that are compared to find the flattest and the puffiest place."""

FULLER_SHARE, FULLER_MM = 0.0075, 6.0
"""An edge fuller than the middle by this share of its length, and by this, will ripple (common practice)."""

EDGE_MM = 76.2
"""How deep the strip is that counts as the edge."""

BORDER_CLOSER = "Quilt the border closer, or the middle more openly; else ease the edge in when you bind it."
BORDER_OPENER = "Quilt the border more openly, or the middle closer."

TIGHTER, TIGHTER_POINTS = 1.4, 0.5
"""A space that draws in so many times as much as its like, and by so many points of a percent more, is worth a note."""

NOTE = "Every figure is an estimate from the batting's loft; washing comes on top."


@dataclass(frozen=True, slots=True, kw_only=True)
class LoftRow:
    """How one zone stands up; ``stands_up``: height of its motif over that of the ground behind it, or None."""

    name: str
    part: str
    number: int
    height_mm: float
    flat_percent: float
    puffed_percent: float
    draw_in_percent: float
    stands_up: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class LoftPlace:
    """A square of 2 in, by its middle, and how high the cloth stands there."""

    at_mm: tuple[float, float]
    height_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LoftFigures:
    """How the quilted top stands up and draws in; lengths in mm, every figure an estimate.

    Attributes
    ----------
    across_mm, down_mm : tuple of float
        What the top loses of its width in each inch from the top edge down, and of its height in each inch from the
        left.
    flattest, puffiest : LoftPlace
        Where the cloth lies flattest and stands highest.
    """

    note: str
    batting: str
    loft_mm: float
    range_mm: float
    width_mm: float
    height_mm: float
    finished_width_mm: float
    finished_height_mm: float
    draw_in_percent: float
    flat_percent: float
    puffed_percent: float
    flattest: LoftPlace
    puffiest: LoftPlace
    across_mm: tuple[float, ...]
    down_mm: tuple[float, ...]
    zones: tuple[LoftRow, ...]


def loft_figures(
    field: Relief, size: tuple[float, float], batting: Batting, zones: Sequence[Zone], filled: Sequence[Filled]
) -> LoftFigures:
    """Return what a relief of a whole top tells.

    Parameters
    ----------
    field : Relief
        Of the whole top.
    size : (width, height)
        The top before quilting, mm.
    batting : Batting
        What the plan says of it.
    zones, filled : sequence
        One a zone; where a stack put a ground behind a motif, how far the motif stands up is measured.

    Returns
    -------
    LoftFigures
        Finished size, draw-in by row, column and zone, flat and puffed places.
    """
    width, height = size
    lost = draw_in(field)
    across, down = _by_inch(lost[0], field.step_mm), _by_inch(lost[1].T, field.step_mm)
    cloth = field.height > 0
    share = field.height[cloth] / field.loft_mm
    flattest, puffiest = _places(field, cloth)
    return LoftFigures(
        note=NOTE,
        batting=batting.kind if batting.sample is None else f"{batting.kind}, by her sample",
        loft_mm=field.loft_mm,
        range_mm=field.range_mm,
        width_mm=width,
        height_mm=height,
        finished_width_mm=width * (1 - _percent(lost[0][cloth]) / 100),
        finished_height_mm=height * (1 - _percent(lost[1][cloth]) / 100),
        draw_in_percent=_percent(lost[0][cloth] + lost[1][cloth]) / 2,
        flat_percent=_percent(share < FLAT),
        puffed_percent=_percent(share > PUFFED),
        flattest=flattest,
        puffiest=puffiest,
        across_mm=tuple(across.tolist()),
        down_mm=tuple(down.tolist()),
        zones=tuple(_row(field, lost, zone, one) for zone, one in zip(zones, filled)),
    )


def _percent(values: NDArray[np.float32] | NDArray[np.bool_]) -> float:
    return 100 * float(np.mean(values)) if values.size else 0.0


def _by_inch(lost: NDArray[np.float32], step_mm: float) -> FloatArray:
    """Return the mean loss of a row, mm, for each inch of rows."""
    rows = lost.sum(axis=1, dtype=np.float64) * step_mm
    inch = ((np.arange(len(rows)) + 0.5) * step_mm // INCH_MM).astype(int)
    inch = np.minimum(inch, max(0, round(len(rows) * step_mm / INCH_MM) - 1))  # a narrow rest goes with the last
    out: FloatArray = np.bincount(inch, rows) / np.bincount(inch)
    return out


def _places(field: Relief, cloth: NDArray[np.bool_]) -> tuple[LoftPlace, LoftPlace]:
    """Return the flattest and the puffiest square of those that lie on the cloth whole (a small top is one square)."""
    side = max(1, round(PLACE_MM / field.step_mm))
    rows, cols = (max(1, n // side) for n in field.height.shape)
    high, wide = (min(side, n) for n in field.height.shape)

    def means(grid: NDArray[np.generic]) -> FloatArray:
        blocks = grid[: rows * high, : cols * wide].reshape(rows, high, cols, wide)
        out: FloatArray = blocks.mean(axis=(1, 3), dtype=np.float64)
        return out

    height, whole = means(field.height), means(cloth)
    whole = whole >= whole.max() - 1e-3

    def place(worst: float, at: np.intp) -> LoftPlace:
        row, col = divmod(int(at), cols)
        middle = (field.left + (col + 0.5) * wide * field.step_mm, field.top + (row + 0.5) * high * field.step_mm)
        return LoftPlace(at_mm=middle, height_mm=float(worst))

    low, top = np.where(whole, height, np.inf), np.where(whole, height, -np.inf)
    return place(low.min(), low.argmin()), place(top.max(), top.argmax())


def _row(field: Relief, drawn: tuple[Grid, Grid], zone: Zone, filled: Filled) -> LoftRow:
    rows, cols, inside = inside_grid([close_ring(r) for r in rings(zone.region)], field)
    height = field.height[rows, cols][inside]
    lost = drawn[0][rows, cols][inside] + drawn[1][rows, cols][inside]
    share = height / field.loft_mm
    return LoftRow(
        name=zone.name,
        part=zone.part,
        number=zone.number,
        height_mm=float(height.mean()) if height.size else 0.0,
        flat_percent=_percent(share < FLAT),
        puffed_percent=_percent(share > PUFFED),
        draw_in_percent=_percent(lost) / 2,
        stands_up=_stands_up(field, zone, filled),
    )


def _stands_up(field: Relief, zone: Zone, filled: Filled) -> float | None:
    """Return how many times as high the first fill of a stack stands as the ground that the last one quilted."""
    fills = [stroke.fill for stroke in filled.strokes]
    if not filled.taken or not fills or fills[0] == fills[-1]:
        return None
    first = np.array([s.path[len(s.path) // 2] for s in filled.strokes if s.fill == fills[0]])
    motif = [shape for shape in filled.taken if contains(shape, first).any()]
    ground = subtract(zone.region, filled.taken)
    high, low = _mean_height(field, motif), _mean_height(field, ground)
    return high / low if high is not None and low else None


def _mean_height(field: Relief, shapes: Sequence[Polygon]) -> float | None:
    found = []
    for shape in shapes:
        rows, cols, inside = inside_grid([close_ring(r) for r in rings(shape)], field)
        found.append(field.height[rows, cols][inside])
    heights = np.concatenate(found) if found else np.zeros(0)
    return float(heights.mean()) if heights.size else None


def loft_findings(loft: LoftFigures, *, unit: Unit = "in") -> tuple[Finding, ...]:
    """Return what is worth a note: an edge fuller than the middle, a space much tighter than its like.

    Parameters
    ----------
    loft : LoftFigures
        Of the whole top.
    unit : {"in", "mm", "cm"}
        The unit of lengths in the words.

    Returns
    -------
    tuple of Finding
        Empty where all is even.
    """
    return (*_edges(loft, unit), *_tighter(loft.zones))


def _edges(loft: LoftFigures, unit: Unit) -> tuple[Finding, ...]:
    """Return a note where an edge comes out fuller, or shorter, than the middle of the top."""
    sides = []
    for lost, length, names in (
        (np.array(loft.across_mm), loft.width_mm, ("top", "bottom")),
        (np.array(loft.down_mm), loft.height_mm, ("left", "right")),
    ):
        deep = round(EDGE_MM / INCH_MM)
        if len(lost) < 6 * deep:
            continue  # too small a top to have a middle
        middle = float(lost[len(lost) // 4 : len(lost) - len(lost) // 4].mean())
        for strip, name in ((lost[:deep], names[0]), (lost[-deep:], names[1])):
            by = middle - float(strip.mean())
            if abs(by) > max(FULLER_MM, FULLER_SHARE * length):
                sides.append((by, name))
    fuller = sorted((by, name) for by, name in sides if by > 0)
    shorter = sorted((-by, name) for by, name in sides if by < 0)
    more, less = "fuller than the middle, which draws in more", "shorter than the middle, which may not lie flat"
    return (
        *(_edge(FindingCode.BORDER_FULLER, fuller, more, BORDER_CLOSER, unit) if fuller else ()),
        *(_edge(FindingCode.BORDER_TIGHTER, shorter, less, BORDER_OPENER, unit) if shorter else ()),
    )


def _edge(
    code: FindingCode, sides: Sequence[tuple[float, str]], how: str, to_do: str, unit: Unit
) -> tuple[Finding, ...]:
    most, name = sides[-1]
    others = f"; so do {_count(len(sides) - 1)}" if len(sides) > 1 else ""
    text = f"by estimate the {name} edge comes out {format_length(most, unit)} {how}{others}"
    return (Finding(code, "note", None, text, to_do),)


def _count(others: int) -> str:
    return "the other side" + "s" * (others > 1) if others == 3 else f"{others} more side{'s' * (others > 1)}"


def _tighter(rows: Sequence[LoftRow]) -> tuple[Finding, ...]:
    groups: dict[tuple[str, str], list[LoftRow]] = {}
    for row in rows:
        groups.setdefault((row.name, row.part), []).append(row)
    out = []
    for (name, _), alike in groups.items():
        usual = median(row.draw_in_percent for row in alike)
        worst = max(alike, key=lambda row: row.draw_in_percent)
        over = worst.draw_in_percent - usual
        if len(alike) > 2 and over > TIGHTER_POINTS and worst.draw_in_percent > TIGHTER * usual:
            out.append(
                Finding(
                    FindingCode.TIGHTER_THAN_ITS_LIKE,
                    "note",
                    name,
                    f"by estimate space {worst.number} draws in {worst.draw_in_percent:.1f} %, "
                    f"the others like it {usual:.1f} %",
                    "Quilt it more openly, or the others closer, so that they stay one size.",
                )
            )
    return tuple(out)
