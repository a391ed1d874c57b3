"""Nothing of hers is ever written over, left half-written, or mixed from two runs."""

from __future__ import annotations

import multiprocessing
import os
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

from plumeline import quilt as job
from plumeline import read_plan, stitch
from plumeline.errors import EngineError, OutputError
from plumeline.output import write_files
from plumeline.output._lock import writing_alone
from plumeline.pipeline.targets import names_before
from plumeline.pipeline.workers import shared_out
from plumeline.plan import files_read, parse_plan

DRAWING = """<svg xmlns="http://www.w3.org/2000/svg" width="8in" height="4in" viewBox="0 0 8 4">
<path id="left" d="M0 0H4V4H0Z" fill="#ddd"/><path id="right" d="M4 0H8V4H4Z" fill="#bbb"/></svg>"""

FILL = '[[zone]]\nname = "left"\npatches = ["left"]\n[zone.fill]\nkind = "channel"\nspacing = 1\n'

PLAN = f'[top]\ndrawing = "my-top.svg"\n{FILL}'

posix = pytest.mark.skipif(os.name != "posix", reason="locks and signals as on POSIX systems")


@pytest.fixture
def top(tmp_path):
    """A folder with a drawing and a plan of the same name."""
    (tmp_path / "my-top.svg").write_text(DRAWING)
    (tmp_path / "my-top.toml").write_text(PLAN)
    return tmp_path


@pytest.fixture
def no_work(monkeypatch):
    """Whatever is refused is refused before the long work."""

    def worked(*_args, **_kwargs):
        raise AssertionError("the long work began")

    monkeypatch.setattr(job, "stitch", worked)


def refused(told, name):
    code, out, err = told
    assert code == 2, (out, err)
    assert f"{name}: is what this is made from, and is never written over. Choose another folder or name." in err


@pytest.mark.parametrize("way", ["", ".", "sub/..", "link"])
def test_the_drawing_of_a_plan_is_never_written_over(top, run, no_work, monkeypatch, way):
    monkeypatch.chdir(top)
    (top / "sub").mkdir()
    (top / "link").symlink_to(top)
    told = run("stitch", "my-top.toml", "--to", way or top, "--force")
    refused(told, "my-top.svg")
    assert (top / "my-top.svg").read_text() == DRAWING
    assert sorted(p.name for p in top.iterdir()) == ["link", "my-top.svg", "my-top.toml", "sub"]


def test_a_second_name_of_the_drawing_is_the_drawing(top, run, no_work):
    (top / "out").mkdir()
    (top / "out" / "my-top.svg").hardlink_to(top / "my-top.svg")
    refused(run("stitch", top / "my-top.toml", "--to", top / "out", "--force"), "my-top.svg")


def test_artwork_of_a_fill_and_of_an_option_is_kept(top, run, no_work):
    (top / "my-top.svg").rename(top / "other.svg")
    (top / "my-top.svg").write_text(DRAWING)
    motif = PLAN.replace("my-top.svg", "other.svg").replace('"channel"\nspacing = 1', '"motif"\nart = "my-top.svg"')
    (top / "my-top.toml").write_text(motif)
    refused(run("stitch", top / "my-top.toml", "--to", top, "--force"), "my-top.svg")
    (top / "my-top-big.svg").write_text(DRAWING)
    option = '[options.big.left]\nkind = "motif"\nart = "my-top-big.svg"\n'
    (top / "my-top.toml").write_text(PLAN.replace("my-top.svg", "other.svg") + option)
    refused(run("stitch", top / "my-top.toml", "--to", top, "--force", "--option", "big"), "my-top-big.svg")
    assert (top / "my-top.svg").read_text() == (top / "my-top-big.svg").read_text() == DRAWING


def test_what_stitched_names_is_kept(top, run, no_work):
    (top / "out").mkdir()
    (top / "out" / "my-top.svg").write_text("<svg/>")
    told = run("stitch", top / "my-top.toml", "--to", top / "out", "--stitched", top / "out" / "my-top.svg", "--force")
    refused(told, "my-top.svg")


def test_the_library_keeps_what_a_plan_reads(top):
    quilt = stitch(read_plan(top / "my-top.toml"))
    with pytest.raises(OutputError, match=r"my-top\.svg: is what this is made from"):
        quilt.write(top, force=True)
    assert (top / "my-top.svg").read_text() == DRAWING


def test_commands_on_one_file_keep_that_file(top, run):
    plan, drawing = top / "my-top.toml", top / "my-top.svg"
    refused(run("new", drawing, "--drawing", drawing, "--force"), "my-top.svg")
    refused(run("fill", "channel", drawing, "--to", drawing, "--force"), "my-top.svg")
    art = ("fill", "motif", "--square", "8", "--set", f"art={drawing}")
    refused(run(*art, "--to", drawing, "--force"), "my-top.svg")
    refused(run("inspect", drawing, "--picture", drawing, "--force"), "my-top.svg")
    assert run("stitch", plan, "--to", top / "out")[0] == 0
    dst = top / "out" / "my-top.dst"
    refused(run("continue", dst, "--line", "1", "--to", dst, "--force"), "my-top.dst")
    assert drawing.read_text() == DRAWING


