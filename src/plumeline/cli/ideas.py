"""plumeline ideas: computed candidates for a space, with reasons."""

from __future__ import annotations

from pathlib import Path

import click

from .. import quilt as job
from ..errors import InputError
from ..ideas import Idea, ideas_for
from ..output import check_targets, write_files
from ..output.ideas_sheet import Card, ideas_svg
from ..output.png import png_of
from ..units import format_length
from ._shared import PATH, progress, workers

__all__ = ["command"]

WIDTH_PX = 1600


@click.command("ideas")
@click.argument("plan", type=PATH)
@click.option("--zone", required=True, help="The zone.")
@click.option("--part", default="", help="One part of a divided zone.")
@click.option("--option", default=None, help="One of the plan's options: what the neighbours hold counts.")
@click.option("--to", "target", type=PATH, required=True, help="The picture (.svg or .png).")
@click.option("--force", is_flag=True, help="Write over a picture that is there.")
def command(plan: Path, zone: str, part: str, option: str | None, target: Path, force: bool) -> None:
    """Draw ideas for one zone of a PLAN in that very space, best first, each with its figures and reasons."""
    if target.suffix.lower() not in (".svg", ".png"):
        raise InputError(f"is {target.name}; must end in .svg or .png", key="--to")
    read = job.read_plan(plan)
    check_targets(target.parent, [target.name], force=force)
    with progress(quiet=False) as tell:
        found = ideas_for(job.draw(read, option=option, workers=workers(), progress=tell), zone, part=part)
    svg = ideas_svg(f"{read.title}: ideas for {zone}{f', {part}' if part else ''}", [_card(i) for i in found])
    data = png_of(svg, WIDTH_PX) if target.suffix.lower() == ".png" else svg.encode()
    write_files(target.parent, {target.name: data}, force=force)
    for place, idea in enumerate(found, 1):
        click.echo(f"{place:>2}. {idea.name}: {idea.why}")
        click.echo(f"    {_figures(idea)}")
    click.echo(f"Written: {target}")


def _card(idea: Idea) -> Card:
    return Card(idea.name, _figures(idea), idea.why, idea.outline, idea.paths)


def _figures(idea: Idea) -> str:
    lines = "one line" if idea.lines == 1 else f"{idea.lines} lines"
    gap = format_length(idea.widest_gap_mm, "in", per_inch=16)
    return f"{lines}, {max(1, round(idea.minutes))} min, widest gap {gap}, {idea.by_hand} by hand"
