"""Approve what comes out now: write the figures that `test_approved.py` holds everything against.

    python tests/approve.py [GROUP ...]

Look at the pictures first. Each case is measured twice, once in a space larger by a billionth: a figure that this
changes would differ on another processor too, and is written as "?", where anything goes.
"""

from __future__ import annotations

import json
import os
import sys
from pathlib import Path

os.environ["PLUMELINE_CACHE"] = ""
sys.path[:0] = [str(Path(__file__).parent), str(Path(__file__).parent.parent / "src")]

import figures  # noqa: E402 - found beside this file
from approved_cases import KEPT, cases  # noqa: E402

NUDGES = (1,)


def main():
    """Measure the groups that are named, or all, and write a file for each: a line a case."""
    for group in sys.argv[1:] or cases():
        rows = []
        for name, case in cases()[group].items():
            found = figures.steady(case(0), [case(nudge) for nudge in NUDGES])
            told = dict(figures.leaves(found))
            shaky = sum(value == figures.SHAKY for value in told.values())
            print(f"{group}: {name}: {len(told)} figures{f', {shaky} of them shaky' if shaky else ''}", flush=True)
            rows.append(f"{json.dumps(name)}: {json.dumps(found, separators=(',', ':'))}")
        KEPT.mkdir(parents=True, exist_ok=True)
        (KEPT / f"{group}.json").write_text("{\n" + ",\n".join(rows) + "\n}\n", encoding="utf-8")


if __name__ == "__main__":
    main()
