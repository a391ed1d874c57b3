"""The plan of a zone's feathers before one is grown: which spine fills which part, and how they meet.

A zone is cut along its fences; each part gets the spines that lie in it; parts with several spines are divided
between them; spines that start at one point form a group that is stitched as one line.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np
from shapely import Polygon

from ...codes import FindingCode
from ...geometry import (
    arc_lengths,
    boundary_distance,
    carried_on,
    clip_path,
    crossings,
    cut_by,
    dilate,
    intersect,
    is_simple,
    nearest_cells,
    nearest_on,
    path_distance,
    path_length,
    point_at,
    resample,
    strip,
    subtract,
    unite,
)
from ...model import Fence, Finding, Path, Zone, as_path
from ..kit.registry import does_nothing
from .borders import composed
from .branching import beside
from .centre import Group, Part, growth_of, round_centre
from .settings import LAID_BY, LEAST_PLUME_MM, FeatherSettings
from .spine import Spine, Spines
from .spines import lay_spines

__all__ = ["Layout", "lay_out"]

SAME_POINT_MM = 1.0
"""Spines that start nearer to each other than this start at one point."""

ON_SPINE_MM, TWIG_STEP_MM = 3.0, 2.0
"""A drawn spine that starts this near to an earlier one grows out of it; points of such a twig lie so far apart."""

AT_EDGE_MM = 3.0
"""A drawn spine that starts this near to the edge was meant to start on it."""

RUNS_ALONG_MM = 10.0
"""A region's edge that lies on a soft fence for this long has the fence for a border."""

OFF_FENCE_MM = 0.05
"""A base on a firm fence is drawn back so far: the fence itself is never touched."""

JOINS_MM = 0.05
"""Parts of one space that come this near to each other are neighbours."""

PINCH_MM, PINCH_MORE_MM, PINCH_SLOPE, PINCH_FROM_MM, PINCH_WITHIN = 0.8, 1.0, 0.08, 5.0, 0.4
"""A spine that from so far on comes this near to the edge, and up to so much more as that slope grows with the way,
leads through a neck there; in the first part of its length it starts where the space is as wide again as a plume."""

LEAST_SPINE = 0.5
"""A spine with less than this part of its length inside its part of the zone does not belong to it."""

IDLE_WHY = {
    "bow": "these spines follow the space, and straight ones alone are bowed",
    "waves": "these spines are not wavy; say spines = 'wave'",
    "corner": "the space has no other corner to start in",
    "at": "the spines don't meet there; say spines = 'corners' or 'sides', and a point inside the space",
    "run": "it is for a feather that goes all round an opening",
}
"""Why a setting for spines can do nothing."""


@dataclass(frozen=True, slots=True, eq=False)
class Layout:
    """The feathers of a zone: groups, firm fences, the fences set between feathers, middles left open, findings."""

    groups: tuple[Group, ...] = ()
    firm: tuple[Path, ...] = ()
    fences: tuple[Fence, ...] = ()
    middles: tuple[Polygon, ...] = ()
    findings: tuple[Finding, ...] = ()


def lay_out(zone: Zone, settings: FeatherSettings) -> Layout:
    """Return where the feathers of a zone lie; without any, findings say why."""
    drawn = [*zone.fences, *(Fence(path) for path in settings.drawn_fences)]
    fences, findings = _reaching(zone, drawn)
    firm = [f.path for f in fences if f.soft_mm == 0]
    soft = [f for f in fences if f.soft_mm > 0]
    pieces = cut_by(zone.region, [f.path for f in fences])
    laid, notes = _lay(zone, settings, pieces)
    findings += notes + _idle(zone, settings, pieces, laid)
    parts: list[Part] = []
    set_fences: list[Path] = []
    for piece, spines in zip(pieces, laid, strict=True):
        shares, lines = _shared_out(piece, spines, firm)
        parts += shares
        set_fences += lines
    if not parts:
        return Layout(findings=tuple(findings))
    groups, set_fences = _grouped(zone.region, parts, settings, soft, firm, set_fences)
    if settings.said("centre") and all(len(group.growths) < 2 for group in groups):
        findings.append(does_nothing(zone, "feather", "centre", "it is for several feathers that meet in one point"))
    middles = tuple(spines.middle for spines in laid if spines.middle is not None)
    return Layout(groups, tuple(firm), tuple(Fence(line) for line in set_fences), middles, tuple(findings))


