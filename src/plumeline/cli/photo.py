"""plumeline photo: a photo of the top squared up to true size."""

from __future__ import annotations

from pathlib import Path

import click

from ..output import check_targets, write_files
from ..pipeline.photo import SQUARED, PhotoJob, photo_report, squared_photo
from ..units import Unit, format_length
from ._shared import PATH, echo_findings, echo_json, units_option

__all__ = ["command"]


@click.command("photo")
@click.argument("photo", type=PATH)
@click.option(
    "--points",
    type=PATH,
    required=True,
    metavar="POINTS.csv",
    help="Table of measured points: x_px,y_px (pixels of the photo), right,down (where they lie on the top).",
)
@click.option("--to", "folder", type=PATH, required=True, help="Folder for the picture.")
@units_option
@click.option("--json", "as_json", is_flag=True, help="Print what was found as JSON and nothing else.")
@click.option("--force", is_flag=True, help="Write over files that are there.")
def command(photo: Path, points: Path, folder: Path, units: Unit, as_json: bool, force: bool) -> None:
    """Square a PHOTO of the top up to true size, from points measured on it with a tape.

    Writes squared.png, two pixels a millimetre, for [top] photo = "squared.png" in a plan.
    """
    keep = (photo, points)
    check_targets(folder, [SQUARED], force=force, keep=keep)
    job = PhotoJob.read(photo, points, unit=units)
    squared = squared_photo(job, unit=units)
    names = write_files(folder, {SQUARED: squared.png()}, force=force, keep=keep)
    if as_json:
        echo_json(photo_report(squared, names))
        return
    width, height = (format_length(v, units, per_inch=16) for v in squared.size)
    click.echo(f"Squared up: {width} x {height}, from {int(squared.fit.used.sum())} points.")
    echo_findings(squared.findings)
    click.echo(f"Written to {folder}: {', '.join(names)}")
