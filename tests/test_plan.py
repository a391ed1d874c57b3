"""The plan file: what it says comes through in mm, whatever it can't say is refused in one clear line."""

# ruff: noqa: E501 - one line a case reads best

import math
import re
import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from plans import BLOCKS, EXAMPLES, MEASURED, METRIC, PLAIN_AND_STAR
from plumeline.errors import InputError, PlanError
from plumeline.fills import Fill
from plumeline.fills.kit.settings import FillSettings, Mm, length, number
from plumeline.model import Filled, Machine, Zone
from plumeline.pipeline.layers import check_fills, checked_layer
from plumeline.plan import StarterZone, edit_plan, parse_plan, read_plan, starter_plan
from plumeline.specs import DivideStep, FenceSpec, LeaveOpen, ShapeSpec, matching


class Rings(FillSettings):
    rows: int = number(3, least=1, most=50, description="rows")
    spacing_mm: Mm = length(12.7, least=0.5, description="from line to line")


class Open(FillSettings):
    """Takes whatever the sample plan sets, so that only one fill is under test."""

    spines: str = "one"
    art: str = ""
    count: int = 1
    spacing_mm: Mm = length(12.7, least=0.5, description="from line to line")
    angle_deg: float = 0.0


def nothing(_zone: Zone, _settings: FillSettings, **_said: object) -> Filled:
    return Filled()


KINDS = dict.fromkeys(("feather", "motif", "echo", "meander", "spiral", "crosshatch", "channel"), Open)
FILLS = {
    name: Fill(name, model, nothing, "ruler", "draws nothing") for name, model in {"rings": Rings, **KINDS}.items()
}


def test_every_value_of_the_sample_plan_comes_through():
    plan = parse_plan(PLAIN_AND_STAR)
    assert (plan.title, plan.units, plan.chance) == ("Plain and Star", "in", 7)
    assert plan.top.drawing == "plain-and-star.svg"
    assert plan.top.close_gaps_mm == 0.79375
    assert plan.top.guides == ("fence-*", "spine-*")
    assert plan.machine == Machine(
        guided="computer",
        stitch_mm=2.54,
        reach_mm=(558.8, 355.6),
        trimmer=False,
        ties="tiny",
        start_stop_seconds=45,
        order="rows",
        bobbin_mm=91_440,
    )
    assert plan.batting.widest_gap_mm == 101.6
    assert plan.threads["main"].colour == "#e9dfc8"
    star, squares, frame = plan.zones
    assert star.patches == ("plain-2-2", "point-*")
    assert star.inset_mm == 3.175
    assert star.fences == (FenceSpec("fence-1"), FenceSpec("fence-2", 9.525))
    assert star.leave_open == (LeaveOpen("label"),)
    assert star.divide == (DivideStep("frame", width_mm=31.75), DivideStep("on-point"))
    assert star.part_names == ("frame", "corner", "inside")
    assert squares.each == "patch"
    assert squares.inset_mm is None
    assert frame.shape == ShapeSpec("on-point", "cornerstone-2-2", 355.6, 355.6)
    assert [layer["kind"] for layer in plan.fills["big star"]["corner"]] == ["motif", "echo", "meander"]
    assert plan.fills["plain squares"] == {"": ({"kind": "spiral", "spacing": "1/2"},)}


