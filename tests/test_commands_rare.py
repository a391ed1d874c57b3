"""The command line where little is said: values that are true, tables without a file, no terminal at all."""

from __future__ import annotations

import re
import sys

import pytest

from plumeline.cli import main
from plumeline.cli._shape import settings_of
from plumeline.cli._shared import LENGTH, progress

BLOCKS = '[top.blocks]\nsize = 6\nrows = [["a"]]\n[[zone]]\nname = "a"\npatches = ["a-*"]\n'


def test_settings_are_read_as_a_plan_reads_them():
    pairs = ["vary=true", "run_on=False", "rows=3", "fit=80.5", "kind = 'echo'", "spacing=[1/2, 1]", "spines=auto"]
    assert settings_of(pairs) == {
        "vary": True, "run_on": False, "rows": 3, "fit": 80.5, "kind": "echo", "spacing": ["1/2", 1], "spines": "auto",
    }  # fmt: skip


def test_a_length_that_is_one_already_stays():
    assert LENGTH.convert(12.7, None, None) == 12.7
    assert LENGTH.convert("1/2", None, None) == 12.7


def test_a_look_says_how_long_it_took_when_asked(run, tmp_path):
    plan = tmp_path / "plan.toml"
    plan.write_text(BLOCKS + '[zone.fill]\nkind = "channel"\nspacing = 2\n')
    code, out, _ = run("stitch", plan, "--look", "--to", tmp_path / "out", "--timings")
    assert code == 0 and re.search(r"^all: \d+\.\d\d s$", out, re.MULTILINE)
    code, out, _ = run("stitch", plan, "--look", "--to", tmp_path / "out", "--force")
    assert code == 0 and "all:" not in out


def test_a_drawing_has_no_stitches_to_tell_of(run, tmp_path):
    code, _, _ = run("fill", "channel", "--square", "6", "--to", tmp_path / "lines.svg")
    assert code == 0
    _, out, _ = run("inspect", tmp_path / "lines.svg")
    assert "none: a drawing" in out and "shortest stitch" not in out and "longest stitch" not in out


CROOKED = """<svg xmlns="http://www.w3.org/2000/svg" width="24in" height="12in" viewBox="0 0 24 12">
<path id="left" d="M0 0H12.4L11.6 12H0Z"/><path id="right" d="M12.4 0H24V12H11.6Z"/></svg>"""


def test_how_straight_a_top_is_without_a_file_for_it(run, tmp_path):
    """The seam between the two leans 0.8 in to one side; the diagonals of each half differ by 0.5 in or more."""
    (tmp_path / "top.svg").write_text(CROOKED)
    (tmp_path / "plan.toml").write_text('[top]\ndrawing = "top.svg"\n')
    code, out, _ = run("straight", tmp_path / "plan.toml")
    assert code == 0 and "Written" not in out
    line = next(row for row in out.splitlines() if row.startswith("Blocks out of square"))
    # diagonals of the left half: 12.4 and 12 across against 11.6 and 12: sqrt(11.6^2 + 12^2) and sqrt(12.4^2 + 12^2)
    assert "left" in line and "right" in line and "9/16 in" in line
    code, _, _ = run("straight", tmp_path / "plan.toml", "--to", tmp_path / "map.svg")
    assert code == 0 and "left: diagonals differ 9/16 in" in (tmp_path / "map.svg").read_text()


def test_without_a_terminal_nothing_is_printed_and_nothing_breaks(monkeypatch):
    """As a program that is started without a window has it."""
    monkeypatch.setattr(sys, "stdout", None)
    with pytest.raises(SystemExit) as leave:
        main(["fills"])
    assert leave.value.code == 0


def test_a_bar_steps_aside_for_what_takes_long(monkeypatch, capsys):
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True, raising=False)
    with progress(quiet=False) as tell:
        tell("filling zones", 1, 3)
        tell("a large space: this may take a minute", 0, 0)
    assert "this may take a minute" in capsys.readouterr().err
