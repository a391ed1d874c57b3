"""Rows that follow a shape laid over blocks, zones that are framed, parts that keep their tips."""

import math

import numpy as np
import pytest
import shapely
from shapely import LineString, Polygon
from shapely.affinity import rotate

from plumeline import stitch
from plumeline.errors import PlanError, ZoneError
from plumeline.model import Frame
from plumeline.pipeline.compare import compared
from plumeline.plan import parse_plan
from plumeline.specs import DivideStep, ZoneSpec
from plumeline.zones import INSET_MM, PART_CLEARANCE_MM, make_zones
from tops import squares

IN = 25.4
TOP = """
[top.blocks]
size = 10
rows = [["a", "b", "a", "b"], ["b", "a", "b", "a"], ["a", "b", "a", "b"], ["b", "a", "b", "a"]]
"""
ROUND = """
[[zone]]
name = "round"
patches = ["*"]
{each}
[zone.fill]
kind = "{kind}"
{more}
spacing = 1
"""
FRAME = """
[[zone]]
name = "frame"
shape = {{ kind = "square", size = 14, at = [20, 20], turn = {turn} }}
[zone.fill]
kind = "rings"
of = "shape"
spacing = 1
"""


def drawn(text):
    return stitch(parse_plan(text))


def strokes_of(quilt, name):
    return [s for zone, f in zip(quilt.zones, quilt.filled) if zone.name == name for s in f.strokes]


def mitred_depth(points, half, turn_deg):
    """How far points lie outside a square of half a side, by the wider of two directions: a mitre in closed form."""
    a = math.radians(turn_deg)
    rel = np.asarray(points) - 20 * IN
    along = rel @ np.array([math.cos(a), -math.sin(a)])
    across = rel @ np.array([math.sin(a), math.cos(a)])
    return np.maximum(np.abs(along), np.abs(across)) - half


@pytest.mark.parametrize(
    ("kind", "more", "first"),
    [
        ("rings", 'of = "shape"', 1.0),
        ("echo", 'of = "shape"\ncorners = "sharp"', 1.0),
        ("channel", 'of = "shape"', 0.5),
        ("channel", 'of = "shape"\nedge = "full"', 1.0),
    ],
)
@pytest.mark.parametrize(("each", "turn"), [("", 45), ('each = "patch"', 30)])
def test_rows_about_a_shape_are_parallel_to_all_its_sides_and_run_on_from_patch_to_patch(kind, more, first, each, turn):
    quilt = drawn(TOP + ROUND.format(each=each, kind=kind, more=more) + FRAME.format(turn=turn))
    strokes = [s for s in strokes_of(quilt, "round") if s.role == "stitch"]
    edge = 7 * IN + PART_CLEARANCE_MM / 2
    straight, total = 0.0, 0.0
    for stroke in strokes:
        path = np.vstack([stroke.path, stroke.path[:1]]) if stroke.closed else stroke.path
        points = np.array(LineString(path).segmentize(2.0).coords)
        rows = mitred_depth(points, edge, turn) / IN - first
        on_row = np.abs(rows - np.round(rows)) < 1e-3
        lengths = np.hypot(*np.diff(points, axis=0).T)
        total += lengths.sum()
        straight += lengths[on_row[1:] & on_row[:-1]].sum()
    assert straight / total > (0.9 if kind == "echo" else 1 - 1e-9)  # an echo slants from ring to ring
    # no point of the space about the frame lies further than half a row from a row, its outer edge aside
    cloth = shapely.union_all(
        [LineString(s.path) if not s.closed else LineString([*s.path, s.path[0]]) for s in strokes]
    )
    grid = np.array([(x, y) for x in np.arange(1.0, 40.0, 1.5) for y in np.arange(1.0, 40.0, 1.5)]) * IN
    about = grid[(mitred_depth(grid, edge, turn) > first * IN)]
    assert shapely.distance(cloth, shapely.points(about)).max() < 1.01 * IN


def test_rows_in_a_shape_follow_it_to_its_middle():
    quilt = drawn(TOP + FRAME.format(turn=20))
    rows = [s for s in strokes_of(quilt, "frame") if s.closed]
    half = 7 * IN - PART_CLEARANCE_MM / 2
    for k, row in enumerate(rows, 1):
        assert mitred_depth(row.path, half - k * IN, 20) == pytest.approx(np.zeros(len(row.path)), abs=0.02)
    assert len(rows) == 6


def test_following_a_shape_where_none_is_laid_is_said():
    quilt = drawn(TOP + ROUND.format(each="", kind="rings", more='of = "shape"'))
    assert "no-shape-to-follow" in [f.code for f in quilt.report.findings]


BLOCK = """
[top.measured]
sides = [10, 10, 10, 10]
diagonals = [14.142135623730951, 14.142135623730951]
[[zone]]
name = "block"
patches = ["block"]
inset = 0.5
"""


@pytest.mark.parametrize(
    ("said", "inches"),
    [
        ('framed = "once"', 36.0),  # a square of side 9
        ('framed = "twice"', 72.0),
        ('framed = { rows = 3, spacing = "1/2" }', 4 * (9 + 8 + 7)),
    ],
)
def test_a_framed_zone_has_its_outline_as_a_line_and_its_fill_inside(said, inches):
    quilt = drawn(BLOCK + said + '\n[zone.fill]\nkind = "crosshatch"\nspacing = 1\n')
    by_part = {zone.part: (zone, f) for zone, f in zip(quilt.zones, quilt.filled)}
    length = sum(LineString([*s.path, s.path[0]]).length for s in by_part["framed"][1].strokes)
    assert length / IN == pytest.approx(inches, abs=1e-6)
    rows = 2 if "rows" in said else 0
    assert by_part[""][0].region.area / IN**2 == pytest.approx((9 - rows) ** 2, abs=1e-6)


