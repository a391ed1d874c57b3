"""The whole way on one page: plan, top, zones, strokes, lines, needle points, report, files."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from pathlib import Path as FilePath

from . import output, review
from .codes import FindingCode
from .errors import InputError, OutputError
from .fills import broken_fills
from .lines import Joined, join_works, stop_for_bobbins
from .model import Filled, Finding, NeedlePoints, Top, Zone
from .output import Stitched
from .pipeline.cloth import relief_of_top
from .pipeline.done import already_sewn, already_stitched, filled_as_stitched, old_ways
from .pipeline.files import stem_of
from .pipeline.fill import Each, Job, Progress, fill_all, first_look, in_work_order, jobs_of, works_of
from .pipeline.kept import Kept
from .pipeline.layers import check_fills
from .pipeline.report import make_report
from .pipeline.top import read_top
from .pipeline.writing import Quilt
from .plan import Plan
from .plan import read_plan as _read_plan
from .review import ZoneFigures
from .stitches import longest_for_bobbin, stitch_lines
from .zones import make_zones, seam_ways

__all__ = [
    "Drawn",
    "Each",
    "Kept",
    "Progress",
    "Quilt",
    "check_formats",
    "draw",
    "drawing_name",
    "finish",
    "read_plan",
    "read_top",
    "stitch",
]


def read_plan(path: str | FilePath) -> Plan:
    """Read a plan and check it whole, the settings of its fills too.

    Parameters
    ----------
    path : path
        The plan, a TOML file.

    Returns
    -------
    Plan
        Nothing is read yet of the files that it names.

    Raises
    ------
    PlanError
        The first thing that can't be used: file, zone, key, value, rule, what to do.

    Examples
    --------
    >>> from pathlib import Path
    >>> from tempfile import TemporaryDirectory
    >>> from plumeline.demo import block_files
    >>> with TemporaryDirectory() as folder:
    ...     file = Path(folder) / "plain-block.toml"
    ...     _ = file.write_text(block_files()[file.name], encoding="utf-8")
    ...     plan = read_plan(file)
    >>> plan.title, [zone.name for zone in plan.zones]
    ('Plain block', ['block'])
    """
    plan = _read_plan(path)
    check_fills(plan)
    return plan


def stitch(
    plan: Plan,
    *,
    option: str | None = None,
    zones: Sequence[str] = (),
    stitched: str | FilePath | None = None,
    workers: int = 1,
    executor: Executor | None = None,
    progress: Progress | None = None,
    kept: Kept | None = None,
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
    executor : concurrent.futures.Executor, optional
        Fills the zones instead of them: any pool with that interface, on this machine or on others, which may serve
        many plans one after another. It is left running.
    progress : callable, optional
        Told how far it is.
    kept : Kept, optional
        What earlier runs filled; a zone is filled again only when something that it depends on has changed.

    Returns
    -------
    Quilt
        With its report; `Quilt.write` writes the files.

    Raises
    ------
    InputError
        Something in the plan, its drawing or its settings can't be used, or it comes to more than `STITCHES_MOST`.

    Examples
    --------
    >>> from plumeline.plan import parse_plan
    >>> plan = parse_plan('''
    ... [top.blocks]
    ... setting = "straight"
    ... size = 6
    ... rows = [["block"]]
    ... [[zone]]
    ... name = "block"
    ... patches = ["*"]
    ... fill = { kind = "crosshatch", spacing = 1 }
    ... ''')
    >>> quilt = stitch(plan)
    >>> len(quilt.lines), quilt.report.totals.jumps, [zone.label for zone in quilt.zones]
    (1, 0, ['block'])
    """
    drawn = draw(
        plan,
        option=option,
        zones=zones,
        stitched=stitched,
        workers=workers,
        executor=executor,
        progress=progress,
        kept=kept,
    )
    return finish(drawn, progress=progress)


