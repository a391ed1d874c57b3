"""More small wrong changes to the code that no other test noticed; each is named beside the check that it fails."""

from __future__ import annotations

import re
from dataclasses import replace
from io import BytesIO
from types import SimpleNamespace

import numpy as np
import pytest
from PIL import Image
from shapely import LineString, Polygon, affinity, box
from svgelements import Path

from plumeline import demo
from plumeline.drawing import svg as svg_reader
from plumeline.drawing.marks import Mark
from plumeline.drawing.names import base_names
from plumeline.errors import InputError
from plumeline.fills.feather import borders, layout, plumes
from plumeline.fills.feather.spine import Spine, Spines
from plumeline.fills.feather.spines import lay_spines
from plumeline.fills.kit.motifs import plume
from plumeline.fills.meander import points
from plumeline.fills.meander.opening import _wavy as wavy_cut
from plumeline.geometry import dedupe, disc, path_length
from plumeline.geometry.fields import honeycomb, medial
from plumeline.ideas import facts_of
from plumeline.lines.order import bands
from plumeline.lines.sources import sources_of
from plumeline.model import Patch, Reach, Relief, Top, Way, as_path
from plumeline.output import path_picture, reach_sheet
from plumeline.pipeline import cloth, pictures
from plumeline.pipeline.straight import straight_data
from plumeline.plan import parse_plan
from plumeline.quilt import draw
from plumeline.review import loft
from plumeline.top import StraightLimits, photo
from plumeline.top.photo_points import MeasuredPoints, _refuse_doubles
from plumeline.top.straight_table import BlockRow, StraightTable
from shapes import zone


def test_a_wavy_cut_is_as_calm_at_one_end_as_at_the_other():
    # wrong change: the swing fades out at the start alone
    start, stop = np.zeros(2), np.array([200.0, 0.0])
    aside = np.abs(wavy_cut(start, stop, 10.0)[1:-1, 1])
    assert aside == pytest.approx(aside[::-1], abs=1e-9)
    assert aside.max() > 0 and aside[:2].max() < 0.5 * aside.max()


def test_an_even_arch_stays_even_when_it_is_rounded(monkeypatch):
    # wrong change: the mirrored points beyond one end begin one point further
    monkeypatch.setattr(plumes, "_kept_inside", lambda _cells, _plain, smooth: smooth)
    t = np.linspace(0, np.pi, 401)
    arch = np.column_stack([30 * (1 - np.cos(t)), 40 * np.minimum(np.sin(t), 0.8)])
    (rounded,) = plumes._rounded(None, [arch], np.array([20.0]), np.array([0.0]))
    assert rounded[:, 1] == pytest.approx(rounded[::-1, 1], abs=1e-9)
    assert rounded[:, 0] + rounded[::-1, 0] == pytest.approx(60, abs=1e-9)


MARKS = {"A": (20.0, 20.0), "B": (180.0, 130.0)}
REACH = Reach(1, (0.0, 0.0, 200.0, 150.0), as_path(list(MARKS.values())))
SHEET = reach_sheet.ReachSheet(
    title="t", plan="p", units="in", top=Top((Patch("a", box(0, 0, 200, 150)),), (), {}, (200.0, 150.0)), reach=REACH,
    reaches=(REACH,), lines=(), zones=(), others=(), sewn={}, own=MARKS, later={},
)  # fmt: skip


def test_the_letter_of_a_mark_stands_close_to_it_towards_the_middle():
    # wrong change: twice as far aside one way
    drawn = reach_sheet._crosses(SHEET, 1.0, np.zeros(2))
    places = np.array([[float(v) for v in c.split('"')[1:4:2]] for c in drawn if 'r="2.6"' in c])
    for place, mark in zip(places, MARKS.values(), strict=True):
        away = place - mark
        assert np.abs(away) == pytest.approx([4.4, 4.4], abs=0.06)
        assert away @ (np.array([100.0, 75.0]) - mark) > 0


