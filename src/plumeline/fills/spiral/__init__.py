"""Spiral: one line that winds in between its own turns, and out again.

Method: connected spirals on offset rings, after Zhao et al., "Connected Fermat Spirals for Layered Fabrication",
ACM Transactions on Graphics 35(4), 2016, simplified; a true spiral by rays where the rings are star-shaped.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial
from typing import Literal

import numpy as np
from pydantic import Field
from scipy.ndimage import gaussian_filter1d
from shapely import Polygon

from ...codes import FindingCode
from ...geometry import (
    Ring,
    arc_lengths,
    as_region,
    bridge_holes,
    contains,
    crossings,
    dedupe,
    dilate,
    inscribed_circle,
    is_simple,
    nearest_on,
    outside_mm,
    path_length,
    pieces,
    resample,
    ring_tree,
    rings,
    simplify_path,
)
from ...model import Filled, Finding, FloatArray, Stroke, Zone, as_path
from ...tolerances import CURVE_MM
from ..kit.banded import wound_band, wound_in_and_out
from ..kit.limits import check_amount
from ..kit.registry import Fill, too_small
from ..kit.settings import Mm, SpacedSettings, length
from ..kit.tips import led_into_tips
from .swirl import corners_of, swirl
from .windings import follow, rings_round, turn_by_rays

__all__ = ["FILL", "SpiralSettings"]

MIDDLE = 0.15
"""What is left in the middle beyond the innermost half spacing, in spacings; more leaves a lump."""

STRETCH = 0.12
"""How far the spacing may be stretched or drawn in so that the middle comes out even."""

ROUNDING = 0.35
"""Radius of rounded corners of the rings, in spacings."""

SOFTEN = 0.22
"""Spread of the smoothing of jogs and turns, in spacings."""

HAIR = 2e-3
"""Width of the cut that opens a hole, in spacings: both banks then lie half a spacing from it."""


class SpiralSettings(SpacedSettings):
    """Settings of a spiral."""

    spacing_mm: Mm = length(12.7, least=1.0, description="from turn to turn")
    way: Literal["in-and-out", "to-the-middle"] = Field(
        "in-and-out", description="in and out again between its own turns, or in only, ending in the middle"
    )
    look: Literal["auto", "round", "follow", "straight"] = Field(
        "auto",
        description="round: turning evenly; follow: along the edge with a short jog; straight: a swirl of straight "
        "sides for triangles and other convex shapes; auto: round where the shape allows it",
    )
    corners: Literal["round", "sharp"] = Field("round", description="corners rounded or sharp")


def draw(zone: Zone, settings: SpiralSettings, *, rng: np.random.Generator, tolerance_mm: float = CURVE_MM) -> Filled:
    """Fill a zone with a spiral in each piece between its fences; nothing is left to chance.

    Returns
    -------
    Filled
        One stroke a piece, from edge to edge (or to the middle). Pockets that could not be let into the line are
        strokes of their own, with a finding. No strokes and a finding when no turn goes in.
    """
    check_amount(zone, settings.spacing_mm)
    strokes: list[Stroke] = []
    findings: list[Finding] = []
    for piece in pieces(zone):
        near = None if zone.enter is None else np.asarray(zone.enter)
        found = _spirals(piece, settings, near, tolerance_mm)
        wound = [Stroke(as_path(p), entry="ends") for p in found]
        strokes += led_into_tips(
            wound, piece, settings.spacing_mm, look="mitred" if settings.corners == "sharp" else "swept"
        )
        if len(found) > 1:
            findings.append(_in_parts(zone, len(found)))
    if not strokes:
        return too_small(
            zone,
            "spiral",
            "no turn of the spiral goes in",
            "Choose a smaller spacing, or another fill for this space.",
        )
    return Filled(strokes=tuple(strokes), findings=tuple(findings))


def _in_parts(zone: Zone, count: int) -> Finding:
    return Finding(
        FindingCode.FILL_IN_PARTS,
        "warning" if count > 2 else "note",
        zone.label,
        f"the spiral needs {count} lines here: the space has pockets that it can't wind through",
        "Choose a smaller spacing, divide the space, or use 'meander', which fills nearly any shape in one line.",
    )


def _spirals(piece: Polygon, settings: SpiralSettings, near: FloatArray | None, tolerance: float) -> list[FloatArray]:
    arms = 2 if settings.way == "in-and-out" else 1
    # matching a density comes before whole turns: stretched spacings would jump past it
    spacing = settings.spacing_mm if settings.wanted_density is not None else _fitted(piece, settings.spacing_mm)
    if settings.look == "straight":
        straight = _straight(piece, spacing, arms, near, settings, tolerance)
        if straight is not None:
            return [straight]
    wind = wound_in_and_out if arms == 2 else wound_band
    framed = None if settings.wanted_density else wind(piece, spacing, sharp=settings.corners == "sharp", near=near)
    if framed is not None:
        return [framed]
    if len(piece.interiors) == 1:
        edge, hole = rings(piece)
        round_hole = rings_round(edge, hole, spacing)
        if round_hole is not None:
            tries = (_smooth(p, spacing, SOFTEN) for p in follow(edge, round_hole, spacing, arms=arms, near=near))
            found = _first_good(tries, piece, spacing)
            if found is not None:
                return [found]
    opened = as_region(bridge_holes(piece, HAIR * spacing))
    rounding = ROUNDING * spacing if settings.corners == "round" else 0.0
    tree = ring_tree(opened, spacing, rounding_mm=rounding, shortest_mm=2.2 * spacing)
    kept: list[FloatArray] = []
    for top in tree:
        for path in _wind(top, opened, piece, spacing, arms, near, settings):
            # beside a cut or a neck two parts may be rounded into each other: the first one stands
            if path_length(path) > spacing and not len(crossings(kept, [path])):
                kept.append(path)
    return kept


def _fitted(piece: Polygon, spacing: float) -> float:
    """Return the spacing stretched so that whole turns go in and no lump is left in the middle."""
    if piece.interiors:
        return spacing
    _, deepest = inscribed_circle(piece)
    count = max(round(deepest / spacing - MIDDLE), 1)
    fitted = deepest / (count + MIDDLE)
    return fitted if abs(fitted / spacing - 1) <= STRETCH else spacing


def _straight(
    piece: Polygon,
    spacing: float,
    arms: int,
    near: FloatArray | None,
    settings: SpiralSettings,
    tolerance: float,
) -> FloatArray | None:
    corners = corners_of(piece, tolerance_mm=spacing / 4)
    if corners is None:
        return None
    _, deepest = inscribed_circle(piece)
    first = 0 if near is None else int(np.argmin(np.hypot(*(corners - near).T)))
    path = swirl(corners, spacing, deepest, arms=arms, first=first)
    if path is None:
        return None
    if settings.corners == "round":
        path = _softened(resample(path, spacing / 10), spacing / 10, SOFTEN * spacing)
    return path if _good(path, piece, tolerance) else None


def _wind(
    top: Ring,
    opened: Polygon,
    piece: Polygon,
    spacing: float,
    arms: int,
    near: FloatArray | None,
    settings: SpiralSettings,
) -> list[FloatArray]:
    """Wind one ring and all inside it: the longest chain first, each further branch let into it."""
    main, waiting = _longest(
        top,
        lambda chain: _first_good(_windings(rings(opened)[0], chain, spacing, arms, near, settings), piece, spacing),
    )
    if main is None:
        return []
    alone: list[FloatArray] = []
    while waiting:
        branch = waiting.pop(0)
        edge = _between(branch, spacing)
        joined, further = _longest(branch, partial(_joined, main, alone, edge, spacing, piece))
        if joined is not None:
            main = joined
        else:
            part, further = _longest(branch, partial(_apart, [main, *alone], edge, spacing, piece))
            alone += [] if part is None else [part]
        waiting += further
    return [main, *alone]


def _longest(top: Ring, wind: Callable[[list[FloatArray]], FloatArray | None]) -> tuple[FloatArray | None, list[Ring]]:
    """Return the path wound through the longest part of a ring's chain that works, and the rings still to do.

    Half the rings are tried when all of them fail, and so on: a jog that fits everywhere in a short chain is
    easier to find.
    """
    chain, branches = _main_chain(top)
    count = len(chain)
    while count:
        path = wind([np.asarray(r.path) for r in chain[:count]])
        if path is not None:
            rest = [*branches, *chain[count : count + 1]]
            return path, [r for r in rest if r.level <= top.level + count]
        count //= 2
    return None, list(top.children)


def _joined(
    main: FloatArray,
    alone: list[FloatArray],
    edge: FloatArray,
    spacing: float,
    piece: Polygon,
    chain: list[FloatArray],
) -> FloatArray | None:
    for path in follow(edge, chain, spacing, arms=2, near=None):
        joined = _let_in(main, _smooth(path, spacing, SOFTEN), spacing, piece)
        if joined is not None and not len(crossings(alone, [joined])):
            return joined
    return None


def _apart(
    others: list[FloatArray], edge: FloatArray, spacing: float, piece: Polygon, chain: list[FloatArray]
) -> FloatArray | None:
    tries = (_smooth(path, spacing, SOFTEN) for path in follow(edge, chain, spacing, arms=2, near=None))
    return _first_good((t for t in tries if not len(crossings(others, [t]))), piece, spacing)


def _main_chain(top: Ring) -> tuple[list[Ring], list[Ring]]:
    chain, branches = [top], []
    while chain[-1].children:
        deepest = max(chain[-1].children, key=lambda r: (_depth(r), r.piece.area))
        branches += [r for r in chain[-1].children if r is not deepest]
        chain.append(deepest)
    return chain, branches


def _depth(ring: Ring) -> int:
    levels, row = 0, [ring]
    while row:  # level by level: a thousand rings are no reason to run out of stack
        levels, row = levels + 1, [r for above in row for r in above.children]
    return levels


def _between(top: Ring, spacing: float) -> FloatArray:
    """Return the line halfway between a branch's outermost ring and the strand outside it."""
    return rings(max(dilate(top.piece, spacing / 2), key=lambda p: p.area))[0]


