"""Zones: what is joined, divided, left open and barred comes out as she said; nothing overlaps."""

# ruff: noqa: E501 - one line a case reads best

import hashlib
import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, Point, Polygon

from plans import PLAIN_AND_STAR
from plumeline.errors import ZoneError
from plumeline.geometry import as_region, pieces
from plumeline.model import Frame
from plumeline.plan import parse_plan
from plumeline.specs import DivideStep, FenceSpec, LeaveOpen, ShapeSpec, ZoneSpec
from plumeline.zones import INSET_MM, OPEN_CLEARANCE_MM, PART_CLEARANCE_MM, make_zones, seam_ways
from shapes import IN, NAMED, random_regions
from tops import one_patch, squares

SQ_IN = IN * IN
ALL = ("*",)
FRAME_AND_POINT = (DivideStep("frame", width_mm=1.25 * IN), DivideStep("on-point"))


def made(top, *specs, **more):
    return make_zones(top, specs, **more)[0]


def codes(top, *specs, **more):
    return [finding.code for finding in make_zones(top, specs, **more)[1]]


def on_some(ways, point):
    return any(LineString(way.path).distance(Point(point)) < 1e-6 for way in ways)


# ---- spaces -----------------------------------------------------------------------------------------------------


def test_patches_join_across_their_seams_and_keep_clear_of_the_others():
    (zone,) = made(squares(2, 2), ZoneSpec("pair", ("p-1-1", "p-1-2")))
    assert zone.outline.area / SQ_IN == pytest.approx(72)
    assert zone.region.area / SQ_IN == pytest.approx(11.75 * 5.75)
    assert len(zone.region.exterior.coords) == 5
    assert (zone.name, zone.part, zone.number) == ("pair", "", 1)
    assert zone.frame == Frame((6 * IN, 3 * IN), 0.0)


def test_names_take_stars_anywhere_and_exclamation_marks_take_out_again():
    top = squares(3, 3)
    zones = made(top, ZoneSpec("z", ("p-*-2", "!p-2-*", "p-2-3"), each="patch"))
    assert [z.number for z in zones] == [1, 2, 3]
    assert np.array([z.frame.origin for z in zones]) / IN == pytest.approx(np.array([(9, 3), (15, 9), (9, 15)]))


def test_patches_that_share_a_seam_are_joined_and_those_that_share_a_corner_are_not():
    names = ("p-1-1", "p-1-2", "p-2-3", "p-3-3", "p-4-4")
    zones = made(squares(4, 4), ZoneSpec("g", names, each="joined"))
    assert [round(z.outline.area / SQ_IN) for z in zones] == [72, 72, 36]
    apart = made(squares(4, 4), ZoneSpec("g", names))
    assert sorted(round(z.outline.area / SQ_IN) for z in apart) == [36, 72, 72]
    assert [z.number for z in apart] == [1, 2, 3]


def test_a_shape_is_taken_out_of_the_zones_before_it_and_keeps_a_little_off_them():
    top = squares(2, 2)
    below, shape = made(
        top, ZoneSpec("all", ALL), ZoneSpec("point", shape=ShapeSpec("on-point", ("p-1-1", "p-2-2"), 6 * IN, 6 * IN))
    )
    assert shape.outline.area / SQ_IN == pytest.approx(36)
    assert shape.outline.centroid.coords[0] == pytest.approx((6 * IN, 6 * IN))
    assert below.outline.area / SQ_IN == pytest.approx(144 - 36)
    assert below.region.distance(shape.region) == pytest.approx(PART_CLEARANCE_MM, abs=1e-6)


def test_a_shape_may_be_laid_at_each_patch_of_a_pattern():
    zones = made(squares(1, 3), ZoneSpec("all", ALL), ZoneSpec("discs", shape=ShapeSpec("circle", "p-*", 50.0, 50.0)))
    assert [(z.name, z.number) for z in zones] == [("all", 1), ("discs", 1), ("discs", 2), ("discs", 3)]
    assert len(zones[0].region.interiors) == 3


def test_a_shape_that_hangs_over_the_edge_ends_at_the_edge():
    zone = made(squares(1, 1), ZoneSpec("s", shape=ShapeSpec("square", (0.0, 0.0), 4 * IN, 4 * IN)))[0]
    assert zone.outline.area / SQ_IN == pytest.approx(4)


