"""One design for spaces that are alike: drawn in one of them, and laid into each of the others as that is."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from shapely import Polygon

from ..codes import FindingCode
from ..copier import copier_percent
from ..fills import find_fill
from ..fills.kit.stack import Layer
from ..geometry import (
    boundary_distance,
    contains,
    densify,
    mean_values,
    moved_inside,
    outside_mm,
    stretches,
    transform,
)
from ..model import Barest, Fence, Filled, Finding, FloatArray, Stroke, Zone, as_path
from ..review import ZoneFigures
from ..specs import FRAMED, AlikeSpec
from ..units import Unit, format_length
from ..zones import AlikeSet, Lie, alike_sets, rows_and_columns, size_in_places

__all__ = ["Design", "designs_of", "lays"]

LEAST_STRETCH, MOST_STRETCH = 0.6, 1.6
"""A design drawn together or out by more than this anywhere no longer looks the same: such a space has its own."""

CHORD_MM = 4.0
"""Points of a straight line are at most so far apart when it is laid: it bends by micrometres between them."""

NEAR_EDGE_MM = 1.0
"""Only what lies so near the edge can come to lie beyond a bent one."""

SAMPLES = 200
"""Places inside the model, about, at which the stretch is looked at."""


@dataclass(frozen=True, slots=True, eq=False)
class Design:
    """A set of zones that share a design; numbers are those of the sequence that `designs_of` was given.

    ``lies`` holds all of them but the model, and that too where it is to be turned or mirrored; ``stretch`` is
    the least and the most of each.
    """

    model: int
    nodes: FloatArray
    lies: tuple[Lie, ...]
    stretch: tuple[tuple[float, float], ...]
    findings: tuple[Finding, ...]


def designs_of(
    zones: Sequence[Zone], layers: Sequence[Sequence[Layer]], specs: Mapping[str, AlikeSpec], unit: Unit
) -> list[Design]:
    """Return the designs that zones share, of those whose entry says that its spaces are alike.

    A zone with fences, a part left open, a hole or a shape laid over it, and one whose fill is laid out over the whole
    page, is drawn by itself.
    """
    groups: dict[tuple[str, str], list[int]] = {}
    for k, zone in enumerate(zones):
        if zone.name in specs and zone.part != FRAMED:
            groups.setdefault((zone.name, zone.part), []).append(k)
    return [d for (name, _), own in groups.items() for d in _designs(zones, layers, own, specs[name], unit)]


def _designs(
    zones: Sequence[Zone], layers: Sequence[Sequence[Layer]], own: Sequence[int], spec: AlikeSpec, unit: Unit
) -> Iterator[Design]:
    can = [k for k in own if _is_plain(zones[k], layers[k])]
    shapes = [_outline(zones[k], layers[k]) for k in can]
    places = rows_and_columns(shapes)
    size = size_in_places(places)
    first, shared = True, 0
    made = []
    for found in alike_sets(shapes, spec):
        lies, stretch = _not_too_bent(shapes[found.model], found)
        if lies:
            made.append((found, lies, stretch))
            shared += len({found.model, *(lie.space for lie in lies)})
    alone = len(own) - shared
    for found, lies, stretch in made:
        model = can[found.model]
        said = _said(zones[model], found, lies, [spec.at(*places[lie.space], *size) for lie in lies], unit)
        if first and alone:
            said += (_by_itself(zones[model], alone),)
        first = False
        yield Design(model, found.nodes, tuple(replace(x, space=can[x.space]) for x in lies), stretch, said)


def _is_plain(zone: Zone, layers: Sequence[Layer]) -> bool:
    cut = zone.fences or zone.left_open or zone.laid or len(zone.region.interiors)
    return not cut and not any(layer.settings.on_page for layer in layers)


def _outline(zone: Zone, layers: Sequence[Layer]) -> Polygon:
    """Return what is laid on what: the edge that the fills are bounded by."""
    return zone.outline if any(layer.fill.within == "outline" for layer in layers) else zone.region


def _not_too_bent(model: Polygon, found: AlikeSet) -> tuple[list[Lie], tuple[tuple[float, float], ...]]:
    """Return the spaces besides the model that take its design without folds, and how it is stretched there."""
    others = [lie for lie in found.lies if not (lie.space == found.model and lie.in_place)]
    fitted = [lie for lie in others if not lie.exact]
    bounds: dict[int, tuple[float, float]] = {lie.space: (lie.scale, lie.scale) for lie in others}
    if fitted:
        straight = [(lie.nodes - lie.shift) @ np.linalg.inv(lie.matrix).T for lie in fitted]
        least, most = stretches(found.nodes, np.stack(straight), _inside(model))
        for k, lie in enumerate(fitted):
            bounds[lie.space] = (lie.scale * float(least[k].min()), lie.scale * float(most[k].max()))
    good = [
        lie
        for lie in others
        if bounds[lie.space][0] >= LEAST_STRETCH * lie.scale and bounds[lie.space][1] <= MOST_STRETCH * lie.scale
    ]
    return good, tuple(bounds[lie.space] for lie in good)


def _inside(region: Polygon) -> FloatArray:
    left, top, right, bottom = region.bounds
    step = float(np.sqrt(region.area / SAMPLES))
    grid = np.stack(np.meshgrid(np.arange(left, right, step), np.arange(top, bottom, step)), axis=-1).reshape(-1, 2)
    middle = region.representative_point()
    return np.vstack([grid[contains(region, grid)], [(middle.x, middle.y)]])


def lays(
    design: Design, zones: Sequence[Zone], drawn: tuple[Filled, ZoneFigures]
) -> Iterator[tuple[int, Filled, ZoneFigures]]:
    """Give each zone's number, what is drawn in it, and its figures.

    Exact copies are moved, turned and mirrored; for the others every point goes where the smooth map of the outlines
    takes it. Their figures are the model's, stretched: the widest gap is at most what is told.
    """
    filled, figures = drawn
    model = zones[design.model]
    dense = [densify(s.path, CHORD_MM, closed=s.closed) for s in filled.strokes]
    ends = np.cumsum([len(path) for path in dense])[:-1]
    points = np.vstack(dense) if dense else np.zeros((0, 2))
    bent = [lie for lie in design.lies if not lie.exact]
    everywhere = iter(_mapped(design.nodes, points, [lie.nodes for lie in bent]))
    bounded = np.concatenate(
        [np.full(len(p), find_fill(s.fill).within == "region") for p, s in zip(dense, filled.strokes)] or [np.zeros(0)]
    ).astype(bool)
    beside = (
        np.flatnonzero(bounded & (boundary_distance(model.region, points) < NEAR_EDGE_MM))
        if bent
        else np.zeros(0, dtype=np.int64)
    )
    at_edge = {int(np.searchsorted(ends, k, side="right")) for k in beside} | {
        k for k, s in enumerate(filled.strokes) if find_fill(s.fill).within != "region"
    }
    for lie, (least, most) in zip(design.lies, design.stretch):
        zone = zones[lie.space]
        if lie.exact:
            paths = [s.path @ lie.matrix.T + lie.shift for s in filled.strokes]
        else:
            there = next(everywhere)
            there[beside] = moved_inside(zone.region, there[beside])
            paths = np.split(there, ends) if dense else []
        laid = _with_paths(filled, paths, lie, zone)
        told = figures if lie.exact and lie.scale == 1.0 else _stretched(figures, lie.scale, least, most)
        outside = 0.0 if lie.exact else _outside([s for k, s in enumerate(laid.strokes) if k in at_edge], zone)
        yield lie.space, laid, told if lie.exact else replace(told, outside_mm=outside)


def _mapped(nodes: FloatArray, points: FloatArray, goals: Sequence[FloatArray]) -> FloatArray:
    """Return where points go in each of the maps that take the nodes to their goals, ``(m, n, 2)``."""
    if not goals:
        return np.zeros((0, len(points), 2))
    side_by_side = np.hstack(goals)
    out = mean_values(nodes, points) @ side_by_side
    return np.ascontiguousarray(out.reshape(len(points), len(goals), 2).transpose(1, 0, 2))


def _with_paths(filled: Filled, paths: Sequence[FloatArray], lie: Lie, zone: Zone) -> Filled:
    strokes: list[Stroke] = [replace(s, path=as_path(p)) for s, p in zip(filled.strokes, paths)]
    shift = (float(lie.shift[0]), float(lie.shift[1]))
    return replace(
        filled,
        strokes=tuple(strokes),
        taken=tuple(transform(r, lie.matrix, shift) for r in filled.taken),
        fences=tuple(Fence(as_path(f.path @ lie.matrix.T + lie.shift), f.soft_mm) for f in filled.fences),
        findings=tuple(replace(f, zone=None if f.zone is None else zone.label) for f in filled.findings),
        enclosed=tuple(transform(r, lie.matrix, shift) for r in filled.enclosed),
        bare_mm2=filled.bare_mm2 * lie.scale**2,
        barest=filled.barest and _laid(filled.barest, lie),
    )


def _laid(barest: Barest, lie: Lie) -> Barest:
    x, y = (lie.matrix @ barest.place + lie.shift).tolist()
    return Barest((x, y), barest.times * lie.scale)


def _stretched(figures: ZoneFigures, scale: float, least: float, most: float) -> ZoneFigures:
    """Return the model's figures for a space in which its design is drawn out so much at least and at most."""
    mean, varies = (least + most) / 2, figures.spacing_varies_percent
    return replace(
        figures,
        widest_gap_mm=figures.widest_gap_mm * most,
        spacing_mm=None if figures.spacing_mm is None else figures.spacing_mm * mean,
        spacing_varies_percent=None if varies is None else float(np.hypot(varies, 100 * (most - least) / (2 * mean))),
        bare_mm2=figures.bare_mm2 * scale**2,
        seen_mm=figures.seen_mm * mean,
    )


