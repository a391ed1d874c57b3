"""Small wrong changes that a third sample of them found unnoticed; each is named beside the check that it fails."""

from __future__ import annotations

import numpy as np
import pytest

from plumeline import read_plan
from plumeline.fills.feather.layout import _inside
from plumeline.fills.feather.spine import Spine
from plumeline.geometry import as_region, path_length
from plumeline.geometry.areas.divide import divide_by_line
from plumeline.geometry.areas.fitting import near_passes
from plumeline.geometry.fields.honeycomb import _lattice_triangles
from plumeline.model import Machine, as_path
from plumeline.quilt import draw
from plumeline.stitches.thread import longest_line_mm, thread_mm
from plumeline.top import told


def test_a_spine_that_crosses_two_arms_runs_in_the_wider_one():
    # max -> min of its pieces in fills/feather/layout.py; a U with arms 90 and 40 mm wide
    u = as_region([(0, 0), (90, 0), (90, 100), (160, 100), (160, 0), (200, 0), (200, 150), (0, 150)])
    path = _inside(u, Spine(as_path([(-5.0, 50.0), (205.0, 50.0)])), ()).path
    assert path_length(path) == pytest.approx(90)
    assert path[:, 0].max() == pytest.approx(90)


@pytest.mark.parametrize("shift", [(0.0, 0.0), (400.0, -250.0)])
def test_strands_pass_nearest_half_way_between_them(shift):
    # / 2 -> * 2 in geometry/areas/fitting.py: a straight strand and a bent one, 2 mm from it at its bend
    level = np.array([(-30.0, 0.0), (30.0, 0.0)]) + shift
    bent = np.array([(-30.0, 8.0), (0.0, 2.0), (30.0, 8.0)]) + shift
    places, far = near_passes([level, bent], [False, False], 5.0)
    assert far[0] == pytest.approx(2.0, rel=0.1)
    assert places[0] == pytest.approx(np.array([0.0, 1.0]) + shift, abs=0.5)


def test_patches_inside_others_are_told_in_words_that_fit_their_number():
    # 1 -> 2 in top/told.py: one in one, several in one, several in several; 645.16 sq mm are a square inch
    one = told.inside({"leaf": "field"}, 645.16, "in").text
    several = told.inside({"leaf": "field", "stem": "field"}, 645.16, "in").text
    apart = told.inside({"leaf": "field", "stem": "pond"}, 645.16, "in").text
    assert one == "'leaf' lies inside 'field', which gets a hole there"
    assert several.startswith("2 patches (1.0 sq in) lie inside 'field', which gets holes")
    assert apart != several and "field" in apart and "pond" in apart


def test_a_row_of_drawn_art_does_not_hang_on_where_the_art_lies_in_its_drawing(tmp_path):
    # - -> + in fills/edge_to_edge.py: in the library every border lies evenly about 0
    drawn = []
    for name, shift in (("here", 0.0), ("there", 37.0)):
        wave = f"M{shift} 30 C{shift + 20} 0 {shift + 20} 60 {shift + 40} 30"
        page = '<svg xmlns="http://www.w3.org/2000/svg" width="120mm" height="60mm" viewBox="0 0 120 60">'
        text = f'{page}<path d="{wave}" fill="none" stroke="#000"/></svg>'
        (tmp_path / f"{name}.svg").write_text(text, encoding="utf-8")
        plan = '[top.blocks]\nsize = 12\nrows = [["a"]]\n[[zone]]\nname = "a"\npatches = ["a*"]\n[zone.fill]\n'
        (tmp_path / f"{name}.toml").write_text(f'{plan}kind = "edge-to-edge"\nart = "{name}.svg"\n', encoding="utf-8")
        drawn.append(draw(read_plan(tmp_path / f"{name}.toml")).filled[0].strokes)
    here, there = drawn
    assert len(here) == len(there) > 0
    for a, b in zip(here, there):
        assert a.path == pytest.approx(b.path, abs=1e-6)


def test_a_dividing_line_that_ends_within_is_drawn_on_straight():
    # - -> + of the last leg in geometry/areas/divide.py: y = 30 + x / 6 from x = 10 to 50, in a square of 100;
    # drawn on it parts off a trapezium whose middle height is 30 + 50 / 6
    square = as_region([(0, 0), (100, 0), (100, 100), (0, 100)])
    line = np.array([(x, 30 + x / 6) for x in (10.0, 30.0, 50.0)])
    above, below = (sum(p.area for p in part) for part in divide_by_line(square, line).parts)
    assert (above, below) == (pytest.approx(100 * (30 + 50 / 6)), pytest.approx(100 * (70 - 50 / 6)))


@pytest.mark.parametrize(("odd", "at_first"), [([0, 1, 0], 1), ([1, 0, 1], 2)])
def test_a_honeycomb_of_three_rows_of_four_has_two_triangles_for_each_step_in_each_gap(odd, at_first):
    # 0 -> 1 in geometry/fields/honeycomb.py: between two rows of four lie 2 x 3 triangles; the first place of all is
    # the corner of one where its row is not set in, else of two
    triangles, _ = _lattice_triangles(np.arange(12).reshape(3, 4), np.array(odd))
    assert len(triangles) == 2 * 2 * 3
    assert sorted(set(triangles.ravel().tolist())) == list(range(12))
    assert (triangles == 0).sum() == at_first


@pytest.mark.parametrize("stitch_mm", [1.5, 2.0, 4.0])
def test_the_longest_line_needs_nine_tenths_of_a_bobbin_stitched_as_a_straight_line(stitch_mm):
    # / -> * in stitches/thread.py: without a word of how closely, it is stitched at the machine's own length
    machine = Machine(bobbin_mm=60_000.0, stitch_mm=stitch_mm)
    longest = longest_line_mm(machine, thickness_mm=2.0)
    need = thread_mm(longest, longest / stitch_mm, machine, thickness_mm=2.0, lines=1)[1]
    assert need == pytest.approx(0.9 * 60_000.0)
