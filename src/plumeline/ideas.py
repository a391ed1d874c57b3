"""Ideas for a space: fills that differ in kind, each drawn in that very space, ranked by reasons that are told."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import closing
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from .errors import InputError, ZoneError, nearest
from .fills.kit.density import seen_mm
from .fills.kit.stack import Layer, fill_zone
from .geometry import (
    NearPaths,
    close_ring,
    corners_of,
    inscribed_circle,
    path_length,
    rings,
    touching,
    turns,
    widest_gap,
)
from .lines import Work, join_works
from .model import Filled, FloatArray, Line, Machine, Top, Way, Zone
from .pipeline.layers import layers_of
from .pipeline.lookup import ZoneSources
from .pipeline.top import limits_of
from .pipeline.workers import shared_out
from .plan import Plan
from .quilt import Drawn
from .review import inches_per_square_inch
from .stitches import machine_plan, stitch_lines
from .tolerances import COARSE_MM
from .top import crooked_seams
from .units import Unit, format_length
from .zones import make_zones, seam_ways

__all__ = ["Facts", "Idea", "Reason", "drawn_in", "each_idea", "facts_of", "idea_of", "ideas_for"]

STRAIGHT = frozenset({"channel", "crosshatch", "rings", "rays", "chords"})
"""Fills of straight lines: they show a crooked seam, suit a ruler, and rest the eye beside curves."""

SLIM = 4.0
"""From this length over width a space is a strip."""

OPEN_MM = 100.0
"""From this circle on a space is wide and open; below half of it, small."""

BESIDE_MM = 1.0
CROOKED_BESIDE_MM = 6.0

SHARP = np.radians(60.0)
"""A turn that slows the hand down."""

FEW_SHARP, MANY_SHARP = 4.0, 16.0
"""Sharp turns a foot: below the first easy by hand, above the second hard (trade judgement, no source)."""

ALIKE, UNLIKE = 1.5, 2.0
"""Line per area of neighbours: within the first alike, beyond the second it draws in unlike."""

CANDIDATES: tuple[tuple[str, tuple[Mapping[str, Any], ...]], ...] = (
    ("feather", ({"kind": "feather"},)),
    ("spiral", ({"kind": "spiral"},)),
    ("motif with echoes", ({"kind": "motif", "fit": "70 %"}, {"kind": "echo"})),
    ("curls", ({"kind": "curl"},)),
    ("channels", ({"kind": "channel"},)),
    ("crosshatch", ({"kind": "crosshatch"},)),
    ("rings", ({"kind": "rings"},)),
    ("rays", ({"kind": "rays"},)),
    ("meander", ({"kind": "meander"},)),
    ("continuous curves", ({"kind": "continuous-curve"},)),
    ("echo inwards", ({"kind": "echo"},)),
    ("outline", ({"kind": "outline"},)),
)
"""What is tried in a space, as a plan writes it; sizes are each fill's own for that space."""

STEP_MM = 4.0
"""Steps in which the widest gap of an idea is looked for: it is right to half of one, told to a tenth of an inch."""

QUICK = ("continuous curves", "outline", "channels", "rings")
"""Of these there is something to see within a second even in a strip of 110 in."""

SLOW = ("motif with echoes", "feather", "echo inwards", "curls")
"""Of these a 17 in space takes more than a second; the others half of one. Another process begins with the last."""

WORTH_SHARING_MM2 = 250_000.0
"""Area from which two processes are quicker than one: starting the other takes about a second."""


@dataclass(frozen=True, slots=True)
class Facts:
    """What ideas are judged by.

    Attributes
    ----------
    largest_mm : float
        Diameter of the largest circle inside.
    slimness : float
        Length over width of the strip that has its area and edge: 1 for a square.
    corners : int
        Convex corners.
    crooked_mm : float
        How far the worst seam at its edge is out of true; 0 when none is.
    straight_beside : float or None
        Share of the neighbours' fills that are straight; None without filled neighbours.
    tight_beside : float or None
        Inches of line seen per square inch of the neighbours, over all of them.
    alike : int
        How many spaces it stands for.
    framed : bool
        Whether it goes round something, as the border of one piece does: no straight line runs along that.
    """

    area_mm2: float
    largest_mm: float
    slimness: float
    corners: int
    crooked_mm: float
    straight_beside: float | None
    tight_beside: float | None
    alike: int
    framed: bool = False

    @property
    def long(self) -> bool:
        """Whether it is a strip."""
        return self.slimness >= SLIM


