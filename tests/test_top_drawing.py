"""Tops from drawings: what is mended, what is refused, and who lies beside whom."""

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, MultiLineString, Polygon

from plumeline.drawing import OpenLine, Shape
from plumeline.errors import TopError
from plumeline.geometry import path_length
from plumeline.model import as_path
from plumeline.top import CLOSE_GAPS_MM, assemble, from_drawing

IN = 25.4


def shape(name, points, holes=()):
    return Shape(name, as_path(np.array(points) * IN), tuple(as_path(np.array(h) * IN) for h in holes))


def square(name, x, y, w=6, h=None):
    h = w if h is None else h
    return shape(name, [(x, y), (x + w, y), (x + w, y + h), (x, y + h)])


def line(name, *points):
    return OpenLine(name, as_path(np.array(points, dtype=float) * IN))


def codes(top):
    return [f.code for f in top.findings]


def neighbours(top):
    return {frozenset((s.a, s.b)) for s in top.seams if s.b}


def check(top, *, area_in=None):
    """What holds for every top: patches don't overlap, each seam is an edge of its patches, nothing is lost."""
    patches = {p.name: p.outline for p in top.patches}
    assert len(patches) == len(top.patches)
    assert shapely.coverage_is_valid(list(patches.values()))
    around = {name: [] for name in patches}
    for seam in top.seams:
        around[seam.a].append(seam)
        if seam.b:
            around[seam.b].append(seam)
            assert list(patches).index(seam.a) < list(patches).index(seam.b)
        assert not seam.path.flags.writeable
    for name, seams in around.items():
        # the seams of a patch are its whole boundary, once
        assert sum(path_length(s.path) for s in seams) == pytest.approx(patches[name].length, rel=1e-9)
        drawn = MultiLineString([LineString(s.path) for s in seams])
        assert drawn.hausdorff_distance(patches[name].boundary) < 1e-9
    boxes = np.array([p.bounds for p in patches.values()])
    assert boxes[:, :2].min(axis=0) == pytest.approx((0, 0), abs=1e-9)
    assert boxes[:, 2:].max(axis=0) == pytest.approx(top.size, abs=1e-9)
    if area_in is not None:
        assert sum(p.area for p in patches.values()) / IN**2 == pytest.approx(area_in, abs=1e-3)
    return top


# --- plain tops ------------------------------------------------------------------------------------------------


def test_four_patches():
    top = check(assemble([square("a", 1, 2), square("b", 7, 2), square("c", 1, 8), square("d", 7, 8)]), area_in=144)
    assert top.size == pytest.approx((12 * IN, 12 * IN))
    assert not top.findings
    # corners that only touch are no neighbours; each patch has one seam (two sides) at the quilt's edge
    assert neighbours(top) == {frozenset(p) for p in ("ab", "ac", "bd", "cd")}
    assert [(s.a, s.b) for s in top.seams] == [
        ("a", "b"), ("a", "c"), ("a", None), ("b", "d"), ("b", None), ("c", "d"), ("c", None), ("d", None)
    ]  # fmt: skip
    assert sum(path_length(s.path) for s in top.seams) == pytest.approx((4 * 12 + 4 * 6) * IN)
    assert [s.may_travel for s in top.seams] == [s.b is not None for s in top.seams]
    assert not any(s.may_travel for s in assemble([square("a", 0, 0)], may_travel=False).seams)


def test_a_long_patch_beside_short_ones_has_one_seam_with_each():
    top = check(assemble([square("border", 0, 0, 18, 2), *(square(f"p{k}", 6 * k, 2) for k in range(3))]), area_in=144)
    assert len([s for s in top.seams if s.a == "border" and s.b]) == 3
    assert top.patches[0].outline.area == pytest.approx(36 * IN**2)


def test_two_stretches_between_the_same_two_patches_are_two_seams():
    u = shape("u", [(0, 0), (9, 0), (9, 6), (6, 6), (6, 3), (3, 3), (3, 6), (0, 6)])
    bar = square("bar", 0, 6, 9, 3)
    top = check(assemble([u, bar]))
    assert [s.b for s in top.seams if s.a == "u"] == ["bar", "bar", None, None]


