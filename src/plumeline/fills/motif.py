"""Motif: artwork or a motif of the library, fitted to the zone; border motifs run round a border."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from typing import Annotated, ClassVar, Literal, Self

import numpy as np
from pydantic import BeforeValidator, Field, PrivateAttr
from shapely import Polygon

from ..codes import FindingCode
from ..copier import copier_percent, copier_steps
from ..geometry import (
    Patchwork,
    close_ring,
    convex_outline,
    cornered,
    densify,
    dilate,
    enclosed,
    erode,
    inscribed_circle,
    intersect,
    largest_scale,
    line_of,
    middle_of,
    near_passes,
    nearest_shift,
    outside_mm,
    path_length,
    pieces,
    rings,
    silhouette,
    subtract,
)
from ..model import Filled, Finding, FloatArray, Stroke, Zone, as_path
from ..tolerances import CURVE_MM
from ..units import format_length
from .kit.border import border_round
from .kit.motifs import Level, Motif, Recipe, across, level_of, levels_of, motif_at
from .kit.registry import Fill, too_small
from .kit.settings import ArtSettings, Artwork, Mm, SpacedSettings, length, number

__all__ = ["FILL", "MotifSettings", "fitted"]

SMALLEST_MM = 12.7
"""A motif smaller than this (1/2 in across) is no motif: its lines would be one knot."""

INSIDE_MM = 0.02
"""A fitted motif may touch the edge; rounding may not carry it over by more."""

INCH_MM = 25.4

LEAST_SHARE = 0.6
"""A motif whose size is left to a density is at least this part of the largest that goes in: else it looks lost."""

EVEN = 0.01
"""Turns that make a motif larger by less than this part are no better than the first."""

OFF_CENTRE = 0.15
"""A place off the middle of the space must make the motif larger by more than this part: the eye sees the middle."""

BEND_PARTS = 100
"""Straight stretches are divided into parts of the size over this before a frame is stretched."""

MOST_ROOM = 0.45
"""What follows gets at most this part of the way to the middle: else little is left of the motif."""

NOTCH = 1 / 24
"""Notches of a silhouette narrower than a twelfth of the motif are no space for a background."""

WIDE_MM = 50.8
"""Parts that a motif encloses are its petals, and stand up best unstitched, unless they are wider than this: 2 in."""

LEAST_MARGIN_MM = 1.0
"""What goes into an enclosed part keeps at least so far from the motif's lines."""

CIRCLE = np.column_stack([np.cos(np.arange(180) * math.tau / 180), np.sin(np.arange(180) * math.tau / 180)])
"""A round shape for `largest_scale`, corners on the circle: 1/7,000 too small at most."""

_PERCENT = re.compile(r"^\s*(\d+(?:\.\d+)?)\s*%?\s*$")


def _read_percent(value: object) -> object:
    match = _PERCENT.match(value) if isinstance(value, str) else None
    return float(match[1]) if match else value


Percent = Annotated[float, BeforeValidator(_read_percent), Field(ge=1.0, le=10_000.0)]
"""A percent: ``"90 %"`` or 90."""

Fit = Literal["inscribed-circle", "inscribed-square", "outline"]


class MotifSettings(ArtSettings, SpacedSettings):
    """Settings of a motif."""

    sized_by: ClassVar[str] = "fit"
    takes_quilts: ClassVar[bool] = False  # it is the figure, not the ground

    fit: Fit | Annotated[Percent, Field(le=100.0)] = Field(
        90.0,
        description="inscribed-circle or inscribed-square: the largest that goes into the space; outline: stretched "
        "to its corners; a percent: of the largest size that goes in; left out: 90, and less where fills that follow "
        "need room",
    )
    enlarge: Percent | None = Field(
        None, description="percent of the size it is drawn at, as a copier is set; overrides fit"
    )
    turn_deg: float | None = number(
        None, least=-360.0, most=360.0, unit="degrees", description="turn; left out: as the sides of the space lie"
    )
    margin_mm: Mm = length(3.175, most=200.0, description="kept free round it for the fills that follow")
    closest_mm: Mm = length(3.175, description="warn when two strands pass nearer than this")

    inside: Literal["open", "echo", "background"] = Field(
        "open",
        description="what goes into parts it encloses that are over 2 in across: nothing, the echoes that follow and "
        "what follows them, or only the background that follows",
    )
    _room_mm: float = PrivateAttr(default=0.0)
    _aim: float | None = PrivateAttr(default=None)

    @property
    def promise_mm(self) -> float | None:
        """A motif promises no distance of its lines, also where a density says how finely it is drawn."""
        return None

    @property
    def sized(self) -> bool:
        """Whether its size is said."""
        return self.enlarge is not None or "fit" in self.model_fields_set

    def spaced(self, mean_mm: float) -> Self:
        """Return these settings with the motif drawn as finely as lines that far apart."""
        found = self.model_copy()
        found._aim = INCH_MM / mean_mm
        return found

    @property
    def inside_mode(self) -> Literal["open", "echo", "background"]:
        """What goes into the wide parts that it encloses."""
        return self.inside

    def leaving(self, room_mm: float) -> Self:
        """Return the settings of a motif that leaves room for what follows, where its size is left to us."""
        found = super().leaving(room_mm)
        if not self.sized:
            found._room_mm = room_mm
        return found