def _reaching(zone: Zone, drawn: Sequence[Fence]) -> tuple[list[Fence], list[Finding]]:
    # fences that meet the region, their loose ends carried on; and a finding for each that misses it
    paths = carried_on(zone.region, [f.path for f in drawn])
    kept, findings = [], []
    for fence, path in zip(drawn, paths, strict=True):
        inside = sum(path_length(p) for p in clip_path(path, zone.region))
        if inside < 1e-3:
            findings.append(
                _note(zone, FindingCode.FENCE_MISSES, "a fence does not cross the space", "Move it, or take it out.")
            )
            continue
        if path_length(path) > path_length(fence.path) + 2 * SAME_POINT_MM:
            text = "a fence ends inside the space; it was carried on straight to the edge"
            findings.append(
                _note(zone, FindingCode.FENCE_ENDS_INSIDE, text, "Draw it from edge to edge if this is not meant.")
            )
        kept.append(Fence(path, fence.soft_mm))
    return kept, findings


def _note(zone: Zone, code: FindingCode, text: str, what_to_do: str) -> Finding:
    return Finding(code, "warning", zone.label, f"feather: {text}", what_to_do)


def _lay(zone: Zone, settings: FeatherSettings, pieces: Sequence[Polygon]) -> tuple[list[Spines], list[Finding]]:
    # the spines of each piece between the fences
    findings: list[Finding] = []
    if settings.spine_names:
        spines, findings = _drawn_spines(zone, settings.drawn_spines)
        laid = _assigned(pieces, Spines(tuple(spines)))
        empty = sum(1 for own in laid if not own.spines)
        if empty and spines:
            text = f"{empty} of the {len(pieces)} parts between the fences hold no spine and stay open"
            findings.append(
                _note(zone, FindingCode.FEATHER_NO_SPINE, text, "Draw a spine in each part that shall be filled.")
            )
        return laid, findings
    laid = _laid(zone, settings, pieces)
    for note in sorted({own.note for own in laid if own.note}):
        findings.append(
            Finding(FindingCode.FEATHER_LAYOUT, "note", zone.label, f"feather: {note}", "Choose other spines.")
        )
    return laid, findings


def _laid(zone: Zone, settings: FeatherSettings, pieces: Sequence[Polygon]) -> list[Spines]:
    # the spines that the settings lay, none of them drawn
    shape = str(settings.spines)
    at = None if settings.at == "middle" else zone.frame.to_local(settings.at)

    def lay(shape: str, region: Polygon) -> Spines:
        laid = lay_spines(shape, region, bow=settings.bow, waves=settings.waves, corner=settings.corner, at=at)
        return laid if settings.run == "around" else composed(region, laid, settings.run)

    if shape in ("corners", "sides") and len(pieces) > 1:
        laid = _assigned(pieces, lay(shape, zone.region))
        return [own if own.spines else lay("along", piece) for own, piece in zip(laid, pieces, strict=True)]
    return [lay(shape, piece) for piece in pieces]


def _idle(zone: Zone, settings: FeatherSettings, pieces: Sequence[Polygon], laid: Sequence[Spines]) -> list[Finding]:
    # a note for each setting given for the spines without which they are laid just the same
    findings = []
    for field in LAID_BY:
        if settings.spine_names or not settings.said(field) or field in settings.idle:
            continue
        left_out = settings.model_copy(update={field: FeatherSettings.model_fields[field].default})
        if all(map(_alike, laid, _laid(zone, left_out, pieces))):
            findings.append(does_nothing(zone, "feather", field, IDLE_WHY[field]))
    return findings


def _alike(one: Spines, other: Spines) -> bool:
    return len(one.spines) == len(other.spines) and all(
        np.array_equal(a.path, b.path) for a, b in zip(one.spines, other.spines, strict=True)
    )


