"""The words in which a drawing's reading is told."""

from __future__ import annotations

from collections.abc import Sequence

__all__ = ["are", "count_of", "named", "themselves", "were"]


def count_of(n: int, one: str, many: str | None = None) -> str:
    """Return a number with its noun."""
    return f"{n} {one if n == 1 else many or one + 's'}"


def named(names: Sequence[str], most: int = 3) -> str:
    """Return the first names in quotes, and how many more there are.

    Parameters
    ----------
    names : sequence of str
        Names of patches, zones or shapes.
    most : int
        So many are told.

    Returns
    -------
    str
        Such as ``'a', 'b', 'c' and 2 more``.
    """
    shown = ", ".join(f"'{name}'" for name in names[:most])
    return shown if len(names) <= most else f"{shown} and {len(names) - most} more"


def are(n: int) -> str:
    """Return "is" or "are"."""
    return "is" if n == 1 else "are"


def were(n: int) -> str:
    """Return "was" or "were"."""
    return "was" if n == 1 else "were"


def themselves(n: int) -> str:
    """Return "itself" or "themselves"."""
    return "itself" if n == 1 else "themselves"
