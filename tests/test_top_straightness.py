"""Tape measures, and how straight seams are."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plumeline.drawing import Shape
from plumeline.errors import TopError
from plumeline.geometry import as_region
from plumeline.model import as_path
from plumeline.top import (
    Pieces,
    assemble,
    crooked_seams,
    from_blocks,
    from_measures,
    off_true_mm,
    sides_out_of_true,
)
from test_top_blocks import ON_POINT, STAR
from test_top_drawing import check, shape, square

IN = 25.4


def measures(corners):
    a, b, c, d = corners
    return [math.dist(*p) for p in ((a, b), (b, c), (c, d), (d, a))], [math.dist(a, c), math.dist(b, d)]


# --- tape measures ---------------------------------------------------------------------------------------------

_wander = st.tuples(st.floats(-20, 20), st.floats(-20, 20))


@given(st.tuples(_wander, _wander, _wander, _wander), st.sampled_from([100.0, 356.0, 900.0]))
@settings(max_examples=40, deadline=None)
def test_true_measures_give_the_shape_back(moves, size):
    corners = np.array([(0, 0), (size, 0), (size, size), (0, size)]) + np.array(moves)
    sides, diagonals = measures(corners)
    top = from_measures(sides, diagonals)
    ring = np.array(top.patches[0].outline.exterior.coords)[:-1]
    assert not top.findings
    # the same distances between all corners, turned the same way round: the same shape
    start = min(range(4), key=lambda k: abs(math.dist(ring[k], ring[(k + 1) % 4]) - sides[0])
                + abs(math.dist(ring[(k + 1) % 4], ring[(k + 2) % 4]) - sides[1])
                + abs(math.dist(ring[k], ring[(k + 2) % 4]) - diagonals[0]))  # fmt: skip
    got = measures(np.roll(ring, -start, axis=0))
    np.testing.assert_allclose(got[0] + got[1], sides + diagonals, atol=1e-6)
    x, y = corners.T
    area = 0.5 * abs((x * np.roll(y, -1) - np.roll(x, -1) * y).sum())
    assert top.patches[0].outline.area == pytest.approx(area, rel=1e-8)
    check(top)


def test_a_measure_too_many_is_shared_out_and_said():
    # A 14 in square whose second diagonal was read e = 1/8 in long. Least squares leaves what no change of shape can
    # take up. Growing a square by 1 grows its diagonals by sqrt 2, so that is along w = (1, 1, 1, 1, -sqrt 2, -sqrt 2),
    # |w|^2 = 8: the diagonals miss by e x 2 / 8 = 1/32 in each, the sides by e x sqrt 2 / 8.
    side, long = 14 * IN, 14 * math.sqrt(2) * IN
    top = from_measures([side] * 4, [long, long + IN / 8])
    (finding,) = top.findings
    assert finding.code == "measures-misfit"
    assert finding.severity == "note"
    got = measures(np.array(top.seams[0].path)[:-1])
    off = np.array(got[0] + got[1]) - np.array([side] * 4 + [long, long + IN / 8])
    expected = np.array([math.sqrt(2)] * 4 + [-2, -2]) / 64 * IN
    np.testing.assert_allclose(off, expected, rtol=0.01)
    assert "1/32 in" in finding.text


def test_a_triangle_by_three_sides():
    top = check(from_measures([5 * IN, 4 * IN, 3 * IN]), area_in=6)
    assert top.size[0] == pytest.approx(5 * IN)
    assert top.patches[0].name == "block"


@pytest.mark.parametrize(
    ("sides", "diagonals", "says"),
    [
        ([10, 10, 30], [], "make no triangle: 1 3/16 in is longer than the other two together"),
        ([10, 10, 20], [], "as long as"),
        ([355, 355, 355, 355], [800, 500], "top, right and the diagonal from the top left make no triangle"),
        ([355, 355, 355, 355], [300, 300], "don't close"),
        ([355, 355, 0, 355], [500, 500], "bottom: is 0 mm; must be above 0"),
        ([355, 355, float("inf"), 355], [500, 500], "bottom: is inf mm"),
        ([355, 355], [], "2 sides"),
        ([355] * 4, [500], "1 diagonals are given; 4 sides need 2"),
    ],
)
def test_impossible_measures_are_refused(sides, diagonals, says):
    with pytest.raises(TopError, match=says):
        from_measures(sides, diagonals)


# --- straightness ----------------------------------------------------------------------------------------------


def test_bow_is_the_distance_from_the_chord():
    x = np.linspace(0, 300, 50)
    for bow in (0.0, 1.0, 5.0):
        path = np.column_stack([x, 4 * bow * x * (300 - x) / 300**2])
        assert off_true_mm(path) == pytest.approx(bow, abs=0.01)
    assert off_true_mm(np.array([(0, 0), (50, 20), (100, 0)])) is None
    assert off_true_mm(np.array([(0, 0), (9, 0), (9, 9), (0, 0)])) is None


def shape_region(corners):
    return as_region(np.array(corners) * IN)


@pytest.mark.parametrize("turn", [0.0, 17.0, 45.0])
@pytest.mark.parametrize(("dx", "dy"), [(3 / 8, 0), (0, 3 / 8), (-3 / 8, 0)])
def test_a_square_3_8_out_of_true(turn, dx, dy):
    """One corner moved along a side: that side only grows; the other one leans by the whole of it."""
    c, s = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    corners = np.array([(0, 0), (12, 0), (12 + dx, 12 + dy), (0, 12)]) @ np.array([[c, s], [-s, c]])
    sides = sides_out_of_true(shape_region(corners))
    off = sorted(side.off_mm / IN for side in sides)
    assert off == pytest.approx([0, 0, 0, 3 / 8], abs=1e-4)


@pytest.mark.parametrize(
    "corners",
    [
        [(0, 0), (12, 0), (12, 12), (0, 12)],
        [(0, 0), (12, 12), (0, 12)],  # half-square triangle
        [(0, 0), (12, 0), (6, 6)],  # quarter-square triangle
        [(0, 0), (20, 0), (16, 4), (4, 4)],  # mitred border
        [(0, 0), (4, 0), (4, 8), (12, 8), (12, 12), (0, 12)],  # L
        [(math.cos(math.radians(a)), math.sin(math.radians(a))) for a in range(0, 360, 60)],
        [(math.cos(math.radians(a)), math.sin(math.radians(a))) for a in range(0, 360, 120)],
        [(math.cos(math.radians(a)), math.sin(math.radians(a))) for a in range(0, 360, 45)],
        [(0, 0), (7, 1), (9, 8), (-3, 5)],  # meant to be nothing in particular
        [(5 * math.cos(math.radians(a)), 5 * math.sin(math.radians(a))) for a in range(0, 360, 5)],
    ],
)
@pytest.mark.parametrize("turn", [0.0, 31.0])
def test_true_shapes_are_true(corners, turn):
    c, s = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    sides = sides_out_of_true(shape_region(np.array(corners) @ np.array([[c, s], [-s, c]])))
    assert all(side.off_mm < 1e-6 for side in sides)


def test_the_crooked_square_of_nine_is_found_with_all_its_seams():
    def corner(r, c):
        return (6 * c + (3 / 8 if (r, c) == (1, 2) else 0), 6 * r)

    patches = [
        shape(f"p-{r}-{c}", [corner(r, c), corner(r, c + 1), corner(r + 1, c + 1), corner(r + 1, c)])
        for r in range(3) for c in range(3)
    ]  # fmt: skip
    top = check(assemble(patches))
    found = {(s.seam.a, s.seam.b): s.off_mm / IN for s in crooked_seams(top)}
    # the corner is moved across the two upright seams that end there, along the two level ones
    assert found == pytest.approx({("p-0-1", "p-0-2"): 3 / 8, ("p-1-1", "p-1-2"): 3 / 8}, abs=1e-3)
    assert crooked_seams(top, more_than_mm=10) == []
    assert crooked_seams(top)[0].name == "the seam between 'p-0-1' and 'p-0-2'"


def test_a_star_point_missed_by_an_eighth_is_found():
    """Two points on a 6 x 3 in unit, the tip of one 1/8 in short of the middle of the edge."""
    short = 1 / 8
    left = shape("left", [(0, 0), (3 - short, 0), (0, 3)])
    right = shape("right", [(3, 0), (6, 0), (6, 3)])
    sky = shape("sky", [(3 - short, 0), (3, 0), (6, 3), (0, 3)])
    found = {(s.seam.a, s.seam.b): s.off_mm / IN for s in crooked_seams(check(assemble([left, right, sky])))}
    assert set(found) == {("left", "sky")}
    # the tip is 1/8 off along the edge: 1/8 / sqrt 2 across the seam, by the true direction of either square side
    assert found["left", "sky"] == pytest.approx(short / math.sqrt(2), rel=0.05)


def test_a_bowed_seam_counts_and_a_drawn_curve_does_not():
    for bow, crooked in ((1 / 8, True), (1 / 32, False), (1.0, False)):
        x = np.linspace(0, 12, 25)
        y = 6 + 4 * bow * x * (12 - x) / 144
        upper = shape("upper", [(0, 0), (12, 0), *zip(x[::-1], y[::-1], strict=True)])
        lower = shape("lower", [*zip(x, y, strict=True), (12, 12), (0, 12)])
        found = crooked_seams(check(assemble([upper, lower])))
        assert [s.off_mm / IN for s in found] == (pytest.approx([bow], abs=0.01) if crooked else [])


def test_a_true_top_has_no_crooked_seam_when_turned_or_jiggled_a_little():
    rng = np.random.default_rng(5)
    patches = [square(f"p-{r}-{c}", 6 * c, 6 * r) for r in range(3) for c in range(3)]
    assert crooked_seams(assemble(patches)) == []
    moved = [
        shape(p.name, np.asarray(p.shell) / IN + rng.uniform(-0.01, 0.01, np.asarray(p.shell).shape)) for p in patches
    ]
    assert crooked_seams(assemble(moved)) == []


def test_the_two_planted_faults_of_a_quilt_on_point_are_found_and_nothing_else():
    """One corner of a plain square moved 3/8 in along a side, one star point missed by 1/8 in, among 177 patches."""
    true = from_blocks(replace(ON_POINT, pieces={"star": Pieces(lines_mm=STAR)}))
    outline = {p.name: np.array(p.outline.exterior.coords)[:-1] for p in true.patches}
    # the bottom corner of the top middle star; a star point 3 in up the lower left side of the middle right star
    d, edge = 12 * math.sqrt(2), 6.5  # the block's diagonal, the borders' width
    corner = np.array([1.5 * d + edge, d + edge]) * IN
    point = np.array([2.5 * d + edge - 3 / math.sqrt(2), 2 * d + edge - 3 / math.sqrt(2)]) * IN
    moves = [(corner, np.array([3, 3]) / 8 / math.sqrt(2) * IN), (point, np.array([1, -1]) / 8 / math.sqrt(2) * IN)]
    hit = [0, 0]
    shapes = []
    for name, ring in outline.items():
        for k, (at, by) in enumerate(moves):
            near = np.hypot(*(ring - at).T) < 0.01
            hit[k] += int(near.sum())
            ring = ring + near[:, None] * by
        if not name.startswith(("inner", "outer")):
            shapes.append(Shape(name, as_path(ring)))
    assert hit == [4, 3]
    top = check(assemble(shapes))
    assert not top.findings
    found = {}
    for crooked in crooked_seams(top):
        (plain,) = [n for n in (crooked.seam.a, crooked.seam.b) if n.startswith("plain")]
        found.setdefault(plain, set()).add(round(crooked.off_mm / IN, 3))
    assert found == {"plain-1-1": {0.375}, "plain-1-2": {0.375}, "plain-2-2": {0.125}}


def test_seams_meant_to_slope_are_not_called_out_of_true():
    # blocks cut corner to corner, 7 x 8 in: seams at atan(8 / 7) = 48.8 degrees, in every block; and one tall triangle
    halves = []
    for k in range(6):
        x = 7 * k
        halves += [shape(f"a-{k}", [(x, 0), (x + 7, 0), (x, 8)]), shape(f"b-{k}", [(x + 7, 0), (x + 7, 8), (x, 8)])]
    assert crooked_seams(assemble(halves)) == []
    lone = [shape("a", [(0, 0), (14, 0), (0, 16)]), shape("b", [(14, 0), (14, 16), (0, 16)])]
    assert crooked_seams(assemble(lone)) == []  # 1.1 in out of 45 degrees: nobody sews that by mistake


def test_a_jog_in_a_side_does_not_hide_that_it_leans():
    # the right side leans by 3/8 in and has a jog of 0.05 mm half way
    jog = 0.05 / IN
    ring = [(0, 0), (10, 0), (10 + 3 / 16, 5), (10 + 3 / 16 + jog, 5), (10 + 3 / 8, 10), (0, 10)]
    off = sorted(side.off_mm / IN for side in sides_out_of_true(shape_region(ring)))
    assert len(off) == 4
    assert off[-1] == pytest.approx(3 / 8, abs=0.01)
