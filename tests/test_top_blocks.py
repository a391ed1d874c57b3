"""Block tables, against the trade's sums."""

import math
from collections import Counter
from dataclasses import replace

import numpy as np
import pytest

from plumeline.errors import TopError
from plumeline.geometry import path_length
from plumeline.top import BlockTable, Border, Pieces, Sashing, crooked_seams, from_blocks, setting_triangle_cuts
from test_top_drawing import check, neighbours

IN = 25.4
BORDERS = (Border("inner", 1 * IN), Border("outer", 5.5 * IN, "mitred"))
ON_POINT = BlockTable("on-point", 12 * IN, [["star"] * 3] * 3, between="plain", borders=BORDERS)


def lines(*paths):
    return tuple(np.array(p, dtype=float) * IN for p in paths)


def kinds(top):
    return Counter(p.name.rstrip("0123456789-") for p in top.patches)


def size_in(top):
    return top.size[0] / IN, top.size[1] / IN


def area_in(top, name):
    (patch,) = [p for p in top.patches if p.name == name]
    return patch.outline.area / IN**2


@pytest.mark.parametrize(
    ("finished", "side", "corner"),
    # a published chart of setting triangles, all eleven rows: side = finished x 1.414 + 1.25, corner = finished /
    # 1.414 + 0.875, both rounded up to 1/8 in
    [
        (4, 7, 3.75), (5, 8.375, 4.5), (6, 9.75, 5.125), (7, 11.25, 5.875), (8, 12.625, 6.625), (9, 14, 7.25),
        (10, 15.5, 8), (12, 18.25, 9.375), (14, 21.125, 10.875), (15, 22.5, 11.5), (16, 23.875, 12.25),
    ],
)  # fmt: skip
def test_setting_triangle_chart(finished, side, corner):
    assert [cut / IN for cut in setting_triangle_cuts(finished * IN)] == pytest.approx([side, corner], abs=1e-9)
    # exact seam additions are 1.2071 and 0.8536 in: the chart is never too small, and generous by less than 1/4 in
    exact = finished * math.sqrt(2) + (1 + math.sqrt(2)) / 2, finished / math.sqrt(2) + (2 + math.sqrt(2)) / 4
    assert all(0 <= cut - least < 0.25 for cut, least in zip((side, corner), exact, strict=True))


def test_on_point_three_by_three():
    top = check(from_blocks(ON_POINT))
    # 3 x 12 x sqrt 2 + 2 x (1 + 5 1/2)
    assert size_in(top) == pytest.approx((36 * math.sqrt(2) + 13,) * 2, abs=1e-5)
    # blocks r c + (r - 1)(c - 1), side triangles 2 (r + c - 2), four corners
    expected = {"star": 9, "plain": 4, "side-top": 2, "side-right": 2, "side-bottom": 2, "side-left": 2}
    assert expected.items() <= kinds(top).items()
    assert len(top.patches) == 9 + 4 + 8 + 4 + 8
    assert not top.findings
    assert area_in(top, "side-top-1") == pytest.approx(72)  # half a block
    assert area_in(top, "corner-top-left") == pytest.approx(36)  # a quarter
    assert area_in(top, "outer-top") == pytest.approx((36 * math.sqrt(2) + 2 + 5.5) * 5.5, abs=1e-3)
    touching = [
        ("plain-1-1", "star-1-1"),
        ("plain-1-1", "star-2-2"),
        ("star-1-1", "side-top-1"),
        ("corner-top-left", "inner-top"),
        ("outer-top", "outer-right"),
    ]
    assert {frozenset(p) for p in touching} <= neighbours(top)
    assert frozenset(("plain-1-1", "plain-1-2")) not in neighbours(top)
    assert crooked_seams(top) == []


@pytest.mark.parametrize(("rows", "columns"), [(1, 1), (1, 4), (4, 5), (5, 2)])
def test_on_point_counts(rows, columns):
    table = BlockTable("on-point", 6 * IN, [["a"] * columns] * rows, between="b")
    top = check(from_blocks(table), area_in=rows * columns * 72)
    assert size_in(top) == pytest.approx((columns * 6 * math.sqrt(2), rows * 6 * math.sqrt(2)), abs=1e-5)
    count = Counter(p.name.split("-")[0] for p in top.patches)
    assert count["a"] + count["b"] == rows * columns + (rows - 1) * (columns - 1)
    assert count["side"] == 2 * (rows + columns - 2)
    assert count["corner"] == 4


