"""Rows, spirals, meanders and curls are led into tips that they leave bare; what stays bare is said, once a zone."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from plumeline import geometry as g
from plumeline.fills import find_fill
from plumeline.fills.kit.stack import Layer, fill_zone
from plumeline.fills.kit.tips import led_into_tips
from plumeline.model import Stroke, as_path
from plumeline.pipeline.lookup import ZoneSources
from shapes import IN, coast, polygon, rectangle, regular, zone

LED = ("rings", "echo", "spiral", "meander", "curl")


def filled(name, region, **said):
    fill, z = find_fill(name), zone(region)
    chosen = fill.settings.model_validate(said, context={"units": "in"}).resolved(ZoneSources(z))
    return fill_zone(z, [Layer(fill, chosen)]), chosen.promise_mm


def barest(result, region, count=3000):
    """How far the barest of many points and all corners is from any stroke: exact distances by the geometry engine."""
    left, top, right, bottom = region.bounds
    points = np.random.default_rng(2).uniform((left, top), (right, bottom), (count, 2))
    points = np.vstack([points[shapely.contains_xy(region, *points.T)], *g.rings(region)])
    lines = shapely.MultiLineString([g.close_ring(s.path, s.closed) for s in result.strokes])
    return float(shapely.distance(lines, shapely.points(points)).max())


def is_sound(result, region):
    lines = [g.close_ring(s.path, s.closed) for s in result.strokes]
    assert not len(g.self_crossings(lines))
    assert g.outside_mm(lines, region, tolerance_mm=0.05) == 0


@given(st.floats(18, 120), st.floats(-60, 60), st.sampled_from(LED[:4]))
@settings(deadline=None, max_examples=20)
def test_a_bald_spot_of_a_triangle_is_filled_or_said(tip_deg, lean_deg, name):
    half = math.radians(tip_deg) / 2
    corners = [(0, 0), *(7 * np.array([math.sin(math.radians(lean_deg) / 4 + a), math.cos(a)]) for a in (half, -half))]
    region = polygon([tuple(map(float, c)) for c in corners])
    result, promise = filled(name, region)
    said = [f for f in result.findings if f.code == "bald-spot"]
    far = barest(result, region)
    is_sound(result, region)
    assert len(said) <= 1
    if far > 1.5 * promise + 1.05:
        assert said
    if said:
        assert far > 1.5 * promise + 0.5


PLAIN = {
    "square": rectangle(12, 12),
    "rectangle": rectangle(16, 4),
    "triangle": polygon([(0, 0), (10, 0), (5, 8.66)]),
    "half square": polygon([(0, 0), (12, 0), (0, 12)]),
    "border": g.subtract(rectangle(20, 20), [g.as_region(np.array([(3, 3), (17, 3), (17, 17), (3, 17)]) * IN)])[0],
    "hexagon": regular(6, 5),
}


@pytest.mark.parametrize("shape", PLAIN)
@pytest.mark.parametrize("name", LED[:4])
def test_plain_spaces_have_no_bald_spot(name, shape):
    result, promise = filled(name, PLAIN[shape])
    assert not [f for f in result.findings if f.code == "bald-spot"]
    assert barest(result, PLAIN[shape]) < 1.5 * promise + 1.05
    is_sound(result, PLAIN[shape])


@pytest.mark.parametrize("name", LED)
def test_a_ragged_coast_says_its_bald_spots_once_and_where(name):
    region = coast(300, seed=4, width=11, height=6)
    result, promise = filled(name, region)
    is_sound(result, region)
    said = [f for f in result.findings if f.code == "bald-spot"]
    assert len(said) == (barest(result, region, 20_000) > 1.5 * promise + 1.05)
    for finding in said:
        assert finding.severity == "note" or result.bare_mm2 > 0.5 * IN**2


@pytest.mark.parametrize("look", ["mitred", "swept", "lobe"])
def test_a_row_goes_into_the_corners_and_its_ends_stay(look):
    region = polygon([(0, 0), (6, 0), (3, 3 * math.sqrt(3))])
    (inner,) = g.dilate(g.erode(region, 15.0)[0], 5.0)  # its corners rounded, as echoes are
    (first,) = g.erode(region, 5.0)
    row = g.rings(inner)[0]
    side = np.argmax(np.hypot(*(np.roll(row, -1, axis=0) - row).T))  # opened in the middle of a side
    row = np.roll(row, -side, axis=0)
    middle, way = (row[0] + row[1]) / 2, (row[1] - row[0]) / 100
    opened = np.vstack([middle + way, row[1:], row[0], middle - way])
    strokes = [
        Stroke(as_path(opened)),
        *(Stroke(first_ring(r), closed=True) for d in (20.0, 30.0, 40.0) for r in g.erode(region, d)),
    ]
    led = led_into_tips(strokes, region, 10.0, look=look)
    assert led[0].path[[0, -1]] == pytest.approx(opened[[0, -1]])
    assert led[1:] == strokes[1:]
    line = shapely.LineString(led[0].path)
    assert line.is_simple
    assert max(shapely.distance(line, shapely.points(g.rings(region)[0]))) < 1.5 * 10.0 + 1.0
    assert line.hausdorff_distance(shapely.LineString(opened)) < 10.0 / math.sin(math.radians(30))
    assert line.length > shapely.LineString(opened).length + 3 * 5.0
    assert look == "lobe" or not line.within(first)  # it goes nearer to the corners than the row of a half space would


def test_what_nothing_fits_into_stays_as_it_is():
    # a slit 0.4 spacings wide at the end of a room: no finger keeps off both of its sides
    region = g.unite([rectangle(4, 4), g.as_region(np.array([(3.9, 2), (7, 2), (7, 2.008), (3.9, 2.008)]) * IN)])[0]
    strokes = [Stroke(r, closed=True) for d in (5.0, 15.0, 25.0, 35.0) for r in map(first_ring, g.erode(region, d))]
    assert led_into_tips(strokes, region, 10.0, look="swept") == strokes
    assert led_into_tips([], region, 10.0, look="swept") == []


def first_ring(region):
    return g.rings(region)[0]


@given(st.floats(20, 40), st.floats(45, 90), st.floats(0, math.tau))
@settings(deadline=None, max_examples=25)
def test_spots_on_two_sides_of_a_line_are_two(narrow, wide, turn):
    # closed form: a strip of 200 with a line along it, `narrow` from one side and `wide` from the other
    c, s = math.cos(turn), math.sin(turn)
    to = np.array([[c, s], [-s, c]])
    region = g.as_region(np.array([(-100, -narrow), (100, -narrow), (100, wide), (-100, wide)]) @ to)
    found = g.bare_spots([np.array([(-100.0, 0.0), (100.0, 0.0)]) @ to], region, 10.0)
    assert [spot.far_mm for spot in found] == pytest.approx([wide, narrow], rel=0.005)  # from samples of the line
    for spot, side in zip(found, (wide, narrow)):
        assert spot.area_mm2 == pytest.approx(200 * (side - 10.0), rel=0.2)
    part = g.bare_part([np.array([(-100.0, 0.0), (100.0, 0.0)]) @ to], region, 10.0)
    assert part.area_mm2 == pytest.approx(sum(spot.area_mm2 for spot in found))


def test_many_spots_are_one_finding_that_counts_them():
    # no row of 1 in goes into teeth 1/2 in wide, 4 in apart
    teeth = [g.as_region(np.array([(x, 4.9), (x + 0.5, 4.9), (x + 0.5, 9), (x, 9)]) * IN) for x in (1, 5, 9)]
    region = g.unite([rectangle(12, 5), *teeth])[0]
    result, _ = filled("rings", region, spacing="1")
    (said,) = [f for f in result.findings if f.code == "bald-spot"]
    assert "in 3 places" in said.text
