"""Echo: lines at even or growing distances round a motif or a part left open, or inwards from the edge."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import ClassVar, Literal, Self

import numpy as np
from pydantic import Field
from shapely import Polygon

from ..codes import FindingCode
from ..geometry import bounds, crossings, is_simple, levels_of, outside_mm, pieces, rings, space_about, subtract
from ..model import Filled, Finding, FloatArray, Path, Stroke, Zone, as_path
from ..tolerances import CURVE_MM
from .kit.around import no_shape, spaces_beside
from .kit.banded import wound_band
from .kit.echoes import Corners, Curve, chains_of, curves_at
from .kit.following import Follow, straight_pieces
from .kit.limits import check_amount
from .kit.linked import linked
from .kit.parallel import Gaps
from .kit.registry import Fill, too_small
from .kit.settings import SpacedSettings, number
from .kit.slants import slanted
from .kit.tips import led_into_tips

__all__ = ["FILL", "EchoSettings"]

TAIL = 0.5
"""How far the last ring leans out at its end, and how far beyond it the band ends that the echoes take, in gaps."""


NO_MOTIF = 'Put a motif before the echo in the stack, name a part to leave open, or say of = "edge".'
NO_HOLE = 'Leave of out, or say of = "edge".'
"""What to do where what is to be echoed is not there."""


class EchoSettings(SpacedSettings):
    """Settings of echoes."""

    spacing_mm: Gaps = Field(
        default=(6.35,),
        description="from line to line; of a list the last one goes on",
        json_schema_extra={"unit": "length"},
    )
    count: int | None = number(
        None, least=1, most=500, description="how many echoes; left out: until the space is full"
    )
    of: Literal["motif", "edge", "shape", "hole"] | None = Field(
        default=None,
        description="motif: outwards from a motif or a part left open; edge: inwards from every edge; shape: about a "
        "shape laid over the zone; hole: outwards from every opening of the space, as about a frame; left out: motif "
        "where there is one, else shape where one is laid",
    )
    corners: Literal["round", "sharp"] = Field(
        "round", description="inner corners of the echoes rounded or sharp; about a shape or a hole all its corners"
    )
    follow: Follow = Field(
        "seam",
        description="with the seams as they are, or straight and true within them; of echoes inwards from the edge",
    )

    rounds: ClassVar[bool] = True

    @property
    def over_zone(self) -> bool:
        """Whether the density is that of the whole space; of counted echoes it is that of their band."""
        return self.count is None and super().over_zone

    def within_enclosed(self) -> Self:
        """Return these settings for echoes inwards from the edge."""
        return self.model_copy(update={"of": "edge"})

    @property
    def room_mm(self) -> float:
        """All echoes of a count; without one, the first."""
        gaps, count = self.spacing_mm, self.count or 1
        return sum(gaps[:count]) + max(count - len(gaps), 0) * gaps[-1]


def draw(zone: Zone, settings: EchoSettings, *, rng: np.random.Generator, tolerance_mm: float = CURVE_MM) -> Filled:
    """Draw echoes in each piece of a zone between its fences; nothing is left to chance.

    Returns
    -------
    Filled
        For each run of rings one stroke that slants from ring to ring, starting on the shape; then the arcs of
        those that leave the zone, alternately turned. With a ``count``, ``taken`` is the band they stand in.
    """
    check_amount(zone, settings.spacing_mm[-1])
    findings: list[Finding] = []
    of = settings.of or ("motif" if zone.left_open else _laid_or_edge(zone))
    if of == "shape" and not zone.laid:
        of = "edge"
        findings.append(no_shape(zone, "echo"))
    if of == "motif" and not zone.left_open:
        of = "edge"
        findings.append(_nothing_there(zone, "motif", "holds no motif and no part left open", NO_MOTIF))
    if of == "hole" and not any(piece.interiors for piece in pieces(zone)):
        of = "edge"
        findings.append(_nothing_there(zone, "hole", "has no opening", NO_HOLE))
    gaps, depths = _distances(zone, settings)
    strokes: list[Stroke] = []
    taken: list[Polygon] = []
    near = None if zone.enter is None else np.asarray(zone.enter)
    corners: Corners = "mitred" if of in ("shape", "hole") and settings.corners == "sharp" else settings.corners
    for piece in pieces(zone):
        for space in _echoed(zone, piece, of, float(depths[-1] + gaps[-1]), settings.follow):
            drawn = _in_band(space, of, settings, near)
            if not drawn:
                levels = curves_at(space, piece, depths, gaps, corners=corners)
                drawn = _strokes(levels, piece, gaps, near)
                if of == "edge" and len(drawn) > 1:
                    drawn = _linked(levels, piece, gaps, zone.enter) or drawn
            if settings.count is None:
                drawn = led_into_tips(drawn, piece, float(gaps[-1]), look="swept" if corners == "round" else "mitred")
            strokes += drawn
            if settings.count is not None:
                (beyond,) = levels_of(space, [float(depths[-1] + TAIL * gaps[-1])], room_mm=float(gaps[-1]))
                taken += subtract(piece, beyond)
    if not strokes:
        return too_small(zone, "echo", "no line goes in at this spacing", "Choose a smaller spacing.")
    if of == "edge" and len(strokes) > len(pieces(zone)):
        findings.append(_in_parts(zone, len(strokes)))
    return Filled(strokes=tuple(strokes), taken=tuple(taken), findings=tuple(findings))


def _in_band(space: Polygon, of: str, settings: EchoSettings, near: FloatArray | None) -> list[Stroke]:
    """Return the line round an even frame that is filled from edge to edge at one spacing; nothing for all others."""
    if of != "edge" or settings.count is not None or len(set(settings.spacing_mm)) > 1:
        return []
    path = wound_band(space, settings.spacing_mm[-1], sharp=settings.corners == "sharp", near=near)
    return [] if path is None else [Stroke(path, entry="ends")]


def _laid_or_edge(zone: Zone) -> Literal["edge", "shape"]:
    """Return what is echoed without a motif: a shape laid over the zone, else the zone's edge, a shape's own too."""
    about = [shape for shape in zone.laid if subtract(zone.region, [shape], sliver_mm2=1.0)]
    return "shape" if about else "edge"


def _echoed(zone: Zone, piece: Polygon, of: str, reach_mm: float, follow: Follow) -> list[Polygon]:
    if of == "edge":
        return straight_pieces([piece], follow)
    if of == "hole":
        return space_about([Polygon(ring) for ring in piece.interiors], zone.region, reach_mm)
    return spaces_beside(zone, piece)[0] if of == "shape" else space_about(zone.left_open, zone.region, reach_mm)


def _in_parts(zone: Zone, count: int) -> Finding:
    return Finding(
        FindingCode.ECHO_IN_PARTS,
        "note",
        zone.label,
        f"echo: {count} lines, because rings round holes and in arms of the space part on their way inwards",
        "Use 'spiral' or 'meander' there, which break up less.",
    )


def _nothing_there(zone: Zone, of: str, what: str, what_to_do: str) -> Finding:
    return Finding(
        FindingCode.NOTHING_TO_ECHO,
        "warning",
        zone.label,
        f"echo: of is '{of}', but the space {what}; the edge is echoed instead",
        what_to_do,
    )


def _distances(zone: Zone, settings: EchoSettings) -> tuple[FloatArray, FloatArray]:
    # gaps and depths of as many echoes as are asked for, or as could go in
    left, top, right, bottom = _spanned(bounds(region) for region in (zone.region, *zone.laid))
    asked = np.array(settings.spacing_mm)
    most = int(np.hypot(right - left, bottom - top) / asked[-1]) + len(asked) + 1
    count = min(settings.count or most, most)
    gaps = np.concatenate([asked, np.full(max(count - len(asked), 0), asked[-1])])[:count]
    return gaps, np.cumsum(gaps)


def _spanned(boxes: Iterable[tuple[float, float, float, float]]) -> tuple[float, float, float, float]:
    left, top, right, bottom = zip(*boxes)
    return min(left), min(top), max(right), max(bottom)


def _strokes(levels: list[list[Curve]], piece: Polygon, gaps: FloatArray, near: FloatArray | None) -> list[Stroke]:
    arcs = [
        Stroke(as_path(arc[::-1]) if k % 2 else arc)
        for k, level in enumerate(levels)
        for curve in level
        for arc in curve.arcs
    ]
    drawn: list[Stroke] = []
    for chain in chains_of(levels):
        drawn += _wound(chain, piece, float(gaps[-1]), near, [s.path for s in (*arcs, *drawn)])
    return [*drawn, *arcs]


def _linked(
    levels: list[list[Curve]], piece: Polygon, gaps: FloatArray, enter: tuple[float, float] | None
) -> list[Stroke] | None:
    """Return echoes inwards from the edge as few lines: where rings part, each is let into the one it runs beside."""
    rows = [curve.path for level in levels[1:] for curve in level if curve.ring]
    if not rows or any(curve.arcs for level in levels[1:] for curve in level):
        return None
    lines = linked(rows, float(gaps[-1]), rings(piece), rounded=True, enter=enter)
    return None if lines is None else [Stroke(path, closed=closed) for path, closed in lines]


def _wound(
    chain: Sequence[Curve], piece: Polygon, gap: float, near: FloatArray | None, others: list[Path]
) -> list[Stroke]:
    """Return a chain as one stroke, in halves where no place for the slants is good, each ring alone at worst."""
    for path in slanted(chain, piece, TAIL * gap, near):
        if len(path) > 1 and is_simple(path) and outside_mm([path], piece) == 0 and not len(crossings(others, [path])):
            return [Stroke(as_path(path), entry="ends")]
    own = [curve for curve in chain if curve.ring]
    if len(own) > 1 and not chain[-1].ring:
        return _wound(chain[:-1], piece, gap, near, others)
    if len(own) == 1:
        return [Stroke(own[0].path, closed=True)]
    half = len(own) // 2
    first = _wound(own[:half], piece, gap, near, others)
    return [*first, *_wound(own[half:], piece, gap, None, [*others, *(s.path for s in first)])]


FILL = Fill(
    name="echo",
    settings=EchoSettings,
    draw=draw,
    stage="background",
    description="lines round a motif, each the same distance from the one before, or inwards from the edge",
)
