"""Divisions conserve area, follow crooked shapes, and agree with theorems of plane geometry."""

import math
from itertools import pairwise

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from shapely import Polygon
from shapely.affinity import rotate, translate

from plumeline.geometry import (
    NearPaths,
    as_region,
    away_from,
    disc,
    divide_by_circle,
    divide_by_frame,
    divide_by_grid,
    divide_by_line,
    divide_on_point,
    divide_wedges,
    join_regions,
    laid_shape,
    meeting_point,
    middle_of,
    path_length,
)
from plumeline.geometry.areas.divide import corners_of
from shapes import IN, NAMED, polygon, random_regions, rectangle, regular, ring, star

SQ_IN = IN * IN
SQUARE = rectangle(12, 12)
CROOKED = polygon([(0, 0.1), (12.4, -0.2), (12, 12.3), (-0.3, 11.8)])

DIVISIONS = {
    "frame": lambda r: divide_by_frame(r, 0.6 * IN),
    "circle": lambda r: divide_by_circle(r, fit_percent=80),
    "wedges": lambda r: divide_wedges(r, 7),
    "two wedges": lambda r: divide_wedges(r, 2),
    "grid": lambda r: divide_by_grid(r, 3, 4),
    "line": lambda r: divide_by_line(r, [middle_of(r)[0], np.add(middle_of(r)[0], (40, 9))]),
}


def pieces_of_division(division):
    return [piece for part in (*division.parts, division.rest) for piece in part]


def area(pieces):
    return sum(piece.area for piece in pieces)


def conserves(region, division):
    pieces = pieces_of_division(division)
    assert all(piece.is_valid for piece in pieces)
    # The sum says that nothing is lost or counted twice, the union that it is the region itself.
    assert area(pieces) == pytest.approx(region.area, rel=1e-6)
    assert shapely.union_all(pieces).symmetric_difference(region).area < 1e-5 * region.area


@pytest.mark.parametrize("division", DIVISIONS)
@settings(max_examples=30, deadline=None)
@given(seed=st.integers(0, 10_000))
def test_parts_are_disjoint_and_together_the_region(division, seed):
    region = next(random_regions(1, seed=seed))
    conserves(region, DIVISIONS[division](region))


@pytest.mark.parametrize("name", [n for n in NAMED if n not in ("strip",)])
@pytest.mark.parametrize("division", DIVISIONS)
def test_parts_of_named_shapes_are_disjoint_and_together_the_shape(name, division):
    conserves(NAMED[name], DIVISIONS[division](NAMED[name]))


coordinate = st.floats(-2.0, 2.0)


@st.composite
def quadrilaterals(draw):
    """Convex, of four clear corners, from nearly square to well out of true."""
    corners = np.array([(0, 0), (12, 0), (12, 12), (0, 12)]) + [[draw(coordinate) for _ in "xy"] for _ in range(4)]
    region = polygon(corners)
    assume(region.equals(region.convex_hull))
    assume(len(corners_of(region)[0]) == 4)
    return region


@settings(max_examples=50, deadline=None)
@given(quadrilaterals())
def test_a_square_on_point_takes_half_of_any_four_sided_block(region):
    # Varignon 1731: the middles of the sides of a quadrilateral are a parallelogram of half its area.
    division = divide_on_point(region)
    conserves(region, division)
    assert area(division.rest) == pytest.approx(region.area / 2, rel=1e-9)
    assert [len(part) for part in division.parts] == [4]
    left, top, right, bottom = (c.centroid for c in division.parts[0])
    assert left.x < top.x and left.y < bottom.y and top.y < right.y and bottom.x < right.x  # clockwise from top left


@settings(max_examples=50, deadline=None)
@given(quadrilaterals())
def test_the_middle_cell_of_nine_has_a_ninth_of_any_four_sided_block(region):
    # Trisecting all sides of a convex quadrilateral, the middle cell has a ninth of the area, and the nine
    # cells' areas run in arithmetic progression along rows and columns.
    division = divide_by_grid(region, 3, 3)
    cells = np.array([area(cell) for cell in division.parts]).reshape(3, 3)
    assert cells[1, 1] == pytest.approx(region.area / 9, rel=1e-9)
    assert np.diff(cells, n=2, axis=0) == pytest.approx(0, abs=1e-6 * region.area)
    assert np.diff(cells, n=2, axis=1) == pytest.approx(0, abs=1e-6 * region.area)


