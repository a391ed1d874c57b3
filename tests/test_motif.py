"""Motifs: the library, fitting, borders round a frame, edge-to-edge rows, copier arithmetic."""

from __future__ import annotations

import itertools
import math
import xml.etree.ElementTree as ET
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from shapely import LineString, Polygon
from shapely.affinity import affine_transform

from plumeline.copier import copier_percent, copier_steps
from plumeline.errors import FillError
from plumeline.fills import find_fill
from plumeline.fills.kit.motifs import motif_at, read_recipe
from plumeline.geometry import (
    Knot,
    Patchwork,
    as_region,
    clip_crossing_path,
    convex_outline,
    disc,
    largest_scale,
    near_passes,
    outside_mm,
    path_length,
    silhouette,
    smooth_through,
    turns,
)
from plumeline.model import Fence, as_path
from plumeline.pipeline.lookup import ZoneSources, motif_folder, motif_names
from plumeline.units import format_length
from shapes import IN, NAMED, polygon, rectangle, ring, zone

FAMILIES = ("leaf", "clover", "scroll", "plume", "fan", "tulip", "star", "knot")
PIECES = ("", "-triangle", "-border", "-corner")
LIBRARY = [family + piece for family in FAMILIES for piece in PIECES]
SIZES_IN = (1.5, 3, 6, 12, 24)
POINTED = {"leaf", "tulip", "star"}  # families whose leaves and petals have tips
TIP_DEG = 30.0  # a motif turns by more at a vertex only at the tip of a leaf

each_motif = pytest.mark.parametrize("name", LIBRARY)


def recipe(name):
    return read_recipe(motif_folder() / f"{name}.toml")


def fill(z, kind="motif", *, chance=1, folder=None, **said):
    found = find_fill(kind)
    chosen = found.settings.model_validate(said, context={"units": "in"}).resolved(ZoneSources(z, folder=folder))
    return found(z, chosen, rng=np.random.default_rng(chance))


def heading(path, end):
    step = path[1] - path[0] if end == 0 else path[-1] - path[-2]
    return math.degrees(math.atan2(-step[1], step[0]))


def codes(filled):
    return [f.code for f in filled.findings]


def draw_svg(folder, *shapes, size=6):
    body = "".join(f'<path d="{d}" fill="none" stroke="black"/>' for d in shapes)
    text = f'<svg xmlns="http://www.w3.org/2000/svg" width="{size}in" height="{size}in" viewBox="0 0 6 6">{body}</svg>'
    ET.fromstring(text)
    (folder / "mine.svg").write_text(text, encoding="utf-8")


# --- copier ---------------------------------------------------------------------------------------------------------


# Published copier settings: "divide what you want by what you've got" (three pages agree).
@pytest.mark.parametrize(
    ("wanted", "measured", "percent"), [(10, 12, 83), (14, 18, 78), (18, 14, 129), (24, 28, 86), (12, 8.5, 141)]
)
def test_published_percents(wanted, measured, percent):
    assert copier_percent(wanted * IN, measured * IN) == percent


# Two steps, p1 x p2 / 100, on copiers of 25-400 % and (the last) 50-200 %.
@pytest.mark.parametrize(
    ("percent", "limits", "steps"),
    [
        (600, {}, (150, 400)),
        (925, {}, (250, 370)),
        (1200, {}, (300, 400)),
        (206, {"least": 50, "most": 200}, (103, 200)),
    ],
)
def test_published_steps(percent, limits, steps):
    assert tuple(sorted(copier_steps(percent, **limits))) == steps


@given(st.integers(1, 9999))
def test_steps_are_within_reach_few_and_near(percent):
    steps = copier_steps(percent)
    assert all(25 <= s <= 400 for s in steps)
    assert len(steps) == max(1, math.ceil(abs(math.log(percent / 100)) / math.log(4) - 1e-9))
    reached = 100 * math.prod(s / 100 for s in steps)
    # whole percents: the last step is right to half a percent of what the first ones made
    assert abs(reached - percent) <= 0.5 * 100 * math.prod(s / 100 for s in steps[:-1]) / 100 + 1e-9


def test_a_copier_that_only_enlarges_is_refused():
    with pytest.raises(ValueError, match="does both"):
        copier_steps(50, least=100)


