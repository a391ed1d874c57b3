"""One plain line where a traceback was: odd files, odd names, odd terminals, and faults of our own."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from contextlib import contextmanager

import click
import pytest

from plumeline.cli import group
from plumeline.errors import InputError, PlanError, one_line, shown
from plumeline.units import parse_length

TOP = '[top.blocks]\nsize = 6\nrows = [["a"]]\n'
ZONE = '[[zone]]\nname = "a"\npatches = ["a-*"]\n[zone.fill]\nkind = "channel"\nspacing = 1\n'

posix = pytest.mark.skipif(os.name != "posix", reason="pipes, devices and links of POSIX systems")
linux = pytest.mark.skipif(sys.platform != "linux", reason="devices of Linux")


def outside(*arguments, cwd, stdout=subprocess.PIPE, **env):
    """Run the command line as a process of its own."""
    given = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path), "PYTHONUTF8": "0", **env}
    command = [sys.executable, "-m", "plumeline", *map(str, arguments)]
    return subprocess.run(command, cwd=cwd, stdout=stdout, stderr=subprocess.PIPE, env=given, check=False)


def one_plain_line(err):
    assert err.count("\n") == 1
    assert "Traceback" not in err
    assert len(err) < 400


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (f"units = []\n{TOP}", "units: is []; must be one of in, mm, cm"),
        (f'title = "a\\u0000b"\n{TOP}', "title: is 'a�b'; must be on one line"),
        (f'title = """a\nb"""\n{TOP}', "title: is 'a�b'; must be on one line"),
        ('[top]\ndrawing = "a\\u0000.svg"\n', "top.drawing: is 'a�.svg'; must be on one line"),
        (f'{TOP}[[zone]]\nname = "\\u001b[2J"\npatches = ["a"]\n', "name: is '�[2J'; must be on one line"),
        (f'{TOP}[thread."a\\nb"]\n', "must be on one line"),
        (f'{TOP}{ZONE}note = "a\\tb"\n', "fill.note: is 'a�b'; must be on one line"),
        (f"chance = {'9' * 100_000}\n{TOP}", "has a number with too many digits to read"),
        (f"chance = {'9' * 4_000}\n{TOP}", "chance: is 9999"),
        (f'title = "{"x" * 5_000}"\n{TOP}', "title: is 'xxxx"),
        (f"{TOP.replace('6', chr(34) + '9' * 100_000 + chr(34))}", "top.blocks.size: is '9999"),
        (f"{TOP}{ZONE}{'y' * 300} = 1\n", "fill.yyyy"),
    ],
)
def test_odd_values_in_a_plan_end_in_one_line(tmp_path, run, text, says):
    (tmp_path / "p.toml").write_text(text, encoding="utf-8")
    code, out, err = run("check", tmp_path / "p.toml")
    assert (code, out) == (2, "")
    one_plain_line(err)
    assert says in err


@posix
@pytest.mark.parametrize("command", [("check",), ("stitch", "--to", "o"), ("inspect",)])
def test_what_is_no_plain_file_is_not_opened(tmp_path, run, monkeypatch, command):
    monkeypatch.chdir(tmp_path)
    ending = ".dst" if command[0] == "inspect" else ".toml"
    os.mkfifo(f"pipe{ending}")
    (tmp_path / f"loop{ending}").symlink_to(tmp_path / f"loop{ending}")
    (tmp_path / f"zero{ending}").symlink_to("/dev/zero")
    (tmp_path / f"dir{ending}").mkdir()
    for name, says in (
        ("pipe", "is a device or a pipe; must be a plain file"),
        ("zero", "is a device or a pipe; must be a plain file"),
        ("dir", "is a folder; must be a plain file"),
        ("loop", "can't be read"),
    ):
        with hang_after(20):
            code, _, err = run(command[0], f"{name}{ending}", *command[1:])
        assert code == 2
        one_plain_line(err)
        assert says in err


@contextmanager
def hang_after(seconds):
    """Fail when what is inside does not come back."""

    def late(*_):
        raise AssertionError("it hangs")

    before = signal.signal(signal.SIGALRM, late)
    signal.alarm(seconds)
    try:
        yield
    finally:
        signal.alarm(0)
        signal.signal(signal.SIGALRM, before)


@posix
def test_a_file_of_two_gigabytes_is_refused_unread(tmp_path, run):
    for name in ("big.toml", "big.svg"):
        with (tmp_path / name).open("wb") as file:
            file.truncate(2 * 10**9)  # a sparse file: it takes no room
    code, _, err = run("check", tmp_path / "big.toml")
    assert code == 2
    assert "has 2,000,000,000 bytes; must have at most 2,000,000" in err
    code, _, err = run("inspect", tmp_path / "big.svg")
    assert code == 2
    assert "has 2,000,000,000 bytes; must have at most 50,000,000" in err


@posix
def test_a_drawing_that_is_a_link_going_round_in_a_circle(tmp_path, run):
    (tmp_path / "top.svg").symlink_to(tmp_path / "top.svg")
    (tmp_path / "p.toml").write_text('[top]\ndrawing = "top.svg"\n')
    code, _, err = run("check", tmp_path / "p.toml")
    assert code == 2
    one_plain_line(err)
    assert "top.drawing" in err


@posix
def test_file_names_that_no_drive_takes(tmp_path, run):
    plan = tmp_path / "p.toml"
    plan.write_text(f'{TOP}{ZONE}[options."{"o" * 200}".a]\nkind = "spiral"\n', encoding="utf-8")
    for told in (
        run("stitch", plan, "--to", tmp_path / ("n" * 300)),
        run("stitch", plan, "--to", tmp_path / "o", "--formats", "svg", "--option", "o" * 200 + "x"),
        run("fill", "channel", "--square", "6", "--to", tmp_path / ("n" * 300 + ".svg")),
        run("check", tmp_path / ("n" * 300 + ".toml")),
        run("inspect", tmp_path / ("n" * 300 + ".dst")),
    ):
        assert told[0] == 2
        one_plain_line(told[2].replace(str(tmp_path), ""))
    odd = os.fsencode(tmp_path) + b"/caf\xe9.toml"
    os.link(plan, odd)
    code, _, err = run("stitch", os.fsdecode(odd), "--to", tmp_path / "o")
    assert code == 2
    assert "is a file name that can't be read as text" in err
    assert not (tmp_path / "o").exists()


def test_what_a_message_repeats_is_short():
    assert shown("a\nb\x1b") == "a�b�"
    assert str(PlanError("is 'a\nb'; must be c", zone="x\ny")) == "zone 'x�y': is 'a b'; must be c"
    long = one_line("is '" + "word " * 1000 + "'; must be shorter")
    assert len(long) < 120
    assert long.endswith("…'; must be shorter")
    assert len(one_line(", ".join(f"name-{k}" for k in range(2000)))) == 700
    with pytest.raises(ValueError, match="must be a length") as fault:
        parse_length("9" * 100_000, "in")
    assert len(str(InputError(str(fault.value)))) < 200
    with pytest.raises(ValueError, match="finite"):
        parse_length(10**400, "in")


def test_names_that_look_like_markup_stand_in_the_table_as_they_are(tmp_path, run):
    names = ["[top]", "[/]", ":smile:", "[red]x[/red]"]
    zones = "".join(
        f'[[zone]]\nname = "{name}"\npatches = ["b-1-{k}"]\n[zone.fill]\nkind = "channel"\nspacing = 1\n'
        for k, name in enumerate(names, 1)
    )
    (tmp_path / "p.toml").write_text(f'[top.blocks]\nsize = 6\nrows = [["b", "b", "b", "b"]]\n{zones}')
    code, out, err = run("stitch", tmp_path / "p.toml", "--to", tmp_path / "o")
    assert (code, err) == (0, "")
    for name in names:
        assert f"\n{name} " in out


def test_a_terminal_without_the_letters_of_a_name(tmp_path):
    wrong = outside("check", "★.toml", cwd=tmp_path, PYTHONIOENCODING="latin-1", LC_ALL="C.UTF-8")
    assert wrong.returncode == 2
    assert wrong.stderr == b"?.toml: is not there. Check the name, or start one with 'plumeline new'.\n"
    (tmp_path / "p.toml").write_text(TOP + ZONE.replace('"a"\np', '"étoile ★"\np'), encoding="utf-8")
    for encoding in ("latin-1", "ascii"):
        done = outside("stitch", "p.toml", "--to", encoding, cwd=tmp_path, PYTHONIOENCODING=encoding, LC_ALL="POSIX")
        assert done.returncode == 0
        assert b"toile" in done.stdout
        assert b"Traceback" not in done.stderr


@linux
def test_a_full_disk_where_the_words_go(tmp_path):
    for arguments in (("fills",), ("--help",)):
        with open("/dev/full", "wb") as full:  # noqa: PTH123 - a device
            done = outside(*arguments, cwd=tmp_path, stdout=full)
        assert done.returncode == 1
        assert done.stderr == b"plumeline: what was to be printed can't be: No space left on device.\n"


@posix
def test_a_reader_that_goes_away_is_no_fault(tmp_path):
    read_end, write_end = os.pipe()
    os.close(read_end)
    done = outside("fills", cwd=tmp_path, stdout=write_end)
    os.close(write_end)
    assert (done.returncode, done.stderr) == (1, b"")


@pytest.fixture
def broken(monkeypatch):
    """A command with a fault of ours in it."""
    fault: list[BaseException] = [ZeroDivisionError("by\nnought")]

    @click.command("fills")
    def command():
        raise fault[0]

    monkeypatch.setattr(type(group), "get_command", lambda *_: command)
    return fault


def test_a_fault_of_ours_is_one_line_that_says_what_to_send(run, broken):
    code, out, err = run("fills")
    assert (code, out) == (1, "")
    one_plain_line(err)
    assert "a fault of the program itself, not of yours (ZeroDivisionError: by nought; test_last_doors.py, line" in err
    assert "Please send us this line, the plan and its drawing" in err
    assert "--trace" in err
    for arguments in (("--trace", "fills"), ("fills", "--trace")):
        code, _, err = run(*arguments)
        assert code == 1
        assert "Traceback (most recent call last)" in err
        assert "Please send us all of this" in err


def test_too_little_memory_is_said(run, broken):
    broken[0] = MemoryError()
    code, _, err = run("fills")
    assert code == 1
    one_plain_line(err)
    assert "Choose wider spacings" in err