def test_blocks_measured_and_metric_plans_come_through_in_mm():
    blocks = parse_plan(BLOCKS).top.blocks
    assert blocks.size_mm == 304.8
    assert blocks.sashing.width_mm == 63.5
    assert [(b.name, b.width_mm, b.corners) for b in blocks.borders] == [
        ("inner", 25.4, "butted"),
        ("outer", 139.7, "mitred"),
    ]
    assert blocks.pieces["star"].lines == (((0, 0), (152.4, 152.4)),)
    measured = parse_plan(MEASURED)
    assert measured.top.measured.sides_mm == (355.6, 358.775, 352.425, 355.6)
    assert measured.zones[0].enter == (25.4, 25.4)
    assert measured.zones[0].part_names == tuple(f"ray-{k}" for k in range(1, 9))
    every, oval, kite, disc = parse_plan(METRIC).zones
    assert every.inset_mm == 3
    assert every.leave_open == (LeaveOpen(None, (300, 300), 20),)
    assert every.fences == (FenceSpec(((0, 0), (100, 100))), FenceSpec(((10, 0), (5, 30)), 10))
    assert oval.shape == ShapeSpec("oval", ("a", "b", "c"), 200, 100, turn_deg=30)
    assert kite.shape.points == ((0, 0), (50, 50), (0, 50))
    assert disc.shape == ShapeSpec("circle", (100, 200), 60, 60)
    assert disc.part_names == ("side-1", "side-2")


