"""The whole way on one page: plan, top, zones, strokes, lines, needle points, report, files."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict, dataclass, replace
from multiprocessing import get_context
from pathlib import Path as FilePath
from typing import Any, TypeAlias

import numpy as np

from . import __version__, output, review
from .done import already_sewn, already_stitched, filled_as_stitched, old_ways
from .errors import FillError, InputError, OutputError, ZoneError, nearest
from .fills import FillSettings, broken_fills, fill_names, find_fill
from .fills.limits import STITCHES_MOST
from .fills.stack import Layer, fill_zone
from .geometry import path_length
from .lines import STAGES, Joined, Work, join_works, marks_in, named_marks, origin_of
from .model import (
    Batting,
    Filled,
    Finding,
    Machine,
    NeedlePoints,
    Quilt,
    Stage,
    Top,
    Zone,
)
from .plan import CheckedFills, Plan, check_fills
from .plan import read_plan as _read_plan
from .sources import ZoneSources
from .stitches import machine_plan, stitch_lines
from .top import BlockTable, Border, Pieces, Sashing, crooked_seams, from_blocks, from_drawing, from_measures
from .writing import files_of, stem_of
from .zones import make_zones, seam_ways

__all__ = [
    "Job",
    "Progress",
    "check_formats",
    "drawing_name",
    "make_report",
    "read_plan",
    "read_top",
    "settings_models",
    "stitch",
    "write",
]

Figures: TypeAlias = Mapping[str, Any]
"""What was measured in one zone."""

Task: TypeAlias = tuple[Zone, tuple[Layer, ...], float | None]
"""What one process needs to fill and measure a zone: its layers and the spacing asked for."""

Progress: TypeAlias = Callable[[str, int, int], None]
"""Told what is being done, how much of it is done, and how much there is."""

WORTH_SHARING = 12
"""Zones from which several processes are quicker than one: starting them takes about a second."""


def settings_models() -> Mapping[str, type[FillSettings]]:
    """Return the settings model of every fill by its kind."""
    return {name: find_fill(name).settings for name in fill_names()}


def read_plan(path: str | FilePath) -> Plan:
    """Read a plan and check it whole, the settings of its fills too.

    Raises
    ------
    PlanError
        The first thing that can't be used: file, zone, key, value, rule, what to do.
    """
    plan = _read_plan(path)
    check_fills(plan, settings_models())
    return plan


def read_top(plan: Plan) -> Top:
    """Return the top that a plan names: its drawing, its table of blocks, or its measured block."""
    told, pressed_open = plan.top, plan.top.pressed == "open"
    if plan.drawing is not None:
        return from_drawing(
            plan.drawing, close_gaps_mm=told.close_gaps_mm, guides=told.guides, pressed_open=pressed_open
        )
    if told.blocks is not None:
        blocks = told.blocks
        sashing = blocks.sashing
        table = BlockTable(
            setting=blocks.setting,
            size_mm=blocks.size_mm,
            rows=blocks.rows,
            between=blocks.between,
            sashing=None if sashing is None else Sashing(sashing.width_mm, sashing.outer, sashing.cornerstones),
            borders=[Border(b.name, b.width_mm, b.corners) for b in blocks.borders],
            pieces={name: Pieces([np.asarray(line) for line in p.lines], p.grid) for name, p in blocks.pieces.items()},
        )
        return from_blocks(table, pressed_open=pressed_open)
    if told.measured is None:
        raise ZoneError("says nothing of where the patches come from", file=plan.file, key="top")
    return from_measures(told.measured.sides_mm, told.measured.diagonals_mm)


def stitch(
    plan: Plan,
    *,
    option: str | None = None,
    zones: Sequence[str] = (),
    stitched: str | FilePath | None = None,
    workers: int = 1,
    progress: Progress | None = None,
) -> Quilt:
    """Do the main job: from a plan to needle points and a report.

    Parameters
    ----------
    plan : Plan
        As `read_plan` returns it.
    option : str, optional
        Name of one of the plan's options.
    zones : sequence of str
        Only these zones (all when empty).
    stitched : path, optional
        The full-size SVG that was written when the zones marked ``done`` were stitched.
    workers : int
        Processes that fill zones side by side; the result is the same for any number.
    progress : callable, optional
        Told how far it is.

    Returns
    -------
    Quilt
        With its report; `Quilt.write` writes the files.

    Raises
    ------
    InputError
        Something in the plan, its drawing or its settings can't be used, or it comes to more than `STITCHES_MOST`.
    """
    tell = progress or (lambda _what, _done, _all: None)
    plan = plan.with_option(option) if option else plan
    try:
        return _stitched(plan, check_fills(plan, settings_models()), zones, stitched, workers, tell)
    except InputError as error:
        raise error.at(file=plan.file) from None


def _stitched(
    plan: Plan,
    checked: CheckedFills,
    zones: Sequence[str],
    stitched: str | FilePath | None,
    workers: int,
    tell: Progress,
) -> Quilt:
    tell("reading the top", 0, 1)
    top = read_top(plan)
    made, zone_findings = make_zones(top, plan.zones, chance=plan.chance)
    every = _jobs(plan, made, checked, zones, keep_done=stitched is not None)
    jobs, old = [job for job in every if not job.done], [job for job in every if job.done]
    unfilled = [job.zone.label for job in old if not job.layers]
    found, done_findings = already_stitched([job.zone for job in old], stitched, plan=plan.file, unfilled=unfilled)
    known = [(job, s) for job, s in zip(old, found) if job.layers or s.runs]
    old, done = [job for job, _ in known], tuple(s for _, s in known)
    kept = [filled_as_stitched(job.zone, s, job.thread) for job, s in zip(old, done)]
    filled, figures = _fill_all(plan, top, jobs, workers, tell, known=zip(old, kept))
    figures += [review.zone_figures(job.zone, f, job.spacing_mm) for job, f in zip(old, kept)]
    tell("joining lines", 0, 1)
    joined = join_works(
        [work for job, f in zip(jobs, filled) for work in _works(job, f)],
        seams=[*seam_ways(top, plan.zones), *old_ways(done)],
        machine=plan.machine,
        sewn=already_sewn(done),
    )
    tell("placing stitches", 0, 1)
    names = [job.zone.label for job in jobs]
    points = _needle_points(plan, joined, names, _zone_of_stroke(jobs, filled))
    quilt = Quilt(
        plan=plan,
        top=top,
        zones=tuple(job.zone for job in (*jobs, *old)),
        filled=(*_in_work_order(filled), *kept),
        lines=joined.lines,
        points=points,
        report={},
        reaches=joined.reaches.reaches if joined.reaches else (),
        done=done,
    )
    noticed = (*top.findings, *zone_findings, *_without_fill(plan), *broken_fills())
    findings = [*noticed, *(x for f in filled for x in f.findings), *done_findings]
    tell("measuring", 0, 1)
    return quilt.with_report(
        make_report(plan.title, plan.machine, plan.batting, quilt, [*jobs, *old], figures, joined, findings)
    )


def _without_fill(plan: Plan) -> tuple[Finding, ...]:
    names = [spec.name for spec in plan.zones if not plan.fills.get(spec.name)]
    if not names:
        return ()
    count = "1 zone has no fill and stays open" if len(names) == 1 else f"{len(names)} zones have no fill and stay open"
    what = "Give each a fill, or leave it open on purpose."
    return (Finding("no-fill", "note", None, f"{count}: {', '.join(names)}", what),)


@dataclass(frozen=True, slots=True)
class Job:
    """One zone to fill: its layers, whose settings still hold names, its thread and when it is sewn.

    ``done``: it is on the cloth already.
    """

    zone: Zone
    layers: tuple[Layer, ...]
    thread: str
    stage: Stage
    done: bool = False

    @property
    def fill(self) -> str:
        """The fills' names, for the report."""
        return "done" if self.done else " + ".join(layer.fill.name for layer in self.layers)

    @property
    def spacing_mm(self) -> float | None:
        """The spacing asked of the last layer; None where it has none, matches another zone's, or is done."""
        if self.done or self.layers[-1].settings.waits:
            return None
        spacing = getattr(self.layers[-1].settings, "spacing_mm", None)
        return spacing if isinstance(spacing, float) else None


