"""Each kind of paper by what it must show: figures worked out by hand for straight lines in a square of 5 in."""

import re

import numpy as np
import pytest
from shapely import LineString

from plumeline.codes import FindingCode
from plumeline.geometry import path_length
from plumeline.output.paper import PaperSettings, find_kind
from plumeline.output.paper.marks import TICK_MM, grid_ticks
from plumeline.pipeline.paper import paper_drawings
from plumeline.pipeline.single import try_fill
from plumeline.units import parse_length

IN = 25.4
SQUARE = np.array([(0, 0), (5, 0), (5, 5), (0, 5)]) * IN


def drawn(kind, fill, settings=None, **more):
    """Return one kind of paper of one fill in the square, and the quilt that it is of."""
    quilt = try_fill(fill, SQUARE, settings or {})
    (drawing,) = paper_drawings(quilt, find_kind(kind), (), PaperSettings(**more))
    return drawing, quilt


def of_kind(drawing, kind):
    return [mark for mark in drawing.marks if mark.kind == kind]


# -- marks ------------------------------------------------------------------------------------------------------------


def test_a_tick_says_how_far_along_its_side_a_line_ends():
    """By hand: a level line 20 below the top of a square of 100: 20 down the right side, 80 up the left one."""
    square = np.array([(0.0, 0), (100, 0), (100, 100), (0, 100)])
    (left, up), (right, down) = grid_ticks([np.array([(0.0, 20), (100, 20)])], [square])
    assert (up, down) == (80, 20)
    assert left.tolist() == [[-TICK_MM, 20], [0, 20]] and right.tolist() == [[100 + TICK_MM, 20], [100, 20]]
    assert grid_ticks([np.array([(20.0, 20), (80, 20)])], [square]) == []  # ends in the open


def test_lines_an_inch_apart_are_marked_by_their_ends():
    """By hand: an even spacing of 1 in in 5 in leaves half a spacing at the edge: 1/2, 1 1/2 ... 4 1/2."""
    drawing, _ = drawn("marks", "channel", {"spacing": 1})
    assert len(of_kind(drawing, "stitch")) == 5
    assert len(of_kind(drawing, "tick")) == 10
    said = sorted(words.text for words in drawing.words if words.text.endswith("in"))
    assert said == sorted(2 * ["1/2 in", "1 1/2 in", "2 1/2 in", "3 1/2 in", "4 1/2 in"])
    assert any("chalk the grid" in note for note in drawing.notes)


def test_every_other_line_may_be_left_to_the_eye_but_no_tick_is():
    drawing, _ = drawn("marks", "channel", {"spacing": 1}, grid_every=2)
    assert len(of_kind(drawing, "stitch")) == 3 and len(of_kind(drawing, "tick")) == 10


def test_a_feather_is_marked_by_its_spine_and_a_motif_by_its_lines():
    feather, quilt = drawn("marks", "feather")
    spines = of_kind(feather, "spine")
    backs = [s for f in quilt.filled for s in f.strokes if s.role == "backtrack"]
    assert spines and not of_kind(feather, "stitch")
    assert path_length(spines[0].path) == pytest.approx(path_length(backs[-1].path))
    motif, quilt = drawn("marks", "motif")
    whole = sum(path_length(s.path, closed=s.closed) for f in quilt.filled for s in f.strokes if s.role == "stitch")
    assert sum(path_length(m.path, closed=m.closed) for m in of_kind(motif, "stitch")) == pytest.approx(whole)


# -- rulers -----------------------------------------------------------------------------------------------------------


def test_the_rulers_edge_lies_half_a_foot_beside_each_line():
    """By hand: five lines of 5 in with a foot of 1/2 in; a ruler of 4 in does 3 in at a lie, so two lies a line."""
    drawing, _ = drawn("ruler", "channel", {"spacing": 1}, ruler_mm=4 * IN, foot_mm=IN / 2)
    edges, lines = of_kind(drawing, "ruler"), [LineString(m.path) for m in of_kind(drawing, "stitch")]
    long = [edge for edge in edges if path_length(edge.path) > 4.9 * IN]
    assert len(long) == 5
    for edge in long:
        along = LineString(edge.path)
        assert min(along.hausdorff_distance(line) for line in lines) == pytest.approx(IN / 4, abs=0.01)
    note = next(note for note in drawing.notes if "straight runs" in note)
    assert re.search(r"^\d+ straight runs; a 4 in ruler is laid down \d+ times", note)
    assert "The longest run is 5 in: a ruler of 6 in does each in one." in note


def test_what_is_curved_is_not_for_a_straight_ruler():
    drawing, quilt = drawn("ruler", "spiral", {"spacing": "1/2"})
    (found,) = drawing.findings
    assert found.code == FindingCode.RULER_CURVED
    inches = parse_length(found.text.split(" of it is curved")[0].split(": ")[-1], "in") / IN
    sewn = sum(path_length(run.path) for f in quilt.filled for run in f.strokes) / IN
    assert inches == pytest.approx(sewn, abs=0.25)  # all of a spiral is; said to the nearest 1/4 in
    straight, _ = drawn("ruler", "channel", {"spacing": 1})
    assert straight.findings == ()


# -- practice ---------------------------------------------------------------------------------------------------------


def test_practice_grows_step_by_step_to_the_whole():
    drawing, quilt = drawn("practice", "feather")
    steps = [words.text for words in drawing.words if re.fullmatch(r"step \d+", words.text)]
    assert steps == [f"step {k + 1}" for k in range(len(steps))] and 4 <= len(steps) <= 8
    new = sum(path_length(m.path) for m in drawing.marks if m.kind == "stitch" and m.colour == "#111111")
    spans = [(line, span) for line in quilt.lines for span in line.spans if span.kind in ("stitch", "step")]
    sewn = sum(path_length(line.path[span.start : span.end + 1]) for line, span in spans)
    assert new == pytest.approx(sewn, rel=1e-6)
    assert [words.text for words in drawing.words].count("trace with a pencil") == 4


# -- measure ----------------------------------------------------------------------------------------------------------


def test_a_sketch_to_measure_has_a_blank_for_each_side_and_diagonal():
    drawing, _ = drawn("measure", "spiral")
    assert not drawing.true_size
    blanks = sorted(words.text.split(" _")[0] for words in drawing.words if words.text.endswith("____"))
    assert blanks == ["A", "B", "C", "D", "diagonal 1", "diagonal 2"]
    (edge,) = of_kind(drawing, "outline")
    corners = edge.path
    middle = corners.mean(axis=0)
    at = {w.text.split(" _")[0]: np.array(w.at) - middle for w in drawing.words if w.text.endswith("____")}
    # clockwise from the upper left: A along the top, B down the right, C along the bottom, D up the left
    assert at["A"][1] < 0 < at["C"][1] and at["D"][0] < 0 < at["B"][0]
