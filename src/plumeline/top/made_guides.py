"""Guides that a plan writes out: lines of points, arcs, waves, spines from a corner; on the top, a patch, a block.

A guide in a patch or block is made once for each of them and named ``GUIDE in PATCH``; whoever asks for ``GUIDE``
gets those that lie in the zone (`plumeline.specs.guides_matching`).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from shapely import Polygon

from ..errors import TopError, nearest
from ..geometry import Knot, as_region, bounds, close_ring, corners_of, ray_length, smooth_through
from ..model import FloatArray, Path, Top, as_path
from ..specs import GUIDE_IN, ArcSpec, GuideSpec, SpineSpec, WaveSpec, matching

__all__ = ["BlockPlace", "made_guides"]

CHORD_MM = 0.02
"""How far the chords of an arc or wave stray from it, as those of a smooth line: far below a stitch."""

_WAYS = {
    "top": (0.0, -1.0),
    "right": (1.0, 0.0),
    "bottom": (0.0, 1.0),
    "left": (-1.0, 0.0),
    "top-left": (-1.0, -1.0),
    "top-right": (1.0, -1.0),
    "bottom-right": (1.0, 1.0),
    "bottom-left": (-1.0, 1.0),
}


@dataclass(frozen=True, slots=True, eq=False)
class BlockPlace:
    """Where a block of a table lies: its kind, its own name, and how its coordinates become those of the top."""

    kind: str
    name: str
    turn: FloatArray
    shift: FloatArray
    size_mm: float

    def to_top(self, points: FloatArray) -> FloatArray:
        """Return points of the block, ``(n, 2)``, on the top."""
        return points @ self.turn.T + self.shift

    def from_top(self, points: FloatArray) -> FloatArray:
        """Return points of the top, ``(n, 2)``, from the block's own top left corner."""
        return (points - self.shift) @ self.turn

    @property
    def outline(self) -> Polygon:
        """The block's square on the top."""
        s = self.size_mm
        return as_region(self.to_top(np.array([(0.0, 0.0), (s, 0.0), (s, s), (0.0, s)])))


def made_guides(top: Top, specs: Sequence[GuideSpec], blocks: Sequence[BlockPlace] = ()) -> dict[str, Path]:
    """Return the guides of a plan by name, in the coordinates of the top; empty when there are none.

    Parameters
    ----------
    top : Top
        The top; names of its own guides are taken.
    specs : sequence of GuideSpec
        What the plan says of each.
    blocks : sequence of BlockPlace
        Where the blocks of a table lie; empty for a drawing or a measured block.

    Returns
    -------
    dict of str to (n, 2) array
        Name to path.

    Raises
    ------
    TopError
        A name is taken, a patch or block is not there, or a space has no such corner; the key names the guide.
    """
    out: dict[str, Path] = {}
    for spec in specs:
        for name, path in _each(top, spec, blocks):
            if name in out or name in top.guides:
                raise _fault(spec, "is the name of two guides; each needs its own", "Rename one of them.")
            out[name] = path
    return out


def _fault(spec: GuideSpec, rule: str, what_to_do: str | None = None) -> TopError:
    return TopError(rule, key=f"guide '{spec.name}'", what_to_do=what_to_do)


def _each(top: Top, spec: GuideSpec, blocks: Sequence[BlockPlace]) -> Iterator[tuple[str, Path]]:
    if spec.block is not None:
        kinds = list(dict.fromkeys(place.kind for place in blocks))
        if spec.block not in kinds:
            raise _unknown(spec, "block", spec.block, kinds)
        for place in blocks:
            if place.kind == spec.block:
                yield f"{spec.name}{GUIDE_IN}{place.name}", _line(spec, place.outline, place)
    elif spec.patch is not None:
        names = matching(spec.patch, [patch.name for patch in top.patches])
        if not names:
            raise _unknown(spec, "patch", spec.patch, [patch.name for patch in top.patches])
        for patch in top.patches:
            if patch.name in names:
                yield (
                    f"{spec.name}{GUIDE_IN}{patch.name}",
                    _line(spec, patch.outline, _box_of(patch.name, patch.outline)),
                )
    else:
        width, height = top.size
        whole = as_region([(0.0, 0.0), (width, 0.0), (width, height), (0.0, height)])
        yield spec.name, _line(spec, whole, _box_of("", whole))


def _unknown(spec: GuideSpec, what: str, said: str, known: Sequence[str]) -> TopError:
    near = nearest(said.strip("*"), known)
    listed = f"they are {', '.join(known[:8])}" if known else "this top has no table of blocks"
    way = f"Did you mean '{near}'?" if near else None if known else "Say patch instead of block."
    return _fault(spec, f"{what} '{said}' is not there; {listed}", way)


