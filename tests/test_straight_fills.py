"""The straight fills against closed forms (worked out beside each check) and against shapely as the other hand."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.affinity import rotate

from plumeline.errors import FillError
from plumeline.fills import find_fill
from plumeline.fills.crosshatch import through_corners
from plumeline.fills.kit.limits import nearest_count
from plumeline.fills.kit.parallel import offsets_across
from plumeline.fills.kit.stack import Layer, fill_zone
from plumeline.geometry import (
    arc_lengths,
    as_region,
    close_ring,
    crossings,
    disc,
    path_length,
    self_crossings,
    widest_gap,
)
from plumeline.model import Frame
from plumeline.pipeline.single import try_fill
from shapes import IN, NAMED, polygon, random_regions, rectangle, regular, zone


def draw(name, z, **given_):
    fill = find_fill(name)
    chosen = fill.settings.model_validate(given_, context={"units": "in"})
    return fill(z, chosen, rng=np.random.default_rng(1))


def stacked(name, z):
    fill = find_fill(name)
    return fill_zone(z, [Layer(fill, fill.settings())])


def inches(filled, role="stitch"):
    return sum(path_length(s.path, closed=s.closed) for s in filled.strokes if s.role == role) / IN


def across(path, angle_deg):
    """Offset of a line at an angle, square to it."""
    a = math.radians(angle_deg)
    return float(path.mean(axis=0) @ np.array([math.sin(a), math.cos(a)]))


# channel ---------------------------------------------------------------------------------------------------------


def test_seventeen_diagonals():
    # 45-degree lines in a 12 in square, 1 in apart, one on the diagonal: 17 lines, 17 * 12 sqrt 2 - 2 * 72 = 144.499567
    square = polygon([(-6, -6), (6, -6), (6, 6), (-6, 6)])
    filled = draw("channel", zone(square, frame=Frame()), spacing=1, angle=45, edge="full", run_on=True)
    assert len(filled.strokes) == 17
    assert inches(filled) == pytest.approx(17 * 12 * math.sqrt(2) - 144, abs=1e-6)
    assert inches(filled) == pytest.approx(144.499567, abs=1e-6)


def test_serpentine():
    # 10 x 8 in at 1/2: N = h / d = 16 lines; N w + (N - 1) d = 167.5 with the turns along the edge
    filled = draw("channel", zone(rectangle(10, 8)))
    assert len(filled.strokes) == 16
    turns = [np.hypot(*(b.path[0] - a.path[-1])) / IN for a, b in pairwise(filled.strokes)]
    assert turns == pytest.approx([0.5] * 15, abs=1e-9)
    assert inches(filled) + sum(turns) == pytest.approx(167.5, abs=1e-6)


@given(st.floats(-180, 180), st.floats(0.3, 2.0))
@settings(max_examples=40, deadline=None)
def test_spacing_is_equal_and_edges_match(angle, spacing):
    region = NAMED["wobbly"]
    filled = draw("channel", zone(region, frame=Frame()), spacing=spacing, angle=angle)
    a = math.radians(angle)
    reach = shapely.get_coordinates(region) @ np.array([math.sin(a), math.cos(a)])
    at = np.array(sorted({round(across(s.path, angle), 6) for s in filled.strokes}))
    gaps = np.diff(at)
    count = len(gaps) + 1
    pitch = (reach.max() - reach.min()) / nearest_count((reach.max() - reach.min()) / spacing / IN)
    assert count == nearest_count((reach.max() - reach.min()) / spacing / IN)
    assert np.abs(gaps - pitch).max() < 3e-6
    assert at[0] - reach.min() == pytest.approx(pitch / 2, abs=1e-5)
    assert reach.max() - at[-1] == pytest.approx(pitch / 2, abs=1e-5)


@pytest.mark.parametrize("region", list(random_regions(12, seed=4)))
def test_every_line_once_as_shapely_cuts_it(region):
    filled = draw("channel", zone(region, frame=Frame()), angle=27)
    a = math.radians(27)
    along, square = np.array([math.cos(a), -math.sin(a)]), np.array([math.sin(a), math.cos(a)])
    reach = shapely.get_coordinates(region) @ square
    low, high = reach.min(), reach.max()
    count = nearest_count((high - low) / 12.7)
    whole = 0.0
    for i in range(count):
        o = low + (i + 0.5) * (high - low) / count
        cut = shapely.LineString([square * o - along * 1e3, square * o + along * 1e3]).intersection(region)
        whole += sum(g.length for g in getattr(cut, "geoms", [cut]) if g.length > 0.3 * 12.7)
    assert inches(filled) * IN == pytest.approx(whole, abs=1e-6 * whole)
    assert 0.9 < inches(filled) * IN * (high - low) / count / region.area < 1.1  # general sanity rule of even fills


def test_alternating_gaps_are_the_same_at_both_edges():
    filled = draw("channel", zone(rectangle(12, 10), frame=Frame()), spacing=[1, "1/4"])
    at = np.array([0.0, *[across(s.path, 0) / IN for s in filled.strokes], 10.0])
    gaps = np.diff(at)
    wide, narrow = gaps[0::2], gaps[1::2]
    assert len(gaps) % 2 == 1
    assert wide == pytest.approx([wide[0]] * len(wide))
    assert narrow == pytest.approx([wide[0] / 4] * len(narrow))
    assert wide[0] == pytest.approx(1.0, rel=0.1)


@given(st.floats(5, 500), st.lists(st.floats(1, 40), min_size=1, max_size=4), st.sampled_from(["half", "full", None]))
def test_offsets_add_up_to_the_width(width, gaps, edge):
    lines, stretch = offsets_across(width, tuple(gaps), edge)
    half = edge == "half" or (edge is None and len(gaps) == 1)
    first = gaps[0] * stretch * (0.5 if half else 1.0)
    assert lines[0] == pytest.approx(first)
    assert width - lines[-1] == pytest.approx(first)
    follow = (gaps[1:] + gaps[:1]) * len(lines)
    assert np.diff(lines) == pytest.approx(np.array(follow[: len(lines) - 1]) * stretch)


def test_run_on_lines_meet_between_blocks_however_their_frames_lie():
    left, right = rectangle(9, 12), polygon([(9, 0), (20, 0), (20, 12), (9, 12)])
    ends = []
    for region, frame in ((left, Frame((50.0, 70.0), 0.0)), (right, Frame((333.0, -20.0), 37.0))):
        filled = draw("channel", zone(region, frame=frame), spacing="3/4", angle=30, run_on=True)
        tips = np.vstack([s.path[[0, -1]] for s in filled.strokes])
        ends.append(np.sort(tips[np.abs(tips[:, 0] - 9 * IN) < 1e-4][:, 1]))
    assert len(ends[0]) > 10
    assert ends[0] == pytest.approx(ends[1], abs=1e-4)


def test_lines_on_an_edge_of_the_zone_are_left_out():
    # the L's inner edge lies at 8 of 12 in, where a line of a 1 in grid would fall: only its inner part has room
    filled = draw("channel", zone(NAMED["l12"]), spacing=1, edge="full")
    lengths = sorted(round(path_length(s.path) / IN, 3) for s in filled.strokes)
    assert lengths == [4.0] * 8 + [12.0] * 3


def test_a_large_stretch_is_said():
    (finding,) = draw("channel", zone(rectangle(12, 12)), spacing=8).findings
    assert finding.code == "spacing-stretched"
    assert "25 % closer" in finding.text
    assert not draw("channel", zone(rectangle(12, 12)), spacing=1).findings


def test_too_many_stitches_say_how_many():
    quilt = zone(rectangle(120, 120))
    # 120 x 120 in = 9.29e6 mm2; / 0.5 mm / 2.54 mm = 7.3 million
    with pytest.raises(FillError, match=r"about 7\.3 million stitches.*at most 5 million.*at least 0\.74 mm"):
        draw("channel", quilt, spacing="0.5 mm")
    for name in ("crosshatch", "rings", "rays"):
        with pytest.raises(FillError, match="million stitches"):
            draw(name, quilt, spacing="0.5 mm")


# piano keys ------------------------------------------------------------------------------------------------------


def test_piano_keys_meet_on_the_mitres():
    # 14 in frame 1 1/2 wide at 1/2: bent keys 1/4, 3/4, 5/4 from each tip, twice that long: 4.5 a corner; 22 keys of
    # 1 1/2 between the hole's corners on each of four sides
    filled = draw("channel", zone(NAMED["frame14"], frame=Frame()), piano_keys=True)
    bent = [s.path / IN for s in filled.strokes if len(s.path) == 3]
    straight = [s.path / IN for s in filled.strokes if len(s.path) == 2]
    assert len(bent) == 12
    assert len(straight) == 88
    for path in bent:
        x, y = np.minimum(path[1], 14 - path[1])
        assert x == pytest.approx(y, abs=1e-6)
        assert np.abs(np.diff(path, axis=0)).min(axis=1) == pytest.approx([0, 0], abs=1e-6)
    assert sum(path_length(p) for p in bent) == pytest.approx(18, abs=1e-5)
    assert [path_length(p) for p in straight] == pytest.approx([1.5] * 88, abs=1e-5)


def test_piano_keys_of_a_frame_out_of_true_bend_on_its_mitres():
    outer = np.array([(0, 0), (18.2, 0.3), (18, 12.2), (0.2, 11.8)])
    hole = np.array([(2, 2.1), (16, 2.4), (16.2, 10), (1.9, 9.8)])
    region = polygon(outer, [hole])
    filled = draw("channel", zone(region, frame=Frame()), piano_keys=True)
    bends = [s.path[1] / IN for s in filled.strokes if len(s.path) == 3]
    mitres = [shapely.LineString(pair) for pair in zip(outer, hole)]
    assert len(bends) >= 12
    assert max(min(m.distance(shapely.Point(b)) for m in mitres) for b in bends) < 1e-6
    assert not len(self_crossings([s.path for s in filled.strokes]))


@pytest.mark.parametrize("turn", [0.0, 37.0, 90.0, 123.0])
@pytest.mark.parametrize("wide", [4, 60])
def test_channels_along_run_with_the_long_edge_however_a_space_lies(turn, wide):
    strip = shapely.affinity.rotate(rectangle(90, wide), turn, origin=(0, 0))
    for stroke in draw("channel", zone(strip), along=True).strokes:
        step = stroke.path[-1] - stroke.path[0]
        # a turn by GEOS, whose y goes up where ours goes down, of lines to the right
        assert np.degrees(np.arctan2(step[1], step[0])) % 180 == pytest.approx(turn % 180, abs=1e-6)
        assert np.hypot(*step) == pytest.approx(90 * IN)


def test_piano_keys_of_a_strip_stand_across_it():
    filled = draw("channel", zone(rectangle(90, 4)), piano_keys=True)
    assert len(filled.strokes) == 180
    assert [path_length(s.path) / IN for s in filled.strokes] == pytest.approx([4] * 180)


@pytest.mark.parametrize("more", [{"run_on": True}, {"spacing": [1, "1/4"]}])
def test_piano_keys_go_alone(more):
    with pytest.raises(ValueError, match="piano_keys takes one spacing"):
        draw("channel", zone(NAMED["frame14"]), piano_keys=True, **more)


# crosshatch ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("size", [(12, 12), (18, 6), (9, 7)])
def test_on_point_lines_run_through_every_corner(size):
    z = zone(rectangle(*size))
    filled = draw("crosshatch", z)
    corners = np.array([(0, 0), (size[0], 0), size, (0, size[1])]) * IN
    ends = np.vstack([s.path[[0, -1]] for s in filled.strokes])
    touched = [np.hypot(*(ends - c).T).min() for c in corners]
    assert max(touched) < 1e-6


def test_usual_spacing_is_an_inch_and_less_in_small_blocks():
    upright = [len(draw("crosshatch", zone(rectangle(n, n)), on_point=False).strokes) for n in (12, 9)]
    assert upright == [2 * 11, 2 * 11]  # 12 spaces of 1 in; 12 of 3/4


def test_upright_lines_leave_whole_spaces_at_the_edges():
    filled = draw("crosshatch", zone(rectangle(12, 12), frame=Frame()), on_point=False)
    rows = sorted(across(s.path, 0) / IN for s in filled.strokes if abs(np.ptp(s.path[:, 1])) < 1e-9)
    assert rows == pytest.approx(range(1, 12))


@given(st.lists(st.floats(-0.5, 0.5), min_size=8, max_size=8), st.floats(0.5, 1.5))
@settings(max_examples=50, deadline=None)
def test_spacing_through_corners_out_of_true_stays_even(moves, spacing):
    region = polygon(np.array([(0, 0), (12, 0), (12, 12), (0, 12)]) + np.reshape(moves, (4, 2)))
    reach = shapely.get_coordinates(region) @ np.array([math.sin(math.pi / 4), math.cos(math.pi / 4)])
    lines = through_corners(region, 45.0, spacing * IN)
    gaps = np.diff([reach.min(), *lines, reach.max()])
    assert gaps.max() <= 1.06 * gaps.min() + 1e-9
    assert gaps.mean() == pytest.approx(spacing * IN, rel=0.121)


# rings and outline -----------------------------------------------------------------------------------------------


def chained(filled):
    """The strokes are one chain: each starts where the one before ended, rings and steps in turn."""
    assert {s.chain for s in filled.strokes} == {0}
    for a, b in pairwise(filled.strokes):
        assert {a.role, b.role} == {"stitch", "step"}
        assert a.closed != b.closed
    for a, b in pairwise(filled.strokes):
        assert (a.path[0] if a.closed else a.path[-1]) == pytest.approx(b.path[0], abs=1e-9)


def test_rows_round_a_frame():
    # squares of side 13.5, 12.5, 11.5 in a 14 in frame 1 1/2 wide: 4 (13.5 + 12.5 + 11.5) = 150; steps along the
    # whole mitre: 1.5 x sqrt(2)
    filled = draw("rings", zone(NAMED["frame14"]), rows=3, spacing=9)
    chained(filled)
    assert inches(filled) == pytest.approx(150, abs=1e-6)
    assert inches(filled, "step") == pytest.approx(1.5 * math.sqrt(2), abs=1e-6)


def test_rows_of_a_frame_out_of_true_divide_every_mitre_alike():
    outer = np.array([(0, 0), (18.2, 0.3), (18, 12.2), (0.2, 11.8)])
    hole = np.array([(2, 2.1), (16, 2.4), (16.2, 10), (1.9, 9.8)])
    filled = draw("rings", zone(polygon(outer, [hole])), rows=4)
    chained(filled)
    rows = [s.path / IN for s in filled.strokes if s.role == "stitch"]
    for i, row in enumerate(rows):
        for a, b in zip(outer, hole):
            assert np.hypot(*(row - (a + (b - a) * (i + 0.5) / 4)).T).min() < 1e-6
    assert not len(self_crossings(rows, closed=True))


def test_rows_of_a_round_ring():
    # radii 7 - (i + 1/2) / 4 for 16 rows: 2 pi * 16 * 5 = 160 pi, less than 1e-4 of it for the chords of the discs
    filled = draw("rings", zone(NAMED["ring"]))
    chained(filled)
    assert inches(filled) == pytest.approx(160 * math.pi, rel=2e-4)


def test_rows_from_square_to_round():
    filled = draw("rings", zone(NAMED["hole14"], frame=Frame()), rows=6)
    chained(filled)
    rows = [s.path for s in filled.strokes if s.closed]
    assert not len(self_crossings(rows, closed=True))
    on_axis = [row[:, 0].max() / IN for row in rows]  # from 14 at the edge to 11 at the hole
    assert on_axis == pytest.approx([14 - 3 * (i + 0.5) / 6 for i in range(6)], abs=2e-3)


def test_rows_of_a_hexagon():
    # every inset of a polygon round a circle of radius r has perimeter P (1 - d / r); side 6: r 5.196152, spacing 1/4
    # gives n = round(r / s - 1/2) = 20 rows at d = i r / 20.5, so 36 (20 - 210 / 20.5)
    filled = draw("rings", zone(regular(6, 6)))
    chained(filled)
    assert inches(filled) == pytest.approx(36 * (20 - 210 / 20.5), abs=1e-2)


def test_alternating_rows_end_in_a_wide_space():
    # 12 in square, gaps 1 and 1/4: D = 6 = q (n 1.25 + 1/2), n = round(5.5 / 1.25) = 4, q = 6 / 5.5
    filled = draw("rings", zone(rectangle(12, 12)), spacing=[1, "1/4"])
    chained(filled)
    sides = [math.sqrt(shapely.Polygon(s.path).area) / IN for s in filled.strokes if s.closed]
    gaps = -np.diff([12, *sides]) / 2
    assert gaps == pytest.approx(np.tile([6 / 5.5, 1.5 / 5.5], 4), abs=1e-2)
    assert sides[-1] == pytest.approx(6 / 5.5, abs=1e-2)


def test_alternating_rows_of_a_frame():
    # 1 1/2 in wide with gaps 3/8 and 1/4: 3/8 | 1/4 | 3/8 | 1/4 | 3/8 is 1 5/8, so all by 12/13
    filled = draw("rings", zone(NAMED["frame14"]), spacing=["3/8", "1/4"])
    chained(filled)
    sides = [path_length(s.path, closed=True) / IN / 4 for s in filled.strokes if s.closed]
    assert -np.diff([14, *sides, 11]) / 2 == pytest.approx(np.array([3, 2, 3, 2, 3]) / 8 * 12 / 13, abs=1e-9)


def test_outlines_of_a_hexagon():
    # hexagon side 6 in, echoes every 1/4 in: 20 rings, 356.269330 in
    filled = draw("outline", zone(regular(6, 6)), rows=30)
    assert len(filled.strokes) == 20
    assert inches(filled) == pytest.approx(356.269330, abs=1e-4)


def test_outline_stands_at_its_distance_and_takes_the_band():
    filled = draw("outline", zone(NAMED["two holes"]), distance="3/8")
    assert len(filled.strokes) == 3
    edge = NAMED["two holes"].boundary
    far = [edge.distance(shapely.Point(p)) / IN for s in filled.strokes for p in s.path]
    assert min(far) == pytest.approx(0.375, abs=1e-6)
    assert sum(r.area for r in filled.taken) == pytest.approx(
        NAMED["two holes"].area - NAMED["two holes"].buffer(-0.375 * IN, join_style="mitre").area, rel=1e-6
    )


@pytest.mark.parametrize("shape", ["l12", "plus12", "star5", "square12", "rectangle", "wobbly"])
@pytest.mark.parametrize("spacing", ["1/4", "3/8", "1/2"])
def test_no_row_comes_back_a_hair_from_itself(shape, spacing):
    filled = draw("rings", zone(NAMED[shape]), spacing=spacing)
    for ring in [shapely.Polygon(s.path) for s in filled.strokes if s.closed]:
        hair = ring.buffer(-0.1 * IN * 0.25, join_style="mitre")
        assert hair.length > ring.length - 2.0 * IN


@pytest.mark.parametrize("region", list(random_regions(15, seed=3)))
def test_rows_never_cross_and_steps_lead_from_row_to_row(region):
    filled = draw("rings", zone(region))
    rows = [s.path for s in filled.strokes if s.closed]
    steps = [s.path for s in filled.strokes if s.role == "step"]
    assert not len(self_crossings(rows, closed=True))
    assert not len(crossings(steps, [close_ring(r) for r in rows]))
    for chain in {s.chain for s in filled.strokes}:
        run = [s for s in filled.strokes if s.chain == chain]
        for a, b in pairwise(run):
            assert (a.path[0] if a.closed else a.path[-1]) == pytest.approx(b.path[0], abs=1e-6)


def test_rows_start_at_the_mitre_nearest_to_where_she_comes_in():
    filled = draw("rings", replace(zone(NAMED["frame14"]), enter=(14 * IN, 14 * IN)), rows=2)
    assert filled.strokes[0].path / IN == pytest.approx(np.array([(14, 14), (14 - 0.375, 14 - 0.375)]))


# ditch -----------------------------------------------------------------------------------------------------------


def test_ditch_is_the_outline_of_the_patch_itself():
    patch = NAMED["frame14"]
    z = replace(zone(as_region(patch.buffer(-3, join_style="mitre"))), outline=patch)
    filled = draw("ditch", z)
    assert len(filled.strokes) == 2
    assert all(s.closed for s in filled.strokes)
    assert inches(filled) == pytest.approx(56 + 44)
    assert find_fill("ditch").stage == "ditch"


def test_ditch_skips_the_edge_of_a_part_left_open():
    # a round bite of radius 2 in at the middle of the lower edge takes 4 in out of 48
    patch, bite = rectangle(12, 12), disc((6 * IN, 12 * IN), 2 * IN)
    z = replace(zone(as_region(patch.difference(bite))), outline=patch, left_open=(bite,))
    filled = draw("ditch", z)
    assert len(filled.strokes) == 1
    assert inches(filled) == pytest.approx(44, abs=2e-3)


@pytest.mark.parametrize("turn", [0.0, 33.0, 90.0, 135.0])
@pytest.mark.parametrize(("wide", "along"), [(3, True), (5, True), (8, False)])
def test_channels_run_along_a_slim_strip_however_it_lies(turn, wide, along):
    strip = rotate(rectangle(18, wide), -turn, origin=(0, 0))  # y runs down: against the clock as seen
    ways = [np.diff(s.path[[0, -1]], axis=0)[0] for s in draw("channel", zone(strip)).strokes]
    angles = np.degrees([np.arctan2(-w[1], w[0]) for w in ways]) % 180
    wanted = turn % 180 if along else 0.0
    assert len(ways) > 4
    assert np.abs((angles - wanted + 90) % 180 - 90).max() < 1e-6
    said = [s.path for s in draw("channel", zone(strip), angle=0).strokes]
    assert max(float(np.ptp(path[:, 1])) for path in said) < 1e-6


def test_an_outline_does_not_shoot_across_from_the_tip_of_a_slit():
    # a slit of 1/8 in, its tip 2.4 degrees sharp: a full mitre would reach 12 in, one cut off still some inches
    region = polygon([(0, 0), (12, 0), (12, 12), (6.125, 12), (6.0625, 9), (6, 12), (0, 12)])
    (line,) = draw("outline", zone(region)).strokes
    edge = region.boundary
    off = shapely.distance(shapely.points(line.path), edge) / 6.35
    assert off.min() == pytest.approx(1.0, abs=1e-3)
    assert off.max() == pytest.approx(1.5, abs=1e-2)
    corners = [p for p in line.path if shapely.Point(p).distance(shapely.Point(0.25 * IN, 0.25 * IN)) < 1e-6]
    assert len(corners) == 1  # and square corners stay sharp


def test_chords_of_an_edge_whose_corners_huddle_stand_evenly_round_it():
    # a circle of 5 in with three notches close together: eight marks an eighth of the way round, not a bundle
    angle = np.linspace(0, 2 * np.pi, 120, endpoint=False)
    radius = np.where(np.isin(np.arange(120), [2, 5, 8]), 4.8, 5.0)
    region = polygon(np.column_stack([radius * np.cos(angle), radius * np.sin(angle)]))
    filled = draw("chords", zone(region))
    ends = np.unique(np.round(np.vstack([s.path[[0, -1]] for s in filled.strokes]), 3), axis=0)
    ring = region.exterior
    at = np.sort([ring.project(shapely.Point(p)) for p in ends])
    even = np.abs(np.diff(at) / (ring.length / 16) - 1) < 0.01
    assert even.sum() >= 13  # but where a notch cuts a chord short


# rays ------------------------------------------------------------------------------------------------------------


def rays(filled):
    """The rays alone, without the steps from one to the next."""
    return [s for s in filled.strokes if s.role == "stitch"]


def test_rays_stop_before_they_come_too_close():
    # 32 rays in a circle of 4 in, 1/8 least: step 2 pi / 32; halvings by the place's trailing zeros, at most 2 (8 left)
    filled = draw("rays", zone(NAMED["circle4"]), count=32, least="1/8")
    reach = [1 / 8 / (2 * math.pi / 32 * 2 ** min((i & -i).bit_length() - 1 if i else 2, 2)) for i in range(32)]
    assert inches(filled) == pytest.approx(32 * 4 - sum(reach), abs=0.02)
    lines = [shapely.LineString(s.path) for s in rays(filled)]
    closest = min(a.distance(b) for i, a in enumerate(lines) for b in lines[:i])
    assert closest / IN == pytest.approx(1 / 8, rel=0.03)


def test_rays_are_evenly_turned():
    filled = draw("rays", zone(NAMED["circle4"]), count=24)
    ends = [s.path[-1] if i % 2 == 0 else s.path[0] for i, s in enumerate(rays(filled))]
    angle = np.unwrap([math.atan2(y, x) for x, y in ends])
    assert np.diff(angle) == pytest.approx([2 * math.pi / 24] * 23, abs=1e-6)


def test_spacing_of_rays_is_that_at_the_middle_distance():
    # half of a circle of 4 in lies beyond 4 / sqrt 2: 2 pi 2.828 / (1/2) = 35.5 rays, to the nearest eight 32
    assert len(rays(draw("rays", zone(NAMED["circle4"])))) == 32


def test_rays_from_a_corner_divide_its_angle():
    # two corners are alike, so the rays come from the third, the right angle at (0, 0); 7 leave 8 equal angles
    filled = draw("rays", zone(NAMED["right6"], frame=Frame()), at="corner", count=7)
    tips = [s.path if i % 2 == 0 else s.path[::-1] for i, s in enumerate(rays(filled))]
    angle = [math.degrees(math.atan2(*(t[-1] - t[0])[::-1])) % 360 for t in tips]
    assert np.abs(np.diff(angle)) == pytest.approx([90 / 8] * 6, abs=1e-6)
    back = [t[0] - (t[1] - t[0]) * 100 for t in tips]
    lines = shapely.linestrings([[b, t[1]] for b, t in zip(back, tips)])
    assert shapely.distance(lines, shapely.Point(0, 0)).max() < 1e-6


def test_the_corner_is_the_sharpest_where_no_two_are_alike():
    filled = draw("rays", zone(polygon([(0, 0), (8, 0), (0, -3)])), at="corner", count=3)
    ends = np.vstack([[s.path[0], s.path[-1]] for s in rays(filled)])
    to_tip = np.array([8, 0]) * IN - ends
    angles = np.degrees(np.arctan2(to_tip[:, 1], to_tip[:, 0]))
    whole = math.degrees(math.atan2(3, 8))
    assert sorted(set(np.round(angles, 3))) == pytest.approx([whole / 4, whole / 2, whole * 3 / 4], abs=2e-3)


LONG_SPACES = {
    "4 : 1": (rectangle(16, 4), 4, {}),
    "strip": (rectangle(24, 4), 6, {}),
    "L": (polygon([(0, 0), (4, 0), (4, 8), (12, 8), (12, 12), (0, 12)]), 5, {"middles": 5}),
}


@pytest.mark.parametrize("name", LONG_SPACES)
def test_rays_of_a_long_space_come_from_middles_in_a_row_and_meet_halfway(name):
    region, middles, said = LONG_SPACES[name]
    quilt = try_fill("rays", region, said)
    assert quilt.report["zones"][0]["lines"] == 1
    assert "knot" not in {f["code"] for f in quilt.report["findings"]}
    strokes = quilt.filled[0].strokes
    assert not len(self_crossings([s.path for s in strokes]))
    # each ray points at its middle: the lines through pairs of rays of a straight strip meet only there
    inner = [
        p
        for s in strokes
        if s.role == "stitch"
        for p in s.path[[0, -1]]
        if region.boundary.distance(shapely.Point(p)) > 1
    ]
    apart = region.area / (4 * IN) / middles  # the middles are as far apart as the space is wide
    groups = connected([tuple(p) for p in inner], 0.35 * apart)
    assert len(groups) == middles
    bent = [s.path[1] for s in strokes if s.role == "stitch" and len(s.path) == 3]
    centres = [np.mean(group, axis=0) for group in groups]
    for at in bent:  # mirrored: as far from one middle as from the other
        near = np.sort([np.hypot(*(at - centre)) for centre in centres])[:2]
        assert near[0] == pytest.approx(near[1], abs=0.06 * apart)
    assert bent


def connected(points, within):
    groups = []
    for point in points:
        close = [g for g in groups if any(np.hypot(*(np.array(point) - q)) < within for q in g)]
        groups = [g for g in groups if not any(g is c for c in close)] + [[point, *(q for c in close for q in c)]]
    return groups


@pytest.mark.parametrize("shape", ["square12", "star5"])
def test_a_space_that_is_not_long_or_has_arms_has_one_middle(shape):
    one, left_out = (draw("rays", zone(NAMED[shape]), **said).strokes for said in ({"middles": 1}, {}))
    assert [s.path.tolist() for s in one] == [s.path.tolist() for s in left_out]


def test_far_out_one_more_ray_begins_between_two():
    # the sideways points of this star lay up to 2.3 spacings from any ray
    turns = np.arange(10) * math.pi / 5
    reach = np.where(np.arange(10) % 2, 2.4, 6.0)
    star = polygon(np.column_stack([reach * np.sin(turns), -reach * np.cos(turns)]).tolist())
    strokes = rays(stacked("rays", zone(star)))
    corners = shapely.points(np.asarray(star.exterior.coords))
    assert shapely.distance(shapely.MultiLineString([s.path for s in strokes]), corners).max() < 1.5 * 12.7
    centre = np.zeros(2)
    begin = np.sort([np.hypot(*(s.path - centre).T).min() for s in strokes])
    short = [s for s in strokes if np.hypot(*(s.path - centre).T).min() > 2 * begin[len(begin) // 2]]
    assert short
    assert all(np.hypot(*np.ptp(s.path, axis=0)) >= 12.7 - 1e-6 for s in short)


def test_rays_come_from_a_point_of_the_page_or_the_middle_of_a_hole():
    hole = as_region(rectangle(12, 12).difference(disc((5 * IN, 5 * IN), 2 * IN)))
    for z, more in ((zone(rectangle(12, 12), frame=Frame((70.0, 9.0), 20.0)), {"at": [5, 5]}), (zone(hole), {})):
        filled = draw("rays", z, count=16, **more)
        lines = np.array([s.path for s in rays(filled)])
        way = lines[:, 1] - lines[:, 0]
        to = np.array([5 * IN, 5 * IN]) - lines[:, 0]
        off = np.abs(way[:, 0] * to[:, 1] - way[:, 1] * to[:, 0]) / np.hypot(*way.T)
        assert len(lines) == 16
        assert off.max() < 1e-3


def test_rays_of_a_space_of_legs_come_from_the_middle_of_its_area():
    # an M of straight strokes with heavier right ones: the roomiest point lies in one of its legs and sees little else
    left = [(5, 6), (1.6, 0), (0, 0), (0, 10), (1.1, 10), (1.1, 2.5), (5, 9.2)]
    right = [(8.4, 2.5), (8.4, 10), (10.6, 10), (10.6, 0), (8.4, 0)]
    region = polygon([*left, *right])
    filled = draw("rays", zone(region))
    middle = np.array(region.centroid.coords[0])
    ways = [np.diff(s.path[[0, -1]], axis=0)[0] for s in rays(filled)]
    offs = [(s.path[0] - middle) @ np.array([-w[1], w[0]]) / np.hypot(*w) for s, w in zip(rays(filled), ways)]
    assert np.abs(offs).max() < 0.01
    # and all round: each of the three is half filled or better, at a median distance of half an inch
    for x0, x1 in ((0, 1.1), (1.1, 8.4), (8.4, 10.6)):
        part = region.intersection(shapely.box(x0 * IN, 0, x1 * IN, 10 * IN))
        inside = sum(part.intersection(shapely.LineString(s.path)).length for s in rays(filled))
        assert inside > 0.5 * part.area / (IN / 2)


def test_rays_from_outside_spread_over_what_they_see():
    # from 12 in beyond the middle of a side of 12 in the corners lie at 26.565 degrees to either side; 9 parts of that
    filled = draw("rays", zone(rectangle(12, 12)), at=[6, -12], count=8, radius=0)
    way = [abs(math.degrees(math.atan2(*(s.path[1] - s.path[0])))) % 180 for s in rays(filled)]
    assert len(way) == 8
    turned = sorted(min(w, 180 - w) for w in way)
    part = 2 * math.degrees(math.atan2(6, 12)) / 9
    assert turned == pytest.approx(np.repeat([0.5, 1.5, 2.5, 3.5], 2) * part, abs=1e-6)


def test_the_disc_is_left_free_and_its_rim_drawn():
    filled = draw("rays", zone(NAMED["circle4"]), count=16, radius=1, rim=True, stop_short=False)
    *lines, rim = filled.strokes
    assert rim.closed
    assert path_length(rim.path, closed=True) / IN == pytest.approx(2 * math.pi, rel=1e-3)
    assert [path_length(s.path) / IN for s in lines] == pytest.approx([3] * 16, abs=2e-3)


@pytest.mark.parametrize("name", ["square12", "circle4", "triangle", "hexagon"])
def test_rays_are_gone_along_once_over_short_steps_beside_the_middle(name):
    region = {**NAMED, "triangle": polygon([(0, 0), (12, 0), (0, 12)]), "hexagon": regular(6, 6)}[name]
    totals = try_fill("rays", region, {}).report.totals
    assert totals.lines == 1
    assert totals.backtracked_mm < 0.01 * totals.sewn_mm  # sewn to the middle and back it was up to half
    assert totals.densest_inch < 10.0  # a knot by the common practice; it was 12 to 13
    steps = [s.path for s in draw("rays", zone(region)).strokes if s.role == "step"]
    assert steps and max(path_length(p) for p in steps) < 6.35


def test_an_l_that_one_middle_sees_has_rays_from_that():
    region = polygon([(0, 0), (12, 0), (12, 5), (5, 5), (5, 12), (0, 12)])
    (centre,) = {tuple(np.round(p, 3)) for p in _met_in(rays(draw("rays", zone(region))))}
    # the inscribed circle touches both outer sides and the inner corner (5, 5): r = 5 sqrt 2 / (1 + sqrt 2)
    assert np.array(centre) / IN == pytest.approx([5 * math.sqrt(2) / (1 + math.sqrt(2))] * 2, abs=0.02)


def _met_in(strokes):
    """Where straight strokes meet when they are drawn on: the crossing of each with the first two that cross it."""
    a, b = np.array([s.path[0] for s in strokes]), np.array([s.path[-1] - s.path[0] for s in strokes])
    normal = np.column_stack([-b[:, 1], b[:, 0]]) / np.hypot(*b.T)[:, None]
    point, *_ = np.linalg.lstsq(normal, (normal * a).sum(axis=1), rcond=None)
    assert np.abs((normal * (point - a)).sum(axis=1)).max() < 0.01
    return [point]


# chords ----------------------------------------------------------------------------------------------------------


def test_corners_to_middles_of_a_square():
    # each corner to the middles of the two far sides: 8 lines of sqrt(12^2 + 6^2)
    filled = draw("chords", zone(rectangle(12, 12)))
    assert [path_length(s.path) / IN for s in filled.strokes] == pytest.approx([math.sqrt(180)] * 8, abs=1e-6)


def test_medians_of_a_triangle_meet():
    filled = draw("chords", zone(polygon([(0, 0), (9, 1), (3, 7)])))
    middle = np.array([4.0, 8 / 3]) * IN
    assert len(filled.strokes) == 3
    assert max(shapely.LineString(s.path).distance(shapely.Point(middle)) for s in filled.strokes) < 1e-5


@pytest.mark.parametrize(
    ("marks", "count"), [(("corners", "corners"), 2), (("middles", "middles"), 6), (("thirds", "thirds"), 24)]
)
def test_every_pair_of_marks_once(marks, count):
    # square: 2 diagonals; 4 middles, all 6 pairs on different sides; 8 thirds: 28 pairs less the 4 on one side
    filled = draw("chords", zone(rectangle(12, 12)), **{"from": marks[0], "to": marks[1]})
    assert len(filled.strokes) == count


def test_a_web_touches_its_parabola():
    # lines with intercepts a t and a (1 - t) all touch sqrt x + sqrt y = sqrt a
    filled = draw("chords", zone(polygon([(0, 0), (12, 0), (12, 12), (0, 12)]), frame=Frame()), count=11)
    assert len(filled.strokes) == 44
    web = [s.path / IN for s in filled.strokes if (s.path / IN).min(axis=0) == pytest.approx([0, 0], abs=1e-9)]
    assert len(web) == 11
    for path in web:
        p, q = path[:, 0].max(), path[:, 1].max()
        touch = np.array([p * p, q * q]) / 12
        assert np.sqrt(touch).sum() == pytest.approx(math.sqrt(12), abs=1e-6)
        assert shapely.LineString(path).distance(shapely.Point(touch)) < 1e-6


# continuous curves -----------------------------------------------------------------------------------------------


def test_arcs_are_round_and_as_deep_as_said():
    # 4 in side, 1/8 of it deep: radius (c^2 / 4 + h^2) / 2 h = (4 + 1/4) / 1 = 4.25 in
    filled = draw("continuous-curve", zone(rectangle(4, 4), frame=Frame()))
    assert len(filled.strokes) == 4
    top = min((s.path / IN for s in filled.strokes), key=lambda p: p[:, 1].max())
    assert top[:, 1].max() == pytest.approx(0.5, abs=1e-3)
    assert np.hypot(top[:, 0] - 2, top[:, 1] - (0.5 - 4.25)) == pytest.approx(4.25, abs=1e-6)


def test_arcs_of_neighbours_share_their_corners_whatever_the_inset():
    patches = [rectangle(4, 4), polygon([(4, 0), (8, 0), (4, 4)])]
    ends = []
    for patch in patches:
        z = replace(zone(as_region(patch.buffer(-3, join_style="mitre"))), outline=patch)
        filled = draw("continuous-curve", z)
        assert all((a.path[-1] == pytest.approx(b.path[0], abs=1e-9)) for a, b in pairwise(filled.strokes))
        ends.append({tuple(np.round(s.path[0] / IN, 6)) for s in filled.strokes})
    assert ends[0] == {(0, 0), (4, 0), (4, 4), (0, 4)}
    assert ends[1] == {(4, 0), (8, 0), (4, 4)}


@given(st.lists(st.tuples(st.floats(0, 8), st.floats(0, 8)), min_size=3, max_size=3), st.floats(0.1, 2))
@settings(max_examples=60, deadline=None)
def test_arcs_of_a_triangle_never_meet_but_in_its_corners(corners, depth):
    triangle = shapely.Polygon(corners)
    if triangle.area < 0.5:
        return
    filled = draw("continuous-curve", zone(polygon(corners)), depth=depth)
    assert not len(self_crossings([s.path for s in filled.strokes]))
    for stroke in filled.strokes:
        inside = stroke.path[1:-1]
        assert shapely.distance(polygon(corners), shapely.points(inside)).max() < 1e-6
        assert len(arc_lengths(stroke.path)) > 3


def test_arcs_give_way_in_a_narrow_strip():
    filled = draw("continuous-curve", zone(rectangle(12, 0.6)), depth="1/2")
    assert not len(self_crossings([s.path for s in filled.strokes]))
    assert len(filled.strokes) == 4


def test_a_bald_spot_between_rows_is_said():
    region = list(random_regions(7, seed=1))[6]
    filled = stacked("rings", zone(region))
    (said,) = [f for f in filled.findings if f.code == "bald-spot"]
    assert said.severity == "warning"
    closed = [s.closed for s in filled.strokes]
    assert widest_gap([s.path for s in filled.strokes], region, closed=closed).diameter_mm > 3 * 6.35


def test_rows_beside_a_sharp_notch_do_not_shoot_out_across_the_rows_of_other_edges():
    # number 441 crossed itself 41 times while mitres reached out to eight times their depth, 24 had a bald spot
    regions = list(random_regions(442, seed=1))
    for region in (regions[24], regions[441]):
        filled = stacked("rings", zone(region))
        assert not len(self_crossings([close_ring(s.path, s.closed) for s in filled.strokes]))
        assert "warning" not in {f.severity for f in filled.findings if f.code == "bald-spot"} or region is regions[441]


@pytest.mark.parametrize("name", NAMED)
def test_rings_of_ordinary_spaces_are_not_called_bald(name):
    # the tips of the skinny triangle and the star get a note: no row goes into them
    assert "warning" not in {f.severity for f in stacked("rings", zone(NAMED[name])).findings if f.code == "bald-spot"}


# --- a grid bent to a crooked block -----------------------------------------------------------------------------------

CROOKED = np.array([(0.0, 0.0), (12.0, 0.4), (12.5, 11.6), (-0.3, 12.2)])


def bilinear(u, v):
    """The point of a straight-sided block at parts of its sides: the closed form that Coons' blend comes to there."""
    a, b, c, d = CROOKED * IN
    return (1 - u) * (1 - v) * a + u * (1 - v) * b + u * v * c + (1 - u) * v * d