WRONG = [
    # plan, what is replaced, by what, the place and the rule that must be said, the way out
    (PLAIN_AND_STAR, "inset      =", "insett =", "zone 'big star': insett: is not known", "Did you mean 'inset'?"),
    (PLAIN_AND_STAR, '= "1/8"', '= "1/8 feet"', "zone 'big star': inset: is '1/8 feet'; must be a length", None),
    (PLAIN_AND_STAR, '= "1/8"', "= -1", "zone 'big star': inset: is -1 in; must be at least 0", None),
    (PLAIN_AND_STAR, '= "1/8"', '= "1/0"', "zone 'big star': inset: is '1/0'; a fraction", None),
    (PLAIN_AND_STAR, '"1 1/4"', "0.01", "divide.1.width: is 0.01 in; must be at least 0.0394 in (1 mm)", None),
    (PLAIN_AND_STAR, '"1 1/4"', '"900"', "divide.1.width: is '900'; must be at most 20 m", None),
    (
        PLAIN_AND_STAR,
        'by = "frame"',
        'by = "fram"',
        "divide.1.by: is 'fram'; must be one of frame, on-point",
        "'frame'",
    ),
    (PLAIN_AND_STAR, 'by = "frame"', 'bye = "frame"', "divide.1.by: is missing", None),
    (PLAIN_AND_STAR, "width =", "widht =", "divide.1.widht: is not known", "Did you mean 'width'?"),
    (PLAIN_AND_STAR, '"outer-seams"', '"outer"', "travel: is 'outer'; must be one of outer-seams, any-seam", "'outer"),
    (PLAIN_AND_STAR, 'soft = "3/8"', "sof = 1", "fences.2.sof: is not known", "Did you mean 'soft'?"),
    (PLAIN_AND_STAR, '["fence-1",', "[3,", "fences.1: is 3; must be the name of a guide, or a list of points", None),
    (PLAIN_AND_STAR, '["label"]', "[{centre = [1], radius = 2}]", "leave_open.1.centre.2: is missing", None),
    (PLAIN_AND_STAR, '["label"]', "[5]", "leave_open.1: is 5; must be text in quotes or a table", None),
    (PLAIN_AND_STAR, "[22, 14]", "22", "machine.reach: is 22 in; must be a list", None),
    (PLAIN_AND_STAR, "[22, 14]", "[22, 0]", "machine.reach.2: is 0 in; must be at least 0.0394 in (1 mm)", None),
    (PLAIN_AND_STAR, "trimmer = false", 'trimmer = "no"', "machine.trimmer: is 'no'; must be true or false", None),
    (PLAIN_AND_STAR, "per_inch = 10", "per_inch = 100", "machine.stitches_per_inch: is 100; must be at most 20", None),
    (PLAIN_AND_STAR, "per_inch = 10", "per_inch = nan", "machine.stitches_per_inch: is nan; must be a finite", None),
    (PLAIN_AND_STAR, "rows = 3", "rows = -inf", "zone 'big star': fill.frame.rows: is -inf; must be a finite", None),
    (PLAIN_AND_STAR, "rows = 3", "rows = 1" + "0" * 40, "zone 'big star': fill.frame.rows: is a number over", None),
    (PLAIN_AND_STAR, "rows = 3", "rows = 1" + "0" * 5000, "too many digits", None),
    (PLAIN_AND_STAR, "rows = 3", "rows = 2026-01-01", "fill.frame.rows: is the date or time 2026-01-01", None),
    (PLAIN_AND_STAR, '"Plain and Star"', "Plain", "is no valid TOML: invalid value (at line 2", "in quotes"),
    (PLAIN_AND_STAR, '"Plain and Star"', "[" * 5000, "nested too deeply", None),
    (PLAIN_AND_STAR, '"Plain and Star"', "[" * 30 + "1" + "]" * 30, "nested more than", None),
    (PLAIN_AND_STAR, '"plain-and-star.svg"', '"../x.svg"', "top.drawing: is '../x.svg'; must stay within", "beside"),
    (PLAIN_AND_STAR, '"plain-and-star.svg"', '"a/../../x.svg"', "top.drawing: ", "beside"),
    (PLAIN_AND_STAR, '"plain-and-star.svg"', '"/etc/x.svg"', "top.drawing: ", "beside"),
    (PLAIN_AND_STAR, '"plain-and-star.svg"', "'C:\\x.svg'", "top.drawing: ", "beside"),
    (PLAIN_AND_STAR, '"plain-and-star.svg"', "'..\\x.svg'", "top.drawing: ", "beside"),
    (
        PLAIN_AND_STAR,
        "[zone.fill.inside]",
        "[zone.fill.insde]",
        "fill.insde: is not known here; known are frame",
        "'inside'",
    ),
    (PLAIN_AND_STAR, 'star".inside]', 'star".isnide]', 'options.rulers."big star".isnide: is not known', "'inside'"),
    (PLAIN_AND_STAR, '"big star".inside]', "bigstar.inside]", "options.rulers.bigstar: is not known", "'big star'"),
    (
        PLAIN_AND_STAR,
        '"big star".inside]',
        '"big star"]',
        "has no part; the zone is divided into frame",
        "Write the fill",
    ),
    (PLAIN_AND_STAR, 'kind = "rings"', 'kin = "rings"', "fill.frame.kind: is missing", "Say which fill"),
    (PLAIN_AND_STAR, 'name    = "plain squares"', 'name = "big star"', "is the name of two zones", "another name"),
    (PLAIN_AND_STAR, 'thread     = "main"', 'thread = "red"', "thread: is 'red'; must be one of main", "[thread.red]"),
    (PLAIN_AND_STAR, "#e9dfc8", "beige", "thread.main.colour: is 'beige'; must be a colour such as", None),
    (PLAIN_AND_STAR, "size = 14", "radius = 14", "shape: has radius; a shape 'on-point' takes size", None),
    (PLAIN_AND_STAR, '"cornerstone-2-2"', "5", "shape.at: is 5; must be a patch's name", None),
    (PLAIN_AND_STAR, ', at = "cornerstone-2-2"', "", "shape: has no at; must say where its middle is", None),
    (PLAIN_AND_STAR, 'units  = "in"', 'units = "inch"', "units: is 'inch'; must be one of in, mm, cm", "'in'"),
    (PLAIN_AND_STAR, "drawing    =", "drawning =", "top.drawning: is not known", "Did you mean 'drawing'?"),
    (PLAIN_AND_STAR, 'patches = ["plain-*", "!plain-2-2"]', "", "zone 'plain squares': says no patches", None),
    (PLAIN_AND_STAR, "chance = 7", 'chance = "x"', "chance: is 'x'; must be a whole number", None),
    (PLAIN_AND_STAR, '{ by = "on-point" }', '{ by = "frame" }', "has two parts named 'frame'; one of the div", None),
    (MEASURED, 'as = "ray"', 'as = "rest"', "divides with as = 'rest'; a part can't be named so", None),
    (MEASURED, "divide = [ ", 'divide = [ { by = "grid", rows = 2, cols = 2 }, ', "grid leaves no rest, so", None),
    (MEASURED, "count = 8", "count = 8.5", "divide.1.count: is 8.5; must be a whole number", None),
    (MEASURED, "count = 8", "count = 1", "divide.1.count: is 1; must be at least 2", None),
    (MEASURED, "[14, ", "[-14, ", "top.measured.sides.1: is -14 in; must be at least 0.0394 in", None),
    (MEASURED, "enter = [1, 1]", "enter = [1]", "zone 'block': enter.2: is missing", None),
    (BLOCKS, "size    = 12", "", "top.blocks.size: is missing", None),
    (BLOCKS, '"mitred"', '"round"', "top.blocks.borders.2.corners: is 'round'; must be one of mitred, butted", None),
    (BLOCKS, "star = { lines", "stat = { lines", "pieces cut 'stat', which is no block here", None),
    (BLOCKS, "[[[0,0],[6,6]]]", '[[[0,0],[6,"x"]]]', "top.blocks.pieces.star.lines.1.2.2: is 'x'; must be a", None),
    (BLOCKS, '["star", "star", "star"] ]', '["star"] ]', "rows have 3, 3, 1 blocks; all rows must be equally", None),
    (BLOCKS, 'between = "plain"', "", "top.blocks: between is missing", None),
    (METRIC, "fit = 90", "fit = 90, radius = 3", "zone 'all': divide.1: has radius and fit", None),
    (BLOCKS, '"mitred"', "3.5", "top.blocks.borders.2.corners: is 3.5", None),
    (BLOCKS, 'name = "outer"', 'name = "inner"', "borders are named inner, inner; each must have its own", None),
    (BLOCKS, 'setting = "on-point"', 'setting = "straight"', "between is only for blocks on point", None),
    (
        BLOCKS,
        "{ lines = [[[0,0],[6,6]]] }",
        "{ lines = [[[0,0],[6,6]]], grid = [2, 2] }",
        "must have one of lines, a grid (rows and columns)",
        None,
    ),
    (MEASURED, '[zone.fill."ray-*"]', '[zone.fill]\nrya-1 = 3\n[zone.fill."ray-*"]', "fill.rya-1: is not known", None),
    (
        PLAIN_AND_STAR,
        '"plain-and-star.svg"',
        '"plain-and-star.svg"\nwidth = 9\nheight = 9',
        "says width and height",
        None,
    ),
    (MEASURED, "[top.m", "[top]\nwidth = 9\n[top.m", "which are only for a drawing", None),
    (PLAIN_AND_STAR, "shape = {", 'each = "patch"\nshape = {', "has each and a shape; each is only for patches", None),
    (
        PLAIN_AND_STAR,
        'kind = "spiral"\nspacing',
        "inside = 3\nspacing",
        "zone 'plain squares': fill: has no kind; must say which fill",
        None,
    ),
    (
        METRIC,
        "radius = 2 }]",
        "radius = 0.01 }]",
        "leave_open.1.radius: is 0.01 cm; must be at least 0.1 cm (1 mm)",
        None,
    ),
]


