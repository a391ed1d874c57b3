"""From a photo and measured points to the top squared up."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path, PurePath
from typing import Any

import numpy as np

from ..codes import FindingCode
from ..drawing.raster import MOST_PIXELS, Pixels, png_bytes, read_photo
from ..drawing.warping import check_photo_extra, warped
from ..errors import DrawingError
from ..model import Finding
from ..top import MeasuredPoints, SquaredUp, read_points, square_up
from ..units import Unit, format_length

__all__ = ["PX_A_MM", "SQUARED", "PhotoJob", "SquaredPhoto", "part_of_photo", "photo_report", "squared_photo"]

PX_A_MM = 2.0
"""Pixels a millimetre of the squared-up picture: a seam is told to a quarter of one, a king size top fits in memory."""

SQUARED = "squared.png"
"""Name of the squared-up picture."""

MISSED = 0.002
"""A photo that misses more than this share of the top is told of."""

LEAST_MM = 25.4
"""No top is smaller than an inch either way."""


@dataclass(frozen=True, slots=True, eq=False)
class SquaredPhoto:
    """A photo squared up: what it was made from, its camera, and the picture from the top's corner on.

    ``origin``: where the picture's upper left corner lies on the top, mm; ``missed``: share of it that the photo
    does not show.
    """

    name: str
    points: MeasuredPoints
    fit: SquaredUp
    pixels: Pixels
    origin: tuple[float, float]
    missed: float
    findings: tuple[Finding, ...]

    @property
    def size(self) -> tuple[float, float]:
        """Width and height of the picture in mm."""
        rows, cols = self.pixels.shape[:2]
        return cols / PX_A_MM, rows / PX_A_MM

    def png(self) -> bytes:
        """Return the picture as a PNG file that states its true size."""
        return png_bytes(self.pixels, px_a_mm=PX_A_MM)


@dataclass(frozen=True, slots=True, eq=False)
class PhotoJob:
    """A photo that is read and whose camera is known; pictures of it are made as they are asked for."""

    name: str
    photo: Pixels
    points: MeasuredPoints
    fit: SquaredUp

    @classmethod
    def read(cls, photo: str | Path, points: str | Path, *, unit: Unit = "in") -> PhotoJob:
        """Read a photo and its measured points, and fit its camera.

        Raises
        ------
        InputError
            One of them can't be used; the extra ``photo`` is not installed.
        """
        check_photo_extra()
        measured = read_points(points, unit=unit)
        pixels, _ = read_photo(photo)
        rows, cols = pixels.shape[:2]
        return cls(PurePath(photo).name, pixels, measured, square_up(measured, (cols, rows), unit=unit))

    def measured_size(self) -> tuple[float, float]:
        """Return how far to the right and down the points reach, mm."""
        right, down = self.points.places.max(axis=0).tolist()
        return right, down

    def picture(self, size: tuple[float, float], origin: tuple[float, float] = (0.0, 0.0)) -> tuple[Pixels, float]:
        """Return a part of the top, `PX_A_MM`, and the share of it that the photo does not show.

        Parameters
        ----------
        size : (width, height)
            mm; rounded up to whole pixels.
        origin : (right, down)
            Where its upper left corner lies, mm.

        Raises
        ------
        DrawingError
            It would have more pixels than a picture may have.
        """
        cols, rows = (max(1, math.ceil(v * PX_A_MM - 1e-6)) for v in size)
        if cols * rows > MOST_PIXELS:
            raise DrawingError(
                f"would be {cols} x {rows} pixels squared up; must have at most {MOST_PIXELS:,}",
                file=self.points.file,
                what_to_do="Check right and down, and the unit of the numbers (--units).",
            )
        xs, ys = (
            np.arange(0.5, count, dtype=np.float64) / PX_A_MM + first for count, first in zip((cols, rows), origin)
        )
        return warped(self.photo, self.fit.camera.to_photo, (xs, ys))


def squared_photo(job: PhotoJob, *, unit: Unit = "in") -> SquaredPhoto:
    """Return a photo squared up as far as its points reach.

    Raises
    ------
    DrawingError
        The points reach less than an inch, or further than a picture may be.
    """
    size = job.measured_size()
    if min(size) < LEAST_MM:
        across, down = (format_length(v, unit) for v in size)
        raise DrawingError(
            f"has points that reach {across} right and {down} down; must be at least 1 in either way",
            file=job.points.file,
            what_to_do="Check right and down, and the unit of the numbers (--units).",
        )
    return part_of_photo(job, size, (0.0, 0.0))


def part_of_photo(job: PhotoJob, size: tuple[float, float], origin: tuple[float, float]) -> SquaredPhoto:
    """Return a part of the top squared up, from a place on; parameters and errors as of `PhotoJob.picture`."""
    pixels, missed = job.picture(size, origin)
    findings = (*job.fit.findings, *_missed(missed))
    return SquaredPhoto(job.name, job.points, job.fit, pixels, origin, missed, findings)


def _missed(share: float) -> Sequence[Finding]:
    if share <= MISSED:
        return ()
    return (
        Finding(
            FindingCode.PHOTO_MISSES,
            "warning",
            None,
            f"the photo does not show {100 * share:.1f} % of the top; it is white there",
            "Take a photo with the whole top in it, and some of the floor round it.",
        ),
    )


def photo_report(squared: SquaredPhoto, files: Sequence[str]) -> dict[str, Any]:
    """Return what is known of a squared-up photo, for ``--json``; lengths in mm."""
    fit, points = squared.fit, squared.points
    width, height = squared.size
    return {
        "photo": squared.name,
        "points": [
            {
                "number": k + 1,
                "x_px": float(points.pixels[k, 0]),
                "y_px": float(points.pixels[k, 1]),
                "right_mm": float(points.places[k, 0]),
                "down_mm": float(points.places[k, 1]),
                "off_mm": round(float(fit.misses[k]), 3),
                "used": bool(fit.used[k]),
            }
            for k in range(len(points.places))
        ],
        "points_used": int(fit.used.sum()),
        "outliers": [int(k) + 1 for k in np.flatnonzero(~fit.used)],
        "residual_mm": None if math.isnan(fit.residual_mm) else round(fit.residual_mm, 3),
        "radial_term": round(fit.camera.bend, 6),
        "width_mm": width,
        "height_mm": height,
        "pixels_a_mm": PX_A_MM,
        "not_shown_percent": round(100 * squared.missed, 2),
        "findings": [asdict(f) for f in squared.findings],
        "files": list(files),
    }
