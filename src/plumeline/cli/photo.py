"""plumeline photo: a photo of the top squared up to true size."""

from __future__ import annotations

from pathlib import Path

import click

from .. import quilt as job_of
from ..output import check_targets, write_files
from ..output.film import film_svg
from ..pipeline.film import FILM, film_of
from ..pipeline.photo import SQUARED, PhotoJob, photo_report, squared_photo
from ..pipeline.piecing import PIECED, SEAMS, pieced_photo
from ..plan import files_read
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
@click.option("--plan", type=PATH, default=None, help="Plan of the top; also writes the top as it is pieced.")
@click.option(
    "--film",
    type=PATH,
    default=None,
    metavar="SQUARED.png",
    help="PHOTO shows marker lines on film over the top, SQUARED.png the top without the film; writes film.svg.",
)
@click.option("--to", "folder", type=PATH, required=True, help="Folder for the picture.")
@units_option
@click.option("--json", "as_json", is_flag=True, help="Print what was found as JSON and nothing else.")
@click.option("--force", is_flag=True, help="Write over files that are there.")
def command(
    photo: Path,
    points: Path,
    plan: Path | None,
    film: Path | None,
    folder: Path,
    units: Unit,
    as_json: bool,
    force: bool,
) -> None:
    """Square a PHOTO of the top up to true size, from points measured on it with a tape.

    Writes squared.png, two pixels to the millimetre. In a plan write [top] photo = "squared.png".

    With --plan two more files are written. as-pieced.svg holds the plan's patches as they are really pieced: in the
    plan write [top] drawing = "as-pieced.svg". seams.png shows the seams that were found.
    """
    if film is not None:
        if plan is not None:
            raise click.UsageError("--film goes without --plan: square the top up first, then the film on it.")
        _film(photo, points, film, folder, units, as_json=as_json, force=force)
        return
    read = None if plan is None else job_of.read_plan(plan)
    keep = (photo, points, *(() if read is None else files_read(read)))
    check_targets(folder, [SQUARED] if read is None else [SQUARED, PIECED, SEAMS], force=force, keep=keep)
    job = PhotoJob.read(photo, points, unit=units)
    pieced = None if read is None else pieced_photo(job, read)
    squared = squared_photo(job, unit=units) if pieced is None else pieced.squared
    files = {SQUARED: squared.png()}
    if pieced is not None:
        files |= {PIECED: pieced.drawing(), SEAMS: pieced.picture()}
    names = write_files(folder, files, force=force, keep=keep)
    if as_json:
        more = {} if pieced is None else {"seams": pieced.seams()}
        echo_json(photo_report(squared, names) | more)
        return
    width, height = (format_length(v, units, per_inch=16) for v in squared.size)
    click.echo(f"Squared up: {width} x {height}, from {int(squared.fit.used.sum())} points.")
    echo_findings(squared.findings)
    click.echo(f"Written to {folder}: {', '.join(names)}")


def _film(photo: Path, points: Path, squared: Path, folder: Path, units: Unit, *, as_json: bool, force: bool) -> None:
    """Write the guides that are drawn on film."""
    keep = (photo, points, squared)
    check_targets(folder, [FILM], force=force, keep=keep)
    job = PhotoJob.read(photo, points, unit=units)
    lines, size = film_of(job, squared)
    drawing = film_svg([(line.name, line.path, line.solid) for line in lines], size, title=photo.stem)
    names = write_files(folder, {FILM: drawing.encode()}, force=force, keep=keep)
    if as_json:
        found = [{"name": line.name, "solid": line.solid, "from_mm": line.path[0].tolist()} for line in lines]
        echo_json({"photo": photo.name, "lines": found, "files": list(names)})
        return
    click.echo(f"Found on the film: {', '.join(line.name for line in lines)}.")
    echo_findings(job.fit.findings)
    click.echo(f"Written to {folder}: {', '.join(names)}")
