"""Filled zones kept in files between two commands: safe to delete, damage is passed over, the oldest go first."""

from __future__ import annotations

import hashlib
import json
import os
import sys
from collections.abc import Mapping
from dataclasses import asdict
from functools import cache
from importlib.metadata import version
from pathlib import Path
from tempfile import NamedTemporaryFile
from typing import Any

import numpy as np

from .. import __version__
from ..geometry import region_bytes, region_of_bytes
from ..model import Barest, Fence, Filled, Finding, FloatArray, Stroke, as_path
from ..review import ZoneFigures
from .kept import Kept

__all__ = ["KeptInFiles", "cache_folder"]

MOST_BYTES = 200_000_000
"""All files together: a few hundred large zones. Above it the longest unused go."""

SUFFIX = ".zone"
"""Of the files."""

WHERE = "PLUMELINE_CACHE"
"""Names another folder; empty: nothing is kept."""

STROKE = ("closed", "role", "chain", "atomic", "entry", "zone", "fill", "thread")
"""What is kept of a stroke besides its path, in this order."""


def cache_folder() -> Path | None:
    """Return the folder of what is kept, which need not be there; None when nothing is to be kept."""
    named = os.environ.get(WHERE)
    if named is not None:
        return Path(named) if named else None
    if sys.platform == "win32":
        base = os.environ.get("LOCALAPPDATA")
        return Path(base) / "plumeline" / "Cache" if base else None
    home = Path(os.path.expanduser("~"))  # noqa: PTH111 - Path.home() raises where there is none
    if sys.platform == "darwin":
        return home / "Library" / "Caches" / "plumeline"
    return Path(os.environ.get("XDG_CACHE_HOME") or home / ".cache") / "plumeline"


class KeptInFiles(Kept):
    """A memory that outlives the command: one file a zone, named by all that it depends on.

    That is what `key_of` names, and this package's own files and the libraries that it computes with, so that another
    version never reads them. A file is read only when its checksum is right. A folder that can't be written to costs
    time and nothing else.
    """

    def __init__(self, folder: Path) -> None:
        super().__init__()
        self._folder = folder

    def filled(self, key: str) -> tuple[Filled, ZoneFigures] | None:
        """Return what was kept under a key, or None."""
        found = super().filled(key)
        if found is not None:
            return found
        path = self._path(key)
        try:
            data = path.read_bytes()
            os.utime(path)
        except OSError:  # it is not there
            return None
        return _unpacked(data)

    def keep(self, key: str, filled: tuple[Filled, ZoneFigures]) -> None:
        """Keep a filled zone and its figures."""
        super().keep(key, filled)
        path = self._path(key)
        try:
            self._folder.mkdir(parents=True, exist_ok=True)
            with NamedTemporaryFile(dir=self._folder, suffix=".part", delete=False) as part:
                part.write(_packed(*filled))
            Path(part.name).replace(path)
        except OSError:  # a full disk or a folder of somebody else's: it is filled anew next time
            return

    def tidy(self) -> None:
        """Delete the longest unused files until those left are small enough together."""
        try:
            known = sorted((s.st_mtime, s.st_size, p) for p in self._folder.glob(f"*{SUFFIX}") for s in (p.stat(),))
            over = sum(size for _, size, _ in known) - MOST_BYTES
            for _, size, path in known:
                if over <= 0:
                    break
                path.unlink(missing_ok=True)
                over -= size
        except OSError:  # another command tidies at the same time
            return

    def _path(self, key: str) -> Path:
        return self._folder / f"{hashlib.sha256(f'{_made_with()}/{key}'.encode()).hexdigest()}{SUFFIX}"


@cache
def _made_with() -> str:
    """Return a name of this package as it is on disk and of the libraries that it computes with."""
    home = Path(__file__).parents[1]
    files = sorted(
        (str(p.relative_to(home)), s.st_size, s.st_mtime_ns) for p in home.rglob("*.py") for s in (p.stat(),)
    )
    return repr((__version__, sys.version, [version(name) for name in ("numpy", "scipy", "shapely")], files))


def _packed(filled: Filled, figures: ZoneFigures) -> bytes:
    """Return a checksum, a line of JSON and all coordinates behind each other."""
    paths = [*(s.path for s in filled.strokes), *(f.path for f in filled.fences)]
    regions = [region_bytes(r) for r in (*filled.taken, *filled.enclosed)]
    head = {
        "strokes": [[len(s.path), *(getattr(s, name) for name in STROKE)] for s in filled.strokes],
        "fences": [[len(f.path), f.soft_mm] for f in filled.fences],
        "regions": [len(r) for r in regions],
        "taken": len(filled.taken),
        "findings": [asdict(f) for f in filled.findings],
        "bare_mm2": filled.bare_mm2,
        "barest": filled.barest and [filled.barest.place, filled.barest.times],
        "figures": asdict(figures),
    }
    body = json.dumps(head).encode() + b"\n" + b"".join([*(p.tobytes() for p in paths), *regions])
    return hashlib.sha256(body).hexdigest().encode() + b"\n" + body


def _unpacked(data: bytes) -> tuple[Filled, ZoneFigures] | None:
    """Return what was packed, or None where the file is not as it was written."""
    told, _, body = data.partition(b"\n")
    if hashlib.sha256(body).hexdigest().encode() != told:
        return None
    line, _, rest = body.partition(b"\n")
    head: Mapping[str, Any] = json.loads(line)
    at = 0

    def path(count: int) -> FloatArray:
        nonlocal at
        at += 16 * count
        return as_path(np.frombuffer(rest[at - 16 * count : at], dtype=np.float64).reshape(-1, 2))

    strokes = tuple(Stroke(path(n), **dict(zip(STROKE, values))) for n, *values in head["strokes"])
    fences = tuple(Fence(path(n), soft) for n, soft in head["fences"])
    regions = []
    for size in head["regions"]:
        regions.append(region_of_bytes(rest[at : at + size]))
        at += size
    figures = ZoneFigures(**head["figures"])
    return (
        Filled(
            strokes=strokes,
            taken=tuple(regions[: head["taken"]]),
            fences=fences,
            findings=tuple(Finding(**table) for table in head["findings"]),
            enclosed=tuple(regions[head["taken"] :]),
            bare_mm2=head["bare_mm2"],
            barest=Barest(tuple(head["barest"][0]), head["barest"][1]) if head["barest"] else None,
        ),
        figures,
    )
