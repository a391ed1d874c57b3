"""The one error tree.

::

    PlumelineError                 anything that plumeline raises on purpose
    ├── InputError (ValueError)    the user's input; the command line exits with code 2
    │   ├── PlanError              the plan file
    │   ├── DrawingError           a drawing or artwork file
    │   ├── TopError               patches, seams, blocks, measurements
    │   ├── ZoneError              zones, divisions, shapes
    │   ├── FillError              a fill's settings or shape
    │   ├── LineError              joining
    │   ├── StitchError            needle points and machine limits
    │   └── OutputError (OSError)  a file that can't be written or read back
    └── EngineError (RuntimeError) our own fault: a result that failed its check; exit code 1
"""

from __future__ import annotations

import difflib
import re
import unicodedata
from collections.abc import Iterable

__all__ = [
    "DrawingError",
    "EngineError",
    "FillError",
    "InputError",
    "LineError",
    "OutputError",
    "PlanError",
    "PlumelineError",
    "StitchError",
    "TopError",
    "ZoneError",
    "nearest",
    "one_line",
    "shown",
    "unprintable",
]

SHOWN_LETTERS = 80
"""The most of one value that a message repeats."""

RULE_LETTERS = 700
"""The most that a message says of what is wrong; a list of two thousand names says no more than one of twenty."""

_LONG_WORD = re.compile(rf"\S{{{SHOWN_LETTERS + 1},}}")
_QUOTED = re.compile(rf"(?<!\w)'[^'\n]{{{SHOWN_LETTERS + 1},}}'|\"[^\"\n]{{{SHOWN_LETTERS + 1},}}\"")


class PlumelineError(Exception):
    """Base of all errors raised on purpose."""

    exit_code = 1


class InputError(PlumelineError, ValueError):
    """Something in the user's input can't be used.

    Parameters
    ----------
    rule : str
        What is wrong and the rule it breaks, as half a sentence: ``"is 0.2 mm; must be at least 0.5 mm"``.
    file, zone, key : str, optional
        Where: the file's name, the zone's name, the key (``"fill.inside.spacing"``).
    what_to_do : str, optional
        The way out, as a sentence.

    Notes
    -----
    The message reads ``tidewater.toml: zone 'field': fill.inside.spacing: is 0.2 mm; must be at least 0.5 mm.
    Choose a wider spacing.``
    """

    exit_code = 2

    def __init__(
        self,
        rule: str,
        *,
        file: str | None = None,
        zone: str | None = None,
        key: str | None = None,
        what_to_do: str | None = None,
    ) -> None:
        self.rule, self.file, self.zone, self.key, self.what_to_do = rule, file, zone, key, what_to_do
        super().__init__(rule)

    def __str__(self) -> str:
        zone, key = shown(self.zone or ""), shown(self.key or "")
        where = [part for part in (shown(self.file or "", most=4096), f"zone '{zone}'" if zone else "", key) if part]
        text = ": ".join([*where, one_line(self.rule).rstrip(".")])
        return f"{text}. {one_line(self.what_to_do)}" if self.what_to_do else text

    def at(self, *, file: str | None = None, zone: str | None = None, key: str | None = None) -> InputError:
        """Return this error with the places it did not know yet filled in (known places stay)."""
        self.file = self.file or file
        self.zone = self.zone or zone
        self.key = self.key or key
        return self


class PlanError(InputError):
    """The plan file says something that can't be used."""


class DrawingError(InputError):
    """A drawing or artwork file can't be read or used."""


class TopError(InputError):
    """Patches, seams, block tables or measurements don't make a top."""


class ZoneError(InputError):
    """A zone, division or laid-over shape can't be made."""


class FillError(InputError):
    """A fill's settings or its shape can't be used."""


class LineError(InputError):
    """Strokes can't be joined as asked."""


class StitchError(InputError):
    """Needle points can't be made within the machine's limits."""


class OutputError(InputError, OSError):
    """A file can't be written, would overwrite the user's own, or did not read back equal."""

    def __str__(self) -> str:
        return InputError.__str__(self)


class EngineError(PlumelineError, RuntimeError):
    """A result of our own failed its check: our fault, not the user's."""


def nearest(word: str, choices: Iterable[str]) -> str | None:
    """Return the choice nearest to a mistyped word, or None when nothing is near.

    Examples
    --------
    >>> nearest("spaceing", ["spacing", "angle"])
    'spacing'
    """
    found = difflib.get_close_matches(word.lower(), list(choices), n=1, cutoff=0.6)
    return found[0] if found else None


def shown(text: str, *, most: int = SHOWN_LETTERS) -> str:
    """Return a text as a message may show it: on one line, what can't be printed replaced, at most so long.

    Examples
    --------
    >>> shown("one" + chr(10) + "two")
    'one�two'
    >>> len(shown("9" * 100_000))
    80
    """
    cut = text if len(text) <= most else f"{text[: most - 1]}…"
    return "".join("\N{REPLACEMENT CHARACTER}" if unprintable(c) else c for c in cut)


def unprintable(letter: str) -> bool:
    """Whether a letter is a control character, the end of a line or half a character: what no name can hold."""
    return unicodedata.category(letter) in ("Cc", "Cs", "Zl", "Zp")


def one_line(rule: str) -> str:
    """Return what is wrong on one line, each long value in it cut to `SHOWN_LETTERS`, the whole to `RULE_LETTERS`.

    Examples
    --------
    >>> one_line("is " + "9" * 100_000 + "; must be shorter") == "is " + "9" * 79 + "…; must be shorter"
    True
    """
    cut = _QUOTED.sub(lambda m: f"{shown(m[0], most=SHOWN_LETTERS + 1)}{m[0][0]}", rule)
    cut = _LONG_WORD.sub(_cut_word, cut)
    return shown(" ".join(cut.splitlines()), most=RULE_LETTERS)


def _cut_word(word: re.Match[str]) -> str:
    body = word[0].rstrip(";:,.)'")
    return f"{shown(body)}{word[0][len(body) :]}"
