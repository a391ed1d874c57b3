"""An SVG file, plain or packed (``.svgz``), as a tree of elements: nothing outside it is fetched, nothing grows."""

from __future__ import annotations

import gzip
import io
import re
import zlib
from pathlib import Path as FilePath
from typing import TYPE_CHECKING
from xml.etree.ElementTree import ParseError

from defusedxml import DefusedXmlException
from defusedxml.ElementTree import iterparse

from ..errors import DrawingError
from ..opening import read_plain_file

if TYPE_CHECKING:
    from xml.etree.ElementTree import Element

__all__ = ["MOST_BYTES", "MOST_ELEMENTS", "MOST_NESTED", "TooMuchError", "read_bytes", "svg_root", "tag_of"]

MOST_BYTES = 50_000_000
MOST_ELEMENTS = 25_000
MOST_NESTED = 100
"""Limits that no quilt comes near; beyond them a file is a mistake or an attack."""

HEAD_BYTES = 4096
"""Programs say who they are at the head of a file."""

PIECE_BYTES = 8_000_000
"""What is read of a file at a time."""

MOST_ENTITY = 400
"""Characters in an entity that stands for plain text, as some editors write for their addresses."""

_ENTITY = re.compile(r"<!ENTITY\s+([\w.:-]+)\s+(?:\"([^\"]*)\"|'([^']*)')\s*>")


class TooMuchError(DrawingError):
    """A limit was passed: nothing further is read."""


def read_bytes(path: FilePath) -> bytes:
    """Return what a drawing file holds, unpacked if it is packed.

    Raises
    ------
    DrawingError
        It is not there, can't be read, or is too large.
    """
    data = read_plain_file(
        path, DrawingError, most=MOST_BYTES, missing="Check the drawing's name, and the folder it lies in."
    )
    if data[:2] != b"\x1f\x8b":
        return data
    try:
        with gzip.GzipFile(fileobj=io.BytesIO(data)) as packed:
            data = packed.read(MOST_BYTES + 1)
    except (EOFError, zlib.error, gzip.BadGzipFile) as error:
        raise DrawingError("can't be unpacked", file=path.name, what_to_do="Save it again as plain SVG.") from error
    if len(data) > MOST_BYTES:
        raise DrawingError(
            f"is larger than {MOST_BYTES // 1_000_000} MB unpacked", file=path.name, what_to_do="Simplify it."
        )
    return data


class _LargePieces(io.BytesIO):
    """Bytes read in large pieces, whatever is asked for.

    The parser begins a tag anew with every piece, so that one path of many megabytes in small pieces takes minutes.
    """

    def read(self, _size: int | None = -1, /) -> bytes:
        return super().read(PIECE_BYTES)


def svg_root(path: FilePath) -> tuple[Element, str]:
    """Return the first element of an SVG file, and the head of the file as text.

    Raises
    ------
    DrawingError
        It is no SVG, declares entities that are more than short plain text, or exceeds a limit.
    """
    file = path.name
    data = read_bytes(path)
    head = data[:HEAD_BYTES].decode("utf-8", "replace")
    if b"<!ENTITY" in data:
        data = _without_entities(data, file)
    try:
        depth, count = 0, 0
        root: Element | None = None
        for event, element in iterparse(_LargePieces(data), events=("start", "end"), forbid_entities=True):
            depth += 1 if event == "start" else -1
            count += event == "start"
            root = element if root is None else root
            if depth > MOST_NESTED or count > MOST_ELEMENTS:
                limit = f"{MOST_NESTED} levels of groups" if depth > MOST_NESTED else f"{MOST_ELEMENTS:,} elements"
                raise DrawingError(f"holds more than {limit}", file=file, what_to_do="Flatten its groups.")
    except DefusedXmlException as error:
        raise _outside(file) from error
    except (ParseError, ValueError, LookupError) as error:  # LookupError: an encoding that nobody knows
        if isinstance(error, DrawingError):
            raise
        raise DrawingError(f"is no readable SVG ({error})", file=file, what_to_do="Save it as plain SVG.") from error
    if root is None or tag_of(root) != "svg":
        raise DrawingError("is no SVG: its first element is not svg", file=file, what_to_do="Save it as plain SVG.")
    return root, head


def _outside(file: str) -> DrawingError:
    return DrawingError(
        "declares entities or refers to something outside the file, which is never read",
        file=file,
        what_to_do="Save it again as plain SVG.",
    )


def _without_entities(data: bytes, file: str) -> bytes:
    """Return a file with its entities written out, if each is short text without a further one in it."""
    text = data.decode("utf-8", "replace")
    start = text.find("<!DOCTYPE")
    inner, end = text.find("[", start), text.find("]", start)
    if not 0 <= start < inner < end:
        raise _outside(file)
    declared = text[inner + 1 : end]
    entities = {name: one or other for name, one, other in _ENTITY.findall(declared)}
    if declared.count("<!ENTITY") != len(entities) or any(
        len(value) > MOST_ENTITY or re.search(r"[&%<]", value) for value in entities.values()
    ):
        raise _outside(file)
    body = text[text.find(">", end) + 1 :]
    grown = len(body) + sum(body.count(f"&{name};") * len(value) for name, value in entities.items())
    if grown > MOST_BYTES:
        raise _outside(file)
    for name, value in entities.items():
        body = body.replace(f"&{name};", value)
    return body.encode()


def tag_of(element: Element) -> str:
    """Return an element's name without its namespace; empty for comments."""
    return element.tag.rpartition("}")[2] if isinstance(element.tag, str) else ""
