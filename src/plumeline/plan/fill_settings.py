"""Check the fill settings of a plan against the settings models of the fills, which are passed in."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from pydantic import BaseModel, ValidationError

from ..errors import PlanError, nearest
from ..specs import matching
from .fields import respelt
from .messages import known_keys, settings_errors, unknown_key
from .reading import Plan, RawFills

__all__ = ["CheckedFill", "CheckedFills", "check_fills", "check_settings"]


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
class CheckedFill:
    """One fill of a stack: its kind and its checked settings."""

    kind: str
    settings: BaseModel


@dataclass(frozen=True, slots=True)
class CheckedFills:
    """The checked fills of a plan, by zone and part."""

    zones: Mapping[str, Mapping[str, tuple[CheckedFill, ...]]]

    def stack(self, zone: str, part: str) -> tuple[CheckedFill, ...]:
        """Return the stack of a zone's part; empty when the part stays open.

        The part's own name goes before a pattern, a longer pattern before a shorter one. The part of an
        undivided zone is ``""``.
        """
        by_part = self.zones.get(zone, {})
        fitting = [p for p in by_part if matching(p, [part])]
        return by_part[max(fitting, key=lambda p: (p == part, len(p)))] if fitting else ()


def check_fills(plan: Plan, models: Mapping[str, type[BaseModel]]) -> CheckedFills:
    """Check the settings of every fill of a plan, also those of its options.

    Parameters
    ----------
    plan : Plan
        The plan; its own fills come back (with those of the option that `Plan.with_option` applied).
    models : mapping of fill kind to settings model
        What each kind of fill accepts; lengths are read with ``{"units": plan.units}`` as context.

    Raises
    ------
    PlanError
        A kind is not in ``models``, or a setting can't be used.
    """
    for kind in plan.prices.fills if plan.prices else ():
        if kind not in models and kind != "*":
            raise unknown_key(f"prices.fills.{kind}", [*models, "*"], file=plan.file)
    for option, zones in plan.options.items():
        for zone, fills in zones.items():
            _checked(plan, zone, fills, models, f'options.{option}."{zone}"')
    return CheckedFills({zone: _checked(plan, zone, fills, models, "fill") for zone, fills in plan.fills.items()})


def _checked(
    plan: Plan, zone: str, fills: RawFills, models: Mapping[str, type[BaseModel]], prefix: str
) -> dict[str, tuple[CheckedFill, ...]]:
    divided = {spec.name for spec in plan.zones if spec.divide}
    out: dict[str, tuple[CheckedFill, ...]] = {}
    for part, stack in fills.items():
        key = f"{prefix}.{part}" if zone in divided else prefix
        places = [f"{key}.{place + 1}" if len(stack) > 1 else key for place in range(len(stack))]
        out[part] = tuple(_layer(plan, zone, layer, models, at) for layer, at in zip(stack, places))
    return out


def _layer(
    plan: Plan, zone: str, layer: Mapping[str, Any], models: Mapping[str, type[BaseModel]], key: str
) -> CheckedFill:
    kind = layer["kind"]
    if kind not in models:
        near = TRADE_NAMES.get(kind.lower().replace("_", "-").replace(" ", "-")) or nearest(kind, models)
        raise PlanError(
            f"is '{kind}'; must be one of {', '.join(models)}",
            file=plan.file,
            zone=zone,
            key=f"{key}.kind",
            what_to_do=f"Did you mean '{near}'?" if near else None,
        )
    raw = {name: value for name, value in layer.items() if name != "kind"}
    settings = check_settings(models[kind], raw, units=plan.units, prefix=key, file=plan.file, zone=zone)
    return CheckedFill(kind, settings)


def check_settings(
    model: type[BaseModel],
    raw: Mapping[str, Any],
    *,
    units: str,
    prefix: str = "",
    file: str | None = None,
    zone: str | None = None,
) -> BaseModel:
    """Return the checked settings of one fill; also for the command line's ``--set``.

    Raises
    ------
    PlanError
        The first setting that can't be used, in one line.
    """
    keys = known_keys(model)
    raw = respelt(raw, keys)
    for name in raw:
        if name not in keys:
            raise unknown_key(f"{prefix}.{name}" if prefix else name, list(keys), file=file, zone=zone)
    try:
        return model.model_validate(raw, context={"units": units})
    except ValidationError as error:
        raise settings_errors(error, model, raw, units=units, prefix=prefix, file=file, zone=zone)[0] from None
