"""Blocks and borders by their names; what is said of patches that are left out."""

import pytest

from plumeline.errors import PlumelineError
from plumeline.plan import parse_plan
from plumeline.quilt import read_top
from plumeline.zones import make_zones

IN = 25.4
TOP = """
[top.blocks]
size = 6
rows = [["four", "plain", "four"], ["plain", "four", "plain"]]
borders = [{ name = "outer", width = 2 }]
[top.blocks.pieces]
four = { grid = 2 }
"""
SHAPE = 'shape = { kind = "circle", size = 2, at = AT }'


def made(*zones):
    plan = parse_plan(TOP + "".join(f"[[zone]]\n{zone}\n" for zone in zones))
    return make_zones(read_top(plan), plan.zones, chance=plan.chance)


@pytest.mark.parametrize(
    ("patches", "square_inches"),
    [
        ('"four-1-1"', 36),  # one block
        ('"four"', 3 * 36),  # every block of its kind
        ('"four", "!four-2-2"', 2 * 36),
        ('"outer"', 22 * 16 - 18 * 12),
    ],
)
def test_the_name_of_a_block_stands_for_its_pieces(patches, square_inches):
    zones, _ = made(f'name = "z"\npatches = [{patches}]\neach = "joined"\ninset = 0')
    assert sum(z.outline.area for z in zones) / IN**2 == pytest.approx(square_inches, abs=1e-6)


@pytest.mark.parametrize(
    ("at", "middles"),
    [
        ('"four-2-2"', [(11, 11)]),
        ('"plain"', [(5, 11), (11, 5), (17, 11)]),
        ('"four-1-1-*"', [(3.5, 3.5), (3.5, 6.5), (6.5, 3.5), (6.5, 6.5)]),
        ('["four-1-1", "four-2-2"]', [(8, 8)]),  # where the two blocks meet
    ],
)
def test_a_shape_is_laid_on_the_middle_of_a_block(at, middles):
    zones, _ = made('name = "z"\n' + SHAPE.replace("AT", at))
    found = sorted((z.outline.centroid.x / IN, z.outline.centroid.y / IN) for z in zones)
    assert found == [pytest.approx(middle, abs=1e-3) for middle in middles]


def test_a_name_that_begins_none_is_refused():
    with pytest.raises(PlumelineError, match="'fou' is the name of no patch"):
        made('name = "z"\npatches = ["fou"]')


def test_patches_in_no_zone_are_told_by_their_kinds_and_those_in_the_ditch_are_none():
    ditch = 'name = "ditch"\npatches = ["four"]\n{}[zone.fill]\nkind = "ditch"'
    _, alone = made(ditch.format('each = "patch"\n'))
    assert [f.text for f in alone] == [
        "7 patches are in no zone and stay open: "
        "plain-1-2, plain-2-1, plain-2-3, outer-top, outer-right, outer-bottom, outer-left"
    ]
    _, none = made('name = "z"\npatches = ["outer"]')
    assert [f.text for f in none] == ["15 patches are in no zone and stay open: 12 four, 3 plain"]
    _, joined = made(ditch.format(""))
    assert [f.code for f in joined] == ["left-open", "ditch-outer-only"]
    assert "its 12 patches" in joined[1].text


def test_a_word_in_place_of_a_number_is_told_what_the_setting_is(tmp_path, run):
    (tmp_path / "p.toml").write_text(
        TOP + '[[zone]]\nname = "z"\npatches = ["outer"]\n[zone.fill]\nkind = "channel"\nangle = "across"\n',
        encoding="utf-8",
    )
    code, _, err = run("check", tmp_path / "p.toml")
    assert code == 2
    assert "is 'across'; must be a number. It is: direction of the lines, 0 to the right, 90 upwards" in err


@pytest.mark.parametrize(
    "asked",
    [
        ["--blocks", "3x2", "--block", "9", "--pieced", "ohio star", "--plain", "alternate", "--sashing", "2"],
        ["--blocks", "2x2", "--block", "9", "--pieced", "nine patch", "--on-point"],
        ["--blocks", "2x2", "--block", "9"],
    ],
)
def test_new_proposes_a_table_of_fabrics_that_reaches_every_patch(tmp_path, run, asked):
    assert run("new", tmp_path / "top.toml", *asked, "--border", "1,4")[0] == 0
    text = (tmp_path / "top.toml").read_text(encoding="utf-8")
    table = text[text.index("# [fabrics]") :].split("\n\n")[0]
    colours = [row.split("=")[1].strip() for row in table.splitlines()[1:]]
    named = text.replace(table, "\n".join(row[2:] for row in table.splitlines()))
    for colour in set(colours):
        named = named.replace(f"= {colour}", '= "#010203"')
    assert {p.colour for p in read_top(parse_plan(named)).patches} == {"#010203"}
