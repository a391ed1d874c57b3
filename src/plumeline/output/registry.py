"""The registry of file formats: one format, one file, one registration, its reader beside its writer."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from importlib import import_module
from typing import Literal, Protocol, TypeAlias

from ..codes import FindingCode
from ..errors import OutputError, nearest
from ..model import Finding, NeedlePoints
from ..plugins import load_plugins
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
    """A format that holds drawn lines: ``write(sheet) -> bytes``, ``read(bytes) -> Drawn``.

    ``for_machine``: a machine follows it, so there is one file for each reach.
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
    """A format that holds needle points of one reach: ``write(points, title) -> bytes``, ``read(bytes)``."""

    name: str
    suffix: str
    description: str
    write: WritesPoints
    read: Callable[[bytes], NeedlePoints]
    takes: Literal["points"] = "points"


Writer: TypeAlias = LineWriter | PointWriter

_REGISTERED: dict[str, Writer] = {}
_LOADED: list[bool] = []
_BROKEN: list[tuple[str, str]] = []


def register(writer: Writer) -> Writer:
    """Add a format; a second one of the same name or suffix raises ``ValueError``."""
    if any(writer.name == w.name or writer.suffix == w.suffix for w in _REGISTERED.values()):
        raise ValueError(f"a format {writer.name!r} ({writer.suffix}) is registered already")
    _REGISTERED[writer.name] = writer
    return writer


def writer_names() -> tuple[str, ...]:
    """Return the names of all formats: the built-in ones in their order, then those of other packages."""
    _load()
    return tuple(_REGISTERED)


def find_writer(name: str) -> Writer:
    """Return a format by name.

    Raises
    ------
    OutputError
        There is none of that name; the message lists all and the nearest.
    """
    if name in BUILT_IN:
        return _built_in(name)
    _load()
    if name not in _REGISTERED:
        near = nearest(name, _REGISTERED)
        raise OutputError(
            f"is {name!r}; must be one of {', '.join(_REGISTERED)}",
            key="formats",
            what_to_do=f"Did you mean {near!r}?" if near else None,
        )
    return _REGISTERED[name]


def writer_for_file(name: str) -> Writer:
    """Return the format of a file by its suffix.

    Raises
    ------
    OutputError
        No format has that suffix.
    """
    _load()
    for writer in _REGISTERED.values():
        if name.lower().endswith(writer.suffix):
            return writer
    raise OutputError(
        f"has no suffix we read; must be one of {', '.join(w.suffix for w in _REGISTERED.values())}", file=name
    )


def broken_formats() -> tuple[Finding, ...]:
    """Return a finding for each format of another package that could not be loaded."""
    _load()
    return tuple(
        Finding(
            FindingCode.FORMAT_NOT_LOADED,
            "warning",
            None,
            f"the format {name!r} of another package could not be loaded: {why}",
            "Update or remove that package.",
        )
        for name, why in _BROKEN
    )


def _built_in(name: str) -> Writer:
    """Return a format of this package; the others need not be loaded for it."""
    if name not in _REGISTERED:
        register(_loaded(name))
    return _REGISTERED[name]


def _loaded(name: str) -> Writer:
    writer: Writer = import_module(f"plumeline.output.{name}").WRITER
    return writer


def _load() -> None:
    if _LOADED:
        return
    _LOADED.append(True)
    early = dict(_REGISTERED)  # loaded on their own, in the order they were asked for
    _REGISTERED.clear()
    for name in BUILT_IN:
        register(early.pop(name) if name in early else _loaded(name))
    _REGISTERED.update(early)
    _BROKEN.extend(load_plugins("plumeline.formats", register))
