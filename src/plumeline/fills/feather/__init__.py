"""The fill ``feather``: plumes that grow from a spine and stretch to fill the space."""

from __future__ import annotations

from ..kit.registry import Fill
from .draw import draw
from .settings import FeatherSettings

__all__ = ["FILL"]

FILL = Fill(
    name="feather",
    settings=FeatherSettings,
    draw=draw,
    stage="motif",
    sooner_coarse=True,
    description="plumes that grow from a spine and stretch to fill the space",
)