def _windings(
    edge: FloatArray,
    chain: list[FloatArray],
    spacing: float,
    arms: int,
    near: FloatArray | None,
    settings: SpiralSettings,
) -> Iterator[FloatArray]:
    sharp = settings.corners == "sharp"
    if settings.look in ("auto", "round"):
        (x, y), _ = inscribed_circle(as_region(chain[-1]))
        centre = np.array([x, y])
        start = 0.0 if near is None else float(np.arctan2(*(near - centre)[::-1]))
        for turn in np.arange(8) * np.pi / 4:
            found = turn_by_rays(edge, chain, centre, spacing, arms=arms, start_rad=start + turn)
            if found is not None:
                yield _smooth(found, spacing, 0.0 if sharp else SOFTEN / 2)
    for found in follow(edge, chain, spacing, arms=arms, near=near):
        yield _smooth(found, spacing, 0.08 if sharp else SOFTEN)


def _smooth(path: FloatArray, spacing: float, spread: float) -> FloatArray:
    step = spacing / 12
    fine = resample(dedupe(path), step)
    return np.asarray(fine) if spread == 0 else _softened(fine, step, spread * spacing)


def _softened(path: FloatArray, step: float, spread: float) -> FloatArray:
    """Return the path smoothed along its length; its ends stay (point reflection about them)."""
    size = min(len(path) - 1, int(4 * spread / step) + 2)
    if size < 2:
        return path
    head, tail = 2 * path[0] - path[size:0:-1], 2 * path[-1] - path[-2 : -size - 2 : -1]
    smooth = gaussian_filter1d(np.vstack([head, path, tail]), spread / step, axis=0)[size:-size]
    smooth[0], smooth[-1] = path[0], path[-1]
    return np.asarray(smooth)


