"""Guides that a plan writes out, against closed forms."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from plumeline.errors import PlanError, TopError, ZoneError
from plumeline.geometry import arc_lengths, boundary_distance, contains
from plumeline.pipeline.lookup import ZoneSources
from plumeline.pipeline.top import read_top
from plumeline.plan import parse_plan
from plumeline.specs import ArcSpec, GuideSpec, SpineSpec, WaveSpec
from plumeline.top import from_measures, made_guides
from plumeline.zones import make_zones

IN = 25.4
ON_POINT = """
[top.blocks]
setting = "on-point"
size    = 12
rows    = [["star", "star"], ["star", "star"]]
between = "plain"
borders = [{ name = "outer", width = 6 }]
[top.blocks.pieces]
star = { grid = 2 }
"""
SQUARE = '[top.measured]\nsides = [12, 12, 12, 12]\ndiagonals = ["16 31/32", "16 31/32"]\n'
VINE = '[[guide]]\nname = "vine"\n'
numbers = st.floats(-300, 300).map(lambda v: round(v, 3))


def guides(text, top=SQUARE):
    return read_top(parse_plan(top + text)).guides


def plain_top(side=300.0):
    return from_measures([side] * 4, [side * math.sqrt(2)] * 2)


@given(numbers, numbers, numbers, numbers, st.floats(0.5, 200), st.booleans())
def test_an_arc_is_part_of_the_circle_through_its_ends_and_its_rise(x, y, x2, y2, rise, other):
    chord = math.hypot(x2 - x, y2 - y)
    if chord < 1:
        return
    rise = -rise if other else rise
    path = made_guides(plain_top(), [GuideSpec("bow", arc=ArcSpec((x, y), (x2, y2), rise))])["bow"]
    assert path[0].tolist() == [x, y] and path[-1].tolist() == [x2, y2]
    # sagitta and chord give the radius: r = (c^2 / 4 + s^2) / 2 s; the crown lies left of the way when s > 0
    radius = (chord**2 / 4 + rise**2) / (2 * abs(rise))
    left = np.array([y2 - y, x - x2]) / chord
    middle = np.array([(x + x2) / 2, (y + y2) / 2]) + left * (rise - math.copysign(radius, rise))
    assert np.abs(np.hypot(*(path - middle).T) - radius).max() < 1e-6 * max(radius, 1)
    assert np.hypot(*(path[len(path) // 2] - middle)) == pytest.approx(radius)
    across = (path - [x, y]) @ left
    assert across[np.abs(across).argmax()] == pytest.approx(rise, abs=0.021)
    # a chord over an angle a is shorter than its arc by a^2 / 24 of it; chords stray at most 0.02 mm
    whole = radius * 4 * math.atan(2 * abs(rise) / chord)
    each = 2 * math.acos(1 - min(0.02 / radius, 1.0))
    assert whole * (1 - each**2 / 24) - 1e-6 <= arc_lengths(path)[-1] <= whole + 1e-6


@given(st.floats(20, 280), st.floats(1, 40), st.integers(1, 9))
def test_a_wave_crosses_its_middle_line_twice_a_wave_and_reaches_half_its_height(length, height, waves):
    spec = GuideSpec("w", wave=WaveSpec((0.0, 100.0), (length, 100.0), height, waves))
    path = made_guides(plain_top(), [spec])["w"]
    up = 100.0 - path[:, 1]
    assert path[0].tolist() == [0, 100] and path[-1].tolist() == [length, 100]
    assert up.max() == pytest.approx(height / 2, rel=0.02) and up.min() == pytest.approx(-height / 2, rel=0.02)
    assert up[1] > 0  # to the left of its way, which is up, first
    middle = np.abs(up) < 1e-9
    assert np.count_nonzero(np.diff(np.sign(up[~middle]))) == 2 * waves - 1
    assert up == pytest.approx(height / 2 * np.sin(2 * np.pi * waves * path[:, 0] / length), abs=1e-6)


def test_points_are_gone_through_smoothly_or_straight():
    points = "points = [[1, 1], [4, 3], [8, 9], [11, 11]]\n"
    knots = np.array([(1, 1), (4, 3), (8, 9), (11, 11)]) * IN
    straight = guides(f"{VINE}{points}straight = true\n")["vine"]
    assert straight == pytest.approx(knots)
    smooth = guides(VINE + points)["vine"]
    assert all(np.hypot(*(smooth - knot).T).min() < 1e-6 for knot in knots)
    steps = np.diff(smooth, axis=0)
    heading = np.unwrap(np.arctan2(steps[:, 1], steps[:, 0]))
    assert np.abs(np.diff(heading)).max() < math.radians(12) < math.radians(20)  # the polyline turns 20 deg and more
    ring = guides(f"{VINE}{points}closed = true\n")["vine"]
    assert ring[0].tolist() == ring[-1].tolist()


def test_one_guide_serves_every_block_of_a_kind_in_its_own_coordinates():
    text = f'{VINE}block = "star"\npoints = [[0, 0], [12, 12]]\n'
    top = read_top(parse_plan(ON_POINT + text))
    assert sorted(top.guides) == [f"vine in star-{r}-{c}" for r in (1, 2) for c in (1, 2)]
    # on point the block's own diagonal stands upright: 12 sqrt 2 long, from its top corner; 6 in of border lie round it
    diagonal = 12 * math.sqrt(2)
    for r in (1, 2):
        for c in (1, 2):
            x, y = 6 + (c - 0.5) * diagonal, 6 + (r - 1) * diagonal
            assert top.guides[f"vine in star-{r}-{c}"] == pytest.approx(
                np.array([(x, y), (x, y + diagonal)]) * IN, abs=1e-6
            )
            whole = [p.outline for p in top.patches if p.name.startswith(f"star-{r}-{c}-")]
            assert len(whole) == 4 and sum(o.area for o in whole) == pytest.approx((12 * IN) ** 2, rel=1e-6)
            assert min(o.bounds[0] for o in whole) / IN == pytest.approx(x - diagonal / 2, abs=1e-3)
            assert min(o.bounds[1] for o in whole) / IN == pytest.approx(y, abs=1e-3)


@pytest.mark.parametrize("setting", ['"straight"', '"on-point"'])
def test_blocks_lie_where_their_patches_do(setting):
    between = 'between = "plain"\n' if "point" in setting else "sashing = { width = 2, outer = true }\n"
    text = (
        f"[top.blocks]\nsetting = {setting}\nsize = 9\n{between}"
        'rows = [["a", "b", "a"], ["b", "a", "b"]]\n'
        'borders = [{ name = "in", width = 1 }, { name = "out", width = 4 }]\n'
        + "".join(
            f'[[guide]]\nname = "edge-{k}"\nblock = "{k}"\nstraight = true\nclosed = true\n'
            "points = [[0, 0], [9, 0], [9, 9], [0, 9]]\n"
            for k in ("a", "b")
        )
    )
    top = read_top(parse_plan(text))
    patches = {p.name: p.outline for p in top.patches}
    assert len(top.guides) == 6
    for name, path in top.guides.items():
        outline = patches[name.split(" in ")[1]]
        assert np.abs(boundary_distance(outline, path)).max() < 0.02


def test_a_zone_gets_the_guides_that_run_through_it():
    text = f'{VINE}block = "plain"\npoints = [[1, 1], [11, 11]]\n' + (
        '[[guide]]\nname = "bone"\npatch = "side-*"\nspine = { corner = "squarest" }\n'
        '[[zone]]\nname = "sides"\npatches = ["side-*"]\neach = "patch"\n'
    )
    plan = parse_plan(ON_POINT + text)
    top = read_top(plan)
    zones, _ = make_zones(top, plan.zones)
    assert len(zones) == 4
    for zone in zones:
        (path,) = ZoneSources(zone, top).guide("bone")
        # out of the right angle, half way between the legs, up to the middle of the long side: 12 / sqrt 2 in
        page = zone.frame.to_page(path)
        ends = math.dist(page[0], page[-1])
        assert ends == pytest.approx(12 / math.sqrt(2) * IN, abs=0.01)
        assert contains(zone.outline.buffer(0.01), page).all()
        with pytest.raises(Exception, match="none of its lines runs through this zone"):
            ZoneSources(zone, top).guide("vine")


@pytest.mark.parametrize(
    ("corner", "at"), [("top-left", (0, 0)), ("top-right", (1, 0)), ("bottom-right", (1, 1)), ("bottom-left", (0, 1))]
)
def test_a_spine_starts_at_the_corner_that_is_named_and_bows_as_said(corner, at):
    side, bow = 300.0, 10.0
    spec = GuideSpec("s", spine=SpineSpec(corner, 200.0, bow))
    path = made_guides(plain_top(side), [spec])["s"]
    start = np.array(at) * side
    assert path[0] == pytest.approx(start, abs=1e-6)
    heading = (np.array([side, side]) / 2 - start) / np.hypot(*(np.array([side, side]) / 2 - start))
    assert path[-1] == pytest.approx(start + 200 * heading, abs=1e-6)
    off = (path - start) @ np.array([heading[1], -heading[0]])
    assert off.max() == pytest.approx(20, rel=0.12) and off.min() == pytest.approx(-20, rel=0.12)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "says nothing of how it runs"),
        ("points = [[0, 0], [1, 1]]\narc = { from = [0, 0], to = [1, 1], rise = 1 }", "says points and arc"),
        ("spine = {}\nstraight = true", "only for points"),
        ("points = [[0, 0], [1, 1]]\nclosed = true", "at least three"),
        ("points = [[0, 0], [0, 0], [1, 1]]", "same point twice"),
        ('points = [[0, 0], [1, 1]]\npatch = "a"\nblock = "b"', "has patch and block"),
        ("arc = { from = [0, 0], to = [0, 0], rise = 1 }", "has no bend"),
        ("wave = { from = [0, 0], to = [0, 0], height = 1 }", "ends must lie apart"),
        ('spine = { corner = "topleft" }', "must be one of squarest"),
        ("spine = { bow = 40 }", "must be at most 25"),
        ("pionts = [[0, 0], [1, 1]]", "Did you mean 'points'"),
    ],
)
def test_a_guide_that_cannot_be_used_is_refused(text, message):
    with pytest.raises(PlanError, match=message):
        parse_plan(f"{SQUARE}{VINE}{text}\n")


@pytest.mark.parametrize(
    ("top", "text", "message"),
    [
        (SQUARE, 'block = "star"', "no table of blocks.*Say patch instead"),
        (ON_POINT, 'block = "stra"', "Did you mean 'star'"),
        (ON_POINT, 'patch = "sode-*"', "patch 'sode-\\*' is not there"),
    ],
)
def test_a_place_that_is_not_there_is_named(top, text, message):
    with pytest.raises(TopError, match=f"guide 'vine'.*{message}"):
        guides(f"{VINE}{text}\npoints = [[0, 0], [1, 1]]\n", top)


def test_two_guides_of_one_name_are_refused():
    with pytest.raises(TopError, match="guide 'vine': is the name of two guides"):
        guides(2 * f"{VINE}points = [[0, 0], [1, 1]]\n")


def test_fences_and_dividing_lines_may_be_guides_of_the_plan():
    text = f'{VINE}patch = "plain-*"\npoints = [[2, 9], [14, 9]]\n' + (
        '[[guide]]\nname = "limit"\nblock = "plain"\npoints = [[4, -1], [4, 13]]\n'
        '[[zone]]\nname = "plain"\npatches = ["plain-*"]\nfences = ["limit"]\n'
        'divide = [{ by = "line", line = "vine" }]\n'
    )
    plan = parse_plan(ON_POINT + text)
    zones, findings = make_zones(read_top(plan), plan.zones)
    assert [zone.part for zone in zones] == ["side-1", "side-2"]
    assert not [f for f in findings if f.code == "fence-outside"]
    # a horizontal line 9 in below the top corner of the box round the square: what is above has its corner up
    above = max(zones, key=lambda zone: -zone.outline.centroid.y)
    assert above.part == "side-1" and above.outline.area == pytest.approx(
        (12**2 - (12 * math.sqrt(2) - 9) ** 2) * IN**2
    )
    with pytest.raises(ZoneError, match="'limti' is the name of no guide"):
        bad = parse_plan(ON_POINT + text.replace('fences = ["limit"]', 'fences = ["limti"]'))
        make_zones(read_top(bad), bad.zones)
