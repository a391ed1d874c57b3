"""Reading drawings, against closed forms and another reader."""

import math

import numpy as np
import pytest
import svgelements
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, Point, Polygon

from plumeline.drawing import read_art, read_svg, svg
from plumeline.drawing.path_data import flatten_path_data
from plumeline.drawing.transforms import parse_transform
from plumeline.errors import DrawingError

IN = 25.4
HEAD = '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '


@pytest.fixture
def draw(tmp_path):
    def make(body, page='width="10in" height="10in" viewBox="0 0 10 10"', before=""):
        path = tmp_path / "top.svg"
        path.write_text(f"{before}{HEAD}{page}>{body}</svg>", encoding="utf-8")
        return path

    return make


def corners(shape):
    return sorted((round(float(x), 6), round(float(y), 6)) for x, y in shape.shell)


def box(x0, y0, x1, y1):
    return sorted((round(x, 6), round(y, 6)) for x in (x0, x1) for y in (y0, y1))


# --- true size -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("size", "mm"),
    # CSS Values 3: 1 in = 2.54 cm = 25.4 mm = 96 px = 72 pt = 6 pc = 101.6 Q
    [(size, 50.8) for size in ("2in", "50.8mm", "5.08cm", "144pt", "12pc", "203.2Q", "192px", "192")],
)
def test_every_unit_gives_the_same_page(draw, size, mm):
    page = f'width="{size}" height="{size}" viewBox="0 0 2 2"'
    drawing = read_svg(draw('<rect id="a" width="1" height="2"/>', page))
    assert drawing.size == pytest.approx((mm, mm), abs=1e-9)
    assert corners(drawing.shapes[0]) == box(0, 0, 25.4, 50.8)
    assert [f.code for f in drawing.findings] == (["size-in-pixels"] if size in ("192px", "192") else [])


@pytest.mark.parametrize(
    ("aspect", "at", "scale"),
    [
        # a 2 x 1 view box in a page of 4 x 4 in: SVG 1.1, 7.8
        ("xMidYMid meet", (0, 1), (2, 2)),
        ("xMinYMin meet", (0, 0), (2, 2)),
        ("xMaxYMax", (0, 2), (2, 2)),
        ("xMidYMid slice", (-2, 0), (4, 4)),
        ("xMaxYMin slice", (-4, 0), (4, 4)),
        ("none", (0, 0), (2, 4)),
    ],
)
def test_aspect(draw, aspect, at, scale):
    page = f'width="4in" height="4in" viewBox="10 20 2 1" preserveAspectRatio="{aspect}"'
    shape = read_svg(draw('<rect x="10" y="20" width="2" height="1"/>', page)).shapes[0]
    x, y = at
    expected = box(x * IN, y * IN, (x + 2 * scale[0]) * IN, (y + scale[1]) * IN)
    assert corners(shape) == expected


@pytest.mark.parametrize(
    "page",
    [
        "",
        'viewBox="0 0 5 5"',
        'width="100%" height="100%"',
        'width="5in"',
        'width="0in" height="5in"',
        'width="nan" height="1in"',
        'width="1e999in" height="1in"',
        'width="5 furlongs" height="1in"',
    ],
)
def test_a_drawing_must_say_its_size(draw, page):
    with pytest.raises(DrawingError, match=r"top\.svg: (width|height)"):
        read_svg(draw('<rect width="1" height="1"/>', page))


# --- transforms ------------------------------------------------------------------------------------------------

_steps = st.one_of(
    st.tuples(st.just("translate"), st.lists(st.floats(-50, 50), min_size=1, max_size=2)),
    st.tuples(st.just("scale"), st.lists(st.floats(0.2, 3), min_size=1, max_size=2)),
    st.tuples(st.just("rotate"), st.lists(st.floats(-180, 180), min_size=1, max_size=1)),
    st.tuples(st.just("rotate"), st.lists(st.floats(-180, 180), min_size=3, max_size=3)),
    st.tuples(st.just("skewX"), st.lists(st.floats(-60, 60), min_size=1, max_size=1)),
    st.tuples(st.just("skewY"), st.lists(st.floats(-60, 60), min_size=1, max_size=1)),
    st.tuples(st.just("matrix"), st.lists(st.floats(-3, 3), min_size=6, max_size=6)),
)


