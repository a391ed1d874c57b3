"""What the page stands on in rare cases: sets of ideas that can't be kept to, marks beside hers, a sitting at rest."""

from __future__ import annotations

import threading
from types import SimpleNamespace

import numpy as np
import pytest

from plumeline import ideas, ideaset
from plumeline.alike import carry
from plumeline.errors import InputError, ZoneError
from plumeline.film import Mark, marks_on, with_marks
from plumeline.geometry import disc
from plumeline.ideas import CANDIDATES, Idea, Reason
from plumeline.ideaset import idea_set, ideas_by_place
from plumeline.model import Batting, Machine
from plumeline.plan import parse_plan
from plumeline.quilt import draw
from plumeline.sitting import Sitting
from shapes import zone

SQUARE_INCH = 25.4**2


# ---- a set of ideas


def idea(name, points, minutes, kind="outline", *, tight=2.0, area=100 * SQUARE_INCH):
    return Idea(
        name, ({"kind": kind},), (Reason("so", points),), 1, minutes, 25.4, tight, 0.0, 0.0, (), (), area_mm2=area
    )


def drawing(prices=None, widest=None):
    plan = SimpleNamespace(prices=prices, batting=Batting(widest_gap_mm=widest), file="plan.toml", units="in")
    return SimpleNamespace(plan=plan)


ONE = {("block", ""): (1, [idea("outline", 3, 60.0), idea("chords", 1, 20.0, "chords")])}


def test_the_plainer_idea_is_taken_when_the_hours_want_it():
    within = idea_set(drawing(), minutes=70.0, found=ONE)
    assert (within.kept, within.given_up, within.minutes) == (True, (), 60.0)
    shorter = idea_set(drawing(), minutes=30.0, found=ONE)
    assert (shorter.kept, shorter.minutes) == (True, 20.0)
    assert shorter.given_up == ("block: chords instead of outline, 40 min less",)


def test_a_set_that_can_not_be_kept_to_says_so_and_is_the_plainest():
    made = idea_set(drawing(), minutes=5.0, found=ONE)
    assert (made.kept, made.minutes) == (False, 20.0)


def test_where_no_four_kinds_do_for_all_each_space_has_its_own_best():
    names = [name for name, _ in CANDIDATES][:5]
    found = {(f"zone {k}", ""): (1, [idea(name, 1, 10.0)]) for k, name in enumerate(names)}
    made = idea_set(drawing(), minutes=1000.0, found=found)
    assert [choice.idea.name for choice in made.choices] == names


def test_a_fill_without_a_rate_costs_nothing_of_its_own():
    """100 sq in at 0.05 are 5.00; the other fill has no rate, so the minimum is asked."""
    prices = SimpleNamespace(fills={"chords": SimpleNamespace(per_square_inch=0.05, per_hour=None)}, minimum=3.0)
    assert idea_set(drawing(prices), price=10.0, found={("a", ""): (1, [idea("x", 1, 9.0)])}).price == 3.0
    chords = {("a", ""): (1, [idea(CANDIDATES[0][0], 1, 9.0, "chords")])}
    assert idea_set(drawing(prices), price=10.0, found=chords).price == pytest.approx(5.0)


def test_what_is_made_more_open_leaves_no_wider_gap_than_the_batting_allows(monkeypatch):
    found = {("a", ""): (1, [idea("spiral", 1, 90.0, "spiral", tight=4.0)])}
    for gap, kept in ((30.0, True), (200.0, False)):
        opened = Idea("spiral", ({"kind": "spiral"},), (), 1, 40.0, gap, 2.0, 0.0, 0.0, (), (), area_mm2=SQUARE_INCH)
        monkeypatch.setattr(ideaset, "idea_of", lambda *_, made=opened, **__: made)
        assert idea_set(drawing(widest=100.0), minutes=60.0, found=found).kept == kept


def spaces(name, *, done):
    return SimpleNamespace(
        zones=[SimpleNamespace(name=name, part="")],
        bare=[],
        plan=SimpleNamespace(zones=[SimpleNamespace(name=name, done=done)], file="plan.toml"),
    )


def test_a_quilt_that_is_all_done_or_a_space_without_ideas_has_no_set(monkeypatch):
    with pytest.raises(InputError, match="no zone that ideas could go into"):
        ideas_by_place(spaces("block", done=True))
    monkeypatch.setattr(ideaset, "each_idea", lambda *_, **__: iter(()))
    with pytest.raises(InputError, match="no fill that suits it"):
        ideas_by_place(spaces("block", done=False))


