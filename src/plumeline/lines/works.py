"""`join_works`: the strokes of a whole quilt into lines, reach by reach and stage by stage."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from ..codes import FindingCode
from ..geometry import as_region, clip_path, close_ring, fence_crossings, outside_mm, path_length
from ..model import Finding, FloatArray, Line, Machine, Path, Span, Stage, Stroke, Way, Zone, as_path
from ..tolerances import MEET_MM
from .into_seams import into_seams
from .joining import Group, join_group
from .moves import moved_less
from .order import bands
from .reaches import Box, Reaches, choose_reaches

__all__ = ["STAGES", "Joined", "Work", "join_works"]

STAGES: tuple[Stage, ...] = ("ditch", "ruler", "motif", "background", "last")
"""Sewing order within a reach: what holds the layers first, what would trap fullness last."""

BAND_ZONES = 500
"""More zones than about twice this are planned in rows: pairing grows faster than the quilt."""

BAND_LEAST = 12
"""Fewer zones than this are one band whatever the order: bands cost starts and travel."""

OVERLAP_STITCHES = 3
"""Stitches by which the two sides of a cut line overlap."""

CROSSING_ENDS = 3
"""Seam ends that meet in a place that is easy to find again on the cloth."""

NEAR_MM = 300.0
"""Seams further than this outside a group of strokes are left out of its net: about a block."""

RINGS, ROWS = 4, 6
"""Bands of ``centre-out`` and ``rows``: each further one costs about 1 % of sewing."""


@dataclass(frozen=True, slots=True, eq=False)
class Work:
    """What is to be stitched in one zone: the strokes of all layers of its stack, in order, and its stage.

    ``place`` is that of the zone among those of the quilt, for the spans of its lines.
    """

    zone: Zone
    strokes: tuple[Stroke, ...]
    stage: Stage
    place: int = 0


@dataclass(frozen=True, slots=True, eq=False)
class Joined:
    """The lines of a quilt.

    Attributes
    ----------
    lines : tuple of Line
        In sewing order. ``Span.stroke`` numbers the strokes of all works, one work after the other.
    fewest_possible : int
        The fewest lines that the allowed ways and passes can give at any length.
    extra_mm : float
        Backtracking and travel, mm.
    busiest_passes : int
        How often the needle goes along the busiest place.
    reaches : Reaches or None
        Where each reach lies, if the machine has one.
    findings : tuple of Finding
        What she should know.
    """

    lines: tuple[Line, ...]
    fewest_possible: int
    extra_mm: float
    busiest_passes: int
    reaches: Reaches | None = None
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class _Item:
    # a stroke on its way to the net: its number among all works, its work, its reach
    stroke: Stroke
    number: int
    work: int
    reach: int = 1


def join_works(
    works: Sequence[Work],
    *,
    seams: Sequence[Way],
    machine: Machine,
    passes: int = 2,
    steps_mm: float = 0.0,
    tolerance_mm: float = MEET_MM,
    sewn: Sequence[Path] = (),
) -> Joined:
    """Join the strokes of a quilt into the fewest lines.

    Parameters
    ----------
    works : sequence of Work
        One for each zone part.
    seams : sequence of Way
        Seams of the quilt in which travel may go, its outer edge among them. The ways of the zones come on top.
    machine : Machine
        Price of a jump, reach, order.
    passes : int
        How often any place may be sewn.
    steps_mm : float
        Longest visible step between strokes of one zone that nothing connects; 0: none.
    tolerance_mm : float
        Ends nearer than this meet.
    sewn : sequence of (n, 2) arrays
        What is on the cloth already, one path for each pass: it counts towards the passes allowed.

    Returns
    -------
    Joined
        The lines in sewing order, findings, the reaches where the machine has one; no lines for no works.

    Notes
    -----
    Strokes of each reach, stage and thread are joined by themselves, so that lines never mix threads; seams
    sewn along in one group count for the next. A work's wished start and end hold for the first and last
    line of its group.

    Examples
    --------
    >>> from shapely import box
    >>> from plumeline.model import as_path
    >>> strip = box(0, 0, 500, 100)
    >>> zone = Zone("border", "", 1, strip, strip)
    >>> strokes = tuple(Stroke(as_path([(0, y), (500, y)])) for y in (40, 60))
    >>> seam = Way(as_path([(500, 0), (500, 100)]), "seam")
    >>> joined = join_works([Work(zone, strokes, "ruler")], seams=[seam], machine=Machine())
    >>> [[span.kind for span in line.spans] for line in joined.lines]
    [['stitch', 'seam', 'stitch']]
    """
    items = list(_items(works))
    reaches = None
    if machine.reach_mm is not None and works:
        reaches = _reaches(works, seams, machine)
        items = list(_shared_out(items, reaches))
    groups: list[Group] = []
    joined: list[tuple[Line, ...]] = []
    whose: list[list[_Item]] = []
    sewn = list(sewn)
    for members in _grouped(works, items, machine):
        strokes, reach = [i.stroke for i in members], members[0].reach
        zones = [works[k].zone for k in sorted({i.work for i in members})]
        ways = [*_near(seams, strokes), *(way for zone in zones for way in zone.ways)]
        ways += into_seams(strokes, ways)
        if reaches is not None:
            ways = list(_within(ways, reaches.reaches[reach - 1].window))
        group = join_group(
            strokes,
            ways,
            jump_mm=machine.jump_mm,
            passes=passes,
            start=next((z.enter for z in zones if z.enter is not None), None),
            end=next((z.leave for z in reversed(zones) if z.leave is not None), None),
            begin=next((lines[-1].path[-1] for lines in reversed(joined) if lines), None),
            sewn=sewn,
            steps_mm=steps_mm,
            may_step=partial(_may_step, [works[i.work].zone for i in members]),
            tolerance_mm=tolerance_mm,
            order=machine.order,
            thread=strokes[0].thread,
            reach=reach,
        )
        groups.append(group)
        joined.append(group.lines)
        whose.append(members)
        sewn += [_part(line, span) for line in group.lines for span in line.spans if span.stroke is None]
        sewn += [close_ring(i.stroke.path, i.stroke.closed) for i in members if works[i.work].stage == "ditch"]
    near = moved_less(groups)
    lines = _run_on(_numbered(line, members, works) for group, members in zip(near, whose) for line in group)
    return Joined(
        tuple(lines),
        min(sum(g.fewest_possible for g in groups), len(lines)),
        sum(g.extra_mm for g in groups),
        max((g.busiest_passes for g in groups), default=0),
        reaches,
        (*(reaches.findings if reaches else ()), *_findings(groups, passes, tolerance_mm)),
    )


def _items(works: Sequence[Work]) -> Iterator[_Item]:
    # chain numbers are unique within one work: make them unique within the quilt
    number = 0
    chains: dict[tuple[int, str, int], int] = {}
    for k, work in enumerate(works):
        for stroke in work.strokes:
            if stroke.chain is not None:
                chain = chains.setdefault((k, stroke.fill, stroke.chain), len(chains))
                stroke = replace(stroke, chain=chain)
            if len(stroke.path) > 1:
                yield _Item(stroke, number, k)
            number += 1


def _reaches(works: Sequence[Work], seams: Sequence[Way], machine: Machine) -> Reaches:
    """Choose the reaches; seam crossings, where three seam ends or more meet, make the marks."""
    ends = np.array([seam.path[k] for seam in seams if seam.kind == "seam" for k in (0, -1)]).reshape(-1, 2)
    places, count = np.unique(np.round(ends, 1), axis=0, return_counts=True)
    paths = [[close_ring(s.path, s.closed) for s in w.strokes] for w in works]
    return choose_reaches(
        [w.zone for w in works],
        machine.reach_mm or (0.0, 0.0),
        order=machine.order if machine.order != "any" else "rows",
        crossings=places[count >= CROSSING_ENDS],
        paths=paths,
        overlap_mm=OVERLAP_STITCHES * machine.stitch_mm,
    )


def _shared_out(items: Sequence[_Item], reaches: Reaches) -> Iterator[_Item]:
    """Yield every stroke in the reach of its zone; in a zone that several share, whole where one gets to all of it.

    A chain is parted between its plumes (a stretch of stitching with what is gone back along after it): those in a row
    that one reach gets to stay one chain. What no reach gets to whole is cut.
    """
    chains = 1 + max((i.stroke.chain for i in items if i.stroke.chain is not None), default=-1)
    last: tuple[int, int | None, int | None] | None = None  # work, chain and reach of the plume before
    for plume in _plumes(items):
        first = plume[0]
        shares = reaches.parts[first.work]
        reach = None if len(shares) == 1 else _reach_of(plume, shares, reaches)
        if len(shares) == 1:
            yield from (replace(item, reach=shares[0][0]) for item in plume)
        elif reach is not None:
            at = (first.work, first.stroke.chain, reach)
            chains += at != last
            last = at
            chain = None if first.stroke.chain is None else chains
            yield from (replace(item, reach=reach, stroke=replace(item.stroke, chain=chain)) for item in plume)
        else:
            last = None
            twice = len(plume) == 2 and np.array_equal(first.stroke.path, plume[1].stroke.path)
            for part in (part for item in plume for part in _cut(item, shares)):
                chains += twice
                yield from _there_and_back(part, chains) if twice else (part,)


def _plumes(items: Sequence[_Item]) -> Iterator[list[_Item]]:
    """Yield strokes by themselves; of a chain each stitched stroke with what follows it up to the next one."""
    plume: list[_Item] = []
    for item in items:
        follows = (
            plume
            and item.stroke.chain is not None
            and (item.work, item.stroke.chain) == (plume[0].work, plume[0].stroke.chain)
            and item.stroke.role != "stitch"
        )
        if plume and not follows:
            yield plume
            plume = []
        plume.append(item)
    if plume:
        yield plume


def _reach_of(plume: Sequence[_Item], shares: Sequence[tuple[int, Box]], reaches: Reaches) -> int | None:
    """Return which reach of those that share a zone gets to a whole plume; of several that whose part it lies in."""
    low = np.min([i.stroke.path.min(axis=0) for i in plume], axis=0)
    high = np.max([i.stroke.path.max(axis=0) for i in plume], axis=0)
    middle = (low + high) / 2
    best: tuple[float, int] | None = None
    for reach, (left, top, right, bottom) in shares:
        window = reaches.reaches[reach - 1].window
        if (low >= window[:2]).all() and (high <= window[2:]).all():
            outside = float(np.maximum(np.maximum((left, top) - middle, middle - (right, bottom)), 0.0).sum())
            best = min(best or (np.inf, 0), (round(outside, 6), reach))
    return None if best is None else best[1]


def _cut(item: _Item, shares: Sequence[tuple[int, Box]]) -> Iterator[_Item]:
    """Yield the pieces of a stroke in the reaches that share its zone."""
    stroke = item.stroke
    if stroke.role == "backtrack":
        return  # the pieces of the stroke that it goes back along are paired anew
    for reach, (left, top, right, bottom) in shares:
        window = as_region([(left, top), (right, top), (right, bottom), (left, bottom)])
        for piece in clip_path(stroke.path, window, closed=stroke.closed):
            part = replace(stroke, path=piece, closed=False, chain=None, atomic=False)
            yield replace(item, stroke=part, reach=reach)


def _there_and_back(part: _Item, chain: int) -> Iterator[_Item]:
    """Yield a piece of a line that is sewn twice over, and the way back along it, as a chain."""
    there = replace(part.stroke, chain=chain)
    yield replace(part, stroke=there)
    yield replace(part, stroke=replace(there, path=as_path(there.path[::-1]), role="backtrack"))


def _near(ways: Sequence[Way], strokes: Sequence[Stroke]) -> Iterator[Way]:
    """Yield the ways that lie near the strokes: travel far around a group never pays."""
    low = np.min([s.path.min(axis=0) for s in strokes], axis=0) - NEAR_MM
    high = np.max([s.path.max(axis=0) for s in strokes], axis=0) + NEAR_MM
    for way in ways:
        if (way.path.max(axis=0) >= low).all() and (way.path.min(axis=0) <= high).all():
            yield way


def _within(ways: Sequence[Way], window: Box) -> Iterator[Way]:
    """Yield the ways, or their pieces, that lie within a window."""
    left, top, right, bottom = window
    region = as_region([(left, top), (right, top), (right, bottom), (left, bottom)])
    for way in ways:
        low, high = way.path.min(axis=0), way.path.max(axis=0)
        if (low >= (left, top)).all() and (high <= (right, bottom)).all():
            yield way
        elif (high >= (left, top)).all() and (low <= (right, bottom)).all():
            yield from (replace(way, path=piece) for piece in clip_path(way.path, region))


def _grouped(works: Sequence[Work], items: Sequence[_Item], machine: Machine) -> Iterator[list[_Item]]:
    """Yield the strokes of each reach, stage, band and thread in sewing order."""
    for reach in sorted({i.reach for i in items}):
        inside = [i for i in items if i.reach == reach]
        for stage in STAGES:
            here = sorted({i.work for i in inside if works[i.work].stage == stage})
            if not here:
                continue
            centres = np.array([_centre(works[k].zone) for k in here])
            band = dict(zip(here, _bands(centres, machine)))
            for b in sorted(set(band.values())):
                members = [i for i in inside if band.get(i.work, -1) == b]
                for thread in dict.fromkeys(i.stroke.thread for i in members):
                    yield [i for i in members if i.stroke.thread == thread]


def _centre(zone: Zone) -> tuple[float, float]:
    left, top, right, bottom = zone.outline.bounds
    return (left + right) / 2, (top + bottom) / 2


def _bands(centres: FloatArray, machine: Machine) -> list[int]:
    count = 1 if len(centres) < BAND_LEAST else {"any": 1, "rows": ROWS, "centre-out": RINGS}[machine.order]
    order = machine.order
    if len(centres) > 2 * BAND_ZONES:
        count = max(count, -(-len(centres) // BAND_ZONES))
        order = "rows" if order == "any" else order
    return [int(b) for b in bands(centres, order, count=count)]


def _may_step(zones: Sequence[Zone], path: Path, stroke: int) -> bool:
    """Return whether a step stays in its stroke's zone, off the parts left open, and crosses no firm fence."""
    zone = zones[stroke]
    length = path_length(path)
    open_mm = sum(length - outside_mm([path], part, tolerance_mm=0.0) for part in zone.left_open)
    return outside_mm([path], zone.outline) == 0 and open_mm < 1e-6 and not fence_crossings([path], zone.fences)


