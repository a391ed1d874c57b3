"""DXF R2000: millimetres, one layer for each zone and kind, polylines with their closed flags, a 100 mm scale bar."""

from __future__ import annotations

from .registry import LineWriter
from .sheet import Drawn, Sheet, draw

__all__ = ["WRITER", "read_dxf", "write_dxf"]


def write_dxf(sheet: Sheet) -> bytes:
    """Return a sheet as a DXF file: x as on the sheet, y turned up (``-y``), units set to mm.

    Raises
    ------
    OutputError
        A coordinate is not finite.
    """
    from ._dxf_document import DxfSink  # slow to load

    return draw(sheet, DxfSink())


def read_dxf(data: bytes) -> Drawn:
    """Return what a DXF file written by `write_dxf` holds.

    A new line begins where a run does not follow the one before.

    Raises
    ------
    OutputError
        The file is no DXF file, or not in mm.
    """
    from ._dxf_document import drawn_of  # slow to load

    return drawn_of(data)


WRITER = LineWriter(
    name="dxf",
    suffix=".dxf",
    description="drawing for plotters and CAD: mm, a layer for each zone and kind",
    write=write_dxf,
    read=read_dxf,
)
