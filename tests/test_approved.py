"""A net over the whole: what came out when somebody last looked, in figures, held against what comes out now.

It says that something changed, and what; not whether it is right. The tables of what is tried are in
`approved_fills.py`, `approved_scenes.py` and `approved_page.py`, the measures in `figures.py`.
"""

from __future__ import annotations

import numpy as np
import pytest

import figures
from approved_cases import approved, cases

FIGURES = {group: approved(group) for group in cases()}
MOST_TOLD = 12


def hold(group, name):
    changed = figures.differences(FIGURES[group][name], cases()[group][name](0))
    told = "\n".join(f"  {key}: was {was!r}, is {now!r}" for key, was, now in changed[:MOST_TOLD])
    assert not changed, (
        f"{len(changed)} figures of {name!r} ({group}) changed:\n{told}\n"
        f"If you meant this change, look at the pictures, then run: python tests/approve.py {group}"
    )


@pytest.mark.parametrize("name", cases()["fills"])
def test_fills_draw_what_they_drew(name):
    hold("fills", name)


@pytest.mark.parametrize("name", cases()["scenes"])
def test_commands_say_and_write_what_they_did(name):
    hold("scenes", name)


@pytest.mark.parametrize("name", cases()["drawings"])
def test_drawings_are_read_as_they_were(name):
    hold("drawings", name)


def test_the_page_answers_what_it_did():
    hold("page", "asked and changed")


@pytest.mark.parametrize("group", sorted(FIGURES))
def test_every_case_is_approved_and_no_other(group):
    assert list(FIGURES[group]) == list(cases()[group])


@pytest.mark.parametrize("group", sorted(FIGURES))
def test_few_figures_are_shaky(group):
    told = [value for case in FIGURES[group].values() for _, value in figures.leaves(case)]
    assert sum(value == figures.SHAKY for value in told) < 0.1 * len(told)


LINE = np.column_stack([np.linspace(0, 100, 30), 10 * np.sin(np.linspace(0, 9, 30))])


@pytest.mark.parametrize("place", [0, 7, 29])
@pytest.mark.parametrize("way", [0, 1])
def test_figures_tell_a_point_that_moves_by_a_tenth_of_a_millimetre(place, way):
    moved = LINE.copy()
    moved[place, way] += 0.1
    many = [LINE, LINE + 1, LINE + 2, LINE + 3, LINE + 4]
    assert figures.differences(figures.of(LINE), figures.of(moved))
    assert figures.differences(figures.of([*many, LINE]), figures.of([*many, moved]))


def test_figures_tell_nothing_of_a_last_digit():
    assert not figures.differences(figures.of(LINE), figures.of(LINE * (1 + 1e-12)))


def test_what_is_shaky_is_let_pass_and_nothing_else():
    kept = figures.steady({"a": 1.0, "b": [2, "x"]}, [{"a": 1.1, "b": [2, "x"]}])
    assert kept == {"a": "?", "b": [2, "x"]}
    assert figures.differences(kept, {"a": 9.0, "b": [2, "x"]}) == []
    assert figures.differences(kept, {"a": 9.0, "b": [3, "x"], "c": 1}) == [("b.0", 2, 3), ("c", "nothing", 1)]
