"""Traditional blocks against plain geometry: tiled squares, pieces counted by hand, looks alike when turned."""

import json
import math
from collections import Counter

import numpy as np
import pytest
from shapely import Polygon, unary_union
from shapely.affinity import rotate, scale

from plumeline.errors import InputError, TopError
from plumeline.pipeline.top import read_top
from plumeline.plan import parse_plan
from plumeline.top import TRADITIONAL, BlockTable, Border, Pieces, Sashing, find_block, from_blocks

IN = 25.4

COUNTS = {
    "attic windows": 1 + 2,  # a window, and two strips mitred
    "bear's paw": 4 * (1 + 4 * 2 + 1) + 4 + 1,  # a paw: pad, four claws of two triangles, corner; bars; middle
    "birds in the air": 1 + 3 * 2 + 3,  # a large triangle; three squares in two, three birds along the slope
    "bow tie": 2 + 2 * 2,  # two tie squares, two squares with a corner of the knot
    "brick": 2 * 2 + 2 * 3,  # two courses of two bricks, two of one brick and two halves
    "broken dishes": 16 * 2,
    "buckeye beauty": 2 * 4 + 2 * 2,
    "card trick": 4 * 2 + 4 * 3 + 4,  # corners in two, sides in three, the middle in four
    "churn dash": 4 * 2 + 4 * 2 + 1,
    "courthouse steps": 1 + 3 * 4,
    "double four patch": 2 * 4 + 2,
    "double irish chain": 5 * 5,
    "double nine patch": 5 * 9 + 4,
    "dutchman's puzzle": 8 * 3,
    "economy patch": 1 + 4 + 4,
    "flock of geese": 2 * 2 + 8 * 2,
    "flying geese": 2 * 3,
    "four patch": 4,
    "friendship star": 4 + 1 + 4 * 2,
    "half-square triangle": 2,
    "jacob's ladder": 5 * 4 + 4 * 2,
    "kaleidoscope": 8 + 4,
    "lady of the lake": 17 * 2,
    "lemoyne star": 8 + 4 + 4,
    "log cabin": 1 + 3 * 4,
    "nine patch": 9,
    "ohio star": 4 + 1 + 4 * 4,
    "pinwheel": 4 * 2,
    "puss in the corner": 1 + 4 + 4,
    "quarter log cabin": 1 + 3 * 2,
    "quarter-square triangle": 4,
    "rail fence": 4 * 3,
    "rolling stone": 4 * 5 + 4 * 2 + 1,
    "sawtooth star": 1 + 4 + 4 * 3,
    "shoofly": 4 * 2 + 4 + 1,
    "sixteen patch": 16,
    "snowball": 1 + 4,
    "split nine patch": 6 + 3 * 2,
    "split quarter-square triangle": 1 + 2,
    "spool": 1 + 4,
    "square in a square": 1 + 4,
    "trip around the world": 7 * 7,
}
"""Pieces of each, from how it is sewn: units, and pieces in a unit."""

FOUR_TURNS = {
    "bear's paw", "churn dash", "dutchman's puzzle", "economy patch", "friendship star", "kaleidoscope", "lemoyne star",
    "nine patch", "ohio star", "pinwheel", "puss in the corner", "rolling stone", "sawtooth star", "shoofly",
    "snowball", "square in a square", "double nine patch", "double irish chain", "trip around the world",
    "broken dishes",
}  # fmt: skip
"""Alike after every quarter of a turn, fabrics too."""

HALF_TURN = {
    "bow tie", "buckeye beauty", "courthouse steps", "double four patch", "four patch", "jacob's ladder", "spool",
    "quarter-square triangle", "sixteen patch",
}  # fmt: skip
"""Alike only after half a turn; a large triangle of the flock of geese comes to lie on the other fabric."""

LEFT_AND_RIGHT = FOUR_TURNS - {"broken dishes", "dutchman's puzzle", "friendship star", "lemoyne star", "pinwheel"} | {
    "courthouse steps", "flying geese", "quarter-square triangle", "spool",
}  # fmt: skip
"""Alike in a mirror that stands upright; the star of eight points changes its two fabrics."""


def pieces(block):
    return [(fabric, Polygon(ring)) for fabric, ring in block.pieces(100.0)]


def by_fabric(parts):
    fabrics = sorted({fabric for fabric, _ in parts})
    return {f: unary_union([p for fabric, p in parts if fabric == f]) for f in fabrics}


def same(block, change):
    one, other = by_fabric(pieces(block)), by_fabric([(f, change(p)) for f, p in pieces(block)])
    return all(one[f].symmetric_difference(other[f]).area < 1e-6 for f in one)