def _drawn_spines(zone: Zone, paths: Sequence[Path]) -> tuple[list[Spine], list[Finding]]:
    """Return the drawn spines as far as they can be used, and a finding for each that can't as it stands."""
    spines: list[Spine] = []
    findings: list[Finding] = []
    for path in paths:
        closed = len(path) > 3 and bool(np.hypot(*(path[0] - path[-1])) < SAME_POINT_MM)
        line = as_path(path[:-1]) if closed else path
        if not is_simple(line, closed=closed):
            text, way_out = "a spine crosses itself", "Draw it without the loop; it was left out."
            findings.append(_note(zone, FindingCode.FEATHER_SPINE_CROSSES, text, way_out))
            continue
        stem = None if closed else next((other for other in spines if _starts_on(line, other)), None)
        twig = None if stem is None else beside(zone.region, stem, as_path(resample(line, TWIG_STEP_MM)))
        path = path if twig is None else twig.path
        if any(len(crossings([path], [other.path])) for other in spines):
            text, way_out = "two spines cross", "Draw them side by side or from one point; the second was left out."
            findings.append(_note(zone, FindingCode.FEATHER_SPINE_CROSSES, text, way_out))
            continue
        inside = clip_path(line, zone.region, closed=closed)
        longest = max(inside, key=path_length, default=None)
        total = path_length(line, closed=closed)
        if longest is None or path_length(longest) < LEAST_SPINE * total:
            text, way_out = "a spine lies outside the space", "Move it inside; it was left out."
            findings.append(_note(zone, FindingCode.FEATHER_SPINE_OUTSIDE, text, way_out))
            continue
        if path_length(longest) < total - AT_EDGE_MM:
            text, way_out = "a spine runs out of the space", "It was cut at the edge; move it if this is not meant."
            findings.append(_note(zone, FindingCode.FEATHER_SPINE_OUTSIDE, text, way_out))
            closed = False
        spines.append(twig or Spine(line if closed else longest, closed))
    return spines, findings


def _starts_on(path: Path, spine: Spine) -> bool:
    # along the spine, not where it starts itself
    on = point_at(spine.path, nearest_on(spine.path, path[:1], closed=spine.closed), closed=spine.closed)[0]
    apart = np.hypot(*(path[0] - np.vstack([on, spine.path[0]])).T)
    return bool(apart[0] < ON_SPINE_MM and (spine.closed or apart[1] >= ON_SPINE_MM))


def _assigned(pieces: Sequence[Polygon], laid: Spines) -> list[Spines]:
    # each spine to the piece that holds most of it
    own: list[list[Spine]] = [[] for _ in pieces]
    for spine in laid.spines:
        within = (clip_path(spine.path, piece, closed=spine.closed) for piece in pieces)
        stretches = [max(found, key=path_length, default=None) for found in within]
        lengths = [0.0 if s is None else path_length(s) for s in stretches]
        k = int(np.argmax(lengths))
        best = stretches[k]
        if best is not None and lengths[k] > 0:
            whole = spine.closed and lengths[k] >= 0.99 * path_length(spine.path, closed=True)
            own[k].append(spine if whole else replace(spine, path=best, closed=False))
    fences = laid.fences if len(pieces) == 1 else ()
    return [Spines(tuple(s), fences, note=laid.note) for s in own]


def _shared_out(piece: Polygon, laid: Spines, firm: Sequence[Path]) -> tuple[list[Part], list[Path]]:
    # a piece divided between its spines, by the fences that belong to them or half way between, and those fences
    space = piece if laid.middle is None else subtract(piece, [laid.middle])[0]
    cells = _cells(space, laid) if laid.spines else []
    # of several that start together each begins in the point of its part, as in a neck
    alone = not any(_start_together(a, b) for a, b in combinations(laid.spines, 2))
    spines = [_past_pinches(space, spine) if alone else spine for spine in laid.spines]
    parts = [
        Part(cell, _inside(cell, spine, firm)) for spine, cell in zip(spines, cells, strict=True) if cell is not None
    ]
    lines = [line for fence in laid.fences for line in clip_path(fence, space)] if len(parts) > 1 else []
    return parts, lines


def _mostly_in(piece: Polygon, path: Path) -> bool:
    return sum(path_length(p) for p in clip_path(path, piece)) > LEAST_SPINE * path_length(path)


def _cells(space: Polygon, laid: Spines) -> list[Polygon | None]:
    spines = laid.spines
    if len(spines) == 1:
        return [space]
    if laid.fences:
        faces = cut_by(space, carried_on(space, laid.fences))
        found = [_holding(faces, s.path) for s in spines]
        if len({id(f) for f in found}) == len(spines) and None not in found:
            return found
    cells = nearest_cells(space, [s.path for s in spines])
    return _with_room([_holding(own, s.path) for own, s in zip(cells, spines, strict=True)], spines)


