"""plumeline refit: one reach fitted to where its marks lie now."""

from __future__ import annotations

import re
from pathlib import Path

import click
import numpy as np

from .. import quilt as job
from ..errors import InputError
from ..output import cautions_text, write_files
from ..pipeline.refit import refit_reach, refitted_files
from ..pipeline.targets import check_refit
from ..plan import files_read
from ..units import format_length
from ._shared import PATH, comma_list, echo_findings, progress, workers

__all__ = ["command"]

_MARK = re.compile(r"\s*([A-Z]+)\s*=\s*([^=]*?)\s*(?=$|[\s;]\s*[A-Z]+\s*=)")


@click.command("refit")
@click.argument("plan", type=PATH)
@click.option("--reach", "number", type=int, required=True, help="Number of the reach.")
@click.option(
    "--marks",
    required=True,
    metavar='"A=RIGHT,DOWN B=RIGHT,DOWN"',
    help="Where its marks lie now, measured right and down from one point of the frame.",
)
@click.option("--to", "folder", type=PATH, required=True, help="Folder for the files.")
@click.option("--formats", default="dst", show_default=True, help="Formats, separated by commas.")
@click.option("--option", default=None, help="One of the plan's options.")
@click.option("--stitched", type=PATH, default=None, help="Drawing of the zones marked done.")
@click.option("--force", is_flag=True, help="Write over files that are there.")
def command(
    plan: Path,
    number: int,
    marks: str,
    folder: Path,
    formats: str,
    option: str | None,
    stitched: Path | None,
    force: bool,
) -> None:
    """Fit one reach of a PLAN to where its marks lie in the frame now, and write its stitch file.

    The stitching is turned and moved so that the marks land where they were measured; it is never stretched. 0, 0 of
    the file is the point that was measured from.
    """
    read = job.read_plan(plan)
    wanted = [name.strip() for name in formats.split(",") if name.strip()]
    job.check_formats(wanted)
    measured = _measured(marks, read.units)
    keep = files_read(read, stitched)
    check_refit(folder, read.with_option(option) if option else read, number, wanted, force=force, keep=keep)
    before = stitched or folder / job.drawing_name(read, option)
    with progress(quiet=False) as tell:
        quilt = job.stitch(read, option=option, stitched=before, workers=workers(), progress=tell)
    fit = refit_reach(quilt, number, measured)
    files = refitted_files(quilt, number, fit, wanted)
    note = f"{Path(next(iter(files))).stem}-read-first.txt"
    files[note] = cautions_text(read.title, tuple(files)).encode()
    names = write_files(folder, files, force=force, keep=keep)
    turn = f"{abs(fit.angle_deg):.2f} degrees {'counter-clockwise' if fit.angle_deg > 0 else 'clockwise'}"
    click.echo(f"Reach {number} lies turned by {turn}; its marks are {_apart(fit.shrink)}.")
    paths = [fit.apply(line.path) for line in quilt.lines if line.reach == number]
    if paths:
        low, high = np.vstack(paths).min(axis=0), np.vstack(paths).max(axis=0)
        across, down = (
            f"{format_length(a, read.units, per_inch=16)} to {format_length(b, read.units, per_inch=16)}"
            for a, b in zip(low, high)
        )
        click.echo(f"It is sewn from {across} right and {down} down of where you measured from: trace it first.")
    echo_findings(fit.findings)
    click.echo(f"Written to {folder}: {', '.join(names)}")


def _apart(shrink: float) -> str:
    if abs(shrink) < 5e-5:
        return "as far apart as planned"
    return f"{abs(shrink):.2%} {'further apart' if shrink > 0 else 'nearer together'} than planned"


def _measured(text: str, unit: str) -> dict[str, tuple[float, float]]:
    """Return the marks of a list such as ``"A=12 1/4,3 B=30 1/8,3 1/16"``, mm.

    Raises
    ------
    InputError
        It can't be read.
    """
    out: dict[str, tuple[float, float]] = {}
    at = 0
    while at < len(text.rstrip("; ")):
        found = _MARK.match(text, at)
        places = comma_list(found[2], unit, key=f"--marks: {found[1]}") if found else []
        if not found or len(places) != 2 or found[1] in out:
            raise InputError(
                f"is {text!r}; must name each mark once with two lengths",
                key="--marks",
                what_to_do='Write "A=12 1/4,3 B=30 1/8,3 1/16": right and down. A decimal takes a point: 30.5.',
            )
        out[found[1]] = (places[0], places[1])
        at = found.end() + 1
    return out