@given(st.lists(_steps, min_size=1, max_size=4))
@settings(max_examples=60, deadline=None)
def test_transform_lists_agree_with_another_reader(steps):
    text = " ".join(f"{name}({','.join(format(v, '.6f') for v in values)})" for name, values in steps)
    other = svgelements.Matrix(text)
    ours = parse_transform(text)
    expected = [[other.a, other.c, other.e], [other.b, other.d, other.f], [0, 0, 1]]
    np.testing.assert_allclose(ours, expected, rtol=1e-9, atol=1e-6)


@pytest.mark.parametrize(
    "text", ["turn(3)", "rotate(1 2)", "scale()", "matrix(1 2 3)", "rotate(a)", "rotate(9", "scale(1e999)"]
)
def test_a_transform_that_is_none_is_refused(text):
    with pytest.raises(ValueError, match=r"no transform|no number|not finite"):
        parse_transform(text)


PATHS = {
    "arcs": "M10 10 A 20 10 30 1 1 40 30 a5 5 0 0 1 10 0 L60 60",
    "packed flags": "M10 10a20 20 0 0130 10a8 8 0 1010 5",
    "curves": "M5 5C20 0 30 40 50 20S80 60 90 30Q70 80 40 70T10 80",
    "relative": "m5 5 10 0 0 10h-5v5l-5-3z m30 30 5 5 5-5z",
    "minified": "M.5.5 10-.5l-3 4.5.5 1e1",
}


@pytest.mark.parametrize("name", PATHS)
def test_path_points_agree_with_another_reader_after_transforms(draw, name):
    """svgelements reads the same file; its exact curves, sampled, lie on our chords to the tolerance, and ours on its.

    Its transform is put on its points: put on an arc unevenly scaled, svgelements 1.9.6 misses the true ellipse.
    """
    drawn = f'<path fill="none" d="{PATHS[name]}"/>'
    body = f'<g transform="translate(20 10) rotate(20)"><g transform="scale(1.5 .7)">{drawn}</g></g>'
    path = draw(body, 'width="200mm" height="200mm" viewBox="0 0 200 200"')
    ours = read_art(path)
    document = svgelements.SVG.parse(str(path), ppi=96, reify=False)
    (element,) = (e for e in document.elements() if isinstance(e, svgelements.Path))
    theirs, matrix = list(element.as_subpaths()), element.transform
    assert len(ours.paths) == len(theirs)
    for mine, closed, other in zip(ours.paths, ours.closed, theirs, strict=True):
        whole = LineString(np.vstack([mine, mine[:1]]) if closed else mine)
        segments = [s for s in svgelements.Path(other) if not isinstance(s, svgelements.Move)]
        points = [s.point(t) * matrix for s in segments for t in np.linspace(0, 1, 200)]
        exact = np.array([(p.x, p.y) for p in points]) * IN / 96
        assert max(whole.distance(Point(p)) for p in exact) < 0.0501
        assert max(LineString(exact).distance(Point(p)) for p in mine) < 0.02


@pytest.mark.parametrize("tolerance", [1.0, 0.1, 0.01, 0.001])
def test_curves_stray_from_their_chords_by_at_most_the_tolerance(tolerance):
    # a circle of radius 50: a chord's sagitta is the whole error; and the promise is used, not wasted (factor 3)
    (circle,) = flatten_path_data("M100 50A50 50 0 0 1 0 50A50 50 0 0 1 100 50Z", tolerance=tolerance)
    middles = (circle.points + np.roll(circle.points, -1, axis=0)) / 2
    sagitta = 50 - np.hypot(*(middles - 50).T).min()
    assert tolerance / 3 < sagitta <= tolerance
    # y = x^2 as a quadratic curve: the exact area below it is 1/3 (in units of 100 x 100)
    (curve,) = flatten_path_data("M0 0Q50 0 100 100", tolerance=tolerance)
    x, y = curve.points.T
    np.testing.assert_allclose(y, x**2 / 100, atol=1e-9)
    off = ((x[1:] - x[:-1]) ** 2 / 400).max()
    assert tolerance / 4 < off <= tolerance * (1 + 1e-9)