@pytest.mark.parametrize(
    ("said", "reach"),
    [
        ("reach = [22, 14]", (558.8, 355.6)),
        ("throat = 18", (457.2, 457.2)),
        ("throat = 18\nframe = true", (math.inf, 457.2)),
        ("reach = [22, 14]\nframe = true", (math.inf, 355.6)),
    ],
)
def test_what_a_machine_gets_to(said, reach):
    assert parse_plan(PLAIN_AND_STAR.replace("reach = [22, 14]", said, 1)).machine.reach_mm == pytest.approx(reach)


@pytest.mark.parametrize(
    ("said", "rule"),
    [("frame = true", "must have throat too"), ("throat = 18\nreach = [22, 14]", "must have one of them")],
)
def test_a_reach_that_is_not_said_or_said_twice(said, rule):
    with pytest.raises(PlanError, match=rule):
        parse_plan(PLAIN_AND_STAR.replace("reach = [22, 14]", said, 1))


@pytest.mark.parametrize(("plan", "old", "new", "says", "way_out"), WRONG)
def test_what_cannot_be_used_is_refused_in_one_clear_line(plan, old, new, says, way_out):
    assert old in plan
    with pytest.raises(PlanError) as caught:
        parse_plan(plan.replace(old, new, 1), file="quilt.toml")
    message = str(caught.value)
    assert message.startswith("quilt.toml: ")
    assert says in message
    assert "\n" not in message
    assert "pydantic" not in message
    if way_out:
        assert way_out in caught.value.what_to_do