@pytest.mark.parametrize(
    ("outer", "width", "height", "cornerstones"),
    # 4 x 5 blocks of 12 in, sashing 2 1/2 in: 55.5 x 70 and 12 cornerstones inside only, 60.5 x 75 and 30 with outer
    [(False, 55.5, 70, 12), (True, 60.5, 75, 30)],
)
@pytest.mark.parametrize("stones", [True, False])
def test_sashing(outer, width, height, cornerstones, stones):
    table = BlockTable("straight", 12 * IN, [["a", "b", "a", "b"]] * 5, sashing=Sashing(2.5 * IN, outer, stones))
    top = check(from_blocks(table), area_in=width * height)
    assert size_in(top) == pytest.approx((width, height))
    count = kinds(top)
    assert count["cornerstone"] == (cornerstones if stones else 0)
    assert count["sash-upright"] == 5 * (5 if outer else 3)
    strips = 6 if outer else 4
    assert count["sash-across"] == strips * (4 if stones else 1)
    if stones:
        assert area_in(top, "cornerstone-2-2") == pytest.approx(6.25)
        assert len([n for n in neighbours(top) if "cornerstone-2-2" in n]) == 4
    else:
        assert area_in(top, "sash-across-1") == pytest.approx(width * 2.5)


def test_straight_without_sashing():
    top = check(from_blocks(BlockTable("straight", 9 * IN, [["a", "b"], ["b", "a"]])), area_in=324)
    assert [p.name for p in top.patches] == ["a-1-1", "b-1-2", "b-2-1", "a-2-2"]
    assert sum(path_length(s.path) for s in top.seams if s.b) == pytest.approx(36 * IN)


@pytest.mark.parametrize(
    ("corners", "top_in", "side_in"), [("mitred", 5 * 14.5, 5 * 14.5), ("butted", 5 * 19.5, 5 * 9.5)]
)
def test_borders(corners, top_in, side_in):
    table = BlockTable("straight", 9.5 * IN, [["a"]], borders=[Border("edge", 5 * IN, corners)])
    top = check(from_blocks(table), area_in=19.5**2)
    assert [p.name for p in top.patches] == ["a-1-1", "edge-top", "edge-right", "edge-bottom", "edge-left"]
    for name, area in (("top", top_in), ("bottom", top_in), ("left", side_in), ("right", side_in)):
        assert area_in(top, f"edge-{name}") == pytest.approx(area, abs=1e-3)
    middles = {p.name: p.outline.centroid for p in top.patches}
    assert middles["edge-top"].y < middles["a-1-1"].y < middles["edge-bottom"].y
    assert middles["edge-left"].x < middles["a-1-1"].x < middles["edge-right"].x


STAR = lines(
    [(3, 3), (9, 3), (9, 9), (3, 9), (3, 3)],
    *[[(a, b), (c, d)] for a, b, c, d in [(0, 3, 3, 3), (3, 0, 3, 3), (9, 0, 9, 3), (9, 3, 12, 3), (0, 9, 3, 9),
                                          (3, 9, 3, 12), (9, 9, 9, 12), (9, 9, 12, 9)]],
    [(3, 3), (6, 0), (9, 3)], [(9, 3), (12, 6), (9, 9)], [(9, 9), (6, 12), (3, 9)], [(3, 9), (0, 6), (3, 3)],
)  # fmt: skip


def test_pieces_by_lines():
    """A sawtooth star of 12 in: centre 36, four corners of 9, four quarter-square 9, eight points of 4 1/2 sq in."""
    table = BlockTable("straight", 12 * IN, [["star", "star"]], pieces={"star": Pieces(lines_mm=STAR)})
    top = check(from_blocks(table), area_in=288)
    assert not top.findings
    areas = Counter(round(p.outline.area / IN**2, 3) for p in top.patches if p.name.startswith("star-1-1-"))
    assert areas == {36: 1, 9: 8, 4.5: 8}
    on_point = check(from_blocks(replace(ON_POINT, pieces={"star": Pieces(lines_mm=STAR)})))
    assert len(on_point.patches) == 33 + 9 * 16
    assert not on_point.findings
    assert crooked_seams(on_point) == []


