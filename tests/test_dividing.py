"""Ways of breaking up a space, against the zones that the pipeline makes of the same division."""

import numpy as np
import pytest
from shapely import Polygon

from plumeline.dividing import divisions_for
from plumeline.plan import parse_plan
from plumeline.quilt import draw

PLAN = """\
title = "Four and a border"
[top.blocks]
setting = "straight"
size = 6
rows = [["block", "block"], ["block", "block"]]
borders = [{{ name = "border", width = 3 }}]
[[zone]]
name = "blocks"
patches = ["block-*"]
each = "patch"
{divide}
[[zone]]
name = "border"
patches = ["border-*"]
"""


def spelled(steps):
    return "divide = [" + ", ".join("{ " + ", ".join(f"{k} = {v!r}" for k, v in s.items()) + " }" for s in steps) + "]"


@pytest.fixture(scope="module")
def whole():
    return draw(parse_plan(PLAN.format(divide="")))


def test_each_way_shows_the_parts_that_the_plan_would_get(whole):
    here = next(zone for zone in whole.bare if zone.name == "blocks")
    ways = divisions_for(whole, here)
    assert [way.words for way in ways][:3] == ["whole", "a frame", "on point"]
    for way in ways[1:]:
        made = draw(parse_plan(PLAN.format(divide=spelled(way.steps)))).bare
        inside = [z.outline for z in made if here.outline.contains(z.outline.representative_point())]
        wanted = sorted(ring.length for part in inside for ring in (part.exterior, *part.interiors))
        np.testing.assert_allclose(sorted(Polygon(p).exterior.length for p in way.parts), wanted, err_msg=way.words)


def test_a_line_is_offered_where_it_parts_the_whole_zone_only(whole):
    of = {zone.name: [way.words for way in divisions_for(whole, zone)] for zone in whole.bare}
    assert "a line across" not in of["blocks"] and "a line across" in of["border"]