def _with_room(cells: list[Polygon | None], spines: Sequence[Spine]) -> list[Polygon | None]:
    # what a twig's cell holds of the room beside the spine that it leaves belongs to that one
    out = list(cells)
    for k, twig in enumerate(spines):
        for j, spine in enumerate(spines[:k]):
            own, other = out[k], out[j]
            if not twig.twig or own is None or other is None:
                continue
            line = as_path(np.vstack([spine.path, spine.path[:1]])) if spine.closed else spine.path
            room = [p for s in strip(line, twig.off_mm, round_ends=True) for p in intersect(own, s)]
            if room:
                out[k] = _holding(subtract(own, room), twig.path)
                joined = dilate(other, JOINS_MM)[0]
                near = [p for p in room if intersect(joined, p)]
                out[j] = max(unite([other, *near]), key=lambda p: float(p.area))
    return out


def _holding(pieces: Iterable[Polygon], path: Path) -> Polygon | None:
    return next((p for p in pieces if _mostly_in(p, path)), None)


def _inside(region: Polygon, spine: Spine, firm: Sequence[Path]) -> Spine:
    """Return the spine inside its region: its base on the edge but off firm fences, or floating further in."""
    if spine.closed:
        return spine
    path = max(clip_path(spine.path, region), key=path_length, default=spine.path)
    if firm and path_distance(path[0], firm) < OFF_FENCE_MM:
        path = as_path(np.vstack([point_at(path, [OFF_FENCE_MM]), path[arc_lengths(path) > OFF_FENCE_MM]]))
    return replace(spine, path=path, floating=float(boundary_distance(region, path[:1])[0]) > AT_EDGE_MM)


def _past_pinches(region: Polygon, spine: Spine) -> Spine:
    """Return a spine without its first part where that leads through a neck too narrow for plumes beside it."""
    path = spine.path
    if spine.closed or spine.twig:
        return spine
    gone, room = arc_lengths(path), boundary_distance(region, path)
    needed = np.clip(PINCH_SLOPE * (gone - PINCH_FROM_MM), 0.0, PINCH_MORE_MM) + PINCH_MM
    pinched = (gone > PINCH_FROM_MM) & (room < needed) & (gone < PINCH_WITHIN * gone[-1])
    if not pinched.any():
        return spine
    wide = np.flatnonzero((room >= LEAST_PLUME_MM) & (gone > gone[pinched].max()))
    return replace(spine, path=as_path(path[wide[0] :])) if len(wide) and wide[0] < len(path) - 2 else spine


def _grouped(
    region: Polygon,
    parts: Sequence[Part],
    settings: FeatherSettings,
    soft: Sequence[Fence],
    firm: Sequence[Path],
    fences: list[Path],
) -> tuple[tuple[Group, ...], list[Path]]:
    together: list[list[Part]] = []
    for part in parts:
        mates = next((g for g in together if _start_together(g[0].spine, part.spine)), None)
        if part.spine.twig or mates is None or _fenced_off(region, part.spine, firm):
            together.append([part])
        else:
            mates.append(part)
    groups = []
    for members in together:
        if len(members) > 1:
            group, fences = round_centre(members, region, settings.centre, firm, fences)
        else:
            group = Group((growth_of(members[0].region, members[0].spine),), twig=members[0].spine.twig)
        groups.append(_with_soft(group, soft))
    return tuple(groups), fences


def _start_together(a: Spine, b: Spine) -> bool:
    return not (a.closed or b.closed) and bool(np.hypot(*(a.path[0] - b.path[0])) < SAME_POINT_MM)


def _fenced_off(region: Polygon, spine: Spine, firm: Sequence[Path]) -> bool:
    # a base where a firm fence meets the edge: a neighbour's base beyond the fence is near, but not the same
    at_edge = float(boundary_distance(region, spine.path[:1])[0]) < AT_EDGE_MM
    return at_edge and path_distance(spine.path[0], firm) < SAME_POINT_MM


def _with_soft(group: Group, soft: Sequence[Fence]) -> Group:
    def runs_along(region: Polygon, fence: Fence) -> bool:
        off = np.abs(boundary_distance(region, resample(fence.path, RUNS_ALONG_MM / 2)))
        return int((off < 0.01).sum()) > 2

    growths = [replace(g, soft=tuple(f for f in soft if runs_along(g.region, f))) for g in group.growths]
    return replace(group, growths=tuple(growths))
