"""Full-size SVG: true millimetres, one group a zone, one class a path."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any
from xml.sax.saxutils import escape, quoteattr

import numpy as np
from defusedxml import DefusedXmlException
from defusedxml.ElementTree import ParseError, fromstring

from ..errors import OutputError
from ..geometry import simplify_path
from ..model import FloatArray, Path, as_path
from ._colours import LINES
from ._names import unique_names, visible
from .cautions import SHEET_CAUTIONS
from .registry import LineWriter
from .sheet import RUN_KINDS, SHAPE_KINDS, Bounds, Drawn, Run, Shape, Sheet, Stitched, draw, line_numbers

__all__ = ["WRITER", "SvgSink", "read_svg", "svg_id", "write_svg"]

MARGIN_MM = 5.0
CHECK_MM = 100.0
"""Length of the line to check the scale with; the page is at least as wide."""
STRIP_MM = 42.0
"""Height of the strip below the drawing that holds the scale check."""

STYLE = f"""
path{{fill:none;stroke-linecap:round;stroke-linejoin:round;stroke-width:.4}}
{chr(10).join(f".{kind}{{stroke:{colour}}}" for kind, colour in LINES.items())}
.jump{{stroke-dasharray:2 2}}
.outline{{stroke:#8a8a8a;stroke-width:.25}}
.patch{{stroke:#c9c4bb;stroke-width:.25}}
.seam{{stroke:#b9b3a9;stroke-width:.25}}
.fence{{stroke:#8a8a8a;stroke-width:.35;stroke-dasharray:0 1.6}}
.mark{{stroke:#555;stroke-width:.25}}
text{{font-family:"Bitstream Vera Sans","DejaVu Sans",Arial,Helvetica,sans-serif;font-size:4px;fill:#555}}
"""


def svg_id(name: str) -> str:
    """Return a zone's id: its name with every character but letters, digits, ``-``, ``_``, ``.`` turned to ``-``.

    Examples
    --------
    >>> svg_id("big star, rest 2")
    'big-star--rest-2'
    """
    return re.sub(r"[^A-Za-z0-9_.-]", "-", name) or "zone"


FILE_MM = 0.005
"""Points that stray less than this from the straight way past them are left out: a fifth of the size, and a
twentieth of the step in which a machine moves."""


def write_svg(sheet: Sheet) -> bytes:
    """Return a sheet as an SVG file.

    The picture is true size: width, height and viewBox are the same millimetres, and sheet coordinates are file
    coordinates. Coordinates keep 0.001 mm. Groups follow each other by zone; ``data-order`` numbers the paths of
    stitching in stitching order, ``data-line`` says which line each belongs to, and ``data-number`` what that line is
    called on the path picture and in the stitch files. The group of a zone that is done is the very text of the drawing
    that it came from; new orders and lines go on from the highest of those.

    Raises
    ------
    OutputError
        A coordinate is not finite.
    """
    return draw(sheet, SvgSink(sheet.done, line_numbers(sheet.lines)))


class SvgSink:
    """Gathers paths by zone and writes them out at the end."""

    def __init__(self, done: Mapping[int, Stitched] | None = None, numbers: Sequence[str] = ()) -> None:
        self._done, self._numbers = done or {}, numbers

    def begin(self, title: str, names: tuple[str, ...], bounds: Bounds) -> None:
        """Note title, zones and the size of the page; zones that are done are put down as they were."""
        self._title, self._names, self._bounds = title, names, bounds
        self._shapes: dict[int, list[str]] = {i: [] for i in range(-1, len(names))}
        self._runs: dict[int, list[str]] = {i: [] for i in range(-1, len(names))}
        self._count = self._before = 0
        for zone, stitched in self._done.items():
            self._shapes[zone] = [_shape_text(shape) for shape in stitched.shapes]
            self._runs[zone] = [_run_text(run, run.path, run.order, run.line, run.number) for run in stitched.runs]
            self._count = max([self._count, *(run.order for run in stitched.runs)])
            self._before = max([self._before, *(run.line + 1 for run in stitched.runs)])

    def shape(self, shape: Shape) -> None:
        """Add a shape to its zone, or to the top."""
        self._shapes[shape.zone].append(_shape_text(shape))

    def run(self, run: Run) -> None:
        """Add a run to its zone, or to those between zones."""
        self._count += 1
        number = self._numbers[run.line] if self._numbers else ""
        path = simplify_path(run.path, FILE_MM)
        self._runs[run.zone].append(_run_text(run, path, self._count, run.line + self._before, number))

    def finish(self) -> bytes:
        """Return the file."""
        left, top, right, bottom = self._bounds
        x, y = left - MARGIN_MM, top - MARGIN_MM
        width = max(right - left, CHECK_MM) + 2 * MARGIN_MM
        height = bottom - top + 2 * MARGIN_MM + STRIP_MM
        box = " ".join(_number(v) for v in (x, y, width, height))
        ids = unique_names([*self._names, "top", "between-zones", "scale-check"], svg_id)
        top_id, between_id, check_id = ids[len(self._names) :]
        says = "True size: 1 unit is 1 mm. Print or import at 100 %, never 'fit to page'. "
        if self._done:
            says += f"On the cloth already, in no stitch file: {'; '.join(self._names[z] for z in self._done)}. "
        parts = [
            '<?xml version="1.0" encoding="UTF-8"?>',
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{_number(width)}mm" height="{_number(height)}mm" '
            f'viewBox="{box}">',
            f"<title>{escape(visible(self._title))}</title>",
            f"<desc>{escape(visible(says) + ' '.join(SHEET_CAUTIONS))}</desc>",
            f"<style>{STYLE}</style>",
        ]
        parts += _group(top_id, None, self._shapes[-1])
        for i, name in enumerate(self._names):
            parts += _group(ids[i], name, self._shapes[i] + self._runs[i])
        parts += _group(between_id, None, self._runs[-1])
        parts += _group(check_id, None, _scale_check(left, bottom + MARGIN_MM))
        return "\n".join([*parts, "</svg>", ""]).encode()


def _shape_text(shape: Shape) -> str:
    colour = shape.colour if re.fullmatch("#[0-9a-fA-F]{6}", shape.colour or "") else None
    style = f' style="fill:{colour}"' if colour else ""
    return f'<path class="{shape.kind}"{style} d="{_data(shape.path, shape.closed)}"/>'


def _run_text(run: Run, path: Path, order: int, line: int, number: str) -> str:
    called = f" data-number={quoteattr(number)}" if number else ""
    return f'<path class="{run.kind}" data-order="{order}" data-line="{line + 1}"{called} d="{_data(path)}"/>'


def _group(identity: str, title: str | None, paths: list[str]) -> list[str]:
    if title is None and not paths:
        return []
    head = [f"<g id={quoteattr(identity)}>"]
    return [*head, *([f"<title>{escape(visible(title))}</title>"] if title is not None else []), *paths, "</g>"]


def _scale_check(x: float, y: float) -> list[str]:
    """Return a line of 100 mm and a square of 1 in."""
    y += 4
    ruler = f"M{_number(x)},{_number(y - 2)}v4m0-2h{CHECK_MM:g}m0-2v4"
    square = f"M{_number(x)},{_number(y + 8)}h25.4v25.4h-25.4z"
    return [
        f'<path class="mark" d="{ruler}"/>',
        f'<text x="{_number(x + 2)}" y="{_number(y + 5)}">100 mm</text>',
        f'<path class="mark" d="{square}"/>',
        f'<text x="{_number(x + 28)}" y="{_number(y + 14)}">1 in: measure both before you stitch or cut</text>',
    ]


def _number(value: float) -> str:
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _data(path: FloatArray, closed: bool = False) -> str:
    # One format call for the whole path: many times faster than a call a point.
    points = "L".join(["%.3f,%.3f"] * len(path)) % tuple(path.ravel().tolist())
    return f"M{points}{'Z' if closed else ''}"


# --- reading back ------------------------------------------------------------------------------------------------

_SVG = "{http://www.w3.org/2000/svg}"
_PATH = re.compile(r"M(?P<points>[-\d.,eL]+)(?P<closed>Z?)")


def read_svg(data: bytes) -> Drawn:
    """Return what an SVG file written by `write_svg` holds, runs in stitching order; the scale check is left out.

    Raises
    ------
    OutputError
        The file is no SVG, or none of ours.
    """
    try:
        root = fromstring(data)
    except (ParseError, DefusedXmlException, ValueError, LookupError) as error:  # an encoding that nobody knows
        raise OutputError(f"is no readable SVG file: {error}") from error
    _check_size(root)
    names: list[str] = []
    shapes: list[Shape] = []
    runs: list[tuple[int, Run]] = []
    for group in root.findall(f"{_SVG}g"):
        title = group.find(f"{_SVG}title")
        if title is not None:
            names.append(title.text or "")
        zone = -1 if title is None else len(names) - 1
        for node in group.findall(f"{_SVG}path"):
            kind: Any = node.get("class", "")
            found = _PATH.fullmatch(node.get("d", ""))
            if kind == "mark" and not found:
                continue
            if not found or kind not in (*RUN_KINDS, *SHAPE_KINDS):
                raise OutputError("holds paths that plumeline did not write; open it as a drawing instead")
            path = as_path(np.array(re.split("[,L]", found["points"]), dtype=np.float64).reshape(-1, 2))
            if kind in SHAPE_KINDS:
                colour = node.get("style", "").removeprefix("fill:") or None
                shapes.append(Shape(path, bool(found["closed"]), kind, zone, colour))
            else:
                order, line = int(node.get("data-order", 0)), int(node.get("data-line", 1)) - 1
                runs.append((order, Run(path, kind, zone, line, order, node.get("data-number", ""))))
    title = root.find(f"{_SVG}title")
    runs.sort(key=lambda item: item[0])
    text = "" if title is None else title.text or ""
    return Drawn(text, tuple(names), tuple(shapes), tuple(run for _, run in runs))


def _check_size(root: Any) -> None:
    box = root.get("viewBox", "").split()
    if root.tag != f"{_SVG}svg" or [root.get("width"), root.get("height")] != [f"{v}mm" for v in box[2:]]:
        raise OutputError("is no true-size SVG of plumeline's; open it as a drawing instead")


WRITER = LineWriter(
    name="svg",
    suffix=".svg",
    description="true-size drawing: zones as groups, stitching and travel by class",
    write=write_svg,
    read=read_svg,
)
