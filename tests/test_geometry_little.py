"""Where there is hardly anything: no points, one point, shapes of no area, more than is looked at."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import Polygon

from plumeline import geometry as g
from plumeline.geometry.areas import filling, outlines
from plumeline.geometry.areas.regions import quad_segments
from plumeline.geometry.fields.medial import long_axis, mid_loop, nearest_cells
from plumeline.geometry.fields.plane_maps import plane_map
from plumeline.geometry.nets.cells import leave_region
from plumeline.geometry.nets.neighbours import near_points
from plumeline.geometry.nets.snapping import _without_spikes as without_spikes
from plumeline.model import Line, Machine, Span, as_path
from shapes import rectangle

SQUARE = Polygon([(0, 0), (10, 0), (10, 10), (0, 10)])
POINT = np.array([(3.0, 4.0)])
NOTHING = np.zeros((0, 2))


@pytest.mark.parametrize("path", [POINT, np.repeat(POINT, 3, axis=0)])
def test_a_path_of_no_length_is_its_point(path):
    assert g.resample(path, 1.0).tolist() == POINT.tolist()
    assert g.densify(POINT, 1.0).tolist() == POINT.tolist()
    assert g.path_length(path) == 0


def test_nothing_gives_nothing():
    assert g.resample(NOTHING, 1.0).shape == (0, 2)
    assert near_points(POINT, 5.0).shape == (0, 2)
    assert leave_region([], SQUARE, tolerance_mm=0.1).shape == (0,)
    assert g.reading_order([]) == []
    assert g.painted_regions([]) == [] and g.painted_regions([POINT, NOTHING]) == []
    assert g.clip_crossing_path(POINT, SQUARE) == []
    assert g.strand_spacing([POINT], 2.0) is None
    assert len(g.self_crossings([POINT, NOTHING])) == 0


@given(st.floats(1e-6, 1e4), st.floats(1e-6, 10))
def test_chords_of_an_arc_stray_by_no_more_than_the_tolerance(radius, tolerance):
    """The sagitta of a chord over the angle a is r (1 - cos(a / 2)); of a circle within the tolerance any will do."""
    count = quad_segments(radius, tolerance)
    sagitta = radius * (1 - math.cos(math.pi / 4 / count))
    assert sagitta <= tolerance * (1 + 1e-9)
    assert count >= 2


def test_only_a_region_is_read_back_as_one():
    assert g.region_of_bytes(g.region_bytes(SQUARE)).equals(SQUARE)
    with pytest.raises(ValueError, match="must hold one polygon"):
        g.region_of_bytes(shapely.to_wkb(SQUARE.boundary))


@pytest.mark.parametrize(
    ("other", "same"),
    [
        (shapely.affinity.translate(shapely.affinity.rotate(SQUARE, 33), 500, 7), True),
        (Polygon([(0, 0), (20, 0), (20, 5), (0, 5)]), False),  # as large, of another shape
        (Polygon([(0, 0), (11, 0), (11, 11), (0, 11)]), False),
        (Polygon([(0, 0), (10, 0), (10, 10), (5, 7), (0, 10)]), False),
    ],
)
def test_one_shape_is_another_turned_and_moved(other, same):
    assert g.same_shape(SQUARE, other, within_mm=0.01) is same
    assert g.same_shape(other, SQUARE, within_mm=0.01) is same


def test_a_shape_seen_in_a_mirror_is_another():
    hook = Polygon([(0, 0), (10, 0), (10, 3), (3, 3), (3, 7), (0, 7)])
    assert g.same_shape(hook, shapely.affinity.rotate(hook, 90), within_mm=0.01)
    assert not g.same_shape(hook, shapely.affinity.scale(hook, -1, 1), within_mm=0.01)


@pytest.mark.parametrize(
    ("points", "onto", "says"),
    [
        ([(0, 0), (1, 0), (1, 1)], [(0, 0), (1, 0), (1, 1)], "must have at least 4"),
        ([(0, 0), (1, 0), (1, 1), (0, 1)], [(0, 0), (1, 0), (1, 1)], "must have at least 4"),
        ([(0, 0), (1, 0), (2, 0), (3, 0)], [(0, 0), (1, 0), (2, 0), (3, 0)], "no one map is singled out"),
        ([(1, 1)] * 4, [(0, 0), (1, 0), (1, 1), (0, 1)], "all lie at one place"),
    ],
)
def test_points_that_single_out_no_map_are_refused(points, onto, says):
    with pytest.raises(ValueError, match=says):
        plane_map(np.array(points, dtype=float), np.array(onto, dtype=float))


@pytest.mark.parametrize(
    ("chain", "closed", "left"),
    [
        ([1, 1, 2, 3, 3], False, [1, 2, 3]),
        ([1, 2, 3, 2, 4], True, [1, 2, 4]),  # out to 3 and back encloses nothing
        ([1, 2, 3, 2, 4], False, [1, 2, 3, 2, 4]),
        ([1, 2, 3, 1], True, [1, 2, 3]),
        ([1, 2, 1], True, [1]),
    ],
)
def test_doubled_nodes_and_spikes_go(chain, closed, left):
    assert without_spikes(np.array(chain), closed).tolist() == left


def test_outlines_one_within_another_without_end_are_refused(monkeypatch):
    rings = [np.array(shapely.Point(0, 0).buffer(r, quad_segs=2).exterior.coords)[:-1] for r in range(1, 30)]
    assert len(g.painted_regions(rings, evenodd=True)) == 15
    monkeypatch.setattr(filling, "MOST_PAIRS", 100)
    with pytest.raises(ValueError, match="too many of them one within another"):
        g.painted_regions(rings, evenodd=True)


def test_an_outline_that_crosses_itself_without_end_is_refused(monkeypatch):
    angle = np.arange(31) * 2 * np.pi * 14 / 31
    star = 50 * np.column_stack([np.cos(angle), np.sin(angle)])
    monkeypatch.setattr(outlines, "MOST_CROSSINGS", 20)
    with pytest.raises(ValueError, match="crosses itself more than 20 times"):
        g.sound_outline(star, within_mm=1.0)


def test_a_square_has_no_loop_and_one_path_owns_it_all():
    assert mid_loop(SQUARE) is None
    (cells,) = nearest_cells(SQUARE, [as_path([(0, 0), (1, 1)])])
    assert cells == [SQUARE]
    axis = long_axis(rectangle(8, 2))
    assert np.ptp(axis[:, 0]) > 0.7 * 8 * 25.4


@pytest.mark.parametrize(
    "spans", [[(0, 3)], [(0, 2), (1, 2)], [(1, 1)], [(-1, 1)]], ids=["beyond", "over", "empty", "before"]
)
def test_a_line_whose_spans_do_not_follow_each_other_is_none(spans):
    with pytest.raises(ValueError, match="a line of 3 points has"):
        Line(as_path([(0, 0), (1, 0), (2, 0)]), tuple(Span(a, b, "stitch") for a, b in spans))


def test_her_own_pace_and_pause_go_before_the_usual_ones():
    """A quilter's figures replace the trade's: 20, 45 and 120 s; 71 mm/s or what the stitches a minute give."""
    assert [Machine(trimmer=True).pause_s, Machine().pause_s, Machine(ties="bury").pause_s] == [20, 45, 120]
    assert Machine(start_stop_seconds=7).pause_s == 7
    assert Machine(stitches_a_minute=600, stitch_mm=2.5).pace_mm_s == pytest.approx(25)
    assert Machine(speed_mm_s=33.0, guided="hand").pace_mm_s == 33
