"""From a zone to feathers: lay out, grow each feather, nest those at soft fences, chain those of one centre."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from shapely import Polygon

from ...codes import FindingCode
from ...errors import EngineError
from ...geometry import (
    Motion,
    calm_parts,
    contains,
    dilate,
    enclosed,
    intersect,
    motion_between,
    strip,
    subtract,
    transform,
    unite,
    without_slits,
)
from ...model import Fence, Filled, Finding, Path, Stroke, Zone, as_path
from ...tolerances import CURVE_MM, SAME_MM
from ..kit.registry import too_small
from .centre import Group
from .entering import entered_at_edge
from .grow import Ground, grow, make_ground
from .growth import Grown, Growth
from .layout import Layout, lay_out
from .settings import FeatherSettings
from .twigs import with_twig

__all__ = ["draw"]

ALIKE_MM = 0.02
"""Regions that agree this closely under a turn or mirroring take the same feather: less than a thread's width."""

NEST_GAP_MM = 0.75
"""Kept free round the neighbour's plumes before a row nests between them, besides its own clearance."""

OFF_FIRM_MM = 0.5
"""Plumes that lean over a soft fence keep this far from firm ones."""

LEAN_FROM, LEAN_FROM_MM = 4.0, 50.0
"""Plumes lean over a fence only where it lies this many times the stated amount, and this far (2 in), from their
spine: shorter ones would lose their shape."""

FINGER = 4.0
"""A plume longer than so many of its widths is a finger."""

CROWDED = 0.25
"""Where more than this part of the plumes are fingers, the spines do not suit the space."""

CALM_MM, NEARLY_ALL = 1.5, 0.85
"""Plumes take their sizes from the outline's length: a space of thousands of corners is straightened by about this, and
filled in the largest part that this leaves where it is more than so much of it."""

OTHERWISE = ("branching", "along", "corners")
"""What ``auto`` tries, in this order, where the spines that suit the shape leave a part of it empty."""

NOTCH_MM = 1.5
"""Narrower notches between a neighbour's plumes than twice this are not grown into."""


def draw(zone: Zone, settings: FeatherSettings, *, rng: np.random.Generator, tolerance_mm: float = CURVE_MM) -> Filled:
    """Return the feathers of a zone: one chain for each feather or group of feathers round one centre.

    Parameters
    ----------
    zone : Zone
        In its own frame.
    settings : FeatherSettings
        With guide lines looked up (`FeatherSettings.resolved`).
    rng : numpy.random.Generator
        Source of the plumes' variation.
    tolerance_mm : float
        Nothing lies outside the region by more.

    Returns
    -------
    Filled
        ``taken`` is the area of the plumes (all but the open middle for a wreath); ``fences`` are those set
        between feathers. Without room for a plume: no strokes and a finding.
    """
    whole = zone.region
    calm = max(calm_parts(whole, CALM_MM), key=lambda part: part.area)
    zone = replace(zone, region=calm) if calm.area > NEARLY_ALL * whole.area else zone
    layout, grown = _laid_and_grown(zone, settings, rng=rng, tolerance_mm=tolerance_mm)
    findings = [*layout.findings, *_own(zone, [f for group in grown for g in group for f in g.findings])]
    findings += _crowded(zone, settings, [f for group in grown for f in group])
    strokes: list[Stroke] = []
    for group, feathers in zip(layout.groups, grown, strict=True):
        chained = _chained(group, feathers, first_chain=1 + max((s.chain or 0 for s in strokes), default=0))
        strokes = with_twig(strokes, chained) if group.twig else strokes + chained
    if not strokes:
        if findings:
            return Filled(findings=tuple(findings))
        return too_small(zone, "feather", "there is no room for a plume", "Join it to a neighbour, or choose an echo.")
    taken = _taken(zone, layout, [g.silhouette for group in grown for g in group if g.silhouette is not None])
    strokes = entered_at_edge(strokes, whole, enter=zone.enter)
    return Filled(tuple(strokes), tuple(taken), layout.fences, tuple(findings))


def _laid_and_grown(
    zone: Zone, settings: FeatherSettings, *, rng: np.random.Generator, tolerance_mm: float
) -> tuple[Layout, list[list[Grown]]]:
    """Return the feathers of a zone.

    Where a part stays empty or plumes are fingers, ``auto`` tries other spines and takes what fills most with the
    fewest fingers; where she says in which point of the space feathers meet, only where a part stays empty.
    """
    met = settings.at != "middle" and contains(zone.region, np.array([zone.frame.to_local(settings.at)])).all()
    best: tuple[float, Layout, list[list[Grown]]] = (-1.0, Layout(), [])
    tries: list[Layout] = []
    for spines in ("auto", *OTHERWISE) if settings.spines == "auto" else (settings.spines,):
        tried = settings.model_copy(update={"spines": spines})
        layout = lay_out(zone, tried)
        if any(_same_spines(layout, other) for other in tries):
            continue
        tries.append(layout)
        grown = _grow_all(zone, layout, tried, rng=rng, tolerance_mm=tolerance_mm)
        feathers = [f for group in grown for f in group]
        best = max(best, (_worth(feathers), layout, grown), key=lambda b: b[0])
        full = bool(feathers) and all(f.strokes and not f.skipped for f in feathers)
        if full and (met or _fingers(feathers) <= CROWDED):
            break
    return best[1:]


