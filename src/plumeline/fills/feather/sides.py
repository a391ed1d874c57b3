"""The sides of the plumes: where each foot stands on the spine, and the curve from there to the outline."""

from __future__ import annotations

import numpy as np
from scipy.ndimage import gaussian_filter1d
from scipy.spatial import cKDTree

from ...geometry import crossing_pairs
from ...model import FloatArray
from .chart import Chart

__all__ = ["feet", "side_table"]

PER_LABEL = 10
"""Feet are placed at this many labels a plume."""

SQUARE_ON = 0.5
"""Share of the foot of the perpendicular in a natural foot; the rest is the chart's own. The chart alone crowds the
feet below far corners, the perpendicular alone piles them up inside a bend."""

FEET_APART, LEAST_APART_MM, MOST_APART = 0.42, 2.5, 1.3
"""Feet are at least this share of a width apart (and this many mm), so that no thread piles up on the spine, and
at most that share."""

SMOOTH_LABELS = 1.2
"""Feet are smoothed over about this many plumes."""

EASE_PLUMES = 3.0
"""Feet run up into the tip over this many plumes."""

SWEEP = 2.4
"""How much a side bends near its foot: its angle there is about this times the mean lean, none at the outline."""

LEVELS_EVEN, LEVELS_OUT = 20, 28
"""Points of a side at even levels of the chart, and at levels that near 1 by equal ratios, as far corners need."""

SMOOTH_POINTS, SMOOTH_CALM_POINTS = 1.2, 4.0
"""Sides are smoothed over so many of their points, and the outermost two, where the chart turns sharply, over more."""

FOOT_POINTS, LEAVES = 14, 0.12
"""The first points of a side that are kept off the spine, and the sine of the least angle at which they leave it."""

POINTS = 56
"""Points of a finished side, evenly along it."""


def feet(chart: Chart, label: FloatArray, lean: float) -> FloatArray:
    """Return the place on the spine (mm along the strip's inner side) where the side of each label stands.

    The first and last labels stand at the base, the two about ``chart.tip`` at the tip.
    """
    fine = np.linspace(0.0, chart.span, round(chart.span * PER_LABEL) + 1)
    outer = _top(chart, fine)
    natural = _natural(chart, fine, outer)
    at = np.column_stack([np.interp(natural, chart.foot[:, 0], chart.foot[:, k]) for k in (2, 3)])
    length = np.hypot(*(outer - at).T)
    width = np.gradient(_arc(outer), fine)
    place = (
        _feet_round(chart, fine, natural, length, width, lean)
        if chart.closed
        else _feet_up_and_down(chart, fine, natural, length, width, lean)
    )
    if chart.closed:
        lap = np.floor(label / chart.span)
        return np.asarray(np.interp(label - lap * chart.span, fine, place) + lap * chart.turn_mm)
    return np.asarray(np.interp(label, fine, place))


def side_table(chart: Chart, label: FloatArray, place: FloatArray) -> FloatArray:
    """Return the sides at given labels, ``(n, POINTS, 2)``, from foot to outline, evenly spaced along each."""
    start = np.interp(place, chart.foot[:, 0], chart.foot[:, 1])
    end = np.interp(label, chart.top[:, 0], chart.top[:, 1])
    across = np.unique(
        np.concatenate([1 - np.geomspace(1.0, 1e-4, LEVELS_OUT), np.linspace(0, 1, LEVELS_EVEN + 2)[1:-1]])
    )[1:]
    out = 1 - (1 - across) ** SWEEP
    along = out[None, :] * end[:, None] + (1 - out)[None, :] * start[:, None]
    inner = chart.strip.places(along.ravel(), np.broadcast_to(across, along.shape).ravel())
    curve = np.concatenate(
        [
            np.column_stack([np.interp(place, chart.foot[:, 0], chart.foot[:, k]) for k in (2, 3)])[:, None],
            inner.reshape(*along.shape, 2),
            _top(chart, label)[:, None],
        ],
        axis=1,
    )
    plain = _off_the_spine(chart, place, _smoothed(_evenly(curve), SMOOTH_POINTS))
    return plain if chart.closed else _calmed(chart, label, plain)