@pytest.mark.parametrize("on_point", [False, True])
def test_a_bent_grid_is_even_along_each_side_and_meets_the_corners(on_point):
    result = draw("crosshatch", zone(polygon(CROOKED)), follow="corners", spacing=1, on_point=on_point)
    side = np.hypot(*(np.roll(CROOKED, -1, axis=0) - CROOKED).T)
    square = math.sqrt(2) if on_point else 1
    n, m = (round((side[k] + side[k + 2]) / 2 / square) for k in (0, 1))
    if on_point:
        ends = [(max(0, k), max(0, -k), min(n, m + k), min(m, n - k)) for k in range(1 - m, n)]
        ends += [(max(0, k - m), min(m, k), min(n, k), max(0, k - n)) for k in range(1, n + m)]
    else:
        ends = [(k, 0, k, m) for k in range(1, n)] + [(0, k, n, k) for k in range(1, m)]
    assert len(result.strokes) == len(ends)
    for stroke, (u0, v0, u1, v1) in zip(result.strokes, ends):
        t = np.linspace(0, 1, 64)
        wanted = np.array([bilinear((u0 + (u1 - u0) * x) / n, (v0 + (v1 - v0) * x) / m) for x in t])
        path = stroke.path if np.hypot(*(stroke.path[0] - wanted[0])) < 1 else stroke.path[::-1]
        assert path == pytest.approx(wanted, abs=1e-6)
    if on_point:  # the lines through the squares' corners go through the block's
        tips = np.vstack([s.path[[0, -1]] for s in result.strokes])
        for corner in CROOKED * IN:
            assert (np.hypot(*(tips - corner).T) < 1e-6).sum() == 1


