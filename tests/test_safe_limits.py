"""Files that would hang the program or fill the memory: each works in seconds or is refused by a stated limit."""

from __future__ import annotations

import math
import time

import numpy as np
import pytest

from plumeline import join
from plumeline.cli import main
from plumeline.drawing import read_svg
from plumeline.errors import DrawingError, TopError
from plumeline.output._dxf_document import DxfSink
from plumeline.output.dxf import read_dxf
from plumeline.output.sheet import Run
from plumeline.top import from_drawing

HEAD = '<svg xmlns="http://www.w3.org/2000/svg" width="60in" height="60in" viewBox="0 0 60 60">'
RECT = '<rect x="0" y="0" width="5" height="3"/>'
MOST_SECONDS = 10.0
"""Of processor time; each took minutes or never ended. The slowest now takes 3.6 s on one core of 2020."""


def ring(n, r=20.0):
    turns = (2 * math.pi * k / n for k in range(n))
    return "M" + "L".join(f"{30 + r * math.cos(a):.5f} {30 + r * math.sin(a):.5f}" for a in turns) + "Z"


def scribble(n):
    at = np.random.default_rng(1).uniform(0, 60, (n, 2))
    return "M" + "L".join(f"{x:.3f} {y:.3f}" for x, y in at) + "Z"


@pytest.fixture
def svg(tmp_path):
    def write(body):
        path = tmp_path / "d.svg"
        path.write_bytes(body if isinstance(body, bytes) else f"{HEAD}{body}</svg>".encode())
        return path

    return write


@pytest.fixture(autouse=True)
def in_time():
    begun = time.process_time()
    yield
    assert time.process_time() - begun < MOST_SECONDS


@pytest.mark.parametrize(
    ("body", "says"),
    [
        (f'<path d="{ring(8) * 2000}"/>', "2,000 outlines, too many of them"),
        (f'<path d="{scribble(5000)}"/>', "crosses itself more than 20,000 times"),
        (f'<path d="M0 0L{"1 2 " * 1_100_000}Z"/>', "4,400,006 letters; must have at most 4,000,000"),
        (f'<path d="M0 0L{"9" * 100_000} 5"/>', "a number of more than 300 digits"),
        (f'<rect x="0" y="0" width="{"9" * 100_000}q" height="3"/>', "is no length"),
        (f'<rect transform="{"a" * 100_000}" width="5" height="3"/>', "more than 10000 letters"),
        (b'<?xml version="1.0" encoding="klingon"?><svg/>', "is no readable SVG"),
    ],
)
def test_what_no_quilt_needs_is_refused_in_one_line(svg, body, says):
    with pytest.raises(DrawingError, match=says) as fault:
        read_svg(svg(body))
    assert len(str(fault.value)) < 300


@pytest.mark.parametrize("sheet", ["a" * 1_000_000, "/*" * 500_000, ".a," * 300_000 + "{fill:red}", "@a" * 500_000])
def test_a_long_style_sheet_is_no_matter(svg, sheet):
    assert len(read_svg(svg(f"<style>{sheet}</style>{RECT}")).shapes) == 1


def test_a_style_sheet_with_a_font_packed_into_it_still_colours(svg):
    font = f"@font-face {{ src: url(data:font/woff;base64,{'QUJD' * 50_000}) }}"
    (shape,) = read_svg(svg(f"<style>{font} rect {{ fill: #102030 }}</style>{RECT}")).shapes
    assert shape.colour == "#102030"


def test_an_outline_of_very_many_points_is_refused_by_its_limit(svg):
    with pytest.raises(TopError, match="has 30,000 points; must have at most 20,000"):
        from_drawing(svg(f'<path d="{ring(30_000)}"/>'))


def test_many_equal_lines_are_joined_and_sewn_once():
    # 100 lines on one another took minutes; the needle goes along them once, as along a stroke folded on itself
    lines = join([np.array([(0.0, 0.0), (100.0, 0.0)])] * 100)
    assert len(lines) == 1
    (line,) = lines
    sewn = sum(np.hypot(*np.diff(line.path[s.start : s.end + 1], axis=0).T).sum() for s in line.spans)
    assert sewn == pytest.approx(100.0, rel=1e-6)


def test_dxf_takes_time_by_its_points():
    def seconds(count):
        sink = DxfSink()
        sink.begin("t", ("a",), (0, 0, 100, 100))
        path = np.cumsum(np.full((count, 2), 0.01), axis=0)
        begun = time.process_time()
        sink.run(Run(path, "stitch", 0, 0))
        took = time.process_time() - begun
        return took, sink, path

    took, sink, path = seconds(80_000)
    assert took < 1.5  # point by point it took 7 s
    (run,) = read_dxf(sink.finish()).runs
    np.testing.assert_allclose(run.path, path, atol=1e-6)


@pytest.mark.parametrize("command", ["inspect", "new"])
def test_an_unknown_encoding_and_a_link_that_loops_are_one_line(command, tmp_path, capsys):
    (tmp_path / "enc.svg").write_text('<?xml version="1.0" encoding="klingon"?><svg/>')
    (tmp_path / "loop.svg").symlink_to(tmp_path / "loop.svg")
    for name in ("enc.svg", "loop.svg"):
        file = str(tmp_path / name)
        arguments = [command, file] if command == "inspect" else [command, str(tmp_path / "p.toml"), "--drawing", file]
        with pytest.raises(SystemExit) as leave:
            main(arguments)
        said = capsys.readouterr().err
        assert leave.value.code == 2, said
        assert said.count("\n") == 1 and "fault of the program" not in said
        assert not (tmp_path / "p.toml").exists()


@pytest.mark.parametrize(
    ("rows", "art"), [('"loop.csv"', "leaf"), ('[["a"]]', "loop.svg")], ids=["table of rows", "artwork"]
)
def test_what_a_plan_names_may_not_lead_round_in_a_circle(rows, art, tmp_path, capsys):
    for name in ("loop.csv", "loop.svg"):
        (tmp_path / name).symlink_to(tmp_path / name)
    (tmp_path / "p.toml").write_text(
        f'[top.blocks]\nsize = 6\nrows = {rows}\n[[zone]]\nname = "z"\npatches = ["*"]\n'
        f'[zone.fill]\nkind = "motif"\nart = "{art}"\n'
    )
    with pytest.raises(SystemExit) as leave:
        main(["check", str(tmp_path / "p.toml")])
    said = capsys.readouterr().err
    assert leave.value.code == 2, said
    assert "the plan's folder" in said and "fault of the program" not in said
