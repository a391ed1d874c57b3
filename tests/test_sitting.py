"""A sitting: what is filled again, what is written, what can be taken back, and a file that changes elsewhere.

The oracle of every result is a fresh `plumeline.stitch` of the file as it lies on the disk.
"""

from __future__ import annotations

import multiprocessing
import threading
import tomllib
from collections.abc import Iterator
from itertools import groupby
from multiprocessing.connection import Connection
from pathlib import Path

import numpy as np
import pytest
import shapely

import plumeline
from plumeline.errors import InputError
from plumeline.pipeline.aside import Aside, Stopped
from plumeline.quilt import Progress
from plumeline.sitting import PlanChangedError, Seen, Sitting

PLAN = """\
# hers
title = "Four squares"
units = "in"

[top.blocks]
setting = "straight"
size = 3
rows = [["block", "block"], ["block", "block"]]

[[zone]]
name    = "squares"   # all but one
patches = ["block-*", "!block-2-2"]
each    = "patch"
[zone.fill]
kind    = "channel"
spacing = "1/2"

[[zone]]
name    = "last"
patches = ["block-2-2"]
[zone.fill]
kind    = "spiral"
spacing = "1/2"

[options.plain.last]
kind    = "crosshatch"
spacing = "3/4"
"""


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "four.toml"
    path.write_text(PLAN, encoding="utf-8")
    return path


@pytest.fixture
def sitting(file: Path) -> Iterator[Sitting]:
    with Sitting(file) as sitting:
        sitting.wait(seconds=60)
        yield sitting


def same_as_fresh(sitting: Sitting) -> None:
    fresh = plumeline.stitch(plumeline.read_plan(sitting.file), option=sitting.option)
    ours = sitting.wait(seconds=60)
    np.testing.assert_array_equal(ours.points[0].xy, fresh.points[0].xy)
    assert ours.report.totals == fresh.report.totals
    assert ours.report.findings == fresh.report.findings


def test_only_what_a_change_touches_is_filled_again(sitting: Sitting) -> None:
    assert sitting.kept.fresh == 2  # the three squares are one shape
    sitting.change({("zone", "last", "fill", "spacing"): "3/8"})
    assert sitting.kept.fresh == 3
    same_as_fresh(sitting)
    sitting.change({("chance",): 8})  # the seed is part of what every zone depends on
    assert sitting.kept.fresh == 5
    sitting.undo()
    sitting.undo()
    assert sitting.kept.fresh == 5
    same_as_fresh(sitting)


def test_the_file_is_the_truth_and_keeps_her_comments(sitting: Sitting) -> None:
    sitting.choose("last", [{"kind": "crosshatch", "spacing": 1}])
    written = sitting.file.read_text(encoding="utf-8")
    assert written == sitting.seen.text
    assert "# hers" in written and "# all but one" in written
    assert tomllib.loads(written)["zone"][1]["fill"] == {"kind": "crosshatch", "spacing": 1}
    assert sitting.file.with_name("four.toml.bak").read_text(encoding="utf-8") == PLAN
    assert not list(sitting.file.parent.glob(".plumeline-*"))


def test_a_changed_setting_keeps_what_she_wrote_beside_the_others(sitting: Sitting) -> None:
    said = PLAN.replace('spacing = "1/2"', 'spacing = "1/2"  # a finger', 1).replace('"channel"', '"channel" # calm', 1)
    sitting.change(said)
    text = sitting.choose("squares", [{"kind": "channel", "spacing": "3/4"}]).text
    assert text == said.replace('"1/2"  # a finger', '"3/4"  # a finger')
    text = sitting.choose("squares", [{"kind": "channel", "angle": 45}]).text
    assert '"channel" # calm\n' in text and "a finger" not in text
    assert tomllib.loads(text)["zone"][0]["fill"] == {"kind": "channel", "angle": 45}
    text = sitting.choose("squares", [{"kind": "outline"}, {"kind": "echo", "spacing": "1/2"}]).text
    assert tomllib.loads(text)["zone"][0]["fill"] == [{"kind": "outline"}, {"kind": "echo", "spacing": "1/2"}]
    assert text.count("\n\n[[zone]]") == 2  # an empty line before each, as she had it
    text = sitting.choose("squares", []).text
    assert "fill" not in tomllib.loads(text)["zone"][0] and text.endswith('"3/4"\n')