def test_at_least_thirty_are_known_and_each_was_counted_by_hand():
    assert len(TRADITIONAL) >= 30
    assert {b.name: len(b.cut) for b in TRADITIONAL} == COUNTS


@pytest.mark.parametrize("block", TRADITIONAL, ids=lambda b: b.name)
def test_tiles_its_square(block):
    parts = [p for _, p in pieces(block)]
    assert all(p.is_valid for p in parts)
    assert sum(p.area for p in parts) == pytest.approx(100.0**2, abs=1e-6)  # with the next two: no overlap
    assert unary_union([p.buffer(1e-7) for p in parts]).buffer(-2e-7).area == pytest.approx(100.0**2, abs=1e-3)
    assert Polygon([(0, 0), (100, 0), (100, 100), (0, 100)]).buffer(1e-9).covers(unary_union(parts))
    overlap = max((p.intersection(q).area for k, p in enumerate(parts) for q in parts[:k]), default=0.0)
    assert overlap < 1e-9


@pytest.mark.parametrize("block", TRADITIONAL, ids=lambda b: b.name)
def test_symmetry(block):
    turned = [same(block, lambda p, a=a: rotate(p, a, origin=(50, 50))) for a in (90, 180)]
    assert turned[0] == (block.name in FOUR_TURNS)
    assert turned[1] == (block.name in FOUR_TURNS | HALF_TURN)
    assert same(block, lambda p: scale(p, -1, 1, origin=(50, 50))) == (block.name in LEFT_AND_RIGHT)


@pytest.mark.parametrize("block", TRADITIONAL, ids=lambda b: b.name)
def test_as_a_top(block):
    table = BlockTable("straight", 12 * IN, [["x"]], pieces={"x": Pieces(block=block.name)})
    top = from_blocks(table)
    assert top.size == pytest.approx((12 * IN, 12 * IN), abs=1e-3)
    assert not top.findings
    counts = Counter(fabric for fabric, _ in block.cut)
    got = Counter(p.name.removeprefix("x-1-1-").rstrip("0123456789").rstrip("-") for p in top.patches)
    assert got == counts
    assert sum(p.outline.area for p in top.patches) == pytest.approx((12 * IN) ** 2, abs=0.1)
    assert all(p.colour for p in top.patches)


def test_known_areas():
    # a sawtooth star of 12 in: the middle is a square of 6, a point half a square of 3; from the trade's cutting charts
    star = by_fabric([(f, p) for f, p in pieces(find_block("sawtooth star"))])
    assert star["center"].area / 1e4 == pytest.approx(36 / 144)
    assert star["star"].area / 1e4 == pytest.approx(8 * 4.5 / 144)
    # the star of eight diamonds: each of side s and 45 degrees, s = side / (2 + sqrt 2)
    side = 100 / (2 + math.sqrt(2))
    points = [p for f, p in pieces(find_block("lemoyne star")) if f in ("dark", "light")]
    assert [p.area for p in points] == pytest.approx([side**2 * math.sin(math.pi / 4)] * 8)
    edges = [np.hypot(*np.diff(np.array(p.exterior.coords), axis=0).T) for p in points]
    assert np.allclose(edges, side)


def test_other_names_lead_to_the_same_block_however_they_are_written():
    dash = find_block("churn dash")
    assert find_block("Hole in the Barn Door") is find_block("monkey-wrench") is find_block("Churn_Dash") is dash
    assert find_block("Bears Paw").name == "bear's paw"
    assert find_block("Shoo Fly").name == "shoofly"
    names = [said for b in TRADITIONAL for said in (b.name, *b.also)]
    assert len(set(names)) == len(names)
    with pytest.raises(TopError, match=r"Did you mean 'ohio star'\?"):
        find_block("ohio stra")


PLAN = """
title = "t"
[top.blocks]
size = 9
rows = [["a", "b"], ["b", "a"]]
sashing = { width = 1, outer = true, cornerstones = true }
borders = [{ name = "teeth", width = 2, pieced = "sawtooth" }, { name = "out", width = 3, corners = "cornerstones" }]
[top.blocks.pieces]
a = "ohio star"
b = { block = "log cabin", turn = 90 }
[fabrics]
"*-star" = "#112233"
"b-1-2-*" = "#445566"
"""


