"""What fills leave bare is measured and said; the faults that left spaces open in silence."""

from __future__ import annotations

import math
import re
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from plumeline import geometry as g
from plumeline.fills import fill_names, find_fill
from plumeline.fills.echo import EchoSettings
from plumeline.fills.kit.bald import FAR, bare_of
from plumeline.fills.kit.motifs import motif_at, read_recipe
from plumeline.fills.kit.registry import Fill
from plumeline.fills.kit.settings import SpacedSettings
from plumeline.fills.kit.stack import Layer, fill_zone
from plumeline.fills.meander.narrow import calm_wave
from plumeline.model import Filled, Frame, Stroke, as_path
from plumeline.pipeline.lookup import ZoneSources, motif_folder
from plumeline.pipeline.single import fill, try_fill
from plumeline.units import parse_length
from shapes import IN, coast, moved, polygon, random_regions, rectangle, zone


def layer(z, name, **said):
    fill = find_fill(name)
    return Layer(fill, fill.settings.model_validate(said, context={"units": "in"}).resolved(ZoneSources(z)))


def bare_by_engine(filled, region, within, count=8000):
    """Area farther than a distance from every stroke: exact distances by the geometry engine at scattered points."""
    left, top, right, bottom = region.bounds
    points = np.random.default_rng(3).uniform((left, top), (right, bottom), (count, 2))
    points = shapely.points(points[shapely.contains_xy(region, *points.T)])
    lines = shapely.MultiLineString([g.close_ring(s.path, s.closed) for s in filled.strokes])
    shapely.prepare(lines)
    return region.area * float((~shapely.dwithin(lines, points, within)).mean())


@given(st.floats(2, 60), st.floats(0.5, 20), st.floats(0, math.tau))
@settings(deadline=None, max_examples=40)
def test_bare_part_of_a_strip_beside_a_line_is_a_rectangle(width, within, turn):
    # closed form: beside a line through the middle of a rectangle, (width - 2 within) * length is farther
    c, s = math.cos(turn), math.sin(turn)
    region = g.transform(g.as_region([(-100, -width / 2), (100, -width / 2), (100, width / 2), (-100, width / 2)]),
                         [[c, -s], [s, c]])  # fmt: skip
    line = np.array([(-100.0, 0.0), (100.0, 0.0)]) @ np.array([[c, s], [-s, c]])
    found = g.bare_part([line], region, within)
    area = 200 * max(width - 2 * within, 0)
    if area == 0:
        assert found is None or found.area_mm2 < 1e-6
        return
    edge = 2 * 200 * (within / 8 + 0.02 * within) + 1  # points lie a ninth of the distance apart
    assert (found.area_mm2 if found else 0.0) == pytest.approx(area, abs=edge + 0.02 * area)
    if found:
        assert within < found.far_mm <= 1.02 * width / 2
        far = shapely.LineString(line).distance(shapely.Point(found.centre))
        assert found.far_mm == pytest.approx(far, rel=0.02)


def test_without_a_line_all_is_bare():
    found = g.bare_part([], rectangle(2, 3), 5.0)
    assert found.area_mm2 == pytest.approx(6 * IN**2)
    assert math.isinf(found.far_mm)


@pytest.mark.parametrize("k", range(6))
def test_bare_part_agrees_with_the_engine(k):
    region = list(random_regions(6, seed=5))[k]
    z = zone(region)
    filled = find_fill("rays")(z, layer(z, "rays", middles=1).settings, rng=np.random.default_rng(1))
    for within in (4.0, 9.0, 15.0):
        found = g.bare_part([s.path for s in filled.strokes], region, within)
        area = bare_by_engine(filled, region, within, 60_000)
        assert (found.area_mm2 if found else 0.0) == pytest.approx(area, abs=0.05 * area + within**2 / 3)


def one_row(zone_, _settings, *, rng, tolerance_mm=0.05):
    left, top, right, _ = zone_.region.bounds
    return Filled((Stroke(as_path([(left, top + 5.0), (right, top + 5.0)])),))


class Half(SpacedSettings):
    spacing_mm: float = 12.7


