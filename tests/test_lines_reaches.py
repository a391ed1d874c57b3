"""Reaches: whole zones where they fit, marks that can be found, cuts that overlap, and the refit."""

from __future__ import annotations

import functools
import itertools
import math
import operator

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, box

from plumeline.errors import LineError
from plumeline.geometry import as_region, path_length
from plumeline.lines import Reach, Work, choose_reaches, join_works, named_marks, refit
from plumeline.lines.windows import choose_windows
from plumeline.model import Machine, Stroke, Way, Zone, as_path


def zone(name, left, top, width, height):
    region = as_region([(left, top), (left + width, top), (left + width, top + height), (left, top + height)])
    return Zone(name, "", 1, region, region)


def grid(columns, rows, size=150.0):
    return [zone(f"z{r}{c}", c * size, r * size, size, size) for r in range(rows) for c in range(columns)]


def crossings(columns, rows, size=150.0):
    return [(c * size, r * size) for r in range(rows + 1) for c in range(columns + 1)]


@pytest.mark.parametrize(
    ("reach", "count"),
    [
        # 6 x 5 blocks of 150: two blocks to 360, so 3 x 3; one to 200 and four to 700, so 6 x 2; all at once
        ((360.0, 360.0), 9),
        ((200.0, 700.0), 12),
        ((150.0, 150.0), 30),
        ((900.0, 750.0), 1),
        ((1e4, 200.0), 5),
    ],
)
@pytest.mark.parametrize("order", ["rows", "centre-out", "any"])
def test_fewest_reaches_that_cut_nothing(reach, count, order):
    zones = grid(6, 5)
    found = choose_reaches(zones, reach, order=order, crossings=crossings(6, 5))
    assert len(found.reaches) == count
    assert [r.number for r in found.reaches] == list(range(1, count + 1))
    assert all(len(parts) == 1 for parts in found.parts)
    assert all(f.code == "many-reaches" for f in found.findings)
    for z, ((number, part),) in zip(zones, found.parts):
        window = found.reaches[number - 1].window
        assert box(*window).buffer(0.1).covers(z.outline)
        assert part == z.outline.bounds
    for r in found.reaches:
        assert (r.window[2] - r.window[0], r.window[3] - r.window[1]) == pytest.approx(reach)


@pytest.mark.parametrize("reach", [(360.0, 360.0), (200.0, 700.0), (150.0, 150.0), (1e4, 200.0)])
@pytest.mark.parametrize("order", ["rows", "centre-out", "any"])
def test_two_marks_in_each_overlap_far_apart_and_at_seam_crossings(reach, order):
    known = set(crossings(6, 5))
    found = choose_reaches(grid(6, 5), reach, order=order, crossings=crossings(6, 5))
    for k, r in enumerate(found.reaches[1:], start=1):
        assert r.marks.shape == (2, 2)
        apart = np.abs(r.marks[1] - r.marks[0]) / np.minimum(reach, (900.0, 750.0))
        here = box(*r.window)
        assert apart.max() >= 0.7
        assert any(
            box(*other.window).buffer(0.1).covers(shapely.points(r.marks)).all()
            and here.buffer(0.1).covers(shapely.points(r.marks)).all()
            for other in found.reaches[:k]
        )
        assert {tuple(m) for m in r.marks.tolist()} <= known


def test_a_seam_crossing_in_both_reaches_is_a_mark_even_if_it_is_the_only_one():
    zones = [zone("a", 0, 0, 300, 200), zone("b", 0, 200, 300, 200)]
    found = choose_reaches(zones, (300, 220), crossings=[(290.0, 205.0)])
    marks = found.reaches[1].marks
    assert [290.0, 205.0] in marks.tolist()
    assert np.abs(marks[1] - marks[0]).max() >= 0.7 * 300  # the other is drawn far from it


def test_letters_of_marks_are_never_read_as_figures():
    many = [Reach(k + 1, (0, 0, 10, 10), as_path([(k, 0), (k, 10)])) for k in range(20)]
    names = list(named_marks(many))
    assert len(set(names)) == len(names) == 40
    assert names[7:9] == ["H", "J"]
    assert not {c for name in names for c in name} & {"I", "O"}


def test_rows_go_down_the_quilt_and_centre_out_goes_out():
    zones = grid(5, 5)
    rows = choose_reaches(zones, (150, 150), order="rows")
    tops = [r.window[1] for r in rows.reaches]
    assert tops == sorted(tops)
    out = choose_reaches(zones, (150, 150), order="centre-out")
    far = [max(abs(r.window[0] + 75 - 375), abs(r.window[1] + 75 - 375)) for r in out.reaches]
    assert far == sorted(far)
    to_and_fro = choose_reaches(zones, (150, 150), order="any")
    moves = np.diff([[r.window[0], r.window[1]] for r in to_and_fro.reaches], axis=0)
    assert np.abs(moves).sum(axis=1).max() <= 150.1  # each reach lies beside the one before