def _jobs(
    plan: Plan, made: Sequence[Zone], checked: CheckedFills, wanted: Sequence[str], *, keep_done: bool
) -> list[Job]:
    """Return the zones to fill of those wanted, and with ``keep_done`` every zone that is done: none may get lost."""
    specs = {spec.name: spec for spec in plan.zones}
    for name in wanted:
        if name not in specs:
            near = nearest(name, specs)
            raise ZoneError(
                f"is no zone of this plan; its zones are {', '.join(specs)}",
                zone=name,
                what_to_do=f"Did you mean {near!r}?" if near else None,
            )
    jobs = []
    for zone in made:
        stack = checked.stack(zone.name, zone.part)
        spec = specs[zone.name]
        asked = not wanted or zone.name in wanted
        if not (asked and stack) and not (spec.done and (asked or keep_done)):
            continue
        layers = tuple(Layer(find_fill(c.kind), c.settings) for c in stack)  # type: ignore[arg-type]
        jobs.append(Job(zone, layers, spec.thread, _stage(zone, layers), spec.done))
    # the parts of one zone are sewn together, so that one line can go from a frame into what it frames
    first: dict[str, Stage] = {}
    for job in jobs:
        first[job.zone.name] = min(job.stage, first.get(job.zone.name, job.stage), key=STAGES.index)
    return [replace(job, stage=first[job.zone.name]) for job in jobs]


