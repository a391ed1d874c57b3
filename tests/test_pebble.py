"""The pebbles: circles that touch, none overlap, each stitched exactly once, in one smooth line."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.spatial import cKDTree

from plumeline import fill
from plumeline import geometry as g
from plumeline.fills.pebble import FILL, PebbleSettings, _Heap
from plumeline.model import Fence, as_path
from shapes import DEGENERATE, IN, NAMED, moved, random_regions, rectangle, zone


def drawn(z, size=1.0, seed=3):
    return FILL(z, PebbleSettings(size_mm=size * IN), rng=np.random.default_rng(seed))


def heap(region, size=1.0, seed=3):
    """A heap of pebbles in a region, from its middle."""
    centre, radius = g.inscribed_circle(region)
    found = _Heap(region, size * IN / 2, np.random.default_rng(seed))
    found.fill(np.array(centre), min(radius, size * IN / 3))
    return found


def circles_of(path):
    """The circles of a closed line, found again from the line alone: centre and radius of each run of one bend."""
    ring = np.vstack([path, path[:2]])
    a, b, c = ring[:-2], ring[1:-1], ring[2:]
    u, v = b - a, c - a
    twice = 2 * (u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0])
    ok = np.abs(twice) > 1e-6
    u, v, twice, a = u[ok], v[ok], twice[ok], a[ok]
    uu, vv = (u * u).sum(axis=1), (v * v).sum(axis=1)
    shift = np.column_stack([v[:, 1] * uu - u[:, 1] * vv, u[:, 0] * vv - v[:, 0] * uu]) / twice[:, None]
    return a + shift, np.hypot(*shift.T)


def check(filled, region):
    for stroke in filled.strokes:
        assert stroke.closed
        assert np.hypot(*np.diff(stroke.path, axis=0).T).min() > 1e-6
        # Smooth from one pebble to the next: no turn sharper than a chord of the smallest makes.
        assert np.abs(g.turns(stroke.path, closed=True)).max() < 0.6
    assert g.outside_mm([s.path for s in filled.strokes], region, tolerance_mm=0.02, closed=True) == 0


@pytest.mark.parametrize("name", ["square12", "star5", "ring", "right6", "wobbly"])
def test_packing(name):
    found = heap(NAMED[name])
    centres, radii = found.centres, found.radii
    # Every pebble touches its parent, to 0.01 mm.
    child = np.flatnonzero(found.parents >= 0)
    parent = found.parents[child]
    gap = np.hypot(*(centres[child] - centres[parent]).T) - radii[child] - radii[parent]
    assert np.abs(gap).max() < 0.01
    assert (found.parents < np.arange(len(radii))).all()
    # None overlap.
    i, j = cKDTree(centres).query_pairs(2 * radii.max(), output_type="ndarray").T
    assert (np.hypot(*(centres[i] - centres[j]).T) - radii[i] - radii[j]).min() > -1e-5
    # Of sizes 1 to 3, inside, and at least three quarters covered.
    assert 0.98 * radii.max() <= IN / 2
    assert radii.min() >= IN / 6 - 1e-9
    assert (g.boundary_distance(NAMED[name], centres) >= radii - 0.02).all()
    assert math.pi * (radii**2).sum() / NAMED[name].area > (0.75 if name != "star5" else 0.7)  # tips


def test_most_touch_three():
    found = heap(rectangle(12, 12))
    i, j = cKDTree(found.centres).query_pairs(IN, output_type="ndarray").T
    gap = np.hypot(*(found.centres[i] - found.centres[j]).T) - found.radii[i] - found.radii[j]
    touching = np.bincount(np.concatenate([i[gap < 0.1], j[gap < 0.1]]), minlength=len(found.radii))
    assert np.median(touching) >= 4
    assert (touching >= 2).mean() > 0.97


def test_each_stitched_exactly_once():
    region = NAMED["l12"]
    (stroke,) = drawn(zone(region)).strokes
    found = heap(region)
    line = found.tour(region, 0.001)
    around = 2 * math.pi * found.radii.sum()
    assert g.path_length(line, closed=True) == pytest.approx(around, rel=1e-3)
    # Every point of every circle lies on the line.
    angle = np.arange(0, 2 * np.pi, 0.1)
    spots = found.centres[:, None] + found.radii[:, None, None] * np.column_stack([np.cos(angle), np.sin(angle)])
    far, _ = cKDTree(g.densify(line, 0.2, closed=True)).query(spots.reshape(-1, 2))
    assert far.max() < 0.15
    # The drawn stroke's own bends are circles of sizes 1 to 3, but where it passes from one to the next.
    _, radii = circles_of(stroke.path)
    assert np.percentile(radii, 1) > 0.97 * IN / 6
    assert (radii < 1.01 * IN / 2).mean() > 0.8


@pytest.mark.parametrize("name", ["square12", "equilateral8", "l12", "ring", "wobbly"])
def test_one_line(name):
    filled = drawn(zone(NAMED[name]))
    check(filled, NAMED[name])
    assert len(filled.strokes) == 1
    assert not filled.findings


def test_starts_at_the_wished_edge():
    (stroke,) = drawn(zone(rectangle(12, 12), enter=(12 * IN, 3 * IN))).strokes
    assert np.hypot(*(stroke.path[0] - (12 * IN, 3 * IN))) < 0.5 * IN
    assert 12 * IN - stroke.path[0, 0] < 1.0


def test_same_again_and_moved():
    z = zone(NAMED["l12"])
    first, again = drawn(z), drawn(z)
    assert first.strokes[0].path.tobytes() == again.strokes[0].path.tobytes()
    there = moved(z, (531.7, -92.1), 37.0)
    back = z.frame.to_page(there.frame.to_local(drawn(there).strokes[0].path))
    assert np.abs(back - first.strokes[0].path).max() < 0.05


def test_each_piece_between_fences_its_own_line():
    z = zone(rectangle(12, 12), fences=(Fence(as_path([(-10, 100), (400, 140)])),))
    filled = drawn(z)
    check(filled, rectangle(12, 12))
    assert len(filled.strokes) == 2
    assert g.fence_crossings([s.path for s in filled.strokes], z.fences, closed=True) == 0


@pytest.mark.parametrize("name", DEGENERATE)
def test_degenerate_zones(name):
    filled = drawn(zone(DEGENERATE[name]))
    check(filled, DEGENERATE[name])
    if not filled.strokes:
        assert [f.code for f in filled.findings] == ["fill-too-small"]


@pytest.mark.parametrize("k", range(12))
def test_random_zones(k):
    region = list(random_regions(12, seed=6))[k]
    filled = drawn(zone(region))
    assert filled.strokes
    check(filled, region)
    assert ("pebble-in-parts" in [f.code for f in filled.findings]) == (len(filled.strokes) > 1)


def test_a_further_line_does_not_cross_the_first():
    # The space left for it was bounded by discs whose chords cut in by more than pebbles keep from an edge.
    filled = fill("pebble", DEGENERATE["neck"])
    assert len(filled.strokes) == 2
    assert len(g.self_crossings([g.close_ring(s.path, s.closed) for s in filled.strokes])) == 0
