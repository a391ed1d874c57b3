"""The report as a file: the same report, the same bytes."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from ..errors import EngineError

__all__ = ["report_text"]

DECIMALS = 4
"""Digits kept after the point: a tenth of a micrometre, well below what differs between processors."""


def report_text(report: Mapping[str, Any]) -> str:
    """Return a report as JSON text: keys in their order, numbers to 0.0001, ending with a newline.

    Raises
    ------
    EngineError
        A number is not finite, or a value is nothing that JSON holds.
    """
    return json.dumps(_plain(report, "report"), indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def _plain(value: Any, where: str) -> Any:
    if isinstance(value, np.generic):
        value = value.item()
    if value is None or isinstance(value, (str, bool, int)):
        return value
    if isinstance(value, float):
        if not math.isfinite(value):
            raise EngineError(f"{where} is {value!r}; a report holds finite numbers only")
        return round(value, DECIMALS) + 0.0  # no minus zero
    if isinstance(value, Mapping):
        return {str(k): _plain(v, f"{where}.{k}") for k, v in value.items()}
    if isinstance(value, Sequence):
        return [_plain(v, f"{where}[{i}]") for i, v in enumerate(value)]
    raise EngineError(f"{where} is a {type(value).__name__}; a report holds text, numbers, lists and tables only")
