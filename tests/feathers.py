"""Feathers that tests and the benchmark share: zones of FEATHER's table with their spines, in mm, y down."""

from __future__ import annotations

import numpy as np
import shapely
from scipy.interpolate import CubicSpline

from plumeline.fills.feather.growth import Growth
from plumeline.geometry import as_region
from shapes import IN, NAMED, polygon, ring


def bowed(start, end, bow=0.04, n=160):
    """A gentle S from start to end, inches."""
    start, end = np.array(start, float), np.array(end, float)
    t, way = np.linspace(0, 1, n)[:, None], end - start
    return start + way * t + np.array([-way[1], way[0]]) * bow * np.sin(2 * np.pi * t)


def smooth(points, n=200):
    """A smooth curve through points, inches."""
    p = np.array(points, float)
    s = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(p, axis=0).T))])
    return CubicSpline(s, p)(np.linspace(0, s[-1], n))


def loop(radius, n=240):
    """A circle, inches; radius may vary with the angle."""
    a = np.linspace(0, 2 * np.pi, n, endpoint=False)
    r = radius(a) if callable(radius) else radius
    return np.column_stack([r * np.cos(a), r * np.sin(a)])


def growth(shape, spine, **more):
    """A feather from points (inches, y up) or a region, and a spine in inches, y up."""
    region = shape if isinstance(shape, shapely.Polygon) else polygon([(x, -y) for x, y in shape])
    return Growth(region, np.asarray(spine) * [IN, -IN], **more)


def _between(a):
    # midway between a 12 in square and a 4 in square on point, rounded
    square = 6 / np.maximum(np.abs(np.cos(a)), np.abs(np.sin(a)))
    point = 2 * np.sqrt(2) / (np.abs(np.cos(a)) + np.abs(np.sin(a)))
    wave = np.fft.rfft((square + point) / 2)
    wave[25:] = 0
    return np.fft.irfft(wave, len(a))


X = np.linspace(0, 18, 300)
STAR = [(r * np.sin(a), r * np.cos(a)) for a, r in zip(np.arange(8) * np.pi / 4, [7, 3.2] * 4, strict=True)]
POINT = 2 * np.sqrt(2)
CURVE = np.array([(0, 1.4), (2, 1.4), (5, 0.62), (9, 0)])
T = np.linspace(0, 1, 200)[:, None]
FEATHERS = {
    "square": growth([(0, 0), (12, 0), (12, 12), (0, 12)], bowed((0, 0), (12, 12))),
    "quarter": growth([(0, 0), (7, 0), (7, 7), (0, 7)], bowed((0, 0), (7, 7))),
    "equilateral": growth([(0, 0), (8, 0), (4, 4 * 3**0.5)], bowed((4, 0), (4, 4 * 3**0.5), 0.02)),
    "right": growth([(0, 0), (6, 0), (0, 6)], bowed((0, 0), (3, 3), 0.03)),
    "skinny": growth(
        [(0, 0), (9, 0), (0, 3)],
        (1 - T) ** 3 * CURVE[0] + 3 * T * (1 - T) ** 2 * CURVE[1] + 3 * T**2 * (1 - T) * CURVE[2] + T**3 * CURVE[3],
    ),
    "border": growth([(0, 0), (18, 0), (18, 6), (0, 6)], np.column_stack([X, 3 + 1.1 * np.sin(2 * np.pi * X / 18)])),
    "L": growth(
        [(0, 0), (12, 0), (12, 6), (6, 6), (6, 12), (0, 12)],
        smooth([(3, 12), (3, 9), (3, 6), (3.84, 3.84), (6, 3), (9, 3), (12, 3)]),
    ),
    "cross": growth(
        [(4, 0), (8, 0), (8, 4), (12, 4), (12, 8), (8, 8), (8, 12), (4, 12), (4, 8), (0, 8), (0, 4), (4, 4)],
        bowed((6, 0), (6, 12), 0.02),
    ),
    "star": growth(STAR, bowed((0, -7), (0, 7), 0.015)),
    "wobbly": growth(
        [(0.1, -0.2), (6, 0.3), (12.3, 0.1), (11.8, 6), (12.1, 11.7), (6, 12.3), (-0.2, 12.2), (0.3, 6)],
        bowed((0.1, -0.2), (12.1, 11.7)),
    ),
    "ring quarter": growth([(0.35, 0), (7, 0), (7, 7), (0, 7), (0, 0.35)], bowed((0.175, 0.175), (7, 7), 0.03)),
    "wreath": growth(ring(7, 3), loop(5), closed=True),
    "hole block": growth(
        as_region(
            np.array([(-6, -6), (6, -6), (6, 6), (-6, 6)]) * IN,
            [np.array([(POINT, 0), (0, POINT), (-POINT, 0), (0, -POINT)]) * IN],
        ),
        loop(_between),
        closed=True,
    ),
    "floating": growth(NAMED["circle4"], bowed((-2, -0.3), (4, 0.5), 0.03), floating=True),
}
"""Feathers by name: the zones of the method's table, and one whose base floats."""