def _numbered(line: Line, members: Sequence[_Item], works: Sequence[Work]) -> Line:
    """Return a line whose spans say their stroke's number among all works, and whose zone they are."""
    of = [None if s.stroke is None else members[s.stroke] for s in line.spans]
    spans = [
        span if item is None else replace(span, stroke=item.number, zone=works[item.work].place)
        for span, item in zip(line.spans, of)
    ]
    return _travel_of_zones(replace(line, spans=tuple(spans)))


def _travel_of_zones(line: Line) -> Line:
    """Return a line whose travel says the zone that it starts and ends in, between two zones none."""
    travel = [span.stroke is None for span in line.spans]
    known = [-1 if moved else span.zone for span, moved in zip(line.spans, travel)]
    before, after = list(known), list(known)
    for i in range(1, len(known)):
        before[i] = before[i - 1] if travel[i] else known[i]
    for i in range(len(known) - 2, -1, -1):
        after[i] = after[i + 1] if travel[i] else known[i]
    zones = [b if b == a or a < 0 else a if b < 0 else -1 for b, a in zip(before, after)]
    return replace(line, spans=tuple(replace(span, zone=zone) for span, zone in zip(line.spans, zones)))


def _run_on(lines: Iterable[Line]) -> list[Line]:
    """Return the lines, one that begins where the one before it ended as one with it: she need not stop there."""
    out: list[Line] = []
    for line in lines:
        last = out[-1] if out else None
        if (
            last is not None
            and (last.thread, last.reach) == (line.thread, line.reach)
            and np.array_equal(last.path[-1], line.path[0])
        ):
            past = len(last.path) - 1
            spans = (*last.spans, *(replace(s, start=s.start + past, end=s.end + past) for s in line.spans))
            path = as_path(np.vstack([last.path, line.path[1:]]))
            out[-1] = _travel_of_zones(replace(last, path=path, spans=spans))
        else:
            out.append(line)
    return out


def _part(line: Line, span: Span) -> Path:
    return as_path(line.path[span.start : span.end + 1])


def _findings(groups: Sequence[Group], passes: int, tolerance_mm: float) -> Iterator[Finding]:
    if any(not g.proven for g in groups):
        yield Finding(
            FindingCode.PAIRING_NOT_PROVEN,
            "note",
            None,
            "The extra sewing is short, but not proven the shortest: the exact solver has no build for this computer.",
            "Nothing: the difference is below 0.01 %.",
        )
    busiest = max((g.busiest_passes for g in groups), default=0)
    if busiest > passes:
        yield Finding(
            FindingCode.SEWN_TOO_OFTEN,
            "warning",
            None,
            f"A fill sews one place {busiest} times over; {passes} is the most.",
            "Choose another fill there, or a style that does not go back along its own line.",
        )
    widest = max((g.widest_mm for g in groups), default=0.0)
    if widest > 3 * tolerance_mm:
        yield Finding(
            FindingCode.LINES_TOO_DENSE,
            "warning",
            None,
            f"Lines meet so densely that ends {widest:.2f} mm apart count as one place.",
            "Make the motif larger or its lines fewer.",
        )
