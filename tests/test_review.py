"""Measures against closed forms."""

from __future__ import annotations

import numpy as np
import pytest

from plumeline import review
from plumeline.geometry import clip_path
from plumeline.model import Barest, Batting, Filled, Line, Span, Stroke, Zone, as_path
from shapes import IN, polygon, rectangle

SQUARE = rectangle(300 / IN, 300 / IN)


def test_densest_inch_of_parallel_lines_is_one_over_their_distance():
    # lines 1/8 in apart: 8 in per square inch on the whole; in a circle of 1 in the chords of eight lines at
    # +-1/16, 3/16, 5/16, 7/16 in sum to 2 * 2 * sum sqrt(1/4 - y^2) = 6.3679 in, on pi/4 sq in 8.108
    lines = [as_path([(0, y), (400, y)]) for y in np.arange(0, 300, IN / 8)]
    densest, _ = review.densest_inch(lines)
    assert densest == pytest.approx(8.108, rel=0.003)


def test_densest_inch_finds_a_knot():
    rays = [as_path([(100, 100), (100 + 80 * np.cos(a), 100 + 80 * np.sin(a))]) for a in np.arange(24) * np.pi / 12]
    densest, (x, y) = review.densest_inch(rays)
    # 24 rays of half an inch in a circle of 1 in: 12 in on pi/4 sq in = 15.28
    assert densest == pytest.approx(24 * 0.5 / (np.pi / 4), rel=0.003)
    assert (x, y) == pytest.approx((100, 100), abs=3)


def test_top_gap_is_the_empty_circle():
    ring = as_path([(150 + 50 * np.cos(a), 150 + 50 * np.sin(a)) for a in np.linspace(0, 2 * np.pi, 400)])
    rows = [as_path([(0, y), (300, y)]) for y in (*np.arange(0, 95, 10.0), *np.arange(210, 301, 10.0))]
    sides = [as_path([(x, 95), (x, 205)]) for x in (*np.arange(0, 95, 10.0), *np.arange(210, 301, 10.0))]
    gap = review.top_gap([ring, *rows, *sides], [SQUARE])
    assert gap.diameter_mm == pytest.approx(100, abs=0.3)
    assert gap.centre == pytest.approx((150, 150), abs=0.3)


def test_gap_finding_names_the_label():
    gap = review.top_gap([as_path([(0, 0), (300, 0)])], [SQUARE])
    assert gap.diameter_mm == pytest.approx(600, abs=1)
    (finding,) = review.gap_findings(gap, Batting(widest_gap_mm=100))
    assert finding.code == "gap-too-wide"
    assert review.gap_findings(gap, Batting()) == ()


def noticed(strokes, crooked):
    return review.crooked_seam_findings(review.shown_seams(strokes, crooked))


def test_lines_that_show_a_seam_are_told_with_their_distance_and_scored_by_how_it_changes():
    # a seam that leans 4 mm over 300: of lines at a mean distance of 10 and 20 mm the nearer shows it twice as much
    seam = (as_path([(0, 0), (300, 4)]), 4.0, "the left seam of 'plain-1-1'")
    near, far = (Stroke(as_path([(0, y + 2), (300, y + 2)]), zone="a", fill="channel") for y in (10, 20))
    (one,), (two,) = review.shown_seams([near], [seam]), review.shown_seams([far], [seam])
    assert (one.away_mm, one.varies_mm, one.score) == pytest.approx((10, 4, 0.4))
    assert (two.away_mm, two.varies_mm, two.score) == pytest.approx((20, 4, 0.2))
    (worst,) = review.shown_seams([far, near], [seam])
    np.testing.assert_array_equal(worst.line, near.path)
    # one that keeps its distance along the crooked seam shows nothing
    beside = Stroke(as_path([(0, 12), (300, 16)]), zone="a", fill="channel")
    assert review.shown_seams([beside], [seam]) == ()
    # each fill of a zone by itself, and what it can do itself
    rays = Stroke(near.path, zone="a", fill="rays")
    assert [s.fill for s in review.shown_seams([far, rays], [seam])] == ["channel", "rays"]
    assert "follow" in noticed([near], [seam])[0].what_to_do and "follow" not in noticed([rays], [seam])[0].what_to_do


def test_straight_line_beside_crooked_seam_is_noticed_and_a_curve_is_not():
    seam = (as_path([(0, 0), (300, 4)]), 4.0, "the left seam of 'plain-1-1'")
    straight = Stroke(as_path([(0, 12), (300, 12)]), zone="a")
    across = Stroke(as_path([(20, -50), (20, 300)]), zone="a")
    a = np.linspace(0, 300, 200)
    wavy = Stroke(as_path(np.column_stack([a, 12 + 5 * np.sin(a / 20)])), zone="a")
    arc = Stroke(as_path(np.column_stack([a, 12 + (a - 150) ** 2 / 3000])), zone="a")
    assert len(noticed([straight], [seam])) == 1
    assert noticed([across, wavy, arc], [seam]) == ()


def test_a_grid_that_meets_a_crooked_seam_is_noticed_and_other_straight_lines_are_not():
    # a grid on point in a square of 300 mm whose left side is 4 mm out of true; rays and one family of lines
    seam = (as_path([(0, 0), (4, 300)]), 4.0, "the left seam of 'plain-1-1'")
    square = rectangle(290 / IN, 300 / IN)
    rows = [[np.array([(c, 0), (c + 300 * k, 300)]) for c in np.arange(-300, 600, 30.0)] for k in (1, -1)]
    one, two = ([Stroke(p, zone="a") for line in family for p in clip_path(line, square)] for family in rows)
    rays = [Stroke(as_path([(0, y), (290, 150)]), zone="a") for y in np.arange(0, 300, 20.0)]
    (finding,) = noticed([*one, *two], [seam])
    assert "grid" in finding.text
    assert noticed(one, [seam]) == ()
    assert noticed(rays, [seam]) == ()


