"""A million needle points from polylines, and stitch files of 300,000 and a million.

Run by hand: ``python benchmarks/stitches.py``. It asserts what it times.
"""

from __future__ import annotations

import time

import numpy as np

from plumeline.model import Batting, Line, Machine, NeedlePoints, Span, as_path
from plumeline.output import Sheet, find_writer
from plumeline.stitches import machine_plan, stitch_lines

MACHINE = Machine(trimmer=True)


def waves(count: int) -> list[Line]:
    """Lines of about 1.3 m each, 1,250 vertices, with a backtracked stretch."""
    x = np.linspace(0, 1000, 1250)
    spans = (
        Span(0, 600, "stitch", 0, zone=0),
        Span(600, 700, "backtrack", 0, zone=0),
        Span(700, 1249, "stitch", 1, zone=1),
    )
    return [Line(as_path(np.column_stack([x, 10 * np.sin(x / 8) + 3 * i])), spans) for i in range(count)]


def timed(work, *args, repeat: int = 3):
    """Return the result and the least processor time of a few runs, the first one (page faults) left out."""
    result, best = work(*args), float("inf")
    for _ in range(repeat):
        start = time.process_time()
        result = work(*args)
        best = min(best, time.process_time() - start)
    return result, best


def stitched(lines: list[Line]) -> NeedlePoints:
    """Return their needle points."""
    return stitch_lines(lines, MACHINE, names=["a", "b"])


def main() -> None:
    """Print a table."""
    took = {}
    for count in (125, 500, 2000):
        lines = waves(count)
        points, took[count] = timed(stitched, lines)
        stitches = int((points.kind == 0).sum())
        step = np.hypot(*np.diff(points.xy[(points.line == 0) & (points.kind == 0)], axis=0).T)
        assert step[1:].max() <= 1.2 * MACHINE.stitch_mm, "a stitch is too long"
        print(f"needle points {stitches:9,d}  {took[count]:6.3f} s  {took[count] / stitches * 1e6:5.2f} s a million")
    assert stitches > 1_000_000
    assert took[2000] < 0.8, "a million needle points must take less than 0.8 s warm"
    assert took[2000] < 1.6 * 4 * took[500], "cost must not grow faster than n log n"
    plan, seconds = timed(machine_plan, [points], MACHINE, Batting())
    assert plan.lines == 2000
    print(f"machine plan  {plan.stitches:9,d}  {seconds:6.3f} s")
    for count in (600, 2000):
        lines = waves(count)
        points = stitched(lines)
        for name in ("dst", "exp", "csv"):
            writer = find_writer(name)
            data, seconds = timed(writer.write, points, "waves", repeat=1)
            back = writer.read(data)
            assert int((back.kind <= 1).sum()) == int((points.kind <= 1).sum())
            print(f"{name} {len(points.kind):19,d}  {seconds:6.3f} s  {len(data) / 1e6:5.1f} MB")
        sheet = Sheet(title="waves", names=("a", "b"), lines=lines)
        data, seconds = timed(find_writer("svg").write, sheet, repeat=1)
        print(f"svg {count * 1250:19,d}  {seconds:6.3f} s  {len(data) / 1e6:5.1f} MB (vertices)")


if __name__ == "__main__":
    main()
