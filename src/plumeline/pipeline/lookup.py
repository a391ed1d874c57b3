"""Where names in a fill's settings are looked up: guides of the drawing, artwork, other zones."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from importlib.resources import files
from pathlib import Path as FilePath

from ..drawing import Art, read_art
from ..errors import FillError, nearest
from ..fills.kit.motifs import Recipe, read_recipe
from ..fills.kit.settings import Artwork
from ..geometry import clip_path, path_to_local
from ..model import Path, Top, Zone
from ..opening import leads_inside
from ..specs import GUIDE_IN, guides_matching

__all__ = ["ZoneSources", "motif_folder", "motif_names"]


INSIDE_MM = 1.0
"""A guide that runs less than this inside a zone lies beside it."""


def motif_folder() -> FilePath:
    """Return the folder of the library of motifs: in the installed package, else beside ``pyproject.toml``."""
    inside = FilePath(str(files("plumeline"))) / "motifs"
    return inside if inside.is_dir() else FilePath(__file__).parents[3] / "motifs"


def motif_names() -> tuple[str, ...]:
    """Return the names of the motifs in the library, grown (``.toml``) and drawn (``.svg``), sorted."""
    return tuple(sorted({path.stem for kind in ("*.toml", "*.svg") for path in motif_folder().glob(kind)}))


class ZoneSources:
    """The sources of one zone; guides come back in the zone's own frame.

    Parameters
    ----------
    zone : Zone
        The zone whose settings are looked up.
    top : Top or None
        Holds the guides; None when there is no drawing.
    folder : path or None
        Where the plan lies; artwork by file name is read from there, never from outside it.
    densities : mapping
        Inches of line seen per square inch of the zones filled already, by name.
    quilt_density : float or None
        The same that the plan asks of the whole quilt.
    """

    def __init__(
        self,
        zone: Zone,
        top: Top | None = None,
        folder: FilePath | None = None,
        densities: Mapping[str, float] = {},
        *,
        quilt_density: float | None = None,
    ) -> None:
        self._zone, self._top, self._folder, self._densities = zone, top, folder, densities
        self._quilt_density = quilt_density

    @property
    def quilt_density(self) -> float | None:
        """Inches of line seen per square inch that the plan asks of the whole quilt; None where it says none."""
        return self._quilt_density

    def guide(self, name: str) -> tuple[Path, ...]:
        """Return the guide lines of that name (``*`` for any letters) in the zone's own frame.

        Of a guide that is made for many patches or blocks, and of a name with ``*``, those that run through the zone;
        of the latter that may be none.

        Raises
        ------
        FillError
            There is no such guide, or none of the lines of a guide of many patches runs through the zone.
        """
        guides = self._top.guides if self._top else {}
        found = guides_matching(name, guides)
        if not found:
            raise self._unknown(name, "guide of the drawing or the plan", tuple(guides))
        many = "*" in name
        found = [
            n
            for n in found
            if not (many or GUIDE_IN in n) or clip_path(guides[n], self._zone.outline, least_mm=INSIDE_MM)
        ]
        if not found and not many:
            raise FillError(
                f"{name!r} is a guide of other patches; none of its lines runs through this zone",
                zone=self._zone.name,
                what_to_do="Make the guide for the patches of this zone too.",
            )
        return tuple(path_to_local(guides[n], self._zone.frame) for n in found)

    def art(self, name: str) -> Artwork:
        """Return artwork: ``NAME.svg`` beside the plan, or a motif of the library.

        Raises
        ------
        FillError
            There is neither.
        """
        if self._folder is not None and name.lower().endswith(".svg"):
            path = self._folder / name
            if not leads_inside(path, self._folder):
                raise FillError(
                    f"is {name!r}; must not leave the plan's folder",
                    zone=self._zone.name,
                    key="art",
                    what_to_do="Put the artwork beside the plan.",
                )
            if path.is_file():
                return _read(path.resolve())
        stem = name.removesuffix(".svg")
        if stem not in motif_names():
            raise self._unknown(name, "motif of the library or SVG file beside the plan", motif_names(), key="art")
        recipe = motif_folder() / f"{stem}.toml"
        return _recipe(recipe) if recipe.is_file() else _read(motif_folder() / f"{stem}.svg")

    def density(self, name: str) -> float:
        """Return inches of line per square inch of another zone.

        Raises
        ------
        FillError
            No zone of that name is filled before this one.
        """
        if name not in self._densities:
            raise self._unknown(name, "zone whose density is known here", tuple(self._densities), key="density")
        return self._densities[name]

    def _unknown(self, name: str, what: str, known: tuple[str, ...], *, key: str | None = None) -> FillError:
        near = nearest(name, known)
        return FillError(
            f"{name!r} is no {what}; there {'are ' + ', '.join(known) if known else 'is none'}",
            zone=self._zone.name,
            key=key,
            what_to_do=f"Did you mean {near!r}?" if near else None,
        )


@lru_cache(maxsize=64)
def _read(path: FilePath) -> Art:
    return read_art(path)


@lru_cache(maxsize=64)
def _recipe(path: FilePath) -> Recipe:
    return read_recipe(path)
