"""From the checks of a settings model to one line that a quilter can act on.

Used for the plan's own tables, for a fill's settings and for the command line's ``--set`` alike.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, get_args

from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo
from pydantic_core import ErrorDetails

from ..errors import PlanError, nearest
from ..units import MM_PER

__all__ = ["known_keys", "list_of", "settings_errors", "unknown_key"]

SHOWN_LETTERS = 60
"""A value longer than this is cut short in a message."""

_KINDS = {
    "float": "a number",
    "int": "a whole number",
    "bool": "true or false",
    "string": "text in quotes",
    "tuple": "a list",
    "list": "a list",
    "dict": "a table",
    "model": "a table",
    "mapping": "a table",
}


def known_keys(model: type[BaseModel]) -> dict[str, FieldInfo]:
    """Return a settings model's fields by the name she writes (``spacing``, not ``spacing_mm``)."""
    return {
        field.validation_alias if isinstance(field.validation_alias, str) else name: field
        for name, field in model.model_fields.items()
    }


def unknown_key(key: str, known: Sequence[str], **where: str | None) -> PlanError:
    """Return the error for a key, name or part that is not known, with the nearest that is."""
    near = nearest(key.rsplit(".", 1)[-1], known)
    rule = f"is not known here; known are {list_of(known)}" if known else "is not known here; nothing can be set here"
    return PlanError(rule, key=key, what_to_do=f"Did you mean '{near}'?" if near else None, **where)


def list_of(names: Sequence[str]) -> str:
    """Return names as a list for a message, the first twenty of them."""
    return ", ".join(names[:20]) + (f" and {len(names) - 20} more" if len(names) > 20 else "")


def settings_errors(
    error: ValidationError,
    model: type[BaseModel],
    raw: Mapping[str, Any],
    *,
    units: str,
    prefix: str = "",
    file: str | None = None,
    zone: str | None = None,
) -> list[PlanError]:
    """Return one `PlanError` for each value that a settings model refused.

    Parameters
    ----------
    error : pydantic.ValidationError
        What validation raised.
    model, raw
        The model and the table as she wrote it; values are shown from it, not as they were converted.
    units : str
        The plan's unit, for values and limits of lengths.
    prefix : str
        Key of the table, such as ``"fill.inside"``.
    """
    by_key: dict[tuple[str | int, ...], list[tuple[str, str | None]]] = {}
    for detail in error.errors():
        where, said = _explained(detail, model, raw, units)
        told = by_key.setdefault(where, [])
        if said not in told:
            told.append(said)
    return [
        PlanError(_together(told), key=_key_text(prefix, where), what_to_do=told[-1][1], file=file, zone=zone)
        for where, told in by_key.items()
        if not any(len(other) > len(where) and other[: len(where)] == where for other in by_key)
    ]


def _together(told: list[tuple[str, str | None]]) -> str:
    # The branches of a choice (a name, or points) are refused one by one; say what any of them would take.
    first, *others = [rule for rule, _ in told]
    more = [rule.split("; must be ", 1)[1] for rule in others if "; must be " in rule and "; must be " in first]
    return " or ".join([first, *more])


def _key_text(prefix: str, where: Sequence[str | int]) -> str | None:
    steps = [str(step + 1) if isinstance(step, int) else step for step in where]
    return ".".join([*([prefix] if prefix else []), *steps]) or None


def _explained(
    detail: ErrorDetails, model: type[BaseModel], raw: Any, units: str
) -> tuple[tuple[str | int, ...], tuple[str, str | None]]:
    kind, ctx = detail["type"], detail.get("ctx", {})
    where, value = _in_raw(detail["loc"], raw, kind)
    if kind == "extra_forbidden":
        wrong = unknown_key(str(where[-1]), _keys_beside(model, detail["loc"]))
        return where, (wrong.rule, wrong.what_to_do)
    if kind in ("missing", "union_tag_not_found"):
        if kind == "missing":
            like = "1.5 or '1 1/2'" if _is_length(model, detail["loc"]) else None
            return where, (f"is missing; must be a length such as {like}" if like else "is missing", None)
        tag = str(ctx["discriminator"]).strip("'")
        return (*where, tag), ("is missing", None)
    if kind in ("literal_error", "enum", "union_tag_invalid"):
        if kind == "union_tag_invalid":
            where, value = (*where, str(ctx["discriminator"]).strip("'")), ctx["tag"]
        choices = re.findall(r"'([^']*)'", str(ctx.get("expected") or ctx.get("expected_tags")))
        near = nearest(value, choices) if isinstance(value, str) else None
        rule = f"is {_shown(value)}; must be one of {', '.join(choices)}"
        return where, (rule, f"Did you mean '{near}'?" if near else None)
    if kind == "value_error":
        return where, (str(ctx["error"]), None)
    length = _is_length(model, detail["loc"])
    is_value = f"is {_shown(value, units if length else None)}"
    rule = f"{is_value}; {_rule(kind, ctx, detail['msg'], units if length else None)}"
    return where, (rule, _meaning(model, detail["loc"]) if kind in ("float_parsing", "int_parsing") else None)