def test_all_targets_are_looked_at_before_the_long_work(top, run, no_work):
    for name in ("my-top.dst", "my-top-read-first.txt", "report.json"):
        (top / "out").mkdir(exist_ok=True)
        (top / "out" / name).write_text("hers")
        code, _, err = run("stitch", top / "my-top.toml", "--to", top / "out")
        assert code == 2
        assert f"{name}: exists already and is left as it is" in err
        (top / "out" / name).unlink()


@pytest.mark.parametrize("reach", ["", "[machine]\nreach = [5, 5]\n"])
def test_the_names_looked_at_are_those_that_are_written(top, reach):
    plan = parse_plan(PLAN + reach, file="my-top.toml", folder=top)
    formats = ("svg", "dst", "dxf", "gcode", "csv")
    stitch(plan).write(top / "out", formats=formats)
    written = [p.name for p in (top / "out").iterdir()]
    assert set(written) <= set(names_before(plan, formats, there=written))


def test_an_empty_name_is_no_folder(top, run, monkeypatch):
    monkeypatch.chdir(top)
    for command in (
        ("stitch", "my-top.toml", "--to", ""),
        ("fill", "channel", "--square", "5", "--to", ""),
        ("demo", "--to", ""),
        ("new", "", "--blocks", "2x2", "--block", "6"),
    ):
        code, _, err = run(*command)
        assert code == 2
        assert "is empty; must be a name" in err
    with pytest.raises(OutputError, match="is no folder"):
        write_files("", {"a": b""})
    assert sorted(p.name for p in top.iterdir()) == ["my-top.svg", "my-top.toml"]


def test_one_list_of_all_that_a_plan_reads(top):
    for name in ("art.svg", "cloth.png", "photo.jpg", "unused.svg", "old.svg"):
        (top / name).write_text("x")
    text = PLAN.replace('kind = "channel"', 'kind = "motif"\nart = "art.svg"\nlater = { of = ["cloth.png"] }')
    plan = parse_plan(text + '[options."photo.jpg".left]\nkind = "channel"\n', file="my-top.toml", folder=top)
    found = [path.name for path in files_read(plan, top / "old.svg", None, top / "not-there.svg")]
    assert found[0] == "my-top.toml"
    assert sorted(found[1:]) == ["art.svg", "cloth.png", "my-top.svg", "old.svg", "photo.jpg"]


@pytest.mark.parametrize("error", [KeyboardInterrupt, OSError(28, "No space left on device")])
@pytest.mark.parametrize("links", [True, False])
def test_files_that_were_written_over_come_back_when_a_later_one_fails(tmp_path, monkeypatch, error, links):
    (tmp_path / "a").write_bytes(b"old a")
    (tmp_path / "c").write_bytes(b"old c")
    real, calls = Path.replace, []

    def stopped(self, target):
        calls.append(target)
        if len(calls) == 3:
            raise error
        return real(self, target)

    if not links:

        def no_links(self, target):
            raise OSError(1, "Operation not permitted")

        monkeypatch.setattr(Path, "hardlink_to", no_links)
    monkeypatch.setattr(Path, "replace", stopped)
    with pytest.raises(KeyboardInterrupt if error is KeyboardInterrupt else OutputError):
        write_files(tmp_path, {"a": b"new a", "b": b"new b", "c": b"new c"}, force=True)
    assert {p.name: p.read_bytes() for p in tmp_path.iterdir()} == {"a": b"old a", "c": b"old c"}


@posix
def test_the_second_run_into_a_folder_waits_and_what_dead_runs_left_is_swept(tmp_path):
    (tmp_path / ".plumeline-dead.part").write_bytes(b"half a file")
    seen = []
    second = threading.Thread(target=lambda: seen.append(write_files(tmp_path, {"b": b"2"})))
    with writing_alone(tmp_path) as held:
        assert held
        second.start()
        second.join(0.3)
        assert not seen  # it waits
        assert not (tmp_path / "b").exists()
        assert (tmp_path / ".plumeline-dead.part").exists()  # might be of the run that holds the folder
    second.join(10)
    assert seen == [("b",)]
    assert [p.name for p in tmp_path.iterdir()] == ["b"]


@posix
def test_what_the_first_run_wrote_the_second_does_not_write_over(tmp_path):
    told = []

    def second():
        try:
            write_files(tmp_path, {"a": b"second"})
        except OutputError as error:
            told.append(str(error))

    thread = threading.Thread(target=second)
    with writing_alone(tmp_path):
        thread.start()
        time.sleep(0.2)
        (tmp_path / "a").write_bytes(b"first")
    thread.join(10)
    assert (tmp_path / "a").read_bytes() == b"first"
    assert "exists already" in told[0]


