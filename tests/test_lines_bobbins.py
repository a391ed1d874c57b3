"""Planned stops before the bobbin runs out, and places to rest."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plumeline.errors import LineError
from plumeline.geometry import path_length
from plumeline.lines import rest_places, stop_for_bobbins
from plumeline.model import Line, Span, as_path


def serpentine(rows=20, width=500.0, pitch=10.0, kind="seam"):
    """Channels joined by travel along an edge: stitch, travel, stitch ..."""
    points, spans = [], []
    for k in range(rows):
        a, b = (0.0, width) if k % 2 == 0 else (width, 0.0)
        points += [(a, k * pitch), (b, k * pitch)]
        spans.append(Span(2 * k, 2 * k + 1, "stitch", k))
        if k < rows - 1:
            spans.append(Span(2 * k + 1, 2 * k + 2, kind))
    return Line(as_path(points), tuple(spans))


def pieces(line):
    return [(line.path[s.start : s.end + 1], s.kind, s.stroke) for s in line.spans]


@settings(deadline=None)
@given(st.floats(600, 6000), st.sampled_from(["seam", "edge"]))
def test_no_line_is_longer_and_nothing_is_lost(longest, kind):
    whole = serpentine(kind=kind)
    lines, findings = stop_for_bobbins([whole], longest)
    assert all(path_length(line.path) <= longest + 1e-6 for line in lines)
    assert sum(path_length(line.path) for line in lines) == pytest.approx(path_length(whole.path))
    assert all((a.path[-1] == b.path[0]).all() for a, b in pairwise(lines))
    for line in lines:
        assert line.spans[0].start == 0
        assert line.spans[-1].end == len(line.path) - 1
        assert all(a.end == b.start for a, b in pairwise(line.spans))
    for k in range(20):
        mine = [p for line in lines for p, _, stroke in pieces(line) if stroke == k]
        assert sum(path_length(p) for p in mine) == pytest.approx(500)
    assert bool(findings) == (kind == "edge" and len(lines) > 1)
    assert len(lines) <= np.ceil(path_length(whole.path) / (longest / 2))


def test_a_stop_lies_in_a_seam_if_one_is_near():
    lines, findings = stop_for_bobbins([serpentine()], 1200.0)
    assert len(lines) > 1
    assert not findings
    for line in lines[:-1]:
        x = line.path[-1][0]
        assert x in (0.0, 500.0)
        assert line.spans[-1].kind == "seam"
        assert 600 <= path_length(line.path) <= 1200


def test_without_a_seam_a_joint_then_a_corner_then_the_end_of_the_thread():
    (first, _), (finding,) = stop_for_bobbins([serpentine(2, kind="edge")], 900.0)
    assert first.path[-1].tolist() == [500, 10]  # where the edge travel ends: after 510 mm
    assert finding.code == "bobbin-stop-seen"
    bend = Line(as_path([(0, 0), (700, 0), (700, 700)]), (Span(0, 2, "stitch", 0),))
    (first, _), _ = stop_for_bobbins([bend], 900.0)
    assert first.path[-1].tolist() == [700, 0]
    straight = Line(as_path([(0, 0), (1000, 0)]), (Span(0, 1, "stitch", 0),))
    (first, second), _ = stop_for_bobbins([straight], 900.0)
    assert first.path[-1].tolist() == second.path[0].tolist() == [900, 0]
    with pytest.raises(LineError, match="more than 0"):
        stop_for_bobbins([straight], 0)


def test_rests_about_every_36_inches_at_joints():
    line = serpentine()
    places = rest_places(line)
    gaps = np.diff([0, *places, path_length(line.path)])
    assert (gaps[:-1] >= 0.75 * 914.4 - 1e-6).all()
    assert (gaps <= 1.25 * 914.4 + 1e-6).all()
    row = places % 510
    assert ((row >= 500) | (row < 1e-6)).all()  # in the seam between two rows, not in the open
    assert rest_places(serpentine(2)).size == 0
