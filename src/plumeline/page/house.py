"""What the page stands on: a folder of hers, and the plan that is open in it, or none yet."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from .. import demo
from ..errors import InputError, OutputError
from ..output import write_files
from ..pipeline.files import stem_of
from ..pipeline.kept_files import KeptInFiles, cache_folder
from ..pipeline.starter import BlockPlan, start_plan
from ..plan import files_read
from ..sitting import Sitting
from ..units import MM_PER
from .photos import photo_plan
from .said import bytes_said, length_said, lengths_said, units_said
from .taking import Taken, taken_files

__all__ = ["SAMPLE", "House", "write_sample"]

SAMPLE = "plain-and-star.toml"
"""The sample quilt's plan."""

SIDES = ("top", "right", "bottom", "left")
"""Sides of a measured block, as the six measures name them."""

DRAWINGS = (".svg", ".svgz", ".dxf", ".pdf")
"""Files that a drawing may come in."""

MOST_BLOCKS = 30
"""Blocks across or down in the form."""


class House:
    """One folder and the plan that is open.

    Parameters
    ----------
    folder : path
        Where plans lie and files are written; nothing is read or written outside it.
    workers : int
        Processes that fill zones side by side.
    aside : bool
        Whether lines are joined in a process of its own; see `Sitting`.
    """

    def __init__(self, folder: Path, *, workers: int = 1, aside: bool = False) -> None:
        self.folder = folder
        self.sitting: Sitting | None = None
        self.workers, self._aside = workers, aside

    def open(self, name: str) -> Sitting:
        """Open one of the folder's plans.

        Raises
        ------
        InputError
            It is not in the list, or can't be read.
        """
        if name not in self.plans():
            raise InputError("is no plan of this folder", file=name, what_to_do="Choose one of the list.")
        cache = cache_folder()
        kept = None if cache is None else KeptInFiles(cache)
        if kept is not None:
            kept.tidy()
        sitting = Sitting(self.folder / name, workers=self.workers, kept=kept, aside=self._aside)
        sitting.watch()
        if self.sitting is not None:
            self.sitting.close()
        self.sitting = sitting
        return sitting

    def plans(self) -> list[str]:
        """Return the names of the plans that lie in the folder."""
        return sorted(p.name for p in self.folder.glob("*.toml") if p.is_file() and not p.is_symlink())

    def folders(self) -> list[str]:
        """Return the names of the folders beside the plans, into which files can be written."""
        found = (p for p in self.folder.iterdir() if p.is_dir() and not p.is_symlink() and p.name[0] not in "._")
        return sorted(p.name for p in found)

    def start(self, said: Mapping[str, Any]) -> Sitting:
        """Start a plan as the form says and open it.

        Raises
        ------
        InputError
            Something in the form can't be used, or a file of that name is there already.
        """
        how = said.get("how")
        if how == "open":
            return self.open(str(said.get("name", "")))
        if how == "sample":
            write_sample(self.folder)
            return self.open(SAMPLE)
        name = _file_name(str(said.get("title", "")))
        if (self.folder / f"{name}.toml").exists():
            raise InputError(
                "is the name of a plan in this folder already", key=name, what_to_do="Give the quilt another name."
            )
        files: dict[str, bytes] = {}
        if how == "drawing":
            text = self._from_drawing(name, said)
        elif how == "blocks":
            text = _blocks_plan(self.folder / f"{name}.toml", said)
        elif how == "measures":
            text = _measured_plan(name, said)
        elif how == "photo":
            files, text = photo_plan(name, said)
            write_files(self.folder, files)
        else:
            raise InputError(f"is {how!r}; must be open, sample, drawing, photo, blocks or measures", key="how")
        write_files(self.folder, {f"{name}.toml": text.encode()})
        return self.open(f"{name}.toml")

    def _from_drawing(self, name: str, said: Mapping[str, Any]) -> str:
        """Write the drawing beside the plan and return the plan's text; one that can't be read leaves nothing."""
        suffix = str(said.get("suffix", "")).lower()
        if suffix not in DRAWINGS:
            raise InputError(f"ends in {suffix or 'nothing'}; must end in {', '.join(DRAWINGS)}", key="drawing")
        data = bytes_said(said, "drawing")
        wide = str(said.get("width") or "").strip()
        more: dict[str, float | str | int] = {"width": length_said(said, "width")} if wide else {}
        drawing = f"{name}{suffix}"
        write_files(self.folder, {drawing: data})
        try:
            return start_plan(self.folder / f"{name}.toml", units=units_said(said), drawing=drawing, said=more).text
        except InputError:
            (self.folder / drawing).unlink()
            raise

    def write(self, folder: str, wanted: Taken, *, force: bool = False) -> tuple[str, ...]:
        """Write what is wanted into a folder below this one, all or nothing, and return the names.

        Raises
        ------
        OutputError
            The folder's name leads elsewhere, or a file is there already.
        """
        where = (self.folder / folder).resolve()
        plain = folder.strip() and not where.is_symlink() and where.parent == self.folder.resolve()
        if not plain:
            raise OutputError("must be the plain name of a folder beside the plan", file=folder or "folder")
        quilt = self.opened().wait()
        return write_files(where, taken_files(quilt, wanted), force=force, keep=files_read(quilt.plan))

    def zipped(self, wanted: Taken) -> tuple[str, bytes]:
        """Return the same files as one zip, and its name."""
        quilt = self.opened().wait()
        out = io.BytesIO()
        with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as pack:
            for name, data in taken_files(quilt, wanted).items():
                pack.writestr(zipfile.ZipInfo(name), data)
        return f"{stem_of(quilt.plan)}.zip", out.getvalue()

    def opened(self) -> Sitting:
        """Return the sitting with the plan that is open.

        Raises
        ------
        InputError
            None is.
        """
        if self.sitting is None:
            raise InputError("no plan is open yet", what_to_do="Start one first.")
        return self.sitting


