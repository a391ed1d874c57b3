"""Curl: a vine of spirals, each wound in and out again, touching the next."""

from __future__ import annotations

import heapq
import math
from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import TypeAlias

import numpy as np
from scipy.spatial import cKDTree
from shapely import Polygon

from ..codes import FindingCode
from ..geometry import (
    calm_parts,
    contains,
    dedupe,
    densify,
    dilate,
    erode,
    inscribed_circle,
    intersect,
    is_simple,
    line_of,
    long_axis,
    nearest_of,
    outside_mm,
    path_length,
    pieces,
    resample,
    rings,
)
from ..model import Filled, Finding, FloatArray, Path, Stroke, Zone, as_path
from ..tolerances import CURVE_MM
from .kit.circles import Packing
from .kit.leaves import with_leaves
from .kit.limits import check_amount
from .kit.registry import Fill, too_small
from .kit.settings import FillSettings, Mm, length, number
from .kit.tips import led_into_tips
from .meander.lines import meander_lines

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

DRAWN = 0.9
"""Radius of a curl, in that of the circle kept for it: two that touch are joined by a stem where the rest is, straight
through the point where the circles touch. At 1 there are no stems, only shells; less makes curls small."""

SHARES = np.linspace(0, 1, 14)
"""Where between the least and the largest radius a curl is tried."""

REST, LARGE, MUCH = 0.45, 0.55, 0.08
"""Radius, in curls' diameters, of a bald spot from which another vine is started: from the first on where more than
that part of the space is left, from the second on anywhere."""

SLIM, ARM = 2.5, 16.0
"""A part so many times as long as wide takes one curl after the other along its middle; what a vine left over has to
hold so many squares of the least room, some four curls one after the other."""

BALD, FORKS = 0.6, 4
"""A curl forks where there is room beside it for one of this share of its radius; and how often all are looked over."""

BESIDE = 0.5
"""How far curls keep from the line's first and last stretch, in spacings."""

APART = 0.1
"""How far the line's first and last stretch keep from other curls, in spacings: beside the point where two curls touch,
strands nearer than chords stray would cross."""

FINE = 0.02
"""How far chords may stray at most, in spacings: coarser ones of neighbouring strands would meet."""

EYE = 0.3
"""How open the middle of a spiral is, in squared spacings: the S there is as wide as the spacing."""

FLAT = 1.5
"""Angle, in radians, over which a spiral's ends bend into its circle."""


WIDE = (1.0, 0.8, 0.6)
"""Widths of the meander that a vine follows, in the one wished: in a small space a wide one may find no way."""

TRIES = 4
"""Times a vine is grown anew where its line would cross itself, which about one in 500 does."""


class CurlSettings(FillSettings):
    """Settings of the curl."""

    size_mm: Mm = length(38.1, least=4.0, description="diameter of the largest curls")
    spacing_mm: Mm = length(6.35, least=0.5, description="from line to line within a curl")
    variation: float = number(
        0.3, least=0.0, most=0.8, description="how much curls differ in size, 0 as little as can be"
    )


def draw(zone: Zone, settings: CurlSettings, *, rng: np.random.Generator, tolerance_mm: float = CURVE_MM) -> Filled:
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
    check_amount(zone, settings.spacing_mm)
    strokes: list[Stroke] = []
    parts = [part for piece in pieces(zone) for part in calm_parts(piece)]
    for piece in parts:
        edge = cKDTree(np.vstack([densify(r, STEP * settings.size_mm, closed=True) for r in rings(piece)]))
        vines, large = _vines(piece, edge, zone, settings, rng, tolerance_mm)
        if large > 1:
            others, fewer = _vines(piece, edge, zone, settings, rng, tolerance_mm)
            vines = others if 0 < fewer < large else vines
        for k, path in enumerate(vines):
            vines[k] = with_leaves(path, piece, settings.spacing_mm, others=vines[:k] + vines[k + 1 :])
        drawn = [Stroke(as_path(path)) for path in vines]
        strokes += led_into_tips(drawn, piece, settings.spacing_mm, look="swept")
    if not strokes:
        return too_small(zone, "curl", "there is no room for two curls", "Choose smaller curls.")
    findings: tuple[Finding, ...] = ()
    if len(strokes) > len(parts):
        findings = (
            Finding(
                FindingCode.CURL_IN_PARTS,
                "note",
                zone.label,
                f"curl: {len(strokes)} vines, because one found no way into every part",
                "Choose smaller curls, or give the zone travel = 'any-seam'.",
            ),
        )
    return Filled(tuple(strokes), findings=findings)


