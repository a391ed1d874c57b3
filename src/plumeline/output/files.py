"""Files are written whole or not at all, and never over her own without being told so."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Collection, Mapping
from pathlib import Path, PurePosixPath, PureWindowsPath

from ..errors import OutputError

__all__ = ["check_targets", "write_files"]


def write_files(folder: str | os.PathLike[str], files: Mapping[str, bytes], *, force: bool = False) -> tuple[str, ...]:
    """Write all files into a folder, or none of them, and return their names.

    Every file is first written whole under a temporary name; only when all are there do they get their names. Whatever
    goes wrong before that, Ctrl-C included, leaves the folder as it was.

    Parameters
    ----------
    folder : str or path
        Made when it is missing.
    files : mapping of str to bytes
        Plain file names, without folders, and what goes into them.
    force : bool
        Write over files that exist.

    Raises
    ------
    OutputError
        A file exists and ``force`` is False; a name leads out of the folder; the folder can't be written to.
    """
    where = Path(folder)
    check_targets(where, files, force=force)
    made = _missing_parents(where)
    staged: dict[str, Path] = {}
    placed: list[Path] = []
    done = False
    try:
        where.mkdir(parents=True, exist_ok=True)
        for name, data in files.items():
            staged[name] = _stage(where, data)
        for name in files:
            fresh = not (where / name).exists()
            staged[name].replace(where / name)
            if fresh:
                placed.append(where / name)
        done = True
    except OSError as error:
        raise OutputError(
            f"can't be written: {error.strerror or error}",
            file=str(where),
            what_to_do="Choose another folder, or change its permissions.",
        ) from error
    finally:
        if not done:
            _clear([*staged.values(), *placed], made)
    return tuple(files)


def check_targets(folder: str | os.PathLike[str], names: Collection[str], *, force: bool = False) -> None:
    """Check, before long work or writing, that a folder may take files of these names.

    Raises
    ------
    OutputError
        As `write_files` raises it.
    """
    where = Path(folder)
    if where.exists() and not where.is_dir():
        raise OutputError("is a file; must be a folder", file=str(where), what_to_do="Choose another folder.")
    for name in names:
        _check_name(name)
    for name in names:
        _check_target(where / name, force)


def _check_name(name: str) -> None:
    parts = (PurePosixPath(name).parts, PureWindowsPath(name).parts)
    if name in ("", ".", "..") or "\0" in name or any(len(p) != 1 for p in parts) or PureWindowsPath(name).drive:
        raise OutputError(
            "is no plain file name; must not be empty or lead into another folder",
            file=name,
            what_to_do="Give the plan or the option a plainer name.",
        )


def _check_target(target: Path, force: bool) -> None:
    if target.is_dir():
        raise OutputError("is a folder; a file of that name can't be written", file=str(target))
    if not force and (target.exists() or target.is_symlink()):
        raise OutputError(
            "exists already and is left as it is",
            file=str(target),
            what_to_do="Use --force to write over it, or choose another name or folder.",
        )


def _missing_parents(folder: Path) -> list[Path]:
    return [p for p in (folder, *folder.parents) if not p.exists()]


def _stage(folder: Path, data: bytes) -> Path:
    handle, name = tempfile.mkstemp(prefix=".plumeline-", suffix=".part", dir=folder)
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


def _clear(files: list[Path], folders: list[Path]) -> None:
    for file in files:
        file.unlink(missing_ok=True)
    for folder in folders:
        if folder.is_dir() and not any(folder.iterdir()):
            folder.rmdir()
