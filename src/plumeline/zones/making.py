"""Make the zones of a top: the one function that the pipeline calls."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from shapely import Polygon

from ..codes import FindingCode
from ..geometry import (
    NearPaths,
    boundary_distance,
    clip_path,
    cornered,
    dilate,
    erode,
    inscribed_circle,
    intersect,
    rings,
    subtract,
)
from ..model import Fence, Finding, Frame, Top, Zone
from ..specs import FRAMED, INSIDE, DivideStep, PointPlace, ZoneSpec
from ..units import Unit, format_length
from .guides import left_open_parts, line_of
from .parts import parts_of
from .spaces import PART_CLEARANCE_MM, Space, inset_of, spaces_of
from .ways import _seams, part_links, ways_of

__all__ = ["INSET_MM", "OPEN_CLEARANCE_MM", "make_zones", "parts_made", "with_own_chance"]

INSET_MM = 3.175
"""Clearance from the seams when nobody says another: seams wander an eighth of an inch."""

OPEN_CLEARANCE_MM = 25.4 / 16
"""Clearance round a part left open, as beside a stitched line."""

LEAST_RADIUS_MM = 0.6
"""A piece that no circle of this radius goes into has no room for one stitch across."""

FENCE_OVER_MM = 1.0
"""Fences reach this far over the zone's edge, so that they cut it through."""

STOPS_SHORT_MM = 6.35
"""A firm fence that ends this near the edge was meant to reach it."""


@dataclass(slots=True)
class _Entry:
    """What is gathered while the zones of one entry are made; ``over``: the shapes laid over any of them."""

    spec: ZoneSpec
    fences: list[tuple[str, Fence]]
    left_open: list[tuple[str, Polygon]]
    over: tuple[Polygon, ...] = ()
    unit: Unit = "in"
    zones: list[Zone] = field(default_factory=list)
    counts: dict[str, int] = field(default_factory=dict)


def make_zones(
    top: Top,
    specs: Sequence[ZoneSpec],
    *,
    chance: int = 7,
    inset_mm: float = INSET_MM,
    ways: bool = True,
    unit: Unit = "in",
) -> tuple[tuple[Zone, ...], tuple[Finding, ...]]:
    """Make the zones that the plan names.

    Parameters
    ----------
    top : Top
        The pieced top.
    specs : sequence of ZoneSpec
        The plan's zone entries, in order.
    chance : int
        The plan's number; each zone part gets its own from it, repeats of one entry the same.
    inset_mm : float
        Clearance from the seams of zones that state none.
    ways : bool
        Whether to find where travel may go, which only sewing asks for.
    unit : {"in", "mm", "cm"}
        The unit of lengths in findings, also of those that fills make.

    Returns
    -------
    zones : tuple of Zone
        In the order of the entries, their spaces and their parts; several of one name and part are numbered
        from 1. Empty when there are no entries.
    findings : tuple of Finding
        ``left-open``, ``part-vanished``, ``fence-outside``, ``fence-stops-short``, ``open-part-outside``.

    Raises
    ------
    ZoneError
        Something named is not there, two zones take one patch, or a division does not suit its space.

    Notes
    -----
    The inset is taken from the seams round the whole space, by a mitred offset. Between two parts of one space,
    and round a shape laid over it, each side keeps half of `PART_CLEARANCE_MM`. Widths of divisions count from
    the seam, before the inset.
    """
    spaces, findings = spaces_of(top, specs)
    seams = NearPaths([way.path for way in _seams(top, spaces)] if ways else [])
    zones: list[Zone] = []
    for spec in specs:
        entry = _Entry(spec, _fences(top, spec), left_open_parts(top, spec), unit=unit)
        inset = inset_of(spec, inset_mm)
        own = [space for space in spaces if space.spec is spec]
        covered = {id(shape): (shape, framed) for space in own for shape, framed in space.covered}
        entry.over = tuple(_cleared(covered.values()))
        for space in own:
            findings += _add_space(top, space, entry, inset, chance)
        if not own:
            findings.append(_vanished(spec.name, "it lies wholly under shapes laid over it"))
        findings += _outside(entry)
        sewn = ways and spec.travel != "none"
        zones += [_with_ways(zone, seams, inset) if sewn else zone for zone in _guided(entry)]
    linked = [replace(zone, ways=(*zone.ways, *links)) for zone, links in zip(zones, part_links(zones), strict=True)]
    return tuple(linked), tuple(findings)