def test_one_row_instead_of_all_is_said_with_its_place():
    z = zone(rectangle(12, 12))
    filled = fill_zone(z, [Layer(Fill("row", Half, one_row, "ruler", "one row"), Half())])
    (said,) = filled.findings
    assert (said.code, said.severity) == ("bald-spot", "warning")
    assert filled.bare_mm2 == pytest.approx(12 * IN * (12 * IN - 5.0 - 1.5 * 12.7), rel=0.02)
    assert "11 13/16 in from the nearest line" in said.text or "11 3/4 in from the nearest line" in said.text
    assert "from the left and" in said.text


def test_report_rows_tell_what_is_bare():
    block = rectangle(14, 14)
    quilt = try_fill("echo", block, {"count": 1, "of": "edge"})
    (row,) = quilt.report["zones"]
    area = bare_by_engine(quilt.filled[0], block, 1.5 * 2 * IN)  # nobody promised the middle: 2 in
    assert row["bare_mm2"] == pytest.approx(area, rel=0.05)
    assert area > IN**2
    assert "bald-spot" in {f["code"] for f in quilt.report["findings"]}


def test_an_outline_or_a_ditch_is_not_called_bald():
    for name in ("outline", "ditch", "continuous-curve"):
        z = zone(rectangle(14, 14))
        filled = fill_zone(z, [layer(z, name)])
        assert filled.bare_mm2 > IN**2
        assert not [f for f in filled.findings if f.code == "bald-spot"]


# --- stacks ---------------------------------------------------------------------------------------------------------

TRIANGLES = {
    "setting 12": polygon([(0, 0), (12 * math.sqrt(2), 0), (6 * math.sqrt(2), 6 * math.sqrt(2))]),
    "setting 14": polygon([(0, 0), (14 * math.sqrt(2), 0), (7 * math.sqrt(2), 7 * math.sqrt(2))]),
    "corner 12": polygon([(0, 0), (12, 0), (0, 12)]),
}


@pytest.mark.parametrize("name", sorted(TRIANGLES))
@pytest.mark.parametrize("art", ["leaf", "clover-triangle"])
@pytest.mark.parametrize("chance", [7, 8])
def test_no_background_of_a_stack_is_left_out(name, art, chance):
    region = g.as_region(g.erode(TRIANGLES[name], 3.175)[0])
    z = replace(zone(region), outline=TRIANGLES[name], chance=chance)
    layers = [layer(z, "motif", art=art, fit=90), layer(z, "echo", count=1), layer(z, "meander", spacing="1/4")]
    filled = fill_zone(z, layers)
    said = [f for f in filled.findings if f.code == "bald-spot"]
    behind = g.subtract(region, filled.taken)
    bare = sum(bare_by_engine(filled, part, 1.5 * 6.35) for part in behind)
    assert bare < IN**2
    assert not said or filled.bare_mm2 > 0


def test_pockets_that_hang_together_by_a_hair_are_filled_each():
    # two squares joined by a slit 0.01 mm wide, as a motif that touches the edge leaves them
    whole = rectangle(13, 6)
    wall = g.as_region([(6 * IN, 0.01), (7 * IN, 0.01), (7 * IN, 6 * IN), (6 * IN, 6 * IN)])

    def draw(z, settings, *, rng, tolerance_mm=0.05):
        (local,) = g.region_to_local(wall, z.frame)
        return Filled((Stroke(g.rings(local)[0], closed=True),), (local,))

    shape = Layer(Fill("wall", find_fill("ditch").settings, draw, "motif", "a wall"), find_fill("ditch").settings())
    z = zone(whole)
    filled = fill_zone(z, [shape, layer(z, "meander", spacing="1/2")])
    for x in (0, 7):
        half = g.as_region(shapely.affinity.translate(rectangle(6, 6), x * IN, 0))
        assert bare_by_engine(filled, half, 1.5 * 12.7) < 100  # a corner; a pocket left out would be 23,000 sq mm


