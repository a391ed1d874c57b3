"""plumeline new: start a plan."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path

import click

from ..errors import InputError, TopError
from ..opening import leads_inside
from ..output import check_targets, write_files
from ..pipeline.mapping import map_file
from ..pipeline.starter import BlockPlan, start_plan
from ..plan import parse_plan
from ..top.traditional import find_block
from ._shared import LENGTH, PATH, comma_list, echo_findings, top_said, units_option

__all__ = ["command"]


@click.command("new")
@click.argument("plan", type=PATH)
@units_option
@click.option("--drawing", type=PATH, default=None, help="A drawing beside the plan.")
@click.option("--width", type=LENGTH, default=None, help="The finished top's width; the drawing is scaled to it.")
@click.option("--height", type=LENGTH, default=None, help="The finished top's height, in place of its width.")
@click.option(
    "--read", type=click.Choice(["painted", "lines"]), default=None, help="lines: every space between lines is a patch."
)
@click.option("--close-gaps", type=LENGTH, default=None, help="Corners and edges closer than this count as one.")
@click.option("--page", type=click.IntRange(min=1), default=None, help="Which page, if the drawing has several.")
@click.option("--blocks", default=None, help="Columns and rows of blocks, such as 3x4.")
@click.option("--block", type=LENGTH, default=None, help="Finished side of a block.")
@click.option("--on-point", is_flag=True, help="Blocks set on point.")
@click.option("--pieced", default=None, help="The traditional block to piece, such as 'nine patch'.")
@click.option("--plain", type=click.Choice(["alternate"]), default=None, help="Every other block is plain.")
@click.option("--sashing", type=LENGTH, default=None, help="Finished width of strips between the blocks.")
@click.option("--border", default=None, help="Border widths from the inside out, such as '1,5 1/2'.")
@click.option("--force", is_flag=True, help="Write over a plan that is there.")
def command(
    plan: Path,
    units: str,
    drawing: Path | None,
    width: float | None,
    height: float | None,
    read: str | None,
    close_gaps: float | None,
    page: int | None,
    blocks: str | None,
    block: float | None,
    on_point: bool,
    pieced: str | None,
    plain: str | None,
    sashing: float | None,
    border: str | None,
    force: bool,
) -> None:
    """Start a PLAN from a drawing or a table of blocks. It lists the patches, one zone for each kind, with comments.

    Its map is written beside it, PLAN-map.png: every patch with its name.

    A table of blocks gives one zone for the pieced blocks, one for the plain ones, and one for each border.

    A drawing is an SVG, a DXF or one page of a PDF. If it does not say its size, give --width or --height.
    """
    if (drawing is None) == (blocks is None):
        raise InputError("needs either --drawing or --blocks", key="new")
    of_drawing = {"width": width, "height": height, "read": read, "close_gaps": close_gaps, "page": page}
    said = {key: value for key, value in of_drawing.items() if value is not None}
    made = None
    if drawing is not None:
        of_blocks = {"block": block, "on_point": on_point, "pieced": pieced, "plain": plain, "sashing": sashing}
        _refuse({**of_blocks, "border": border}, "a table of blocks", "--blocks")
        if not leads_inside(drawing, plan.parent):
            raise InputError(
                f"is {drawing}; must lie in the plan's folder", key="--drawing", what_to_do="Copy it beside the plan."
            )
    else:
        _refuse(of_drawing, "a drawing", "--drawing")
        size = _count(str(blocks))
        if block is None:
            raise InputError("is missing; a table of blocks needs the finished side of a block", key="--block")
        borders = comma_list(border, units, key="--border") if border else []
        if pieced is not None:
            try:
                find_block(pieced)
            except TopError as error:
                raise error.at(key="--pieced") from None
        made = BlockPlan(*size, block, on_point, borders, pieced, plain is not None, sashing)
    keep = [] if drawing is None else [drawing]
    picture = f"{plan.stem}-map.png"
    check_targets(plan.parent, [plan.name, picture], force=force, keep=keep)
    started = start_plan(
        plan,
        units=units,
        drawing=None if drawing is None else drawing.resolve().relative_to(plan.parent.resolve()).as_posix(),
        said=said,
        blocks=made,
    )
    drawn = map_file(parse_plan(started.text, file=plan.name, folder=plan.parent), ".png", started.top)
    write_files(plan.parent, {plan.name: started.text.encode(), picture: drawn}, force=force, keep=keep)
    click.echo(top_said(started.top, units))
    echo_findings(started.top.findings)
    click.echo(f"Written: {plan}, and {plan.parent / picture}, where every patch has its name.")
    click.echo("Choose a fill for each zone, then run")
    click.echo(f"  plumeline stitch {plan} --to {plan.parent / 'stitched'}")


def _refuse(options: Mapping[str, object], what: str, instead: str) -> None:
    """Raise `InputError` when one of some options is given, which belong to something else."""
    given = next((name for name, value in options.items() if value is not None and value is not False), None)
    if given is not None:
        key = f"--{given.replace('_', '-')}"
        raise InputError(f"is only for {what}", key=key, what_to_do=f"Give {instead}, or leave it out.")


def _count(text: str) -> tuple[int, int]:
    found = re.fullmatch(r"\s*(\d{1,2})\s*[xX]\s*(\d{1,2})\s*", text)
    if not found or not int(found[1]) or not int(found[2]):
        raise InputError(f"is {text!r}; must be columns x rows, as 3x4", key="--blocks")
    return int(found[1]), int(found[2])
