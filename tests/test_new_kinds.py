"""A new plan of a drawing that has only colours: its zones are called by what their patches are."""

from __future__ import annotations

import re
import tomllib

import pytest

from plumeline.demo import quilt_drawing

BLUE, CREAM, RED = "#24407a", "#f6f2e6", "#a8323a"
SIDE, BLOCK, OUTER, INNER = 54, 10, 6, 1


def rect(x, y, w, h, colour, more=""):
    return f'<rect x="{x}" y="{y}" width="{w}" height="{h}" fill="{colour}" {more}/>'


def quilt():
    """4 x 4 blocks, nine patches and plain squares by turns, a cream and a blue border, red corners."""
    parts = []
    for k in range(16):
        x, y = (OUTER + INNER + BLOCK * (k % 4), OUTER + INNER + BLOCK * (k // 4))
        third = BLOCK / 3
        if (k % 4 + k // 4) % 2:
            parts.append(rect(x, y, BLOCK, BLOCK, BLUE))
            continue
        for n in range(9):
            place = (x + third * (n % 3), y + third * (n // 3))
            parts.append(rect(*place, third, third, CREAM if n % 2 else BLUE))
    inner, far = SIDE - 2 * OUTER, SIDE - OUTER
    parts += [rect(OUTER, at, inner, INNER, CREAM) for at in (OUTER, far - INNER)]
    parts += [rect(at, OUTER + INNER, INNER, inner - 2 * INNER, CREAM) for at in (OUTER, far - INNER)]
    parts += [rect(OUTER, at, inner, OUTER, BLUE) for at in (0, far)]
    parts += [rect(at, OUTER, OUTER, inner, BLUE) for at in (0, far)]
    parts += [rect(x, y, OUTER, OUTER, RED) for x in (0, far) for y in (0, far)]
    return page("".join(parts), SIDE)


def page(body, side):
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{side}in" height="{side}in" viewBox="0 0 {side} {side}">'
        f"{body}</svg>"
    )


@pytest.fixture
def new(tmp_path, run):
    def make(drawing):
        (tmp_path / "top.svg").write_text(drawing)
        code, _, err = run("new", tmp_path / "top.toml", "--drawing", tmp_path / "top.svg")
        assert not code, err
        return tomllib.loads((tmp_path / "top.toml").read_text())["zone"]

    return make


def test_borders_and_squares_of_one_colour_are_zones_of_their_own(new, run, tmp_path):
    zones = {z["name"]: z for z in new(quilt())}
    # 8 nine patches of 5 blue and 4 cream, 8 plain blocks, 4 strips each border
    counts = {name: len(zone["patches"]) for name, zone in zones.items()}
    assert counts == {
        "large dark-blue squares": 8,
        "small dark-blue squares": 40,
        "dark-blue border": 4,
        "white squares": 32,
        "white border": 4,
        "red border corners": 1,
    }
    assert zones["red border corners"]["patches"] == ["red-*"]
    assert "each" not in zones["dark-blue border"]
    code, _, err = run("check", tmp_path / "top.toml")
    assert not code, err


def test_the_sample_without_its_names(new):
    """9 stars of a centre, 4 corners and 8 tips; 12 large and 36 small setting and point triangles; one border ring."""
    bare = re.sub(r"<title>[^<]*</title>", "", re.sub(r' id="[^"]*"', "", quilt_drawing()))
    names = [z["name"] for z in new(bare)]
    assert "red triangles" in names
    assert "red border" in names
    assert "large grey triangles" in names
    assert "orange squares on point" in names
    assert not {"red", "grey", "orange"} & set(names)


def test_names_that_she_gave_are_never_split(new):
    parts = [rect(10 * k, 0, 10, 10, BLUE, f'id="sky-{k}"') for k in range(3)]
    parts.append(rect(0, 10, 30, 2, BLUE, 'id="sky-3"'))
    (zone,) = new(page("".join(parts), 30))
    assert (zone["name"], zone["patches"]) == ("sky", ["sky-*"])


def test_a_picture_keeps_its_colours_together(new):
    """Two colours, mostly of no plain shape, however large and small: one zone a colour."""
    blobs = [
        f'<path fill="{colour}" d="M{x} 2q{w} 4 {w} {w}q-6 4 -{w / 2} {w}q-{w} -2 -{w / 2} -{2 * w}z"/>'
        for colour, x, w in ((BLUE, 2, 2), (BLUE, 10, 6), (BLUE, 22, 9), (RED, 34, 4), (RED, 40, 5))
    ]
    assert [z["name"] for z in new(page("".join(blobs), 54))] == ["dark-blue", "red"]


def test_one_of_a_kind_is_said_as_one(new):
    parts = [rect(0, 0, 10, 10, BLUE), rect(10, 0, 20, 10, BLUE), '<path fill="#a8323a" d="M0 10h30v20z"/>']
    assert [z["name"] for z in new(page("".join(parts), 30))] == [
        "dark-blue square",
        "dark-blue rectangle",
        "red triangle",
    ]