def _vines(
    piece: Polygon, edge: cKDTree, zone: Zone, settings: CurlSettings, rng: np.random.Generator, tolerance_mm: float
) -> tuple[list[FloatArray], int]:
    """Return a vine and further ones in what the first did not reach, and how many of them stand in no mere strip."""
    rest, vines, wide = [(piece, False)], list[FloatArray](), 0
    while rest:
        part, slim = rest.pop()
        for _ in range(TRIES):
            vine = None if slim else _grown(part, edge, zone, settings, rng, tolerance_mm)
            vine = vine or _slim_vine(part, edge, settings, rng)
            if vine is None or is_simple(path := vine.drawn(tolerance_mm)):
                break
        else:
            continue
        if vine is None:
            continue
        vines.append(path)
        wide += not slim
        large = vine.unreached()
        rest += [(piece, False) for piece in large]
        rest += [(arm, True) for arm in vine.arms(large)]
    return vines, wide


def _slim_vine(part: Polygon, edge: cKDTree, settings: CurlSettings, rng: np.random.Generator) -> _Vine | None:
    """Return a vine that runs once through a part too narrow for two curls abreast, None where it is no strip."""
    axis = long_axis(part)
    if path_length(axis) ** 2 < SLIM * part.area:
        return None
    vine = _Vine(part, edge, settings, rng, abreast=False)
    if not vine.string(axis):
        return None
    vine.bud()
    return vine


def _grown(
    part: Polygon, edge: cKDTree, zone: Zone, settings: CurlSettings, rng: np.random.Generator, tolerance_mm: float
) -> _Vine | None:
    _, half = inscribed_circle(part, tolerance_mm=0.02 * settings.size_mm)
    if half < LEAST * settings.size_mm:
        return None
    for share in WIDE:
        spine = meander_lines(
            replace(zone, region=part, fences=()),
            share * min(SPINE * settings.size_mm, half),
            WANDER,
            rng=rng,
            tolerance_mm=tolerance_mm,
            calm=False,
        )
        for path in (way for line in spine for way in (line.path, line.path[::-1])):
            vine = _Vine(part, edge, settings, rng)
            if vine.string(path):
                vine.bud()
                return vine
    return None


_Seen: TypeAlias = tuple[int, int, tuple[float, ...]]
"""When radii were found to fit: how many circles there were, how often some had given way, and the radii."""


