"""Marker lines on film traced: crossings, branches, rings, dots and colours, against what was drawn."""

from __future__ import annotations

import io

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, ImageDraw
from scipy.spatial import cKDTree

from photos import Shot, painted, printed, shot_of
from plumeline.drawing.warping import lab_of, warped
from plumeline.geometry import arc_lengths, point_at
from plumeline.top.film import film_lines
from plumeline.top.marks_traced import traced_marks

SIDE, PX = 304.8, 2.0
SHAPES = [
    ([(0, 0), (152.4, 0), (152.4, 152.4), (0, 152.4)], "#c04020"),
    ([(152.4, 0), (SIDE, 0), (SIDE, 152.4), (152.4, 152.4)], "#f0e8d0"),
    ([(152.4, 152.4), (SIDE, 152.4), (SIDE, SIDE), (152.4, SIDE)], "#e8d9a0"),
    ([(0, 152.4), (152.4, 152.4), (152.4, SIDE), (0, SIDE)], "#f6efe0"),
]
T = np.linspace(0, 1, 400)[:, None]


def circle(x, y, radius):
    return np.hstack([x + radius * np.cos(2 * np.pi * T), y + radius * np.sin(2 * np.pi * T)])


def line(*points):
    return np.array(points, float)


DRAWN = [
    ("spine-blue", np.hstack([20 + 264 * T, 230 + 25 * np.sin(9 * T)]), "#1030c8", ""),
    ("spine-blue", line((40, 180), (280, 285)), "#1030c8", ""),  # across the wave
    ("spine-red", circle(215, 75, 45), "#d01030", ""),
    ("fence-green", circle(80, 75, 50), "#109030", "0.1 8"),
    ("spine-green", line((150, 20), (150, 290)), "#109030", ""),  # across both blue ones
    ("spine-purple", line((190, 150), (290, 150)), "#a010a0", ""),
    ("spine-purple", line((240, 150), (285, 190)), "#a010a0", ""),  # a branch
    ("fence-blue", line((170, 120), (290, 20)), "#1030c8", "0.1 7"),  # across the red ring
    ("fence-red", np.hstack([20 + 120 * T, 172 + 10 * np.sin(5 * T)]), "#d01030", "6 6"),
]


def ink(path, colour, dash):
    at = "M" + "L".join(f"{x:.2f},{y:.2f}" for x, y in path)
    dashes = f' stroke-dasharray="{dash}"' if dash else ""
    return f'<path d="{at}" fill="none" stroke="{colour}" stroke-width="2.5" stroke-linecap="round"{dashes}/>'


def fine(path):
    return point_at(path, np.linspace(0, arc_lengths(path)[-1], 600))


def off(one, other):
    """How far places of one line lie from another at most, mm."""
    return float(cKDTree(fine(other)).query(fine(one))[0].max())


def test_every_line_on_film_is_found_as_it_was_drawn():
    pictures = []
    for lines, tilt in (("", (12, -8)), ("".join(ink(*d[1:]) for d in DRAWN), (5, 4))):
        shot = Shot((1600, 1200), (SIDE / 2, SIDE / 2), SIDE, tilt=tilt)
        flat, corner = painted(SHAPES, (SIDE, SIDE), 4.0, lines=lines)
        photo = np.asarray(Image.open(io.BytesIO(shot_of(printed(flat, 4.0), 4.0, corner, shot, seed=len(lines)))))
        middles = (np.arange(round(SIDE * PX)) + 0.5) / PX
        pictures.append(lab_of(warped(photo, shot.seen, (middles, middles))[0], blur_px=1.0))
    found = film_lines(pictures[1], pictures[0], PX)
    assert len(found) == len(DRAWN)
    left = list(found)
    for name, truth, _, _ in DRAWN:
        own = min((f for f in left if f.name.startswith(name)), key=lambda f: off(truth, f.path))
        left.remove(own)
        assert own.solid == name.startswith("spine")
        # along the line within a millimetre; the middle of a round end lies a little before it
        assert off(own.path, truth) < 1.0
        assert off(truth, own.path) < 1.8
        assert bool((own.path[0] == own.path[-1]).all()) == bool(np.allclose(truth[0], truth[-1]))