def test_patches_in_no_zone_are_noted_unless_a_shape_covers_them():
    assert codes(squares(2, 2), ZoneSpec("a", ("p-1-*",))) == ["left-open"]
    (note,) = make_zones(squares(2, 2), [ZoneSpec("a", ("p-1-*", "p-2-1"))])[1]
    assert note.text == "1 patch is in no zone and stays open: p-2-2"
    shape = ZoneSpec("s", shape=ShapeSpec("rectangle", (6 * IN, 9 * IN), 12 * IN, 6 * IN))
    assert codes(squares(2, 2), ZoneSpec("a", ("p-1-*",)), shape) == []
    (many,) = make_zones(squares(4, 4), [])[1]
    assert many.text == "16 patches are in no zone and stay open: 16 p"  # more than 12: by their kinds


WRONG = [
    ([ZoneSpec("a", ("q-*",))], "patches: 'q-\\*' is the name of no patch"),
    ([ZoneSpec("a", ("p-1-l",))], "Did you mean 'p-1-."),
    ([ZoneSpec("a", ("*", "!q-1"))], "patches: '!q-1' is the name of no patch"),
    ([ZoneSpec("a", ("p-1-1", "!p-*"))], "is left with no patch"),
    ([ZoneSpec("a", ("p-1-*",)), ZoneSpec("b", ("p-*-1",))], "zone 'b': patches: takes 'p-1-1', which zone 'a' has"),
    ([ZoneSpec("s", shape=ShapeSpec("square", (9e3, 0.0), 50, 50))], "lies off the quilt"),
    ([ZoneSpec("s", shape=ShapeSpec("square", "p-9-9", 50, 50))], "shape.at: 'p-9-9' is the name of no patch"),
    ([ZoneSpec("s", shape=ShapeSpec("square", ("p-1-1", "p-1-3"), 50, 50))], "do not all meet at one place"),
    ([ZoneSpec("s", shape=ShapeSpec("square", "p-1-*", 500, 500))], "several places that overlap"),
    ([ZoneSpec("s", shape=ShapeSpec("square", "p-1-1", 50, 50)), ZoneSpec("a", ALL)], "zone 'a': lies under the shape"),
    ([ZoneSpec("a", ALL, fences=(FenceSpec("fense"),))], "fences.1: 'fense' is the name of no guide. Did you mean 'fence'"),
    ([ZoneSpec("a", ALL, leave_open=(LeaveOpen("lable"),))], "'lable' is the name of no closed shape"),
    ([ZoneSpec("a", ALL, leave_open=(LeaveOpen("fence"),))], "leave_open: 'fence' is no closed shape"),
    ([ZoneSpec("a", ALL, divide=(DivideStep("line", line="f*"),))], "is the name of 2 guides"),
    ([ZoneSpec("a", ALL, divide=(DivideStep("line", line=((-9.0, 0.0), (-9.0, 9.0))),))], "divide.1: line: the space is not crossed by the line"),
    ([ZoneSpec("a", ("p-1-*", "p-2-1"), divide=(DivideStep("on-point"),))], "divide.1: on-point: the space has a corner"),
]  # fmt: skip


@pytest.mark.parametrize(("specs", "says"), WRONG)
def test_what_cannot_be_made_says_which_zone_and_what_to_do(specs, says):
    guides = {"fence": [(0, 0), (9, 9)], "fold": [(0, 0), (9, 0)], "label": [(5, 5), (60, 5), (60, 40)]}
    with pytest.raises(ZoneError, match=says):
        make_zones(squares(3, 3, guides=guides), specs)


# ---- parts ------------------------------------------------------------------------------------------------------


def test_parts_come_in_order_numbered_and_a_sixteenth_apart():
    zones = made(squares(1, 1, 12 * IN), ZoneSpec("z", ALL, divide=FRAME_AND_POINT))
    assert [(z.part, z.number) for z in zones] == [
        ("frame", 1), ("corner", 1), ("corner", 2), ("corner", 3), ("corner", 4), ("inside", 1)]  # fmt: skip
    for k, one in enumerate(zones):
        for other in zones[k + 1 :]:
            assert one.region.distance(other.region) >= PART_CLEARANCE_MM - 1e-6
    frame, *_, rest = zones
    half = PART_CLEARANCE_MM / IN / 2
    assert frame.region.area / SQ_IN == pytest.approx(11.75**2 - (9.5 + 2 * half) ** 2)
    assert rest.region.area / SQ_IN == pytest.approx((9.5 / math.sqrt(2) - 2 * half) ** 2)
    assert rest.outline.area / SQ_IN == pytest.approx(9.5**2 / 2)


