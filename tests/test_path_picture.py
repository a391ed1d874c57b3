"""The path picture: its words stay on the page, its tapes count as plans do."""

import re
from itertools import combinations, pairwise
from xml.etree.ElementTree import fromstring

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from plumeline.geometry import as_region
from plumeline.model import Line, Patch, Span, Top, as_path
from plumeline.output._frame import short, short_path
from plumeline.output.path_picture import Window, path_svg
from plumeline.output.svg import STYLE

IN_MM = 25.4

SVG = "{http://www.w3.org/2000/svg}"
LONG = "33 continuous lines: starts and stops are numbered, green where a line starts, red where it stops (32 at most)."


def picture(width, height, **more):
    outline = as_region(np.array([(0, 0), (width, 0), (width, height), (0, height)], dtype=float))
    top = Top((Patch("p", outline),), (), {}, (width, height))
    ways = [as_path([(10, 10 + k), (width - 10, 10 + k)]) for k in range(6)]
    kinds = ("stitch", "backtrack", "seam", "edge", "step", "stitch")
    lines = [Line(path, (Span(0, 1, kind),)) for path, kind in zip(ways, kinds)]
    return fromstring(path_svg(top, lines, title="Harbour windows, 40 in x 52 in", caption=(LONG, LONG), **more))


@given(st.lists(st.integers(-3, 13), min_size=4, max_size=4))
def test_a_window_touches_what_meets_it(ends):
    a, b, c, d = ends
    view, level = Window(0.0, 5.0, 10.0, 4.0), np.array([(a, b), (c, b)], dtype=float)
    assert [at.tolist() for at in view.corners] == [[0, 5], [10, 9]]
    # of a level or upright line the box is the line itself: shapely as the other hand
    assert view.touches(level) == shapely.LineString(level).intersects(shapely.box(0, 5, 10, 9))
    upright = np.array([(a, b), (a, d)], dtype=float)
    assert view.touches(upright) == shapely.LineString(upright).intersects(shapely.box(0, 5, 10, 9))


@pytest.mark.parametrize("size", [(1000, 1000), (1016, 1320), (600, 2000), (2400, 800)])
def test_all_words_stay_on_the_page(size):
    svg = picture(*size)
    left, upper, width, height = map(float, svg.get("viewBox").split())
    texts = [t for t in svg.iter(f"{SVG}text") if t.get("fill") == "#2b2118"]
    assert "starts and stops are numbered" in " ".join(t.text for t in texts)
    places = []
    for t in texts:
        x, y, em = float(t.get("x")), float(t.get("y")), float(t.get("font-size"))
        wide = 0.62 if t.get("font-weight") == "bold" else 0.53  # of this font's letters in English text, in ems
        assert x >= left
        assert x + wide * em * len(t.text) < left + width
        assert upper < y < upper + height - 0.2 * em
        places.append((x, y))
    assert len(set(places)) == len(places)


def test_the_tapes_count_from_the_left_and_from_the_top():
    svg = picture(20 * IN_MM, 30 * IN_MM)
    tapes = [g for g in svg.iter(f"{SVG}g") if "rotate" in g.get("transform", "")]
    for tape, corner in zip(tapes, ((0, 30), (0, 0)), strict=True):
        x, y, turn = map(float, re.match(r"translate\((.*),(.*)\) rotate\((.*)\) ", tape.get("transform")).groups())
        assert (x / IN_MM, y / IN_MM) == pytest.approx(corner, abs=1e-3)
        assert turn in (0, 90)
        numbers = [int(t.text) for t in tape.iter(f"{SVG}text")]
        assert numbers == sorted(numbers)
        assert numbers[0] == 0


def test_paths_are_written_as_single_numbers_are():
    rng = np.random.default_rng(5)
    for points in (rng.normal(size=(500, 2)) * 100, np.round(rng.normal(size=(500, 2)), 1), np.array([[-0.001, 10.0]])):
        assert (
            short_path(points, closed=True)
            == "M" + "L".join(f"{short(x)},{short(y)}" for x, y in points.tolist()) + "Z"
        )


def test_only_a_close_up_is_cut_off_at_its_window():
    clipped = [
        [g for g in p.iter(f"{SVG}g") if g.get("clip-path")]
        for p in (picture(300, 300), picture(300, 300, window=Window(50, 50, 100, 100)))
    ]
    assert [len(c) for c in clipped] == [0, 1]


def boxes_of(svg):
    """Return the box of each badge, from its own outline."""
    out = []
    for badge in (g for g in svg.iter(f"{SVG}g") if g.get("class") == "badge"):
        rect, path = badge.find(f"{SVG}rect"), badge.find(f"{SVG}path")
        if rect is not None:
            x, y, w, h = (float(rect.get(k)) for k in ("x", "y", "width", "height"))
            out.append((badge.find(f"{SVG}text").text, (x, y, x + w, y + h)))
        else:
            at = np.array([float(v) for v in re.findall(r"-?[\d.]+", path.get("d"))]).reshape(-1, 2)
            out.append((badge.find(f"{SVG}text").text, (*at.min(axis=0), *at.max(axis=0))))
    return out


