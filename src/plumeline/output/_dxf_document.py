"""A DXF document: what the format's library writes and reads, loaded only when a file is made or opened."""

from __future__ import annotations

import io
from typing import Any

import numpy as np

from ..drawing.dxf_files import decode_name, fixed_metadata, new_document, open_document, polyline_points
from ..errors import OutputError
from ..model import FloatArray, as_path
from ._names import unique_names, visible
from .sheet import RUN_KINDS, SHAPE_KINDS, Bounds, Drawn, Run, Shape

__all__ = ["DxfSink", "drawn_of"]

COLOURS = {
    "stitch": 7,
    "backtrack": 1,
    "step": 3,
    "seam-travel": 5,
    "edge-travel": 30,
    "jump": 6,
    "outline": 8,
    "patch": 9,
    "seam": 9,
    "fence": 8,
    "mark": 8,
}
"""Colour number of each kind's layers."""
SCALE_LAYER = "scale 100 mm"
BETWEEN = " - "
"""Stands between a zone's name and the kind in a layer's name."""
_FORBIDDEN = str.maketrans(dict.fromkeys('<>/\\":;?*|=`,\n\r\t', "-"))


class DxfSink:
    """Adds a polyline for each shape and run."""

    def begin(self, title: str, names: tuple[str, ...], bounds: Bounds) -> None:
        """Start a document with all layers that may be needed, and the scale bar below the drawing."""
        self._document = new_document()
        self._names = unique_names(names, lambda name: visible(name).translate(_FORBIDDEN).strip() or "zone")
        self._space = self._document.modelspace()
        left, _, _, bottom = bounds
        self._layer(SCALE_LAYER, 8)
        y = -bottom - 10
        for a, b in (((0, 0), (100, 0)), ((0, -2), (0, 2)), ((100, -2), (100, 2))):
            self._space.add_line((left + a[0], y + a[1]), (left + b[0], y + b[1]), dxfattribs={"layer": SCALE_LAYER})
        self._space.add_text("100 mm", height=4, dxfattribs={"layer": SCALE_LAYER, "insert": (left + 2, y - 6)})

    def shape(self, shape: Shape) -> None:
        """Add a shape."""
        self._add(shape.path, shape.closed, shape.kind, shape.zone)

    def run(self, run: Run) -> None:
        """Add a run."""
        self._add(run.path, False, run.kind, run.zone)

    def finish(self) -> bytes:
        """Return the file; two of the same sheet are the same bytes."""
        stream = io.BytesIO()
        text = io.TextIOWrapper(
            stream, encoding=self._document.output_encoding, errors="dxfreplace", newline="\n", write_through=True
        )
        with fixed_metadata():
            self._document.write(text)
        return stream.getvalue()

    def _add(self, path: FloatArray, closed: bool, kind: str, zone: int) -> None:
        layer = kind if zone < 0 else f"{self._names[zone]}{BETWEEN}{kind}"
        self._layer(layer, COLOURS[kind])
        entity = self._space.add_lwpolyline([], close=closed, dxfattribs={"layer": layer})
        entity.lwpoints = polyline_points(path * [1.0, -1.0])

    def _layer(self, name: str, colour: int) -> None:
        if name not in self._document.layers:
            self._document.layers.add(name, color=colour)


def drawn_of(data: bytes) -> Drawn:
    """Return what `read_dxf` says."""
    try:
        document, unit_mm = open_document(data)
    except ValueError as error:
        raise OutputError(str(error)) from error
    if unit_mm != 1.0:
        raise OutputError("is not in mm ($INSUNITS 4); open it as a drawing instead")
    names: list[str] = []
    shapes: list[Shape] = []
    runs: list[Run] = []
    line = 0
    entities: Any = document.modelspace().query("LWPOLYLINE")
    kind: Any
    for entity in entities:
        zone_name, _, kind = decode_name(entity.dxf.layer).rpartition(BETWEEN)
        if kind not in RUN_KINDS and kind not in SHAPE_KINDS:
            continue
        if zone_name and zone_name not in names:
            names.append(zone_name)
        zone = names.index(zone_name) if zone_name else -1
        path = as_path(np.array([(x, -y) for x, y in entity.get_points("xy")]))
        if kind in SHAPE_KINDS:
            shapes.append(Shape(path, bool(entity.closed), kind, zone))
            continue
        if runs and kind != "jump" and (runs[-1].kind == "jump" or not np.allclose(runs[-1].path[-1], path[0])):
            line += 1
        runs.append(Run(path, kind, zone, line))
    return Drawn("", tuple(names), tuple(shapes), tuple(runs))
