"""What several commands share: the table a zone, findings, progress, choices."""

from __future__ import annotations

import json
import os
import re
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ..errors import InputError
from ..model import Finding, Top
from ..pipeline.kept import Kept
from ..pipeline.kept_files import KeptInFiles, cache_folder
from ..pipeline.result import Report
from ..quilt import Progress as Tell
from ..review import ZoneRow
from ..specs import families_of
from ..units import decimal_point, format_length, format_thread, parse_length, parse_lengths

if TYPE_CHECKING:
    from rich.table import Table

__all__ = [
    "LENGTH",
    "PATH",
    "STRICT",
    "Amount",
    "comma_list",
    "echo_findings",
    "echo_json",
    "kept_zones",
    "leave_code",
    "nothing_stitched",
    "print_table",
    "progress",
    "top_said",
    "units_option",
    "workers",
    "zone_table",
]

STRICT = 3
"""Exit code of a run that finished with findings under ``--strict``."""


WIDE = 120
"""Columns of a table that goes to a file or another program, where nothing says how wide it may be."""


MOST_SPACES = 3
"""Spaces that are named before a finding that many have."""

MOST_WORKERS = 8
"""Processes that fill zones at most: joining and writing wait for all of them, so more bring little."""


MOST_FAMILIES = 20
"""Kinds of patches that are named in one line."""


class _Length(click.ParamType[float]):
    name = "length"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        if isinstance(value, float):
            return value
        units = (ctx.params.get("units") if ctx else None) or "in"
        try:
            return parse_length(value, units)
        except ValueError as error:
            self.fail(str(error), param, ctx)


LENGTH = _Length()
"""A length option: '14', '1 1/2', '6 mm'."""


class Amount(click.FloatRange):
    """A number option within limits: '7.5', and '7,5' where that is how it is written."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """Return the number, or fail as `click.FloatRange` does."""
        try:
            number: Any = decimal_point(value) if isinstance(value, str) else value
        except ValueError as error:
            self.fail(str(error), param, ctx)
        return float(super().convert(number, param, ctx))


class _Path(click.Path):
    """A path, which an empty text is not: else it would mean the folder that she is in."""

    def convert(
        self, value: str | os.PathLike[str], param: click.Parameter | None, ctx: click.Context | None
    ) -> str | bytes | os.PathLike[str]:
        if not os.fspath(value):
            self.fail("is empty; must be a name (a single dot is the folder that you are in).", param, ctx)
        return super().convert(value, param, ctx)


PATH = _Path(path_type=Path)
"""A file or folder, which need not be there."""

units_option = click.option(
    "--units",
    type=click.Choice(["in", "mm", "cm"]),
    default="in",
    show_default=True,
    is_eager=True,  # the lengths among the other options are read with it
    help="Unit for numbers written without one.",
)
"""The unit in which a command reads bare numbers."""


def workers() -> int:
    """Return how many processes may fill zones side by side: by the cores that this one may use, not all there are."""
    allowed = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    return min(MOST_WORKERS, allowed)


def comma_list(text: str, unit: str, *, key: str) -> list[float]:
    """Return the lengths of a list such as ``'14,14 1/8,13 7/8,14'`` in mm.

    Raises
    ------
    InputError
        One of them is no length, or a comma can be read in two ways.
    """
    try:
        return parse_lengths(text, unit)
    except ValueError as error:
        raise InputError(str(error), key=key) from None


@contextmanager
def kept_zones() -> Iterator[Kept]:
    """Give the memory of filled zones that outlives a command; when it ends well, keep its folder small."""
    folder = cache_folder()
    if folder is None:
        yield Kept()
        return
    kept = KeptInFiles(folder)
    yield kept
    kept.tidy()


@contextmanager
def progress(*, quiet: bool) -> Iterator[Tell]:
    """Show a progress bar while a long job runs, when the output is a terminal; what takes long is said anyway."""
    if quiet or sys.stderr is None or not sys.stderr.isatty():
        yield lambda what, _done, every: None if quiet or every else click.echo(what, err=True)
        return
    from rich.console import Console  # slow to load, needed for a bar alone
    from rich.progress import BarColumn, Progress, TextColumn

    console = Console(stderr=True)
    columns = (TextColumn("{task.description:<20}"), BarColumn(), TextColumn("{task.completed}/{task.total}"))
    with Progress(*columns, console=console, transient=True) as bar:
        task = bar.add_task("", total=1)

        def tell(what: str, done: int, every: int) -> None:
            if every:
                bar.update(task, description=what, completed=done, total=every)
            else:
                console.print(what, markup=False, emoji=False, highlight=False)

        yield tell


def echo_json(value: Any) -> None:
    """Print one JSON object and nothing else; where not every letter can be printed, by their numbers."""
    plain = (getattr(sys.stdout, "encoding", None) or "").lower().replace("-", "") != "utf8"
    click.echo(json.dumps(value, indent=2, ensure_ascii=plain))


def zone_table(report: Report, unit: str) -> None:
    """Print a row for each zone (parts of one zone and fill taken together) and one for the whole."""
    from rich.table import Table  # slow to load, needed for a table alone

    table = Table(box=None, pad_edge=False, header_style="bold")
    for name, side in (
        ("zone", "left"),
        ("fill", "left"),
        ("spaces", "right"),
        ("stitches", "right"),
        ("sewn", "right"),
        ("widest gap", "right"),
        ("seen per sq in", "right"),
        ("sewn per sq in", "right"),
    ):
        table.add_column(name, justify=side)  # type: ignore[arg-type]
    for (name, part, fill), rows in _by_part(report.zones).items():
        sewn, area = sum(r.sewn_mm for r in rows), sum(r.area_mm2 for r in rows)
        gap = max(r.widest_gap_mm for r in rows)
        table.add_row(
            name + (f", {part}" if part else ""),
            fill,
            str(len(rows)),
            f"{sum(r.stitches for r in rows):,}",
            format_thread(sewn, unit),
            format_length(gap, unit, per_inch=16) if gap else "",
            f"{25.4 * sum(r.seen_mm for r in rows) / area:.1f} in" if area else "",
            f"{25.4 * sewn / area:.1f} in" if area else "",
        )
    totals = report.totals
    table.add_row(
        "whole quilt", "", "", f"{totals.stitches:,}", format_thread(totals.sewn_mm, unit),
        format_length(totals.widest_gap_mm, unit, per_inch=16), "", "", style="bold",
    )  # fmt: skip
    print_table(table)


def print_table(table: Table) -> None:
    """Print a table as wide as the terminal, or as `WIDE` where there is none."""
    from rich.console import Console  # slow to load, needed for a table alone

    # names are hers: "[top]" and ":smile:" stand there as she wrote them
    console = Console(markup=False, emoji=False, highlight=False)
    if not console.is_terminal:
        console.width = WIDE
    console.print(table)


def _by_part(rows: Sequence[ZoneRow]) -> dict[tuple[str, str, str], list[ZoneRow]]:
    out: dict[tuple[str, str, str], list[ZoneRow]] = {}
    for row in rows:
        out.setdefault((row.name, row.part, row.fill), []).append(row)
    return out


def top_said(top: Top, unit: str) -> str:
    """Return a top's size and its patches by family: ``42 in x 42 in, 117 patches: 36 star, 81 plain``."""
    width, height = (format_length(v, unit) for v in top.size)
    families = families_of(p.name for p in top.patches)
    shown = [f"{len(names)} {family}" for family, names in list(families.items())[:MOST_FAMILIES]]
    more = f" and {len(families) - MOST_FAMILIES} more kinds" if len(families) > MOST_FAMILIES else ""
    count = len(top.patches)
    return f"{width} x {height}, {count} {'patch' if count == 1 else 'patches'}: {', '.join(shown)}{more}"


