"""plumeline inspect: what is in a stitch file or drawing."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path

import click
import numpy as np
from shapely import Polygon, box

from ..drawing import Drawing, read_drawing
from ..errors import OutputError
from ..geometry import close_ring
from ..model import Line, Patch, Seam, Span, Top, as_path
from ..output import FileSummary, check_targets, is_foreign, read_any, write_files
from ..output.path_picture import path_svg
from ..output.png import png_of
from ..specs import families_of
from ..units import Unit, format_length, format_thread
from ._shared import PATH, echo_findings, echo_json

__all__ = ["command"]

MARGIN_MM = 15.0

GROUND = "#ffffff"
"""What a drawing is drawn on."""


@click.command("inspect")
@click.argument("file", type=PATH)
@click.option("--picture", type=PATH, default=None, help="Write a picture here (.png or .svg).")
@click.option("--units", type=click.Choice(["in", "mm", "cm"]), default="in", show_default=True, help="Unit to print.")
@click.option("--page", type=click.IntRange(min=1), default=None, help="Which page, if the drawing has several.")
@click.option("--force", is_flag=True, help="Write over a picture that is there.")
@click.option("--json", "as_json", is_flag=True, help="Print the figures and nothing else.")
def command(file: Path, picture: Path | None, units: Unit, page: int | None, force: bool, as_json: bool) -> None:
    """Say what is in a stitch FILE or drawing: size, where it lies, stitches, lines, jumps, stitch lengths."""
    if picture is not None and picture.suffix.lower() not in (".svg", ".png"):
        raise OutputError("must end in .svg or .png", file=str(picture), key="--picture")
    if picture is not None:
        check_targets(picture.parent, [picture.name], force=force, keep=[file])
    if is_foreign(file):
        _inspect_drawing(read_drawing(file, page=page, unit=units), file, picture, units, force, as_json)
        return
    if page not in (None, 1):
        raise OutputError("has only one page", file=file.name, key="--page", what_to_do="Leave it out.")
    summary = read_any(file)
    figures = {k: v for k, v in asdict(summary).items() if k != "paths"}
    if picture is not None:
        svg = _picture(summary, file.name, units)
        data = svg.encode() if picture.suffix.lower() == ".svg" else png_of(svg, 1600)
        write_files(picture.parent, {picture.name: data}, force=force, keep=[file])
    if as_json:
        echo_json(figures)
        return
    width, height = (format_length(v, units) for v in summary.size_mm)
    (left, top), (right, bottom) = (
        [format_length(v, units) for v in corner] for corner in (summary.low_mm, summary.high_mm)
    )
    rows = [
        ("format", summary.format),
        ("size", f"{width} x {height}"),
        ("from 0, 0 to the right", f"{left} to {right}" if summary.paths else ""),
        ("from 0, 0 downwards", f"{top} to {bottom}" if summary.paths else ""),
        ("lines", f"{summary.lines:,}"),
        ("starts and stops between", f"{summary.jumps:,}"),
        ("sewn", format_thread(summary.sewn_mm, units)),
        ("stitches", "none: a drawing" if summary.stitches is None else f"{summary.stitches:,}"),
        ("trims", _count(summary.trims)),
        ("stops", _count(summary.stops)),
        ("shortest stitch", _stitch(summary.shortest_stitch_mm)),
        ("longest stitch", _stitch(summary.longest_stitch_mm)),
    ]
    click.echo(f"{file.name}")
    for name, value in rows:
        if value:
            click.echo(f"  {name:<25}{value}")


def _inspect_drawing(
    drawing: Drawing, file: Path, picture: Path | None, units: Unit, force: bool, as_json: bool
) -> None:
    families = {name: len(all_) for name, all_ in families_of(s.name for s in drawing.shapes).items()}
    if picture is not None:
        svg = _picture_of(drawing, file.name)
        data = svg.encode() if picture.suffix.lower() == ".svg" else png_of(svg, 1600)
        write_files(picture.parent, {picture.name: data}, force=force, keep=[file])
    (left, top), (right, bottom) = low, high = _drawn_between(drawing)
    if as_json:
        findings = [asdict(f) for f in drawing.findings]
        size = {
            "size_mm": drawing.size if drawing.sized else None,
            "low_mm": low if drawing.sized else None,
            "high_mm": high if drawing.sized else None,
            "units": [v / drawing.unit_mm for v in drawing.size],
        }
        counts = {"shapes": len(drawing.shapes), "lines": len(drawing.lines), "families": families}
        echo_json({"format": "drawing", **size, **counts, "findings": findings})
        return

    def said(mm: float) -> str:
        return format_length(mm, units) if drawing.sized else f"{round(mm / drawing.unit_mm, 6) + 0.0:.6g}"

    def by(width: float, height: float) -> str:
        return f"{said(width)} x {said(height)}" + ("" if drawing.sized else " units of its own")

    is_drawn = bool(drawing.shapes or drawing.lines)
    click.echo(f"{file.name}")
    named = ", ".join(f"{n} {name}" for name, n in list(families.items())[:20])
    for name, value in [
        ("format", "a drawing"),
        ("page", by(*drawing.size) if drawing.sized else f"not said; {by(*drawing.size)}"),
        ("drawn", by(right - left, bottom - top) if is_drawn else "nothing"),
        ("from 0, 0 to the right", f"{said(left)} to {said(right)}" if is_drawn else ""),
        ("from 0, 0 downwards", f"{said(top)} to {said(bottom)}" if is_drawn else ""),
        ("closed shapes", f"{len(drawing.shapes):,}" + (f": {named}" if named else "")),
        ("open lines", f"{len(drawing.lines):,}"),
    ]:
        if value:
            click.echo(f"  {name:<25}{value}")
    echo_findings(drawing.findings)


def _drawn_between(drawing: Drawing) -> tuple[tuple[float, float], tuple[float, float]]:
    # the corners of the box round all that is drawn, from the file's own 0, 0; twice 0, 0 round nothing
    paths = [s.shell for s in drawing.shapes] + [line.path for line in drawing.lines]
    if not paths:
        return (0.0, 0.0), (0.0, 0.0)
    every = np.vstack(paths) - drawing.origin
    (left, top), (right, bottom) = every.min(axis=0).tolist(), every.max(axis=0).tolist()
    return (left, top), (right, bottom)


def _picture_of(drawing: Drawing, name: str) -> str:
    rings = [close_ring(r) for s in drawing.shapes for r in (s.shell, *s.holes)] + [p.path for p in drawing.lines]
    low = np.min([p.min(axis=0) for p in rings], axis=0) if rings else np.zeros(2)
    high = np.max([p.max(axis=0) for p in rings], axis=0) if rings else np.ones(2)
    size = (float(high[0] - low[0]) + 2 * MARGIN_MM, float(high[1] - low[1]) + 2 * MARGIN_MM)
    shift = MARGIN_MM - low
    # as it is painted, later shapes on top; nothing of it is stitched yet, so that it has no starts and stops
    painted = [
        Patch(s.name, Polygon(s.shell + shift, [hole + shift for hole in s.holes]), s.colour)
        for s in drawing.shapes
        if s.filled
    ]
    seams = tuple(Seam("cloth", None, as_path(p + shift)) for p in rings if len(p) > 1)
    cloth = Top((Patch("cloth", box(0, 0, *size), GROUND), *painted), seams, {}, size)
    shapes = f"{len(drawing.shapes)} closed {'shape' if len(drawing.shapes) == 1 else 'shapes'}"
    open_lines = f"{len(drawing.lines)} open {'line' if len(drawing.lines) == 1 else 'lines'}"
    return path_svg(cloth, [], title=name, caption=[f"{shapes}, {open_lines}."])


def _count(value: int | None) -> str:
    return "" if value is None else f"{value:,}"


def _stitch(value: float | None) -> str:
    return "" if value is None else f"{value:.2f} mm"


def _picture(summary: FileSummary, name: str, unit: Unit) -> str:
    paths = [p for p in summary.paths if len(p) > 1]
    low = np.min([p.min(axis=0) for p in paths], axis=0) if paths else np.zeros(2)
    size = (max(summary.size_mm[0], 1.0) + 2 * MARGIN_MM, max(summary.size_mm[1], 1.0) + 2 * MARGIN_MM)
    lines = [Line(as_path(p - low + MARGIN_MM), (Span(0, len(p) - 1, "stitch"),)) for p in paths]
    cloth = Top((Patch("cloth", box(0, 0, *size)),), (), {}, size)
    width, height = (format_length(v, unit) for v in summary.size_mm)
    count = f"{summary.lines} line{'s' if summary.lines != 1 else ''}"
    stitches = "" if summary.stitches is None else f", {summary.stitches:,} stitches"
    return path_svg(cloth, lines, title=name, caption=[f"{width} x {height}, {count}{stitches}."])