def test_curved_neighbours_drawn_with_different_points_meet():
    """Two patches share a quarter circle, flattened apart: no sliver is left, the seam is the arc, the cusps stay."""

    def arc(n):
        a = np.linspace(0, math.pi / 2, n)
        return np.column_stack([10 * np.cos(a), 10 * np.sin(a)])

    melon = Shape("melon", as_path(np.vstack([[(0, 0)], arc(60)]) * IN))
    rest = Shape("rest", as_path(np.vstack([[(10, 10)], arc(47)[::-1]]) * IN))
    top = check(assemble([melon, rest]))
    assert neighbours(top) == {frozenset(("melon", "rest"))}
    (seam,) = [s for s in top.seams if s.b]
    assert path_length(seam.path) == pytest.approx(5 * math.pi * IN, rel=2e-4)
    assert sum(p.outline.area for p in top.patches) == pytest.approx(100 * IN**2, rel=1e-9)


def test_a_circle_on_a_patch_makes_a_hole():
    a = np.linspace(0, 2 * math.pi, 100, endpoint=False)
    dot = Shape("dot", as_path(np.column_stack([3 + 2 * np.cos(a), 3 + 2 * np.sin(a)]) * IN))
    top = check(assemble([square("plain", 0, 0), dot]), area_in=36)
    plain = top.patches[0].outline
    assert len(plain.interiors) == 1
    (seam,) = [s for s in top.seams if s.b]
    assert np.array_equal(seam.path[0], seam.path[-1])
    assert codes(top) == ["patch-inside"]


def test_patches_drawn_over_a_background():
    """A border drawn as one large square with the blocks on top of it: what is left of it is the border."""
    blocks = [square(f"b{r}{c}", 2 + 6 * c, 2 + 6 * r) for r in range(2) for c in range(2)]
    top = check(assemble([square("ground", 0, 0, 16), *blocks]), area_in=256)
    assert top.patches[0].outline.area / IN**2 == pytest.approx(256 - 144)
    covered = check(assemble([square("ground", 2, 2, 12), *blocks]), area_in=144)
    assert "patch-covered" in codes(covered)
    assert len(covered.patches) == 4


def test_a_curve_that_touches_an_edge_does_not_bend_it():
    """An arch under a border: its arc leaves the border's edge as a tangent, so the corner beside it ends in a cusp."""
    a = np.linspace(0, math.pi / 2, 40)
    arc = np.column_stack([4 - 4 * np.sin(a), 6 - 4 * np.cos(a)])  # from (4, 2), on the border, down to (0, 6)
    arch = shape("arch", [*arc, (4.5, 6), (4.5, 2)])
    spandrel = shape("spandrel", [(0, 2), *arc])
    top = check(assemble([square("border", 0, 0, 4.5, 2), arch, spandrel]), area_in=9 + 18)
    border = top.patches[0].outline
    assert border.equals(shapely.box(0, 0, 4.5 * IN, 2 * IN))
    assert [p.outline.area / IN**2 for p in top.patches] == pytest.approx(
        [9, 18 - (16 - 4 * math.pi), 16 - 4 * math.pi], abs=2e-2
    )
    assert not codes(top)


def test_an_applique_over_seams_is_cut_out_of_what_lies_under_it():
    blocks = [square(f"b{r}{c}", 6 * c, 6 * r) for r in range(2) for c in range(2)]
    over = check(assemble([*blocks, square("leaf", 4, 5, 3), square("petal", 6, 5, 4)]), area_in=144)
    areas = {p.name: p.outline.area / IN**2 for p in over.patches}
    # the leaf loses the strip of 1 x 3 in that the petal, drawn later, lies on
    assert areas == pytest.approx({"b00": 34, "b01": 32, "b10": 32, "b11": 24, "leaf": 6, "petal": 16}, abs=1e-3)
    assert codes(over) == ["patch-over"]
    assert "2 patches" in over.findings[0].text
    assert "22.0 sq in altogether: 'leaf', 'petal'" in over.findings[0].text  # 6 + 16
    one = assemble([*blocks, square("petal", 6, 5, 4)]).findings[0].text
    assert all(f"'{name}'" in one for name in ("petal", "b01", "b11"))
    with pytest.raises(TopError, match="overlaps"):  # drawn first it is no applique
        assemble([square("leaf", 4, 5, 3), *blocks])
    with pytest.raises(TopError, match="overlaps"):  # nor is a patch in the wrong place, whatever lies under all
        assemble([square("ground", 0, 0, 20), *blocks, square("off", 10, 2)])


