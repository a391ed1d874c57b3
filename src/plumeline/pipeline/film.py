"""From a photo of film over the top to the guides drawn on it."""

from __future__ import annotations

from pathlib import Path

from ..drawing.warping import aside_px, lab_of
from ..top import FilmLine, film_lines, photo_of
from .photo import PX_A_MM, PhotoJob

__all__ = ["FILM", "film_of"]

FILM = "film.svg"
"""Name of the drawing of what is on film."""

BLUR_PX = 1.0
"""Both photos are smoothed by so much before they are compared."""


def film_of(job: PhotoJob, squared: str | Path) -> tuple[tuple[FilmLine, ...], tuple[float, float]]:
    """Return the marker lines on film, and the size of the top, mm.

    Parameters
    ----------
    job : PhotoJob
        The photo of the top with film on it, and its points.
    squared : path
        The top without film, squared up at `PX_A_MM`; lines are placed on it.

    Raises
    ------
    InputError
        The squared-up photo can't be read, or no line is found.
    """
    bare = photo_of(squared)
    without = lab_of(bare.pixels, blur_px=BLUR_PX)
    pixels, _ = job.picture(bare.size)
    # the one was squared up from the top's corner, the other perhaps from where its corner really is
    right, down = aside_px(without, lab_of(pixels, blur_px=BLUR_PX))
    pixels, _ = job.picture(bare.size, (right / PX_A_MM, down / PX_A_MM))
    return film_lines(lab_of(pixels, blur_px=BLUR_PX), without, bare.px_a_mm), bare.size
