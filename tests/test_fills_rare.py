"""Fills in rare settings and spaces, each against what it must look like by its plain geometry."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest
from shapely import LineString, Point, Polygon, box

import plumeline
from plumeline.fills import find_fill
from plumeline.fills.continuous_curve import arc_over
from plumeline.fills.meander import relax
from plumeline.fills.meander.opening import opened_at
from plumeline.geometry import disc, is_simple, outside_mm, path_length, turns
from plumeline.model import as_path
from plumeline.plan import parse_plan
from plumeline.quilt import draw
from shapes import rectangle, regular, ring, star, zone

IN = 25.4


def filled(kind, region, **settings):
    return plumeline.fill(kind, region, **settings)


def within(strokes, region):
    return outside_mm([s.path for s in strokes], region, closed=False) == 0


def sharpest(path):
    return float(np.degrees(np.abs(turns(path)).max()))


# ---- spirals of straight lines

SQUARE = rectangle(8, 8)


def test_a_straight_spiral_in_and_out_begins_and_ends_at_the_edge_with_even_gaps():
    """Two arms 1/2 in apart in 8 x 8 in: some 64 / 0.5 = 128 in of line less what is missing at the edge."""
    (stroke,) = filled("spiral", SQUARE, look="straight", corners="sharp", way="in-and-out", spacing="1/2 in").strokes
    assert is_simple(stroke.path) and within([stroke], SQUARE)
    edge = SQUARE.exterior
    assert max(edge.distance(Point(stroke.path[k])) for k in (0, -1)) < 1.1 * IN
    assert 100 < path_length(stroke.path) / IN < 128
    assert SQUARE.difference(LineString(stroke.path).buffer(0.8 * IN)).area < 0.01 * SQUARE.area


def test_a_straight_spiral_with_rounded_corners_has_none():
    sharp, soft = (
        filled("spiral", SQUARE, look="straight", corners=corners, way="to-the-middle", spacing="1/2 in").strokes[0]
        for corners in ("sharp", "round")
    )
    assert sharpest(sharp.path) == pytest.approx(90, abs=2)
    assert sharpest(soft.path) < 45 and within([soft], SQUARE)
    assert path_length(soft.path) == pytest.approx(path_length(sharp.path), rel=0.08)


@pytest.mark.parametrize(
    "region",
    [
        box(0, 0, 200, 200).difference(box(80, 80, 120, 120)),
        Polygon([(0, 0), (250, 0), (250, 80), (90, 80), (90, 250), (0, 250)]),
        disc((0.0, 0.0), 100.0),
    ],
    ids=["hole", "ell", "circle"],
)
def test_where_no_straight_spiral_goes_in_it_follows_the_edge(region):
    strokes = filled("spiral", region, look="straight", spacing="1/2 in").strokes
    assert strokes and within(strokes, region)
    assert all(is_simple(stroke.path) for stroke in strokes)
    lines = LineString(max((s.path for s in strokes), key=path_length))
    assert region.difference(lines.buffer(0.8 * IN)).area < 0.1 * region.area


@pytest.mark.parametrize("side", [2.2, 1.2, 0.8])
def test_a_small_space_has_no_straight_spiral_and_no_fault(side):
    """1 in from line to line: there is no room for the second arm, then for none at all."""
    region = rectangle(side, side)
    found = filled("spiral", region, look="straight", spacing="1 in")
    assert within(found.strokes, region)
    assert found.strokes or found.findings[0].code == "fill-too-small"


# ---- meander: corners that stay, nodes that go back


def test_corners_that_must_stay_are_not_cut():
    square = np.array([(0.0, 0), (10, 0), (10, 10), (0, 10)])
    every = relax._rounded(square, np.ones(4, dtype=bool), True)
    assert Polygon(every).symmetric_difference(Polygon(square)).area == pytest.approx(0, abs=1e-9)
    line = np.array([(0.0, 0), (10, 0), (10, 10), (20, 10)])
    one = relax._rounded(line, np.array([False, True, False, False]), False)
    assert (one[0] == line[0]).all() and (one[-1] == line[-1]).all()
    far = np.hypot(*(one[:, None] - line[None]).transpose(2, 0, 1)).min(axis=0)
    assert far[1] == pytest.approx(0) and far[2] > 0.5
    none = relax._rounded(line, np.zeros(4, dtype=bool), False)
    assert np.hypot(*(none - line[1]).T).min() > 0.5


def test_lines_are_rounded_only_where_that_lets_them_cross_nothing():
    """The tip of a wedge has another line's end right under it: cut, it would come down on that."""
    wedge = np.array([(0.0, 0), (10, 10), (20, 0)])
    post = np.array([(10.0, 9.0), (10, 0), (10, -20)])
    strands = relax._Strands.of([wedge, post], np.array([False, False]))
    tip, foot = relax._finished(strands)
    assert not LineString(tip).crosses(LineString(foot))
    assert np.hypot(*(tip - (10, 10)).T).min() == pytest.approx(0)
    crossing = relax._Strands.of([wedge, post + np.array([2, 5])], np.array([False, False]))
    assert relax._finished(crossing) is None


