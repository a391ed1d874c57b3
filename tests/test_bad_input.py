"""Bad input: one clear message that names the file and the way out, exit code 2, nothing written, nothing changed."""

from __future__ import annotations

import json
import os
import re

import pytest

from plumeline.cli import main
from plumeline.top import from_drawing

SIDE_BY_SIDE = '<rect id="a" width="6" height="12"/><rect id="b" x="6" width="6" height="12"/>'
PLAN = """
title = "Two"
[top]
drawing = "top.svg"
[[zone]]
name = "both"
patches = ["a", "b"]
each = "patch"
[zone.fill]
kind = "channel"
spacing = 1
"""
BOMB = "".join(f'<!ENTITY {b} "{f"&{a};" * 10}">' for a, b in zip("abcdefgh", "bcdefghi"))


def svg(body, page='width="12in" height="12in" viewBox="0 0 12 12"', before=""):
    return (
        f'{before}<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" {page}>'
        f"{body}</svg>"
    )


DRAWING = svg(SIDE_BY_SIDE)


def path(d, name="a"):
    return f'<path id="{name}" fill-rule="evenodd" d="{d}"/>'


@pytest.fixture
def quilt(tmp_path, capsys, monkeypatch):
    """Write a plan and a drawing, call a command, and check all that holds of every refusal."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("plumeline.pipeline.files.pictures_of", lambda _quilt, _stem: {})  # no picture is wanted here

    def refused(*arguments, plan=PLAN, drawing=DRAWING, says):
        if plan is not None:
            (tmp_path / "two.toml").write_text(plan)
        if drawing is not None:
            (tmp_path / "top.svg").write_text(drawing)
        before = listing(tmp_path)
        with pytest.raises(SystemExit) as leave:
            main(list(arguments) or ["stitch", "two.toml", "--to", "out"])
        told = capsys.readouterr()
        assert leave.value.code == 2, told
        assert told.out == ""
        assert told.err.count("\n") == 1, told.err
        assert "Traceback" not in told.err
        assert re.search(says, told.err), told.err
        assert listing(tmp_path) == before

    return refused


def listing(folder):
    return {p: p.read_bytes() if p.is_file() else None for p in folder.rglob("*")}


def changed(old, new):
    assert PLAN.count(old) == 1
    return PLAN.replace(old, new)


@pytest.mark.parametrize(
    ("plan", "says"),
    [
        (changed('"Two"', '"Two'), r"^two\.toml: is no valid TOML: .*line 2"),
        (PLAN + "[[zone]\n", r"^two\.toml: is no valid TOML: .*line 12"),
        (PLAN + "[top]\n", r"^two\.toml: is no valid TOML: .*twice"),
        ("", r"^two\.toml: top: is missing. Say where"),
        ('title = "x"\n[top]\n', r"^two\.toml: top: says nothing of where the patches come from"),
    ],
)
def test_a_malformed_plan(quilt, plan, says):
    quilt(plan=plan, says=says)


@pytest.mark.parametrize(
    ("drawing", "says"),
    [
        (svg(SIDE_BY_SIDE)[:-9], r"^top\.svg: is no readable SVG"),
        ("", r"^top\.svg: is no readable SVG"),
        ("<html><body/></html>", r"^top\.svg: is no SVG: its first element is not svg"),
        ("\x89PNG\r\n\x1a\n", r"^top\.svg: is no readable SVG"),
        (svg(path("M0 0 L6")), r"^top\.svg: path 'a': "),
    ],
)
def test_a_malformed_drawing(quilt, drawing, says):
    quilt(drawing=drawing, says=says)


@pytest.mark.parametrize(
    "drawing",
    [
        svg("<title>&i;</title>" + SIDE_BY_SIDE, before=f'<!DOCTYPE svg [<!ENTITY a "aaaaaaaaaa">{BOMB}]>'),
        svg(SIDE_BY_SIDE, before=f'<!DOCTYPE svg [<!ENTITY a "{"a" * 10_000}">]>'),
        svg("<title>&x;</title>" + SIDE_BY_SIDE, before='<!DOCTYPE svg [<!ENTITY x SYSTEM "file:///etc/hostname">]>'),
        svg(SIDE_BY_SIDE, before='<!DOCTYPE svg [<!ENTITY % x SYSTEM "http://127.0.0.1:9/x"> %x;]>'),
    ],
    ids=["bomb of nine levels", "one long entity", "outside entity", "outside parameter"],
)
def test_entities_and_references_to_outside_files(quilt, drawing):
    quilt(drawing=drawing, says=r"^top\.svg: declares entities or refers to something outside the file")


def test_a_copy_of_something_outside_the_drawing(quilt):
    quilt(
        drawing=svg(SIDE_BY_SIDE + '<use xlink:href="other.svg#x"/>'),
        says=r"^top\.svg: use: refers to 'other\.svg#x', outside the file",
    )


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("title =", "tilte =", r"tilte: is not known here.* Did you mean 'title'"),
        ("drawing =", "drawnig =", r"top\.drawnig: is not known here.* Did you mean 'drawing'"),
        ("each =", "eahc =", r"zone 'both': eahc: .* Did you mean 'each'"),
        ("spacing =", "spaceing =", r"zone 'both': fill\.spaceing: .* Did you mean 'spacing'"),
        ('"channel"', '"chanel"', r"zone 'both': fill\.kind: is 'chanel'; must be one of .* Did you mean 'channel'"),
        ("[zone.fill]", "[zone.filll]", r"zone 'both': filll: .* Did you mean 'fill'"),
    ],
)
def test_an_unknown_key_names_the_nearest(quilt, old, new, says):
    quilt(plan=changed(old, new), says=r"^two\.toml: " + says)


def test_a_missing_drawing(quilt):
    quilt(drawing=None, says=r"^top\.svg: is not there\. Check the drawing's name")


def test_a_missing_plan(quilt):
    quilt(plan=None, says=r"^two\.toml: is not there\. Check the name")


@pytest.mark.parametrize(
    ("page", "says"),
    [
        ('viewBox="0 0 12 12"', r"says no true size .* is 12 x 12 units .* width = 42"),
        ('width="100%" height="100%" viewBox="0 0 12 12"', r"says no true size .*known = "),
        ('width="0in" height="12in" viewBox="0 0 12 12"', "width: is '0in'; must be above 0"),
        ('width="nanin" height="12in" viewBox="0 0 12 12"', "width: 'nanin' is no length"),
    ],
)
def test_a_drawing_without_a_physical_size(quilt, page, says):
    quilt(drawing=svg(SIDE_BY_SIDE, page), says=r"^top\.svg: " + says)


@pytest.mark.parametrize("value", ["nan", "inf", "-inf", "1e400", '"nan"', '"inf mm"'])
@pytest.mark.parametrize(
    ("old", "key"),
    [("spacing = 1", r"zone 'both': fill\.spacing"), ('each = "patch"', r"zone 'both': inset")],
)
def test_not_a_number_and_infinity_in_a_plan(quilt, value, old, key):
    name = key.rsplit(".")[-1].rsplit(" ")[-1]
    quilt(plan=changed(old, f"{name} = {value}"), says=rf"^two\.toml: {key}: is .*; must be a")


@pytest.mark.parametrize(
    "body",
    [
        path("M0 0 L nan 3 L6 6 Z"),
        path("M0 0 L inf 3 L6 6 Z"),
        path("M0 0 L 1e400 3 L6 6 Z"),
        '<rect id="a" width="nan" height="6"/>',
        '<rect id="a" width="inf" height="6"/>',
        '<polygon id="a" points="0,0 inf,3 6,6"/>',
    ],
)
def test_not_a_number_and_infinity_in_a_drawing(quilt, body):
    quilt(drawing=svg(body), says=r"^top\.svg: \w+ 'a': ")


@pytest.mark.parametrize(
    ("d", "areas"),
    [
        # a bow-tie paints two triangles of 18 sq in: it crosses at (3, 6)
        ("M0 0 L6 12 L6 0 L0 12 Z", {"a-1": 18, "a-2": 18}),
        ("M0 0 L6 0 L6 6 L11 6 L6 6 L6 12 L0 12 Z", {"a": 72}),
        ("M0 0 L6 0 L6 6 L3 6 L6 6 L6 12 L0 12 Z", {"a": 72}),
        ("M0 0 H6 V12 H0 Z M0 6 L2 4 L2 8 Z", {"a": 68}),
        ("M0 0 H6 V12 H0 Z M0 4 H3 V8 H0 Z", {"a": 60}),
        ("M0 0 H6 V12 H0 Z M1 1 H3 V3 H1 Z M3 3 H5 V5 H3 Z", {"a": 64}),
        ("M0 0 H6 V12 H0 Z M4 4 H8 V8 H4 Z", {"a-1": 64, "a-2": 8}),  # 2 x 4 in of it lie inside
    ],
    ids=["bow-tie", "spike out", "spike in", "hole at a point", "hole at an edge", "holes that meet", "hole across"],
)
def test_outlines_that_cross_themselves_enclose_what_they_paint(tmp_path, d, areas):
    """Areas by hand, under the even-odd rule of SVG 2, 13.4.2."""
    (tmp_path / "top.svg").write_text(svg(path(d)))
    top = from_drawing(tmp_path / "top.svg")
    assert {p.name: round(p.outline.area / 645.16, 6) for p in top.patches} == areas


def test_a_hole_that_left_its_patch_is_a_patch_of_its_own(quilt):
    quilt(drawing=svg(path("M0 0 H6 V12 H0 Z M7 4 H9 V8 H7 Z")), says=r"'b' is the name of no patch\. .*a-1, a-2")


@pytest.mark.parametrize(
    ("body", "areas"),
    [
        (
            '<rect id="a" width="7" height="12"/><rect id="b" x="5" width="7" height="12"/>',
            {"a": 60, "b": 84},  # 2 x 12 in of the first are hidden
        ),
        ('<rect id="a" width="7" height="12"/><rect id="b" width="7" height="12"/>', {"b": 84}),
        (
            '<rect id="a" width="6" height="12"/><rect x="6" width="6" height="12"><title>a</title></rect>',
            {"a-1": 72, "a-2": 72},
        ),
    ],
)
def test_patches_that_overlap_or_share_a_name(tmp_path, body, areas):
    (tmp_path / "top.svg").write_text(svg(body))
    top = from_drawing(tmp_path / "top.svg")
    assert {p.name: round(p.outline.area / 645.16, 6) for p in top.patches} == areas


def test_a_drawing_without_patches(quilt):
    quilt(drawing=svg('<path d="M0 0 L5 5"/>'), says=r"^top\.svg: has no closed shape")


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ('"a", "b"', '"z-*"', r"patches: 'z-\*' is the name of no patch\. The first are a, b"),
        ('"a", "b"', '"aa"', r"patches: 'aa' is the name of no patch\. Did you mean 'a'"),
        ('"a", "b"', '"a", "!a"', "patches: is left with no patch"),
        ('each = "patch"', 'fences = ["f-1"]', r"fences\.1: 'f-1' is the name of no guide\. The drawing has none"),
        ('each = "patch"', 'leave_open = ["hoop"]', "leave_open: 'hoop' is the name of no closed shape"),
        ('each = "patch"', 'thread = "gold"', r"thread: is 'gold'; must be one of main\. Add a table \[thread\.gold\]"),
    ],
)
def test_a_name_that_matches_nothing(quilt, old, new, says):
    quilt(plan=changed(old, new), says=r"^two\.toml: zone 'both': " + says)


@pytest.mark.parametrize("guide", ["fence-1", "fence-*"])
def test_a_guide_that_matches_nothing(quilt, guide):
    plan = changed('drawing = "top.svg"', f'drawing = "top.svg"\nguides = ["{guide}"]')
    quilt(plan=plan, says=rf"^top\.svg: top\.guides: '{re.escape(guide)}' is the name of no line")


def test_a_patch_in_two_zones(quilt):
    plan = PLAN + '[[zone]]\nname = "more"\npatches = ["b"]\n[zone.fill]\nkind = "spiral"\n'
    quilt(plan=plan, says=r"^two\.toml: zone 'more': patches: takes 'b', which zone 'both' has already.* Add '!b'")


def test_two_zones_of_one_name(quilt):
    quilt(plan=PLAN + '[[zone]]\nname = "both"\npatches = ["b"]\n', says=r"zone 'both': is the name of two zones")


@pytest.mark.parametrize("kind", ["channel", "crosshatch", "rings", "rays", "spiral", "meander"])
@pytest.mark.parametrize("spacing", ["0", "-1", '"0.0001 mm"'])
def test_a_spacing_of_nothing(quilt, kind, spacing):
    plan = changed('"channel"', f'"{kind}"').replace("spacing = 1", f"spacing = {spacing}")
    quilt(plan=plan, says=r"^two\.toml: zone 'both': fill\.spacing: is .*; must be at least ")


def test_rows_of_outline_on_top_of_each_other(quilt):
    plan = changed('"channel"', '"outline"').replace("spacing = 1", "rows = 9\ndistance = 0")
    quilt(plan=plan, says=r"^two\.toml: zone 'both': fill: .*distance must be at least 0\.5 mm")


def test_more_than_five_million_stitches_in_one_zone(quilt):
    # 120 x 120 in less 1/8 in all round are 9.25e6 mm2; lines 0.5 mm apart in stitches of 2.54 mm make 7.3 million, and
    # 0.728 mm apart 5 million
    drawing = svg('<rect id="a" width="12" height="12"/>', page='width="120in" height="120in" viewBox="0 0 12 12"')
    plan = changed('"a", "b"', '"a"').replace("spacing = 1", 'spacing = "0.5 mm"')
    quilt(plan=plan, drawing=drawing, says=r"^two\.toml: zone 'both': .*about 7\.3 million.* at least 0\.73 mm")


@pytest.mark.parametrize(
    ("kind", "setting"),
    [
        ("meander", "spacing=0.5 mm"),
        ("crosshatch", "spacing=0.5 mm"),
        ("rings", "spacing=0.5 mm"),
        ("rays", "spacing=0.5 mm"),
        ("spiral", "spacing=1 mm"),
        ("echo", "spacing=0.5 mm"),
        ("curl", "spacing=0.5 mm"),
        ("pebble", "size=3 mm"),
    ],
)
def test_no_fill_runs_away(quilt, kind, setting):
    # 4 x 4 m at 1 mm: 16 km of line, 6.3 million stitches of 2.54 mm
    says = r"^zone 'shape': \w+: is .* about \d+\.\d million stitches; must be at most 5 million"
    quilt("fill", kind, "--square", "4000 mm", "--to", "t.svg", "--set", setting, says=says)


def test_more_than_five_million_stitches_in_all_zones_together(quilt, monkeypatch):
    # two patches of 6 x 12 in with lines 1 in apart: about 2 x 72 in, 1,440 stitches; the limit set just below
    monkeypatch.setattr("plumeline.pipeline.fill.STITCHES_MOST", 1000)
    quilt(says=r"^two\.toml: zone 'both': fill: brings the quilt to more than .* the most at once\. .*--zone")


@pytest.mark.parametrize("reach", ["[0, 0]", '["1 mm", "1 mm"]', '["2 mm", 20]', "[5]", "[-3, 4]", "[nan, 4]"])
def test_a_reach_smaller_than_a_stitch(quilt, reach):
    quilt(plan=PLAN + f"[machine]\nreach = {reach}\n", says=r"^two\.toml: machine\.reach.*: is ")


@pytest.mark.parametrize(
    "drawing", ["../top.svg", "/etc/hostname", "sub/../../top.svg", "C:\\\\top.svg", "..\\\\top.svg"]
)
def test_a_drawing_outside_the_plans_folder(quilt, drawing):
    quilt(plan=changed("top.svg", drawing), says=r"^two\.toml: top\.drawing: is .*; must stay within the plan's folder")


def test_a_link_out_of_the_plans_folder(quilt, tmp_path, tmp_path_factory):
    elsewhere = tmp_path_factory.mktemp("elsewhere") / "top.svg"
    elsewhere.write_text(svg(SIDE_BY_SIDE))
    (tmp_path / "top.svg").symlink_to(elsewhere)
    quilt(drawing=None, says=r"^two\.toml: top\.drawing: .* must stay within the plan's folder")


def test_an_output_folder_that_is_a_file(quilt, tmp_path):
    (tmp_path / "out").write_text("hers")
    quilt(says=r"^out: is a file; must be a folder")
    quilt("stitch", "two.toml", "--to", "out/deeper", says=r"^out/deeper: can't be written: ")


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may write anywhere")
def test_an_output_folder_without_permission(quilt, tmp_path):
    (tmp_path / "locked").mkdir(mode=0o500)
    quilt("stitch", "two.toml", "--to", "locked", says=r"^locked: can't be written: Permission denied")


def test_a_disk_that_refuses(quilt, monkeypatch):
    def refuse(*_args, **_more):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("plumeline.output.files.tempfile.mkstemp", refuse)
    quilt(says=r"^out: can't be written: Permission denied\. Choose another folder")


@pytest.mark.parametrize("name", ["two.svg", "two.dst", "two-path.png", "report.json"])
def test_an_output_folder_that_holds_the_file(quilt, tmp_path, name):
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / name).write_text("hers")
    quilt(says=rf"^out.{re.escape(name)}: exists already and is left as it is\. Use --force")


@pytest.mark.parametrize(
    ("plan", "says"),
    [
        (PLAN[: PLAN.index("[[zone]]")], r"^two\.toml: gives no zone a fill; nothing would be stitched"),
        (PLAN[: PLAN.index("[zone.fill]")], r"^two\.toml: gives no zone a fill; nothing would be stitched"),
        (changed('each = "patch"', "inset = 4"), r"^two\.toml: zone 'both': nothing would be stitched"),
    ],
)
def test_a_plan_that_stitches_nothing(quilt, plan, says):
    drawing = svg('<rect id="a" width="6" height="6"/><rect id="b" x="6" width="2" height="6"/>')
    quilt(plan=plan, drawing=drawing, says=says)
    quilt("paper", "two.toml", "--kind", "trace", "--to", "out", plan=plan, drawing=drawing, says=says)


ON_A_SQUARE = ("fill", "channel", "--to", "t.svg", "--square")


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("stich",), r"^plumeline: No such command 'stich'; the nearest is 'stitch'\. See 'plumeline --help'"),
        (("quilt!",), r"^plumeline: No such command 'quilt!'\. See"),
        (("stitch",), r"^plumeline stitch: Missing argument 'PLAN'\. See 'plumeline stitch --help'"),
        (("stitch", "two.toml"), r"Missing option '--to'"),
        (("stitch", "two.toml", "--to", "out", "--froce"), r"No such option '--froce'"),
        (("stitch", "two.toml", "--to", "out", "--formats", "dts"), r"formats: is 'dts'; .*Did you mean 'dst'"),
        (("stitch", "two.toml", "--to", "out", "--formats", ","), r"formats: are none"),
        (("stitch", "two.toml", "--to", "out", "--option", "x"), r"^two\.toml: has no option 'x'; it has none$"),
        (("stitch", "two.toml", "--to", "out", "--zone", "bth"), r"^two\.toml: zone 'bth': .*Did you mean 'both'"),
        (("check", "none.toml"), r"^none\.toml: is not there"),
        (("check", "two"), r"^two: is not there\. Did you mean 'two\.toml'\?$"),
        (("check", "top.svg"), r"^top\.svg: is no plan; .* ends in \.toml, not in \.svg\. Give the plan"),
        (("demo", "--to", "two.toml"), r"^two\.toml: is a file; must be a folder"),
        (("new", "n.toml"), r"needs either --drawing or --blocks"),
        (("new", "n.toml", "--drawing", "none.svg"), r"^none\.svg: is not there"),
        (("new", "n.toml", "--drawing", "../top.svg"), r"must lie in the plan's folder"),
        (("new", "n.toml", "--drawing", "top.svg", "--block", "12"), r"--block: is only for a table of blocks"),
        (("new", "n.toml", "--blocks", "3"), r"--blocks: is '3'; must be columns x rows"),
        (("new", "n.toml", "--blocks", "3x3"), r"--block: is missing"),
        (
            ("new", "n.toml", "--blocks", "3x3", "--block", "9", "--pieced", "nine pach"),
            r"^--pieced: is 'nine pach'; .* Did you mean 'nine patch'",
        ),
        (("new", "n.toml", "--blocks", "3x3", "--block", "0"), r"top\.blocks\.size: is 0 in; must be at least"),
        (
            ("new", "n.toml", "--blocks", "3x3", "--block", "6", "--border", "1,x"),
            r"--border: is 'x'; must be a length",
        ),
        (("new", "two.toml", "--drawing", "top.svg"), r"^two\.toml: exists already and is left as it is"),
        (("fill", "chanel", "--square", "6", "--to", "t.svg"), r"'chanel'; must be one of .* Did you mean 'channel'"),
        (("fill", "channel", "--to", "t.svg"), r"needs exactly one shape"),
        (("inspect", "."), r"^\.: is a folder; must be a plain file\. Name one of the files in it\."),
        (("fill", "channel", "none.svg", "--to", "t.svg"), r"^none\.svg: is not there"),
        ((*ON_A_SQUARE, "0"), r"--square: is 0 mm; must be above 0"),
        ((*ON_A_SQUARE, "-3"), r"--square: is -76\.2 mm; must be above 0"),
        ((*ON_A_SQUARE, "nan"), r"'--square': is 'nan'; must be a length"),
        ((*ON_A_SQUARE, "6", "--set", "plume=1"), r"channel\.plume: .* It is a setting of feather: take it out"),
        ((*ON_A_SQUARE, "1/0"), r"'--square': is '1/0'; a fraction can't have 0 below"),
        ((*ON_A_SQUARE, "1e9"), r"--square: .* at most 20 m"),
        ((*ON_A_SQUARE, "3", "--diagonals", "4,4"), r"--diagonals: is only for --sides"),
        ((*ON_A_SQUARE, "6", "--chance", "-1"), r"'--chance'"),
        ((*ON_A_SQUARE, "6", "--set", "spacing"), r"--set: is 'spacing'; must be KEY=VALUE"),
        ((*ON_A_SQUARE, "6", "--set", "spacing=nan"), r"channel\.spacing: is nan; must be a finite length"),
        ((*ON_A_SQUARE, "6", "--set", "edge=hlaf"), r"channel\.edge: is 'hlaf'; .* Did you mean 'half'"),
        ((*ON_A_SQUARE, "0.1"), r"^zone 'shape': channel: the space is too narrow"),
        ((*ON_A_SQUARE, "0.01"), r"^zone 'shape': encloses 0\.065 sq mm; must be at least 1 sq mm"),
        (("fill", "channel", "--rect", "12", "--to", "t.svg"), r"--rect: is '12'; must be width x height"),
        (("fill", "channel", "--sides", "1,1,9,1", "--diagonals", "3,3", "--to", "t.svg"), r"make no triangle"),
        (("fill", "channel", "--sides", "9,9,9,9", "--diagonals", "9,9", "--to", "t.svg"), r"the measures don't close"),
        (("fill", "channel", "--square", "6", "--to", "t.dst"), r"^t\.dst: --to: must end in \.svg or \.png"),
        (("fill", "channel", "--square", "6", "--to", "top.svg"), r"^top\.svg: exists already and is left as it is"),
        (
            ("fill", "motif", "--square", "9", "--to", "t.svg", "--set", "art=../a.svg"),
            r"must not leave the plan's folder",
        ),
        (
            ("fill", "motif", "--square", "9", "--to", "t.svg", "--set", "art=lef"),
            r"'lef' is no motif.*Did you mean 'leaf'",
        ),
        (("fills", "chanel"), r"Did you mean 'channel'"),
        (("inspect", "none.dst"), r"^none\.dst: is not there"),
        (("inspect", "two.toml"), r"^two\.toml: has no suffix we read; must be one of "),
        (("inspect", "top.svg", "--picture", "p.jpg"), r"^p\.jpg: --picture: must end in \.svg or \.png"),
        (("inspect", "top.svg", "--page", "2"), r"^top\.svg: .*page: has only one page"),
        (("new", "n.toml", "--blocks", "3x3", "--block", "6", "--width", "42"), r"--width: is only for a drawing"),
        (("stitch", "two.toml", "top.svg", "--to", "out"), r"^top\.svg: is no plan"),
        (("paper", "--kind", "trace", "--to", "out"), r"paper: needs a plan, or --fill with a shape"),
        (("map", "two.toml", "--to", "m.txt"), r"ends in \.txt; must end in \.svg, \.png or \.pdf"),
        (("compare", "two.toml", "--to", "c.svg"), r"^c\.svg: --to: must end in \.png or \.pdf"),
        (("ideas", "two.toml", "--zone", "both", "--to", "i.pdf"), r"--to: is i\.pdf; must end in \.svg or \.png"),
        (("ideas", "two.toml", "--to", "i.svg"), r"give one of --zone, --hours and --price"),
        (("ideas", "two.toml", "--price", "9", "--to", "i.svg"), r"has no \[prices\]|prices"),
        (("open", "two.toml", "--sample"), r"--sample: is given with a plan; must be one of them"),
        (("open", "none.toml", "--no-browser"), r"none\.toml: is not there"),
        (
            ("photo", "p.jpg", "--points", "p.csv", "--film", "s.png", "--plan", "two.toml", "--to", "out"),
            r"--film goes without --plan",
        ),
    ],
)
def test_wrong_command_lines(quilt, arguments, says):
    quilt(*arguments, says=says)


@pytest.mark.parametrize("name", ["x.dst", "x.exp", "x.csv", "x.dxf", "x.gcode", "x.svg"])
def test_files_that_are_not_what_their_suffix_says(quilt, tmp_path, name):
    (tmp_path / name).write_text("hello")
    quilt("inspect", name, says=rf"^{re.escape(name)}: ")


def test_what_is_refused_for_good_reason_is_taken_when_mended(tmp_path, capsys, monkeypatch):
    # the plan and drawing that every case above spoils are themselves good
    monkeypatch.chdir(tmp_path)
    (tmp_path / "two.toml").write_text(PLAN)
    (tmp_path / "top.svg").write_text(svg(SIDE_BY_SIDE))
    with pytest.raises(SystemExit) as leave:
        main(["stitch", "two.toml", "--to", "out", "--json"])
    assert leave.value.code == 0
    assert json.loads(capsys.readouterr().out)["totals"]["lines"] >= 1
