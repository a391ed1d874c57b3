"""The base of the geometry room against closed forms."""

from __future__ import annotations

import math
from dataclasses import astuple

import numpy as np
import pytest
import shapely
from hypothesis import example, given, settings
from hypothesis import strategies as st
from scipy.spatial import Voronoi, cKDTree

from plumeline import geometry as g
from plumeline.codes import FindingCode
from plumeline.errors import EngineError
from plumeline.fills import find_fill
from plumeline.model import Barest, Fence, Filled, Finding, Frame, Stroke, Way, Zone, as_path
from shapes import DEGENERATE, IN, NAMED, koch, random_regions, rectangle, regular, zone


def test_square_outward_offset_is_steiner():
    # Steiner: area A + P r + pi r^2, perimeter P + 2 pi r; 10 in square, r 1: 143.141593 and 46.283185
    (grown,) = g.dilate(rectangle(10, 10), IN, tolerance_mm=1e-5)
    assert grown.area / IN**2 == pytest.approx(143.141593, abs=1e-4)
    assert grown.length / IN == pytest.approx(46.283185, abs=1e-5)


def test_a_corner_doubled_by_rounding_is_mitred_as_one():
    # overlays leave such corners; the engine, dividing by nothing, bevelled this one and lost 97 sq mm
    low, tip, high = (25.4, 0.0), (50.8, 101.6), (25.4, 127.0)
    plain, doubled = (
        g.dilate(g.as_region(shell), IN / 2, join="mitre")[0].area
        for shell in ([low, tip, high], [low, tip, (50.80000000000002, 101.59999999999998), high])
    )
    assert doubled == pytest.approx(plain, rel=1e-9)


def test_an_outline_that_folds_back_is_grown_without_a_warning():
    # an overlay's rounding leaves a spike of no width, 23 mm long; without its tip (index 3) it is the same region
    spiked = [(114.07642131401775, 24.44751953261982), (105.92964877078609, -48.887837162314796)]
    spiked += [(104.29885388155479, 3.2615897784625982), (94.52128644909183, -17.92433997569462)]
    (grown,) = g.dilate(g.as_region(spiked), IN / 8, join="mitre")
    (plain,) = g.dilate(g.as_region(spiked[:3]), IN / 8, join="mitre")
    strip = 23.4 * IN / 4  # at most what grows beside both sides of the spike
    assert plain.difference(grown).area < 1.0
    assert grown.difference(plain).area < strip


def test_no_offset_is_taken_of_what_is_no_number():
    with np.errstate(invalid="ignore"):
        lost = shapely.Polygon([(0, 0), (1, math.nan), (1, 1)])
    with pytest.raises(EngineError, match="no number"):
        g.erode(lost, 0.1)
    with pytest.raises(EngineError, match="no number"):
        g.erode(rectangle(10, 10), math.nan)


def test_hexagon_echoes_sum():
    # hexagon side 6 in, echoes every 1/4 in: 20 rings, 356.269330 in (closed form: P (1 - d / r) summed)
    total = sum(piece.length for k in range(1, 30) for piece in g.erode(regular(6, 6), k * IN / 4))
    assert total / IN == pytest.approx(356.269330, abs=1e-4)


@pytest.mark.parametrize(
    ("region", "radius"),
    [
        (g.as_region([(0, 0), (3 * IN, 0), (0, 4 * IN)]), 1.0),  # 2A/P of the 3-4-5 triangle
        (NAMED["l12"], 4 * (2 - math.sqrt(2))),  # L of arm w: w (2 - sqrt 2)
        (NAMED["frame14"], 1.5 * math.sqrt(2) / (1 + math.sqrt(2))),  # square frame of width w
    ],
)
def test_inscribed_circle(region, radius):
    _, r = g.inscribed_circle(region)
    assert r / IN == pytest.approx(radius, abs=1e-3)


def test_koch_outline():
    # order 4, side 12: perimeter 113.7778, area 98.30636 (formula)
    assert koch().length / IN == pytest.approx(113.7778, abs=1e-3)
    assert koch().area / IN**2 == pytest.approx(98.30636, abs=1e-3)


@given(st.floats(-1e4, 1e4), st.floats(-1e4, 1e4), st.floats(-720, 720))
def test_frame_round_trip(x, y, angle):
    frame = Frame((x, y), angle)
    points = np.array([[0.0, 0.0], [100.0, 3.0], [-7.0, 55.0]])
    assert np.allclose(frame.to_local(frame.to_page(points)), points, atol=1e-8)


def test_frame_turns_counter_clockwise_as_seen():
    # a turn of 90 degrees takes "right" to "up", which is -y on the page
    assert np.allclose(Frame((0, 0), 90).to_page([[1.0, 0.0]]), [[0.0, -1.0]])


def test_clip_keeps_order_and_direction():
    path = as_path([(-10, 50), (400, 50), (400, 100), (-10, 100)])
    pieces = g.clip_path(path, rectangle(12, 12))
    assert [tuple(np.round(p[0], 6)) for p in pieces] == [(0.0, 50.0), (304.8, 100.0)]
    assert [tuple(np.round(p[-1], 6)) for p in pieces] == [(304.8, 50.0), (0.0, 100.0)]