def test_files_that_cannot_be_read_say_why(tmp_path):
    with pytest.raises(PlanError, match="is not there"):
        read_plan(tmp_path / "none.toml")
    (tmp_path / "latin.toml").write_bytes(b"title = 'a'\n# caf\xe9\n")
    with pytest.raises(PlanError, match="line 2 is not UTF-8"):
        read_plan(tmp_path / "latin.toml")
    (tmp_path / "huge.toml").write_bytes(b"#" * 2_000_001)
    with pytest.raises(PlanError, match="at most 2,000,000"):
        read_plan(tmp_path / "huge.toml")
    with pytest.raises(PlanError, match="is a folder; must be a plain file"):
        read_plan(tmp_path)


def test_a_link_out_of_the_folder_is_refused(tmp_path):
    (tmp_path / "elsewhere.svg").write_text("<svg/>")
    (tmp_path / "plans").mkdir()
    (tmp_path / "plans" / "plain-and-star.svg").symlink_to(tmp_path / "elsewhere.svg")
    (tmp_path / "plans" / "p.toml").write_bytes(PLAIN_AND_STAR.encode("utf-8-sig"))
    with pytest.raises(PlanError, match="must stay within the plan's folder"):
        read_plan(tmp_path / "plans" / "p.toml")


def test_a_plan_knows_its_folder(tmp_path):
    (tmp_path / "p.toml").write_text(PLAIN_AND_STAR)
    plan = read_plan(tmp_path / "p.toml")
    assert plan.file == "p.toml"
    assert plan.drawing == tmp_path / "plain-and-star.svg"


def test_fill_settings_are_read_in_the_plans_unit_and_found_by_part():
    fills = check_fills(parse_plan(PLAIN_AND_STAR), FILLS)
    (frame,) = fills.stack("big star", "frame")
    assert (frame.fill.name, frame.settings.rows) == ("rings", 3)
    assert [layer.fill.name for layer in fills.stack("big star", "corner")] == ["motif", "echo", "meander"]
    assert fills.stack("big star", "corner")[2].settings.spacing_mm == 6.35
    assert fills.stack("plain squares", "")[0].settings.spacing_mm == 12.7
    assert fills.stack("big star", "nothing") == ()
    by_pattern = check_fills(parse_plan(MEASURED), FILLS)
    assert by_pattern.stack("block", "ray-1")[0].fill.name == "meander"
    assert by_pattern.stack("block", "ray-8")[0].fill.name == "spiral"


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ('kind = "rings"\nrows', 'kind = "ring"\nrows', "zone 'big star': fill.frame.kind: is 'ring'; must be one of rings"),
        ("rows = 3", "rowz = 3", "zone 'big star': fill.frame.rowz: is not known here; known are rows, spacing"),
        ("rows = 3", "rows = 99", "zone 'big star': fill.frame.rows: is 99; must be at most 50"),
        ("rows = 3", "spacing = 0.01", "fill.frame.spacing: is 0.01 in; must be at least 0.0197 in (0.5 mm)"),
        ("rows = 3", 'spacing = "0.2 mm"', "fill.frame.spacing: is 0.2 mm; must be at least 0.0197 in (0.5 mm)"),
        ("rows = 3", "spacing_mm = 3", "fill.frame.spacing_mm: is not known here"),
        ('spacing = "1/4"', 'spacing = "wide"', "fill.corner.3.spacing: is 'wide'; must be a length"),
        ("spacing = 1\n", "spacing = []\n", 'options.rulers."plain squares".spacing: is []; must be a length'),
    ],
)  # fmt: skip
def test_wrong_fill_settings_say_zone_part_key_value_and_rule(old, new, says):
    assert old in PLAIN_AND_STAR
    plan = parse_plan(PLAIN_AND_STAR.replace(old, new, 1), file="quilt.toml")
    with pytest.raises(PlanError) as caught:
        check_fills(plan, FILLS)
    assert says in str(caught.value)
    assert str(caught.value).startswith("quilt.toml: zone ")


