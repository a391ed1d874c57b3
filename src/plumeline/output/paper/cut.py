"""Cut: a stencil of plastic or card whose lines are slots, held together by bridges, proved to be one sheet.

The lines are noded into arcs between junctions. Each arc becomes a slot but for its bridges; what lies between slots is
held by at least one. Then the sheet itself is looked at: pieces that would fall out get further bridges, lines that
can't be cut are left whole and drawn, and the proof is made again on the sheet with a hair taken off every edge.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import count

import numpy as np
from shapely import Polygon

from ...codes import FindingCode
from ...errors import OutputError
from ...geometry import (
    arc_lengths,
    as_region,
    chains,
    contains,
    dilate,
    erode,
    faces,
    path_length,
    point_at,
    rings,
    strip,
    subtract,
    turns,
    unite,
)
from ...model import Finding, FloatArray, Path, as_path
from ...units import format_length
from .drawing import Mark, PaperDrawing, PaperKind, PaperSettings, Space, alike_note, laid_out

__all__ = ["KIND", "Stencil", "stencil_of"]

BRIDGE_EVERY_MM = 25.4 * 1.75
"""From bridge to bridge along a slot: between 1 1/2 and 2 in (common practice, no source)."""

KEEP_OFF_MM = 25.4 * 3 / 32
"""A bridge stays this far from junctions and ends where there is room."""

TIGHT_MM = 25.4 / 4
"""A bridge shuns curves tighter than this radius where another place is near."""

SMALL_MM2 = 25.4**2 / 4
"""Smaller islands get two bridges, or stay uncut and are drawn."""

HAIR_MM = 0.3
"""With this taken off every edge the sheet must still be one: no bridge is a hair."""

WALL_MM = 12.7
"""Of sheet round the design."""

NODE_MM = 0.02
"""Grid on which lines are noded: far below the width of a slot."""

CRUMB_MM2 = 12.0
"""A loose piece smaller than this is cut away with the slots round it: it could only be lost."""

SEEN_MM2 = 0.5
"""What is left of a piece when a hair is taken off counts from this area on: less is a burr at a corner."""

ROUNDS = 6
"""Of looking for loose pieces and tying them on. After that lines are left whole, at last all that touch a loose piece,
so that the search ends: a sheet without slots is one."""


@dataclass(slots=True, eq=False)
class _Arc:
    path: FloatArray
    length: float
    bridges: list[float] = field(default_factory=list)
    cut: bool = True

    def strips(self, settings: PaperSettings) -> list[Polygon]:
        """Return the bridges as pieces of sheet across the slot."""
        out: list[Polygon] = []
        for at in self.bridges:
            ends = np.clip([at - settings.bridge_mm / 2, at + settings.bridge_mm / 2], 0, self.length)
            if ends[1] - ends[0] > 1e-6:
                out += strip(as_path(point_at(self.path, ends)), settings.slot_mm * 0.75)
        return out


@dataclass(frozen=True, slots=True, eq=False)
class Stencil:
    """A cut stencil, proved.

    Attributes
    ----------
    sheet : shapely.Polygon
        What is left when the slots are cut out: one piece, with a hole for each slot.
    slots : tuple of shapely.Polygon
        What is cut away.
    cut_lines : tuple of Path
        The slots' centre lines, with gaps where the bridges are.
    uncut : tuple of Path
        Lines that could not be cut; they are drawn.
    bridges : int
        How many there are.
    thinnest_mm, longest_slot_mm : float
        The thinnest wall or bridge (as wide as a slot or more counts as that), and the longest slot.
    """

    sheet: Polygon
    slots: tuple[Polygon, ...]
    cut_lines: tuple[Path, ...]
    uncut: tuple[Path, ...]
    bridges: int
    thinnest_mm: float
    longest_slot_mm: float


def stencil_of(paths: Sequence[FloatArray], settings: PaperSettings) -> Stencil:
    """Return the stencil of lines.

    Parameters
    ----------
    paths : sequence of (n, 2)
        What is stitched, in mm; stretches gone along twice are cut once.

    Raises
    ------
    OutputError
        There is nothing to cut, or the bridges are wider than the design.
    """
    if not paths or settings.bridge_mm < 4 * HAIR_MM:
        what = (
            "has no line to cut" if not paths else f"is {settings.bridge_mm:g} mm; must be {4 * HAIR_MM:g} mm or more"
        )
        raise OutputError(what, key="cut" if not paths else "--bridge")
    every = np.vstack(paths)
    low, high = every.min(axis=0) - WALL_MM, every.max(axis=0) + WALL_MM
    if settings.bridge_mm >= float((high - low).max()) - 2 * WALL_MM:
        raise OutputError(
            f"is {settings.bridge_mm:g} mm, as wide as the whole design",
            key="--bridge",
            what_to_do="Choose a narrower bridge, 1/8 in is common.",
        )
    board = as_region([(low[0], low[1]), (high[0], low[1]), (high[0], high[1]), (low[0], high[1])])
    arcs = _arcs(paths)
    for arc in arcs:
        _place(arc, settings)
    crumbs: list[Polygon] = []
    for turn in count():
        slots = _slots(arcs, settings, crumbs)
        loose = _loose(subtract(board, slots))
        if not loose:
            break
        for piece in loose:
            if piece.area < CRUMB_MM2:
                crumbs += dilate(piece, 1.5 * HAIR_MM)
            elif turn < ROUNDS:
                _tie(piece, arcs, settings)
            else:
                _leave(piece, arcs, settings, everything=turn > 2 * ROUNDS)
    sheet = subtract(board, slots)[0]
    return Stencil(
        sheet=sheet,
        slots=tuple(slots),
        cut_lines=tuple(line for arc in arcs if arc.cut for line in _between(arc, settings)),
        uncut=tuple(as_path(arc.path) for arc in arcs if not arc.cut),
        bridges=sum(len(arc.bridges) for arc in arcs if arc.cut),
        thinnest_mm=_thinnest(sheet, settings.slot_mm),
        longest_slot_mm=max((s.area / settings.slot_mm for s in slots), default=0.0),
    )


def _arcs(paths: Sequence[FloatArray]) -> list[_Arc]:
    """Return the lines as arcs between junctions and free ends, none twice."""
    found = faces(paths, grid_mm=NODE_MM)
    loose = [np.stack([p[:-1], p[1:]], axis=1) for p in found.loose]
    edges = np.concatenate([found.edges, *loose])
    return [_Arc(np.asarray(path), path_length(path)) for path in chains(edges)]


def _place(arc: _Arc, settings: PaperSettings) -> None:
    """Give an arc its bridges, evenly, each moved a little off tight curves."""
    keep = KEEP_OFF_MM + settings.slot_mm / 2
    if arc.length < 2 * keep + settings.bridge_mm:
        return
    number = max(1, round(arc.length / BRIDGE_EVERY_MM))
    for k in range(number):
        at = (k + 0.5) * arc.length / number
        arc.bridges.append(_straightest(arc, at, 0.25 * arc.length / number, keep + settings.bridge_mm / 2))


def _straightest(arc: _Arc, at: float, within: float, keep: float) -> float:
    """Return the place nearest to one where the line is no tighter than `TIGHT_MM`; the straightest where all are."""
    tries = at + within * np.array([0.0, 0.2, -0.2, 0.4, -0.4, 0.6, -0.6, 0.8, -0.8, 1.0, -1.0])
    tries = tries[(tries >= min(keep, at)) & (tries <= max(arc.length - keep, at))]
    bend = [_bend(arc, float(s)) for s in tries]
    for s, b in zip(tries, bend):
        if b <= 1 / TIGHT_MM:
            return float(s)
    return float(tries[int(np.argmin(bend))])


def _bend(arc: _Arc, at: float) -> float:
    """Return the mean curvature of 4 mm of an arc, 1/mm."""
    span = np.clip([at - 2.0, at - 1.0, at, at + 1.0, at + 2.0], 0, arc.length)
    return float(np.abs(turns(point_at(arc.path, span))).sum()) / 4.0


def _slots(arcs: Sequence[_Arc], settings: PaperSettings, crumbs: Sequence[Polygon]) -> list[Polygon]:
    cut = [
        piece for arc in arcs if arc.cut for piece in strip(as_path(arc.path), settings.slot_mm / 2, round_ends=True)
    ]
    held = [piece for arc in arcs if arc.cut for piece in arc.strips(settings)]
    slots = [piece for shape in unite(cut) for piece in subtract(shape, held)] if cut else []
    return unite([*slots, *crumbs]) if crumbs else slots


def _loose(sheet: Sequence[Polygon]) -> list[Polygon]:
    """Return the pieces that would fall out, and those that hang by less than a hair."""
    if len(sheet) > 1:
        return list(sheet[1:])
    return erode(sheet[0], HAIR_MM, sliver_mm2=SEEN_MM2)[1:]


def _near(piece: Polygon, arcs: Sequence[_Arc], settings: PaperSettings) -> list[tuple[_Arc, FloatArray]]:
    """Return the arcs that bound a piece, with the places along each that do; most of it first."""
    grown = dilate(piece, settings.slot_mm / 2 + 2 * HAIR_MM)
    out = []
    for arc in arcs:
        places = np.linspace(0.0, arc.length, max(5, round(arc.length)))
        at = point_at(arc.path, places)
        beside = np.zeros(len(at), dtype=bool)
        for region in grown:
            beside |= contains(region, at)
        if arc.cut and beside.any():
            out.append((arc, places[beside]))
    out.sort(key=lambda pair: -len(pair[1]))
    return out


def _tie(piece: Polygon, arcs: Sequence[_Arc], settings: PaperSettings) -> None:
    """Tie a loose piece on with a bridge, a small one with two; leave its lines whole where there is no room."""
    near = _near(piece, arcs, settings)
    room = 2 * settings.bridge_mm
    wanted = 2 if piece.area < SMALL_MM2 else 1
    if not near or piece.exterior.length < wanted * room:
        _leave(piece, arcs, settings)
        return
    for arc, places in near[:wanted]:
        free = [s for s in places.tolist() if all(abs(s - b) > room for b in arc.bridges)]
        arc.bridges.append(_middle(free or places.tolist(), arc))


def _middle(places: Sequence[float], arc: _Arc) -> float:
    """Return of the places the straightest near their middle."""
    middle = places[len(places) // 2]
    return min(places, key=lambda s: (round(_bend(arc, s) * TIGHT_MM, 1), abs(s - middle)))


def _leave(piece: Polygon, arcs: Sequence[_Arc], settings: PaperSettings, *, everything: bool = False) -> None:
    """Leave the lines round a piece whole: those that mostly bound it, or ``everything`` that touches it."""
    for arc, places in _near(piece, arcs, settings):
        if everything or len(places) * 2 > round(arc.length):
            arc.cut = False


def _between(arc: _Arc, settings: PaperSettings) -> list[Path]:
    """Return an arc's centre line less its bridges, each cut end a half slot short of the bridge."""
    half = settings.bridge_mm / 2 + settings.slot_mm / 2
    stops = sorted(arc.bridges)
    starts, ends = [0.0, *(s + half for s in stops)], [*(s - half for s in stops), arc.length]
    lengths = arc_lengths(arc.path)
    out = []
    for a, b in zip(starts, ends):
        if b - a > settings.slot_mm / 4:
            inner = arc.path[(lengths > a + 1e-6) & (lengths < b - 1e-6)]
            first, last = point_at(arc.path, [a, b])
            out.append(as_path(np.vstack([first, inner, last])))
    return out


