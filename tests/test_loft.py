"""The relief of quilted cloth: against the closed solutions of its equation, and draw-in derived again."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.special import i0

from plumeline.geometry import as_region
from plumeline.model import Batting, BattingSample, Filled, Line, Patch, Span, Stroke, Top, Zone, as_path
from plumeline.pipeline.cloth import relief_of_top
from plumeline.review import loft_figures, loft_findings, parallel_draw_in, relief, springs
from plumeline.review.loft import KINDS, inside_grid

LOFT, RANGE = 2.2, 4.0
FAR = 6 * RANGE


def middles(field):
    rows, cols = field.height.shape
    x, y = (np.arange(n) * field.step_mm + field.step_mm / 2 for n in (cols, rows))
    return np.meshgrid(field.left + x, field.top + y)


def parallel(apart, turn_deg=0.0, off=0.0):
    turn = np.radians(turn_deg)
    way = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    return [np.array([(-400, k * apart + off), (400, k * apart + off)]) @ way for k in range(-200, 200)]


def between_lines(y, apart, loft=LOFT, far=RANGE):
    """Solve ``h'' = (h - c) / lam**2`` with ``h = 0`` on both lines: one solution, by hand."""
    return loft * (1 - np.cosh((y - apart / 2) / far) / np.cosh(apart / (2 * far)))


@pytest.mark.parametrize("apart", [3.175, 6.35, 12.7, 25.4])
@pytest.mark.parametrize("turn", [0.0, 30.0, 45.0])
def test_between_parallel_lines_it_stands_as_the_closed_form_says(apart, turn):
    field = relief(parallel(apart, turn, 0.3), (0, 0, 90, 90), loft_mm=LOFT, range_mm=RANGE, step_mm=0.5)
    x, y = middles(field)
    t = np.radians(turn)
    across = (-np.sin(t) * x + np.cos(t) * y - 0.3) % apart
    core = np.s_[60:-60, 60:-60]
    assert np.abs(field.height - between_lines(across, apart))[core].max() < 0.004 * LOFT


def test_in_a_disc_it_stands_as_the_bessel_function_says():
    radius, ring = 20.0, np.linspace(0, 2 * np.pi, 3001)
    circle = 40 + radius * np.column_stack([np.cos(ring), np.sin(ring)])
    worst = []
    for step in (1.0, 0.5):
        field = relief([circle], (0, 0, 80, 80), loft_mm=LOFT, range_mm=RANGE, step_mm=step)
        x, y = middles(field)
        r = np.hypot(x - 40, y - 40)
        told = LOFT * (1 - i0(r / RANGE) / i0(radius / RANGE))
        worst.append(np.abs(field.height - told)[r < radius].max() / LOFT)
    assert worst[0] < 0.008
    assert worst[1] < 0.004


def test_far_from_any_line_it_stands_at_the_batting_s_loft():
    line = np.array([(-10.0, 50.0), (200.0, 50.0)])
    field = relief([line], (0, 0, 150, 150), loft_mm=LOFT, range_mm=RANGE, step_mm=1.0)
    _, y = middles(field)
    far = np.abs(y - 50) > 6 * RANGE
    assert np.abs(field.height[far] / LOFT - 1).max() < 0.004
    assert relief([], (0, 0, 50, 20), loft_mm=LOFT, range_mm=RANGE, step_mm=1).height == pytest.approx(LOFT, rel=1e-5)


def test_a_finer_grid_converges():
    rng = np.random.default_rng(4)
    paths = [np.cumsum(rng.normal(size=(40, 2)) * 4, axis=0) + rng.uniform(20, 70, 2) for _ in range(6)]
    fields = [
        relief(paths, (0, 0, 96, 96), loft_mm=LOFT, range_mm=RANGE, step_mm=step).height
        for step in (2.0, 1.0, 0.5, 0.25)
    ]
    fine = fields[-1]
    off = []
    for field in fields[:-1]:
        many = len(fine) // len(field)
        off.append(np.abs(fine.reshape(len(field), many, len(field), many).mean(axis=(1, 3)) - field).mean() / LOFT)
    assert off[1] < 0.6 * off[0]
    assert off[2] < 0.6 * off[1]
    assert off[2] < 0.01


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("apart", [5.0, 12.7, 25.4, 80.0])
def test_draw_in_across_parallel_lines(kind, apart):
    """Half the mean square slope: the closed form is integrated again from the profile's own derivative."""
    loft, far = KINDS[kind]
    slope = lambda y: -loft / far * np.sinh((y - apart / 2) / far) / np.cosh(apart / (2 * far))  # noqa: E731
    told = quad(lambda y: slope(y) ** 2 / 2, 0, apart)[0] / apart
    assert parallel_draw_in(apart, loft, far) == pytest.approx(told, rel=1e-9)
    step = apart / 32
    grid = relief(parallel(apart, off=apart / 2), (0, 0, 20, 4 * apart), loft_mm=loft, range_mm=far, step_mm=step)
    assert float(grid.down[32:96, 5].mean()) == pytest.approx(told, rel=0.02)  # two whole periods
    assert grid.across.max() < 1e-6


