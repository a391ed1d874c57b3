"""Spirals: closed forms of length, one simple line inside its zone, even spacing."""

from __future__ import annotations

import numpy as np
import pytest

from plumeline import geometry as g
from plumeline.fills import find_fill
from plumeline.fills.kit.stack import Layer, fill_zone
from plumeline.fills.spiral.windings import turn_by_rays
from plumeline.model import Fence, as_path
from shapes import IN, NAMED, random_regions, regular, zone

SPIRAL = find_fill("spiral")


def spiral(region, *, near=None, fences=(), **settings):
    z = zone(region, enter=near, fences=fences)
    return SPIRAL(z, SPIRAL.settings.model_validate(settings), rng=np.random.default_rng(1))


def check(filled, region):
    for stroke in filled.strokes:
        assert g.is_simple(stroke.path)
    assert g.outside_mm([s.path for s in filled.strokes], region) == 0
    assert len(g.self_crossings([s.path for s in filled.strokes])) == 0


def test_round_spiral_has_the_length_of_archimedes():
    # r = b theta, spacing d = 2 pi b, to radius R: L = (b/2)(th sqrt(1 + th^2) + asinh th); d 0.5, R 6 in: 226.414144
    d, radius = 0.5 * IN, 6 * IN
    a = np.linspace(0, 2 * np.pi, 720, endpoint=False)
    circle = np.column_stack([np.cos(a), np.sin(a)])
    rings = [circle * (radius - (k + 0.5) * d) for k in range(12)]
    # the table's innermost depth (ring count - 0.35) is the middle; choose radii so that it lies on r = b theta
    path = turn_by_rays(circle * radius, rings, np.zeros(2), d, arms=1, start_rad=0.0)
    assert path is not None
    outside = path[np.hypot(*path.T) > d]
    # strip inside radius d is joined to the middle a little faster; compare the rest with the closed form
    b = d / (2 * np.pi)

    def length(r):
        th = r / b
        return b / 2 * (th * np.hypot(1, th) + np.arcsinh(th))

    inner = float(np.hypot(*outside[-1]))
    assert g.path_length(outside) == pytest.approx(length(radius) - length(inner), rel=2e-3)


@pytest.mark.parametrize("name", ["circle4", "square12", "equilateral8", "l12", "plus12", "star5", "hole14", "ring"])
def test_in_and_out_in_one_line_from_edge_to_edge(name):
    region = NAMED[name]
    filled = spiral(region, spacing="0.5 in" if name != "equilateral8" else "0.25 in")
    check(filled, region)
    assert len(filled.strokes) == 1
    ends = filled.strokes[0].path[[0, -1]]
    assert np.abs(g.boundary_distance(region, ends)).max() < 1.1  # a twelfth of the spacing: ends are whole samples


@pytest.mark.parametrize(("name", "most"), [("circle4", 3), ("square12", 7), ("wobbly", 8), ("ring", 6)])
def test_spacing_is_even(name, most):
    filled = spiral(NAMED[name], spacing="0.5 in")
    even = g.strand_spacing([s.path for s in filled.strokes], 0.5 * IN)
    assert even is not None
    assert even.mean_mm == pytest.approx(0.5 * IN, rel=0.12)
    assert even.varies_percent < most


@pytest.mark.parametrize("name", ["circle4", "square12", "l12", "rectangle"])
def test_single_spiral_ends_inside(name):
    region = NAMED[name]
    filled = spiral(region, spacing="0.5 in", way="to-the-middle")
    check(filled, region)
    start, end = filled.strokes[0].path[[0, -1]]
    assert abs(g.boundary_distance(region, start[None])[0]) < 0.3
    assert g.boundary_distance(region, end[None])[0] > IN


def test_swirl_of_a_hexagon_keeps_its_sides_parallel():
    region = regular(6, 6)
    filled = spiral(region, spacing="0.5 in", look="straight", corners="sharp", way="to-the-middle")
    check(filled, region)
    (stroke,) = filled.strokes
    way = np.diff(stroke.path, axis=0)
    long = way[np.hypot(*way.T) > 5]
    angle = np.degrees(np.arctan2(long[:, 1], long[:, 0])) % 60
    assert np.minimum(angle, 60 - angle).max() < 1e-6


def test_entry_is_near_where_it_is_wished():
    region = NAMED["l12"]
    for wished in ((0.0, 150.0), (250.0, 12 * IN)):
        start = spiral(region, spacing="0.5 in", near=wished).strokes[0].path[0]
        assert np.hypot(*(start - wished)) < 4 * IN


def test_each_side_of_a_fence_has_its_own_spiral():
    region = NAMED["square12"]
    fence = Fence(as_path([(-10, 150), (400, 150)]))
    filled = spiral(region, spacing="0.5 in", fences=(fence,))
    check(filled, region)
    assert len(filled.strokes) == 2
    assert g.fence_crossings([s.path for s in filled.strokes], [fence]) == 0


def test_too_small_is_said():
    filled = spiral(NAMED["square12"], spacing="20 in")
    assert filled.strokes == ()
    assert filled.findings[0].code == "fill-too-small"


def test_a_bald_middle_is_said_and_meander_named():
    # A ragged star: one turn goes into its arms, none through its middle.
    region = list(random_regions(5, seed=1))[4]
    filled = fill_zone(zone(region), [Layer(SPIRAL, SPIRAL.settings.model_validate({"spacing": "0.5 in"}))])
    gap = g.widest_gap([s.path for s in filled.strokes], region).diameter_mm
    assert gap > 1.5 * IN
    (said,) = [f for f in filled.findings if f.code == "bald-spot"]
    assert "meander" in said.what_to_do


def test_an_even_spiral_is_not_called_bald():
    assert [spiral(region, spacing="0.5 in").findings for region in NAMED.values()] == [()] * len(NAMED)


def test_random_zones():
    parts = []
    for region in random_regions(10, seed=3):
        filled = spiral(region, spacing="0.25 in")
        check(filled, region)
        assert filled.strokes
        parts.append(len(filled.strokes))
    assert np.mean(np.array(parts) == 1) >= 0.8
