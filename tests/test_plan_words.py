"""Names of pieces, families, small spaces, several lines, corners apart, other spellings."""

import pytest

from plumeline.errors import PlanError, TopError
from plumeline.pipeline.layers import check_fills
from plumeline.pipeline.top import read_top
from plumeline.plan import parse_plan, read_plan
from plumeline.quilt import stitch
from plumeline.zones import make_zones

IN = 25.4
NINE = """
[top.blocks]
size = 9
rows = [["nine", "plain"], ["plain", "nine"]]
[top.blocks.pieces]
nine = { grid = 3, names = { 1 = "point", 3 = "point", 7 = "point", 9 = "point", 5 = "center" } }
"""
SQUARE = '[top.measured]\nsides = [12, 12, 12, 12]\ndiagonals = ["16 31/32", "16 31/32"]\n'


def zones_of(text):
    plan = parse_plan(text)
    return make_zones(read_top(plan), plan.zones)


def test_pieces_have_names_and_families_reach_them():
    names = [p.name for p in read_top(parse_plan(NINE)).patches if p.name.startswith("nine-1-1")]
    assert [n.removeprefix("nine-1-1-") for n in names] == [
        "point-1", "2", "point-2", "4", "center", "6", "point-3", "8", "point-4",
    ]  # fmt: skip
    zones, _ = zones_of(NINE + '[[zone]]\nname = "tips"\npatches = ["*-point"]\neach = "patch"\n')
    assert len(zones) == 8 and all(z.outline.area == pytest.approx((3 * IN) ** 2, rel=1e-4) for z in zones)
    with pytest.raises(TopError, match="names piece 12; the block has 9 pieces"):
        read_top(parse_plan(NINE.replace("5 =", "12 =")))
    with pytest.raises(PlanError, match="number of a piece"):
        parse_plan(NINE.replace("5 =", "middle ="))


def test_small_spaces_stay_open():
    zone = '[[zone]]\nname = "all"\npatches = ["*"]\neach = "patch"\nleast = 4\n'
    zones, findings = zones_of(NINE + zone)
    assert len(zones) == 2
    (said,) = [f for f in findings if f.code == "small-spaces-open"]
    assert said.text == "18 spaces stay open, narrower than least; 2 are kept"
    with pytest.raises(PlanError, match="has least without each"):
        parse_plan(NINE + zone.replace('each = "patch"\n', ""))


def test_parallel_lines_divide_into_strips_and_crossing_ones_into_four():
    head = SQUARE + '[[zone]]\nname = "z"\npatches = ["*"]\ninset = 0\ndivide = [{ by = "line", lines = '
    zones, _ = zones_of(head + "[[[0, 9], [12, 9]], [[0, 6], [12, 6]]] }]\n")
    areas = {z.part: z.outline.area / IN**2 for z in zones}
    assert areas == pytest.approx({"side-1": 72, "side-2": 36, "side-3": 36}, rel=1e-3)
    zones, _ = zones_of(head + "[[[0, 6], [12, 6]], [[6, 0], [6, 12]]] }]\n")
    assert sorted(z.part for z in zones) == ["side-1", "side-2", "side-3", "side-4"]
    assert all(z.outline.area == pytest.approx((6 * IN) ** 2, rel=1e-3) for z in zones)
    with pytest.raises(PlanError, match="either line, or lines"):
        parse_plan(head + '[[[0, 6], [12, 6]]], line = "a" }]\n')


def test_corners_of_a_square_on_point_may_have_fills_of_their_own():
    text = SQUARE + (
        '[[zone]]\nname = "z"\npatches = ["*"]\ndivide = [{ by = "on-point", apart = true }]\n'
        '[zone.fill."corner-*"]\nkind = "meander"\n[zone.fill.corner-2]\nkind = "spiral"\n'
    )
    plan = parse_plan(text)
    zones, findings = make_zones(read_top(plan), plan.zones)
    assert [z.part for z in zones] == ["corner-1", "corner-2", "corner-3", "corner-4", "inside"] and not findings
    right = [z.outline.centroid.x > 6 * IN for z in zones[:4]]
    low = [z.outline.centroid.y > 6 * IN for z in zones[:4]]
    assert (right, low) == ([False, True, True, False], [False, False, True, True])  # clockwise from the top left
    checked = check_fills(plan)
    assert [checked.stack("z", z.part)[0].fill.name for z in zones[:4]] == ["meander", "spiral", "meander", "meander"]


