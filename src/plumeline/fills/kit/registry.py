"""The registry of fills: one fill, one file, one registration.

A fill is a pure function ``draw(zone, settings, *, rng, tolerance_mm) -> Filled``. It is called with the zone
in the zone's own frame (origin 0, no turn), so moving and turning a zone moves and turns what it draws;
``zone.frame`` still says where that frame lies on the page.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from importlib import import_module
from typing import Any, Literal, Protocol

import numpy as np

from ...codes import FindingCode
from ...errors import FillError, nearest
from ...geometry import filled_to_page, zone_to_local
from ...model import Filled, Finding, Stage, Stroke, Zone
from ...plugins import Registry
from ...tolerances import CURVE_MM
from ...units import setting_key
from .settings import FillSettings

__all__ = [
    "Fill",
    "all_fills",
    "broken_fills",
    "does_nothing",
    "fill_names",
    "find_fill",
    "merged",
    "register",
    "too_small",
]

BUILT_IN: tuple[str, ...] = (
    "feather",
    "spiral",
    "curl",
    "pebble",
    "channel",
    "crosshatch",
    "rings",
    "rays",
    "chords",
    "outline",
    "continuous_curve",
    "meander",
    "echo",
    "motif",
    "edge_to_edge",
    "ditch",
)
"""Modules of the built-in fills, in the order they are listed to her."""

BUILT_IN_NAMES = tuple(module.replace("_", "-") for module in BUILT_IN)
"""Names of the built-in fills."""


class Draw(Protocol):
    """The function of a fill."""

    def __call__(
        self, zone: Zone, settings: Any, *, rng: np.random.Generator, tolerance_mm: float = CURVE_MM
    ) -> Filled:
        """Draw the fill in the zone's own frame."""


@dataclass(frozen=True, slots=True)
class Fill:
    """One registered fill: name, settings model, function, place in the sewing order, one line of what it is.

    ``within`` says what bounds it: the zone's ``region``, or its ``outline`` for fills that belong in the seams.
    ``by_chance``: all of its way is left to chance, so that repeats of it side by side are seen as a stamp.
    ``sooner_coarse``: with a coarse ``tolerance_mm`` it is drawn much sooner, for a first look.
    """

    name: str
    settings: type[FillSettings]
    draw: Draw
    stage: Stage
    description: str
    within: Literal["region", "outline"] = "region"
    by_chance: bool = False
    sooner_coarse: bool = False

    @property
    def is_ours(self) -> bool:
        """Whether it comes with this package, and so looks at nothing of a zone but its shape, fences and ends."""
        return self.name in BUILT_IN_NAMES

    def __call__(
        self, zone: Zone, settings: FillSettings, *, rng: np.random.Generator, tolerance_mm: float = CURVE_MM
    ) -> Filled:
        """Fill a zone of the page.

        Parameters
        ----------
        zone : Zone
            On the page; it is drawn in its own frame, and what is drawn is brought back.
        settings : FillSettings
            Of this fill's own model.
        rng : numpy.random.Generator
            Source of all that is left to chance.
        tolerance_mm : float
            How far chords may stray from a curve.

        Returns
        -------
        Filled
            On the page; every stroke carries the zone's name and the fill's. A zone too small gives a
            finding and no strokes.
        """
        whole = Filled()
        for piece in zone_to_local(zone):
            whole = merged(whole, self.draw(piece, settings, rng=rng, tolerance_mm=tolerance_mm))
        strokes = tuple(replace(s, zone=zone.name, fill=self.name) for s in whole.strokes)
        return filled_to_page(replace(whole, strokes=strokes), zone.frame)


def _loaded(name: str) -> Fill:
    fill: Fill = import_module(f"plumeline.fills.{name.replace('-', '_')}").FILL
    return fill


def _check(fill: Fill, others: Iterable[Fill]) -> None:
    if any(fill.name == other.name for other in others):
        raise ValueError(f"a fill named {fill.name!r} is registered already")


_FILLS = Registry(BUILT_IN_NAMES, load=_loaded, group="plumeline.fills", check=_check)