def test_tolerance_counts_on_the_cloth_not_in_the_drawing(draw):
    # a unit circle drawn at 1 unit = 5 in: without scaling the tolerance it would have 4 corners
    shape = read_svg(draw('<circle r="1" cx="1" cy="1"/>', 'width="10in" height="10in" viewBox="0 0 2 2"')).shapes[0]
    assert abs(Polygon(shape.shell).area - math.pi * (5 * IN) ** 2) < 0.05 * 2 * math.pi * 5 * IN


# --- elements --------------------------------------------------------------------------------------------------


def test_every_element_is_read(draw):
    body = """
      <rect id="plain" x="1" y="1" width="2" height="1"/>
      <rect id="round" width="4" height="2" rx="0.5"/>
      <circle id="dot" cx="5" cy="5" r="1"/><ellipse id="egg" cx="5" cy="5" rx="2" ry="1"/>
      <polygon id="three" points="0,0 1,0 1,1"/>
      <polyline id="open" points="0 0 1 1 2 0" fill="none"/><line id="straight" x1="1" x2="2" y2="1"/>"""
    drawing = read_svg(draw(body))
    areas = {s.name: Polygon(s.shell).area / IN**2 for s in drawing.shapes}
    # closed forms: 2; 8 less the corners' 4 r^2 - pi r^2; pi; 2 pi; 1/2
    expected = {"plain": 2, "round": 8 - 0.25 * (4 - math.pi), "dot": math.pi, "egg": 2 * math.pi, "three": 0.5}
    assert list(areas) == list(expected)
    for name, area in expected.items():
        assert areas[name] == pytest.approx(area, abs=0.02)
    assert {line.name: line.path.tolist() for line in drawing.lines} == {
        "open": [[0, 0], [pytest.approx(IN), pytest.approx(IN)], [pytest.approx(2 * IN), 0]],
        "straight": [[pytest.approx(IN), 0], [pytest.approx(2 * IN), pytest.approx(IN)]],
    }


def test_names_are_titles_then_ids_then_numbers(draw):
    body = """<rect id="a" width="1" height="1"><title> Plain
      square </title></rect><rect id="b" x="2" width="1" height="1"/><rect x="4" width="1" height="1"/>
      <path id="two" d="M0 2h1v1zM5 5h1v1z"/><path fill="none" stroke="red" d="M0 0 3 3"/>"""
    drawing = read_svg(draw(body))
    assert [s.name for s in drawing.shapes] == ["Plain square", "b", "patch-3", "two-1", "two-2"]
    assert [line.name for line in drawing.lines] == ["line-1"]


def test_use_places_copies(draw):
    body = """<defs><rect id="q" width="1" height="1"/><g id="pair"><use href="#q"/><use xlink:href="#q" x="2"/></g>
      <symbol id="s" viewBox="0 0 10 10"><rect width="10" height="5"/></symbol></defs>
      <use href="#q" x="1" y="2"><title>first</title></use>
      <use href="#pair" transform="translate(0 5)"/><use href="#s" id="sym" x="4" y="4" width="2" height="2"/>"""
    shapes = read_svg(draw(body)).shapes
    assert [s.name for s in shapes] == ["first", "q", "q", "sym-1"]
    assert corners(shapes[0]) == box(IN, 2 * IN, 2 * IN, 3 * IN)
    assert corners(shapes[2]) == box(2 * IN, 5 * IN, 3 * IN, 6 * IN)
    assert corners(shapes[3]) == box(4 * IN, 4 * IN, 6 * IN, 5 * IN)


def test_copies_of_a_group_are_told_apart(draw):
    body = """<defs><g id="pair"><rect id="a" width="1" height="1"/><circle r="1"/></g></defs>
      <use id="one" href="#pair"/><use id="two" href="#pair" x="4"/><g><use id="three" href="#a" x="3"/></g>"""
    assert [s.name for s in read_svg(draw(body)).shapes] == ["one-a", "one-2", "two-a", "two-2", "three"]


def test_nested_svg_has_its_own_view(draw):
    body = '<svg x="2" y="3" width="4" height="4" viewBox="0 0 8 8"><rect width="8" height="4"/></svg>'
    assert corners(read_svg(draw(body)).shapes[0]) == box(2 * IN, 3 * IN, 6 * IN, 5 * IN)


