"""Shapes that tests share: named zones, degenerate outlines, and a generator of random zones. All in mm."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
import shapely
from shapely import Point, Polygon
from shapely.affinity import rotate, scale

from plumeline.geometry import as_region, disc
from plumeline.model import Frame, Zone

IN = 25.4


def polygon(points, holes=()):
    """A region from points in inches, y down."""
    return as_region(np.array(points) * IN, [np.array(h) * IN for h in holes])


def rectangle(width, height):
    return polygon([(0, 0), (width, 0), (width, height), (0, height)])


def regular(sides, radius, turn=0.0):
    a = np.arange(sides) * 2 * np.pi / sides + math.radians(turn)
    return polygon(np.column_stack([radius * np.cos(a), radius * np.sin(a)]))


def star(points, radius, inner, turn=-90.0):
    a = np.arange(2 * points) * np.pi / points + math.radians(turn)
    r = np.where(np.arange(2 * points) % 2, inner, radius)
    return polygon(np.column_stack([r * np.cos(a), r * np.sin(a)]))


def ring(radius, inner):
    return as_region(disc((0, 0), radius * IN).difference(disc((0, 0), inner * IN)))


def koch(order=4, side=12.0):
    """The Koch outline: perimeter 113.7778 in at order 4, side 12 in."""
    points = [0j, side * np.exp(-1j * np.pi / 3), side + 0j]
    for _ in range(order):
        out = []
        for a, b in zip(points, points[1:] + points[:1]):
            step = (b - a) / 3
            out += [a, a + step, a + step + step * np.exp(-1j * np.pi / 3), a + 2 * step]
        points = out
    if Polygon([(z.real, z.imag) for z in points]).area < 70 * 1.0:  # spikes inwards: turn the other way
        points = [z.conjugate() for z in points]
    return polygon([(z.real, z.imag) for z in points])


BOLD_B = polygon(
    [
        (1.92, -9.19),
        (0.64, -9.19),
        (0.64, -10.0),
        (7.01, -9.99),
        (8.5, -9.76),
        (9.53, -9.22),
        (9.88, -8.83),
        (10.22, -7.83),
        (10.22, -7.31),
        (9.99, -6.56),
        (9.6, -6.11),
        (9.04, -5.78),
        (7.72, -5.46),
        (9.33, -5.08),
        (10.03, -4.65),
        (10.52, -4.1),
        (10.82, -3.16),
        (10.82, -2.53),
        (10.68, -1.89),
        (10.4, -1.34),
        (9.98, -0.89),
        (9.41, -0.54),
        (7.82, -0.1),
        (0.64, 0.0),
        (0.64, -0.81),
        (1.92, -0.81),
    ],
    [
        [
            (5.77, -0.82),
            (6.8, -1.01),
            (7.5, -1.45),
            (7.88, -2.17),
            (7.97, -2.89),
            (7.88, -3.62),
            (7.49, -4.35),
            (6.79, -4.82),
            (5.77, -5.02),
            (4.5, -5.02),
            (4.5, -0.81),
        ],
        [
            (4.5, -5.83),
            (6.58, -5.99),
            (7.22, -6.36),
            (7.56, -6.94),
            (7.57, -8.11),
            (7.23, -8.69),
            (6.61, -9.04),
            (5.93, -9.17),
            (4.5, -9.19),
        ],
    ],
)
"""A bold B with serifs, 10 in high: two openings, necks between, a bar on either side."""

BOLD_S = polygon(
    [
        (1.0, -2.7),
        (1.8, -2.7),
        (2.3, -1.6),
        (3.3, -0.8),
        (5.1, -0.6),
        (6.3, -1.1),
        (6.7, -2.1),
        (6.3, -3.0),
        (2.5, -4.3),
        (1.3, -5.1),
        (0.9, -6.5),
        (1.0, -7.8),
        (1.8, -9.0),
        (3.3, -9.7),
        (5.8, -9.7),
        (8.1, -9.2),
        (8.1, -7.1),
        (7.3, -7.1),
        (6.7, -8.4),
        (5.3, -9.0),
        (3.5, -8.8),
        (3.0, -8.4),
        (2.8, -7.7),
        (3.0, -7.0),
        (3.3, -6.6),
        (7.1, -5.5),
        (8.3, -4.6),
        (8.7, -3.6),
        (8.7, -2.4),
        (8.6, -1.8),
        (8.0, -0.8),
        (6.9, -0.1),
        (5.3, 0.2),
        (3.4, 0.1),
        (1.5, -0.3),
        (1.0, -0.5),
    ]
)
"""A bold S with serifs, 10 in high: wide in the middle, with two narrow hooks."""


NAMED = {
    "square12": rectangle(12, 12),
    "rectangle": rectangle(18, 6),
    "strip": rectangle(90, 4),
    "equilateral8": polygon([(0, 0), (8, 0), (4, -4 * math.sqrt(3))]),
    "right6": polygon([(0, 0), (6, 0), (0, -6)]),
    "skinny": polygon([(0, 0), (9, 0), (0, -3)]),
    "l12": polygon([(0, 0), (4, 0), (4, 8), (12, 8), (12, 12), (0, 12)]),
    "plus12": polygon(
        [(4, 0), (8, 0), (8, 4), (12, 4), (12, 8), (8, 8), (8, 12), (4, 12), (4, 8), (0, 8), (0, 4), (4, 4)]
    ),
    "star5": star(5, 6, 2.3),
    "star4": star(4, 7, 3.2),
    "circle4": disc((0, 0), 4 * IN),
    "ring": ring(7, 3),
    "frame14": polygon([(0, 0), (14, 0), (14, 14), (0, 14)], [[(1.5, 1.5), (1.5, 12.5), (12.5, 12.5), (12.5, 1.5)]]),
    "hole14": as_region(rectangle(14, 14).difference(disc((7 * IN, 7 * IN), 4 * IN))),
    "wobbly": polygon([(0.1, -0.2), (6, 0.3), (12.3, 0.1), (11.8, 6), (12.1, 11.7), (6, 12.3), (-0.2, 12.2), (0.3, 6)]),
    "two holes": as_region(
        rectangle(14, 10).difference(disc((4 * IN, 5 * IN), 1.5 * IN)).difference(disc((10 * IN, 5 * IN), 2 * IN))
    ),
}
"""Ordinary zones by name, in mm."""

DEGENERATE = {
    "speck": as_region([(0, 0), (0.5, 0), (0.5, 0.5), (0, 0.5)]),
    "sliver": as_region([(0, 0), (200, 0), (200, 0.2)]),
    "hair strip": as_region([(0, 0), (300, 0), (300, 0.4), (0, 0.4)]),
    "needle tip": as_region([(0, 0), (300, 4), (300, -4)]),
    "neck": as_region(
        [
            (0, 0),
            (80, 0),
            (80, 39.8),
            (120, 39.8),
            (120, 0),
            (200, 0),
            (200, 80),
            (120, 80),
            (120, 40.2),
            (80, 40.2),
            (80, 80),
            (0, 80),
        ]
    ),
    "comb": as_region(
        [
            (0, 0),
            *[p for k in range(8) for p in ((k * 20, 60), (k * 20 + 10, 60), (k * 20 + 10, 0), (k * 20 + 20, 0))],
            (160, -20),
            (0, -20),
        ]
    ),
    "doubled points": as_region([(0, 0), (100, 0), (100, 0), (100, 1e-7), (100, 100), (0, 100)]),
    "thin ring": as_region(disc((0, 0), 60).difference(disc((0, 0), 59))),
    "hole near edge": as_region(Polygon([(0, 0), (150, 0), (150, 150), (0, 150)]).difference(disc((40, 75), 39.5))),
    "koch": koch(3, 8.0),
    "far away": as_region(np.array([(0, 0), (150, 0), (150, 100), (0, 100)]) + 1e5),
}
"""Outlines that defeat careless geometry, by name, in mm."""


def zone(region, *, name="zone", frame=None, chance=7, **more):
    """A zone of one region, with its frame at its middle."""
    region = as_region(region)
    centre = region.centroid
    frame = frame or Frame((centre.x, centre.y), 0.0)
    return Zone(name=name, part="", number=1, region=region, outline=region, frame=frame, chance=chance, **more)


def moved(z, shift, angle_deg):
    """The zone moved by ``shift`` and turned about its frame's origin, frame and all."""
    from dataclasses import replace

    origin = np.asarray(z.frame.origin)
    new = Frame(tuple(origin + shift), z.frame.angle_deg + angle_deg)

    def go(region):
        return shapely.transform(region, lambda p: new.to_page(z.frame.to_local(p)))

    return replace(z, region=go(z.region), outline=go(z.outline), frame=new)