def _outside(strokes: Sequence[Stroke], zone: Zone) -> float:
    stitched = [s for s in strokes if s.role == "stitch"]
    return sum(outside_mm([s.path for s in stitched if s.closed is c], zone.outline, closed=c) for c in (False, True))


def _said(
    model: Zone, found: AlikeSet, lies: Sequence[Lie], wished: Sequence[tuple[float, bool]], unit: Unit
) -> tuple[Finding, ...]:
    bent = [lie.off_mm for lie in lies if not lie.exact]
    count = len({found.model, *(lie.space for lie in lies)})
    parts = [f"{count - len(bent)} exactly alike"] * (count - len(bent) > 1)
    if bent:
        parts.append(f"{len(bent)} fitted, by up to {format_length(max(bent), unit)}")
    turned, mirrored = sum(abs(lie.turn_deg) > 45 for lie in lies), sum(lie.mirrored for lie in lies)
    parts += [f"{turned} turned"] * bool(turned) + [f"{mirrored} mirrored"] * bool(mirrored)
    percents = Counter(copier_percent(lie.scale, 1.0) for lie in lies)
    parts += [f"{many} at {percent} %" for percent, many in sorted(percents.items()) if percent != 100]
    text = f"one design lies in {count} spaces: {', '.join(parts)}"
    out = [
        Finding(FindingCode.ONE_DESIGN, "note", model.name, text, "Take alike out, and each space is drawn by itself.")
    ]
    missed = sum(
        abs((lie.turn_deg - turn + 180) % 360 - 180) > 45 or lie.mirrored != mirror
        for lie, (turn, mirror) in zip(lies, wished)
    )
    if missed:
        have = "space has" if missed == 1 else "spaces have"
        text = f"{missed} {have} not the turn or mirror asked for: the shape allows none"
        out.append(
            Finding(
                FindingCode.NOT_TURNED, "note", model.name, text, "Leave turn and mirror out for spaces of this shape."
            )
        )
    return tuple(out)


def _by_itself(model: Zone, alone: int) -> Finding:
    are, themselves = ("space is", "itself") if alone == 1 else ("spaces are", "themselves")
    text = f"{alone} {are} not like the others and drawn by {themselves}"
    what = 'Write alike_within with a larger length, or alike = "any-size"; fences and parts left open are never alike.'
    return Finding(FindingCode.OWN_DESIGN, "note", model.name, text, what)