def test_settings_of_the_command_line_get_the_same_messages():
    assert checked_layer(FILLS["rings"], {"spacing": "1/4"}, units="in").settings.spacing_mm == 6.35
    with pytest.raises(PlanError, match=r"^spaceing: is not known here.*Did you mean 'spacing'\?$"):
        checked_layer(FILLS["rings"], {"spaceing": 1}, units="in")


def test_an_option_replaces_what_it_names_and_nothing_else():
    plan = parse_plan(PLAIN_AND_STAR)
    rulers = plan.with_option("rulers")
    assert rulers.option == "rulers"
    assert rulers.fills["big star"]["inside"] == ({"kind": "crosshatch"},)
    assert rulers.fills["big star"]["frame"] == plan.fills["big star"]["frame"]
    assert rulers.fills["plain squares"][""][0]["kind"] == "channel"
    assert rulers.fills["point frame"] == plan.fills["point frame"]
    assert plan.fills["big star"]["inside"][0]["kind"] == "feather"
    with pytest.raises(InputError, match=r"no option 'ruler'; its options are rulers\. Did you mean 'rulers'\?"):
        plan.with_option("ruler")


def test_an_option_for_all_wedges_replaces_each_of_them():
    text = MEASURED + '\n[options.plain.block."ray-*"]\nkind = "rings"\n'
    fills = parse_plan(text).with_option("plain").fills["block"]
    assert fills == {"ray-*": ({"kind": "rings"},)}


@pytest.mark.parametrize("name", EXAMPLES)
def test_an_edit_changes_one_value_and_keeps_every_comment(name):
    text = EXAMPLES[name]
    assert edit_plan(text, {}) == text
    edited = edit_plan(text, {("title",): "Other", ("chance",): 8})
    assert parse_plan(edited).title == "Other"
    assert parse_plan(edited).chance == 8
    assert re.findall("#.*", edited) == re.findall("#.*", text)
    before, after = tomllib.loads(text), tomllib.loads(edited)
    assert {**before, "title": "Other", "chance": 8} == after


def test_a_table_that_is_added_stands_apart_from_what_follows():
    text = 'title = "x"\n\n[[zone]]\nname = "a"\n# hers\n\n[[zone]]\nname = "b"\n'
    kind, spacing = ("zone", "a", "fill", "kind"), ("zone", "a", "fill", "spacing")
    once = edit_plan(text, {kind: "curl"})
    assert once == text.replace("# hers\n\n", '# hers\n\n[zone.fill]\nkind = "curl"\n\n')
    twice = edit_plan(once, {spacing: 1, ("zone", "b", "fill", "kind"): "echo"})
    assert twice == once.replace('"curl"\n', '"curl"\nspacing = 1\n') + '\n[zone.fill]\nkind = "echo"\n'