def test_dense_quilting_lies_flat_and_does_not_draw_in_without_end():
    """Neither lines close together nor wide gaps draw in without end, as a membrane without springs would."""
    shares = [parallel_draw_in(d, LOFT, RANGE) for d in (0.5, 1, 2, 4, 8)]
    assert shares == sorted(shares)
    assert shares[0] < 0.001
    wide = [parallel_draw_in(d, LOFT, RANGE) for d in (20, 40, 80, 160)]
    assert wide == sorted(wide, reverse=True)


@given(share=st.floats(0.002, 0.15), apart=st.floats(4.0, 60.0), kind=st.sampled_from(sorted(KINDS)))
@settings(max_examples=30)
def test_a_sample_square_sets_the_loft(share, apart, kind):
    sample = BattingSample(quilted="channel", spacing_mm=apart, before_mm=300.0, after_mm=300.0 * (1 - share))
    loft, far = springs(Batting(kind=kind, sample=sample))
    # lines closer than 3.2787 ranges draw in as much as those: where tanh a - a / cosh(a)**2 over a is greatest
    assert parallel_draw_in(max(apart, 3.2787 * far), loft, far) == pytest.approx(share, rel=1e-6)
    assert far == KINDS[kind][1]


def test_a_crosshatched_sample_sets_the_loft():
    sample = BattingSample(quilted="crosshatch", spacing_mm=25.4, before_mm=304.8, after_mm=298.45)
    loft, far = springs(Batting(sample=sample))
    lines = parallel(25.4, off=12.7) + [p[:, ::-1] for p in parallel(25.4, off=12.7)]
    field = relief(lines, (0, 0, 4 * 25.4, 4 * 25.4), loft_mm=loft, range_mm=far, step_mm=25.4 / 50)
    whole = np.s_[50:150, 50:150]  # two periods each way
    assert float(field.across[whole].mean()) == pytest.approx(1 - 298.45 / 304.8, rel=0.01)
    assert float(field.down[whole].mean()) == pytest.approx(1 - 298.45 / 304.8, rel=0.01)


def test_what_her_batting_says_goes_before_its_kind():
    assert springs(Batting()) == KINDS["thin cotton"]
    assert springs(Batting(kind="wool", loft_mm=4.4)) == (4.4, KINDS["wool"][1])


def test_a_window_of_a_top_is_as_the_whole_top_there():
    rng = np.random.default_rng(8)
    paths = [rng.uniform(0, 200, (60, 2)) for _ in range(2)]
    whole = relief(paths, (0, 0, 200, 200), loft_mm=LOFT, range_mm=RANGE, step_mm=1.0)
    part = relief(paths, (60 - FAR, 60 - FAR, 60 + 2 * FAR, 60 + 2 * FAR), loft_mm=LOFT, range_mm=RANGE, step_mm=1.0)
    m = int(FAR)
    assert np.abs(part.height[m:-m, m:-m] - whole.height[60:120, 60:120]).max() < 0.02 * LOFT


