"""plumeline map: every patch, seam, guide and zone with its name."""

from __future__ import annotations

from pathlib import Path

import click

from .. import quilt as job
from ._map import draw_map
from ._shared import PATH

__all__ = ["command"]


@click.command("map")
@click.argument("plan", type=PATH)
@click.option("--to", "target", type=PATH, required=True, help="Picture to write: .svg, .png or .pdf.")
@click.option("--force", is_flag=True, help="Write over a file that is there.")
def command(plan: Path, target: Path, force: bool) -> None:
    """Draw the map of a PLAN: every patch, seam, guide and zone with its name where it lies. Nothing is filled."""
    draw_map(job.read_plan(plan), target, force=force)
    click.echo(f"Written to {target}")