def test_in_a_plan_fabrics_reach_the_pieces():
    top = read_top(parse_plan(PLAN))
    colours = {p.name: p.colour for p in top.patches}
    assert [n for n, c in colours.items() if c == "#112233"] == [
        n for n in colours if n.startswith("a-") and "-star-" in n
    ]
    assert sum(c == "#112233" for c in colours.values()) == 2 * 8
    assert sum(c == "#445566" for c in colours.values()) == 13
    # 2 x 9 + 3 x 1, plus twice 2 and 3
    assert top.size == pytest.approx((31 * IN, 31 * IN), abs=1e-3)
    # blocks, sashes, cornerstones, teeth of about 2 in round 21 in (10 a side, two pieces each), their four corners,
    # and a border of four strips and four squares
    assert len(top.patches) == 2 * 21 + 2 * 13 + 12 + 9 + 4 * 10 * 2 + 4 + 8


def test_a_turned_block_is_the_block_turned_counter_clockwise():
    plain, turned = (find_block("log cabin").pieces(70.0, turns) for turns in (0, 1))
    for (_, a), (_, b) in zip(plain, turned, strict=True):
        # counter-clockwise as seen, y down: the right edge comes to lie on top
        assert np.allclose(b, np.column_stack([a[:, 1], 70.0 - a[:, 0]]))


@pytest.mark.parametrize("pieced", ["squares", "keys", "sawtooth", "geese"])
@pytest.mark.parametrize("corners", ["butted", "cornerstones"])
def test_pieced_borders_fill_their_strips(pieced, corners):
    border = Border("e", 2 * IN, corners, pieced, (7, 5))
    table = BlockTable("straight", 8 * IN, [["x", "x"]], sashing=Sashing(IN), borders=[border])
    top = from_blocks(table)
    assert top.size == pytest.approx((21 * IN, 12 * IN), abs=1e-3)
    assert not top.findings
    assert sum(p.outline.area for p in top.patches) == pytest.approx(21 * 12 * IN**2, rel=1e-6)
    each = {"squares": 1, "keys": 1, "sawtooth": 2, "geese": 3}[pieced]
    corner = 4 if corners == "cornerstones" else 0
    assert len(top.patches) == 3 + 2 * (7 + 5) * each + corner
    if pieced == "geese":
        geese = [p.outline.area / IN**2 for p in top.patches if "-goose-" in p.name]
        long = 21 if corners == "butted" else 17  # half of each unit is goose
        assert sorted(geese) == pytest.approx(sorted([2 * long / 7 / 2] * 14 + [2 * 8 / 5 / 2] * 10), abs=1e-5)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('"ohio star"', '"ohio stra"', "top.blocks.pieces.a.block: is 'ohio stra'; no traditional block is called so"),
        ("turn = 90", "turn = 45", "turn is 45; must be 0, 90, 180 or 270 degrees"),
        ("turn = 90", 'names = ["x"]', "has names; the pieces of a traditional block are named by their fabrics"),
        ('block = "log cabin", turn = 90', "grid = 3, turn = 90", "has a turn; only a traditional block is turned"),
        ('pieced = "sawtooth"', 'pieced = "sawtooth", corners = "mitred"', "is pieced and mitred"),
        ('pieced = "sawtooth"', "count = [3, 4]", "has a count, but is not pieced"),
        ('pieced = "sawtooth"', 'pieced = "sawtooth", count = [3, 4000]', "must be at most 400 a side"),
        ('pieced = "sawtooth"', 'pieced = "teeth"', "is 'teeth'; must be one of squares, keys, sawtooth, geese"),
    ],
)
def test_what_cannot_be_sewn_is_refused(old, new, said):
    with pytest.raises(InputError) as refused:
        read_top(parse_plan(PLAN.replace(old, new), file="plan.toml"))
    assert said in str(refused.value)


def test_the_command_lists_draws_and_prints(tmp_path, run):
    code, out, _ = run("blocks")
    assert code == 0
    for block in TRADITIONAL:
        assert block.name in out
    data = json.loads(run("blocks", "Ohio Star", "--json")[1])["blocks"]
    assert [b["name"] for b in data] == ["ohio star"]
    assert data[0]["fabrics"] == {"background": 12, "center": 1, "star": 8}
    assert sum(Polygon(o["points"]).area for o in data[0]["outlines"]) == pytest.approx(1.0, abs=1e-6)
    assert run("blocks", "--to", tmp_path / "b.svg")[0] == 0
    assert (tmp_path / "b.svg").read_text().count('class="patch"') == sum(COUNTS.values())
    assert run("blocks", "--to", tmp_path / "b.svg")[0] == 2
    assert run("blocks", "--to", tmp_path / "b.gif")[0] == 2
    code, _, said = run("blocks", "ohio stra")
    assert code == 2
    assert "Did you mean" in said
