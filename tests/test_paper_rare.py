"""Paper of odd designs: what can't be cut, round lines, spaces that nothing is stitched in, small patches."""

from __future__ import annotations

import numpy as np
import pytest
from shapely import MultiLineString, Polygon, box

from plumeline.errors import OutputError
from plumeline.model import Patch, as_path
from plumeline.output import Run, Shape, Sheet
from plumeline.output._map_names import patch_names
from plumeline.output.dst import _dummies as trim_steps
from plumeline.output.paper import PaperDrawing, PaperSettings, Space, find_kind, find_paper
from plumeline.output.paper.cut import stencil_of
from plumeline.output.paper.drawing import Mark, arrow
from plumeline.output.paper.marks import grid_ticks
from plumeline.output.paper.practice import steps_of
from plumeline.output.paper.ruler import ruler_runs
from plumeline.output.paper.sheets import _map as sheet_map
from plumeline.output.paper.sheets import tiling_of
from plumeline.output.svg import read_svg, write_svg


def circle(radius, count=240):
    angle = np.linspace(0, 2 * np.pi, count + 1)
    return as_path(radius * np.column_stack([1 + np.cos(angle), 1 + np.sin(angle)]))


def space(*runs, outline=((0, 0), (100, 0), (100, 100), (0, 100)), name="block"):
    return Space(
        name=name,
        count=1,
        outlines=(as_path(outline),),
        seams=(),
        fences=(),
        runs=runs,
        strokes=(),
        size=(100.0, 100.0),
    )


def run(path, kind="stitch"):
    return Run(as_path(path), kind, 0, 0)


def test_a_grid_too_close_for_bridges_is_left_whole_where_it_must_be_and_the_sheet_is_one():
    """Lines 9 mm apart, slots 2.4 mm wide: a cell is 26 mm round, and two bridges of 12 mm want 24 mm each."""
    at = np.arange(0, 55, 9.0)
    grid = [as_path([(x, 0), (x, 54)]) for x in at] + [as_path([(0, y), (54, y)]) for y in at]
    settings = PaperSettings(bridge_mm=12.0)
    made = stencil_of(grid, settings)
    assert made.uncut
    assert isinstance(made.sheet, Polygon) and made.sheet.is_valid
    drawn = MultiLineString(grid)
    assert all(drawn.distance(MultiLineString([path])) < 0.05 for path in made.uncut)
    drawing = find_kind("cut").draw([space(*(run(path) for path in grid))], settings)
    assert any("can't be cut" in finding.text for finding in drawing.findings)


def test_a_round_line_is_no_ruler_work_and_a_point_is_no_line():
    (round_run,) = ruler_runs(circle(50.0))
    assert not round_run.straight and round_run.length_mm == pytest.approx(2 * np.pi * 50, rel=1e-3)
    assert ruler_runs(as_path([(0, 0)])) == []
    there = ruler_runs(as_path([(0, 0), (100, 0), (100, 100)]))
    assert [(r.straight, round(r.length_mm)) for r in there] == [(True, 100), (True, 100)]


def test_start_and_stop_in_one_place_are_drawn_beside_each_other():
    drawing = find_kind("trace").draw([space(run(circle(50.0)))], PaperSettings())
    ends = [mark.path for mark in drawing.marks if mark.kind == "mark" and len(mark.path) in (4, 24)]
    assert len(ends) == 2  # a square and a ring
    assert not Polygon(ends[0]).intersects(Polygon(ends[1]))


def test_nothing_stitched_has_no_steps_no_dots_and_no_slots():
    travel = run([(0, 0), (50, 0)], "seam-travel")
    assert steps_of([travel]) == []
    dots = find_kind("pounce").draw([space(travel)], PaperSettings())
    assert not [mark for mark in dots.marks if mark.kind == "dot"]
    both = find_kind("cut").draw([space(travel), space(run([(20, 50), (80, 50)]))], PaperSettings())
    alone = find_kind("cut").draw([space(run([(20, 50), (80, 50)]))], PaperSettings())
    assert len([m for m in both.marks if m.kind == "slot"]) == len([m for m in alone.marks if m.kind == "slot"]) > 0


def test_a_triangle_has_no_diagonals_to_measure():
    def words(outline):
        return [w.text for w in find_kind("measure").draw([space(outline=outline)], PaperSettings()).words]

    assert not any("diagonal" in word for word in words([(0, 0), (100, 0), (0, 100)]))
    assert sum("diagonal" in word for word in words([(0, 0), (100, 0), (100, 100), (0, 100)])) == 2


def test_ticks_need_an_edge_and_an_arrow_a_way():
    assert grid_ticks([as_path([(0, 0), (10, 0)])], []) == []
    folded = as_path([(0, 0), (20, 0), (0, 0)])
    assert arrow(folded, 20.0) is None  # its tip would lie on its tail
    assert arrow(folded, 10.0) is not None


def test_only_patches_with_room_for_their_name_are_named():
    patches = [Patch("large", box(0, 0, 300, 300)), Patch("a-very-long-name-for-a-speck", box(300, 0, 304, 4))]
    assert [words.text for words in patch_names(patches, lambda points: points, 1.0)] == ["large"]


@pytest.mark.parametrize(
    ("steps", "count"),
    [
        ([(2, 1), (-4, -2), (4, 2), (-2, -1)], 4),  # out, there and back twice as far, home
        ([(2, 1), (-4, -2), (2, 1)], 3),
        ([(2, 1), (-2, -1)], 0),  # a move out and home again
        ([(2, 1), (-4, -2), (3, 2)], 0),  # something else follows
        ([(2, 1), (-4, -2), (4, 2)], 0),  # it does not come home
    ],
)
def test_a_trim_of_a_stitch_file_is_told_from_a_move(steps, count):
    assert trim_steps(steps) == count


def test_a_path_of_another_program_in_a_sheet_is_refused():
    ours = write_svg(Sheet(title="t", shapes=(Shape(as_path([(0, 0), (9, 0), (9, 9)]), True, "outline"),)))
    assert len(read_svg(ours).shapes) == 1
    with pytest.raises(OutputError, match="paths that plumeline did not write"):
        read_svg(ours.replace(b'class="outline"', b'class="star"'))


class Recorder:
    """A page that writes down what is drawn on it."""

    def __init__(self):
        self.paths, self.said = [], []

    def path(self, points, **_):
        self.paths.append(np.asarray(points))

    def words(self, x, y, text, *_, **__):
        self.said.append((text, x, y))


def test_the_map_of_the_sheets_shows_the_design_under_its_sheets():
    """A design of 400 x 300 mm on 2 x 2 sheets, drawn a quarter as large from 10, 20 on."""
    drawing = PaperDrawing("t", "trace", "z", (400.0, 300.0), (Mark(as_path([(0, 0), (400, 300)]), "stitch"),))
    page, tiling = Recorder(), tiling_of((400.0, 300.0), find_paper("letter", "in"))
    end = sheet_map(page, drawing, tiling, 10.0, 20.0, 100.0, 90.0)
    assert end == pytest.approx(95.0)
    line, *sheets = page.paths
    assert line == pytest.approx(np.array([(10, 20), (110, 95)]))
    around = np.vstack(sheets)
    assert np.vstack([around.min(axis=0), around.max(axis=0)]) == pytest.approx(np.array([(10, 20), (110, 95)]))
    assert [text for text, _, _ in page.said] == [str(k) for k in range(2, 2 + len(sheets))]
    for (_, x, y), sheet in zip(page.said, sheets, strict=True):
        assert (sheet.min(axis=0) < (x, y)).all() and ((x, y) < sheet.max(axis=0)).all()
