"""Marker lines on film over the top, found in a made photo: spines and fences by colour, where they were drawn."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial import cKDTree

import plumeline
from photos import Shot, corners_and_middles, painted, points_csv, printed, shot_of
from plumeline.geometry import arc_lengths, point_at
from plumeline.pipeline.top import read_top
from test_photo import SIDE, run

SHAPES = [
    ([(0, 0), (152.4, 0), (152.4, 152.4), (0, 152.4)], "#c04020"),
    ([(152.4, 0), (SIDE, 0), (SIDE, 152.4), (152.4, 152.4)], "#f0e8d0"),
    ([(152.4, 152.4), (SIDE, 152.4), (SIDE, SIDE), (152.4, SIDE)], "#e8d9a0"),
    ([(0, 152.4), (152.4, 152.4), (152.4, SIDE), (0, SIDE)], "#f6efe0"),
]
T = np.linspace(0, 1, 400)[:, None]
WAVE = np.hstack([30 + 240 * T, 200 + 25 * np.sin(6 * T)])
ARC = np.hstack([152 + 100 * np.cos(np.pi * (1 + T)), 120 + 90 * np.sin(np.pi * (1 + T))])


def drawn(path, colour, dash=""):
    at = "M" + "L".join(f"{x:.2f},{y:.2f}" for x, y in path)
    return f'<path d="{at}" fill="none" stroke="{colour}" stroke-width="2.5" stroke-linecap="round" {dash}/>'


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    where = tmp_path_factory.mktemp("film")
    marks = drawn(WAVE, "#1030c8") + drawn(ARC, "#109030", 'stroke-dasharray="0.1 8"')
    for name, lines, tilt in (("bare", "", (12, -8)), ("film", marks, (5, 4))):
        shot = Shot((1600, 1200), (SIDE / 2, SIDE / 2), SIDE, tilt=tilt)
        flat, corner = painted(SHAPES, (SIDE, SIDE), 4.0, lines=lines)
        (where / f"{name}.jpg").write_bytes(shot_of(printed(flat, 4.0), 4.0, corner, shot, seed=len(lines)))
        at = corners_and_middles(SIDE, SIDE, 76.2)
        (where / f"{name}.csv").write_text(points_csv(shot, at, tap_px=0.5, tape_mm=0.3))
    assert run("photo", where / "bare.jpg", "--points", where / "bare.csv", "--to", where).exit_code == 0
    return where


def test_lines_on_film_become_guides_where_they_were_drawn(folder):
    out = run("photo", folder / "film.jpg", "--points", folder / "film.csv", "--film", folder / "squared.png", "--to",
              folder)  # fmt: skip
    assert out.exit_code == 0, out.stderr
    (folder / "plan.toml").write_text(
        '[top]\nphoto = "squared.png"\nfilm = "film.svg"\n[[zone]]\nname = "all"\npatches = ["top"]\n'
        'fences = ["fence-green-1"]\n[zone.fill]\nkind = "feather"\nspines = ["spine-blue-1"]\n'
    )
    plan = plumeline.read_plan(folder / "plan.toml")
    guides = read_top(plan).guides
    assert set(guides) == {"spine-blue-1", "fence-green-1"}
    for name, truth in (("spine-blue-1", WAVE), ("fence-green-1", ARC)):
        path = guides[name]
        long = arc_lengths(path)[-1]
        found = point_at(path, np.linspace(0, long, 400))
        assert cKDTree(truth).query(found)[0].mean() < 1.0
        assert cKDTree(found).query(truth)[0].max() < 8.5  # the last dot may be the end of it


def test_a_photo_without_film_shows_no_line(folder, tmp_path):
    out = run("photo", folder / "bare.jpg", "--points", folder / "bare.csv", "--film", folder / "squared.png", "--to",
              tmp_path)  # fmt: skip
    assert out.exit_code == 2 and "shows no marker line on film" in out.stderr
    assert list(tmp_path.iterdir()) == []
