"""Lines along crooked seams: with the seam as it is, or straight in spite of it."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import LineString, Point, Polygon

from plumeline import stitch
from plumeline.errors import PlanError
from plumeline.fills import find_fill
from plumeline.fills.kit.stack import Layer, fill_zone
from plumeline.geometry import divide_by_frame, leans, straightened
from plumeline.model import Zone
from plumeline.plan import parse_plan

BOW_MM, LEAN_MM = 6.0, 9.0


def bowed(bow=BOW_MM, lean=LEAN_MM):
    """A square of 300 mm whose top bows out and whose right side leans."""
    x = np.linspace(0, 300, 60)
    top = np.column_stack([x, -bow * np.sin(np.pi * x / 300)])
    return Polygon([*top, (300 + lean, 300), (0, 300)])


def drawn(kind, region=None, **said):
    region = bowed() if region is None else region
    zone = Zone("a", "", 1, region, region)
    fill = find_fill(kind)
    return fill_zone(zone, (Layer(fill, fill.settings.model_validate(said)),))


@given(st.floats(-180, 180), st.lists(st.floats(-4, 4), min_size=4, max_size=4))
def test_a_square_is_told_from_what_its_corners_are_off(turn, off):
    corners = np.array([(0, 0), (300, 0), (300, 300), (0, 300)]) + np.reshape([*off, 0, 0, 0, 0], (4, 2))
    a = np.radians(turn)
    corners = corners @ np.array([[np.cos(a), np.sin(a)], [-np.sin(a), np.cos(a)]])
    chords = np.roll(corners, -1, axis=0) - corners
    heading = np.degrees(np.arctan2(chords[:, 1], chords[:, 0]) - leans(chords))
    between = (heading - heading[0] + 45) % 90 - 45
    np.testing.assert_allclose(between, 0, atol=1e-9)
    assert np.abs(np.degrees(leans(chords))).max() < 6
    for inside in (False, True):
        true = straightened(Polygon(corners), inside=inside)
        sides = np.diff(np.asarray(true.exterior.coords), axis=0)
        assert np.abs((sides * np.roll(sides, 1, axis=0))[1:].sum(axis=1)).max() < 1e-4  # square at each corner
        assert not inside or Polygon(corners).buffer(1e-6).covers(true)


def test_curved_outlines_and_others_than_true_stay_as_they_are():
    assert straightened(Point(0, 0).buffer(100), inside=True) is None
    assert leans(np.zeros((2, 2))).tolist() == [0, 0]
    odd = Polygon([(0, 0), (300, 50), (260, 290), (20, 200)])
    assert straightened(odd, inside=True).symmetric_difference(odd).area < 1e-6


@pytest.mark.parametrize("kind", ["rings", "outline", "echo"])
def test_rows_go_with_the_seam_or_straight_within_it(kind):
    said = {"distance": "6.35 mm"} if kind == "outline" else {"spacing": 12.7}
    said = {"distance": 6.35} if kind == "outline" else said
    with_it, straight = (drawn(kind, follow=follow, **said) for follow in ("seam", "straight"))
    region = bowed()
    for filled in (with_it, straight):
        assert all(region.buffer(0.05).covers(LineString(s.path)) for s in filled.strokes)
    first = max((s.path for s in with_it.strokes if s.role == "stitch"), key=lambda p: len(p) and np.ptp(p[:, 1]))
    upper = first[(first[:, 1] < 60) & (first[:, 0] > 40) & (first[:, 0] < 260)]
    true = max((s.path for s in straight.strokes if s.role == "stitch"), key=lambda p: len(p) and np.ptp(p[:, 1]))
    # with the seam the first row bows as it does; straight ones run level or upright only, corners and slants aside
    assert np.ptp(upper[np.argsort(upper[:, 1])[:5], 1]) < 1 and upper[:, 1].min() < 7 + 6.35
    steps = np.diff(true, axis=0)
    long = steps[np.hypot(*steps.T) > 50]
    assert len(long) >= 3 and np.minimum(np.abs(long[:, 0]), np.abs(long[:, 1])).max() < 1e-6


def test_channels_stay_straight_or_fan_out_between_crooked_seams():
    straight = drawn("channel", spacing=25.4)
    assert all(len(s.path) == 2 and np.ptp(s.path[:, 1]) < 1e-6 for s in straight.strokes)
    followed = drawn("channel", spacing=25.4, follow="seam")
    assert len(followed.strokes) == len(straight.strokes)
    rows = sorted((s.path[np.argsort(s.path[:, 0])] for s in followed.strokes), key=lambda p: p[:, 1].mean())
    bows = [p[0, 1] - p[:, 1].min() for p in rows]
    # each bows as the seam above it, less and less down to the straight one below; none meet
    assert BOW_MM > bows[0] > 0.75 * BOW_MM and bows[-1] < 0.15 * BOW_MM
    assert all(a > b - 0.02 for a, b in pairwise(bows))
    assert all(LineString(a).distance(LineString(b)) > 20 for a, b in pairwise(rows))
    upright = drawn("channel", spacing=25.4, follow="seam", angle=90)
    ways = sorted((s.path[np.argsort(s.path[:, 1])] for s in upright.strokes), key=lambda p: p[:, 0].mean())
    lean = [p[-1, 0] - p[0, 0] for p in ways]
    assert lean[0] < 0.15 * LEAN_MM and lean[-1] > 0.85 * LEAN_MM
    assert all(bowed().buffer(0.05).covers(LineString(p)) for p in [*rows, *ways])


def test_a_frame_has_a_straight_inner_edge_where_asked():
    division = divide_by_frame(bowed(), 30.0, straight=True)
    (inner,) = division.rest
    steps = np.diff(np.asarray(inner.exterior.coords), axis=0)
    assert len(steps) == 4 and np.minimum(np.abs(steps[:, 0]), np.abs(steps[:, 1])).max() < 1e-6
    assert sum(p.area for p in division.parts[0]) + inner.area == pytest.approx(bowed().area)
    assert len(divide_by_frame(bowed(), 30.0).rest[0].exterior.coords) > 20


PLAN = """
title = "Crooked"
units = "in"
[top.blocks]
size = 12
rows = [["a", "a"]]
[[measured]]
patch = "a-1-2"
sides = [12, 12, "12 3/8", 12]
[[zone]]
name = "right"
patches = ["a-1-2"]
{divide}
[zone.fill]
kind = "channel"
angle = 90
spacing = 1
{follow}
"""


def shown(follow="", divide=""):
    report = stitch(parse_plan(PLAN.format(follow=follow, divide=divide))).report
    return report, [f for f in report.findings if f.code == "straight-beside-crooked"]


def test_following_the_seam_clears_the_finding_and_the_report_lists_what_showed():
    report, (found,) = shown()
    assert 'follow = "seam"' in found.what_to_do
    rows = report["shown"]
    assert rows[0]["zone"] == "right" and rows[0]["fill"] == "channel"
    assert rows[0]["score"] == max(row["score"] for row in rows) > 0.2
    assert LineString(rows[0]["seam_mm"]).distance(LineString(rows[0]["line_mm"])) < 25.4
    report, findings = shown('follow = "seam"')
    assert findings == [] and report["shown"] == []


@pytest.mark.parametrize("more", ["run_on = true", 'of = "shape"'])
def test_what_else_says_the_way_is_refused(more):
    with pytest.raises(PlanError, match="follow"):
        stitch(parse_plan(PLAN.format(follow='follow = "seam"\n' + more, divide="").replace("angle = 90\n", "")))
