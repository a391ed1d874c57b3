"""The report as plain tables and as a file: the same report, the same bytes."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import fields, is_dataclass
from typing import Any

import numpy as np

from ..errors import EngineError

__all__ = ["report_table", "report_text"]

DECIMALS = 4
"""Digits kept after the point: a tenth of a micrometre, well below what differs between processors."""


def report_table(report: object) -> dict[str, Any]:
    """Return a report (a dataclass of dataclasses, tuples and numbers) as plain tables, lists and numbers to 0.0001.

    Parameters
    ----------
    report : object
        Of dataclasses, tuples, mappings and plain values.

    Returns
    -------
    dict
        Field by field, in order.

    Raises
    ------
    EngineError
        A number is not finite, or a value is nothing that JSON holds.
    """
    table: dict[str, Any] = _plain(report, "report")
    return table


def report_text(report: object) -> str:
    """Return a report as JSON text: keys in their order, ending with a newline; raises as `report_table`.

    Parameters
    ----------
    report : object
        As of `report_table`.

    Returns
    -------
    str
        JSON.
    """
    return json.dumps(report_table(report), indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def _plain(value: Any, where: str) -> Any:
    if isinstance(value, np.generic):
        value = value.item()
    if value is None or isinstance(value, (str, bool, int)):
        return value
    if isinstance(value, float):
        if not math.isfinite(value):
            raise EngineError(f"{where} is {value!r}; a report holds finite numbers only")
        return round(value, DECIMALS) + 0.0  # no minus zero
    if is_dataclass(value):
        return {f.name: _plain(getattr(value, f.name), f"{where}.{f.name}") for f in fields(value)}
    if isinstance(value, Mapping):
        return {str(k): _plain(v, f"{where}.{k}") for k, v in value.items()}
    if isinstance(value, Sequence):
        return [_plain(v, f"{where}[{i}]") for i, v in enumerate(value)]
    raise EngineError(f"{where} is a {type(value).__name__}; a report holds text, numbers, lists and tables only")
