"""plumeline compare: ideas side by side."""

from __future__ import annotations

from pathlib import Path

import click
from rich.table import Table

from .. import quilt as job
from ..errors import InputError, OutputError
from ..output import check_targets, write_files
from ..pipeline.compare import AS_IT_STANDS, compared, options_to_compare, side_by_side
from ..plan import files_read
from ._shared import PATH, print_table, progress, workers

__all__ = ["command"]


@click.command("compare")
@click.argument("plan", type=PATH)
@click.option("--option", "options", multiple=True, help="One of the plan's options (two to four). [default: all]")
@click.option("--zone", "zones", multiple=True, help="Only this zone (may be given several times).")
@click.option("--to", "target", type=PATH, required=True, help="PNG or PDF file to write.")
@click.option("--force", is_flag=True, help="Write over a file that is there.")
def command(plan: Path, options: tuple[str, ...], zones: tuple[str, ...], target: Path, force: bool) -> None:
    """Put the options of a PLAN side by side: as cloth at one scale, with lines, hours, thread, draw-in and price."""
    if target.suffix.lower() not in (".png", ".pdf"):
        raise OutputError("must end in .png or .pdf", file=str(target), key="--to")
    read = job.read_plan(plan)
    chosen = options_to_compare(read, options)
    keep = files_read(read)
    check_targets(target.parent, [target.name], force=force, keep=keep)
    quilts = []
    for option in chosen:
        with progress(quiet=False) as tell:
            quilt = job.stitch(read, option=option, zones=zones, workers=workers(), progress=tell)
        if not quilt.lines:
            raise InputError(
                "stitches nothing; there is nothing to compare",
                file=read.file,
                key=f"options.{option}" if option else None,
                what_to_do="Give its zones a fill.",
            )
        quilts.append((option or AS_IT_STANDS, quilt))
    ideas = compared(quilts, zones=zones)
    data = side_by_side(ideas, pdf=target.suffix.lower() == ".pdf", zones=zones)
    write_files(target.parent, {target.name: data}, force=force, keep=keep)
    table = Table(box=None, pad_edge=False, header_style="bold")
    table.add_column("")
    for idea in ideas:
        table.add_column(idea.name, justify="right")
    rows = [idea.rows(read.units) for idea in ideas]
    for figures in zip(*rows):
        table.add_row(figures[0][0], *(value for _, value in figures))
    print_table(table)
    click.echo()
    for idea in ideas:
        click.echo(f"{idea.name}: {idea.apart}")
    click.echo(f"Written to {target}")