def test_a_frame_nobody_measured_is_a_tenth_of_the_block():
    for side, width in ((12, 1.25), (14, 1.5), (6, 0.75)):
        rest = made(squares(1, 1, side * IN), ZoneSpec("z", ALL, divide=(DivideStep("frame"),)))[-1]
        assert rest.outline.area / SQ_IN == pytest.approx((side - 2 * width) ** 2)


@settings(max_examples=30, deadline=None)
@given(seed=st.integers(0, 10_000), by=st.sampled_from(["frame", "circle", "wedges", "grid"]))
def test_regions_of_any_shape_lie_in_their_outline_clear_of_the_seam_and_of_each_other(seed, by):
    top = one_patch(next(random_regions(1, seed=seed)))
    step = DivideStep(by, width_mm=20.0, fit_percent=70, count=5, rows=2, cols=3)
    zones = made(top, ZoneSpec("z", ALL, divide=(step,)))
    space = top.patches[0].outline
    outlines = {z.outline.wkb: z.outline for z in zones}.values()
    assert sum(o.area for o in outlines) <= space.area * (1 + 1e-6)
    for zone in zones:
        assert zone.region.is_valid
        assert zone.region.difference(zone.outline.buffer(1e-6)).area < 1e-6
        assert zone.region.distance(space.boundary) >= INSET_MM - 0.02
    for k, one in enumerate(zones):
        for other in zones[k + 1 :]:
            if one.outline is not other.outline:
                assert one.region.distance(other.region) >= PART_CLEARANCE_MM / 2


@settings(max_examples=20, deadline=None)
@given(angle=st.floats(-9, 9), x=st.floats(-500, 500), y=st.floats(-500, 500))
def test_zones_move_and_turn_with_the_top(angle, x, y):
    place = Frame((x, y), angle)
    wander = {(1, 1): (8.0, -6.0), (0, 1): (2.0, 3.0)}
    spec = ZoneSpec("z", ALL, each="patch", divide=(*FRAME_AND_POINT, DivideStep("grid", rows=2, cols=2)))
    here = made(squares(2, 2, wander=wander), spec)
    there = made(squares(2, 2, wander=wander, frame=place.to_page), spec)
    assert [(z.part, z.number, z.chance) for z in here] == [(z.part, z.number, z.chance) for z in there]
    for one, other in zip(here, there, strict=True):
        moved = shapely.transform(one.region, place.to_page)
        apart = shapely.symmetric_difference(moved, other.region, grid_size=1e-6)
        assert apart.area < 1e-3 * moved.area + 1e-3
        assert place.to_page([one.frame.origin])[0] == pytest.approx(other.frame.origin, abs=1e-6)


def test_parts_that_vanish_are_reported_and_the_others_go_on():
    zones, findings = make_zones(squares(1, 1), [ZoneSpec("z", ALL, divide=(DivideStep("frame", width_mm=80),))])
    assert [z.part for z in zones] == ["frame"]
    assert [(f.code, f.severity, f.zone) for f in findings] == [("part-vanished", "warning", "z, inside")]
    assert codes(squares(1, 1), ZoneSpec("z", ALL, inset_mm=80)) == ["part-vanished"]
    under = ZoneSpec("s", shape=ShapeSpec("square", "p-1-1", 400, 400))
    assert codes(squares(1, 1), ZoneSpec("z", ALL), under) == ["part-vanished"]
    assert codes(one_patch(NAMED["l12"]), ZoneSpec("z", ALL, divide=(DivideStep("grid", rows=3, cols=3),))) == []


def test_an_inset_that_parts_a_space_gives_numbered_zones():
    dumbbell = as_region(np.array([(0, 0), (3, 0), (3, 1.4), (5, 1.4), (5, 0), (8, 0), (8, 3), (5, 3), (5, 1.6),
                                   (3, 1.6), (3, 3), (0, 3)]) * IN)  # fmt: skip
    zones = made(one_patch(dumbbell), ZoneSpec("z", ALL))
    assert [(z.part, z.number) for z in zones] == [("", 1), ("", 2)]
    assert zones[0].outline.equals(zones[1].outline)


# ---- open parts, fences, ends, chance -----------------------------------------------------------------------------


def test_parts_left_open_are_out_of_the_region_with_a_sixteenth_round_them():
    guides = {"label": [(50, 50), (90, 50), (90, 80), (50, 80)]}
    parts = (LeaveOpen("label"), LeaveOpen(None, (200.0, 200.0), 30.0), LeaveOpen("p-2-1"))
    (zone,) = made(squares(2, 2, guides=guides), ZoneSpec("z", ALL, leave_open=parts))
    assert len(zone.left_open) == 3
    for part in zone.left_open:
        assert zone.region.distance(part) == pytest.approx(OPEN_CLEARANCE_MM, abs=0.02)
    assert codes(squares(1, 1), ZoneSpec("z", ALL, leave_open=(LeaveOpen(None, (900.0, 0.0), 5.0),))) == [
        "open-part-outside"
    ]