def test_a_drawn_hole_may_be_empty_or_filled():
    ring = shape("ring", [(0, 0), (9, 0), (9, 9), (0, 9)], [[(3, 3), (6, 3), (6, 6), (3, 6)]])
    top = check(assemble([ring]), area_in=72)
    assert codes(top) == ["gap-open"]
    assert "3 in x 3 in" in top.findings[0].text
    filled = check(assemble([ring, square("middle", 3, 3, 3)]), area_in=81)
    assert not filled.findings


def test_what_there_is_many_of_is_said_once_with_count_and_size():
    """Three by three rings of 12 in: each with an opening, a patch in it and a line that hangs free in it."""
    rings, dots, ends = [], [], []
    for r in range(3):
        for c in range(3):
            x, y, k = 12 * c, 12 * r, 3 * r + c
            rings.append(square(f"ring{k}", x, y, 12))
            rings[-1] = replace(rings[-1], holes=(square("hole", x + 1, y + 1, 2, 1 + k).shell,))
            dots.append(square(f"dot{k}", x + 5, y + 5, 2))
            ends.append(line(f"end{k}", (x + 4, y), (x + 4, y + 1 + k / 4)))
    top = check(assemble([*rings, *dots], ends))
    said = {f.code: f for f in top.findings}
    assert len(said) == len(top.findings) == 3
    # 2 in x (1 + ... + 9) in of openings, the largest in the last ring
    assert said["gap-open"].severity == "warning"
    assert "9 openings, 90.0 sq in altogether; the largest is 2 in x 9 in at 25 in from" in said["gap-open"].text
    assert said["patch-inside"].text.startswith("9 patches (36.0 sq in) lie inside 9 others")
    assert said["patch-inside"].text.endswith(": 'dot0' in 'ring0', 'dot1' in 'ring1', 'dot2' in 'ring2' and 6 more")
    # 9 in + (0 + ... + 8) / 4 in of line
    assert "9 lines cut nothing along 18 in of their length altogether" in said["line-dangles"].text
    assert "'end0', 'end1', 'end2' and 6 more; the most is 3 in of 'end8'" in said["line-dangles"].text


def test_patches_in_one_patch_and_in_each_other():
    dots = [square(f"dot{k}", 2 * k + 1, 1, 1) for k in range(4)]
    alone = assemble([square("ground", 0, 0, 10), *dots]).findings
    assert [f.text for f in alone] == [
        "4 patches (4.0 sq in) lie inside 'ground', which gets holes there: 'dot0', 'dot1', 'dot2' and 1 more"
    ]
    nested = assemble([square("outer", 0, 0, 9), square("middle", 1, 1, 5), square("inner", 2, 2, 1)], unit="cm")
    (note,) = nested.findings
    assert note.text == (
        f"2 patches ({26 * 2.54**2:.1f} sq cm) lie inside 2 others, which get holes there: 'middle' in 'outer', "
        "'inner' in 'middle'"
    )


def test_shapes_of_which_nothing_is_left_are_said_once():
    threads = [square(f"thread{k}", 1 + k, 1, 0.02, 2) for k in range(5)]  # thinner than 1/32 in
    top = check(assemble([square("a", 0, 0), *threads]), area_in=36)
    (note,) = [f for f in top.findings if f.code == "patch-covered"]
    assert note.text.startswith("5 shapes (0.2 sq in) are covered")
    assert note.text.endswith("'thread0', 'thread1', 'thread2' and 2 more")


# --- lines -----------------------------------------------------------------------------------------------------


