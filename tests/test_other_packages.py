"""Fills and formats that another package brings through its entry points: found, used, and harmless when broken."""

import re
import subprocess
import sys
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import plumeline
from plumeline import plugins
from plumeline.errors import InputError, OutputError
from plumeline.fills.kit import registry as fills
from plumeline.geometry import path_length
from plumeline.output import read_any
from plumeline.output import registry as formats

PLAN = """units = "in"
[top.blocks]
size = 6
rows = [["a"]]
[[zone]]
name = "z"
patches = ["*"]
[zone.fill]
kind = "two-lines"
"""


@dataclass
class Point:
    """What an installed package's entry point is to us: a name, and something that loads."""

    name: str
    made: object

    def load(self):
        if isinstance(self.made, Exception):
            raise self.made
        return self.made


@pytest.fixture
def packages(monkeypatch):
    """Pretend that packages with these entry points are installed, by group."""

    def installed(**by_group):
        for registry in (fills._FILLS, formats._FORMATS):
            for name, empty in (("_things", {}), ("_complete", False), ("_broken", [])):
                monkeypatch.setattr(registry, name, empty)
        monkeypatch.setattr(plugins, "entry_points", lambda group: by_group.get(group.split(".")[1], []))

    return installed


def test_a_fill_and_a_format_of_another_package_do_a_whole_quilt(packages, tmp_path):
    channel, csv = fills.find_fill("channel"), formats.find_writer("csv")
    packages(
        fills=[Point("two-lines", replace(channel, name="two-lines"))],
        formats=[Point("points", replace(csv, name="points", suffix=".points"))],
    )
    assert fills.fill_names()[-1] == "two-lines"
    assert formats.writer_names()[-1] == "points"
    (tmp_path / "plan.toml").write_text(PLAN)
    quilt = plumeline.stitch(plumeline.read_plan(tmp_path / "plan.toml"))
    assert {s.fill for f in quilt.filled for s in f.strokes} == {"two-lines"}
    names = quilt.write(tmp_path / "out", formats=["points", "csv"])
    one, other = ((tmp_path / "out" / n).read_bytes() for n in names if n.endswith((".points", ".csv")))
    assert one == other
    assert formats.writer_for_file("a.POINTS").name == "points"


def test_what_can_not_be_loaded_is_told_and_breaks_nothing(packages, tmp_path):
    csv = formats.find_writer("csv")
    packages(
        fills=[Point("torn", ImportError("no module named torn"))],
        formats=[Point("again", replace(csv, name="again"))],  # a second format of one suffix
    )
    (tmp_path / "plan.toml").write_text(PLAN.replace("two-lines", "channel"))
    report = plumeline.stitch(plumeline.read_plan(tmp_path / "plan.toml")).report
    told = {f.code: f.text for f in report.findings if f.code.endswith("not-loaded")}
    assert set(told) == {"fill-not-loaded", "format-not-loaded"}
    assert "'torn'" in told["fill-not-loaded"] and "no module named torn" in told["fill-not-loaded"]
    assert "'again'" in told["format-not-loaded"] and "registered already" in told["format-not-loaded"]
    assert formats.writer_names() == formats.BUILT_IN


ROOT = Path(__file__).parents[1]


def code_of_the_guide(which):
    """The code that the contributors' guide shows for a fill or a format."""
    guide = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    return next(c for c in re.findall(r"```python\n(.*?)```", guide, flags=re.DOTALL) if f"\n{which} = " in c)


def from_the_guide(name, which):
    """What that code makes."""
    made: dict[str, Any] = {"__name__": name}
    exec(compile(code_of_the_guide(which), f"{name}.py", "exec"), made)
    return Point(name, made[which])


@pytest.mark.parametrize(("which", "room"), [("FILL", "fills"), ("WRITER", "output")])
@pytest.mark.parametrize("rule", [["check"], ["format", "--check"]])
def test_the_code_of_the_contributors_guide_keeps_the_rules_it_asks_for(which, room, rule):
    place = f"src/plumeline/{room}/of_the_guide.py"
    command = [sys.executable, "-m", "ruff", *rule, "--stdin-filename", place, "-"]
    done = subprocess.run(
        command, input=code_of_the_guide(which), cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr


def test_the_format_of_the_contributors_guide_is_whole(packages, tmp_path):
    packages(formats=[from_the_guide("jsonl", "WRITER")])
    (tmp_path / "plan.toml").write_text(PLAN.replace("two-lines", "channel"))
    quilt = plumeline.stitch(plumeline.read_plan(tmp_path / "plan.toml"))
    names = quilt.write(tmp_path / "out", formats=["jsonl", "csv"])
    one, other = (read_any(tmp_path / "out" / n) for n in names if n.endswith((".jsonl", ".csv")))
    assert all(np.array_equal(p, q) for p, q in zip(one.paths, other.paths, strict=True))
    assert asdict(replace(one, format="csv", paths=())) == asdict(replace(other, paths=()))
    writer = formats.find_writer("jsonl")
    for data in (b"", b"[1]", b"\xff", b'["command", "x_mm", "y_mm"]\n["LEAP", 1, 2]\n'):
        with pytest.raises(OutputError):
            writer.read(data)
    (points,) = quilt.points
    with pytest.raises(OutputError, match="not finite"):
        writer.write(replace(points, xy=points.xy * np.nan), "")


def test_the_fill_of_the_contributors_guide_is_whole(packages):
    """By hand: 1 in apart in 5 in are five lines of 5 in; 2 in per square inch are lines 1/2 in apart, ten of them."""
    packages(fills=[from_the_guide("stripes", "FILL")])
    square = np.array([(0, 0), (5, 0), (5, 5), (0, 5)]) * 25.4
    for settings, count in (({"spacing": "1 in"}, 5), ({"density": 2}, 10)):
        strokes = plumeline.fill("stripes", square, **settings).strokes
        assert [path_length(s.path) for s in strokes] == pytest.approx([127] * count)
    tiny = plumeline.fill("stripes", square / 100, spacing="1 in")
    assert [f.code for f in tiny.findings] == ["fill-too-small"] and not tiny.strokes
    with pytest.raises(InputError, match="stitches"):
        plumeline.fill("stripes", square * 100, spacing=1)
