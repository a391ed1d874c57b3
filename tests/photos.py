"""Photos made of tops that are known: a pinhole camera with a lens (OpenCV's), prints, uneven light, noise, JPEG.

The camera is OpenCV's, not ours: pixels come from ``cv2.projectPoints`` and go back through ``cv2.undistortPoints``.
"""

from __future__ import annotations

import io
from dataclasses import dataclass

import cv2
import numpy as np
import resvg_py
from PIL import Image

IN = 25.4


@dataclass(frozen=True)
class Shot:
    """A camera over a top: ``tilt`` and ``turn`` in degrees, lens terms, pixels of the photo."""

    size: tuple[int, int]  # of the photo, px
    middle: tuple[float, float]  # of the top, mm
    reach: float  # longer side of the top, mm
    tilt: tuple[float, float] = (12.0, -8.0)
    turn: float = 3.0
    lens: tuple[float, float] = (-0.06, 0.0)
    fill: float = 0.78

    def __post_init__(self):
        width, height = self.size
        focal = 0.8 * max(width, height)
        object.__setattr__(
            self,
            "matrix",
            np.array([[focal, 0, (width - 1) / 2], [0, focal, (height - 1) / 2], [0, 0, 1.0]]),
        )
        tilt_x, tilt_y, turn = np.radians([*self.tilt, self.turn])
        rx = np.array([[1, 0, 0], [0, np.cos(tilt_x), -np.sin(tilt_x)], [0, np.sin(tilt_x), np.cos(tilt_x)]])
        ry = np.array([[np.cos(tilt_y), 0, np.sin(tilt_y)], [0, 1, 0], [-np.sin(tilt_y), 0, np.cos(tilt_y)]])
        rz = np.array([[np.cos(turn), -np.sin(turn), 0], [np.sin(turn), np.cos(turn), 0], [0, 0, 1]])
        object.__setattr__(self, "rotation", rz @ ry @ rx)
        away = focal * self.reach / (self.fill * min(width, height))
        object.__setattr__(self, "away", np.array([0, 0, away]) - self.rotation @ np.array([*self.middle, 0]))
        object.__setattr__(self, "terms", np.array([*self.lens, 0, 0, 0]))

    def seen(self, places):
        """Pixels of places on the top, mm."""
        flat = np.column_stack([np.asarray(places, float), np.zeros(len(places))])
        return cv2.projectPoints(flat, cv2.Rodrigues(self.rotation)[0], self.away, self.matrix, self.terms)[0][:, 0]

    def places(self, pixels):
        """Places on the top of pixels, mm."""
        even = cv2.undistortPoints(
            np.asarray(pixels, float)[:, None],
            self.matrix,
            self.terms,
            criteria=(cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 60, 1e-12),
        )[:, 0]
        to_top = np.linalg.inv(np.column_stack([self.rotation[:, :2], self.away]))
        rays = np.column_stack([even, np.ones(len(even))]) @ to_top.T
        return rays[:, :2] / rays[:, 2:]


def painted(shapes, size_mm, px_a_mm, floor="#77695c", margin=60.0, lines=""):
    """The top seen from straight above, with some floor: pixels, and where their corner lies."""
    width, height = (v + 2 * margin for v in size_mm)
    body = "".join(
        f'<polygon points="{" ".join(f"{x:.4f},{y:.4f}" for x, y in at)}" fill="{colour}" '
        f'stroke="{colour}" stroke-width=".1"/>'
        for at, colour in shapes
    )
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height}" '
        f'viewBox="{-margin} {-margin} {width} {height}"><rect x="{-margin}" y="{-margin}" width="{width}" '
        f'height="{height}" fill="{floor}"/>{body}{lines}</svg>'
    )
    data = resvg_py.svg_to_bytes(svg_string=svg, width=round(width * px_a_mm))
    return np.asarray(Image.open(io.BytesIO(bytes(data))).convert("RGB")), -margin


