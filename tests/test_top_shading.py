"""Drawings shaded by strips and hatched by lines: what is too thin for a patch by itself. Areas in closed form."""

import math

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from plumeline.geometry import thick_together
from plumeline.top import from_drawing

IN2 = 25.4**2


def read(tmp_path, inner):
    """A sheet of 12 x 12 in, in inches."""
    file = tmp_path / "top.svg"
    head = '<svg xmlns="http://www.w3.org/2000/svg" width="12in" height="12in" viewBox="0 0 12 12">'
    file.write_text(f"{head}{inner}</svg>", encoding="utf-8")
    top = from_drawing(file)
    assert shapely.coverage_is_valid([p.outline for p in top.patches])
    return top, {p.name: p for p in top.patches}


def rect(x, y, w, h, fill, name=""):
    return f'<rect x="{x}" y="{y}" width="{w}" height="{h}" fill="{fill}" {f"id={name!r}" if name else ""}/>'


def codes(top):
    return [f.code for f in top.findings]


def test_a_shape_cut_to_a_neck_keeps_both_its_sides(tmp_path):
    """A disc of radius 5 in under a bar 3 in wide whose ends, 1/64 in within its edge, are arcs too: the necks close.

    What is left are the two segments beyond 1.5 in of the middle: r^2 acos(h / r) - h sqrt(r^2 - h^2) each.
    """
    near, h = 5 - 1 / 64, 1.5
    x = (near**2 - h**2) ** 0.5
    disc = '<circle cx="6" cy="6" r="5" fill="red" id="disc"/>'
    bar = f"M{6 - x} {6 - h}H{6 + x}A{near} {near} 0 0 1 {6 + x} {6 + h}H{6 - x}A{near} {near} 0 0 1 {6 - x} {6 - h}Z"
    rim = '<path d="M0 0H12V12H0Z M6 1A5 5 0 1 0 6 11A5 5 0 1 0 6 1Z" fill="grey" fill-rule="evenodd" id="rim"/>'
    _, patches = read(tmp_path, disc + f'<path d="{bar}" fill="blue" id="bar"/>' + rim)
    segment = 25 * math.acos(h / 5) - h * math.sqrt(25 - h**2)
    assert sorted(patches) == ["bar", "disc-1", "disc-2", "rim"]
    assert patches["disc-1"].outline.area / IN2 == pytest.approx(segment, rel=0.02)
    assert patches["disc-2"].outline.area / IN2 == pytest.approx(segment, rel=0.02)
    assert sum(p.outline.area for p in patches.values()) == pytest.approx(144 * IN2, rel=1e-6)


@pytest.mark.parametrize("stacked", [False, True])
def test_strips_of_a_shade_are_one_patch_of_their_mean_colour(tmp_path, stacked):
    """100 strips of 1/50 in, side by side or each wide one over the last, from #200000 to #830000."""
    inner = rect(0, 0, 12, 12, "white", "ground")
    for k in range(100):
        wide = 8 - k / 50 if stacked else 1 / 50
        inner += rect(2 + k / 50, 3, wide, 4, f"#{0x20 + k:02x}0000", f"tint-{k}")
    top, patches = read(tmp_path, inner)
    assert len(patches) == 2 + stacked  # stacked: the last one shows for 6 in more
    (shade,) = [p for p in patches.values() if p.outline.area / IN2 == pytest.approx(8, abs=0.1)]
    assert int(shade.colour[1:3], 16) == pytest.approx(0x20 + 49.5, abs=1) and shade.colour[3:] == "0000"
    assert sum(p.outline.area for p in patches.values()) == pytest.approx(144 * IN2, rel=1e-6)
    (note,) = [f for f in top.findings if f.code == "shades-joined"]
    assert note.text.startswith(f"{100 - stacked} strips ") and "they make 1 patch" in note.text


def test_a_thin_strip_alone_is_no_shade(tmp_path):
    inner = rect(0, 0, 12, 12, "white", "ground") + rect(2, 3, 0.02, 4, "red") + rect(5, 3, 0.02, 4, "blue")
    top, _ = read(tmp_path, inner)
    assert "shades-joined" not in codes(top)


def test_lines_cut_off_nothing_too_thin_for_a_patch(tmp_path):
    """Corners of 0.045 in: the circle in one is (2 - sqrt 2) times its leg wide, 0.67 mm, less than 1/32 in."""
    leg = 0.045
    cuts = f"M0 {leg}L{leg} 0M{12 - leg} 0L12 {leg}M0 {12 - leg}L{leg} 12M6 0V12"
    inner = rect(0, 0, 12, 12, "#ddeeff", "ground") + f'<path d="{cuts}" stroke="black" fill="none"/>'
    _, patches = read(tmp_path, inner)
    assert {n: round(p.outline.area / IN2, 6) for n, p in patches.items()} == {"ground-1": 72, "ground-2": 72}


def test_hatching_beside_a_patch_is_no_gap(tmp_path):
    """Lines 1/100 in apart on bare ground, closed by two more: nothing of it goes to the square beside it."""
    lines = "".join(f'<path d="M{6 + k / 100} 0V6" stroke="black" fill="none"/>' for k in range(201))
    lines += '<path d="M6 0H8M6 6H8" stroke="black" fill="none"/>'
    _, patches = read(tmp_path, rect(0, 0, 6, 6, "red", "plain") + rect(0, 6, 6, 6, "blue", "star") + lines)
    assert sum(p.outline.area for p in patches.values()) == pytest.approx(72 * IN2, rel=1e-2)


@given(st.integers(2, 12), st.floats(0.2, 0.7), st.floats(0, 0.15))
@settings(max_examples=25, deadline=None)
def test_thick_together(count, wide, gap):
    """A row of strips is a rectangle; it counts when a circle of 1.6 mm fits, across gaps of less than 0.2 mm."""
    strips = [shapely.box(k * (wide + gap), 0, k * (wide + gap) + wide, 30) for k in range(count)]
    whole = count * (wide + gap) - gap
    found = thick_together(strips, apart_mm=0.8)
    if whole > 1.65:
        ((region, own),) = found
        assert region.area == pytest.approx(30 * whole, rel=0.02)
        assert [k for k, _ in own] == list(range(count))
        assert sum(a for _, a in own) == pytest.approx(30 * wide * count, rel=0.02)
    elif whole < 1.55:
        assert found == []


def test_what_hangs_together_of_nothing():
    assert thick_together([], apart_mm=0.8) == thick_together([shapely.box(0, 0, 9, 9)], apart_mm=0.8) == []
