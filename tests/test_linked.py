"""Rows linked to one line through gaps: one line, no crossing, every row sewn but its gaps, steps in between."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from plumeline import geometry as g
from plumeline.fills import find_fill
from plumeline.fills.kit.linked import linked
from plumeline.fills.kit.nest import every_ring, nested_rings
from plumeline.lines import Work, join_works
from plumeline.model import Machine
from plumeline.pipeline.single import zone_of
from shapes import IN, NAMED, coast, random_regions

GAP = 6.35


def rows_of(region, gap=GAP):
    _, radius = g.inscribed_circle(region)
    return every_ring(nested_rings(region, np.arange(1, int(radius / gap) + 1) * gap - gap / 2))


@pytest.mark.parametrize("name", ["square12", "l12", "plus12", "star5", "hole14", "two holes", "wobbly"])
@pytest.mark.parametrize("rounded", [False, True])
def test_rows_become_one_line_from_edge_to_edge(name, rounded):
    region = NAMED[name]
    rows = rows_of(region)
    lines = linked(rows, GAP, g.rings(region), rounded=rounded)
    assert lines is not None
    path, closed = lines[0]
    assert not closed
    assert g.is_simple(path)
    assert g.outside_mm([path], region) == 0
    assert g.boundary_distance(region, path[[0, -1]]) == pytest.approx([0, 0], abs=1e-6)
    assert len(lines) == 1
    # sewn: the rows, less a gap on both sides of each step pair, plus the steps, which are as long
    length = sum(g.path_length(r, closed=True) for r in rows)
    assert g.path_length(path) == pytest.approx(length, rel=0.03)
    # every stretch of every row is there but the gaps, and where all slant together, over 9 spacings at most
    line = shapely.LineString(path)
    shapely.prepare(line)
    for row in rows:
        points = shapely.points(g.resample(row, 1.0, closed=True))
        missed = (~shapely.dwithin(line, points, 0.05)).sum() * 1.0
        assert missed < 14 * GAP  # own gap, those of the rows inside it, and their rounded turns
        assert shapely.distance(line, points).max() < 1.25 * GAP


def test_the_line_begins_where_she_comes_in():
    region = NAMED["l12"]
    enter = (0.0, 9.0 * IN)
    ((path, _),) = linked(rows_of(region), GAP, g.rings(region), rounded=False, enter=enter)
    assert np.hypot(*(path[[0, -1]] - enter).T).min() < 1.5 * GAP


@pytest.mark.parametrize(("name", "share"), [("echo", 0.9), ("rings", 0.85)])
def test_ragged_spaces_are_mostly_one_line(name, share):
    # 500 of them: benchmarks/random_zones.py, figures in docs/fills/measured.md
    regions = [*random_regions(10, seed=4), coast(600, seed=3, width=11, height=8)]
    one = 0
    for region in regions:
        z = zone_of(region)
        fill = find_fill(name)
        said = {"of": "edge"} if name == "echo" else {}
        filled = fill(z, fill.settings.model_validate(said), rng=np.random.default_rng(1))
        assert not len(g.self_crossings([g.close_ring(s.path, s.closed) for s in filled.strokes]))
        for s in filled.strokes:
            assert g.outside_mm([s.path], region, tolerance_mm=0.05, closed=s.closed) == 0
        one += len(join_works([Work(z, filled.strokes, fill.stage)], seams=(), machine=Machine()).lines) == 1
    assert one >= share * len(regions)


def test_a_single_row_is_left_as_it_is_without_an_edge_beside_it():
    row = g.rings(g.disc((0, 0), 30))[0]
    ((path, closed),) = linked([row], GAP, [], rounded=True)
    assert closed
    assert g.path_length(path, closed=True) == pytest.approx(g.path_length(row, closed=True), rel=1e-3)


def signed_turns(path):
    step = np.diff(path, axis=0)
    way = np.unwrap(np.arctan2(step[:, 1], step[:, 0]))
    return np.diff(way)


@pytest.mark.parametrize("rounded", [False, True])
def test_rows_of_a_square_turn_from_one_to_the_next_at_a_corner(rounded):
    """A square of 12 in: every strand lies on a row, upright or level; no slant, no gap, and one U-turn in the middle.

    By hand: the line turns one way on its way in and as much the other way on its way out, and half round in between.
    """
    region = NAMED["square12"]
    rows = rows_of(region)
    ((path, closed),) = linked(rows, GAP, g.rings(region), rounded=rounded)
    assert not closed and g.is_simple(path)
    step = np.diff(path, axis=0)
    straight = np.hypot(*step.T) > GAP
    assert np.abs(step[straight]).min(axis=1) == pytest.approx(0, abs=1e-6)  # upright or level
    # every long strand lies on a row: half a spacing from the edge, and whole spacings on from there
    off = np.where(np.abs(step[straight][:, :1]) < 1e-6, path[:-1][straight], path[:-1][straight][:, ::-1])[:, 0]
    assert (off - GAP / 2) / GAP == pytest.approx(np.round((off - GAP / 2) / GAP), abs=1e-6)
    # it comes in and goes out side by side
    assert np.hypot(*(path[0] - path[-1])) == pytest.approx(GAP)
    # where the line turns back there is the one U-turn of the middle: all turns the same way round but there
    turns = signed_turns(path)
    in_and_out = abs(turns.sum())
    assert in_and_out == pytest.approx(np.pi, abs=np.pi / 2 + 1e-6)  # as much in as out, and half a turn for the U


def test_rows_without_corners_shift_together():
    """A wavy disc: strands never lie nearer than 0.55 of a spacing, and no place between rows is farther than 1.25."""
    t = np.linspace(0, 2 * np.pi, 240, endpoint=False)
    r = 100 + 12 * np.sin(3 * t)
    region = g.as_region(np.column_stack([r * np.cos(t), 0.8 * r * np.sin(t)]))
    rows = rows_of(region)
    ((path, closed),) = linked(rows, GAP, g.rings(region), rounded=True)
    assert not closed and g.is_simple(path)
    line = shapely.LineString(path)
    for row in rows:
        assert shapely.distance(line, shapely.points(g.resample(row, 1.0, closed=True))).max() < 1.25 * GAP
    # hairpins: places of the line that lie near each other but far along it
    points = g.resample(path, 0.1 * GAP)
    pairs = g.near_points(points, 0.5 * GAP)
    apart = np.abs(np.diff(pairs, axis=1)[:, 0]) * 0.1 * GAP
    assert (apart > 12 * GAP).sum() == 0  # only the sides of U-turns come so near
