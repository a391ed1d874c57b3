"""The base of the geometry room against closed forms."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from plumeline import geometry as g
from plumeline.model import Fence, Frame, as_path
from shapes import DEGENERATE, IN, NAMED, koch, rectangle, regular, zone


def test_square_outward_offset_is_steiner():
    # Steiner: area A + P r + pi r^2, perimeter P + 2 pi r; 10 in square, r 1: 143.141593 and 46.283185
    (grown,) = g.dilate(rectangle(10, 10), IN, tolerance_mm=1e-5)
    assert grown.area / IN**2 == pytest.approx(143.141593, abs=1e-4)
    assert grown.length / IN == pytest.approx(46.283185, abs=1e-5)


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


@pytest.mark.parametrize("name", [*NAMED, *DEGENERATE])
def test_local_frames_keep_area(name):
    region = (NAMED | DEGENERATE)[name]
    frame = Frame((123.4, -5.6), 33.0)
    assert g.region_to_local(region, frame).area == pytest.approx(region.area, rel=1e-3)