@dataclass(frozen=True, slots=True, eq=False)
class _Laid:
    """A motif in its place: its size there, and what is to be said about it."""

    motif: Motif
    findings: tuple[Finding, ...] = ()


def draw(zone: Zone, settings: MotifSettings, *, rng: np.random.Generator, tolerance_mm: float = CURVE_MM) -> Filled:
    """Put one motif into each piece between the fences; a border motif runs round a border or along a strip.

    Returns
    -------
    Filled
        The artwork's own strokes; ``taken`` is their outer contour, filled, with the margin. No strokes and a
        finding when less than `SMALLEST_MM` of a motif goes in.
    """
    art = settings.artwork
    strokes: list[Stroke] = []
    taken: list[Polygon] = []
    wide: list[Polygon] = []
    findings: list[Finding] = []
    for piece in pieces(zone):
        laid = _laid(zone, piece, art, settings)
        if laid is None:
            continue
        motif = laid.motif
        strokes += [Stroke(path, closed=closed) for path, closed in zip(motif.paths, motif.closed)]
        taken += _taken(piece, motif, settings.margin_mm)
        wide += _wide_parts(motif, settings.margin_mm, piece)
        findings += [*laid.findings, *_too_close(zone, motif, settings)]
    if not strokes:
        return too_small(
            zone, "motif", f"{settings.art} would be smaller than 1/2 in here", "Join the space with its neighbour."
        )
    if wide and settings._followed and settings.inside == "open":
        findings.append(_open_inside(zone, settings, wide))
    return Filled(tuple(strokes), tuple(taken), findings=tuple(dict.fromkeys(findings)), enclosed=tuple(wide))


def _wide_parts(motif: Motif, margin: float, piece: Polygon) -> list[Polygon]:
    """Return the parts that a motif encloses, less a margin, that hold a circle of `WIDE_MM`; a border has none."""
    if motif.kind == "border":
        return []
    lines = [close_ring(path, closed) for path, closed in zip(motif.paths, motif.closed)]
    clear = [part for face in enclosed(lines) for part in subtract(face, [g for p in lines for g in _strip(p, margin)])]
    parts = [p for part in clear for p in intersect(part, piece)]
    return [part for part in parts if 2 * inscribed_circle(part)[1] >= WIDE_MM]


def _strip(path: FloatArray, margin: float) -> list[Polygon]:
    return dilate(line_of(path), max(margin, LEAST_MARGIN_MM))


def _taken(piece: Polygon, motif: Motif, margin: float) -> list[Polygon]:
    holes = [np.asarray(hole.representative_point().coords[0]) for hole in map(Polygon, piece.interiors)]
    shapes = silhouette(
        motif.paths,
        motif.closed,
        margin,
        notch_mm=motif.size_mm * NOTCH,
        open_at=holes if motif.kind == "border" else (),
    )
    return [part for shape in shapes for part in intersect(shape, piece)]


def _laid(zone: Zone, piece: Polygon, art: Artwork, settings: MotifSettings) -> _Laid | None:
    if isinstance(art, Recipe) and art.piece == "border" and settings.enlarge is None:
        percent = settings.fit if isinstance(settings.fit, float) else 100.0
        border = border_round(piece, art, percent / 100.0)
        if border is not None and settings._aim is not None:
            as_tight = _border_as_tight(piece, art, border.motif, settings)
            border = border_round(piece, as_tight, percent / 100.0) or border
        if border is not None:
            if border.size_mm < SMALLEST_MM:
                return None
            return _Laid(border.motif, _border_said(zone, settings, border.size_mm, border.stretch))
    if settings.fit == "outline" and settings.enlarge is None:
        stretched = _to_outline(piece, art)
        if stretched is not None and settings._aim is not None:
            finer = _as_tight(piece, art, settings, *[stretched.size_mm] * 3)[0]
            stretched = _to_outline(piece, finer)
        if stretched is not None:
            return _Laid(stretched, _sized(zone, settings, art, stretched.size_mm))
    return _fitted(zone, piece, art, settings)


