"""Time tops from shapes: straight, wandering and curved patches; and that cost grows no faster than n log n.

Run by hand: ``python benchmarks/top.py``. Each time is the least of three, in seconds of processor time; the result is
checked against the counts of the grid.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable

import numpy as np

from plumeline.drawing import Shape
from plumeline.model import Top, as_path
from plumeline.top import assemble, crooked_seams

IN = 25.4


def least_time(work: Callable[[], Top]) -> tuple[float, Top]:
    """Return the least processor time of three runs, and the result."""
    times = []
    for _ in range(3):
        start = time.process_time()
        top = work()
        times.append(time.process_time() - start)
    return min(times), top


def grid(rows: int, columns: int, wander_mm: float) -> list[Shape]:
    """Return 3 in squares whose corners wander."""
    rng = np.random.default_rng(1)
    square = np.array([(0, 0), (1, 0), (1, 1), (0, 1)])
    return [
        Shape(f"p-{r}-{c}", as_path((square + np.array([c, r])) * 3 * IN + rng.uniform(-wander_mm, wander_mm, (4, 2))))
        for r in range(rows)
        for c in range(columns)
    ]


def arc(p: tuple[int, int], q: tuple[int, int], points: int) -> np.ndarray:
    """Return a bowed line without its last point."""
    a, b = np.array(p, dtype=float), np.array(q, dtype=float)
    t = np.linspace(0, 1, points)[:-1, None]
    return a + (b - a) * t + np.array([a[1] - b[1], b[0] - a[0]]) * 0.6 * t * (1 - t)


def orange_peel(n: int) -> list[Shape]:
    """``2 n (n + 1)`` melons round ``n * n`` grounds, the two sides of each seam drawn with different points."""
    shapes = []
    for r in range(n + 1):
        for c in range(n + 1):
            for tag, end in (("across", (c + 1, r)), ("down", (c, r + 1))):
                if max(end) <= n:
                    ring = np.vstack([arc((c, r), end, 14), arc(end, (c, r), 14)])
                    shapes.append(Shape(f"melon-{tag}-{r}-{c}", as_path(ring * 4 * IN)))
    for r in range(n):
        for c in range(n):
            q = [(c, r), (c + 1, r), (c + 1, r + 1), (c, r + 1)]
            ring = np.vstack([arc(q[k], q[(k + 1) % 4], 11) for k in range(4)])
            shapes.append(Shape(f"ground-{r}-{c}", as_path(ring * 4 * IN)))
    return shapes


def main() -> None:
    """Time, check, print."""
    seconds = {}
    for rows, columns in ((10, 25), (20, 25), (40, 50)):
        for wander in (0.0, 0.25):
            shapes = grid(rows, columns, wander)
            seconds[rows * columns, wander], top = least_time(lambda shapes=shapes: assemble(shapes))
            assert len(top.patches) == rows * columns
            assert sum(s.b is not None for s in top.seams) == rows * (columns - 1) + columns * (rows - 1)
            print(f"{rows * columns:5d} squares, wandering {wander} mm: {seconds[rows * columns, wander]:.3f} s")
    growth = seconds[2000, 0.25] / seconds[250, 0.25]
    assert growth < 2 * 8 * math.log(2000) / math.log(250), f"8 times the patches took {growth:.1f} times as long"
    peel = orange_peel(12)
    took, top = least_time(lambda: assemble(peel))
    assert sum(s.b is not None for s in top.seams) == 4 * 12 * 12
    print(f"{len(peel):5d} curved patches, {sum(len(s.shell) for s in peel)} points: {took:.3f} s")
    start = time.process_time()
    assert crooked_seams(top) == []
    print(f"      straightness of its {len(top.seams)} seams: {time.process_time() - start:.3f} s")


if __name__ == "__main__":
    main()
