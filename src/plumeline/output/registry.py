"""The registry of file formats: one format, one file, one registration, its reader beside its writer."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from importlib import import_module
from typing import Literal, Protocol, TypeAlias

from ..codes import FindingCode
from ..errors import OutputError, nearest
from ..model import Finding, NeedlePoints
from ..plugins import Registry
from .sheet import Drawn, Sheet

__all__ = [
    "LineWriter",
    "PointWriter",
    "Writer",
    "broken_formats",
    "find_writer",
    "register",
    "writer_for_file",
    "writer_names",
]

BUILT_IN: tuple[str, ...] = ("svg", "dst", "exp", "csv", "dxf", "gcode")
"""The formats by name, which is their module's too, in the order they are listed to her."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LineWriter:
    """A format that holds drawn lines.

    Attributes
    ----------
    name, suffix, description : str
        As ``--formats`` has it; with its dot; one line for her.
    write : callable
        From a `Sheet` to bytes.
    read : callable
        From bytes to `Drawn`; raises `OutputError` for what is no such file.
    for_machine : bool
        A machine follows it, so there is one file for each reach.
    """

    name: str
    suffix: str
    description: str
    write: Callable[[Sheet], bytes]
    read: Callable[[bytes], Drawn]
    for_machine: bool = False
    takes: Literal["lines"] = "lines"


class WritesPoints(Protocol):
    """What a stitch format is: needle points and a title in, the file out."""

    def __call__(self, points: NeedlePoints, title: str, *, origin: tuple[float, float] | None = None) -> bytes:
        """Return the file; ``origin`` is the place that it calls 0, 0."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PointWriter:
    """A format that holds the needle points of one reach.

    Attributes
    ----------
    name, suffix, description : str
        As ``--formats`` has it; with its dot; one line for her.
    write : callable
        From `NeedlePoints`, a title and the place that the file calls 0, 0, to bytes.
    read : callable
        From bytes to `NeedlePoints`; raises `OutputError` for what is no such file.
    """

    name: str
    suffix: str
    description: str
    write: WritesPoints
    read: Callable[[bytes], NeedlePoints]
    takes: Literal["points"] = "points"


Writer: TypeAlias = LineWriter | PointWriter


def _loaded(name: str) -> Writer:
    writer: Writer = import_module(f"plumeline.output.{name}").WRITER
    return writer


def _check(writer: Writer, others: Iterable[Writer]) -> None:
    if any(writer.name == other.name or writer.suffix == other.suffix for other in others):
        raise ValueError(f"a format {writer.name!r} ({writer.suffix}) is registered already")


_FORMATS: Registry[Writer] = Registry(BUILT_IN, load=_loaded, group="plumeline.formats", check=_check)


def register(writer: Writer) -> Writer:
    """Add a format.

    Parameters
    ----------
    writer : LineWriter or PointWriter
        A format of your own; packages use the entry point group ``plumeline.formats`` instead.

    Returns
    -------
    LineWriter or PointWriter
        The same.

    Raises
    ------
    ValueError
        There is one of that name or suffix.

    Examples
    --------
    >>> register(find_writer("dst"))
    Traceback (most recent call last):
    ...
    ValueError: a format 'dst' (.dst) is registered already
    """
    return _FORMATS.add(writer)


def writer_names() -> tuple[str, ...]:
    """Return the names of all formats.

    Returns
    -------
    tuple of str
        The built-in ones in their order, then those of other packages.

    Examples
    --------
    >>> writer_names()[:3]
    ('svg', 'dst', 'exp')
    """
    return tuple(_FORMATS.all())


def find_writer(name: str) -> Writer:
    """Return a format by name.

    Parameters
    ----------
    name : str
        As ``--formats`` has it.

    Returns
    -------
    LineWriter or PointWriter
        Built in or from another package.

    Raises
    ------
    OutputError
        There is none of that name; the message lists all and the nearest.

    Examples
    --------
    >>> find_writer("exp").suffix
    '.exp'
    """
    writer = _FORMATS.find(name)
    if writer is None:
        near = nearest(name, _FORMATS.all())
        raise OutputError(
            f"is {name!r}; must be one of {', '.join(writer_names())}",
            key="formats",
            what_to_do=f"Did you mean {near!r}?" if near else None,
        )
    return writer


def writer_for_file(name: str) -> Writer:
    """Return the format of a file by its suffix.

    Parameters
    ----------
    name : str
        A file's name; capitals do not count.

    Returns
    -------
    LineWriter or PointWriter
        The first whose suffix ends it.

    Raises
    ------
    OutputError
        No format has that suffix.

    Examples
    --------
    >>> writer_for_file("QUILT.DST").name
    'dst'
    """
    writers = _FORMATS.all().values()
    for writer in writers:
        if name.lower().endswith(writer.suffix):
            return writer
    raise OutputError(f"has no suffix we read; must be one of {', '.join(w.suffix for w in writers)}", file=name)


def broken_formats() -> tuple[Finding, ...]:
    """Return a finding for each format of another package that could not be loaded.

    Returns
    -------
    tuple of Finding
        Warnings, each with the format's name and why; empty where all could be loaded.
    """
    return tuple(
        Finding(
            FindingCode.FORMAT_NOT_LOADED,
            "warning",
            None,
            f"the format {name!r} of another package could not be loaded: {why}",
            "Update or remove that package.",
        )
        for name, why in _FORMATS.broken()
    )
