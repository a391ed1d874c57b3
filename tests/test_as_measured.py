"""A top as the tape says: exact at what was measured, seams together, impossible measures refused."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Polygon, unary_union

from plumeline.errors import InputError
from plumeline.geometry import corners_from_upper_left, rings
from plumeline.pipeline.top import read_top
from plumeline.plan import parse_plan

IN = 25.4

TABLE = """
title = "t"
[top.blocks]
size = 12
rows = [["a", "b", "a"], ["b", "a", "b"], ["a", "b", "a"]]
borders = [{ name = "inner", width = 1 }, { name = "outer", width = "5 1/2" }]
[top.blocks.pieces]
b = "nine patch"
"""


def top_of(*measured, table=TABLE):
    return read_top(parse_plan(table + "".join(f"[[measured]]\n{m}\n" for m in measured)))


def corners(top, name):
    (patch,) = [p for p in top.patches if p.name == name]
    return corners_from_upper_left(rings(patch.outline)[0])


def sides_in(top, name):
    points = corners(top, name)
    return np.hypot(*(np.roll(points, -1, axis=0) - points).T) / IN


def diagonals_in(top, name):
    a, b, c, d = corners(top, name)
    return math.dist(a, c) / IN, math.dist(b, d) / IN


def whole(top):
    """Its patches leave no gap and do not overlap."""
    union = unary_union([p.outline for p in top.patches])
    area = sum(p.outline.area for p in top.patches)
    return union.geom_type == "Polygon" and not union.interiors and area == pytest.approx(union.area, abs=1e-3)


def test_nothing_measured_changes_nothing():
    assert [p.outline.wkb for p in top_of().patches] == [
        p.outline.wkb for p in read_top(parse_plan(TABLE, file="x.toml")).patches
    ]


def test_a_square_out_of_true_is_as_measured_and_its_neighbours_still_meet_it():
    # the second diagonal follows from the other five measures: two triangles on the first diagonal
    a, b, c, d, one = 12.125, 11.9375, 12.0, 12.0625, 17.0625
    second = _apex(one, a, b)
    fourth = _apex(one, d, c)
    two = math.dist((second[0], second[1]), (fourth[0], -fourth[1]))
    top = top_of(f'patch = "a-2-2"\nsides = [{a}, {b}, {c}, {d}]\ndiagonals = [{one}, {two!r}]')
    assert sides_in(top, "a-2-2") == pytest.approx([a, b, c, d], abs=0.0004)  # 1/100 mm
    assert diagonals_in(top, "a-2-2") == pytest.approx([one, two], abs=0.0004)
    assert whole(top)
    # far from it the top is nearly as planned
    assert sides_in(top, "outer-left") == pytest.approx([5.5, 38, 5.5, 38], abs=0.1)
    assert not [f for f in top.findings if f.code == "measures-misfit"]


def _apex(base, left, right):
    x = (base**2 + left**2 - right**2) / (2 * base)
    return x, math.sqrt(left**2 - x**2)


@settings(max_examples=15, deadline=None)
@given(st.lists(st.floats(-0.25, 0.25), min_size=3, max_size=3), st.sampled_from(["a-1-1", "a-2-2", "a-3-1"]))
def test_sides_are_met_to_a_hundredth_of_a_millimetre(off, name):
    top = top_of(f'patch = "{name}"\nsides = [{12 + off[0]}, {12 + off[1]}, {12 + off[2]}]')
    assert sides_in(top, name)[:3] == pytest.approx([12 + v for v in off], abs=0.0004)
    assert whole(top)


def test_a_bow_is_as_high_in_the_middle_of_the_side_for_both_patches():
    top = top_of('patch = "a-2-2"\nbows = { B = "3/16", A = "-1/8" }\nsides = { B = 12, A = 12 }')
    ring = rings(next(p for p in top.patches if p.name == "a-2-2").outline)[0]
    a, b, c, _ = corners(top, "a-2-2")
    right = ring[ring[:, 0] > (b[0] + a[0]) / 2]
    chord = (c - b) / math.dist(b, c)
    away = (right - b)[:, 0] * chord[1] - (right - b)[:, 1] * chord[0]
    assert away.max() / IN == pytest.approx(3 / 16, abs=0.002)  # the middle is the highest point, but for 0.01 mm
    assert whole(top)
    # the piece between bow and chord is about two thirds of the height times the side, as of any shallow arc
    first, last = (int(np.argmin(np.hypot(*(ring - p).T))) for p in (b, c))
    step = 1 if (last - first) % len(ring) <= (first - last) % len(ring) else -1
    side = ring[np.arange(first, first + step * (((last - first) * step) % len(ring) + 1), step) % len(ring)]
    piece = Polygon(side)
    assert piece.area / IN**2 == pytest.approx(2 / 3 * 12 * 3 / 16, rel=0.15)


def test_borders_that_run_from_61_3_4_to_62_1_2():
    table = TABLE.replace("size = 12", "size = 16.4").replace('width = "5 1/2"', "width = 5.4")  # 62 in planned
    top = top_of('top = "61 3/4"\nbottom = "62 1/2"\nleft = 62', table=table)
    points = np.vstack([rings(p.outline)[0] for p in top.patches])
    found = {
        (x, y): points[np.argmin(np.hypot(*(points - np.array([x, y]) * np.array(top.size)).T))]
        for x in (0, 1)
        for y in (0, 1)
    }
    assert math.dist(found[0, 0], found[1, 0]) / IN == pytest.approx(61.75, abs=0.0004)
    assert math.dist(found[0, 1], found[1, 1]) / IN == pytest.approx(62.5, abs=0.0004)
    assert math.dist(found[0, 0], found[0, 1]) / IN == pytest.approx(62, abs=0.0004)
    assert whole(top)


def test_lengths_along_an_edge_from_seam_to_seam():
    table = TABLE.replace('borders = [{ name = "inner", width = 1 }, { name = "outer", width = "5 1/2" }]', "")
    top = top_of('top = ["12 1/8", 4, "4 1/16", "3 15/16", 12]', table=table)
    lengths = [sides_in(top, n)[0] for n in ("a-1-1", "b-1-2-dark-1", "b-1-2-light-1", "b-1-2-dark-2", "a-1-3")]
    assert lengths == pytest.approx([12.125, 4, 4.0625, 3.9375, 12], abs=0.0004)
    with pytest.raises(InputError, match=r"measured\.1\.top: holds 2 lengths; 5 patches lie along the top"):
        top_of("top = [18, 18]", table=table)


def test_a_block_and_guides_are_moved_with_it():
    guide = '[[guide]]\nname = "g"\npatch = "b-2-1-dark-3"\npoints = [[0, 0], [4, 4]]\n'
    top = top_of('block = "b-2-1"\nsides = ["12 1/4", 12, "12 1/4", 12]', table=TABLE + guide)
    a = corners(top, "b-2-1-dark-1")[0]
    b = corners(top, "b-2-1-dark-2")[1]
    assert math.dist(a, b) / IN == pytest.approx(12.25, abs=0.0004)
    middle = corners(top, "b-2-1-dark-3")
    (path,) = top.guides.values()
    assert path[0] == pytest.approx(middle[0], abs=0.02)
    assert path[-1] == pytest.approx(middle[2], abs=0.02)


@pytest.mark.parametrize(
    ("measured", "said"),
    [
        ('patch = "a-2-3"\nsides = [12]', "'a-2-3' is the name of no patch Did you mean"),
        ('block = "c-2-3"\nsides = [12]', "'c-2-3' is the name of no block"),
        ('patch = "a-2-2"\nsides = [12, 12, 12, 12, 12]', "sides name E; a-2-2 has 4 sides"),
        ('patch = "a-2-2"\nsides = { I = 12 }', "names 'I'; must be one of A, B, C, D"),
        ('patch = "a-2-2"\nsides = [15]', "side A of a-2-2 is 15 in, but 12 in in the plan; must be within 20 %"),
        # a rhombus: the squares of its diagonals add up to four squares of its side; 17 and 15 miss it by far
        ('patch = "a-2-2"\nsides = [12, 12, 12, 12]\ndiagonals = [17, 15]', "the measures don't close"),
        ('patch = "a-2-2"\ntop = 12', "says top of 'a-2-2'; only the whole top has it"),
        ("sides = [12]", "has sides, but no patch or block"),
        ('patch = "a-2-2"', "measures nothing"),
        ('patch = "a-2-2"\nblock = "b-1-2"\nsides = [12]', "says patch and block"),
        ('patch = "a-2-2"\nsides = [12]\n[[measured]]\npatch = "b-2-1-light-2"\nsides = [6]', "must be within 20 %"),
    ],
)
def test_what_cannot_be_is_refused_with_the_measure_named(measured, said):
    with pytest.raises(InputError) as refused:
        top_of(measured)
    text = str(refused.value)
    assert all(part in text for part in said.split(" Did ")[:1])
    assert "measured.1" in text or "measured.2" in text


def test_measures_that_miss_by_a_little_are_told():
    top = top_of('patch = "a-2-2"\nsides = [12, 12, 12, 12]\ndiagonals = [17, 17]')  # 16.97 would close
    (note,) = [f for f in top.findings if f.code == "measures-misfit"]
    assert note.severity == "note"
    assert "a-2-2" in note.text
