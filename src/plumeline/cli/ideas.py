"""plumeline ideas: computed candidates for a space, with reasons."""

from __future__ import annotations

from pathlib import Path

import click

from .. import quilt as job
from ..errors import InputError
from ..ideas import Idea, ideas_for
from ..ideaset import Choice, IdeaSet, idea_set
from ..output import check_targets, write_files
from ..output.ideas_sheet import Card, ideas_svg
from ..output.png import png_of
from ..plan import Plan
from ..units import Unit, format_length
from ._shared import PATH, Amount, progress, workers

__all__ = ["command"]

WIDTH_PX = 1600


@click.command("ideas")
@click.argument("plan", type=PATH)
@click.option(
    "--zone", default=None, help="The zone. Leave it out with --hours or --price: they are for the whole quilt."
)
@click.option("--part", default="", help="One part of a divided zone.")
@click.option("--option", default=None, help="One of the plan's options, whose fills the neighbours then hold.")
@click.option(
    "--hours",
    type=Amount(min=0.1, max=10_000),
    default=None,
    help="Ideas for the whole quilt, at most so many hours at the machine.",
)
@click.option(
    "--price",
    type=Amount(min=0.01, max=1e7),
    default=None,
    help="Ideas for the whole quilt, at most at this price by the plan's [prices].",
)
@click.option("--to", "target", type=PATH, required=True, help="The picture (.svg or .png).")
@click.option("--force", is_flag=True, help="Write over a picture that is there.")
def command(
    plan: Path,
    zone: str | None,
    part: str,
    option: str | None,
    hours: float | None,
    price: float | None,
    target: Path,
    force: bool,
) -> None:
    """Draw ideas for one zone of a PLAN in that very space, best first, each with its figures and reasons.

    With --hours or --price: ideas for the whole quilt that keep to it, few kinds of fill, evenly tight.
    """
    if sum(said is not None for said in (zone, hours, price)) != 1:
        raise click.UsageError("give one of --zone, --hours and --price")
    if target.suffix.lower() not in (".svg", ".png"):
        raise InputError(f"is {target.name}; must end in .svg or .png", key="--to")
    read = job.read_plan(plan)
    check_targets(target.parent, [target.name], force=force)
    with progress(quiet=False) as tell:
        drawn = job.draw(read, option=option, workers=workers(), progress=tell)
        if zone is None:
            made = idea_set(drawn, minutes=None if hours is None else 60 * hours, price=price)
        else:
            found = ideas_for(drawn, zone, part=part)
    if zone is None:
        _write_set(read, made, target, force=force)
        return
    svg = ideas_svg(
        f"{read.title}: ideas for {zone}{f', {part}' if part else ''}", [_card(i, read.units) for i in found]
    )
    data = png_of(svg, WIDTH_PX) if target.suffix.lower() == ".png" else svg.encode()
    write_files(target.parent, {target.name: data}, force=force)
    for place, idea in enumerate(found, 1):
        click.echo(f"{place:>2}. {idea.name}: {idea.why}")
        click.echo(f"    {_figures(idea, read.units)}")
    click.echo(f"Written: {target}")


def _write_set(plan: Plan, made: IdeaSet, target: Path, *, force: bool) -> None:
    cards = [
        Card(f"{_place(c)}: {c.idea.name}", _figures(c.idea, plan.units),
             f"in {c.spaces} like it" if c.spaces > 1 else "", c.idea.outline, c.idea.paths)
        for c in made.choices
    ]  # fmt: skip
    svg = ideas_svg(f"{plan.title}: a set of ideas", cards)
    data = png_of(svg, WIDTH_PX) if target.suffix.lower() == ".png" else svg.encode()
    write_files(target.parent, {target.name: data}, force=force)
    for c in made.choices:
        click.echo(f"{_place(c)}: {c.idea.name}, tightness {c.idea.tight:.1f}, {c.minutes:.0f} min for {c.spaces}")
    whole, minutes = divmod(round(made.minutes), 60)
    asked = "" if made.price is None else f", {made.price:,.2f} to ask"
    click.echo(f"Together {whole} h {minutes:02d} min at the machine{asked}, each space with its own start and stop.")
    for line in made.given_up:
        click.echo(f"Given up: {line}")
    if not made.kept:
        click.echo("That is still over what you asked: plainer than this the batting does not allow.")
    click.echo(f"Written: {target}")


def _place(choice: Choice) -> str:
    return f"{choice.zone}, {choice.part}" if choice.part else choice.zone


def _card(idea: Idea, unit: Unit) -> Card:
    return Card(idea.name, _figures(idea, unit), idea.why, idea.outline, idea.paths)


def _figures(idea: Idea, unit: Unit) -> str:
    lines = "one line" if idea.lines == 1 else f"{idea.lines} lines"
    gap = format_length(idea.widest_gap_mm, unit)
    return f"{lines}, {max(1, round(idea.minutes))} min, widest gap {gap}, {idea.by_hand} by hand"
