"""Needle points, ties, commands, time, thread and bobbins."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from plumeline.errors import StitchError
from plumeline.model import Batting, Line, Machine, Needle, Span, as_path
from plumeline.stitches import (
    bobbins,
    longest_line_mm,
    machine_plan,
    needle_points,
    sewing_seconds,
    stitch_lines,
    thread_mm,
)
from plumeline.stitches.timing import speed_limits

KINDS = [kind.name.lower() for kind in Needle]
BURIED = Machine(ties="bury", trimmer=True)


def steps(points):
    return np.hypot(*np.diff(points, axis=0).T)


def arc(radius, turn=2 * math.pi, count=2000):
    t = np.linspace(0, turn, count)
    return np.column_stack([radius * np.cos(t), radius * np.sin(t)])


def line(points, *, spans=None, **more):
    path = as_path(points)
    return Line(path, spans or ((Span(0, len(path) - 1, "stitch", 0, zone=0),) if len(path) > 1 else ()), **more)


def stitched(lines, machine=BURIED, **more):
    return stitch_lines(lines, machine, names=["zone"], **more)


def kinds(points):
    return [KINDS[k] for k in points.kind]


def distance_to(path, points):
    """Distance of each point from a polyline, worked out segment by segment."""
    best = np.full(len(points), np.inf)
    for a, b in pairwise(path):
        d = b - a
        t = np.clip(((points - a) @ d) / max(d @ d, 1e-30), 0, 1)
        best = np.minimum(best, np.hypot(*(points - a - t[:, None] * d).T))
    return best


# --- even stitches -----------------------------------------------------------------------------------------------


def test_a_straight_line_has_equal_stitches():
    # 25.4 / 10 stitches an inch = 2.54 mm (international inch): 254 mm are exactly 100 stitches.
    found = steps(needle_points([(0, 0), (254, 0)]))
    assert len(found) == 100
    np.testing.assert_allclose(found, 2.54, atol=1e-9)


@pytest.mark.parametrize(("per_inch", "mm"), [(8, 3.175), (9, 2.82), (11, 2.31), (12, 2.117), (13, 1.954)])
def test_stitches_an_inch(per_inch, mm):
    # The table of stitch lengths for stitches an inch: 8 -> 3.175, 9 -> 2.82, 11 -> 2.31, 12 -> 2.117, 13 -> 1.954.
    found = steps(needle_points([(0, 0), (0, 254)], stitch_mm=25.4 / per_inch))
    assert len(found) == 10 * per_inch
    assert found.mean() == pytest.approx(mm, abs=0.01)


def test_a_square_keeps_its_corners_exactly():
    square = np.array([(0.1, 0.2), (100.3, 0.2), (100.3, 77.7), (0.1, 77.7)])
    points = needle_points(square, closed=True)
    for corner in square:
        assert (points == corner).all(axis=1).any()
    assert (points[0] == points[-1]).all()
    assert steps(points).max() / steps(points).min() < 1.02


@pytest.mark.parametrize("radius", [2.01, 2.5, 3, 5, 10, 30, 100, 1000])
def test_over_2_mm_radius_stitches_keep_70_percent_of_the_target(radius):
    points = needle_points(arc(radius))
    found = steps(points)
    along = 2 * radius * np.arcsin(found / 2 / radius)  # a stitch's length along the circle
    assert along.min() >= 0.7 * 2.54
    assert found.max() <= 1.2 * 2.54
    assert found.max() / found.min() < 1.01
    # A chord c on radius r leaves the curve by r - sqrt(r^2 - c^2 / 4) (closed form).
    assert radius - math.sqrt(radius**2 - found.max() ** 2 / 4) < 0.22


@pytest.mark.parametrize("chord", [0.4, 0.2, 0.1, 0.05, 0.02])
def test_the_chord_error_keeps_its_promise(chord):
    wave = np.column_stack([np.linspace(0, 300, 30_000), 12 * np.sin(np.linspace(0, 40, 30_000))])
    points = needle_points(wave, chord_mm=chord, least_mm=0.1)
    middle = (points[1:] + points[:-1]) / 2
    off = distance_to(wave[::10], middle)
    assert off.max() < chord * 1.1 + 0.002
    if chord < 0.1:
        assert off.max() > chord * 0.5  # and it does not hide behind needlessly short stitches


def test_tight_curves_get_shorter_stitches_but_not_under_the_least():
    found = steps(needle_points(arc(1.2)))
    assert 1.199 <= found.min() <= found.max() < 1.6


def test_a_curve_at_one_end_is_not_felt_at_the_other_end_of_a_long_straight():
    bow = arc(2.0, math.pi, 200)
    path = np.vstack([bow, [(-2.0, -500.0)]])
    far = steps(needle_points(path))[-100:]
    np.testing.assert_allclose(far, far.mean(), rtol=1e-3)
    assert far.mean() == pytest.approx(2.54, rel=0.02)


def test_neighbouring_stitches_change_gently():
    t = np.linspace(0, 6 * np.pi, 8000)
    spiral = np.column_stack([(1 + t) * np.cos(t), (1 + t) * np.sin(t)])
    found = steps(needle_points(spiral))
    assert (np.abs(np.diff(found)) / found[1:]).max() < 0.25


def test_both_cusps_of_a_plume_are_hit_exactly():
    bow = arc(15, math.pi, 100)
    path = np.vstack([bow, bow[::-1][1:] * [1, 0.5] + [0, 0], bow[1:]])
    points = needle_points(path)
    for cusp in (bow[-1], bow[0]):
        assert (points == cusp).all(axis=1).any()


def test_rounded_corners_of_fine_points_count_as_corners():
    corner = arc(0.1, math.pi / 2, 12)
    path = np.vstack([[(0.1, -40)], corner, [(-40, 0.1)]])
    assert distance_to(path, needle_points(path)).max() < 1e-9
    assert np.hypot(*(needle_points(path) - corner[5:7].mean(axis=0)).T).min() < 0.1


def test_zigzags_finer_than_the_least_stitch_don_t_hammer():
    x = np.arange(0, 60, 0.4)
    found = steps(needle_points(np.column_stack([x, np.where(np.arange(len(x)) % 2, 0.4, 0)])))
    assert len(found) < 80


@pytest.mark.parametrize("path", [np.zeros((0, 2)), [(3, 4)], [(3, 4), (3, 4)], [(3, 4), (3, 4 + 1e-8)]])
def test_paths_without_length(path):
    points = needle_points(path)
    assert len(points) == min(len(path), 1)


def test_doubled_points_change_nothing():
    path = arc(20, 4, 60)
    np.testing.assert_allclose(needle_points(np.repeat(path, 3, axis=0)), needle_points(path), atol=1e-9)


def test_far_from_the_origin_nothing_changes():
    path = arc(20, 4, 400)
    np.testing.assert_allclose(needle_points(path + 1e5) - 1e5, needle_points(path), atol=1e-6)


@pytest.mark.parametrize("bad", [math.nan, math.inf, 0, -1])
@pytest.mark.parametrize("key", ["stitch_mm", "least_mm", "chord_mm"])
def test_lengths_must_be_over_0(key, bad):
    with pytest.raises(StitchError, match=key):
        needle_points([(0, 0), (1, 0)], **{key: bad})


def test_the_least_stitch_must_not_be_over_the_target():
    with pytest.raises(StitchError, match="must not be over"):
        needle_points([(0, 0), (1, 0)], stitch_mm=1, least_mm=2)


def test_nan_is_refused():
    with pytest.raises(ValueError, match="finite"):
        needle_points([(0, 0), (math.nan, 0)])


coordinate = st.one_of(
    st.floats(-200, 200), st.sampled_from([0.0, 1e-7, 0.6, 0.72, 1.2, 1.2 - 1e-9, 2.54, 3.048, 3.048 + 1e-9, 25.4])
)


@given(st.lists(st.tuples(coordinate, coordinate), min_size=2, max_size=40))
@example([(3.0, 4.0), (0.0, 0.0), (0.0, 0.5)])  # a turn too near the end for a corner
def test_any_polyline(points):
    """Ends kept, every point on the path and in order, no stitch over 1.2 x target."""
    path = np.array(points)
    length = steps(path).sum()
    found = needle_points(path)
    assert (found[0] == path[0]).all()
    assert np.hypot(*(found[-1] - path[-1])) <= 1e-5
    assert distance_to(path, found).max() < 1e-6
    assert steps(found).max(initial=0) <= 1.2 * 2.54 + 1e-6
    assert len(found) - 1 <= length / 1.2 + 2  # never more than the least stitch allows, ends aside


@st.composite
def scribble(draw):
    """A path on a grid of 0.4 mm that often turns back on itself, near its own holes."""
    count = draw(st.integers(2, 30))
    way = st.tuples(st.integers(-6, 6), st.integers(-6, 6))
    moves = [draw(way) for _ in range(count)]
    back = [draw(st.booleans()) for _ in moves]
    steps_there_and_back = [m for a, b in zip(moves, back) for m in ([a, (-a[0], -a[1])] if b else [a])]
    return np.cumsum(np.array([(0, 0), *steps_there_and_back]) * 0.4, axis=0)


@given(scribble())
@settings(max_examples=300, deadline=None)
@example(np.array([(0.0, 0.0), (10.0, 0.0), (12.0, 0.4), (10.0, 0.0), (10.0, 10.0)]))
def test_no_two_holes_in_a_row_are_one(path):
    """A quarter of the least stitch lies between them, but where the whole line is a single shorter stitch."""
    found = needle_points(path)
    assert distance_to(path, found).max() < 1e-6
    assert len(found) <= 2 or steps(found).min() >= 0.25 * 1.2 - 1e-9
    assert steps(found).max(initial=0) <= 1.2 * 2.54 + 0.25 * 1.2 + 1e-6


def test_a_tip_between_two_holes_on_one_place_gets_a_hole_of_its_own():
    # 2 in there and back past a tip of 0.9 mm, so short that even stitches pass it by on both sides
    out = np.array([(0.0, 0.0), (20.0, 0.0), (20.9, 0.0), (20.0, 0.0), (20.0, 20.0)])
    found = needle_points(out)
    assert steps(found).min() >= 0.3


@given(st.integers(0, 2**32), st.integers(2, 30))
def test_backwards_the_holes_are_the_same(seed, count):
    path = np.cumsum(np.random.default_rng(seed).normal(0, 9, (count, 2)), axis=0)
    there, back = needle_points(path), needle_points(path[::-1])
    if len(there) == len(back):  # a count on the very edge of rounding may fall either way
        assert np.hypot(*(there - back[::-1]).T).max() < 1e-6


# --- lines, ties, commands ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("at_once", [100_000, 52, 1])
def test_lines_in_one_pass_or_in_runs_are_the_lines_one_by_one(at_once, monkeypatch):
    monkeypatch.setattr("plumeline.stitches.drops.AT_ONCE", at_once)
    rng = np.random.default_rng(4)
    paths = [np.cumsum(rng.normal(0, 6, (n, 2)), axis=0) for n in (2, 50, 3, 400, 7)]
    together = stitched([line(p) for p in paths])
    for i, path in enumerate(paths):
        mine = together.xy[(together.line == i) & (together.kind == 0)]
        np.testing.assert_allclose(mine, needle_points(path), atol=1e-9)


def test_with_a_trimmer_a_line_is_jump_stitches_trim():
    points = stitched([line([(0, 0), (10, 0)]), line([(20, 0), (25, 0)])])
    assert kinds(points) == ["jump", *["stitch"] * 5, "trim", "jump", *["stitch"] * 3, "trim", "end"]
    assert points.xy[0].tolist() == [0, 0]
    assert points.xy[7].tolist() == [20, 0]
    assert points.xy[-1].tolist() == [25, 0]


def test_without_a_trimmer_one_stitch_then_a_stop_to_pull_the_bobbin_up():
    points = stitched([line([(0, 0), (10, 0)])], Machine(ties="bury"))
    assert kinds(points) == ["jump", "stitch", "stop", *["stitch"] * 4, "end"]
    assert (points.xy[:3] == 0).all()


def test_tiny_ties_are_5_stitches_of_half_a_millimetre_at_both_ends_of_every_line():
    points = stitched([line([(0, 0), (40, 0)]), line([(0, 9), (40, 9)])], Machine(trimmer=True))
    for i in (0, 1):
        mine = (points.line == i) & (points.kind <= 1)
        x, kind = points.xy[mine, 0], points.kind[mine]
        np.testing.assert_allclose(x[:6], np.arange(6) * 0.5, atol=1e-9)
        np.testing.assert_allclose(x[-6:], 40 - np.arange(6)[::-1] * 0.5, atol=1e-9)
        assert [KINDS[k] for k in kind] == ["stitch", *["tie"] * 5, *["stitch"] * (len(kind) - 11), *["tie"] * 5]
        body = np.diff(x[5:-5])
        assert 1.2 <= body.min() <= body.max() <= 1.2 * 2.54


def test_back_ties_go_forth_and_back_into_the_first_hole():
    points = stitched([line([(0, 0), (20, 0)])], Machine(ties="back", trimmer=True))
    x = points.xy[points.kind <= 1, 0]
    np.testing.assert_allclose(x[:6], [0, 0.5, 1, 0.5, 0, 2.5], atol=1e-9)
    np.testing.assert_allclose(x[-6:], [17.5, 20, 19.5, 19, 19.5, 20], atol=1e-9)


def test_a_tie_keeps_to_the_line():
    path = arc(2.0, math.pi)
    points = stitched([line(path)], Machine(trimmer=True))
    assert distance_to(path, points.xy[points.kind <= 1]).max() < 1e-9


@pytest.mark.parametrize("length", [0.2, 1.2, 1.9, 2.2, 3.0, 4.7, 6.2, 7.0])
@pytest.mark.parametrize("ties", ["tiny", "back"])
def test_short_lines_get_shorter_ties_and_no_stitch_is_too_short(length, ties):
    points = stitched([line([(0, 0), (length, 0)])], Machine(ties=ties, trimmer=True))
    needle = points.kind <= 1
    x, kind = points.xy[needle, 0], points.kind[needle]
    assert x[0] == 0
    assert x[-1] == pytest.approx(length, abs=1e-9)
    plain = np.abs(np.diff(x))[kind[1:] == 0]
    assert plain.min() >= min(1.2, length) - 1e-9
    if ties == "tiny":
        assert (np.diff(x) > 0).all()


def test_backtracked_stretches_use_the_same_holes():
    bow = arc(20, math.pi, 300)
    path = np.vstack([bow, bow[::-1][1:180], bow[120] + np.column_stack([np.linspace(0.5, 40, 30)] * 2)])
    spans = (Span(0, 299, "stitch", 0), Span(299, 478, "backtrack", 1), Span(478, len(path) - 1, "stitch", 2))
    points = stitched([line(path, spans=spans)])
    there, back = points.xy[points.span == 0], points.xy[points.span == 1]
    gap = np.hypot(*(back[:, None] - there[None]).transpose(2, 0, 1)).min(axis=1)
    assert len(back) > 10
    assert gap.max() < 1e-6


def test_one_line_backtracks_along_another_through_its_holes():
    bow = arc(20, math.pi, 300)
    along = np.vstack([bow[150] + [(-30.0, 9.0)], bow[150:20:-1], bow[21] + [(30.0, 9.0)]])
    spans = (Span(0, 1, "stitch", 0), Span(1, 130, "backtrack", 0), Span(130, 131, "stitch", 0))
    points = stitched([line(bow), line(along, spans=spans)], Machine(trimmer=True))
    there, back = points.xy[(points.line == 0) & (points.kind <= 1)], points.xy[(points.line == 1) & (points.span == 1)]
    assert len(back) > 10
    assert np.hypot(*(back[:, None] - there[None]).transpose(2, 0, 1)).min(axis=1).max() < 1e-6


def test_spans_and_zones_of_needle_points():
    path = [(0, 0), (30, 0), (60, 0), (90, 0)]
    spans = (Span(0, 1, "stitch", 0, zone=0), Span(1, 2, "seam"), Span(2, 3, "stitch", 1, zone=1))
    points = stitch_lines([line(path, spans=spans)], BURIED, names=["a", "b"])
    needle = points.kind == 0
    x = points.xy[needle, 0]
    assert (points.span[needle] == np.digitize(x - 1e-6, [30, 60])).all()
    assert (points.zone[needle] == np.array([0, -1, 1])[np.digitize(x - 1e-6, [30, 60])]).all()
    assert (points.span[~needle] == -1).all()


def test_nothing_to_stitch():
    for lines in ([], [line([(1, 1)])], [line([(1, 1), (1, 1)])]):
        points = stitched(lines)
        assert kinds(points) == ["end"]
        assert machine_plan([points], BURIED).minutes == 0
    assert machine_plan([], BURIED).stitches == 0


def test_a_line_without_length_is_left_out_but_the_others_keep_their_numbers():
    points = stitched([line([(0, 0), (9, 0)]), line([(1, 1)]), line([(0, 5), (9, 5)])])
    assert set(points.line.tolist()) == {0, 2}


def test_a_stop_before_the_bobbin_runs_out():
    # 30 lines of 2 m; each needs (2000 + 2 * 2.0 * 0.5 * 787) * 1.15 + 2 * 152.4 = 4,415 mm of a bobbin of 20 m * 0.95.
    lines = [line([(0, i), (2000, i)]) for i in range(30)]
    machine = Machine(ties="bury", trimmer=True, bobbin_mm=20_000)
    points = stitched(lines, machine)
    stops = points.line[points.kind == KINDS.index("stop")]
    assert stops.tolist() == [3, 7, 11, 15, 19, 23, 27]
    after = np.flatnonzero(points.kind == KINDS.index("stop")) + 1
    assert {KINDS[k] for k in points.kind[after]} == {"jump"}


def test_a_stop_before_another_thread():
    lines = [line([(0, 9 * i), (9, 9 * i)], thread=t) for i, t in enumerate(["main", "main", "rose", "main"])]
    points = stitched(lines)
    assert points.line[points.kind == KINDS.index("stop")].tolist() == [1, 2]


# --- time --------------------------------------------------------------------------------------------------------


def test_a_straight_metre_takes_its_closed_form():
    # Trapezoid of speed: L / v + v / a with v = 2.5 mm x 1,500 / 60 = 62.5 mm/s: 16 + 62.5 / 1000 = 16.0625 s.
    xy = needle_points([(0, 0), (1000, 0)], stitch_mm=2.5)
    machine = Machine(stitches_a_minute=1500)
    found = sewing_seconds(xy, np.zeros(len(xy), int), machine, acceleration_mm_s2=1000)
    assert found == pytest.approx(16.0625, abs=1e-9)


def test_speeds_are_those_of_the_step_by_step_passes():
    rng = np.random.default_rng(3)
    xy = np.cumsum(rng.normal(0, 2, (500, 2)), axis=0)
    step = steps(xy)
    sewn = np.arange(499) % 100 != 99
    top = np.minimum(step * 25, 60.0)
    found = speed_limits(xy, step, top, sewn, 900.0)
    limit = np.zeros(500)
    for i in range(1, 499):
        if sewn[i - 1] and sewn[i]:
            u, v = xy[i] - xy[i - 1], xy[i + 1] - xy[i]
            c = math.cos(abs(math.atan2(u[0] * v[1] - u[1] * v[0], u @ v)) / 2)
            limit[i] = min(top[i - 1], top[i], math.sqrt(900 * 0.05 * c / (1 - c)))
    for i in range(1, 500):
        limit[i] = min(limit[i], math.sqrt(limit[i - 1] ** 2 + 1800 * step[i - 1])) if sewn[i - 1] else limit[i]
    for i in range(498, -1, -1):
        limit[i] = min(limit[i], math.sqrt(limit[i + 1] ** 2 + 1800 * step[i])) if sewn[i] else limit[i]
    np.testing.assert_allclose(found, limit, atol=1e-6)


def test_no_stitch_is_faster_than_a_beat():
    xy = np.column_stack([np.arange(1001) * 0.001, np.zeros(1001)])
    assert sewing_seconds(xy, np.zeros(1001, int), Machine()) >= 1000 * 60 / 1300 - 1e-9


@pytest.mark.parametrize(("guided", "seconds"), [("hand", 100.0), ("ruler", 200.0 + 10 * 2540 / 152.4)])
def test_by_hand_an_inch_a_second_by_ruler_half_and_the_moves(guided, seconds):
    xy = needle_points([(0, 0), (2540, 0)])
    assert sewing_seconds(xy, np.zeros(len(xy), int), Machine(guided=guided)) == pytest.approx(seconds)


def test_pauses_and_jumps_count():
    lines = [line([(0, i * 100), (100, i * 100)]) for i in range(10)]
    plan = machine_plan([stitched(lines)], BURIED)
    moves = 9 * math.hypot(100, 100)
    assert plan.jump_mm == pytest.approx(moves)
    assert plan.minutes == pytest.approx(plan.sewing_minutes + (10 * 120 + moves / 100) / 60)
    assert (plan.lines, plan.jumps, plan.trims, plan.stops) == (10, 9, 10, 0)


# --- thread ------------------------------------------------------------------------------------------------------


LOCKSTITCH = [
    (0.025, 10, 2.5),
    (0.010, 10, 2.2),
    (1 / 16, 10, 3.25),
    (1 / 16, 12, 3.5),
    (0.08, 10, 3.6),
    (0.08, 12, 3.92),
]


@pytest.mark.parametrize(("thickness_in", "per_inch", "ratio"), LOCKSTITCH)
def test_thread_of_a_lockstitch(thickness_in, per_inch, ratio):
    # Textbook formula of ISO 4915 type 301, 2 + 2 T S an inch; worked examples: T 0.025 in, S 10 -> 2.5; 0.010 -> 2.2.
    needle, bobbin = thread_mm(25.4, per_inch, Machine(), thickness_mm=25.4 * thickness_in)
    assert (needle + bobbin) / 1.15 == pytest.approx(25.4 * ratio)
    assert needle == pytest.approx(bobbin)  # 301 interlaces midway: 1 : 1


QUILT = [(0.25, 192_000, 1733.3), (0.5, 96_000, 866.7), (1, 48_000, 433.3)]


@pytest.mark.parametrize(("spacing", "stitches", "yards"), QUILT)
def test_a_quilt_of_60_by_80_inches(spacing, stitches, yards):
    # Line = area / spacing; 10 stitches an inch; 3.25 in of thread for each inch at T = 1/16 in (formula above).
    inches = 60 * 80 / spacing
    needle, bobbin = thread_mm(inches * 25.4, stitches, Machine(), thickness_mm=25.4 / 16)
    assert (needle + bobbin) / 1.15 / 914.4 == pytest.approx(yards, abs=0.1)
    assert needle / 1.15 / 1000 == pytest.approx(inches * 3.25 / 2 * 0.0254, rel=1e-9)


def test_waste_is_15_percent_as_on_a_suppliers_sheet():
    # Supplier's sheet: 6.63 yd x 1.15 = 7.62 yd.
    needle, _ = thread_mm(6.63, 0, Machine(), thickness_mm=2)
    assert needle == pytest.approx(7.6245)


def test_tails():
    assert thread_mm(0, 0, Machine(), thickness_mm=2, lines=3)[0] == 3 * 2 * 120
    assert thread_mm(0, 0, Machine(ties="bury"), thickness_mm=2, lines=3)[1] == pytest.approx(3 * 2 * 6 * 25.4)


@given(
    st.floats(2_000, 200_000),
    st.sampled_from(["tiny", "back", "bury"]),
    st.floats(0.5, 6),
    st.floats(0.3, 0.9),
)
def test_the_longest_line_needs_nine_tenths_of_a_bobbin(capacity, ties, thickness, per_mm):
    # one model of thread: what it says of a line's length and what it says of the line's thread undo each other
    machine = Machine(bobbin_mm=capacity, ties=ties)
    longest = longest_line_mm(machine, thickness_mm=thickness, stitches_per_mm=per_mm)
    _, bobbin = thread_mm(longest, longest * per_mm, machine, thickness_mm=thickness, lines=1)
    assert bobbin / capacity == pytest.approx(0.9)
    assert bobbins(bobbin, capacity) == 1


def test_how_far_a_bobbin_sews():
    # lockstitch interlaced midway, 10 stitches an inch, 2 mm thick: 1 + 2 / 2.54 of thread for each length of line,
    # 15 % of waste, two tails of 120 mm: (0.9 x 50 m - 0.24 m) / (1.7874 x 1.15) = 21.78 m
    machine = Machine(bobbin_mm=50_000.0)
    assert longest_line_mm(machine, thickness_mm=2.0) == pytest.approx(21_776, rel=1e-3)
    assert longest_line_mm(Machine(), thickness_mm=2.0) is None
    with pytest.raises(StitchError, match="tails"):
        longest_line_mm(Machine(bobbin_mm=200.0), thickness_mm=2.0)


def test_bobbins():
    assert bobbins([60_000, 60_000, 20_000], 100_000) == 2  # changed before the second line, that also sews the third
    assert bobbins([200_000], 100_000) == 3
    assert bobbins(95_000, 100_000) == 1
    assert bobbins(95_001, 100_000) == 2
    assert bobbins(0, 100_000) == 0
    assert bobbins(95_000, None) is None


def test_the_plan_adds_up():
    lines = [line(arc(30, 5) + np.array([80 * i, 0])) for i in range(4)]
    machine = Machine(trimmer=True, bobbin_mm=90_000)
    reaches = [stitched(lines[:2], machine), stitched(lines[2:], machine, reach=2)]
    plan = machine_plan(reaches, machine, Batting(thickness_mm=3))
    needle = sum(int((p.kind <= 1).sum()) for p in reaches)
    assert plan.stitches == needle - 4
    assert plan.moving_minutes == 5  # one move of the quilt
    assert plan.sewn_mm == pytest.approx(4 * 150, rel=2e-3)
    assert plan.longest_line_mm == pytest.approx(150, rel=2e-3)
    assert plan.jumps == 2
    assert 1.2 <= plan.shortest_stitch_mm <= plan.longest_stitch_mm <= 1.2 * 2.54
    assert plan.needle_thread_m == pytest.approx(((plan.sewn_mm + 3 * plan.stitches) * 1.15 + 8 * 120) / 1000)
    assert plan.bobbins == 1
    assert sum(z.stitches for z in plan.zones) == plan.stitches
    assert sum(z.sewn_mm for z in plan.zones) == pytest.approx(plan.sewn_mm)
