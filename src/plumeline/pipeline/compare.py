"""Ideas side by side: the same spaces with each of several options, as cloth and in figures."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from statistics import median

import numpy as np

from ..errors import PlanError
from ..output.side_by_side import PAPERS, Column, side_by_side_pdf, side_by_side_png
from ..plan import Plan
from ..review import inches_per_square_inch
from ..specs import FRAMED
from ..units import format_length, format_thread
from .cloth import Box, cloth_of
from .pictures import CLOSE_UP_MARGIN_MM, spoken
from .price import Price, price_of
from .writing import Quilt

__all__ = ["AS_IT_STANDS", "Compared", "compared", "options_to_compare", "side_by_side"]

LEAST, MOST = 2, 4
"""So many ideas go side by side."""

AS_IT_STANDS = "as the plan stands"
"""What the plan without any option is called."""

COLUMN_PX = 900
"""Longer side of each cloth: as fine as the page can show."""

NOTE = "Draw-in is an estimate; washing comes on top. Tightness is inches of line seen for each square inch."

APART = 0.05
"""Figures nearer to each other than this share set nothing apart."""


@dataclass(frozen=True, slots=True, eq=False)
class Compared:
    """One idea: its name, its quilt, its figures, and one line of what sets it apart from the others."""

    name: str
    quilt: Quilt
    lines: int
    minutes: float
    thread_m: float
    widest_gap_mm: float
    tightness: float
    draw_in_percent: float
    price: Price | None
    apart: str = ""

    def rows(self, unit: str) -> list[tuple[str, str]]:
        """Return name and value of each figure, as she reads them."""
        rows = [
            ("lines", f"{self.lines:,}"),
            ("at the machine", spoken(self.minutes)),
            ("thread on top", format_thread(1000 * self.thread_m, unit, digits=0)),
            ("widest gap", format_length(self.widest_gap_mm, unit)),
            ("tightness", f"{self.tightness:.1f}"),
            ("draw-in, about", f"{self.draw_in_percent:.1f} %"),
        ]
        if self.price is None:
            return rows
        missing = f" without {', '.join(self.price.unpriced)}" if self.price.unpriced else ""
        return [*rows, ("price", f"{self.price}{' (the minimum)' if self.price.is_minimum else ''}{missing}")]


def options_to_compare(plan: Plan, wanted: Sequence[str]) -> list[str | None]:
    """Return the options to put side by side: those wanted, else all of the plan; None is the plan as it stands.

    Raises
    ------
    PlanError
        There is no such option; the plan has none; or there are more than `MOST`.
    """
    for name in wanted:
        plan.with_option(name)
    chosen: list[str | None] = list(dict.fromkeys(wanted)) or list(plan.options)
    if not chosen:
        raise PlanError(
            "has no options to compare",
            file=plan.file,
            what_to_do='Add another idea as [options.NAME."ZONE"] with a kind.',
        )
    if len(chosen) < LEAST:
        chosen = [None, *chosen]
    if len(chosen) > MOST:
        raise PlanError(
            f"has {len(chosen)} options to compare; must be {LEAST} to {MOST}",
            file=plan.file,
            what_to_do="Say which with --option.",
        )
    return chosen


def compared(quilts: Sequence[tuple[str, Quilt]], *, zones: Sequence[str] = ()) -> tuple[Compared, ...]:
    """Return the figures of ideas for the same spaces, each with what sets it apart.

    Draw-in is that of the whole top; of ``zones`` alone, if there are such: the rest of the top is not quilted yet.
    """
    ideas = [_figures(name, quilt, whole=not zones) for name, quilt in quilts]
    return tuple(replace(idea, apart=_apart(idea, ideas)) for idea in ideas)


def _figures(name: str, quilt: Quilt, *, whole: bool) -> Compared:
    totals, rows = quilt.report.totals, quilt.report.zones
    loft = {(r.name, r.part, r.number): r.draw_in_percent for r in quilt.report.loft.zones}
    area = sum(row.area_mm2 for row in rows)
    own = sum(row.area_mm2 for row in rows if row.part != FRAMED)  # a zone's outline as a line has no space of its own
    drawn = sum(loft[row.name, row.part, row.number] * row.area_mm2 for row in rows)
    return Compared(
        name=name,
        quilt=quilt,
        lines=totals.lines,
        minutes=totals.minutes,
        thread_m=totals.needle_thread_m,
        widest_gap_mm=max((row.widest_gap_mm for row in rows), default=0.0),
        tightness=inches_per_square_inch(sum(row.seen_mm for row in rows), own),
        draw_in_percent=quilt.report.loft.draw_in_percent if whole else drawn / area if area else 0.0,
        price=price_of(quilt.report, quilt.plan.prices),
    )


def _apart(mine: Compared, ideas: Sequence[Compared]) -> str:
    """Return the figure in which an idea stands furthest from all others, in words; "" where it is the only one."""
    if len(ideas) < 2:
        return ""
    said: list[tuple[Callable[[Compared], float], str, str]] = [
        (lambda c: c.minutes, "the quickest", "the slowest"),
        (lambda c: c.lines, "the fewest starts and stops", "the most starts and stops"),
        (lambda c: c.tightness, "the most open quilting", "the closest quilting"),
        (lambda c: c.widest_gap_mm, "the smallest gaps", "the widest gaps"),
        (lambda c: c.draw_in_percent, "draws in least", "draws in most"),
        (lambda c: c.thread_m, "the least thread", "the most thread"),
    ]
    if all(idea.price is not None for idea in ideas):
        said.append((lambda c: float(c.price.amount) if c.price else 0.0, "costs least", "costs most"))
    others = [idea for idea in ideas if idea is not mine]
    found = []
    for place, (value, least, most) in enumerate(said):
        usual = median(value(idea) for idea in ideas) or 1.0
        under = (min(value(o) for o in others) - value(mine)) / usual
        over = (value(mine) - max(value(o) for o in others)) / usual
        for by, words in ((under, least), (over, most)):
            if by > APART:
                found.append((-round(by, 6), place, words))
    text = "; ".join(words for _, _, words in sorted(found)[:2]) or "much like the others"
    return f"{text[0].upper()}{text[1:]}."


def side_by_side(ideas: Sequence[Compared], *, pdf: bool, zones: Sequence[str] = ()) -> bytes:
    """Return ideas side by side as a PDF page or a PNG picture; of some zones: with a little of what is beside them."""
    plan, top = ideas[0].quilt.plan, ideas[0].quilt.top
    window = _window(ideas[0].quilt) if zones else (0.0, 0.0, *top.size)
    scale = COLUMN_PX / max(window[2], window[3])
    columns = [
        Column(idea.name, cloth_of(idea.quilt, window=window, px_a_mm=scale), idea.rows(plan.units), idea.apart)
        for idea in ideas
    ]
    what = f": {', '.join(zones)}" if zones else ""
    write = side_by_side_pdf if pdf else side_by_side_png
    return write(f"{plan.title}{what}", NOTE, columns, units=plan.units if plan.units in PAPERS else "mm")


def _window(quilt: Quilt) -> Box:
    boxes = np.array([zone.outline.bounds for zone in quilt.zones])
    left, top = boxes[:, :2].min(axis=0) - CLOSE_UP_MARGIN_MM
    right, bottom = boxes[:, 2:].max(axis=0) + CLOSE_UP_MARGIN_MM
    return float(left), float(top), float(right - left), float(bottom - top)
