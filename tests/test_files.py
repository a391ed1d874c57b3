"""Files are written whole or not at all."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from plumeline.errors import OutputError
from plumeline.output import write_files

FILES = {"a.svg": b"<svg/>", "b.dst": b"\x00" * 1000}


def listing(folder):
    return sorted(p.name for p in folder.rglob("*"))


def test_files_are_written(tmp_path):
    assert write_files(tmp_path / "new" / "folder", FILES) == ("a.svg", "b.dst")
    assert (tmp_path / "new" / "folder" / "b.dst").read_bytes() == FILES["b.dst"]
    assert listing(tmp_path / "new" / "folder") == ["a.svg", "b.dst"]


def test_an_existing_file_stops_all_before_anything_is_written(tmp_path):
    (tmp_path / "b.dst").write_bytes(b"hers")
    with pytest.raises(OutputError, match=r"b\.dst: exists already and is left as it is\. Use --force"):
        write_files(tmp_path, FILES)
    assert listing(tmp_path) == ["b.dst"]
    assert (tmp_path / "b.dst").read_bytes() == b"hers"
    write_files(tmp_path, FILES, force=True)
    assert (tmp_path / "b.dst").read_bytes() == FILES["b.dst"]


@pytest.mark.parametrize("name", ["", ".", "..", "../a", "a/b", "/etc/a", "C:a", "a\\b", "a\0"])
def test_names_that_lead_elsewhere(tmp_path, name):
    with pytest.raises(OutputError, match="no plain file name"):
        write_files(tmp_path, {"ok.svg": b"", name: b""})
    assert listing(tmp_path) == []


def test_a_folder_in_the_way(tmp_path):
    (tmp_path / "a.svg").mkdir()
    with pytest.raises(OutputError, match="is a folder"):
        write_files(tmp_path, FILES, force=True)


def test_a_file_where_the_folder_should_be(tmp_path):
    (tmp_path / "x").write_bytes(b"hers")
    with pytest.raises(OutputError, match="x"):
        write_files(tmp_path / "x", FILES)
    assert (tmp_path / "x").read_bytes() == b"hers"


@pytest.mark.skipif(os.geteuid() == 0, reason="the administrator may write anywhere")
def test_a_folder_that_can_t_be_written_to(tmp_path):
    tmp_path.chmod(0o500)
    try:
        with pytest.raises(OutputError, match="can't be written"):
            write_files(tmp_path, FILES)
    finally:
        tmp_path.chmod(0o700)


@pytest.mark.parametrize("error", [KeyboardInterrupt, OSError(28, "No space left on device")])
@pytest.mark.parametrize("step", ["fsync", "replace"])
@pytest.mark.parametrize("call", [1, 2])
def test_whatever_stops_it_leaves_nothing(tmp_path, monkeypatch, error, step, call):
    calls = []
    owner = os if step == "fsync" else Path
    real = getattr(owner, step)

    def stopped(*args):
        calls.append(args)
        if len(calls) == call:
            raise error
        return real(*args)

    monkeypatch.setattr(owner, step, stopped)
    with pytest.raises(KeyboardInterrupt if error is KeyboardInterrupt else OutputError):
        write_files(tmp_path / "new", FILES)
    assert listing(tmp_path) == []


@pytest.mark.parametrize("error", [KeyboardInterrupt, OSError(28, "No space left on device")])
@pytest.mark.parametrize("call", [1, 2, 3])
def test_a_failed_rename_leaves_what_was_there_before(tmp_path, monkeypatch, error, call):
    before = {"a.svg": b"an older a", "b.dst": b"an older b"}  # c.csv is new
    for name, data in before.items():
        (tmp_path / name).write_bytes(data)
    calls = []
    real = Path.replace

    def stopped(path, target):
        calls.append(target)
        if len(calls) == call:
            raise error
        return real(path, target)

    monkeypatch.setattr(Path, "replace", stopped)
    with pytest.raises(KeyboardInterrupt if error is KeyboardInterrupt else OutputError):
        write_files(tmp_path, {**FILES, "c.csv": b"new"}, force=True)
    assert calls[call - 1].name == ["a.svg", "b.dst", "c.csv"][call - 1]  # it stopped at a file's own name
    assert {p.name: p.read_bytes() for p in tmp_path.iterdir()} == before


def test_finished_files_can_be_read_by_others_as_usual(tmp_path):
    write_files(tmp_path, FILES)
    (tmp_path / "plain").write_bytes(b"")
    assert (tmp_path / "a.svg").stat().st_mode == (tmp_path / "plain").stat().st_mode