def test_lines_cut_patches_in_reading_order():
    cuts = [line("v", (4, 0), (4, 12)), line("h", (0, 6), (12, 6))]
    top = check(assemble([square("p", 0, 0, 12)], cuts), area_in=144)
    boxes = {p.name: tuple(round(v / IN) for v in p.outline.bounds) for p in top.patches}
    assert boxes == {"p-1": (0, 0, 4, 6), "p-2": (4, 0, 12, 6), "p-3": (0, 6, 4, 12), "p-4": (4, 6, 12, 12)}


def test_lines_cut_only_what_they_cross_and_ends_snap_to_seams():
    over, short = 0.02, 0.02  # within 1/32
    cut = line("cut", (-over, 3), (12 - short, 3))
    top = check(assemble([square("a", 0, 0), square("b", 6, 0), square("c", 0, 6, 12, 4)], [cut]), area_in=120)
    assert [p.name for p in top.patches] == ["a-1", "a-2", "b-1", "b-2", "c"]
    assert "line-dangles" not in codes(top)
    # the quilt's edge stays where it was
    assert top.size == pytest.approx((12 * IN, 10 * IN), abs=1e-3)


def test_a_line_that_ends_inside_cuts_nothing_and_is_reported():
    top = check(assemble([square("a", 0, 0)], [line("stray", (3, 0), (3, 4))]), area_in=36)
    assert [p.name for p in top.patches] == ["a"]
    (finding,) = top.findings
    assert finding.code == "line-dangles"
    assert "'stray'" in finding.text
    assert "4 in" in finding.text
    past = check(assemble([square("a", 0, 0)], [line("past", (3, -1), (3, 8))]), area_in=36)
    assert len(past.patches) == 2
    assert "3 in" in past.findings[0].text


def test_a_line_along_a_seam_changes_nothing():
    patches = [square("a", 0, 0), square("b", 6, 0)]
    top = check(assemble(patches, [line("seam", (6.01, 0), (6, 6))]))
    assert [p.name for p in top.patches] == ["a", "b"]
    assert len(top.seams) == 3


# --- closing gaps ----------------------------------------------------------------------------------------------


@given(
    rows=st.integers(1, 4),
    columns=st.integers(1, 4),
    seed=st.integers(0, 2**32 - 1),
    bricks=st.booleans(),
    size=st.sampled_from([1.0, 3.0, 12.0]),
)
@settings(max_examples=60, deadline=None)
def test_a_jiggled_grid_has_exactly_the_neighbours_of_the_grid(rows, columns, seed, bricks, size):
    """Corners each moved by less than half the closing distance lie within it of each other: the grid comes back."""
    rng = np.random.default_rng(seed)
    shapes = []
    for r in range(rows):
        for c in range(columns):
            shift = size / 2 if bricks and r % 2 else 0.0
            corners = np.array([(c, r), (c + 1, r), (c + 1, r + 1), (c, r + 1)]) * size * IN + (shift * IN, 0)
            angle, far = rng.uniform(0, 2 * math.pi, 4), 0.499 * CLOSE_GAPS_MM * np.sqrt(rng.uniform(0, 1, 4))
            moved = corners + np.column_stack([far * np.cos(angle), far * np.sin(angle)])
            shapes.append(Shape(f"p-{r}-{c}", as_path(np.roll(moved, rng.integers(4), axis=0))))
    top = check(assemble(shapes))
    expected = {frozenset((f"p-{r}-{c}", f"p-{r}-{c + 1}")) for r in range(rows) for c in range(columns - 1)}
    for r in range(rows - 1):
        for c in range(columns):
            for d in ({0, -1} if r % 2 == 0 else {0, 1}) if bricks else {0}:
                if 0 <= c + d < columns:
                    expected.add(frozenset((f"p-{r}-{c}", f"p-{r + 1}-{c + d}")))
    assert neighbours(top) == expected
    assert len([s for s in top.seams if s.b]) == len(expected)
    assert set(codes(top)) <= {"gap-closed"}
    union = shapely.union_all([p.outline for p in top.patches])
    assert isinstance(union, Polygon)
    assert not union.interiors


