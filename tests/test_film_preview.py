"""What is shown while a hand moves marks on the film is what other marks alone would give."""

from __future__ import annotations

import numpy as np
import pytest

from plumeline.film import Mark, grown_with, marks_on, with_marks
from plumeline.plan import parse_plan
from plumeline.quilt import draw

PLAN = """
[top.blocks]
setting = "straight"
size = 10
rows = [["block"]]
[[zone]]
name = "block"
patches = ["*"]
inset = "1/2"
[zone.fill]
kind = "meander"
spacing = 1
"""

LINES = {
    "straight": [(0, 100), (254, 120)],
    "straight, over the edge": [(-5, 100), (260, 120)],
    "straight, within": [(60, 100), (200, 120)],
    "curved": [(-5, 100), (100, 140), (260, 120)],
}


def fence(points):
    return Mark("fence", np.array(points, dtype=float))


def strokes(drawn, zone, marks):
    return [(s.path.tolist(), s.closed) for s in grown_with(drawn, zone, marks).strokes]


@pytest.mark.parametrize("name", LINES)
def test_a_fence_that_is_moved_is_not_where_it_was_as_well(name):
    plain = draw(parse_plan(PLAN))
    (bare,) = plain.zones
    text = with_marks(PLAN, plain, bare, [fence(LINES[name])])
    marked = draw(parse_plan(text))
    (zone,) = marked.zones
    assert len(zone.fences) == len(marks_on(marked, zone)) == 1
    moved = [fence([(x, y + 40) for x, y in LINES[name]])]
    assert strokes(marked, zone, moved) == strokes(plain, bare, moved)
    assert strokes(marked, zone, []) == strokes(plain, bare, [])


def test_a_fence_of_the_plan_stays_while_those_on_the_film_move():
    text = PLAN.replace('inset = "1/2"', 'inset = "1/2"\nfences = [[[5, -1], [5, 11]]]')
    drawn = draw(parse_plan(text))
    (zone,) = drawn.zones
    crossed = [fence(LINES["straight"])]
    assert strokes(drawn, zone, crossed) != strokes(drawn, zone, [])
    for path, _ in strokes(drawn, zone, crossed):
        x = np.array(path)[:, 0]
        assert x.max() <= 127 + 1e-6 or x.min() >= 127 - 1e-6  # 5 in: nothing goes over it
