"""Small wrong changes to the code that no other test noticed; each is named beside the check that it fails."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import box

from plumeline.cli._shared import zone_table
from plumeline.errors import LineError
from plumeline.fills import find_fill
from plumeline.geometry import clip_path, strand_spacing, touching
from plumeline.lines.order import bands
from plumeline.lines.windows import choose_windows
from plumeline.model import Frame, Zone, as_path
from plumeline.output import Stitched
from plumeline.output.sheet import Run
from plumeline.pipeline.done import _moved as moved
from plumeline.pipeline.done import already_sewn, filled_as_stitched, old_ways
from plumeline.pipeline.refit import refit_reach
from plumeline.pipeline.single import try_fill


@given(st.lists(st.floats(1, 50), min_size=2, max_size=5), st.floats(2, 40))
def test_several_spacings_are_scaled_with_their_number(gaps, mean):
    # wrong change: gap * mean / sum(gaps), without the number of gaps
    settings = find_fill("channel").settings().model_copy(update={"spacing_mm": tuple(gaps)})
    out = np.array(settings.spaced(mean).spacing_mm)
    assert out.mean() == pytest.approx(mean)
    assert out / out[0] == pytest.approx(np.array(gaps) / gaps[0])


def test_from_the_centre_out_goes_by_ring_not_by_distance():
    # wrong change: the band by the distance from the middle; a corner of a ring is 1.41 times as far as its side
    across, down = np.meshgrid(np.arange(9.0) - 4, np.arange(9.0) - 4)
    centres = np.column_stack([3 * across.ravel(), down.ravel()])  # three times as wide as high
    ring = np.maximum(np.abs(across), np.abs(down)).ravel()
    band = bands(centres, "centre-out", count=5)
    for k in range(5):
        assert len(set(band[ring == k].tolist())) == 1
    assert np.all(np.diff([band[ring == k][0] for k in range(5)]) >= 0)
    assert band[ring == 4][0] > band[ring == 0][0]


def runs_of_a_zone():
    return (
        Run(as_path([(0, 0), (60, 0)]), "stitch", 0, 0),
        Run(as_path([(60, 0), (60, 5000)]), "jump", 0, 0),
        Run(as_path([(60, 50), (0, 50)]), "stitch", 1, 0),
        Run(as_path([(0, 50), (0, 40)]), "backtrack", 1, 0),
    )


def test_a_jump_is_not_sewn():
    # wrong change: jumps counted as stitching that is on the cloth
    stitched = Stitched((), runs_of_a_zone())
    assert sum(np.ptp(path, axis=0).max() for path in already_sewn([stitched])) == 60 + 60 + 10
    zone = zone_of(box(0, 0, 100, 100))
    assert [s.role for s in filled_as_stitched(zone, stitched, "").strokes] == ["stitch", "stitch", "backtrack"]
    assert len(old_ways([stitched])) == 2


def zone_of(outline):
    return Zone("z", "", 1, outline, outline, frame=Frame((50.0, 50.0)))


@pytest.mark.parametrize(("share", "warned"), [(0.0, False), (0.015, False), (0.03, True), (0.19, True)])
def test_stitching_that_no_longer_lies_in_its_zone(share, warned):
    # wrong change: ten times as much may lie outside; one part in fifty may, further out than a mm
    row = 1000.0
    runs = [
        Run(as_path([(-share * row - (1 if share else 0), y), (row * (1 - share), y)]), "stitch", 0, 0) for y in (3, 9)
    ]
    found = list(moved(zone_of(box(0, 0, 1000, 20)), Stitched((), tuple(runs))))
    assert [f.code for f in found] == (["done-zone-moved"] if warned else [])


def test_the_table_shows_the_widest_gap_of_a_zone(capsys):
    # wrong change: the least
    report = try_fill("channel", box(0, 0, 100, 80), {"spacing": 0.5}).report
    rows = tuple(replace(report.zones[0], widest_gap_mm=gap) for gap in (25.4, 76.2, 50.8))
    zone_table(replace(report, zones=rows), "in")
    shown = capsys.readouterr().out
    row = next(line for line in shown.splitlines() if line.startswith("shape"))
    assert " 3 in" in row


def test_regions_touch_within_a_limit():
    # wrong change: the limit taken as 0
    squares = [box(0, 0, 10, 10), box(10.5, 0, 20, 10), box(21.5, 0, 30, 10), box(30, 0, 40, 10)]
    assert touching(squares, within_mm=1.0) == [(0, 1), (2, 3)]
    assert touching(squares, within_mm=1.6) == [(0, 1), (1, 2), (2, 3)]
    assert touching(squares, within_mm=0.0) == [(2, 3)]


@given(
    st.lists(
        st.tuples(st.floats(0, 900), st.floats(0, 900), st.floats(20, 300), st.floats(20, 300)), min_size=1, max_size=6
    ),
    st.sampled_from([(150.0, 400.0), (400.0, 150.0), (320.0, 320.0)]),
)
def test_a_window_holds_its_cells_both_ways(corners, size):
    # wrong change: only the width, or only the height, is tested
    boxes = [(x, y, x + w, y + h) for x, y, w, h in corners]
    paths = [[as_path([(x, y), (x + w, y + h)])] for x, y, w, h in corners]
    found = choose_windows(boxes, boxes, size, 10.0, paths)
    for left, top, right, bottom in found.boxes:
        assert right - left <= size[0] + 0.02
        assert bottom - top <= size[1] + 0.02
    covered = [sum((b[2] - b[0]) * (b[3] - b[1]) for k, b in found.cells if k == zone) for zone in range(len(boxes))]
    for area, (_, _, w, h) in zip(covered, corners):
        assert area >= w * h * 0.999  # cells of one zone may overlap at a cut


# --- found by random plans -------------------------------------------------------------------------------------------


def test_lines_that_lie_on_one_another_have_no_spacing():
    # three like fills over each other: 0 / 0 went into the report
    row = as_path([(0, 0), (200, 0)])
    assert strand_spacing([row, row, row], 10.0) is None
    even = strand_spacing([row, as_path([(0, 10), (200, 10)])], 10.0)
    assert even is not None
    assert even.mean_mm == pytest.approx(10.0, abs=0.1)


@pytest.mark.parametrize("turns", [3, 40])
def test_a_long_path_is_clipped_in_its_own_order(turns):
    # 40 turns have points enough to be looked up, 3 have not; a spiral out of a strip, by closed form
    t = np.linspace(0, 2 * np.pi * turns, 60 * turns + 1)
    path = np.column_stack([(5 + t) * np.cos(t), (5 + t) * np.sin(t)])
    pieces = clip_path(path, box(-2.0, -400.0, 2.0, 0.0))
    assert len(pieces) == turns
    depth = [float(-piece[:, 1].mean()) for piece in pieces]
    assert np.all(np.diff(depth) > 0)  # outwards, turn by turn
    for piece in pieces:
        assert piece[0, 0] < piece[-1, 0]  # below the middle the spiral runs to the right
    again = clip_path(np.vstack([path, path[::-1]]), box(-2.0, -400.0, 2.0, 0.0))
    assert sum(np.hypot(*np.diff(p, axis=0).T).sum() for p in again) >= 0.99 * sum(
        np.hypot(*np.diff(p, axis=0).T).sum() for p in pieces
    )


def test_a_reach_where_nothing_is_sewn_is_not_refitted():
    reach = SimpleNamespace
    quilt = SimpleNamespace(reaches=[reach(number=1), reach(number=2)], lines=[SimpleNamespace(reach=2)])
    with pytest.raises(LineError, match=r"--reach: is 1, where nothing is sewn; there is stitching in 2"):
        refit_reach(quilt, 1, {"A": (1.0, 2.0), "B": (5.0, 2.0)})
