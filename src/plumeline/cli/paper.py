"""plumeline paper: stencils, tracing and ruler sheets, practice steps, at true size on ordinary paper."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import click

from .. import quilt as job
from ..errors import InputError
from ..output import check_targets, write_files
from ..output.paper import CUSTOMER, KINDS, Paper, PaperDrawing, PaperSettings, find_kind, find_paper
from ..pipeline.compare import AS_IT_STANDS
from ..pipeline.paper import (
    CUSTOMER_FILES,
    MOST_IDEAS,
    customer_files,
    findings_of,
    paper_drawings,
    paper_files,
    paper_targets,
)
from ..pipeline.single import try_fill
from ..pipeline.writing import Quilt
from ..plan import Plan, files_read
from ..units import Unit, format_length, parse_length
from ._shape import settings_of, shape_of, shape_options
from ._shared import PATH, echo_findings, nothing_stitched, progress, units_option, workers

__all__ = ["command"]

LEAST = {"--slot": 0.5, "--bridge": 1.2, "--ruler": 50.0, "--foot": 3.0}
MOST = {"--slot": 12.7, "--bridge": 50.8, "--ruler": 1500.0, "--foot": 50.8}
"""Limits of the settings, mm."""


@click.command("paper")
@click.argument("plan", required=False, type=PATH)
@click.option("--kind", "kind", required=True, help=f"What it is for: {', '.join([*KINDS, CUSTOMER])}.")
@click.option("--zone", "zones", multiple=True, help="Only this zone (may be given several times).")
@click.option("--option", default=None, help="One of the plan's options.")
@click.option("--paper", "paper_name", default="letter", show_default=True, help="letter, a4, tabloid, a3, roll:24in.")
@click.option("--mirror", is_flag=True, help="Seen from the back: for iron-on transfer.")
@click.option("--to", "folder", type=PATH, required=True, help="Folder for the files.")
@click.option("--slot", default="3/32", show_default=True, help="Width of a stencil's slots.")
@click.option("--bridge", default="1/8", show_default=True, help="Width of a stencil's bridges.")
@click.option("--ruler", default="12", show_default=True, help="Length of your ruler.")
@click.option("--foot", default="1/2", show_default=True, help="Width of your ruler foot.")
@click.option(
    "--grid-every",
    type=click.IntRange(1, 100),
    default=1,
    show_default=True,
    help="Marks: 2 draws every second line of a grid.",
)
@click.option("--many", is_flag=True, help="Allow more than 60 sheets.")
@click.option("--force", is_flag=True, help="Write over files that are there.")
@click.option("--fill", "fill", default=None, help="Instead of a plan: one fill on one shape.")
@shape_options
@units_option
def command(
    plan: Path | None,
    kind: str,
    zones: tuple[str, ...],
    option: str | None,
    paper_name: str,
    mirror: bool,
    folder: Path,
    slot: str,
    bridge: str,
    ruler: str,
    foot: str,
    grid_every: int,
    many: bool,
    force: bool,
    fill: str | None,
    units: Unit,
    square: float | None,
    rect: str | None,
    triangle: float | None,
    circle: float | None,
    sides: str | None,
    diagonals: str | None,
    pairs: tuple[str, ...],
    chance: int,
) -> None:
    """Write a PLAN's quilting on paper, at true size: each zone as a PDF in sheets and as one full-size SVG."""
    paper = find_paper(paper_name, units)
    if kind == CUSTOMER:
        _customer(plan, option, zones, paper, folder, force=force)
        return
    found = find_kind(kind)
    settings = PaperSettings(
        slot_mm=_length("--slot", slot, units),
        bridge_mm=_length("--bridge", bridge, units),
        ruler_mm=_length("--ruler", ruler, units),
        foot_mm=_length("--foot", foot, units),
        grid_every=grid_every,
        units=units,
    )
    if (plan is None) == (fill is None):
        raise InputError("needs a plan, or --fill with a shape", key="paper", what_to_do="Give one of the two.")
    keep: tuple[Path, ...] = ()
    if plan is not None:
        read = job.read_plan(plan)
        keep = files_read(read)
        quilt = _stitched(read, kind, zones, option, folder, force=force)
    else:
        shape = shape_of(None, square, rect, triangle, circle, sides, diagonals, units)
        quilt = try_fill(
            str(fill), shape.region, settings_of(pairs), units=units, chance=chance, findings=shape.findings
        )
        echo_findings(shape.findings)
    drawings = paper_drawings(quilt, found, zones, settings, mirror=mirror)
    names = write_files(folder, paper_files(drawings, paper, many=many), force=force, keep=keep)
    _echo_drawings(drawings, units)
    click.echo(f"Written to {folder}: {', '.join(names)}")


def _stitched(plan: Plan, kind: str, zones: tuple[str, ...], option: str | None, folder: Path, *, force: bool) -> Quilt:
    """Stitch what is asked for, once it is known that its sheets may be written."""
    wanted = [z for z in zones if z in {spec.name for spec in plan.zones}] or [spec.name for spec in plan.zones]
    check_targets(folder, paper_targets(wanted, kind), force=force, keep=files_read(plan))
    with progress(quiet=False) as tell:
        quilt: Quilt = job.stitch(plan, option=option, zones=zones, workers=workers(), progress=tell)
    if not quilt.zones:
        raise nothing_stitched(plan.file, quilt.report.findings)
    return quilt


def _echo_drawings(drawings: Sequence[PaperDrawing], units: Unit) -> None:
    """Say how large each drawing is, what is noted on it, and how to print it."""
    for drawing in drawings:
        wide, high = (format_length(v, units, per_inch=16) for v in drawing.size)
        click.echo(f"{drawing.zone}: {wide} x {high}" + ("" if drawing.true_size else ", a sketch"))
        for note in drawing.notes:
            click.echo(f"    {note}")
    echo_findings(findings_of(drawings))
    click.echo("Print at 100 % and measure the test squares on the first page.")


def _customer(
    plan: Path | None, option: str | None, zones: tuple[str, ...], paper: Paper, folder: Path, *, force: bool
) -> None:
    """Write the customer's sheet: the plan's options, or the one that is asked for."""
    if plan is None:
        raise InputError("needs a plan: it compares the ideas of a whole quilt", key="--kind")
    if zones:
        raise InputError("is of the whole quilt", key="--zone", what_to_do="Leave --zone out.")
    read = job.read_plan(plan)
    chosen: list[str | None] = [option] if option else [*list(read.options)[:MOST_IDEAS]] or [None]
    keep = files_read(read)
    check_targets(folder, CUSTOMER_FILES, force=force, keep=keep)
    quilts = []
    for name in chosen:
        with progress(quiet=False) as tell:
            made = job.stitch(read, option=name, workers=workers(), progress=tell)
        quilts.append((name or AS_IT_STANDS, made))
    names = write_files(folder, customer_files(quilts, paper), force=force, keep=keep)
    click.echo(f"Written to {folder}: {', '.join(names)}")


def _length(key: str, text: str, units: str) -> float:
    try:
        value = parse_length(text, units)
    except ValueError as error:
        raise InputError(str(error), key=key) from None
    if not LEAST[key] <= value <= MOST[key]:
        raise InputError(f"is {value:g} mm; must be from {LEAST[key]:g} to {MOST[key]:g} mm", key=key)
    return value