def write_sample(folder: Path) -> None:
    """Write the sample quilt's plan and drawing; files of hers that are there already stay."""
    files = demo.quilt_files()
    wanted = {name: files[name].encode() for name in (SAMPLE, "plain-and-star.svg")}
    write_files(folder, {name: data for name, data in wanted.items() if not (folder / name).exists()})


def _file_name(title: str) -> str:
    name = "-".join("".join(c if c.isalnum() and c.isascii() else " " for c in title.lower()).split())
    if not name or len(name) > 60:
        raise InputError("must be a short name with letters in it", key="name of the quilt")
    return name


def _count(said: Mapping[str, Any], key: str) -> int:
    value = str(said.get(key, ""))
    if not value.isdecimal() or not 1 <= int(value) <= MOST_BLOCKS:
        raise InputError(f"is {value!r}; must be a whole number from 1 to {MOST_BLOCKS}", key=key)
    return int(value)


def _blocks_plan(plan: Path, said: Mapping[str, Any]) -> str:
    return start_plan(
        plan,
        units=units_said(said),
        blocks=BlockPlan(
            columns=_count(said, "across"),
            rows=_count(said, "down"),
            size_mm=length_said(said, "block"),
            on_point=bool(said.get("on_point")),
            borders_mm=lengths_said(said, "borders"),
            pieced=str(said.get("pieced") or "") or None,
            alternate=said.get("alternate") is True,
            sashing_mm=length_said(said, "sashing") if str(said.get("sashing") or "").strip() else None,
        ),
    ).text


def _measured_plan(name: str, said: Mapping[str, Any]) -> str:
    units = units_said(said)
    sides = [length_said(said, side) / MM_PER[units] for side in SIDES]
    diagonals = [length_said(said, key) / MM_PER[units] for key in ("down_right", "down_left")]
    return "\n".join(
        [
            f'title = "{name.replace("-", " ").capitalize()}"',
            f'units = "{units}"',
            "",
            "[top.measured]",
            f"sides = [{', '.join(f'{v:g}' for v in sides)}]             # along the top, right, bottom, left",
            f"diagonals = [{', '.join(f'{v:g}' for v in diagonals)}]",
            "",
            "[[zone]]",
            'name = "block"',
            'patches = ["*"]',
            "",
        ]
    )