def test_balance_is_said_of_the_tighter_neighbour():
    (finding,) = review.balance_findings({"a": 1.0, "b": 2.5}, [("a", "b")])
    assert finding.zone == "b"
    assert review.balance_findings({"a": 1.0, "b": 1.9}, [("a", "b")]) == ()
    assert review.balance_findings({"a": 1.0, "b": 9.0}, [("a", "b")], silent=["b"]) == ()


def test_jumps_leave_out_changes_of_thread_and_reach():
    lines = [
        Line(as_path([(0, 0), (10, 0)]), ()),
        Line(as_path([(10, 5), (20, 5)]), ()),
        Line(as_path([(20, 9), (30, 9)]), (), reach=2),
    ]
    figures = review.jump_figures(lines)
    assert figures.jumps == 1
    assert figures.planned_stops == 0
    assert figures.jump_mm == pytest.approx(5)


def test_starts_that_show_are_counted_in_one_note():
    # a seam along the left: one line starts 5 mm from it and stops in the open, goes on there with a full bobbin to a
    # place 60 mm from the seam; a ring 100 mm from it starts and stops in one hole
    seams = [as_path([(0, 0), (0, 300)])]
    first = Line(as_path([(5, 50), (50, 50)]), (Span(0, 1, "stitch", 0),))
    on = Line(as_path([(50, 50), (60, 90)]), (Span(0, 1, "stitch", 0),))
    home = Line(as_path([(60, 200), (0, 210)]), (Span(0, 1, "stitch", 1),))
    shown = review.ends_that_show([first, on, home], seams)
    assert shown.tolist() == [[50, 50], [60, 90], [60, 200]]
    (finding,) = review.start_findings(shown)
    assert finding.code == "starts-show"
    assert finding.text.startswith("3 starts and stops show")
    assert review.start_findings(review.ends_that_show([first], [*seams, as_path([(50, 0), (50, 300)])])) == ()
    assert review.ends_that_show([], seams).shape == (0, 2)


def test_what_is_seen_is_told_from_what_is_sewn():
    # 100 mm there and 60 mm of it back: counted by hand
    there = Stroke(as_path([(0.0, 50.0), (100.0, 50.0), (40.0, 50.0)]))
    zone = Zone("a", "", 1, SQUARE, SQUARE)
    assert review.zone_figures(zone, Filled((there,)), None).seen_mm == pytest.approx(100.0)


def test_a_neighbour_hardly_quilted_gets_no_absurd_figure():
    (finding,) = review.balance_findings({"a": 0.01, "b": 2.652}, [("a", "b")])
    assert "more than 10 times" in finding.text


def rays_at(x, y, count):
    return [as_path([(x, y), (x + 80 * np.cos(a), y + 80 * np.sin(a))]) for a in np.arange(count) * 2 * np.pi / count]


def test_further_knots_are_found_a_hand_apart_and_in_order():
    # a wheel of n rays holds n half inches in pi/4 sq in; one of 12 holds 7.6 in, which is no knot
    wheels = [*rays_at(100, 100, 24), *rays_at(500, 100, 30), *rays_at(100, 500, 12), *rays_at(500, 500, 20)]
    dense = review.dense_inches(wheels, most=5)
    assert [d for d, _ in dense] == pytest.approx([n / 2 / (np.pi / 4) for n in (30, 24, 20)], rel=0.003)
    np.testing.assert_allclose([at for _, at in dense], [(500, 100), (100, 100), (500, 500)], atol=3)
    assert review.dense_inches(wheels, most=1) == dense[:1]


def test_the_weakest_places_of_a_quilt_are_named_in_the_order_of_what_they_are_over_their_limits():
    zones = [Zone(f"z{k}", "", 1, SQUARE, SQUARE) for k in range(3)]
    bald = review.weak_bald([zones[0], zones[0], zones[1], zones[2]], [
        Barest((1000.0, 10.0), 1.9), Barest((2000.0, 10.0), 1.8), None, Barest((3000.0, 10.0), 0.9),
    ])  # fmt: skip
    knots = review.weak_knots(zones, [(16.0, (5000.0, 5000.0)), (11.0, (5000.0, 5090.0)), (9.0, (0.0, 0.0))])
    starts = review.weak_starts(np.array([(0.0, k) for k in range(5)] + [(500.0, 0.0)]))
    (finding,) = review.weakest_findings([*knots, *bald, *starts])
    first, second, third = finding.text.split(": ", 1)[1].split("; ")
    assert first.startswith("1. 5 starts") and "2.5 times its limit" in first
    assert second.startswith("2. bald") and "in 'z0'" in second and "1.9 times its limit" in second
    assert third.startswith("3. a knot, 16 in") and "1.6 times its limit" in third
    # a second place of z0, a knot within a hand of the first, and what is within its limit are not counted
    assert "more are over" not in finding.text
    assert review.weakest_findings(review.weak_knots(zones, [(16.0, (0.0, 0.0))])) == ()


def test_the_border_of_unlike_neighbours_is_where_they_meet():
    left, right = rectangle(4, 10), polygon([(4, 0), (8, 0), (8, 10), (4, 10)])
    a, b = Zone("a", "", 1, left, left), Zone("b", "", 1, right, right)
    (weak,) = review.weak_neighbours([(a, b)], {"a": 9.0, "b": 3.0})
    assert weak.times == pytest.approx(3 / 2) and weak.zone == "a"
    assert weak.place[0] == pytest.approx(4 * IN, abs=2.0) and 0 < weak.place[1] < 10 * IN
