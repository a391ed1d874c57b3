"""plumeline check: read everything, change nothing."""

from __future__ import annotations

from pathlib import Path

import click

from .. import quilt as job
from ._map import draw_map
from ._shared import PATH, echo_findings, echo_json, kept_zones, leave_code, progress, top_said, workers

__all__ = ["command"]


@click.command("check")
@click.argument("plan", type=PATH)
@click.option("--option", default=None, help="One of the plan's options.")
@click.option("--stitched", type=PATH, default=None, help="Drawing of the zones marked done.")
@click.option("--map", "target", type=PATH, default=None, help="Also draw the map: .svg, .png or .pdf.")
@click.option("--force", is_flag=True, help="Write over a map that is there.")
@click.option("--strict", is_flag=True, help="Leave with code 3 when there are warnings.")
@click.option("--json", "as_json", is_flag=True, help="Print the findings and nothing else.")
def command(
    plan: Path,
    option: str | None,
    stitched: Path | None,
    target: Path | None,
    force: bool,
    strict: bool,
    as_json: bool,
) -> int:
    """Read a PLAN and its top, try every zone, and say what was found.

    Nothing is written, except the map if you ask for one.

    Zones marked done are left out, unless --stitched names the drawing that shows them.
    """
    read = job.read_plan(plan)
    if target is not None:
        draw_map(read, target, force=force)
    todo = [] if stitched else [zone.name for zone in read.zones if not zone.done]
    with progress(quiet=as_json) as tell, kept_zones() as kept:
        quilt = job.stitch(
            read, option=option, zones=todo, stitched=stitched, workers=workers(), progress=tell, kept=kept
        )
    findings = quilt.report.findings
    if as_json:
        echo_json({"title": read.title, "findings": quilt.report["findings"]})
        return leave_code(findings, strict)
    click.echo(f"{read.title}: {top_said(quilt.top, read.units)}; {len(quilt.zones)} spaces to fill")
    echo_findings(findings)
    if not findings:
        click.echo("Nothing to note.")
    return leave_code(findings, strict)