def test_pieces_by_grid_are_numbered_in_reading_order_and_may_be_named():
    table = BlockTable("straight", 9 * IN, [["nine"]], pieces={"nine": Pieces(grid=(3, 3))})
    top = check(from_blocks(table))
    corners = {p.name: tuple(round(v / IN) for v in p.outline.bounds[:2]) for p in top.patches}
    assert corners == {f"nine-1-1-{3 * r + c + 1}": (3 * c, 3 * r) for r in range(3) for c in range(3)}
    half = Pieces(lines_mm=lines([(0, 0), (6, 6)]), names=("light", "dark"))
    named = from_blocks(BlockTable("on-point", 6 * IN, [["half"]], pieces={"half": half}))
    assert [p.name for p in named.patches][:2] == ["half-1-1-light", "half-1-1-dark"]


def test_a_block_on_point_is_turned_clockwise():
    """Its top left corner points up, its top right corner to the right."""
    spot = Pieces(lines_mm=lines([(9, 0), (9, 3), (12, 3)]), names=("spot", "rest"))
    top = from_blocks(BlockTable("on-point", 12 * IN, [["a"]], pieces={"a": spot}))
    (patch,) = [p for p in top.patches if p.name == "a-1-1-spot"]
    d = 12 * math.sqrt(2)
    assert patch.outline.centroid.x / IN == pytest.approx(d - 1.5 * math.sqrt(2), abs=1e-4)
    assert patch.outline.centroid.y / IN == pytest.approx(d / 2, abs=1e-4)


def test_the_same_block_between_the_rows_keeps_names_apart():
    top = from_blocks(BlockTable("on-point", 6 * IN, [["a", "a"], ["a", "a"]], between="a"))
    assert [p.name for p in top.patches][:5] == ["a-1-1", "a-1-2", "a-2-1", "a-2-2", "a-between-1-1"]


def test_colours_go_by_name():
    table = replace(ON_POINT, colours={"plain-1-1": "#111111", "plain-*": "#eeeeee"})
    colours = {p.name: p.colour for p in from_blocks(table).patches}
    assert (colours["plain-1-1"], colours["plain-2-1"], colours["star-1-1"]) == ("#111111", "#eeeeee", None)


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"setting": "diagonal"}, "setting: is 'diagonal'; must be 'straight' or 'on-point'"),
        ({"size_mm": 0.0}, "size: is 0 mm; must be above 0"),
        ({"size_mm": float("nan")}, "size: is nan mm"),
        ({"rows": []}, "rows: is empty"),
        ({"rows": [["a"], ["a", "a"]]}, "rows of 1, 2 blocks"),
        ({"between": None}, "between: is missing"),
        ({"sashing": Sashing(10)}, "sashing: goes with the straight setting"),
        ({"setting": "straight"}, "between: goes with the on-point setting"),
        ({"borders": [Border("edge", -1)]}, "borders 'edge' width: is -1 mm"),
        ({"borders": [Border("edge", 5, "round")]}, "corners: is 'round'"),
        ({"borders": [Border("edge", 5), Border("edge", 5)]}, "'edge-bottom': is the name of two patches"),
        ({"pieces": {"stra": Pieces(grid=(2, 2))}}, "Did you mean 'star'"),
        ({"pieces": {"star": Pieces(grid=(0, 2))}}, r"grid: is \[0, 2\]"),
        ({"pieces": {"star": Pieces(lines_mm=lines([(0, 0), (13, 13)]))}}, "leaves the block"),
        ({"pieces": {"star": Pieces(lines_mm=lines([(0, 0), (5, 5)]))}}, "loose end near 63.5, 63.5 mm"),
        ({"pieces": {"star": Pieces(lines_mm=lines([(0, 0)]))}}, "not two or more points"),
        ({"pieces": {"star": Pieces(grid=(2, 1), names=("a",))}}, "1 names for 2 pieces"),
    ],
)
def test_contradictions_are_refused_by_key(change, says):
    with pytest.raises(TopError, match=says):
        from_blocks(replace(ON_POINT, **change))
