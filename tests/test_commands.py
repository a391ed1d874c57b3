"""The commands as a newcomer calls them: exit codes, messages, files whole or not at all."""

from __future__ import annotations

import json
import re
import signal
import subprocess
import sys
import threading
from collections import Counter
from pathlib import Path

import numpy as np
import pyembroidery
import pytest
from svgelements import SVG
from svgelements import Path as SvgPath

from plumeline import fill
from plumeline.cli._stopping import stoppable
from plumeline.drawing import svg as svg_reader
from plumeline.geometry import path_length
from plumeline.output import read_file
from plumeline.pipeline.top import read_top
from plumeline.plan import read_plan
from plumeline.zones import make_zones

PLAN = """
title = "Four patch"
[top.blocks]
size = 6
rows = [["a", "b"], ["b", "a"]]
[[zone]]
name = "a"
patches = ["a-*"]
each = "patch"
[zone.fill]
kind = "channel"
spacing = 1
[[zone]]
name = "b"
patches = ["b-*"]
each = "patch"
[zone.fill]
kind = "spiral"
[options.other.b]
kind = "crosshatch"
"""


@pytest.fixture
def plan(tmp_path):
    path = tmp_path / "four.toml"
    path.write_text(PLAN)
    return path


def test_the_main_job_writes_its_files_and_a_table(run, plan, tmp_path):
    code, out, err = run("stitch", plan, "--to", tmp_path / "out", "--formats", "svg,dst,exp,csv,dxf,gcode")
    assert (code, err) == (0, "")
    names = {p.name for p in (tmp_path / "out").iterdir()}
    assert {"four.svg", "four.dst", "four.exp", "four.csv", "four.dxf", "four.gcode", "report.json"} <= names
    assert {"four-path.svg", "four-path.png", "four-cloth.png", "four-read-first.txt"} <= names
    report = json.loads((tmp_path / "out" / "report.json").read_text())
    assert set(report["files"]) == names
    assert report["totals"]["jumps"] == report["totals"]["lines"] - 1
    assert "whole quilt" in out


def test_the_same_plan_gives_the_same_bytes(run, plan, tmp_path):
    for folder in ("one", "two"):
        assert run("stitch", plan, "--to", tmp_path / folder, "--formats", "svg,dst,exp,csv,dxf,gcode")[0] == 0
    for path in (tmp_path / "one").iterdir():
        assert path.read_bytes() == (tmp_path / "two" / path.name).read_bytes(), path.name


def test_the_drawing_is_true_size_for_another_reader(run, plan, tmp_path):
    run("stitch", plan, "--to", tmp_path / "out")
    svg = SVG.parse(tmp_path / "out" / "four.svg", ppi=25.4)  # one user unit a mm

    def box(kind):
        found = [e for e in svg.elements() if isinstance(e, SvgPath) and str(e.values.get("class")) == kind]
        boxes = np.array([e.bbox() for e in found])
        return np.array([*boxes[:, :2].min(axis=0), *boxes[:, 2:].max(axis=0)])

    left, top, right, bottom = box("patch")
    assert (right - left, bottom - top) == pytest.approx((304.8, 304.8), rel=1e-5)  # 12 in
    inside = box("stitch") - (left, top, left, top)
    assert inside[:2].min() >= 3.1  # the default clearance of 1/8 in
    assert inside[2:].max() <= 304.8 - 3.1


def test_json_is_the_report_and_nothing_else(run, plan, tmp_path):
    code, out, _ = run("stitch", plan, "--to", tmp_path / "out", "--json", "--option", "other")
    assert code == 0
    assert {row["fill"] for row in json.loads(out)["zones"]} == {"channel", "crosshatch"}
    assert (tmp_path / "out" / "four-other.dst").is_file()


def test_nothing_is_written_over_without_being_asked(run, plan, tmp_path):
    assert run("stitch", plan, "--to", tmp_path / "out")[0] == 0
    before = {p.name: p.read_bytes() for p in (tmp_path / "out").iterdir()}
    code, _, err = run("stitch", plan, "--to", tmp_path / "out")
    assert code == 2
    assert "--force" in err
    assert before == {p.name: p.read_bytes() for p in (tmp_path / "out").iterdir()}
    assert run("stitch", plan, "--to", tmp_path / "out", "--force")[0] == 0


