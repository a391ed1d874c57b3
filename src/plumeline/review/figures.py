"""Figures of zones and of the lines between them. Their names are a contract; units stand in the names."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import asdict, dataclass
from itertools import pairwise

import numpy as np

from ..geometry import close_ring, fence_crossings, outside_mm, path_length, seen_length, strand_spacing, widest_gap
from ..model import Filled, Line, Needle, NeedlePoints, Span, Zone
from ..specs import FRAMED
from ..tolerances import DOUBLED_MM
from .density import inches_per_square_inch

__all__ = [
    "JumpFigures",
    "ZoneFigures",
    "ZoneRow",
    "jump_figures",
    "span_length",
    "zone_figures",
    "zone_rows",
]

KINDS = ("backtrack", "seam", "edge", "step")
"""Kinds of span that have a figure of their own; all of them are sewn."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ZoneFigures:
    """What can be measured in a zone before its strokes are joined; None where a figure means nothing."""

    widest_gap_mm: float
    spacing_mm: float | None
    spacing_varies_percent: float | None
    outside_mm: float
    fence_crossings: int
    bare_mm2: float
    seen_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ZoneRow:
    """Figures of one zone, as ``report.json`` holds them.

    ``sewn_mm`` is the thread's way, every time over counted; ``seen_mm`` the lines of the fill as they are seen, a
    stretch that is sewn again counted once. ``inches_per_square_inch`` goes with the first,
    ``seen_per_square_inch`` with the second.
    """

    name: str
    part: str
    number: int
    fill: str
    area_mm2: float
    stitches: int
    lines: int
    jumps: int
    done: bool
    sewn_mm: float
    backtracked_mm: float
    seam_travel_mm: float
    edge_travel_mm: float
    step_mm: float
    inches_per_square_inch: float
    widest_gap_mm: float
    spacing_mm: float | None
    spacing_varies_percent: float | None
    outside_mm: float
    fence_crossings: int
    bare_mm2: float
    seen_mm: float
    seen_per_square_inch: float


@dataclass(frozen=True, slots=True, kw_only=True)
class JumpFigures:
    """How many lines and jumps there are, how far the jumps go, and the longest line."""

    lines: int
    jumps: int
    planned_stops: int
    jump_mm: float
    longest_line_mm: float


def span_length(line: Line, span: Span) -> float:
    """Return the length of one span of a line, mm.

    Parameters
    ----------
    line : Line
        It holds the path.
    span : Span
        One of its spans.

    Returns
    -------
    float
        mm.
    """
    return path_length(line.path[span.start : span.end + 1])


def zone_rows(
    zones: Sequence[Zone],
    filled: Sequence[Filled],
    fills: Sequence[str],
    lines: Sequence[Line],
    points: Sequence[NeedlePoints],
    figures: Sequence[ZoneFigures],
    *,
    done: Collection[int] = (),
) -> tuple[ZoneRow, ...]:
    """Return one row of figures a zone, in the order of ``zones``.

    Parameters
    ----------
    zones, filled, fills, figures : sequence
        One a zone; ``fills`` names its fill or stack, ``figures`` are its `zone_figures`.
    lines : sequence of Line
        In sewing order.
    points : sequence of NeedlePoints
        The needle points of each reach.
    done : collection of int
        Places of zones that are on the cloth already: their length is that of their strokes.

    Returns
    -------
    tuple of ZoneRow
        One a zone.
    """
    sewn, by_kind = np.zeros(len(zones)), [dict.fromkeys(KINDS, 0.0) for _ in zones]
    starts, touched = np.zeros(len(zones), dtype=int), np.zeros(len(zones), dtype=int)
    for number, line in enumerate(lines):
        owners = [span.zone for span in line.spans]
        for span, zone in zip(line.spans, owners):
            if zone < 0:
                continue
            length = span_length(line, span)
            sewn[zone] += length
            if span.kind in KINDS:
                by_kind[zone][span.kind] += length
        for zone in {z for z in owners if z >= 0}:
            touched[zone] += 1
        if number and owners and owners[0] >= 0:
            starts[owners[0]] += 1
    for i in done:
        sewn[i] = sum(path_length(s.path) for s in filled[i].strokes)
    stitches = _stitches_by_zone(points, len(zones))
    return tuple(
        ZoneRow(
            name=zone.name,
            part=zone.part,
            number=zone.number,
            fill=fills[i],
            area_mm2=zone.region.area,
            stitches=int(stitches[i]),
            lines=int(touched[i]),
            jumps=int(starts[i]),
            done=i in done,
            sewn_mm=float(sewn[i]),
            backtracked_mm=by_kind[i]["backtrack"],
            seam_travel_mm=by_kind[i]["seam"],
            edge_travel_mm=by_kind[i]["edge"],
            step_mm=by_kind[i]["step"],
            inches_per_square_inch=inches_per_square_inch(float(sewn[i]), zone.region.area),
            seen_per_square_inch=inches_per_square_inch(figures[i].seen_mm, zone.region.area),
            **asdict(figures[i]),
        )
        for i, zone in enumerate(zones)
    )