def test_staggered_zones_are_still_held_whole():
    zones = [zone(f"z{c}{r}", c * 150, r * 150 + (75 if c % 2 else 0), 150, 150) for c in range(6) for r in range(4)]
    found = choose_reaches(zones, (1000, 400))
    for z, ((number, _),) in zip(zones, found.parts):
        assert box(*found.reaches[number - 1].window).buffer(0.1).covers(z.outline)


@settings(deadline=None, max_examples=40)
@given(
    st.lists(
        st.tuples(*[st.integers(0, 60)] * 2, *[st.integers(1, 30)] * 2), min_size=1, max_size=12, unique_by=lambda b: b
    )
)
def test_every_part_lies_in_its_reach(boxes):
    zones = [zone(f"z{k}", 10.0 * x, 10.0 * y, 10.0 * w, 10.0 * h) for k, (x, y, w, h) in enumerate(boxes)]
    found = choose_reaches(zones, (130.0, 110.0))
    for z, parts in zip(zones, found.parts):
        assert all(box(*found.reaches[n - 1].window).buffer(0.1).covers(box(*part)) for n, part in parts)
        assert shapely.unary_union([box(*part) for _, part in parts]).buffer(0.1).covers(z.outline)
        assert (len(parts) > 1) == any(f.code == "zone-cut" and f.zone == z.label for f in found.findings)


def test_a_zone_larger_than_the_reach_is_cut_where_fewest_lines_cross():
    big = zone("border", 0, 0, 500, 100)
    bundle = [as_path([(235, y), (252, y)]) for y in np.arange(5.0, 95, 5)]  # across the middle: cut beside it
    ends = as_path([(0, 50), (500, 50)])
    found = choose_reaches([big], (300, 200), paths=[[*bundle, ends]])
    (first, second) = found.parts[0]
    assert not 235 <= first[1][2] <= 252
    assert first[1][2] - second[1][0] == pytest.approx(7.62)  # three stitches of 2.54 mm


def test_blocks_are_cut_only_where_that_saves_moves():
    # 60 x 60 in of 12 in blocks, a reach of 16 in: one block to a reach makes 25; the area alone asks for 16
    blocks, inch = grid(5, 5, size=304.8), 25.4
    found = choose_reaches(blocks, (16 * inch, 16 * inch))
    assert len(found.reaches) == 16
    assert any(len(parts) > 1 for parts in found.parts)
    # 14 in of reach saves nothing: five columns and five rows either way
    whole = choose_reaches(blocks, (14 * inch, 14 * inch))
    assert len(whole.reaches) == 25
    assert [f.code for f in whole.findings] == ["many-reaches"]


def test_where_nothing_is_sewn_no_reach_is_needed():
    # a motif of 100 mm in each corner of a zone of 1 m: its outline would take four windows of 550 mm across
    big = zone("big", 0, 0, 1000, 120)
    marks = [as_path([(x, 10), (x + 100, 110)]) for x in (200.0, 500.0)]
    assert len(choose_reaches([big], (450, 150), paths=[marks]).reaches) == 1


def fewest_by_brute_force(boxes, size):
    """The fewest windows, each beginning at the left of one box and the top of one, that hold all boxes whole."""
    held = set()
    for left, top in itertools.product({b[0] for b in boxes}, {b[1] for b in boxes}):
        inside = [b[0] >= left and b[1] >= top and b[2] <= left + size[0] and b[3] <= top + size[1] for b in boxes]
        held.add(sum(1 << k for k, x in enumerate(inside) if x))
    every = (1 << len(boxes)) - 1
    for count in range(1, len(boxes) + 1):
        for sets in itertools.combinations(held, count):
            if functools.reduce(operator.or_, sets) == every:
                return count
    raise AssertionError


@settings(deadline=None, max_examples=40)
@given(
    st.lists(
        st.tuples(*[st.integers(0, 40)] * 2, *[st.integers(1, 12)] * 2), min_size=1, max_size=7, unique_by=lambda b: b
    )
)
def test_never_more_windows_than_the_fewest_that_hold_all_whole(places):
    boxes = [(10.0 * x, 10.0 * y, 10.0 * (x + w), 10.0 * (y + h)) for x, y, w, h in places]
    found = choose_windows(boxes, boxes, (125.0, 125.0), 7.62, [()] * len(boxes))
    best = fewest_by_brute_force(boxes, (125.0, 125.0))
    assert len(found.boxes) <= best
    if len(found.boxes) == best:
        assert len(found.cells) == len(boxes)  # nothing is cut where that saves no move


