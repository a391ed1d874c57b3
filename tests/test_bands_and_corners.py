"""Corners, bands and ridges of regions against shapes whose values are plain."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
import shapely

from plumeline.fills import find_fill
from plumeline.geometry import as_region, band_of, cornered, disc, ridges, rings
from shapes import DEGENERATE, IN, NAMED, polygon, rectangle, regular, star, zone


@pytest.mark.parametrize(
    ("region", "inner"),
    [
        (rectangle(12, 5), [90] * 4),
        (regular(6, 6), [120] * 6),
        (NAMED["right6"], [45, 45, 90]),
        (star(4, 7, 3.2), None),
        (DEGENERATE["doubled points"], [90] * 4),
        (NAMED["circle4"], []),
    ],
)
def test_angles_inside_the_corners(region, inner):
    outline = cornered(rings(region)[0])
    if inner is None:  # the angles of any polygon of n corners add up to (n - 2) 180
        assert len(outline.corners) == 8
        assert outline.inner_deg.sum() == pytest.approx(6 * 180)
        assert sorted(outline.inner_deg > 180) == [False] * 4 + [True] * 4
    else:
        assert sorted(outline.inner_deg) == pytest.approx(inner)


def test_sides_run_from_corner_to_corner_and_a_wandering_seam_is_one_side():
    outline = cornered(rings(NAMED["wobbly"])[0])
    sides = outline.sides()
    assert [len(side) for side in sides] == [3] * 4
    assert np.vstack([side[:-1] for side in sides]).shape == outline.path.shape
    assert all((a[-1] == b[0]).all() for a, b in zip(sides, sides[1:] + sides[:1]))


def test_width_of_a_mitred_frame_and_of_a_round_ring():
    assert band_of(NAMED["frame14"]).width_mm / IN == pytest.approx(1.5)
    assert band_of(NAMED["ring"]).width_mm / IN == pytest.approx(4, rel=1e-3)


@pytest.mark.parametrize("shape", ["frame14", "ring", "hole14"])
def test_rows_of_a_band_are_nested_in_its_region(shape):
    region, band = NAMED[shape], band_of(NAMED[shape])
    assert len(band.corners) == (4 if shape == "frame14" else 0)
    rows = [shapely.Polygon(band.row(f)) for f in np.linspace(0, 1, 9)]
    assert rows[0].symmetric_difference(shapely.Polygon(region.exterior)).area < 1
    assert rows[-1].symmetric_difference(shapely.Polygon(region.interiors[0])).area < 1
    assert all(a.contains_properly(b) for a, b in itertools.pairwise(rows))


def test_a_hole_turned_against_the_frame_is_matched_by_rays():
    # side faces corner: matched corner to corner, the rows would spiral
    band = band_of(polygon([(-7, -7), (7, -7), (7, 7), (-7, 7)], [[(0, 4), (4, 0), (0, -4), (-4, 0)]]))
    assert len(band.corners) == 0
    angle = [np.arctan2(*points.T[::-1]) for points in (band.outer, band.inner)]
    assert np.abs(np.exp(1j * angle[0]) - np.exp(1j * angle[1])).max() < 1e-9


@pytest.mark.parametrize(
    "region",
    [
        NAMED["square12"],
        NAMED["two holes"],
        DEGENERATE["hole near edge"],
        as_region(rectangle(14, 14).difference(disc((2.02 * IN, 7 * IN), 2 * IN))),
    ],
)
def test_no_band(region):
    assert band_of(region) is None


def test_ridges_of_arms():
    # arms of 4 in vanish at 2 in; the inscribed circle of the L has radius 4 (2 - sqrt 2) = 2.343, of the plus 2 sqrt 2
    for shape, radius, least, most in (("l12", 2.343 * IN, 12, 20), ("plus12", 8**0.5 * IN, 8, 16)):
        ((depth, length),) = ridges(NAMED[shape], radius, least_mm=IN)
        assert depth / IN == pytest.approx(2, abs=radius / IN / 700)
        assert least < length / IN < most


def test_convex_regions_have_no_ridge():
    assert ridges(rectangle(18, 6), 3 * IN, least_mm=1) == []
    assert ridges(NAMED["circle4"], 4 * IN, least_mm=1) == []


SIDE = 12 * IN


@pytest.mark.parametrize("jog", [0.02, 0.05, 0.2])
@pytest.mark.parametrize("place", [0.1, 0.3, 0.5, 0.77])
def test_a_jog_narrower_than_a_thread_is_no_corner(jog, place):
    at = place * SIDE
    jogged = [(0, 0), (at, 0), (at, jog), (SIDE, jog), (SIDE, SIDE), (0, SIDE)]
    found = cornered(np.array(jogged))
    assert found.points.tolist() == [[0, 0], [SIDE, jog], [SIDE, SIDE], [0, SIDE]]
    np.testing.assert_allclose(found.inner_deg, 90, atol=0.1)


def test_a_jog_that_is_seen_keeps_its_corners():
    jogged = [(0, 0), (100, 0), (100, 3), (SIDE, 3), (SIDE, SIDE), (0, SIDE)]
    assert len(cornered(np.array(jogged)).corners) == 6


def test_a_corner_cut_off_by_less_than_a_thread_is_one_corner():
    cut = [(0.1, 0), (SIDE, 0), (SIDE, SIDE), (0, SIDE), (0, 0.1)]
    found = cornered(np.array(cut))
    assert len(found.corners) == 4
    # a circle of 5 mm in 60 chords has none, however near its points
    a = np.linspace(0, 2 * np.pi, 60, endpoint=False)
    assert len(cornered(5 * np.column_stack([np.cos(a), np.sin(a)])).corners) == 0


@pytest.mark.parametrize(("name", "strokes", "given_"), [("chords", 8, {}), ("continuous-curve", 4, {})])
def test_fills_take_a_jogged_square_for_a_square(name, strokes, given_):
    fill = find_fill(name)
    jogged = as_region([(0, 0), (SIDE / 2, 0), (SIDE / 2, 0.05), (SIDE, 0.05), (SIDE, SIDE), (0, SIDE)])
    settings_ = fill.settings.model_validate(given_, context={"units": "in"})
    filled = fill(zone(jogged), settings_, rng=np.random.default_rng(1))
    assert len(filled.strokes) == strokes
