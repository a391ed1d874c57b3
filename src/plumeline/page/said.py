"""What a request says, word for word checked."""

from __future__ import annotations

import base64
import binascii
from collections.abc import Mapping
from typing import Any

from ..errors import InputError
from ..units import Unit, parse_length, parse_lengths

__all__ = ["bytes_said", "length_said", "lengths_said", "units_said", "words_said"]


def words_said(said: Mapping[str, Any], key: str) -> list[str]:
    """Return a list of words of a request.

    Raises
    ------
    InputError
        It is none.
    """
    words = said.get(key)
    if not isinstance(words, list) or not all(isinstance(word, str) for word in words):
        raise InputError("must be a list of words", key=key)
    return words


def bytes_said(said: Mapping[str, Any], key: str) -> bytes:
    """Return what a request holds in base 64.

    Raises
    ------
    InputError
        It is none.
    """
    try:
        return base64.b64decode(str(said.get(key, "")), validate=True)
    except binascii.Error:
        raise InputError("can't be read", key=key) from None


def units_said(said: Mapping[str, Any]) -> Unit:
    """Return what lengths of a request are in: inches, unless it says centimetres.

    Raises
    ------
    InputError
        It says something else.
    """
    units = said.get("units", "in")
    if units not in ("in", "cm"):
        raise InputError(f"are {units!r}; must be in or cm", key="units")
    return "cm" if units == "cm" else "in"


def length_said(said: Mapping[str, Any], key: str) -> float:
    """Return a length of a request in mm; bare numbers are in its units.

    Raises
    ------
    InputError
        It is none.
    """
    units = units_said(said)
    try:
        return parse_length(str(said.get(key, "")), units)
    except ValueError as error:
        raise InputError(str(error), key=key) from None


def lengths_said(said: Mapping[str, Any], key: str) -> list[float]:
    """Return a list of lengths of a request in mm, ``[]`` where nothing is said; bare numbers are in its units.

    Raises
    ------
    InputError
        One of them is none, or a comma can be read in two ways: to most who measure in cm it is a decimal sign.
    """
    units, text = units_said(said), str(said.get(key, "")).strip()
    try:
        return parse_lengths(text, units, spaced=units == "cm") if text else []
    except ValueError as error:
        raise InputError(str(error), key=key) from None