def test_cut_lines_overlap_by_three_stitches_and_lose_nothing():
    rows = tuple(Stroke(as_path([(0, y), (500, y)]), zone="border") for y in np.arange(5.0, 100, 10))
    works = [Work(zone("border", 0, 0, 500, 100), rows, "last")]
    seams = [Way(as_path([(0, 0), (500, 0), (500, 100), (0, 100), (0, 0)]), "seam")]
    joined = join_works(works, seams=seams, machine=Machine(reach_mm=(300, 200)))
    assert [f.code for f in joined.findings] == ["zone-cut"]
    assert {line.reach for line in joined.lines} == {1, 2}
    everything = shapely.unary_union([LineString(line.path) for line in joined.lines])
    assert all(everything.buffer(1e-6).covers(LineString(s.path)) for s in rows)
    for k in range(len(rows)):
        sewn = sum(
            path_length(line.path[s.start : s.end + 1])
            for line in joined.lines
            for s in line.spans
            if s.stroke == k and s.kind == "stitch"
        )
        assert sewn == pytest.approx(500 + 7.62)
    for line in joined.lines:
        window = joined.reaches.reaches[line.reach - 1].window
        assert box(*window).buffer(0.1).covers(LineString(line.path))


def test_ways_end_at_the_reach_and_small_strokes_of_a_cut_zone_stay_whole():
    dash = [Stroke(as_path([(x, 50), (x + 20, 50)]), zone="border") for x in (10.0, 120.0, 400.0)]
    works = [Work(zone("border", 0, 0, 500, 100), tuple(dash), "last")]
    joined = join_works(works, seams=[Way(as_path([(0, 50), (500, 50)]), "seam")], machine=Machine(reach_mm=(300, 200)))
    assert len(joined.lines) == 2  # in the first reach the seam leads on to the second dash; no way leads out of it
    for k, s in enumerate(dash):
        (piece,) = [
            line.path[x.start : x.end + 1]
            for line in joined.lines
            for x in line.spans
            if x.stroke == k and x.pass_no == 1
        ]
        assert path_length(piece) == pytest.approx(path_length(s.path))


@pytest.mark.parametrize(("inner", "outer"), [(250.0, 310.0), (350.0, 290.0)])
def test_a_seam_that_leads_out_of_the_reach_and_back_is_not_sewn(inner, outer):
    works = [
        Work(z, tuple(Stroke(as_path([(x, y), (x + 150, y)]), zone=z.name) for y in (20.0, 60.0)), "last")
        for z, x in ((zone("left", 0, 0, 280, 100), 100.0), (zone("right", 320, 0, 280, 100), 350.0))
    ]
    hook = Way(as_path([(inner, 20), (outer, 20), (outer, 60), (inner, 60)]), "seam")
    wide, narrow = (join_works(works, seams=[hook], machine=Machine(reach_mm=(x, 200))) for x in (600, 300))
    assert (len(wide.lines), len(narrow.lines)) == (3, 4)  # where the machine gets to both ends, the hook joins two
    for line in narrow.lines:
        window = narrow.reaches.reaches[line.reach - 1].window
        assert box(*window).buffer(0.1).covers(LineString(line.path))


def test_a_cut_chain_leaves_no_stitching_out():
    out = Stroke(as_path([(0, 50), (250, 60), (400, 50)]), chain=1, atomic=True, entry="ends", zone="border")
    back = Stroke(as_path([(400, 50), (250, 60)]), role="backtrack", chain=1, atomic=True, entry="ends", zone="border")
    on = Stroke(as_path([(250, 60), (490, 90)]), chain=1, atomic=True, entry="ends", zone="border")
    works = [Work(zone("border", 0, 0, 500, 100), (out, back, on), "last")]
    joined = join_works(works, seams=[], machine=Machine(reach_mm=(300, 200)))
    everything = shapely.unary_union([LineString(line.path) for line in joined.lines]).buffer(0.3)
    assert all(everything.covers(LineString(s.path)) for s in (out, on))


def test_a_feather_is_cut_between_its_plumes_and_not_through_them():
    # plumes of 60 x 80 mm along a spine of 960 mm, each touched by its neighbours, gone back along to the next
    strokes = []
    a = np.linspace(np.pi, 0, 20)
    for k in range(16):
        bow = np.column_stack([60 * k + 30 + 30 * np.cos(a), 90 - 80 * np.sin(a)])
        strokes.append(Stroke(as_path(bow), chain=1, atomic=True, entry="ends", zone="border"))
        strokes.append(Stroke(as_path(bow[::-1][:6]), role="backtrack", chain=1, atomic=True, zone="border"))
        strokes.append(Stroke(as_path([bow[::-1][5], bow[-1]]), role="step", chain=1, atomic=True, zone="border"))
    works = [Work(zone("border", 0, 0, 960, 100), tuple(strokes), "last")]
    joined = join_works(works, seams=[], machine=Machine(reach_mm=(400, 200)))
    assert {line.reach for line in joined.lines} == {1, 2, 3}
    for k in range(0, len(strokes), 3):
        pieces = [
            line.path[s.start : s.end + 1]
            for line in joined.lines
            for s in line.spans
            if s.stroke == k and s.kind == "stitch"
        ]
        assert len(pieces) == 1  # one piece each: whole
        assert path_length(pieces[0]) == pytest.approx(path_length(strokes[k].path), abs=0.6)
    for line in joined.lines:
        window = joined.reaches.reaches[line.reach - 1].window
        assert box(*window).buffer(0.3).covers(LineString(line.path))


