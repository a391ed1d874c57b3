"""What few tops hold: outlines that cross, copies in heaps, odd names, spines from odd corners, slanted photos."""

from __future__ import annotations

import numpy as np
import pytest
from shapely import Polygon, box

from photos import Shot, corners_and_middles
from plumeline.drawing import Shape
from plumeline.errors import InputError, TopError
from plumeline.geometry import disc
from plumeline.model import Patch, Top, as_path
from plumeline.specs import GuideSpec, SpineSpec
from plumeline.top import assemble, from_blocks, from_drawing, straight_table
from plumeline.top.as_measured import Measured, as_measured
from plumeline.top.blocks import BlockTable, Border, Pieces
from plumeline.top.film import film_lines
from plumeline.top.from_photo import film_guides
from plumeline.top.made_guides import BlockPlace, made_guides
from plumeline.top.naming import numbered
from plumeline.top.painting import _region as region_of
from plumeline.top.photo import square_up
from plumeline.top.photo_points import MeasuredPoints
from plumeline.top.seam_net import Stretch, rings_of
from plumeline.top.seams_seen import PhotoColours, see_seam
from plumeline.top.shading import shades_of
from plumeline.top.sharpened import _corners_seen as corners_seen
from plumeline.top.size import size_of_table

IN = 25.4
HEAD = '<svg xmlns="http://www.w3.org/2000/svg" width="10in" height="10in" viewBox="0 0 10 10">'


@pytest.fixture
def drawn(tmp_path):
    def read(body, **said):
        path = tmp_path / "top.svg"
        path.write_text(f"{HEAD}{body}</svg>", encoding="utf-8")
        return from_drawing(path, **said)

    return read


def areas(top):
    """Square inches by name."""
    return {patch.name: round(patch.outline.area / IN**2, 2) for patch in top.patches}


def codes(top):
    return {finding.code for finding in top.findings}


# ---- drawings as they are painted


def test_an_outline_that_crosses_others_in_part_cuts_them(drawn):
    """4 x 4 in; of an outline 4 x 2 in half lies on its lower right quarter, the other half is a patch beside it."""
    top = drawn(
        '<rect id="cloth" width="4" height="4" fill="#a33"/>'
        '<rect id="frame" x="2" y="2" width="4" height="2" fill="none" stroke="#000"/>'
    )
    assert areas(top) == {"cloth-1": 12, "cloth-2": 4, "frame": 4}
    assert "outline-cuts" in codes(top)


def test_an_outline_inside_one_other_shape_is_a_patch_and_what_is_painted_later_covers_it(drawn):
    """The outline is 4 x 4 in; 1 in of its width is painted over from top to bottom."""
    top = drawn(
        '<rect id="cloth" width="10" height="10" fill="#a33"/>'
        '<rect id="ring" x="2" y="2" width="4" height="4" fill="none" stroke="#000"/>'
        '<rect id="strip" x="5" y="2" width="1" height="4" fill="#3a3"/>'
    )
    assert areas(top) == {"cloth": 84, "ring": 12, "strip": 4}


def test_a_line_shows_only_beside_what_is_painted_over_it(drawn):
    """A line across the middle, the middle third of which is painted over: it cuts what lies on both sides of that."""
    top = drawn(
        '<rect id="cloth" width="9" height="4" fill="#a33"/><path d="M0 2H9" fill="none" stroke="#000"/>'
        '<rect id="band" x="3" y="0" width="3" height="4" fill="#3a3"/>'
    )
    assert areas(top) == {"cloth-1-1": 6, "cloth-1-2": 6, "cloth-2-1": 6, "cloth-2-2": 6, "band": 12}


def test_a_heap_of_copies_is_refused():
    copies = [Shape(f"copy-{k}", as_path([(0, 0), (50, 0), (50, 50), (0, 50)])) for k in range(60)]
    with pytest.raises(TopError, match="lies on 59 others of its size and place"):
        assemble(copies)