@pytest.mark.parametrize("faint", [5e-324, -5e-324, -1e-310])
def test_a_corner_hardly_off_zero_is_a_corner(faint):
    # The engine's simplifying went on for ever beside a number so small that it is not held with all its digits.
    points = np.array([(faint, 0), (12, 0), (12, 12), (0, 12)])
    for region in (as_region(points), as_region(Polygon(points))):
        assert set(np.unique(region.exterior.coords)) == {0.0, 12.0}
        assert len(corners_of(region)[0]) == 4


def test_cells_are_named_row_by_row_from_the_top_left():
    middles = [cell[0].centroid.coords[0] for cell in divide_by_grid(SQUARE, 2, 3).parts]
    expected = [(x * IN, y * IN) for y in (3, 9) for x in (2, 6, 10)]
    assert np.array(middles) == pytest.approx(np.array(expected))


def test_known_areas():
    frame = divide_by_frame(SQUARE, 1.25 * IN)
    assert area(frame.rest) / SQ_IN == pytest.approx(9.5**2)
    circle = divide_by_circle(SQUARE)
    assert area(circle.rest) / SQ_IN == pytest.approx(36 * math.pi, rel=5e-4)
    assert area(divide_by_circle(SQUARE, 2 * IN).rest) / SQ_IN == pytest.approx(4 * math.pi, rel=5e-4)
    assert [area(w) / SQ_IN for w in divide_wedges(SQUARE, 8).parts] == pytest.approx([18.0] * 8)
    triangle = divide_on_point(NAMED["equilateral8"])
    assert area(triangle.rest) == pytest.approx(NAMED["equilateral8"].area / 4)  # the medial triangle
    assert len(triangle.parts[0]) == 3
    around = divide_wedges(ring(7, 3), 6).parts
    assert [area(w) / SQ_IN for w in around] == pytest.approx([40 * math.pi / 6] * 6, rel=5e-4)


def test_wedges_run_clockwise_from_the_top():
    angle = [math.degrees(math.atan2(w[0].centroid.x - 6 * IN, 6 * IN - w[0].centroid.y)) % 360 for w in
             divide_wedges(SQUARE, 4).parts]  # fmt: skip
    assert angle == pytest.approx([45, 135, 225, 315])


def test_a_frame_of_a_crooked_block_is_equally_wide_everywhere_and_keeps_its_corners():
    inner = divide_by_frame(CROOKED, 1.25 * IN).rest[0]
    sides = np.asarray(inner.exterior.coords)
    assert len(sides) == 5
    for a, b in pairwise(sides):
        for share in (0.0, 0.3, 1.0):
            far = CROOKED.exterior.distance(shapely.Point(a + share * (b - a)))
            assert far == pytest.approx(1.25 * IN, abs=1e-6)


def test_corners_are_found_on_wavering_sides_and_not_on_curves():
    assert len(corners_of(NAMED["wobbly"])[0]) == 4
    assert len(corners_of(disc((0, 0), 100))[0]) == 0
    assert len(corners_of(regular(6, 5))[0]) == 6
    turn = corners_of(NAMED["l12"])[1]
    assert sorted(np.round(turn)) == [-90, 90, 90, 90, 90, 90]
    points = corners_of(as_region(np.array([(0, 0), (6, 0), (12, 0), (12, 12), (0, 12), (0, 5)]) * IN))[0]
    assert len(points) == 4


@pytest.mark.parametrize(("shape", "why"), [("l12", "points inwards"), ("circle4", "0 corners"), ("ring", "0 corners")])
def test_a_square_on_point_needs_outward_corners(shape, why):
    with pytest.raises(ValueError, match=why):
        divide_on_point(NAMED[shape])


def test_the_middle_is_where_a_quilter_would_put_it():
    assert middle_of(SQUARE)[0] == pytest.approx((6 * IN, 6 * IN))
    assert middle_of(rectangle(90, 4))[0] == pytest.approx((45 * IN, 2 * IN))
    assert middle_of(ring(7, 3))[0] == pytest.approx((0, 0), abs=1e-6)
    (x, y), radius = middle_of(NAMED["l12"])
    w = 4 * IN
    assert radius == pytest.approx(w * (2 - math.sqrt(2)), abs=0.02)  # an L of arm w
    assert (x, y) == pytest.approx((radius, 12 * IN - radius), abs=0.05)


