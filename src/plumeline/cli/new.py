"""plumeline new: start a plan."""

from __future__ import annotations

import re
from pathlib import Path

import click

from ..errors import InputError
from ..output import check_targets, write_files
from ..pipeline.starter import start_plan
from ._shared import LENGTH, PATH, comma_list, units_option

__all__ = ["command"]


@click.command("new")
@click.argument("plan", type=PATH)
@units_option
@click.option("--drawing", type=PATH, default=None, help="An SVG drawing beside the plan.")
@click.option("--blocks", default=None, help="Columns and rows of blocks, as 3x4.")
@click.option("--block", type=LENGTH, default=None, help="Finished side of a block.")
@click.option("--on-point", is_flag=True, help="Blocks set on point.")
@click.option("--border", default=None, help="Border widths from the inside out, as '1,5 1/2'.")
@click.option("--force", is_flag=True, help="Write over a plan that is there.")
def command(
    plan: Path,
    units: str,
    drawing: Path | None,
    blocks: str | None,
    block: float | None,
    on_point: bool,
    border: str | None,
    force: bool,
) -> None:
    """Start a PLAN from a drawing or a table of blocks: it lists the patches, one zone for each kind, with comments."""
    if (drawing is None) == (blocks is None):
        raise InputError("needs either --drawing or --blocks", key="new")
    if drawing is not None and drawing.resolve().parent != plan.resolve().parent:
        raise InputError(
            f"is {drawing}; must lie in the plan's folder", key="--drawing", what_to_do="Copy it beside the plan."
        )
    size = None if blocks is None else _count(blocks)
    table = {"--block": block is not None, "--on-point": on_point, "--border": border is not None}
    extra = [name for name, given in table.items() if given and not size]
    if extra:
        raise InputError("is only for a table of blocks", key=extra[0], what_to_do="Give --blocks, or leave it out.")
    if size and block is None:
        raise InputError("is missing; a table of blocks needs the finished side of a block", key="--block")
    keep = [] if drawing is None else [drawing]
    check_targets(plan.parent, [plan.name], force=force, keep=keep)
    text = start_plan(
        plan,
        units=units,
        drawing=None if drawing is None else drawing.name,
        blocks=size,
        block_mm=block,
        on_point=on_point,
        borders_mm=comma_list(border, units, key="--border") if border else [],
    )
    write_files(plan.parent, {plan.name: text.encode()}, force=force, keep=keep)
    click.echo(f"Written: {plan}. Choose a fill for each zone, then run")
    click.echo(f"  plumeline stitch {plan} --to {plan.parent / 'stitched'}")


def _count(text: str) -> tuple[int, int]:
    found = re.fullmatch(r"\s*(\d{1,2})\s*[xX]\s*(\d{1,2})\s*", text)
    if not found or not int(found[1]) or not int(found[2]):
        raise InputError(f"is {text!r}; must be columns x rows, as 3x4", key="--blocks")
    return int(found[1]), int(found[2])