def printed(flat, px_a_mm, seed=0, strong=0.22):
    """The same with prints: each colour has dots of its own, darker or lighter, and the weave."""
    rng = np.random.default_rng(seed)
    rows, cols = flat.shape[:2]
    out = flat.astype(np.float32)
    kind = (flat.astype(int).sum(axis=2) // 7) % 3
    for k, (apart, radius) in enumerate(((11.0, 2.2), (17.0, 3.5), (7.0, 1.2))):
        dots = np.zeros((rows, cols), np.float32)
        count = int(rows * cols / (apart * px_a_mm) ** 2)
        at = (rng.uniform(0, 1, (count, 2)) * (cols, rows)).astype(int)
        dots[at[:, 1], at[:, 0]] = rng.choice([-1.0, 1.0], count)
        dots = cv2.GaussianBlur(dots, (0, 0), radius * px_a_mm / 2)
        dots /= np.abs(dots).max()
        out *= np.where(kind == k, 1 + strong * dots, 1.0).astype(np.float32)[..., None]
    return np.clip(out, 0, 255)


def shot_of(flat, px_a_mm, corner, shot, *, shadow=0.35, noise=5.0, quality=85, seed=1, exif=1):
    """The photo's JPEG bytes."""
    width, height = shot.size
    step = 8  # places between are linear: the camera is smooth
    xs, ys = np.arange(0, width + step, step), np.arange(0, height + step, step)
    grid = shot.places(np.stack(np.meshgrid(xs, ys), -1).reshape(-1, 2)).reshape(len(ys), len(xs), 2)
    fine = np.stack(np.meshgrid(np.arange(width) / step, np.arange(height) / step), -1).astype(np.float32)
    at = [cv2.remap(grid[..., k].astype(np.float32), fine, None, cv2.INTER_LINEAR) for k in (0, 1)]
    u, v = ((a - corner) * px_a_mm - 0.5 for a in at)
    source = cv2.GaussianBlur(flat, (0, 0), 0.6)
    seen = cv2.remap(source, u.astype(np.float32), v.astype(np.float32), cv2.INTER_LINEAR, borderValue=(112, 99, 88))
    rng = np.random.default_rng(seed)
    down, right = np.mgrid[0:height, 0:width].astype(np.float32)
    light = 1 - shadow * (0.5 * right / width + 0.5 * down / height)
    edge = (right * 0.8 + down * 0.45) / np.hypot(width, height) * 2.2
    light *= 1 - 0.5 * shadow / (1 + np.exp(-(edge - 1.1) * 18))  # a soft shadow across
    seen = seen * light[..., None] + rng.normal(0, noise, seen.shape).astype(np.float32)
    image = Image.fromarray(np.clip(seen, 0, 255).astype(np.uint8))
    out = io.BytesIO()
    kept = Image.Exif()
    if exif != 1:
        turns = {3: Image.Transpose.ROTATE_180, 6: Image.Transpose.ROTATE_90, 8: Image.Transpose.ROTATE_270}
        image = image.transpose(turns[exif])
        kept[0x0112] = exif
    image.save(out, "JPEG", quality=quality, exif=kept)
    return out.getvalue()


def points_csv(shot, places, *, tap_px=0.0, tape_mm=0.0, seed=2, unit_mm=IN):
    """The text of a file of measured points, tapped and taped with so much error (standard deviation)."""
    rng = np.random.default_rng(seed)
    places = np.asarray(places, float)
    pixels = shot.seen(places) + rng.normal(0, tap_px, places.shape)
    taped = places + rng.normal(0, tape_mm, places.shape)
    rows = [f"{x:.2f},{y:.2f},{r / unit_mm:.5f},{d / unit_mm:.5f}" for (x, y), (r, d) in zip(pixels, taped)]
    return "x_px,y_px,right,down\n" + "\n".join(rows) + "\n"


def corners_and_middles(width, height, inner=None):
    """Eight places: corners and mid-sides; with ``inner`` the corners of a frame so far in as well."""
    at = [
        (0, 0),
        (width / 2, 0),
        (width, 0),
        (width, height / 2),
        (width, height),
        (width / 2, height),
        (0, height),
        (0, height / 2),
    ]
    if inner is not None:
        at += [(inner, inner), (width - inner, inner), (width - inner, height - inner), (inner, height - inner)]
    return np.array(at, float)
