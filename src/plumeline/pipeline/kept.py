"""What was filled before, by everything that it depends on: a zone that nothing touched is not filled again."""

from __future__ import annotations

import hashlib
import pickle
from collections import OrderedDict
from collections.abc import Callable, Mapping
from dataclasses import fields, is_dataclass
from typing import TYPE_CHECKING, Any, TypeAlias

import numpy as np
from pydantic import BaseModel
from shapely import Polygon

from .. import __version__
from ..geometry import region_bytes

if TYPE_CHECKING:
    from ..model import Filled, Finding, Top, Zone
    from ..plan import Plan
    from ..review import ZoneFigures

    Made: TypeAlias = tuple[tuple[Zone, ...], tuple[Finding, ...]]

__all__ = ["Kept", "key_of"]

MOST_ZONES = 2_000
"""Filled zones kept: ten times a large quilt, so that a few undone steps are still there; about 200 MB at most."""

MOST_MADE = 4
"""Ways of dividing the top up that are kept: the newest, those of an undone step or two."""


class Kept:
    """A memory of tops and filled zones, the longest unused forgotten first.

    Parameters
    ----------
    most_zones : int
        How many filled zones it keeps; 0 keeps none.
    """

    def __init__(self, *, most_zones: int = MOST_ZONES) -> None:
        self.most_zones = most_zones
        self.fresh = 0
        """Zones that had to be filled since this memory began."""
        self._filled: OrderedDict[str, tuple[Filled, ZoneFigures]] = OrderedDict()
        self._top: tuple[str, Top] | None = None
        self._made: OrderedDict[str, tuple[Top, Made]] = OrderedDict()

    def filled(self, key: str) -> tuple[Filled, ZoneFigures] | None:
        """Return what was kept under a key, or None."""
        found = self._filled.get(key)
        if found is not None:
            self._filled.move_to_end(key)
        return found

    def keep(self, key: str, filled: tuple[Filled, ZoneFigures]) -> None:
        """Keep a filled zone and its figures."""
        self.fresh += 1
        self._filled[key] = filled
        while len(self._filled) > self.most_zones:
            self._filled.popitem(last=False)

    def top(self, plan: Plan, read: Callable[[Plan], Top]) -> Top:
        """Return the plan's top: the last one when all that it is made from is as it was, else read again."""
        if not self.most_zones:
            return read(plan)
        drawing = plan.top.drawing
        content = (plan.folder / drawing).read_bytes() if drawing and (plan.folder / drawing).is_file() else b""
        said = (plan.top, plan.guides, plan.measured, plan.fabrics, plan.straight)
        key = _hash((repr(said), plan.units, str(plan.folder), content))
        if self._top is None or self._top[0] != key:
            self._top = key, read(plan)
        return self._top[1]

    def made(self, plan: Plan, top: Top, make: Callable[[], Made]) -> Made:
        """Return the zones of a plan on its top: those made before when nothing they are made from has changed."""
        if not self.most_zones:
            return make()
        key = _hash((plan.zones, plan.chance, plan.units))
        found = self._made.pop(key, None)
        if found is None or found[0] is not top:
            found = top, make()
        self._made[key] = found
        while len(self._made) > MOST_MADE:
            self._made.popitem(last=False)
        return found[1]


def key_of(task: tuple[Zone, Any, float | None, float | None]) -> str:
    """Return a name of all that a filled zone depends on: geometry, fences, ways, settings, seed, version.

    Two tasks with one name give the same strokes; the same task may get another name, which only costs time.
    """
    zone, layers, spacing_mm, widest_gap_mm = task
    fills = [(layer.fill.name, layer.settings.model_dump(), layer.settings.__pydantic_private__) for layer in layers]
    parts = (
        __version__,
        (zone.name, zone.part, zone.enter, zone.leave, zone.chance, zone.frame, zone.unit),
        (zone.region.wkb, zone.outline.wkb, [p.wkb for p in zone.left_open], [p.wkb for p in zone.laid]),
        [(f.path.tobytes(), f.soft_mm) for f in zone.fences],
        [(w.path.tobytes(), w.kind, w.factor, w.passes) for w in zone.ways],
        fills,
        spacing_mm,
        widest_gap_mm,
    )
    return _hash(parts)


def _hash(parts: Any) -> str:
    found = hashlib.sha256()
    _feed(found, parts)
    return found.hexdigest()


def _feed(found: hashlib._Hash, part: Any) -> None:
    """Add a value to a hash by what it holds, the same in every process: a pickle also tells what is shared in it."""
    if isinstance(part, (tuple, list)):
        found.update(f"({len(part)}".encode())
        for one in part:
            _feed(found, one)
    elif isinstance(part, Mapping):
        _feed(found, tuple(part.items()))
    elif isinstance(part, np.ndarray):
        found.update(f"{part.dtype}{part.shape}".encode() + part.tobytes())
    elif isinstance(part, Polygon):
        found.update(region_bytes(part))
    elif isinstance(part, BaseModel):
        _feed(found, (type(part).__qualname__, part.model_dump(), part.__pydantic_private__))
    elif is_dataclass(part) and not isinstance(part, type):
        found.update(type(part).__qualname__.encode())
        _feed(found, [getattr(part, field.name) for field in fields(part)])
    elif part is None or isinstance(part, (str, bytes, int, float)):
        found.update(f"{type(part).__name__}:{part!r};".encode())
    else:  # what a fill of another package keeps
        found.update(pickle.dumps(part, protocol=5))
