"""The rooms agree with one another: what the report says of a zone, a line or a file is what they hold."""

from pathlib import Path

import pytest

import plumeline
from consistency import check_files, check_report, random_plan
from plumeline.cli import main

DATA = Path(__file__).parent / "data"


# beyond eight: strokes in a chain; a ring and a feather that a reach cuts; lines that run on; reaches that meet
@pytest.mark.parametrize("number", [*range(8), 10, 1092, 1369, 1096, 1391])
def test_a_random_plan_agrees_with_itself(number, tmp_path):
    (tmp_path / "plan.toml").write_text(random_plan(number), encoding="utf-8")
    quilt = plumeline.stitch(plumeline.read_plan(tmp_path / "plan.toml"))
    check_report(quilt)
    names = quilt.write(tmp_path / "out", formats=["svg", "csv", "dst"])
    check_files(quilt, tmp_path / "out", names)


def test_what_is_noticed_reaches_report_and_terminal(tmp_path, capsys):
    (tmp_path / "plan.toml").write_text(random_plan(3), encoding="utf-8")
    with pytest.raises(SystemExit) as leave:
        main(["stitch", str(tmp_path / "plan.toml"), "--to", str(tmp_path / "out"), "--formats", "svg,csv"])
    assert leave.value.code == 0
    printed = capsys.readouterr().out
    quilt = plumeline.stitch(plumeline.read_plan(tmp_path / "plan.toml"))
    names = tuple(n.strip() for n in printed.rsplit("Written to", 1)[1].split(": ", 1)[1].replace("\n", " ").split(","))
    check_files(quilt, tmp_path / "out", names, printed=printed)


def test_the_quilt_drawn_in_an_editor_agrees_with_itself():
    check_report(plumeline.stitch(plumeline.read_plan(DATA / "harbour-windows.toml")))