@dataclass(frozen=True, slots=True)
class Reason:
    """One reason for an idea or against it, and how much it weighs."""

    text: str
    weight: int


@dataclass(frozen=True, slots=True, eq=False)
class Idea:
    """One computed candidate for a space.

    Attributes
    ----------
    stack : tuple
        The fill, or stack of fills, as a plan writes it.
    reasons : tuple of Reason
        All that ranked it, the weightiest first.
    lines, minutes, widest_gap_mm, tight
        Of this one space: continuous lines, minutes at the machine, widest gap, inches of line seen per square inch.
    sharp_a_foot, twice : float
        Turns over 60 degrees a foot of line; share of the line that is sewn twice: how hard it is by hand.
    paths, outline : tuple of (n, 2) arrays
        The lines as they were drawn, and the space's edge, mm on the top.
    """

    name: str
    stack: tuple[Mapping[str, Any], ...]
    reasons: tuple[Reason, ...]
    lines: int
    minutes: float
    widest_gap_mm: float
    tight: float
    sharp_a_foot: float
    twice: float
    paths: tuple[FloatArray, ...]
    outline: tuple[FloatArray, ...]
    area_mm2: float = 0.0

    @property
    def points(self) -> int:
        """The reasons' weights added up."""
        return sum(reason.weight for reason in self.reasons)

    @property
    def why(self) -> str:
        """The reasons in one line."""
        return "; ".join(reason.text for reason in self.reasons) or "nothing speaks for it or against it"

    @property
    def by_hand(self) -> str:
        """How hard it is by hand: easy, fair or hard."""
        if self.sharp_a_foot > MANY_SHARP or self.twice > 0.4:
            return "hard"
        return "easy" if self.sharp_a_foot < FEW_SHARP and self.twice < 0.15 else "fair"


def ideas_for(drawn: Drawn, zone: str, *, part: str = "", number: int = 1) -> list[Idea]:
    """Return ideas for a zone, each drawn in one of its spaces, best first.

    Parameters
    ----------
    drawn : Drawn
        A quilt's filled zones: what the neighbours hold counts.
    zone : str
        Name of a zone of the plan.
    part : str
        One part of a divided zone; empty takes the first.
    number : int
        Which of the zone's spaces, as they are counted on the page.

    Returns
    -------
    list of Idea
        Those that draw something without leaving the space; usually ten or more. Alike weights keep the order of
        `CANDIDATES`.

    Raises
    ------
    ZoneError
        There is no such zone, part or space.
    """
    order = {name: place for place, (name, _) in enumerate(CANDIDATES)}
    found = sorted(each_idea(drawn, zone, part=part, number=number), key=lambda idea: order[idea.name])
    return sorted(found, key=lambda idea: -idea.points)


def each_idea(drawn: Drawn, zone: str, *, part: str = "", number: int = 1, workers: int = 1) -> Iterator[Idea]:
    """Return the ideas of `ideas_for` one by one as they are drawn, the quick ones first.

    ``workers``: processes that draw them side by side where the space is a large one.

    Raises
    ------
    ZoneError
        There is no such zone, part or space; at once, before the first is asked for.
    """
    spaces = _spaces(drawn, zone, part)
    space = next((one for one in spaces if one.number == number), None)
    if space is None:
        raise ZoneError(f"has no space {number}; it has {len(spaces)}", zone=zone)
    quick_first = sorted(CANDIDATES, key=lambda candidate: _slowness(candidate[0]))

    def each() -> Iterator[Idea]:
        facts, seams = facts_of(drawn, space, alike=len(spaces)), _seams_in(drawn, zone)
        place = _Place(drawn.plan, drawn.top, space, facts, seams)
        tasks = [(place, name, _suited(facts, stack)) for name, stack in quick_first]
        with closing(shared_out(_tried, tasks, workers if space.region.area > WORTH_SHARING_MM2 else 1)) as run:
            yield from (idea for idea in run if idea is not None)

    return each()