def _fitted(zone: Zone, piece: Polygon, art: Artwork, settings: MotifSettings) -> _Laid | None:
    fit = 90.0 if settings.fit == "outline" else settings.fit
    drawn_mm = motif_at(art).size_mm
    notes: tuple[Finding, ...] = ()
    if settings.fit == "outline" and settings.enlarge is None:
        notes = (_no_outline(zone, settings),)
    largest = fitted(piece, art, "art" if isinstance(fit, float) else fit, turn_deg=settings.turn_deg)
    size = largest.size_mm
    if settings.enlarge is not None:
        wanted = drawn_mm * settings.enlarge / 100.0
        notes += (_too_large(zone, settings, wanted, size),) if wanted > size * (1 + EVEN) else ()
        size = min(wanted, size)
    elif isinstance(fit, float):
        size = min(size * fit / 100.0, _size_with_room(piece, art, settings))
    if settings._aim is not None:
        most = size if settings.sized else min(largest.size_mm, _size_with_room(piece, art, settings))
        art, size = _as_tight(piece, art, settings, largest.size_mm, size, most)
        most = fitted(piece, art, "art" if isinstance(fit, float) else fit, turn_deg=settings.turn_deg).size_mm
        size = min(size, most)
    if size < SMALLEST_MM:
        return None
    motif = fitted(piece, art, "art" if isinstance(fit, float) else fit, turn_deg=settings.turn_deg, size_mm=size)
    return _Laid(motif, (*notes, *_sized(zone, settings, art, size)))


def _as_tight(
    piece: Polygon, art: Artwork, settings: MotifSettings, largest: float, usual: float, most: float
) -> tuple[Artwork, float]:
    """Return artwork drawn as finely as the density wants, and its size: the nearest to the usual that meets it."""
    aim = settings._aim or 0.0
    least = usual if settings.sized else min(LEAST_SHARE * largest, most)

    def fitting(level: Level) -> tuple[tuple[float, float], Level, float]:
        if settings.over_zone:  # so much line in the space, however large the motif
            size = aim * float(piece.area) / INCH_MM / level.length
        else:  # so much line in what it covers, which grows by the square
            cover = _cover(level.at(art, usual), round(usual, 1), settings.margin_mm)
            size = level.length * INCH_MM / cover / aim
        held = min(max(size, least), usual if settings.sized else most)
        return (round(abs(math.log(held / size)), 2), abs(held - usual)), level, held

    _, level, size = min((fitting(level) for level in levels_of(art)), key=lambda found: found[0])
    return level.at(art, size), size


def _cover(art: Artwork, size: float, margin: float) -> float:
    """Return the area that a motif covers at a size with the margin round it, in the square of its size."""
    return _recipe_cover(art, size, margin) if isinstance(art, Recipe) else _motif_cover(motif_at(art, size), margin)


@lru_cache(maxsize=256)
def _recipe_cover(recipe: Recipe, size: float, margin: float) -> float:
    return _motif_cover(recipe.drawn(size), margin)


def _motif_cover(motif: Motif, margin: float) -> float:
    size = motif.size_mm
    covers = silhouette(motif.paths, motif.closed, margin, notch_mm=size * NOTCH)
    return sum(float(part.area) for part in covers) / size**2


def _border_as_tight(piece: Polygon, art: Recipe, laid: Motif, settings: MotifSettings) -> Recipe:
    """Return the recipe of a border drawn as finely as the density wants; its height adds nothing: it has more repeats.

    ``laid`` is the border as it is drawn without.
    """
    area = float(piece.area)
    if not settings.over_zone:
        area = sum(float(part.area) for part in _taken(piece, laid, settings.margin_mm))
    length = sum(path_length(path, closed=closed) for path, closed in zip(laid.paths, laid.closed))
    usual = level_of(art, laid.size_mm)
    each = length * usual.long / usual.length  # of line along the border, for a repeat as long as its line
    wanted = (settings._aim or 0.0) * area / INCH_MM
    best = min(levels_of(art), key=lambda level: abs(each * level.length / level.long - wanted))
    finer = best.at(art, laid.size_mm)
    return finer if isinstance(finer, Recipe) else art