def _meaning(model: type[BaseModel], loc: Sequence[str | int]) -> str | None:
    """Return what a setting is, for one that got a word in place of a number."""
    said = {field.description for _, field in _fields_at(model, loc) if field.description}
    return f"It is: {said.pop()}." if len(said) == 1 else None


def _rule(kind: str, ctx: Mapping[str, Any], msg: str, units: str | None) -> str:
    limits = {
        "greater_than_equal": ("at least", "ge"),
        "greater_than": ("more than", "gt"),
        "less_than_equal": ("at most", "le"),
        "less_than": ("less than", "lt"),
    }
    if kind in limits:
        words, name = limits[kind]
        return f"must be {words} {_limit(ctx[name], units)}"
    if kind in ("too_long", "string_too_long"):
        return f"must be at most {ctx['max_length']} {'long' if kind == 'too_long' else 'letters'}"
    if kind in ("too_short", "string_too_short"):
        return f"must be at least {ctx['min_length']} {'long' if kind == 'too_short' else 'letters'}"
    if kind == "finite_number":
        return "must be a finite number"
    if kind == "int_from_float":
        return "must be a whole number"
    first = kind.split("_", 1)[0]
    return f"must be {_KINDS[first]}" if first in _KINDS else msg[:1].lower() + msg[1:]


def _limit(value: float, units: str | None) -> str:
    if units is None:
        return f"{value:g}"
    if value == 0:
        return "0"
    if units == "mm":
        return f"{value:g} mm"
    return f"{value / MM_PER[units]:.3g} {units} ({value:g} mm)"


def _shown(value: object, units: str | None = None) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if units is not None and isinstance(value, (int, float)):
        return f"{value:g} {units}"
    if units is not None and isinstance(value, str):
        return value if re.search(r"[a-z\"″]\s*$", value) else f"{value} {units}"
    if isinstance(value, Mapping):
        text = "{ " + ", ".join(f"{k} = {_shown(v)}" for k, v in value.items()) + " }"
    else:
        text = repr(list(value) if isinstance(value, tuple) else value)
    return text if len(text) <= SHOWN_LETTERS else f"{text[: SHOWN_LETTERS - 1]}…"


def _in_raw(loc: Sequence[str | int], raw: Any, kind: str) -> tuple[tuple[str | int, ...], Any]:
    # The place of an error names union branches too; only steps that exist in her table are kept.
    where: list[str | int] = []
    for place, step in enumerate(loc):
        absent = kind in ("missing", "extra_forbidden") and place == len(loc) - 1
        if isinstance(raw, Mapping) and (step in raw or absent):
            raw = raw.get(step) if isinstance(step, str) else None
            where.append(step)
        elif isinstance(raw, (list, tuple)) and isinstance(step, int) and step < len(raw):
            raw = raw[step]
            where.append(step)
        elif absent:
            where.append(step)
    return tuple(where), raw


def _models_in(annotation: Any) -> Iterator[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for inner in get_args(annotation):
        yield from _models_in(inner)


def _fields_at(model: type[BaseModel], loc: Sequence[str | int]) -> list[tuple[str, FieldInfo]]:
    """Return the possible fields, by field name, that a place's last step of text lies in."""
    models, found = [model], []
    for step in loc:
        named = [(key, m) for m in models for key in known_keys(m) if key == step]
        if named:
            fields = [known_keys(m)[key] for key, m in named]
            found = [(_field_name(m, key), known_keys(m)[key]) for key, m in named]
            models = [inner for field in fields for inner in _models_in(field.annotation)]
        else:
            models = [m for m in models if _tagged(m, step)] or models
    return found


def _tagged(model: type[BaseModel], step: str | int) -> bool:
    return any(step in get_args(field.annotation) for field in model.model_fields.values()) or model.__name__ == step


def _field_name(model: type[BaseModel], key: str) -> str:
    fields = known_keys(model)
    return next(name for name, field in model.model_fields.items() if field is fields[key])


def _is_length(model: type[BaseModel], loc: Sequence[str | int]) -> bool:
    found = _fields_at(model, loc)
    return bool(found) and all(
        name.endswith("_mm") or (field.json_schema_extra or {}) == {"unit": "length"} for name, field in found
    )


def _keys_beside(model: type[BaseModel], loc: Sequence[str | int]) -> list[str]:
    """Return the known keys of the table that an unknown key stands in."""
    models = [model]
    for step in loc[:-1]:
        named = [known_keys(m)[str(step)] for m in models if step in known_keys(m)]
        if named:
            models = [inner for field in named for inner in _models_in(field.annotation)]
        else:
            models = [m for m in models if _tagged(m, step)] or models
    return list(dict.fromkeys(key for m in models for key in known_keys(m)))