def test_the_cloth_of_a_reach_fills_its_picture():
    # wrong change: the patches are drawn beside the picture
    drawn = "".join(reach_sheet._picture(SHEET, 190.0, 120.0).rows)
    frame = {k: float(v) for k, v in re.findall(r' (x|y|width|height)="([\d.]+)"', drawn.split("/>")[0])}
    filled = path_bounds(re.search(r'<path d="([^"]+)" fill="#fbf9f4"', drawn)[1])
    left, top = frame["x"], frame["y"]
    assert filled == pytest.approx((left, top, left + frame["width"], top + frame["height"]), abs=0.1)


def test_every_place_of_a_lattice_is_in_a_triangle():
    # wrong change: the first place is in none
    number = np.arange(12).reshape(3, 4)
    triangles, _ = honeycomb._lattice_triangles(number, np.array([0, 1, 0]))
    assert len(triangles) == 2 * 2 * 3 and set(triangles.ravel()) == set(range(12))
    row, column = np.divmod(np.arange(12), 4)
    at = np.column_stack([column + 0.5 * (row % 2), row])
    a, b, c = (at[triangles[:, k]] for k in range(3))
    turn = (b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0]
    assert turn == pytest.approx(1)  # all of one size, turned one way


def test_how_slim_a_strip_is():
    # wrong change: half of its edge is a third of it
    plan = parse_plan(
        '[top.measured]\nsides = [12, 2, 12, 2]\ndiagonals = ["12.1655 in", "12.1655 in"]\n'
        '[[zone]]\nname = "strip"\npatches = ["*"]\ninset = "1/8"\n[zone.fill]\nkind = "ditch"\n'
    )
    drawn = draw(plan)
    facts = facts_of(drawn, drawn.zones[0])
    assert facts.slimness == pytest.approx(11.75 / 1.75, rel=1e-3)  # the inset is off on every side
    assert facts.largest_mm == pytest.approx(1.75 * 25.4, rel=1e-3)
    assert (facts.corners, facts.crooked_mm, facts.tight_beside) == (4, 0.0, None)


def test_badges_and_marks_of_starts_and_stops_lie_round_their_middle():
    # wrong change: a badge is three halves as wide as it is
    middle, half = np.array([100.0, 50.0]), np.array([12.0, 6.0])
    start = path_picture._badge(middle, half, "start 3", 1.0)
    said = dict(re.findall(r' (x|y|width|height|rx)="([\d.]+)"', start.split("/>")[0]))
    assert {k: float(v) for k, v in said.items()} == {"x": 88, "y": 44, "width": 24, "height": 12, "rx": 6}
    stop = path_picture._badge(middle, half, "stop 3", 1.0)
    box = path_bounds(re.search(r' d="([^"]+)"', stop)[1])
    assert box == pytest.approx((88, 44, 112, 56), abs=0.06)
    square = path_picture._mark(middle, "stop", 1.0)
    said = {k: float(v) for k, v in re.findall(r' (x|y|width|height)="([\d.]+)"', square)}
    assert said == pytest.approx({"x": 95.6, "y": 45.6, "width": 8.8, "height": 8.8})


def test_a_spine_bent_into_a_corner_ends_just_beside_it():
    # wrong change: the tip as many times further off as it is mm to the side
    way = np.column_stack([np.linspace(0, 100, 200), np.zeros(200)])
    corner = np.array([130.0, 30.0])
    spine = borders._into_corner(way, corner)
    off = borders.TIP_OFF * np.hypot(30, 30)
    assert np.hypot(*(spine[-1] - corner)) == pytest.approx(off)
    assert (spine[-1] - corner) @ np.array([-1, 1]) > 0  # on the side of the mitre that the spine comes from
    assert (spine[0] == way[0]).all()


