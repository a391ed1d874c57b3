"""Random plans in which every room must agree with the others: report, lines, needle points and files of one quilt.

Run by hand: ``python benchmarks/random_plans.py [plans] [first]``, by default 500 from number 1,000. The checks are
those of ``tests/consistency.py``, which count every figure anew. Prints each plan that disagrees and how many did.
"""

from __future__ import annotations

import sys
import tempfile
import time
import traceback
from pathlib import Path

import plumeline
from plumeline.errors import InputError

sys.path.insert(0, str(Path(__file__).parent.parent / "tests"))
from consistency import check_files, check_report, random_plan


def one(number: int, folder: Path) -> None:
    """Stitch one plan, write its files and check them."""
    (folder / "plan.toml").write_text(random_plan(number), encoding="utf-8")
    quilt = plumeline.stitch(plumeline.read_plan(folder / "plan.toml"))
    check_report(quilt)
    check_files(quilt, folder / "out", quilt.write(folder / "out", formats=["svg", "csv", "dst"]))


def main() -> int:
    """Run them; the exit code is 1 when one disagrees."""
    asked = [int(a) for a in sys.argv[1:]]
    count, first = (asked + [500, 1000][len(asked) :])[:2]
    wrong, refused, begun = 0, 0, time.process_time()
    for number in range(first, first + count):
        with tempfile.TemporaryDirectory() as folder:
            try:
                one(number, Path(folder))
            except InputError as error:
                refused += 1
                print(f"{number}: refused: {error}", flush=True)
            except (AssertionError, ArithmeticError, LookupError, TypeError, ValueError):
                wrong += 1
                print(f"{number}: {traceback.format_exc(limit=-2)}", flush=True)
    print(f"{count} plans: {wrong} disagree, {refused} refused; {time.process_time() - begun:.0f} s of processor time")
    return int(wrong > 0)


if __name__ == "__main__":
    sys.exit(main())