def test_clip_rejoins_a_ring_over_its_start():
    ring = as_path([(50, 50), (400, 50), (400, 100), (50, 100)])
    (piece,) = g.clip_path(ring, rectangle(12, 12), closed=True)
    assert g.path_length(piece) == pytest.approx(2 * 254.8 + 50)


def test_pieces_between_fences():
    z = zone(
        rectangle(12, 12), fences=(Fence(as_path([(150, -10), (150, 400)])), Fence(as_path([(0, 20), (400, 20)]), 5))
    )
    found = g.pieces(z)
    assert len(found) == 2
    assert sum(p.area for p in found) == pytest.approx(z.region.area)


def test_crossings_are_proper():
    a = as_path([(0, 0), (10, 10)])
    assert len(g.crossings([a], [as_path([(0, 10), (10, 0)])])) == 1
    assert len(g.crossings([a], [as_path([(0, 10), (5, 5), (10, 0)])])) == 0  # touches with its corner
    eight = as_path([(0, 0), (10, 10), (10, 0), (0, 10)])
    assert len(g.self_crossings([eight])) == 1


def test_outside_is_measured():
    path = as_path([(-20, 50), (100, 50)])
    assert g.outside_mm([path], rectangle(12, 12), tolerance_mm=0.02) == pytest.approx(19.98, abs=0.01)


def test_even_lines_measure_even():
    lines = [as_path([(0, y), (300, y)]) for y in np.arange(5.0, 300, 10)]
    found = g.strand_spacing(lines, 10)
    assert found is not None
    assert found.mean_mm == pytest.approx(10, abs=0.05)
    assert found.varies_percent < 1
    gap = g.widest_gap(lines, g.as_region([(0, 0), (300, 0), (300, 300), (0, 300)]))
    assert gap.diameter_mm == pytest.approx(10, abs=0.3)


@given(st.integers(0, 10_000), st.sampled_from(["lattice", "scattered"]))
@settings(deadline=None, max_examples=60)
def test_the_widest_gap_is_the_largest_of_all_empty_circles(seed, kind):
    # scipy's Voronoi diagram of the same samples: its vertices in the region, the farthest from their samples
    rng = np.random.default_rng(seed)
    (region,) = random_regions(1, seed=seed)
    left, top, right, bottom = region.bounds
    ends = rng.uniform((left, top), (right, bottom), (rng.integers(1, 30), 2, 2))
    if kind == "lattice":  # many gaps of one size
        x = np.arange(left, right, 17.0)
        ends = np.stack([np.column_stack([x, 0 * x + top]), np.column_stack([x, 0 * x + bottom])], axis=1)
    lines = [line for line in ends if np.hypot(*(line[1] - line[0])) > 1]
    step = 2.5
    ring = [np.asarray(r.coords)[:-1] for r in (region.exterior, *region.interiors)]
    samples = np.vstack([g.resample(p, step) for p in lines] + [g.resample(p, step, closed=True) for p in ring])
    vertices = Voronoi(samples + rng.normal(0, 1e-9, samples.shape)).vertices
    vertices = vertices[shapely.contains_xy(region, *vertices.T)]
    expected = 2 * cKDTree(samples).query(vertices)[0].max()
    assert g.widest_gap(lines, region, step_mm=step).diameter_mm == pytest.approx(expected, abs=2e-5)


def test_lines_that_lie_upon_each_other_have_no_strand_beside():
    line = np.array([(0.0, 0.0), (100.0, 0.0)])
    assert g.strand_spacing([line, line], 10) is None


@pytest.mark.parametrize("name", [*NAMED, *DEGENERATE])
def test_local_frames_keep_area(name):
    region = (NAMED | DEGENERATE)[name]
    frame = Frame((123.4, -5.6), 33.0)
    assert sum(p.area for p in g.region_to_local(region, frame)) == pytest.approx(region.area, rel=1e-3)
    assert g.outline_to_local(region, frame).area == pytest.approx(region.area, rel=1e-3)


def dumbbell(neck_mm, length=20.0):
    """A square of 60 mm, a neck, a square of 50 mm."""
    a, b = 30 - neck_mm / 2, 30 + neck_mm / 2
    left = [(60, a), (60, 0), (0, 0), (0, 60), (60, 60), (60, b)]
    right = [(60 + length, b), (60 + length, 50), (110 + length, 50), (110 + length, 0), (60 + length, 0)]
    return g.as_region([*left, *right, (60 + length, a)])


@given(st.sampled_from([1e-9, 1e-8, 1e-7, 4e-7, 9e-7, 3e-6, 1e-3, 0.5]), st.floats(-720, 720), st.floats(-300, 300))
def test_no_area_is_lost_where_rounding_closes_a_neck(neck, angle, shift):
    # 60^2 + 50^2 mm2 and the neck
    region, frame = dumbbell(neck), Frame((shift, -shift), angle)
    pieces = g.region_to_local(region, frame)
    assert sum(p.area for p in pieces) == pytest.approx(3600 + 2500 + 20 * neck, abs=0.01)
    assert all(p.is_valid for p in pieces)
    assert g.outline_to_local(region, frame).area == pytest.approx(3600 + 2500 + 20 * neck, abs=0.01)
    back = [g.region_to_page(p, frame) for p in pieces]
    assert sum(p.area for p in back) == pytest.approx(region.area, abs=0.01)


