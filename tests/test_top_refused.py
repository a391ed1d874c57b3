"""Tops that can't be meant: a table of blocks, a size, a table of points; each refused in one line with its key."""

from __future__ import annotations

import re

import pytest

from plumeline import read_plan
from plumeline.drawing.shapes import OpenLine
from plumeline.errors import InputError
from plumeline.model import as_path
from plumeline.pipeline.top import read_top
from plumeline.top.naming import lines_apart_by_name

BLOCKS = """
[top.blocks]
size = 6
rows = [["a", "b"], ["b", "a"]]
borders = [{ name = "edge", width = 2 }]
[top.blocks.pieces]
a = { grid = [2, 2] }
"""
DRAWING = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 10 10">{}</svg>'


@pytest.fixture
def top(tmp_path):
    def read(text, drawing=None):
        (tmp_path / "plan.toml").write_text(text, encoding="utf-8")
        if drawing is not None:
            (tmp_path / "top.svg").write_text(DRAWING.format(drawing), encoding="utf-8")
        return read_top(read_plan(tmp_path / "plan.toml"))

    return read


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        (
            "a = { grid = [2, 2] }",
            'a = { block = "ohio star", names = { 1 = "x" } }',
            "pieces of a traditional block are named by",
        ),
        (
            "a = { grid = [2, 2] }",
            'a = { grid = [2, 2], names = { 1 = "x", 2 = "x", 3 = "x-1" } }',
            "two pieces one name",
        ),
        ("a = { grid = [2, 2] }", "c = { grid = [2, 2] }", "pieces cut 'c', which is no block here"),
        ("width = 2 }", 'width = 2, pieced = "squares", corners = "mitred" }', "a pieced border has 'cornerstones'"),
        ("width = 2 }", "width = 2, count = [3, 4] }", "is not pieced; count is for the units"),
        ("size = 6", "size = 0", "must be at least"),
    ],
)
def test_a_table_of_blocks(top, old, new, says):
    assert old in BLOCKS
    with pytest.raises(InputError, match=says) as refused:
        top(BLOCKS.replace(old, new))
    assert "top.blocks" in str(refused.value) and "\n" not in str(refused.value)


@pytest.mark.parametrize(
    ("said", "drawing", "says"),
    [
        ("known = { from = [1, 1], to = [1, 1], length = 5 }", '<rect width="5" height="5"/>', "the same point twice"),
        ("width = 5", "", "draws nothing"),
        ("width = 5", '<path d="M1 0V5" stroke="#000"/>', "draws nothing that has a size"),
    ],
)
def test_a_size_that_nothing_drawn_can_have(top, said, drawing, says):
    with pytest.raises(InputError, match=says):
        top(f'[top]\ndrawing = "top.svg"\n{said}\n', drawing)


@pytest.mark.parametrize(
    ("row", "says"),
    [
        ("1,1,99999,0", r"row 2: right: is .*; must be at most .*Say the unit"),
        ("x,1,0,0", r"row 2: x_px: is 'x'; must be a number of pixels"),
        ("nan,1,0,0", r"row 2: x_px: is nan; must be finite"),
        ("1,1,,0", r"row 2: right: is missing; every point needs x_px, y_px, right, down"),
        ("1,1,1/0,0", r"row 2: right: .*fraction"),
    ],
)
def test_points_of_a_photo(row, says, tmp_path):
    from plumeline.top.photo_points import read_points

    file = tmp_path / "points.csv"
    file.write_text(f"x_px,y_px,right,down\n{row}\n", encoding="utf-8")
    with pytest.raises(InputError, match=says):
        read_points(file, unit="in")


def test_lines_of_one_name_are_told_apart_in_drawing_order():
    """A name that a line has of its own is not given to another."""
    names = ["spine", "vine", "spine", "spine-1", "spine"]
    lines = [OpenLine(name, as_path([(k, 0), (k, 1)])) for k, name in enumerate(names)]
    found = lines_apart_by_name(lines)
    assert [line.path[0, 0] for line in found] == [0, 1, 2, 3, 4]
    assert [line.name for line in found] == ["spine-2", "vine", "spine-3", "spine-1", "spine-4"]
    assert not any(re.fullmatch("spine", line.name) for line in found)
