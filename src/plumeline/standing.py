"""How things stand in a sitting: what was shown last, who is told of news, who waits for them."""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

from .model import Filled, Top, Zone
from .quilt import Drawn, Quilt

__all__ = ["Seen", "Standing"]


@dataclass(frozen=True, slots=True, eq=False)
class Seen:
    """How things stand.

    Attributes
    ----------
    number : int
        Grows with every change and every result.
    text : str
        The plan's text.
    top : Top or None
        The pieced top, as soon as it is read.
    drawn : Drawn or None
        The filled zones of the newest good text.
    quilt : Quilt or None
        The newest quilt that was joined; older than ``drawn`` while ``busy``.
    error : str
        What is wrong with the file as it lies on the disk, or with joining; else empty.
    busy : bool
        Whether a newer quilt is on its way.
    partial : tuple of (Zone, Filled)
        What is filled so far while a plan is opened, or of what a change touches; empty as soon as it is ``drawn``.
    doing : str
        What is being done while ``busy``, in words; it changes without another ``number``.
    """

    number: int = 0
    text: str = ""
    top: Top | None = None
    drawn: Drawn | None = None
    quilt: Quilt | None = None
    error: str = ""
    busy: bool = False
    partial: tuple[tuple[Zone, Filled], ...] = ()
    doing: str = ""


class Standing:
    """What is `Seen` now, and the threads that listen to it or wait for it.

    Attributes
    ----------
    seen : Seen
        How things stand now.
    ended : bool
        Whether the sitting is closed; nobody waits any longer then.
    """

    def __init__(self) -> None:
        self.seen = Seen()
        self._news, self._closing = threading.Condition(), threading.Event()
        self._listeners: list[Callable[[Seen], None]] = []

    @property
    def ended(self) -> bool:
        """Whether the sitting is closed."""
        return self._closing.is_set()

    def listen(self, tell: Callable[[Seen], None]) -> Callable[[], None]:
        """Have a function told of everything new, from whichever thread; return what ends it."""
        self._listeners.append(tell)
        return lambda: self._listeners.remove(tell) if tell in self._listeners else None

    def set(self, **news: Any) -> Seen:
        """Take up news under a new number, tell all who listen, and return how things stand."""
        with self._news:
            self.seen = replace(self.seen, number=self.seen.number + 1, **news)
            self._news.notify_all()
        for tell in tuple(self._listeners):
            tell(self.seen)
        return self.seen

    def say(self, doing: str) -> None:
        """Say what is being done, without a new number: there is nothing new to show."""
        with self._news:
            self.seen = replace(self.seen, doing=doing)

    def wait_for(self, ready: Callable[[Seen], bool], seconds: float | None = None) -> bool:
        """Wait until how things stand is as asked, or the sitting ends; return False after ``seconds``."""
        with self._news:
            return self._news.wait_for(lambda: ready(self.seen) or self.ended, seconds)

    def ends_within(self, seconds: float) -> bool:
        """Return whether the sitting is closed before so many seconds are over."""
        return self._closing.wait(seconds)

    def end(self) -> None:
        """Let go all who wait."""
        self._closing.set()
        with self._news:
            self._news.notify_all()
