"""The sides of the plumes: where each foot stands on the spine, and the curve from there to the outline."""

from __future__ import annotations

import numpy as np
from scipy.ndimage import gaussian_filter1d
from scipy.spatial import cKDTree

from ...geometry import crossing_pairs
from ...model import FloatArray
from .chart import Chart
from .sweep import Sweep

__all__ = ["feet", "foot_along", "side_table"]

PER_LABEL = 10
"""Feet are placed at this many labels a plume."""

FEET_APART, LEAST_APART_MM, MOST_APART = 0.42, 2.5, 1.6
"""Feet are at least this share of a width apart (and this many mm), so that no thread piles up on the spine, and
at most that share."""

SMOOTH_LABELS = 1.2
"""Feet are smoothed over about this many plumes."""

EASE_PLUMES = 3.0
"""Feet run up into the tip over this many plumes."""

SMOOTH_POINTS, SMOOTH_CALM_POINTS = 1.2, 4.0
"""Sides are smoothed over so many of their points, and the outermost two, where the chart turns sharply, over more."""

GIVE_POWER, BOW_POWER = 2.0, 2.4
"""How fast what a foot had to give way fades out along its side; and how fast a plain bow comes round."""

GIVES_MOST, LEAST_SPAN, TRUST_LABELS = 1.25, 0.6, 0.5
"""A side that gives way by more than this less one of its lean (and this many plumes) becomes a plain bow in part, and
wholly by the whole; over about so many plumes."""

FOOT_POINTS, LEAVES = 14, 0.12
"""The first points of a side that are kept off the spine, and the sine of the least angle at which they leave it."""

POINTS = 56
"""Points of a finished side, evenly along it."""


def feet(chart: Chart, sweep: Sweep, label: FloatArray) -> FloatArray:
    """Return the place on the spine (mm along the strip's inner side) where the side of each label stands.

    The first and last labels stand at the base, the two about ``chart.tip`` at the tip.
    """
    fine = np.linspace(0.0, chart.span, round(chart.span * PER_LABEL) + 1)
    outer = _top(chart, fine)
    wished = _place_of(chart, sweep.at(fine)[0][:, 0])
    width = np.gradient(_arc(outer), fine)
    if chart.closed:
        place = _feet_round(chart, fine, wished, width)
        lap = np.floor(label / chart.span)
        return np.asarray(np.interp(label - lap * chart.span, fine, place) + lap * chart.turn_mm)
    return np.asarray(np.interp(label, fine, _feet_up_and_down(chart, fine, wished, width)))


def foot_along(chart: Chart, sweep: Sweep) -> FloatArray:
    """Return the chart coordinate of the feet of a sweep's own labels, ``(n,)``."""
    return np.interp(feet(chart, sweep, sweep.label), chart.foot[:, 0], chart.foot[:, 1])


def _place_of(chart: Chart, along: FloatArray) -> FloatArray:
    # the place on the spine at a chart coordinate, carried on evenly beyond both ends of the strip
    foot = chart.foot
    out = np.interp(along, foot[:, 1], foot[:, 0])
    if not chart.closed:
        rate = (foot[-1, 0] - foot[0, 0]) / max(foot[-1, 1] - foot[0, 1], 1e-9)
        out = out + rate * (along - np.clip(along, foot[0, 1], foot[-1, 1]))
    return np.asarray(out)


def side_table(chart: Chart, sweep: Sweep, label: FloatArray, place: FloatArray) -> FloatArray:
    """Return the sides at given labels, ``(n, POINTS, 2)``, from foot to outline, evenly spaced along each."""
    start = np.interp(place, chart.foot[:, 0], chart.foot[:, 1])
    end = np.interp(label, chart.top[:, 0], chart.top[:, 1])
    along = _bent(chart, sweep, label, start, end)
    curve = sweep.field.places_at(along)
    curve[:, 0] = np.column_stack([np.interp(place, chart.foot[:, 0], chart.foot[:, k]) for k in (2, 3)])
    curve[:, -1] = _top(chart, label)
    plain = _off_the_spine(chart, place, _smoothed(_evenly(curve), SMOOTH_POINTS))
    return plain if chart.closed else _calmed(chart, label, plain)


def _bent(chart: Chart, sweep: Sweep, label: FloatArray, start: FloatArray, end: FloatArray) -> FloatArray:
    """Return chart coordinates of sides at the levels of a sweep, ``(n, levels)``.

    Where a foot had to give way by much, as at a base and a tip, the side is a plain bow from it instead.
    """
    along, share = sweep.at(label)
    gave = start - along[:, 0]
    swept = along + gave[:, None] * (1 - share) ** GIVE_POWER
    out = 1 - (1 - share) ** BOW_POWER
    plain = out * end[:, None] + (1 - out) * start[:, None]
    step = max(float(np.median(np.diff(label))), 1e-6)
    trust = GIVES_MOST - np.abs(gave) / np.maximum(np.abs(end - start), LEAST_SPAN)
    trust = np.clip(trust, 0.0, 1.0)
    if chart.tip is not None:
        trust[np.abs(label - chart.tip) < 0.5 + step / 2] = 0.0
    trust = gaussian_filter1d(trust, TRUST_LABELS / step, mode="wrap" if chart.closed else "nearest")
    along = plain + trust[:, None] * (swept - plain)
    along = (np.maximum.accumulate(along) + np.minimum.accumulate(along[::-1])[::-1]) / 2
    return np.asarray(along)


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


def _feet_up_and_down(chart: Chart, fine: FloatArray, wished: FloatArray, width: FloatArray) -> FloatArray:
    # both sides as labels and places counted from the base
    total, tip = chart.turn_mm, chart.tip or 0.0
    left = _feet_to_tip(wished, width, fine, chart.first, tip, total)
    back = slice(None, None, -1)
    right = _feet_to_tip(
        2 * total - wished[back],
        width[back],
        chart.span - fine[back],
        chart.span - chart.last,
        chart.span - tip,
        total,
    )
    return np.where(fine <= tip, left, 2 * total - right[back])


def _feet_to_tip(
    wished: FloatArray,
    width: FloatArray,
    label: FloatArray,
    first: float,
    tip: float,
    total: float,
) -> FloatArray:
    """Return feet from 0 at the base (label 0) to ``total`` at the tip, on one side of the spine."""
    step = label[1] - label[0]
    smooth = SMOOTH_LABELS / step
    skip = int(np.ceil(first / step - 1e-9))
    place = gaussian_filter1d(wished, smooth, mode="nearest")
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


def _feet_round(chart: Chart, fine: FloatArray, wished: FloatArray, width: FloatArray) -> FloatArray:
    step = fine[1]
    n = len(fine) - 1
    drift = np.linspace(0, chart.turn_mm, n + 1)
    wander = wished[:-1] - drift[:-1]
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