# --- smooth curves --------------------------------------------------------------------------------------------------


@given(st.integers(4, 16), st.floats(1.0, 300.0), st.booleans())
@settings(deadline=None, max_examples=40)
def test_knots_on_a_circle_give_the_circle(count, radius, stated):
    a = np.arange(count) * 2 * math.pi / count
    knots = [Knot(radius * complex(math.cos(x), math.sin(x)), -90 - math.degrees(x) if stated else None) for x in a]
    path = smooth_through(knots, closed=True, tolerance_mm=1e-4 * radius)
    # four cubics follow a circle to 3 parts in 10,000 (Hobby 1986); chords stray by the tolerance
    assert np.abs(np.hypot(*path.T) / radius - 1).max() < 4e-4


@given(st.lists(st.complex_numbers(max_magnitude=100), min_size=3, max_size=8, unique=True), st.booleans())
@settings(deadline=None, max_examples=60)
def test_curves_go_through_their_knots_without_a_corner(points, closed):
    places = [p for p, before in zip(points, [None, *points]) if before is None or abs(p - before) > 1.0]
    if len(places) < 3 or abs(places[0] - places[-1]) < 1.0:
        return
    legs = np.diff([*places, *places[:2]] if closed else places)
    assume(np.abs(np.angle(legs[1:] / legs[:-1])).max() < math.radians(160))  # there and back again is a hairpin
    path = smooth_through([Knot(p) for p in places], closed=closed, tolerance_mm=1e-5)
    for p in places:
        assert np.hypot(*(path - (p.real, p.imag)).T).min() < 1e-9
    sharpest = np.degrees(np.abs(turns(path, closed=closed))).max()
    if sharpest >= 15:  # a bend of a thousandth of a millimetre: a true corner stays as it is however fine the chords
        finer = smooth_through([Knot(p) for p in places], closed=closed, tolerance_mm=1e-6)
        assert np.degrees(np.abs(turns(finer, closed=closed))).max() < 0.6 * sharpest


@pytest.mark.parametrize("tolerance", [1.0, 0.1, 0.01, 0.001])
def test_chords_keep_their_tolerance(tolerance):
    knots = [Knot(0j, 60), Knot(80 + 10j), Knot(100 - 60j, 200), Knot(20 - 30j, -90)]
    fine = smooth_through(knots, tolerance_mm=1e-5)
    coarse = LineString(smooth_through(knots, tolerance_mm=tolerance))
    shapely.prepare(coarse)
    assert shapely.distance(coarse, shapely.points(fine)).max() < tolerance + 1e-4


def test_headings_and_tips_are_kept():
    path = smooth_through([Knot(0j, 30), Knot(50 - 20j, 80, -80), Knot(100 + 0j, -30)], tolerance_mm=1e-5)
    tip = int(np.argmin(np.hypot(*(path - (50, -20)).T)))
    found = [heading(path, 0), heading(path[: tip + 1], 1), heading(path[tip:], 0), heading(path, 1)]
    assert found == pytest.approx([30, 80, -80, -30], abs=0.5)


@pytest.mark.parametrize("knots", [[Knot(0j)], [Knot(1j), Knot(1j)]])
def test_knots_that_make_no_curve_are_refused(knots):
    with pytest.raises(ValueError, match="knots"):
        smooth_through(knots)


# --- fitting --------------------------------------------------------------------------------------------------------


def square(half):
    return np.array([(-half, -half), (half, -half), (half, half), (-half, half)])


@pytest.mark.parametrize(
    ("convex", "region", "scale"),
    [
        (square(1), as_region(square(7)), 7.0),
        (square(1)[::-1], as_region(square(7)), 7.0),
        (square(1) @ (np.array([[1, -1], [1, 1]]) / math.sqrt(2)), as_region(square(7)), 7 / math.sqrt(2)),
        (square(1), disc((0, 0), 10, tolerance_mm=1e-5), 10 / math.sqrt(2)),
        (square(1), as_region(np.array([(-10, 0), (0, -10), (10, 0), (0, 10)])), 5.0),
        (square(1), as_region(square(7), [square(1) * 0.5 + (5, 0)]), 4.5),  # stopped by a hole
    ],
)
def test_largest_scale_in_closed_form(convex, region, scale):
    assert largest_scale(convex, region, np.zeros(2)) == pytest.approx(scale, rel=1e-5)