def parts_made(
    top: Top, space: Space, divide: Sequence[DivideStep], *, chance: int = 7, inset_mm: float = INSET_MM
) -> tuple[Zone, ...]:
    """Return what a division would make of one space, without ways and fences: quick enough to try one after the other.

    Parameters
    ----------
    top : Top
        The pieced top.
    space : Space
        One of `spaces_of`.
    divide : sequence of DivideStep
        Steps in order; none: the space stays whole.
    chance, inset_mm
        As in `make_zones`.

    Returns
    -------
    tuple of Zone
        Empty where no part has room for a stitch.

    Raises
    ------
    ZoneError
        A step does not suit the space.
    """
    spec = replace(space.spec, divide=tuple(divide))
    entry = _Entry(spec, [], left_open_parts(top, spec), tuple(_cleared(space.covered)))
    _add_space(top, replace(space, spec=spec), entry, inset_of(spec, inset_mm), chance)
    return tuple(entry.zones)


def _with_ways(zone: Zone, seams: NearPaths, inset_mm: float) -> Zone:
    return replace(zone, ways=ways_of(zone, seams, inset_mm=inset_mm, open_margin_mm=OPEN_CLEARANCE_MM))


def _fences(top: Top, spec: ZoneSpec) -> list[tuple[str, Fence]]:
    return [
        (f"'{said.line}'" if isinstance(said.line, str) else "of points", Fence(path, said.soft_mm))
        for place, said in enumerate(spec.fences)
        for path in line_of(top, said.line, zone=spec.name, key=f"fences.{place + 1}")
    ]


def _add_space(top: Top, space: Space, entry: _Entry, inset_mm: float, chance: int) -> list[Finding]:
    half = PART_CLEARANCE_MM / 2
    body = erode(space.whole, inset_mm)
    if space.covered:
        around = dilate(space.outline, half, join="mitre") if any(framed for _, framed in space.covered) else None
        body = [left for whole in body for piece in around or [space.outline] for left in intersect(whole, piece)]
    open_parts = [part for _, part in entry.left_open if intersect(part, space.outline)]
    cut = [grown for part in open_parts for grown in dilate(part, OPEN_CLEARANCE_MM)]
    cut += _cleared(space.covered)
    laid = (*entry.over, *(body if space.spec.shape is not None else ()))
    findings = []
    if space.spec.framed is not None:
        framed = space.spec.framed
        crossing = [open_part for open_part in cut if not any(not subtract(open_part, [w]) for w in body)]
        for region in _regions(body, None, crossing):
            entry.counts[FRAMED] = number = entry.counts.get(FRAMED, 0) + 1
            entry.zones.append(_zone(space, FRAMED, number, region, region, (), entry, chance, laid))
        rows_mm = (framed.rows - 1) * framed.spacing_mm
        inset_mm += rows_mm
        body = [inner for whole in body for inner in erode(whole, rows_mm)]
    for part, pieces in parts_of(top, space):
        made = 0
        tipped = _comes_to_tips(space, part)
        for piece in pieces:
            others = [g for other in subtract(space.outline, [piece]) for g in dilate(other, half, join="mitre")]
            room = _to_its_tips(piece, inset_mm) if tipped else [piece] if part else None
            for region in _regions(body, room, [*cut, *(others if part else [])]):
                entry.counts[part] = number = entry.counts.get(part, 0) + 1
                entry.zones.append(_zone(space, part, number, region, piece, open_parts, entry, chance, laid))
                findings += _short_fences(entry.zones[-1])
                made += 1
        if not made and (pieces or part == INSIDE):  # a cell that the shape does not have is no loss
            findings.append(_vanished(_label(space.spec.name, part), "no room is left in it"))
    return findings


def _cleared(shapes: Iterable[tuple[Polygon, bool]]) -> list[Polygon]:
    """Return shapes with the clearance round them; one that is framed up to its own line, which both sides share."""
    half = PART_CLEARANCE_MM / 2
    return [
        clear
        for shape, framed in shapes
        for clear in (erode(shape, half) if framed else dilate(shape, half, join="mitre"))
    ]


def _comes_to_tips(space: Space, part: str) -> bool:
    """Return whether a part is a square on point whose tips lie on the seams: no frame stands between."""
    return part == INSIDE and [step.by for step in space.spec.divide] == ["on-point"]


def _to_its_tips(piece: Polygon, inset_mm: float) -> list[Polygon]:
    """Return a square on point made smaller until its tips, which lie on seams, keep clear of those as they are.

    The inset alone would cut them off blunt. A tip of the angle 2 a goes back by the margin over sin a.
    """
    angles = np.radians(cornered(rings(piece)[0]).inner_deg)
    margin = inset_mm * float(np.sin(angles / 2).max(initial=0.0))
    return erode(piece, max(margin, PART_CLEARANCE_MM / 2))


