"""No cloth gets lost on the way: area in is area out wherever one room hands regions to the next.

The plans are those of ``consistency.random_plan``: tables of blocks, divided or not, with fences, any fill and machine.
The areas that must come out are worked out from the plan's own sizes, or summed from what went in.
"""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Polygon

import plumeline
import plumeline.fills.kit.stack as stack
from consistency import IN, random_plan
from plumeline.geometry import intersect, pieces_of, region_to_local, region_to_page
from plumeline.model import Frame
from plumeline.pipeline.top import read_top
from plumeline.zones.making import make_zones
from plumeline.zones.parts import parts_of
from plumeline.zones.spaces import spaces_of
from shapes import random_regions

NUMBERS = st.integers(0, 10_000)
REGIONS = tuple(random_regions(24, seed=5))


def read(number, folder):
    (folder / "plan.toml").write_text(random_plan(number), encoding="utf-8")
    return plumeline.read_plan(folder / "plan.toml")


def area(regions):
    return sum(region.area for region in regions)


def turned(number):
    rng = np.random.default_rng(number)
    return Frame((float(rng.uniform(-900, 900)), float(rng.uniform(-900, 900))), float(rng.uniform(-180, 180)))


@settings(max_examples=30, deadline=None)
@given(number=NUMBERS)
def test_reading_spaces_and_parts_keep_all_the_cloth(number, tmp_path_factory):
    plan = read(number, tmp_path_factory.mktemp("plan"))
    top = read_top(plan)
    blocks = plan.top.blocks
    side, rows, columns = blocks.size_mm, len(blocks.rows), len(blocks.rows[0])
    edge = sum(b.width_mm for b in blocks.borders)
    whole = (columns * side + 2 * edge) * (rows * side + 2 * edge)
    assert area(p.outline for p in top.patches) == pytest.approx(whole, rel=1e-9)
    spaces, _ = spaces_of(top, plan.zones)
    assert area(s.outline for s in spaces) == pytest.approx(rows * columns * side**2, rel=1e-9)
    for space in spaces:
        pieces = [piece for _, several in parts_of(top, space) for piece in several]
        assert area(pieces) == pytest.approx(space.outline.area, rel=1e-9)
        assert shapely.union_all(pieces).area == pytest.approx(space.outline.area, rel=1e-9)  # none counts twice


@settings(max_examples=30, deadline=None)
@given(number=NUMBERS)
def test_zones_have_the_area_that_their_sizes_say(number, tmp_path_factory):
    plan = read(number, tmp_path_factory.mktemp("plan"))
    zones, _ = make_zones(read_top(plan), plan.zones, chance=plan.chance)
    side, inset, frame, gap = plan.top.blocks.size_mm, IN / 8, IN, IN / 16
    for spec in plan.zones:
        got = {z.part: 0.0 for z in zones if z.name == spec.name}
        for zone in zones:
            if zone.name == spec.name:
                got[zone.part] += zone.region.area
        if not spec.divide:
            assert got == {"": pytest.approx((side - 2 * inset) ** 2, rel=1e-9)}
            continue
        # between frame and inside lies a clearance; by a mitre each keeps half of it, and its corners
        outer, line = side - 2 * inset, side - 2 * frame
        assert got["inside"] == pytest.approx((line - gap) ** 2, rel=1e-6)
        assert got["frame"] == pytest.approx(outer**2 - (line + gap) ** 2, rel=1e-6)
    for zone in zones:
        for frame_ in (zone.frame, turned(number)):
            assert area(region_to_local(zone.region, frame_)) == pytest.approx(zone.region.area, rel=1e-6)


@settings(max_examples=40, deadline=None)
@given(region=st.sampled_from(REGIONS), number=NUMBERS)
def test_a_region_keeps_its_area_in_any_frame_and_back(region, number):
    frame = turned(number)
    local = region_to_local(region, frame)
    assert area(local) == pytest.approx(region.area, rel=1e-6)
    back = [region_to_page(piece, frame) for piece in local]
    assert shapely.union_all(back).symmetric_difference(region).area < 1e-5 * region.area


def necked(width):
    """Return two squares of 100 mm with a neck between them."""
    h = width / 2
    right = [(100, 50 - h), (110, 50 - h), (110, 0), (210, 0), (210, 100), (110, 100), (110, 50 + h), (100, 50 + h)]
    return Polygon([(0, 0), (100, 0), *right, (100, 100), (0, 100)])


@given(width=st.floats(1e-7, 0.5), number=NUMBERS)
def test_where_a_neck_closes_both_sides_of_it_stay(width, number):
    # 132.5 sq in became 80.4 when only the largest piece was kept
    assert area(region_to_local(necked(width), turned(number))) == pytest.approx(20_000 + 10 * width, rel=1e-4)


STACK = """units = "in"
chance = {chance}
[top.blocks]
setting = "straight"
size = {size}
rows = [["a"]]
[[zone]]
name = "z"
patches = ["*"]
inset = "1/8"
[[zone.fill]]
kind = "motif"
art = "leaf"
fit = {fit}
[[zone.fill]]
kind = "echo"
count = {count}
[[zone.fill]]
kind = "channel"
spacing = "3/8"
"""


@pytest.mark.parametrize(("chance", "size", "fit", "count"), [(1, 6, 70, 1), (2, 7, 90, 2), (3, 9, 100, 1)])
def test_a_stack_hands_on_all_that_a_layer_leaves(chance, size, fit, count, tmp_path, monkeypatch):
    handed = []
    left_of = stack._left_of

    def watched(zone, taken):
        left = left_of(zone, taken)
        handed.append((zone.region, taken, left))
        return left

    monkeypatch.setattr(stack, "_left_of", watched)
    text = STACK.format(chance=chance, size=size, fit=fit, count=count)
    (tmp_path / "plan.toml").write_text(text, encoding="utf-8")
    quilt = plumeline.stitch(plumeline.read_plan(tmp_path / "plan.toml"))
    assert any(taken for _, taken, _ in handed)
    for region, taken, left in handed:
        away = shapely.union_all([piece for t in taken for piece in intersect(region, t)])
        lost = region.area - away.area - area(z.region for z in left)
        assert -1e-3 < lost < IN**2  # slits too narrow for a line; what they leave is measured as bare
        dropped = region.difference(shapely.union_all([away, *(z.region for z in left)]))
        widest = [2 * shapely.maximum_inscribed_circle(p).length for p in pieces_of(dropped)]
        assert max(widest, default=0.0) < stack.LEFTOVER_MM + 0.2
    (row,) = {(r.area_mm2, r.bare_mm2) for r in quilt.report.zones}
    assert row[1] <= IN**2 or any(f.code == "bare" for f in quilt.report.findings)
