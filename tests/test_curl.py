"""The curl: one vine of touching circles, smooth, without crossings, filling corners."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from scipy.ndimage import distance_transform_edt
from shapely import Point, Polygon

from plumeline import fill
from plumeline import geometry as g
from plumeline.fills.curl import FILL, CurlSettings, _spiral
from plumeline.fills.kit.leaves import with_leaves
from plumeline.fills.kit.stack import Layer, fill_zone
from plumeline.model import Fence, Filled, Stroke, as_path
from shapes import BOLD_S, DEGENERATE, IN, NAMED, moved, polygon, random_regions, rectangle, zone


def drawn(z, size=1.5, spacing=0.25, variation=0.3, seed=3):
    settings = CurlSettings(size_mm=size * IN, spacing_mm=spacing * IN, variation=variation)
    return FILL(z, settings, rng=np.random.default_rng(seed))


def check(filled, region):
    paths = [s.path for s in filled.strokes]
    for path in paths:
        assert g.is_simple(path)
        assert np.hypot(*np.diff(path, axis=0).T).min() > 1e-6
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


@pytest.mark.parametrize("name", ["square12", "l12", "ring", "wobbly"])
def test_vine_without_its_leaves_is_smooth(name, monkeypatch):
    monkeypatch.setattr("plumeline.fills.curl.with_leaves", lambda path, region, spacing_mm, others: path)
    monkeypatch.setattr("plumeline.fills.curl.led_into_tips", lambda strokes, region, spacing_mm, look: strokes)
    for stroke in drawn(zone(NAMED[name])).strokes:
        # No vertex turns by more than a curve of this fineness does; a corner would turn by far more.
        assert np.abs(g.turns(stroke.path)).max() < 0.7


def share_farther(paths, region, far_mm, cell=1.0):
    """Return the share of a region farther than a distance from all paths, by the distance transform of a picture."""
    low = np.array(region.bounds[:2]) - cell
    shape = np.ceil((np.array(region.bounds[2:]) - low) / cell).astype(int) + 2
    free = np.ones(tuple(shape), dtype=bool)
    for path in paths:
        points = shapely.get_coordinates(shapely.segmentize(shapely.LineString(path), cell / 2))
        free[tuple(np.round((points - low) / cell).astype(int).T)] = False
    far = distance_transform_edt(free) * cell
    at = low + np.argwhere(free | ~free) * cell
    inside = shapely.contains_xy(region, *at.T)
    return float((far.ravel()[inside] > far_mm).mean())


TIP = Polygon(np.array([(0, 0), (9, 0), (0, 3)]) * IN)
MOON = Point(0, 0).buffer(6 * IN).difference(Point(3 * IN, 0).buffer(5 * IN))


@pytest.mark.parametrize("region", [NAMED["square12"], NAMED["star5"], NAMED["equilateral8"], TIP, MOON])
def test_leaves_reach_corners_and_tips(region, monkeypatch):
    paths = [s.path for s in drawn(zone(region)).strokes]
    check(fill("curl", region), region)
    share = share_farther(paths, region, 0.25 * IN)
    assert share < 0.03
    monkeypatch.setattr("plumeline.fills.curl.with_leaves", lambda path, region, spacing_mm, others: path)
    assert share < 0.5 * share_farther([s.path for s in drawn(zone(region)).strokes], region, 0.25 * IN)


def test_leaf_on_a_straight_line():
    # a line across a strip three spacings high: leaves grow on both sides, and the line is opened for nothing else
    region, spacing = rectangle(8, 1.2), 0.25 * IN
    line = np.array([(0.0, 0.6 * IN), (8 * IN, 0.6 * IN)])
    path = with_leaves(line, region, spacing)
    check(Filled((Stroke(as_path(path)),)), region)
    assert np.ptp(path[:, 1]) > 2 * spacing
    along = path[np.abs(path[:, 1] - 0.6 * IN) < 1e-9]
    assert (np.diff(along[:, 0]) > 0).all()
    assert share_farther([path], region, 1.5 * spacing) < 0.01 < share_farther([line], region, 1.5 * spacing)
    # no double line: each leaf opens out to over a third of a spacing
    runs = np.split(path, np.flatnonzero(np.diff(np.abs(path[:, 1] - 0.6 * IN) > 1e-9)) + 1)
    leaves = [run for run in runs if np.abs(run[:, 1] - 0.6 * IN).max() > 1e-9]
    assert len(leaves) > 4
    assert min(g.inscribed_circle(g.as_region(leaf))[1] for leaf in leaves) > 0.15 * spacing


def test_nothing_bald_leaves_a_line_as_it_is():
    line = np.array([(0.0, 0.2 * IN), (8 * IN, 0.2 * IN)])
    assert with_leaves(line, rectangle(8, 0.4), 0.25 * IN) is line


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


@pytest.mark.parametrize("side", [6, 9, 10, 12])
def test_a_triangle_has_its_vine_whatever_the_chance(side):
    """In a space about two curls wide the vine's wide meander may find no way: a closer one does."""
    corners = np.array([(0, 0), (side, 0), (side / 2, side * np.sqrt(3) / 2)]) * 25.4
    for chance in range(1, 7):
        assert fill("curl", corners, chance=chance).strokes


@pytest.mark.parametrize("chance", range(3))
def test_hooks_of_a_letter_have_vines_of_their_own(chance):
    # 21 to 32 in a hundred of it were left bare: the hooks are narrower than what another vine was started in
    filled = fill_zone(replace(zone(BOLD_S), chance=chance), [Layer(FILL, CurlSettings())])
    assert filled.bare_mm2 < 0.01 * BOLD_S.area
    assert len(filled.strokes) <= 6


@pytest.mark.parametrize("chance", range(3))
@pytest.mark.parametrize("wide", [0.6, 0.8, 1.0])
def test_a_thin_stroke_takes_one_curl_after_the_other(wide, chance):
    # too narrow for two curls abreast, it was left bare, all 7 in of it
    region = polygon([(0, 0), (5, 0), (5, 3), (12, 3), (12, 3 + wide), (5, 3 + wide), (5, 6), (0, 6)])
    filled = fill_zone(replace(zone(region), chance=chance), [Layer(FILL, CurlSettings())])
    check(filled, region)
    thin = polygon([(5.5, 3), (12, 3), (12, 3 + wide), (5.5, 3 + wide)])
    assert sum(thin.intersection(shapely.LineString(s.path)).length for s in filled.strokes) > 2 * 6.5 * IN
    assert filled.bare_mm2 < 0.01 * region.area
