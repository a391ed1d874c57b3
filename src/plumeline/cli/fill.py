"""plumeline fill: try one fill on one shape."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import click

from ..errors import FillError, InputError, OutputError
from ..output import check_targets, report_table, write_files
from ..pipeline.files import fill_picture
from ..pipeline.single import try_fill
from ..units import MM_PER, Unit
from ._shape import Drawn, settings_of, shape_of, shape_options
from ._shared import LENGTH, PATH, echo_findings, echo_json, progress, units_option

__all__ = ["command"]


@click.command("fill")
@click.argument("kind")
@click.argument("drawing", required=False, type=PATH)
@units_option
@shape_options
@click.option("--patch", default=None, help="Which patch, if the drawing has several.")
@click.option("--width", type=LENGTH, default=None, help="The drawing's true width, if it does not say it.")
@click.option("--page", type=click.IntRange(min=1), default=None, help="Which page, if the drawing has several.")
@click.option("--to", "target", type=PATH, required=True, help="SVG (or PNG) file to write.")
@click.option("--force", is_flag=True, help="Write over a file that is there.")
@click.option("--json", "as_json", is_flag=True, help="Print the figures and nothing else.")
def command(
    kind: str,
    drawing: Path | None,
    units: Unit,
    square: float | None,
    rect: str | None,
    triangle: float | None,
    circle: float | None,
    sides: str | None,
    diagonals: str | None,
    patch: str | None,
    width: float | None,
    page: int | None,
    target: Path,
    pairs: tuple[str, ...],
    chance: int,
    force: bool,
    as_json: bool,
) -> None:
    """Try one KIND of fill on one shape: a patch of a DRAWING, read as a top is, or one given by its measures."""
    if target.suffix.lower() not in (".svg", ".png"):
        raise OutputError("must end in .svg or .png", file=str(target), key="--to")
    keep = [Path(name) for name in (drawing, *(pair.partition("=")[2] for pair in pairs)) if name]
    check_targets(target.parent, [target.name], force=force, keep=keep)
    extra = [f"--{key}" for key, v in (("patch", patch), ("width", width), ("page", page)) if v is not None]
    if drawing is None and extra:
        raise InputError("is only for a drawing", key=extra[0], what_to_do="Give a drawing, or leave it out.")
    drawn = None if drawing is None else Drawn(drawing, patch, width, page)
    shape = shape_of(drawn, square, rect, triangle, circle, sides, diagonals, units)
    settings = settings_of(pairs)
    with progress(quiet=as_json) as tell:
        tried = try_fill(
            kind, shape.region, settings, units=units, chance=chance, findings=shape.findings, progress=tell
        )
    if not tried.filled[0].strokes:
        worst = tried.filled[0].findings[0]
        raise FillError(worst.text, zone="shape", what_to_do=worst.what_to_do)
    name, data = fill_picture(tried, target.name)
    write_files(target.parent, {name: data}, force=force, keep=keep)
    if as_json:
        echo_json(report_table(replace(tried.report, files=(name,))))
        return
    row, lines = tried.report.zones[0], tried.report.totals.lines
    per, digits = MM_PER[units], 2 if units == "in" else 1
    click.echo(
        f"{kind}: {lines} line{'s' if lines != 1 else ''}, {row.sewn_mm / per:,.1f} {units} sewn, "
        f"widest gap {row.widest_gap_mm / per:.{digits}f} {units}"
    )
    echo_findings(tried.report.findings)
    click.echo(f"Written to {target}")