@given(st.integers(0, 10_000))
@settings(deadline=None, max_examples=40)
def test_largest_scale_against_halving(seed):
    rng = np.random.default_rng(seed)
    hull = convex_outline([rng.normal(size=(12, 2)) + rng.normal(size=2) * 0.1])
    a = np.sort(rng.uniform(0, 2 * math.pi, 14))
    shape = Polygon(np.column_stack([np.cos(a), np.sin(a)]) * rng.uniform(3, 9, 14)[:, None])
    if not shape.is_valid or not Polygon(hull).contains(shapely.Point(0, 0)):
        return
    region = as_region(shape)
    low, high = 0.0, 50.0
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if region.contains(Polygon(hull * middle)) else (low, middle)
    expected = low if region.contains(shapely.Point(0, 0)) else 0.0
    assert largest_scale(hull, region, np.zeros(2)) == pytest.approx(expected, rel=1e-6, abs=1e-9)


def test_a_parallelogram_stretches_a_frame_straight():
    corners = np.array([(0, 0), (10, 1), (13, 8), (3, 7)], dtype=float)
    patch = Patchwork([corners[[k, (k + 1) % 4]] for k in range(4)])
    u, v = np.random.default_rng(3).uniform(size=(2, 50))
    assert np.abs(patch.four(u, v) - (u[:, None] * (10, 1) + v[:, None] * (3, 7))).max() < 1e-9


def test_sides_that_bow_are_followed():
    t = np.linspace(0, 1, 60)
    bowed = np.column_stack([10 * t, np.sin(math.pi * t)])
    corners = np.array([(0, 0), (10, 0), (10, 10), (0, 10)], dtype=float)
    patch = Patchwork([bowed, *(corners[[k, (k + 1) % 4]] for k in range(1, 4))])
    edge = patch.four(t, np.zeros(60))
    assert shapely.hausdorff_distance(LineString(edge), LineString(bowed)) < 1e-2
    three = Patchwork([bowed, np.array([(10, 0), (0, 10)]), np.array([(0, 10), (0, 0)])])
    weights = np.column_stack([1 - t, t, 0 * t])
    assert shapely.hausdorff_distance(LineString(three.three(weights)), LineString(bowed)) < 1e-2
    middle = three.three(np.array([[0.0, 0.0, 1.0], [0.0, 0.5, 0.5]]))
    assert np.abs(middle - [(0, 10), (5, 5)]).max() < 1e-9


def test_near_passes_tell_passing_from_crossing():
    a = as_path([(0, 0), (100, 0)])
    beside = as_path([(0, 8), (50, 4), (100, 8)])
    at, near = near_passes([a, beside], [False, False], 6.0)
    assert near[0] == pytest.approx(4.0, abs=0.4)
    assert at[0] == pytest.approx((50, 2), abs=0.5)
    across = as_path([(20, -60), (80, 60)])
    touching = as_path([(0, 50), (50, 0), (100, 50)])
    assert not len(near_passes([a, across], [False, False], 6.0)[1])
    assert not len(near_passes([a, touching], [False, False], 6.0)[1])
    assert not len(near_passes([as_path([(0, 0)])], [False], 6.0)[1])


def test_a_silhouette_is_filled_but_a_border_stays_open():
    path = as_path(square(50))
    (full,) = silhouette([path], [True], 5.0)
    assert full.area == pytest.approx(110**2 - (4 - math.pi) * 25, rel=1e-3)
    (frame,) = silhouette([path], [True], 5.0, open_at=[np.zeros(2)])
    assert frame.area == pytest.approx(full.area - 90**2, rel=1e-3)
    comb = as_path([(0, 0), (0, 40), (4, 40), (4, 0), (8, 0), (8, 40)])
    assert silhouette([comb], [False], 0.5, notch_mm=3.0)[0].area == pytest.approx(9 * 41, rel=0.03)