def test_fences_cut_the_zone_through_and_keep_their_softness():
    guides = {"f-1": [(0, 4 * IN), (12 * IN, 5 * IN)], "f-2": [(8 * IN, -9), (8 * IN, 3 * IN)]}
    spec = ZoneSpec("z", ALL, fences=(FenceSpec("f-*"), FenceSpec(((9.0, 200.0), (240.0, 200.0)), 9.5)))
    zones, findings = make_zones(squares(2, 2, guides=guides), [spec])
    assert [fence.soft_mm for fence in zones[0].fences] == [0, 0, 9.5]
    assert len(pieces(zones[0])) == 2
    assert findings == ()
    short = ZoneSpec(
        "z", ALL, fences=(FenceSpec(((6.0, 50.0), (400.0, 50.0))), FenceSpec(((0.0, -50.0), (9.0, -50.0))))
    )
    assert codes(squares(2, 2), short) == ["fence-stops-short", "fence-outside"]


def test_wished_ends_go_to_the_nearest_zone():
    zones = made(squares(1, 3), ZoneSpec("z", ALL, each="patch", enter=(0.0, 70.0), leave=(460.0, 70.0)))
    assert [z.enter for z in zones] == [(0.0, 70.0), None, None]
    assert [z.leave for z in zones] == [None, None, (460.0, 70.0)]


def test_repeats_share_their_chance_unless_they_vary_and_everything_else_has_its_own():
    top, spec = squares(1, 3), ZoneSpec("z", ALL, each="patch", divide=(DivideStep("frame", width_mm=20),))
    frames = {z.chance for z in made(top, spec) if z.part == "frame"}
    rests = {z.chance for z in made(top, spec) if z.part == "inside"}
    assert len(frames) == len(rests) == 1
    assert frames != rests
    assert frames != {z.chance for z in made(top, spec, chance=8) if z.part == "frame"}
    assert frames != {z.chance for z in made(top, replace(spec, name="y")) if z.part == "frame"}
    assert len({z.chance for z in made(top, replace(spec, vary=True))}) == 6
    # blake2b (RFC 7693) of plan chance, name, part and 0, parted by unit separators: first 8 bytes, big end first
    digest = hashlib.blake2b(b"7\x1fz\x1fframe\x1f0", digest_size=8).hexdigest()
    assert frames == {int(digest, 16)}


# ---- ways -------------------------------------------------------------------------------------------------------


def test_seams_inside_a_joined_zone_are_no_ways_unless_she_says_so():
    top, middle, outer = squares(2, 2), (6 * IN, 3 * IN), (3 * IN, 6 * IN)
    joined = ZoneSpec("top row", ("p-1-*",))
    ways = seam_ways(top, [joined])
    assert not on_some(ways, middle)
    assert on_some(ways, outer)
    assert on_some(seam_ways(top, [replace(joined, travel="any-seam")]), middle)
    assert on_some(seam_ways(top, [ZoneSpec("each", ("p-1-*",), each="patch")]), middle)
    none = seam_ways(top, [replace(joined, travel="none")])
    assert not on_some(none, middle)
    assert not on_some(none, outer)
    assert on_some(none, (6 * IN, 9 * IN))
    assert {way.kind for way in ways} == {"seam"}
    assert sum(LineString(w.path).length for w in ways) / IN == pytest.approx(12 * 6 - 6, abs=0.02)


def test_seams_under_a_shape_and_seams_that_may_not_be_ditched_are_no_ways():
    top = squares(2, 2, may_travel=lambda a, b: (a, b) != ("p-1-1", "p-2-1"))
    shape = ZoneSpec("s", shape=ShapeSpec("square", ("p-1-1", "p-2-2"), 6 * IN, 6 * IN))
    ways = seam_ways(top, [ZoneSpec("all", ALL, each="patch"), shape])
    assert not on_some(ways, (6 * IN, 6 * IN))
    assert not on_some(ways, (2 * IN, 6 * IN))
    assert on_some(ways, (10 * IN, 6 * IN))