@given(st.lists(st.tuples(st.integers(1, 580), st.integers(1, 380)), min_size=3, max_size=12))
@settings(max_examples=40)
def test_cells_inside_rings_are_told_as_by_the_even_odd_rule(points):
    field = relief([], (0, 0, 60, 40), loft_mm=1.0, range_mm=4.0, step_mm=1.0)
    ring = np.array([*points, points[0]]) / 10 + 0.0317  # no corner on a cell's very middle
    rows, cols, inside = inside_grid([ring], field)
    told = np.zeros(field.height.shape, dtype=bool)
    told[rows, cols] = inside
    x, y = middles(field)
    # a middle that lies on an edge to a thousandth of a millimetre may be told either way
    off = shapely.distance(shapely.linestrings(ring), shapely.points(x, y)) > 1e-3
    assert (told == even_odd(ring, x, y))[off].all()


def even_odd(ring, x, y):
    """Count the edges right of each place, one edge at a time."""
    inside = np.zeros(x.shape, dtype=bool)
    for (x0, y0), (x1, y1) in pairwise(ring):
        if y0 != y1:
            spans = (y0 > y) != (y1 > y)
            inside ^= spans & (x < x0 + (y - y0) / (y1 - y0) * (x1 - x0))
    return inside


def zone_of(name, number, box):
    left, top, right, bottom = box
    region = as_region(np.array([(left, top), (right, top), (right, bottom), (left, bottom)], dtype=float))
    return Zone(name, "", number, region, region)


def figures(paths, size, zones=(), filled=()):
    width, height = size
    outline = as_region(np.array([(0, 0), (width, 0), (width, height), (0, height)], dtype=float))
    lines = [Line(as_path(p), (Span(0, len(p) - 1, "stitch"),)) for p in paths]
    field = relief_of_top(Top((Patch("p", outline),), (), {}, size), lines, Batting(), step_mm=1.0)
    return loft_figures(field, size, Batting(), zones, filled)


def test_finished_size_and_draw_in_by_row():
    """Lines down the top draw its width in, and not its height but at the edges."""
    size = (30 * 25.4, 20 * 25.4)
    told = figures([np.array([(x, 0.0), (x, size[1])]) for x in np.arange(25.4, size[0], 25.4)], size)
    lost = size[0] * parallel_draw_in(25.4, LOFT, RANGE)
    assert len(told.across_mm) == 20
    assert told.across_mm[10] == pytest.approx(lost, rel=0.02)
    assert told.finished_width_mm == pytest.approx(size[0] - lost, abs=0.05 * lost)
    assert told.down_mm[15] < 0.1 * lost
    assert "estimate" in told.note


def test_dense_quilting_never_draws_in_less_than_lines_half_an_inch_apart():
    """Closed form down to 3.3 ranges; below it the most that it says, for lines and for a net alike."""
    size = (300.0, 300.0)
    most = parallel_draw_in(3.2787 * RANGE, LOFT, RANGE)
    found = []
    for apart in (3.0, 5.0, 8.0, 12.0, 13.1, 20.0, 40.0):
        told = figures(rows_down(apart), size)
        found.append(told.across_mm[5] / size[0])
        closed = parallel_draw_in(apart, LOFT, RANGE) if apart > 13.1 else most
        assert found[-1] == pytest.approx(closed, rel=0.06 if apart > 4 else 0.12), apart  # 3 cells between lines
    assert all(a > 0.9 * b for a, b in pairwise(found))


def rows_down(apart):
    return [np.array([(x, 0.0), (x, 300.0)]) for x in np.arange(0.37 * apart, 300, apart)]


def test_a_border_beside_a_very_dense_middle_is_fuller():
    """Every quilter knows it: stippled at 1/6 in, the middle draws in and the open border ripples."""
    size = (1000.0, 1000.0)
    rows = [np.array([(150.0, y), (850.0, y)]) for y in np.arange(150, 851, 4.2)]
    loft = figures([*rows, *(p[:, ::-1] for p in rows)], size)
    (found,) = loft_findings(loft)
    assert found.code == "border-fuller"
    assert " in fuller" in found.text
    assert " cm fuller" in loft_findings(loft, unit="cm")[0].text


