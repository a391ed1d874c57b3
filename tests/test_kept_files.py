"""Filled zones kept in files: equal when read back, passed over when damaged or of another version, bounded."""

import os
import subprocess
import sys

import numpy as np
import pytest
from click.testing import CliRunner

from plumeline.cli import group
from plumeline.drawing.raster import read_picture
from plumeline.pipeline import kept_files
from plumeline.pipeline.kept_files import KeptInFiles, cache_folder
from plumeline.quilt import draw, read_plan, stitch

PLAN = """
title = "three"
units = "in"
[top.blocks]
size = 6
rows = [["a", "a", "a"]]
[[zone]]
name = "left"
patches = ["*-1"]
[[zone.fill]]
kind = "motif"
art = "leaf"
[[zone.fill]]
kind = "meander"
spacing = "1/4"
[[zone]]
name = "middle"
patches = ["*-2"]
[zone.fill]
kind = "spiral"
spacing = "1/2"
[[zone]]
name = "right"
patches = ["*-3"]
[zone.fill]
kind = "rings"
"""


@pytest.fixture
def file(tmp_path):
    path = tmp_path / "three.toml"
    path.write_text(PLAN, encoding="utf-8")
    return path


def same(a, b):
    for one, other in zip(a.filled, b.filled, strict=True):
        assert one.findings == other.findings and one.bare_mm2 == other.bare_mm2
        assert [r.wkb for r in one.taken] == [r.wkb for r in other.taken]
        for s, t in zip(one.strokes, other.strokes, strict=True):
            np.testing.assert_array_equal(s.path, t.path)
            assert (s.closed, s.role, s.chain, s.atomic, s.fill) == (t.closed, t.role, t.chain, t.atomic, t.fill)
    assert a.figures == b.figures


def test_what_is_kept_is_read_back_equal_and_only_what_changed_is_filled_again(file, tmp_path):
    first, again, changed = (KeptInFiles(tmp_path / "kept") for _ in range(3))
    plan = read_plan(file)
    alone = draw(plan)
    same(draw(plan, kept=first), alone)
    same(draw(plan, kept=again), alone)
    assert (first.fresh, again.fresh) == (3, 0)
    file.write_text(PLAN.replace('"1/2"', '"3/8"'), encoding="utf-8")
    same(draw(read_plan(file), kept=changed), draw(read_plan(file)))
    assert changed.fresh == 1


@pytest.mark.parametrize("damage", [b"", b"\n", b"no\nzone", None])
def test_a_damaged_file_is_filled_anew(file, tmp_path, damage):
    plan, folder = read_plan(file), tmp_path / "kept"
    alone = draw(plan, kept=KeptInFiles(folder))
    for path in folder.iterdir():
        data = path.read_bytes()
        path.write_bytes(data[:-3] + b"xyz" if damage is None else damage)
    kept = KeptInFiles(folder)
    same(draw(plan, kept=kept), alone)
    assert kept.fresh == 3


def test_another_version_reads_nothing(file, tmp_path, monkeypatch):
    draw(read_plan(file), kept=KeptInFiles(tmp_path / "kept"))
    monkeypatch.setattr(kept_files, "_made_with", lambda: "another")
    kept = KeptInFiles(tmp_path / "kept")
    draw(read_plan(file), kept=kept)
    assert kept.fresh == 3


def test_the_folder_stays_small_and_the_longest_unused_go(file, tmp_path, monkeypatch):
    kept = KeptInFiles(tmp_path / "kept")
    draw(read_plan(file), kept=kept)
    files = sorted((tmp_path / "kept").iterdir())
    for age, path in enumerate(files):
        os.utime(path, (1_000_000 - age, 1_000_000 - age))
    monkeypatch.setattr(kept_files, "MOST_BYTES", files[0].stat().st_size)
    kept.tidy()
    assert list((tmp_path / "kept").iterdir()) == files[:1]


def test_a_folder_that_cannot_be_written_to_costs_only_time(file, tmp_path):
    (tmp_path / "taken").write_text("a file, no folder")
    kept = KeptInFiles(tmp_path / "taken" / "kept")
    stitch(read_plan(file), kept=kept)
    kept.tidy()
    assert kept.fresh == 3 and (tmp_path / "taken").read_text() == "a file, no folder"


def test_where_it_is_kept(monkeypatch, tmp_path):
    monkeypatch.setenv("PLUMELINE_CACHE", "")
    assert cache_folder() is None
    monkeypatch.setenv("PLUMELINE_CACHE", str(tmp_path))
    assert cache_folder() == tmp_path
    monkeypatch.delenv("PLUMELINE_CACHE")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))  # the XDG base directory specification
    if sys.platform == "linux":
        assert cache_folder() == tmp_path / "plumeline"


def test_look_writes_one_picture_and_nothing_else_and_another_process_fills_nothing(file, tmp_path):
    environment = {**os.environ, "PLUMELINE_CACHE": str(tmp_path / "kept")}
    command = [sys.executable, "-m", "plumeline", "stitch", str(file), "--to", str(tmp_path / "out"), "--look"]
    first = subprocess.run(command, env=environment, capture_output=True, text=True, check=True).stdout
    assert "3 shapes filled anew" in first
    assert [p.name for p in (tmp_path / "out").iterdir()] == ["three-look.png"]
    pixels = read_picture(tmp_path / "out" / "three-look.png")
    assert pixels.shape == (300, 900, 3)  # 18 x 6 in
    dark = (pixels.astype(int).sum(axis=2) < 450).reshape(300, 3, 300).mean(axis=(0, 2))
    assert (dark > 0.01).all()  # stitching in each of the three blocks
    again = subprocess.run([*command, "--force"], env=environment, capture_output=True, text=True, check=True).stdout
    assert "0 shapes filled anew" in again


def test_look_never_writes_over_a_picture_without_force(file, tmp_path):
    (tmp_path / "three-look.png").write_bytes(b"hers")
    from plumeline.cli import main

    with pytest.raises(SystemExit) as left:
        main(["stitch", str(file), "--to", str(tmp_path), "--look"])
    assert left.value.code == 2 and (tmp_path / "three-look.png").read_bytes() == b"hers"
    assert "--look" in CliRunner().invoke(group, ["stitch", "--help"]).output