def test_ten_steps_back_and_forth(sitting: Sitting) -> None:
    texts = [sitting.seen.text]
    for k in range(10):
        texts.append(sitting.change({("zone", "last", "fill", "spacing"): f"{k + 6}/16"}).text)
    for text in reversed(texts[:-1]):
        assert sitting.undo().text == text == sitting.file.read_text(encoding="utf-8")
    assert not sitting.can_undo and sitting.undo().text == PLAN
    for text in texts[1:]:
        assert sitting.redo().text == text
    assert not sitting.can_redo
    same_as_fresh(sitting)
    sitting.undo()
    sitting.change({("title",): "Other"})
    assert not sitting.can_redo


@pytest.mark.parametrize(
    "edit",
    [{("zone", "last", "fill", "kind"): "sprial"}, {("zone", "nobody", "fill", "kind"): "spiral"}, "title = "],
)
def test_a_change_that_cannot_be_used_changes_nothing(sitting: Sitting, edit: object) -> None:
    before = sitting.seen
    with pytest.raises(InputError):
        sitting.change(edit)  # type: ignore[arg-type]
    assert sitting.seen is before
    assert sitting.file.read_text(encoding="utf-8") == PLAN
    assert not sitting.can_undo and not sitting.file.with_name("four.toml.bak").exists()


def test_a_change_on_the_disk_is_taken_up_and_can_be_undone(sitting: Sitting) -> None:
    sitting.file.write_text(PLAN.replace("Four squares", "Hers"), encoding="utf-8")
    assert sitting.look() and not sitting.look()
    assert sitting.wait(seconds=60).plan.title == "Hers"
    assert sitting.undo().text == PLAN


def test_a_clash_is_asked_about_and_nothing_of_hers_is_lost(sitting: Sitting) -> None:
    hers = PLAN.replace("Four squares", "Hers")
    sitting.file.write_text(hers, encoding="utf-8")
    with pytest.raises(PlanChangedError, match="another program"):
        sitting.change({("chance",): 9})
    assert sitting.file.read_text(encoding="utf-8") == hers
    sitting.change({("chance",): 9}, over=True)
    assert "chance = 9" in sitting.file.read_text(encoding="utf-8")
    assert sitting.undo().text == PLAN
    assert sitting.undo().text == hers


def test_an_error_in_the_file_is_said_and_the_last_good_quilt_stays(sitting: Sitting) -> None:
    good = sitting.seen.quilt
    sitting.file.write_text(PLAN.replace('"spiral"', '"sprial"'), encoding="utf-8")
    sitting.look()
    assert "zone 'last'" in sitting.seen.error and "sprial" in sitting.seen.error
    assert sitting.seen.quilt is good and sitting.seen.text == PLAN
    sitting.file.write_text(PLAN, encoding="utf-8")
    sitting.look()
    assert not sitting.seen.error


def test_a_plan_that_is_wrong_from_the_start_can_be_mended(file: Path) -> None:
    file.write_text(PLAN.replace('"spiral"', '"sprial"'), encoding="utf-8")
    with Sitting(file) as sitting:
        assert "sprial" in sitting.seen.error
        with pytest.raises(InputError, match="sprial"):
            sitting.wait(seconds=5)
        file.write_text(PLAN, encoding="utf-8")
        sitting.look()
        same_as_fresh(sitting)


def test_the_newest_change_wins(sitting: Sitting) -> None:
    for k in range(6):
        sitting.change({("zone", "last", "fill", "spacing"): f"{k + 6}/16"})
    same_as_fresh(sitting)
    assert sitting.seen.quilt is not None and sitting.seen.drawn is not None
    assert sitting.seen.quilt.zones == sitting.seen.drawn.zones


def test_the_newest_change_wins_while_zones_are_being_filled(sitting: Sitting) -> None:
    later: list[threading.Thread] = []

    def change_again(seen: Seen) -> None:
        if seen.partial and not later:  # in the thread that fills, after the first of three spaces
            newest = sitting._changes.newest
            stack = [{"kind": "crosshatch"}]
            later.append(threading.Thread(target=sitting.choose, args=("squares", stack)))
            later[0].start()
            while sitting._changes.newest is newest:
                threading.Event().wait(0.001)

    sitting.listen(change_again)
    before = sitting.kept.fresh
    sitting.choose("squares", [{"kind": "meander"}])  # by chance: each of the three would be filled by itself
    later[0].join(60)
    assert sitting.kept.fresh == before + 2  # one meander, and the crosshatch of the three that are one shape
    assert tomllib.loads(sitting.file.read_text(encoding="utf-8"))["zone"][0]["fill"] == {"kind": "crosshatch"}
    same_as_fresh(sitting)
    assert 'kind    = "meander"' in sitting.undo().text  # a step of its own all the same
    assert sitting.undo().text == PLAN


