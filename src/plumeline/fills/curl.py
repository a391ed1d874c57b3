"""Curl: a vine of spirals, each wound in and out again, touching the next."""

from __future__ import annotations

import heapq
import math
from dataclasses import replace

import numpy as np
from scipy.spatial import cKDTree
from shapely import Polygon

from ..geometry import contains, dedupe, dilate, erode, inscribed_circle, outside_mm, pieces, resample, rings
from ..model import Filled, FloatArray, Path, Stroke, Zone
from ._meander.lines import meander_lines
from .registry import Fill, too_small
from .settings import FillSettings, Mm, length, number

__all__ = ["FILL", "CurlSettings"]

SPINE = 2.5
"""Distance of strands of the spine, in curls' diameters: less and the curls stand in rows along it. At most half
the zone's width, so that it gets everywhere."""

WANDER = 1.8
"""How far the spine strolls; see the meander."""

STEP = 1 / 40
"""Step along the spine, in curls' diameters, at which a curl's place is looked for."""

AHEAD = 2.5
"""How far along the spine the next curl is looked for, in curls' diameters."""

ABREAST = 0.48
"""Largest curl in a narrow place, as its radius in that place's half width: two go abreast, so that the vine gets in
and out again."""

WIDTHS = (1.0, 0.8, 0.64, 0.5, 0.4, 0.32, 0.25)
"""Half widths at which places count as narrow, in curls' diameters."""

LEAST = 0.14
"""Radius of the smallest curls, in largest curls' diameters; they fill corners."""

MARGIN = 0.15
"""How far curls keep from the edge, in spacings."""

SLANT = 1.2
"""Distance from the line's start to the middle of its first curl, in that curl's radii: at 1 the line would run along
the edge, further off it leaves a bald spot."""

BESIDE = 0.5
"""How far curls keep from the line's first and last stretch, in spacings."""

EYE = 0.3
"""How open the middle of a spiral is, in squared spacings: the S there is as wide as the spacing."""

FLAT = 1.5
"""Angle, in radians, over which a spiral's ends bend into its circle."""


class CurlSettings(FillSettings):
    """Settings of the curl."""

    size_mm: Mm = length(38.1, least=4.0, says="diameter of the largest curls")
    spacing_mm: Mm = length(6.35, least=0.5, says="from line to line within a curl")
    variation: float = number(0.3, least=0.0, most=0.8, says="how much curls differ in size, 0 as little as can be")


def draw(zone: Zone, settings: CurlSettings, *, rng: np.random.Generator, tolerance_mm: float = 0.05) -> Filled:
    """Draw the vine in a zone.

    Returns
    -------
    Filled
        One open stroke from edge to edge for each piece of the zone. None, and a finding, when two curls don't fit.

    Notes
    -----
    Circles are strung along a wide meander, each touching the one before. Then, largest first, new ones are put
    in between two that follow each other, touching both and as large as there is room for, until no room is left:
    so the vine buds into every pocket and corner. The line enters each circle along it, winds in, turns in the
    middle, winds out and leaves along it into the next: smooth, since touching circles share their tangent, and
    without crossings, since circles don't overlap. O(n^2) in the number of curls.
    """
    strokes = []
    for piece in pieces(zone):
        _, half = inscribed_circle(piece, tolerance_mm=0.02 * settings.size_mm)
        spine = meander_lines(
            replace(zone, region=piece, fences=()),
            min(SPINE * settings.size_mm, half),
            WANDER,
            rng=rng,
            tolerance_mm=tolerance_mm,
        )
        vine = _Vine(piece, settings, rng)
        if spine and vine.string(spine[0].path):
            vine.bud()
            strokes.append(Stroke(vine.drawn(tolerance_mm)))
    if not strokes:
        return too_small(zone, "curl", "there is no room for two curls", "Choose smaller curls.")
    return Filled(tuple(strokes))