def test_lines_that_enclose_nothing_are_no_top_and_gaps_between_lines_are_told(drawn):
    with pytest.raises(TopError, match="has no lines that enclose a patch"):
        drawn('<path d="M0 0H8M0 5H8" fill="none" stroke="#000"/>', read="lines")
    square = '<path d="M0 0H8V8H0Z" fill="none" stroke="#000"/>'
    top = drawn(square + '<path d="M4 0V7.9" fill="none" stroke="#000"/>', read="lines")
    assert areas(top) == {"patch": 64}  # the line ends 1/10 in short of parting it
    assert "lines-apart" in codes(top)


def test_numbers_pass_over_names_that_are_taken():
    def at(name, x):
        return Shape(name, as_path([(x, 0), (x + 5, 0), (x + 5, 5), (x, 5)]))

    names = [shape.name for shape in numbered([at("a", 0), at("a-1", 10), at("a", 20), at("a", 30)])]
    assert names == ["a-2", "a-1", "a-3", "a-4"]


def test_strips_of_one_shape_are_no_shade_and_shades_without_colours_have_none():
    strips = [box(0, k, 50, k + 1) for k in range(6)]

    def shapes(colour):
        return [Shape(f"s{k}", as_path(s.exterior.coords[:-1]), colour=colour) for k, s in enumerate(strips)]

    assert shades_of([(0, s) for s in strips], shapes("#ff0000"), within_mm=1.5) == []
    (shade,) = shades_of(list(enumerate(strips)), shapes(None), within_mm=1.5)
    assert shade.shape.colour is None and shade.region.area == pytest.approx(300, rel=0.01)
    (shade,) = shades_of(list(enumerate(strips)), shapes("#ff0000"), within_mm=1.5)
    assert shade.shape.colour == "#ff0000"


# ---- tables, measures, guides


@pytest.mark.parametrize(
    ("more", "says"),
    [
        ({"borders": [Border("edge", 50.0, "mitred", "sawtooth")]}, "a pieced border has 'cornerstones'"),
        ({"borders": [Border("edge", 50.0, count=(3, 4))]}, "must be units of a pieced border"),
        ({"pieces": {"a": Pieces(block="ohio star", grid=(2, 2))}}, "a traditional block has no lines, grid or names"),
    ],
)
def test_a_table_of_blocks_from_python_is_checked_too(more, says):
    with pytest.raises(TopError, match=says):
        from_blocks(BlockTable(setting="straight", size_mm=150.0, rows=[["a"]], **more))


def test_measures_that_a_piece_does_not_have_are_refused():
    triangle = Patch("corner", Polygon([(0, 0), (100, 0), (0, 100)]))
    top = Top((triangle,), (), {}, (100.0, 100.0))
    with pytest.raises(TopError, match="which only the whole top has"):
        as_measured(top, [Measured(patch="corner", edges_mm={"left": [100.0]})])
    with pytest.raises(TopError, match="has 3 corners, diagonals need 4"):
        as_measured(top, [Measured(patch="corner", diagonals_mm={0: 100.0})])


def spine_in(outline, **said):
    top = Top((Patch("space", outline),), (), {}, (100.0, 100.0))
    (spine,) = made_guides(
        top, [GuideSpec(name="spine", patch="space", spine=SpineSpec(length_mm=None, **said))]
    ).values()
    return spine


def test_a_spine_without_a_bow_is_the_straight_half_of_its_corner():
    spine = spine_in(box(0, 0, 100, 100), corner="bottom-left", bow_percent=0.0)
    assert spine == pytest.approx(np.array([(0, 100), (100, 0)]), abs=1e-6)


def test_a_round_space_has_no_corner_for_a_spine():
    with pytest.raises(InputError, match="no corner that a spine can start from"):
        spine_in(disc((50.0, 50.0), 50.0), corner="bottom-left", bow_percent=8.0)


