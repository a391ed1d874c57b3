"""plumeline stitch: the main job."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from time import perf_counter

import click

from .. import quilt as job
from ..errors import InputError
from ..output import check_targets, report_table, write_files
from ..pipeline.look import look_picture
from ..pipeline.pictures import caption_of
from ..pipeline.targets import check_before
from ..pipeline.writing import Quilt
from ..plan import Plan, files_read
from ._shared import (
    PATH,
    echo_findings,
    echo_json,
    kept_zones,
    leave_code,
    nothing_stitched,
    progress,
    workers,
    zone_table,
)

__all__ = ["command"]


@click.command("stitch")
@click.argument("plans", metavar="PLAN", type=PATH, nargs=-1, required=True)
@click.option("--to", "folder", type=PATH, required=True, help="Folder for the files.")
@click.option("--formats", default="svg,dst", show_default=True, help="Formats, separated by commas.")
@click.option("--option", default=None, help="One of the plan's options.")
@click.option("--zone", "zones", multiple=True, help="Only this zone (may be given several times).")
@click.option(
    "--stitched",
    type=PATH,
    default=None,
    help="Drawing (.svg) written when the zones marked done were stitched. [default: the one in the folder]",
)
@click.option("--force", is_flag=True, help="Write over files that are there.")
@click.option("--strict", is_flag=True, help="Leave with code 3 when there are warnings.")
@click.option("--json", "as_json", is_flag=True, help="Print the report and nothing else.")
@click.option("--look", is_flag=True, help="Only fill, and write one small picture: PLAN-look.png.")
@click.option("--timings", is_flag=True, help="Say how long each stage took.")
def command(
    plans: tuple[Path, ...],
    folder: Path,
    formats: str,
    option: str | None,
    zones: tuple[str, ...],
    stitched: Path | None,
    force: bool,
    strict: bool,
    as_json: bool,
    look: bool,
    timings: bool,
) -> int:
    """Stitch a PLAN: write the stitch files, a full-size drawing, pictures and a report.

    Several plans may be given. Each gets a folder of its own name; all are checked before the first is stitched.

    Filled zones are kept in your cache folder (PLUMELINE_CACHE names another), so only what changed is filled again.
    The folder is safe to delete.
    """
    start = perf_counter()
    reads = [job.read_plan(plan) for plan in plans]
    folders = _folders(plans, folder)
    if stitched is not None and len(plans) > 1:
        raise InputError("--stitched goes with one plan", what_to_do="Stitch the plans one after the other.")
    if look:
        for read, into in zip(reads, folders):
            _look(read, into, option, zones, stitched, start, force=force, timings=timings)
        return 0
    wanted = [name.strip() for name in formats.split(",") if name.strip()]
    job.check_formats(wanted)
    keep = [path for read in reads for path in files_read(read, stitched)]
    for read, into in zip(reads, folders):
        check_before(into, read.with_option(option) if option else read, wanted, force=force, keep=keep)
    quilts = []
    for read, into in zip(reads, folders):
        quilt, stages = _stitched(read, into, wanted, option, zones, stitched, force=force, quiet=as_json)
        quilts.append(quilt)
        if not as_json:
            _say(quilt, into)
        if timings and not as_json:
            for (what, begun), (_, end) in pairwise(stages):
                click.echo(f"{what}: {end - begun:.2f} s")
    if as_json:
        tables = [report_table(quilt.report) for quilt in quilts]
        echo_json(tables if len(tables) > 1 else tables[0])
    return max(leave_code(quilt.report.findings, strict) for quilt in quilts)


def _folders(plans: Sequence[Path], folder: Path) -> list[Path]:
    """Return where each plan's files go: of one plan into the folder itself."""
    if len(plans) == 1:
        return [folder]
    names = [plan.stem for plan in plans]
    for plan, name in zip(plans, names):
        if names.count(name) > 1:
            raise InputError(
                f"two plans are named {name}; each has a folder of its name",
                file=str(plan),
                what_to_do="Stitch them one after the other, into different folders.",
            )
    return [folder / name for name in names]


def _stitched(
    read: Plan,
    folder: Path,
    wanted: Sequence[str],
    option: str | None,
    zones: tuple[str, ...],
    stitched: Path | None,
    *,
    force: bool,
    quiet: bool,
) -> tuple[Quilt, list[tuple[str, float]]]:
    """Stitch and write one plan; return it with the stages' names and when each began, the end last."""
    stages = [("reading the plan", perf_counter())]
    with progress(quiet=quiet) as tell:

        def told(what: str, done: int, every: int) -> None:
            if stages[-1][0] != what:
                stages.append((what, perf_counter()))
            tell(what, done, every)

        before = stitched or folder / job.drawing_name(read, option)
        with kept_zones() as kept:
            quilt = job.stitch(
                read, option=option, zones=zones, stitched=before, workers=workers(), progress=told, kept=kept
            )
        if not (quilt.lines or quilt.done):
            raise nothing_stitched(read.file, quilt.report.findings)
        told("writing files", 0, 1)
        names = quilt.write(folder, formats=wanted, force=force)
    stages.append(("", perf_counter()))
    return replace(quilt, report=replace(quilt.report, files=names)), stages


def _say(quilt: Quilt, folder: Path) -> None:
    zone_table(quilt.report, quilt.plan.units)
    click.echo()
    click.echo("\n".join(caption_of(quilt.report, quilt.plan.units)))
    click.echo()
    echo_findings(quilt.report.findings)
    click.echo(f"Written to {folder}: {', '.join(quilt.report.files)}")


def _look(
    read: Plan,
    folder: Path,
    option: str | None,
    zones: tuple[str, ...],
    stitched: Path | None,
    start: float,
    *,
    force: bool,
    timings: bool,
) -> None:
    """Fill, draw one picture, and say what the fills noticed."""
    name = f"{Path(job.drawing_name(read, option)).stem}-look.png"
    before, keep = stitched or folder / job.drawing_name(read, option), files_read(read, stitched)
    check_targets(folder, [name], force=force, keep=keep)
    with progress(quiet=False) as tell, kept_zones() as kept:
        drawn = job.draw(read, option=option, zones=zones, stitched=before, workers=workers(), progress=tell, kept=kept)
    write_files(folder, {name: look_picture(drawn.top, drawn.filled)}, force=force, keep=keep)
    echo_findings(drawn.findings)
    again = "1 shape" if kept.fresh == 1 else f"{kept.fresh} shapes"
    click.echo(f"{len(drawn.zones)} spaces, {again} filled anew. Written to {folder}: {name}")
    if timings:
        click.echo(f"all: {perf_counter() - start:.2f} s")
