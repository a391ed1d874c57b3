"""Settings of fills that seldom come together, and spaces that hardly hold what was asked."""

from __future__ import annotations

import math

import numpy as np
import pytest
from shapely import Point, box

from plumeline import fill
from plumeline.errors import InputError
from plumeline.fills import find_fill, register
from plumeline.geometry import path_length, signed_area

IN = 25.4
SQUARE = box(0, 0, 6 * IN, 6 * IN)
RING = Point(0, 0).buffer(6 * IN, quad_segs=90).difference(Point(0, 0).buffer(4 * IN, quad_segs=90))


def test_a_second_fill_of_one_name_is_refused():
    with pytest.raises(ValueError, match="a fill named 'channel' is registered already"):
        register(find_fill("channel"))


def test_artwork_is_asked_for_only_once_it_is_looked_up():
    with pytest.raises(ValueError, match="call settings"):
        _ = find_fill("motif").settings().artwork


@pytest.mark.parametrize(
    ("kind", "settings", "says"),
    [
        ("channel", {"of": "shape", "angle": 30}, "of = 'shape' takes no angle"),
        ("channel", {"of": "shape", "run_on": True}, "of = 'shape' takes no angle, run_on"),
        ("channel", {"piano_keys": True, "spacing": [10, 20]}, "piano_keys takes one spacing"),
        ("channel", {"along": True, "angle": 45}, "along takes no angle"),
        ("channel", {"along": True, "piano_keys": True}, "along takes no angle"),
        ("channel", {"follow": "seam", "run_on": True}, "follow = 'seam' takes no run_on"),
        ("crosshatch", {"follow": "corners", "run_on": True}, "leave out angle and run_on"),
        ("crosshatch", {"follow": "corners", "angle": 30}, "leave out angle and run_on"),
    ],
)
def test_settings_that_contradict_each_other_are_refused(kind, settings, says):
    with pytest.raises(InputError, match=says):
        fill(kind, SQUARE, **settings)


@pytest.mark.parametrize("kind", ["channel", "echo", "rings"])
def test_rows_about_a_shape_that_is_not_there_follow_the_edge_and_say_so(kind):
    found = fill(kind, SQUARE, of="shape", spacing=12.7)
    assert [f.code for f in found.findings] == ["no-shape-to-follow"]
    plain = fill(kind, SQUARE, spacing=12.7)
    assert [s.path.tobytes() for s in found.strokes] == [s.path.tobytes() for s in plain.strokes]


@pytest.mark.parametrize("kind", ["channel", "crosshatch"])
@pytest.mark.parametrize("angle", [0, 30])
def test_lines_that_run_on_meet_those_of_the_next_space(kind, angle):
    """All lines of one way lie at multiples of one distance from one line, whichever space they are in."""
    spacing = 12.7
    far = []
    for left in (0.0, 57.3):  # no multiple of the spacing
        strokes = fill(kind, box(left, 11.0, left + 57.3, 90.0), run_on=True, angle=angle, spacing=spacing).strokes
        for stroke in strokes:
            a, b = stroke.path[0], stroke.path[-1]
            way = math.degrees(math.atan2(-(b[1] - a[1]), b[0] - a[0])) % 180  # y is down, angles as seen
            if min(abs(way - angle), 180 - abs(way - angle)) < 1e-6:
                normal = np.array([math.sin(math.radians(angle)), math.cos(math.radians(angle))])
                far.append(float(a @ normal))
    assert len(far) > 8
    turn = np.exp(2j * np.pi * np.array(far) / spacing)
    assert np.abs(turn - turn[0]).max() < 1e-6


def test_keys_of_a_round_border_stand_evenly_square_to_it():
    strokes = fill("channel", RING, piano_keys=True, spacing=IN).strokes
    ends = np.array([stroke.path[[0, -1]] for stroke in strokes])
    far = np.hypot(ends[..., 0], ends[..., 1])
    assert np.sort(far, axis=1) == pytest.approx(np.tile([4 * IN, 6 * IN], (len(strokes), 1)), abs=0.2)
    angle = np.sort(np.arctan2(ends[:, 0, 1], ends[:, 0, 0]))
    step = np.diff(np.append(angle, angle[0] + 2 * np.pi))
    assert step.max() < 1.05 * step.min()
    assert len(strokes) == pytest.approx(2 * np.pi * 5, abs=1)  # an inch apart in the middle of the band


def test_a_space_for_one_pebble_has_one():
    (stroke,) = fill("pebble", box(0, 0, 0.7 * IN, 0.7 * IN), size=IN).strokes
    around = path_length(stroke.path, closed=True)
    assert abs(signed_area(stroke.path)) == pytest.approx(around**2 / (4 * np.pi), rel=0.01)  # a circle
    assert around < np.pi * 0.7 * IN
