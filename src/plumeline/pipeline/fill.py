"""From zones to strokes: which fills go into which zone, filled and measured side by side."""

from __future__ import annotations

from collections.abc import Callable, Generator, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import Executor
from contextlib import closing
from dataclasses import dataclass, replace
from typing import Any, TypeAlias

from .. import review
from ..errors import FillError, ZoneError, nearest
from ..fills import find_fill
from ..fills.kit.density import seen_mm
from ..fills.kit.limits import STITCHES_MOST
from ..fills.kit.settings import SpacedSettings
from ..fills.kit.stack import Layer, fill_zone
from ..geometry import path_length
from ..lines import STAGES, Work
from ..model import Filled, Stage, Top, Zone
from ..plan import Plan
from ..review import ZoneFigures
from ..specs import FRAMED, FramedSpec, ZoneSpec
from ..tolerances import COARSE_MM
from ..zones import with_own_chance
from .alike import Design, designs_of, lays
from .filling import Task, fill_one
from .kept import Kept, key_of
from .layers import Stacks
from .lookup import ZoneSources
from .placing import moved_to_start, placed
from .waiting import wait_said
from .workers import handed_out, shared_out

__all__ = ["Each", "Job", "Progress", "fill_all", "first_look", "in_work_order", "jobs_of", "works_of"]

Progress: TypeAlias = Callable[[str, int, int], None]
"""Told what is being done, how much of it is done, and how much there is: 0 for what is only said, such as a wait."""

Each: TypeAlias = Callable[[Zone, Filled], None]
"""Told each zone with what fills it, as soon as it is filled."""

WORTH_SHARING = 12
"""Zones from which several processes are quicker than one: starting them takes about a second."""


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


def jobs_of(plan: Plan, made: Sequence[Zone], stacks: Stacks, wanted: Sequence[str], *, keep_done: bool) -> list[Job]:
    """Return the zones to fill of those wanted, and with ``keep_done`` every zone that is done: none may get lost.

    Raises
    ------
    ZoneError
        ``wanted`` names no zone of the plan.
    """
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
        spec = specs[zone.name]
        framed = spec.framed if zone.part == FRAMED else None
        layers = (_frame_line(framed),) if framed else stacks.stack(zone.name, zone.part)
        asked = not wanted or zone.name in wanted
        if not (asked and layers) and not (spec.done and (asked or keep_done)):
            continue
        if spec.vary is None and spec.alike is None and any(layer.fill.by_chance for layer in layers):
            zone = with_own_chance(zone, plan.chance)
        jobs.append(Job(zone, layers, spec.thread, _stage(spec, layers), spec.done))
    # the parts of one zone are sewn together, so that one line can go from a frame into what it frames
    first: dict[str, Stage] = {}
    for job in jobs:
        first[job.zone.name] = min(job.stage, first.get(job.zone.name, job.stage), key=STAGES.index)
    return [replace(job, stage=first[job.zone.name]) for job in jobs]


def _frame_line(framed: FramedSpec) -> Layer:
    settings = {"distance": 0.0, "rows": framed.rows, "times": framed.times}
    if framed.rows > 1:
        settings["spacing"] = framed.spacing_mm
    fill = find_fill("outline")
    return Layer(fill, fill.settings.model_validate(settings))


def _stage(spec: ZoneSpec, layers: Sequence[Layer]) -> Stage:
    """Return when a zone is sewn: by its first fill but the ditch, unless the plan says that it comes last."""
    stages = [layer.fill.stage for layer in layers if layer.fill.stage != "ditch"]
    return "ditch" if not stages else "last" if spec.order == "last" else stages[0]