def test_check_can_answer_a_program(run, plan, tmp_path):
    code, out, err = run("check", plan, "--json")
    assert (code, err) == (0, "")
    told = json.loads(out)
    report = json.loads(run("stitch", plan, "--to", tmp_path / "out", "--json")[1])
    assert told == {"title": "Four patch", "findings": report["findings"]}


def test_settings_are_read_as_a_plan_reads_them(run, tmp_path):
    """Lists, truth values, numbers and words: what is drawn is what the library draws of the same values."""
    for kind, pairs, settings in (
        ("channel", ["spacing=[0.5, 1]", "angle=45"], {"spacing": ["0.5 in", "1 in"], "angle": 45}),
        ("echo", ["count=2", "spacing='1/2'"], {"count": 2, "spacing": "1/2 in"}),
    ):
        file = tmp_path / f"{kind}.svg"
        chosen = [word for pair in pairs for word in ("--set", pair)]
        assert run("fill", kind, "--square", "6", "--to", file, *chosen)[0] == 0
        square = np.array([(0, 0), (6, 0), (6, 6), (0, 6)]) * 25.4
        sewn = sum(path_length(s.path, closed=s.closed) for s in fill(kind, square, **settings).strokes)
        drawn = [r for r in read_file(file)[1].runs if r.kind == "stitch"]
        assert sum(path_length(r.path) for r in drawn) == pytest.approx(sewn, rel=0.01)


def test_ideas_for_a_space_are_listed_best_first_with_their_reasons(run, plan, tmp_path):
    target = tmp_path / "ideas.svg"
    code, out, err = run("ideas", plan, "--zone", "b", "--to", target)
    assert (code, err) == (0, "")
    named = re.findall(r"^ ?(\d+)\. ([\w, -]+): \w", out, re.MULTILINE)
    assert [int(k) for k, _ in named] == list(range(1, len(named) + 1)) and len(named) > 3
    assert out.count(" by hand") == len(named)
    drawn = target.read_text(encoding="utf-8")
    assert all(name in drawn for _, name in named)
    assert out.endswith(f"Written: {target}\n")
    assert run("ideas", plan, "--zone", "b", "--to", target)[0] == 2  # it is there already


def test_a_set_over_what_was_asked_says_so(run, plan, tmp_path):
    code, out, _ = run("ideas", plan, "--hours", "0.1", "--to", tmp_path / "set.svg")
    minutes = [int(m) for m in re.findall(r", (\d+) min for", out)]
    whole, rest = re.search(r"Together (\d+) h (\d+) min", out).groups()
    assert code == 0 and len(minutes) == 2
    assert 60 * int(whole) + int(rest) == pytest.approx(sum(minutes), abs=2)
    assert ("That is still over what you asked" in out) == (sum(minutes) > 7)


def test_options_that_stitch_nothing_can_not_be_compared(run, tmp_path):
    bare = tmp_path / "bare.toml"
    bare.write_text(PLAN.replace('[zone.fill]\nkind = "channel"\nspacing = 1\n', "").replace(
        '[zone.fill]\nkind = "spiral"\n', ""))  # fmt: skip
    code, _, err = run("compare", bare, "--to", tmp_path / "c.png")
    assert code == 2 and not (tmp_path / "c.png").exists()
    assert "stitches nothing; there is nothing to compare" in err


@pytest.mark.parametrize("columns", [60, 90])
def test_a_table_is_as_wide_as_the_terminal(run, monkeypatch, columns):
    plain = run("blocks")[1]
    monkeypatch.setenv("TTY_COMPATIBLE", "1")
    monkeypatch.setenv("COLUMNS", str(columns))
    shown = re.sub("\x1b\\[[0-9;]*m", "", run("blocks")[1]).split("\n\n")[0]
    assert max(len(line.rstrip()) for line in shown.splitlines()) <= columns
    assert columns < max(len(line.rstrip()) for line in plain.splitlines()) <= 120
    assert shown.replace("\n", "").split()[:3] == plain.split()[:3]


def test_options_stand_side_by_side_as_she_named_them(run, tmp_path):
    named = tmp_path / "named.toml"
    named.write_text(PLAN.replace("[options.other.b]", '[options."[red] :smile:".b]'))
    code, out, _ = run("compare", named, "--to", tmp_path / "c.png")
    assert code == 0 and "[red] :smile:" in out.splitlines()[0]