def through_the_middle(region):
    """A spine for any zone: the longest chord that keeps 6 mm off the outline but for its ends; None without one."""
    edge = np.array(shapely.segmentize(region.exterior, region.exterior.length / 60).coords)[:-1]
    roomy, shut = region.buffer(-6), region.buffer(1e-6)
    shapely.prepare([roomy, shut])
    i, j = np.triu_indices(len(edge), 2)
    a, b = edge[i], edge[j]
    good = np.flatnonzero(np.hypot(*(b - a).T) > 60)
    good = good[
        shapely.covers(roomy, shapely.linestrings(np.stack([0.93 * a + 0.07 * b, 0.15 * a + 0.85 * b], 1)[good]))
    ]
    good = good[shapely.covers(shut, shapely.linestrings(np.stack([a, b], axis=1)[good]))]
    if not len(good):
        return None
    best = good[np.hypot(*(b - a)[good].T).argmax()]
    found = a[best], b[best]
    for bow in (0.03, 0.01, 0.0):
        line = bowed(*found, bow, 120)
        if shut.covers(shapely.LineString(line)):
            return line
    return None


def side_figures(row, spine):
    """Figures of the sides seen between two plumes of a row, ``(n, 4)``.

    Greatest distance from the chord over the chord; length over the wider neighbour's width; degrees between side and
    spine over the side's first eighth (nan where neighbours share a trunk); degrees that it turns in all.
    """
    count, width = len(row.tops.lines), [p.width_mm for p in row.plumes]
    line = np.vstack([spine, spine[:1]]) if row.closed else np.asarray(spine)
    out = []
    for k in range(0 if row.closed else 1, count):
        before, start = (k - 1) % count, int(row.starts[k])
        side = row.sides[k, start : min(int(row.tops.last[before]), int(row.tops.first[k])) + 1]
        along = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(side, axis=0).T))])
        if row.skipped[before] or row.skipped[k] or along[-1] < 3.0:
            continue
        even = np.column_stack([np.interp(np.linspace(0, along[-1], 17), along, side[:, i]) for i in (0, 1)])
        chord, step = even[-1] - even[0], np.diff(even, axis=0)
        away = np.abs((even - even[0]) @ [-chord[1], chord[0]]) / np.hypot(*chord) ** 2
        turns = np.diff(np.unwrap(np.arctan2(step[:, 1], step[:, 0])))
        near = min(max(int(np.hypot(*(line - side[0]).T).argmin()), 1), len(line) - 2)
        way, first = line[near + 1] - line[near - 1], even[2] - even[0]
        base = np.degrees(np.abs(np.arctan2(way[0] * first[1] - way[1] * first[0], way @ first)))
        wide = max(width[before], width[k])
        out.append((away.max(), along[-1] / wide, base if start == 0 else np.nan, np.degrees(np.abs(turns).sum())))
    return np.array(out).reshape(-1, 4)