@given(st.integers(0, 10_000))
@settings(deadline=None, max_examples=40)
def test_clipping_keeps_a_crossing_line_whole(seed):
    rng = np.random.default_rng(seed)
    path = as_path(rng.uniform(-60, 60, size=(20, 2)))
    region = disc((0, 0), 45)
    found = clip_crossing_path(path, region)
    expected = shapely.intersection(shapely.linestrings(np.stack([path[:-1], path[1:]], axis=1)), region)
    assert sum(map(path_length, found)) == pytest.approx(float(shapely.length(expected).sum()), rel=1e-6)
    assert outside_mm(found, region) == 0.0
    inside = shapely.contains_xy(region, path[:, 0], path[:, 1])
    for stretch in found:  # every stretch ends on the edge, or where the path itself ends
        for end, own in ((stretch[0], path[0]), (stretch[-1], path[-1])):
            on_edge = region.exterior.distance(shapely.Point(end)) < 1e-6
            assert on_edge or np.abs(end - own).max() < 1e-9
    assert sum(len(s) for s in found) >= inside.sum()


def test_a_closed_line_is_rejoined_over_its_start():
    pretzel = as_path([(0, 0), (30, 30), (30, 0), (0, 30)])
    (whole,) = clip_crossing_path(pretzel, disc((15, 15), 100), closed=True)
    assert np.array_equal(whole[0], whole[-1]) and len(whole) == 5
    found = clip_crossing_path(pretzel, rectangle(20 / IN, 30 / IN), closed=True)
    assert len(found) == 1 or not any(np.abs(s[0]).max() < 1e-9 for s in found[1:])


# --- the library ----------------------------------------------------------------------------------------------------


def test_the_library_holds_four_siblings_of_each_family():
    assert motif_names() == tuple(sorted(LIBRARY))
    for name in LIBRARY:
        read = recipe(name)
        assert name == read.family + ("" if read.piece == "block" else f"-{read.piece}")
        assert read.description


@each_motif
@pytest.mark.parametrize("size", SIZES_IN)
def test_a_motif_is_one_smooth_line_in_its_frame(name, size):
    read = recipe(name)
    motif = read.drawn(size * IN)
    (path,), (closed,) = motif.paths, motif.closed
    assert motif.size_mm == pytest.approx(size * IN)
    assert closed is (read.piece in ("block", "triangle"))
    assert outside_mm([path], as_region(motif.frame), closed=closed) == 0.0
    turn = np.degrees(np.abs(turns(path, closed=closed)))
    tips = int((turn > TIP_DEG).sum())
    assert tips > 0 if read.family in POINTED else tips == 0
    assert np.sort(turn)[: len(turn) - tips].max(initial=0) < 28
    # every place is stitched once: strands cross at points and never run along each other
    crossed = LineString(np.vstack([path, path[:1]]) if closed else path)
    noded = shapely.node(crossed)
    assert noded.length == pytest.approx(crossed.length, abs=0.05)


@each_motif
def test_strands_pass_each_other_well_apart_or_cross(name):
    # a tenth of a smallest part, or of 1/16 of the size; as drawn and smaller no less than a fifth
    read = recipe(name)
    for size in np.array(SIZES_IN[: 4 if read.piece in ("block", "triangle") else 3]) * IN:
        motif = read.drawn(size)
        part = min(size / 16, read.part_mm)
        _, near = near_passes(motif.paths, motif.closed, part)
        assert near.min(initial=part) > part * (0.2 if size <= read.size_mm else 0.1), size / IN


# tightness up to twice the drawn size over that as drawn; scaled alone it would be 1 / times
@pytest.mark.parametrize("family", FAMILIES)
@pytest.mark.parametrize("piece", ["", "-triangle"])
def test_grown_means_more_not_sparser(family, piece):
    read = recipe(family + piece)

    def tight(times):
        motif = read.drawn(times * read.size_mm)
        return path_length(motif.paths[0], closed=motif.closed[0]) / Polygon(motif.frame).area

    for times in (1.25, 1.5, 2.0):
        assert 0.65 < tight(times) / tight(1.0) < 1.4, times


@each_motif
def test_no_polygon_is_seen_at_twelve_inches(name):
    motif = recipe(name).drawn(12 * IN)
    path = motif.paths[0]
    step = np.hypot(*np.diff(path, axis=0).T)
    turn = np.abs(turns(path))[1:-1]
    smooth = turn < math.radians(TIP_DEG)
    # the sagitta of the arc that two chords lie on, about length x turn / 8; a straight stretch is one long chord
    assert (np.minimum(step[:-1], step[1:]) * turn / 8)[smooth].max() < 0.06


