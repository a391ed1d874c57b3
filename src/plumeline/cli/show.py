"""plumeline show: one page to send."""

from __future__ import annotations

from pathlib import Path

import click

from .. import quilt as job
from ..errors import InputError
from ..output import check_targets, write_files
from ..page import show_page
from ..plan import files_read
from ._shared import PATH, progress, workers

__all__ = ["command"]


@click.command("show")
@click.argument("plan", type=PATH)
@click.option("--to", "target", type=PATH, required=True, help="The page (.html).")
@click.option("--option", "options", multiple=True, help="Only this option (may be given several times).")
@click.option("--force", is_flag=True, help="Write over a page that is there.")
def command(plan: Path, target: Path, options: tuple[str, ...], force: bool) -> None:
    """Write one page that shows a PLAN's options as cloth and plays the stitching; it opens from disk and prints."""
    if target.suffix.lower() not in (".html", ".htm"):
        raise InputError(f"is {target.name}; must end in .html", key="--to")
    read = job.read_plan(plan)
    keep = files_read(read)
    check_targets(target.parent, [target.name], force=force, keep=keep)
    wanted: list[str | None] = [*(options or read.options)] or [None]
    for name in options:
        read.with_option(name)
    kept = job.Kept()
    with progress(quiet=False) as tell:
        quilts = {
            name or read.title: job.stitch(read, option=name, workers=workers(), progress=tell, kept=kept)
            for name in wanted
        }
    write_files(target.parent, {target.name: show_page(quilts).encode()}, force=force, keep=keep)
    click.echo(f"Written: {target}. It needs nothing else: open it, print it, or send it.")