def random_regions(count, *, seed=1, holes=True) -> Iterator[Polygon]:
    """Random zones: ragged stars of 8-60 points, a third of them pieced unions with necks down to 0.3 in."""
    rng = np.random.default_rng(seed)
    made = 0
    while made < count:
        region = _pieced(rng) if made % 3 == 2 else _ragged(rng)
        if holes:
            region = _with_holes(region, rng)
        if isinstance(region, Polygon) and region.is_valid and region.area > IN**2:
            made += 1
            yield as_region(region)


def _ragged(rng):
    n = int(rng.integers(8, 61))
    angle = np.sort(rng.uniform(0, 2 * np.pi, n))
    spread = rng.choice([0.2, 0.8, 1.6])
    radius = np.clip(5 + rng.uniform(-spread, spread, n), 1.2, 8) * IN
    shape = Polygon(np.column_stack([radius * np.cos(angle), radius * np.sin(angle)]))
    return scale(shape, 1.0, rng.uniform(0.5, 1.0)) if shape.is_valid else shape


def _pieced(rng):
    shape = Polygon([(0, 0), (6, 0), (6, 6), (0, 6)])
    for _ in range(int(rng.integers(1, 4))):
        side = rng.uniform(2, 5)
        corners = [(0, 0), (side, 0), (side, side), (0, side)]
        if rng.random() < 0.5:
            corners.pop(2)
        _left, top, right, bottom = shape.bounds
        shift = np.array([right - rng.uniform(0.05, 1.0), rng.uniform(top, bottom - 0.3)])
        other = Polygon(np.array(corners) + shift)
        joined = shape.union(other)
        if isinstance(joined, Polygon):
            shape = rotate(joined, float(rng.choice([0, 90, 180, 270])), origin=(0, 0))
    return shapely.transform(shape, lambda p: p * IN)


