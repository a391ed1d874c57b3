"""What is found by its name: the fills or formats of this package, then those that other packages bring in."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from importlib.metadata import entry_points
from types import MappingProxyType
from typing import Generic, Protocol, TypeVar

__all__ = ["Registry"]


class _Named(Protocol):
    @property
    def name(self) -> str:
        """What it is found by."""


T = TypeVar("T", bound=_Named)


class Registry(Generic[T]):
    """Things of one kind by name; each of this package is loaded when it is asked for, all others when any is.

    Parameters
    ----------
    built_in : sequence of str
        Names of this package's own, in the order they are listed to her.
    load : callable
        Loads one of them by name.
    group : str
        Name of the entry points that other packages offer theirs under.
    check : callable
        Raises ``ValueError`` when a new one can't stand beside those that are there.
    """

    def __init__(
        self,
        built_in: Sequence[str],
        *,
        load: Callable[[str], T],
        group: str,
        check: Callable[[T, Iterable[T]], None],
    ) -> None:
        self._built_in, self._load, self._group, self._check = built_in, load, group, check
        self._things: dict[str, T] = {}
        self._broken: list[tuple[str, str]] = []
        self._complete = False

    def add(self, thing: T) -> T:
        """Add one; raises ``ValueError`` when it can't stand beside another."""
        self._check(thing, self._things.values())
        self._things[thing.name] = thing
        return thing

    def all(self) -> Mapping[str, T]:
        """Return all by name: the built-in ones in their order, then those of other packages."""
        if not self._complete:
            self._complete = True
            early, self._things = self._things, {}  # loaded on their own, in the order they were asked for
            for name in self._built_in:
                self.add(early.pop(name) if name in early else self._load(name))
            self._things.update(early)
            self._add_foreign()
        return MappingProxyType(self._things)

    def find(self, name: str) -> T | None:
        """Return one by name, None when there is none; for a built-in one no other is loaded."""
        if name in self._built_in:
            return self._things[name] if name in self._things else self.add(self._load(name))
        return self.all().get(name)

    def broken(self) -> tuple[tuple[str, str], ...]:
        """Return the name of each of another package that could not be loaded, and why."""
        self.all()
        return tuple(self._broken)

    def _add_foreign(self) -> None:
        for point in entry_points(group=self._group):
            try:
                self.add(point.load())
            except Exception as error:  # noqa: BLE001 - a foreign package may raise anything; it explains itself and breaks nothing
                self._broken.append((point.name, str(error)))