@pytest.mark.parametrize("gap_mm", [0.3, 0.7])
def test_a_thin_gap_is_closed_half_way_and_said(gap_mm):
    g = gap_mm / IN
    top = check(assemble([square("a", 0, 0), square("b", 6 + g, 0)], unit="mm"))
    assert codes(top) == ["gap-closed"]
    widths = [(p.outline.bounds[2] - p.outline.bounds[0]) / IN for p in top.patches]
    assert widths == pytest.approx([6 + g / 2] * 2, abs=1e-4)
    # each patch grew by 6 in x half the gap
    assert f"'a': {6 * IN * gap_mm / 2:.1f} sq mm" in top.findings[0].text
    assert f"moved by up to {gap_mm / 2:.2f} mm" in top.findings[0].text


def test_a_wide_gap_stays_open_and_is_warned_of():
    apart = check(assemble([square("a", 0, 0), square("b", 6.1, 0)]))
    assert not neighbours(apart)
    frame = [square("t", 0, 0, 9, 3), square("b", 0, 6, 9, 3), square("l", 0, 3, 3), square("r", 6, 3, 3)]
    top = check(assemble(frame))
    assert [(f.code, f.severity) for f in top.findings] == [("gap-open", "warning")]


def test_a_thin_overlap_between_long_edges_is_mended():
    # shallow crossing edges: the ends lie within reach of the other edge, the middles overlap
    a = shape("a", [(0, 0), (12, 0), (12, 6.015), (0, 5.99)])
    b = shape("b", [(-1, 6), (13, 6), (13, 12), (-1, 12)])
    top = check(assemble([a, b]))
    assert neighbours(top) == {frozenset("ab")}
    assert set(codes(top)) <= {"gap-closed", "overlap-mended"}


def test_a_sliver_between_a_cut_and_an_edge_is_dropped():
    cut = OpenLine("cut", as_path(np.array([(0, 3), (3, 5.98), (6, 5.98), (9, 3)]) * IN))
    top = check(assemble([square("a", 0, 0, 9, 6), square("b", 0, 6, 9)], [cut]))
    assert all(p.outline.area > 1 * IN**2 for p in top.patches)
    thin = [square("a", 0, 0), square("b", 6, 0), square("thread", 2, 3, 2, 0.02)]
    dropped = check(assemble(thin), area_in=72)
    assert [p.name for p in dropped.patches] == ["a", "b"]


@given(
    seed=st.integers(0, 2**32 - 1),
    wander=st.sampled_from([0.0, 0.3, 0.6, 1.0, 3.0]),
    size=st.sampled_from([5.0, 25.0, 150.0]),
)
@settings(max_examples=80, deadline=None)
def test_whatever_is_drawn_makes_a_sound_top_or_is_refused(seed, wander, size):
    """Wandering corners, edges of many points, circles laid on, lines at random: never anything in between."""
    rng = np.random.default_rng(seed)
    rows, columns = rng.integers(1, 4, 2)
    shapes = []
    for r in range(rows):
        for c in range(columns):
            q = np.array([(c, r), (c + 1, r), (c + 1, r + 1), (c, r + 1)]) * size
            n = int(rng.integers(1, 6))
            q = np.vstack([np.linspace(q[k], q[(k + 1) % 4], n, endpoint=False) for k in range(4)])
            shapes.append(Shape(f"p-{r}-{c}", as_path(q + rng.uniform(-wander, wander, q.shape))))
            if rng.random() < 0.3:
                a = np.linspace(0, 2 * math.pi, int(rng.integers(5, 60)), endpoint=False)
                round_ = np.column_stack([np.cos(a), np.sin(a)]) * rng.uniform(0.05, 0.6) * size
                shapes.append(Shape(f"dot-{r}-{c}", as_path(round_ + (np.array([c, r]) + 0.5) * size)))
    cuts = [
        OpenLine(f"l{k}", as_path(rng.uniform(-0.2, 1.2, (int(rng.integers(2, 5)), 2)) * (columns * size, rows * size)))
        for k in range(int(rng.integers(0, 4)))
    ]
    try:
        top = assemble(shapes, cuts)
    except TopError as error:
        assert wander or any(s.name.startswith("dot") for s in shapes)
        assert error.what_to_do
        return
    check(top)


