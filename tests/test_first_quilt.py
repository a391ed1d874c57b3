"""The first quilt of the documentation, typed as it stands there, in an empty folder: every command does its work."""

from __future__ import annotations

import re
import shlex
import tomllib
from pathlib import Path

PAGE = (Path(__file__).parents[1] / "docs" / "first-quilt.md").read_text(encoding="utf-8")
COMMAND = re.compile(r"^plumeline .+$|(?<=`)plumeline \w[^`]+(?=`)", re.MULTILINE)
ONCE = ("open",)  # it serves the page until it is stopped; tests/test_page_doors.py has it


def test_every_command_of_the_first_quilt_works_in_its_order(run, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    begin, plan, rest = re.split(r"```toml\n(.*?)```", PAGE, flags=re.DOTALL)
    commands = [[shlex.split(c)[1:] for c in COMMAND.findall(text)] for text in (begin, rest)]
    assert [len(part) for part in commands] == [3, 9]  # counted on the page by eye
    for part, text in zip(commands, (None, plan)):
        if text:
            Path("my-top.toml").write_text(text, encoding="utf-8")
        for words in part:
            if words[0] not in ONCE:
                assert (run(*words)[0], words) == (0, words)
    assert tomllib.loads(Path("my-top.toml").read_text(encoding="utf-8")) == tomllib.loads(
        plan
    )  # it was set to another fill and back
    named = re.findall(r"`(?:stitched/)?(my-top[\w-]*\.(?:png|dst|txt))`", PAGE)
    assert len(named) >= 5
    for name in named:
        assert Path("stitched", name).is_file() or Path(name).is_file(), name