def _box_of(name: str, outline: Polygon) -> BlockPlace:
    left, top, _, _ = bounds(outline)
    return BlockPlace("", name, np.eye(2), np.array([left, top]), 0.0)


def _line(spec: GuideSpec, outline: Polygon, place: BlockPlace) -> Path:
    if spec.spine is not None:
        return _spine(spec, spec.spine, outline)
    if spec.arc is not None:
        points = _arc(spec.arc)
    elif spec.wave is not None:
        points = _wave(spec.wave)
    else:
        points = _through(np.array(spec.points), straight=spec.straight, closed=spec.closed)
    return as_path(place.to_top(points))


def _through(points: FloatArray, *, straight: bool, closed: bool) -> FloatArray:
    if not straight and len(points) > 2:
        return close_ring(smooth_through([Knot(complex(*p)) for p in points], closed=closed), closed)
    return close_ring(points, closed)


def _arc(arc: ArcSpec) -> FloatArray:
    # y is down: seen on the page, (dy, -dx) points to the left of the way from start to end
    start, end, rise = np.array(arc.start), np.array(arc.end), arc.rise_mm
    chord = end - start
    half = float(np.hypot(*chord)) / 2
    left = np.array([chord[1], -chord[0]]) / (2 * half)
    radius = (half**2 + rise**2) / (2 * abs(rise))
    turn = 4 * math.atan(abs(rise) / half)
    step = 2 * math.acos(1 - min(CHORD_MM / radius, 1.0))
    angles = np.linspace(-turn / 2, turn / 2, max(math.ceil(turn / step), 2) + 1)
    along = radius * np.sin(angles)
    across = math.copysign(1.0, rise) * (radius * np.cos(angles) - radius + abs(rise))
    return _exact((start + end) / 2 + along[:, None] * chord / (2 * half) + across[:, None] * left, start, end)


def _wave(wave: WaveSpec) -> FloatArray:
    start, end = np.array(wave.start), np.array(wave.end)
    chord = end - start
    length = float(np.hypot(*chord))
    left = np.array([chord[1], -chord[0]]) / length
    # a chord over 1/n of a whole wave of height h strays at most h (2 pi / n)^2 / 8
    each = max(16, math.ceil(2 * math.pi * math.sqrt(wave.height_mm / (8 * CHORD_MM))))
    t = np.linspace(0.0, 1.0, wave.waves * each + 1)
    across = wave.height_mm / 2 * np.sin(2 * math.pi * wave.waves * t)
    return _exact(start + t[:, None] * chord + across[:, None] * left, start, end)


def _exact(points: FloatArray, start: FloatArray, end: FloatArray) -> FloatArray:
    points[0], points[-1] = start, end
    return points


def _spine(spec: GuideSpec, spine: SpineSpec, outline: Polygon) -> Path:
    """Return an S-shaped line out of a corner, half way between its two sides, up to the edge opposite."""
    corners = corners_of(outline)
    if len(corners) == 0:
        raise _fault(spec, "the space has no corner that a spine can start from", "Give it points instead.")
    before, after = np.roll(corners, 1, axis=0) - corners, np.roll(corners, -1, axis=0) - corners
    unit_before = before / np.hypot(*before.T)[:, None]
    unit_after = after / np.hypot(*after.T)[:, None]
    if spine.corner == "squarest":
        # the first of those that are as square to a degree, so that rounding does not choose
        off = np.degrees(np.arccos(np.clip((unit_before * unit_after).sum(axis=1), -1.0, 1.0))) - 90.0
        at = int(np.argmin(np.round(np.abs(off))))
    else:
        at = int(np.argmax(np.round(corners @ np.array(_WAYS[spine.corner]), 3)))
    way = unit_before[at] + unit_after[at]
    heading = way / np.hypot(*way)
    room = ray_length(outline, corners[at], heading)
    length = min(spine.length_mm or room, room)
    if length <= 0:
        raise _fault(spec, "the corner leaves no room for a spine", "Choose another corner, or give it points.")
    bow = length * spine.bow_percent / 100
    left = np.array([heading[1], -heading[0]])
    knots = [corners[at] + length * (t * heading) + b * bow * left for t, b in _S_BEND]
    if bow == 0:
        return as_path(np.array([knots[0], knots[-1]]))
    return as_path(smooth_through([Knot(complex(*p)) for p in knots]))


_S_BEND = ((0.0, 0.0), (0.25, 1.0), (0.5, 0.0), (0.75, -1.0), (1.0, 0.0))
"""A gentle S: along the spine as a part of its length, and to the left in bows."""
