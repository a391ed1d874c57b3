"""plumeline continue: the rest of a stitch file after a thread break."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import click
import numpy as np

from ..errors import OutputError
from ..model import Needle, NeedlePoints
from ..output import PointWriter, check_targets, read_file, summary_of, write_files, writer_for_file
from ..stitches import continue_from
from ._shared import LENGTH, PATH, units_option

__all__ = ["command"]


class _LineNumber(click.ParamType[int]):
    name = "line"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> int:
        found = re.fullmatch(r"(?:[1-9]\d{0,3}-)?([1-9]\d{0,6})", str(value).strip())
        if not found:
            self.fail(f"is {value!r}; must be a line's number on the path picture, such as 3, or 2-3 in reach 2")
        return int(found[1])


LINE = _LineNumber()
"""A line by its number on the picture: ``3``, or ``2-3`` for line 3 of reach 2, the third of that reach's file."""


@click.command("continue")
@click.argument("file", type=PATH)
@units_option
@click.option("--line", type=LINE, required=True, help="The line that broke, by its number on the path picture.")
@click.option(
    "--stitch", type=int, default=None, help="The stitch of that line at which it broke. [default: its start]"
)
@click.option("--back", type=LENGTH, default="1", show_default=True, help="How far before the break to begin.")
@click.option("--to", "target", type=PATH, required=True, help="Stitch file to write.")
@click.option("--force", is_flag=True, help="Write over a file that is there.")
def command(file: Path, units: str, line: int, stitch: int | None, back: float, target: Path, force: bool) -> None:
    """After a thread break: write the rest of a stitch FILE (.dst, .exp or .csv).

    The new file begins a little before the break, in a hole of the same line, with a tie like the line's own. All that
    follows is unchanged, hole by hole, and 0, 0 is where it was: the quilt need not be moved.
    """
    check_targets(target.parent, [target.name], force=force, keep=[file])
    _, whole = read_file(file)
    if not isinstance(whole, NeedlePoints):
        raise OutputError("is a drawing and holds no stitches; must be a stitch file", file=str(file))
    writer = writer_for_file(target.name)
    if not isinstance(writer, PointWriter):
        raise OutputError(f"ends in {target.suffix}; must be a stitch file as the one it continues", file=str(target))
    rest = continue_from(whole, line, stitch=stitch, back_mm=back)
    data = writer.write(rest, file.stem, origin=(0.0, 0.0))
    write_files(target.parent, {target.name: data}, force=force, keep=[file])
    before, after = summary_of(whole, "all"), summary_of(rest, "rest")
    x, y = rest.xy[np.flatnonzero(rest.kind <= Needle.TIE)[0]]
    click.echo(
        f"From line {line} of {before.lines}: {after.stitches:,} of {before.stitches:,} stitches in "
        f"{after.lines} line{'s' * (after.lines != 1)}, beginning {x:.1f} mm right and {y:.1f} mm down from 0, 0."
    )
    click.echo(f"Written to {target}")
