"""Ctrl-C and the wish of the system to stop: heard once, never lost, never a traceback."""

from __future__ import annotations

import signal
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType
from typing import Any

__all__ = ["Stop", "stoppable"]


class Stop:
    """Whether this run was asked to stop."""

    asked = False

    def __call__(self, _number: int, _frame: FrameType | None) -> None:
        """Stop where the program stands; what comes after the first time is passed over, so that it can tidy up."""
        self.asked = True
        for number in _SIGNALS:
            signal.signal(number, signal.SIG_IGN)
        raise KeyboardInterrupt


_SIGNALS = (signal.SIGINT, signal.SIGTERM)


@contextmanager
def stoppable() -> Iterator[Stop]:
    """Listen for Ctrl-C and for the system's wish to stop; yield what remembers it.

    Python can lose the exception of a Ctrl-C that comes while it tidies up; it would print a traceback and go on. Here
    nothing is printed, and `Stop.asked` still says that there was one.
    """
    stop = Stop()
    if threading.current_thread() is not threading.main_thread():
        yield stop
        return
    before = {number: signal.signal(number, stop) for number in _SIGNALS}
    hook = sys.unraisablehook

    def quiet(lost: Any) -> None:
        if not stop.asked:
            hook(lost)

    sys.unraisablehook = quiet
    try:
        yield stop
    finally:
        if not stop.asked:  # else the way out is short, and nothing may disturb it
            sys.unraisablehook = hook
            for number, handler in before.items():
                signal.signal(number, handler)