@each_motif
def test_a_smaller_motif_is_grown_with_fewer_parts(name):
    read = recipe(name)
    lengths = [
        path_length(m.paths[0], closed=m.closed[0]) / m.size_mm for m in map(read.drawn, np.array(SIZES_IN) * IN)
    ]
    assert lengths == sorted(lengths)
    assert lengths[0] < lengths[-1] - 0.1


@pytest.mark.parametrize("family", FAMILIES)
@pytest.mark.parametrize("size", SIZES_IN)
def test_a_border_runs_on_into_itself_and_round_its_corner(family, size):
    border, corner = recipe(f"{family}-border").drawn(size * IN), recipe(f"{family}-corner").drawn(size * IN)
    path, wide = border.paths[0], np.ptp(border.frame[:, 0])
    assert path[-1] - path[0] == pytest.approx((wide, 0), abs=1e-9)
    assert heading(path, 0) == pytest.approx(heading(path, 1), abs=8)
    height = path[0][1] - border.frame[0][1]
    turn, square_ = corner.paths[0], corner.frame
    assert turn[0] == pytest.approx(square_[0] + (0, height))  # in from the left, as high as the border
    assert turn[-1] == pytest.approx(square_[2] - (height, 0))  # out below: turned a quarter, outer edge to the right
    assert heading(turn, 0) == pytest.approx(heading(path, 1), abs=8)
    assert heading(turn, 1) == pytest.approx(heading(path, 0) - 90, abs=8)


def test_a_recipe_that_is_wrong_says_where(tmp_path):
    wrong = tmp_path / "wrong.toml"
    wrong.write_text('family = "leaf"\npiece = "blok"\nsize = 8\npart = 1\n', encoding="utf-8")
    with pytest.raises(FillError, match=r"wrong.toml: piece .*block"):
        read_recipe(wrong)
    wrong.write_text("family = ", encoding="utf-8")
    with pytest.raises(FillError, match="no TOML"):
        read_recipe(wrong)


def test_an_unknown_motif_names_the_nearest():
    with pytest.raises(FillError, match=r"there are clover, .*Did you mean 'leaf'"):
        fill(zone(NAMED["square12"]), art="leef")


# --- the fill -------------------------------------------------------------------------------------------------------


def spread(result):
    points = np.vstack([s.path for s in result.strokes])
    return points.min(axis=0), points.max(axis=0)


SHAPES = ("square12", "right6", "strip", "frame14", "l12", "star5", "ring", "wobbly")


@pytest.mark.parametrize(
    ("name", "shape"),
    [(name, shape) for k, name in enumerate(LIBRARY) for shape in (SHAPES if k < 4 else SHAPES[k % 2 : 4 : 2])],
)
def test_every_motif_goes_into_every_space(name, shape):
    z = zone(NAMED[shape])
    result = fill(z, art=name, fit="100 %")
    assert len(result.strokes) == 1
    for s in result.strokes:
        assert outside_mm([s.path], z.region, tolerance_mm=0.02, closed=s.closed) == 0.0
    for s in result.strokes:  # what follows keeps an eighth of an inch away, but for the edge of the space
        kept = shapely.union_all(list(result.taken))
        drawn = shapely.linestrings(np.vstack([s.path, s.path[:1]]) if s.closed else s.path)
        assert shapely.difference(drawn.buffer(3.1).intersection(z.region), kept).area < 0.5


def test_the_largest_touches_the_edge_and_percent_is_of_it():
    z = zone(NAMED["square12"])
    whole, part = fill(z, art="leaf", fit="100 %"), fill(z, art="leaf")
    low, high = spread(whole)
    assert high - low == pytest.approx((12 * IN, 12 * IN), abs=0.01)
    low, high = spread(part)
    assert high - low == pytest.approx((10.8 * IN, 10.8 * IN), rel=0.002)
    assert (low + high) / 2 == pytest.approx((6 * IN, 6 * IN), abs=0.01)