# --- motifs in turned blocks ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("angle", [0.0, 30.0, 45.0, 80.0])
@pytest.mark.parametrize("fit", [70, 90, 100])
def test_a_motif_keeps_its_percent_in_a_turned_block(angle, fit):
    def size(z):
        filled = find_fill("motif")(z, layer(z, "motif", fit=fit).settings, rng=np.random.default_rng(1))
        return shapely.MultiLineString([s.path for s in filled.strokes]).minimum_rotated_rectangle.length / 4

    upright = zone(rectangle(10, 10))
    turned = replace(moved(upright, np.array([3.0, 8.0]), angle), frame=Frame())  # zones are made without an angle
    assert size(turned) == pytest.approx(size(upright), rel=0.02)
    assert size(upright) / size(zone(rectangle(20, 20))) == pytest.approx(0.5, rel=0.02)


def test_a_motif_is_as_large_turned_as_upright():
    motif = motif_at(read_recipe(motif_folder() / "leaf.toml"))
    a = math.radians(30)
    turned = motif.moved(np.array([[math.cos(a), -math.sin(a)], [math.sin(a), math.cos(a)]]), np.zeros(2))
    assert turned.size_mm == pytest.approx(motif.size_mm)


# --- echoes ---------------------------------------------------------------------------------------------------------


def test_echo_skips_no_stretch_of_a_ring():
    # a slant over the mouth of an arm left the arm's ring out; true length: the offset rings themselves
    region = list(random_regions(7, seed=5, holes=False))[6]
    spacing = 9.5
    filled = find_fill("echo")(zone(region), EchoSettings(spacing_mm=spacing, of="edge"), rng=np.random.default_rng(1))
    rings = [
        ring
        for k in range(1, 20)
        for level in g.levels_of(region, [k * spacing], room_mm=spacing)
        for part in level
        for ring in g.rings(part)
    ]
    drawn = sum(g.path_length(s.path, closed=s.closed) for s in filled.strokes)
    assert drawn / sum(g.path_length(r, closed=True) for r in rings) > 0.995


# --- coasts and strips ----------------------------------------------------------------------------------------------

COASTS = [(1000, 29, 20.0, 3.6), (2000, 3, 20.0, 3.6), (8000, 2, 12.0, 10.0)]
QUICK = ("channel", "crosshatch", "meander", "outline", "rays")
"""Fills that are drawn in coasts of more than 1,000 points here; ``benchmarks/coasts.py`` draws all in many more."""


@pytest.mark.parametrize(("points", "seed", "width", "height"), COASTS)
@pytest.mark.parametrize("name", [n for n in fill_names() if n not in ("ditch", "feather", "continuous-curve")])
def test_nothing_lies_outside_a_coast(name, points, seed, width, height):
    if points > 1000 and name not in QUICK:
        pytest.skip("benchmarks/coasts.py draws these")
    z = zone(coast(points, seed=seed, width=width, height=height))
    said = {"spacing": "1/4"} if name == "meander" else {}
    filled = fill_zone(z, [layer(z, name, **said)])
    assert filled.strokes or filled.findings
    for stroke in filled.strokes:
        assert g.outside_mm([stroke.path], z.region, tolerance_mm=0.05, closed=stroke.closed) == 0.0
        if name == "meander":
            assert g.is_simple(stroke.path, closed=stroke.closed)


SIZED = {
    "meander": ("spacing", 0.375),
    "spiral": ("spacing", 0.5),
    "channel": ("spacing", 0.5),
    "rings": ("spacing", 0.25),
    "echo": ("spacing", 0.25),
    "crosshatch": ("spacing", 0.75),
    "rays": ("spacing", 0.5),
    "pebble": ("size", 1),
    "curl": ("size", 1.5),
}