def test_colours_are_inherited_and_hidden_things_are_left_out(draw):
    body = """<style>.sky, .sea { fill: #08f } rect.no{fill:red} #own{fill:rgb(1, 2, 255)}</style>
      <g fill="#abc"><rect width="1" height="1"/><rect x="1" width="1" height="1" style="fill: #123456"/></g>
      <rect class="sea" x="2" width="1" height="1"/><rect id="own" x="3" width="1" height="1"/>
      <rect fill="Navy" x="4" width="1" height="1"/>
      <rect fill="url(#grey)" x="5" width="1" height="1"/>
      <rect x="6" width="1" height="1" fill="none" stroke="red"/>
      <rect x="8" width="1" height="1" fill="none"/>
      <g style="display:none"><rect width="1" height="1"/></g>
      <g visibility="hidden"><rect width="1" height="1"/>
      <rect id="back" x="7" visibility="visible" width="1" height="1"/></g>
      <clipPath><rect width="1" height="1"/></clipPath><text>hello</text>"""
    drawing = read_svg(draw(body))
    assert [s.colour for s in drawing.shapes] == [
        "#aabbcc", "#123456", "#0088ff", "#0102ff", "#000080", None, None, "#000000"
    ]  # fmt: skip
    assert drawing.shapes[-1].name == "back"
    assert [f.code for f in drawing.findings] == ["not-read", "not-painted", "figured-fabric"]


@pytest.mark.parametrize(("rule", "holes"), [("evenodd", 1), ("nonzero", 0)])
def test_holes_follow_the_fill_rule(draw, rule, holes):
    same_way = f'<path fill-rule="{rule}" d="M0 0h4v4h-4zM1 1h2v2h-2z"/>'
    (shape,) = read_svg(draw(same_way)).shapes
    assert len(shape.holes) == holes
    other_way = f'<path fill-rule="{rule}" d="M0 0h4v4h-4zM1 1v2h2v-2z"/>'
    (shape,) = read_svg(draw(other_way)).shapes
    assert len(shape.holes) == 1


def test_an_island_in_a_hole_is_a_shape_of_its_own(draw):
    d = "M0 0h9v9h-9zM1 1v7h7v-7zM3 3h2v2h-2z"
    outer, island = read_svg(draw(f'<path id="p" d="{d}"/>')).shapes
    assert (len(outer.holes), len(island.holes)) == (1, 0)
    assert (outer.name, island.name) == ("p-2", "p-1")  # as one reads: its middle lies higher


def test_closing_is_a_flag(draw):
    body = """<g stroke="#000">
      <path id="z" fill="none" d="M0 5h1v1z"/><path id="same" fill="none" d="M0 0H.1H.30000000000000004V1H0V0"/>
      <path id="near" d="M2 0h1v1h-1v-.98"/><path id="apart" d="M4 0h1v1h-1v-.9"/>
      <path id="outline" fill="none" d="M0 0h1v1h-1v-.98"/></g>"""
    drawing = read_svg(draw(body))
    # what is filled is closed by its paint, whatever its ends
    assert [(s.name, s.filled, s.open_ended) for s in drawing.shapes] == [
        ("z", False, False), ("same", False, False), ("near", True, False), ("apart", True, True)
    ]  # fmt: skip
    assert [line.name for line in drawing.lines] == ["outline"]
    assert [f.code for f in drawing.findings] == ["path-closed", "open-filled"]
    assert "1 filled" in drawing.findings[0].text


def test_pieces_of_no_length_are_counted(draw):
    body = '<path d="M0 0h1h0v1l0 0z"/><path d="M3 3"/><rect width="0" height="2"/><circle r="0"/><line x1="1" x2="1"/>'
    drawing = read_svg(draw(body))
    assert len(drawing.shapes) == 1
    (note,) = drawing.findings
    assert note.code == "no-length"
    assert note.text.startswith("6 pieces")


def test_art_keeps_the_order_and_the_drawn_size(draw):
    art = read_art(draw('<path fill="none" d="M0 0 1 1M2 2h1v1z"/><circle r="1" cx="3" cy="3"/>'))
    assert art.closed == (False, True, True)
    assert art.size == pytest.approx((254, 254))
    np.testing.assert_allclose(art.paths[1], np.array([[2, 2], [3, 2], [3, 3]]) * IN)
    with pytest.raises(DrawingError, match="draws nothing"):
        read_art(draw("<g/>"))


