"""The quilt that comes back from the main job, and how it writes its files."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass

from ..output import write_files
from ..plan import files_read
from .files import files_of
from .result import Finished
from .targets import check_before

__all__ = ["Quilt"]


@dataclass(frozen=True, slots=True, eq=False)
class Quilt(Finished):
    """What ``plumeline.stitch`` returns: all of the quilt, which can write its files."""

    def write(
        self, folder: str | os.PathLike[str], *, formats: Sequence[str] | None = None, force: bool = False
    ) -> tuple[str, ...]:
        """Write the files of this quilt into a folder, all or none, and return their names.

        Parameters
        ----------
        folder : path
            Made when it is missing.
        formats : sequence of str, optional
            ``svg`` and ``dst`` when left out; see `plumeline.output.writer_names`. The pictures
            (cloth and path) and ``report.json`` always come with them.
        force : bool
            Write over files that are there.

        Returns
        -------
        tuple of str
            Names of all that was written.

        Raises
        ------
        OutputError
            No such format; a file is there already; a file is one that the plan reads, which ``force`` does not
            change; the folder can't be written to; a stitch file did not read back equal.
        """
        wanted, keep = formats or ("svg", "dst"), files_read(self.plan)
        check_before(folder, self.plan, wanted, force=force, keep=keep)
        return write_files(folder, files_of(self, wanted), force=force, keep=keep)