@pytest.mark.parametrize("name", sorted(SIZED))
@pytest.mark.parametrize("spacings", [0.5, 1.0, 1.5, 2.0, 3.0])
def test_a_narrow_strip_is_whole_both_ways_round_or_says_what_it_left(name, spacings):
    key, size = SIZED[name]
    length = []
    for strip in (rectangle(20 * size, spacings * size), rectangle(spacings * size, 20 * size)):
        z = zone(strip)
        filled = fill_zone(z, [layer(z, name, **{key: size})])
        length.append(sum(g.path_length(s.path, closed=s.closed) for s in filled.strokes))
        promise = size * IN / 2 if name == "pebble" else 6.35 if name == "curl" else size * IN
        bare = bare_by_engine(filled, strip, 1.5 * promise) if filled.strokes else strip.area
        least = min(IN**2, promise**2)
        assert bare < 1.2 * least + 0.02 * strip.area or filled.findings
    if name in ("meander", "pebble"):
        assert length[0] == pytest.approx(length[1], rel=0.12)  # the same look both ways round
        assert length[0] > 0


def test_pebbles_go_on_in_single_file():
    for strip in (rectangle(30, 1), rectangle(1, 30), rectangle(30, 0.5)):
        z = zone(strip)
        (stroke,) = fill_zone(z, [layer(z, "pebble", size=1)]).strokes
        assert shapely.LineString(stroke.path).minimum_rotated_rectangle.length > 2 * 29 * IN


@pytest.mark.parametrize("width", [0.5, 0.75, 1.0, 1.25, 1.5])
def test_a_meander_in_a_border_is_one_wave_with_all_corners_alike(width):
    outer = rectangle(9, 9)
    hole = shapely.affinity.translate(rectangle(9 - 2 * width, 9 - 2 * width), width * IN, width * IN)
    border = g.as_region(outer.difference(hole))
    wave = calm_wave(border, 0.5 * IN)
    assert wave is not None
    assert wave.closed
    assert g.is_simple(wave.path, closed=True)
    assert g.outside_mm([wave.path], border, closed=True) == 0
    middle = np.array([4.5 * IN, 4.5 * IN])
    line = shapely.LinearRing(wave.path)
    for turned in (
        wave.path[:, ::-1],
        2 * middle - wave.path,
        np.column_stack([9 * IN - wave.path[:, 0], wave.path[:, 1]]),
    ):
        assert shapely.hausdorff_distance(shapely.LinearRing(turned), line) < 0.05 * IN
    radius = 0.5 / np.maximum(np.abs(g.turns(g.resample(wave.path, 0.5, closed=True), closed=True)), 1e-9)
    assert np.percentile(radius, 1) > 0.12 * 0.5 * IN


@pytest.mark.parametrize("shift", [(0.0, 0.0), (-300.0, 40.0), (1000.0, -250.0)])
def test_the_place_of_a_bald_spot_is_told_from_the_edges_of_its_space(shift):
    # a slim triangle 12 in long, its point at the right: no echo comes near it
    slim = np.array([(0.0, 0.0), (304.8, 40.0), (0.0, 80.0)]) + shift
    (said,) = [f for f in fill("echo", slim).findings if f.code == "bald-spot"]
    right, down = re.search(r"line, (.+?) from the left and (.+?) from the top of the space$", said.text).groups()
    assert parse_length(right, "in") == pytest.approx(304.8, abs=1.0)
    assert parse_length(down, "in") == pytest.approx(40.0, abs=1.0)


@pytest.mark.parametrize("apart,told", [(9.8, True), (9.2, False)])
def test_many_slim_spots_are_told_where_they_are_much_of_the_space_together(apart, told):
    # closed form: between lines d apart whose fill may leave 1.5 x 3 = 4.5 mm, d - 9 of each d is bare: 8.2 and 2.2 %;
    # every spot is bare by under the millimetre that is forgiven
    promise, size = 3.0, 30 * apart
    region = g.as_region([(0, 0), (size, 0), (size, size), (0, size)])
    rows = np.arange(apart / 2, size, apart)
    strokes = [Stroke(as_path([(0, y), (size, y)])) for y in rows]
    settings_ = EchoSettings.model_validate({"spacing_mm": (promise,)})
    area, barest, found = bare_of(zone(region), [(region, "echo", settings_)], strokes)
    assert area / region.area == pytest.approx(
        (apart - 9) / apart, abs=0.02
    )  # counted on points half a millimetre apart
    assert bool(found) is told and (barest is not None) is told
    if told:
        assert barest.times < 1 + 1.0 / (FAR * promise)
