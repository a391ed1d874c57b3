"""What a paint shows from afar: its colour and how much it covers; of a gradient the mean of it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from .colours import colour_hex, colour_share
from .style import share, target_of
from .xml_file import MOST_NESTED, tag_of

if TYPE_CHECKING:
    from xml.etree.ElementTree import Element

__all__ = ["SHEER", "Paint", "seen_paint"]

SHEER: Final = 0.25
"""Paint that covers less than this hides nothing: highlights and shines cover 5 to 20 %, tinted glass 30 and more."""

CLEAR: Final = 0.1
FADING: Final = 0.6
"""A gradient that fades until it covers less than the first, and less than the second on the whole, is a shine."""

PARTS: Final = 64
"""Places at which a gradient is looked at."""

_HREF: Final = "{http://www.w3.org/1999/xlink}href"


@dataclass(frozen=True, slots=True)
class Paint:
    """The colour of a paint as ``#rrggbb`` (None: a pattern), how much it covers, 0 to 1, and whether it fades out."""

    colour: str | None
    covers: float
    fades: bool = False

    def is_sheer(self, opacity: float) -> bool:
        """Whether it hides nothing where it is laid on with an opacity."""
        return self.covers * opacity < (FADING if self.fades else SHEER)

    def on_white(self, opacity: float) -> str | None:
        """Return the colour that it shows on bare ground, where it is laid on with an opacity."""
        if self.colour is None:
            return None
        rgb, part = _rgb(self.colour), self.covers * opacity
        return _hex(255 + part * (rgb - 255))


def seen_paint(paint: str, ids: Mapping[str, Element], says: Callable[[Element], Mapping[str, str]]) -> Paint:
    """Return what a paint shows.

    Parameters
    ----------
    paint : str
        As the style says it. A pattern, and what is not in the file, has no colour and covers all. A gradient has the
        means of its stops along it (of a round one by area), that of the colour by how much each covers.
    ids : mapping of str to element
        The elements of the file that have an id.
    says : callable
        Gives what attributes, style sheet and ``style`` say of a stop.
    """
    target = target_of(paint)
    if not target:
        return Paint(colour_hex(paint), colour_share(paint))
    source = ids.get(target)
    is_round = source is not None and tag_of(source) == "radialGradient"
    for _ in range(MOST_NESTED):  # a gradient without stops has those of the one that it refers to
        if source is None or tag_of(source) not in ("linearGradient", "radialGradient"):
            break
        stops = [child for child in source if tag_of(child) == "stop"]
        if stops:
            return _mean(stops, says, is_round)
        source = ids.get((source.get("href") or source.get(_HREF) or "").removeprefix("#"))
    return Paint(None, 1.0)


def _mean(stops: list[Element], says: Callable[[Element], Mapping[str, str]], is_round: bool) -> Paint:
    at, covers, colours = [], [], []
    for stop in stops:
        said = says(stop)
        colour = said.get("stop-color", "black")
        at.append(share(stop.get("offset"), 0.0))
        covers.append(share(said.get("stop-opacity"), 1.0) * colour_share(colour))
        colours.append(_rgb(colour_hex(colour) or "#000000"))
    places = (np.arange(PARTS) + 0.5) / PARTS
    weight = places if is_round else np.ones(PARTS)
    along = np.maximum.accumulate(at)
    shares = np.interp(places, along, covers)
    covered = float(np.average(shares, weights=weight))
    weight = weight * shares if covered > 0 else weight
    rgb = [float(np.average(np.interp(places, along, column), weights=weight)) for column in np.array(colours).T]
    return Paint(_hex(np.array(rgb)), covered, min(covers) < CLEAR)


def _rgb(colour: str) -> np.ndarray:
    return np.array([int(colour[k : k + 2], 16) for k in (1, 3, 5)], dtype=np.float64)


def _hex(rgb: np.ndarray) -> str:
    return "#" + "".join(f"{round(v):02x}" for v in rgb.tolist())
