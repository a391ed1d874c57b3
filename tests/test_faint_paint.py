"""Paint that lets through what lies below: highlights and fading gradients cover nothing, and it is told."""

from __future__ import annotations

import math

import numpy as np
import pytest

from plumeline.codes import FindingCode
from plumeline.drawing import read_svg
from plumeline.drawing.colours import colour_share
from plumeline.geometry import signed_area
from plumeline.top import from_drawing

IN2 = 25.4**2
CLOTH = '<rect id="cloth" width="10" height="10" fill="#003366"/>'


@pytest.fixture
def draw(tmp_path):
    def make(body):
        path = tmp_path / "top.svg"
        path.write_text(
            f'<svg xmlns="http://www.w3.org/2000/svg" width="12in" height="12in" viewBox="0 0 12 12">{body}</svg>'
        )
        return path

    return make


def gradient(stops, kind="linearGradient", more=""):
    listed = "".join(f'<stop offset="{at}" style="stop-color:{colour};{says}"/>' for at, colour, says in stops)
    return f'<{kind} id="g">{listed}</{kind}><linearGradient id="h" href="#g"/>{more}'


FAINT = [
    'opacity="0.2" fill="#fff"',
    'fill-opacity="20%" fill="white"',
    'style="fill:rgba(255,255,255,.2)"',
    'fill="#ffffff33"',
    'fill="rgb(255 255 255 / 20%)"',
]


@pytest.mark.parametrize("paint", FAINT)
def test_faint_paint_covers_nothing_and_is_told_with_its_area(draw, paint):
    top = from_drawing(draw(f'{CLOTH}<ellipse id="shine" cx="5" cy="5" rx="3" ry="2" {paint}/>'))
    assert [(p.name, round(p.outline.area / IN2, 6)) for p in top.patches] == [("cloth", 100.0)]
    (note,) = [f for f in top.findings if f.code == FindingCode.FAINT_PAINT]
    assert "1 shape (18.8 sq in) is painted so faintly" in note.text  # pi x 3 x 2 = 18.85, by chords within
    assert FindingCode.PATCH_COVERED not in [f.code for f in top.findings]


@pytest.mark.parametrize(
    "paint", [p.replace("0.2", "0.3").replace("20%", "30%").replace(",.2)", ",.3)") for p in FAINT]
)
def test_fuller_paint_is_a_patch(draw, paint):
    paint = paint.replace("ff33", "ff4d")
    top = from_drawing(draw(f'{CLOTH}<ellipse id="shine" cx="5" cy="5" rx="3" ry="2" {paint}/>'))
    areas = {p.name: p.outline.area / IN2 for p in top.patches}
    assert areas == pytest.approx({"cloth": 100 - 6 * math.pi, "shine": 6 * math.pi}, abs=0.1)


@pytest.mark.parametrize(
    ("stops", "kind", "paint", "patches"),
    [
        ([(0, "#fff", "stop-opacity:0.9"), (1, "#fff", "stop-opacity:0")], "linearGradient", "#g", 1),
        ([(0, "#fff", "stop-opacity:0.9"), (1, "#fff", "stop-opacity:0")], "linearGradient", "#h", 1),  # by reference
        ([(0, "#fff", "stop-opacity:0.2"), (1, "#fff", "stop-opacity:0.2")], "linearGradient", "#g", 1),
        (
            [(0, "#fff", "stop-opacity:0.9"), (1, "#fff", "stop-opacity:0.3")],
            "linearGradient",
            "#g",
            2,
        ),  # does not fade
        ([(0, "#fff", ""), (0.9, "#fff", ""), (1, "#fff", "stop-opacity:0")], "linearGradient", "#g", 2),  # 95 % covers
        ([(0, "#fff", ""), (1, "#fff", "stop-opacity:0")], "radialGradient", "#g", 1),
        ([(0, "red", ""), (1, "blue", "")], "linearGradient", "#g", 2),
    ],
)
def test_a_gradient_covers_as_its_stops_do(draw, stops, kind, paint, patches):
    body = f'{gradient(stops, kind)}{CLOTH}<rect id="over" x="2" y="2" width="5" height="5" fill="url({paint})"/>'
    assert len(from_drawing(draw(body)).patches) == patches


