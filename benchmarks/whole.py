"""Whole quilts from plan to files: seconds of processor time a stage, wall time with two workers, peak memory.

Run by hand: ``python benchmarks/whole.py [zones ...]``. Without numbers: the sample quilt, and a top of 108 x 108 in
with 200 zones, a quarter each feather, channel, spiral and meander at 1/2 in, more than 300,000 stitches. With numbers:
a table of how cost grows. Every run asserts what came out.

Measured on one core of a busy machine, top of 200 zones grown with their number:

==================  ======  =======  =======  =======
zones                   50      100      200      400
==================  ======  =======  =======  =======
stitches            87,745  174,874  346,246  713,542
filling, measuring   3.3 s    5.2 s   14.7 s   30.1 s
joining              0.9 s    1.1 s    1.9 s    3.9 s
the report           0.6 s    1.3 s    2.6 s    5.6 s
all, with files      8.7 s   12.1 s   24.4 s   48.8 s
==================  ======  =======  =======  =======
"""

from __future__ import annotations

import resource
import sys
import tempfile
import time
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path

import plumeline
from plumeline.demo import quilt_files
from plumeline.output import find_writer
from plumeline.pipeline.files import files_of

SIDE_IN = 108.0
FILLS = ("feather", "channel", "spiral", "meander")


def large_top(zones: int, folder: Path, side_in: float = SIDE_IN) -> Path:
    """Write drawing and plan of a square top of equal patches, each a zone, and return the plan's place."""
    rows = max(r for r in range(1, zones + 1) if zones % r == 0 and r * r <= 2 * zones)
    cols = zones // rows
    w, h = side_in / cols, side_in / rows
    patches = [
        f'<rect id="{FILLS[(r + c) % 4]}-{r}-{c}" x="{c * w:.6f}" y="{r * h:.6f}" width="{w:.6f}" height="{h:.6f}"/>'
        for r in range(rows)
        for c in range(cols)
    ]
    head = f'<svg xmlns="http://www.w3.org/2000/svg" width="{side_in}in" height="{side_in}in" viewBox="0 0 {side_in} '
    (folder / "large.svg").write_text(f'{head}{side_in}">{"".join(patches)}</svg>')
    spacing = {"feather": 'plume = "1/2"'}
    tables = [
        f'[[zone]]\nname = "{k}"\npatches = ["{k}-*"]\neach = "patch"\n'
        f'[zone.fill]\nkind = "{k}"\n{spacing.get(k, "spacing = 0.5")}'
        for k in FILLS
    ]
    plan = folder / "large.toml"
    plan.write_text('title = "large"\nunits = "in"\n[top]\ndrawing = "large.svg"\n' + "\n".join(tables) + "\n")
    return plan


def timed(work: Callable[[], object]) -> tuple[object, float]:
    """Return what a piece of work gives, and its seconds of processor time."""
    start = time.process_time()
    return work(), time.process_time() - start


def stages(plan: plumeline.Plan) -> tuple[plumeline.Quilt, dict[str, float]]:
    """Stitch with one worker; return the quilt and the processor time of each stage."""
    marks: list[tuple[str, float]] = []

    def tell(stage: str, _done: int, _of: int) -> None:
        if not marks or marks[-1][0] != stage:
            marks.append((stage, time.process_time()))

    # "filling zones" is told when the first zone is filled, which counts with the top
    quilt = plumeline.stitch(plan, progress=tell)
    marks.append(("", time.process_time()))
    return quilt, {name: after - at for (name, at), (_, after) in pairwise(marks)}


def measured(path: Path) -> tuple[plumeline.Quilt, dict[str, float]]:
    """Return the quilt of a plan and the processor time of all stages, the writing of files too."""
    plan, reading = timed(lambda: plumeline.read_plan(path))
    quilt, seconds = stages(plan)
    seconds = {"reading the plan": reading, **seconds}
    dst = find_writer("dst")
    _, seconds["writing dst"] = timed(lambda: dst.write(quilt.points[0], plan.title))
    _, everything = timed(lambda: files_of(quilt, ("dst", "svg")))
    seconds["writing svg, pictures, report"] = everything - seconds["writing dst"]
    return quilt, seconds


def report(path: Path, at_least: int) -> None:
    """Print the stages of one plan, then wall time and memory with two workers."""
    quilt, seconds = measured(path)
    totals = quilt.report["totals"]
    assert totals["stitches"] > at_least
    print(f"{path.stem}: {len(quilt.zones)} zones, {totals['stitches']:,} stitches, {totals['lines']} lines")
    for stage, value in seconds.items():
        print(f"  {stage:<32}{value:7.2f} s")
    print(f"  {'processor time in all':<32}{sum(seconds.values()):7.2f} s")
    start, spent = time.perf_counter(), time.process_time()
    again = plumeline.stitch(plumeline.read_plan(path), workers=2)
    with tempfile.TemporaryDirectory() as folder:
        again.write(folder)
    wall, own = time.perf_counter() - start, time.process_time() - spent
    assert again.report["totals"] == quilt.report["totals"]
    children = resource.getrusage(resource.RUSAGE_CHILDREN)
    print(f"  two workers: {wall:.1f} s by the clock; processor time {own:.1f} s here,", end=" ")
    print(f"{children.ru_utime + children.ru_stime:.1f} s in the workers")
    peak = [resource.getrusage(who).ru_maxrss / 1024 for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    print(f"  peak memory {peak[0]:.0f} MB here, {peak[1]:.0f} MB in a worker")


def growth(counts: list[int]) -> None:
    """Print how the stages grow with the number of zones of one size."""
    rows = []
    with tempfile.TemporaryDirectory() as folder:
        for count in counts:
            path = large_top(count, Path(folder), SIDE_IN * (count / 200) ** 0.5)
            quilt, seconds = measured(path)
            assert len(quilt.zones) == count
            rows.append((count, quilt.report["totals"]["stitches"], seconds))
    print(f"{'zones':<32}" + "".join(f"{count:>10}" for count, _, _ in rows))
    print(f"{'stitches':<32}" + "".join(f"{stitches:>10,}" for _, stitches, _ in rows))
    for stage in rows[0][2]:
        print(f"{stage:<32}" + "".join(f"{seconds[stage]:>8.2f} s" for _, _, seconds in rows))
    print(f"{'in all':<32}" + "".join(f"{sum(seconds.values()):>8.2f} s" for _, _, seconds in rows))


def main(counts: list[int]) -> None:
    """Run what was asked for."""
    if counts:
        growth(counts)
        return
    with tempfile.TemporaryDirectory() as folder:
        for name, text in quilt_files().items():
            (Path(folder) / name).write_text(text)
        report(Path(folder) / "plain-and-star.toml", 80_000)
        report(large_top(200, Path(folder)), 300_000)


if __name__ == "__main__":
    main([int(a) for a in sys.argv[1:]])