def test_links_run_from_the_edge_to_a_usable_seam_and_are_short():
    top = squares(2, 2, may_travel=lambda a, b: b is not None and a != "p-1-1")
    spec = ZoneSpec("z", ALL, each="patch")
    seams = shapely.union_all([LineString(way.path) for way in seam_ways(top, [spec])])
    zones = made(top, spec)
    links = [[way for way in zone.ways if way.kind == "link"] for zone in zones]
    assert all(links)
    # All seams of the first patch are shut; only from its corner a link goes to the end of the seams beyond.
    assert all(way.path[-1] == pytest.approx((6 * IN, 6 * IN)) for way in links[0])
    for zone in zones:
        for way in zone.ways:
            line = LineString(way.path)
            if way.kind == "link":
                assert way.factor == 4.0
                assert line.length <= 1.5 * INSET_MM + 1e-9
                assert zone.region.exterior.distance(Point(way.path[0])) < 1e-6
                assert seams.distance(Point(way.path[-1])) < 1e-6
            else:
                assert (way.kind, way.factor) == ("edge", 2.0)
                assert line.difference(zone.region.exterior.buffer(1e-6)).length < 1e-6
        assert sum(LineString(w.path).length for w in zone.ways if w.kind == "edge") == pytest.approx(
            zone.region.exterior.length
        )


def test_links_stand_at_corners_and_at_most_an_inch_apart():
    (zone,) = made(squares(1, 1, 12 * IN), ZoneSpec("z", ALL))
    at = sorted(zone.region.exterior.project(Point(w.path[0])) for w in zone.ways if w.kind == "link")
    assert len(at) == 4 * 12
    assert max(np.diff([*at, at[0] + zone.region.exterior.length])) <= IN + 1e-6


def test_without_inset_the_edge_is_the_seam_itself():
    (zone,) = made(squares(1, 1), ZoneSpec("z", ALL, inset_mm=0))
    assert {way.kind for way in zone.ways} == {"seam"}
    assert sum(LineString(w.path).length for w in zone.ways) == pytest.approx(24 * IN, rel=1e-3)


def test_edges_of_parts_left_open_are_no_ways():
    parts = (LeaveOpen(None, (75.0, 75.0), 20.0), LeaveOpen(None, (0.0, 75.0), 20.0))
    (zone,) = made(squares(1, 1), ZoneSpec("z", ALL, leave_open=parts))
    for way in zone.ways:
        for part in zone.left_open:
            if way.kind == "edge":
                assert LineString(way.path).distance(part) > OPEN_CLEARANCE_MM


def test_a_zone_without_travel_has_no_ways():
    assert made(squares(1, 1), ZoneSpec("z", ALL, travel="none"))[0].ways == ()


def test_one_line_can_go_from_each_part_to_its_neighbours():
    zones = made(squares(1, 1, 12 * IN), ZoneSpec("z", ALL, divide=FRAME_AND_POINT))
    reached = {0}
    for _ in zones:
        for zone in zones:
            for way in (w for w in zone.ways if w.kind == "link"):
                ends = [Point(way.path[0]), Point(way.path[-1])]
                joined = {k for k, z in enumerate(zones) if any(z.region.boundary.distance(e) < 1e-6 for e in ends)}
                if joined & reached:
                    reached |= joined
    assert reached == set(range(len(zones)))


# ---- from the plan ------------------------------------------------------------------------------------------------


def test_the_sample_plan_makes_its_zones():
    plan = parse_plan(PLAIN_AND_STAR)
    top = squares(3, 4, guides={"fence-1": [(0, 9), (400, 9)], "fence-2": [(9, 0), (9, 400)],
                                "label": [(160, 160), (180, 160), (180, 180)]})  # fmt: skip
    names = ["plain-1-1", "plain-1-2", "plain-1-3", "point-1", "plain-2-1", "plain-2-2", "point-2", "cornerstone-2-2",
             "plain-3-1", "plain-3-2", "plain-3-3", "plain-3-4"]  # fmt: skip
    rename = {patch.name: name for patch, name in zip(top.patches, names, strict=True)}
    top = replace(
        top,
        patches=tuple(replace(p, name=rename[p.name]) for p in top.patches),
        seams=tuple(replace(s, a=rename[s.a], b=rename.get(s.b)) for s in top.seams),
    )
    specs = [replace(spec, divide=spec.divide[:1]) if spec.name == "big star" else spec for spec in plan.zones]
    specs[2] = replace(specs[2], shape=replace(specs[2].shape, width_mm=100.0, height_mm=100.0))
    zones, _ = make_zones(top, specs, chance=plan.chance)
    assert [z.name for z in zones if z.name != "plain squares"] == ["big star"] * 4 + ["point frame"]
    assert sum(z.name == "plain squares" for z in zones) == 8
    assert isinstance(zones[0].region, Polygon)
