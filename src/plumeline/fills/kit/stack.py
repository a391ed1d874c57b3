"""Stacks: several fills in one zone, each taking what the one before left."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
from shapely import Polygon

from ...geometry import (
    NearPaths,
    close_ring,
    fence_crossings,
    inscribed_circle,
    intersect,
    nearest_on,
    nearest_on_ring,
    point_at,
    resample,
    rings,
    subtract,
    without_slits,
)
from ...model import Filled, Finding, FloatArray, Stroke, Zone, as_path
from ...tolerances import CURVE_MM, MEET_MM
from .bald import GAP_MM, Promise, bare_of
from .density import matched
from .registry import Fill, does_nothing, merged
from .settings import FillSettings, Sources, SpacedSettings

__all__ = ["Layer", "fill_zone", "random_for"]

LEFTOVER_MM = 6.0
"""What layers leave narrower than this everywhere stays open: a start and a stop there would show more than the gap."""


NECK = 0.5
"""Necks narrower than this part of `LEFTOVER_MM` part a space: no line goes through and back."""

STEP_MM = 6.35
"""Longest step from layer to layer: 1/4 in, the usual space about a motif."""

AT_EDGE_MM = 6.5
"""An end so near to the outline of the zone is on its edge: its clearance is up to 1/4 in."""

PLACE_MM = 2.0
"""Steps along an edge at which places to enter and leave are looked for."""

FROM_ENDS = (0.2, 0.8)
"""Where a stretch of edge is entered and left, as parts of it: its very ends are sharp tips."""

ENCLOSED = 10_000
"""Number of the first part that a motif encloses, apart from those of the pieces about it: each has its own chance."""


@dataclass(frozen=True, slots=True)
class Layer:
    """One layer of a stack: a fill and its settings."""

    fill: Fill
    settings: FillSettings

    def resolved(self, sources: Sources) -> Layer:
        """Return the layer with the guides, artwork and densities that its settings name.

        Raises
        ------
        FillError
            A name is not found.
        """
        return replace(self, settings=self.settings.resolved(sources))


def random_for(chance: int, place: int, piece: int = 0) -> np.random.Generator:
    """Return the generator of one layer of one zone part.

    The seed is a blake2b hash of the zone's chance, the place in the stack and the number of the piece, so a
    zone draws the same whatever else is in the plan.
    """
    text = f"{chance}/{place}/{piece}".encode()
    return np.random.default_rng(int.from_bytes(hashlib.blake2b(text, digest_size=16).digest(), "big"))


def fill_zone(
    zone: Zone,
    layers: Sequence[Layer],
    *,
    tolerance_mm: float = CURVE_MM,
    widest_gap_mm: float | None = None,
    measured: bool = True,
    drawn: Callable[[Filled], None] | None = None,
) -> Filled:
    """Fill a zone with a stack of fills, and measure what they leave bare.

    What a layer reports as taken is left open for the layers after it, which therefore may see the zone in
    several pieces. A layer is asked to start where the one before ended beside its space, so that the stack becomes
    one line; where a small gap is left (a motif's margin), a step leads over it.

    Parameters
    ----------
    widest_gap_mm : float, optional
        The widest gap that the batting allows: what fills without a spacing promise.
    measured : bool
        Whether what is bare is looked for; a first look, drawn while a hand moves, does without.
    drawn : callable, optional
        Told what is drawn before it is measured, which may take longer than drawing it.

    Returns
    -------
    Filled
        All strokes in the order of the layers, with chain numbers that stay apart; the regions taken, the
        fences set and the findings of all layers; what is bare, with a finding.
    """
    pieces, filled = [zone if len(layers) == 1 else replace(zone, leave=None)], Filled()
    used: list[tuple[Polygon, ...]] = []
    enclosed: list[Polygon] = []
    inside = "open"
    for place, layer in enumerate(_with_room(layers)):
        done = [
            _drawn(layer, piece, partial(random_for, zone.chance, place, i), tolerance_mm)
            for i, piece in enumerate(pieces)
        ]
        for piece, one in _without_scraps(pieces, done):
            step = _step(filled.strokes, one.strokes, piece)
            filled = merged(filled, one)
            filled = replace(filled, strokes=(*filled.strokes, *step))
        if enclosed and (inside == "echo" or not layer.settings.rounds):
            filled, enclosed = _inside(
                zone, filled, layer, enclosed, partial(random_for, zone.chance, place), tolerance_mm
            )
        if layer.settings.inside_mode != "open":
            inside = layer.settings.inside_mode
            enclosed = [part for one in done for part in one.enclosed]
        taken = tuple(region for one in done for region in one.taken)
        used.append(taken)
        if place + 1 < len(layers):
            ends = [s.path[k] for one in done for s in one.strokes for k in ((0,) if s.closed else (0, -1))]
            leave = zone.leave if place + 2 == len(layers) else None
            pieces = [_led(left, ends, leave) for piece in pieces for left in _left_of(piece, taken)]
    if drawn is not None:
        drawn(filled)
    if not measured:
        return filled
    filled = replace(filled, findings=(*filled.findings, *_idle_of(zone, layers)))
    gap_mm = GAP_MM if widest_gap_mm is None else widest_gap_mm
    bare_mm2, barest, said = bare_of(zone, _promises(zone, layers, used), filled.strokes, gap_mm)
    return replace(filled, bare_mm2=bare_mm2, barest=barest, findings=(*filled.findings, *said))


def _idle_of(zone: Zone, layers: Sequence[Layer]) -> Iterator[Finding]:
    # a note for each setting that she gave and that another one of the same layer overrides
    for layer in layers:
        for field, why in layer.settings.idle.items():
            if layer.settings.said(field):
                yield does_nothing(zone, layer.fill.name, field, why)


def _inside(
    zone: Zone,
    filled: Filled,
    layer: Layer,
    parts: Sequence[Polygon],
    rng: Callable[[int], np.random.Generator],
    tolerance_mm: float,
) -> tuple[Filled, list[Polygon]]:
    """Return what is stitched with a layer in the parts that a motif encloses, and what that leaves of them.

    Each is entered and left beside the motif, over two steps: the motif's line goes in, round, and on.
    """
    left: list[Polygon] = []
    inner = replace(layer, settings=layer.settings.within_enclosed())
    for k, part in enumerate(parts):
        shell = rings(part)[0]
        enter = shell[int(np.argmin(np.round(shell[:, 1], 3)))]
        space = replace(zone, region=part, enter=_point(enter), leave=_point(enter))
        one = _drawn(inner, space, partial(rng, ENCLOSED + k), tolerance_mm)
        steps = [
            step
            for stroke in one.strokes
            if not stroke.closed and stroke.role == "stitch"
            for end in (0, -1)
            for step in _step_from(stroke, end, filled.strokes, zone)
        ]
        filled = merged(filled, one)
        filled = replace(filled, strokes=(*filled.strokes, *steps))
        left += [p for region in subtract(part, one.taken) for p in _parted(region)] if one.taken else []
    return filled, [p for p in left if 2 * inscribed_circle(p)[1] >= LEFTOVER_MM]


def _step_from(stroke: Stroke, end: int, before: Sequence[Stroke], zone: Zone) -> list[Stroke]:
    at = stroke.path[end]
    which, feet = NearPaths([close_ring(s.path, s.closed) for s in before]).nearest(at[None], STEP_MM)
    if not len(which) or np.hypot(*(feet[0] - at)) <= MEET_MM:
        return []
    path = as_path([feet[0], at])
    if fence_crossings([path], zone.fences):
        return []
    return [replace(stroke, path=path, closed=False, role="step", chain=None, atomic=False)]


def _with_room(layers: Sequence[Layer]) -> list[Layer]:
    """Return the layers, each told how much room those after it want: a motif is then no larger than leaves it."""
    wanted = [sum(after.settings.room_mm for after in layers[k + 1 :]) for k in range(len(layers))]
    return [replace(layer, settings=layer.settings.leaving(room)) for layer, room in zip(layers, wanted)]


def _promises(zone: Zone, layers: Sequence[Layer], used: Sequence[tuple[Polygon, ...]]) -> list[Promise]:
    """Return which fill is to fill which part of a zone: what it took, and of what none took the closest of the rest.

    When all of them took what they wanted and no more, as counted echoes do, nobody promised the rest.
    """
    rest, parts = [zone.region], []
    for layer, taken in zip(layers, used):
        if taken:
            parts += [
                (p, layer.fill.name, layer.settings) for region in rest for t in taken for p in intersect(region, t)
            ]
            rest = [p for region in rest for p in subtract(region, taken)]
    whole = [layer for layer, taken in zip(layers, used) if not taken]
    if not whole:
        last = layers[-1]
        settings = FillSettings() if last.settings.fills_space else last.settings
        return [*parts, *((region, last.fill.name, settings) for region in rest)]
    closest = min(whole, key=lambda layer: layer.settings.promise_mm or math.inf)
    return [*parts, *((region, closest.fill.name, closest.settings) for region in rest)]


def _without_scraps(pieces: Sequence[Zone], done: Sequence[Filled]) -> list[tuple[Zone, Filled]]:
    """Return what a layer drew in each piece; where it filled one, another too small for it is a scrap to pass by.

    What that leaves bare is measured and said with all the rest.
    """
    if not any(one.strokes for one in done):
        return list(zip(pieces[:1], done[:1]))
    return [(piece, one) for piece, one in zip(pieces, done) if one.strokes]


def _drawn(layer: Layer, zone: Zone, rng: Callable[[], np.random.Generator], tolerance_mm: float) -> Filled:
    filled = _as_wished(layer, zone, rng, tolerance_mm)
    if filled.strokes or (zone.enter is None and zone.leave is None):
        return filled
    return _as_wished(layer, replace(zone, enter=None, leave=None), rng, tolerance_mm)


def _as_wished(layer: Layer, zone: Zone, rng: Callable[[], np.random.Generator], tolerance_mm: float) -> Filled:
    if isinstance(layer.settings, SpacedSettings):
        return matched(layer.fill, zone, layer.settings, rng=rng, tolerance_mm=tolerance_mm)
    return layer.fill(zone, layer.settings, rng=rng(), tolerance_mm=tolerance_mm)


def _left_of(zone: Zone, taken: Sequence[Polygon]) -> list[Zone]:
    if not taken:
        return [zone]
    left = [part for region in subtract(zone.region, taken) for part in _parted(region)]
    left = [r for r in left if 2 * inscribed_circle(r)[1] >= LEFTOVER_MM]
    return [replace(zone, region=region, left_open=(*zone.left_open, *taken)) for region in left]


def _parted(region: Polygon) -> list[Polygon]:
    """Return a region in the pieces that it falls into where it is too narrow for a line to pass; else as it is.

    Where a motif touches the edge, pockets hang together by hairs; a fill would take them for one space.
    """
    parts = without_slits(region, NECK * LEFTOVER_MM / 2)
    return parts if len(parts) > 1 else [region]


def _led(zone: Zone, ends: Sequence[FloatArray], leave: tuple[float, float] | None) -> Zone:
    """Return what is left of a zone with the places where it is to be entered and left.

    About a motif it is entered at the last of the ends that lie beside the hole. A space beside a motif is entered
    and left towards the two ends of its stretch of the zone's own edge, where travel leads.
    """
    shell, *holes = rings(zone.region)
    if holes:
        beside = [end for end in ends if any(np.hypot(*(nearest_on_ring(hole, end) - end)) < STEP_MM for hole in holes)]
        return replace(zone, enter=_point(beside[-1]) if beside else None, leave=leave)
    places = resample(shell, PLACE_MM, closed=True)
    edge = rings(zone.outline)[0]
    clear = np.hypot(*(places - point_at(edge, nearest_on(edge, places), closed=True)).T)
    on_edge = places[clear < min(clear.min() + MEET_MM, AT_EDGE_MM)]
    if not len(on_edge):
        return replace(zone, enter=None, leave=leave)
    end = on_edge[int(np.argmax(np.round(np.hypot(*(on_edge - on_edge.mean(axis=0)).T), 3)))]
    along_edge = on_edge[np.argsort(np.round(np.hypot(*(on_edge - end).T), 3), kind="stable")]
    first, last = (along_edge[int(part * (len(along_edge) - 1))] for part in FROM_ENDS)
    return replace(zone, enter=_point(first), leave=leave or _point(last))


def _point(at: FloatArray) -> tuple[float, float]:
    return float(at[0]), float(at[1])


def _step(before: Sequence[Stroke], after: Sequence[Stroke], zone: Zone) -> tuple[Stroke, ...]:
    """Return the short step that leads from earlier layers to the nearest end of a layer.

    None where they meet, and none in a space beside a motif, not about it, whose lines end on the zone's own edge:
    travel leads there.
    """
    ends = [s.path[k] for s in after if not s.closed for k in (0, -1)]
    if not before or not ends:
        return ()
    edge = rings(zone.outline)[0]
    at_edge = any(np.hypot(*(nearest_on_ring(edge, end) - end)) < AT_EDGE_MM for end in ends)
    if at_edge and not zone.region.interiors:
        return ()
    which, feet = NearPaths([close_ring(s.path, s.closed) for s in before]).nearest(np.array(ends), STEP_MM)
    if not len(which):
        return ()
    far = np.hypot(*(np.array(ends)[which] - feet).T)
    best = int(np.argmin(np.round(far, 6)))
    path = as_path([feet[best], ends[which[best]]])
    if far[best] <= MEET_MM or fence_crossings([path], zone.fences):
        return ()
    return (replace(after[-1], path=path, closed=False, role="step", chain=None, atomic=False),)