def fill_all(
    plan: Plan,
    top: Top,
    jobs: Sequence[Job],
    workers: int | Executor,
    tell: Progress,
    *,
    known: Iterable[tuple[Job, Filled]] = (),
    memory: Kept | None = None,
    each: Each | None = None,
) -> tuple[list[Filled], list[ZoneFigures]]:
    """Fill and measure every zone; those that match another's density last. ``known`` are filled already.

    ``workers``: how many processes, or the pool that fills. With a ``memory``, a zone is filled only when what it
    depends on is not in there.

    Raises
    ------
    FillError
        A fill can't draw what is asked of it, or the quilt would have more stitches than are done at once.
    """
    out: dict[int, tuple[Filled, ZoneFigures]] = {}
    densities: dict[str, list[tuple[float, float]]] = {}
    for job, filled in known:
        densities.setdefault(job.zone.name, []).append((seen_mm(filled.strokes), job.zone.region.area))
    waits = [any(layer.settings.waits for layer in job.layers) for job in jobs]
    done, sewn = 0, 0.0
    if jobs:
        tell("filling zones", 0, len(jobs))
    for turn in (False, True):
        todo = [i for i, wait in enumerate(waits) if wait is turn]
        shared = _designs(plan, [jobs[i] for i in todo])
        laid = {todo[lie.space] for design in shared.values() for lie in design.lies if lie.space != design.model}
        designs = {todo[model]: design for model, design in shared.items()}
        # small spaces first: soon there is something to see; what comes out does not depend on it
        spaces, todo = todo, sorted(set(todo) - laid, key=lambda i: (jobs[i].zone.region.area, i))
        so_far = {name: review.inches_per_square_inch(*map(sum, zip(*parts))) for name, parts in densities.items()}
        resolved = [_resolved(plan, top, jobs[i], so_far) for i in todo]
        # closed, so that processes end at once when this does not end well
        for said in filter(None, (wait_said(zone, layers) for zone, layers, _, _ in resolved)):
            tell(said, 0, 0)
        with closing(_remembered(resolved, workers, memory)) as run:
            for i, found in zip(todo, run):
                for k, (filled, figures) in _in_all(i, found, designs.get(i), jobs, spaces):
                    done += 1
                    tell("filling zones", done, len(jobs))
                    out[k] = _threaded(filled, jobs[k].thread), figures
                    if each is not None:
                        each(jobs[k].zone, out[k][0])
                    sewn += _length(filled)
                    if sewn / plan.machine.stitch_mm > STITCHES_MOST:
                        raise _too_many(jobs[k].zone.name)
        for k in spaces:
            seen = _seen(out[k][0], any(waits)), _own_area(jobs[k].zone)
            densities.setdefault(jobs[k].zone.name, []).append(seen)
    return [out[i][0] for i in range(len(jobs))], [out[i][1] for i in range(len(jobs))]


def _designs(plan: Plan, jobs: Sequence[Job]) -> dict[int, Design]:
    """Return the designs that spaces share, by the space each is drawn in."""
    alike = {spec.name: spec.alike for spec in plan.zones if spec.alike is not None}
    found = designs_of([job.zone for job in jobs], [job.layers for job in jobs], alike, plan.units) if alike else []
    return {design.model: design for design in found}


def _in_all(
    drawn_in: int,
    found: tuple[Filled, ZoneFigures],
    design: Design | None,
    jobs: Sequence[Job],
    spaces: Sequence[int],
) -> Iterator[tuple[int, tuple[Filled, ZoneFigures]]]:
    """Give a zone and what is drawn in it, and all those that share its design."""
    if design is None:
        yield drawn_in, found
        return
    told = replace(found[0], findings=(*found[0].findings, *design.findings))
    there = {drawn_in: (told, found[1])}
    for k, filled, figures in lays(design, [jobs[i].zone for i in spaces], found):
        said = design.findings if spaces[k] == drawn_in else ()
        there[spaces[k]] = replace(filled, findings=(*filled.findings, *said)), figures
    yield from there.items()


def _length(filled: Filled) -> float:
    return sum(path_length(s.path, closed=s.closed) for s in filled.strokes)


def _seen(filled: Filled, wanted: bool) -> float:
    """Return the length that is seen, where a zone is to be as tight as this one."""
    return seen_mm(filled.strokes) if wanted else 0.0


def _own_area(zone: Zone) -> float:
    """Return the area of a zone; its outline as a line of its own has none."""
    return 0.0 if zone.part == FRAMED else float(zone.region.area)


def _too_many(zone: str) -> FillError:
    return FillError(
        f"brings the quilt to more than {STITCHES_MOST // 1_000_000} million stitches, the most at once",
        zone=zone,
        key="fill",
        what_to_do="Choose wider spacings, or stitch some of the zones at a time with --zone.",
    )


def _resolved(plan: Plan, top: Top, job: Job, densities: Mapping[str, float]) -> Task:
    sources = ZoneSources(job.zone, top, plan.folder, densities, quilt_density=plan.density)
    layers = tuple(layer.resolved(sources) for layer in job.layers)
    last = layers[-1].settings
    spacing = None if isinstance(last, SpacedSettings) and last.wanted_density is not None else job.spacing_mm
    return job.zone, layers, spacing, plan.batting.widest_gap_mm


