"""Edits of a plan's text, as the page makes them: join patches, divide a zone, choose a fill; comments stay."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import tomlkit
from tomlkit.exceptions import ParseError
from tomlkit.items import AoT, Item, Table

from ..errors import PlanError, nearest
from ..specs import INSIDE, OLD_INSIDE, DivideStep, matching
from .messages import list_of

__all__ = ["with_division", "with_fill", "with_option", "with_own_zone", "with_zone"]


def with_zone(text: str, name: str, patches: Sequence[str], *, every: Sequence[str], file: str = "plan.toml") -> str:
    """Return the plan's text with patches joined into one new zone, and taken out of the zones that held them.

    Parameters
    ----------
    text : str
        The plan.
    name : str
        Of the new zone.
    patches : sequence of str
        Names of the patches that become one space.
    every : sequence of str
        All patches of the top.
    file : str
        Its name, for messages.

    Returns
    -------
    str
        The new text.

    Raises
    ------
    PlanError
        The text is no TOML, the name is taken or empty, or a patch is not there.
    """
    document = _parsed(text, file)
    zones = document.setdefault("zone", tomlkit.aot())
    names = [str(zone.get("name")) for zone in zones]
    if not name.strip() or name in names:
        what = "is the name of a zone already" if name.strip() else "is empty; must be a name"
        raise PlanError(what, file=file, zone=name or None, key="name", what_to_do="Give the new space another name.")
    unknown = [patch for patch in patches if patch not in every]
    if unknown or not patches:
        rule = f"{unknown[0]!r} is no patch of the top" if unknown else "has no patches; must have at least one"
        raise PlanError(rule, file=file, zone=name, key="patches")
    for place in range(len(zones) - 1, -1, -1):
        _without(document, place, set(patches), every)
    entry = tomlkit.table()
    entry["name"] = name
    entry["patches"] = list(patches)
    zones.append(entry)
    return tomlkit.dumps(document)


def with_own_zone(
    text: str,
    zone: str,
    name: str,
    patches: Sequence[str],
    *,
    every: Sequence[str],
    several: bool = False,
    file: str = "plan.toml",
) -> str:
    """Return the plan's text with some spaces of a zone as a zone of their own that is quilted as the others are.

    Parameters
    ----------
    text : str
        The plan.
    zone : str
        The zone that they were in.
    name : str
        Of the new zone.
    patches, every : sequence of str
        Patches of those spaces, and all of the top.
    several : bool
        Whether they are several spaces, made of their patches as before.
    file : str
        Its name, for messages.

    Returns
    -------
    str
        The new text.

    Raises
    ------
    PlanError
        There is no such zone, the name is taken, or a patch is not there.
    """
    old = _entry(_parsed(text, file), zone, file).unwrap()
    document = _parsed(with_zone(text, name, patches, every=every, file=file), file)
    entry = _entry(document, name, file)
    for key, value in old.items():
        if key not in ("name", "patches", "least", "fill", *(() if several else ("each",))):
            entry[key] = value
    if old.get("fill"):
        fill = old["fill"]
        entry["fill"] = _as_stack(fill) if isinstance(fill, list) or "kind" in fill else _parts(fill)
    for option in document.get("options", {}).values():
        if zone in option:
            kept = option[zone].unwrap()
            option[name] = _as_stack(kept) if isinstance(kept, list) or "kind" in kept else _parts(kept)
    return tomlkit.dumps(document)


def _parts(fill: Mapping[str, Any]) -> dict[str, Any]:
    return {part: _as_stack(stack) for part, stack in fill.items()}


def _without(document: Any, place: int, taken: set[str], every: Sequence[str]) -> None:
    """Take patches out of one zone's list; a zone that has none left goes, out of the options too."""
    zones = document["zone"]
    rules = [str(rule) for rule in zones[place].get("patches", [])]
    held = _held(rules, every)
    if not taken & held:
        return
    if held <= taken:
        gone = str(zones[place].get("name"))
        del zones[place]
        for option in document.get("options", {}).values():
            option.pop(gone, None)
        return
    kept = [rule for rule in rules if rule not in taken]
    out = sorted(taken & _held(kept, every))
    zones[place]["patches"] = [*kept, *(f"!{patch}" for patch in out)]