def _slowness(name: str) -> int:
    """Return a number by which the quick ideas come first and the slowest last."""
    return SLOW.index(name) + 1 if name in SLOW else -(name in QUICK)


def idea_of(
    drawn: Drawn, zone: str, stack: Sequence[Mapping[str, Any]], *, part: str = "", name: str = ""
) -> Idea | None:
    """Return one stack of fills as an idea for a zone, with its figures and reasons; None where it can't be drawn.

    Raises
    ------
    ZoneError
        There is no such zone or part.
    """
    spaces = _spaces(drawn, zone, part)
    facts = facts_of(drawn, spaces[0], alike=len(spaces))
    place = _Place(drawn.plan, drawn.top, spaces[0], facts, _seams_in(drawn, zone))
    return _tried((place, name or "its own", tuple(stack)))


def _seams_in(drawn: Drawn, zone: str) -> tuple[Way, ...]:
    return seam_ways(drawn.top, [spec for spec in drawn.plan.zones if spec.name == zone])


def _spaces(drawn: Drawn, name: str, part: str) -> list[Zone]:
    specs = {spec.name: spec for spec in drawn.plan.zones}
    if name not in specs:
        near = nearest(name, specs)
        raise ZoneError(
            f"is no zone of this plan; its zones are {', '.join(specs)}",
            zone=name,
            what_to_do=f"Did you mean {near!r}?" if near else None,
        )
    made, _ = make_zones(drawn.top, [specs[name]], chance=drawn.plan.chance, unit=drawn.plan.units)
    spaces = [zone for zone in made if not part or zone.part == part]
    if not spaces:
        raise ZoneError(
            f"has no part {part!r}; its parts are {', '.join(dict.fromkeys(z.part for z in made))}", zone=name
        )
    return [zone for zone in spaces if zone.part == spaces[0].part]


def facts_of(drawn: Drawn, zone: Zone, *, alike: int = 1) -> Facts:
    """Return what ideas for a zone are judged by; ``alike`` is how many spaces it stands for."""
    area, edge = zone.region.area, path_length(rings(zone.region)[0], closed=True)
    # a strip of length l and width w has the area l w and the edge 2 (l + w)
    half = edge / 2
    width = (half - max(half * half - 4 * area, 0.0) ** 0.5) / 2
    others = [(z, f) for z, f in zip(drawn.zones, drawn.filled) if z.name != zone.name and f.strokes]
    pairs = touching([zone.outline, *(z.outline for z, _ in others)], within_mm=BESIDE_MM)
    beside = [others[j - 1] for i, j in pairs if i == 0]
    kinds = [stroke.fill in STRAIGHT for _, f in beside for stroke in f.strokes[:1]]
    line = sum(seen_mm(f.strokes) for _, f in beside)
    near = NearPaths([close_ring(ring) for ring in rings(zone.outline)])
    out_of_true = crooked_seams(drawn.top, more_than_mm=limits_of(drawn.plan).least_mm)
    crooked = [c.off_mm for c in out_of_true if _runs_along(near, c.seam.path)]
    return Facts(
        area_mm2=area,
        largest_mm=2 * inscribed_circle(zone.region)[1],
        slimness=max(half - width, width) / max(min(half - width, width), 1e-9),
        corners=len(corners_of(zone.region)),
        crooked_mm=max(crooked, default=0.0),
        straight_beside=sum(kinds) / len(kinds) if kinds else None,
        tight_beside=inches_per_square_inch(line, sum(z.region.area for z, _ in beside)) if beside else None,
        alike=alike,
        framed=len(zone.region.interiors) > 0,
    )


