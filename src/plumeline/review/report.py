"""The report: what was made, in figures. Its keys are a contract; units stand in the names."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict
from itertools import pairwise
from typing import Any

import numpy as np

from ..geometry import fence_crossings, outside_mm, path_length, strand_spacing, touching, widest_gap
from ..model import Batting, Filled, Finding, Line, NeedlePoints, Quilt, Span, Zone
from .density import balance_findings, densest_inch, inches_per_square_inch, knot_findings
from .gaps import gap_findings, top_gap

__all__ = ["jump_figures", "make_report", "zone_figures", "zone_rows"]

KIND_KEYS = {"backtrack": "backtracked_mm", "seam": "seam_travel_mm", "edge": "edge_travel_mm", "step": "step_mm"}

BESIDE_MM = 1.0
"""Zones this near each other are neighbours."""

ROUND = 4
"""Decimals of a figure in the report: more would only differ from machine to machine."""


def _span_length(line: Line, span: Span) -> float:
    return path_length(line.path[span.start : span.end + 1])


def zone_rows(
    zones: Sequence[Zone],
    filled: Sequence[Filled],
    fills: Sequence[str],
    lines: Sequence[Line],
    points: Sequence[NeedlePoints],
    figures: Sequence[Mapping[str, Any]],
    *,
    done: int = 0,
) -> list[dict[str, Any]]:
    """Return one row of figures a zone, in the order of ``zones``.

    ``fills[i]`` names the fill (or stack) of zone i, ``figures[i]`` are its `zone_figures`. The last ``done`` zones
    are on the cloth already: their length is that of their strokes.
    """
    zone_of_stroke = [i for i, f in enumerate(filled) for _ in f.strokes]
    sums = [dict.fromkeys(("sewn_mm", *KIND_KEYS.values()), 0.0) for _ in zones]
    starts, touched = np.zeros(len(zones), dtype=int), np.zeros(len(zones), dtype=int)
    for number, line in enumerate(lines):
        owners = line.span_zones(zone_of_stroke)
        for span, zone in zip(line.spans, owners):
            if zone < 0:
                continue
            length = _span_length(line, span)
            sums[zone]["sewn_mm"] += length
            if span.kind in KIND_KEYS:
                sums[zone][KIND_KEYS[span.kind]] += length
        for zone in {z for z in owners if z >= 0}:
            touched[zone] += 1
        if number and owners and owners[0] >= 0:
            starts[owners[0]] += 1
    for i in range(len(zones) - done, len(zones)):
        sums[i]["sewn_mm"] = sum(path_length(s.path) for s in filled[i].strokes)
    stitches = _stitches_by_zone(points, len(zones))
    return [
        {
            "name": zone.name,
            "part": zone.part,
            "number": zone.number,
            "fill": fills[i],
            "area_mm2": round(zone.region.area, ROUND),
            "stitches": int(stitches[i]),
            "lines": int(touched[i]),
            "jumps": int(starts[i]),
            "done": i >= len(zones) - done,
            **{key: round(value, ROUND) for key, value in sums[i].items()},
            "inches_per_square_inch": round(inches_per_square_inch(sums[i]["sewn_mm"], zone.region.area), ROUND),
            **figures[i],
        }
        for i, zone in enumerate(zones)
    ]


def _stitches_by_zone(points: Sequence[NeedlePoints], count: int) -> np.ndarray:
    total = np.zeros(count, dtype=int)
    for reach in points:
        sewn = (reach.kind <= 1) & (reach.zone >= 0)
        total += np.bincount(reach.zone[sewn], minlength=count)[:count]
    return total


def zone_figures(zone: Zone, filled: Filled, spacing_mm: float | None) -> dict[str, Any]:
    """Return what can be measured in a zone before its strokes are joined.

    ``spacing_mm`` is the spacing asked for where that means something: the one found is measured against it.
    """
    stitched = [s for s in filled.strokes if s.role == "stitch"]
    paths, closed = [s.path for s in stitched], [s.closed for s in stitched]
    even = strand_spacing(paths, spacing_mm, closed=closed) if spacing_mm and paths else None
    rings, opened = [p for p, c in zip(paths, closed) if c], [p for p, c in zip(paths, closed) if not c]
    return {
        "widest_gap_mm": round(widest_gap(paths, zone.region, closed=closed).diameter_mm, ROUND),
        "spacing_mm": round(even.mean_mm, ROUND) if even else None,
        "spacing_varies_percent": round(even.varies_percent, ROUND) if even else None,
        "outside_mm": round(outside_mm(opened, zone.outline) + outside_mm(rings, zone.outline, closed=True), ROUND),
        "fence_crossings": fence_crossings(opened, zone.fences) + fence_crossings(rings, zone.fences, closed=True),
    }


def jump_figures(lines: Sequence[Line]) -> dict[str, float]:
    """Return how many lines and jumps there are and how far the jumps go.

    A change of thread or of reach is no jump: she stops there anyway. A jump of no length is a planned stop, where
    a line goes on with a full bobbin.
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
    return {"lines": len(lines), "jumps": jumps, "planned_stops": stops, "jump_mm": far, "longest_line_mm": longest}


