"""Stacks: several fills in one zone, each taking what the one before left."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..geometry import subtract
from ..model import Filled, Stroke, Zone
from .registry import Fill
from .settings import FillSettings

__all__ = ["Layer", "fill_zone", "random_for"]

LEFTOVER_MM2 = 4.0
"""What a layer leaves in pieces smaller than this is no space for the next layer."""


@dataclass(frozen=True, slots=True)
class Layer:
    """One layer of a stack: a fill and its settings."""

    fill: Fill
    settings: FillSettings


def random_for(chance: int, place: int, piece: int = 0) -> np.random.Generator:
    """Return the generator of one layer of one zone part.

    The seed is a blake2b hash of the zone's chance, the place in the stack and the number of the piece, so a
    zone draws the same whatever else is in the plan.
    """
    text = f"{chance}/{place}/{piece}".encode()
    return np.random.default_rng(int.from_bytes(hashlib.blake2b(text, digest_size=16).digest(), "big"))


def fill_zone(zone: Zone, layers: Sequence[Layer], *, tolerance_mm: float = 0.05) -> Filled:
    """Fill a zone with a stack of fills.

    What a layer reports as taken is left open for the layers after it, which therefore may see the zone in
    several pieces.

    Returns
    -------
    Filled
        All strokes in the order of the layers, with chain numbers that stay apart; the regions taken, the
        fences set and the findings of all layers.
    """
    pieces, filled = [zone], Filled()
    for place, layer in enumerate(layers):
        done = [
            layer.fill(piece, layer.settings, rng=random_for(zone.chance, place, i), tolerance_mm=tolerance_mm)
            for i, piece in enumerate(pieces)
        ]
        for one in done:
            filled = _merged(filled, one)
        taken = tuple(region for one in done for region in one.taken)
        if place + 1 < len(layers):
            pieces = [left for piece in pieces for left in _left_of(piece, taken)]
    return filled


def _left_of(zone: Zone, taken: tuple[object, ...]) -> list[Zone]:
    if not taken:
        return [zone]
    left = subtract(zone.region, taken, sliver_mm2=LEFTOVER_MM2)
    return [replace(zone, region=region, left_open=(*zone.left_open, *taken)) for region in left]


def _merged(a: Filled, b: Filled) -> Filled:
    first = 1 + max((s.chain for s in a.strokes if s.chain is not None), default=-1)
    return Filled(
        strokes=(*a.strokes, *(_rechained(s, first) for s in b.strokes)),
        taken=(*a.taken, *b.taken),
        fences=(*a.fences, *b.fences),
        findings=(*a.findings, *b.findings),
    )


def _rechained(stroke: Stroke, first: int) -> Stroke:
    return stroke if stroke.chain is None else replace(stroke, chain=stroke.chain + first)