def _stage(zone: Zone, layers: Sequence[Layer]) -> Stage:
    """Return when a zone is sewn: by its first fill but the ditch; a zone that she calls a border comes last."""
    stages = [layer.fill.stage for layer in layers if layer.fill.stage != "ditch"]
    return "ditch" if not stages else "border" if "border" in zone.name.lower() else stages[0]


def _fill_all(
    plan: Plan,
    top: Top,
    jobs: Sequence[Job],
    workers: int,
    tell: Progress,
    *,
    known: Iterable[tuple[Job, Filled]] = (),
) -> tuple[list[Filled], list[Figures]]:
    """Fill and measure every zone; those that match another's density after the others.

    ``known`` are filled already.
    """
    out: dict[int, tuple[Filled, Figures]] = {}
    densities: dict[str, list[tuple[float, float]]] = {}
    for job, filled in known:
        densities.setdefault(job.zone.name, []).append((_length(filled), job.zone.region.area))
    waits = [any(layer.settings.waits for layer in job.layers) for job in jobs]
    done, sewn = 0, 0.0
    for turn in (False, True):
        todo = [i for i, wait in enumerate(waits) if wait is turn]
        so_far = {name: review.inches_per_square_inch(*map(sum, zip(*parts))) for name, parts in densities.items()}
        resolved = [_resolved(plan, top, jobs[i], so_far) for i in todo]
        for i, (filled, figures) in zip(todo, _run(resolved, workers)):
            done += 1
            tell("filling zones", done, len(jobs))
            out[i] = _threaded(filled, jobs[i].thread), figures
            length = _length(filled)
            sewn += length
            if sewn / plan.machine.stitch_mm > STITCHES_MOST:
                raise _too_many(jobs[i].zone.name)
            densities.setdefault(jobs[i].zone.name, []).append((length, jobs[i].zone.region.area))
    return [out[i][0] for i in range(len(jobs))], [out[i][1] for i in range(len(jobs))]


def _length(filled: Filled) -> float:
    return sum(path_length(s.path, closed=s.closed) for s in filled.strokes)


def _too_many(zone: str) -> FillError:
    return FillError(
        f"brings the quilt to more than {STITCHES_MOST // 1_000_000} million stitches, the most at once",
        zone=zone,
        key="fill",
        what_to_do="Choose wider spacings, or stitch some of the zones at a time with --zone.",
    )


