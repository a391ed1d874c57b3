"""One design, many blocks: which spaces are alike, and what is laid into them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import LineString, MultiPoint, Polygon
from shapely.affinity import rotate, scale, translate

import plumeline
from crooked_blocks import crooked_blocks, crossing_pieces
from plumeline.errors import PlanError
from plumeline.fills import fill_names, find_fill
from plumeline.fills.kit.stack import Layer, fill_zone
from plumeline.geometry import densify, mean_values, stretches
from plumeline.pipeline.alike import CHORD_MM, designs_of, lays
from plumeline.pipeline.lookup import ZoneSources
from plumeline.review import zone_figures
from plumeline.specs import AlikeSpec
from plumeline.zones import alike_sets, rows_and_columns

SQUARE = Polygon([(0, 0), (300, 0), (300, 300), (0, 300)])
UPRIGHT = AlikeSpec()

KITE = Polygon([(0, 0), (240, 0), (300, 160), (0, 300)])
"""Like itself in one way only: neither turned nor mirrored."""


def of(kind, zone, **said):
    fill = find_fill(kind)
    given = {"art": "leaf", **said} if kind == "motif" else said
    return (Layer(fill, fill.settings.model_validate(given).resolved(ZoneSources(zone))),)


def laid_in_all(zones, layers, spec=UPRIGHT):
    (design,) = designs_of(zones, [layers] * len(zones), {"block": spec}, "in")
    model = zones[design.model]
    drawn = fill_zone(model, layers)
    figures = zone_figures(model, drawn, None)
    out = {design.model: (drawn, figures)}
    out.update({k: (filled, told) for k, filled, told in lays(design, zones, (drawn, figures))})
    return design, drawn, out


@st.composite
def stars(draw):
    """Outlines that see all of themselves from their middle, most of them not convex, and points inside."""
    n = draw(st.integers(3, 12))
    radii = np.array(draw(st.lists(st.floats(20.0, 100.0), min_size=n, max_size=n)))
    angle = 2 * np.pi * np.arange(n) / n
    ring = radii[:, None] * np.column_stack([np.cos(angle), np.sin(angle)])
    shares = draw(st.lists(st.tuples(st.floats(0.0, 1.0), st.floats(0.0, 1.0), st.integers(0, n - 1)), min_size=1))
    points = [v * ((1 - u) * ring[k] + u * ring[(k + 1) % n]) for u, v, k in shares]
    return ring, np.array(points)


@given(stars(), st.lists(st.floats(-3.0, 3.0), min_size=6, max_size=6))
def test_what_is_given_as_a_linear_function_comes_out_as_it(star, linear):
    ring, points = star
    matrix, shift = np.array(linear[:4]).reshape(2, 2), np.array(linear[4:])
    weights = mean_values(ring, points)
    np.testing.assert_allclose(weights.sum(axis=1), 1.0, atol=1e-9)
    np.testing.assert_allclose(weights @ (ring @ matrix + shift), points @ matrix + shift, atol=1e-6)


def test_weights_in_the_middle_of_a_regular_outline_are_all_one_and_at_the_edge_those_of_its_ends():
    for n in (3, 4, 7, 12):
        angle = 2 * np.pi * np.arange(n) / n
        ring = 50 * np.column_stack([np.cos(angle), np.sin(angle)])
        np.testing.assert_allclose(mean_values(ring, [(0.0, 0.0)]), np.full((1, n), 1 / n), atol=1e-12)
        on_side = 0.25 * ring[0] + 0.75 * ring[1]
        np.testing.assert_allclose(
            mean_values(ring, [on_side, ring[2]])[:, :3], [[0.25, 0.75, 0], [0, 0, 1]], atol=1e-7
        )
    assert mean_values(ring, np.zeros((0, 2))).shape == (0, 12)


def test_stretch_is_that_of_the_matrix_by_its_singular_values():
    ring, inside = np.asarray(SQUARE.exterior.coords)[:-1], np.array([(20.0, 40.0), (150.0, 150.0)])
    matrices = np.random.default_rng(1).normal(size=(5, 2, 2))
    least, most = stretches(ring, ring @ matrices.transpose(0, 2, 1), inside)
    for k, matrix in enumerate(matrices):
        values = np.linalg.svd(matrix, compute_uv=False)  # another library's answer
        np.testing.assert_allclose(most[k], values[0], rtol=1e-5)
        np.testing.assert_allclose(least[k], values[1] * np.sign(np.linalg.det(matrix)), rtol=1e-4)


@pytest.mark.parametrize("turn", [0, 90, 137.5])
@pytest.mark.parametrize("mirrored", [False, True])
def test_a_copy_turned_and_mirrored_is_found_with_its_turn_and_is_exact(turn, mirrored):
    other = scale(KITE, -1, 1) if mirrored else KITE
    other = translate(rotate(other, -turn), 900, -40)  # shapely turns clockwise where y is down
    (found,) = alike_sets([KITE, other], AlikeSpec())
    lie = next(x for x in found.lies if x.space != found.model)
    sign = 1 if found.model == 0 or mirrored else -1
    assert lie.exact and lie.mirrored is mirrored
    assert (lie.turn_deg - sign * turn + 180) % 360 - 180 == pytest.approx(0, abs=1e-6)
    model, goal = ([KITE, other][k] for k in (found.model, lie.space))
    moved = Polygon(np.asarray(model.exterior.coords) @ lie.matrix.T + lie.shift)
    assert moved.symmetric_difference(goal).area < 1e-6


def test_sizes_and_shapes_apart_are_not_alike():
    wide = Polygon([(0, 0), (300, 0), (300, 200), (0, 200)])
    small = scale(SQUARE, 0.75, 0.75)
    triangle = Polygon([(0, 0), (300, 0), (0, 300)])
    assert alike_sets([SQUARE, wide, triangle], AlikeSpec()) == []
    assert alike_sets([SQUARE, small], AlikeSpec()) == []
    (found,) = alike_sets([SQUARE, small], AlikeSpec(any_size=True))
    assert sorted(round(lie.scale, 9) for lie in found.lies) in ([0.75, 1.0], [1.0, round(4 / 3, 9)])
    assert all(lie.exact for lie in found.lies)


def test_the_space_that_most_others_equal_is_the_model_and_the_tolerance_parts():
    bent = Polygon([(0, 0), (300, 4), (296, 300), (3, 297)])
    places = [translate(shape, 400 * k, 0) for k, shape in enumerate((bent, SQUARE, SQUARE, SQUARE))]
    (found,) = alike_sets(places, AlikeSpec())
    assert found.model in (1, 2, 3)
    assert [lie.exact for lie in sorted(found.lies, key=lambda lie: lie.space)] == [False, True, True, True]
    (found,) = alike_sets(places, AlikeSpec(within_mm=2.0))
    assert [lie.space for lie in found.lies] == [1, 2, 3]
    assert alike_sets([], AlikeSpec()) == []


def test_rows_and_columns_are_those_of_crooked_blocks():
    zones = crooked_blocks(25)
    assert rows_and_columns([z.outline for z in zones]) == [(k // 10, k % 10) for k in range(25)]
    assert rows_and_columns([]) == []


def test_a_design_is_turned_and_mirrored_by_row_and_column():
    zones = [
        replace(z, region=translate(SQUARE, 310 * (k % 3), 310 * (k // 3))) for k, z in enumerate(crooked_blocks(6))
    ]
    zones = [replace(z, outline=z.region.buffer(3, join_style="mitre")) for z in zones]
    spec = AlikeSpec(turn_deg=((0.0,), (90.0,)), mirror=((False, True),))
    layers = of("motif", zones[0])
    _, _, laid = laid_in_all(zones, layers, spec)
    upright = np.vstack([s.path for s in laid[0][0].strokes]) - (150, 150)
    for k, zone in enumerate(zones):
        row, column = divmod(k, 3)
        want = upright * (-1 if column % 2 else 1, 1)
        if row % 2:  # a quarter turn counter-clockwise as seen: what was right is up
            want = np.column_stack([want[:, 1], -want[:, 0]])
        got = np.vstack([s.path for s in laid[k][0].strokes]) - (zone.region.centroid.x, zone.region.centroid.y)
        np.testing.assert_allclose(got, want, atol=1e-9)


@pytest.mark.parametrize("kind", fill_names())
def test_every_fill_lies_inside_crooked_blocks_without_new_crossings_all_plumes_in_order(kind):
    zones = crooked_blocks(4)
    layers = of(kind, zones[0])
    design, drawn, laid = laid_in_all(zones, layers)
    before = [densify(s.path, CHORD_MM, closed=s.closed) for s in drawn.strokes]
    meet = crossing_pieces(before)
    bound = "outline" if find_fill(kind).within == "outline" else "region"
    assert len(laid) == 4 and drawn.strokes
    for k, zone in enumerate(zones):
        filled = laid[k][0]
        assert [(s.chain, s.role, s.closed, s.atomic) for s in filled.strokes] == [
            (s.chain, s.role, s.closed, s.atomic) for s in drawn.strokes
        ]
        if k == design.model:
            continue
        paths = [s.path for s in filled.strokes]
        assert [len(p) for p in paths] == [len(p) for p in before]
        grown = getattr(zone, bound).buffer(0.05)
        assert all(grown.covers(LineString(p)) for p in paths)
        assert crossing_pieces(paths, deeper_mm=0.05) <= meet
        ends = MultiPoint(np.vstack(paths))  # it fills the block as it is, to the same share of it
        share = ends.convex_hull.area / zone.region.area
        assert share == pytest.approx(
            MultiPoint(np.vstack(before)).convex_hull.area / zones[design.model].region.area, abs=0.02
        )


def test_bent_sides_are_followed_and_lines_on_the_edge_stay_on_it():
    t = np.linspace(0, 1, 40)[:, None]
    bows = {((0, 0), (300, 0)): 7.0, ((300, 0), (300, 300)): 0.0, ((300, 300), (0, 300)): -5.0, ((0, 300), (0, 0)): 0.0}
    sides = [a + t * np.subtract(b, a) + bow * np.sin(np.pi * t) * (0, 1) for (a, b), bow in bows.items()]
    bowed = Polygon(np.vstack([side[:-1] for side in sides]))
    flat, other = crooked_blocks(2)
    zones = [replace(flat, region=SQUARE), replace(other, region=translate(bowed, 400, 0))]
    layers = of("outline", zones[0], distance=0.0, rows=1)
    design, _, laid = laid_in_all(zones, layers)
    there = laid[1 - design.model][0]
    assert all(zones[1 - design.model].region.boundary.distance(LineString(s.path)) < 0.05 for s in there.strokes)
    grown = zones[1 - design.model].region.buffer(0.05)
    assert all(grown.covers(LineString(np.vstack([s.path, s.path[:1]]))) for s in there.strokes)


PLAN = """
title = "Alike"
units = "in"
[top.blocks]
setting = "straight"
size = 6
rows = [["plain", "plain"], ["plain", "plain"]]
{more}
[[zone]]
name = "all"
patches = ["plain-*"]
each = "patch"
{keys}
[zone.fill]
kind = "spiral"
"""


def plan_of(folder, keys, more=""):
    path = folder / "alike.toml"
    path.write_text(PLAN.format(keys=keys, more=more))
    return plumeline.read_plan(path)


def test_a_plan_says_alike_and_the_report_says_what_was_done(tmp_path):
    more = '[[measured]]\npatch = "plain-2-2"\nsides = ["6 1/4", 6, 6, 6]\n'
    quilt = plumeline.stitch(plan_of(tmp_path, "alike = true\nmirror = [false, true]", more))
    codes = {f.code: f.text for f in quilt.report.findings}
    assert "one design lies in 4 spaces" in codes["one-design"] and "2 mirrored" in codes["one-design"]
    assert len({len(f.strokes) for f in quilt.filled}) == 1
    assert all(row.outside_mm == 0 for row in quilt.report.zones)
    again = plumeline.stitch(plan_of(tmp_path, "alike = true\nmirror = [false, true]", more))
    for a, b in zip(quilt.points, again.points):
        np.testing.assert_array_equal(a.xy, b.xy)


def test_sizes_are_told_in_percent_as_the_copier_is_set(tmp_path):
    text = PLAN.format(keys='alike = "any-size"', more="[top.blocks.pieces]\nfour = { grid = [2, 2] }")
    text = text.replace('[["plain", "plain"], ["plain", "plain"]]', '[["plain", "four"]]')
    (tmp_path / "alike.toml").write_text(text.replace('["plain-*"]', '["plain-*", "four-*"]'))
    plan = plumeline.read_plan(tmp_path / "alike.toml")
    said = [f.text for f in plumeline.stitch(plan).report.findings if f.code == "one-design"]
    # four patches of 3 in and one of 6 in, all less 1/8 in round about: 2.75 / 5.75 = 47.8 %
    assert said == ["one design lies in 5 spaces: 5 exactly alike, 4 at 48 %"]


@pytest.mark.parametrize(
    ("keys", "said"),
    [
        ("turn = [0, 90]", "turn without alike"),
        ('alike_within = "1/4"', "alike_within without alike"),
        ("alike = true\nvary = true", "vary and alike"),
        ("alike = true\nmirror = []", "mirror"),
        ("alike = true\nturn = [400]", "turn"),
        ('alike = "all"', "alike"),
        ('alike = true\ndivide = [{ by = "on-point" }]\nmirror = [true]', "divide and turn or mirror"),
    ],
)
def test_what_can_not_be_is_refused_by_name(tmp_path, keys, said):
    with pytest.raises(PlanError, match=said):
        plan_of(tmp_path, keys)


@pytest.mark.parametrize("halves", [("left-right",), ("top-bottom",), ("left-right", "top-bottom")])
def test_halves_of_a_top_are_images_of_each_other_however_the_design_is_turned(halves):
    zones = [
        replace(z, region=translate(SQUARE, 310 * (k % 4), 310 * (k // 4))) for k, z in enumerate(crooked_blocks(8))
    ]
    zones = [replace(z, outline=z.region.buffer(3, join_style="mitre")) for z in zones]
    spec = AlikeSpec(turn_deg=((0.0, 90.0), (270.0, 180.0)), mirror=((False, True),), halves=halves)
    _, _, laid = laid_in_all(zones, of("motif", zones[0]), spec)
    drawn = np.array([np.vstack([s.path for s in laid[k][0].strokes]) for k in range(8)])
    middle = (3 * 310 + 300) / 2, (310 + 300) / 2
    off = drawn - middle
    assert not np.allclose(off[0], off[3] * (-1, 1)) or "left-right" in halves
    for k in range(8):
        row, column = divmod(k, 4)
        if "left-right" in halves:
            np.testing.assert_allclose(off[4 * row + 3 - column], off[k] * (-1, 1), atol=1e-9)
        if "top-bottom" in halves:
            np.testing.assert_allclose(off[4 * (1 - row) + column], off[k] * (1, -1), atol=1e-9)


def test_a_space_on_the_middle_has_the_design_as_it_is():
    spec = AlikeSpec(turn_deg=((90.0,),), halves=("left-right", "top-bottom"))
    assert [spec.at(0, column, 1, 3) for column in range(3)] == [(90.0, False), (90.0, False), (-90.0, True)]
    assert spec.at(2, 0, 3, 1) == (90.0, True)


def test_a_plan_mirrors_quarters(tmp_path):
    quilt = plumeline.stitch(plan_of(tmp_path, 'alike = true\nmirror = "quarters"'))
    (said,) = [f.text for f in quilt.report.findings if f.code == "one-design"]
    assert "4 spaces" in said and "2 mirrored" in said and "1 turned" in said.replace("2 turned", "1 turned")
