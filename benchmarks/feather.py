"""Feathers of the table, and random zones: run by hand, ``python benchmarks/feather.py [--random 1000]``.

Prints for each zone what must be nothing (line outside, crossings, jumps), what should be little (backtrack, widest gap
between plumes, slim plumes, dense spots), and the time of one core; asserts what must be nothing.
"""

from __future__ import annotations

import argparse
import sys
import time
from itertools import pairwise
from pathlib import Path

import numpy as np
from scipy.spatial import cKDTree

sys.path.insert(0, str(Path(__file__).parent.parent / "tests"))

from shapely import Polygon, transform

from feathers import FEATHERS, growth, side_figures, through_the_middle
from plumeline.fills.feather import FILL
from plumeline.fills.feather.grow import grow, make_ground
from plumeline.fills.feather.growth import Grown, Growth
from plumeline.fills.feather.layout import lay_out
from plumeline.fills.feather.rows import draw_row
from plumeline.fills.feather.settings import FeatherSettings
from plumeline.geometry import close_ring, contains, outside_mm, path_length, resample, rings, self_crossings
from shapes import IN, polygon, random_regions, rectangle, ring, star, zone

STYLES = ("bump-back", "apart")


def once(feather: Growth, style: str) -> tuple[Grown, float]:
    """One feather and its milliseconds of processor time."""
    start = time.process_time()
    result = grow(feather, FeatherSettings(style=style), rng=np.random.default_rng(1))
    return result, 1e3 * (time.process_time() - start)


def must_be_nothing(feather: Growth, result: Grown) -> tuple[float, int, float]:
    """Millimetres outside, crossings, widest jump."""
    paths = [s.path for s in result.strokes]
    stitched = [s.path for s in result.strokes if s.role == "stitch"]
    jump = max((float(np.abs(a[-1] - b[0]).max()) for a, b in pairwise(paths)), default=0.0)
    return outside_mm(paths, feather.region, tolerance_mm=0.02), len(self_crossings(stitched)), jump


def densest_inch(paths: list[np.ndarray]) -> float:
    """Most inches of line within any circle 1 in across, per square inch."""
    points = np.vstack([resample(p, 0.5) for p in paths])
    found = cKDTree(points).query_ball_point(points[::8], IN / 2, return_length=True)
    return float(max(found) * 0.5 / IN / (np.pi / 4))


def table(style: str) -> None:
    """Print the table of one style."""
    print(f"\n{style}\n{'zone':14}  N out  x jump  bt% cover% gap/w  l:w >4:1% dense  skip   ms")
    for name, feather in FEATHERS.items():
        runs = [once(feather, style) for _ in range(5)]
        result, ms = runs[0][0], float(np.median([r[1] for r in runs]))
        out, crossed, jump = must_be_nothing(feather, result)
        assert out == 0 and crossed == 0 and jump == 0, name
        paths = [s.path for s in result.strokes]
        total = sum(map(path_length, paths))
        back = sum(path_length(s.path) for s in result.strokes if s.role == "backtrack")
        ratio = np.array([p.length_mm / p.width_mm for p in result.plumes])
        width = float(np.mean([p.width_mm for p in result.plumes]))
        gap = widest_between(feather, result, paths)
        print(
            f"{name:14}{len(ratio):3}{out:4.1f}{crossed:3}{jump:5.1f}{100 * back / total:5.0f}"
            f"{100 * result.silhouette.area / feather.region.area:7.0f}{gap / width:6.2f}{np.median(ratio):5.2f}"
            f"{100 * (ratio > 4).mean():7.0f}{densest_inch(paths):6.1f}{result.skipped:6}{ms:5.0f}"
        )


def widest_between(feather: Growth, result: Grown, paths: list[np.ndarray]) -> float:
    """Diameter of the widest circle between plumes and edge, mm (to about 1 mm)."""
    left, top, right, bottom = feather.region.bounds
    grid = np.stack(np.meshgrid(np.arange(left, right), np.arange(top, bottom)), axis=-1).reshape(-1, 2)
    grid = grid[contains(feather.region, grid) & ~contains(result.silhouette, grid)]
    around = [*paths, *(close_ring(r) for r in rings(feather.region))]
    far, _ = cKDTree(np.vstack([resample(p, 0.5) for p in around])).query(grid)
    return float(2 * far.max())


def random_zones(count: int, style: str) -> None:
    """Grow feathers in random zones along their longest chord and print what went wrong."""
    plumes = skipped = refused = zones = 0
    times, bad = [], []
    for number, region in enumerate(random_regions(count, seed=2026, holes=False)):
        spine = through_the_middle(region)
        if spine is None:
            continue
        feather = growth(region, spine / IN * [1, -1])
        result, ms = once(feather, style)
        zones += 1
        times.append(ms)
        plumes += len(result.plumes)
        skipped += result.skipped
        refused += not result.strokes
        out, crossed, jump = must_be_nothing(feather, result)
        if out or crossed or jump:
            bad.append((number, round(out, 2), crossed, jump))
    print(
        f"\n{style}: {zones} random zones, {plumes} plumes, {skipped} left out, {refused} zones refused; "
        f"zones with line outside, crossings or jumps: {bad or 'none'}; "
        f"ms median {np.median(times):.0f}, 95 % {np.percentile(times, 95):.0f}, most {max(times):.0f}"
    )


