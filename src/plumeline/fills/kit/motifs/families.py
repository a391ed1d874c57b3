"""The families of motifs, each a block, a triangle, a border and a corner that belong together."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from .clover import CLOVER
from .cord import KNOT
from .fan import FAN
from .frames import Family
from .leaf import LEAF
from .plume import PLUME
from .scroll import SCROLL
from .star import STAR
from .tulip import TULIP

__all__ = ["FAMILIES"]

FAMILIES: Mapping[str, Family] = MappingProxyType(
    {
        "leaf": LEAF,
        "clover": CLOVER,
        "scroll": SCROLL,
        "plume": PLUME,
        "fan": FAN,
        "tulip": TULIP,
        "star": STAR,
        "knot": KNOT,
    }
)
"""Every piece of every family, by its smallest part."""