class _Vine(Packing):
    """A chain of circles, each touching the next; none overlap."""

    def __init__(
        self,
        region: Polygon,
        edge: cKDTree,
        settings: CurlSettings,
        rng: np.random.Generator,
        *,
        abreast: bool = True,
    ) -> None:
        super().__init__(
            region,
            least_mm=LEAST * settings.size_mm,
            most_mm=0.5 * settings.size_mm,
            margin_mm=MARGIN * settings.spacing_mm,
        )
        self.settings, self.rng = settings, rng
        self.outer = edge  # of the whole piece, where the line may begin and end
        # A place is as wide as the largest disc of these within the region that covers it.
        half_widths = np.array(WIDTHS if abreast else ()) * settings.size_mm
        self.narrowest = self.least if abreast else self.most
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
        self.stems: list[FloatArray] = []
        self.near_stems: cKDTree | None = None
        self.queue: list[tuple[float, int, int, int, float, _Seen]] = []
        self.moved = 0  # how often circles gave way to others
        self.onward: list[int] = []  # the circle after each, -1 after the last
        self.ends = np.zeros((2, 2))

    def unreached(self) -> list[Polygon]:
        """Return the pieces that the vine did not reach and that are large enough for another."""
        beside = BESIDE * self.settings.spacing_mm
        stems = [whole for stem in self.stems for whole in dilate(line_of(stem), beside)]
        fine = 0.1 * self.settings.spacing_mm
        found = self.left(self.region, REST * self.settings.size_mm, tolerance_mm=fine, clear_mm=beside, taken=stems)
        least, large = MUCH * self.region.area, LARGE * self.settings.size_mm
        return [p for p, _ in found if p.area > least or inscribed_circle(p, tolerance_mm=fine)[1] > large]

    def arms(self, but: Sequence[Polygon]) -> list[Polygon]:
        """Return the strips that the vine did not reach where only one curl fits abreast, besides some pieces."""
        beside, least = BESIDE * self.settings.spacing_mm, self.least + self.margin
        stems = [whole for stem in self.stems for whole in dilate(line_of(stem), beside)]
        left = self.left(self.region, least, tolerance_mm=0.1 * self.settings.spacing_mm, clear_mm=beside, taken=stems)
        cores = [(piece, core) for piece, _ in left for core in erode(piece, least)]
        arms = [arm for piece, core in cores for whole in dilate(core, least) for arm in intersect(whole, piece)]
        return [arm for arm in arms if arm.area > ARM * least**2 and not any(intersect(arm, piece) for piece in but)]

    def beside_edge(self, points: FloatArray) -> FloatArray:
        """Return the radius that fits at each point whatever circles there are, ``(n,)``: beside the stems too."""
        room = np.minimum(super().beside_edge(points), self.width_caps(points))
        if self.near_stems is not None:
            beside = BESIDE * self.settings.spacing_mm
            far, _ = self.near_stems.query(points, distance_upper_bound=self.most + 2 * beside)
            room = np.minimum(room, far - beside)
        return np.asarray(room)

    def width_caps(self, points: FloatArray) -> FloatArray:
        """Return the largest radius at each point that leaves room for another curl abreast, ``(n,)``."""
        caps = np.full(len(points), self.narrowest)
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

    def put(self, centre: FloatArray, radius: float, after: int | None) -> int:
        """Put a circle into the chain after another and return its number."""
        (new,) = self.add(centre[None], np.array([radius])).tolist()
        if after is None:
            self.onward.append(-1)
        else:
            self.onward.append(self.onward[after])
            self.onward[after] = new
        return int(new)

    def string(self, path: FloatArray) -> bool:
        """Put circles along a spine, each touching the one before; return whether two or more fit."""
        size = self.settings.size_mm
        spine = resample(path, STEP * size)
        self.ends = spine[[0, -1]]
        near = spine[: int(1 / STEP)]
        from_end = np.hypot(*(near - spine[0]).T)
        free = np.minimum(np.minimum(self.room(near), self.cap()), from_end / SLANT)
        at = int(np.argmax(free))
        if free[at] < self.least:
            return False
        last = self.put(near[at], float(free[at]), None)
        while True:
            ahead = spine[at : at + int(AHEAD / STEP)]
            touching = np.hypot(*(ahead - self.centres[last]).T) - self.radii[last]
            chain = self.centres, self.radii
            self.keep(chain[0][:-1], chain[1][:-1])
            free = np.minimum(self.room(ahead), self.cap())
            self.keep(*chain)
            to_end = np.hypot(*(ahead - spine[-1]).T) / SLANT
            fits = np.flatnonzero((touching >= self.least) & (touching <= np.minimum(free, to_end)))
            if not len(fits):
                self.root()
                return len(self.radii) > 1
            breaks = np.flatnonzero(np.diff(fits) > 1)
            fits = fits[: breaks[0] + 1] if len(breaks) else fits
            best = int(fits[np.argmax(touching[fits])])
            at += best
            last = self.put(ahead[best], float(touching[best]), last)

    def root(self) -> None:
        """Settle where the line comes from the edge and goes back there, and keep that room."""
        far, _ = self.outer.query(self.rim)
        seam = self.rim[far < STEP * self.settings.size_mm]
        for which, k in enumerate((0, len(self.radii) - 1)):
            wished = self.ends[which]
            far = np.hypot(*(seam - self.centres[k]).T)
            others = seam[np.argsort(far, kind="stable")][:: max(len(seam) // 200, 1)]
            near = np.hypot(*(wished - self.centres[k])) < 2 * self.most
            near = near and self.outer.query(wished)[0] < STEP * self.settings.size_mm
            for end in [wished, *others] if near else [*others, wished]:
                stem = self.stem(end, k)
                if self.clear(stem, k):
                    break
            self.ends[which] = end
            self.stems.append(stem)
        self.near_stems = cKDTree(np.vstack(self.stems))

    def stem(self, end: FloatArray, k: int) -> FloatArray:
        """Return points along the straight stretch from an end to where it meets a circle."""
        angle = _stem(end, self.centres[k], DRAWN * self.radii[k])
        touch = self.centres[k] + DRAWN * self.radii[k] * np.array([math.cos(angle), math.sin(angle)])
        return np.asarray(resample([end, touch], 0.25 * self.settings.spacing_mm))

    def clear(self, stem: FloatArray, k: int) -> bool:
        """Return whether such a stretch stays inside and off all other circles."""
        far = np.hypot(stem[:, None, 0] - self.centres[:, 0], stem[:, None, 1] - self.centres[:, 1]) - self.radii
        far[:, k] = np.inf
        apart = nearest_of(cKDTree(np.vstack(self.stems)), stem)[0].min() if self.stems else np.inf
        least = BESIDE * self.settings.spacing_mm
        return (
            bool(far.min() > APART * self.settings.spacing_mm and apart > least)
            and outside_mm([stem], self.region) == 0
        )

    def bud(self) -> None:
        """Put circles in between until no room is left, the largest first; then fork into what is still bald."""
        self.offer(range(len(self.radii)))
        self.grow()
        for _ in range(FORKS):
            forked = [i for i in self.bald() if self.fork(i)]
            if not forked:
                return

    def offer(self, circles: Iterable[int]) -> None:
        """Queue the largest circles that fit between some and the ones after them."""
        for i in circles:
            j = self.onward[i]
            if j < 0:
                continue
            most = self.cap()
            for side, tried in zip((-1, 1), self.fit(i, j, (-1, 1), most)):
                self.enqueue(i, j, side, most, tried)

    def enqueue(self, i: int, j: int, side: int, most: float, tried: list[float]) -> None:
        """Queue the last of the radii that were found to fit between two circles on a side, if it is a curl's."""
        if tried[-1] >= self.least:
            seen = len(self.radii), self.moved, tuple(tried)
            heapq.heappush(self.queue, (-tried[-1], i, j, side, most, seen))

    def grow(self) -> None:
        """Put in what is queued, and what then fits beside it."""
        while self.queue:
            radius, i, j, side, most, seen = heapq.heappop(self.queue)
            if self.onward[i] != j:
                continue
            now = -radius
            if not self.still_fits(i, j, side, seen):
                (tried,) = self.fit(i, j, (side,), most)
                now = tried[-1]
                if now < -radius - 1e-6:
                    self.enqueue(i, j, side, most, tried)
                    continue
            self.offer(
                [i, self.put(self.between(np.array([i]), np.array([j]), np.array([side]), np.array([now]))[0], now, i)]
            )

    def still_fits(self, i: int, j: int, side: int, seen: _Seen) -> bool:
        """Return whether none of the circles put in since overlaps what fitted then: nothing larger fits now either."""
        since, moved, tried = seen
        if moved != self.moved:
            return False
        radius = np.array(tried)
        each = np.full(len(tried), 0)
        places = self.between(each + i, each + j, each + side, radius)
        step = places[:, None] - self.centres[since:]
        room = np.hypot(step[..., 0], step[..., 1]) - self.radii[since:]
        return bool((room >= radius[:, None]).all())

    def bald(self) -> list[int]:
        """Return the circles with much room beside them that no two of them face, largest first."""
        angle = np.arange(12) * np.pi / 6
        ring = np.column_stack([np.cos(angle), np.sin(angle)])
        beside = self.centres[:, None] + (1 + BALD) * self.radii[:, None, None] * ring
        room = self.room(beside.reshape(-1, 2)).reshape(-1, 12).max(axis=1)
        found = np.flatnonzero(room > 0.9 * BALD * self.radii)
        return [int(i) for i in found[np.argsort(-self.radii[found], kind="stable")]]

    def fork(self, i: int) -> bool:
        """Put two circles in the place of one, and a third beside them where there is room; return whether there is.

        The two touch each other, and the circles before and after where the one did.
        """
        before, after = (self.onward.index(i) if i in self.onward else -1), self.onward[i]
        if before < 0 or after < 0:
            return False
        centre, radius = self.centres[i].copy(), float(self.radii[i])
        back, on = (self.centres[k] - centre for k in (before, after))
        back, on = back / np.hypot(*back), on / np.hypot(*on)
        half_sine = float(np.hypot(*(back - on))) / 2
        half = radius * half_sine / (1 + half_sine)
        if half < self.least:
            return False
        self.moved += 1
        self.change(i, centre + (radius - half) * back, half)
        new = self.put(centre + (radius - half) * on, half, i)
        if max(tried[-1] for tried in self.fit(i, new, (-1, 1), self.most)) >= BALD * radius:
            self.offer([before, i, new])
            self.grow()
            return True
        self.keep(self.centres[:-1], self.radii[:-1])
        self.change(i, centre, radius)
        self.onward.pop()
        self.onward[i] = after
        return False

    def fit(self, i: int, j: int, sides: tuple[int, ...], most: float) -> list[list[float]]:
        """Return radii of circles on each side that touch two and overlap none; the last is the largest, 0 if none."""
        low, high = np.full(len(sides), self.least), np.full(len(sides), most)
        best = np.zeros(len(sides))
        side = np.repeat(np.array(sides, dtype=np.int64), len(SHARES))
        ends, rows = (np.array([i]), np.array([j])), np.arange(len(sides))
        all_found = []
        for _ in range(2):  # coarse, then fine between the last that fits and the first that does not
            tried = low[:, None] + (high - low)[:, None] * SHARES
            room = self.room(self.between(*ends, side, tried.ravel())).reshape(tried.shape)
            fits = room >= tried - 1e-9 * most
            last = np.where(fits.any(axis=1), len(SHARES) - 1 - np.argmax(fits[:, ::-1], axis=1), -1)
            found = np.where(last >= 0, tried[rows, last], 0.0)
            best = np.maximum(best, found)
            all_found.append(best)
            open_up = (last >= 0) & (last < len(SHARES) - 1)
            if not open_up.any():
                break
            low = np.where(open_up, found, best)
            high = np.where(open_up, tried[rows, np.minimum(last + 1, len(SHARES) - 1)], best)
        radii: list[list[float]] = np.stack(all_found, axis=1).tolist()
        return radii

    def drawn(self, tolerance: float) -> Path:
        """Return the vine's line."""
        order, i = [], 0
        while i >= 0:
            order.append(i)
            i = self.onward[i]
        centres, radii = self.centres[order], self.radii[order]
        step = np.diff(centres, axis=0)
        towards = np.arctan2(step[:, 1], step[:, 0])
        towards = towards - math.acos(DRAWN)
        enter = np.append(_stem(self.ends[0], centres[0], DRAWN * radii[0]), towards + np.pi)
        leave = np.append(towards, _stem(self.ends[1], centres[-1], DRAWN * radii[-1]))
        parts = [
            c + _spiral(DRAWN * r, a, b, self.settings.spacing_mm, tolerance)
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
    step = 1.3 * math.acos(max(1 - min(tolerance, FINE * spacing) / radius, 0.7))
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
    description="a vine of spirals, each wound in and out again",
    by_chance=True,
)