def test_a_line_gives_the_side_to_its_left_first_and_is_drawn_on_to_the_edge():
    left, right = divide_by_line(SQUARE, np.array([(3, 4), (9, 4)]) * IN).parts
    assert area(left) / SQ_IN == pytest.approx(48)
    assert left[0].centroid.y < right[0].centroid.y
    first, _ = divide_by_line(SQUARE, np.array([(9, 4), (3, 4)]) * IN).parts
    assert area(first) / SQ_IN == pytest.approx(96)


def test_a_closed_line_divides_into_inside_and_outside():
    loop = np.array([(3, 3), (6, 3), (6, 6), (3, 6), (3, 3)]) * IN
    inside, outside = divide_by_line(SQUARE, loop).parts
    assert (area(inside) / SQ_IN, area(outside) / SQ_IN) == pytest.approx((9, 135))


def test_a_line_that_crosses_nothing_is_refused():
    with pytest.raises(ValueError, match="is not crossed by the line"):
        divide_by_line(SQUARE, np.array([(-5, -5), (-1, -1)]) * IN)
    with pytest.raises(ValueError, match="is not crossed by the line"):
        divide_by_line(SQUARE, np.array([(20, 0), (21, 0), (21, 1), (20, 0)]) * IN)


def test_a_line_that_leaves_and_returns_gives_sides_in_pieces():
    wave = np.array([(-1, 6), (4, 6), (4, -1), (8, -1), (8, 6), (13, 6)]) * IN
    left, right = divide_by_line(SQUARE, wave).parts
    assert len(left) == 2
    assert area(left) / SQ_IN == pytest.approx(48)
    assert area(right) / SQ_IN == pytest.approx(96)


@settings(max_examples=30, deadline=None)
@given(angle=st.floats(-180, 180), x=st.floats(-500, 500), y=st.floats(-500, 500), seed=st.integers(0, 999))
def test_frames_circles_and_squares_on_point_move_and_turn_with_the_shape(angle, x, y, seed):
    region = next(random_regions(1, seed=seed, holes=False))

    def moved(shape):
        return translate(rotate(shape, angle, origin=(0, 0)), x, y)

    def same(one, other):
        apart = shapely.symmetric_difference(shapely.union_all(one), shapely.union_all(other), grid_size=1e-6)
        # The engine's offset smooths its input a little, not alike in all directions: 0.02 mm along every edge.
        assert apart.area < 0.02 * region.length

    same([moved(p) for p in divide_by_frame(region, 10).rest], divide_by_frame(as_region(moved(region)), 10).rest)
    block = CROOKED
    here, there = divide_on_point(block), divide_on_point(as_region(moved(block)))
    same([moved(p) for p in here.rest], there.rest)
    same([moved(p) for p in divide_by_circle(block).rest], divide_by_circle(as_region(moved(block))).rest)


@settings(max_examples=50, deadline=None)
@given(st.lists(st.floats(-0.02, 0.02).map(lambda v: round(v, 9)), min_size=8, max_size=8))
def test_joined_patches_have_no_seam_left_even_where_rounding_parted_them(noise):
    n = np.array(noise).reshape(4, 2)
    one = as_region(np.array([(0, 0), (150, 0), (150, 150), (0, 150)]) + np.array([(0, 0), n[0], n[1], (0, 0)]))
    two = as_region(np.array([(150, 0), (300, 0), (300, 150), (150, 150)]) + np.array([n[2], (0, 0), (0, 0), n[3]]))
    joined = join_regions([one, two])
    assert len(joined) == 1
    assert not joined[0].interiors
    assert joined[0].area == pytest.approx(300 * 150, abs=0.05 * 150)


def test_joining_keeps_real_holes_and_drops_the_vertices_of_seams():
    around = [rectangle(6, 2), translate(rectangle(6, 2), 0, 4 * IN), translate(rectangle(2, 2), 0, 2 * IN),
              translate(rectangle(2, 2), 4 * IN, 2 * IN)]  # fmt: skip
    (joined,) = join_regions(around)
    assert joined.area / SQ_IN == pytest.approx(32)
    assert len(joined.exterior.coords) == 5
    assert [len(hole.coords) for hole in joined.interiors] == [5]
    assert len(join_regions([rectangle(1, 1), translate(rectangle(1, 1), IN, IN)])) == 2


