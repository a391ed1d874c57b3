"""How far a place of a squared-up photo may be out, by the points that it was squared up from.

To first order: the covariance of the camera's numbers from the least squares on the measured points, carried to any
place of the photo. So a place far from every point is told less surely than one between them, and points that fit
badly make every place less sure.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..model import FloatArray
from .camera import Camera, places_by_numbers

__all__ = ["CameraDoubt", "camera_doubt"]

SLIP_MM, SLIP_COUNT = 1.0, 8
"""What tape and finger miss by each way, and how many misses that knowledge counts as: a few points that happen to fit
well are no sharper than a tape."""


@dataclass(frozen=True, slots=True, eq=False)
class CameraDoubt:
    """The doubt about a camera: ``spread`` ``(k, k)`` is the covariance of its numbers, mm squared; ``free`` misses."""

    camera: Camera
    spread: FloatArray
    free: int
    bends: bool

    def across(self, places: FloatArray, ways: FloatArray) -> FloatArray:
        """Return the standard deviation of places of the top along given ways, mm.

        Parameters
        ----------
        places : (n, 2) array
            Where the camera puts them on the top, mm.
        ways : (n, 2) array
            Unit vectors.

        Returns
        -------
        (n,) array
        """
        by = places_by_numbers(self.camera, self.camera.to_photo(places), bends=self.bends)
        along = (by * np.asarray(ways, dtype=np.float64)[:, :, None]).sum(axis=1)
        out: FloatArray = np.sqrt(np.einsum("ni,ij,nj->n", along, self.spread, along))
        return out


def camera_doubt(camera: Camera, pixels: FloatArray, misses: FloatArray, *, bends: bool) -> CameraDoubt:
    """Return the doubt about a camera that was fitted to measured points.

    Parameters
    ----------
    camera : Camera
        Of `fit_camera` on the same points.
    pixels : (n, 2) array
        More than four points, or nothing is left over to tell how well they fit.
    misses : (n,) array
        How far each lies from where it was measured, mm.
    bends : bool
        The radial term was fitted too.
    """
    by = places_by_numbers(camera, pixels, bends=bends)
    rows = by.reshape(-1, by.shape[2])
    scale = np.linalg.norm(rows, axis=0)  # millimetres and their inverses differ by orders of magnitude
    free = len(rows) - rows.shape[1]
    variance = (float((misses**2).sum()) + SLIP_COUNT * SLIP_MM**2) / (free + SLIP_COUNT)
    even = rows / scale
    spread = variance * np.linalg.inv(even.T @ even) / np.outer(scale, scale)
    return CameraDoubt(camera, spread, free + SLIP_COUNT, bends)