def _stitches_by_zone(points: Sequence[NeedlePoints], count: int) -> np.ndarray:
    """Return the stitches of each zone: one less than the needle points of a line, as `machine_plan` counts them."""
    total = np.zeros(count, dtype=int)
    for reach in points:
        needle = reach.kind <= Needle.TIE
        zone, line = reach.zone[needle][1:], reach.line[needle]
        leads_on = (np.diff(line) == 0) & (zone >= 0)
        total += np.bincount(zone[leads_on], minlength=count)[:count]
    return total


def zone_figures(zone: Zone, filled: Filled, spacing_mm: float | None) -> ZoneFigures:
    """Return what can be measured in a zone before its strokes are joined.

    Parameters
    ----------
    zone : Zone
        On the page.
    filled : Filled
        What its fills drew.
    spacing_mm : float, optional
        The spacing asked for, against which the one found is measured; None where that means nothing.

    Returns
    -------
    ZoneFigures
        Widest gap, spacing and how it varies, bare area, length seen, length outside.
    """
    stitched = [s for s in filled.strokes if s.role == "stitch"]
    paths, closed = [s.path for s in stitched], [s.closed for s in stitched]
    even = strand_spacing(paths, spacing_mm, closed=closed) if spacing_mm and paths else None
    whole = zone.part != FRAMED  # a line along the edge leaves no gap: the inside is a space of its own
    rings, opened = [p for p, c in zip(paths, closed) if c], [p for p, c in zip(paths, closed) if not c]
    return ZoneFigures(
        widest_gap_mm=widest_gap(paths, zone.region, closed=closed).diameter_mm if whole else 0.0,
        spacing_mm=even.mean_mm if even else None,
        spacing_varies_percent=even.varies_percent if even else None,
        outside_mm=outside_mm(opened, zone.outline) + outside_mm(rings, zone.outline, closed=True),
        fence_crossings=fence_crossings(opened, zone.fences) + fence_crossings(rings, zone.fences, closed=True),
        bare_mm2=filled.bare_mm2,
        seen_mm=seen_length([close_ring(s.path, s.closed) for s in stitched], within_mm=DOUBLED_MM),
    )


def jump_figures(lines: Sequence[Line]) -> JumpFigures:
    """Return how many lines and jumps there are and how far the jumps go.

    A change of thread or of reach is no jump: she stops there anyway. A jump of no length is a planned stop, where
    a line goes on with a full bobbin.

    Parameters
    ----------
    lines : sequence of Line
        In sewing order.

    Returns
    -------
    JumpFigures
        All zero for no lines.
    """
    jumps, stops, far, longest = 0, 0, 0.0, 0.0
    for before, after in _pairs(lines):
        if before.reach == after.reach and before.thread == after.thread:
            gap = float(np.hypot(*(after.path[0] - before.path[-1])))
            jumps += 1
            stops += gap == 0
            far += gap
    for line in lines:
        longest = max(longest, path_length(line.path))
    return JumpFigures(lines=len(lines), jumps=jumps, planned_stops=stops, jump_mm=far, longest_line_mm=longest)


def _pairs(lines: Sequence[Line]) -> Iterator[tuple[Line, Line]]:
    return pairwise(lines)
