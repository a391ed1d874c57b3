"""The one file that imports the DXF library: new documents, documents from bytes, and their outlines as polylines."""

from __future__ import annotations

import io
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

import numpy as np
from ezdxf import path as dxf_path
from ezdxf import recover, units
from ezdxf._options import options
from ezdxf.colors import DXF_DEFAULT_COLORS, aci2rgb
from ezdxf.disassemble import recursive_decompose
from ezdxf.entities.lwpolyline import LWPolylinePoints
from ezdxf.enums import InsertUnits
from ezdxf.filemanagement import new, read
from ezdxf.lldxf.const import DXFError
from ezdxf.lldxf.encoding import decode_dxf_unicode

from ..model import FloatArray

__all__ = [
    "DxfOutline",
    "DxfPage",
    "decode_name",
    "fixed_metadata",
    "new_document",
    "open_document",
    "outlines_of",
    "polyline_points",
]

_UNDRAWN = ("TEXT", "MTEXT", "DIMENSION", "LEADER", "MULTILEADER", "MLEADER", "POINT", "VIEWPORT", "IMAGE", "ATTDEF")
_FILLED = ("HATCH", "SOLID", "TRACE", "MPOLYGON")
_BY_LAYER = 256


@contextmanager
def fixed_metadata() -> Iterator[None]:
    """Keep the time and random numbers, which the library writes on making and on writing, out of a file."""
    before = options.write_fixed_meta_data_for_testing
    options.write_fixed_meta_data_for_testing = True
    try:
        yield
    finally:
        options.write_fixed_meta_data_for_testing = before


def new_document() -> Any:
    """Return a new document in mm."""
    with fixed_metadata():
        document = new("R2000")
    document.units = units.MM
    document.header["$MEASUREMENT"] = 1
    return document


def open_document(data: bytes, *, mended: bool = False) -> tuple[Any, float | None]:
    """Return a document, and the millimetres in its unit (None: it does not say); ``mended``: errors are passed over.

    Raises
    ------
    ValueError
        The bytes are no DXF file.
    """
    try:
        if mended:
            document: Any = recover.read(io.BytesIO(data))[0]
        else:
            document = read(io.StringIO(data.decode("cp1252", "replace")))
    except (OSError, DXFError, ValueError, KeyError, IndexError, TypeError, AttributeError) as error:
        raise ValueError(f"is no readable DXF file: {error}") from error
    known = document.units in range(1, 25)
    unit = InsertUnits(document.units) if known else InsertUnits.Unitless
    return document, float(units.conversion_factor(unit, InsertUnits.Millimeters)) if known else None


def polyline_points(path: FloatArray) -> Any:
    """Return the points ``(n, 2)`` of a polyline as a document stores them, all at once.

    The library adds single points by copying those before them, so that a long line would cost its length squared.
    """
    return _PlainPoints(data=np.column_stack([path, np.zeros((len(path), 3))]).tolist())  # two widths, a bulge


class _PlainPoints(LWPolylinePoints):
    """Points without widths and bulges, written as one text: the library makes an object for every number."""

    def dxftags(self) -> Iterator[Any]:
        """Yield all of the points at once."""
        yield _PointsTag([(point[0], point[1]) for point in self])


@dataclass(frozen=True, slots=True)
class _PointsTag:
    points: list[tuple[float, float]]

    def dxfstr(self) -> str:
        """Return the points as the file holds them: group 10 is x, 20 is y."""
        return "".join(f" 10\n{x}\n 20\n{y}\n" for x, y in self.points)


def decode_name(text: str) -> str:
    """Return a name with its coded letters as letters."""
    return str(decode_dxf_unicode(text))


@dataclass(frozen=True, slots=True, eq=False)
class DxfOutline:
    """One outline in drawing units, y up: its rings, which are closed, its layer, colour, and whether it is filled."""

    paths: tuple[FloatArray, ...]
    closed: tuple[bool, ...]
    layer: str
    colour: str
    filled: bool


@dataclass(frozen=True, slots=True, eq=False)
class DxfPage:
    """What a document draws, and how many texts and the like were left out."""

    outlines: tuple[DxfOutline, ...]
    undrawn: int


def outlines_of(document: Any, *, tolerance: float, most_points: int) -> DxfPage:
    """Return everything drawn in the model space, blocks taken apart; curves stray by at most ``tolerance``.

    Layers that are off or frozen are not seen.

    Raises
    ------
    ValueError
        It holds more than ``most_points`` points, or a coordinate that is not finite.
    """
    hidden = {layer.dxf.name for layer in document.layers if layer.is_off() or layer.is_frozen()}
    out: list[DxfOutline] = []
    undrawn = 0
    drawn = [e for e in document.modelspace() if e.dxf.layer not in hidden]
    undrawn += sum(e.dxftype() in _UNDRAWN for e in drawn)
    entity: Any
    for entity in recursive_decompose([e for e in drawn if e.dxftype() not in _UNDRAWN]):
        if entity.dxf.layer in hidden or entity.dxf.get("invisible", 0):
            continue
        kind = entity.dxftype()
        try:
            found = dxf_path.from_hatch(entity) if kind in ("HATCH", "MPOLYGON") else [dxf_path.make_path(entity)]
            paths = [sub for p in found if len(p) for sub in p.sub_paths()]
        except (TypeError, DXFError):  # a kind without an outline
            undrawn += 1
            continue
        flat = [np.array([(v.x, v.y) for v in p.flattening(tolerance, segments=4)]) for p in paths]
        most_points -= sum(map(len, flat))
        if most_points < 0:
            raise ValueError("the drawing holds too many points; simplify it")
        if not all(np.isfinite(p).all() for p in flat):
            raise ValueError(f"a coordinate of a {kind} is not finite")
        shut = [bool(p.is_closed) or kind in _FILLED for p in paths]
        if flat:
            name = decode_name(entity.dxf.layer)
            out.append(DxfOutline(tuple(flat), tuple(shut), name, _colour(document, entity), kind in _FILLED))
    return DxfPage(tuple(out), undrawn)


def _colour(document: Any, entity: Any) -> str:
    if entity.rgb is not None:
        red, green, blue = entity.rgb
        return f"#{red:02x}{green:02x}{blue:02x}"
    number = entity.dxf.color
    if number == _BY_LAYER and entity.dxf.layer in document.layers:
        number = document.layers.get(entity.dxf.layer).color
    if not 1 <= number < len(DXF_DEFAULT_COLORS):
        number = 7
    red, green, blue = aci2rgb(number)
    return f"#{red:02x}{green:02x}{blue:02x}"