@pytest.mark.parametrize("stubborn", [False, True])
def test_nodes_that_cross_go_back_and_all_of_them_when_nothing_else_helps(stubborn):
    start = np.zeros((2000, 2))
    strands = SimpleNamespace(xy=np.ones((2000, 2)))

    def crossing(xy):
        bad = np.zeros(len(xy), dtype=bool)
        bad[1000] = stubborn or (xy[1000] != 0).any()
        return bad

    relax._take_back(strands, start, SimpleNamespace(crossing=crossing))
    moved = (strands.xy != start).any(axis=1)
    assert not moved[1000]
    assert moved.any() == (not stubborn)


def test_a_space_with_an_opening_is_cut_open_only_from_there():
    piece = ring(3, 1)
    assert opened_at(piece, (3 * IN, 0.0), 6.0, width_mm=1.0) is piece  # at the outer edge nothing needs a cut
    cut = opened_at(piece, (1 * IN, 0.0), 6.0, width_mm=1.0)
    assert not cut.interiors and piece.area - cut.area == pytest.approx(2 * IN * 1.0, rel=0.6)


def test_a_meander_along_a_narrow_strip_begins_at_the_end_where_it_is_entered():
    strip = rectangle(12, 0.6)
    for x in (0.0, 12 * IN):
        found = find_fill("meander")(
            zone(strip, enter=(x, 0.3 * IN)),
            find_fill("meander").settings.model_validate({"spacing": "1/2 in"}),
            rng=np.random.default_rng(1),
        )
        assert abs(found.strokes[0].path[0][0] - x) < 0.8 * IN


# ---- motifs

FRAME = Polygon(rectangle(14, 14).exterior.coords, [[(2 * IN, 2 * IN), (12 * IN, 2 * IN), (12 * IN, 12 * IN),
                                                     (2 * IN, 12 * IN)]])  # fmt: skip


def test_a_border_is_drawn_as_finely_as_its_density_wants():
    def tight(density):
        found = filled("motif", FRAME, art="leaf-border", density=density)
        return sum(path_length(s.path, closed=s.closed) for s in found.strokes) / FRAME.area * IN

    assert tight(3.0) > 1.3 * tight(1.5)
    assert tight(1.5) == pytest.approx(1.5, rel=0.35)


def test_repeats_of_a_border_are_stretched_so_that_whole_ones_go_in_and_that_is_told():
    """A frame of 3.4 in, 1.3 in wide: on a side of about 2 in there is one repeat or none."""
    short = box(0, 0, 3.4 * IN, 3.4 * IN).difference(box(1.3 * IN, 1.3 * IN, 2.1 * IN, 2.1 * IN))
    found = filled("motif", short, art="leaf-border")
    assert "the repeats are 21 % shorter than drawn, so that whole ones go in 1 in high" in found.findings[0].text
    assert found.strokes and within(found.strokes, short)


def test_a_motif_to_the_outline_takes_a_density_too():
    tighter, looser = (
        sum(
            path_length(s.path, closed=s.closed)
            for s in filled("motif", SQUARE, art="leaf", fit="outline", density=density).strokes
        )
        for density in (3.0, 1.0)
    )
    assert tighter > 1.2 * looser


