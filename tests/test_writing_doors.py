"""What seldom happens while files are written: no locks, a folder taken away, a terminal to show progress on."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from shapely.geometry import LineString
from shapely.ops import unary_union

from plumeline.errors import OutputError
from plumeline.model import Photo
from plumeline.output import write_files
from plumeline.output._lock import writing_alone
from plumeline.output._photo import faded, photo_image, photo_part
from plumeline.output.paper import PaperSettings
from plumeline.output.paper.cut import stencil_of

fcntl = pytest.importorskip("fcntl", reason="folders are locked, and terminals made, on POSIX systems only")
pty = pytest.importorskip("pty")

PLAN = """
title = "Four"
[top.blocks]
size = 4
rows = [["a", "a"], ["a", "a"]]
[[zone]]
name = "a"
patches = ["a-*"]
each = "patch"
[zone.fill]
kind = "channel"
"""


def handles():
    """How many files this process has open."""
    return len(list(Path("/dev/fd").iterdir()))


def test_where_folders_know_no_locks_files_are_written_all_the_same(tmp_path, monkeypatch):
    def refuse(_handle, _how):
        raise OSError("no locks on this drive")

    monkeypatch.setattr(fcntl, "flock", refuse)
    before = handles()
    assert write_files(tmp_path / "out", {"a.txt": b"1"}) == ("a.txt",)
    assert (tmp_path / "out" / "a.txt").read_bytes() == b"1"
    with writing_alone(tmp_path) as alone:
        assert not alone
    assert handles() == before


def test_a_folder_taken_away_by_the_run_before_is_made_again(tmp_path, monkeypatch):
    """The run that held it failed, and took away the folder that it had made, before the lock was given on."""
    folder, real, gone = tmp_path / "out", fcntl.flock, []

    def flock(handle, how):
        real(handle, how)
        if not gone:
            gone.append(folder.rmdir())

    monkeypatch.setattr(fcntl, "flock", flock)
    before = handles()
    with writing_alone(folder) as alone:
        assert alone and folder.is_dir()
        (folder / "a.txt").write_text("1")
    assert len(gone) == 1 and handles() == before


def test_progress_is_shown_on_a_terminal_and_stays_out_of_the_answer(tmp_path):
    plan = tmp_path / "four.toml"
    plan.write_text(PLAN, encoding="utf-8")
    ours, theirs = pty.openpty()
    command = [sys.executable, "-m", "plumeline", "check", str(plan)]
    environment = {**os.environ, "TERM": "xterm", "COLUMNS": "100"}
    done = subprocess.run(command, stdout=subprocess.PIPE, stderr=theirs, env=environment, check=True, timeout=120)
    os.close(theirs)
    shown = b""
    try:
        while piece := os.read(ours, 65536):
            shown += piece
    except OSError:  # all is read
        pass
    os.close(ours)
    # which stages are seen depends on how quick the machine is
    assert "━".encode() in shown
    assert b"4/4" not in done.stdout and done.stdout.startswith(b"Four: ")


def sheet(lines, **settings):
    return stencil_of([np.array(line, dtype=float) for line in lines], PaperSettings(**settings))


@pytest.mark.parametrize("apart", [3.0, 5.0, 8.0])
def test_a_stencil_of_a_close_grid_is_one_sheet_and_what_is_not_cut_is_told(apart):
    """Every stretch of line lies in a slot, under a bridge, or among the lines left whole."""
    at = np.arange(0.0, 60.0, apart)
    lines = [[(0, y), (at[-1], y)] for y in at] + [[(x, 0), (x, at[-1])] for x in at]
    found = sheet(lines, slot_mm=2.0, bridge_mm=3.0)
    assert found.sheet.geom_type == "Polygon" and found.sheet.is_valid
    cut = unary_union([slot.buffer(3.0 + 1.0) for slot in found.slots])  # a bridge and half a slot further
    left = unary_union([LineString(line) for line in lines]).difference(cut)
    whole = unary_union([LineString(path).buffer(0.1) for path in found.uncut]) if found.uncut else LineString()
    assert left.difference(whole).length < 0.01 * left.length + 1.0
    assert bool(found.uncut) == (left.length > 1.0)


def test_a_stencil_of_no_line_or_of_bridges_too_thin_is_refused():
    with pytest.raises(OutputError, match="has no line to cut"):
        sheet([])
    with pytest.raises(OutputError, match=r"must be .* mm or more"):
        sheet([[(0, 0), (50, 0)]], bridge_mm=1e-4)


class View:
    """A window of the top, mm."""

    def __init__(self, left, top, width, height):
        self.left, self.top, self.width, self.height = left, top, width, height


def test_a_photo_beside_the_window_shows_nothing():
    photo = Photo(np.full((20, 30, 3), 100, np.uint8), 2.0)  # 15 x 10 mm
    assert photo_part(photo, View(20, 0, 5, 5), 1.0) is None
    assert photo_image(photo, View(0, 12, 5, 5), 1.0) == ""
    pixels, at = photo_part(photo, View(10, 5, 50, 50), 2.0)
    assert pixels.shape == (10, 10, 3) and (at.left, at.top, at.width, at.height) == (10, 5, 5, 5)


@pytest.mark.parametrize(("longest", "shape"), [(1000, (20, 30)), (15, (10, 15))])
def test_a_faded_photo_is_whiter_and_as_large_on_the_cloth(longest, shape):
    photo = Photo(np.full((20, 30, 3), 100, np.uint8), 2.0)
    found = faded(photo, longest, 0.5)
    assert found.pixels.shape[:2] == shape
    assert found.pixels == pytest.approx(np.full((*shape, 3), 178), abs=1)  # half way from 100 to 255
    assert np.array(found.size) == pytest.approx(photo.size)
