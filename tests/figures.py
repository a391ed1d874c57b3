"""Figures of anything: what came out, in so few numbers and words that they can be kept and held against it later.

Lengths, places and turns of lines; areas and middles of shapes; the mean grey of a picture in 16 x 16 fields; words as
they are, with the numbers in them apart. No hash of numbers: another processor rounds otherwise.
"""

from __future__ import annotations

import dataclasses
import io
import re
import zlib
from collections import Counter
from collections.abc import Mapping
from enum import Enum
from pathlib import Path

import numpy as np
import pypdfium2
import shapely
from PIL import Image

FEW = 3
"""So many of a kind are told one by one; of more, how many they are and their sums."""
WAVE_MM = 17.0
"""A line is held against a wave of this length across the page: it tells lines apart whose middles are the same."""
GRID = 16
RELATIVE, ABSOLUTE = 2e-5, 2e-5
"""How near two figures must be: 20 to a million of their size. Rounding alone moves them a thousand times less."""
NUMBER = re.compile(r"(?<![\w#])-?\d+\.?\d*(?:e[-+]?\d+)?")
SHORT = 40


def of(thing):
    """Return the figures of a thing: nested tables and lists of numbers and words, as JSON holds them."""
    if thing is None or isinstance(thing, (bool, int, str, float)):
        return words(thing) if isinstance(thing, str) else number(thing)
    if isinstance(thing, Enum):
        return thing.name
    if isinstance(thing, np.generic):
        return of(thing.item())
    if isinstance(thing, np.ndarray):
        lines = thing.ndim == 2 and thing.shape[1] == 2 and len(thing) > 1
        return line(thing) if lines and thing.dtype.kind == "f" else array(thing)
    if isinstance(thing, shapely.Geometry):
        return shape(thing)
    if isinstance(thing, Image.Image):
        return picture(thing)
    if isinstance(thing, Mapping):
        return {str(key): of(value) for key, value in thing.items()}
    if dataclasses.is_dataclass(thing):
        return {field.name: of(getattr(thing, field.name)) for field in dataclasses.fields(thing)}
    if isinstance(thing, (tuple, list)):
        return several([of(one) for one in thing])
    if isinstance(thing, Path):
        return thing.name
    raise TypeError(f"no figures of {type(thing).__name__}")


def number(value):
    """Return a number to eight figures; what is not finite as a word."""
    if isinstance(value, float):
        return float(f"{value:.8g}") if np.isfinite(value) else str(value)
    return value


def array(values):
    """How many numbers, their sum, and their sum when each counts more the later it comes."""
    values = np.asarray(values, dtype=float).ravel()
    values = values[np.isfinite(values)]
    later = np.modf(np.arange(1, len(values) + 1) * 0.6180339887)[0]  # weights that repeat nowhere
    return [len(values), number(float(values.sum())), number(float(values @ later))]


def line(points):
    """Points, length, middle, second moments, largest turn, and the sum over a wave across the page."""
    points = np.asarray(points, dtype=float)
    legs = np.diff(points, axis=0)
    long = np.hypot(*legs.T)
    middles = (points[1:] + points[:-1]) / 2
    whole = max(float(long.sum()), 1e-12)
    centre = long @ middles / whole
    away = middles - centre
    legs = legs[long > 1e-9]
    turns = np.abs(np.diff(np.unwrap(np.arctan2(legs[:, 1], legs[:, 0]))))
    figures = {
        "points": len(points),
        "length": whole,
        "x": centre[0],
        "y": centre[1],
        "xx": np.sqrt(long @ away[:, 0] ** 2 / whole),
        "yy": np.sqrt(long @ away[:, 1] ** 2 / whole),
        "turn": np.degrees(turns.max(initial=0.0)),
        "turned": np.degrees(turns.sum()),
        "wave": long @ np.cos(middles @ (2.0, 1.0) / WAVE_MM),
    }
    return {key: number(float(value)) if key != "points" else value for key, value in figures.items()}


def shape(geometry):
    """Area, middle, and the figures of its rings as lines."""
    rings = [np.asarray(shapely.get_coordinates(part)) for part in _rings(geometry)]
    centre = geometry.centroid
    found = {"area": number(geometry.area), "rings": several([line(ring) for ring in rings if len(ring) > 1])}
    return found | ({} if geometry.is_empty else {"x": number(centre.x), "y": number(centre.y)})


def _rings(geometry):
    for part in getattr(geometry, "geoms", [geometry]):
        yield from (part.exterior, *part.interiors) if part.geom_type == "Polygon" else (part,)