def test_the_space_she_looks_at_is_filled_and_shown_before_all_others(sitting: Sitting) -> None:
    told: list[Seen] = []
    sitting.listen(told.append)
    sitting.looking = "squares, 3"
    sitting.choose("squares", [{"kind": "feather"}])
    shown = [seen for seen in told if seen.partial]
    assert [zone.label for zone, _ in shown[0].partial] == ["squares, 3"]
    assert "feather" not in shown[0].text  # it is on the screen before the plan is written
    assert not sitting.seen.partial
    drawn = sitting.seen.drawn
    assert drawn is not None
    zone, coarse = shown[0].partial[0]
    fine = drawn.filled[[z.label for z in drawn.zones].index(zone.label)]
    ours, theirs = (shapely.MultiLineString([s.path for s in f.strokes]) for f in (coarse, fine))
    # GEOS measures how far the first look lies from what comes; both stay in the space
    assert len(coarse.strokes) == len(fine.strokes)
    assert 0 < shapely.hausdorff_distance(ours, theirs, densify=0.2) < 3.0
    assert zone.region.buffer(0.6).covers(ours)
    same_as_fresh(sitting)


def test_the_space_she_looks_at_is_shown_before_it_is_measured(sitting: Sitting) -> None:
    sitting.change({("batting", "widest_gap"): "1/2"})
    told: list[Seen] = []
    sitting.listen(told.append)
    sitting.looking = "last"
    sitting.choose("last", [{"kind": "motif", "fit": "30 %"}])
    ((_, first),) = next(seen.partial for seen in told if seen.partial)
    then = sitting.wait(seconds=60).filled[-1]
    assert len(first.strokes) == len(then.strokes)
    for stroke, same in zip(first.strokes, then.strokes):
        np.testing.assert_array_equal(stroke.path, same.path)
    assert then.bare_mm2 > 0 == first.bare_mm2
    assert first.findings != then.findings
    same_as_fresh(sitting)


