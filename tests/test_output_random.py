"""Formats against random work and random bytes."""

from __future__ import annotations

import io
from dataclasses import replace

import ezdxf
import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from plumeline.errors import OutputError
from plumeline.model import Line, Needle, as_path
from plumeline.output import RecordingSink, Shape, Sheet, cautions_text, draw, find_writer, read, read_any, writer_names
from plumeline.output.dst import read_dst, write_dst
from plumeline.output.exp import read_exp, write_exp
from sheets import SHEETS, needle_points, two_zones

KINDS = [kind.name.lower() for kind in Needle]
tenth = st.integers(-30_000, 30_000).map(lambda n: n / 10)
edges = [-121, 121, -41, -40, -14, -13, -5, -4, -2, -1, 0, 1, 2, 4, 5, 13, 14, 40, 41]
step = st.one_of(st.integers(-121, 121), st.sampled_from(edges))


@st.composite
def work(draw):
    """Commands in any order that a machine could be told: stitches within 12.1 mm, moves of any length."""
    at = np.array([draw(tenth), draw(tenth)])
    rows, commands = [at], ["stitch"]
    for command in draw(st.lists(st.sampled_from(["stitch", "stitch", "tie", "jump", "trim", "stop"]), max_size=30)):
        if command == "jump":
            at = np.array([draw(tenth), draw(tenth)])
        elif command in ("stitch", "tie"):
            at = at + np.array([draw(step), draw(step)]) / 10
        rows.append(at)
        commands.append(command)
    return needle_points(rows, commands)


def plain(points):
    """Commands without ties' name, moves in a row made one, moves that lead nowhere left out: in 0.1 mm."""
    origin = np.rint(points.xy[points.kind <= 1][0] * 10)
    out = []
    for kind, xy in zip(points.kind, np.rint(points.xy * 10) - origin):
        name = "stitch" if KINDS[kind] == "tie" else KINDS[kind]
        if name == "jump" and out and out[-1][0] == "jump":
            out.pop()
        out.append((name, *xy.tolist()))
        before = out[-2][1:] if len(out) > 1 else (0.0, 0.0)
        if name == "jump" and out[-1][1:] == before:
            out.pop()
    return [row for row in out if row[0] != "end"]


@pytest.mark.parametrize(("write", "back"), [(write_dst, read_dst), (write_exp, read_exp)])
@given(points=work())
def test_any_work_reads_back(write, back, points):
    assert plain(back(write(points, "random"))) == plain(points)


@pytest.mark.parametrize("name", writer_names())
@given(data=st.binary(max_size=600))
@example(data=b"LA:".ljust(512) + b"\x00\x00\xf3")
@example(data=b"\x80\x80\x07\x00\x80\x07\x00\x00")
@example(data=b"\x80\x80\x80\x80")
def test_random_bytes_never_break_a_reader(name, data):
    try:
        find_writer(name).read(data)
    except OutputError as error:
        assert str(error)


@pytest.mark.parametrize("name", writer_names())
@given(seed=st.integers(0, 2**32))
def test_damaged_files_never_break_a_reader(name, seed):
    writer, rng = find_writer(name), np.random.default_rng(seed)
    if name not in _FILES:
        sheet = two_zones()
        whole = needle_points(np.cumsum(np.ones((40, 2)), axis=0), ["stitch"] * 39 + ["end"])
        _FILES[name] = writer.write(sheet) if writer.takes == "lines" else writer.write(whole, "x")
    data = bytearray(_FILES[name])
    for at in rng.integers(0, len(data), 3):
        data[at] = rng.integers(0, 256)
    try:
        writer.read(bytes(data[: rng.integers(1, len(data) + 1)]))
    except OutputError as error:
        assert str(error)


_FILES: dict[str, bytes] = {}


def test_an_unknown_command_in_exp():
    with pytest.raises(OutputError, match="command 80 07"):
        read_exp(b"\x01\x01\x80\x07\x00\x00")


def test_a_dxf_in_other_units(tmp_path):
    document = ezdxf.new("R2000", units=1)
    stream = io.StringIO()
    document.write(stream)
    with pytest.raises(OutputError, match="not in mm"):
        find_writer("dxf").read(stream.getvalue().encode("cp1252"))


def test_gcode_that_stitches_before_it_moves():
    with pytest.raises(OutputError, match="before it has moved"):
        find_writer("gcode").read(b"G21\nG90\nG1 X1 Y1\n")


def test_a_file_too_large(tmp_path, monkeypatch):
    monkeypatch.setattr(read, "LARGEST_BYTES", 10)
    (tmp_path / "x.dst").write_bytes(b"0" * 11)
    with pytest.raises(OutputError, match="must have at most"):
        read_any(tmp_path / "x.dst")


def test_shapes_without_points_and_lines_without_spans_draw_nothing():
    empty = as_path(np.zeros((0, 2)))
    sheet = Sheet(
        title="", lines=(Line(empty, ()), Line(as_path([(1, 1), (2, 2)]), ())), shapes=(Shape(empty, True, "patch"),)
    )
    found = draw(sheet, RecordingSink())
    assert found.runs == found.shapes == ()


def test_no_jump_between_reaches():
    sheet = SHEETS["one zone"]
    apart = replace(sheet, lines=(sheet.lines[0], replace(sheet.lines[1], reach=2)))
    assert "jump" in {r.kind for r in sheet.runs()}
    assert "jump" not in {r.kind for r in apart.runs()}


def test_cautions_without_files():
    assert cautions_text("x").startswith("x\n\nRead first:")
