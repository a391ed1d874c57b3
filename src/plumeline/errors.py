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
]


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
        Where: the file's name, the zone's name, the key (``"fill.rest.spacing"``).
    what_to_do : str, optional
        The way out, as a sentence.

    Notes
    -----
    The message reads ``tidewater.toml: zone 'field': fill.rest.spacing: is 0.2 mm; must be at least 0.5 mm.
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
        where = [part for part in (self.file, f"zone '{self.zone}'" if self.zone else None, self.key) if part]
        text = ": ".join([*where, self.rule.rstrip(".")])
        return f"{text}. {self.what_to_do}" if self.what_to_do else text

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