def echo_findings(findings: Sequence[Finding]) -> None:
    """Print findings as she reads them: a note and what to do; those that differ in space and figures only, once."""
    alike: dict[tuple[str, ...], list[Finding]] = {}
    for found in findings:
        # without a space, the figures say where it is
        text = (found.text, found.what_to_do)
        key = (
            found.severity,
            found.code,
            *(map(_without_figures, text) if found.zone else text),
            str(bool(found.zone)),
        )
        alike.setdefault(key, []).append(found)
    for same in alike.values():
        first = same[0]
        where, more = "", f" ({len(same)} times)" if len(same) > 1 else ""
        if first.zone:
            spaces = list(dict.fromkeys(str(found.zone) for found in same))
            where = f"{_spaces(spaces)}: "
            more = more if len(spaces) == 1 else ""
            if len({found.text for found in same}) > 1:
                more = f" (these figures are of {first.zone})" if len(spaces) > 1 else f" (and {len(same) - 1} alike)"
        click.echo(f"{first.severity}: {where}{first.text}{more}\n    what to do: {first.what_to_do}")


def _without_figures(text: str) -> str:
    return re.sub(r"\d[\d.,/]*( \d+/\d+)?", "#", text)


def _spaces(names: Sequence[str]) -> str:
    if len(names) == 1:
        return names[0]
    rest = len(names) - MOST_SPACES
    return f"{len(names)} spaces ({'; '.join(names[:MOST_SPACES])}{f' and {rest} more' if rest > 0 else ''})"


def leave_code(findings: Sequence[Finding], strict: bool) -> int:
    """Return the exit code of a finished run: `STRICT` for warnings under ``--strict``, else 0."""
    return STRICT if strict and any(f.severity != "note" for f in findings) else 0


def nothing_stitched(file: str, findings: Sequence[Finding]) -> InputError:
    """Return the error of a plan that stitches nothing: the first warning says why, else no zone has a fill."""
    why = next((f for f in findings if f.severity != "note"), None)
    if why is None:
        return InputError(
            "gives no zone a fill; nothing would be stitched",
            file=file,
            what_to_do="Add [zone.fill] with a kind below a zone; 'plumeline fills' lists them.",
        )
    return InputError(f"nothing would be stitched: {why.text}", file=file, zone=why.zone, what_to_do=why.what_to_do)