def test_a_border_as_close_as_the_middle_is_not_said():
    size = (1200.0, 1200.0)
    rows = [np.array([(0.0, y), (1200.0, y)]) for y in np.arange(12, 1200, 25.4)]
    assert not loft_findings(figures([*rows, *(p[:, ::-1] for p in rows)], size))


def test_a_very_dense_space_among_open_ones_is_said_and_like_ones_are_not():
    zones = [zone_of("squares", k + 1, (10 + 110 * k, 10, 110 + 110 * k, 110)) for k in range(4)]

    def noted(every):
        paths = [
            np.array([(10 + 110 * k + x, 10.0), (10 + 110 * k + x, 110.0)])
            for k, apart in enumerate(every)
            for x in np.arange(0, 101, apart)
        ]
        return loft_findings(figures(paths, (460.0, 120.0), zones, [Filled()] * 4))

    assert [f.code for f in noted((50, 50, 4, 50))] == ["tighter-than-its-like"]
    assert "space 3" in noted((50, 50, 4, 50))[0].text
    assert not noted((20, 25, 20, 25))
    assert not noted((4, 4, 5, 4))


def test_a_motif_stands_above_the_ground_behind_it():
    zone = zone_of("z", 1, (0, 0, 200, 200))
    motif = as_region(np.array([(60, 60), (140, 60), (140, 140), (60, 140)], dtype=float))
    first = Stroke(as_path([(60, 60), (140, 60), (140, 140), (60, 140), (60, 60)]), fill="motif")
    rows = [
        Stroke(as_path(p), fill="meander")
        for y in np.arange(4.0, 200, 4)
        for p in ([[(0, y), (60, y)], [(140, y), (200, y)]] if 60 < y < 140 else [[(0, y), (200, y)]])
    ]
    filled = Filled((first, *rows), taken=(motif,))
    told = figures([s.path for s in filled.strokes], (200.0, 200.0), [zone], [filled]).zones[0]
    inside = LOFT * 0.81  # about (1 - 4 lam / side)... of a square this large
    ground = np.mean(between_lines(np.linspace(0, 4, 500), 4.0))
    assert told.stands_up == pytest.approx(inside / ground, rel=0.05)


def test_a_border_that_draws_in_less_than_the_middle_is_said():
    size = (1200.0, 1200.0)
    middle = [np.array([(x, 150.0), (x, 1050.0)]) for x in np.arange(150, 1051, 25.4)]
    middle += [p[:, ::-1] for p in middle]
    open_border = loft_findings(figures(middle, size))
    assert [f.code for f in open_border] == ["border-fuller"]
    assert "fuller" in open_border[0].text
    upper = [np.array([(x, 0.0), (x, 100.0)]) for x in np.arange(0, 1200, 12.7)]
    both = [*upper, *(np.array([(x, 1100.0), (x, 1200.0)]) for x in np.arange(0, 1200, 12.7))]
    keys = [*both, *(p[:, ::-1] for p in both)]
    assert [f.code for f in loft_findings(figures(keys, size))] == ["border-tighter"]
    assert not loft_findings(figures([*middle, *parallel(25.4)[:0]], (400.0, 400.0)))


def test_one_space_much_tighter_than_its_like_is_said():
    zones = [zone_of("squares", k + 1, (10 + 110 * k, 10, 110 + 110 * k, 110)) for k in range(4)]
    every = (100, 100, 100, 12.7)
    paths = [
        np.array([(10 + 110 * k + x, 10.0), (10 + 110 * k + x, 110.0)])
        for k, apart in enumerate(every)
        for x in np.arange(0, 101, apart)
    ]
    told = figures(paths, (460.0, 120.0), zones, [Filled()] * 4)
    assert [(f.code, f.zone) for f in loft_findings(told)] == [("tighter-than-its-like", "squares")]
    assert "space 4" in loft_findings(told)[0].text
    alike = replace(told, zones=tuple(replace(row, draw_in_percent=1.0) for row in told.zones))
    assert not loft_findings(alike)
