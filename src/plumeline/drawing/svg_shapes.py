"""The basic shapes of SVG as path data."""

from __future__ import annotations

from typing import TYPE_CHECKING

from .transforms import length_px
from .xml_file import tag_of

if TYPE_CHECKING:
    from xml.etree.ElementTree import Element

__all__ = ["path_data_of"]


def path_data_of(element: Element, view: tuple[float, float]) -> str:
    """Return any drawn element as path data; ``view`` is the width and height that percentages are of.

    Raises
    ------
    ValueError
        A length is none.
    """
    across = (view[0] ** 2 + view[1] ** 2) ** 0.5 / 2**0.5
    wholes = {"x": view[0], "y": view[1], "r": across}
    sides = {"cx": "x", "cy": "y", "x1": "x", "x2": "x", "y1": "y", "y2": "y", "width": "x", "height": "y"}
    sides |= {"rx": "x", "ry": "y"}

    def get(key: str) -> float:
        return length_px(element.get(key), whole=wholes[sides.get(key, key)])

    match tag_of(element):
        case "path":
            return element.get("d", "")
        case "line":
            return f"M{get('x1')!r} {get('y1')!r}L{get('x2')!r} {get('y2')!r}"
        case "polyline" | "polygon" as tag:
            points = element.get("points", "").strip()
            return f"M{points}{'Z' if tag == 'polygon' else ''}" if points else ""
        case "circle":
            return _ellipse(get("cx"), get("cy"), get("r"), get("r"))
        case "ellipse":
            return _ellipse(get("cx"), get("cy"), get("rx"), get("ry"))
        case _:
            return _rectangle(element, get("x"), get("y"), get("width"), get("height"))


def _ellipse(x: float, y: float, rx: float, ry: float) -> str:
    if rx <= 0 or ry <= 0:
        return f"M{x!r} {y!r}"
    return f"M{x + rx!r} {y!r}A{rx!r} {ry!r} 0 0 1 {x - rx!r} {y!r}A{rx!r} {ry!r} 0 0 1 {x + rx!r} {y!r}Z"


def _rectangle(element: Element, x: float, y: float, w: float, h: float) -> str:
    if w <= 0 or h <= 0:
        return f"M{x!r} {y!r}"
    given = [element.get("rx"), element.get("ry")]
    given = [None if g == "auto" else g for g in given]
    rx, ry = length_px(given[0] or given[1]), length_px(given[1] or given[0])
    rx, ry = min(max(rx, 0.0), w / 2), min(max(ry, 0.0), h / 2)
    if rx == 0 or ry == 0:
        return f"M{x!r} {y!r}h{w!r}v{h!r}h{-w!r}Z"
    steps = [f"M{x + rx!r} {y!r}"]
    for px, py, qx, qy in (
        (x + w - rx, y, x + w, y + ry),
        (x + w, y + h - ry, x + w - rx, y + h),
        (x + rx, y + h, x, y + h - ry),
        (x, y + ry, x + rx, y),
    ):
        steps.append(f"L{px!r} {py!r}A{rx!r} {ry!r} 0 0 1 {qx!r} {qy!r}")
    return "".join(steps) + "Z"
