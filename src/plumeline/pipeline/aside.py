"""Work done beside the program, in a process of its own that is ended when newer work makes it old.

A long calculation in a thread holds the interpreter back for everything else, and can't be stopped. A process does
neither.
"""

from __future__ import annotations

import os
import threading
from collections.abc import Callable
from multiprocessing import get_context
from multiprocessing.connection import Connection
from multiprocessing.context import SpawnProcess
from typing import Any, TypeAlias

from ..errors import EngineError, PlumelineError
from .workers import follow, signals_wait

__all__ = ["Aside", "Stopped"]

Work: TypeAlias = Callable[[Any, Callable[[str, int, int], None]], Any]
"""Takes what it works on and what it tells how far it is; a function of a module, so that it can be sent."""

EASY = 5
"""How much the process stands back behind what she waits for, where the system knows of that."""


class Stopped(Exception):
    """The work was ended because newer work makes it old, or because the program ends."""


class Aside:
    """One process that does one kind of work, started with the first of it and kept for the next.

    Parameters
    ----------
    work : callable
        What is done; a function of a module.
    """

    def __init__(self, work: Work) -> None:
        self._work = work
        self._lock = threading.Lock()
        self._process: SpawnProcess | None = None
        self._ours: tuple[Connection, Connection] | None = None
        self._busy = self._closed = False

    def run(self, what: Any, tell: Callable[[str, int, int], None]) -> Any:
        """Do the work on something and return what came of it; ``tell`` is told meanwhile how far it is.

        Raises
        ------
        Stopped
            `stop` or `close` was called meanwhile.
        PlumelineError
            What the work raised; an `EngineError` when the system ended the process.
        """
        with self._lock:
            if self._closed:
                raise Stopped
            if self._process is None or not self._process.is_alive():
                self._start()
            assert self._ours is not None
            process, ours, self._busy = self._process, self._ours, True
        pipe = ours[0]
        kind: str = "said"
        said: Any = ()
        try:
            pipe.send(what)
            while kind == "said":
                kind, said = pipe.recv()
                if kind == "said":
                    tell(*said)
        except (EOFError, OSError):
            if self._process is not process:
                raise Stopped from None
            raise EngineError("the process that joins lines was ended from outside; close other programs") from None
        finally:
            with self._lock:
                if self._process is process:
                    self._busy = False
                    if kind == "said":  # it is still at what nobody waits for any more
                        self._end()
                else:
                    _close(ours)
        if kind == "failed":
            raise said
        return said

    def stop(self) -> None:
        """End what is being done, if anything is."""
        with self._lock:
            if self._busy:
                self._end()

    def close(self) -> None:
        """End the process for good."""
        with self._lock:
            self._closed = True
            self._end()

    def _start(self) -> None:
        context = get_context("spawn")
        ours, theirs = context.Pipe()
        alive, holds = context.Pipe(duplex=False)
        self._process = context.Process(target=_serve, args=(self._work, theirs, alive), daemon=True)
        with signals_wait():
            self._process.start()
        theirs.close()
        alive.close()
        self._ours = ours, holds

    def _end(self) -> None:
        process, ours, busy = self._process, self._ours, self._busy
        self._process, self._ours, self._busy = None, None, False
        if process is not None:
            process.kill()
        # a pipe closed while another thread reads from it would have that thread read from whatever is opened next
        if ours is not None and not busy:
            _close(ours)


def _close(ends: tuple[Connection, Connection]) -> None:
    for end in ends:
        end.close()


def _serve(work: Work, pipe: Connection, alive: Connection) -> None:
    """In the process: do what is sent until the pipe ends."""
    follow(alive)
    if hasattr(os, "nice"):
        os.nice(EASY)
    while True:
        try:
            what = pipe.recv()
        except EOFError:
            return
        try:
            said = "done", work(what, lambda *told: pipe.send(("said", told)))
        except PlumelineError as error:
            said = "failed", error
        pipe.send(said)
        del what, said
