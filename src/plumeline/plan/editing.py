"""Write plans: change one without losing a comment, and start a new one."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import Any

import tomlkit
from tomlkit.exceptions import ParseError
from tomlkit.items import AoT
from tomlkit.items import Table as TomlTable

from ..errors import PlanError, nearest
from .messages import list_of

__all__ = ["edit_plan", "starter_plan"]


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

    Raises
    ------
    PlanError
        The text is no TOML, there is no such zone, or a path leads through something that is no table.
    """
    try:
        document = tomlkit.parse(text)
    except ParseError as error:
        raise PlanError(f"is no valid TOML: {error}", file=file) from None
    for path, value in changes.items():
        _set(document, tuple(path), value, file)
    return tomlkit.dumps(document)


def _set(document: Any, path: tuple[str, ...], value: Any, file: str) -> None:
    table, rest = document, path
    if path[0] == "zone" and len(path) > 2:
        table, rest = _zone(document, path[1], file), path[2:]
    for place, key in enumerate(rest[:-1]):
        if key not in table:
            if value is None:
                return
            table[key] = tomlkit.table(is_super_table=place + 2 < len(rest))
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
    title: str, top_lines: Sequence[str], patches_by_family: Mapping[str, Sequence[str]], units: str = "in"
) -> str:
    """Return the text of a new plan: the patches listed, one zone each family, with comments.

    Parameters
    ----------
    title : str
        Title of the quilt.
    top_lines : sequence of str
        The lines below ``[top]``, such as ``drawing = "top.svg"``; a line that starts with ``[`` opens a
        further table.
    patches_by_family : mapping of family to names
        Patches that are alike, by the name of their zone.
    units : {"in", "mm", "cm"}
        Unit of the plan's bare numbers.
    """
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
        "# reach = [22, 14]       # what the machine gets to at once",
        "# [batting]",
        "# widest_gap = 4         # from the batting's label",
    ]
    for family, names in patches_by_family.items():
        lines += ["", *_starter_zone(family, names)]
    return "\n".join(lines) + "\n"


def _starter_zone(family: str, names: Sequence[str]) -> list[str]:
    entries = [_quoted(name) for name in names]
    listed, row = [], "patches = ["
    for place, entry in enumerate(entries):
        entry += "]" if place + 1 == len(entries) else ","
        if len(row) + len(entry) > 110:
            listed.append(row)
            row = "   "
        row += entry if row.endswith("[") else f" {entry}"
    return [
        "[[zone]]",
        f"name    = {_quoted(family)}",
        *listed,
        row,
        'each    = "patch"'.ljust(24) + '# one zone a patch; "joined": touching patches are one; left out: all are one',
        *(['order   = "last"'.ljust(24) + "# a border is sewn after all else"] if "border" in family.lower() else []),
        '# divide = [ { by = "frame", width = "1 1/4" } ]',
        "# [zone.fill]            # no fill yet: these patches stay open",
        '# kind = "meander"',
    ]


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)  # a JSON string is a TOML basic string
