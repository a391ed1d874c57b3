"""How a top lies in a photo: a plane map and one radial term, from points measured on the top.

The plane map takes millimetres of the top to an even picture, the radial term bends that as a lens does:
``bent = even * (1 + k r^2)``, with r the distance from the photo's middle in half diagonals. A lens has more terms than
one; with phone cameras, which straighten their pictures themselves, what one leaves is less than a tape misses.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..geometry import PlaneMap, plane_map
from ..model import FloatArray

__all__ = ["Camera", "fit_camera", "misses_mm", "places_by_numbers"]

TURNS = 12
"""Newton steps that undo the lens: each doubles the digits."""

TRIES = 60
"""Steps of the least squares: good points need ten, and those that fit nothing are refused anyway."""

SOFT_MM = 1.5
"""A point that misses by more than a sixteenth of an inch pulls less than its square."""

MOST_BEND = 0.3
"""No lens that a quilt is photographed with bends the corners of its picture by more than this share."""


@dataclass(frozen=True, slots=True, eq=False)
class Camera:
    """Where points of the top (mm) lie in a photo (pixels), and back.

    Attributes
    ----------
    even : PlaneMap
        From the top to the even picture, in half diagonals of the photo from its middle.
    bend : float
        The radial term; 0 for a picture without one.
    size : (width, height)
        Of the photo, pixels.
    """

    even: PlaneMap
    bend: float
    size: tuple[int, int]

    def to_photo(self, points: FloatArray) -> FloatArray:
        """Return where points of the top, ``(n, 2)``, lie in the photo."""
        u = self.even(points)
        bent = u * (1 + self.bend * (u**2).sum(axis=1, keepdims=True))
        photo: FloatArray = bent * _half_diagonal(self.size) + _middle(self.size)
        return photo

    def to_top(self, pixels: FloatArray) -> FloatArray:
        """Return where pixels of the photo, ``(n, 2)``, lie on the top."""
        return self.even.inverse()(_straightened(_spread(pixels, self.size), self.bend))

    def px_a_mm(self, point: FloatArray) -> tuple[float, float]:
        """Return how many pixels of the even picture a millimetre has near a point: along its short and long way."""
        stretch = np.linalg.svd(self.even.stretch(point), compute_uv=False) * _half_diagonal(self.size)
        return float(stretch[1]), float(stretch[0])


def fit_camera(pixels: FloatArray, places: FloatArray, size: tuple[int, int], *, bends: bool) -> Camera:
    """Return the camera that takes measured places of the top nearest to their pixels.

    Parameters
    ----------
    pixels, places : (n, 2) arrays
        Four or more points of the photo, and where they lie on the top in mm.
    size : (width, height)
        Of the photo.
    bends : bool
        Fit the radial term too; it takes eight points to tell it from the tape.

    Raises
    ------
    ValueError
        The points lie so that no one map is singled out.

    Notes
    -----
    The plane map by direct linear transformation is where least squares on the misses in mm on the top begin, their
    loss soft above `SOFT_MM` so that one bad point does not drag the others.
    """
    spread = _spread(pixels, size)
    start = plane_map(places, spread)
    if not bends:
        if len(pixels) == 4:
            return Camera(start, 0.0, size)
        solved = _solved(start, spread, places, size, 0.0, bends=False)
        return Camera(*solved, size)
    return Camera(*_solved(start, spread, places, size, 0.0, bends=True), size)


def _solved(
    start: PlaneMap, spread: FloatArray, places: FloatArray, size: tuple[int, int], bend: float, *, bends: bool
) -> tuple[PlaneMap, float]:
    from scipy.optimize import least_squares  # slow to load, needed here alone

    back = start.inverse().matrix
    back = back / back[2, 2]
    # coefficients of alike size: those of the horizon are small beside a top's millimetres
    scale = np.maximum(np.abs(back), np.abs(back).max() * np.array([[1e-3] * 3, [1e-3] * 3, [1e-6] * 3])).ravel()[:8]

    def unpacked(x: FloatArray) -> tuple[PlaneMap, float]:
        k = float(np.clip(x[8], -MOST_BEND, MOST_BEND)) if bends else bend
        return PlaneMap(np.append(x[:8] * scale, 1.0).reshape(3, 3)), k

    def misses(x: FloatArray) -> FloatArray:
        to_top, k = unpacked(x)
        off: FloatArray = (to_top(_straightened(spread, k)) - places).ravel()
        return np.where(np.isfinite(off), off, 1e6)

    begin = np.append(back.ravel()[:8] / scale, [bend] if bends else [])
    found = least_squares(
        misses,
        begin,
        loss="soft_l1",
        f_scale=SOFT_MM,
        x_scale="jac",
        xtol=1e-11,
        ftol=1e-11,
        gtol=1e-11,
        max_nfev=TRIES,
    )
    to_top, k = unpacked(found.x)
    return to_top.inverse(), k


def _middle(size: tuple[int, int]) -> FloatArray:
    # pixels are counted by their middles, as a picture program shows them: the first is 0, 0
    return (np.array(size, dtype=np.float64) - 1) / 2


def _half_diagonal(size: tuple[int, int]) -> float:
    return float(np.hypot(*size)) / 2


def _spread(pixels: FloatArray, size: tuple[int, int]) -> FloatArray:
    return (np.asarray(pixels, dtype=np.float64) - _middle(size)) / _half_diagonal(size)


def _straightened(bent: FloatArray, bend: float) -> FloatArray:
    """Return points of the even picture that a lens bends to these."""
    far = np.hypot(*bent.T)
    r = far.copy()
    for _ in range(TURNS):
        slope = 1 + 3 * bend * r**2
        r -= (r * (1 + bend * r**2) - far) / np.where(np.abs(slope) > 0.05, slope, 0.05)
    share: FloatArray = np.where(far > 0, r / np.where(far > 0, far, 1.0), 1.0)
    return bent * share[:, None]


def misses_mm(camera: Camera, pixels: FloatArray, places: FloatArray) -> FloatArray:
    """Return how far each measured point, seen through the camera, lies from where it was measured, mm."""
    off: FloatArray = np.hypot(*(camera.to_top(pixels) - places).T)
    return off


def places_by_numbers(camera: Camera, pixels: FloatArray, *, bends: bool) -> FloatArray:
    """Return how places on the top change with the numbers of a camera, ``(n, 2, 8)``; 9 with the radial term.

    The numbers are the eight of the map from the even picture to the top, its ninth held, then the radial term.
    """
    spread = _spread(pixels, camera.size)
    back = camera.even.inverse()
    matrix = back.matrix / back.matrix[2, 2]
    u = _straightened(spread, camera.bend)
    homogeneous = np.column_stack([u, np.ones(len(u))])
    depth = homogeneous @ matrix[2]
    at = PlaneMap(matrix)(u)
    out: FloatArray = np.zeros((len(u), 2, 9 if bends else 8))
    for axis in (0, 1):
        out[:, axis, 3 * axis : 3 * axis + 3] = homogeneous / depth[:, None]
    out[:, :, 6:8] = -at[:, :, None] * (u / depth[:, None])[:, None, :]
    if bends:
        # u (1 + k r^2) stays where it is as k grows, so u shrinks towards the middle
        far = (u**2).sum(axis=1, keepdims=True)
        moved = -u * far / (1 + 3 * camera.bend * far)
        out[:, :, 8] = ((matrix[:2] @ _flat(moved).T).T - at * (_flat(moved) @ matrix[2])[:, None]) / depth[:, None]
    return out


def _flat(ways: FloatArray) -> FloatArray:
    """Return directions in homogeneous coordinates."""
    return np.column_stack([ways, np.zeros(len(ways))])