@pytest.mark.parametrize(("kind", "words"), [("channel", "straight lines show"), ("meander", "forgives the seam")])
def test_a_crooked_seam_speaks_against_straight_lines_and_many_lines_against_any(kind, words):
    facts = ideas.Facts(
        area_mm2=SQUARE_INCH, largest_mm=200.0, slimness=1.0, corners=4, crooked_mm=3.2, straight_beside=None,
        tight_beside=None, alike=1,
    )  # fmt: skip
    said = {r.text: r.weight for r in ideas._reasons(Machine(), None, facts, [{"kind": kind}], 7, 10.0, 2.0, "in")}
    seam = next(text for text in said if text.startswith(words))
    assert "1/8 in" in seam and said[seam] == (-2 if kind == "channel" else 1)
    assert said["7 starts and stops"] == -1


# ---- marks on the film

PLAN = """\
[top.blocks]
size = 8
rows = [["a"]]
[[guide]]
name = "hers"
points = [[1, 1], [7, 1]]
[[zone]]
name = "space"
patches = ["a-*"]
[zone.fill]
kind = "feather"
spines = "corners"
"""


def test_marks_come_and_go_beside_a_guide_of_hers():
    before = draw(parse_plan(PLAN))
    (space,) = before.zones
    spine = Mark("spine", np.array([(20.0, 190.0), (100.0, 90.0), (180.0, 20.0)]))
    text = with_marks(PLAN, before, space, [spine])
    after = draw(parse_plan(text))
    (seen,) = marks_on(after, after.zones[0])
    assert seen.points == pytest.approx(spine.points, abs=0.02)
    plan = parse_plan(text)
    assert {guide.name for guide in plan.guides} == {"hers", "space-spine-1-at-1"}
    assert plan.fills["space"][""][0]["spines"] == "space-spine-*"

    gone = parse_plan(with_marks(text, after, after.zones[0], []))
    assert {guide.name for guide in gone.guides} == {"hers"}
    assert "spines" not in gone.fills["space"][""][0]
    kept = parse_plan(with_marks(PLAN, before, space, []))  # spines that nobody drew stay as they are
    assert kept.fills["space"][""][0]["spines"] == "corners"
    alone = PLAN.replace(PLAN[PLAN.index("[[guide]]") : PLAN.index("[[zone]]")], "")
    there = draw(parse_plan(alone))
    drawn = with_marks(alone, there, there.zones[0], [spine])
    again = draw(parse_plan(drawn))
    assert "guide" not in with_marks(drawn, again, again.zones[0], [])


def test_a_mark_ends_at_the_edge_of_its_space():
    before = draw(parse_plan(PLAN))
    across = Mark("fence", np.array([(-80.0, 100.0), (100.0, 100.0), (300.0, 100.0)]))
    plan = parse_plan(with_marks(PLAN, before, before.zones[0], [across]))
    points = np.array(next(guide.points for guide in plan.guides if guide.name == "space-fence-1-at-1"))
    assert points[:, 0].min() == pytest.approx(-0.5, abs=0.1) and points[:, 0].max() == pytest.approx(203.7, abs=0.1)
    assert points[:, 1] == pytest.approx(100, abs=0.1)


def test_marks_of_a_round_space_are_carried_as_it_lies():
    here, there = zone(disc((0.0, 0.0), 80.0)), zone(disc((300.0, 40.0), 80.0))
    points = np.array([(0.0, 0.0), (50.0, 20.0), (-30.0, 60.0)])
    assert carry(here, there)(points) == pytest.approx(points + np.array([300, 40]), abs=0.5)


def test_a_space_that_is_not_there_has_no_ideas():
    with pytest.raises(ZoneError, match="has no space 2; it has 1"):
        next(ideas.each_idea(draw(parse_plan(PLAN)), "space", number=2))


# ---- a sitting


@pytest.fixture
def plain(tmp_path):
    path = tmp_path / "plan.toml"
    path.write_text(PLAN.replace('"feather"\nspines = "corners"', '"channel"\nspacing = 2'), encoding="utf-8")
    return path


def test_a_sitting_at_rest_does_nothing_twice(plain):
    with Sitting(plain) as sitting:
        with pytest.raises(TimeoutError, match="not ready after 0 s"):
            sitting.wait(seconds=0)
        quilt = sitting.wait(seconds=60)
        assert sitting.quilt_of(None) is quilt
        number = sitting.seen.number
        assert sitting.change(sitting.seen.text).number == number and not sitting.can_undo
        assert not plain.with_name("plan.toml.bak").exists()
        before = set(threading.enumerate())  # those of sittings that were closed may not have ended yet
        sitting.watch()
        sitting.watch()
        assert [thread.name for thread in set(threading.enumerate()) - before] == ["plumeline-look"]


def test_a_plan_that_is_wrong_from_the_start_has_no_quilt_to_keep_until_it_is_changed(plain):
    good = plain.read_text()
    plain.write_text(good.replace("spacing = 2", "spaceing = 2"))
    with Sitting(plain) as sitting:
        with pytest.raises(InputError, match="spaceing"):
            sitting.keep_as("mine")
        sitting.change(good)
        assert sitting.wait(seconds=60).zones and plain.read_text() == good