@pytest.mark.parametrize(
    ("size", "unit", "way"),
    [
        ((1500 * IN, 1200 * IN), "in", 'write units = "mm"'),  # 1500 mm: a lap quilt
        ((150 * IN, 120 * IN), "in", 'write units = "cm"'),  # 150 cm: a lap quilt too
        ((4000.0, 3000.0), "mm", "look for a slip in them"),  # neither 4000 mm nor 4000 cm
    ],
)
def test_a_table_that_is_too_large_says_which_unit_may_be_meant(size, unit, way):
    assert way in told_of_size(size, unit)


def told_of_size(size, unit):
    try:
        return size_of_table(size, unit)[0].what_to_do
    except TopError as error:
        return error.what_to_do


# ---- how straight a top is


def test_a_pieced_block_is_measured_as_a_whole_beside_its_pieces():
    pieces = {"a": Pieces(grid=(3, 3))}
    top = from_blocks(BlockTable(setting="straight", size_mm=9 * IN, rows=[["a"]], pieces=pieces))
    place = BlockPlace("a", "a-1-1", np.eye(2), np.zeros(2), 9 * IN)
    rows = {row.name: row for row in straight_table(top, [place]).blocks}
    assert len(rows) == 10
    assert rows["a-1-1"].sides_mm == pytest.approx([9 * IN] * 4)
    assert rows["a-1-1-5"].sides_mm == pytest.approx([3 * IN] * 4)


def test_a_round_patch_has_no_sides_to_measure_and_a_short_seam_no_bends():
    round_one, rest = disc((50.0, 50.0), 30.0), box(0, 0, 100, 100).difference(disc((50.0, 50.0), 30.0))
    shapes = [
        Shape("rest", as_path(rest.exterior.coords[:-1]), (as_path(rest.interiors[0].coords[:-1]),)),
        Shape("disc", as_path(round_one.exterior.coords[:-1])),
        Shape("small", as_path([(100, 0), (110, 0), (110, 10), (100, 10)])),
    ]
    table = straight_table(assemble(shapes, close_gaps_mm=0.01))
    assert {row.name for row in table.blocks} == {"rest", "small"} or {row.name for row in table.blocks} == {"small"}
    assert all(not seam.bends for seam in table.seams if seam.length_mm < 2 * IN)


# ---- photos and film


def lab_photo(rows=80, cols=80):
    return np.full((rows, cols, 3), (60.0, 0.0, 0.0), dtype=np.float32)


def test_film_of_another_size_is_refused():
    with pytest.raises(TopError, match="is not of the same size as the photo without film"):
        film_lines(lab_photo(), lab_photo(cols=70), 2.0)


def test_a_black_marker_is_called_black():
    """A line 4 mm wide and 150 mm long, darker than the cloth and without a hue."""
    without = lab_photo(120, 400)
    film = without.copy()
    film[56:64, 50:350] = (15.0, 0.0, 0.0)
    (line,) = film_lines(film, without, 2.0)
    assert line.name.endswith("black-1") and line.solid
    assert np.ptp(line.path[:, 0]) == pytest.approx(150, abs=5)
    assert line.path[:, 1] == pytest.approx(30, abs=1)


@pytest.mark.parametrize(
    ("page", "body", "says"),
    [
        ('viewBox="0 0 10 10"', '<path id="spine" d="M1 1H5" stroke="#000" fill="none"/>', "size"),
        ('width="10in" height="10in" viewBox="0 0 10 10"', "", "has no line"),
        (
            'width="10in" height="10in" viewBox="0 0 10 10"',
            '<path id="fold" d="M1 1H5" stroke="#000" fill="none"/>',
            "has a line 'fold', which is the name of a guide of the top too",
        ),
    ],
)
def test_a_film_that_can_not_lie_on_the_top(tmp_path, page, body, says):
    path = tmp_path / "film.svg"
    path.write_text(f'<svg xmlns="http://www.w3.org/2000/svg" {page}>{body}</svg>', encoding="utf-8")
    with pytest.raises(InputError, match=says):
        film_guides(path, ["fold"])