def test_circle_and_square_are_kept(tmp_path):
    draw_svg(tmp_path, "M1,1 L5,1 L5,5 L1,5 Z")
    z = zone(NAMED["circle4"])
    inside = fill(z, art="mine.svg", fit="inscribed-circle", folder=tmp_path)
    assert np.hypot(*inside.strokes[0].path.T) == pytest.approx(np.full(4, 4 * IN), rel=1e-3)
    low, high = spread(fill(zone(rectangle(9, 5)), art="mine.svg", fit="inscribed-square", folder=tmp_path))
    assert high - low == pytest.approx((5 * IN, 5 * IN), rel=1e-6)


def test_percent_of_the_drawn_size_as_a_copier_would(tmp_path):
    draw_svg(tmp_path, "M0,3 L3,0 L6,3 L3,6 Z")
    z = zone(rectangle(12, 12))
    result = fill(z, art="mine.svg", enlarge="141 %", turn=0, folder=tmp_path)
    low, high = spread(result)
    assert high - low == pytest.approx((8.46 * IN, 8.46 * IN), rel=1e-6)
    # 10 3/4 in wanted, 6 in drawn: 1.7917
    (note,) = fill(z, art="mine.svg", enlarge=100 * 10.75 / 6, turn=0, folder=tmp_path).findings
    assert note.code == "motif-scaled"
    assert note.text.endswith("drawn at 6 in, fitted to 10 3/4 in: 179 %")
    assert "179 %" in note.what_to_do
    large = fill(z, art="mine.svg", enlarge="300 %", turn=0, folder=tmp_path)
    assert codes(large)[0] == "motif-too-large"
    assert spread(large)[1] == pytest.approx((12 * IN, 12 * IN), abs=0.01)


def test_more_than_one_copier_step_is_said(tmp_path):
    draw_svg(tmp_path, "M0,3 L3,0 L6,3 L3,6 Z", size=1)
    (note,) = fill(zone(rectangle(6, 6)), art="mine.svg", enlarge="600 %", turn=0, folder=tmp_path).findings
    assert "400 %, then to 150 %" in note.what_to_do


def test_outline_follows_a_block_out_of_true(tmp_path):
    draw_svg(tmp_path, "M0,0 L6,0 L6,6 L0,6 Z")
    corners = [(0, 0), (12, 0.4), (12.3, 11.6), (-0.3, 12.2)]
    z = zone(polygon(corners))
    (stroke,) = fill(z, art="mine.svg", fit="outline", folder=tmp_path).strokes
    for corner in np.array(corners) * IN:
        assert np.hypot(*(stroke.path - corner).T).min() < 1e-6
    assert Polygon(stroke.path).symmetric_difference(z.region).area < 1e-3
    assert codes(fill(zone(NAMED["star5"]), art="leaf", fit="outline"))[0] == "motif-not-stretched"


def test_a_triangle_is_stretched_to_its_corners_straight():
    read = recipe("scroll-triangle")
    z = zone(polygon([(1, 9), (4, 2), (9, 8)]))
    (stroke,) = fill(z, art="scroll-triangle", fit="outline", closest=0).strokes
    # straight sides: one affine map takes the drawn triangle's corners to the space's
    flat = [affine_transform(Polygon(stroke.path), [1, 0, 0, 1, 0, 0]).area / z.region.area]
    motif = read.drawn(5.5 * IN)
    assert flat[0] == pytest.approx(Polygon(motif.paths[0]).area / Polygon(motif.frame).area, rel=0.02)


def test_a_block_on_point_is_turned_and_a_turn_can_be_said():
    z = zone(polygon([(0, 6), (6, 0), (12, 6), (6, 12)]))
    turned = fill(z, art="clover", fit="100 %").strokes[0].path
    straight = fill(z, art="clover", fit="100 %", turn=0).strokes[0].path
    assert path_length(turned, closed=True) > 1.2 * path_length(straight, closed=True)


def test_each_side_of_a_fence_gets_its_motif_and_a_narrow_space_none():
    z = replace(zone(rectangle(12, 6)), fences=(Fence(as_path(np.array([(6, 0), (6, 6)]) * IN)),))
    assert len(fill(z, art="leaf").strokes) == 2
    none = fill(zone(rectangle(12, 0.4)), art="leaf")
    assert not none.strokes and codes(none) == ["fill-too-small"]