def test_a_border_with_hardly_any_height_is_refused():
    thin = box(0, 0, 300, 4)
    found = filled("motif", thin, art="leaf-border")
    assert not found.strokes and found.findings[0].code == "fill-too-small"


# ---- others


def test_keys_in_a_round_space_are_square_to_its_longest_extent():
    oval = Polygon(np.column_stack([150 * np.cos(a := np.linspace(0, 6.2831, 200)[:-1]), 60 * np.sin(a)]))
    strokes = filled("channel", oval, piano_keys=True, spacing="1 in").strokes
    assert len(strokes) == pytest.approx(300 / IN, abs=1.5)
    assert all(abs(s.path[0][0] - s.path[-1][0]) < 1e-6 for s in strokes)


def test_rays_from_the_corner_of_a_round_space_meet_at_its_edge_and_a_rim_that_runs_out_is_open():
    circle = disc((0.0, 0.0), 100.0)
    strokes = [s for s in filled("rays", circle, at="corner", count=8).strokes if s.role == "stitch"]
    ends = np.array([s.path[k] for s in strokes for k in (0, -1)])
    assert strokes and np.hypot(*ends.T).max() == pytest.approx(100, abs=0.1)
    square = rectangle(8, 8)
    rimmed = filled("rays", square, at="corner", count=8, radius=50.8, rim=True).strokes
    arc = [s for s in rimmed if len(s.path) > 8]
    assert arc and not any(s.closed for s in arc)
    assert path_length(arc[0].path) == pytest.approx(np.pi / 2 * 50.8, rel=0.02)


