"""Drawings at the limits of what is read: too many elements, long lists, text as shapes, holes in a raster."""

from __future__ import annotations

import numpy as np
import pytest

from plumeline.drawing import read_drawing, read_svg
from plumeline.drawing.curves import curve_points
from plumeline.drawing.raster import labels_of
from plumeline.drawing.read import read_art
from plumeline.drawing.warping import warped
from plumeline.errors import DrawingError

HEAD = '<svg xmlns="http://www.w3.org/2000/svg" '
PAGE = 'width="10in" height="10in" viewBox="0 0 10 10"'
SQUARE = '<rect id="a" x="1" y="1" width="2" height="2"/>'


@pytest.fixture
def write(tmp_path):
    def make(body, page=PAGE, before=""):
        path = tmp_path / "top.svg"
        path.write_text(f"{before}{HEAD}{page}>{body}</svg>", encoding="utf-8")
        return path

    return make


def names(drawing):
    return [shape.name for shape in drawing.shapes]


def test_copies_of_copies_beyond_the_limit_are_refused(write):
    """Each of six groups holds the one before ten times: a million squares from sixty lines."""
    groups = '<g id="g0"><rect width="1" height="1"/></g>'
    for k in range(6):
        groups += f'<g id="g{k + 1}">' + f'<use href="#g{k}"/>' * 10 + "</g>"
    with pytest.raises(DrawingError, match="more than 25,000 elements"):
        read_svg(write(f'<defs>{groups}</defs><use href="#g6"/>'))


def test_a_transform_that_is_longer_than_any_is_refused(write):
    with pytest.raises(DrawingError, match="has more than"):
        read_svg(write(f'<g transform="translate({"0" * 200_000})">{SQUARE}</g>'))


def test_text_that_was_turned_into_shapes_is_left_out(write):
    lettering = '<path id="word" aria-label="Hello" d="M5 5H6V6H5Z"/><g id="text-12"><path d="M7 7H8V8H7Z"/></g>'
    drawing = read_svg(write(SQUARE + lettering))
    assert names(drawing) == ["a"]
    assert "2 drawn text were left out" in " ".join(finding.text for finding in drawing.findings)


def test_entities_without_their_bracket_are_refused(write):
    with pytest.raises(DrawingError, match="declares entities"):
        read_svg(write(SQUARE, before="<!-- <!ENTITY a 'b'> -->"))


def test_a_rule_of_style_is_for_what_it_names_alone(write):
    style = "<style>.gone { display: none } g > .kept { fill: #ff0000 }</style>"
    body = f'{style}<g><rect id="b" class="kept" width="1" height="1"/></g><rect class="gone" width="3" height="3"/>'
    shapes = read_svg(write(SQUARE + body)).shapes
    assert [(shape.name, shape.colour) for shape in shapes] == [("a", "#000000"), ("b", "#ff0000")]


def test_artwork_without_a_size_is_refused(write):
    with pytest.raises(DrawingError, match="must say its true size"):
        read_art(write(SQUARE, page='viewBox="0 0 10 10"'))


def test_a_curve_that_is_not_finite_is_refused():
    pieces = np.array([[(0, 0), (1, 0), (2, 0), (np.inf, 0)]], dtype=float)
    with pytest.raises(ValueError, match="not finite"):
        curve_points(pieces, np.array([False]), tolerance=0.1, most_points=100)


def test_a_hole_in_an_outline_belongs_to_what_lies_below():
    """20 x 20 px with a hole of 8 x 8 px over a ground: edges count as inside, so that a pixel either way is right."""

    def square(low, high):
        return np.array([(low, low), (high, low), (high, high), (low, high)], dtype=float)

    labels = labels_of([[square(0, 39)], [square(10, 29), square(16, 23)]], (40, 40))
    assert labels[20, 20] == 1 and labels[12, 12] == 2 and labels[5, 5] == 1
    assert (labels == 2).sum() == pytest.approx(20**2 - 8**2, abs=4 * 8 + 4 * 20)


def test_a_picture_made_much_smaller_is_the_mean_of_its_pixels():
    """A chequerboard of black and white pixels, ten times as fine as what is made of it, is an even grey."""
    board = np.indices((400, 400)).sum(axis=0) % 2 * 255
    photo = np.repeat(board[..., None], 3, axis=2).astype(np.uint8)
    places = np.arange(5.0, 395.0, 10.0)
    picture, missed = warped(photo, lambda at: at, (places, places))
    assert missed == 0
    assert np.abs(picture[1:-1, 1:-1].astype(float) - 127.5).max() < 10


def test_a_triangle_in_another_unit_is_read_at_its_size(write):
    drawing = read_drawing(
        write('<path id="t" d="M0 0H5V5Z"/>', page='width="254mm" height="254mm" viewBox="0 0 10 10"')
    )
    assert np.ptp(drawing.shapes[0].shell, axis=0) == pytest.approx([127.0, 127.0])