def _calmed(chart: Chart, label: FloatArray, table: FloatArray) -> FloatArray:
    """Return the table with the outermost sides smoothed more, each unless it would then reach the spine."""
    spine = chart.foot[chart.foot[:, 0] <= chart.turn_mm, 2:]
    calm = _smoothed(table, SMOOTH_CALM_POINTS)
    share = np.zeros(len(label))
    for away, side in ((label - chart.first, 0), (chart.last - label, -1)):
        if not len(crossing_pairs([calm[side, 1:], spine])):
            share = np.maximum(share, 1 - away)
    return np.asarray(table + np.clip(share, 0.0, 1.0)[:, None, None] * (calm - table))


def _off_the_spine(chart: Chart, place: FloatArray, table: FloatArray) -> FloatArray:
    """Return the sides with their first points kept off the spine, at a small angle at least.

    A side may leave the spine along it, and between two of its points a bend of the spine could then reach it.
    """
    line = chart.foot[(chart.foot[:, 0] >= 0) & (chart.foot[:, 0] <= chart.turn_mm), 2:]
    near = table[:, 1:FOOT_POINTS]
    _, node = cKDTree(line).query(near)
    node = np.clip(node, 1, len(line) - 2)
    way = line[node + 1] - line[node - 1]
    way /= np.maximum(np.hypot(way[..., 0], way[..., 1]), 1e-12)[..., None]
    offset = near - line[node]
    aside = way[..., 1] * offset[..., 0] - way[..., 0] * offset[..., 1]
    # the right side of an open spine lies on the other hand
    hand = np.where(chart.closed | (place <= chart.turn_mm), 1.0, -1.0)[:, None]
    sign = np.sign(np.median(aside * hand)) * hand
    gone = np.hypot(*np.moveaxis(near - table[:, :1], 2, 0))
    lack = np.clip(LEAVES * gone - sign * aside, 0.0, LEAVES * gone)
    if not chart.closed:
        # round the tip there is no spine to keep off
        lack[place == chart.turn_mm] = 0.0
    fade = np.linspace(1.0, 0.0, FOOT_POINTS)[:-1]
    out = table.copy()
    out[:, 1:FOOT_POINTS] += (sign * lack * fade)[..., None] * np.stack([way[..., 1], -way[..., 0]], axis=-1)
    return out


def _evenly(curve: FloatArray) -> FloatArray:
    step = np.hypot(*np.moveaxis(np.diff(curve, axis=1), 2, 0))
    s = np.concatenate([np.zeros((len(curve), 1)), np.cumsum(step, axis=1)], axis=1)
    share = np.linspace(0.0, 1.0, POINTS)
    out = np.empty((len(curve), POINTS, 2))
    for i, (points, lengths) in enumerate(zip(curve, s)):
        for k in (0, 1):
            out[i, :, k] = np.interp(share * lengths[-1], lengths, points[:, k])
    return out


def _smoothed(table: FloatArray, sigma: float) -> FloatArray:
    # mirrored in their ends, sides keep both
    turned = np.concatenate([2 * table[:, :1] - table[:, :0:-1], table, 2 * table[:, -1:] - table[:, -2::-1]], axis=1)
    smooth: FloatArray = gaussian_filter1d(turned, sigma, axis=1, mode="nearest")[:, POINTS - 1 : 2 * POINTS - 1]
    smooth[:, [0, -1]] = table[:, [0, -1]]
    return smooth


def _top(chart: Chart, label: FloatArray) -> FloatArray:
    return np.column_stack([np.interp(label, chart.top[:, 0], chart.top[:, k]) for k in (2, 3)])


def _arc(points: FloatArray) -> FloatArray:
    return np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])


def _natural(chart: Chart, fine: FloatArray, outer: FloatArray) -> FloatArray:
    by_chart = np.interp(np.interp(fine, chart.top[:, 0], chart.top[:, 1]), chart.foot[:, 1], chart.foot[:, 0])
    foot, turn = chart.foot, chart.turn_mm
    if chart.closed:
        # the nearest foot of one lap, in the lap that the chart says
        square = _nearest(foot[(foot[:, 0] >= 0) & (foot[:, 0] < turn)], outer)
        square += turn * np.round((by_chart - square) / turn)
    else:
        up = foot[:, 0] <= turn
        left = fine <= (chart.tip or 0.0)
        square = np.where(left, _nearest(foot[up], outer), _nearest(foot[~up], outer))
    square = (np.maximum.accumulate(square) + np.minimum.accumulate(square[::-1])[::-1]) / 2
    return np.asarray(SQUARE_ON * square + (1 - SQUARE_ON) * by_chart)


def _nearest(foot: FloatArray, points: FloatArray) -> FloatArray:
    # the place on the spine nearest to each point
    return np.asarray(foot[cKDTree(foot[:, 2:]).query(points)[1], 0])


