"""From a plan to how straight its top is: a table, plain data, CSV, a map."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Sequence
from typing import Any

from ..codes import FindingCode
from ..errors import OutputError
from ..model import Finding, Top
from ..output.png import png_of
from ..output.straight_picture import StraightMark, straight_svg
from ..plan import Plan
from ..top import StraightTable, straight_table
from ..units import Unit, format_length
from .top import blocks_of, limits_of, read_top

__all__ = ["STRAIGHT_FILES", "straight_data", "straight_file", "straight_findings", "straight_of"]

MAP_PX = 2000
"""Width of the map as PNG."""

STRAIGHT_FILES = ("straight.svg", "straight.png", "straight-seams.csv", "straight-blocks.csv", "straight-corners.csv")

MOST_MARKS = 24
"""Places that the map numbers, the worst first; a list of more is in the tables."""


def straight_of(plan: Plan) -> tuple[Top, StraightTable]:
    """Return a plan's top, and how straight it is by the plan's limits."""
    top = read_top(plan)
    return top, straight_table(top, blocks_of(plan), limits=limits_of(plan))


def straight_findings(table: StraightTable, unit: Unit) -> tuple[Finding, ...]:
    """Return what is out of true in words, one finding a kind; empty when all is true."""
    return tuple(_findings(table, unit))


def _findings(table: StraightTable, unit: Unit) -> Iterator[Finding]:
    crooked, skewed = table.crooked, table.skewed
    if crooked:
        yield Finding(
            FindingCode.SEAMS_OUT_OF_TRUE, "note", None,
            f"{len(crooked)} of {len(table.seams)} seams are out of true, the worst by "
            f"{format_length(crooked[0].off_mm, unit)}: {crooked[0].name}",
            "Let no straight line run beside them; a curved or all-over fill forgives them.",
        )  # fmt: skip
    if table.corners:
        worst = max(table.corners, key=lambda c: c.miss_mm)
        yield Finding(
            FindingCode.CORNERS_MISS, "note", None,
            f"{len(table.corners)} corners miss, the worst by {format_length(worst.miss_mm, unit)}, between "
            f"{worst.between[0]} and {worst.between[1]}",
            "Join the patches across the seam, so that no line meets there.",
        )  # fmt: skip
    if skewed:
        yield Finding(
            FindingCode.BLOCKS_OUT_OF_SQUARE, "note", None,
            f"{len(skewed)} blocks and patches are out of square, the worst is {skewed[0].name}: its diagonals differ "
            f"by {format_length(skewed[0].skew_mm, unit)}",
            "A design fitted to the block as it is follows it; a ruler's square shows it.",
        )  # fmt: skip


def straight_data(table: StraightTable, unit: Unit) -> dict[str, Any]:
    """Return the table as plain data, lengths in mm."""
    return {
        "units": "mm",
        "seams": [
            {
                "between": [s.a, s.b],
                "length_mm": round(s.length_mm, 3),
                "bow_mm": None if s.bow_mm is None else round(s.bow_mm, 3),
                "bends": [[round(v, 2) for v in at] for at in s.bends],
                "lean_mm": round(s.lean_mm, 3),
                "out_of_true": s.out(table.limits),
            }
            for s in table.seams
        ],
        "blocks": [
            {
                "name": b.name,
                "sides_mm": [round(v, 3) for v in b.sides_mm],
                "diagonals_mm": [round(v, 3) for v in b.diagonals_mm],
                "skew_mm": round(b.skew_mm, 3),
            }
            for b in table.blocks
        ],
        "corners": [
            {"at": [round(v, 2) for v in c.at], "miss_mm": round(c.miss_mm, 3), "between": list(c.between)}
            for c in table.corners
        ],
        "findings": [
            {"code": f.code, "severity": f.severity, "text": f.text, "what_to_do": f.what_to_do}
            for f in straight_findings(table, unit)
        ],
    }


def straight_file(name: str, top: Top, table: StraightTable, title: str, unit: Unit) -> bytes:
    """Return one file: by its ending a map (``.svg``, ``.png``), or the table of what its name says (``.csv``).

    Raises
    ------
    OutputError
        It ends in something else.
    """
    suffix = name[name.rfind(".") :].lower() if "." in name else ""
    if suffix in (".svg", ".png"):
        svg = straight_svg(
            top, [(s.path, s.off_mm, s.out(table.limits)) for s in table.seams], _marks(table, unit), title
        )
        return svg.encode() if suffix == ".svg" else png_of(svg, MAP_PX)
    if suffix != ".csv":
        raise OutputError(f"ends in {suffix or 'nothing'}; must end in .svg, .png or .csv, or be a folder", key="--to")
    if name.endswith("-blocks.csv"):
        head = [
            "block",
            "side_a_mm",
            "side_b_mm",
            "side_c_mm",
            "side_d_mm",
            "diagonal_1_mm",
            "diagonal_2_mm",
            "skew_mm",
        ]
        return _csv(
            head, ([b.name, *_four(b.sides_mm), *(b.diagonals_mm or ("", "")), b.skew_mm] for b in table.blocks)
        )
    if name.endswith("-corners.csv"):
        rows = ([*c.between, *c.at, c.miss_mm] for c in table.corners)
        return _csv(["patch", "other", "x_mm", "y_mm", "miss_mm"], rows)
    head = ["patch", "other", "length_mm", "bow_mm", "bends", "lean_mm", "out_of_true"]
    return _csv(
        head,
        (
            [s.a, s.b or "", s.length_mm, "" if s.bow_mm is None else s.bow_mm, len(s.bends), s.lean_mm,
             "yes" if s.out(table.limits) else "no"]
            for s in table.seams
        ),
    )  # fmt: skip


def _four(sides: Sequence[float]) -> list[float | str]:
    return [*sides[:4], *[""] * (4 - len(sides))]


def _csv(head: Sequence[str], rows: Iterator[list[Any]]) -> bytes:
    stream = io.StringIO(newline="")
    table = csv.writer(stream, lineterminator="\r\n")
    table.writerow(head)
    table.writerows([f"{v:.2f}" if isinstance(v, float) else v for v in row] for row in rows)
    return stream.getvalue().encode()


def _marks(table: StraightTable, unit: Unit) -> list[StraightMark]:
    """Return the worst places, numbered on the map and told in its list."""
    marks: list[tuple[float, StraightMark]] = []
    for s in table.crooked:
        at = s.path[len(s.path) // 2] if len(s.path) > 2 else s.path.mean(axis=0)
        what = "bows" if (s.bow_mm or 0.0) >= s.lean_mm else "leans"
        marks.append(
            (s.off_mm, StraightMark((float(at[0]), float(at[1])), f"{s.name} {what} {format_length(s.off_mm, unit)}"))
        )
        marks += [(s.off_mm * 0.99, StraightMark(b, f"{s.name} bends here")) for b in s.bends]
    for c in table.corners:
        said = f"{c.between[0]} | {c.between[1]} misses {format_length(c.miss_mm, unit)}"
        marks.append((c.miss_mm, StraightMark(c.at, said)))
    for b in table.skewed:
        x, y = b.corners.mean(axis=0).tolist()
        marks.append(
            (b.skew_mm / 2, StraightMark((x, y), f"{b.name}: diagonals differ {format_length(b.skew_mm, unit)}"))
        )
    marks.sort(key=lambda m: -m[0])
    return [mark for _, mark in marks[:MOST_MARKS]]
