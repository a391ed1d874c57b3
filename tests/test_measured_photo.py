"""Measures of the tape beside a photo: measures move the planned lines exactly, the photo and film stay as they are."""

from __future__ import annotations

import math

import numpy as np
import pytest
from PIL import Image

import plumeline
from plumeline.geometry import corners_from_upper_left, rings
from plumeline.pipeline.mapping import map_file
from plumeline.pipeline.top import read_top

DRAWING = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="12in" height="12in" viewBox="0 0 12 12">'
    '<rect id="x-1-1" width="6" height="6" fill="#a00"/><rect id="y-1-2" x="6" width="6" height="6" fill="#eed"/>'
    '<rect id="z-2-1" y="6" width="6" height="6" fill="#eed"/>'
    '<rect id="w-2-2" x="6" y="6" width="6" height="6" fill="#24a"/></svg>'
)
FILM = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="12in" height="12in" viewBox="0 0 304.8 304.8">'
    '<path id="spine-blue-1" d="M20,20L280,250" fill="none" stroke="#000"/></svg>'
)
TOPS = {
    "blocks": '[top]\nphoto = "squared.png"\nfilm = "film.svg"\n[top.blocks]\nsize = 6\n'
    'rows = [["x", "y"], ["z", "w"]]\n',
    "drawing": '[top]\nphoto = "squared.png"\nfilm = "film.svg"\ndrawing = "top.svg"\n',
}
MEASURED = '[[measured]]\npatch = "x-1-1"\nsides = { A = "6 1/8", C = "5 15/16" }\n'


def written(folder, text, *, inches=12.0):
    side = round(inches * 25.4 * 2)
    rows, cols = np.mgrid[0:side, 0:side]
    picture = np.stack([rows * 200 // side + 30, cols * 200 // side + 30, np.full_like(rows, 90)], axis=-1)
    Image.fromarray(picture.astype(np.uint8)).save(folder / "squared.png", dpi=(50.8, 50.8))
    (folder / "top.svg").write_text(DRAWING)
    (folder / "film.svg").write_text(FILM)
    (folder / "plan.toml").write_text(text)
    return plumeline.read_plan(folder / "plan.toml")


@pytest.mark.parametrize("kind", TOPS)
def test_measures_win_and_the_photo_stays(tmp_path, kind):
    top = read_top(written(tmp_path, TOPS[kind] + MEASURED))
    corners = corners_from_upper_left(rings(next(p for p in top.patches if p.name == "x-1-1").outline)[0])
    sides = [math.dist(corners[k], corners[(k + 1) % 4]) for k in (0, 2)]
    assert sides == pytest.approx([6.125 * 25.4, 5.9375 * 25.4], abs=0.02)
    assert top.photo is not None and top.photo.size == (305.0, 305.0)
    assert top.photo.pixels.shape == (610, 610, 3)
    # what was drawn on film over the real top lies where it was drawn
    assert np.allclose(top.guides["spine-blue-1"][[0, -1]], [(20, 20), (280, 250)], atol=0.02)
    assert "photo-size" not in {f.code for f in top.findings}
    assert b"image/jpeg" in map_file(written(tmp_path, TOPS[kind] + MEASURED), ".svg")


@pytest.mark.parametrize("kind", TOPS)
def test_a_photo_is_held_against_the_measured_top_not_the_planned_one(tmp_path, kind):
    every = "".join(f'{edge} = ["12 1/2"]\n' for edge in ("top", "bottom", "left", "right"))
    measured = TOPS[kind].replace('film = "film.svg"\n', "") + "[[measured]]\n" + every
    codes = {f.code for f in read_top(written(tmp_path, measured, inches=12.5)).findings}
    assert "top-as-measured" in codes and "photo-size" not in codes
    assert "photo-size" in {f.code for f in read_top(written(tmp_path, measured, inches=12.0)).findings}