def test_strands_that_come_too_close_are_said(tmp_path):
    draw_svg(tmp_path, "M0,0 L6,0 L6,6 L0,6 Z", "M0.2,0.2 L5.8,0.2 L5.8,5.8 L0.2,5.8 Z")
    close = fill(zone(rectangle(3, 3)), art="mine.svg", fit="100 %", folder=tmp_path)  # 1/10 in apart
    assert "motif-too-close" in codes(close)
    assert "motif-too-close" not in codes(fill(zone(rectangle(6, 6)), art="mine.svg", fit="100 %", folder=tmp_path))


# --- borders --------------------------------------------------------------------------------------------------------

FRAMES = {
    "narrow": NAMED["frame14"],
    "long": polygon([(0, 0), (14, 0), (14, 14.5), (0, 14.5)], [[(1.5, 1.5), (1.5, 13), (12.5, 13), (12.5, 1.5)]]),
    "wide": polygon([(0, 0), (24, 0), (24, 20), (0, 20)], [[(3, 3), (3, 17), (21, 17), (21, 3)]]),
    "crooked": polygon([(0, 0), (20, 0.3), (20.2, 20), (0, 20.4)], [[(3, 3), (3, 17), (17, 17.2), (17.3, 3)]]),
    "one side longer": polygon([(0, 0), (20, 0), (20, 20.5), (0, 20)], [[(3, 3), (3, 17), (17, 17.5), (17, 3)]]),
    "round": ring(7, 4),
}


@pytest.mark.parametrize("family", FAMILIES)
@pytest.mark.parametrize("frame", sorted(FRAMES))
def test_a_border_goes_round_a_frame_in_one_line(family, frame):
    region = FRAMES[frame]
    result = fill(zone(region), art=f"{family}-border", closest=0)
    (stroke,) = result.strokes
    assert stroke.closed
    hole = Polygon(region.interiors[0])
    assert Polygon(stroke.path).buffer(0).union(hole).area > hole.area
    assert abs(winding(stroke.path, np.array(hole.centroid.coords[0]))) == 1
    assert "motif-stretched" not in codes(result)  # repeats are within 5 %
    # it runs on at every joint: apart from the tips of leaves it nowhere turns sharply
    turn = np.degrees(np.abs(turns(stroke.path, closed=True)))
    if family in POINTED:
        turn = turn[turn < 60]
    assert turn.max() < 40
    # and reaches every corner's square
    for corner in np.asarray(region.exterior.coords)[:-1] if frame != "round" else ():
        assert np.hypot(*(stroke.path - corner).T).min() < 0.7 * (3.0 if frame not in ("narrow", "long") else 1.5) * IN


def test_a_border_has_as_many_points_as_its_curves_need():
    # sagitta of an arc: a chord that strays by s from a curve of radius r is sqrt(8 r s) long
    (stroke,) = fill(zone(FRAMES["wide"]), art="scroll-border", closest=0).strokes
    length = Polygon(stroke.path).length
    assert len(stroke.path) < length / math.sqrt(8 * 5.0 * 0.01)


def winding(path, centre):
    angle = np.unwrap(np.arctan2(*(np.vstack([path, path[:1]]) - centre).T[::-1]))
    return round((angle[-1] - angle[0]) / (2 * math.pi))


@pytest.mark.parametrize("family", FAMILIES)
def test_repeats_along_a_strip_are_all_alike(family):
    z = zone(rectangle(30, 4))
    result = fill(z, art=f"{family}-border", closest=0)
    (stroke,) = result.strokes
    assert not stroke.closed
    path = stroke.path
    assert (path[0][0], path[-1][0]) == pytest.approx((0.0, 30 * IN), abs=1e-3)
    cell = np.ptp(recipe(f"{family}-border").drawn(3.6 * IN).frame[:, 0])
    near = [n for n in range(1, 40) if abs(30 * IN / n / cell - 1) < 0.15]
    # moved by one repeat it lies on itself
    best = min(near, key=lambda n: misfit(path, 30 * IN / n))
    assert misfit(path, 30 * IN / best) < 0.05
    assert "motif-stretched" not in codes(result)


def misfit(path, by):
    line = LineString(path)
    ahead = path[(path[:, 0] > 6 * IN) & (path[:, 0] < 12 * IN)] + (by, 0)
    return float(shapely.distance(line, shapely.points(ahead)).max())


