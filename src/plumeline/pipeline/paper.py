"""From a quilt to paper: the distinct spaces of each zone, drawn as one kind of paper, as PDF and full-size SVG."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from shapely import Polygon

from ..errors import OutputError, ZoneError, nearest
from ..geometry import clip_paths, dilate, intersect, rings, same_shape, unite
from ..model import Finding, Path
from ..output.dxf import write_dxf
from ..output.paper import (
    KINDS,
    PAPERS,
    CustomerIdea,
    CustomerSheet,
    Paper,
    PaperDrawing,
    PaperKind,
    PaperSettings,
    Space,
    customer_pdf,
    customer_svg,
    cutter_svg,
    full_size_svg,
    mirrored,
    paper_pdf,
    sheet_count,
)
from ..output.sheet import Run, Shape, Sheet
from ..output.svg import svg_id
from ..units import format_length
from .cloth import cloth_png
from .compare import compared
from .files import sheet_of
from .writing import Quilt

__all__ = [
    "CUSTOMER_FILES",
    "MANY_SHEETS",
    "MOST_IDEAS",
    "customer_files",
    "findings_of",
    "paper_drawings",
    "paper_files",
    "paper_targets",
    "sample_paper_names",
    "sample_papers",
]

MANY_SHEETS = 60
"""More sheets than this are written only when asked for: a packet of paper holds 500, a quilter's patience fewer."""

ALIKE_MM = 1.0
"""Spaces whose outlines differ by less print once: a line of chalk is as wide."""

TOGETHER_MM = 0.5
"""Parts of a zone nearer than this belong to one space."""

SHARED_MM2 = 5.0
"""Parts whose edges share less than this, each grown by `TOGETHER_MM`, only touch at a corner."""

SEAM_LEAST_MM = 3.0
"""Shorter bits of seam at a space's edge are not drawn."""

MOST_IDEAS = 3
"""Ideas on a customer's sheet: more are too small to choose from."""

CUSTOMER_FILES = ("customer-quilt.pdf", "customer-quilt.svg")
"""Names of the files of a customer's sheet."""

CUSTOMER_PX = 900
"""Longer side of each cloth on a customer's sheet: 300 to the inch where two stand side by side on letter."""


def paper_targets(zones: Sequence[str], kind: str) -> tuple[str, ...]:
    """Return the names of the files that will be written."""
    stems = [f"{kind}-{svg_id(zone)}" for zone in zones]
    names = [f"{stem}.{suffix}" for stem in stems for suffix in ("pdf", "svg")]
    return (*names, *(f"{stem}-cutter.{end}" for stem in stems if kind == "cut" for end in ("svg", "dxf")))


def paper_drawings(
    quilt: Quilt, kind: PaperKind, zones: Sequence[str], settings: PaperSettings, *, mirror: bool = False
) -> tuple[PaperDrawing, ...]:
    """Return one drawing a zone.

    Parameters
    ----------
    zones : sequence of str
        Names of zones; all that have stitching when empty.

    Raises
    ------
    ZoneError
        There is no such zone.
    OutputError
        Nothing can be drawn of that kind.
    """
    known = list(dict.fromkeys(zone.name for zone in quilt.zones))
    for name in zones:
        if name not in known:
            near = nearest(name, known)
            raise ZoneError(
                f"is no zone with stitching; there are {', '.join(known)}",
                zone=name,
                what_to_do=f"Did you mean {near!r}?" if near else None,
            )
    runs = sheet_of(quilt).runs()
    drawings = []
    for name in zones or known:
        spaces = _spaces(quilt, name, runs, measured=kind.name == "measure")
        drawn = replace(kind.draw(spaces, settings), title=quilt.plan.title, zone=name)
        drawings.append(mirrored(drawn) if mirror else drawn)
    return tuple(drawings)


def paper_files(drawings: Sequence[PaperDrawing], paper: Paper, *, many: bool = False) -> dict[str, bytes]:
    """Return the files of drawings by name: a PDF and an SVG each, and for a cutter an SVG of the slots alone.

    Raises
    ------
    OutputError
        They come to more than `MANY_SHEETS` sheets and ``many`` does not say that this is meant.
    """
    count = sum(sheet_count(drawing, paper) for drawing in drawings)
    if count > MANY_SHEETS and not many:
        raise OutputError(
            f"comes to {count} sheets of {paper.name}",
            key="paper",
            what_to_do="Add --many if that is meant, choose a larger paper or a roll, or name some zones with --zone.",
        )
    files: dict[str, bytes] = {}
    for drawing in drawings:
        stem = f"{drawing.kind}-{svg_id(drawing.zone)}"
        files[f"{stem}.pdf"] = paper_pdf(drawing, paper)
        files[f"{stem}.svg"] = full_size_svg(drawing)
        if drawing.cut_lines:
            files[f"{stem}-cutter.svg"] = cutter_svg(drawing)
            files[f"{stem}-cutter.dxf"] = _cutter_dxf(drawing)
    return files


