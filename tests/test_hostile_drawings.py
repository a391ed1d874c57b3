"""Drawings made to do harm: each works or is refused in one line with exit 2, never a traceback or a hang.

The heavy ones run in ``benchmarks/hostile_drawings.py``; what is here takes a moment each.
"""

from __future__ import annotations

import gzip
import json
import os

import pytest
from shapely import box

import plumeline.drawing.style as style
import plumeline.geometry.areas.filling as filling
from hostile_drawings import CHEAP, NAMED_FILES
from plumeline.cli import main
from plumeline.errors import DrawingError
from plumeline.geometry import twins


def outcome(file, capsys):
    """Return how ``inspect`` and ``new`` left, and what they said."""
    said = []
    for command in (["inspect", str(file)], ["new", str(file.parent / "p.toml"), "--drawing", str(file), "--force"]):
        with pytest.raises(SystemExit) as leave:
            main(command)
        out = capsys.readouterr()
        said.append((leave.value.code or 0, out.err))
    return said


@pytest.mark.parametrize("name", sorted(CHEAP))
def test_a_hostile_drawing_works_or_is_one_line(tmp_path, capsys, name):
    file = tmp_path / NAMED_FILES.get(name, "d.svg")
    file.write_bytes(CHEAP[name]())
    for code, err in outcome(file, capsys):
        assert code in (0, 2), (name, err)
        assert "Traceback" not in err
        if code == 2:
            assert err.count("\n") == 1, (name, err)
            assert len(err) < 700, (name, err)


def test_what_is_no_plain_file_is_refused(tmp_path, capsys):
    os.mkfifo(tmp_path / "pipe.svg")
    (tmp_path / "folder.svg").mkdir()
    (tmp_path / "loop.svg").symlink_to("loop.svg")
    (tmp_path / "zero.svg").symlink_to("/dev/zero")
    for name in ("pipe.svg", "folder.svg", "loop.svg", "zero.svg", "missing.svg"):
        for code, err in outcome(tmp_path / name, capsys):
            assert (code, err.count("\n")) == (2, 1), (name, err)


def test_a_small_packed_file_that_unfolds_hugely_is_refused(tmp_path, capsys):
    file = tmp_path / "bomb.svgz"
    file.write_bytes(gzip.compress(b"<svg>" + b" " * 60_000_000, compresslevel=9))
    assert file.stat().st_size < 100_000
    for code, err in outcome(file, capsys):
        assert (code, err.count("\n")) == (2, 1)
        assert "larger than 50 MB" in err


def dropped(count, upper):
    """Return how many comparisons it takes to leave one of equal regions, and which stays."""
    regions, gone, pairs = [box(0, 0, 5, 3)] * count, set(), 0
    for low, high in twins(regions, gone, within_mm=0.05):
        gone.add(low if upper else high)
        pairs += 1
    return pairs, set(range(count)) - gone


def test_shapes_in_one_place_are_compared_as_often_as_they_are_many():
    assert dropped(500, upper=True) == (499, {499})
    assert dropped(500, upper=False) == (499, {0})


def test_many_unlike_shapes_of_one_size_in_one_place_are_refused(monkeypatch):
    monkeypatch.setattr(filling, "MOST_TRIED", 10)
    one = [box(0, 0, 9, 9).difference(box(k, 0, k + 1, 9 - 1e-3)) for k in range(1, 8)]  # one area, one box, all unlike
    with pytest.raises(ValueError, match="holds 7 shapes, too many of them of one size in one place"):
        list(twins(one, set(), within_mm=0.05))


def test_too_many_rules_for_too_many_elements_are_refused(monkeypatch):
    monkeypatch.setattr(style, "MOST_TRIED", 50)
    rules = style.parse_rules("g rect {fill: red} * {fill: blue}", "d.svg")
    chain = [style.seen_of("g", {}), style.seen_of("rect", {})]
    for _ in range(12):  # 3 for the rule in a rule, 1 for the other
        assert [s["fill"] for s in rules.says(chain)] == ["blue", "red"]
    with pytest.raises(DrawingError, match=r"d\.svg: style: has too many rules"):
        list(rules.says(chain))


def test_the_words_for_no_paint_and_a_variable_are_read_as_before():
    read = style.styled(style.Style(), {"fill": "var(--a, #123456)"}, (), style.Rules())
    assert read.fill == "#123456"
    assert style.styled(read, {"fill": "var(--a)"}, (), style.Rules()).fill == "#123456"  # none said: as around it
    for clear in ("rgba(1,2,3,0)", "rgba(1 2 3 / 0.00)", "rgba(1,2,3,.0%)", "#12345600"):
        assert not style.styled(read, {"fill": clear}, (), style.Rules()).filled, clear
    for paint in ("rgba(1,2,3,0.1)", "rgba(1,2,3,10)", "#123456ff"):
        assert style.styled(read, {"fill": paint}, (), style.Rules()).filled, paint


BESIDE = {
    "a patch": '<rect id="stray" x="{far}" y="2" width="1" height="1" fill="#f00"/>',
    "a line": '<path id="stray" fill="none" stroke="red" d="M{far} 2L{far} 3"/>',
}


@pytest.mark.parametrize("kind", BESIDE)
@pytest.mark.parametrize("on_page", [True, False])
def test_a_stray_object_a_thousand_inches_off_works_or_is_one_line(tmp_path, capsys, kind, on_page):
    far = BESIDE[kind].format(far=1000)
    wide = 1002 if on_page else 12
    size = f'width="{wide}in" height="12in" viewBox="0 0 {wide} 12"'
    (tmp_path / "d.svg").write_text(
        f'<svg xmlns="http://www.w3.org/2000/svg" {size}>'
        f'<rect id="block" width="12" height="12" fill="#eee"/>{far}</svg>'
    )
    (tmp_path / "p.toml").write_text(
        'units = "in"\n[top]\ndrawing = "d.svg"\nguides = ["stray*"]\n[[zone]]\nname = "z"\npatches = ["block"]\n'
        '[zone.fill]\nkind = "channel"\nspacing = 2\n'
        if kind == "a line"
        else 'units = "in"\n[top]\ndrawing = "d.svg"\n[[zone]]\nname = "z"\npatches = ["*"]\n'
        '[zone.fill]\nkind = "channel"\nspacing = 2\n'
    )
    with pytest.raises(SystemExit) as leave:
        main(["stitch", str(tmp_path / "p.toml"), "--to", str(tmp_path / "out")])
    said = capsys.readouterr()
    if leave.value.code:
        assert on_page
        assert (leave.value.code, said.err.count("\n")) == (2, 1)
        assert "must be at most 20 m either way" in said.err
        assert not (tmp_path / "out").exists()
    else:
        report = json.loads((tmp_path / "out" / "report.json").read_text(encoding="utf-8"))
        assert [z["area_mm2"] for z in report["zones"]] == [pytest.approx((11.75 * 25.4) ** 2)]