def test_other_spellings_of_keys_are_read():
    text = SQUARE + '[thread.gold]\ncolor = "#c9a227"\n[[zone]]\nname = "z"\npatches = ["*"]\n'
    plan = parse_plan(text + "leave_open = [{ center = [6, 6], radius = 2 }]\n")
    assert plan.threads["gold"].colour == "#c9a227"
    assert plan.zones[0].leave_open[0].centre == pytest.approx((6 * IN, 6 * IN))
    with pytest.raises(PlanError, match="color"):
        parse_plan(text.replace("color", 'colour = "#000000"\ncolor'))


@pytest.mark.parametrize(
    ("said", "meant"), [("stipple", "meander"), ("Swirl", "curl"), ("wreath", "feather"), ("e2e", "edge-to-edge")]
)
def test_trade_names_of_fills_lead_to_the_fill(said, meant):
    plan = parse_plan(f'{SQUARE}[[zone]]\nname = "z"\npatches = ["*"]\n[zone.fill]\nkind = "{said}"\n')
    with pytest.raises(PlanError, match=f"Did you mean '{meant}'"):
        check_fills(plan)


def test_the_word_of_before_for_what_is_left_inside_is_read_with_a_note(tmp_path):
    now = """units = "in"
[top.blocks]
size = 6
rows = [["p", "q"]]
[[zone]]
name = "framed"
patches = ["p-*"]
divide = [{ by = "frame", width = 1 }]
[zone.fill.inside]
kind = "channel"
[[zone]]
name = "plain"
patches = ["q-*"]
order = "last"
[zone.fill]
kind = "spiral"
[options.other.framed.inside]
kind = "meander"
"""
    old = now.replace("inside]", "rest]").replace("[zone.fill]\n", "[zone.fill.rest]\n")
    plans = []
    for name, text in (("now", now), ("old", old)):
        (tmp_path / f"{name}.toml").write_text(text)
        plans.append(read_plan(tmp_path / f"{name}.toml"))
    assert plans[0].fills == plans[1].fills and plans[0].options == plans[1].options
    assert (plans[0].in_old_words, plans[1].in_old_words) == ((), ("framed", "plain"))
    notes = [f for f in stitch(plans[1]).report.findings if f.code == "old-word"]
    assert len(notes) == 1 and "framed, plain" in notes[0].text
    assert not [f for f in stitch(plans[0]).report.findings if f.code == "old-word"]


@pytest.mark.parametrize("name", ["edge", "Border", "a border too"])
def test_a_zone_is_sewn_last_by_its_key_and_not_by_its_name(tmp_path, name):
    """The zone lies in the middle, so centre-out sews it first; only ``order = "last"`` puts it behind."""
    text = """units = "in"
[machine]
order = "centre-out"
[top.blocks]
size = 6
rows = [["q", "open", "p", "open", "q"]]
[[zone]]
name = "NAME"
patches = ["p-*"]
[zone.fill]
kind = "channel"
[[zone]]
name = "sides"
patches = ["q-*"]
each = "patch"
[zone.fill]
kind = "channel"
""".replace("NAME", name)
    order = []
    for key in ("", 'order = "last"\n'):
        (tmp_path / "p.toml").write_text(text.replace('patches = ["p-*"]\n', f'patches = ["p-*"]\n{key}'))
        quilt = stitch(read_plan(tmp_path / "p.toml"))
        strokes = [stroke for filled in quilt.filled for stroke in filled.strokes]
        order.append([strokes[s.stroke].zone for line in quilt.lines for s in line.spans if s.stroke is not None])
    assert order[0][0] == name and order[1][-1] == name
