"""Rows of block names from a table beside the plan."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from ..errors import PlanError
from ..opening import leads_inside, read_plain_file

__all__ = ["MOST_BYTES", "rows_from_table", "with_rows"]

MOST_BYTES = 1_000_000
"""A table of a hundred rows of a hundred names has a tenth of this."""


def with_rows(raw: Mapping[str, Any], folder: Path, file: str) -> dict[str, Any]:
    """Return a raw plan in which ``rows = "blocks.csv"`` below ``[top.blocks]`` is the rows of that file.

    Raises
    ------
    PlanError
        The table can't be read, or lies outside the plan's folder.
    """
    top = raw.get("top")
    blocks = top.get("blocks") if isinstance(top, dict) else None
    if not isinstance(top, dict) or not isinstance(blocks, dict) or not isinstance(blocks.get("rows"), str):
        return dict(raw)
    name = blocks["rows"]
    path = folder / name
    if not leads_inside(path, folder):
        raise PlanError(
            f"is '{name}'; must stay within the plan's folder",
            file=file,
            key="top.blocks.rows",
            what_to_do="Put the table beside the plan.",
        )
    way = "Check the name, or write the rows into the plan."
    data = read_plain_file(path.resolve(), PlanError, most=MOST_BYTES, missing=way)
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise PlanError("is not UTF-8 text", file=name, what_to_do="Save the table as CSV, UTF-8.") from None
    return {**raw, "top": {**top, "blocks": {**blocks, "rows": rows_from_table(text, file=name)}}}


def rows_from_table(text: str, *, file: str) -> list[list[str]]:
    r"""Return the rows of a table of block names: cells parted by commas, semicolons or tabs; empty lines left out.

    Raises
    ------
    PlanError
        It has no rows, a cell is empty, or the rows are not equally long; the message names all such cells.

    Examples
    --------
    >>> rows_from_table("star; plain\nplain; star\n", file="blocks.csv")
    [['star', 'plain'], ['plain', 'star']]
    """
    first = text.partition("\n")[0]
    between = max((";", "\t", ","), key=first.count)
    try:
        read = csv.reader(io.StringIO(text), delimiter=between, skipinitialspace=True, strict=True)
        lines = [(read.line_num, [cell.strip() for cell in row]) for row in read]
    except csv.Error as error:
        raise PlanError(f"is no readable table ({error})", file=file, what_to_do="Save it as CSV.") from None
    rows = [(number, row) for number, row in lines if any(row)]
    if not rows:
        raise PlanError("has no rows", file=file, what_to_do="Write a block's name into each cell.")
    width = len(rows[0][1])
    faults = [
        f"line {number}, cell {place} is empty"
        for number, row in rows
        for place, cell in enumerate(row, 1)
        if not cell and len(row) == width
    ]
    faults += [f"line {number} has {len(row)} cells" for number, row in rows if len(row) != width]
    if faults:
        raise PlanError(
            f"{'; '.join(faults[:6])}{' ...' if len(faults) > 6 else ''}; all rows must have {width} names",
            file=file,
            what_to_do="Write a block's name into each cell.",
        )
    return [row for _, row in rows]
