"""After a thread break: the rest of a file is its tail, hole by hole, behind a fresh tie."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pyembroidery as pe
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plumeline.cli import main
from plumeline.errors import StitchError
from plumeline.lines import stop_for_bobbins
from plumeline.model import Line, Machine, Needle, Span, as_path
from plumeline.output import find_writer, summary_of
from plumeline.output.sheet import line_numbers
from plumeline.stitches import continue_from, stitch_lines
from sheets import POINTS, points_of, two_zones

STITCH, TIE, JUMP, TRIM, STOP, END = Needle


def machines():
    return {
        "trimmer": Machine(trimmer=True),
        "no trimmer": Machine(),
        "back": Machine(ties="back"),
        "buried": Machine(ties="bury"),
    }


def holes(points, line=None):
    needle = points.kind <= TIE
    if line is not None:
        needle &= points.line == np.unique(points.line[points.kind <= TIE])[line - 1]
    return points.xy[needle]


@settings(deadline=None, max_examples=40)
@given(
    st.sampled_from(sorted(machines())),
    st.sampled_from(["dst", "exp", "csv"]),
    st.integers(1, 2),
    st.floats(0, 1),
    st.floats(0, 60),
)
def test_the_rest_is_the_tail_of_the_whole(which, form, line, share, back):
    writer = find_writer(form)
    whole = writer.read(writer.write(points_of(two_zones(), machines()[which]), "", origin=(3.0, -4.0)))
    mine = holes(whole, line)
    stitch = 1 + round(share * (len(mine) - 2))
    rest = continue_from(whole, line, stitch=stitch, back_mm=back)
    read = writer.read(writer.write(rest, "", origin=(0.0, 0.0)))
    # where it begins: a hole of that line, as far before the break as asked, or the line's start
    s = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(mine, axis=0).T))])
    begin = int(np.flatnonzero(s <= max(s[stitch] - back, 0.0) + 1e-6)[-1])
    assert np.allclose(holes(read)[0], mine[begin], atol=1e-6)
    # the tail: all later holes of the line, then every following line, point by point, without a difference
    later = np.flatnonzero(whole.kind <= TIE)
    begins = later[(whole.xy[later] == mine[0]).all(axis=1)][0]
    tail = holes(whole)[np.searchsorted(later, begins) + begin :]
    new = holes(read)
    kept = max(k for k in range(1, min(len(tail), len(new)) + 1) if (tail[-k:] == new[-k:]).all())
    skipped = tail[: len(tail) - kept]
    assert kept >= len(holes(whole)) - np.searchsorted(later, begins) - len(mine)
    # only holes within the tie are left out: 5 x 0.5 mm and the first clear stitch
    run = np.vstack([skipped, tail[len(skipped)][None]]) if len(skipped) else tail[:1]
    assert np.hypot(*np.diff(run, axis=0).T).sum() <= 2.5 + 0.6 + 3.2
    # commands of the lines that follow stay
    for kind in (STOP, TRIM):
        assert (read.kind == kind).sum() <= (whole.kind == kind).sum()


@pytest.mark.parametrize(("which", "ties"), [("trimmer", 5), ("no trimmer", 5), ("back", 4), ("buried", 0)])
def test_it_is_tied_on_as_the_line_itself(which, ties):
    line = Line(as_path([(0.0, 0.0), (300.0, 0.0)]), (Span(0, 1, "stitch", 0),))
    whole = stitch_lines([line], machines()[which], names=("a",))
    rest = continue_from(whole, 1, stitch=80, back_mm=25.4)
    begin = rest.xy[np.flatnonzero(rest.kind == STITCH)[0], 0]
    broke = holes(whole, 1)[80, 0]
    # the hole at or before 25.4 mm back, so at most one stitch (3.05 mm = 1.2 x 2.54) further
    assert 25.4 <= broke - begin <= 25.4 + 3.05
    tie = rest.xy[rest.kind == TIE][:ties, 0] - begin
    wanted = {5: [0.5, 1, 1.5, 2, 2.5], 4: [0.5, 1, 0.5, 0], 0: []}[ties]
    assert np.allclose(tie, wanted)
    head = rest.kind[: 3 + ties].tolist()
    stop = [] if which == "trimmer" else [STOP]
    assert head[: 2 + len(stop)] == [JUMP, STITCH, *stop]
    assert np.diff(rest.xy[rest.kind <= TIE, 0]).max() <= 3.05 + 2.54  # the tie leaves no long stitch behind
    if ties == 5:
        after = holes(rest)[6, 0] - begin
        assert after - 2.5 >= 0.6 - 1e-9


def test_without_a_stitch_or_near_the_start_the_line_is_whole():
    whole = POINTS["two zones"]
    first = np.flatnonzero(whole.line == 1)[0]
    for stitch in (None, 2):
        rest = continue_from(whole, 2, stitch=stitch)
        assert np.array_equal(rest.xy, whole.xy[first:])
        assert np.array_equal(rest.kind, whole.kind[first:])
        assert rest.kind[0] == JUMP


@pytest.mark.parametrize(
    ("line", "stitch", "back", "said"),
    [
        (0, None, 1, r"--line: is 0; the file has lines 1 to 2"),
        (3, None, 1, r"--line: is 3; the file has lines 1 to 2"),
        (1, 0, 1, r"--stitch: is 0; line 1 has stitches 1 to \d+"),
        (2, 9999, 1, r"--stitch: is 9999; line 2 has stitches 1 to \d+"),
        (1, 2, -1, r"--back: is -1 mm; must be 0 or more"),
    ],
)
def test_what_is_not_there_is_told(line, stitch, back, said):
    with pytest.raises(StitchError, match=said):
        continue_from(POINTS["two zones"], line, stitch=stitch, back_mm=back)


def test_a_file_without_lines_has_nothing_to_continue():
    with pytest.raises(StitchError, match="--line"):
        continue_from(POINTS["nothing"], 1)


def run(*arguments):
    with pytest.raises(SystemExit) as leave:
        main([str(a) for a in arguments])
    return leave.value.code


def test_the_command_keeps_the_origin_and_writes_over_nothing(tmp_path, capsys):
    writer = find_writer("dst")
    data = writer.write(POINTS["two zones"], "whole", origin=(10.0, 20.0))
    (tmp_path / "whole.dst").write_bytes(data)
    target = tmp_path / "rest.dst"
    assert run("continue", tmp_path / "whole.dst", "--line", 1, "--stitch", 30, "--back", "1/2", "--to", target) == 0
    assert "line 1 of 2" in capsys.readouterr().out
    whole, rest = writer.read(data), writer.read(target.read_bytes())
    assert np.array_equal(holes(rest)[-50:], holes(whole)[-50:])
    assert (tmp_path / "whole.dst").read_bytes() == data
    before = target.read_bytes()
    assert run("continue", tmp_path / "whole.dst", "--line", 2, "--to", target) == 2
    assert target.read_bytes() == before
    assert run("continue", tmp_path / "whole.dst", "--line", 2, "--to", target, "--force") == 0
    assert target.read_bytes() != before
    assert run("continue", tmp_path / "whole.dst", "--line", 9, "--to", tmp_path / "no.dst") == 2
    assert not (tmp_path / "no.dst").exists()


def test_a_drawing_can_not_be_continued(tmp_path, capsys):
    from plumeline.output.svg import write_svg

    (tmp_path / "a.svg").write_bytes(write_svg(two_zones()))
    assert run("continue", tmp_path / "a.svg", "--line", 1, "--to", tmp_path / "b.dst") == 2
    assert "holds no stitches" in capsys.readouterr().err
    (tmp_path / "a.csv").write_bytes(find_writer("csv").write(POINTS["two zones"], ""))
    assert run("continue", tmp_path / "a.csv", "--line", 1, "--to", tmp_path / "b.svg") == 2


LONG = as_path([(0.0, 0.0), (400.0, 0.0)])


def stopped_for_the_bobbin(**more):
    """One line of 400 mm, cut twice where the bobbin runs out: three lines, and no move between them."""
    line = Line(LONG, (Span(0, 1, "stitch", 0, zone=0),))
    lines, _ = stop_for_bobbins([line], 180.0)
    assert len(lines) == 3
    return lines, stitch_lines(lines, Machine(**more), names=("a",))


@pytest.mark.parametrize("form", ["dst", "exp", "csv"])
@pytest.mark.parametrize(
    "machine", [{}, {"trimmer": True}, {"ties": "back"}, {"ties": "bury"}, {"trimmer": True, "ties": "bury"}], ids=str
)
def test_a_planned_stop_is_found_again_in_the_file(form, machine):
    """The file's lines are the picture's: each begins and ends where that one does."""
    lines, points = stopped_for_the_bobbin(**machine)
    writer = find_writer(form)
    read = writer.read(writer.write(points, "", origin=(0.0, 0.0)))
    assert summary_of(read, form).lines == 3
    for number, line in enumerate(lines, 1):
        mine = holes(read, number)
        assert np.allclose(mine[0], line.path[0], atol=0.06)
        assert np.allclose(mine[-1], line.path[-1], atol=0.06)
    rest = continue_from(read, 3, back_mm=0.0)
    again = writer.read(writer.write(rest, "", origin=(0.0, 0.0)))
    assert np.allclose(holes(again)[0], lines[2].path[0], atol=0.06)
    assert np.array_equal(holes(again)[-12:], holes(read)[-12:])


def test_another_reader_finds_the_stop_command(tmp_path):
    """The stitch-file library, which knows nothing of lines: a stop (in DST: a colour change) before lines 2 and 3."""
    lines, points = stopped_for_the_bobbin(trimmer=True)
    for form, wanted in (("dst", {pe.COLOR_CHANGE, pe.STOP}), ("exp", {pe.COLOR_CHANGE, pe.STOP})):
        file = tmp_path / f"x.{form}"
        file.write_bytes(find_writer(form).write(points, "x", origin=(0.0, 0.0)))
        found = [s[:2] for s in pe.read(str(file)).stitches if s[2] & 0xFF in wanted]
        assert len(found) == 2
        for at, line in zip(found, lines[1:]):
            assert np.allclose(np.array(at) / 10, line.path[0], atol=0.06)


def test_the_picture_s_numbers_are_those_of_the_file(tmp_path, capsys):
    lines, points = stopped_for_the_bobbin()
    assert line_numbers(lines) == ["1", "2", "3"]
    assert line_numbers([replace(line, reach=1 + (k > 0)) for k, line in enumerate(lines)]) == ["1-1", "2-1", "2-2"]
    (tmp_path / "x.dst").write_bytes(find_writer("dst").write(points, "x", origin=(0.0, 0.0)))
    for number in ("3", "2-3"):
        with pytest.raises(SystemExit) as leave:
            main(["continue", str(tmp_path / "x.dst"), "--line", number, "--to", str(tmp_path / f"r{number}.dst")])
        assert leave.value.code == 0
        start = lines[2].path[0]
        assert f"beginning {start[0]:.1f} mm right and {start[1]:.1f} mm down" in capsys.readouterr().out
    for number in ("0", "-1", "three", "2-", "1-2-3"):
        with pytest.raises(SystemExit) as leave:
            main(["continue", str(tmp_path / "x.dst"), "--line", number, "--to", str(tmp_path / "no.dst")])
        assert leave.value.code == 2
        assert "must be a line's number on the path picture" in capsys.readouterr().err
