"""Work shared out among processes that end with the one that started them, however that ends."""

from __future__ import annotations

import os
import signal
import threading
from collections.abc import Callable, Generator, Iterator, Sequence
from concurrent.futures import BrokenExecutor, Executor, Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from multiprocessing import get_context
from multiprocessing.connection import Connection
from typing import Generic, TypeVar

from ..errors import EngineError

__all__ = ["follow", "handed_out", "shared_out", "signals_wait"]

T = TypeVar("T")
R = TypeVar("R")

MOST_AT_ONCE = 8
"""Tasks that a process takes at once: more are quicker, fewer tell sooner how far it is."""

PIECES = 4
"""Of each process's share, at least so many pieces, so that the slowest is not waited for long."""


def shared_out(work: Callable[[T], R], tasks: Sequence[T], workers: int) -> Generator[R]:
    """Yield what ``work`` makes of each task, in order, done by several processes side by side, this one among them.

    A process takes about a second to load what filling needs, so this one, which has, works too. It begins at the
    front, so that the first results come at once; the others take from the end. There large tasks are best put: so
    they are begun early, and none is waited for long at the last.

    The others end when this generator is closed, and when this process dies, even by ``kill -9``: each holds one end
    of a pipe whose other end is only here. Ctrl-C in a terminal reaches only this process.

    Raises
    ------
    EngineError
        One of the processes was ended from outside, as a system does that runs out of memory.
    """
    if workers < 2:
        yield from map(work, tasks)
        return
    size = max(1, min(MOST_AT_ONCE, len(tasks) // (PIECES * workers)))
    apart = max(0, len(tasks) - PIECES * workers)  # from here on one by one
    shares = [tasks[k : min(k + size, apart)] for k in range(0, apart, size)] + [[task] for task in tasks[apart:]]
    context = get_context("spawn")
    theirs, ours = context.Pipe(duplex=False)
    pool = ProcessPoolExecutor(workers - 1, mp_context=context, initializer=follow, initargs=(theirs,))
    row = _Row(pool, work, shares)
    try:
        with signals_wait():  # the first task starts all processes
            for _ in range(workers):  # one for each other process, and one that waits
                row.give()
        for k, share in enumerate(shares):
            given = row.take(k)
            yield from map(work, share) if given is None else given.result()
    except BrokenProcessPool:
        raise EngineError(
            "one of the processes that fill zones was ended from outside, most likely because the memory ran out; "
            "close other programs, or stitch some of the zones at a time with --zone"
        ) from None
    finally:
        row.end()
        ours.close()  # what is still at work stops here
        pool.shutdown(cancel_futures=True)
        theirs.close()


class _Row(Generic[T, R]):
    """Shares in a row: this process takes them from the front, a pool gets them from the end."""

    def __init__(self, pool: Executor, work: Callable[[T], R], shares: Sequence[Sequence[T]]) -> None:
        self._pool, self._work, self._shares = pool, work, shares
        self._lock = threading.Lock()
        self._front, self._back = 0, len(shares)
        self._given: dict[int, Future[list[R]]] = {}

    def take(self, k: int) -> Future[list[R]] | None:
        """Take the next share, ``k``; where the pool has it, return what it makes of it."""
        with self._lock:
            self._front = k + 1
            return self._given.get(k)

    def give(self) -> None:
        """Give the pool the last share that nobody has, and when it is done the one before."""
        with self._lock:
            last = self._back - 1
            if last < self._front:
                return
            given = self._given[last] = self._pool.submit(_all_of, self._work, self._shares[last])
            self._back = last
        given.add_done_callback(self._more)

    def _more(self, done: Future[list[R]]) -> None:
        if not done.cancelled() and done.exception() is None:
            self.give()

    def end(self) -> None:
        """Give nothing more."""
        with self._lock:
            self._front = self._back


def _all_of(work: Callable[[T], R], share: Sequence[T]) -> list[R]:
    return [work(task) for task in share]


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