@given(st.lists(st.tuples(st.integers(0, 20), st.integers(0, 20)), min_size=2, max_size=24), st.booleans())
@settings(max_examples=25, deadline=None)
def test_no_badge_covers_another_or_any_mark(places, joined):
    """Starts and stops on a coarse grid meet on purpose; a stop for the bobbin starts where the line before stopped."""
    outline = as_region(np.array([(0, 0), (1000, 0), (1000, 1000), (0, 1000)], dtype=float))
    at = np.array(places, dtype=float) * 50
    lines, begin = [], at[0]
    for end in at[1:]:
        lines.append(Line(as_path([begin, begin + np.array([7, 3]), end]), (Span(0, 2, "stitch"),)))
        begin = end if joined else end[::-1]
    top = Top((Patch("p", outline),), (), {}, (1000, 1000))
    boxes = boxes_of(fromstring(path_svg(top, lines, title="t", caption=())))
    assert {text for text, _ in boxes} == {f"{word} {k + 1}" for k in range(len(lines)) for word in ("start", "stop")}
    for (_, a), (_, b) in combinations(boxes, 2):
        assert a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1]
    ends = [p for line in lines for p in (line.path[0], line.path[-1])]
    for _, (left, upper, right, lower) in boxes:
        assert not any(left < x < right and upper < y < lower for x, y in ends)


def test_start_and_stop_differ_in_shape_and_word():
    svg = picture(300, 300)
    badges = [g for g in svg.iter(f"{SVG}g") if g.get("class") == "badge"]
    words = {g.find(f"{SVG}text").text.split()[0]: g.find(f"{SVG}rect") is not None for g in badges}
    assert words == {"start": True, "stop": False}


def test_the_key_draws_lines_as_they_are_drawn_and_in_the_colours_of_the_drawing():
    svg = picture(300, 300)
    drawn = {p.get("class"): p for p in svg.iter(f"{SVG}path") if p.get("class")}
    samples = [p for p in svg.iter(f"{SVG}path") if re.fullmatch(r"M\S+h\S+", p.get("d", "")) and p.get("stroke-width")]
    looks = [{k: p.get(k) for k in ("stroke", "stroke-width", "stroke-dasharray")} for p in samples]
    for kind, path in drawn.items():
        assert {k: path.get(k) for k in ("stroke", "stroke-width", "stroke-dasharray")} in looks, kind
    rules = dict(re.findall(r"\.([a-z-]+){stroke:(#[0-9a-f]{6})}", STYLE))
    names = {"seam": "seam-travel", "edge": "edge-travel"}
    assert set(drawn) >= {"stitch", "backtrack", "seam", "edge", "step", "jump"}
    for kind, path in drawn.items():
        assert path.get("stroke") == rules[names.get(kind, kind)]


def test_the_key_of_a_close_up_tells_only_of_what_is_seen():
    """Lines go from 10 to 290 mm across: in the middle there is no start and no stop, and rests only where they are."""
    middle, left, near = Window(120, 0, 60, 60), Window(0, 0, 60, 60), np.array([(150.0, 12.0)])
    said = [
        [t.text for t in picture(300, 300, window=w, rests=rests).iter(f"{SVG}text")]
        for w, rests in ((middle, ()), (left, near), (middle, near))
    ]
    assert ["where a line starts" in words for words in said] == [False, True, False]
    assert ["where it stops" in words for words in said] == [False, False, False]
    assert ["a place to rest" in words for words in said] == [False, False, True]


def test_a_space_that_is_no_rectangle_has_no_box_for_a_shadow():
    outline = as_region(np.array([(0, 0), (200, 0), (100, 180)], dtype=float))
    top = Top((Patch("p", outline),), (), {}, (200, 180))
    line = Line(as_path([(60, 40), (140, 40)]), (Span(0, 1, "stitch"),))
    svg = fromstring(path_svg(top, [line], title="t", caption=()))
    assert not list(svg.iter(f"{SVG}filter"))
    page, *others = [r for r in svg.iter(f"{SVG}rect") if r.get("fill") and r.get("fill") != "#f0cf6e"]
    assert page.get("fill") == "#f4f0e8"
    assert not [r for r in others if float(r.get("width")) > 100 and r.get("stroke") is None]


@settings(deadline=None, max_examples=30)
@given(st.lists(st.tuples(st.integers(0, 400), st.integers(0, 400)), min_size=2, max_size=12, unique=True))
def test_a_close_up_draws_just_the_stretches_that_touch_its_window(corners):
    # segments whose box meets the window, no more and no less
    outline = as_region(np.array([(0, 0), (400, 0), (400, 400), (0, 400)], dtype=float))
    path = as_path(corners)
    quilt = Top((Patch("p", outline),), (), {}, (400, 400))
    window = Window(100.0, 150.0, 120.0, 90.0)
    line = Line(path, (Span(0, len(path) - 1, "stitch"),))
    svg = fromstring(path_svg(quilt, [line], title="t", caption=("c",), window=window))
    drawn = "".join(p.get("d") for p in svg.iter(f"{SVG}path") if p.get("class") == "stitch")
    pieces = [np.array(re.findall(r"-?[\d.]+", d), dtype=float).reshape(-1, 2) for d in drawn.split("M")[1:]]
    segments = [(shapely.LineString(ends), *shapely.LineString(ends).bounds) for ends in pairwise(path)]
    near = [s for s, left, top, right, low in segments if left <= 220 and right >= 100 and top <= 240 and low >= 150]
    assert sum(shapely.LineString(p).length for p in pieces) == pytest.approx(sum(s.length for s in near), abs=0.5)
    if near:
        assert shapely.MultiLineString(pieces).hausdorff_distance(shapely.MultiLineString(near)) < 0.5
