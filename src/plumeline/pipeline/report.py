"""The report of a quilt: its figures, the findings so far and those of the review, its reaches."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from .. import __version__, review
from ..lines import Joined, marks_in, named_marks, origin_of
from ..model import Batting, Finding, Machine, Quilt
from ..stitches import machine_plan
from ..top import crooked_seams
from .fill import Figures, Job

__all__ = ["make_report"]


def make_report(
    title: str,
    machine: Machine,
    batting: Batting,
    quilt: Quilt,
    jobs: Sequence[Job],
    figures: Sequence[Figures],
    joined: Joined,
    findings: Sequence[Finding],
) -> dict[str, Any]:
    """Return the report of what was stitched, with the findings so far and those of the review.

    ``figures`` are what `review.zone_figures` gives for each zone.
    """
    totals = asdict(machine_plan(quilt.points, machine, batting))
    kept = ("stitches", "trims", "minutes", "needle_thread_m", "bobbin_thread_m", "bobbins")
    strokes = [s for f in quilt.filled[: len(quilt.filled) - len(quilt.done)] for s in f.strokes]
    crooked = [(c.seam.path, c.off_mm, c.name) for c in crooked_seams(quilt.top)]
    report = review.make_report(
        title=title,
        version=__version__,
        quilt=quilt,
        fills=[job.fill for job in jobs],
        figures=figures,
        machine_totals={k: totals[k] for k in (*kept, "shortest_stitch_mm", "longest_stitch_mm")},
        fewest_lines_possible=joined.fewest_possible,
        busiest_passes=joined.busiest_passes,
        batting=batting,
        findings=[*findings, *joined.findings, *review.crooked_seam_findings(strokes, crooked)],
    )
    return {**report, "reaches": _reach_rows(quilt)}


def _reach_rows(quilt: Quilt) -> list[dict[str, Any]]:
    """Return where each reach lies, what its files call 0, 0, and its marks; nothing when there is only one."""
    if len(quilt.reaches) < 2:
        return []
    marks = named_marks(quilt.reaches)
    return [
        {
            "number": reach.number,
            "window_mm": list(reach.window),
            "origin": origin_of(reach, marks)[0],
            "origin_mm": list(origin_of(reach, marks)[1]),
            "marks_mm": {name: list(at) for name, at in marks_in(reach, marks).items()},
            "lines": sum(line.reach == reach.number for line in quilt.lines),
        }
        for reach in quilt.reaches
    ]