def test_a_change_that_fails_after_its_first_look_leaves_all_as_it_was(
    sitting: Sitting, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = sitting.file.read_bytes()

    def fail(*_: object, **__: object) -> None:
        raise InputError("can't be filled")

    told: list[Seen] = []
    sitting.listen(told.append)
    with monkeypatch.context() as patch, pytest.raises(InputError, match="can't be filled"):
        patch.setattr("plumeline.quilt.fill_all", fail)
        sitting.choose("last", [{"kind": "rings"}])
    # what is told of progress on the way, which a slow machine does, changes nothing
    shown = [count for count, _ in groupby(len(seen.partial) for seen in told)]
    assert shown[-2:] == [1, 0] and shown[:-2] in ([], [0])
    assert sitting.file.read_bytes() == before
    assert not sitting.can_undo
    same_as_fresh(sitting)


def test_lines_are_joined_in_a_process_that_newer_changes_end(file: Path) -> None:
    with Sitting(file, aside=True) as sitting:
        sitting.wait(seconds=120)
        for k in range(3):
            sitting.change({("zone", "last", "fill", "spacing"): f"{k + 6}/16"})
        same_as_fresh(sitting)
        children = multiprocessing.active_children()
        assert children
    for child in children:
        child.join(30)
        assert not child.is_alive()


def count_on(_: object, tell: Progress) -> None:
    for done in range(10**9):
        tell("counting", done, 10**9)


def test_who_reads_from_the_process_is_who_closes_the_pipe(monkeypatch: pytest.MonkeyPatch) -> None:
    """A pipe closed by one thread while another reads from it: that one reads from nothing, or from another's file."""
    closed: dict[int, str] = {}
    close = Connection.close

    def closing(pipe: Connection) -> None:
        closed[id(pipe)] = threading.current_thread().name
        close(pipe)

    def run() -> None:
        with pytest.raises(Stopped):
            aside.run(None, lambda *_: counting.set())

    aside = Aside(count_on)
    for _ in range(3):
        counting = threading.Event()
        reader = threading.Thread(target=run, name="reader")
        reader.start()
        assert counting.wait(60)
        with monkeypatch.context() as patch:
            patch.setattr(Connection, "close", closing)
            aside.stop()
            reader.join(60)
        assert not reader.is_alive()
        assert closed and set(closed.values()) == {"reader"}
        closed.clear()
    aside.close()


def test_a_fault_while_lines_are_joined_is_told_and_the_next_change_is_joined(
    sitting: Sitting, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*_: object, **__: object) -> None:
        raise ZeroDivisionError("nobody foresaw this")

    with monkeypatch.context() as patch:
        patch.setattr("plumeline.sitting.finish", fail)
        sitting.change({("zone", "last", "fill", "spacing"): "3/8"})
        with pytest.raises(InputError, match=r"a fault of the program itself.*nobody foresaw this"):
            sitting.wait(seconds=60)
    sitting.change({("zone", "last", "fill", "spacing"): "5/8"})
    same_as_fresh(sitting)


def test_patches_are_joined_out_of_the_zones_that_held_them(sitting: Sitting) -> None:
    sitting.join("row", ["block-1-1", "block-1-2"])
    zones = {z.name: z for z in sitting.wait(seconds=60).zones}
    assert set(zones) == {"squares", "last"}  # the new one has no fill yet
    sitting.choose("row", [{"kind": "spiral"}])
    quilt = sitting.wait(seconds=60)
    row = next(z for z in quilt.zones if z.name == "row")
    assert row.outline.area == pytest.approx(2 * (3 * 25.4) ** 2)
    assert [z.name for z in quilt.zones].count("squares") == 1
    with pytest.raises(InputError, match="is the name of a zone already"):
        sitting.join("row", ["block-2-1"])
    with pytest.raises(InputError, match="no patch"):
        sitting.join("new", ["block-9-9"])


def test_a_zone_whose_patches_are_all_taken_goes(sitting: Sitting) -> None:
    sitting.join("all", ["block-1-1", "block-1-2", "block-2-1", "block-2-2"])
    assert [z["name"] for z in tomllib.loads(sitting.seen.text)["zone"]] == ["all"]


def test_a_divided_zone_keeps_its_fill_in_what_is_left(sitting: Sitting) -> None:
    sitting.divide("last", [{"by": "frame", "width": "1/2"}])
    assert tomllib.loads(sitting.seen.text)["zone"][1]["fill"] == {"inside": {"kind": "spiral", "spacing": "1/2"}}
    sitting.choose("last", [{"kind": "rings", "rows": 2}], part="frame")
    assert {z.part for z in sitting.wait(seconds=60).zones if z.name == "last"} == {"frame", "inside"}
    sitting.divide("last", [{"by": "wedges", "count": 4}])
    assert sum(z.name == "last" for z in sitting.wait(seconds=60).zones) == 4
    sitting.divide("last", [])
    assert tomllib.loads(sitting.seen.text)["zone"][1]["fill"] == {"kind": "spiral", "spacing": "1/2"}
    same_as_fresh(sitting)


def test_an_option_is_looked_at_and_changed_by_itself(sitting: Sitting) -> None:
    sitting.look_at("plain")
    assert "crosshatch" in {row.fill for row in sitting.wait(seconds=60).report.zones}
    sitting.choose("last", [{"kind": "rings", "rows": 2}])
    raw = tomllib.loads(sitting.seen.text)
    assert raw["options"]["plain"]["last"] == {"kind": "rings", "rows": 2}
    assert raw["zone"][1]["fill"]["kind"] == "spiral"
    same_as_fresh(sitting)
    with pytest.raises(InputError, match="no option"):
        sitting.look_at("fancy")
    assert sitting.option == "plain"


def test_an_option_that_is_taken_back_is_not_looked_at_any_more(sitting: Sitting) -> None:
    sitting.keep_as("kept")
    sitting.look_at("kept")
    assert sitting.undo().text == PLAN and sitting.option is None
    same_as_fresh(sitting)
    sitting.look_at("plain")
    with pytest.raises(InputError):
        sitting.change("title = ")
    assert sitting.option == "plain"
    sitting.file.write_text(PLAN.replace("options.plain", "options.other"), encoding="utf-8")
    assert sitting.look() and not sitting.seen.error and sitting.option is None


def test_listeners_are_told_and_let_go(sitting: Sitting) -> None:
    told: list[int] = []
    end = sitting.listen(lambda seen: told.append(seen.number))
    sitting.change({("chance",): 3})
    sitting.wait(seconds=60)
    assert told and told == sorted(told)
    end()
    count = len(told)
    sitting.undo()
    assert len(told) == count
