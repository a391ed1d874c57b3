"""Every file that a plan reads: what is never written over."""

from __future__ import annotations

import os
from pathlib import Path, PurePosixPath

from .reading import Plan

__all__ = ["files_read"]

LONGEST_NAME = 255
"""Bytes of a file name; a longer text names no file."""


def files_read(plan: Plan, *also: str | os.PathLike[str] | None) -> tuple[Path, ...]:
    """Return every file that a plan is made from: the plan itself and each file beside it that a text in it names.

    Drawing, artwork, photo and pictures of fabrics are found alike, by their names, wherever in the plan they stand
    and whatever key they stand under; so a key that comes later can't be forgotten here.

    Parameters
    ----------
    plan : Plan
        Read from a file, or from a text.
    also : paths
        Further files that the work reads, such as the drawing of what is stitched already; None is left out.

    Returns
    -------
    tuple of pathlib.Path
        The plan first; empty for a plan that came from no file and names none.
    """
    own = [plan.folder / plan.file] if plan.file else []
    named = [plan.folder / text for text in plan.texts if _may_be_a_file(text)]
    further = [Path(path) for path in also if path is not None]
    return tuple(path for path in (*own, *named, *further) if path.exists())


def _may_be_a_file(text: str) -> bool:
    parts = PurePosixPath(text).parts
    return bool(PurePosixPath(text).suffix) and all(len(os.fsencode(part)) <= LONGEST_NAME for part in parts)
