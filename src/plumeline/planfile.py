"""A plan's file, written to while others may write to it: nothing of theirs and nothing of the start is lost."""

from __future__ import annotations

from pathlib import Path

from .errors import PlanError
from .output import write_files

__all__ = ["PlanFile"]


class PlanFile:
    """A plan's file, and what was last seen in it.

    Parameters
    ----------
    path : path
        The file.

    Attributes
    ----------
    path : path
        The same.
    seen : bytes
        What it held when it was last read or written here.

    Raises
    ------
    PlanError
        It can't be read.
    """

    def __init__(self, path: str | Path) -> None:
        self.path = Path(path)
        self._first = self.seen = self.read()
        self._first_is_kept = False

    @property
    def name(self) -> str:
        """Its name, for messages."""
        return self.path.name

    def read(self) -> bytes:
        """Return what the file holds now; what was `seen` stays.

        Raises
        ------
        PlanError
            It is gone, or can't be read.
        """
        try:
            return self.path.read_bytes()
        except FileNotFoundError:
            raise PlanError("is not there any more", file=str(self.path)) from None
        except OSError as error:
            raise PlanError(f"can't be read ({error.strerror})", file=str(self.path)) from None

    def text_of(self, data: bytes) -> str:
        """Return what the file held as text.

        Raises
        ------
        PlanError
            It is none.
        """
        try:
            return data.decode("utf-8-sig")
        except UnicodeDecodeError:
            raise PlanError("is not UTF-8 text", file=self.name) from None

    def write(self, text: str) -> None:
        """Write a text whole, with the first time how the file was at the start, as ``NAME.bak``.

        Raises
        ------
        OutputError
            The folder can't be written to; the file is as it was.
        """
        data = text.encode()
        files = {self.name: data}
        if not self._first_is_kept:
            files[f"{self.name}.bak"] = self._first
        write_files(self.path.parent, files, force=True)
        self._first_is_kept, self.seen = True, data

    def keep(self, theirs: bytes) -> None:
        """Keep what others wrote, and is to be written over, as ``NAME.theirs``.

        Raises
        ------
        OutputError
            The folder can't be written to.
        """
        write_files(self.path.parent, {f"{self.name}.theirs": theirs}, force=True)