# --- what is refused -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("points", "says"),
    [
        ([(0, 0), (6, 6), (6, 0), (0, 6)], "crosses or doubles back"),  # a bow-tie
        ([(0, 0), (6, 0), (6, 3), (9, 3), (6, 3), (6, 6), (0, 6)], "crosses or doubles back"),  # a spike
        ([(0, 0), (3, 3), (6, 6)], "encloses no area"),
        ([(0, 0), (6, 0)], "fewer than three"),
    ],
)
def test_outlines_that_are_no_region_are_refused(points, says):
    with pytest.raises(TopError, match=says) as caught:
        assemble([square("good", 20, 0), shape("bad one", points)])
    assert "patch 'bad one'" in str(caught.value)
    assert caught.value.what_to_do


@pytest.mark.parametrize(
    "hole",
    [
        [(0, 2), (2, 2), (2, 4), (0, 4)],  # touches along an edge
        [(-1, 2), (2, 2), (2, 4), (-1, 4)],  # crosses
        [(8, 2), (9, 2), (9, 4)],  # lies outside
        [(0, 0), (6, 0), (6, 6), (0, 6)],  # equals the outline
    ],
)
def test_holes_must_lie_inside(hole):
    with pytest.raises(TopError, match=r"patch 'p': the hole .* touches, crosses or leaves"):
        assemble([shape("p", [(0, 0), (6, 0), (6, 6), (0, 6)], [hole])])


def test_holes_must_not_meet():
    holes = [[(1, 1), (3, 1), (3, 3), (1, 3)], [(2, 2), (4, 2), (4, 4), (2, 4)]]
    with pytest.raises(TopError, match="another hole"):
        assemble([shape("p", [(0, 0), (6, 0), (6, 6), (0, 6)], holes)])


def test_a_hair_of_a_loop_is_mended():
    top = check(assemble([shape("p", [(0, 0), (6, 0), (6, 6), (5.99, 6.01), (6, 6.01), (5.99, 6), (0, 6)])]))
    assert codes(top) == ["outline-mended"]
    hair = np.array([(0, 0), (6, 0), (6, 6), (5.99, 6.01), (6, 6.01), (5.99, 6), (0, 6)])
    many = check(assemble([shape(f"p{k}", hair + np.array([8 * k, 0])) for k in range(5)]))
    assert codes(many) == ["outline-mended"]
    assert "the outlines of 5 patches" in many.findings[0].text
    assert "'p0', 'p1', 'p2' and 2 more" in many.findings[0].text


def test_overlaps_doubles_and_names_are_refused():
    with pytest.raises(TopError, match=r"patch 'a': overlaps 'b' by 3.0 sq in .*1/2 in x 6 in") as caught:
        assemble([square("a", 0, 0), square("b", 5.5, 0)])
    assert "Move or redraw" in str(caught.value)
    with pytest.raises(TopError, match="covers the same place as 'b'"):
        assemble([square("a", 0, 0), square("b", 0, 0)])
    with pytest.raises(TopError, match="patch 'a': is the name of two patches"):
        assemble([square("a", 0, 0), square("a", 6, 0)])
    with pytest.raises(TopError, match="patch 'a-1': is the name of two patches"):
        assemble([square("a", 0, 0), square("a-1", 6, 0)], [line("cut", (3, 0), (3, 6))])
    with pytest.raises(TopError, match="no closed shape"):
        assemble([])


# --- files -----------------------------------------------------------------------------------------------------


@pytest.fixture
def svg(tmp_path):
    def make(body, width="24in", height="24in", box="0 0 24 24"):
        path = tmp_path / "quilt.svg"
        head = f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height}" viewBox="{box}">'
        path.write_text(f"{head}{body}</svg>")
        return path

    return make


