"""Noding: where paths meet, against places worked out by hand."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from plumeline.geometry import near_pairs, nearest_path, node_paths, path_length, point_at, times_near


def path(*points):
    return np.array(points, dtype=float)


def node(paths, *, closed=None, splits=None, **more):
    return node_paths(paths, closed=closed or [False] * len(paths), splits=splits or [True] * len(paths), **more)


def test_two_lines_cross_once():
    found = node([path((0, 0), (100, 0)), path((50, -50), (50, 50))])
    (a, ids_a), (b, ids_b) = found.stops
    assert a.tolist() == [0, 50, 100]
    assert b.tolist() == [0, 50, 100]
    assert ids_a[1] == ids_b[1]
    assert len(set(ids_a) | set(ids_b)) == 5
    assert found.nodes[ids_a[1]].tolist() == [50, 0]


@pytest.mark.parametrize(("gap", "meets"), [(0.0, True), (0.2, True), (0.3, False)])
def test_an_end_that_stops_short_meets_within_the_tolerance(gap, meets):
    found = node([path((0, 0), (100, 0)), path((40, gap), (40, 50))], tolerance_mm=0.25)
    assert found.stops[0][0].tolist() == ([0, 40, 100] if meets else [0, 100])
    assert (found.stops[1][1][0] in found.stops[0][1]) == meets


def test_near_lines_that_neither_cross_nor_end_there_meet_where_they_are_nearest():
    found = node([path((0, 0), (50, 10), (100, 0)), path((0, 20.2), (50, 10.2), (100, 20.2))], tolerance_mm=0.25)
    (a, ids_a), (b, ids_b) = found.stops
    assert a[1] == pytest.approx(np.hypot(50, 10))
    assert ids_a[1] == ids_b[1]
    assert len(a) == len(b) == 3


def test_a_shared_stretch_has_nodes_at_its_two_ends_alone():
    bend = path((0, 0), (20, 0), (40, 0), (60, 0), (80, 30))
    found = node([bend, path((10, 0), (30, 0), (70, 0))])
    assert found.stops[0][0].tolist() == [0, 10, 60, pytest.approx(path_length(bend))]
    assert found.stops[1][0].tolist() == [0, 50, 60]


def test_a_closed_path_has_a_node_only_where_it_is_met():
    square = path((0, 0), (40, 0), (40, 40), (0, 40))
    lone = node([square], closed=[True])
    assert lone.stops[0][0].tolist() == [0]
    met = node([square, path((20, -10), (20, 10)), path((-10, 20), (10, 20))], closed=[True, False, False])
    assert met.stops[0][0].tolist() == [20, 140]


def test_a_path_that_may_not_be_split_is_met_at_its_ends_alone():
    whole = path((0, 0), (100, 0))
    found = node([whole, path((50, -50), (50, 50)), path((100, 0.1), (100, 50))], splits=[False, True, True])
    assert found.stops[0][0].tolist() == [0, 100]
    assert found.stops[1][0].tolist() == [0, 100]
    assert found.stops[0][1][1] == found.stops[2][1][0]


def test_a_path_is_not_noded_with_itself():
    loop = path((0, 0), (50, 50), (50, 0), (0, 50))
    assert node([loop]).stops[0][0].tolist() == [0, pytest.approx(path_length(loop))]


def test_pins_make_nodes():
    found = node([path((0, 0), (100, 0))], pins=[(0, (30.0, 7.0))])
    assert found.stops[0][0].tolist() == [0, 30, 100]


def test_many_lines_through_one_place_are_one_node():
    a = np.arange(12) * np.pi / 12
    rays = [30 * np.array([(-np.cos(t), -np.sin(t)), (np.cos(t), np.sin(t))]) for t in a]
    found = node(rays)
    assert len({int(ids[1]) for _, ids in found.stops}) == 1
    assert len(found.nodes) == 25
    assert found.widest_mm < 1e-9


def test_dense_lines_are_told():
    ladder = [path((0.2 * k, 0), (0.2 * k, 10)) for k in range(20)]
    assert node(ladder, tolerance_mm=0.25).widest_mm > 1.5


def test_nothing():
    found = node([])
    assert found.nodes.shape == (0, 2)
    assert found.stops == ()
    assert near_pairs([path((0, 0), (1, 0))], closed=[False], within_mm=5)[0].shape == (0, 2)
    assert times_near([], np.zeros((3, 2)), within_mm=1).tolist() == [0, 0, 0]


coordinate = st.integers(-20, 20).map(float)
points = st.lists(st.tuples(coordinate, coordinate), min_size=2, max_size=5, unique=True).map(lambda p: path(*p))


@given(st.lists(st.tuples(points, st.booleans()), min_size=1, max_size=6))
def test_every_stop_lies_at_its_node_and_in_order(drawn):
    paths = [p for p, _ in drawn]
    closed = [shut and len(p) > 2 for p, shut in drawn]
    found = node(paths, closed=closed)
    for p, shut, (at, ids) in zip(paths, closed, found.stops):
        assert (np.diff(at) >= 0).all()
        places = point_at(p, at, closed=shut)
        assert np.hypot(*(places - found.nodes[ids]).T).max() <= found.widest_mm + 4 * 0.25
        if not shut:
            assert at[0] == 0
            assert at[-1] == pytest.approx(path_length(p))


def test_near_pairs_and_the_way_across():
    squares = [r * path((-1, -1), (1, -1), (1, 1), (-1, 1)) for r in (10, 16, 30)]
    pairs, across = near_pairs(squares, closed=[True] * 3, within_mm=7)
    assert pairs.tolist() == [[0, 1]]
    assert path_length(across[0]) == pytest.approx(6)


def test_nearest_path_and_times_near():
    rows = [path((0, y), (100, y)) for y in (0, 10, 10, 30)]
    assert nearest_path(rows, (50, 12)) == 1
    assert times_near(rows, path((50, 0.1), (50, 10), (50, 20)), within_mm=0.25).tolist() == [1, 2, 0]
