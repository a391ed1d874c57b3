"""``plumeline fill`` reads a drawing as a top is read: what is not cloth is not sewn, and what was noted is said."""

from __future__ import annotations

import json
import math

import ezdxf
import numpy as np
import pytest
from ezdxf import units
from reportlab.pdfgen import canvas

from plumeline import fill
from plumeline.errors import FillError

SQ_IN = 25.4**2
SVG = '<svg xmlns="http://www.w3.org/2000/svg" width="8in" height="8in" viewBox="0 0 8 8">{}</svg>'
EVEN_ODD = '<path fill="#ccc" fill-rule="evenodd" d="M0 0H8V8H0Z{}"/>'
STAR = [(4 + 3.5 * math.sin(0.8 * math.pi * k), 4 - 3.5 * math.cos(0.8 * math.pi * k)) for k in range(5)]


def area_of(run, file, *more):
    """Return the area in square inches that the report says of the one space."""
    code, out, err = run("fill", "channel", file, "--to", file.parent / "t.svg", "--force", "--json", *more)
    assert (code, err) == (0, "")
    (zone,) = json.loads(out)["zones"]
    return zone["area_mm2"] / SQ_IN


@pytest.mark.parametrize(
    ("drawn", "square_inches"),
    [  # areas by hand
        (EVEN_ODD.format("M2 2V5H5V2Z"), 64 - 9),
        (EVEN_ODD.format("M5 2V5H8V2Z"), 64 - 9),  # a hole on the outline is a notch
        (EVEN_ODD.format("M6 2V5H8V2Z"), 64 - 6),
        ('<path fill="#ccc" d="M0 0H8V8H0.03V0.02"/>', 64),  # left open by a hair: closed as the paint shows it
        ('<rect width="8" height="4" fill="#ccc"/><rect id="top" width="8" height="4" fill="#ccc"/>', 32),
    ],
)
def test_what_is_cut_out_of_a_shape_is_not_filled(run, tmp_path, drawn, square_inches):
    file = tmp_path / "shape.svg"
    file.write_text(SVG.format(drawn))
    assert area_of(run, file) == pytest.approx(square_inches, rel=5e-3)


def test_a_shape_with_an_island_is_two_and_she_says_which(run, tmp_path):
    file = tmp_path / "island.svg"
    file.write_text(SVG.format(EVEN_ODD.format("M2 2V6H6V2ZM3 3H5V5H3Z")))
    code, _, err = run("fill", "channel", file, "--to", tmp_path / "t.svg")
    assert (code, err.count("\n")) == (2, 1)
    assert 'island.svg: has 2 patches: patch-1, patch-2; must be one. Say which, as --patch "patch-1".' in err
    assert sorted(
        round(area_of(run, file, "--patch", name, "--set", "spacing=1/4"), 3) for name in ("patch-1", "patch-2")
    ) == [4, 48]
    code, _, err = run("fill", "channel", file, "--to", tmp_path / "n.svg", "--patch", "patch-3")
    assert (code, "--patch: is 'patch-3'; must be one of patch-1, patch-2. Did you mean" in err) == (2, True)
    assert not (tmp_path / "n.svg").exists()


def test_a_pentagram_by_even_odd_is_its_five_tips(run, tmp_path):
    file = tmp_path / "star.svg"
    points = " ".join(f"{x:.6f},{y:.6f}" for x, y in STAR)
    file.write_text(SVG.format(f'<polygon fill-rule="evenodd" points="{points}"/>'))
    code, _, err = run("fill", "channel", file, "--to", tmp_path / "t.svg")
    assert (code, "has 5 patches: patch-1, patch-2, patch-3, patch-4, patch-5" in err) == (2, True)
    # a tip is a triangle of 36 degrees at its point: the side of the inner pentagon below, its height above it
    inner = 3.5 * math.cos(math.radians(72)) / math.cos(math.radians(36))
    base, height = 2 * inner * math.sin(math.radians(36)), 3.5 - inner * math.cos(math.radians(36))
    assert area_of(run, file, "--patch", "patch-1", "--set", "spacing=1/4") == pytest.approx(
        base * height / 2, rel=1e-3
    )


