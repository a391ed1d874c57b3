"""What a person writes who sees such a plan for the first time: one line says what, where, and the way out."""

from __future__ import annotations

import pytest

PLAN = """units = "in"
[top.blocks]
size = 12
rows = [["block", "block"]]
borders = [{ name = "inner", width = 1 }]
[[zone]]
name = "block"
patches = ["block-*"]
each = "patch"
[zone.fill]
kind = "feather"
spines = "corners"
[[zone]]
name = "inner border"
patches = ["inner-*"]
[zone.fill]
kind = "channel"
piano_keys = true
spacing = "1/2"
"""

NO_TOML = "p.toml: is no valid TOML: "

SLIPS = [  # what stands in the plan, what is written in its place, what is said of where, the way out
    ('spacing = "1/2"', "spacing = 1/2", "in 'spacing = 1/2'", 'Write a fraction in quotes, as "1/2".'),
    ("size = 12", "size = 12 1/2", "in 'size = 12 1/2'", 'Write a fraction in quotes, as "1/2".'),
    ("size = 12", "size = 12,5", "in 'size = 12,5'", "Write the number with a point, 12.5, or in quotes."),
    ("width = 1 }", "width = 1,5 }", "width = 1,5 }", "Write the number with a point, 1.5, or in quotes."),
    ("= true", "= yes", "in 'piano_keys = yes'", "Write true or false."),
    ('kind = "feather"', "kind = feather", "in 'kind = feather'", 'Write text in quotes, as "feather".'),
    ('kind = "feather"', "kind = “feather”", "in 'kind = “feather”'", 'Write straight quotes: ".'),
    (
        'kind = "feather"',
        'kind = "feather',
        "(at line 11, column ",
        "Look for a missing quote, bracket or comma there.",
    ),
    ("[[zone]]", "[zone]", "(at line 13, column ", "Begin each zone with [[zone]], in double brackets."),
]


@pytest.fixture
def told(run, tmp_path, monkeypatch):
    """Write the plan with a slip in it, and return the one line that is said of it."""
    monkeypatch.chdir(tmp_path)

    def of(right, wrong):
        assert right in PLAN
        (tmp_path / "p.toml").write_text(PLAN.replace(right, wrong, 1), encoding="utf-8")
        code, out, err = run("check", "p.toml")
        assert (code, out, err.count("\n")) == (2, "", 1)
        return err.strip()

    return of


def test_the_plan_without_a_slip_is_read(run, tmp_path):
    (tmp_path / "p.toml").write_text(PLAN, encoding="utf-8")
    assert run("check", tmp_path / "p.toml")[0] == 0


@pytest.mark.parametrize(("right", "wrong", "where", "way_out"), SLIPS)
def test_what_is_no_toml_is_shown_with_what_mends_it(told, right, wrong, where, way_out):
    said = told(right, wrong)
    assert said.startswith(NO_TOML) and where in said and said.endswith(f". {way_out}")


@pytest.mark.parametrize(
    ("right", "wrong", "says"),
    [
        (
            ", width = 1 }",
            " }",
            "p.toml: top.blocks.borders.1.width: is missing; must be a length such as 1.5 or '1 1/2'",
        ),
        (
            "[zone.fill]\n",
            "# [zone.fill]\n",
            "A kind stands below a line [zone.fill]: write that line, or take the # away before it.",
        ),
        (
            'spines = "corners"',
            'spines = "corner"',
            "p.toml: zone 'block': spines: 'corner' is no guide of the drawing or the plan; there is none. "
            "Did you mean 'corners'?",
        ),
        ('"block-*"', '"blok-*"', "patches: 'blok-*' is the name of no patch. Did you mean 'block-*'?"),
        (
            'kind = "feather"',
            'kind = "curl"',
            "fill.spines: is not known here; known are size, spacing, variation. "
            "It is a setting of feather: take it out for curl.",
        ),
    ],
)
def test_a_wrong_word_is_told_with_its_place_and_the_way_out(told, right, wrong, says):
    assert says in told(right, wrong)
