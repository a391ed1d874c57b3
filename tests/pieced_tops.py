"""Tops of squares with known faults of piecing: their plan, the truth, a photo, how far off what is found lies."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import shapely

from photos import Shot, corners_and_middles, painted, points_csv, printed, shot_of
from plumeline import read_plan
from plumeline.pipeline.photo import PhotoJob
from plumeline.pipeline.piecing import pieced_photo

FABRICS = ("#a4523c", "#f1e8d6", "#3f6d70", "#d6a54a", "#7b8f5a", "#5a4a78")


@dataclass(frozen=True)
class Faulty:
    """Squares ``count`` x ``count`` of ``side`` mm: ``corner`` moves, bows, rows' ``step`` aside (mm)."""

    name: str
    count: int = 5
    side: float = 152.4
    corner: dict = field(default_factory=dict)
    across: dict = field(default_factory=dict)  # bow of the seam from corner (r, c) to (r, c + 1), downward
    down: dict = field(default_factory=dict)  # bow of the seam from corner (r, c) to (r + 1, c), to the right
    step: dict = field(default_factory=dict)

    @property
    def size(self):
        return self.count * self.side

    def at(self, r, c, row):
        """The corner as the squares of a row have it: rows may be stepped aside."""
        dx, dy = self.corner.get((r, c), (0.0, 0.0))
        return np.array([c * self.side + dx + self.step.get(row, 0.0), r * self.side + dy])

    def edge(self, r, c, way, row):
        other = (r, c + 1) if way == "across" else (r + 1, c)
        a, b = self.at(r, c, row), self.at(*other, row)
        bow = (self.across if way == "across" else self.down).get((r, c), 0.0)
        t = np.linspace(0, 1, 33)[:, None] if bow else np.array([[0.0], [1.0]])
        aside = np.array([0.0, 1.0]) if way == "across" else np.array([1.0, 0.0])
        return a + t * (b - a) + bow * np.sin(np.pi * t) * aside

    def outline(self, r, c):
        parts = (
            self.edge(r, c, "across", r),
            self.edge(r, c + 1, "down", r),
            self.edge(r + 1, c, "across", r)[::-1],
            self.edge(r, c, "down", r)[::-1],
        )
        return np.vstack([p[:-1] for p in parts])

    def colour(self, r, c):
        if (r, c) in ((1, 1), (1, 2)):
            return FABRICS[1]  # two alike side by side: their seam is not seen
        return FABRICS[(r * 2 + c) % len(FABRICS)]

    def plan(self):
        size = self.size
        rects = "".join(
            f'<rect id="p-{r + 1}-{c + 1}" x="{c * self.side}" y="{r * self.side}" width="{self.side}" '
            f'height="{self.side}" fill="{self.colour(r, c)}"/>'
            for r in range(self.count)
            for c in range(self.count)
        )
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{size}mm" height="{size}mm" '
            f'viewBox="0 0 {size} {size}">{rects}</svg>'
        )

    def shapes(self):
        return [(self.outline(r, c), self.colour(r, c)) for r in range(self.count) for c in range(self.count)]


def faulty_tops(count=5, side=152.4, seed=0):
    """Five tops: skew, bow, steps, one seam 3/8 in out, all of it a little."""
    rng = np.random.default_rng(17 + seed)
    every = [(r, c) for r in range(count + 1) for c in range(count + 1)]
    skew = {(r, c): (4.0 * (r - count / 2) / count * 2, 3.0 * np.sin(c)) for r, c in every}
    bows = {(r, c): float(rng.uniform(-5, 5)) for r, c in every}
    little = {at: tuple(rng.normal(0, 1.3, 2)) for at in every}
    return (
        Faulty("skew", count, side, corner=skew),
        Faulty("bow", count, side, across=bows, down={at: -0.8 * v for at, v in bows.items()}),
        Faulty("steps", count, side, step={2: 3.2, 3: -1.6}),
        Faulty("one seam 3/8 in out", count, side, corner={(2, 3): (9.525, 0.0)}),
        Faulty("all", count, side, corner=little, across={k: v / 2 for k, v in bows.items()}, step={1: 1.6}),
    )