def _held(rules: Sequence[str], every: Sequence[str]) -> set[str]:
    held: set[str] = set()
    for rule in rules:
        found = set(matching(rule.removeprefix("!"), every))
        held = held - found if rule.startswith("!") else held | found
    return held


def with_division(text: str, zone: str, steps: Sequence[Mapping[str, Any]], *, file: str = "plan.toml") -> str:
    """Return the plan's text with a zone divided anew; the fill it had goes into the largest share that is left.

    Fills of parts that are no longer there go.

    Parameters
    ----------
    text : str
        The plan.
    zone : str
        A zone's name.
    steps : sequence of mapping
        As a plan's ``divide`` has them; none: the zone is whole again.
    file : str
        Its name, for messages.

    Returns
    -------
    str
        The new text.

    Raises
    ------
    PlanError
        The text is no TOML, or there is no such zone.
    """
    document = _parsed(text, file)
    entry = _entry(document, zone, file)
    if steps:
        rows = tomlkit.array()
        for step in steps:
            row = tomlkit.inline_table()
            row.update(dict(step))
            rows.append(row)
        entry["divide"] = rows
    else:
        entry.pop("divide", None)
    _move_fill(entry, "fill", steps)
    for option in document.get("options", {}).values():
        _move_fill(option, zone, steps)
    return tomlkit.dumps(document)


def _move_fill(table: Any, key: str, steps: Sequence[Mapping[str, Any]]) -> None:
    """Put the fill that a zone had into what its new division leaves."""
    was = _main_fill(table.get(key))
    table.pop(key, None)
    if was is not None:
        table[key] = {_main_part(steps): _as_stack(was)} if steps else _as_stack(was)


def _main_fill(fill: Any) -> Any:
    """Return the fill of an undivided zone, or that of what is left inside a divided one."""
    if fill is None or isinstance(fill, list) or "kind" in fill:
        return fill
    return next((fill[part] for part in (INSIDE, *OLD_INSIDE) if part in fill), next(iter(fill.values()), None))


def _main_part(steps: Sequence[Mapping[str, Any]]) -> str:
    """Return the part that what was there goes into: what is left inside, or all parts of the last step alike."""
    last = DivideStep(by=steps[-1]["by"], name=steps[-1].get("name"))
    return INSIDE if last.leaves_rest else f"{last.stem}-*"


def _as_stack(stack: Any) -> Any:
    plain = stack.unwrap() if isinstance(stack, Item) else stack
    if isinstance(plain, Mapping):
        return dict(plain)
    if len(plain) == 1:
        return dict(plain[0])
    rows = tomlkit.aot()
    for layer in plain:
        rows.append(tomlkit.item(dict(layer)))
    return rows


def with_fill(
    text: str,
    zone: str,
    stack: Sequence[Mapping[str, Any]],
    *,
    part: str = "",
    option: str | None = None,
    file: str = "plan.toml",
) -> str:
    """Return the plan's text with another fill in a zone, or in one of its parts; an empty stack takes it out.

    With an ``option`` the fill is that option's, and the zone's own stays as it is.

    Parameters
    ----------
    text : str
        The plan.
    zone : str
        A zone's name.
    stack : sequence of mapping
        The fills in drawing order, each with its ``kind``.
    part : str
        One part of a divided zone; empty: the zone itself.
    option : str, optional
        The option that gets the fill.
    file : str
        Its name, for messages.

    Returns
    -------
    str
        The new text.

    Raises
    ------
    PlanError
        The text is no TOML, or there is no such zone or option.
    """
    document = _parsed(text, file)
    entry = _entry(document, zone, file)
    divided = bool(entry.get("divide"))
    if option is not None:
        options = document.get("options", {})
        if option not in options:
            raise PlanError(f"has no option '{option}'; its options are {list_of(list(options)) or 'none'}", file=file)
        entry, key = options[option], zone
    else:
        key = "fill"
    if not divided:
        _put(entry, key, stack)
        return _ended_as(text, tomlkit.dumps(document))
    parts = entry.setdefault(key, tomlkit.table())
    name = part if part and part not in OLD_INSIDE else INSIDE
    for old in OLD_INSIDE if name == INSIDE else ():
        parts.pop(old, None)
    _put(parts, name, stack)
    return _ended_as(text, tomlkit.dumps(document))