def test_plumes_draw_in_by_half_the_gap_and_belly_out_once_between():
    # wrong change: the belly divided by its own rise and fall
    starts, wide, long = np.array([0, 0]), np.array([20.0]), np.array([400.0])
    belly = plumes._inset(wide, starts, long, 0.0, 0.05)[0]
    assert belly.max() == pytest.approx(0.05, rel=0.01) and belly[:, [0, -1]] == pytest.approx(0, abs=1e-9)
    for side in belly:
        top = int(np.argmax(side))
        assert (np.diff(side[: top + 1]) >= 0).all() and (np.diff(side[top:]) <= 0).all()
    apart = plumes._inset(wide, starts, long, 1.0, 0.0)[0]
    assert apart[:, -1] == pytest.approx([0.5 / 20] * 2) and apart[:, 0] == pytest.approx([0, 0])


def test_a_spine_along_a_bent_space_bends_with_it():
    # wrong change: every way through a space counts as straight
    ell = Polygon([(0, 0), (300, 0), (300, 60), (60, 60), (60, 300), (0, 300)])
    (spine,) = lay_spines("along", ell, bow=0.0, waves=None).spines
    assert ell.buffer(0.1).contains(LineString(spine.path))
    assert path_length(spine.path) > 1.15 * np.hypot(*(spine.path[-1] - spine.path[0]))  # round the corner


def test_a_meander_has_points_in_the_tip_of_a_sharp_corner():
    # wrong change: none is left, for each must stand half as far again from the edge as it can
    half = np.arctan2(20, 200)
    wedge = Polygon([(0, 0), (200, -20), (200, 20)])
    tips = points._tips(wedge, 10.0, 0.0)
    tip = tips[np.abs(tips[:, 1]) < 1e-9]
    assert len(tip) and tip[:, 0].min() == pytest.approx(0.26 * 10 / np.sin(half), rel=1e-3)


def test_a_round_spine_that_a_fence_cuts_is_open_in_its_piece():
    # wrong change: a closed spine counts as whole however little of it lies in the piece
    round_one = Spine(as_path(disc((100.0, 100.0), 80.0).exterior.coords[:-1]), closed=True)
    straight = Spine(as_path([(10, 20), (190, 20)]))
    whole = box(0, 0, 200, 200)
    (all_of_it,) = layout._assigned([whole], Spines((round_one, straight)))
    assert [spine.closed for spine in all_of_it.spines] == [True, False]
    left, right = box(0, 0, 130, 200), box(130, 0, 200, 200)
    most, rest = layout._assigned([left, right], Spines((round_one,)))
    (cut,) = most.spines
    assert not rest.spines and not cut.closed
    share = 1 - np.arccos(30 / 80) / np.pi  # of the circle left of a chord 30 mm off its middle
    assert path_length(cut.path) == pytest.approx(2 * np.pi * 80 * share, rel=0.01)


def test_the_way_through_a_round_space_is_its_longest_chord():
    # wrong change: each chord has to be twice as long as the best before
    oval = affinity.rotate(affinity.scale(disc((0.0, 0.0), 50.0), 1.6, 1.0), 20)
    axis = medial._diameter(oval)
    assert path_length(axis) == pytest.approx(160, rel=0.01)
    way = axis[-1] - axis[0]
    assert np.degrees(np.arctan2(way[1], way[0])) % 180 == pytest.approx(20, abs=2.6)


@pytest.mark.parametrize("top", [-800.0, 0.0, 5000.0])
def test_rows_are_counted_from_the_top_wherever_that_lies(top):
    # wrong change: the rows begin as far below the top as that lies below the page's edge
    centres = np.column_stack([np.tile([10.0, 90.0], 10), np.repeat(top + 10.0 * np.arange(10), 2)])
    assert bands(centres, "rows", count=5).tolist() == np.repeat([0, 0, 1, 1, 2, 2, 3, 3, 4, 4], 2).tolist()


