"""The sweep of the plumes: how the side of every label runs through the chart, from the outline in to the spine.

A side is followed from the outline inwards by its direction: it leaves the spine at a small angle, swings out and comes
round, and its head leans to the tip. Directions are those of the cloth: the chart's own bends don't straighten it.
Sides that follow one field of directions never cross.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from scipy.ndimage import gaussian_filter1d

from ...model import FloatArray, IntArray
from .chart import Chart

__all__ = ["Sweep", "fitted", "swept"]

BASE_DEG, HEAD_DEG, RINGED_HEAD_DEG = 64.5, 14.0, -15.0
"""Off the shortest way out: how far a side leans to the tip where it leaves the spine, and at its head; and the
more at that of a feather that starts on a ring, the nearer it is to the ring: plumes come round there to meet the wall
between two feathers squarely, where leaning heads would be points."""

TURN_DEG, SWING_MOST_DEG = 96.0, 50.0
"""A side turns about so far in all; one that the chart would straighten swings out between its ends, at most so far."""

SWING_FITTED_DEG, FITS, FIT_STEP, FIT_SMOOTH = 80.0, 2, 0.7, 0.4
"""One whose foot must give way swings out by at most the first; found in so many steps of at most so many radians, and
smoothed over so many plumes."""

LATE, LATE_TURN_DEG = 0.3, 35.0
"""How much later a side swings along a vine, and how much more it turns. Where it comes away from the spine's direction
within a third of its length, as elsewhere, plumes of a vine are parallel fingers; later keeps necks slim, heads full.
"""

TURNS = (1.0, 0.5)
"""Sides are followed so often to learn how far the chart turns them, which changes as they lean; each time that part of
what was learnt counts, or it would swing to and fro."""

LEAN_FLAT_DEG, LEAN_BACK_DEG = 72.0, -55.0
"""No side runs flatter along the spine than the first, nor leans further back to the base than the second."""

USUAL_LEAN = 0.75
"""The lean for which the angles above hold; others lean in proportion."""

ROUND_BY = 0.85
"""A side has come round by this share of its way out; what is left is mostly its top."""

PER_LABEL = 5
"""Directions are known at so many labels a plume."""

FIELD_PER_LABEL = 8
"""Places of the field a plume."""

BEYOND = 1.5
"""Sides that would lean past the strip's ends are followed at most so many plumes beyond."""

LEAST_WIDTH = 0.05
"""Where the chart is narrower than this part of its usual width, sides lean as if it were that."""

LEVELS_EVEN, LEVELS_OUT = 16, 18
"""Levels of the field, evenly and nearing the outline by equal ratios, as far corners need."""

FADE_PLUMES = 1.5
"""The lean fades over so many plumes before the tip, where both sides lean towards each other."""

FIELD_SMOOTH, TURN_SMOOTH = 0.4, 1.2
"""Directions are smoothed over about so many plumes; what they turn in all, over more."""

AHEAD = 8.0
"""A closed strip is known so many plumes beyond its ends, for sides that lean across them."""


@dataclass(frozen=True, eq=False, slots=True)
class _Field:
    """What sides need to know of the chart, at places spread evenly ``along`` and at levels.

    Attributes
    ----------
    start, per : float
        The first place along, and how many there are a label.
    places : (n, k, 2)
        Where each place at each level lies, mm.
    data : (n, k, 4)
        Step to the next level out, mm; mm a label; direction of the shortest way out (radians, growing towards
        greater ``along``); share of the way out gone.
    """

    start: float
    per: float
    places: FloatArray
    data: FloatArray

    def at(self, along: FloatArray, level: int) -> FloatArray:
        """Return the data at a level, ``(len(along), 4)``."""
        return self.read(*self.between(along), level)

    def read(self, i: IntArray, t: FloatArray, level: int) -> FloatArray:
        """Return the data at a level, ``(n, 4)``, that part of the way from place ``i`` to the next."""
        data = self.data[:, level]
        low = data.take(i, axis=0)
        return np.asarray(low + t[:, None] * (data.take(i + 1, axis=0) - low))

    def places_at(self, along: FloatArray) -> FloatArray:
        """Return the places, ``(m, k, 2)``, of chart coordinates at every level, ``(m, k)``."""
        i, t = self.between(along)
        level = np.arange(along.shape[1])[None, :]
        return np.asarray((1 - t)[..., None] * self.places[i, level] + t[..., None] * self.places[i + 1, level])

    def between(self, along: FloatArray) -> tuple[IntArray, FloatArray]:
        """Return the places before chart coordinates, and which part of the way to the next these lie."""
        # spelt out: this is called for every level of every side, and ``np.clip`` takes twice as long
        x = np.minimum(np.maximum((along - self.start) * self.per, 0.0), len(self.data) - 1.0)
        i = np.minimum(x.astype(np.intp), len(self.data) - 2)
        return i, x - i