def test_a_line_along_the_edge_leaves_no_gap_and_twice_is_sewn_twice():
    sewn = []
    for said in ("once", "twice"):
        quilt = stitch(parse_plan(BLOCK + f'framed = "{said}"\n[zone.fill]\nkind = "rings"\n'))
        row = next(row for row in quilt.report.zones if row.part == "framed")
        assert row.widest_gap_mm == 0
        assert row.seen_mm == pytest.approx(36 * 25.4, abs=1.0)  # a square of side 9
        sewn.append(row.sewn_mm)
        (idea,) = compared([("one", quilt)])
        inside = next(row for row in quilt.report.zones if row.part != "framed")
        assert idea.widest_gap_mm == inside.widest_gap_mm
        assert not [f for f in quilt.report.findings if f.code == "setting-idle"]
    assert sewn[1] - sewn[0] >= 36 * 25.4 - 1.0


def test_a_framed_zone_with_parts_is_framed_as_a_whole():
    text = BLOCK + 'framed = "once"\ndivide = [{ by = "on-point" }]\n[zone.fill.inside]\nkind = "rings"\n'
    quilt = drawn(text)
    assert [zone.part for zone in quilt.zones] == ["framed", "inside"]
    with pytest.raises(PlanError, match="framed"):
        parse_plan(text.replace('"on-point"', '"on-point", as = "framed"'))


@pytest.mark.parametrize("rows", [1, 2, 5])
def test_rows_are_counted_from_the_edge(rows):
    quilt = drawn(BLOCK + f'[zone.fill]\nkind = "rings"\nrows = {rows}\n')
    found = [s for f in quilt.filled for s in f.strokes if s.closed]
    # a square of side 9, rows a quarter inch apart: sides 8 1/2, 8, ...
    assert [LineString([*s.path, s.path[0]]).length / IN for s in found] == pytest.approx(
        [4 * (9 - 0.5 * (k + 1)) for k in range(rows)], abs=1e-6
    )


def test_the_tips_of_a_square_on_point_come_out():
    top = squares(1, 1)
    (rest,) = [
        z for z in make_zones(top, [ZoneSpec("z", ("*",), divide=(DivideStep("on-point"),))])[0] if z.part == "inside"
    ]
    # a square of side 6: its on-point square shrunk until the tips are an inset from the seams: half diagonal 3 - 1/8
    assert len(rest.region.exterior.coords) == 5
    assert rest.region.area / IN**2 == pytest.approx(2 * (3 - INSET_MM / IN) ** 2, abs=1e-6)


SHARED = """
[top.blocks]
size = 6
rows = [["a", "b"]]
[[zone]]
name = "ditch"
patches = ["*"]
each = "patch"
[zone.fill]
kind = "ditch"
[[zone]]
name = "grid"
patches = ["*"]
[zone.fill]
kind = "{kind}"
"""


def test_a_ditch_and_a_grid_share_their_patches_and_no_others_do():
    quilt = drawn(SHARED.format(kind="crosshatch"))
    rows = {(row.name, row.fill) for row in quilt.report.zones}
    assert rows == {("ditch", "ditch"), ("grid", "crosshatch")}
    ditched = [LineString([*s.path, s.path[0]]).length / IN for s in strokes_of(quilt, "ditch")]
    assert ditched == pytest.approx([24, 24])
    with pytest.raises(ZoneError, match="stack"):
        drawn(SHARED.format(kind="spiral").replace('kind = "ditch"', 'kind = "channel"'))
    option = SHARED.format(kind="spiral") + '[options.other.ditch]\nkind = "channel"\n'
    with pytest.raises(ZoneError, match="stack"):
        drawn(option)


def test_shapes_turn_about_their_middle_as_shapely_turns_them():
    square = Polygon([(13 * IN, 13 * IN), (27 * IN, 13 * IN), (27 * IN, 27 * IN), (13 * IN, 27 * IN)])
    quilt = drawn(TOP + FRAME.format(turn=20))
    (zone,) = quilt.zones
    assert zone.outline.symmetric_difference(rotate(square, -20)).area == pytest.approx(0.0, abs=1.0)
    assert zone.frame == Frame(pytest.approx((20 * IN, 20 * IN)), 0.0)


@pytest.mark.parametrize("framed", [True, False])
def test_a_framed_shape_and_what_lies_round_it_share_one_line(framed):
    """Lines along a side of a 14 in square within 1/8 in of it: one, 1/32 in inside, where it is framed; else two."""
    ground = ROUND.format(each="", kind="channel", more="angle = 30")
    shape = FRAME.format(turn=0).replace('of = "shape"\n', "").replace('"rings"', '"channel"\nangle = 60')
    quilt = drawn(
        TOP + ground + shape.replace("[zone.fill]", 'framed = "once"\n[zone.fill]' if framed else "[zone.fill]")
    )
    beside = set()
    for line in quilt.lines:
        points = line.path
        flat = np.abs(points[1:, 1] - points[:-1, 1]) < 1e-6
        long = np.abs(points[1:, 0] - points[:-1, 0]) > 0.25 * IN
        at = points[:-1, 1] / IN - 13  # the upper side of the square
        beside |= set(np.round(at[flat & long & (np.abs(at) < 0.125)], 3).tolist())
    assert beside == ({0.031} if framed else {0.031, -0.031})
