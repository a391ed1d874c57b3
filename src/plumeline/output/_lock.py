"""One run at a time writes into a folder; whoever comes second waits."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from importlib import import_module
from pathlib import Path

__all__ = ["writing_alone"]


@contextmanager
def writing_alone(folder: Path) -> Iterator[bool]:
    """Make a folder and hold it for one run, waiting while another holds it; yield whether it is held.

    The hold is the operating system's own (``flock`` on the folder), so that it ends with the process, however that
    ends, and leaves no file behind. It is not held where folders can't be locked, as on Windows and on some network
    drives; files are then still whole, but two runs at once may each write some of them.

    Raises
    ------
    OSError
        The folder can't be made or opened.
    """
    handle, held = _held(folder)
    try:
        yield held
    finally:
        if handle is not None:
            os.close(handle)


def _held(folder: Path) -> tuple[int | None, bool]:
    while True:
        folder.mkdir(parents=True, exist_ok=True)
        if os.name != "posix":
            return None, False
        fcntl = import_module("fcntl")
        handle = os.open(folder, os.O_RDONLY)
        mine = False
        try:
            try:
                fcntl.flock(handle, fcntl.LOCK_EX)
            except OSError:  # this drive knows no locks
                mine = True
                return handle, False
            # the run before may have failed and taken away the folder that it made
            if folder.exists() and os.path.samestat(os.fstat(handle), folder.stat()):
                mine = True
                return handle, True
        finally:
            if not mine:
                os.close(handle)