def _regions(body: Sequence[Polygon], room: Sequence[Polygon] | None, cut: Sequence[Polygon]) -> list[Polygon]:
    """Return what may be stitched of a piece: within the inset outline, clear of the other parts."""
    own = body if room is None else [shared for whole in body for piece in room for shared in intersect(whole, piece)]
    left = [region for shared in own for region in subtract(shared, cut)]
    return [region for region in left if inscribed_circle(region)[1] >= LEAST_RADIUS_MM]


def _zone(
    space: Space,
    part: str,
    number: int,
    region: Polygon,
    outline: Polygon,
    open_parts: Sequence[Polygon],
    entry: _Entry,
    chance: int,
    laid: tuple[Polygon, ...],
) -> Zone:
    middle = outline.centroid
    grown = dilate(region, FENCE_OVER_MM, join="mitre")
    fences = [
        Fence(stretch, fence.soft_mm)
        for _, fence in entry.fences
        for around in grown
        for stretch in clip_path(fence.path, around, least_mm=2 * FENCE_OVER_MM)
    ]
    return Zone(
        name=space.spec.name,
        part=part,
        number=number,
        region=region,
        outline=outline,
        fences=tuple(fences),
        left_open=tuple(part for part in open_parts if intersect(part, outline)),
        frame=Frame((float(middle.x), float(middle.y))),
        chance=_seed(chance, space.spec.name, part, number if space.spec.vary else 0),
        laid=laid,
        unit=entry.unit,
    )


def with_own_chance(zone: Zone, chance: int) -> Zone:
    """Return a zone whose chance is its own, not that of all repeats of its entry; the first keeps the common one.

    Parameters
    ----------
    zone : Zone
        One of several of its entry.
    chance : int
        The plan's.

    Returns
    -------
    Zone
        The same zone but for its seed.
    """
    return replace(zone, chance=_seed(chance, zone.name, zone.part, zone.number if zone.number > 1 else 0))


def _seed(chance: int, name: str, part: str, number: int) -> int:
    text = "\x1f".join(map(str, (chance, name, part, number)))
    return int.from_bytes(hashlib.blake2b(text.encode(), digest_size=8).digest(), "big")


def _short_fences(zone: Zone) -> list[Finding]:
    firm = [fence.path for fence in zone.fences if fence.soft_mm == 0]
    if not firm:
        return []
    ends = np.array([end for path in firm for end in (path[0], path[-1])])
    short = boundary_distance(zone.region, ends)
    return [
        Finding(
            FindingCode.FENCE_STOPS_SHORT,
            "warning",
            zone.label,
            f"a fence ends {format_length(gap, zone.unit)} before the edge of the zone and parts nothing there",
            "Draw it on over the edge.",
        )
        for gap in short
        if 0.05 < gap <= STOPS_SHORT_MM
    ]


def _outside(entry: _Entry) -> list[Finding]:
    """Return notes on fences and parts left open that no zone of the entry has."""
    findings = []
    for name, fence in entry.fences:
        if not any(clip_path(fence.path, zone.region, least_mm=FENCE_OVER_MM) for zone in entry.zones):
            text = f"the fence {name} does not reach into the zone"
            findings.append(
                Finding(FindingCode.FENCE_OUTSIDE, "note", entry.spec.name, text, "Take it out, or move it.")
            )
    for name, part in entry.left_open:
        if not any(intersect(part, zone.outline) for zone in entry.zones):
            text = f"{name}, which is to stay open, does not lie in the zone"
            findings.append(
                Finding(FindingCode.OPEN_PART_OUTSIDE, "note", entry.spec.name, text, "Take it out, or move it.")
            )
    return findings


def _guided(entry: _Entry) -> list[Zone]:
    """Return the zones of an entry, the wished start and end given to the nearest of them."""
    zones = list(entry.zones)
    for name, place in (("enter", entry.spec.enter), ("leave", entry.spec.leave)):
        if place is not None and zones:
            at = _nearest(zones, place)
            zones[at] = replace(zones[at], enter=place) if name == "enter" else replace(zones[at], leave=place)
    return zones


def _nearest(zones: Sequence[Zone], place: PointPlace) -> int:
    return int(np.argmax([round(float(boundary_distance(zone.region, [place])[0]), 6) for zone in zones]))


def _label(name: str, part: str) -> str:
    return f"{name}, {part}" if part else name


def _vanished(zone: str, why: str) -> Finding:
    return Finding(
        FindingCode.PART_VANISHED,
        "warning",
        zone,
        f"nothing is left to stitch: {why}",
        "Make it larger, or its inset smaller.",
    )
