"""The one door through which every file of hers is read: a plain file, no larger than a stated limit."""

from __future__ import annotations

import stat
from pathlib import Path

from .errors import InputError

__all__ = ["check_plain_file", "leads_inside", "read_plain_file"]


def check_plain_file(path: Path, error: type[InputError], *, most: int, missing: str | None = None) -> None:
    """Check, before a file is opened, that it can be read without hanging or filling the memory.

    Parameters
    ----------
    error : type
        What is raised when the file can't be used.
    most : int
        Bytes.
    missing : str, optional
        The way out when there is no such file.

    Raises
    ------
    error
        There is no such file; it is a folder, a device or a pipe; it is too large; it can't be looked at.
    """
    try:
        found = path.stat()
    except FileNotFoundError:
        raise error("is not there", file=str(path), what_to_do=missing) from None
    except (OSError, ValueError) as fault:  # ValueError: a name that holds what no name can
        raise error(f"can't be read ({getattr(fault, 'strerror', None) or fault})", file=str(path)) from None
    if not stat.S_ISREG(found.st_mode):
        what = "a folder" if stat.S_ISDIR(found.st_mode) else "a device or a pipe"
        raise error(f"is {what}; must be a plain file", file=str(path))
    if found.st_size > most:
        raise error(
            f"has {found.st_size:,} bytes; must have at most {most:,}",
            file=str(path),
            what_to_do="Look whether it is the file that you meant.",
        )


def read_plain_file(path: Path, error: type[InputError], *, most: int, missing: str | None = None) -> bytes:
    """Return what is in a file; parameters and errors as of `check_plain_file`."""
    check_plain_file(path, error, most=most, missing=missing)
    try:
        with path.open("rb") as stream:
            return stream.read(most)
    except OSError as fault:
        raise error(f"can't be read ({fault.strerror or fault})", file=str(path)) from None


def leads_inside(path: Path, folder: Path) -> bool:
    """Return whether a path, its links followed, stays within a folder."""
    try:
        return path.resolve().is_relative_to(folder.resolve())
    except (OSError, RuntimeError):  # a link that goes round in a circle leads nowhere, a name that is too long too
        return False
