"""Which files a run may write: checked before the long work, so that it is not done in vain."""

from __future__ import annotations

import os
import re
from collections.abc import Collection, Iterable, Sequence
from pathlib import Path

from ..output import check_targets, find_writer
from ..plan import Plan
from .files import stem_of

__all__ = ["check_before", "check_refit", "names_before"]

PICTURES = tuple(f"{of}-{kind}" for of in ("", "-close-up") for kind in ("cloth.png", "path.png", "path.svg"))
"""What comes with every run beside its formats."""


def names_before(plan: Plan, formats: Sequence[str], *, there: Iterable[str] = ()) -> tuple[str, ...]:
    """Return the names that a run of a plan may write.

    How many reaches there will be is not known yet: of the files of reaches (``quilt-reach-2of4.dst``) those that are
    there already are named, whatever their number.

    Parameters
    ----------
    formats : sequence of str
        As `files_of` takes them.
    there : iterable of str
        Names in the folder.
    """
    stem = stem_of(plan)
    suffixes = [find_writer(name).suffix for name in formats]
    ends = [*suffixes, *PICTURES, "-read-first.txt"]
    names = [*(f"{stem}{end}" for end in ends), "report.json"]
    if plan.machine.reach_mm is not None:
        any_end = "|".join(map(re.escape, [*suffixes, "-sheet.svg"]))
        of_reach = re.compile(rf"{re.escape(stem)}-reach-\d+of\d+({any_end})")
        names += sorted(name for name in there if of_reach.fullmatch(name))
    return tuple(names)


def check_before(
    folder: str | os.PathLike[str], plan: Plan, formats: Sequence[str], *, force: bool, keep: Collection[Path]
) -> None:
    """Check that a run may write into a folder.

    Parameters
    ----------
    keep : collection of paths
        What the run reads; see `plumeline.plan.files_read`.

    Raises
    ------
    OutputError
        A file is there and ``force`` is False; a file is one that the run reads; the folder can't be one.
    """
    check_targets(folder, (), force=force)
    where = Path(folder)
    there = [path.name for path in where.iterdir()] if where.is_dir() else []
    check_targets(folder, names_before(plan, formats, there=there), force=force, keep=keep)


def check_refit(
    folder: str | os.PathLike[str],
    plan: Plan,
    number: int,
    formats: Sequence[str],
    *,
    force: bool,
    keep: Collection[Path],
) -> None:
    """Check that a reach may be refitted into a folder; parameters and errors as of `check_before`."""
    check_targets(folder, (), force=force)
    where = Path(folder)
    ends = "|".join(re.escape(end) for end in (*(find_writer(f).suffix for f in formats), "-read-first.txt"))
    own = re.compile(rf"{re.escape(stem_of(plan))}-reach-{number}of\d+-refit({ends})")
    there = [path.name for path in where.iterdir()] if where.is_dir() else []
    check_targets(folder, sorted(name for name in there if own.fullmatch(name)), force=force, keep=keep)