def _resolved(plan: Plan, top: Top, job: Job, densities: Mapping[str, float]) -> Task:
    sources = ZoneSources(job.zone, top, plan.folder, densities)
    layers = tuple(Layer(layer.fill, layer.settings.resolved(sources)) for layer in job.layers)
    return job.zone, layers, job.spacing_mm


def _fill_one(task: Task) -> tuple[Filled, Figures]:
    zone, layers, spacing_mm = task
    filled = fill_zone(zone, layers)
    return filled, review.zone_figures(zone, filled, spacing_mm)


def _run(jobs: Sequence[Task], workers: int) -> Iterable[tuple[Filled, Figures]]:
    if workers < 2 or len(jobs) < WORTH_SHARING:
        yield from map(_fill_one, jobs)
        return
    with ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as pool:
        yield from pool.map(_fill_one, jobs, chunksize=max(1, min(8, len(jobs) // (4 * workers))))


def _threaded(filled: Filled, thread: str) -> Filled:
    return replace(filled, strokes=tuple(replace(s, thread=thread) for s in filled.strokes))


def _works(job: Job, filled: Filled) -> list[Work]:
    """Return what is joined: ditch first and by itself, the rest of the stack together."""
    ditch = {layer.fill.name for layer in job.layers if layer.fill.stage == "ditch"}
    parts: list[tuple[Stage, list[Any]]] = [("ditch", []), (job.stage, [])]
    for stroke in filled.strokes:
        parts[0 if stroke.fill in ditch else 1][1].append(stroke)
    return [Work(job.zone, tuple(strokes), stage) for stage, strokes in parts if strokes]


def _in_work_order(filled: Sequence[Filled]) -> tuple[Filled, ...]:
    """Return the filled zones with each one's strokes as `_works` numbers them: ditch first."""
    return tuple(
        replace(f, strokes=tuple(sorted(f.strokes, key=lambda s: find_fill(s.fill).stage != "ditch"))) for f in filled
    )


def _zone_of_stroke(jobs: Sequence[Job], filled: Sequence[Filled]) -> list[int]:
    return [i for i, _ in enumerate(jobs) for _ in filled[i].strokes]


def _needle_points(
    plan: Plan, joined: Joined, names: Sequence[str], zone_of_stroke: Sequence[int]
) -> tuple[NeedlePoints, ...]:
    reaches = sorted({line.reach for line in joined.lines}) or [1]
    return tuple(
        stitch_lines(
            [line for line in joined.lines if line.reach == reach],
            plan.machine,
            zone_of_stroke=zone_of_stroke,
            names=names,
            batting=plan.batting,
            reach=reach,
        )
        for reach in reaches
    )


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


def drawing_name(plan: Plan, option: str | None = None) -> str:
    """Return the name of the full-size drawing that `write` makes of a plan."""
    return f"{stem_of(plan.with_option(option) if option else plan)}.svg"


def check_formats(names: Sequence[str]) -> None:
    """Check the names of formats before the long work begins.

    Raises
    ------
    OutputError
        One of them is no format, or there is none.
    """
    if not names:
        raise OutputError(f"are none; must be some of {', '.join(output.writer_names())}", key="formats")
    for name in names:
        output.find_writer(name)


def write(
    quilt: Quilt, folder: str | FilePath, *, formats: Sequence[str] | None = None, force: bool = False
) -> tuple[str, ...]:
    """Write the files of a quilt, all or none, and return their names.

    Parameters
    ----------
    formats : sequence of str, optional
        ``svg`` and ``dst`` when left out; see `plumeline.output.writer_names`. The preview (SVG and PNG) and
        ``report.json`` always come with them.
    force : bool
        Write over files that are there.

    Raises
    ------
    OutputError
        No such format; a file is there already; the folder can't be written to; a stitch file did not read back
        equal.
    """
    return output.write_files(folder, files_of(quilt, formats or ("svg", "dst")), force=force)
