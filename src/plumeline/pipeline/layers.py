"""From what a plan says of its fills to layers: kinds found, settings checked."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from pydantic import ValidationError

from ..errors import PlanError, nearest
from ..fills import Fill, Sources, all_fills, find_fill
from ..fills.kit.stack import Layer
from ..plan import Plan
from ..plan.fields import respelt
from ..plan.messages import known_keys, list_of, settings_errors, unknown_key
from ..specs import matching

__all__ = ["Stacks", "check_fills", "checked_layer", "layers_of"]

TRADE_NAMES = {
    "stipple": "meander",
    "stippling": "meander",
    "vermicelli": "meander",
    "swirl": "curl",
    "swirls": "curl",
    "wreath": "feather",
    "feathers": "feather",
    "e2e": "edge-to-edge",
    "pantograph": "edge-to-edge",
    "cross-hatch": "crosshatch",
    "piano-keys": "channel",
    "sid": "ditch",
    "matchstick": "channel",
}
"""What the trade calls a fill too, and the fill: a hint in the message."""


@dataclass(frozen=True, slots=True)
class Stacks:
    """The stacks of a plan, by zone and part."""

    zones: Mapping[str, Mapping[str, tuple[Layer, ...]]]

    def stack(self, zone: str, part: str) -> tuple[Layer, ...]:
        """Return the stack of a zone's part; empty when the part stays open.

        The part's own name overrides a pattern, a longer pattern a shorter one. The part of an
        undivided zone is ``""``.
        """
        by_part = self.zones.get(zone, {})
        fitting = [p for p in by_part if matching(p, [part])]
        return by_part[max(fitting, key=lambda p: (p == part, len(p)))] if fitting else ()


def check_fills(plan: Plan, fills: Mapping[str, Fill] | None = None) -> Stacks:
    """Check the settings of every fill of a plan, also those of its options.

    Parameters
    ----------
    plan : Plan
        The plan; its own fills come back (with those of the option that `Plan.with_option` applied).
    fills : mapping of kind to Fill, optional
        What there is to choose from; all registered fills unless given.

    Returns
    -------
    Stacks
        The layers of each zone and part; their settings still hold the names of guides, artwork and zones.

    Raises
    ------
    PlanError
        A kind is not in ``fills``, or a setting can't be used.
    """
    known = all_fills() if fills is None else fills
    for kind in plan.prices.fills if plan.prices else ():
        if kind not in known and kind != "*":
            raise unknown_key(f"prices.fills.{kind}", [*known, "*"], file=plan.file)
    for option, zones in plan.options.items():
        for zone, raw in zones.items():
            _checked(plan, zone, raw, known, f'options.{option}."{zone}"')
    return Stacks({zone: _checked(plan, zone, raw, known, "fill") for zone, raw in plan.fills.items()})


def _checked(
    plan: Plan, zone: str, raw: Mapping[str, Sequence[Mapping[str, Any]]], fills: Mapping[str, Fill], prefix: str
) -> dict[str, tuple[Layer, ...]]:
    divided = {spec.name for spec in plan.zones if spec.divide}
    out: dict[str, tuple[Layer, ...]] = {}
    for part, stack in raw.items():
        key = f"{prefix}.{part}" if zone in divided else prefix
        places = [f"{key}.{place + 1}" if len(stack) > 1 else key for place in range(len(stack))]
        out[part] = tuple(_layer(plan, zone, layer, fills, at) for layer, at in zip(stack, places))
    return out


def _layer(plan: Plan, zone: str, layer: Mapping[str, Any], fills: Mapping[str, Fill], key: str) -> Layer:
    kind = layer["kind"]
    if kind not in fills:
        near = TRADE_NAMES.get(kind.lower().replace("_", "-").replace(" ", "-")) or nearest(kind, fills)
        raise PlanError(
            f"is '{kind}'; must be one of {', '.join(fills)}",
            file=plan.file,
            zone=zone,
            key=f"{key}.kind",
            what_to_do=f"Did you mean '{near}'?" if near else None,
        )
    return checked_layer(fills[kind], _settings(layer), units=plan.units, prefix=key, file=plan.file, zone=zone)


def _settings(layer: Mapping[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in layer.items() if name != "kind"}


def layers_of(stack: Iterable[Mapping[str, Any]], sources: Sources, *, units: str) -> tuple[Layer, ...]:
    """Return the layers of one stack as a plan writes it, each a table with its ``kind``, ready to be drawn.

    Raises
    ------
    FillError, PlanError
        No such fill, a setting that can't be used, or a name that is not found in ``sources``.
    """
    return tuple(
        checked_layer(find_fill(said["kind"]), _settings(said), units=units, prefix=said["kind"]).resolved(sources)
        for said in stack
    )


def checked_layer(
    fill: Fill,
    raw: Mapping[str, Any],
    *,
    units: str,
    prefix: str = "",
    file: str | None = None,
    zone: str | None = None,
) -> Layer:
    """Return one fill with its settings checked; also for the command line's ``--set``.

    Parameters
    ----------
    raw : mapping
        Settings as in a plan, without the ``kind``; bare numbers are in ``units``.
    prefix, file, zone : str, optional
        Where the settings stand, for the message.

    Raises
    ------
    PlanError
        The first setting that can't be used, in one line.

    Examples
    --------
    >>> checked_layer(find_fill("spiral"), {"spacing": "1/2"}, units="in").settings.spacing_mm
    12.7
    """
    model = fill.settings
    keys = known_keys(model)
    raw = respelt(raw, keys)
    for name in raw:
        if name not in keys:
            wrong = unknown_key(f"{prefix}.{name}" if prefix else name, list(keys), file=file, zone=zone)
            others = [other.name for other in all_fills().values() if name in known_keys(other.settings)]
            if others:  # left behind when the kind was changed
                wrong.what_to_do = f"It is a setting of {list_of(others)}: take it out for {fill.name}."
            raise wrong
    try:
        return Layer(fill, model.model_validate(raw, context={"units": units}))
    except ValidationError as error:
        raise settings_errors(error, model, raw, units=units, prefix=prefix, file=file, zone=zone)[0] from None