def test_a_background_may_go_inside_a_border():
    z = zone(FRAMES["wide"])
    taken = shapely.union_all(list(fill(z, art="clover-border").taken))
    left = z.region.difference(taken)
    inner = [p for p in getattr(left, "geoms", [left]) if p.distance(Polygon(z.region.interiors[0])) < 1e-6]
    assert sum(p.area for p in inner) > IN**2


# --- edge to edge ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("family", FAMILIES)
@pytest.mark.parametrize("stagger", ["none", "half"])
def test_rows_fill_a_top_whole_and_apart(family, stagger):
    z = zone(rectangle(30, 24))
    result = fill(z, "edge-to-edge", art=f"{family}-border", height=4, gap="1/4", stagger=stagger)
    # where a staggered row is cut at the sides, bits of its loops stand alone: the row itself is one line
    paths = [s.path for s in result.strokes if np.ptp(s.path[:, 0]) > 25 * IN]
    note = result.findings[0]
    assert note.text.startswith(f"{len(paths)} rows") and note.code == "rows-advance"
    assert sum(map(path_length, paths)) > 0.93 * sum(path_length(s.path) for s in result.strokes)
    # an eighth of an inch, half the gap, is left at the upper and the lower edge; both sides are reached
    low, high = spread(result)
    assert (low[1], high[1]) == pytest.approx((IN / 8, 24 * IN - IN / 8), abs=0.1)
    assert (low[0], high[0]) == pytest.approx((0, 30 * IN), abs=1e-3)
    # every second row runs the other way
    assert [p[-1][0] > p[0][0] for p in paths] == [k % 2 == 0 for k in range(len(paths))]
    rows = [LineString(p) for p in paths]
    assert min(a.distance(b) for a, b in itertools.pairwise(rows)) > IN / 8
    # they stand apart by the advance that is said, and two rows on they are the same again
    advance = float(np.mean(np.diff([p[:, 1].min() for p in paths])))
    assert f"advance {format_length(advance)} after" in note.text
    inner = [p[(p[:, 0] > 4 * IN) & (p[:, 0] < 26 * IN)] for p in paths]
    for one, other in zip(inner, paths[2:]):
        assert shapely.distance(LineString(other), shapely.points(one + np.array([0, 2 * advance]))).max() < 0.05


def test_rows_of_scrolls_nest():
    z = zone(rectangle(30, 24))
    alike = fill(z, "edge-to-edge", art="scroll-border", height=4, stagger="none")
    nested = fill(z, "edge-to-edge", art="scroll-border", height=4, stagger="half")
    assert int(nested.findings[0].text.split()[0]) > int(alike.findings[0].text.split()[0])


def test_rows_run_on_across_a_fence_and_round_a_hole():
    z = zone(rectangle(20, 12))
    fenced = replace(z, fences=(Fence(as_path(np.array([(9, 0), (11, 12)]) * IN)),))
    whole, parts = (fill(y, "edge-to-edge").strokes for y in (z, fenced))
    drawn = shapely.union_all([LineString(s.path) for s in parts])
    far = [shapely.distance(drawn, shapely.points(s.path)).max() for s in whole]
    assert max(far) < 0.25 * 3.2 * IN  # only crumbs at the fence are left out
    hole = zone(NAMED["hole14"])
    for s in fill(hole, "edge-to-edge", height=2).strokes:
        assert outside_mm([s.path], hole.region, tolerance_mm=0.02) == 0.0


def test_other_artwork_is_repeated_and_said_to_be_in_parts(tmp_path):
    draw_svg(tmp_path, "M1,3 L3,1 L5,3 L3,5 Z")
    result = fill(zone(rectangle(12, 8)), "edge-to-edge", art="mine.svg", height=2, stagger="none", folder=tmp_path)
    assert "rows-in-parts" in codes(result)
    assert all(s.closed and len(s.path) == 4 for s in result.strokes)


def test_a_height_of_many_million_stitches_is_refused():
    with pytest.raises(FillError, match="million"):
        fill(zone(rectangle(9000, 9000)), "edge-to-edge", height=1)


def test_artwork_without_a_recipe_keeps_its_shape():
    class Drawn:
        paths = (as_path([(0, 0), (20, 10)]),)
        closed = (False,)

    motif = motif_at(Drawn(), 30.0)
    assert motif.size_mm == 30.0 and motif.paths[0][-1] == pytest.approx((60, 30))