def _met(task):
    """Wait, here, until another process is at work as well; say which one did it."""
    n, folder = task
    if multiprocessing.parent_process() is not None:
        (folder / "at work").touch()
    until = time.monotonic() + 60
    while time.monotonic() < until and not (folder / "at work").exists():
        time.sleep(0.01)
    return n, os.getpid()


def _die(_n):
    if multiprocessing.parent_process() is not None:
        os.kill(os.getpid(), signal.SIGKILL)
    time.sleep(0.5)  # here, so that the other gets a share too


def test_shared_work_comes_back_in_order_and_is_done_by_all(tmp_path):
    found = list(shared_out(_met, [(n, tmp_path) for n in range(40)], 2))
    assert [n for n, _ in found] == list(range(40))
    assert {pid for _, pid in found} - {os.getpid()}


def _who(_n):
    return os.getpid()


def test_the_first_shares_are_done_here_and_the_last_by_the_others():
    found = list(shared_out(_who, range(40), 2))
    assert found[0] == os.getpid()  # no process has to start before there is something to show
    assert found[-1] != os.getpid()


def test_of_one_process_all_is_done_here():
    done = []
    assert list(shared_out(done.append, [1, 2, 3], 1)) == [None] * 3
    assert done == [1, 2, 3]


@posix
def test_a_process_that_is_ended_from_outside_is_said():
    with pytest.raises(EngineError, match="memory ran out"):
        list(shared_out(_die, range(3), 2))


AT_WORK = """
import sys
from pathlib import Path
from plumeline.pipeline.workers import shared_out
import slow
if __name__ == "__main__":
    for pid in shared_out(slow.work, [(n, Path(sys.argv[1])) for n in range(40)], 2):
        print(pid, flush=True)
"""
SLOW = """
import multiprocessing, os, time
def work(task):
    n, at_work = task
    if multiprocessing.parent_process() is not None:
        at_work.with_suffix(".new").write_text(str(os.getpid()))
        at_work.with_suffix(".new").replace(at_work)
    while not at_work.exists():
        time.sleep(0.01)
    time.sleep(0.02 if n < 10 else 30)
    return os.getpid()
"""


def alive(pid):
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    return "Z" not in Path(f"/proc/{pid}/stat").read_text().split()[2] if Path("/proc").is_dir() else True


@posix
def test_processes_end_with_the_one_that_started_them(tmp_path):
    (tmp_path / "slow.py").write_text(SLOW)
    (tmp_path / "at_work.py").write_text(AT_WORK)
    paths = os.pathsep.join([str(tmp_path), *sys.path])
    with subprocess.Popen(
        [sys.executable, str(tmp_path / "at_work.py"), str(tmp_path / "at work")],
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        env={**os.environ, "PYTHONPATH": paths},
        text=True,
    ) as started:
        assert int(started.stdout.readline()) == started.pid
        pids = {int((tmp_path / "at work").read_text())}
        assert pids != {started.pid} and all(map(alive, pids))
        started.kill()
        started.wait()
    until = time.monotonic() + 5
    while time.monotonic() < until and any(map(alive, pids)):
        time.sleep(0.05)
    assert not any(map(alive, pids))


MANY = """[top.blocks]
size = 10
rows = [["a", "b", "a", "b"], ["b", "a", "b", "a"], ["a", "b", "a", "b"], ["b", "a", "b", "a"]]
[[zone]]
name = "all"
patches = ["a-*", "b-*"]
each = "patch"
vary = true
[zone.fill]
kind = "meander"
spacing = "1/8"
"""


@pytest.mark.skipif(sys.platform != "linux", reason="processes listed as Linux lists them")
@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_a_run_that_is_stopped_says_so_and_leaves_nothing(tmp_path, number):
    (tmp_path / "many.toml").write_text(MANY)
    command = [sys.executable, "-m", "plumeline", "stitch", "many.toml", "--to", "out"]
    env = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}
    with subprocess.Popen(
        command, cwd=tmp_path, stdout=subprocess.PIPE, stderr=subprocess.PIPE, env=env, text=True, process_group=0
    ) as started:
        until = time.monotonic() + 60
        while time.monotonic() < until and not _children(started.pid):
            time.sleep(0.05)
        time.sleep(0.3)
        os.killpg(started.pid, number)  # as a terminal does: to all of them
        out, err = started.communicate(timeout=30)
    assert (started.returncode, out, err.strip()) == (130, "", "Stopped. Nothing was left half-written.")
    assert [p.name for p in tmp_path.iterdir()] == ["many.toml"]


def _children(pid):
    found = subprocess.run(["ps", "-o", "pid=", "--ppid", str(pid)], capture_output=True, text=True, check=False)
    return found.stdout.split()
