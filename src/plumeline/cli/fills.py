"""plumeline fills: the fills and their settings, read from their settings models."""

from __future__ import annotations

from typing import Any

import click
from pydantic.fields import FieldInfo

from ..fills import FillSettings, fill_names, find_fill
from ..units import format_length

__all__ = ["command", "default_text", "shown", "toml_key"]


@click.command("fills")
@click.argument("kind", required=False)
@click.option("--units", type=click.Choice(["in", "mm", "cm"]), default="in", show_default=True, help="Unit to print.")
def command(kind: str | None, units: str) -> None:
    """List the fills, or one KIND with its settings, units and defaults."""
    if kind is None:
        wide = max(len(name) for name in fill_names())
        for name in fill_names():
            click.echo(f"{name:<{wide}}  {find_fill(name).description}")
        click.echo("\n'plumeline fills KIND' lists the settings of one.")
        return
    found = find_fill(kind)
    click.echo(f"{found.name}: {found.description}\n")
    rows = [
        (toml_key(name, field), default_text(name, field, units), field.description or "")
        for name, field in shown(found.settings)
    ]
    wide, middle = max((len(r[0]) for r in rows), default=0), max((len(r[1]) for r in rows), default=0)
    for name, default, says in rows:
        click.echo(f"  {name:<{wide}}  {default:<{middle}}  {says}")


def shown(settings: type[FillSettings]) -> list[tuple[str, FieldInfo]]:
    """Return the settings that she may give, by field name; what `resolved` fills in is left out."""
    return [(name, field) for name, field in settings.model_fields.items() if not field.exclude]


def toml_key(name: str, field: FieldInfo) -> str:
    """Return a setting's name as she writes it: ``spacing`` for ``spacing_mm``."""
    return field.validation_alias if isinstance(field.validation_alias, str) else name


def default_text(name: str, field: FieldInfo, units: str) -> str:
    """Return a setting's default as she reads it: ``1/2 in``, ``45 degrees``, ``chosen to suit``."""
    value: Any = field.default
    if value is None:
        return "chosen to suit"
    if name.endswith("_mm"):
        lengths = value if isinstance(value, tuple) else (value,)
        return ", ".join(format_length(v, units) for v in lengths)
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, tuple):
        return ", ".join(map(str, value)) or "none"
    text = f"{value:g}" if isinstance(value, float) else str(value)
    return f"{text} degrees" if name.endswith("_deg") else text