def test_every_kind_of_drawing_that_a_top_may_be(run, tmp_path):
    rect = [(1, 1), (7, 1), (7, 5), (1, 5)]
    document = ezdxf.new()
    document.units = units.IN
    document.modelspace().add_lwpolyline(rect, close=True)
    document.saveas(tmp_path / "r.dxf")
    sheet = canvas.Canvas(str(tmp_path / "r.pdf"), pagesize=(576, 576))
    for _ in range(2):
        sheet.rect(72, 72, 6 * 72, 4 * 72, fill=1)
        sheet.showPage()
    sheet.save()
    assert area_of(run, tmp_path / "r.dxf") == pytest.approx(24)
    assert "--page 1" in run("fill", "channel", tmp_path / "r.pdf", "--to", tmp_path / "t.svg", "--force")[2]
    assert area_of(run, tmp_path / "r.pdf", "--page", 2) == pytest.approx(24, rel=1e-3)


def test_a_drawing_that_says_no_size_takes_its_width(run, tmp_path):
    file = tmp_path / "bare.svg"
    file.write_text('<svg xmlns="http://www.w3.org/2000/svg"><rect x="3" y="9" width="300" height="200"/></svg>')
    code, _, err = run("fill", "channel", file, "--to", tmp_path / "t.svg")
    assert (code, "'plumeline fill' take --width 42" in err) == (2, True)
    assert area_of(run, file, "--width", "9") == pytest.approx(54)
    code, _, err = run("fill", "channel", "--square", "6", "--width", "9", "--to", tmp_path / "n.svg")
    assert (code, "--width: is only for a drawing" in err) == (2, True)


def test_notes_of_the_reading_are_printed(run, tmp_path):
    file = tmp_path / "shape.svg"
    file.write_text(SVG.format('<path fill="#ccc" d="M0 0H8V8H0.03V0.02"/>'))
    code, out, _ = run("fill", "channel", file, "--to", tmp_path / "t.svg", "--units", "in")
    assert code == 0
    assert "note: read as 8 x 8 in\n" in out
    assert "1 open line is filled, and read as the closed shape that the paint makes" in out


def test_a_misfit_of_the_tape_is_said(run, tmp_path):
    # a square of 14 in has diagonals of 19.80 in; 20.05 and 19.80 can't both be
    code, out, _ = run(
        "fill", "channel", "--sides", "14,14,14,14", "--diagonals", "20.05,19.8", "--to", tmp_path / "t.svg"
    )
    assert (code, "the nearest shape to the measures misses the" in out) == (0, True)
    plan = tmp_path / "p.toml"
    plan.write_text(
        "[top.measured]\nsides = [14, 14, 14, 14]\ndiagonals = [20.05, 19.8]\n"
        '[[zone]]\nname = "z"\npatches = ["*"]\n[zone.fill]\nkind = "channel"\n'
    )
    told = run("check", plan)[1]
    said = next(line for line in out.splitlines() if "misses the" in line)
    assert said in told.splitlines()  # word for word what ``check`` says


@pytest.mark.parametrize("side", ["1e-7", "1e-4", "0.01", "0.9"])
@pytest.mark.parametrize("kind", ["channel", "meander", "feather"])
def test_a_shape_that_rounds_away_is_refused_in_one_line(run, tmp_path, kind, side):
    code, _, err = run("fill", kind, "--square", f"{side} mm", "--to", tmp_path / "t.svg")
    assert (code, err.count("\n")) == (2, 1)
    assert "must be at least 1 sq mm" in err


@pytest.mark.parametrize(
    "outline",
    [
        [(0, 0), (10, 0)],
        [],
        [1, 2, 3],
        None,
        5,
        [("a", "b"), ("c", "d"), ("e", "f")],
        [(0, 0), (math.nan, 3), (3, 3)],
        [(0, 0), (50, 50), (50, 0), (0, 60)],
        [(0, 0), (9, 0), (9, 9), (9, 0), (9, -9), (0, -9)],
        np.zeros((3, 2)),
        [(0, 0), (1e-9, 0), (0, 1e-9)],
    ],
)
def test_no_outline_ends_in_the_words_of_a_library(outline):
    with pytest.raises(FillError) as fault:
        fill("channel", outline)
    said = str(fault.value).lower()
    assert said.startswith("zone 'shape': ")
    for word in ("linearring", "self-intersection", "ring", "operand", "float", "array", "geometry"):
        assert word not in said