@pytest.mark.parametrize(
    ("kind", "square_inches"),
    [("square", 36), ("on-point", 36), ("rectangle", 24), ("circle", 9 * math.pi), ("oval", 6 * math.pi)],
)
def test_laid_shapes_have_their_size_and_middle(kind, square_inches):
    high = 4 if kind in ("rectangle", "oval") else 6
    shape = laid_shape(kind, (100.0, 50.0), width_mm=6 * IN, height_mm=high * IN, turn_deg=20)
    assert shape.area / SQ_IN == pytest.approx(square_inches, rel=1e-3)
    assert shape.centroid.coords[0] == pytest.approx((100, 50), abs=1e-6)


def test_a_square_on_point_stands_on_a_corner_and_turns_counter_clockwise_as_seen():
    x0, y0, x1, y1 = laid_shape("on-point", (0.0, 0.0), width_mm=10, height_mm=10).bounds
    assert (x0, y0, x1, y1) == pytest.approx((-7.0710678, -7.0710678, 7.0710678, 7.0710678))
    strip = laid_shape("rectangle", (0.0, 0.0), width_mm=100, height_mm=1, turn_deg=30)
    right_end = max(strip.exterior.coords)
    assert right_end[1] < -20  # up, as seen


def test_a_polygon_lies_where_its_points_say():
    points = [(10.0, 10.0), (50.0, 10.0), (10.0, 40.0)]
    assert laid_shape("polygon", None, points=points).equals(Polygon(points))
    turned = laid_shape("polygon", None, points=points, turn_deg=180)
    assert turned.centroid.coords[0] == pytest.approx((70 / 3, 20))
    with pytest.raises(ValueError, match="outline"):
        laid_shape("polygon", None, points=[(0.0, 0.0), (1.0, 1.0), (1.0, 0.0), (0.0, 1.0)])


def test_patches_meet_at_their_common_corner_or_the_middle_of_their_seam():
    a, b = rectangle(6, 6), translate(rectangle(6, 6), 6 * IN, 0)
    c, d = translate(a, 0, 6 * IN), translate(a, 6 * IN, 6 * IN)
    assert meeting_point([a, d]) == pytest.approx((6 * IN, 6 * IN))
    assert meeting_point([a, b, c, d]) == pytest.approx((6 * IN, 6 * IN))
    assert meeting_point([a, b]) == pytest.approx((6 * IN, 3 * IN))
    assert meeting_point([a, translate(a, 500, 0)]) is None


def test_what_is_away_from_regions_keeps_order_and_direction():
    line = np.array([(0.0, 0.0), (100.0, 0.0)])
    holes = [disc((30, 0), 10), disc((70, 0), 10)]
    out = away_from([line], holes)
    assert [path_length(p) for p in out] == pytest.approx([20, 20, 20], abs=0.05)
    assert [p[0, 0] < p[-1, 0] for p in out] == [True] * 3
    assert path_length(away_from([line], [])[0]) == 100
    assert away_from([line], [disc((50, 0), 90)]) == []


def test_near_paths_split_and_find_the_nearest():
    near = NearPaths([np.array([(0.0, 1.0), (50.0, 1.0)]), np.zeros((1, 2))])
    close, far = near.split(np.array([(0.0, 0.8), (100.0, 0.8)]), 0.5)
    assert [path_length(p) for p in close] == pytest.approx([50], abs=0.5)
    assert [path_length(p) for p in far] == pytest.approx([50], abs=0.5)
    which, ends = near.nearest([(10, 3), (10, 30), (55, 1)], 6.0)
    assert which.tolist() == [0, 2]
    assert ends == pytest.approx(np.array([(10, 1), (50, 1)]))
    nothing = NearPaths([])
    assert len(nothing.nearest([(0, 0)], 5.0)[0]) == 0
    assert nothing.split(np.array([(0.0, 0.0), (1.0, 0.0)]), 1.0)[0] == []


def test_a_star_frame_conserves_even_where_its_tips_are_sharp():
    region = star(5, 6, 1.2)
    conserves(region, divide_by_frame(region, 0.25 * IN))