def test_a_way_that_is_narrow_half_way_out_runs_into_a_corner():
    # wrong change: it is looked at a third of the way out, where it is wide yet
    far = np.linspace(100.0, 0.0, 101)
    wide, narrow = 80.0, 10.0
    assert medial._into_corner(far, np.where(far < 40, wide - far / 10, narrow))
    assert not medial._into_corner(far, np.where(far < 60, wide - far / 10, narrow))
    assert not medial._into_corner(10 * far, np.where(far < 40, wide - far / 10, narrow))  # too long for a corner


def test_two_points_in_one_place_are_one():
    # wrong change: paths of two points are left as they are
    assert dedupe([(1, 2), (1, 2)]).tolist() == [[1, 2]]
    assert dedupe([(1, 2), (3, 4)]).tolist() == [[1, 2], [3, 4]]
    assert dedupe([(0, 0), (5, 0), (0, 0)], closed=True).tolist() == [[0, 0], [5, 0]]


def test_a_layer_names_its_shapes_unless_it_holds_everything_in_several_colours():
    # wrong change: one layer, or several colours, are enough for the layer to count for nothing
    def named(*marks):
        return base_names([Mark((), True, False, layer=layer, colour=colour) for layer, colour in marks])

    assert named(("star", "#ff0000"), ("star", "#ff0000")) == ["star", "star"]
    assert named(("star", "#ff0000"), ("sky", "#0000ff")) == ["star", "sky"]
    both = named(("all", "#ff0000"), ("all", "#0000ff"))
    assert "all" not in both and len(set(both)) == 2


def test_points_exactly_half_a_millimetre_apart_are_two():
    # wrong change: that near is already the same place
    places = np.array([(0.0, 0.0), (0.5, 0.0), (100.0, 100.0), (0.0, 300.0)])
    apart = MeasuredPoints("points.csv", (2, 3, 4, 5), 1000 * places, places)
    assert _refuse_doubles(apart, "in") is None
    with pytest.raises(InputError, match="lie at the same place on the top"):
        _refuse_doubles(replace(apart, places=places * 0.9), "in")


def test_the_light_of_a_quilt_lies_on_its_top(monkeypatch):
    # wrong change: it is drawn as high as its rows are fine
    flat = np.zeros((40, 60), dtype=np.float32)
    relief = Relief(-3.0, -2.0, 0.5, 2.0, 4.0, flat, flat, flat)
    monkeypatch.setattr(cloth, "relief_of_top", lambda *_, **__: relief)
    monkeypatch.setattr(cloth, "sewn_before", lambda _: ())
    plan = SimpleNamespace(batting=None)
    data, place = cloth.cloth_light(SimpleNamespace(top=None, lines=(), plan=plan))
    assert place == (-3.0, -2.0, 30.0, 20.0)
    with Image.open(BytesIO(data)) as picture:
        assert picture.size == (60, 40)


