"""plumeline straight: how straight the seams, blocks and corners of a top are."""

from __future__ import annotations

from pathlib import Path

import click
from rich.table import Table

from .. import quilt as job
from ..output import check_targets, write_files
from ..pipeline.straight import STRAIGHT_FILES, straight_data, straight_file, straight_findings, straight_of
from ..plan import files_read
from ..units import format_length
from ._shared import PATH, echo_findings, echo_json, print_table

__all__ = ["command"]

MOST_ROWS = 30
"""Seams in the table on the screen, the worst first; all are in the CSV."""

MOST_NAMED = 5
"""Blocks and corners named on the screen, the worst first."""


@click.command("straight")
@click.argument("plan", type=PATH)
@click.option("--to", "target", type=PATH, default=None, help="A folder for map and tables, or one .svg, .png or .csv.")
@click.option("--force", is_flag=True, help="Write over files that are there.")
@click.option("--json", "as_json", is_flag=True, help="Print seams, blocks, corners and findings and nothing else.")
def command(plan: Path, target: Path | None, force: bool, as_json: bool) -> None:
    """Say how straight the top of a PLAN is: bow, bends and lean of each seam, sides and skew of each block.

    Limits are the plan's: [straight] bow, lean, miss, skew.
    """
    read = job.read_plan(plan)
    folder: Path | None = None
    names: tuple[str, ...] = ()
    if target is not None:
        folder, names = (target.parent, (target.name,)) if target.suffix else (target, STRAIGHT_FILES)
    keep = files_read(read)
    if folder is not None:
        check_targets(folder, names, force=force, keep=keep)
    top, table = straight_of(read)
    if folder is not None:
        title = f"{read.title}: how straight it is"
        files = {name: straight_file(name, top, table, title, read.units) for name in names}
        write_files(folder, files, force=force, keep=keep)
    if as_json:
        echo_json({"title": read.title, **straight_data(table, read.units)})
        return
    crooked = table.crooked
    if crooked:
        shown = Table(box=None, pad_edge=False, header_style="bold")
        shown.add_column("seam")
        for name in ("length", "bow", "bends", "lean"):
            shown.add_column(name, justify="right")
        for seam in crooked[:MOST_ROWS]:
            lengths = [format_length(v, read.units) for v in (seam.length_mm, seam.bow_mm or 0.0, seam.lean_mm)]
            shown.add_row(seam.name, lengths[0], lengths[1], str(len(seam.bends)), lengths[2])
        print_table(shown)
        if len(crooked) > MOST_ROWS:
            click.echo(f"and {len(crooked) - MOST_ROWS} more; --to a folder writes them all")
    else:
        click.echo(f"All {len(table.seams)} seams are true.")
    skewed = [f"{b.name} {format_length(b.skew_mm, read.units)}" for b in table.skewed]
    missed = [
        f"{c.between[0]} | {c.between[1]} {format_length(c.miss_mm, read.units)}"
        for c in sorted(table.corners, key=lambda c: -c.miss_mm)
    ]
    for what, found in (("Blocks out of square, by their diagonals", skewed), ("Corners that miss", missed)):
        if found:
            more = f" and {len(found) - MOST_NAMED} more" if len(found) > MOST_NAMED else ""
            click.echo(f"{what}: {', '.join(found[:MOST_NAMED])}{more}")
    echo_findings(straight_findings(table, read.units))
    if target is not None:
        click.echo(f"Written to {target}")
