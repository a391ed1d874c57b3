"""Snapping, faces and chains, against Euler's formula and closed forms."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString

from plumeline.geometry import (
    NODE_GRID_MM,
    chains,
    close_ring,
    covering,
    faces,
    inside_ring,
    is_thin,
    merge_faces,
    near_paths,
    path_length,
    snap_together,
    sound_outline,
    tidy_regions,
)

SQUARE = np.array([(0.0, 0.0), (100.0, 0.0), (100.0, 100.0), (0.0, 100.0)])


def test_a_line_across_a_square_makes_two_faces():
    """Without noding first the engine finds one."""
    found = faces([close_ring(SQUARE), np.array([(50.0, -10.0), (50.0, 110.0)])])
    assert [r.area for r in found.regions] == pytest.approx([5000, 5000])
    assert len(found.loose) == 2
    assert sum(path_length(p) for p in found.loose) == pytest.approx(20)


def test_no_lines_no_faces():
    for given_ in ([], [np.zeros((1, 2))]):
        found = faces(given_)
        assert (found.regions, found.loose, len(found.edges), found.sides.shape) == ((), (), 0, (0, 2))
    assert chains(found.edges) == []
    assert covering([], []) == []
    assert near_paths(np.zeros((2, 2)), [], within_mm=1).tolist() == [-1, -1]


@given(st.integers(2, 12), st.integers(0, 2**32 - 1))
@settings(max_examples=40, deadline=None)
def test_euler(lines, seed):
    """n chords of a circle with k crossings cut its disc into 1 + n + k faces."""
    rng = np.random.default_rng(seed)
    a = np.linspace(0, 2 * math.pi, 90, endpoint=False)
    circle = np.column_stack([np.cos(a), np.sin(a)]) * 300
    ends = rng.choice(90, (lines, 2), replace=False) if 2 * lines <= 90 else None
    paths = [circle[pair] for pair in ends]
    drawn = [LineString(p) for p in paths]
    points = {
        (round(p.x, 2), round(p.y, 2))
        for i, p_ in enumerate(drawn)
        for q in drawn[:i]
        for p in [p_.intersection(q)]
        if not p.is_empty
    }
    pairs = sum(p.crosses(q) for i, p in enumerate(drawn) for q in drawn[:i])
    if len(points) < pairs:
        return  # three lines through one point
    found = faces([close_ring(circle), *paths])
    beside = [abs(math.remainder(int(i) - int(j), 90)) == 1 for i, j in ends]  # a chord that is an edge of the circle
    assert len(found.regions) == 1 + lines - sum(beside) + pairs
    assert sum(r.area for r in found.regions) == pytest.approx(shapely.Polygon(circle).area, rel=1e-6)
    # every edge has a face on one side or two, the outer ones on one
    assert (found.sides[:, 0] >= 0).all()
    outer = found.edges[found.sides[:, 1] < 0]
    assert np.hypot(*(outer[:, 1] - outer[:, 0]).T).sum() == pytest.approx(path_length(circle, closed=True), rel=1e-6)


def test_a_face_round_a_face_has_it_as_a_hole_and_knows_its_edges():
    inner = SQUARE / 2 + 25
    found = faces([close_ring(SQUARE), close_ring(inner)])
    assert [r.area for r in found.regions] == pytest.approx([7500, 2500])
    between = found.edges[(found.sides >= 0).all(axis=1)]
    assert np.hypot(*(between[:, 1] - between[:, 0]).T).sum() == pytest.approx(200)
    assert covering(found.regions, [shapely.Polygon(SQUARE), shapely.Polygon(inner)]) == [(0,), (0, 1)]
    (whole,) = merge_faces(found.regions)
    assert whole.area == pytest.approx(10000)


def test_chains_stop_at_branchings_and_close_loops():
    tee = np.array([[(0, 0), (1, 0)], [(2, 0), (1, 0)], [(1, 0), (1, 1)], [(1, 2), (1, 1)]], dtype=float)
    assert sorted(len(c) for c in chains(tee)) == [2, 2, 3]
    ring = np.stack([SQUARE, np.roll(SQUARE, -1, axis=0)], axis=1)[[2, 0, 3, 1]]
    (loop,) = chains(ring)
    assert np.array_equal(loop[0], loop[-1])
    assert path_length(loop) == 400
    assert loop[0].tolist() == [0, 0]


def test_thinness_is_the_widest_circle():
    strip = shapely.Polygon([(0, 0), (500, 0), (500, 0.7), (0, 0.7)])
    assert is_thin(strip, 0.8)
    assert not is_thin(strip, 0.6)


def test_snapping_merges_corners_and_joins_edges_half_way():
    left, right = SQUARE, SQUARE + np.array([100.4, 0.0])
    brick = np.array([(50.0, 100.6), (150.0, 100.6), (150.0, 200.0), (50.0, 200.0)])
    out = snap_together([left, right, brick], [True] * 3, [0, 1, 2], within_mm=0.8)
    a, b, c = out.paths
    shared = {tuple(p) for p in a.tolist()} & {tuple(p) for p in b.tolist()}
    assert sorted(shared) == [(100.2, 0.0), (100.2, pytest.approx(100.3))]
    # the brick's corner and its neighbours' corners each went half way
    assert [50.0, pytest.approx(100.3)] in a.tolist()
    assert len(c) == 5
    assert out.moved_mm.max() < 0.5
    on_grid = np.vstack(out.paths) / NODE_GRID_MM
    np.testing.assert_allclose(on_grid, np.round(on_grid), atol=1e-6)


def test_snapping_never_collapses_a_row_of_close_points():
    x = np.arange(0, 50, 0.3)
    wiggle = np.column_stack([x, 0.2 * np.sin(3 * x)])
    other = wiggle + np.array([0.1, 0.3])
    out = snap_together([wiggle, other], [False, False], [0, 1], within_mm=0.8)
    assert all(path_length(p) > 45 for p in out.paths)
    assert out.moved_mm.max() <= 1.2


def test_lines_give_way_to_patches():
    cut = np.array([(0.5, 50.0), (99.6, 50.0)])
    out = snap_together([SQUARE, cut], [True, False], [0, 1], within_mm=0.8, follows=[False, True])
    np.testing.assert_allclose(out.paths[1], [(0, 50), (100, 50)], atol=1e-9)
    assert out.moved_mm[0] == 0
    assert len(out.paths[0]) == 6


def test_nothing_to_snap():
    out = snap_together([], [], [], within_mm=1)
    assert out.paths == ()


@pytest.mark.parametrize(
    ("holes", "area"),
    # right areas worked out by hand for a 10 x 10 square: these are the cases where mending shell and holes together
    # gives wrong ones
    [
        ([[(0, 2), (2, 2), (2, 4), (0, 4)]], 96),  # shares an edge
        ([[(20, 2), (22, 2), (22, 4)]], 100),  # lies outside
        ([[(-2, 2), (2, 2), (2, 4), (-2, 4)]], 96),  # crosses
        ([[(2, 2), (5, 2), (5, 5), (2, 5)], [(4, 4), (6, 4), (6, 6), (4, 6)]], 100 - 9 - 4 + 1),  # overlap
    ],
)
def test_tidying_shell_and_holes_apart(holes, area):
    (region,) = tidy_regions(SQUARE / 10, [np.array(h, dtype=float) for h in holes])
    assert region.area == pytest.approx(area)


def test_tidying_what_is_not_there():
    assert tidy_regions(SQUARE[:2]) == []
    assert tidy_regions(SQUARE / 10, [SQUARE / 10]) == []
    assert tidy_regions(np.array([(0.0, 0.0), (1.0, 1.0), (2.0, 2.0)])) == []


def test_a_neck_that_closes_leaves_both_its_sides():
    hourglass = np.array([(0.0, 0.0), (8.0, 0.0), (5.0, 4.0), (10.0, 10.0), (0.0, 10.0), (5.0, 4.0)])
    assert [r.area for r in tidy_regions(hourglass)] == pytest.approx([30, 16])  # triangles: 10 x 6 / 2 and 8 x 4 / 2


def test_a_sound_outline_is_left_alone():
    region, change = sound_outline(SQUARE, [SQUARE / 2 + 25])
    assert (region.area, change) == (7500, 0)


# to 1e-9: nearer than that the engine, which is asked only for the distance, divides by zero
PLACE = st.floats(-10, 10).map(lambda v: round(v, 9))


@given(st.lists(st.tuples(PLACE, PLACE), min_size=3, max_size=8), st.integers(0, 2**31))
@settings(max_examples=40, deadline=None)
def test_inside_ring_agrees_with_winding_by_angles(ring, seed):
    ring = np.array(ring)
    points = np.random.default_rng(seed).uniform(-12, 12, (20, 2))
    if LineString(close_ring(ring)).length == 0:
        return
    away = shapely.distance(LineString(close_ring(ring)), shapely.points(points)) > 1e-6
    points = points[away]
    to = ring[None] - points[:, None]
    angle = np.arctan2(to[..., 1], to[..., 0])
    step = np.diff(np.concatenate([angle, angle[:, :1]], axis=1), axis=1)
    turns = np.round((step - 2 * math.pi * np.round(step / (2 * math.pi))).sum(axis=1) / (2 * math.pi))
    assert (inside_ring(ring, points) == (turns % 2 == 1)).all()
