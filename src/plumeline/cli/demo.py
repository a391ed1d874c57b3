"""plumeline demo: the sample quilt, written, stitched, and what to look at."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import click

from .. import demo as sample
from .. import quilt as job
from ..codes import FindingCode
from ..output import check_targets, write_files
from ..pipeline.files import stem_of
from ..pipeline.paper import sample_paper_names, sample_papers
from ..pipeline.pictures import caption_of, fewest_words
from ..pipeline.targets import check_before
from ..pipeline.writing import Quilt
from ..plan import parse_plan
from ..units import format_thread
from ._shared import PATH, echo_findings, progress, workers, zone_table

__all__ = ["command"]


@click.command("demo")
@click.option("--block", is_flag=True, help="One 14 in block instead of the whole quilt.")
@click.option(
    "--to",
    "folder",
    type=PATH,
    default=Path("plumeline-demo"),
    show_default=True,
    help="Folder to write to.",
)
@click.option("--formats", default="svg,dst", show_default=True, help="Formats, separated by commas.")
@click.option("--force", is_flag=True, help="Write over files that are there.")
def command(block: bool, folder: Path, formats: str, force: bool) -> None:
    """Write the sample quilt "Plain and Star", stitch its three ideas, and say what to look at."""
    wanted = [name.strip() for name in formats.split(",") if name.strip()]
    job.check_formats(wanted)
    files = sample.block_files() if block else sample.quilt_files()
    zone = "block" if block else "star centres"
    file = folder / next(name for name in files if name.endswith(".toml"))
    plan = parse_plan(files[file.name], file=file.name, folder=folder)
    ideas: list[str | None] = [None] if block else [*plan.options]
    check_targets(folder, files, force=force)
    check_targets(folder / "paper", sample_paper_names(zone), force=force)
    for option in ideas:
        idea = plan.with_option(option) if option else plan
        check_before(_stitched(folder, option), idea, wanted, force=force, keep=())
    write_files(folder, {name: text.encode() for name, text in files.items()}, force=force)
    plan = job.read_plan(file)
    made: list[tuple[str, Quilt]] = []
    for option in ideas:
        with progress(quiet=False) as tell:
            quilt = job.stitch(plan, option=option, workers=workers(), progress=tell)
            quilt.write(_stitched(folder, option), formats=wanted, force=force)
        if not made:
            zone_table(quilt.report, plan.units)
            click.echo("\n" + "\n".join(caption_of(quilt.report, plan.units)) + "\n")
        made.append((option or "block", quilt))
    write_files(folder / "paper", sample_papers(made, zone), force=force)
    if len(made) > 1:
        _say_side_by_side(made)
    click.echo(f"\nLook at {_stitched(folder, ideas[0]) / f'{stem_of(made[0][1].plan)}-cloth.png'} first,")
    click.echo(f"and at the stencils, tracing and practice sheets in {folder / 'paper'},")
    click.echo(f"then open {file} in an editor, change a fill, and run")
    click.echo(f"  plumeline stitch {file} --to {folder / 'mine'}")


def _stitched(folder: Path, option: str | None) -> Path:
    """Return where the files of one idea go."""
    return folder / "stitched" / (option or "")


def _say_side_by_side(made: Sequence[tuple[str, Quilt]]) -> None:
    """Print the figures of each idea, and which straight lines of it would show a crooked seam."""
    click.echo("The three ideas side by side:")
    for option, quilt in made:
        totals = quilt.report.totals
        hours, minutes = divmod(round(totals.minutes), 60)
        sewn, fewest = format_thread(totals.sewn_mm, quilt.plan.units, digits=0), fewest_words(totals, reaches=False)
        click.echo(
            f"  {option:<10} {hours} h {minutes:02d} min, {totals.stitches:>7,} stitches, "
            f"{sewn} sewn, {totals.lines} lines ({fewest})"
        )
    for option, quilt in made:
        shown = [f for f in quilt.report.findings if f.code == FindingCode.STRAIGHT_BESIDE_CROOKED]
        if shown:
            click.echo(f"\nWhat straight lines would show, with '{option}':")
            echo_findings(shown)