def test_a_bent_grid_stays_out_of_holes_and_says_where_it_can_not_bend():
    hole = [(4, 4), (4, 8), (8, 8), (8, 4)]
    z = zone(polygon([(0, 0), (12, 0), (12, 12), (0, 12)], [hole]))
    result = draw("crosshatch", z, follow="corners", spacing=1)
    inside = shapely.Polygon(np.array(hole) * IN).buffer(-1e-6)
    assert not any(shapely.LineString(s.path).intersects(inside) for s in result.strokes)
    other = draw("crosshatch", zone(NAMED["star5"]), follow="corners", spacing=1)
    assert "grid-not-bent" in [f.code for f in other.findings]
    assert [s.path.tolist() for s in other.strokes] == [
        s.path.tolist() for s in draw("crosshatch", zone(NAMED["star5"]), spacing=1).strokes
    ]
    with pytest.raises(FillError, match="takes its directions from the sides"):
        draw("crosshatch", z, follow="corners", angle=30)


def test_no_step_between_rings_crosses_a_row_of_another_branch():
    # in the third of these spaces the step from a branch beside a notch went over a row of the one beside it
    for region in itertools.islice(random_regions(12, seed=1), 12):
        strokes = stacked("rings", zone(region)).strokes
        assert not len(self_crossings([np.vstack([s.path, s.path[:1]]) if s.closed else s.path for s in strokes]))
