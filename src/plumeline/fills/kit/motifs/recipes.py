"""Recipes of motifs (``motifs/NAME.toml``), and a motif at a size."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path as FilePath
from typing import Annotated, Literal

import numpy as np
from pydantic import BaseModel, ConfigDict, Field, ValidationError

from ....errors import FillError
from ....model import FloatArray, Path, as_path
from ..settings import Artwork, Mm
from .families import FAMILIES
from .frames import SHORT, PieceKind
from .pen import drawn

__all__ = ["Motif", "Recipe", "across", "motif_at", "read_recipe"]


@dataclass(frozen=True, slots=True, eq=False)
class Motif:
    """Line art at one size, with the frame it was drawn for.

    Attributes
    ----------
    paths, closed
        Its strokes, mm, y down, and which are closed.
    frame : (k, 2)
        Corners of its frame, clockwise as seen from the top left (a triangle: from the top). Borders and corners
        have the outer edge above; a corner takes the line from the left side to the lower one.
    kind : {"block", "triangle", "border", "corner"}
        What it is made for; artwork from a file is a block.
    """

    paths: tuple[Path, ...]
    closed: tuple[bool, ...]
    frame: Path
    kind: PieceKind = "block"

    @property
    def size_mm(self) -> float:
        """How far across its frame is, the short way, however it is turned."""
        return across(self.frame)

    def moved(self, matrix: FloatArray, shift: FloatArray) -> Motif:
        """Return the motif with every point ``p`` taken to ``p @ matrix + shift``."""
        return replace(
            self,
            paths=tuple(as_path(p @ matrix + shift) for p in self.paths),
            frame=as_path(self.frame @ matrix + shift),
        )


def across(corners: FloatArray) -> float:
    """Return how far across a frame is: of four corners the shorter mean of two sides, of three the least height.

    Parameters
    ----------
    corners : (n, 2) array
        ``(3, 2)`` or ``(4, 2)``: of a block's or triangle's frame.

    Returns
    -------
    float
        In the unit of the corners.
    """
    side = np.hypot(*(np.roll(corners, -1, axis=0) - corners).T)
    if len(corners) == 4:
        return float(min(side[0] + side[2], side[1] + side[3]) / 2)
    (ax, ay), (bx, by) = corners[1] - corners[0], corners[2] - corners[0]
    return float(abs(ax * by - ay * bx) / side.max()) if side.max() > 0 else 0.0


class Recipe(BaseModel):
    """A motif that is grown at the size it is wanted."""

    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=True)

    family: Literal["leaf", "clover", "scroll", "plume", "fan", "tulip", "star", "knot"]
    piece: PieceKind
    size_mm: Annotated[Mm, Field(gt=0, alias="size", description="drawn at: across its frame, the short way")]
    part_mm: Annotated[Mm, Field(gt=0, alias="part", description="its smallest part; smaller than this, fewer parts")]
    description: str = ""

    def drawn(self, size_mm: float | None = None, piece: PieceKind | None = None) -> Motif:
        """Return the motif (or another piece of its family) grown at a size; left out: the size it is drawn at."""
        size = self.size_mm if size_mm is None else size_mm
        kind = piece or self.piece
        grown = FAMILIES[self.family][kind](SHORT[kind] * self.part_mm / size)
        corners = np.array([[z.real, -z.imag] for z in grown.frame])
        scale = size / float(np.ptp(corners, axis=0).min())
        path = drawn(grown.knots, scale, closed=grown.closed)
        return Motif((path,), (grown.closed,), as_path(corners * scale), kind)

    @cached_property
    def _usual(self) -> Motif:
        return self.drawn()

    @property
    def paths(self) -> tuple[Path, ...]:
        """The strokes at the size it is drawn at."""
        return self._usual.paths

    @property
    def closed(self) -> tuple[bool, ...]:
        """Which strokes are closed."""
        return self._usual.closed


def motif_at(art: Artwork, size_mm: float | None = None) -> Motif:
    """Return artwork as a motif: grown at a size from its recipe, or scaled to it; left out: as it is drawn.

    Parameters
    ----------
    art : Artwork
        Grown or read from a file.
    size_mm : float, optional
        How far across it is to be.

    Returns
    -------
    Motif
        Its paths in mm and the frame that they fit.
    """
    if isinstance(art, Recipe):
        return art.drawn(size_mm)
    points = np.vstack(art.paths)
    low, high = points.min(axis=0), points.max(axis=0)
    frame = as_path([low, (high[0], low[1]), high, (low[0], high[1])])
    motif = Motif(tuple(art.paths), tuple(art.closed), frame)
    if size_mm is None or motif.size_mm == 0:
        return motif
    return motif.moved(np.eye(2) * (size_mm / motif.size_mm), np.zeros(2))


def read_recipe(path: FilePath) -> Recipe:
    """Return the recipe in a TOML file.

    Parameters
    ----------
    path : path
        A TOML file.

    Returns
    -------
    Recipe
        Checked whole.

    Raises
    ------
    FillError
        The file is no recipe; the message says the key and the rule.
    """
    try:
        return Recipe.model_validate(tomllib.loads(path.read_text(encoding="utf-8")), context={"units": "in"})
    except tomllib.TOMLDecodeError as error:
        raise FillError(f"is no TOML ({error})", key="art") from error
    except ValidationError as error:
        fault = error.errors(include_url=False)[0]
        where = ".".join(str(part) for part in fault["loc"])
        raise FillError(f"{path.name}: {where} {fault['msg']}", key="art") from error