def test_the_colour_of_a_gradient_is_its_mean(draw):
    """Linear from red to blue: half of each. A round one counts by area: of 1 - r over the disc the mean is 1/3."""
    halves = gradient([(0, "#ff0000", ""), (1, "#0000ff", "")])
    (shape,) = read_svg(draw(f'{halves}<rect id="a" width="4" height="4" fill="url(#g)"/>')).shapes
    assert rgb(shape.colour) == pytest.approx([127.5, 0, 127.5], abs=1)
    disc = gradient([(0, "#ffffff", ""), (1, "#000000", "")], "radialGradient")
    (shape,) = read_svg(draw(f'{disc}<circle id="a" cx="4" cy="4" r="4" fill="url(#g)"/>')).shapes
    assert rgb(shape.colour) == pytest.approx([85, 85, 85], abs=1)


def rgb(colour):
    return [int(colour[k : k + 2], 16) for k in (1, 3, 5)]


def test_faint_paint_counts_where_nothing_else_is_painted(draw):
    """A 4 in square at 20 %, half of it beside the cloth: 8 sq in, black at a fifth on white is #cccccc."""
    top = from_drawing(draw(f'{CLOTH}<rect id="tint" x="8" width="4" height="4" fill="#000" opacity=".2"/>'))
    found = {p.name: (round(p.outline.area / IN2, 6), p.colour) for p in top.patches}
    assert found == {"cloth": (100.0, "#003366"), "tint": (8.0, "#cccccc")}


def test_a_drawing_that_is_faint_throughout_is_read_as_it_is(draw):
    """A drawing under tracing paper: two squares at 20 %, the later over the earlier."""
    body = '<g opacity=".2"><rect id="a" width="4" height="4"/><rect id="b" x="2" width="4" height="4" fill="red"/></g>'
    top = from_drawing(draw(body))
    assert {p.name: round(p.outline.area / IN2, 6) for p in top.patches} == {"a": 8.0, "b": 16.0}
    assert FindingCode.FAINT_PAINT not in [f.code for f in top.findings]


def test_a_faint_tint_within_a_plain_outline_is_that_outline(draw):
    body = f'{CLOTH}<rect id="a" x="2" y="2" width="4" height="4" fill="red" fill-opacity=".1" stroke="black"/>'
    top = from_drawing(draw(body))
    assert {p.name: round(p.outline.area / IN2, 6) for p in top.patches} == {"cloth": 84.0, "a": 16.0}
    assert {p.colour for p in top.patches} == {"#003366"}  # what shows within the outline is the cloth


@pytest.mark.parametrize("text", ["rotate(9", "matrix(1,0,0,1,0,0", "turn(3)", "scale(1e999)", "scale(nan)"])
def test_a_transform_that_is_none_counts_as_not_said(draw, text):
    """As SVG 2 says of invalid values, and as browsers do."""
    drawing = read_svg(draw(f'<rect id="a" transform="{text}" x="1" width="2" height="3"/>'))
    (shape,) = drawing.shapes
    assert np.ptp(shape.shell, axis=0) / 25.4 == pytest.approx([2, 3])
    assert shape.shell.min(axis=0) / 25.4 == pytest.approx([1, 0])
    (note,) = [f for f in drawing.findings if f.code == FindingCode.VALUE_IGNORED]
    assert (
        f"1 value that SVG does not know was left out, as browsers do: transform of rect 'a' is '{text}'" in note.text
    )


def test_an_aspect_that_is_none_counts_as_not_said(tmp_path):
    """In the middle, as where nothing is said: SVG 2 section 8.6."""
    head = '<svg xmlns="http://www.w3.org/2000/svg" width="4in" height="4in" viewBox="0 0 2 1" '
    both = []
    for said in ("", 'preserveAspectRatio="xLeftYTop"'):
        (tmp_path / "top.svg").write_text(f'{head}{said}><rect id="a" width="1" height="1"/></svg>')
        both.append(read_svg(tmp_path / "top.svg"))
    np.testing.assert_array_equal(both[0].shapes[0].shell, both[1].shapes[0].shell)
    assert [f.code for f in both[1].findings if f.code not in [g.code for g in both[0].findings]] == ["value-ignored"]