def _with_holes(region, rng):
    if not (isinstance(region, Polygon) and region.is_valid):
        return region
    for _ in range(int(rng.integers(0, 3))):
        room = region.buffer(-(rng.uniform(0.4, 1.3) + 0.6) * IN)
        if room.is_empty:
            continue
        left, top, right, bottom = room.bounds
        for _try in range(20):
            at = Point(rng.uniform(left, right), rng.uniform(top, bottom))
            if room.contains(at):
                radius = max(min(region.boundary.distance(at) - 0.6 * IN, rng.uniform(0.4, 1.3) * IN), 0.1)
                cut = region.difference(disc((at.x, at.y), radius))
                region = cut if isinstance(cut, Polygon) else region
                break
    return region


def coast(points, *, seed, width=20.0, height=8.0, rough=0.42):
    """A fractal coast of about so many points, in a box of inches: an ellipse whose legs are broken again and again.

    Midpoints are moved aside by a normal deviate of ``rough`` half legs; where that crosses, the outline is mended and
    its largest piece kept.
    """
    rng = np.random.default_rng(seed)
    angle = np.arange(8) * np.pi / 4
    ring = np.column_stack([np.cos(angle), np.sin(angle)])
    while len(ring) < points:
        leg = np.roll(ring, -1, axis=0) - ring
        aside = np.column_stack([-leg[:, 1], leg[:, 0]]) * rng.normal(0, rough / 2, (len(ring), 1))
        ring = np.stack([ring, ring + leg / 2 + aside], axis=1).reshape(-1, 2)
    low, high = ring.min(axis=0), ring.max(axis=0)
    ring = (ring - low) / (high - low) * (width * IN, height * IN)
    mended = shapely.make_valid(Polygon(ring), method="structure", keep_collapsed=False)
    return as_region(max(getattr(mended, "geoms", [mended]), key=lambda p: p.area))