class _Vine:
    """A chain of circles, each touching the next; none overlap."""

    def __init__(self, region: Polygon, settings: CurlSettings, rng: np.random.Generator) -> None:
        self.settings, self.rng = settings, rng
        self.least, self.most = LEAST * settings.size_mm, 0.5 * settings.size_mm
        self.margin = MARGIN * settings.spacing_mm
        self.rim = np.vstack([resample(r, 0.02 * settings.size_mm, closed=True) for r in rings(region)])
        self.edge = cKDTree(self.rim)
        self.region = region
        # A place is as wide as the largest disc of these within the region that covers it.
        half_widths = np.array(WIDTHS) * settings.size_mm
        coarse = 0.05 * settings.size_mm
        self.wide = [
            [
                whole
                for part in erode(region, w, join="round", tolerance_mm=coarse)
                for whole in dilate(part, w, tolerance_mm=coarse)
            ]
            for w in half_widths
        ]
        self.caps = np.maximum(ABREAST * half_widths, self.least)
        self.stems: cKDTree | None = None
        self.centres = np.zeros((0, 2))
        self.radii = np.zeros(0)
        self.onward: list[int] = []  # the circle after each, -1 after the last
        self.ends = np.zeros((2, 2))

    def room(self, points: FloatArray) -> FloatArray:
        """Return the radius that fits at each point beside the edge and all circles, ``(n,)``."""
        room, _ = self.edge.query(points)
        room = np.minimum(room - self.margin, self.width_caps(points))
        if self.stems is not None:
            room = np.minimum(room, self.stems.query(points)[0] - BESIDE * self.settings.spacing_mm)
        if len(self.radii):
            far = np.hypot(points[:, None, 0] - self.centres[:, 0], points[:, None, 1] - self.centres[:, 1])
            room = np.minimum(room, (far - self.radii).min(axis=1))
        return np.asarray(room)

    def width_caps(self, points: FloatArray) -> FloatArray:
        """Return the largest radius at each point that leaves room for another curl abreast, ``(n,)``."""
        caps = np.full(len(points), self.least)
        rest = np.arange(len(points))
        for cap, parts in zip(self.caps, self.wide):
            for part in parts:
                inside = contains(part, points[rest])
                caps[rest[inside]] = cap
                rest = rest[~inside]
                if not len(rest):
                    return caps
        return caps

    def cap(self) -> float:
        """Return the largest radius that the next curl may have."""
        return self.most * (1 - self.settings.variation * self.rng.random())

    def add(self, centre: FloatArray, radius: float, after: int | None) -> int:
        """Put a circle into the chain after another and return its number."""
        new = len(self.radii)
        self.centres = np.vstack([self.centres, centre])
        self.radii = np.append(self.radii, radius)
        if after is None:
            self.onward.append(-1)
        else:
            self.onward.append(self.onward[after])
            self.onward[after] = new
        return new

    def string(self, path: FloatArray) -> bool:
        """String circles along a spine; return whether two or more fit."""
        size = self.settings.size_mm
        spine = resample(path, STEP * size)
        self.ends = spine[[0, -1]]
        near = spine[: int(1 / STEP)]
        from_end = np.hypot(*(near - spine[0]).T)
        free = np.minimum(np.minimum(self.room(near), self.cap()), from_end / SLANT)
        at = int(np.argmax(free))
        if free[at] < self.least:
            return False
        last = self.add(near[at], float(free[at]), None)
        while True:
            ahead = spine[at : at + int(AHEAD / STEP)]
            touching = np.hypot(*(ahead - self.centres[last]).T) - self.radii[last]
            others = self.centres, self.radii
            self.centres, self.radii = self.centres[:-1], self.radii[:-1]
            free = np.minimum(self.room(ahead), self.cap())
            self.centres, self.radii = others
            to_end = np.hypot(*(ahead - spine[-1]).T) / SLANT
            fits = np.flatnonzero((touching >= self.least) & (touching <= np.minimum(free, to_end)))
            if not len(fits):
                self.root()
                return len(self.radii) > 1
            breaks = np.flatnonzero(np.diff(fits) > 1)
            fits = fits[: breaks[0] + 1] if len(breaks) else fits
            best = int(fits[np.argmax(touching[fits])])
            at += best
            last = self.add(ahead[best], float(touching[best]), last)

    def root(self) -> None:
        """Settle where the line comes from the edge and goes back there, and keep that room."""
        samples = []
        for which, k in enumerate((0, len(self.radii) - 1)):
            wished = self.ends[which]
            far = np.hypot(*(self.rim - self.centres[k]).T)
            others = self.rim[np.argsort(far)][:: max(len(self.rim) // 200, 1)]
            for end in [wished, *others]:
                stem = self.stem(end, k)
                if self.clear(stem, k):
                    break
            self.ends[which] = end
            samples.append(stem)
        self.stems = cKDTree(np.vstack(samples))

    def stem(self, end: FloatArray, k: int) -> FloatArray:
        """Return points along the straight stretch from an end to where it meets a circle."""
        angle = _stem(end, self.centres[k], self.radii[k])
        touch = self.centres[k] + self.radii[k] * np.array([math.cos(angle), math.sin(angle)])
        return np.asarray(resample([end, touch], 0.25 * self.settings.spacing_mm))

    def clear(self, stem: FloatArray, k: int) -> bool:
        """Return whether such a stretch stays inside and off all other circles."""
        far = np.hypot(stem[:, None, 0] - self.centres[:, 0], stem[:, None, 1] - self.centres[:, 1]) - self.radii
        far[:, k] = np.inf
        return bool(far.min() > 0) and outside_mm([stem], self.region) == 0

    def bud(self) -> None:
        """Put circles in between until no room is left, the largest first."""
        queue: list[tuple[float, int, int, int, float]] = []

        def offer(i: int, cap: float | None = None) -> None:
            j = self.onward[i]
            for side in (-1, 1) if j >= 0 else ():
                most = self.cap() if cap is None else cap
                radius = self.fit(i, j, side, most)
                if radius >= self.least:
                    heapq.heappush(queue, (-radius, i, j, side, most))

        for i in range(len(self.radii)):
            offer(i)
        while queue:
            radius, i, j, side, most = heapq.heappop(queue)
            if self.onward[i] != j:
                continue
            now = self.fit(i, j, side, most)
            if now < self.least:
                continue
            if now < -radius - 1e-6:
                heapq.heappush(queue, (-now, i, j, side, most))
                continue
            new = self.add(self.between(i, j, side, np.array([now]))[0], now, i)
            offer(i)
            offer(new)

    def between(self, i: int, j: int, side: int, radius: FloatArray) -> FloatArray:
        """Return the centres of circles of some radii that touch both of two circles, on one side of them."""
        step = self.centres[j] - self.centres[i]
        apart = float(np.hypot(*step))
        a, b = self.radii[i] + radius, self.radii[j] + radius
        along = (apart**2 + a**2 - b**2) / (2 * apart)
        across = side * np.sqrt(np.maximum(a**2 - along**2, 0))
        unit = step / apart
        return self.centres[i] + along[:, None] * unit + across[:, None] * np.array([-unit[1], unit[0]])

    def fit(self, i: int, j: int, side: int, most: float) -> float:
        """Return the largest radius of a circle that touches two and overlaps none; 0 when none fits."""
        low, high = self.least, most
        best = 0.0
        for _ in range(2):  # coarse, then fine between the last that fits and the first that does not
            tried = np.linspace(low, high, 14)
            fits = np.flatnonzero(self.room(self.between(i, j, side, tried)) >= tried - 1e-9 * most)
            if not len(fits):
                return best
            k = int(fits[-1])
            best = float(tried[k])
            if k == len(tried) - 1:
                return best
            low, high = best, float(tried[k + 1])
        return best

    def drawn(self, tolerance: float) -> Path:
        """Return the vine's line."""
        order, i = [], 0
        while i >= 0:
            order.append(i)
            i = self.onward[i]
        centres, radii = self.centres[order], self.radii[order]
        step = np.diff(centres, axis=0)
        towards = np.arctan2(step[:, 1], step[:, 0])
        enter = np.append(_stem(self.ends[0], centres[0], radii[0]), towards + np.pi)
        leave = np.append(towards, _stem(self.ends[1], centres[-1], radii[-1]))
        parts = [
            c + _spiral(r, a, b, self.settings.spacing_mm, tolerance)
            for c, r, a, b in zip(centres, radii, enter, leave)
        ]
        return dedupe(np.vstack([self.ends[:1], *parts, self.ends[1:]]), nearer_than_mm=1e-4)


def _stem(end: FloatArray, centre: FloatArray, radius: float) -> float:
    """Return at which angle on a circle the straight line from a point outside meets it along it.

    Going in, and coming out the other way about, alike.
    """
    step = end - centre
    return float(np.arctan2(step[1], step[0]) - np.arccos(min(radius / np.hypot(*step), 1.0)))


def _spiral(radius: float, enter: float, leave: float, spacing: float, tolerance: float) -> FloatArray:
    """Return a spiral wound in from one angle on a circle about 0 and out again to another.

    The way in turns against the clock as numbers go (with it, as seen), the way out the other way. Both are the
    same curve, stretched to angles whose difference brings the way out to where it leaves.
    """
    skew = (leave - enter) % (2 * math.pi) - math.pi
    mean = max(math.pi * radius / spacing, abs(skew) / 2 + 0.6 * math.pi)
    inwards, outwards = mean - skew / 2, mean + skew / 2
    angle, far = _arm(inwards, mean, radius, spacing, tolerance)
    turn = enter - inwards
    way_in = far[:, None] * np.column_stack([np.cos(turn + angle), np.sin(turn + angle)])
    angle, far = _arm(outwards, mean, radius, spacing, tolerance)
    way_out = -far[:, None] * np.column_stack([np.cos(turn + angle), np.sin(turn + angle)])
    return np.vstack([way_in[::-1], way_out[1:]])


def _arm(total: float, mean: float, radius: float, spacing: float, tolerance: float) -> tuple[FloatArray, FloatArray]:
    """Return angles from the middle outwards and distances from it, of one arm of a spiral.

    Open like a parabolic spiral in the middle, evenly spaced further out, and running into its circle at the end.
    """
    step = 1.3 * math.acos(max(1 - tolerance / radius, 0.7))
    angle = np.linspace(0, total, max(int(total / step), 24) + 1)
    wound = angle * mean / total
    pitch, eye = spacing / math.pi, EYE * spacing**2
    knee = mean - min(FLAT, mean / 2)
    inner, over = np.minimum(wound, knee), np.maximum(wound - knee, 0)
    at_knee = math.sqrt((pitch * knee) ** 2 + eye * knee)
    slope = (2 * pitch**2 * knee + eye) / (2 * at_knee)
    far = np.sqrt((pitch * inner) ** 2 + eye * inner) + slope * (over - over**2 / (2 * (mean - knee)))
    return angle, far * radius / far[-1]


FILL = Fill(
    name="curl",
    settings=CurlSettings,
    draw=draw,
    stage="background",
    says="a vine of spirals, each wound in and out again",
)
