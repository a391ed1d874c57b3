"""plumeline demo: the sample quilt, written, stitched, and what to look at."""

from __future__ import annotations

from pathlib import Path

import click

from .. import demo as sample
from .. import quilt as job
from ..codes import FindingCode
from ..model import Finding
from ..output import check_targets, write_files
from ..pipeline.paper import sample_paper_names, sample_papers
from ..pipeline.pictures import caption_of, fewest_words
from ..pipeline.result import Totals
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
    name = next(n for n in files if n.endswith(".toml"))
    planned = parse_plan(files[name], file=name, folder=folder)
    check_targets(folder, files, force=force)
    check_targets(folder / "paper", sample_paper_names("block" if block else "star centres"), force=force)
    for option in [None] if block else list(planned.options):
        one = planned.with_option(option) if option else planned
        check_before(folder / "stitched" / (option or ""), one, wanted, force=force, keep=())
    write_files(folder, {n: text.encode() for n, text in files.items()}, force=force)
    plan = job.read_plan(folder / name)
    totals: dict[str, Totals] = {}
    seen: dict[str, list[Finding]] = {}
    made: list[tuple[str, Quilt]] = []
    for option in [None] if block else list(plan.options):
        where = folder / "stitched" / (option or "")
        with progress(quiet=False) as tell:
            quilt = job.stitch(plan, option=option, workers=workers(), progress=tell)
            quilt.write(where, formats=wanted, force=force)
        made.append((option or "block", quilt))
        if not totals:
            zone_table(quilt.report, plan.units)
            click.echo("\n" + "\n".join(caption_of(quilt.report, plan.units)) + "\n")
        totals[option or "block"] = quilt.report.totals
        seen[option or "block"] = [f for f in quilt.report.findings if f.code == FindingCode.STRAIGHT_BESIDE_CROOKED]
    papers = sample_papers(made, "block" if block else "star centres")
    write_files(folder / "paper", papers, force=force)
    if len(totals) > 1:
        click.echo("The three ideas side by side:")
        for option, t in totals.items():
            hours, minutes = divmod(round(t.minutes), 60)
            sewn, fewest = format_thread(t.sewn_mm, plan.units, digits=0), fewest_words(t, reaches=False)
            click.echo(
                f"  {option:<10} {hours} h {minutes:02d} min, {t.stitches:>7,} stitches, "
                f"{sewn} sewn, {t.lines} lines ({fewest})"
            )
        for option, notes in seen.items():
            if notes:
                click.echo(f"\nWhat straight lines would show, with '{option}':")
                echo_findings(notes)
    first = folder / "stitched" / next(iter(totals)) if not block else folder / "stitched"
    click.echo(f"\nLook at {first / (Path(name).stem + ('' if block else '-feathers') + '-cloth.png')} first,")
    click.echo(f"and at the stencils, tracing and practice sheets in {folder / 'paper'},")
    click.echo(f"then open {folder / name} in an editor, change a fill, and run")
    click.echo(f"  plumeline stitch {folder / name} --to {folder / 'mine'}")