def test_rows_in_a_frame_share_its_width_unless_their_spacing_is_said():
    """A frame 2 in wide: three rows share it; 1/4 in apart from the edge they lie 1/4, 1/2 and 3/4 in from it."""
    outer = Polygon(FRAME.exterior)
    said = filled("rings", FRAME, rows=3, spacing="1/4 in").strokes
    rows = [s for s in said if s.role == "stitch" and path_length(s.path, closed=True) > 40 * IN]
    depths = sorted(outer.exterior.distance(Point(s.path.mean(axis=0) * 0 + s.path[len(s.path) // 3])) for s in rows)
    assert np.array(depths) / IN == pytest.approx([0.25, 0.5, 0.75], abs=0.02)


def test_a_space_without_room_for_a_row_of_a_pattern_is_told():
    found = filled("edge-to-edge", rectangle(0.2, 0.2), art="leaf-border", height="4 in")
    assert not found.strokes and found.findings[0].code == "fill-too-small"


def test_a_side_without_length_or_an_arc_without_depth_stays_as_it_is():
    side = as_path([(0, 0), (100, 0)])
    assert arc_over(side, 0.0, tolerance_mm=0.05) is side
    assert arc_over(side, 10.0, tolerance_mm=0.05)[:, 1].max() == pytest.approx(10, abs=0.05)


def test_waves_of_a_feather_round_a_frame_may_be_counted():
    few, many = (
        sum(len(s.path) for s in filled("feather", FRAME, spines="wave", waves=waves).strokes) for waves in (2, 5)
    )
    assert few > 0 and many > 0 and few != many


PLAN = """\
[top.blocks]
size = 8
rows = [["a", "b"]]
[[guide]]
name = "spine-1"
points = [[1, 1], [4, 4], [7, 7]]
[[zone]]
name = "both"
patches = ["a-*", "b-*"]
each = "patch"
[zone.fill]
kind = "feather"
spines = "spine-*"
"""


def test_a_space_that_no_line_of_a_name_runs_through_has_its_spines_laid_for_it():
    drawn = draw(parse_plan(PLAN))
    auto = draw(parse_plan(PLAN.replace('"spine-*"', '"auto"')))
    first, second = drawn.filled
    other = auto.filled
    assert len(second.strokes) == len(other[1].strokes)
    assert all((a.path == b.path).all() for a, b in zip(second.strokes, other[1].strokes, strict=True))
    assert len(first.strokes) != len(other[0].strokes) or any(
        a.path.shape != b.path.shape for a, b in zip(first.strokes, other[0].strokes)
    )


def test_straight_rings_in_a_space_curved_on_purpose_are_its_rings():
    for region in (disc((0.0, 0.0), 100.0), star(5, 5, 2.4), regular(6, 4)):
        seam, straight = (filled("rings", region, follow=follow).strokes for follow in ("seam", "straight"))
        assert within(straight, region) and len(straight) == len(seam)
        assert sum(path_length(s.path) for s in straight) == pytest.approx(
            sum(path_length(s.path) for s in seam), rel=0.02
        )


def test_a_side_that_goes_almost_round_is_followed_all_the_way():
    """A disc of 70 mm with a point beside it: no arc stands over so short a chord, so it was left out.

    By hand: an arc moved square to a circle of 70 mm, by nothing at its ends and 1/2 in in its middle (1/8 of the side
    is more), lies between the circles of 70 mm and 70 - 12.7 mm.
    """
    t = np.linspace(0.5, 2 * np.pi - 0.5, 200)
    region = Polygon([*np.column_stack([70 * np.cos(t), 70 * np.sin(t)]).tolist(), (140.0, 0.0)])
    arcs = [s.path for s in filled("continuous-curve", region).strokes]
    assert len(arcs) == 3
    longest = max(arcs, key=path_length)
    away = np.hypot(*longest.T)
    assert away[[0, -1]] == pytest.approx(70, abs=1e-3)
    assert away.min() == pytest.approx(70 - 12.7, abs=0.1) and away.max() <= 70 + 1e-3
    assert abs(longest[np.argmin(away)][1]) < 2  # in the middle of the side, across from the point
    assert is_simple(longest)


@pytest.mark.parametrize("sides", [4, 6, 8, 11])
def test_chords_of_an_even_shape_are_all_there(sides):
    # each corner goes to the middles of all sides but its own two
    assert len(filled("chords", regular(sides, 4)).strokes) == sides * (sides - 2)


def test_chords_of_a_strip_are_its_own_mirror_image():
    # alike lines that leave a mark 5 degrees apart: both stay, or the strip would lose one half of its pattern
    chords = filled("chords", rectangle(14, 1.3)).strokes
    (left, top), (right, bottom) = (
        np.vstack([s.path for s in chords]).min(axis=0),
        np.vstack([s.path for s in chords]).max(axis=0),
    )
    ends = {frozenset(map(tuple, s.path[[0, -1]].round(2).tolist())) for s in chords}
    across = {frozenset((round(left + right - x, 2), y) for x, y in line) for line in ends}
    down = {frozenset((x, round(top + bottom - y, 2)) for x, y in line) for line in ends}
    assert len(chords) == 8 and across == ends and down == ends


def test_chords_down_a_narrow_leg_leave_a_mark_apart():
    """A zigzag of two legs 10 in long and 1 in wide: 7 degrees there are 1 1/4 in over the length of a leg."""
    leg = [(0, 0), (25, 0), (125, 200), (225, 0), (250, 0), (140, 254), (110, 254)]
    chords = filled("chords", Polygon(leg)).strokes
    ends = {}
    for s in chords:
        for a, b in ((s.path[0], s.path[-1]), (s.path[-1], s.path[0])):
            ends.setdefault(tuple(np.round(a, 3)), []).append(np.arctan2(*(b - a)[::-1]))
    apart = [abs(a - b) for ways in ends.values() for k, a in enumerate(ways) for b in ways[:k]]
    turns_apart = np.degrees([min(a, 2 * np.pi - a) for a in apart])
    assert len(chords) > 8 and turns_apart.min() >= 7 - 1e-6
    # what is left mirrors itself as the space does
    mirrored = {tuple(sorted(((250 - x).round(2), y.round(2)) for x, y in s.path[[0, -1]])) for s in chords}
    assert mirrored == {tuple(sorted((x.round(2), y.round(2)) for x, y in s.path[[0, -1]])) for s in chords}
