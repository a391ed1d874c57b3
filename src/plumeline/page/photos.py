"""A plan from one photo: squared up from its four corners, which is what it shows behind the lines."""

from __future__ import annotations

import json
import tempfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from ..errors import InputError
from ..pipeline.photo import PhotoJob, squared_photo
from ..units import MM_PER
from .said import bytes_said, length_said, units_said

__all__ = ["photo_plan"]


def photo_plan(name: str, said: Mapping[str, Any]) -> tuple[dict[str, bytes], str]:
    """Return the files of a top that is known from a photo, and its plan.

    Parameters
    ----------
    name : str
        What the files are called.
    said : mapping
        ``photo``: the picture in base 64; ``corners``: where upper left, upper right, lower right and lower left
        corner lie in it, pixels; ``width`` and ``height`` of the top.

    Raises
    ------
    InputError
        One of them can't be used.
    """
    photo = bytes_said(said, "photo")
    units = units_said(said)
    width, height = (length_said(said, key) for key in ("width", "height"))
    corners = said.get("corners")
    if not isinstance(corners, list) or len(corners) != 4 or not all(_is_place(c) for c in corners):
        raise InputError("must be four places in the photo", key="corners")
    places = [(0.0, 0.0), (width, 0.0), (width, height), (0.0, height)]
    rows = [f"{x},{y},{right / MM_PER['in']},{down / MM_PER['in']}" for (x, y), (right, down) in zip(corners, places)]
    with tempfile.TemporaryDirectory(prefix="plumeline-") as folder:
        picture, points = Path(folder) / "photo.jpg", Path(folder) / "points.csv"
        picture.write_bytes(photo)
        points.write_text("\n".join(["x_px,y_px,right,down", *rows]) + "\n", encoding="utf-8")
        squared = squared_photo(PhotoJob.read(picture, points))
    shown = f"{name}-squared.png"
    lines = [
        f"title = {json.dumps(name.replace('-', ' ').capitalize())}",
        f'units = "{units}"',
        "",
        "[top]",
        f"photo = {json.dumps(shown)}",
        "",
        "[[zone]]",
        'name = "top"',
        'patches = ["*"]',
        "",
    ]
    return {shown: squared.png()}, "\n".join(lines)


def _is_place(said: object) -> bool:
    return isinstance(said, list) and len(said) == 2 and all(isinstance(v, (int, float)) for v in said)