def _thinnest(sheet: Polygon, most: float) -> float:
    """Return twice the least that must come off every edge before the sheet falls apart, at most ``most``; to 0.05."""
    low, high = 0.0, most / 2
    if len(erode(sheet, high, sliver_mm2=SEEN_MM2)) == 1:
        return most
    while high - low > 0.025:
        middle = (low + high) / 2
        low, high = (middle, high) if len(erode(sheet, middle, sliver_mm2=SEEN_MM2)) == 1 else (low, middle)
    return 2 * low


def draw(spaces: Sequence[Space], settings: PaperSettings) -> PaperDrawing:
    """Draw spaces as stencils, one a space."""
    placed, size, words = laid_out(spaces)
    spread = 2 * WALL_MM
    marks: list[Mark] = []
    cut: list[Path] = []
    notes: list[str] = []
    findings: list[Finding] = []
    say = format_length
    for k, space in enumerate(placed):
        shifted = space.moved(np.array([spread * k + WALL_MM, WALL_MM]))
        paths = [run.path for run in shifted.runs if run.kind in ("stitch", "step")]
        if not paths:
            continue
        made = stencil_of(paths, settings)
        edge, *_ = rings(made.sheet)
        marks.append(Mark(edge, "outline", True, 0.3, "#888888"))
        for slot in made.slots:
            shell, *holes = rings(slot)
            marks.append(Mark(shell, "slot", True, 0.15, "#111111", fill="#d9d9d9", holes=tuple(holes)))
        marks += [Mark(path, "stitch", width_mm=0.35, colour="#b3261e", dash_mm=(1.5, 1.0)) for path in made.uncut]
        cut += made.cut_lines
        notes.append(
            f"{space.name}: one sheet, {made.bridges} bridges, slots {say(settings.slot_mm, settings.units)} wide, the "
            f"longest {say(made.longest_slot_mm, settings.units, per_inch=4)}, thinnest wall or bridge "
            f"{made.thinnest_mm:.1f} mm."
        )
        if made.uncut:
            far = sum(path_length(path) for path in made.uncut)
            text = f"{say(far, settings.units, per_inch=4)} of line can't be cut: the pieces between are too small."
            what = "It is drawn in red dashes: mark it by eye, or choose a narrower slot or a more open design."
            findings.append(Finding(FindingCode.STENCIL_UNCUT, "note", space.name, text, what))
            notes.append(f"{text} {what}")
    size = (size[0] + spread * len(placed), size[1] + spread)
    words = [
        type(w)((w.at[0] + spread * k + WALL_MM, w.at[1]), w.text, w.size_mm, w.anchor, w.bold)
        for k, w in enumerate(words)
    ]
    notes.append("Cut the grey slots out of stencil plastic or card with a sharp blade on a mat, away from your hand.")
    return PaperDrawing(
        "",
        "cut",
        placed[0].name,
        size,
        tuple(marks),
        tuple(words),
        (*notes, *alike_note(spaces)),
        tuple(findings),
        cut_lines=tuple(cut),
    )


KIND = PaperKind("cut", "a stencil: slots and bridges, proved to be one sheet", draw)