def _crowded(zone: Zone, settings: FeatherSettings, feathers: Sequence[Grown]) -> list[Finding]:
    """Return a finding where spines that she asked for by a word leave many plumes as fingers, nothing elsewhere."""
    plumes = [p for f in feathers for p in f.plumes]
    fingers = sum(p.length_mm > FINGER * p.width_mm for p in plumes)
    if settings.spines == "auto" or settings.spine_names or fingers <= CROWDED * len(plumes):
        return []
    text = (
        f"feather: spines = '{settings.spines}' does not suit this space; {fingers} of its {len(plumes)} plumes "
        f"are over {FINGER:.0f} times as long as wide"
    )
    way_out = "Choose spines = 'auto' or 'branching', which sends a twig into each arm, or draw the spines."
    return [Finding(FindingCode.FEATHER_CROWDED, "note", zone.label, text, way_out)]


def _same_spines(one: Layout, other: Layout) -> bool:
    ours, theirs = ([g.spine for group in layout.groups for g in group.growths] for layout in (one, other))
    return len(ours) == len(theirs) and all(np.array_equal(a, b) for a, b in zip(ours, theirs, strict=True))


def _worth(feathers: Sequence[Grown]) -> float:
    """Return what is covered by feathers, less the part of their plumes that are fingers."""
    covered = sum(float(f.silhouette.area) for f in feathers if f.silhouette is not None)
    return covered * (1.0 - _fingers(feathers))


def _fingers(feathers: Sequence[Grown]) -> float:
    """Return what part of the plumes are fingers; all, where there are none."""
    fingers = [p.length_mm > FINGER * p.width_mm for f in feathers for p in f.plumes]
    return float(np.mean(fingers)) if fingers else 1.0


def _own(zone: Zone, findings: Sequence[Finding]) -> list[Finding]:
    # findings of single feathers, named after the zone, each text once
    out: list[Finding] = []
    for finding in findings:
        named = replace(finding, zone=finding.zone or zone.label)
        if named not in out:
            out.append(named)
    return out


def _grow_all(
    zone: Zone, layout: Layout, settings: FeatherSettings, *, rng: np.random.Generator, tolerance_mm: float
) -> list[list[Grown]]:
    """Return the grown feathers, group by group.

    A feather whose place is the image of an earlier one's grows on that one's ground, varied anew, and is moved.
    """
    out: list[list[Grown]] = []
    done: list[tuple[Growth, Grown]] = []
    grounds: list[tuple[Ground, Grown]] = []
    every = [growth for group in layout.groups for growth in group.growths]
    free = subtract(zone.region, [s for path in layout.firm for s in strip(path, OFF_FIRM_MM)])
    for group in layout.groups:
        row: list[Grown] = []
        for growth in group.growths:
            beside = [g for g in every if g is not growth and _share_a_fence(g, growth)]
            plumes = [g.silhouette for other, g in done if _share_a_fence(other, growth)]
            own = _nested(growth, free, [g.spine for g in beside], plumes)
            feather = _grown(own, grounds, settings, rng=rng, tolerance_mm=tolerance_mm)
            feather = feather if feather.silhouette is not None else replace(feather, silhouette=_silhouette(feather))
            done.append((replace(own, soft=growth.soft), feather))
            row.append(feather)
        out.append(row)
    return out


def _grown(
    growth: Growth,
    grounds: list[tuple[Ground, Grown]],
    settings: FeatherSettings,
    *,
    rng: np.random.Generator,
    tolerance_mm: float,
) -> Grown:
    # ``grounds`` are those charted so far, with what grew there first; a new one is added
    try:
        for ground, first in grounds:
            motion = _motion(ground.growth, growth)
            if motion is not None:
                varied = settings.variation > 0
                return _moved(grow(ground, settings, rng=rng, tolerance_mm=tolerance_mm) if varied else first, motion)
        own = make_ground(growth, settings, tolerance_mm=tolerance_mm)
        feather = grow(own or growth, settings, rng=rng, tolerance_mm=tolerance_mm)
        grounds += [(own, feather)] if own else []
        return feather
    except EngineError:  # one part that defeats the mesh must not cost her the others
        text = "feather: a part of the space could not be filled; its outline has slivers beside the spine"
        way_out = "Draw the spine further from the edge, or take sharp slivers out of the outline."
        return Grown(findings=(Finding(FindingCode.FEATHER_PART_FAILED, "warning", None, text, way_out),))


