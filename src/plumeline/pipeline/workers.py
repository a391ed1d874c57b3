"""Work shared out among processes that end with the one that started them, however that ends."""

from __future__ import annotations

import os
import signal
import threading
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import BrokenExecutor, Executor, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from multiprocessing import get_context
from multiprocessing.connection import Connection
from typing import TypeVar

from ..errors import EngineError

__all__ = ["follow", "handed_out", "shared_out", "signals_wait"]

T = TypeVar("T")
R = TypeVar("R")

MOST_AT_ONCE = 8
"""Tasks that a process takes at once: more are quicker, fewer tell sooner how far it is."""

PIECES = 4
"""Of each process's share, at least so many pieces, so that the slowest is not waited for long."""


def shared_out(work: Callable[[T], R], tasks: Sequence[T], workers: int) -> Iterator[R]:
    """Yield what ``work`` makes of each task, in order, done by several processes side by side.

    The processes end when this generator is closed, and when this process dies, even by ``kill -9``: each holds one
    end of a pipe whose other end is only here. Ctrl-C in a terminal reaches only this process.

    Raises
    ------
    EngineError
        One of the processes was ended from outside, as a system does that runs out of memory.
    """
    context = get_context("spawn")
    theirs, ours = context.Pipe(duplex=False)
    pool = ProcessPoolExecutor(workers, mp_context=context, initializer=follow, initargs=(theirs,))
    try:
        with signals_wait():  # the first task starts all processes
            found = pool.map(work, tasks, chunksize=max(1, min(MOST_AT_ONCE, len(tasks) // (PIECES * workers))))
        yield from found
    except BrokenProcessPool:
        raise EngineError(
            "one of the processes that fill zones was ended from outside, most likely because the memory ran out; "
            "close other programs, or stitch some of the zones at a time with --zone"
        ) from None
    finally:
        ours.close()  # what is still at work stops here
        pool.shutdown(cancel_futures=True)
        theirs.close()


def handed_out(work: Callable[[T], R], tasks: Sequence[T], executor: Executor) -> Iterator[R]:
    """Yield what ``work`` makes of each task, in order, done by a pool of the caller's, which is left running.

    What has not begun is called off when this generator is closed.

    Raises
    ------
    EngineError
        The pool broke, as one does whose process was ended from outside.
    """
    futures = []
    try:
        futures += [executor.submit(work, task) for task in tasks]
        for future in futures:
            yield future.result()
    except BrokenExecutor:
        raise EngineError("the pool that was given to fill the zones broke; give a new one, with more memory") from None
    finally:
        for future in futures:
            future.cancel()


def follow(pipe: Connection) -> None:
    """In a new process: end as soon as the other end of the pipe is closed, and leave Ctrl-C to the first process."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with, args=(pipe,), daemon=True).start()


def _end_with(pipe: Connection) -> None:
    pipe.poll(None)  # nothing is ever sent; it wakes at the end of file
    os._exit(1)


@contextmanager
def signals_wait() -> Iterator[None]:
    """Hold Ctrl-C back for a moment: a process that starts in it never hears of one, not even while it loads."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    # the helper of these processes lets Ctrl-C through again when it starts; so it starts first
    from multiprocessing.resource_tracker import ensure_running

    ensure_running()
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)