@given(st.floats(-720, 720), st.floats(-300, 300))
def test_a_zone_goes_into_its_frame_with_all_that_it_holds_and_comes_back(angle, shift):
    frame = Frame((shift, -shift), angle)

    def on_page(*at):
        return frame.to_page(np.array(at, dtype=float))

    def area(low, high):
        return g.as_region(on_page((low, low), (high, low), (high, high), (low, high)))

    (enter,), (leave,) = on_page((0, 30)), on_page((60, 30))
    there = Zone(
        "block",
        "",
        1,
        area(5, 55),
        area(0, 60),
        fences=(Fence(as_path(on_page((30, 5), (30, 55))), soft_mm=2.0),),
        left_open=(area(20, 40),),
        ways=(Way(as_path(on_page((0, 0), (60, 0))), "seam", 1.5, 3),),
        enter=tuple(enter.tolist()),
        leave=tuple(leave.tolist()),
        frame=frame,
        laid=(area(10, 50),),
    )
    (local,) = g.zone_to_local(there)
    # by construction: what `on_page` was given
    near = {"abs": 1e-5}
    assert local.region.bounds == pytest.approx((5, 5, 55, 55), **near)
    assert local.outline.bounds == pytest.approx((0, 0, 60, 60), **near)
    assert local.left_open[0].bounds == pytest.approx((20, 20, 40, 40), **near)
    assert local.laid[0].bounds == pytest.approx((10, 10, 50, 50), **near)
    assert local.fences[0].path == pytest.approx(np.array([(30, 5), (30, 55)]), **near)
    assert local.ways[0].path == pytest.approx(np.array([(0, 0), (60, 0)]), **near)
    assert (local.fences[0].soft_mm, *astuple(local.ways[0])[1:]) == (2.0, "seam", 1.5, 3)
    assert (local.enter, local.leave, local.frame) == (
        pytest.approx((0, 30), **near),
        pytest.approx((60, 30), **near),
        frame,
    )
    found = Finding(FindingCode.BALD_SPOT, "warning", "block", "bare", "Closer.")
    filled = Filled(
        (Stroke(local.fences[0].path, chain=4),),
        (local.region,),
        local.fences,
        (found,),
        (local.left_open[0],),
        7.0,
        Barest((5.0, 55.0), 2.0),
    )
    back = g.filled_to_page(filled, frame)
    assert back.strokes[0].path == pytest.approx(there.fences[0].path, **near)
    assert back.fences[0].path == pytest.approx(there.fences[0].path, **near)
    assert back.taken[0].symmetric_difference(there.region).area < 0.01
    assert back.enclosed[0].symmetric_difference(there.left_open[0]).area < 0.01
    assert back.barest.place == pytest.approx(tuple(on_page((5, 55))[0]), **near)
    assert (back.strokes[0].chain, back.findings, back.bare_mm2, back.barest.times) == (4, (found,), 7.0, 2.0)


def test_random_zones_keep_their_area_in_any_frame():
    for k, region in enumerate(random_regions(60, seed=5)):
        frame = Frame((17.0 * k, -3.0 * k), 13.7 * k)
        pieces = g.region_to_local(region, frame)
        assert sum(p.area for p in pieces) == pytest.approx(region.area, rel=1e-6)
        assert sum(p.area for p in g.pieces_of(region)) == pytest.approx(region.area, rel=1e-9)


def test_both_halves_of_a_pinched_zone_are_filled():
    pinched = zone(dumbbell(1e-8), frame=Frame((40.0, 30.0), 31.0))
    fill = find_fill("channel")
    settings_ = fill.settings.model_validate({"spacing": "5 mm"}, context={"units": "mm"})
    strokes = fill(pinched, settings_, rng=np.random.default_rng(1)).strokes
    reach = np.vstack([s.path for s in strokes])
    assert reach[:, 0].min() < 8
    assert reach[:, 0].max() > 122  # the far square ends at 130


@given(st.integers(3, 40), st.floats(20, 200), st.floats(0, 6.3), st.floats(0.01, 0.3))
@example(8, 20.0, 0.0, 0.0625)
def test_nothing_is_left_of_a_regular_polygon_past_its_inradius(sides, radius, turn, past):
    # the inradius of a regular polygon is its circumradius times the cosine of half its central angle
    angle = 2 * np.pi * np.arange(sides) / sides + turn
    region = g.as_region(radius * np.column_stack([np.cos(angle), np.sin(angle)]))
    inradius = radius * math.cos(math.pi / sides)
    assert g.erode(region, inradius * (1 + past) + 0.02) == []
    assert len(g.erode(region, inradius * (1 - past))) == 1
