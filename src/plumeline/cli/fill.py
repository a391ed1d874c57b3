"""plumeline fill: try one fill on one shape."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import click

from ..errors import FillError, OutputError
from ..output import check_targets, report_table, write_files
from ..pipeline.files import fill_picture
from ..pipeline.single import try_fill
from ..units import Unit
from ._shape import settings_of, shape_of, shape_options
from ._shared import PATH, echo_findings, echo_json, units_option

__all__ = ["command"]


@click.command("fill")
@click.argument("kind")
@click.argument("drawing", required=False, type=PATH)
@units_option
@shape_options
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
    target: Path,
    pairs: tuple[str, ...],
    chance: int,
    force: bool,
    as_json: bool,
) -> None:
    """Try one KIND of fill on one shape: the first of a DRAWING, or one given by its measures."""
    if target.suffix.lower() not in (".svg", ".png"):
        raise OutputError("must end in .svg or .png", file=str(target), key="--to")
    keep = [Path(name) for name in (drawing, *(pair.partition("=")[2] for pair in pairs)) if name]
    check_targets(target.parent, [target.name], force=force, keep=keep)
    shape = shape_of(drawing, square, rect, triangle, circle, sides, diagonals, units)
    tried = try_fill(kind, shape, settings_of(pairs), units=units, chance=chance)
    if not tried.filled[0].strokes:
        worst = tried.filled[0].findings[0]
        raise FillError(worst.text, zone="shape", what_to_do=worst.what_to_do)
    name, data = fill_picture(tried, target.name)
    write_files(target.parent, {name: data}, force=force, keep=keep)
    if as_json:
        echo_json(report_table(replace(tried.report, files=(name,))))
        return
    row, lines = tried.report.zones[0], tried.report.totals.lines
    click.echo(
        f"{kind}: {lines} line{'s' if lines != 1 else ''}, {row.sewn_mm / 25.4:,.1f} in sewn, "
        f"widest gap {row.widest_gap_mm / 25.4:.2f} in"
    )
    echo_findings(tried.report.findings)
    click.echo(f"Written to {target}")
