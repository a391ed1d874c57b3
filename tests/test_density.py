"""Densities are met as they are seen, by every fill that takes one."""

import numpy as np
import pytest
import shapely
from shapely import LineString

from plumeline.errors import FillError, PlanError
from plumeline.fills import fill_names, find_fill
from plumeline.fills.kit.settings import SpacedSettings, read_density
from plumeline.geometry import seen_length
from plumeline.plan import parse_plan
from plumeline.quilt import draw

IN = 25.4
TAKES = [name for name in fill_names() if issubclass(find_fill(name).settings, SpacedSettings)]
BLOCK = """
[top.measured]
sides = [8, 8, 8, 8]
diagonals = [11.313708498984761, 11.313708498984761]
{quilt}
[[zone]]
name = "block"
patches = ["block"]
inset = 0
[zone.fill]
kind = "{kind}"
{more}
"""
WANTED = {"feather": 1.2, "pebble": 2.5, "motif": 1.2}


def eye(quilt):
    """Inches of line per square inch as an eye counts them on a picture, by no sum of lengths."""
    # how often random straight lines meet the ink: Cauchy and Crofton give length / area = pi / 2 x meetings / length
    lines = [LineString([*s.path, s.path[0]] if s.closed else s.path) for f in quilt.filled for s in f.strokes]
    rng = np.random.default_rng(5)
    count, side = 2000, 8 * IN
    angle, offset = rng.uniform(0, np.pi, count), rng.uniform(-1, 1, count) * side * 0.71
    along, across = np.column_stack([np.cos(angle), np.sin(angle)]), np.column_stack([-np.sin(angle), np.cos(angle)])
    middle = side / 2 + across * offset[:, None]
    probes = shapely.linestrings(np.stack([middle - along * side, middle + along * side], axis=1))
    ink = shapely.union_all(lines, grid_size=0.05)
    inside = shapely.length(shapely.intersection(probes, shapely.box(0, 0, side, side))).sum()
    shapely.prepare(ink)
    hits = sum(len(shapely.get_parts(x)) for x in shapely.intersection(probes, ink) if not x.is_empty)
    return np.pi / 2 * hits / inside * IN


@pytest.mark.parametrize("kind", TAKES)
def test_every_fill_that_takes_a_density_meets_it_by_eye_to_5_percent(kind):
    wanted = WANTED.get(kind, 2.0)
    quilt = draw(parse_plan(BLOCK.format(quilt="", kind=kind, more=f"density = {wanted}")))
    assert eye(quilt) == pytest.approx(wanted, rel=0.05)


def test_a_stretch_sewn_twice_is_seen_once():
    there = np.array([(0.0, 0.0), (100.0, 0.0)])
    back = np.array([(100.0, 0.0), (40.0, 0.0), (40.0, 30.0)])
    assert seen_length([there, back], within_mm=0.05) == pytest.approx(130.0)
    assert seen_length([], within_mm=0.05) == 0.0


@pytest.mark.parametrize(("said", "inches"), [("scant", 1.0), ("even", 2.0), ("close", 4.0)])
def test_words_for_densities(said, inches):
    # channels a distance s apart come to 1 / s
    quilt = draw(parse_plan(BLOCK.format(quilt="", kind="channel", more=f'density = "{said}"')))
    (filled,) = quilt.filled
    assert len(filled.strokes) == 8 * inches


def test_the_quilt_has_a_density_of_which_zones_say_their_share():
    quilt = '[quilt]\ndensity = "even"'

    def lines(more):
        return len(draw(parse_plan(BLOCK.format(quilt=quilt, kind="channel", more=more))).filled[0].strokes)

    assert lines("") == 16
    assert lines('density = "50 %"') == 8
    assert lines("density = 1") == 8
    assert lines("spacing = 2") == 4
    with pytest.raises(FillError, match=r"\[quilt\]"):
        draw(parse_plan(BLOCK.format(quilt="", kind="channel", more='density = "50 %"')))


@pytest.mark.parametrize("said", ['"thick"', "0", "100", "true", '"0 %"', '"like "'])
def test_no_other_density_is_taken(said):
    with pytest.raises(PlanError, match=r"density: .*like NAME"):
        draw(parse_plan(BLOCK.format(quilt="", kind="meander", more=f"density = {said}")))


def test_a_motif_with_others_behind_it_is_as_tight_as_asked_over_what_it_covers():
    text = BLOCK.format(quilt="", kind="motif", more="density = 2\n[[zone.fill]]\nkind = 'meander'\nspacing = 0.2")
    (filled,) = draw(parse_plan(text.replace("\n[zone.fill]", "\n[[zone.fill]]"))).filled
    lines = [LineString([*s.path, s.path[0]] if s.closed else s.path) for s in filled.strokes if s.fill == "motif"]
    covered = sum(part.area for part in filled.taken)
    assert shapely.union_all(lines, grid_size=0.05).length / covered * IN == pytest.approx(2.0, rel=0.05)


def test_a_finer_motif_has_more_parts_and_keeps_about_its_size():
    sizes = []
    for density in (0.8, 1.6):
        (filled,) = draw(parse_plan(BLOCK.format(quilt="", kind="motif", more=f"density = {density}"))).filled
        sizes.append(np.ptp(np.vstack([s.path for s in filled.strokes]), axis=0).max() / (8 * IN))
    assert 0.6 <= min(sizes) <= max(sizes) <= 1.0
    assert max(sizes) / min(sizes) < 1.5  # twice the line by size alone would be 2


def test_the_quilts_density_leaves_a_motif_as_it_is():
    def line(quilt):
        return draw(parse_plan(BLOCK.format(quilt=quilt, kind="motif", more=""))).filled[0].strokes[0].path

    np.testing.assert_array_equal(line(""), line("[quilt]\ndensity = 4"))


@pytest.mark.parametrize(("said", "number"), [("3/4", 0.75), ("1 1/2", 1.5), (" 2.5 ", 2.5)])
def test_a_density_is_read_as_a_tape_is(said, number):
    assert read_density(said) == number


@pytest.mark.parametrize("said", ["3/0", "3/4 in", "nan", "1/100", "three", "1e999"])
def test_what_is_no_density_is_refused(said):
    with pytest.raises(ValueError, match="inches of line per square inch"):
        read_density(said)