@dataclass(frozen=True, slots=True, eq=False)
class Drawn:
    """A quilt whose zones are filled and whose lines are not joined yet: quick to see, slow to finish.

    Attributes
    ----------
    plan, top
        What it was drawn from.
    jobs, old : tuple of Job
        The zones to sew and those that are on the cloth already.
    filled, figures : tuple
        One for each zone, the old ones last.
    done : tuple of Stitched
        How each of the old ones was stitched.
    findings : tuple of Finding
        What was noticed so far: of the top, the zones and the fills.
    whole : bool
        Whether every zone of the plan was asked for.
    bare : tuple of Zone
        Spaces of the plan that have no fill yet.
    """

    plan: Plan
    top: Top
    jobs: tuple[Job, ...]
    old: tuple[Job, ...]
    filled: tuple[Filled, ...]
    figures: tuple[ZoneFigures, ...]
    done: tuple[Stitched, ...]
    findings: tuple[Finding, ...]
    whole: bool
    bare: tuple[Zone, ...] = ()

    @property
    def zones(self) -> tuple[Zone, ...]:
        """The zones, the old ones last."""
        return tuple(job.zone for job in (*self.jobs, *self.old))


def draw(
    plan: Plan,
    *,
    option: str | None = None,
    zones: Sequence[str] = (),
    stitched: str | FilePath | None = None,
    workers: int = 1,
    executor: Executor | None = None,
    progress: Progress | None = None,
    kept: Kept | None = None,
    each: Each | None = None,
    first: str = "",
) -> Drawn:
    """Fill the zones of a plan: the first half of `stitch`, which takes the same arguments.

    ``each`` is told every zone with what fills it, as soon as it is filled; the zone with the label ``first`` before
    all others, and once coarsely before that where its fill is slow.

    Raises
    ------
    InputError
        As of `stitch`: drawing, zone or fill.
    """
    tell = progress or _untold
    plan = plan.with_option(option) if option else plan
    try:
        return _drawn(plan, zones, stitched, executor or workers, tell, kept or Kept(most_zones=0), each, first)
    except InputError as error:
        raise error.at(file=plan.file) from None


def finish(drawn: Drawn, *, progress: Progress | None = None) -> Quilt:
    """Join, place and measure what `draw` has filled: the second half of `stitch`.

    Raises
    ------
    LineError, StitchError
        The lines can't be joined or stitched as the machine is said to be.
    """
    try:
        return _finished(drawn, progress or _untold)
    except InputError as error:
        raise error.at(file=drawn.plan.file) from None


def _untold(_what: str, _done: int, _all: int) -> None:
    """Tell nobody."""


def _drawn(
    plan: Plan,
    zones: Sequence[str],
    stitched: str | FilePath | None,
    workers: int | Executor,
    tell: Progress,
    memory: Kept,
    each: Each | None,
    first: str,
) -> Drawn:
    stacks = check_fills(plan)
    tell("reading the top", 0, 1)
    top = memory.top(plan, read_top)
    tell("finding the spaces", 0, 1)
    made, zone_findings = memory.made(
        plan, top, lambda: make_zones(top, plan.zones, chance=plan.chance, unit=plan.units)
    )
    every = jobs_of(plan, made, stacks, zones, keep_done=stitched is not None)
    jobs = [job for job in every if not job.done]
    before, done_findings = _on_the_cloth(plan, [job for job in every if job.done], stitched)
    old = [job for job, _ in before]
    old_filled = [filled_as_stitched(job.zone, then, job.thread) for job, then in before]
    if first and each is not None:
        first_look(plan, top, jobs, first, memory, each)
    filled, figures = fill_all(plan, top, jobs, workers, tell, known=zip(old, old_filled), memory=memory, each=each)
    figures += [review.zone_figures(job.zone, then, None) for job, then in zip(old, old_filled)]
    noticed = (*top.findings, *zone_findings, *_of_the_plan(plan), *broken_fills(), *output.broken_formats())
    by_fills = (finding for drawn in filled for finding in drawn.findings)
    taken = {job.zone.label for job in every}
    return Drawn(
        plan=plan,
        top=top,
        jobs=tuple(jobs),
        old=tuple(old),
        filled=(*filled, *old_filled),
        figures=tuple(figures),
        done=tuple(then for _, then in before),
        findings=(*noticed, *by_fills, *done_findings),
        whole=not zones,
        bare=tuple(zone for zone in made if zone.label not in taken),
    )