def first_look(plan: Plan, top: Top, jobs: Sequence[Job], label: str, memory: Kept, each: Each) -> None:
    """Show what fills one zone before any other: coarsely where a fill is drawn much sooner so, and then for good.

    It is shown as soon as it is drawn, and measured after that. A zone that shares its design with others, or waits
    for their tightness, comes with them.
    """
    alike = {spec.name for spec in plan.zones if spec.alike is not None}
    for job in jobs:
        waits = job.zone.name in alike or any(layer.settings.waits for layer in job.layers)
        if job.zone.label == label and not waits:
            _looked_at(job, _resolved(plan, top, job, {}), memory, each)
            return


def _looked_at(job: Job, task: Task, memory: Kept, each: Each) -> None:
    there, in_place = _where_filled(task)

    def show(filled: Filled) -> None:
        each(job.zone, _threaded(in_place(filled), job.thread))

    key = key_of(there)
    known = memory.filled(key)
    if known is not None:
        show(known[0])
        return
    if any(layer.fill.sooner_coarse for layer in job.layers):
        zone, layers, _, _ = task
        each(zone, _threaded(fill_zone(zone, layers, tolerance_mm=COARSE_MM, measured=False), job.thread))
    memory.keep(key, fill_one(there, drawn=show))


def _from_start(task: Task) -> bool:
    """Return whether a zone is filled the same wherever it lies on the top."""
    return all(layer.fill.is_ours and not layer.settings.on_page for layer in task[1])


def _where_filled(task: Task) -> tuple[Task, Callable[[Filled], Filled]]:
    """Return where a zone is filled, at the start if that is the same, and what puts into its place what fills it."""
    start = moved_to_start(task[0]) if _from_start(task) else None
    if start is None:
        return task, lambda filled: filled
    return (start, *task[1:]), lambda filled: placed(filled, task[0])


def _remembered(
    tasks: Sequence[Task], workers: int | Executor, memory: Kept | None
) -> Generator[tuple[Filled, ZoneFigures]]:
    """Fill what the memory does not hold, each shape once, and yield all in order, each in its place."""
    kept = memory if memory is not None else Kept(most_zones=0)
    filled_there = [_where_filled(task) for task in tasks]
    keys = [key_of(there) for there, _ in filled_there]
    known = {key: kept.filled(key) for key in keys}
    todo = {key: there for key, (there, _) in zip(keys, filled_there) if known[key] is None}
    last = {key: k for k, key in enumerate(keys)}
    with closing(_run(list(todo.values()), workers)) as fresh:
        for k, (key, (_, in_place)) in enumerate(zip(keys, filled_there)):
            old = known[key]
            if old is None:
                old = known[key] = next(fresh)
                kept.keep(key, old)
            if last[key] == k:
                del known[key]
            yield in_place(old[0]), old[1]


def _run(jobs: Sequence[Task], workers: int | Executor) -> Generator[tuple[Filled, ZoneFigures]]:
    if isinstance(workers, Executor):
        yield from handed_out(fill_one, jobs, workers)
    elif workers < 2 or len(jobs) < WORTH_SHARING:
        yield from map(fill_one, jobs)
    else:
        yield from shared_out(fill_one, jobs, workers)


def _threaded(filled: Filled, thread: str) -> Filled:
    return replace(filled, strokes=tuple(replace(s, thread=thread) for s in filled.strokes))


def works_of(job: Job, filled: Filled, *, place: int) -> list[Work]:
    """Return what is joined: ditch first and by itself, the rest of the stack together."""
    ditch = {layer.fill.name for layer in job.layers if layer.fill.stage == "ditch"}
    parts: list[tuple[Stage, list[Any]]] = [("ditch", []), (job.stage, [])]
    for stroke in filled.strokes:
        parts[0 if stroke.fill in ditch else 1][1].append(stroke)
    return [Work(job.zone, tuple(strokes), stage, place) for stage, strokes in parts if strokes]


def in_work_order(filled: Sequence[Filled]) -> tuple[Filled, ...]:
    """Return the filled zones with each one's strokes as `works_of` numbers them: ditch first."""
    return tuple(
        replace(f, strokes=tuple(sorted(f.strokes, key=lambda s: find_fill(s.fill).stage != "ditch"))) for f in filled
    )