def _size_with_room(piece: Polygon, art: Artwork, settings: MotifSettings) -> float:
    """Return the largest size that leaves the room wanted by the fills that follow; infinite when none is."""
    if settings._room_mm == 0.0:
        return math.inf
    room = min(settings.margin_mm + settings._room_mm, MOST_ROOM * inscribed_circle(piece)[1])
    return max(fitted(core, art, turn_deg=settings.turn_deg).size_mm for core in erode(piece, room))


def fitted(
    piece: Polygon,
    art: Artwork,
    fit: Literal["art", "inscribed-circle", "inscribed-square"] = "art",
    *,
    turn_deg: float | None = None,
    size_mm: float | None = None,
) -> Motif:
    """Return artwork at the largest size that goes into a region (or a stated smaller one), in its place.

    Parameters
    ----------
    fit : {"art", "inscribed-circle", "inscribed-square"}
        What has to go in: the convex shape round the artwork; the circle round it; the square round its frame.
    turn_deg : float, optional
        Left out: the turn, of those that lay the frame along a side of the region, that makes it largest.

    Notes
    -----
    It stands in the middle of the region, or of its largest circle where that makes it larger by `OFF_CENTRE`.
    """
    motif = motif_at(art)
    best, place = 0.0, (0.0, np.zeros(2))
    centres = [np.array(at) for at in dict.fromkeys((middle_of(piece)[0], inscribed_circle(piece)[0]))]
    for k, centre in enumerate(centres):
        least = best * (1 + OFF_CENTRE if k else 1)
        for turn in _turns(piece, motif, turn_deg):
            scale = largest_scale(_shape(motif, fit) @ _turned(turn), piece, centre)
            if scale > max(least, best * (1 + EVEN)):
                best, place = scale, (turn, centre)
    if best == 0.0:
        return motif.moved(np.zeros((2, 2)), centres[0])
    turn, centre = place
    # grown at another size its shape may differ a little: measured again
    grown = motif_at(art, motif.size_mm * best if size_mm is None else size_mm)
    most = largest_scale(_shape(grown, fit) @ _turned(turn), piece, centre)
    scale = most if size_mm is None else min(most, 1.0)
    return grown.moved(_turned(turn) * scale, centre - _anchor(grown) @ _turned(turn) * scale)


def _turned(angle_deg: float) -> FloatArray:
    c, s = math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg))
    return np.array([[c, -s], [s, c]])  # row vectors, y down


def _anchor(motif: Motif) -> FloatArray:
    # what comes to lie on the centre: the middle of the frame, of a triangle its largest circle's
    frame = motif.frame
    if len(frame) != 3:
        middle: FloatArray = frame.mean(axis=0)
        return middle
    facing = np.hypot(*(np.roll(frame, -1, axis=0) - np.roll(frame, 1, axis=0)).T)
    incentre: FloatArray = (frame * facing[:, None]).sum(axis=0) / facing.sum()
    return incentre


def _shape(motif: Motif, fit: str) -> FloatArray:
    # the convex shape that has to go in, round the anchor
    at = _anchor(motif)
    hull = convex_outline(motif.paths) - at
    if fit == "inscribed-circle":
        return CIRCLE * float(np.hypot(*hull.T).max())
    if fit == "inscribed-square":
        half = float(np.abs(motif.frame - at).max())
        return np.array([(-half, -half), (half, -half), (half, half), (-half, half)])
    return hull


def _turns(piece: Polygon, motif: Motif, turn_deg: float | None) -> list[float]:
    if turn_deg is not None:
        return [turn_deg]
    corners = cornered(rings(piece)[0]).points
    if not 3 <= len(corners) <= 4 or piece.interiors:
        return [0.0]
    side = np.roll(corners, -1, axis=0) - corners
    lie = np.degrees(np.arctan2(-side[:, 1], side[:, 0]))
    period = 90.0 if len(motif.frame) == 4 else 360.0
    base = 0.0 if len(motif.frame) == 4 else 180.0  # a triangle's long side runs to the left below it
    found = {round((float(a) - base + period / 2) % period - period / 2, 6) for a in lie}
    return sorted({0.0, *found}, key=lambda a: (round(abs(a), 3), a))