def _on_the_cloth(
    plan: Plan, done: Sequence[Job], stitched: str | FilePath | None
) -> tuple[list[tuple[Job, Stitched]], tuple[Finding, ...]]:
    """Return the zones that are done, each as it was stitched; not those of which there was and is nothing."""
    unfilled = [job.zone.label for job in done if not job.layers]
    found, findings = already_stitched([job.zone for job in done], stitched, plan=plan.file, unfilled=unfilled)
    return [(job, then) for job, then in zip(done, found) if job.layers or then.runs], findings


def _finished(drawn: Drawn, tell: Progress) -> Quilt:
    plan, top, jobs = drawn.plan, drawn.top, drawn.jobs
    filled, old_filled = drawn.filled[: len(jobs)], drawn.filled[len(jobs) :]
    sewn = already_sewn(drawn.done)
    tell("joining lines", 0, 1)
    joined = join_works(
        [work for i, job in enumerate(jobs) for work in works_of(job, filled[i], place=i)],
        seams=[*seam_ways(top, plan.zones), *old_ways(drawn.done)],
        machine=plan.machine,
        sewn=sewn,
    )
    joined = _stopped(plan, joined)
    tell("placing stitches", 0, 1)
    names = [job.zone.label for job in jobs]
    points = _needle_points(plan, joined, names)
    tell("measuring", 0, 1)
    every_filled = (*in_work_order(filled), *old_filled)
    report = make_report(
        plan,
        top,
        [*jobs, *drawn.old],
        every_filled,
        drawn.figures,
        joined,
        points,
        drawn.findings,
        relief=relief_of_top(top, joined.lines, plan.batting, done=sewn),
        whole=drawn.whole,
    )
    return Quilt(
        plan=plan,
        top=top,
        zones=drawn.zones,
        filled=every_filled,
        lines=joined.lines,
        points=points,
        report=report,
        reaches=joined.reaches.reaches if joined.reaches else (),
        done=dict(enumerate(drawn.done, start=len(jobs))),
    )


def _of_the_plan(plan: Plan) -> tuple[Finding, ...]:
    """Return what is to be said of the plan's own words."""
    return (*_without_fill(plan), *_in_old_words(plan))


def _in_old_words(plan: Plan) -> tuple[Finding, ...]:
    if not plan.in_old_words:
        return ()
    what = f"The fill of what a division leaves is called inside now, not rest: {', '.join(plan.in_old_words)}"
    return (
        Finding(
            FindingCode.OLD_WORD, "note", None, what, "Write inside for rest; in a zone without divide, leave it out."
        ),
    )


def _without_fill(plan: Plan) -> tuple[Finding, ...]:
    names = [spec.name for spec in plan.zones if not plan.fills.get(spec.name) and spec.framed is None]
    if not names:
        return ()
    count = "1 zone has no fill and stays open" if len(names) == 1 else f"{len(names)} zones have no fill and stay open"
    what = "Give each a fill, or leave it open on purpose."
    return (Finding(FindingCode.NO_FILL, "note", None, f"{count}: {', '.join(names)}", what),)


def _stopped(plan: Plan, joined: Joined) -> Joined:
    """Return the lines with a planned stop wherever the bobbin would run out within one."""
    longest = longest_for_bobbin(joined.lines, plan.machine, plan.batting)
    if longest is None:
        return joined
    lines, findings = stop_for_bobbins(joined.lines, longest)
    return replace(joined, lines=lines, findings=(*joined.findings, *findings))


def _needle_points(plan: Plan, joined: Joined, names: Sequence[str]) -> tuple[NeedlePoints, ...]:
    reaches = sorted({line.reach for line in joined.lines}) or [1]
    return tuple(
        stitch_lines(
            [line for line in joined.lines if line.reach == reach],
            plan.machine,
            names=names,
            batting=plan.batting,
            reach=reach,
        )
        for reach in reaches
    )


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
