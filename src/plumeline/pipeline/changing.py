"""A plan changed by key, and checked whole before anything is written."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import tomlkit
from tomlkit.exceptions import ParseError

from ..errors import InputError, nearest
from ..plan import edit_plan, parse_plan
from ..units import number_or_text
from .layers import check_fills

__all__ = ["changed_plan"]

_STEP = re.compile(r'"([^"]*)"|([^."]+)')
"""One step of a key: in quotes it may hold dots and blanks."""

TOP_KEYS = ("title", "units", "chance", "top", "machine", "batting", "thread", "options", "fabrics", "prices", "quilt")
"""Where a plan's own keys begin; any other first word is the name of a zone."""


def changed_plan(plan: Path, pairs: Sequence[str]) -> tuple[str, tuple[str, ...]]:
    """Return a plan's text with values changed, and one line a change of what it was and is.

    Parameters
    ----------
    plan : path
        The plan's file.
    pairs : sequence of str
        ``KEY=VALUE``; the key's steps are parted by dots, a zone's name comes first (after ``zone.`` if she likes),
        and may stand in quotes. Where a plan has one zone, ``zone.fill.spacing`` means that one. No value takes the key
        out.

    Raises
    ------
    InputError
        A pair can't be read, there is no such zone, or the plan so changed can't be used.
    """
    before = plan.read_text(encoding="utf-8")
    read = parse_plan(before, file=plan.name, folder=plan.parent)
    zones = [spec.name for spec in read.zones]
    changes: dict[Sequence[str], Any] = dict(_change(pair, zones) for pair in pairs)
    after = edit_plan(before, changes, file=plan.name)
    check_fills(parse_plan(after, file=plan.name, folder=plan.parent))
    return after, tuple(f"{'.'.join(path)} is now {_told(value)}" for path, value in changes.items())


def _told(value: Any) -> str:
    return "left out" if value is None else str(value)


def _change(pair: str, zones: Sequence[str]) -> tuple[tuple[str, ...], Any]:
    key, sign, value = _parted(pair)
    steps = tuple(quoted or plain.strip() for quoted, plain in _STEP.findall(key))
    if not sign or not steps or not all(steps):
        raise InputError(
            f"is {pair!r}; must be KEY=VALUE", key="set", what_to_do='Write such as "big star".fill.spacing=1/2.'
        )
    if steps[0] == "zone" and len(steps) > 1:
        if steps[1] not in zones and len(zones) == 1:
            steps = ("zone", zones[0], *steps[1:])
    elif steps[0] not in TOP_KEYS:
        steps = ("zone", *steps)
    if steps[0] == "zone" and (len(steps) < 3 or steps[1] not in zones):
        near = nearest(steps[1], zones)
        raise InputError(
            f"{steps[1]!r} is no zone of this plan; its zones are {', '.join(zones)}",
            key="set",
            what_to_do=f"Did you mean {near!r}?" if near else "Name the zone first, then the key.",
        )
    return steps, _value(value.strip())


def _parted(pair: str) -> tuple[str, str, str]:
    """Return key, sign and value: cut at the first sign outside quotes."""
    quoted = False
    for k, letter in enumerate(pair):
        quoted ^= letter == '"'
        if letter == "=" and not quoted:
            return pair[:k], "=", pair[k + 1 :]
    return pair, "", ""


def _value(text: str) -> Any:
    """Return a value as TOML reads it; what is no TOML is a text, so that 1/2 needs no quotes; nothing is None."""
    if not text:
        return None
    try:
        return tomlkit.parse(f"value = {text}\n")["value"]
    except (ParseError, KeyError):
        return number_or_text(text)
