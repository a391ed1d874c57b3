"""What is wrong with a plan that is no TOML, told with the line and what usually mends it."""

from __future__ import annotations

import re

from ..errors import PlanError, shown

__all__ = ["toml_fault"]

_LINE = re.compile(r"\bline (\d+)")
_SINGLE_TABLE = re.compile(r"^\s*\[(zone|guide|measured)\]", re.MULTILINE)

_MENDS = (
    (re.compile("[“”„«»‘’]"), 'Write straight quotes: ".'),
    (re.compile(r"[=\[,]\s*\d+(\s+\d+)?/\d+"), 'Write a fraction in quotes, as "1/2".'),
    (re.compile(r"=\s*(\d+),(\d+)\s*(}|\]|#|$|,\s*\w+\s*=)"), r"Write the number with a point, \1.\2, or in quotes."),
    (re.compile(r"=\s*(yes|no|on|off|True|False|Yes|No)\b"), "Write true or false."),
    (re.compile(r"=\s*(?!(true|false|inf|nan)\b)[A-Za-z][\w -]*(,|}|\]|#|$)"), 'Write text in quotes, as "feather".'),
)
"""Habits of people who write no TOML, the surest first, and what to write instead."""


def toml_fault(text: str, error: ValueError, *, file: str | None) -> PlanError:
    """Return the error for a text that is no TOML: what the reader of TOML says, the line, and what mends it.

    Examples
    --------
    >>> import tomllib
    >>> try:
    ...     tomllib.loads("spacing = 1/2")
    ... except tomllib.TOMLDecodeError as error:
    ...     print(toml_fault("spacing = 1/2", error, file=None).what_to_do)
    Write a fraction in quotes, as "1/2".
    """
    said = f"{str(error)[:1].lower()}{str(error)[1:]}"
    at = _LINE.search(said)
    lines = text.splitlines()
    line = lines[int(at[1]) - 1].strip() if at and int(at[1]) <= len(lines) else ""
    there = f", in '{shown(line)}'" if line else ""
    single = _SINGLE_TABLE.search(text)
    if single and ("overwrite" in said or "twice" in said or "append" in said):
        mend: str | None = f"Begin each {single[1]} with [[{single[1]}]], in double brackets."
    else:
        found = ((habit.search(line), mend) for habit, mend in _MENDS)
        mend = next((match.expand(mend) for match, mend in found if match), None)
    what_to_do = mend or "Look for a missing quote, bracket or comma there."
    return PlanError(f"is no valid TOML: {said}{there}", file=file, what_to_do=what_to_do)
