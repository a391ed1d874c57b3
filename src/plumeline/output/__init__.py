"""Outputs: one file a format, the reader beside the writer. Formats load when they are asked for."""

from __future__ import annotations

from .cautions import CAUTIONS, cautions_text
from .files import check_targets, write_files
from .read import FileSummary, is_foreign, read_any, read_file, summary_of
from .registry import (
    LineWriter,
    PointWriter,
    Writer,
    broken_formats,
    find_writer,
    register,
    writer_for_file,
    writer_names,
)
from .report import report_table, report_text
from .sheet import Drawn, LineSink, RecordingSink, Run, Shape, Sheet, Stitched, draw

__all__ = [
    "CAUTIONS",
    "Drawn",
    "FileSummary",
    "LineSink",
    "LineWriter",
    "PointWriter",
    "RecordingSink",
    "Run",
    "Shape",
    "Sheet",
    "Stitched",
    "Writer",
    "broken_formats",
    "cautions_text",
    "check_targets",
    "draw",
    "find_writer",
    "is_foreign",
    "read_any",
    "read_file",
    "register",
    "report_table",
    "report_text",
    "summary_of",
    "write_files",
    "writer_for_file",
    "writer_names",
]
