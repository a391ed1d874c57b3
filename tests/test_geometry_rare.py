"""Regions that are hardly any: sides curved by design, rings without an inside, paths of one point."""

from __future__ import annotations

import numpy as np
import pytest
from shapely import Polygon, box

from plumeline.geometry import dense_runs, nearest_on, painted_regions, straightened
from plumeline.geometry.areas.outlines import sound_outline


def test_straight_sides_are_laid_true_and_sides_curved_by_design_are_left():
    """A square whose upper side sags by 1 in 100 is 100 x 99.33 with that side through its mean (2/3 of the sag)."""
    t = np.linspace(0, 1, 41)[:-1]
    sag = np.column_stack([100 * t, 4 * t * (1 - t)])
    rest = np.array([(100.0, 0), (100, 100), (0, 100)])
    made = straightened(Polygon(np.vstack([sag, rest])), inside=False)
    assert made.area == pytest.approx(100 * (100 - 2 / 3), rel=1e-3)
    assert made.bounds == pytest.approx((0, 2 / 3, 100, 100), abs=0.05)
    within = straightened(Polygon(np.vstack([sag, rest])), inside=True)
    assert within.bounds == pytest.approx((0, 1, 100, 100), abs=0.05)
    deep = sag * (1, 20)
    assert straightened(Polygon(np.vstack([deep, rest])), inside=False) is None
    assert straightened(Polygon(box(0, 0, 1, 1).buffer(50, quad_segs=64).exterior), inside=False) is None


def test_rings_that_enclose_nothing_paint_nothing():
    assert painted_regions([np.array([(0.0, 0), (5, 5)])]) == []
    there_and_back = np.array([(0.0, 0), (100, 0), (100, 0), (0, 0)])
    assert painted_regions([there_and_back]) == []


def test_a_path_of_one_point_has_no_runs():
    assert list(dense_runs([[(0, 0)]], 1.0)) == []
    (run,) = dense_runs([[(0, 0)], [(0, 0), (10, 0)]], 1.0)
    assert run[0].tolist() == [0, 0] and run[-1].tolist() == [10, 0]
    assert np.hypot(*np.diff(run, axis=0).T).max() <= 1.0


def test_an_outline_that_crosses_itself_by_a_hair_is_mended_without_a_hole_too():
    hair = np.array([(0.0, 0), (100, 0), (100, 100), (50, 100.02), (50.01, 100), (0, 100)])
    region, change = sound_outline(hair, [], within_mm=0.8)
    assert region.is_valid and region.area == pytest.approx(10_000, abs=5) and change < 5


@pytest.mark.parametrize("closed", [True, False])
def test_many_points_find_the_nearest_place_of_a_long_path(closed):
    # checked against every segment for every point, in plain arithmetic
    rng = np.random.default_rng(3)
    t = np.linspace(0, 2 * np.pi, 600, endpoint=False)
    path = np.column_stack([np.cos(t), np.sin(t)]) * (100 + rng.uniform(-8, 8, 600))[:, None]
    points = np.vstack([rng.uniform(-120, 120, (150, 2)), path[::20]])  # on corners too, where two segments are as near
    got = nearest_on(path, points, closed=closed)
    run = np.vstack([path, path[:1]]) if closed else path
    a, step = run[:-1], np.diff(run, axis=0)
    long = np.hypot(*step.T)
    part = np.clip(((points[:, None] - a) * step).sum(axis=2) / long**2, 0, 1)
    away = np.hypot(*np.moveaxis(a + part[..., None] * step - points[:, None], -1, 0))
    at = np.argmax(away <= away.min(axis=1, keepdims=True) + 1e-9, axis=1)  # the first of the nearest
    along = (np.cumsum(long) - long)[at] + part[np.arange(len(at)), at] * long[at]
    assert got == pytest.approx(along, abs=1e-6)
    few = nearest_on(path, points[:5], closed=closed)  # goes along the path
    assert few == pytest.approx(along[:5], abs=1e-6)