def _pairs(lines: Sequence[Line]) -> Iterator[tuple[Line, Line]]:
    return pairwise(lines)


def _balance(zones: Sequence[Zone], rows: Sequence[Mapping[str, Any]]) -> tuple[Finding, ...]:
    """Return the findings about neighbours of unlike density, zones of one name taken together."""
    sewn: dict[str, float] = {}
    area: dict[str, float] = {}
    for zone, row in zip(zones, rows):
        sewn[zone.name] = sewn.get(zone.name, 0.0) + row["sewn_mm"]
        area[zone.name] = area.get(zone.name, 0.0) + row["area_mm2"]
    density = {name: inches_per_square_inch(sewn[name], area[name]) for name in sewn}
    beside = touching([zone.outline for zone in zones], within_mm=BESIDE_MM)
    pairs = sorted({tuple(sorted((zones[i].name, zones[j].name))) for i, j in beside})
    return balance_findings(density, [(a, b) for a, b in pairs if a != b])


def make_report(
    *,
    title: str,
    version: str,
    quilt: Quilt,
    fills: Sequence[str],
    figures: Sequence[Mapping[str, Any]],
    machine_totals: Mapping[str, Any],
    fewest_lines_possible: int,
    busiest_passes: int,
    batting: Batting,
    findings: Sequence[Finding],
) -> dict[str, Any]:
    """Return the whole report but the names of the files, which the writing adds.

    ``machine_totals`` holds stitches, trims, minutes, thread, bobbins, shortest and longest stitch.
    """
    done = len(quilt.done)
    rows = zone_rows(quilt.zones, quilt.filled, fills, quilt.lines, quilt.points, figures, done=done)
    new = [line.path for line in quilt.lines]
    old = [s.path for f in quilt.filled[len(quilt.filled) - done :] for s in f.strokes]
    paths = [*new, *old]
    sewn: dict[str, float] = {"sewn_mm": sum(path_length(p) for p in new)}
    for kind, key in KIND_KEYS.items():
        sewn[key] = sum(_span_length(line, s) for line in quilt.lines for s in line.spans if s.kind == kind)
    densest, knot = densest_inch(paths)
    gap = top_gap(paths, quilt.top.size)
    noticed = [*findings, *gap_findings(gap, batting), *knot_findings(densest, knot), *_balance(quilt.zones, rows)]
    totals: dict[str, Any] = {
        **machine_totals,
        **sewn,
        **jump_figures(quilt.lines),
        "busiest_passes": busiest_passes,
        "fewest_lines_possible": fewest_lines_possible,
        "widest_gap_mm": gap.diameter_mm,
        "densest_inch": densest,
        "square_inches": sum(patch.outline.area for patch in quilt.top.patches) / 25.4**2,
    }
    return {
        "title": title,
        "plumeline": version,
        "units": "mm",
        "totals": {k: round(v, ROUND) if isinstance(v, float) else v for k, v in totals.items()},
        "zones": rows,
        "done": {"zones": done, "sewn_mm": round(sum(path_length(p) for p in old), ROUND)},
        "findings": [asdict(f) for f in noticed],
        "files": [],
    }