def _cutter_dxf(drawing: PaperDrawing) -> bytes:
    """Return the slots of a stencil as closed lines in a DXF file, for a cutter."""
    slots = [ring for mark in drawing.marks if mark.kind == "slot" for ring in (mark.path, *mark.holes)]
    shapes = tuple(Shape(ring, True, "outline", 0) for ring in slots)
    return write_dxf(Sheet(title=drawing.title, names=(drawing.zone,), shapes=shapes, size=drawing.size))


def customer_files(quilts: Sequence[tuple[str, Quilt]], paper: Paper) -> dict[str, bytes]:
    """Return the customer's sheet of one to three ideas for the whole quilt, as PDF and as SVG.

    Parameters
    ----------
    quilts : sequence of (name, Quilt)
        The ideas; those past `MOST_IDEAS` are left out.
    """
    ideas = compared(quilts[:MOST_IDEAS])
    plan, top = ideas[0].quilt.plan, ideas[0].quilt.top
    wide, high = top.size
    threads = ", ".join(f"{name} {thread.colour}" for name, thread in plan.threads.items())
    sheet = CustomerSheet(
        title=plan.title,
        about=(
            f"Size: {format_length(wide, plan.units)} x {format_length(high, plan.units)}. "
            f"Batting: {plan.batting.kind}.",
            f"Thread: {threads}.",
        ),
        ideas=tuple(
            CustomerIdea(
                name=idea.name,
                picture=cloth_png(idea.quilt, px_a_mm=CUSTOMER_PX / max(wide, high)),
                tall=high / wide,
                rows=tuple(idea.rows(plan.units)),
            )
            for idea in ideas
        ),
        note="Times and draw-in are estimates; washing comes on top. Tick the idea that you choose.",
    )
    pdf, svg = CUSTOMER_FILES
    return {pdf: customer_pdf(sheet, paper), svg: customer_svg(sheet, paper)}


def sample_papers(quilts: Sequence[tuple[str, Quilt]], zone: str) -> dict[str, bytes]:
    """Return one paper of each kind, of one zone of the first quilt, and the customer's sheet of all, on letter."""
    paper = PAPERS["letter"]
    files: dict[str, bytes] = {}
    for kind in KINDS.values():
        files |= paper_files(paper_drawings(quilts[0][1], kind, [zone], PaperSettings()), paper)
    return files | customer_files(quilts, paper)


def sample_paper_names(zone: str) -> tuple[str, ...]:
    """Return the names of the files of `sample_papers`."""
    return (*(name for kind in KINDS for name in paper_targets([zone], kind)), *CUSTOMER_FILES)


def findings_of(drawings: Sequence[PaperDrawing]) -> tuple[Finding, ...]:
    """Return what was noticed in drawing."""
    return tuple(found for drawing in drawings for found in drawing.findings)


def _spaces(quilt: Quilt, name: str, runs: Sequence[Run], *, measured: bool) -> list[Space]:
    """Return the distinct spaces of a zone: its parts that lie together are one, alike ones are counted once.

    Of those to be measured every one is there: alike as planned is not alike as pieced.
    """
    out: list[tuple[Space, Polygon]] = []
    for parts in _together(quilt, [i for i, zone in enumerate(quilt.zones) if zone.name == name]):
        region = unite(piece for i in parts for piece in dilate(quilt.zones[i].outline, TOGETHER_MM))[0]
        alike = next((k for k, (_, other) in enumerate(out) if same_shape(region, other, within_mm=ALIKE_MM)), None)
        if alike is not None and not measured:  # every piece is measured, however alike they are planned
            space, other = out[alike]
            out[alike] = (replace(space, count=space.count + 1), other)
            continue
        left, top, right, bottom = region.bounds
        seams = [piece for _, piece in clip_paths([s.path for s in quilt.top.seams], region, least_mm=SEAM_LEAST_MM)]
        outlines: list[Path] = [ring for i in parts for ring in rings(quilt.zones[i].region)]
        labels: tuple[str, ...] = ()
        if measured:
            inside = [p for p in quilt.top.patches if region.contains(p.outline.representative_point())]
            if inside:
                outlines, labels = [rings(p.outline)[0] for p in inside], tuple(p.name for p in inside)
        space = Space(
            name=name,
            count=1,
            outlines=tuple(outlines),
            seams=tuple(seams),
            fences=tuple(f.path for i in parts for f in (*quilt.zones[i].fences, *quilt.filled[i].fences)),
            runs=tuple(run for run in runs if run.zone in parts and run.kind != "jump"),
            strokes=tuple(s for i in parts for s in quilt.filled[i].strokes),
            size=(right - left, bottom - top),
            labels=labels,
        )
        out.append((space.moved(np.array([-left, -top])), region))
    return [space for space, _ in out]


def _together(quilt: Quilt, own: Sequence[int]) -> list[list[int]]:
    """Return the zones in groups: parts of different names that share an edge belong to one space."""
    groups: list[list[int]] = []
    for i in own:
        zone = quilt.zones[i]
        grown = dilate(zone.outline, TOGETHER_MM)
        beside = [
            group
            for group in groups
            if any(
                quilt.zones[j].part != zone.part
                and sum(p.area for g in grown for p in intersect(g, quilt.zones[j].outline)) > SHARED_MM2
                for j in group
            )
        ]
        groups = [group for group in groups if group not in beside]
        groups.append([*(j for group in beside for j in group), i])
    return groups