CAMERAS = {
    "above": {"tilt": (4.0, -3.0), "turn": 2.0, "lens": (-0.03, 0.0)},
    "oblique": {"tilt": (16.0, -11.0), "turn": -6.0, "lens": (-0.08, 0.01)},
    "wide, from the side": {"tilt": (-6.0, 22.0), "turn": 4.0, "lens": (0.05, -0.01)},
}


def photographed(
    top, folder, *, camera="oblique", px=(3000, 2250), paint_px=3.0, tap_px=1.5, tape_mm=0.8, noise=6.0, seed=0
):
    """Write photo, points and plan of a top, and return the camera; another seed is another day."""
    size = top.size
    shot = Shot(px, (size / 2, size / 2), size, fill=0.7, **CAMERAS[camera])
    flat, corner = painted(top.shapes(), (size, size), paint_px)
    (folder / "photo.jpg").write_bytes(
        shot_of(printed(flat, paint_px, seed=seed), paint_px, corner, shot, noise=noise, seed=1 + seed)
    )
    # tapes and fingers go to the top as it is: corners and mid-sides of its edge, and corners of an inner square
    n = top.count
    middle = n // 2
    marks = [(0, 0), (0, middle), (0, n), (middle, n), (n, n), (n, middle), (n, 0), (middle, 0)]
    marks += [(1, 1), (1, n - 1), (n - 1, n - 1), (n - 1, 1)]
    places = np.array([top.at(r, c, min(r, n - 1)) for r, c in marks])
    (folder / "points.csv").write_text(
        points_csv(shot, places, tap_px=tap_px, tape_mm=tape_mm, seed=2 + seed, unit_mm=25.4)
    )
    (folder / "planned.svg").write_text(top.plan())
    (folder / "plan.toml").write_text(f'title = "{top.name}"\n[top]\ndrawing = "planned.svg"\n')
    return shot


@dataclass(frozen=True)
class Judged:
    """How far off: points of the grid, the worst of each sure seam, sides of blocks, mm; seams that are not sure.

    ``unsure``: not seen for sure; ``far``: seen, and marked as far from measured points, ``far_good`` of them though
    they lie right; ``wrong``: out by more, and marked as neither.
    """

    points: np.ndarray
    seams: np.ndarray
    unsure: int
    far: int
    far_good: int
    wrong: int
    sides: np.ndarray
    found: object


def judged(top, folder, shot, *, wrong_mm=2.0):
    """Square the photo up, find the seams, and hold both against the truth."""
    job = PhotoJob.read(folder / "photo.jpg", folder / "points.csv")
    found = pieced_photo(job, read_plan(folder / "plan.toml"))
    back = np.asarray(found.squared.origin)
    grid = np.stack(np.meshgrid(np.linspace(0, top.size, 12), np.linspace(0, top.size, 12)), -1).reshape(-1, 2)
    points = np.hypot(*(found.squared.fit.camera.to_top(shot.seen(grid)) - grid).T)
    truth = {
        f"p-{r + 1}-{c + 1}": shapely.LinearRing(top.outline(r, c)) for r in range(top.count) for c in range(top.count)
    }
    off, wrong, far_good = [], 0, 0
    for seen, path in zip(found.seen, found.paths):
        line = shapely.LineString(path + back)
        # a seam lies on the outlines of both its patches; where those are stepped, between them
        own = [truth[n] for n in (seen.stretch.a, seen.stretch.b) if n]
        at = [line.interpolate(s, normalized=True) for s in np.linspace(0.04, 0.96, 24)]
        worst = max(min(ring.distance(p) for ring in own) for p in at)
        if seen.sure:
            off.append(worst)
            wrong += worst > wrong_mm
        far_good += seen.seen and not seen.placed and worst <= wrong_mm
    sides = []
    for patch in found.patches:
        name = patch.name
        x0, y0, x1, y1 = patch.outline.bounds
        tx0, ty0, tx1, ty1 = truth[name].bounds
        sides += [abs((x1 - x0) - (tx1 - tx0)), abs((y1 - y0) - (ty1 - ty0))]
    unsure = sum(not s.seen for s in found.seen)
    far = sum(s.seen and not s.placed for s in found.seen)
    return Judged(points, np.array(off), unsure, far, far_good, wrong, np.array(sides), found)


__all__ = ["CAMERAS", "Faulty", "corners_and_middles", "faulty_tops", "judged", "photographed"]