def _suited(facts: Facts, stack: Sequence[Mapping[str, Any]]) -> tuple[Mapping[str, Any], ...]:
    """Return a candidate as it goes into such a space: channels run along a strip, however it lies."""
    along = facts.long and not facts.framed
    return tuple({**layer, "along": True} if along and layer == {"kind": "channel"} else layer for layer in stack)


def _runs_along(near: NearPaths, path: FloatArray) -> bool:
    return len(near.nearest(path, CROOKED_BESIDE_MM)[0]) == len(path)


@dataclass(frozen=True, slots=True, eq=False)
class _Place:
    """A space that ideas are drawn in, and what they need to know of the quilt."""

    plan: Plan
    top: Top
    zone: Zone
    facts: Facts
    seams: tuple[Way, ...]


def _tried(task: tuple[_Place, str, tuple[Mapping[str, Any], ...]]) -> Idea | None:
    place, name, stack = task
    plan, zone, facts = place.plan, place.zone, place.facts
    layers = _layers_in(plan, place.top, zone, stack)
    try:
        filled = fill_zone(zone, layers, tolerance_mm=COARSE_MM, measured=False)
    except InputError:
        return None  # a fill that has no answer for this shape is no idea for it
    if not filled.strokes:
        return None
    paths, closed = [s.path for s in filled.strokes], [s.closed for s in filled.strokes]
    left, top, right, bottom = zone.region.bounds
    step = min(STEP_MM, float(np.hypot(right - left, bottom - top)) / 150)
    gap_mm = widest_gap(paths, zone.region, closed=closed, step_mm=step).diameter_mm
    lines = join_works([Work(zone, filled.strokes, "background")], seams=place.seams, machine=plan.machine).lines
    points = stitch_lines(lines, plan.machine, names=[zone.name], batting=plan.batting)
    tight = inches_per_square_inch(seen_mm(filled.strokes), zone.region.area)
    sharp, twice = _hardness(lines)
    minutes = machine_plan([points], plan.machine, plan.batting).minutes
    reasons = _reasons(plan.machine, plan.batting.widest_gap_mm, facts, stack, len(lines), gap_mm, tight, zone.unit)
    idea = Idea(
        name=name,
        stack=stack,
        reasons=reasons,
        lines=len(lines),
        minutes=minutes,
        widest_gap_mm=gap_mm,
        tight=tight,
        sharp_a_foot=sharp,
        twice=twice,
        paths=tuple(close_ring(s.path) if s.closed else s.path for s in filled.strokes),
        outline=tuple(close_ring(ring) for ring in rings(zone.outline)),
        area_mm2=float(zone.region.area),
    )
    return _with_hand(idea, plan.machine)


def drawn_in(drawn: Drawn, zone: Zone, stack: Sequence[Mapping[str, Any]]) -> Filled:
    """Return what a stack of fills, as a plan writes it, would draw in one space; nothing is written.

    It follows a moving hand, so it is drawn coarsely and not measured.

    Raises
    ------
    InputError
        A setting can't be used, or the fill has no answer for the space.
    """
    layers = _layers_in(drawn.plan, drawn.top, zone, stack)
    return fill_zone(zone, layers, tolerance_mm=COARSE_MM, measured=False) if layers else Filled()


def _layers_in(plan: Plan, top: Top, zone: Zone, stack: Sequence[Mapping[str, Any]]) -> tuple[Layer, ...]:
    sources = ZoneSources(zone, top, plan.folder, {}, quilt_density=plan.density)
    return layers_of(stack, sources, units=plan.units)


def _hardness(lines: Sequence[Line]) -> tuple[float, float]:
    """Return the sharp turns a foot of line, and the share of it that goes along stitching already there."""
    length = sum(path_length(line.path) for line in lines)
    sharp = sum(int((np.abs(turns(line.path)) > SHARP).sum()) for line in lines)
    again = sum(
        path_length(line.path[span.start : span.end + 1])
        for line in lines
        for span in line.spans
        if span.kind == "backtrack"
    )
    return (sharp / (length / 304.8), again / length) if length else (0.0, 0.0)


