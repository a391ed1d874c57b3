"""Write plans: change one without losing a comment, and start a new one."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

import tomlkit
from tomlkit.exceptions import ParseError
from tomlkit.items import AoT
from tomlkit.items import Table as TomlTable

from ..errors import PlanError, nearest
from .messages import list_of

__all__ = ["StarterZone", "edit_plan", "starter_plan"]


@dataclass(frozen=True, slots=True)
class StarterZone:
    """A zone of a new plan: its name, its patches (or patterns), and how they are spaces (see ``each``)."""

    name: str
    patches: tuple[str, ...]
    each: Literal["patch", "joined"] | None


EXAMPLES = {
    "in": ("[22, 14]", "4", "3", '"1 1/4"'),
    "cm": ("[55, 35]", "10", "8", "3"),
    "mm": ("[550, 350]", "100", "80", "30"),
}
"""What a new plan proposes in its comments, by its unit: reach, widest gap, repeat of a print, width of a frame."""


def edit_plan(text: str, changes: Mapping[Sequence[str], Any], *, file: str = "plan.toml") -> str:
    """Return a plan's text with values changed; comments, order and everything else stay.

    Parameters
    ----------
    text : str
        The plan.
    changes : mapping of key path to value
        A path is the keys from the outside in, a zone by its name: ``("zone", "big star", "fill", "inside",
        "spacing")``. Tables that are not there yet are added; the value None takes a key out (a key that is
        not there stays out).
    file : str
        Its name, for messages.

    Returns
    -------
    str
        The new text; the same where nothing changes.

    Raises
    ------
    PlanError
        The text is no TOML, there is no such zone, or a path leads through something that is no table.
    """
    try:
        document = tomlkit.parse(text)
    except ParseError as error:
        raise PlanError(f"is no valid TOML: {error}", file=file) from None
    fresh: list[TomlTable] = []
    for path, value in changes.items():
        _set(document, tuple(path), value, file, fresh)
    for table in fresh:
        table.add(tomlkit.nl())  # what comes next in the file stands apart
    changed = tomlkit.dumps(document)
    return changed.rstrip("\n") + "\n" if fresh else changed


def _set(document: Any, path: tuple[str, ...], value: Any, file: str, fresh: list[TomlTable]) -> None:
    """Set one value; the innermost table that had to be added for it goes on the list ``fresh``."""
    table, rest = document, path
    if path[0] == "zone" and len(path) > 2:
        table, rest = _zone(document, path[1], file), path[2:]
    for place, key in enumerate(rest[:-1]):
        if key not in table:
            if value is None:
                return
            table[key] = tomlkit.table(is_super_table=place + 2 < len(rest))
            if place + 2 == len(rest):
                fresh.append(table[key])
        table = table[key]
        if isinstance(table, AoT) or not hasattr(table, "keys"):
            raise PlanError("is no single table; can't be changed by key", file=file, key=".".join(path))
    if value is None:
        table.pop(rest[-1], None)
    else:
        table[rest[-1]] = value


def _zone(document: Any, name: str, file: str) -> TomlTable:
    entries = {str(entry.get("name")): entry for entry in document.get("zone", [])}
    if name not in entries:
        near = nearest(name, entries)
        raise PlanError(
            f"has no zone '{name}'; its zones are {list_of(list(entries)) or 'none'}",
            file=file,
            what_to_do=f"Did you mean '{near}'?" if near else None,
        )
    zone: TomlTable = entries[name]
    return zone


def starter_plan(
    title: str,
    top_lines: Sequence[str],
    zones: Sequence[StarterZone],
    units: str = "in",
    fabrics: Mapping[str, str] = {},
) -> str:
    """Return the text of a new plan: its zones without fills, with comments.

    Parameters
    ----------
    title : str
        Title of the quilt.
    top_lines : sequence of str
        The lines below ``[top]``, such as ``drawing = "top.svg"``; a line that starts with ``[`` opens a
        further table.
    zones : sequence of StarterZone
        In order.
    units : {"in", "mm", "cm"}
        Unit of the plan's bare numbers.
    fabrics : mapping of pattern to colour
        Proposed for the cloth picture, as comments.

    Returns
    -------
    str
        The text, ready to be written.
    """
    reach, gap, repeat, frame = EXAMPLES[units]
    lines = [
        f"title  = {_quoted(title)}",
        f"units  = {_quoted(units)}".ljust(24) + '# of every bare number; a value may name its own: "6 mm"',
        "chance = 7".ljust(24) + "# another number, another drawing of all that is left to chance",
        "",
        "[top]",
        *top_lines,
        "",
        "# [machine]",
        '# guided = "computer"    # "computer", "hand" or "ruler"',
        f"# reach = {reach}".ljust(24) + " # what the machine gets to at once",
        "# [batting]",
        f"# widest_gap = {gap}".ljust(24) + " # from the batting's label",
    ]
    if fabrics:
        lines += ["", f'# [fabrics]              # a colour, or {{ picture = "print.png", width = {repeat} }}']
        lines += [f"# {_quoted(pattern)} = {_quoted(colour)}" for pattern, colour in fabrics.items()]
    for zone in zones:
        lines += ["", *_starter_zone(zone, frame)]
    return "\n".join(lines) + "\n"


LAST = 'order   = "last"'

EACH = {
    "patch": ('each    = "patch"', 'one zone a patch; "joined": touching patches are one; left out: all are one'),
    "joined": ('each    = "joined"', 'touching patches are one space; "patch": each is one; left out: all are one'),
    None: ('# each = "patch"', "left out: all are one space"),
}
"""What a zone says of its patches as spaces, and why."""


def _starter_zone(zone: StarterZone, frame: str) -> list[str]:
    entries = [_quoted(name) for name in zone.patches]
    listed, row = [], "patches = ["
    for place, entry in enumerate(entries):
        entry += "]" if place + 1 == len(entries) else ","
        if len(row) + len(entry) > 110:
            listed.append(row)
            row = "   "
        row += entry if row.endswith("[") else f" {entry}"
    return [
        "[[zone]]",
        f"name    = {_quoted(zone.name)}",
        *listed,
        row,
        f"{EACH[zone.each][0]:24}# {EACH[zone.each][1]}",
        *(
            ['order   = "last"'.ljust(24) + "# a border is sewn after all else"]
            if "border" in zone.name.lower()
            else []
        ),
        f'# divide = [ {{ by = "frame", width = {frame} }} ]',
        "# [zone.fill]            # without a fill these patches stay open",
        '# kind = "meander"',
    ]


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)  # a JSON string is a TOML basic string