def _put(entry: Any, key: str, stack: Sequence[Mapping[str, Any]]) -> None:
    """Put a stack into a table: what stays of a single fill keeps its comments, another is set off by an empty line."""
    old = entry.get(key)
    if len(stack) == 1 and isinstance(old, Table) and "kind" in old:
        for name in [name for name in old if name not in stack[0]]:
            old.remove(name)
        for name, value in stack[0].items():
            if name not in old or old[name].unwrap() != value:
                old[name] = value
        return
    entry.pop(key, None)
    if stack:
        entry[key] = _as_stack(stack)
        new = entry[key]
        if isinstance(new, AoT):
            new[-1].add(tomlkit.nl())
        elif isinstance(new, Table):
            new.add(tomlkit.nl())


def _ended_as(before: str, text: str) -> str:
    """Return a text without an empty line at its end that was not there before."""
    return text.rstrip("\n") + "\n" if text.endswith("\n\n") and not before.endswith("\n\n") else text


def with_option(
    text: str,
    name: str,
    fills: Mapping[str, Mapping[str, Sequence[Mapping[str, Any]]]],
    *,
    file: str = "plan.toml",
) -> str:
    """Return the plan's text with another option of that name, which holds the fills of each zone by part.

    Parameters
    ----------
    text : str
        The plan.
    name : str
        Of the new option.
    fills : mapping
        Stacks by zone and part; a part without a fill is left out.
    file : str
        Its name, for messages.

    Returns
    -------
    str
        The new text.

    Raises
    ------
    PlanError
        The text is no TOML, the name is empty or taken, or there is no fill to keep.
    """
    document = _parsed(text, file)
    options = document.setdefault("options", tomlkit.table(is_super_table=True))
    if not name.strip() or name in options:
        what = "is an option already" if name.strip() else "is empty; must be a name"
        raise PlanError(what, file=file, key=f"option '{name}'", what_to_do="Give it another name.")
    kept = tomlkit.table()
    for zone, by_part in fills.items():
        filled = {part: _as_stack([dict(layer) for layer in stack]) for part, stack in by_part.items() if stack}
        if filled:
            kept[zone] = filled[""] if list(filled) == [""] else filled
    if not kept:
        raise PlanError("has nothing to keep: no zone has a fill yet", file=file, key=f"option '{name}'")
    options[name] = kept
    return tomlkit.dumps(document)


def _parsed(text: str, file: str) -> Any:
    try:
        return tomlkit.parse(text)
    except ParseError as error:
        raise PlanError(f"is no valid TOML: {error}", file=file) from None


def _entry(document: Any, name: str, file: str) -> Any:
    zones = document.get("zone", [])
    if not isinstance(zones, AoT):
        raise PlanError("is no list of tables; must be written as [[zone]]", file=file, key="zone")
    entries = {str(entry.get("name")): entry for entry in zones}
    if name not in entries:
        near = nearest(name, entries)
        rule = f"has no zone '{name}'; its zones are {list_of(list(entries)) or 'none'}"
        raise PlanError(rule, file=file, what_to_do=f"Did you mean '{near}'?" if near else None)
    return entries[name]
