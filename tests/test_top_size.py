"""A top too large to be a quilt is said, one that no quilt is refused, with the unit that was likely meant."""

from __future__ import annotations

import pytest

from plumeline.errors import TopError
from plumeline.model import as_path
from plumeline.output import Run, Stitched
from plumeline.pipeline.done import already_sewn
from plumeline.pipeline.top import read_top
from plumeline.plan import parse_plan
from plumeline.units import format_area, format_small_length, parse_length


def blocks(size, units="in"):
    return read_top(parse_plan(f'units = "{units}"\n[top.blocks]\nsize = {size}\nrows = [["a", "a", "a"]]\n'))


def drawing(tmp_path, span):
    page = '<svg xmlns="http://www.w3.org/2000/svg" width="20in" height="20in" viewBox="0 0 20 20">'
    (tmp_path / "t.svg").write_text(f'{page}<path id="a" d="M0 0H{span}V{span}H0Z" fill="#ccc"/></svg>')
    return read_top(parse_plan('[top]\ndrawing = "t.svg"\n', folder=tmp_path))


def test_a_table_in_millimetres_read_as_inches_is_refused():
    # 3 x 305 in = 915 in = 23.2 m; in mm it is 915 mm = 36 in
    with pytest.raises(TopError, match=r'at most 20 m either way.*units = "mm": the top is then 36 x 12 in'):
        blocks(305)


def test_a_large_table_is_said():
    (finding,) = blocks(100).findings  # 300 in; 300 mm = 11 3/4 in
    assert finding.code == "size-implausible"
    assert 'units = "mm"' in finding.what_to_do
    assert "11 3/4 x" in finding.what_to_do
    assert not blocks(40).findings
    assert not blocks(1000, "mm").findings


def test_a_drawing_in_millimetres_on_a_page_of_inches(tmp_path):
    (finding,) = [f for f in drawing(tmp_path, 300).findings if f.code == "size-implausible"]
    assert "if its inches are mm, it is 11 13/16 x 11 13/16 in" in finding.text
    with pytest.raises(TopError, match="at most 20 m either way"):
        drawing(tmp_path, 900)


def test_a_negative_mixed_number_is_less_than_its_whole():
    assert parse_length("-1 1/2", "in") == pytest.approx(-1.5 * 25.4)
    assert parse_length("+1 1/2", "in") == pytest.approx(1.5 * 25.4)


def test_a_jump_is_not_on_the_cloth():
    stitch, jump = (as_path([(0.0, 0.0), (9.0, 0.0)]), as_path([(9.0, 0.0), (0.0, 9.0)]))
    done = Stitched((), (Run(stitch, "stitch", 0, 0), Run(jump, "jump", 0, 0)))
    (only,) = already_sewn([done])
    assert only is stitch


@pytest.mark.parametrize(
    ("unit", "far", "hair", "wide"),
    [
        ("in", "1/32 in", "under 1/64 in", "1 1/2 in"),
        ("mm", "0.79 mm", "0.10 mm", "38.1 mm"),
        ("cm", "0.08 cm", "0.01 cm", "3.8 cm"),
    ],
)
def test_a_gap_is_never_said_to_be_nothing(unit, far, hair, wide):
    assert [format_small_length(v, unit) for v in (25.4 / 32, 0.1, 38.1)] == [far, hair, wide]


@pytest.mark.parametrize(
    ("unit", "said"),
    [
        ("in", ["120.0 sq in", "0.5 sq in", "0.0031 sq in", "under 0.001 sq in", "0 sq in"]),
        ("mm", ["774.2 sq cm", "3.2 sq cm", "2.0 sq mm", "0.065 sq mm", "0 sq mm"]),
        ("cm", ["774.2 sq cm", "3.2 sq cm", "0.02 sq cm", "under 0.001 sq cm", "0 sq cm"]),
    ],
)
def test_a_small_area_keeps_two_figures(unit, said):
    # 1 sq in is 645.16 sq mm
    assert [format_area(645.16 * sq_in, unit) for sq_in in (120, 0.5, 0.0031, 0.0001, 0)] == said
