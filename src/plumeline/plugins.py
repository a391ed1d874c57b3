"""What other packages bring in through their entry points: fills and file formats."""

from __future__ import annotations

from collections.abc import Callable
from importlib.metadata import entry_points
from typing import Any

__all__ = ["load_plugins"]


def load_plugins(group: str, register: Callable[[Any], object]) -> list[tuple[str, str]]:
    """Register all that other packages offer; return the name of what could not be loaded, and why.

    Parameters
    ----------
    group : str
        Name of the entry points' group.
    register : callable
        Given what each entry point loads.
    """
    broken = []
    for point in entry_points(group=group):
        try:
            register(point.load())
        except Exception as error:  # noqa: BLE001 - a foreign package may raise anything; it explains itself and breaks nothing
            broken.append((point.name, str(error)))
    return broken
