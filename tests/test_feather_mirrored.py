"""Feathers of mirrored spaces lie on the axis; serifs and necks do not leave an arm empty."""

from __future__ import annotations

import pytest
from shapely import MultiLineString, box, unary_union
from shapely.affinity import rotate, scale

from plumeline import fill
from plumeline.geometry import as_region
from shapes import IN, coast, polygon

ROOT3 = 3**0.5

MIRRORED = {
    "kite": ([(3, 0), (6, 3), (3, 8), (0, 3)], 3),
    "trapezoid": ([(0, 6), (8, 6), (6, 0), (2, 0)], 4),
    "flat trapezoid": ([(0, 0), (12, 0), (10, 4), (2, 4)], 6),
    "half hexagon": ([(0, 0), (12, 0), (9, 3 * ROOT3), (3, 3 * ROOT3)], 6),
    "house": ([(0, 3), (3, 0), (6, 3), (6, 7), (0, 7)], 3),
    "house of five feathers": ([(0, 5), (5, 0), (10, 5), (10, 12), (0, 12)], 5),
    "equilateral triangle": ([(0, 0), (10, 0), (5, -5 * ROOT3)], 5),
    "tall triangle": ([(0, 0), (8, 0), (4, 9)], 4),
}
"""Spaces in inches, and where the level axis that mirrors each crosses."""


def drawn(region, **settings):
    filled = fill("feather", region, **settings)
    return filled, MultiLineString([s.path for s in filled.strokes if s.role == "stitch"])


@pytest.mark.parametrize("angle", [0.0, 23.0])
@pytest.mark.parametrize("name", MIRRORED)
def test_a_feather_without_variation_is_its_own_image_over_the_axis_of_its_space(name, angle):
    corners, axis = MIRRORED[name]
    region = rotate(polygon(corners), angle, origin=(0, 0))
    _, lines = drawn(region, variation=0)
    upright = rotate(lines, -angle, origin=(0, 0))
    image = scale(upright, -1, 1, origin=(axis * IN, 0))
    assert upright.hausdorff_distance(image) < 0.1
    assert upright.length > 5 * region.length / 2  # and it is a feather, not a bare spine


@pytest.mark.parametrize("name", ["kite", "trapezoid", "house", "equilateral triangle", "tall triangle"])
def test_one_spine_runs_along_the_axis(name):
    corners, axis = MIRRORED[name]
    region = polygon(corners)
    _, lines = drawn(region, variation=0)
    on_axis = lines.intersection(box((axis - 0.01) * IN, -500, (axis + 0.01) * IN, 500))
    top, bottom = region.bounds[1], region.bounds[3]
    assert on_axis.length > 0.6 * (bottom - top)


def covered(filled):
    return unary_union(filled.taken).area


def test_no_serif_is_left_empty_where_the_plumes_beside_its_twig_would_cross():
    # a slanting stroke with a slab at either end: where the twig into the upper one starts, two plumes meet its base
    slabs = [(0, 0), (6, 0), (6, 0.8), (4.6, 0.8), (8, 10), (10.5, 10), (10.5, 10.8), (4, 10.8), (4, 10), (5.4, 10)]
    region = polygon([*slabs, (2, 0.8), (0, 0.8)])
    filled, lines = drawn(region)
    serif = polygon([(4.8, 0), (6, 0), (6, 0.8), (4.8, 0.8)])
    assert lines.intersection(serif).length > 4 * IN  # plumes on both sides of a twig, nothing before
    assert covered(filled) > 0.75 * region.area
    assert [f.code for f in filled.findings] == ["feather-plume-left-out"]


def test_a_spine_that_would_start_in_a_neck_starts_behind_it():
    # the long axis of this coast ends in a spit; from there no three plumes fitted, and combs were drawn instead
    region = as_region(coast(600, seed=401, width=14, height=8))
    filled, _ = drawn(region)
    assert not filled.findings
    assert len({s.chain for s in filled.strokes}) == 1
    assert covered(filled) > 0.6 * region.area


def test_findings_name_no_fold_in_a_slim_coast():
    region = as_region(coast(1200, seed=402, width=20, height=5))
    filled, _ = drawn(region)
    assert covered(filled) > 0.6 * region.area
    assert not any(f.code == "feather-folded" for f in filled.findings)
