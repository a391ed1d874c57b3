"""What is left to chance is drawn anew in each space; all else is alike, and so is what is asked to be."""

import numpy as np
import pytest

from plumeline.fills import fill_names, find_fill
from plumeline.plan import parse_plan
from plumeline.quilt import draw

PLAN = """
[top.blocks]
size = 4
rows = [["a", "a", "a"]]
[[zone]]
name = "z"
patches = ["a"]
each = "patch"
VARY
[zone.fill]
kind = "KIND"
"""


def drawings(kind, vary=""):
    """How many different drawings three blocks of one size have, each seen from its own corner."""
    drawn = draw(parse_plan(PLAN.replace("KIND", kind).replace("VARY", vary)))
    seen = set()
    for zone, filled in zip(drawn.zones, drawn.filled):
        left, top, _, _ = zone.outline.bounds
        corner = np.array([left, top])
        seen.add(b"".join(np.round(s.path - corner, 4).tobytes() for s in filled.strokes))
    assert len(drawn.filled) == 3
    return len(seen)


def test_three_fills_are_left_to_chance():
    assert {name for name in fill_names() if find_fill(name).by_chance} == {"meander", "curl", "pebble"}


@pytest.mark.parametrize("kind", ["meander", "curl", "pebble"])
def test_what_is_left_to_chance_is_drawn_anew_in_each_space(kind):
    assert drawings(kind) == 3
    assert drawings(kind, "vary = false") == 1


@pytest.mark.parametrize("kind", ["spiral", "crosshatch"])
def test_other_fills_are_alike(kind):
    assert drawings(kind) == 1


def test_alike_spaces_share_their_meander():
    assert drawings("meander", "alike = true") == 1


def test_a_zone_drawn_anew_is_not_taken_for_one_without_a_fill():
    """Only what has no fill is bare, also where each space has a chance of its own."""
    plan = parse_plan(
        '[top.blocks]\nsize = 6\nrows = [["a", "a", "b"]]\n'
        '[[zone]]\nname = "a"\npatches = ["a-*"]\neach = "patch"\n[zone.fill]\nkind = "meander"\nspacing = 1\n'
        '[[zone]]\nname = "b"\npatches = ["b-*"]\n'
    )
    drawn = draw(plan)
    assert [zone.label for zone in drawn.zones] == ["a", "a, 2"]
    assert [zone.label for zone in drawn.bare] == ["b"]