@dataclass(frozen=True, eq=False, slots=True)
class Sweep:
    """Sides in the chart.

    Attributes
    ----------
    label : (n,)
        Evenly spaced labels.
    along, share : (n, k)
        Chart coordinate of each side at each level from the spine to the outline, beyond the strip's ends where it
        would lean past them; and the share of the way out that it has then gone.
    field : _Field
        What was known of the chart.
    course : _Course
        What the sides follow.
    """

    label: FloatArray
    along: FloatArray
    share: FloatArray
    field: _Field
    course: _Course

    def at(self, label: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return ``along`` and ``share`` at any labels of the strip."""
        x = np.clip((label - self.label[0]) / (self.label[1] - self.label[0]), 0.0, len(self.label) - 1.0)
        i = np.minimum(x.astype(int), len(self.label) - 2)
        t = (x - i)[:, None]
        return (
            (1 - t) * self.along[i] + t * self.along[i + 1],
            (1 - t) * self.share[i] + t * self.share[i + 1],
        )


@dataclass(frozen=True, eq=False, slots=True)
class _Course:
    """What the sides follow, ``(n,)`` each but the last two.

    Attributes
    ----------
    end : where each ends on the outline.
    hand : whether the tip lies towards greater or smaller ``along``, 1 or -1.
    lean : how far each leans, part of the usual.
    foot, turned, swing : the direction of the shortest way out at the foot, how far it turns to the outline, and how
        far the side swings out between, radians.
    head : how far its head leans to the tip, radians.
    late : the power of the way out by which it does so.
    mode : how to smooth over them.
    """

    end: FloatArray
    hand: FloatArray
    lean: FloatArray
    foot: FloatArray
    turned: FloatArray
    swing: FloatArray
    head: FloatArray
    late: float
    mode: Literal["wrap", "nearest"]


def swept(chart: Chart, lean: float, vine: float = 0.0, *, ringed: bool = False) -> Sweep:
    """Return the sides of a chart as they would run with all the room in the world along the spine.

    ``vine`` is how much the spine is one, 0 to 1; ``ringed`` whether it starts on a ring that feathers share.
    """
    field = _field(chart)
    label = np.linspace(0.0, chart.span, round(chart.span * PER_LABEL) + 1)
    end = np.interp(label, chart.top[:, 0], chart.top[:, 1])
    hand, fade = np.ones(len(label)), np.ones(len(label))
    if chart.tip is not None:
        hand = np.where(label <= chart.tip, 1.0, -1.0)
        fade = np.clip((np.abs(label - chart.tip) - 0.5) / FADE_PLUMES, 0.0, 1.0)
        fade = fade * fade * (3 - 2 * fade)
    head = np.full(len(label), np.radians(HEAD_DEG))
    if ringed and chart.tip is not None:
        near = np.interp(label, [0.0, chart.tip, chart.span], [1.0, 0.0, 1.0])
        head += near * np.radians(RINGED_HEAD_DEG - HEAD_DEG)
    zero = np.zeros(len(label))
    foot = field.at(end, 0)[:, 2]
    course = _Course(
        end,
        hand,
        fade * lean / USUAL_LEAN,
        foot,
        zero,
        zero,
        head,
        1 + LATE * vine,
        "wrap" if chart.closed else "nearest",
    )
    for part in TURNS:
        way = _followed(field, course)[2]
        turned = gaussian_filter1d(hand * (way[:, -3] - way[:, 0]), TURN_SMOOTH * PER_LABEL, mode=course.mode)
        turned = course.turned + part * (turned - course.turned)
        swing = np.clip(
            (TURN_DEG + LATE_TURN_DEG * vine - BASE_DEG + np.degrees(head + turned)) / 2, 0.0, SWING_MOST_DEG
        )
        course = replace(course, foot=way[:, 0], turned=turned, swing=np.radians(swing))
    along, share, _, _ = _followed(field, course)
    return Sweep(label, along, share, field, course)


def fitted(sweep: Sweep, start: FloatArray) -> Sweep:
    """Return the sides so that they start at given chart coordinates, as nearly as that can be done gracefully.

    A side with less room along the spine than it would take still leaves the spine along it, but swings further out.
    """
    course = sweep.course
    for _ in range(FITS):
        along, _, _, rate = _followed(sweep.field, course)
        more = course.hand * (start - along[:, 0]) / np.maximum(rate, 1e-6)
        swing = course.swing + np.clip(more, -FIT_STEP, FIT_STEP)
        swing = gaussian_filter1d(swing, FIT_SMOOTH * PER_LABEL, mode=course.mode)
        course = replace(course, swing=np.clip(swing, 0.0, np.radians(SWING_FITTED_DEG)))
    along, share, _, _ = _followed(sweep.field, course, whole=True)
    return replace(sweep, along=along, share=share, course=course)


def _followed(
    field: _Field, course: _Course, *, whole: bool = False
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Return the sides of a course, from the outline in; ``share`` is known only of ``whole`` ones.

    ``along``, ``share`` and the direction of the shortest way out at every level, ``(n, levels)`` each; and how far
    each foot moves for a radian more of swing, ``(n,)``.
    """
    levels = field.data.shape[1]
    at, hand = course.end, course.hand
    along, share, way = (np.zeros((len(at), levels)) for _ in range(3))
    rate = np.zeros(len(at))
    bounds = field.start - BEYOND, field.start + (len(field.data) - 1) / field.per + BEYOND
    low, high = np.radians(LEAN_BACK_DEG), np.radians(LEAN_FLAT_DEG)
    base = np.radians(BASE_DEG)
    bend = course.turned + course.head - base
    where = field.between(at)
    along[:, -1], share[:, -1], way[:, -1] = at, 1.0, field.read(*where, levels - 1)[:, 2]
    for level in range(levels - 2, -1, -1):
        step, width, own, gone = field.read(*where, level).T
        way[:, level] = own
        gone = np.minimum(gone / ROUND_BY, 1.0)
        out = np.sin(np.pi * gone**course.late)
        angle = base + bend * gone - course.swing * out - hand * (own - course.foot)
        slope = np.tan(np.minimum(np.maximum(angle, low), high))
        part = course.lean * step / width
        at = np.minimum(np.maximum(at - hand * part * slope, bounds[0]), bounds[1])
        rate += part * out * (1 + slope**2)
        along[:, level] = at
        where = field.between(at)
        if whole:
            share[:, level] = field.read(*where, level)[:, 3]
    share[:, 0] = 0.0
    return along, share, way, rate


def _field(chart: Chart) -> _Field:
    lap = round(chart.span * FIELD_PER_LABEL)
    per = lap / chart.span
    beyond = round(AHEAD * per) if chart.closed else 0
    number = np.arange(-beyond, lap + beyond + 1)
    count, grid = len(number), number / per
    out = 1 - np.geomspace(1.0, 1e-4, LEVELS_OUT)
    across = np.unique(np.concatenate([out, np.linspace(0, 1, LEVELS_EVEN + 2)]))
    inner = across[1:-1]
    places = np.empty((count, len(across), 2))
    # a closed strip is looked up once round
    own = np.arange(lap + (not chart.closed))
    found = chart.strip.places(np.repeat(own / per, len(inner)), np.tile(inner, len(own)))
    places[:, 1:-1] = found.reshape(len(own), -1, 2)[number % len(own)]
    for level, edge in ((0, chart.foot), (-1, chart.top)):
        places[:, level] = np.column_stack([np.interp(grid, edge[:, 1], edge[:, k]) for k in (2, 3)])
    calm = gaussian_filter1d(places, FIELD_SMOOTH * per, axis=0, mode="nearest")
    step = np.diff(calm, axis=1)
    length = np.hypot(step[..., 0], step[..., 1])
    gone = np.concatenate([np.zeros((count, 1)), np.cumsum(length, axis=1)], axis=1)
    gone /= np.maximum(gone[:, -1:], 1e-9)
    way = step / np.maximum(length, 1e-9)[..., None]
    beside = np.asarray(np.gradient(calm, 1 / per, axis=0))[:, :-1]
    cross = way[..., 0] * beside[..., 1] - way[..., 1] * beside[..., 0]
    sense = np.sign(np.median(cross))
    width = np.maximum(sense * cross, LEAST_WIDTH * np.median(sense * cross))
    turn = sense * np.unwrap(np.unwrap(np.arctan2(way[..., 1], way[..., 0]), axis=0), axis=1)
    data = np.stack([length, width, turn, gone[:, :-1]], axis=2)
    data = np.concatenate([data, data[:, -1:]], axis=1)
    data[:, -1, 3] = 1.0
    return _Field(float(grid[0]), per, places, data)