def marks(*drawn, size=400):
    """Marks 2.5 mm wide by another library: lines, or the places of dots."""
    image = Image.new("1", (size, size))
    draw = ImageDraw.Draw(image)
    for path, dotted in drawn:
        at = [tuple(p) for p in (np.asarray(path) * PX - 0.5).tolist()]
        if not dotted:
            draw.line(at, fill=1, width=5, joint="curve")
        for x, y in at if dotted else (at[0], at[-1]):
            draw.ellipse((x - 2.5, y - 2.5, x + 2.5, y + 2.5), fill=1)
    return np.asarray(image.convert("L")) > 0


@given(st.floats(0, 180), st.floats(30, 150), st.floats(-20, 20))
@settings(max_examples=25, deadline=None)
def test_lines_that_cross_run_straight_on(first, between, aside):
    def through(degrees, shift):
        way = np.array([np.cos(np.radians(degrees)), np.sin(np.radians(degrees))])
        return np.array([100 + shift - 75 * way, 100 + 75 * way])  # ends within the picture

    drawn = [through(first, 0.0), through(first + between, aside)]
    found = traced_marks(marks(*((d, False) for d in drawn)), PX)
    assert len(found) == 2
    for truth in drawn:
        own = min(((f.path + 0.5) / PX for f in found), key=lambda p: off(truth, p))
        # a middle line may bend aside where it ends in the round end of a stroke
        assert off(own, truth) < 1.25 and off(truth, own) < 2.0
    assert all(f.inked > 0.95 for f in found)


@pytest.mark.parametrize("radius", [20.0, 45.0, 80.0])
@pytest.mark.parametrize("dotted", [False, True])
def test_rings_close(radius, dotted):
    count = round(2 * np.pi * radius / 8) if dotted else 400
    turn = 2 * np.pi * np.arange(count + 1) / count
    ring = 100 + radius * np.column_stack([np.cos(turn), np.sin(turn)])
    (found,) = traced_marks(marks((ring, dotted)), PX)
    assert found.closed and (found.inked < 0.6) == dotted
    away = np.hypot(*((found.path + 0.5) / PX - 100).T)
    assert np.abs(away - radius).max() < 1.0
    assert arc_lengths(found.path)[-1] / PX == pytest.approx(2 * np.pi * radius, rel=0.08)


def test_a_dotted_line_runs_on_where_it_crosses_a_solid_and_another_dotted_one():
    at = np.arange(20.0, 181.0, 8.0)
    across, down = np.column_stack([at, np.full_like(at, 100.0)]), np.column_stack([np.full_like(at, 60.0), at])
    solid = np.array([(140.0, 20.0), (140.0, 180.0)])
    found = traced_marks(marks((across, True), (down, True), (solid, False)), PX)
    assert len(found) == 3
    for truth, inked in ((across, False), (down, False), (solid, True)):
        own = min(found, key=lambda f: off(truth, (f.path + 0.5) / PX))
        assert off(truth, (own.path + 0.5) / PX) < 1.5 and (own.inked > 0.85) == inked


def test_a_branch_reaches_the_line_that_it_leaves():
    trunk, branch = np.array([(20.0, 100.0), (180.0, 100.0)]), np.array([(100.0, 100.0), (150.0, 40.0)])
    found = traced_marks(marks((trunk, False), (branch, False)), PX)
    assert len(found) == 2
    (own,) = (f for f in found if f.branch)
    assert off(branch, (own.path + 0.5) / PX) < 1.5
    assert traced_marks(np.zeros((20, 20), dtype=bool), PX) == []
