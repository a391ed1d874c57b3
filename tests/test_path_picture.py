"""The preview: its words stay on the page, its tapes count as plans do."""

import re
from xml.etree.ElementTree import fromstring

import numpy as np
import pytest

from plumeline.geometry import as_region
from plumeline.model import Line, Patch, Span, Top, as_path
from plumeline.output.path_picture import Window, _d, _n, path_svg

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
    svg = picture(20 * IN_MM, 30 * IN_MM, path_marks=False)
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
        assert _d(points, closed=True) == "M" + "L".join(f"{_n(x)},{_n(y)}" for x, y in points.tolist()) + "Z"


def test_only_a_close_up_is_cut_off_at_its_window():
    clipped = [
        [g for g in p.iter(f"{SVG}g") if g.get("clip-path")]
        for p in (picture(300, 300), picture(300, 300, window=Window(50, 50, 100, 100)))
    ]
    assert [len(c) for c in clipped] == [0, 1]
