"""Forms made from the fills' settings models: names, kinds, limits, units and meaning are written once."""

from __future__ import annotations

from typing import Any

from ..fills import all_fills
from ..units import setting_key

__all__ = ["fill_forms"]


def fill_forms() -> list[dict[str, Any]]:
    """Return every fill: its kind, one line on it, and a field for each of its settings."""
    forms = []
    for kind, fill in all_fills().items():
        schema = fill.settings.model_json_schema(by_alias=False)
        names = [name for name in schema.get("properties", {}) if not name.startswith("_")]
        fields = [_field(name, schema["properties"][name], schema.get("$defs", {})) for name in names]
        forms.append({"kind": kind, "about": fill.description, "fields": fields})
    return forms


def _field(name: str, said: dict[str, Any], shared: dict[str, Any]) -> dict[str, Any]:
    """Return one field: ``length``, ``number``, ``choice``, ``yes-no`` or ``text``."""
    found = dict(said)
    for kind in said.get("anyOf", []):
        if kind.get("type") != "null":
            found = {**kind, **found}
            break
    if "$ref" in found:
        found = {**shared.get(found["$ref"].rsplit("/", 1)[-1], {}), **found}
    choices = found.get("enum")
    if choices:
        kind = "choice"
    elif found.get("type") == "boolean":
        kind = "yes-no"
    elif found.get("unit") == "length" and found.get("type") in ("number", None):
        kind = "length"
    elif found.get("type") in ("number", "integer"):
        kind = "number"
    else:
        kind = "text"
    return {
        "key": setting_key(name),
        "kind": kind,
        "whole": found.get("type") == "integer",
        "choices": choices,
        "default": found.get("default"),
        "least": found.get("minimum", found.get("exclusiveMinimum")),
        "most": found.get("maximum", found.get("exclusiveMaximum")),
        "about": found.get("description", ""),
    }