def test_several_plans_at_once_have_no_drawing_of_what_was_sewn(run, plan, tmp_path):
    other = tmp_path / "other.toml"
    other.write_text(PLAN)
    code, _, err = run("stitch", plan, other, "--stitched", tmp_path / "x.svg", "--to", tmp_path / "out")
    assert code == 2 and "--stitched goes with one plan" in err
    assert not (tmp_path / "out").exists()


def test_what_listens_for_ctrl_c_leaves_other_threads_alone():
    """Python lets only the main thread set what a signal does."""
    seen = []

    def work():
        with stoppable() as stop:
            seen.append((stop.asked, signal.getsignal(signal.SIGINT)))

    before = signal.getsignal(signal.SIGINT)
    thread = threading.Thread(target=work)
    thread.start()
    thread.join()
    assert seen == [(False, before)]
    with stoppable():
        assert signal.getsignal(signal.SIGINT) is not before
    assert signal.getsignal(signal.SIGINT) is before


def test_a_stitch_file_has_one_page(run, plan, tmp_path):
    run("stitch", plan, "--to", tmp_path / "out", "--formats", "csv")
    file = tmp_path / "out" / "four.csv"
    assert run("inspect", file, "--page", "1")[0] == 0
    code, _, err = run("inspect", file, "--page", "2")
    assert code == 2 and "four.csv: --page: has only one page" in err


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (('kind = "spiral"', 'kind = "spirall"'), ["zone 'b'", "spirall", "Did you mean 'spiral'"]),
        (("spacing = 1", "spaceing = 1"), ["zone 'a'", "spaceing", "spacing"]),
        (("spacing = 1", "spacing = 0"), ["zone 'a'", "spacing", "at least"]),
        (("spacing = 1", "spacing = nan"), ["zone 'a'", "spacing"]),
        (('patches = ["b-*"]', 'patches = ["c-*"]'), ["zone 'b'", "c-*"]),
        (('patches = ["b-*"]', 'patches = ["a-*"]'), ["zone 'b'", "a-1-1"]),
        (('title = "Four patch"', 'title = "Four patch'), ["TOML"]),
        (("size = 6", "size = -6"), ["size", "at least"]),
        (('size = 6\nrows = [["a", "b"], ["b", "a"]]', 'drawing = "../x.svg"'), ["folder"]),
    ],
)
def test_bad_plans_get_one_clear_line_and_nothing_written(run, plan, tmp_path, change, said):
    text = PLAN.replace(*change, 1)
    plan.write_text(text.replace("[top.blocks]", "[top]") if "drawing" in text else text)
    code, out, err = run("stitch", plan, "--to", tmp_path / "out")
    assert code == 2, err
    assert out == ""
    assert err.count("\n") == 1
    assert err.startswith("four.toml:")
    for word in said:
        assert word in err
    assert not (tmp_path / "out").exists()


def test_missing_files_and_unwritable_folders_are_said(run, plan, tmp_path):
    assert run("stitch", tmp_path / "none.toml", "--to", tmp_path / "out")[0] == 2
    (tmp_path / "taken").write_text("a file, no folder")
    code, _, err = run("stitch", plan, "--to", tmp_path / "taken")
    assert code == 2
    assert "taken" in err


def test_unknown_option_zone_and_format_name_the_nearest(run, plan, tmp_path):
    for extra, near in ((("--option", "othr"), "other"), (("--zone", "bb"), "b"), (("--formats", "dxt"), "dxf")):
        code, _, err = run("stitch", plan, "--to", tmp_path / "out", *extra)
        assert code == 2
        assert near in err


def test_check_writes_nothing(run, plan, tmp_path):
    before = sorted(tmp_path.iterdir())
    code, out, _ = run("check", plan)
    assert code == 0
    assert "Four patch: 12 in x 12 in" in out
    assert sorted(tmp_path.iterdir()) == before


@pytest.mark.parametrize(
    "shape",
    [
        ("--square", "6"),
        ("--rect", "9x6"),
        ("--triangle", "8"),
        ("--circle", "160 mm"),
        ("--sides", "14,14 1/8,13 7/8,14", "--diagonals", "19 3/4,19 7/8"),
    ],
)
def test_fill_tries_one_fill_on_one_shape(run, tmp_path, shape):
    target = tmp_path / "try.svg"
    code, out, err = run("fill", "channel", *shape, "--to", target, "--set", "spacing=1/2", "--set", "angle=-30")
    assert (code, err) == (0, "")
    assert "Written to" in out
    assert '<path class="outline"' in target.read_text() or 'class="outline"' in target.read_text()