def picture(image):
    """Size and mean grey of 16 x 16 fields, row by row, in steps of 1/10 of 1 in 255."""
    seen = image.convert("RGBA")
    flat = Image.alpha_composite(Image.new("RGBA", seen.size, "white"), seen).convert("L")
    fields = np.asarray(flat.resize((GRID, GRID), Image.Resampling.BOX), dtype=float)
    colours = np.asarray(seen.resize((2, 2), Image.Resampling.BOX), dtype=float)
    return {"size": list(image.size), "grey": grey(fields), "colours": grey(colours.reshape(4, -1))}


def grey(fields):
    """One word a row: two hexadecimal digits a field. `differences` allows a field to be a step off."""
    return [f"#grey {''.join(f'{round(value):02x}' for value in row)}" for row in fields]


def several(figures):
    """Few one by one; of many, how many, and of each figure in them how often, its sum, and its sum by place."""
    if len(figures) <= FEW:
        return figures
    columns = {}
    for one in figures:
        for key, value in leaves(one):
            columns.setdefault(key, []).append(value)
    return {"many": len(figures)} | {key: _column(values) for key, values in sorted(columns.items())}


def _column(values):
    told = Counter(str(v) for v in values)
    if len(told) == 1:
        return [len(values), values[0]]
    if all(isinstance(v, (int, float)) and not isinstance(v, bool) for v in values):
        return array(values)
    placed = zlib.crc32("\n".join(str(v) for v in values).encode())
    return {"words": dict(sorted(told.items())) if len(told) <= 8 else len(told), "in order": f"{placed:08x}"}


def words(text):
    """Short words as they are; of long text each line, or of many lines a check of the words, and the numbers apart."""
    if len(text) < 200 and "\n" not in text:
        return text
    numbers = [float(found) for found in NUMBER.findall(text)]
    rows = NUMBER.sub("#", text).splitlines()
    said = (
        rows
        if len(rows) <= SHORT and len(text) < 4000
        else [len(rows), f"{zlib.crc32(chr(10).join(rows).encode()):08x}"]
    )
    blocks = np.array_split(np.array(numbers), max(1, min(12, len(numbers) // 12)))
    return {"words": said, "numbers": [array(block) for block in blocks]}


def leaves(figures, key=""):
    """Yield every number and word of nested figures with the way to it."""
    if isinstance(figures, Mapping):
        for name, value in figures.items():
            yield from leaves(value, f"{key}.{name}" if key else str(name))
    elif isinstance(figures, list):
        for place, value in enumerate(figures):
            yield from leaves(value, f"{key}.{place}")
    else:
        yield key, figures


def of_picture(suffix, data):
    """Return the figures of a PNG, or of the pages of a PDF."""
    if suffix == ".png":
        return picture(Image.open(io.BytesIO(data)))
    pages = pypdfium2.PdfDocument(data)
    return [
        {"text": words(page.get_textpage().get_text_bounded())} | picture(page.render(scale=0.75).to_pil())
        for page in pages
    ]


def same(a, b):
    """Whether two figures are the same but for rounding."""
    if isinstance(a, str) and isinstance(b, str) and a.startswith("#grey ") and len(a) == len(b):
        rows = [np.array(list(bytes.fromhex(row[6:])), dtype=float) for row in (a, b)]
        return bool(np.abs(rows[0] - rows[1]).max() <= 1)
    if isinstance(a, bool) or isinstance(b, bool) or not isinstance(a, (int, float)) or not isinstance(b, (int, float)):
        return a == b
    if isinstance(a, int) and isinstance(b, int):
        return a == b
    return abs(a - b) <= RELATIVE * max(abs(a), abs(b)) + ABSOLUTE


def differences(was, now):
    """Return what differs between figures kept and figures found: the way to it, what it was, what it is."""
    old, new = dict(leaves(was)), dict(leaves(now))
    shaky = {key for key, value in old.items() if value == SHAKY}
    return [
        (key, old.get(key, "nothing"), new.get(key, "nothing"))
        for key in [*old, *(k for k in new if k not in old)]
        if key not in shaky and not (key in old and key in new and same(old[key], new[key]))
    ]


SHAKY = "?"
"""Stands for a figure that changes when the space is larger by a millionth of a millimetre: anything goes there."""


def steady(first, others):
    """Return figures with `SHAKY` in place of each that is not the same in the others, of a space a hair larger."""
    shaky = {key for other in others for key, *_ in differences(first, other)}
    return _without(first, shaky, "")


def _without(figures, shaky, key):
    if isinstance(figures, Mapping):
        return {n: _without(v, shaky, f"{key}.{n}" if key else str(n)) for n, v in figures.items()}
    if isinstance(figures, list):
        return [_without(v, shaky, f"{key}.{place}") for place, v in enumerate(figures)]
    return SHAKY if key in shaky else figures
