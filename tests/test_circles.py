"""Circles that touch: where one touches two, how much room there is, and what is left."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial import cKDTree

from plumeline import geometry as g
from plumeline.fills.kit.circles import Packing
from shapes import rectangle

RADII = st.floats(0.5, 3.0)
ONE, OTHER, LEFT = np.array([0]), np.array([1]), np.array([1])


def packing(centres, radii, *, side=4.0, least=0.5, most=3.0, margin=0.0):
    """A packing in a square of so many inches about the origin."""
    region = g.transform(rectangle(side, side), np.eye(2), (-side * 12.7, -side * 12.7))
    found = Packing(region, least_mm=least, most_mm=most, margin_mm=margin)
    found.add(np.array(centres, dtype=float).reshape(-1, 2), np.array(radii, dtype=float))
    return found


@given(RADII, RADII, st.floats(0, 2), st.floats(0, 6.28), RADII, st.sampled_from([-1, 1]))
def test_a_circle_beside_two_touches_both(a, b, gap, angle, radius, side):
    way = np.array([math.cos(angle), math.sin(angle)])
    found = packing([(0, 0), (a + b + gap) * way], [a, b])
    (centre,) = found.between(ONE, OTHER, np.array([side]), np.array([radius]))
    if 2 * radius < gap - 1e-9:
        assert np.isnan(centre).all()
    elif 2 * radius > gap + 1e-9:
        assert np.hypot(*(found.centres - centre).T) - found.radii == pytest.approx([radius, radius], abs=1e-9)
        across = way[0] * centre[1] - way[1] * centre[0]
        assert across * side > 0


@given(RADII, RADII, RADII)
def test_room_between_three_that_touch_is_what_descartes_says(a, b, c):
    """Descartes' theorem: k4 = k1 + k2 + k3 + 2 sqrt(k1 k2 + k2 k3 + k3 k1), of the curvatures.

    (H. S. M. Coxeter, Introduction to Geometry, 1.57.)
    """
    found = packing([(0, 0), (a + b, 0)], [a, b], least=0.01)
    found.add(found.between(ONE, OTHER, LEFT, np.array([c])), np.array([c]))
    k = 1 / np.array([a, b, c])
    inner = 1 / (k.sum() + 2 * math.sqrt(k[0] * k[1] + k[1] * k[2] + k[2] * k[0]))
    centre = found.between(ONE, OTHER, LEFT, np.array([inner]))
    assert found.room(centre) == pytest.approx([inner], rel=1e-6)


def test_room_beside_a_ninth_by_its_middle():
    """Nine small ones whose middles are nearer than that of a large one, which leaves less room than they do."""
    first = np.radians(60 + 40 * np.arange(7))  # 2.05 apart on a ring of 3
    second = np.radians(80 + 40 * np.arange(2))
    ring = [(3 * math.cos(a), 3 * math.sin(a)) for a in first] + [
        (4.6 * math.cos(a), 4.6 * math.sin(a)) for a in second
    ]
    found = packing([*ring, (4.9, 0)], [1.0] * 9 + [3.0], least=1.0)
    i, j = cKDTree(found.centres).query_pairs(8, output_type="ndarray").T
    assert (np.hypot(*(found.centres[i] - found.centres[j]).T) >= found.radii[i] + found.radii[j]).all()
    assert found.room(np.zeros((1, 2))) == pytest.approx([1.9])


@given(st.integers(0, 10_000))
def test_room_is_the_least_distance_of_all_circles_and_the_edge(seed):
    rng = np.random.default_rng(seed)
    found = packing([], [], side=2.0, margin=0.2)
    for radius in rng.uniform(0.5, 3.0, 60):
        centre = rng.uniform(-22, 22, 2)
        if found.room(centre[None])[0] >= radius:
            found.add(centre[None], np.array([radius]))
    points = rng.uniform(-25, 25, (200, 2))
    beside = np.hypot(points[:, None, 0] - found.centres[:, 0], points[:, None, 1] - found.centres[:, 1]) - found.radii
    edge = 25.4 - np.abs(points).max(axis=1) - 0.2
    far = np.minimum(beside.min(axis=1), edge)
    room = found.room(points)
    told = (far >= found.least) & (far <= found.most)
    assert room[told] == pytest.approx(far[told], abs=0.01)  # of the edge, points 0.12 apart are looked at
    assert (room[far < found.least] < found.least + 0.01).all()
    assert (room[far > found.most] > found.most - 0.01).all()
    assert np.isnan(found.room(np.full((1, 2), np.nan))).all()


def test_a_circle_laid_elsewhere_leaves_its_place():
    found = packing([(0, 0)], [2.0])
    assert found.room(np.array([(3.0, 0.0)])) == pytest.approx([1.0])
    found.change(0, np.array([10.0, 0.0]), 1.0)
    assert found.room(np.array([(7.0, 0.0), (9.5, 0.0)])) == pytest.approx([2.0, -0.5])
    found.keep(np.zeros((0, 2)), np.zeros(0))
    assert found.room(np.zeros((1, 2)))[0] > found.most


@given(st.floats(1.05, 2.5), st.floats(0, 1), st.floats(0, 1))
def test_what_is_left_is_found_wherever_it_lies(room, right, down):
    """A square all covered by discs of 0.55 squares on a grid of one, but for those that reach into a round place."""
    whole = rectangle(2, 2)
    middle = np.array([15.0 + 20 * right, 15.0 + 20 * down])
    x, y = np.meshgrid(np.arange(-1, 53, 1.0), np.arange(-1, 53, 1.0))
    centres = np.column_stack([x.ravel(), y.ravel()])
    radii = np.full(len(centres), 0.75)
    off = np.hypot(*(centres - middle).T) > room + 0.75
    found = Packing(whole, least_mm=0.5, most_mm=3.0, margin_mm=0.1)
    found.add(centres[off], radii[off])
    ((piece, at),) = found.left(whole, 1.0, tolerance_mm=0.01)
    assert g.contains(piece, middle[None]).all()
    assert np.hypot(*(found.centres - at).T).min() - 0.75 >= room - 0.06
    kept = found.left(whole, 1.0, tolerance_mm=0.01, clear_mm=0.5)
    assert bool(kept) <= (np.hypot(*(found.centres - at).T).min() - 0.75 >= 1.5)
    assert found.left(whole, 1.0, tolerance_mm=0.01, taken=[piece]) == []