def letter(which: str, high: float = 12.0) -> Polygon:
    """Return a bold capital of DejaVu Sans, so many inches high."""
    from matplotlib.font_manager import FontProperties
    from matplotlib.textpath import TextPath

    rings_ = TextPath((0, 0), which, size=100, prop=FontProperties(family="DejaVu Sans", weight="bold")).to_polygons()
    out = Polygon()
    for part in sorted((Polygon(r) for r in rings_ if len(r) > 3), key=lambda p: -p.area):
        out = out.difference(part) if out.contains(part.representative_point()) else out.union(part)
    scale = high * IN / (out.bounds[3] - out.bounds[1])
    return transform(out, lambda p: p * [scale, -scale])


def coast(seed: int, wide: float, rough: float) -> Polygon:
    """Return an island of 600 points whose outline is rough at every size."""
    rng = np.random.default_rng(seed)
    angle, radius = np.linspace(0, 2 * np.pi, 600, endpoint=False), np.ones(600)
    for k in range(2, 60):
        radius += 0.6 * rough / k**1.3 * rng.normal() * np.cos(k * angle + rng.uniform(0, 6.3))
    radius = np.clip(radius, 0.25, 2) * wide * IN / 2.4
    shape = Polygon(np.column_stack([radius * np.cos(angle), 0.8 * radius * np.sin(angle)])).buffer(0)
    return max(getattr(shape, "geoms", [shape]), key=lambda part: part.area)


def shapes_by_name() -> dict[str, Polygon]:
    """Blocks, letters, coasts and pieced spaces."""
    block, frame = rectangle(12, 12), rectangle(40, 52)
    hole = transform(rectangle(28, 40), lambda p: p + 6 * IN)
    return {
        "square 12": block,
        "triangle 17": polygon([(0, 0), (17, 0), (8.5, 8.5)]),
        "border 6": frame.difference(hole),
        "wreath": ring(7, 3),
        "star of 8": star(8, 9, 4),
        **{f"letter {c}": letter(c) for c in "LTASERKQ"},
        **{f"coast {k}": coast(k, wide, rough) for k, wide, rough in ((1, 12, 0.5), (2, 12, 0.9), (3, 16, 0.9))},
        **{f"random {k}": region for k, region in enumerate(random_regions(15, seed=99))},
    }


def looks() -> None:
    """Print how plumes look in foreign shapes: sticks, angles at the spine, turning, neighbours, density."""
    print(f"\n{'shape':14} plumes lines stick% base 15-35% turn 40-90% width>1.43% >4:1% dense  x  out   ms")
    for name, region in shapes_by_name().items():
        settings, space = FeatherSettings(), zone(region)
        start = time.process_time()
        filled = FILL.draw(space, settings, rng=np.random.default_rng(3), tolerance_mm=0.05)
        ms = 1e3 * (time.process_time() - start)
        grounds = [make_ground(g, settings) for group in lay_out(space, settings).groups for g in group.growths]
        rows = [
            (draw_row(g.bed, chart, settings, np.random.default_rng(3)), g.bed.spine)
            for g in grounds
            if g is not None
            for chart in g.charts
        ]
        away, slim, base, turn = np.vstack([side_figures(row, spine) for row, spine in rows]).T
        widths = [np.array([p.width_mm for p in row.plumes if p.side != "tip"]) for row, _ in rows]
        unlike = np.concatenate([np.abs(np.diff(np.log(w))) > np.log(1 / 0.7) for w in widths])
        ratio = np.array([p.length_mm / p.width_mm for row, _ in rows for p in row.plumes])
        paths = [s.path for s in filled.strokes]
        crossed = len(self_crossings([s.path for s in filled.strokes if s.role == "stitch"]))
        print(
            f"{name:14}{len(ratio):7}{len({s.chain for s in filled.strokes}):6}"
            f"{100 * ((away < 0.05) & (slim > 2)).mean():7.0f}{100 * ((base >= 15) & (base <= 35)).mean():12.0f}"
            f"{100 * ((turn >= 40) & (turn <= 90)).mean():12.0f}{100 * unlike.mean():12.0f}"
            f"{100 * (ratio > 4).mean():6.0f}"
            f"{densest_inch(paths):6.1f}{crossed:3}{outside_mm(paths, region, tolerance_mm=0.02):5.1f}{ms:6.0f}"
        )


def main() -> None:
    """Print both tables, how plumes look in foreign shapes, and random zones when asked."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--random", type=int, default=0)
    count = parser.parse_args().random
    for style in STYLES:
        table(style)
    looks()
    for style in STYLES if count else ():
        random_zones(count, style)


if __name__ == "__main__":
    main()