def test_fill_of_a_shape_too_small_leaves_with_2(run, tmp_path):
    code, _, err = run("fill", "spiral", "--square", "6 mm", "--to", tmp_path / "t.svg", "--set", "spacing=3")
    assert code == 2
    assert "Choose a smaller spacing" in err
    assert not (tmp_path / "t.svg").exists()


def test_fill_wants_exactly_one_shape(run, tmp_path):
    assert run("fill", "channel", "--to", tmp_path / "t.svg")[0] == 2
    assert run("fill", "channel", "--square", "3", "--circle", "3", "--to", tmp_path / "t.svg")[0] == 2


def test_a_started_plan_is_a_plan(run, tmp_path):
    path = tmp_path / "mine.toml"
    shape = ("--blocks", "3x3", "--block", "12", "--on-point", "--border", "1,5 1/2")
    assert run("new", path, *shape)[0] == 0
    code, out, _ = run("check", path)
    assert code == 0
    assert "63 15/16 in x 63 15/16 in" in out  # 3 x 12 x sqrt 2 + 13 = 63.91
    assert run("new", path, *shape)[0] == 2


def test_fills_lists_every_setting(run):
    from plumeline.fills import fill_names, find_fill

    listed = run("fills")[1]
    for name in fill_names():
        assert name in listed
        told = run("fills", name)[1]
        assert len(re.findall(r"^  \S", told, re.MULTILINE)) == sum(
            not field.exclude for field in find_fill(name).settings.model_fields.values()
        )


def test_inspect_says_what_is_in_a_file(run, plan, tmp_path):
    run("stitch", plan, "--to", tmp_path / "out", "--formats", "dst,svg")
    report = json.loads((tmp_path / "out" / "report.json").read_text())
    code, out, _ = run("inspect", tmp_path / "out" / "four.dst", "--json", "--picture", tmp_path / "look.png")
    assert code == 0
    seen = json.loads(out)
    assert seen["lines"] == report["totals"]["lines"]
    assert seen["stitches"] == report["totals"]["stitches"]
    assert (tmp_path / "look.png").read_bytes().startswith(b"\x89PNG")
    # the same by a reader that is not ours: tenths of a mm from the first needle point, y up
    points = np.array([(x, -y) for x, y, _ in pyembroidery.read(str(tmp_path / "out" / "four.dst")).stitches]) / 10
    assert seen["low_mm"] == pytest.approx([points[:, 0].min(), (-points[:, 1]).min()], abs=0.11)
    said = run("inspect", tmp_path / "out" / "four.dst", "--units", "mm")[1]
    low, high = seen["low_mm"][0], seen["high_mm"][0]
    assert f"  from 0, 0 to the right   {low:.1f} mm to {high:.1f} mm\n" in said
    assert run("inspect", tmp_path / "out" / "report.json")[0] == 2


