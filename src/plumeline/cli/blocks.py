"""plumeline blocks: the traditional blocks that a table of blocks knows."""

from __future__ import annotations

from pathlib import Path

import click
from rich.table import Table

from ..output import check_targets, write_files
from ..pipeline.block_list import block_rows, block_sheet, fabrics_said
from ..top import TRADITIONAL, find_block
from ._shared import PATH, echo_json, print_table

__all__ = ["command"]


@click.command("blocks")
@click.argument("names", nargs=-1)
@click.option("--to", "target", type=PATH, default=None, help="Sheet of pictures to write: .svg or .png.")
@click.option("--force", is_flag=True, help="Write over a file that is there.")
@click.option("--json", "as_json", is_flag=True, help="Print names, fabrics and outlines and nothing else.")
def command(names: tuple[str, ...], target: Path | None, force: bool, as_json: bool) -> None:
    """List the traditional blocks, all or those of NAMES, with their pieces by fabric; --to draws them.

    In a plan: [top.blocks.pieces] star = "ohio star".
    """
    blocks = tuple(dict.fromkeys(find_block(name) for name in names)) or TRADITIONAL
    if target is not None:
        check_targets(target.parent, [target.name], force=force)
        write_files(target.parent, {target.name: block_sheet(target.suffix.lower(), blocks)}, force=force)
    if as_json:
        echo_json({"blocks": block_rows(blocks)})
        return
    table = Table(box=None, pad_edge=False, header_style="bold")
    table.add_column("block")
    table.add_column("also called")
    table.add_column("pieces", justify="right")
    table.add_column("of each fabric")
    for block in blocks:
        table.add_row(block.name, ", ".join(block.also), str(len(block.cut)), fabrics_said(block))
    print_table(table)
    click.echo('\nIn a plan: [top.blocks.pieces] and below it, say, star = "ohio star".')
    click.echo(f"Written to {target}" if target else "'plumeline blocks --to blocks.png' draws them.")