def test_from_a_file(svg):
    body = """<g transform="translate(2 2)"><rect id="left" width="10" height="12" fill="#cde"/>
      <path id="right" d="M10 0H20V12H10z"/>
      <g fill="none"><path id="cut" d="M0 6H20"/><path id="fence-1" d="M2 1 8 5"/><path id="spine-a" d="M1 7h3"/>
      <circle id="label" cx="15" cy="9" r="1"/></g></g>"""
    top = check(from_drawing(svg(body), guides=["fence-*", "spine-*", "label"]), area_in=240)
    assert [p.name for p in top.patches] == ["left-1", "left-2", "right-1", "right-2"]
    assert [p.colour for p in top.patches][:2] == ["#ccddee"] * 2
    assert list(top.guides) == ["fence-1", "spine-a", "label"]
    # guides move with the top
    np.testing.assert_allclose(top.guides["fence-1"], np.array([(2, 1), (8, 5)]) * IN, atol=1e-3)
    assert np.array_equal(top.guides["label"][0], top.guides["label"][-1])
    assert codes(top) == ["size-read"]
    assert "20 x 12 in" in top.findings[0].text
    assert not any(s.may_travel for s in from_drawing(svg(body), guides=["*-*", "label"], pressed_open=True).seams)


def test_size_read_is_said_in_sixteenths(svg):
    side = 36 * math.sqrt(2) + 13
    top = from_drawing(svg(f'<rect width="{side}" height="{side}"/>', "100in", "100in", "0 0 100 100"))
    assert "read as 63 15/16 x 63 15/16 in" in top.findings[0].text


@pytest.mark.parametrize(("units", "said"), [(2, "2 x 2 in"), (140, "140 x 140 in")])
def test_implausible_sizes_name_the_other_readings(svg, units, said):
    body = f'<rect width="{units}" height="{units}"/>'
    top = from_drawing(svg(body, "200in", "200in", "0 0 200 200"))
    (finding,) = [f for f in top.findings if f.code == "size-implausible"]
    assert said in finding.text
    # 96 / 72 = 4/3 and 96 / 90 = 16/15 of it
    assert {2: "2 11/16 x 2 11/16 in at 72", 140: "186 11/16 x 186 11/16 in at 72"}[units] in finding.text
    assert "at 90" in finding.text


def test_guides_must_exist_and_be_told_apart(svg):
    body = '<rect id="a" width="9" height="9"/><path id="fence-1" fill="none" d="M0 0 5 5"/>'
    with pytest.raises(TopError, match=r"quilt\.svg: top\.guides: 'fense-1' .* Did you mean 'fence-1'"):
        from_drawing(svg(body), guides=["fense-1"])
    doubled = body + '<path fill="none" d="M0 5 5 5"><title>fence-1</title></path>'
    with pytest.raises(TopError, match="name of two guides"):
        from_drawing(svg(doubled), guides=["fence-*"])


def test_faults_name_the_file(svg):
    with pytest.raises(TopError, match=r"quilt\.svg: has no closed shape"):
        from_drawing(svg('<path id="a" fill="none" stroke="red" d="M0 0h9v9"/>'))
    with pytest.raises(TopError, match=r"close_gaps"):
        from_drawing(svg('<rect id="a" width="9" height="9"/>'), close_gaps_mm=float("nan"))


# --- speed, and the same again ---------------------------------------------------------------------------------


def test_five_hundred_patches_and_the_same_bytes_again():
    rng = np.random.default_rng(3)
    shapes = [
        Shape(f"p-{r}-{c}", as_path(np.array([(c, r), (c + 1, r), (c + 1, r + 1), (c, r + 1)]) * 3 * IN
                                    + rng.uniform(-0.2, 0.2, (4, 2))))
        for r in range(20) for c in range(25)
    ]  # fmt: skip
    tops = [assemble(shapes) for _ in range(2)]
    assert len(check(tops[0]).patches) == 500
    assert [s.path.tobytes() for s in tops[0].seams] == [s.path.tobytes() for s in tops[1].seams]


def test_a_strip_between_lines_beyond_the_patches_is_no_gap():
    # a line leads 2 in out of the patch and, nearer than gaps are closed, back again: the patch stays 6 in wide
    top = assemble([square("a", 0, 0)], [line("to and fro", (4, 3), (8, 3), (8, 3.02), (4, 3.02))])
    check(top, area_in=36)
    assert top.size[0] / IN == pytest.approx(6)
