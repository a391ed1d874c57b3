"""What a squared-up photo and film over the top bring to it."""

from __future__ import annotations

from collections.abc import Collection
from pathlib import Path as FilePath

from ..codes import FindingCode
from ..drawing import OpenLine, Shape, read_drawing
from ..drawing.raster import read_photo
from ..errors import DrawingError, TopError
from ..geometry import close_ring
from ..model import Finding, Path, Photo, Top, as_path
from ..units import Unit, format_length
from .assemble import assemble
from .naming import lines_apart_by_name
from .sizing import size_missing

__all__ = ["film_guides", "photo_of", "size_beside_photo", "top_of_photo"]

APART_MM = 6.35
"""A photo that is larger or smaller than the top by more than 1/4 in was squared up for another one."""

PATCH = "top"
"""What the one patch of a top is called that is known from its photo alone."""


def photo_of(path: str | FilePath) -> Photo:
    """Return a squared-up photo, at the size that its file states.

    Parameters
    ----------
    path : path
        A PNG or JPEG file.

    Returns
    -------
    Photo
        Its pixels and how many there are a millimetre.

    Raises
    ------
    DrawingError
        It can't be read, or states no size.
    """
    pixels, px_a_mm = read_photo(path)
    if px_a_mm is None:
        raise DrawingError(
            "says no size",
            file=FilePath(path).name,
            what_to_do="Square it up first: plumeline photo PHOTO --points POINTS.csv --to DIR.",
        )
    return Photo(pixels, px_a_mm)


def top_of_photo(photo: Photo) -> Top:
    """Return a top of one patch, as large as its photo.

    Parameters
    ----------
    photo : Photo
        Squared up.

    Returns
    -------
    Top
        Its patch is called ``top``; it has no seams but its edge.
    """
    width, height = photo.size
    return assemble([Shape(PATCH, as_path([(0.0, 0.0), (width, 0.0), (width, height), (0.0, height)]))])


def size_beside_photo(top: Top, photo: Photo, unit: Unit) -> tuple[Finding, ...]:
    """Return a warning where a photo does not have the size of the top; nothing where it has.

    Parameters
    ----------
    top : Top
        As planned.
    photo : Photo
        Squared up.
    unit : {"in", "mm", "cm"}
        The unit of lengths in the words.

    Returns
    -------
    tuple of Finding
        One or none.
    """
    if all(abs(a - b) <= APART_MM for a, b in zip(top.size, photo.size)):
        return ()
    one, other = (" x ".join(format_length(v, unit) for v in size) for size in (photo.size, top.size))
    return (
        Finding(
            FindingCode.PHOTO_SIZE,
            "warning",
            None,
            f"the photo is {one}, the top {other}; they will not lie on each other",
            "Square the photo up with this plan, and take the drawing as pieced that comes with it.",
        ),
    )


def film_guides(path: str | FilePath, taken: Collection[str] = ()) -> dict[str, Path]:
    """Return the lines drawn on film over the top by name, where they lie on the top.

    Parameters
    ----------
    path : path
        The drawing, as large as the top; its upper left corner lies on the top's.
    taken : collection of str
        Names of the top's own guides.

    Returns
    -------
    dict of str to (n, 2) array
        Name to path, mm.

    Raises
    ------
    DrawingError
        The drawing can't be read, or says no size.
    TopError
        It has no line, or one of a taken name.
    """
    file = FilePath(path).name
    drawing = read_drawing(path)
    if not drawing.sized:
        raise size_missing(drawing, file)
    lines = list(drawing.lines)
    lines += [OpenLine(s.name, s.shell if s.open_ended else as_path(close_ring(s.shell))) for s in drawing.shapes]
    if not lines:
        raise TopError("has no line", file=file, what_to_do="Draw the spines and fences on it.")
    named = {line.name: line.path for line in lines_apart_by_name(lines)}
    for name in named:
        if name in taken:
            raise TopError(
                f"has a line '{name}', which is the name of a guide of the top too",
                file=file,
                what_to_do="Rename one of them.",
            )
    return named