def _silhouette(feather: Grown) -> Polygon | None:
    found = enclosed([s.path for s in feather.strokes if s.role == "stitch"])
    return found[0] if found else None


def _motion(source: Growth, growth: Growth) -> Motion | None:
    # the turn or mirroring that takes one growth to another
    if (source.closed, source.floating) != (growth.closed, growth.floating):
        return None
    return motion_between(source.region, source.spine, growth.region, growth.spine, tolerance_mm=ALIKE_MM)


def _moved(feather: Grown, motion: Motion) -> Grown:
    matrix, shift = motion
    silhouette = feather.silhouette
    return replace(
        feather,
        strokes=tuple(replace(s, path=as_path(s.path @ matrix.T + shift)) for s in feather.strokes),
        silhouette=None if silhouette is None else transform(silhouette, matrix, (float(shift[0]), float(shift[1]))),
    )


def _share_a_fence(a: Growth, b: Growth) -> bool:
    return any(f.path is g.path for f in a.soft for g in b.soft)


def _nested(
    growth: Growth, free: Sequence[Polygon], spines: Sequence[Path], neighbours: Sequence[Polygon | None]
) -> Growth:
    """Return the growth with its region carried over its soft fences as far as the neighbours' plumes leave room.

    The first of two rows leans over by half the stated amount; the second, grown later, takes the notches
    between the tops of the first, up to the whole amount beyond the fence.
    """
    if not growth.soft:
        return growth
    share = 1.0 if neighbours else 0.5
    bands = [p for f in growth.soft for p in _band(f, share, [growth.spine, *spines], free)]
    plumes = [d for n in neighbours if n is not None for d in dilate(n, NEST_GAP_MM)]
    rest = [p for w in unite([growth.region, *bands]) for p in subtract(w, plumes)]
    swept = [p for f in rest for p in without_slits(f, NOTCH_MM)]
    middle = growth.spine[len(growth.spine) // 2][None]
    own = next((p for p in swept if contains(p, middle)[0]), None)
    return growth if own is None else replace(growth, region=own, soft=())


def _band(fence: Fence, share: float, spines: Sequence[Path], free: Sequence[Polygon]) -> list[Polygon]:
    # where plumes may lean over a fence: not near a spine on either side, where they are too short
    wide = max(LEAN_FROM * fence.soft_mm, LEAN_FROM_MM)
    short = [p for spine in spines for p in strip(spine, wide, round_ends=True)]
    over = [p for s in strip(fence.path, fence.soft_mm * share) for p in subtract(s, short)]
    return [p for o in over for space in free for p in intersect(o, space)]


def _chained(group: Group, feathers: Sequence[Grown], *, first_chain: int) -> list[Stroke]:
    """Return the strokes of a group: one chain when its feathers share a point or a ring, else one each.

    The chain round a ring starts at the last base, so that the ring is stitched exactly once.
    """
    rows = [list(f.strokes) for f in feathers]
    if group.link:
        arcs = [Stroke(path) for path in group.link]
        rows = [[arcs[k - 1], *row] for k, row in enumerate(rows)]
    elif len(rows) > 1 and not _share_a_point(rows):
        return _one_each(rows, first_chain)
    return _joined([s for row in rows for s in row], first_chain)


def _one_each(rows: Sequence[Sequence[Stroke]], first_chain: int) -> list[Stroke]:
    out: list[Stroke] = []
    for row in rows:
        out += _joined(row, max([first_chain, *(1 + (s.chain or 0) for s in out)]))
    return out


def _share_a_point(rows: Sequence[Sequence[Stroke]]) -> bool:
    starts = [row[0].path[0] for row in rows if row]
    return all(float(np.hypot(*(s - starts[0]))) <= SAME_MM for s in starts)


def _joined(strokes: Sequence[Stroke], chain: int) -> list[Stroke]:
    # one chain; a feather that could not start at its base (an opening lies between) starts a chain of its own
    out: list[Stroke] = []
    for stroke in strokes:
        path = stroke.path
        if out:
            before = out[-1].path[-1]
            if float(np.hypot(*(path[0] - before))) > SAME_MM:
                chain += 1
            else:
                path = as_path(np.vstack([before, path[1:]]))
        out.append(replace(stroke, path=path, chain=chain, atomic=True, entry="ends"))
    return out


def _taken(zone: Zone, layout: Layout, plumes: Sequence[Polygon]) -> list[Polygon]:
    # a wreath takes all but its open middle as the plumes leave it; other feathers take their plumes
    taken = unite(plumes)
    if not layout.middles:
        return taken
    left = subtract(zone.region, taken)
    inner = [[p for p in left if intersect(p, middle)] for middle in layout.middles]
    open_parts = [max(found, key=lambda p: float(p.area)) for found in inner if found]
    return subtract(zone.region, open_parts)