def _feet_up_and_down(
    chart: Chart, fine: FloatArray, natural: FloatArray, length: FloatArray, width: FloatArray, lean: float
) -> FloatArray:
    # both sides as labels and places counted from the base
    total, tip = chart.turn_mm, chart.tip or 0.0
    left = _feet_to_tip(natural, length, width, fine, chart.first, tip, total, lean)
    back = slice(None, None, -1)
    right = _feet_to_tip(
        2 * total - natural[back],
        length[back],
        width[back],
        chart.span - fine[back],
        chart.span - chart.last,
        chart.span - tip,
        total,
        lean,
    )
    return np.where(fine <= tip, left, 2 * total - right[back])


def _feet_to_tip(
    natural: FloatArray,
    length: FloatArray,
    width: FloatArray,
    label: FloatArray,
    first: float,
    tip: float,
    total: float,
    lean: float,
) -> FloatArray:
    """Return feet from 0 at the base (label 0) to ``total`` at the tip, on one side of the spine."""
    step = label[1] - label[0]
    smooth = SMOOTH_LABELS / step
    skip = int(np.ceil(first / step - 1e-9))
    place = gaussian_filter1d(natural, smooth, mode="nearest") - lean * gaussian_filter1d(
        length, smooth, mode="nearest"
    )
    last = tip - 0.5
    steps = round(last / step)
    apart = np.maximum(FEET_APART * width, LEAST_APART_MM)[: steps + 1]
    apart[:skip] = 0.0
    need = np.concatenate([[0.0], np.cumsum((apart[1:] + apart[:-1]) / 2 * step)])
    need *= min(1.0, 0.9 * total / max(need[-1], 1e-9))
    # as far along as it wants, but never nearer to the one before, nor so far that those after find no room
    wish = np.minimum(np.maximum(place[: steps + 1], 0.0), total)
    lift = np.clip((label[: steps + 1] - (last - EASE_PLUMES)) / EASE_PLUMES, 0.0, 1.0)
    wish = wish + (total - wish[-1]) * lift**2 * (3 - 2 * lift)
    excess = np.maximum.accumulate(np.maximum(wish - need, 0.0))
    excess = np.minimum(excess, total - need[-1])
    wish[: skip + 1] = 0.0
    rate = MOST_APART * gaussian_filter1d(width, smooth, mode="nearest")[: steps + 1] * step
    for k in range(steps - 1, -1, -1):
        excess[k] = max(excess[k], excess[k + 1] - (rate[k] - (need[k + 1] - need[k])))
    out = need + excess
    scale = out - out[0]
    out = scale * (total / scale[-1]) if scale[-1] > 0 else np.linspace(0, total, steps + 1)
    out = out[skip:]
    n = len(out)
    out = gaussian_filter1d(np.concatenate([-out[:0:-1], out, 2 * total - out[-2::-1]]), 0.6 / step, mode="nearest")
    out = np.clip(out[n - 1 : 2 * n - 1], 0.0, total)
    out[0], out[-1] = 0.0, total
    return np.concatenate([np.zeros(skip), np.maximum.accumulate(out), np.full(len(label) - skip - n, total)])


def _feet_round(
    chart: Chart, fine: FloatArray, natural: FloatArray, length: FloatArray, width: FloatArray, lean: float
) -> FloatArray:
    step = fine[1]
    n = len(fine) - 1
    drift = np.linspace(0, chart.turn_mm, n + 1)
    wander = natural[:-1] - drift[:-1] - lean * length[:-1]
    wander = gaussian_filter1d(wander, SMOOTH_LABELS / step, mode="wrap")
    place = wander + drift[:-1]
    rate = np.diff(np.append(place, place[0] + chart.turn_mm))
    w = gaussian_filter1d(width[:-1], SMOOTH_LABELS / step, mode="wrap")
    least = np.maximum(FEET_APART * w, LEAST_APART_MM) * step
    least *= min(1.0, 0.9 * chart.turn_mm / least.sum())
    rate = np.maximum(rate, least)
    spare = rate - least
    rate = least + spare * ((chart.turn_mm - least.sum()) / max(spare.sum(), 1e-9))
    rate = gaussian_filter1d(rate, 0.6 / step, mode="wrap")
    out = np.concatenate([[0.0], np.cumsum(rate)])
    return np.asarray(out + (place - out[:-1]).mean())