def register(fill: Fill) -> Fill:
    """Add a fill.

    Parameters
    ----------
    fill : Fill
        A fill of your own; packages use the entry point group ``plumeline.fills`` instead.

    Returns
    -------
    Fill
        The same.

    Raises
    ------
    ValueError
        There is one of that name.

    Examples
    --------
    >>> register(find_fill("spiral"))
    Traceback (most recent call last):
    ...
    ValueError: a fill named 'spiral' is registered already
    """
    return _FILLS.add(fill)


def all_fills() -> Mapping[str, Fill]:
    """Return all fills by name: the built-in ones in their order, then those of other packages.

    Returns
    -------
    mapping
        Name to fill; it can't be changed.
    """
    return _FILLS.all()


def fill_names() -> tuple[str, ...]:
    """Return the names of all fills.

    Returns
    -------
    tuple of str
        The built-in ones in their order, then those of other packages.

    Examples
    --------
    >>> fill_names()[:3]
    ('feather', 'spiral', 'curl')
    """
    return tuple(all_fills())


def find_fill(name: str) -> Fill:
    """Return a fill by name.

    Parameters
    ----------
    name : str
        As a plan's ``kind`` has it.

    Returns
    -------
    Fill
        Built in or from another package.

    Raises
    ------
    FillError
        There is none of that name; the message lists all and the nearest.

    Examples
    --------
    >>> find_fill("spiral").stage
    'motif'
    """
    fill = _FILLS.find(name)
    if fill is None:
        near = nearest(name, all_fills())
        raise FillError(
            f"is {name!r}; must be one of {', '.join(fill_names())}",
            key="kind",
            what_to_do=f"Did you mean {near!r}?" if near else "See 'plumeline fills'.",
        )
    return fill


def broken_fills() -> tuple[Finding, ...]:
    """Return a finding for each fill of another package that could not be loaded.

    Returns
    -------
    tuple of Finding
        Warnings, each with the fill's name and why; empty where all could be loaded.
    """
    return tuple(
        Finding(
            FindingCode.FILL_NOT_LOADED,
            "warning",
            None,
            f"the fill {name!r} of another package could not be loaded: {why}",
            "Update or remove that package.",
        )
        for name, why in _FILLS.broken()
    )


def too_small(zone: Zone, fill: str, why: str, what_to_do: str) -> Filled:
    """Return the answer for a zone too small for its fill: no strokes and one warning.

    Parameters
    ----------
    zone : Zone
        The warning names it.
    fill : str
        Name of the fill.
    why : str
        What does not go in.
    what_to_do : str
        A sentence.

    Returns
    -------
    Filled
        Its one finding is `FindingCode.FILL_TOO_SMALL`.

    Examples
    --------
    >>> from shapely import box
    >>> speck = Zone("speck", "", 1, box(0, 0, 1, 1), box(0, 0, 1, 1))
    >>> too_small(speck, "stripes", "no line goes in", "Choose a smaller spacing.").findings[0].text
    'stripes: no line goes in'
    """
    return Filled(findings=(Finding(FindingCode.FILL_TOO_SMALL, "warning", zone.label, f"{fill}: {why}", what_to_do),))


def does_nothing(zone: Zone, fill: str, field: str, why: str) -> Finding:
    """Return the note that a setting, named by its field, does nothing in this zone, and why."""
    key = setting_key(field)
    text = f"{fill}: {key} does nothing here: {why}"
    return Finding(FindingCode.SETTING_IDLE, "note", zone.label, text, f"Leave {key} out.")


def merged(a: Filled, b: Filled) -> Filled:
    """Return two fills of one zone as one, chain numbers apart."""
    first = 1 + max((s.chain for s in a.strokes if s.chain is not None), default=-1)
    return Filled(
        strokes=(*a.strokes, *(_rechained(s, first) for s in b.strokes)),
        taken=(*a.taken, *b.taken),
        fences=(*a.fences, *b.fences),
        findings=(*a.findings, *b.findings),
        enclosed=(*a.enclosed, *b.enclosed),
    )


def _rechained(stroke: Stroke, first: int) -> Stroke:
    return stroke if stroke.chain is None else replace(stroke, chain=stroke.chain + first)