def test_edits_reach_into_zones_and_add_and_remove_tables():
    edited = edit_plan(
        PLAIN_AND_STAR,
        {
            ("zone", "big star", "fill", "frame", "rows"): 5,
            ("zone", "plain squares", "fill", "kind"): "meander",
            ("zone", "point frame", "inset"): "1/4",
            ("options", "soft", "plain squares", "kind"): "spiral",
            ("machine", "trimmer"): None,
            ("machine", "none", "x"): None,
        },
    )
    plan = parse_plan(edited)
    assert plan.fills["big star"]["frame"] == ({"kind": "rings", "rows": 5},)
    assert plan.fills["plain squares"][""][0]["kind"] == "meander"
    assert plan.zones[2].inset_mm == 6.35
    assert plan.with_option("soft").fills["plain squares"][""] == ({"kind": "spiral"},)
    assert "trimmer" not in edited
    assert set(re.findall("#.*", PLAIN_AND_STAR)) == set(re.findall("#.*", edited))


def test_edits_that_cannot_be_made_say_why():
    with pytest.raises(PlanError, match=r"no zone 'big stra'; its zones are big star.*Did you mean 'big star'"):
        edit_plan(PLAIN_AND_STAR, {("zone", "big stra", "inset"): 1})
    with pytest.raises(PlanError, match=r"zone.big star.fill.corner.kind: is no single table"):
        edit_plan(PLAIN_AND_STAR, {("zone", "big star", "fill", "corner", "kind"): "echo"})
    with pytest.raises(PlanError, match="no valid TOML"):
        edit_plan("title = ", {})


def test_a_new_plan_can_be_read_and_names_every_patch():
    families = {"plain": [f"plain-{k}" for k in range(40)], 'odd "one"': ["a\\b", "café"]}
    zones = [StarterZone(name, tuple(patches), "patch") for name, patches in families.items()]
    text = starter_plan("New 'one'", ['drawing = "top.svg"'], zones, "cm")
    plan = parse_plan(text)
    assert (plan.title, plan.units) == ("New 'one'", "cm")
    assert {zone.name: list(zone.patches) for zone in plan.zones} == families
    assert plan.fills == {"plain": {}, 'odd "one"': {}}
    assert max(map(len, text.splitlines())) <= 120


@given(st.text(max_size=200))
def test_any_text_is_read_or_refused_with_an_error_of_ours(text):
    try:
        parse_plan(text)
    except PlanError as error:
        assert str(error)


VALUES = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.sampled_from(["by", "kind", "at", "x"]), inner),
    max_leaves=6,
)


def _toml(value):
    if isinstance(value, dict):
        return "{" + ", ".join(f"{k} = {_toml(v)}" for k, v in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(_toml, value)) + "]"
    if isinstance(value, bool) or value is None:
        return "true" if value else "false"
    if isinstance(value, str):
        return '"' + "".join(c if c.isalnum() else "_" for c in value) + '"'
    return repr(value)


@given(key=st.sampled_from(["name", "patches", "shape", "each", "inset", "fences", "leave_open", "divide", "enter",
                            "vary", "fill", "travel", "thread"]), value=VALUES)  # fmt: skip
def test_any_value_of_a_zone_key_is_read_or_refused_with_an_error_of_ours(key, value):
    lines = {"name": '"z"', "patches": '["a"]', key: _toml(value)}
    zone = "\n".join(f"{k} = {v}" for k, v in lines.items())
    try:
        parse_plan(f'[top]\ndrawing = "a.svg"\n[[zone]]\n{zone}\n')
    except PlanError as error:
        assert "\n" not in str(error)


def test_a_star_in_a_name_stands_for_any_letters_anywhere():
    names = ["plain-1-1", "plain-1-2", "point-1", "a.b"]
    assert matching("*-1", names) == ["plain-1-1", "point-1"]
    assert matching("p*-1-*", names) == ["plain-1-1", "plain-1-2"]
    assert matching("a.b", names) == ["a.b"]
    assert matching("a?b", names) == []