def _to_outline(piece: Polygon, art: Artwork) -> Motif | None:
    """Return artwork stretched corner to corner onto a region; None when their corners don't match or it folds over."""
    outline = cornered(rings(piece)[0])
    frame = motif_at(art).frame
    if piece.interiors or len(outline.corners) != len(frame) or (outline.inner_deg > 180.0).any():
        return None
    shift = nearest_shift(frame, outline.points)
    sides = outline.sides()
    targets = np.roll(outline.points, -shift, axis=0)
    patch = Patchwork([*sides[shift:], *sides[:shift]])
    motif = motif_at(art, across(targets))
    paths = []
    for path, closed in zip(motif.paths, motif.closed):
        points = densify(path, motif.size_mm / BEND_PARTS, closed=closed)
        paths.append(as_path(_stretched(patch, motif.frame, points)))
    if any(outside_mm([p], piece, tolerance_mm=INSIDE_MM, closed=c) > 0 for p, c in zip(paths, motif.closed)):
        return None
    return Motif(tuple(paths), motif.closed, as_path(targets), motif.kind)


def _stretched(patch: Patchwork, frame: FloatArray, points: FloatArray) -> FloatArray:
    if len(frame) == 4:
        part = (points - frame[0]) / (frame[2] - frame[0])
        return patch.four(part[:, 0], part[:, 1])
    solved = np.linalg.solve(np.vstack([frame.T, np.ones(3)]), np.vstack([points.T, np.ones(len(points))]))
    return patch.three(solved.T)


def _sized(zone: Zone, settings: MotifSettings, art: Artwork, size: float) -> tuple[Finding, ...]:
    drawn = motif_at(art).size_mm
    percent = copier_percent(size, drawn)
    as_drawn, fitted = (format_length(mm, zone.unit) for mm in (drawn, size))
    text = f"{settings.art}: drawn at {as_drawn}, fitted to {fitted}: {percent} %"
    steps = copier_steps(max(percent, 1))
    how = f"Set a copier to {' %, then to '.join(str(s) for s in steps)} %, and measure the test square."
    if isinstance(art, Recipe):
        how = "It is grown anew at this size; nothing has to be enlarged."
    return (Finding(FindingCode.MOTIF_SCALED, "note", zone.label, text, how),)


def _border_said(zone: Zone, settings: MotifSettings, size: float, stretch: float) -> tuple[Finding, ...]:
    if abs(stretch - 1.0) <= 0.05 + 1e-9:
        return ()
    change = f"{abs(stretch - 1) * 100:.0f} % {'longer' if stretch > 1 else 'shorter'}"
    high = format_length(size, zone.unit)
    text = f"{settings.art}: the repeats are {change} than drawn, so that whole ones go in {high} high"
    what = "Choose another percent in fit, or another border."
    return (Finding(FindingCode.MOTIF_STRETCHED, "note", zone.label, text, what),)


def _no_outline(zone: Zone, settings: MotifSettings) -> Finding:
    text = f"{settings.art}: the space has other corners than the motif, so it is fitted at 90 % instead of stretched"
    what = "Choose a motif with as many corners as the space, or another fit."
    return Finding(FindingCode.MOTIF_NOT_STRETCHED, "note", zone.label, text, what)


def _open_inside(zone: Zone, settings: MotifSettings, wide: list[Polygon]) -> Finding:
    across = max(2 * inscribed_circle(part)[1] for part in wide)
    text = f"{settings.art}: the widest part inside it is {format_length(across, zone.unit)} across and stays open"
    what = 'Say inside = "background" or "echo" for what follows to fill it, or make the motif smaller.'
    return Finding(FindingCode.MOTIF_OPEN, "note", zone.label, text, what)


def _too_large(zone: Zone, settings: MotifSettings, wanted: float, most: float) -> Finding:
    text = f"{settings.art}: at {settings.enlarge:g} % it would be {format_length(wanted, zone.unit)} across; "
    text += f"the space takes {format_length(most, zone.unit)}, and it is drawn at that"
    return Finding(
        FindingCode.MOTIF_TOO_LARGE, "warning", zone.label, text, "Choose a smaller percent, or leave enlarge out."
    )


def _too_close(zone: Zone, motif: Motif, settings: MotifSettings) -> Iterable[Finding]:
    if settings.closest_mm == 0:
        return
    _, near = near_passes(motif.paths, motif.closed, settings.closest_mm)
    if not len(near):
        return
    apart, least = (format_length(mm, zone.unit, per_inch=64) for mm in (float(near[0]), settings.closest_mm))
    across = format_length(motif.size_mm, zone.unit)
    text = f"{settings.art}: drawn {across} across, two of its strands lie {apart} apart, nearer than {least}"
    yield Finding(
        FindingCode.MOTIF_TOO_CLOSE, "warning", zone.label, text, "Choose a larger space, or a motif with fewer parts."
    )


FILL = Fill(
    name="motif",
    settings=MotifSettings,
    draw=draw,
    stage="motif",
    description="a drawn motif fitted to the space, or a border motif run round it",
)
