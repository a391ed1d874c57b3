"""Approve what comes out now: write the figures that `test_approved.py` holds everything against.

    python tests/approve.py [GROUP [CASE ...]]

Without a group all are measured, without cases all of the group. Look at the pictures first. Each case is measured
twice, once in a space larger by a billionth: a figure that this changes would differ on another processor too, and is
written as "?", where anything goes.
"""

from __future__ import annotations

import json
import os
import sys
from pathlib import Path

os.environ["PLUMELINE_CACHE"] = ""
sys.path[:0] = [str(Path(__file__).parent), str(Path(__file__).parent.parent / "src")]

import figures  # noqa: E402 - found beside this file
from approved_cases import KEPT, approved, cases  # noqa: E402

NUDGES = (1,)


def main():
    """Measure the cases that are named, or all, and write the file of each group: a line a case."""
    group, names = sys.argv[1] if len(sys.argv) > 1 else "", sys.argv[2:]
    for one in [group] if group else cases():
        kept = approved(one) if names else {}
        found = {n: steady(one, n, case) if not names or n in names else kept[n] for n, case in cases()[one].items()}
        rows = [f"{json.dumps(name)}: {json.dumps(told, separators=(',', ':'))}" for name, told in found.items()]
        KEPT.mkdir(parents=True, exist_ok=True)
        (KEPT / f"{one}.json").write_text("{\n" + ",\n".join(rows) + "\n}\n", encoding="utf-8")


def steady(group, name, case):
    """Return the figures of a case that hold in a space a hair larger too, and say how many do not."""
    found = figures.steady(case(0), [case(nudge) for nudge in NUDGES])
    told = [value for _, value in figures.leaves(found)]
    shaky = told.count(figures.SHAKY)
    print(f"{group}: {name}: {len(told)} figures{f', {shaky} of them shaky' if shaky else ''}", flush=True)
    return found


if __name__ == "__main__":
    main()