def test_a_photo_taken_very_slanted_is_told():
    places = corners_and_middles(800.0, 800.0)
    for tilt, slanted in ((68.0, True), (20.0, False)):
        shot = Shot((3000, 2250), (400.0, 400.0), 800.0, tilt=(tilt, 0.0), turn=0.0, lens=(0.0, 0.0), fill=0.5)
        pixels = shot.seen(places)
        points = MeasuredPoints("points.csv", tuple(range(2, 2 + len(places))), pixels, places)
        found = square_up(points, shot.size)
        assert ("photo-slanted" in {finding.code for finding in found.findings}) == slanted


def test_measures_that_do_not_fit_are_told():
    """Every place is off by 10 to 20 mm another way: no camera sees them so, and no single one is to blame."""
    places = corners_and_middles(800.0, 800.0, 200.0)
    shot = Shot((3000, 2250), (400.0, 400.0), 800.0, lens=(0.0, 0.0))
    rng = np.random.default_rng(5)
    way = rng.uniform(0, 2 * np.pi, len(places))
    off = rng.uniform(10, 20, len(places))[:, None] * np.column_stack([np.cos(way), np.sin(way)])
    points = MeasuredPoints("points.csv", tuple(range(2, 2 + len(places))), shot.seen(places), places + off)
    found = square_up(points, shot.size)
    assert found.residual_mm > 6.35 and "photo-loose" in {finding.code for finding in found.findings}


def test_stretches_make_rings_or_are_refused():
    there, back = as_path([(0, 0), (10, 0), (10, 10)]), as_path([(0, 0), (0, 10), (10, 10)])
    (ring,) = rings_of([(0, 1, there), (0, 1, back)])
    assert Polygon(ring).area == pytest.approx(100)
    with pytest.raises(ValueError, match="does not close"):
        rings_of([(0, 1, there), (2, 3, back)])


def test_a_stretch_that_is_short_or_lies_in_one_patch_is_not_seen():
    colours = PhotoColours(
        lab_photo(400, 400), 2.0, np.ones((400, 400), dtype=np.int32), 2.0, (0.0, 0.0), {1: np.array([60.0, 0.0, 0.0])}
    )
    short = Stretch("a", "b", as_path([(50, 50), (51, 50)]), 0, 1)
    assert see_seam(short, colours).why == "is too short"
    long = Stretch("a", "b", as_path([(20, 50), (180, 50)]), 0, 1)
    assert see_seam(long, colours).why == "is not seen"


def test_a_corner_is_seen_where_seams_cross_and_agree():
    """Lines x = 10 and y = 20 cross at 10, 20; a third through 10, 20 agrees, one that passes it by does not."""
    upright = (0, np.array([10.0, 3.0]), np.array([1.0, 0.0]))
    level = (0, np.array([4.0, 20.0]), np.array([0.0, 1.0]))
    slanted = np.array([1.0, -1.0]) / np.sqrt(2)
    through, beside = (0, np.array([15.0, 25.0]), slanted), (0, np.array([35.0, 5.0]), slanted)
    (seen,) = corners_seen([upright, level, through])
    assert seen[0] == 0 and seen[1] == pytest.approx([10, 20])
    assert corners_seen([upright, level, beside]) == []
    assert corners_seen([upright]) == [] and corners_seen([upright, upright]) == []


def test_of_a_shape_that_crosses_itself_the_larger_part_counts():
    """Sides of 100 and 120 mm cross where the heights over them are as 100 to 120: 136.4 and 163.6 of 300 mm."""
    region = region_of(Shape("tie", as_path([(0, 0), (120, 300), (0, 300), (100, 0)])))
    assert region.is_valid and region.area == pytest.approx(120 * (300 * 120 / 220) / 2)