def _first_good(tries: Iterator[FloatArray], piece: Polygon, spacing: float) -> FloatArray | None:
    for path in tries:
        kept = np.asarray(simplify_path(_inside(path, piece), min(0.01, spacing / 500)))
        if _good(kept, piece, 0.01):
            return kept
    return None


def _inside(path: FloatArray, piece: Polygon) -> FloatArray:
    """Return the path without the bits of its two ends that stand outside the edge."""
    inside = contains(piece, path)
    if not inside.any():
        return path
    first, last = int(np.argmax(inside)), len(inside) - int(np.argmax(inside[::-1]))
    return path[first:last]


def _good(path: FloatArray, piece: Polygon, tolerance: float) -> bool:
    return len(path) > 2 and is_simple(path) and outside_mm([path], piece, tolerance_mm=tolerance) == 0


def _let_in(main: FloatArray, part: FloatArray, spacing: float, piece: Polygon) -> FloatArray | None:
    """Return the line with a branch's spiral let in where its two ends lie beside one strand, or None."""
    s = arc_lengths(main)
    a, b = nearest_on(main, part[[0, -1]], closed=False)
    if a > b:
        part, a, b = part[::-1], b, a
    if b - a > 5 * spacing or b - a < 0.2 * spacing:
        return None
    head, tail = main[s < a], main[s > b]
    joined = np.vstack([head, part, tail])
    for link in (len(head), len(head) + len(part)):
        joined = _eased(joined, link, spacing)
    return joined if _good(joined, piece, 0.01) else None


def _eased(path: FloatArray, at: int, spacing: float) -> FloatArray:
    """Return the path smoothed within two spacings of one of its points and left alone elsewhere."""
    s = arc_lengths(path)
    near = np.flatnonzero(np.abs(s - s[min(at, len(s) - 1)]) < 2 * spacing)
    first, last = near[0], near[-1]
    bit = _softened(resample(path[first : last + 1], spacing / 12), spacing / 12, SOFTEN * spacing)
    return np.vstack([path[:first], bit, path[last + 1 :]])


FILL = Fill(
    name="spiral",
    settings=SpiralSettings,
    draw=draw,
    stage="motif",
    description="one line that winds in between its own turns and out again",
)
