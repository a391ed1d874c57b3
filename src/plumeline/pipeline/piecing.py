"""From a photo and a plan to the top as pieced."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from ..drawing.raster import Pixels, labels_of
from ..drawing.warping import lab_of
from ..errors import InputError, TopError
from ..geometry import rings, transform
from ..model import Finding, FloatArray, Patch, Photo, Top
from ..output.pieced import pieced_svg, seams_png
from ..plan import Plan
from ..top import (
    BENDS_FROM,
    PLACED_MM,
    PhotoColours,
    SeenSeam,
    as_pieced,
    placed_seams,
    seam_net,
    see_seam,
    sharpened,
)
from ..units import Unit, format_length
from .photo import PX_A_MM, PhotoJob, SquaredPhoto, part_of_photo
from .top import read_top

__all__ = ["PIECED", "SEAMS", "PiecedPhoto", "pieced_photo"]

PIECED, SEAMS = "as-pieced.svg", "seams.png"
"""Names of the drawing of the top as pieced, and of the picture of the seams found."""

FLOOR_MM = 30.0
"""How much of what lies about the top is looked at: as far as its edge is searched for, and its colour."""

LABEL_PX = 1.0
"""Pixels a millimetre in which patches are told apart."""

BLUR_PX = 1.0
"""The photo is smoothed by so much before seams are looked for."""


@dataclass(frozen=True, slots=True, eq=False)
class PiecedPhoto:
    """A photo squared up beside the top as it is pieced; both begin at the pieced top's upper left corner."""

    squared: SquaredPhoto
    patches: tuple[Patch, ...]
    seen: tuple[SeenSeam, ...]
    paths: tuple[FloatArray, ...]
    title: str
    unit: Unit

    def drawing(self) -> bytes:
        """Return the drawing of the top as pieced."""
        return pieced_svg(self.patches, self.squared.size, title=self.title).encode()

    def picture(self) -> bytes:
        """Return the picture of the seams that were found."""
        sure = sum(s.sure for s in self.seen)
        return seams_png(
            Photo(self.squared.pixels, PX_A_MM),
            [(path, "unseen" if not s.seen else "sure" if s.placed else "loose") for path, s in self._each()],
            title=f"{self.title}: {sure} of {len(self.seen)} stretches of seam seen for sure",
            caption=(
                "Blue: seen. Dashed: not seen for sure, taken from the seams about it; measure it if it matters.",
                *self._loose_said(),
            ),
        )

    def _each(self) -> Sequence[tuple[FloatArray, SeenSeam]]:
        return list(zip(self.paths, self.seen, strict=True))

    def _loose_said(self) -> Sequence[str]:
        if all(s.placed for s in self.seen):
            return ()
        far = format_length(PLACED_MM, self.unit)
        return (f"Yellow: seen, but so far from measured points that it may lie more than {far} off.",)

    def seams(self) -> list[dict[str, Any]]:
        """Return what was seen of each stretch, for ``--json``."""
        return [
            {
                "patches": [name for name in (s.stretch.a, s.stretch.b) if name is not None],
                "from_mm": [round(v, 3) for v in path[0].tolist()],
                "to_mm": [round(v, 3) for v in path[-1].tolist()],
                "sure": s.sure,
                "why_unsure": s.why or (None if s.placed else "far from measured points"),
                "may_be_off_mm": round(s.may_be_off_mm, 2) if s.seen else None,
            }
            for path, s in self._each()
        ]


def pieced_photo(job: PhotoJob, plan: Plan) -> PiecedPhoto:
    """Return the top as pieced that a photo and a plan tell of.

    Raises
    ------
    InputError
        Fewer than eight points are used; the photo shows no seam of the plan for sure.
    """
    used = int(job.fit.used.sum())
    if used < BENDS_FROM:
        raise TopError(
            f"has {used} points that can be used; must have {BENDS_FROM} at least to judge seams",
            file=job.points.file,
            what_to_do="Measure the mid-sides too; or leave --plan out and have the picture only.",
        )
    top = read_top(plan)
    colours = _colours(job, top)
    net = seam_net(top)
    seen = [see_seam(stretch, colours) for stretch in net.stretches]
    rows, cols = job.photo.shape[:2]
    try:
        fit = sharpened(job.points, job.fit, (cols, rows), net, seen, plan.units)
        seen = list(placed_seams(seen, job.fit.camera, fit, job.points))
        pieced = as_pieced(top, net, seen, unit=plan.units)
    except InputError as error:
        raise error.at(file=job.name) from None
    bounds = np.array([p.outline.bounds for p in pieced.patches])
    left, upper = bounds[:, :2].min(axis=0).tolist()
    right, lower = bounds[:, 2:].max(axis=0).tolist()
    squared = part_of_photo(replace(job, fit=fit), (right - left, lower - upper), (left, upper))
    shift = np.array([-left, -upper])
    return PiecedPhoto(
        replace(squared, findings=(*squared.findings, *_size_said(top), *pieced.findings)),
        tuple(replace(p, outline=transform(p.outline, np.eye(2), (-left, -upper))) for p in pieced.patches),
        pieced.seen,
        tuple(path + shift for path in pieced.paths),
        plan.title,
        plan.units,
    )


def _size_said(top: Top) -> Sequence[Finding]:
    # what the reading of the plan's top noted is told by `check`; a warning matters here too
    return [found for found in top.findings if found.severity == "warning"]


def _colours(job: PhotoJob, top: Top) -> PhotoColours:
    """Return the photo in even colours with some of the floor, and which patch each spot is by plan."""
    size = (top.size[0] + 2 * FLOOR_MM, top.size[1] + 2 * FLOOR_MM)
    pixels, _ = job.picture(size, (-FLOOR_MM, -FLOOR_MM))
    outlines = [[(ring + FLOOR_MM) * LABEL_PX for ring in rings(p.outline)] for p in top.patches]
    cols, rows = (math.ceil(v * LABEL_PX) for v in size)
    label = labels_of(outlines, (cols, rows))
    lab = lab_of(pixels, blur_px=BLUR_PX)
    return PhotoColours(lab, PX_A_MM, label, LABEL_PX, (-FLOOR_MM, -FLOOR_MM), _fabrics(lab, label, pixels))


def _fabrics(lab: np.ndarray, label: np.ndarray, pixels: Pixels) -> dict[int, FloatArray]:
    """Return the middle colour of each label: half of a patch may lie wrong before it changes."""
    ratio = PX_A_MM / LABEL_PX
    rows = np.minimum(((np.arange(label.shape[0]) + 0.5) * ratio).astype(int), pixels.shape[0] - 1)
    cols = np.minimum(((np.arange(label.shape[1]) + 0.5) * ratio).astype(int), pixels.shape[1] - 1)
    seen = lab[np.ix_(rows, cols)].reshape(-1, 3)
    order = np.argsort(label.ravel(), kind="stable")
    numbers, first = np.unique(label.ravel()[order], return_index=True)
    return {
        int(n): np.median(seen[part], axis=0).astype(np.float64) for n, part in zip(numbers, np.split(order, first[1:]))
    }
