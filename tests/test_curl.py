"""The curl: one vine of touching circles, smooth, without crossings, filling corners."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from plumeline import fill
from plumeline import geometry as g
from plumeline.fills.curl import FILL, CurlSettings, _spiral
from plumeline.model import Fence, as_path
from shapes import DEGENERATE, IN, NAMED, moved, random_regions, rectangle, zone


def drawn(z, size=1.5, spacing=0.25, variation=0.3, seed=3):
    settings = CurlSettings(size_mm=size * IN, spacing_mm=spacing * IN, variation=variation)
    return FILL(z, settings, rng=np.random.default_rng(seed))


def check(filled, region):
    paths = [s.path for s in filled.strokes]
    for path in paths:
        assert g.is_simple(path)
        assert np.hypot(*np.diff(path, axis=0).T).min() > 1e-6
        # Smooth: no vertex turns by more than a curve of this fineness does; a corner would turn by far more.
        assert np.abs(g.turns(path)).max() < 0.7
    assert len(g.self_crossings(paths)) == 0
    assert g.outside_mm(paths, region, tolerance_mm=0.02) == 0


@given(st.floats(1.0, 60.0), st.floats(0.0, 6.28), st.floats(0.5, 5.78), st.floats(0.5, 12.0))
def test_spiral(radius, enter, turn, spacing):
    leave = enter + turn
    path = _spiral(radius, enter, leave, spacing, 0.05)
    ends = radius * np.array([[math.cos(a), math.sin(a)] for a in (enter, leave)])
    assert np.abs(path[[0, -1]] - ends).max() < 1e-6 * radius
    assert np.hypot(*path.T).max() <= radius * (1 + 1e-9)
    assert g.is_simple(path)
    # It leaves the circle along it: inwards one way about, outwards the other.
    for k, way in ((0, -1), (-1, 1)):
        step = path[1] - path[0] if k == 0 else path[-1] - path[-2]
        along = way * np.array([-ends[k][1], ends[k][0]]) / radius
        assert step @ along / np.hypot(*step) > 0.95


@pytest.mark.parametrize("spacing", [2.0, 4.0])
def test_spiral_is_evenly_wound(spacing):
    # Two arms, one spacing apart: in all pi r^2 / spacing long.
    path = _spiral(40.0, 0.3, 3.0, spacing, 0.01)
    assert g.path_length(path) == pytest.approx(math.pi * 40**2 / spacing, rel=0.1)
    found = g.strand_spacing([path], spacing)
    assert found.mean_mm == pytest.approx(spacing, rel=0.15)


@pytest.mark.parametrize("name", ["square12", "equilateral8", "l12", "star5", "ring", "wobbly", "right6", "hole14"])
def test_one_smooth_vine(name):
    region = NAMED[name]
    filled = drawn(zone(region))
    check(filled, region)
    (stroke,) = filled.strokes
    assert g.boundary_distance(region, stroke.path[[0, -1]]) == pytest.approx([0, 0], abs=0.02)
    # Corners and pockets filled: no bald spot nearly as large as a curl.
    assert g.widest_gap([stroke.path], region).diameter_mm < 0.75 * 1.5 * IN


def test_each_curl_touches_the_next():
    # Where the turn changes sign, two curls meet or one turns in its middle: the vine has two such points a curl.
    path = drawn(zone(rectangle(6, 6))).strokes[0].path
    sign = np.sign(g.turns(path))
    sign = sign[sign != 0]
    assert (np.diff(sign) != 0).sum() > 40


def test_no_variation_makes_larger_curls():
    even, varied = (drawn(zone(rectangle(12, 12)), variation=v).strokes[0].path for v in (0.0, 0.7))
    assert g.turning(even) < g.turning(varied)


def test_same_again_and_moved():
    z = zone(NAMED["l12"])
    first, again = drawn(z), drawn(z)
    assert first.strokes[0].path.tobytes() == again.strokes[0].path.tobytes()
    there = moved(z, (531.7, -92.1), 37.0)
    back = z.frame.to_page(there.frame.to_local(drawn(there).strokes[0].path))
    assert np.abs(back - first.strokes[0].path).max() < 0.05


def test_each_piece_between_fences_its_own_vine():
    z = zone(rectangle(12, 12), fences=(Fence(as_path([(-10, 100), (400, 140)])),))
    filled = drawn(z)
    check(filled, rectangle(12, 12))
    assert len(filled.strokes) == 2
    assert g.fence_crossings([s.path for s in filled.strokes], z.fences) == 0


@pytest.mark.parametrize("name", DEGENERATE)
def test_degenerate_zones(name):
    filled = drawn(zone(DEGENERATE[name]))
    check(filled, DEGENERATE[name])
    if not filled.strokes:
        assert [f.code for f in filled.findings] == ["fill-too-small"]


@pytest.mark.parametrize("k", range(20))
def test_random_zones(k):
    region = list(random_regions(20, seed=6))[k]
    filled = drawn(zone(region))
    assert filled.strokes
    check(filled, region)
    assert ("curl-in-parts" in [f.code for f in filled.findings]) == (len(filled.strokes) > 1)


@pytest.mark.parametrize("k", [95, 101, 128, 188])
def test_first_and_last_stretch_keep_off_where_two_curls_touch(k):
    # Here they met their curl just where the next one touches it, and chords of the three strands crossed.
    region = list(random_regions(k + 1, seed=1))[k]
    check(fill("curl", region), region)
