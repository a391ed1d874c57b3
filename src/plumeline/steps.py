"""A plan's text step by step, and changes of it that are asked for while an earlier one is still taken up."""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeAlias

from .errors import PlumelineError

__all__ = ["Changes", "Steps", "Superseded"]

MOST_STEPS = 200
"""Steps that can be taken back; each is a plan's text, some kilobytes."""


@dataclass(frozen=True, slots=True)
class Steps:
    """A plan's text and those before and after it.

    Attributes
    ----------
    text : str
        The plan as it is.
    back, forth : tuple of str
        What `undone` and `redone` go to, the next one last.
    """

    text: str = ""
    back: tuple[str, ...] = ()
    forth: tuple[str, ...] = ()

    def changed(self, text: str) -> Steps:
        """Return these steps and one more; themselves when the text is the same."""
        return self if text == self.text else Steps(text, (*self.back, self.text)[-MOST_STEPS:])

    def undone(self) -> Steps:
        """Return the steps with the last one taken back; themselves when there is none."""
        return Steps(self.back[-1], self.back[:-1], (*self.forth, self.text)) if self.back else self

    def redone(self) -> Steps:
        """Return the steps with what was taken back last done again; themselves when there is nothing."""
        return Steps(self.forth[-1], (*self.back, self.text), self.forth[:-1]) if self.forth else self

    def over(self, text: str) -> Steps:
        """Return the steps with a text that was written over: taken back after the newest step."""
        return Steps(self.text, (*self.back[:-1], text, *self.back[-1:]), self.forth)


Take: TypeAlias = Callable[[Steps, bool, bool], None]
"""Takes steps up into `Changes.steps`: they, whether also over a file that was changed elsewhere, whether to leave it
for newer ones. Raises `Superseded` when it left it, another error when they can't be used.
"""


class Superseded(Exception):
    """Stops filling or joining what a newer change has made old."""


class _Asked:
    """A change that is asked for, and what came of it."""

    def __init__(self, edit: Callable[[Steps], Steps], over: bool) -> None:
        self.edit, self.over = edit, over
        self.settled = False
        self.refused: PlumelineError | None = None


class Changes:
    """Changes asked for by several threads: the newest is not kept waiting for those before it.

    Parameters
    ----------
    take : Take
        Takes steps up.
    plain : callable
        Whether a text alters nothing that a later change could mean.
    lock : RLock
        Held while a change is taken up.

    Attributes
    ----------
    steps : Steps
        Those that were taken up.

    Notes
    -----
    Who holds the lock takes up all that is asked for so far at once, and begins anew with what comes meanwhile. When
    that can't be used, each is tried by itself, so that a wrong one spoils no other.
    """

    def __init__(self, take: Take, plain: Callable[[str], bool], lock: threading.RLock) -> None:
        self._take, self._plain, self._lock = take, plain, lock
        self.steps = Steps()
        self._asked: list[_Asked] = []

    @property
    def newest(self) -> object:
        """What was asked for last; another object as soon as something newer is."""
        return self._asked[-1]

    def take_up(self, edit: Callable[[Steps], Steps], *, over: bool) -> None:
        """Take up a change, with those that were asked for before it and after it so far.

        Raises
        ------
        PlumelineError
            It can't be used; the steps are as if it had not been asked for.
        """
        asked = _Asked(edit, over)
        self._asked.append(asked)
        with self._lock:
            try:
                while not asked.settled:
                    self._take_up_asked()
            finally:
                if not asked.settled:
                    self._asked.remove(asked)
        if asked.refused is not None:
            raise asked.refused

    def _take_up_asked(self) -> None:
        together, steps = self._together()
        try:
            self._go_to(steps, over=all(asked.over for asked in together), hurry=True)
        except Superseded:
            return
        except PlumelineError as error:
            if len(together) == 1:
                self._settle(together[0], error)
                return
            for asked in together:
                self._take_alone(asked)
        else:
            for asked in together:
                self._settle(asked)

    def _go_to(self, steps: Steps, *, over: bool, hurry: bool) -> None:
        if steps.text == self.steps.text:
            self.steps = steps
        else:
            self._take(steps, over, hurry)

    def _together(self) -> tuple[list[_Asked], Steps]:
        """Return the changes that can be taken up at once, and the steps that they make.

        One that is not plain is the last of them: what is asked for after it means what it makes. One that makes no
        text is refused when it is the first.
        """
        together: list[_Asked] = []
        steps = self.steps
        for asked in tuple(self._asked):
            try:
                steps = asked.edit(steps)
            except PlumelineError as error:
                if not together:
                    self._settle(asked, error)
                break
            together.append(asked)
            if len(self._asked) > 1 and not self._plain(steps.text):
                break
        return together, steps

    def _take_alone(self, asked: _Asked) -> None:
        try:
            self._go_to(asked.edit(self.steps), over=asked.over, hurry=False)
        except PlumelineError as error:
            self._settle(asked, error)
        else:
            self._settle(asked)

    def _settle(self, asked: _Asked, refused: PlumelineError | None = None) -> None:
        asked.settled, asked.refused = True, refused
        self._asked.remove(asked)