# --- what is refused -------------------------------------------------------------------------------------------

BOMB = '<?xml version="1.0"?><!DOCTYPE svg [<!ENTITY a "x"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;&a;&a;">]>'


def test_entities_and_outside_references_are_refused(draw, tmp_path):
    secret = tmp_path / "secret.txt"
    secret.write_text("secret")
    for before in (BOMB, f'<!DOCTYPE svg [<!ENTITY x SYSTEM "{secret.as_uri()}">]>'):
        with pytest.raises(DrawingError, match="entities"):
            read_svg(draw("<title>&b;</title>" if before is BOMB else "<title>&x;</title>", before=before))
    with pytest.raises(DrawingError, match="outside the file"):
        read_svg(draw('<use href="other.svg#a"/>'))
    with pytest.raises(DrawingError, match="outside the file"):
        read_svg(draw('<use xlink:href="http://example.org/a.svg#a"/>'))


def test_the_usual_doctype_is_no_danger(draw):
    dtd = "http://www.w3.org/Graphics/SVG/1.1/DTD/svg11.dtd"
    before = f'<?xml version="1.0"?><!DOCTYPE svg PUBLIC "-//W3C//DTD SVG 1.1//EN" "{dtd}">'
    assert len(read_svg(draw('<rect width="1" height="1"/>', before=before)).shapes) == 1


def test_copies_of_copies_end(draw, monkeypatch):
    monkeypatch.setattr(svg, "MOST_ELEMENTS", 2000)  # the same walk, ended sooner
    with pytest.raises(DrawingError, match="inside itself"):
        read_svg(draw('<g id="a"><use href="#b"/></g><g id="b"><use href="#a"/></g>'))
    levels = "".join(f'<g id="l{k}">' + 10 * f'<use href="#l{k - 1}"/>' + "</g>" for k in range(1, 9))
    with pytest.raises(DrawingError, match="elements"):
        read_svg(draw(f'<defs><rect id="l0" width="1" height="1"/>{levels}</defs><use href="#l8"/>'))
    with pytest.raises(DrawingError, match="levels of groups"):
        read_svg(draw("<g>" * 101 + "</g>" * 101))
    assert read_svg(draw("<g>" * 60 + '<rect width="1" height="1"/>' + "</g>" * 60)).shapes


@pytest.mark.parametrize(
    "d",
    ["L5 5", "M0 0L", "M0 0 1", "M0 0Lx 1", "M0 0L1e400 5", "M0 0Lnan 1", "Mnan 0 1 1", "M0 0 L1 1 !",
     "M0 0C1 1 2 2 1e200 1e200",
     "M0 0L1e100 0",
     "M1e308 0L-1e308 0A1e308 1 0 0 1 5 5", "M0 0A1e12 1e12 0 0 1 1e12 1"],
)  # fmt: skip
def test_broken_path_data_is_refused_by_name(draw, d):
    with pytest.raises(DrawingError, match=r"top\.svg: path 'bad'"):
        read_svg(draw(f'<path id="bad" d="{d}"/>'))


@pytest.mark.parametrize("text", ["", "no xml", "<html/>", "<svg", "\x00\x01"])
def test_what_is_no_svg_is_refused(tmp_path, text):
    path = tmp_path / "x.svg"
    path.write_text(text)
    with pytest.raises(DrawingError, match=r"x\.svg"):
        read_svg(path)
    with pytest.raises(DrawingError, match="is not there"):
        read_svg(tmp_path / "missing.svg")


def test_points_are_limited_while_they_are_made():
    many = "M0 0" + 1000 * "q50 0 100 100"
    assert len(flatten_path_data(many, tolerance=0.05, most_points=40_000)[0].points) < 40_000
    with pytest.raises(ValueError, match="too many points"):
        flatten_path_data(many, tolerance=1e-6, most_points=40_000)


def test_reading_twice_gives_the_same(draw):
    path = draw('<circle id="a" r="2" cx="4" cy="4"/><path d="M0 0C1 2 3 4 5 0z"/>')
    first, second = read_svg(path), read_svg(path)
    assert [s.shell.tobytes() for s in first.shapes] == [s.shell.tobytes() for s in second.shapes]
