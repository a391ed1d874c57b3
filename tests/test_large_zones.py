"""What is measured of very many stitches: in tiles and runs, with the same answer."""

from __future__ import annotations

import tracemalloc

import numpy as np
import pytest

from plumeline import geometry as g
from plumeline import review
from plumeline.geometry import is_simple, outside_mm, path_length
from plumeline.geometry.measures import spacing
from plumeline.geometry.measures.samples import PathSamples
from plumeline.model import as_path
from plumeline.pipeline.single import fill
from shapes import IN, coast, random_regions


def scribbles(count=40, seed=3):
    rng = np.random.default_rng(seed)
    paths = [as_path(np.cumsum(rng.normal(0, 5, (rng.integers(2, 60), 2)), axis=0)) for _ in range(count)]
    return paths, [len(p) > 2 and bool(rng.random() < 0.4) for p in paths]


def test_samples_are_those_of_resampling_whole_or_by_window():
    paths, closed = scribbles()
    samples = PathSamples.of(paths, 0.7, closed=closed)
    wanted = np.vstack([g.resample(p, 0.7, closed=c) for p, c in zip(paths, closed)])
    wanted = wanted[np.lexsort(wanted.round(6).T)]
    places = np.arange(-300, 300, 25.0)
    tiles = [samples.within(np.array([x, y]), np.array([x + 25, y + 25]))[0] for x in places for y in places]
    for found in (np.vstack(list(samples.runs())), np.vstack(tiles)):
        assert len(found) == len(wanted)
        np.testing.assert_allclose(found[np.lexsort(found.round(6).T)], wanted, atol=1e-6)
    assert samples.count == len(wanted) + sum(closed)


@pytest.mark.parametrize("seed", range(3))
def test_the_widest_gap_is_the_same_in_tiles(seed, monkeypatch):
    rng = np.random.default_rng(seed)
    for region in random_regions(2, seed=seed):
        left, top, right, bottom = region.bounds
        rows = np.arange(top, bottom, rng.uniform(4, 9))
        lines = [p for y in rows for p in g.clip_path(np.array([(left - 1, y), (right + 1, y + 1)]), region)]
        lines = [p for p in lines if rng.random() < 0.8]
        monkeypatch.setattr(spacing, "SAMPLES_AT_ONCE", 200_000)
        whole = g.widest_gap(lines, region, step_mm=0.5)
        monkeypatch.setattr(spacing, "SAMPLES_AT_ONCE", 10)
        monkeypatch.setattr(spacing, "SAMPLES_A_TILE", 1500)
        assert g.widest_gap(lines, region, step_mm=0.5).diameter_mm == pytest.approx(whole.diameter_mm, abs=1e-3)


def test_spacing_of_a_large_zone_is_measured_in_squares(monkeypatch):
    # parallel lines 5 mm apart: 5 mm, without variation
    lines = [as_path([(0, y), (600, y)]) for y in np.arange(0, 600, 5.0)]
    monkeypatch.setattr(spacing, "SAMPLES_AT_ONCE", 1000)
    monkeypatch.setattr(spacing, "SAMPLES_A_SQUARE", 1500)
    found = g.strand_spacing(lines, 5.0)
    assert found.mean_mm == pytest.approx(5.0, abs=0.02)
    assert found.varies_percent < 1


def test_measures_of_many_stitches_take_little_memory():
    # 470 m of line in a square of 600 mm: a million samples of 0.5 mm, over 100 MB with their tree if held at once
    lines = [as_path([(0, y), (600, y)]) for y in np.arange(0, 600, 0.76)]
    square = g.as_region([(0, 0), (600, 0), (600, 600), (0, 600)])
    tracemalloc.start()
    gap = review.top_gap(lines, [square])
    densest, _ = review.densest_inch(lines)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert gap.diameter_mm == pytest.approx(2 * (600 - lines[-1][0, 1]), abs=0.3)  # about a point of the lower edge
    assert densest == pytest.approx(IN / 0.76, rel=0.02)  # lines d apart: 1 / d of line in a unit of area
    assert peak < 40e6


def test_the_widest_gap_counts_no_cloth_outside_a_triangle():
    # rows 10 mm apart in a right triangle of 300 mm: the rest of its upright box is no cloth
    triangle = g.as_region([(0, 0), (300, 300), (0, 300)])
    rows = [p for y in np.arange(5, 300, 10.0) for p in g.clip_path(np.array([(0, y), (300, y)]), triangle)]
    gap = review.top_gap(rows, [triangle])
    assert gap.diameter_mm < 15
    halves = [g.as_region([(0, 0), (150, 150), (0, 300)]), g.as_region([(150, 150), (300, 300), (0, 300)])]
    assert review.top_gap(rows, halves).diameter_mm == pytest.approx(gap.diameter_mm, abs=0.1)


@pytest.mark.parametrize("name", ["curl", "feather"])
def test_a_coast_of_thousands_of_points_is_filled_as_one_of_a_thousand_is(name):
    # no timing: what took long grew with the square of the points, and a feather found no room for three plumes
    fine, plain = (coast(points, seed=100, width=12, height=10) for points in (8000, 1000))
    drawn = [fill(name, region) for region in (fine, plain)]
    seen = [sum(path_length(s.path) for s in one.strokes if s.role == "stitch") / IN for one in drawn]
    assert seen[0] > 0.6 * seen[1]
    assert all(outside_mm([s.path], fine, tolerance_mm=0.05) == 0 for s in drawn[0].strokes)
    assert all(is_simple(s.path) for s in drawn[0].strokes if s.role == "stitch")