def test_starting_is_quick_because_heavy_libraries_wait(tmp_path):
    code = (
        "import sys, plumeline, plumeline.cli; print(sorted({'numpy', 'scipy', 'shapely', 'rich'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=tmp_path)
    assert done.stdout.strip() == "[]"


def test_the_page_starts_without_libraries_that_only_a_file_or_a_photo_needs(tmp_path):
    code = (
        "import sys, plumeline.page, plumeline.page.forms as forms, plumeline.output as output\n"
        "forms.fill_forms(), output.writer_names()\n"
        "print(sorted({'ezdxf', 'scipy.signal', 'scipy.stats', 'scipy.optimize', 'rustworkx'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=tmp_path)
    assert done.stdout.strip() == "[]"


def test_ctrl_c_leaves_nothing_half_written(run, plan, tmp_path, monkeypatch):
    from plumeline.pipeline import files as writing

    def stop(*_):
        raise KeyboardInterrupt

    monkeypatch.setattr(writing, "report_text", stop)
    code, _, _ = run("stitch", plan, "--to", tmp_path / "out")
    assert code == 130
    assert not (tmp_path / "out").exists()


def test_strict_leaves_with_3_when_there_are_warnings(run, plan, tmp_path):
    plan.write_text(PLAN + '\n[batting]\nwidest_gap = "3/4"\n')
    assert run("stitch", plan, "--to", tmp_path / "a")[0] == 0
    code, out, _ = run("stitch", plan, "--to", tmp_path / "b", "--strict")
    assert code == 3
    assert "the batting's label allows 3/4 in" in out


def test_a_thicker_batting_empties_the_bobbin_sooner(run, plan, tmp_path):
    # bobbin thread of one inch of line: 1 in along it and, ten stitches an inch, 10 x the thickness through the layers
    stops = []
    for thickness in ("0.5 mm", "8 mm"):
        plan.write_text(PLAN + f'\n[machine]\nbobbin_yards = 8\n[batting]\nthickness = "{thickness}"\n')
        code, out, _ = run("stitch", plan, "--to", tmp_path / thickness[0], "--json")
        assert code == 0
        stops.append(json.loads(out)["totals"]["planned_stops"])
    assert stops[1] > stops[0]


def test_a_long_meander_takes_a_bobbin_more_than_it_has_stops(run, plan, tmp_path):
    # a 24 in block on bobbins of 20 yd: 55.9 m of bobbin thread in lines of 0.9 x 18.3 m and a rest is four bobbins
    plan.write_text(
        'units = "in"\n[top.blocks]\nsize = 24\nrows = [["a"]]\n[machine]\nbobbin_yards = 20\n'
        '[[zone]]\nname = "m"\npatches = ["*"]\n[zone.fill]\nkind = "meander"\nspacing = "1/2"\n'
    )
    report = json.loads(run("stitch", plan, "--to", tmp_path / "m", "--json")[1])
    totals = report["totals"]
    assert totals["planned_stops"] == 3
    assert totals["bobbins"] == totals["planned_stops"] + 1
    assert sum(zone["stitches"] for zone in report["zones"]) == totals["stitches"]


def test_the_readme_and_ci_name_the_same_test_command():
    root = Path(__file__).parents[1]
    line = next(x for x in (root / ".ci" / "run").read_text().splitlines() if "pytest" in x)
    assert line in (root / "README.md").read_text()


def test_zones_without_a_fill_are_said(run, plan):
    plan.write_text(PLAN.replace('[zone.fill]\nkind = "spiral"', "", 1))
    code, out, _ = run("check", plan)
    assert code == 0
    assert "1 zone has no fill and stays open: b" in out


def test_several_plans_each_have_a_folder_of_their_name(run, tmp_path):
    for name in ("one", "two"):
        (tmp_path / f"{name}.toml").write_text(PLAN.replace("Four patch", f"Patch {name}"))
    code, out, _ = run("stitch", tmp_path / "one.toml", tmp_path / "two.toml", "--to", tmp_path / "out", "--timings")
    assert code == 0 and out.count("writing files: ") == 2
    alone, *_ = run("stitch", tmp_path / "two.toml", "--to", tmp_path / "alone")
    assert alone == 0
    names = {path.name for path in (tmp_path / "alone").iterdir()}
    assert "two.dst" in names and {path.name for path in (tmp_path / "out" / "two").iterdir()} == names
    for name in ("two.dst", "two.svg"):
        assert (tmp_path / "out" / "two" / name).read_bytes() == (tmp_path / "alone" / name).read_bytes()
    code, out, _ = run("stitch", tmp_path / "one.toml", tmp_path / "two.toml", "--to", tmp_path / "j", "--json")
    assert [report["title"] for report in json.loads(out)] == ["Patch one", "Patch two"]


def test_several_plans_are_checked_before_the_first_is_stitched(run, tmp_path):
    (tmp_path / "sub").mkdir()
    for path in ("one.toml", "sub/one.toml"):
        (tmp_path / path).write_text(PLAN)
    (tmp_path / "bad.toml").write_text(PLAN.replace("spacing = 1", 'spacing = "wide"'))
    code, _, err = run("stitch", tmp_path / "one.toml", tmp_path / "sub" / "one.toml", "--to", tmp_path / "out")
    assert code == 2 and "two plans are named one" in err
    code, _, err = run("stitch", tmp_path / "one.toml", tmp_path / "bad.toml", "--to", tmp_path / "out")
    assert code == 2 and "bad.toml" in err
    assert not (tmp_path / "out").exists()


def zones_of_new(run, tmp_path, *options):
    plan = tmp_path / "new.toml"
    code, _, err = run("new", plan, *options, "--force")
    assert code == 0, err
    read = read_plan(plan)
    return read, {spec.name: (spec.each, spec.order, spec.patches) for spec in read.zones}


def test_new_makes_a_zone_for_pieced_plain_and_each_border(run, tmp_path):
    options = ("--blocks", "5x5", "--block", "9", "--pieced", "9-patch", "--plain", "alternate", "--border", "1 1/2,8")
    code, _, err = run("new", tmp_path / "new.toml", *options)
    assert code == 2 and "no traditional block is called so" in err and not (tmp_path / "new.toml").exists()
    read, zones = zones_of_new(run, tmp_path, *("nine patch" if one == "9-patch" else one for one in options))
    assert {name: said[:2] for name, said in zones.items()} == {
        "nine-patch": ("joined", None),
        "plain": ("patch", None),
        "inner border": (None, "last"),
        "outer border": (None, "last"),
    }
    made, _ = make_zones(read_top(read), read.zones)
    spaces = Counter(zone.name for zone in made)
    # 5 x 5 with a pieced block in each corner: 13 pieced, 12 plain; each border is one ring of four strips
    assert spaces == {"nine-patch": 13, "plain": 12, "inner border": 1, "outer border": 1}
    areas = {name: sum(z.outline.area for z in made if z.name == name) / 645.16 for name in spaces}
    assert areas["inner border"] == pytest.approx(48**2 - 45**2)
    assert areas["outer border"] == pytest.approx(64**2 - 48**2)
    # a kind of patch is written as its pattern, not as the list of all that are in the top
    said = {"nine-patch-*", "plain-*", "inner-*", "outer-*"}
    assert {pattern for spec in read.zones for pattern in spec.patches} == said


def test_new_on_point_and_with_sashing(run, tmp_path):
    _, zones = zones_of_new(run, tmp_path, "--blocks", "3x3", "--block", "12", "--on-point", "--border", "5")
    assert list(zones) == ["block", "plain", "setting triangles", "corners", "border"]
    read, zones = zones_of_new(run, tmp_path, "--blocks", "3x4", "--block", "12", "--sashing", "2")
    # 3 x 12 + 2 x 2 across, 4 x 12 + 3 x 2 down
    assert read_top(read).size == pytest.approx((40 * 25.4, 54 * 25.4)) and "sash-upright" in zones


def test_new_takes_a_drawing_in_a_folder_below(run, tmp_path):
    (tmp_path / "art").mkdir()
    (tmp_path / "art" / "top.svg").write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="9in" height="9in" viewBox="0 0 9 9">'
        '<rect id="whole" width="9" height="9" fill="red"/></svg>'
    )
    read, zones = zones_of_new(run, tmp_path, "--drawing", tmp_path / "art" / "top.svg")
    assert list(zones) == ["whole"] and read.top.drawing == "art/top.svg"
    (tmp_path / "plans").mkdir()
    code, _, err = run("new", tmp_path / "plans" / "p.toml", "--drawing", tmp_path / "art" / "top.svg")
    assert code == 2 and "must lie in the plan's folder" in err


def test_new_reads_its_drawing_once(run, tmp_path, monkeypatch):
    """With a width that she gives it is measured first; the file is parsed once all the same, for the map too."""
    opened = []
    first = svg_reader.svg_root
    monkeypatch.setattr(svg_reader, "svg_root", lambda path: opened.append(path) or first(path))
    (tmp_path / "top.svg").write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 9 9"><rect width="9" height="9"/></svg>'
    )
    code, _, err = run("new", tmp_path / "p.toml", "--drawing", tmp_path / "top.svg", "--width", "42")
    assert not code, err
    assert len(opened) == 1


def test_lines_that_end_on_the_edge_of_a_tried_shape_do_not_show(run, tmp_path):
    """Level lines 1 in apart end on the sides of a square; a leaf 8 in long ends well within one of 9 in."""
    for kind, at_edge in (("channel", True), ("motif", False)):
        code, out, err = run("fill", kind, "--square", "9", "--to", tmp_path / f"{kind}.svg", "--json")
        found = {finding["code"] for finding in json.loads(out)["findings"]}
        assert (code, err, "starts-show" in found) == (0, "", not at_edge)
