"""plumeline set: change a plan by key; its comments stay."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import click

from .. import quilt as job
from ..output import write_files
from ..pipeline.changing import changed_plan
from ._shared import PATH

__all__ = ["command"]


@click.command("set")
@click.argument("plan", type=PATH)
@click.argument("pairs", nargs=-1, required=True, metavar="KEY=VALUE...")
def command(plan: Path, pairs: Sequence[str]) -> None:
    """Change values in a PLAN and keep its comments: title=Mine, or "big star".fill.inside.spacing=1/2.

    For a zone, write its name first. An empty value takes the key out. The plan is checked before it is written.
    """
    job.read_plan(plan)
    text, told = changed_plan(plan, pairs)
    write_files(plan.parent, {plan.name: text.encode()}, force=True)
    for line in told:
        click.echo(line)
    click.echo(f"Written to {plan}")
