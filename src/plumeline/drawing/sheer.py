"""What a paint shows from afar: its colour and how much it covers; of a gradient the mean, and where it has faded."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

import numpy as np

from ..model import FloatArray
from .colours import colour_hex, colour_share
from .style import share, target_of
from .transforms import length_px, parse_transform
from .xml_file import MOST_NESTED, tag_of

if TYPE_CHECKING:
    from xml.etree.ElementTree import Element

__all__ = ["SHEER", "Paint", "seen_paint"]

SHEER: Final = 0.25
"""Paint that covers less than this hides nothing: highlights and shines cover 5 to 20 %, tinted glass 30 and more."""

CLEAR: Final = 0.1
FADING: Final = 0.6
"""A gradient that fades until it covers less than the first, and less than the second on the whole, is a shine."""

PARTS: Final = 200
"""Places at which a gradient is looked at."""

ROUND: Final = 96
"""Corners of the ring round what a round gradient shows."""

FAR: Final = 1e4
"""So many times its length a straight gradient goes on to both sides."""

_HREF: Final = "{http://www.w3.org/1999/xlink}href"


@dataclass(frozen=True, slots=True, eq=False)
class Paint:
    """What a paint shows.

    Attributes
    ----------
    colour : str or None
        ``#rrggbb``; None for a pattern.
    covers : float
        How much it covers, 0 to 1.
    shares : (PARTS,) array
        How much a gradient covers, evenly along it; empty for other paint.
    said : mapping
        What a gradient and those that it refers to say of where it lies.
    is_round : bool
        Whether it is a radial gradient.
    """

    colour: str | None
    covers: float
    shares: FloatArray = field(default_factory=lambda: np.zeros(0))
    said: Mapping[str, str] = field(default_factory=dict)
    is_round: bool = False

    @property
    def fades(self) -> bool:
        """Whether it fades out somewhere."""
        return bool(len(self.shares)) and bool(self.shares.min() < CLEAR)

    def is_sheer(self, opacity: float) -> bool:
        """Whether it hides nothing where it is laid on with an opacity."""
        return self.covers * opacity < (FADING if self.fades else SHEER)

    def on_white(self, opacity: float) -> str | None:
        """Return the colour that it shows on bare ground, where it is laid on with an opacity."""
        if self.colour is None:
            return None
        rgb, part = _rgb(self.colour), self.covers * opacity
        return _hex(255 + part * (rgb - 255))

    def shown(self, opacity: float, corner: FloatArray, size: FloatArray) -> FloatArray | None:
        """Return the ring within which a gradient that fades covers at least `CLEAR`, in user units.

        ``corner`` and ``size`` are those of the box round the shape. None: it ends nowhere, or in a way not read.
        """
        seen = np.flatnonzero(self.shares * opacity >= CLEAR)
        if not len(seen) or self.said.get("spreadMethod", "pad") != "pad":
            return None
        start = (seen[0] + 0.5) / PARTS if seen[0] else -FAR
        end = (seen[-1] + 0.5) / PARTS if seen[-1] < PARTS - 1 else FAR
        in_box = self.said.get("gradientUnits") != "userSpaceOnUse"
        try:
            ring = self._ring(start, end, 1.0 if in_box else None)
            matrix = parse_transform(self.said.get("gradientTransform"))
        except ValueError:
            return None
        if ring is None:
            return None
        ring = ring @ matrix[:2, :2].T + matrix[:2, 2]
        return ring * size + corner if in_box else ring

    def _ring(self, start: float, end: float, whole: float | None) -> FloatArray | None:
        def at(key: str, default: str) -> float:
            return length_px(self.said.get(key, default), whole=whole)

        if self.is_round:
            if end == FAR:
                return None
            turn = np.linspace(0, 2 * np.pi, ROUND, endpoint=False)
            focus, middle = (
                np.array([at(x, self.said.get(a, "50%")), at(y, self.said.get(b, "50%"))])
                for x, y, a, b in (("fx", "fy", "cx", "cy"), ("cx", "cy", "cx", "cy"))
            )
            # from its focus to its circle the rings of equal paint move and grow evenly
            ring: FloatArray = focus + end * (
                middle - focus + at("r", "50%") * np.column_stack([np.cos(turn), np.sin(turn)])
            )
            return ring
        if start == -FAR and end == FAR:
            return None
        first = np.array([at("x1", "0"), at("y1", "0")])
        way = np.array([at("x2", "100%"), at("y2", "0")]) - first
        side = FAR * np.array([-way[1], way[0]])
        near, far = first + start * way, first + end * way
        return np.array([near - side, far - side, far + side, near + side])


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
    where: dict[str, str] = {}
    for _ in range(MOST_NESTED):  # a gradient without stops has those of the one that it refers to
        if source is None or tag_of(source) not in ("linearGradient", "radialGradient"):
            break
        where = {**source.attrib, **where}
        stops = [child for child in source if tag_of(child) == "stop"]
        if stops:
            return _mean(stops, says, where, is_round)
        source = ids.get((source.get("href") or source.get(_HREF) or "").removeprefix("#"))
    return Paint(None, 1.0)


def _mean(
    stops: list[Element], says: Callable[[Element], Mapping[str, str]], where: Mapping[str, str], is_round: bool
) -> Paint:
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
    return Paint(_hex(np.array(rgb)), covered, shares, where, is_round)


def _rgb(colour: str) -> np.ndarray:
    return np.array([int(colour[k : k + 2], 16) for k in (1, 3, 5)], dtype=np.float64)


def _hex(rgb: np.ndarray) -> str:
    return "#" + "".join(f"{round(v):02x}" for v in rgb.tolist())