def _with_hand(idea: Idea, machine: Machine) -> Idea:
    if machine.guided == "computer" or idea.by_hand == "fair":
        return idea
    weight = 1 if idea.by_hand == "easy" else -1
    reason = Reason(f"{idea.by_hand} by hand ({idea.sharp_a_foot:.0f} sharp turns a foot)", weight)
    return _sorted(idea, (*idea.reasons, reason))


def _sorted(idea: Idea, reasons: Sequence[Reason]) -> Idea:
    return replace(idea, reasons=tuple(sorted(reasons, key=lambda reason: -abs(reason.weight))))


def _reasons(
    machine: Machine,
    widest_mm: float | None,
    facts: Facts,
    stack: Sequence[Mapping[str, Any]],
    lines: int,
    gap_mm: float,
    tight: float,
    unit: Unit,
) -> tuple[Reason, ...]:
    kind = str(stack[0]["kind"])
    found = [*_shape_reasons(facts, stack[0]), *_beside_reasons(facts, kind, tight, unit)]
    if widest_mm is not None and gap_mm > widest_mm:
        gap, widest = format_length(gap_mm, unit), format_length(widest_mm, unit)
        found.append(Reason(f"leaves a gap of {gap}, more than the batting's {widest}", -3))
    if kind in STRAIGHT and machine.guided == "ruler":
        found.append(Reason("straight lines suit the ruler", 1))
    if lines == 1:
        found.append(Reason("one line", 1))
    elif lines > 6:
        found.append(Reason(f"{lines} starts and stops", -1))
    return tuple(sorted(found, key=lambda reason: -abs(reason.weight)))


def _shape_reasons(facts: Facts, fill: Mapping[str, Any]) -> list[Reason]:
    found, kind = [], str(fill["kind"])
    if facts.long and (kind in ("feather", "rings", "continuous-curve") or fill.get("along")):
        found.append(Reason("runs along a long narrow space", 2))
    if facts.long and kind in ("spiral", "rays", "motif"):
        found.append(Reason("a long narrow space has no middle", -2))
    if not facts.long and facts.largest_mm >= OPEN_MM and kind in ("feather", "motif", "spiral"):
        found.append(Reason("a wide open space shows it off", 2))
    if facts.largest_mm < OPEN_MM / 2 and not facts.long:
        if kind in ("continuous-curve", "outline", "chords"):
            found.append(Reason("plain enough for a small space", 2))
        if kind in ("feather", "curl"):
            found.append(Reason("cramped in a small space", -2))
    if facts.corners == 3 and kind in ("feather", "rays", "echo"):
        found.append(Reason("grows from a corner of the triangle", 1))
    return found


def _beside_reasons(facts: Facts, kind: str, tight: float, unit: Unit) -> list[Reason]:
    found = []
    if facts.crooked_mm:
        off = format_length(facts.crooked_mm, unit)
        found.append(
            Reason(f"straight lines show the seam that is {off} out of true", -2)
            if kind in STRAIGHT
            else Reason(f"forgives the seam that is {off} out of true", 1)
        )
    if facts.straight_beside is not None:
        if kind in STRAIGHT and facts.straight_beside < 0.5:
            found.append(Reason("straight and calm beside its curved neighbours", 1))
        if kind not in STRAIGHT and facts.straight_beside >= 0.5:
            found.append(Reason("curved beside its straight neighbours", 1))
    if facts.tight_beside and tight:
        ratio = max(tight / facts.tight_beside, facts.tight_beside / tight)
        word = "tight" if tight > facts.tight_beside else "loose"
        if ratio <= ALIKE:
            found.append(Reason("as tight as its neighbours", 1))
        elif ratio > UNLIKE:
            found.append(Reason(f"{ratio:.1f} times as {word} as its neighbours", -1))
    return found
