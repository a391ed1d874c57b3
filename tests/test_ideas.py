"""Ideas for a space: every reason that is given is true of it, and every true one is given."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from plumeline.errors import ZoneError
from plumeline.ideas import STRAIGHT, drawn_in, each_idea, ideas_for
from plumeline.plan import parse_plan
from plumeline.quilt import draw

PLAN = """
title = "Triangle"
[top.measured]
sides = [{sides}]
{also}
[machine]
guided = "{guided}"
[batting]
widest_gap = 2
[[zone]]
name = "block"
patches = ["*"]
divide = [{divide}]
"""

FRAME = '{ by = "frame", width = "1 1/2" }'


def ideas(guided, sides, *, also="", divide="", zone="block", part=""):
    text = PLAN.format(guided=guided, sides=sides, also=also, divide=divide)
    return ideas_for(draw(parse_plan(text)), zone, part=part)


def why(idea):
    return {reason.text for reason in idea.reasons}


@pytest.fixture(scope="module")
def triangle():
    return ideas("ruler", "10, 10, 10")


def test_a_triangle_quilted_with_a_ruler(triangle):
    assert len(triangle) > 3
    for idea in triangle:
        kind = idea.stack[0]["kind"]
        assert ("straight lines suit the ruler" in why(idea)) == (kind in STRAIGHT)
        assert ("grows from a corner of the triangle" in why(idea)) == (kind in ("feather", "rays", "echo"))
        assert ("one line" in why(idea)) == (idea.lines == 1)
        assert (f"{idea.lines} starts and stops" in why(idea)) == (idea.lines > 6)
        assert any("more than the batting's" in said for said in why(idea)) == (idea.widest_gap_mm > 50.8)
        by_hand = [said for said in why(idea) if " by hand (" in said]
        assert len(by_hand) == (idea.by_hand != "fair")
        assert all(said.startswith(idea.by_hand) for said in by_hand)


def test_the_best_comes_first_and_weighty_reasons_before_slight_ones(triangle):
    points = [idea.points for idea in triangle]
    assert points == sorted(points, reverse=True)
    for idea in triangle:
        assert idea.points == sum(reason.weight for reason in idea.reasons)
        weights = [abs(reason.weight) for reason in idea.reasons]
        assert weights == sorted(weights, reverse=True)


def test_figures_are_those_of_the_lines_drawn(triangle):
    for idea in triangle:
        lines = [shapely.LineString(path) for path in idea.paths]
        edge = shapely.Polygon(idea.outline[0])
        assert 0.85 * edge.area < idea.area_mm2 <= edge.area  # less what is kept clear of the edge
        assert all(edge.buffer(0.1).covers(line) for line in lines)
        # seen line is never longer than what is sewn
        assert idea.tight <= sum(line.length for line in lines) / 25.4 / (idea.area_mm2 / 25.4**2) * 1.001


def test_a_computer_is_told_nothing_of_hands_and_rulers():
    for idea in ideas("computer", "2, 2, 2, 2", also="diagonals = [2.828, 2.828]"):
        assert not any("by hand (" in said or "ruler" in said for said in why(idea))
        plain = idea.stack[0]["kind"] in ("continuous-curve", "outline", "chords")
        assert ("plain enough for a small space" in why(idea)) == plain


def test_a_part_or_a_zone_that_is_not_there_names_those_that_are():
    with pytest.raises(ZoneError, match=r"its zones are block.*Did you mean 'block'"):
        ideas("computer", "4, 4, 4", zone="blok")
    with pytest.raises(ZoneError, match=r"has no part 'frme'; its parts are frame, inside"):
        ideas("computer", "10, 10, 10", divide='{ by = "frame", width = 1 }', part="frme")


def test_one_part_of_a_divided_space_has_ideas_of_its_own():
    whole = shapely.Polygon(ideas("computer", "10, 10, 10")[0].outline[0])
    inner = ideas("computer", "10, 10, 10", divide='{ by = "frame", width = 1 }', part="inside")
    for idea in inner:
        space = shapely.Polygon(idea.outline[0])
        assert whole.exterior.distance(space) > 24.0
        assert np.sqrt(space.area) < np.sqrt(whole.area)


BORDER = """
title = "Four strips"
[top.blocks]
setting = "straight"
size = 12
rows = [["block", "block"], ["block", "block"]]
borders = [{ name = "border", width = 3 }]
[[zone]]
name = "border"
patches = ["border-*"]
each = "patch"
"""


def test_channels_run_along_a_strip_however_it_lies():
    drawn = draw(parse_plan(BORDER))
    strips = drawn.bare
    assert len(strips) == 4
    for zone in strips:
        channels = next(i for i in ideas_for(drawn, "border", number=zone.number) if i.name == "channels")
        assert "runs along a long narrow space" in why(channels)
        left, top, right, bottom = zone.region.bounds
        along = np.array([1.0, 0.0]) if right - left > bottom - top else np.array([0.0, 1.0])
        for path in channels.paths:
            way = (path[-1] - path[0]) / np.hypot(*(path[-1] - path[0]))
            assert abs(way @ along) == pytest.approx(1.0, abs=1e-6)
        # as it goes into the plan, the choice does so in all four strips
        for other in strips:
            lines = drawn_in(drawn, other, channels.stack).strokes
            spans = np.abs([line.path[-1] - line.path[0] for line in lines])
            box = np.array(other.region.bounds)
            assert (spans.argmax(axis=1) == (box[2:] - box[:2]).argmax()).all()


def test_straight_lines_are_not_said_to_run_along_a_frame():
    frame = ideas("computer", "20, 20, 20, 20", also="diagonals = [28.284, 28.284]", divide=FRAME, part="frame")
    said = {idea.name: why(idea) for idea in frame}
    assert "runs along a long narrow space" in said["rings"]
    assert "runs along a long narrow space" not in said["channels"]


def test_ideas_that_processes_share_are_the_same():
    text = PLAN.format(guided="computer", sides="22, 22, 22, 22", also="diagonals = [31.11, 31.11]", divide="")
    drawn = draw(parse_plan(text))
    alone, shared = (list(each_idea(drawn, "block", workers=many)) for many in (1, 2))
    assert [idea.name for idea in alone] == [idea.name for idea in shared]
    for one, other in zip(alone, shared):
        assert one.reasons == other.reasons and one.minutes == other.minutes
        for path, same in zip(one.paths, other.paths, strict=True):
            np.testing.assert_array_equal(path, same)