def test_lines_lie_in_their_reach_and_in_reach_order():
    zones = grid(4, 3)
    works = [
        Work(z, tuple(Stroke(as_path([(z.region.bounds[0], y), (z.region.bounds[2], y)]), zone=z.name) for y in
                      np.arange(z.region.bounds[1] + 10, z.region.bounds[3], 20)), "motif")
        for z in zones
    ]  # fmt: skip
    seams = [Way(as_path([(0, r * 150), (600, r * 150)]), "seam") for r in range(4)]
    seams += [Way(as_path([(c * 150, 0), (c * 150, 450)]), "seam") for c in range(5)]
    joined = join_works(works, seams=seams, machine=Machine(reach_mm=(310, 310)))
    assert [line.reach for line in joined.lines] == sorted(line.reach for line in joined.lines)
    assert len(joined.lines) == len(joined.reaches.reaches) == 4  # one line for each reach
    for line in joined.lines:
        window = joined.reaches.reaches[line.reach - 1].window
        assert box(*window).buffer(0.1).covers(LineString(line.path))


def test_too_small_a_reach_is_refused():
    with pytest.raises(LineError, match=r"machine\.reach: is 15 x 400 mm; must be more than 15\.24 mm each way"):
        choose_reaches(grid(1, 1), (15, 400))


def test_on_a_frame_the_width_is_the_quilt():
    found = choose_reaches(grid(6, 5), (math.inf, 310.0))
    assert [r.window[:1] + r.window[2:3] for r in found.reaches] == [(0.0, pytest.approx(900, abs=0.1))] * 3
    assert not found.findings


def test_many_moves_are_told():
    assert [f.code for f in choose_reaches(grid(6, 5), (150, 150)).findings] == ["many-reaches"]
    assert not choose_reaches(grid(4, 3), (150, 150)).findings


def test_marks_too_near_are_told():
    zones = [zone("a", 0, 0, 300, 90), zone("b", 250, 90, 300, 90)]
    found = choose_reaches(zones, (300, 100))
    assert [f.code for f in found.findings] == ["marks-near"]


@settings(deadline=None)
@given(
    st.floats(-170, 170),
    st.floats(-500, 500),
    st.floats(-500, 500),
    st.lists(st.tuples(st.integers(0, 900), st.integers(0, 900)), min_size=2, max_size=6, unique=True),
)
def test_refit_finds_the_motion(angle, dx, dy, points):
    planned = np.array(points, dtype=float)
    z = (planned[:, 0] - 1j * planned[:, 1]) * np.exp(1j * math.radians(angle))  # y up, counter-clockwise
    measured = np.column_stack([z.real + dx, -z.imag + dy])
    fit = refit(planned, measured)
    assert fit.angle_deg == pytest.approx(angle, abs=1e-6)
    assert np.allclose(fit.apply(planned), measured, atol=1e-6)
    assert fit.shrink == pytest.approx(0, abs=1e-9)
    assert not fit.findings


@pytest.mark.parametrize(("scale", "told"), [(0.995, False), (0.985, True), (1.02, True)])
def test_shrinkage_beyond_a_percent_is_told(scale, told):
    planned = np.array([(0.0, 0.0), (400.0, 0.0)])
    fit = refit(planned, planned * scale + 7)
    assert fit.shrink == pytest.approx(scale - 1)
    assert [f.code for f in fit.findings] == (["quilt-shrunk"] if told else [])
    assert np.allclose(fit.apply(planned).mean(axis=0), (planned * scale + 7).mean(axis=0))  # mid goes to mid


@pytest.mark.parametrize(
    ("planned", "measured", "said"),
    [
        ([(0, 0)], [(0, 0)], "two or more"),
        ([(0, 0), (1, 0)], [(0, 0), (1, 0), (2, 0)], "the same two or more"),
        ([(1, 1), (1, 1)], [(0, 0), (1, 0)], "one place"),
        ([(0, 0), (1, 0)], [(1, 1), (1, 1)], "one place"),
    ],
)
def test_marks_that_can_not_be_used(planned, measured, said):
    with pytest.raises(LineError, match=said):
        refit(planned, measured)