@pytest.mark.parametrize("count", [4, 400])
def test_points_are_flat_by_how_far_they_lie_off_their_line_however_many(count):
    # wrong change: the more points, the further off they may lie
    x, side = np.linspace(0, 100, count), np.tile([1.0, -1.0], count // 2)
    for share, flat in ((0.9, True), (1.2, False)):
        assert svg_reader._flat(np.column_stack([x, share * svg_reader.READ_MM * side])) == flat


def test_a_cell_beside_a_line_is_pulled_by_both_its_sides():
    """Differences over distances of 1/2 and 1: 2 / (1/2 + 1) (2 + 1) = 4 in the middle; nothing beyond the grid."""
    # wrong change: one side counts twice
    cuts = loft._Cuts(after=np.array([[2.0, 0.0]], np.float32), before=np.zeros((1, 2), np.float32))
    (left, right), both = loft._pulls(cuts, (1, 3))
    assert both[0] == pytest.approx([1, 4, 1])
    assert left[0] == pytest.approx([0, 0, 1])  # the line lies between the first two
    assert right[0][:2] == pytest.approx([1, 4 / 3])


def test_which_points_lie_on_the_line_through_two():
    # wrong change: the line is shifted by the place of its first point
    places = np.array([(0.0, 0), (100, 0), (50, 0), (50, 50), (0, 100)]) + np.array([70, 30])
    on = {pair: flags.tolist() for pair, flags in photo._lines_of(places)}
    assert on[0, 1] == on[0, 2] == on[1, 2] == [True, True, True, False, False]
    assert on[1, 3] == [False, True, False, True, True]
    assert on[2, 3] == [False, False, True, True, False]


def test_a_close_up_shows_its_space_with_a_margin_on_every_side():
    # wrong change: it is as wide as the space lies to the right
    here = zone(box(1000, 200, 1100, 250))
    left, top, width, height = pictures._window(here)
    margin = 1000 - left
    assert margin > 0 and (top, width, height) == pytest.approx((200 - margin, 100 + 2 * margin, 50 + 2 * margin))


def test_a_way_that_leads_back_to_its_start_is_closed():
    # wrong change: it has to be there one point sooner
    ring = [(0, 0), (10, 0), (10, 10), (0, 10), (0, 0)]
    shut, open_way = sources_of([], [Way(as_path(ring), "edge"), Way(as_path(ring[:-1]), "edge")], passes=2)
    assert (shut.closed, open_way.closed) == (True, False)


def test_the_sample_s_drawing_is_as_large_as_its_table_makes_it_and_half_an_inch_deeper():
    """Three by three 12 in blocks on point with borders of 1 and 5 1/2 in: 36 times 1.41421 and 13 in."""
    # wrong change: half an inch less deep than wide
    said = dict(re.findall(r' (width|height)="([\d.]+)mm"', demo.quilt_drawing().split(">")[0]))
    side = (36 * 2**0.5 + 13) * 25.4
    assert {k: float(v) for k, v in said.items()} == pytest.approx({"width": side, "height": side + 12.7}, abs=0.01)


def test_a_pale_colour_is_so_far_on_the_way_to_white():
    # wrong change: a colour's part is read one digit too far
    assert path_picture._pale("#ffffff") == "#ffffff"
    pale = path_picture._pale("#0040ff")
    parts = [int(pale[k : k + 2], 16) for k in (1, 3, 5)]
    assert len(pale) == 7 and parts == [round(v + path_picture.PALE * (255 - v)) for v in (0, 64, 255)]


def test_plumes_of_a_ring_share_a_whole_turn(monkeypatch):
    # wrong change: their room grows with the square of the ring
    rooms = []
    monkeypatch.setattr(plume, "_plumes", lambda *_, room, inwards, **__: rooms.append((*room, inwards)) or [])
    circle = tuple(3 * np.exp(-2j * np.pi * k / 240) for k in range(240))
    plume._ring((-5 - 5j, 5 + 5j), 0j, circle, 0.2, 1.0)
    outer = [(each, spread) for each, spread, inwards in rooms if not inwards]
    assert len(outer) * outer[0][1] == pytest.approx(2 * np.pi)
    assert len(outer) * outer[0][0] == pytest.approx(6 * np.pi, rel=1e-3)
    assert {spread for _, spread, inwards in rooms if inwards} == {-outer[0][1]}


def test_figures_of_blocks_are_told_to_a_thousandth_of_a_millimetre():
    # wrong change: to a ten-thousandth, which no tape and no photo tells
    sides = (100.12345, 100.0, 99.98765, 100.0)
    block = BlockRow("a", np.zeros((4, 2)), sides, (141.42135, 141.0))
    data = straight_data(StraightTable((), (block,), (), StraightLimits()), "in")
    (row,) = data["blocks"]
    assert row["sides_mm"] == [100.123, 100.0, 99.988, 100.0]
    assert (row["diagonals_mm"], row["skew_mm"]) == ([141.421, 141.0], 0.421)


def path_bounds(data):
    """The box of a path as another library reads it."""
    return Path(data).bbox()