@pytest.mark.parametrize(
    ("word", "covers"),
    [("transparent", 0), ("#0008", 0x88 / 255), ("hsla(120, 50%, 50%, 40%)", 0.4), ("rgba(1,2,3,7)", 1), ("navy", 1)],
)
def test_how_much_a_colour_covers(word, covers):
    assert colour_share(word) == pytest.approx(covers)


def test_a_very_fine_drawing_keeps_its_shape(draw):
    """60,000 points on a circle of 5 in: what is left strays from it by 0.1 mm at most, and is far less."""
    turn = np.linspace(0, 2 * math.pi, 60_000, endpoint=False)
    points = " ".join(f"{x:.6f},{y:.6f}" for x, y in zip(6 + 5 * np.cos(turn), 6 + 5 * np.sin(turn)))
    (shape,) = read_svg(draw(f'<polygon id="a" points="{points}"/>')).shapes
    away = np.hypot(*(shape.shell - 6 * 25.4).T)
    assert away == pytest.approx(np.full(len(away), 127), abs=1e-3)
    # a chord that strays by s cuts off 2/3 of s times its length: the area is short by at most that all round
    assert 0 <= math.pi * 127**2 - abs(signed_area(shape.shell)) <= 2 / 3 * 0.1 * math.tau * 127
    assert len(shape.shell) < 600


@pytest.mark.parametrize(
    ("where", "kind", "width", "height"),
    [
        ("", "linearGradient", 3.6, 4.0),  # 1 at the left, 0 at the right edge: a tenth is left at 90 %
        ('x1="0" y1="0" x2="0" y2="1"', "linearGradient", 4.0, 3.6),
        ('x1="100%" x2="0"', "linearGradient", 3.6, 4.0),
        ('gradientUnits="userSpaceOnUse" x1="2" x2="4"', "linearGradient", 2.8, 4.0),  # from 2 to 4: to 3.8, less 1
        ('gradientTransform="scale(.5 1)"', "linearGradient", 1.8, 4.0),
        ("", "radialGradient", 3.6, 3.6),  # 2 in round: a tenth is left at 1.8
        ('gradientUnits="userSpaceOnUse" cx="3" cy="3" r="1"', "radialGradient", 1.8, 1.8),
        ('fx="0.3"', "radialGradient", 3.6, 3.6),  # the rings are round, wherever they lie
        ('gradientUnits="userSpaceOnUse" r="1" gradientTransform="translate(3 3) scale(1 2)" cx="0" cy="0"',
         "radialGradient", 1.8, 3.6),
    ],
)  # fmt: skip
def test_a_gradient_is_where_it_has_not_faded(draw, where, kind, width, height):
    """A 4 in square from 1, 1 on bare ground, black fading to nothing: what covers under 10 % is no patch."""
    stops = '<stop offset="0"/><stop offset="1" stop-opacity="0"/>'
    body = f'<{kind} id="g" {where}>{stops}</{kind}><rect id="a" x="1" y="1" width="4" height="4" fill="url(#g)"/>'
    (shape,) = read_svg(draw(body)).shapes
    assert np.ptp(shape.shell, axis=0) / 25.4 == pytest.approx([width, height], rel=0.01)
    share = math.pi / 4 if kind == "radialGradient" else 1.0
    assert abs(signed_area(shape.shell)) / IN2 == pytest.approx(share * width * height, rel=0.01)


@pytest.mark.parametrize("where", ['spreadMethod="repeat"', 'gradientTransform="turn(3)"', 'x2="wide"'])
def test_a_gradient_that_ends_in_a_way_not_read_is_all_of_its_shape(draw, where):
    stops = '<stop offset="0"/><stop offset="1" stop-opacity="0"/>'
    body = f'<linearGradient id="g" {where}>{stops}</linearGradient><rect id="a" width="4" height="4" fill="url(#g)"/>'
    (shape,) = read_svg(draw(body)).shapes
    assert np.ptp(shape.shell, axis=0) / 25.4 == pytest.approx([4, 4])
