"""Files are written whole or not at all, and never over her own without being told so."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Collection, Iterable, Mapping, Sequence
from pathlib import Path, PurePosixPath, PureWindowsPath

from ..errors import OutputError, shown
from ._lock import writing_alone

__all__ = ["check_targets", "write_files"]

PART_BEGINS, PART_ENDS = ".plumeline-", ".part"
"""What the temporary names of files that are being written begin and end with."""

LONGEST_NAME = 255
"""Bytes of a file name that every drive of today takes."""


def write_files(
    folder: str | os.PathLike[str],
    files: Mapping[str, bytes],
    *,
    force: bool = False,
    keep: Iterable[str | os.PathLike[str]] = (),
) -> tuple[str, ...]:
    """Write all files into a folder, or none of them, and return their names.

    Every file is first written whole under a temporary name; only when all are there do they get their names. Whatever
    goes wrong before that, Ctrl-C included, leaves the folder as it was: files that were written over are put back.
    One run at a time writes into a folder; what a killed run left half-done there is swept.

    Parameters
    ----------
    folder : str or path
        Made when it is missing.
    files : mapping of str to bytes
        Plain file names, without folders, and what goes into them.
    force : bool
        Write over files that exist.
    keep : iterable of paths
        Files that are never written over, not even with ``force``: what the work was made from.

    Returns
    -------
    tuple of str
        In the order given.

    Raises
    ------
    OutputError
        A file exists and ``force`` is False; a file is one to keep; a name leads out of the folder; the folder can't
        be written to.
    """
    check_targets(folder, files, force=force, keep=keep)
    where = Path(folder)
    made = _missing_parents(where)
    done = False
    try:
        with writing_alone(where) as alone:
            if alone:
                _sweep(where)
            check_targets(folder, files, force=force, keep=keep)  # another run may have written since
            _place(where, files)
        done = True
    except OutputError:
        raise
    except OSError as error:
        raise OutputError(
            f"can't be written: {error.strerror or error}",
            file=str(where),
            what_to_do="Choose another folder, or change its permissions.",
        ) from error
    finally:
        if not done:
            _clear(made)
    return tuple(files)


def _place(where: Path, files: Mapping[str, bytes]) -> None:
    """Write all files under temporary names, then give them their own; what they replace comes back if that fails."""
    staged: dict[str, Path] = {}
    before: dict[str, Path | None] = {}
    done = False
    try:
        for name, data in files.items():
            staged[name] = _stage(where, data)
        for name in files:
            before[name] = _kept_aside(where / name)
        for name in files:
            staged[name].replace(where / name)
        done = True
    finally:
        if not done:
            for name, old in before.items():
                if not staged[name].exists():  # it had its name already
                    (where / name).unlink(missing_ok=True)
                    if old is not None:
                        old.replace(where / name)
        for path in (*staged.values(), *before.values()):
            if path is not None:
                path.unlink(missing_ok=True)


def _kept_aside(target: Path) -> Path | None:
    """Return a second name of a file that is about to be written over; None when there is no such file."""
    if not target.exists():
        return None
    aside = _unused(target.parent)
    try:
        aside.hardlink_to(target)
    except OSError:  # a drive without hard links: a copy does as well
        shutil.copy2(target, aside)
    return aside


def _unused(folder: Path) -> Path:
    handle, name = tempfile.mkstemp(prefix=PART_BEGINS, suffix=PART_ENDS, dir=folder)
    os.close(handle)
    Path(name).unlink()
    return Path(name)


def _sweep(folder: Path) -> None:
    """Take away what killed runs left: nobody else writes here now."""
    for path in folder.glob(f"{PART_BEGINS}*{PART_ENDS}"):
        path.unlink(missing_ok=True)


def check_targets(
    folder: str | os.PathLike[str],
    names: Collection[str],
    *,
    force: bool = False,
    keep: Iterable[str | os.PathLike[str]] = (),
) -> None:
    """Check, before long work or writing, that a folder may take files of these names.

    Parameters
    ----------
    folder : path
        It need not be there yet.
    names : collection of str
        Of the files that will be written.
    force : bool
        Whether files that are there may be written over.
    keep : iterable of path
        Files that are never written over.

    Raises
    ------
    OutputError
        As `write_files` raises it.
    """
    if not os.fspath(folder):
        raise OutputError(
            "is no folder", file="''", what_to_do="Name a folder; a single dot means the one that you are in."
        )
    where = Path(folder)
    for name in names:
        _check_name(name)
    try:
        if where.exists() and not where.is_dir():
            raise OutputError("is a file; must be a folder", file=str(where), what_to_do="Choose another folder.")
        kept = [Path(path) for path in keep]
        for name in names:
            _check_target(where / name, force, kept)
    except OutputError:
        raise
    except (OSError, RuntimeError, ValueError) as error:  # a name too long, a link that goes round in a circle
        raise OutputError(
            f"can't be written: {getattr(error, 'strerror', None) or error}",
            file=shown(str(where)),
            what_to_do="Choose another folder or a shorter name.",
        ) from None


def _check_name(name: str) -> None:
    parts = (PurePosixPath(name).parts, PureWindowsPath(name).parts)
    if name in ("", ".", "..") or "\0" in name or any(len(p) != 1 for p in parts) or PureWindowsPath(name).drive:
        raise OutputError(
            "is no plain file name; must not be empty or lead into another folder",
            file=name,
            what_to_do="Give the plan or the option a plainer name.",
        )
    long, plain = len(os.fsencode(name)) > LONGEST_NAME, shown(name, most=len(name)) == name
    if long or not plain:
        rule = "can't be read as text" if not plain else f"is longer than {LONGEST_NAME} letters"
        raise OutputError(
            f"is a file name that {rule}", file=shown(name), what_to_do="Give the plan or the option another name."
        )


def _check_target(target: Path, force: bool, keep: Sequence[Path]) -> None:
    if target.is_dir():
        raise OutputError("is a folder; a file of that name can't be written", file=str(target))
    if any(_same_file(target, path) for path in keep):
        raise OutputError(
            "is what this is made from, and is never written over",
            file=str(target),
            what_to_do="Choose another folder or name.",
        )
    if not force and (target.exists() or target.is_symlink()):
        raise OutputError(
            "exists already and is left as it is",
            file=str(target),
            what_to_do="Use --force to write over it, or choose another name or folder.",
        )


def _same_file(target: Path, kept: Path) -> bool:
    """Whether two paths are one file, by whatever name, link or case of letters."""
    if target.exists() and kept.exists():
        return target.samefile(kept)
    return target.resolve() == kept.resolve()


def _missing_parents(folder: Path) -> list[Path]:
    return [p for p in (folder, *folder.parents) if not p.exists()]


def _stage(folder: Path, data: bytes) -> Path:
    handle, name = tempfile.mkstemp(prefix=PART_BEGINS, suffix=PART_ENDS, dir=folder)
    path = Path(name)
    whole = False
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        path.chmod(0o666 & ~_umask())
        whole = True
    finally:
        if not whole:
            path.unlink(missing_ok=True)
    return path


def _umask() -> int:
    # The only way to read it is to set it; temporary files are private, finished ones are not.
    mask = os.umask(0o022)
    os.umask(mask)
    return mask


def _clear(folders: list[Path]) -> None:
    for folder in folders:
        if folder.is_dir() and not any(folder.iterdir()):
            folder.rmdir()
