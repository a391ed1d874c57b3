"""Lengths: millimetres inside, inches and centimetres at the door.

The inch is 25.4 mm exactly (international inch).
"""

from __future__ import annotations

import math
import re
from fractions import Fraction
from typing import Final, Literal, TypeAlias

__all__ = [
    "DENSITY_WORDS",
    "MM_PER",
    "MOST_DENSITY",
    "Unit",
    "decimal_point",
    "format_area",
    "format_length",
    "format_small_length",
    "format_thread",
    "number_or_text",
    "parse_length",
    "parse_lengths",
    "parse_number",
    "setting_key",
]

DENSITY_WORDS: Final = {"scant": 1.0, "even": 2.0, "close": 4.0}
"""Inches of line seen per square inch: as straight lines 1 in, 1/2 in and 1/4 in apart would have."""

MOST_DENSITY: Final = 25.0
"""Inches of line per square inch: lines 1 mm apart."""

Unit: TypeAlias = Literal["in", "mm", "cm"]
"""Unit of numbers that she writes without one."""

MM_PER: Final = {"mm": 1.0, "cm": 10.0, "in": 25.4, "yd": 914.4, "m": 1000.0}
"""Millimetres in one of each unit."""

LONGEST_TEXT = 80
"""Letters of a length; a longer text is none, and is not searched for one."""

LEAST_AREA = 0.001
"""Square inches, centimetres or millimetres; of less it is only said that it is less."""

OVERFLOWS = 10**300
"""No number so large is a length; a whole number larger still would not even go into a float."""

_NUMBER = r"[+-]?(?:\d+\s+\d+/\d+|\d+/\d+|\d*\.?\d+(?:[eE][+-]?\d+)?)"
_UNIT = r"(?:mm|cm|in|inch|inches|yd|m|\"|″)"
_LENGTH = re.compile(rf"^\s*({_NUMBER})\s*({_UNIT})?\s*$")
_BARE = re.compile(rf"^\s*({_NUMBER})\s*$")
_DECIMAL_COMMA = re.compile(r"^(\s*[+-]?)(\d*),(\d+)(\s*[^\d.,/]*)$")
_COMMA_BETWEEN = re.compile(rf"(?<![\d./])(?<!\d,)\d+,\d+(?![\d./]|,\d|\s+\d)(\s*{_UNIT}(?![a-z]))?")
"""A comma in a list that may well be a decimal sign, and a unit behind the number."""

_NAMES: Final = {"inch": "in", "inches": "in", '"': "in", "″": "in"}


def setting_key(field: str) -> str:
    """Return a setting as she writes it: a field's name without its unit, and without what keeps it off a keyword.

    Examples
    --------
    >>> setting_key("spacing_mm"), setting_key("angle_deg"), setting_key("from_")
    ('spacing', 'angle', 'from')
    """
    return field.removesuffix("_mm").removesuffix("_deg").removesuffix("_")


def decimal_point(text: str) -> str:
    """Return a number that has a decimal comma with a point in its place; any other text as it is.

    Parameters
    ----------
    text : str
        One number, with or without a unit behind it.

    Returns
    -------
    str
        A text of several commas, or of other words, comes back unchanged.

    Raises
    ------
    ValueError
        Three digits follow the comma, and what stands before it may be thousands.

    Examples
    --------
    >>> decimal_point("12,5 cm"), decimal_point("0,125"), decimal_point("14,15,13")
    ('12.5 cm', '0.125', '14,15,13')
    >>> decimal_point("1,250 mm")
    Traceback (most recent call last):
    ...
    ValueError: is '1,250 mm'; its comma can be read in two ways: write 1.250 or 1250
    """
    found = _DECIMAL_COMMA.match(text) if len(text) <= LONGEST_TEXT else None
    if found is None:
        return text
    sign, whole, part, rest = found.groups()
    if len(part) == 3 and len(whole) in (1, 2, 3) and whole[0] != "0":
        raise ValueError(f"is {text!r}; its comma can be read in two ways: write {whole}.{part} or {whole}{part}")
    return f"{sign}{whole}.{part}{rest}"


def number_or_text(text: str) -> float | str:
    """Return a number that is written with a decimal comma, such as ``"22,5"``; any other text as it is.

    Examples
    --------
    >>> number_or_text("22,5"), number_or_text("22,5 cm"), number_or_text("1/2")
    (22.5, '22,5 cm', '1/2')
    """
    try:
        pointed = decimal_point(text)
        return text if pointed == text else float(pointed)
    except ValueError:
        return text


def parse_length(value: object, unit: str) -> float:
    """Return a length in mm.

    Parameters
    ----------
    value : float, int or str
        A number, or a string such as ``"1 1/2"``, ``"5/8 in"``, ``"6 mm"``, ``"-1.5"``, ``"12,5 cm"``.
    unit : str
        Unit of a bare number and of a string without a unit: one of `MM_PER`.

    Returns
    -------
    float
        May be negative.

    Raises
    ------
    ValueError
        The value is no length, or not finite; the message says the rule.

    Examples
    --------
    >>> round(parse_length("1 1/2", "in"), 9)
    38.1
    >>> parse_length("6 mm", "in")
    6.0
    """
    if isinstance(value, bool) or not isinstance(value, (int, float, str)):
        raise ValueError(f"is {value!r}; must be a length such as 1.5, '1 1/2' or '6 mm'")
    if isinstance(value, str):
        match = _LENGTH.match(decimal_point(value)) if len(value) <= LONGEST_TEXT else None
        if not match:
            raise ValueError(f"is {value!r}; must be a length such as 1.5, '1 1/2' or '6 mm'")
        unit = _NAMES.get(match[2], match[2]) or unit
        try:
            number = _number(match[1])
        except ZeroDivisionError:
            raise ValueError(f"is {value!r}; a fraction can't have 0 below its line") from None
    else:
        number = float(value) if abs(value) < OVERFLOWS else math.inf
    if not math.isfinite(number):
        raise ValueError(f"is {value!r}; must be a finite length")
    return number * MM_PER[unit]


def parse_lengths(text: str, unit: str, *, spaced: bool = False) -> list[float]:
    """Return the lengths of a list in mm.

    Parameters
    ----------
    text : str
        Such as ``"14,14 1/8,13 7/8"``. Where there is a semicolon it parts the lengths, and a comma is a decimal sign.
    unit : str
        Unit of those without one: one of `MM_PER`.
    spaced : bool
        Refuse a comma between two digits even where nothing else speaks against its parting two lengths.

    Returns
    -------
    list of float
        In the order of the text.

    Raises
    ------
    ValueError
        One of them is no length, or a comma can be read in two ways.

    Examples
    --------
    >>> parse_lengths("14,15, 13", "mm")
    Traceback (most recent call last):
    ...
    ValueError: is '14,15, 13'; a comma can be read in two ways: write decimals with a point, or ';' between lengths
    >>> parse_lengths("14,15,13", "mm"), parse_lengths("7,5; 10", "cm")
    ([14.0, 15.0, 13.0], [75.0, 100.0])
    """
    if ";" in text:
        return [parse_length(part, unit) for part in text.split(";")]
    doubtful = list(_COMMA_BETWEEN.finditer(text))
    if doubtful and (spaced or re.search(r",\s", text) or any(found[1] for found in doubtful)):
        raise ValueError(
            f"is {text!r}; a comma can be read in two ways: write decimals with a point, or ';' between lengths"
        )
    return [parse_length(part, unit) for part in text.split(",")]


def parse_number(text: str) -> float:
    """Return a number without a unit, such as ``"2.5"``, ``"2,5"``, ``"3/4"`` or ``"1 1/2"``.

    Raises
    ------
    ValueError
        The text is none, or not finite.

    Examples
    --------
    >>> parse_number("1 3/4")
    1.75
    """
    match = _BARE.match(decimal_point(text)) if len(text) <= LONGEST_TEXT else None
    if not match:
        raise ValueError(f"is {text!r}; must be a number such as 1.5 or '1 1/2'")
    return parse_length(match[1], "mm")


def _number(text: str) -> float:
    whole, _, fraction = text.rpartition(" ")
    if "/" not in fraction:
        return float(fraction)
    part = float(Fraction(fraction))
    if not whole:
        return part
    head = float(whole)
    return head - part if whole.strip().startswith("-") else head + part


def format_length(mm: float, unit: str = "in", *, per_inch: int = 16) -> str:
    """Return a length as a person writes it: the nearest 1/16 in, or 0.1 mm.

    Parameters
    ----------
    mm : float
        The length.
    unit : str
        One of `MM_PER`.
    per_inch : int
        Parts of an inch that it is rounded to.

    Returns
    -------
    str
        With its unit.

    Examples
    --------
    >>> format_length(63.91 * 25.4)
    '63 15/16 in'
    >>> format_length(12.7, "mm")
    '12.7 mm'
    """
    if unit != "in":
        return f"{round(mm / MM_PER[unit], 1) + 0.0:.1f} {unit}"  # never "-0.0"
    steps = round(abs(mm) / 25.4 * per_inch)
    sign = "-" if mm < 0 and steps else ""
    whole, rest = divmod(steps, per_inch)
    if not rest:
        return f"{sign}{whole} in"
    fraction = Fraction(rest, per_inch)
    return f"{sign}{f'{whole} ' if whole else ''}{fraction.numerator}/{fraction.denominator} in"


def format_small_length(mm: float, unit: str = "in") -> str:
    """Return a length that may be a hair, such as a gap: `format_length` where that says enough, else more finely.

    Examples
    --------
    >>> format_small_length(0.8), format_small_length(0.1), format_small_length(0.07, "cm")
    ('1/32 in', 'under 1/64 in', '0.01 cm')
    """
    if unit == "in":
        if 0 < mm < 25.4 / 64:
            return "under 1/64 in"
        return format_length(mm, per_inch=64 if mm < 25.4 / 8 else 16)
    return f"{mm / MM_PER[unit]:.2f} {unit}" if mm < MM_PER[unit] else format_length(mm, unit)


def format_thread(mm: float, unit: str = "in", *, digits: int = 1, in_full: bool = False) -> str:
    """Return a length of thread or of stitching: in yards, or in metres where a plan is not in inches.

    Parameters
    ----------
    mm : float
        The length.
    unit : str
        One of `Unit`.
    digits : int
        Places behind the point.
    in_full : bool
        The unit as a word, for a sentence.

    Returns
    -------
    str
        With its unit.

    Examples
    --------
    >>> format_thread(3_840_000.0), format_thread(27_432.0, digits=0, in_full=True), format_thread(27_432.0, "cm")
    ('4,199.5 yd', '30 yards', '27.4 m')
    """
    per, short, word = (MM_PER["yd"], "yd", "yards") if unit == "in" else (MM_PER["m"], "m", "metres")
    return f"{mm / per:,.{digits}f} {word if in_full else short}"


def format_area(mm2: float, unit: str = "in") -> str:
    """Return an area in square inches or centimetres; a small one in a plan in mm in square millimetres.

    Examples
    --------
    >>> format_area(8064.5), format_area(22.9), format_area(0.3)
    ('12.5 sq in', '0.035 sq in', 'under 0.001 sq in')
    >>> format_area(22.9, "mm"), format_area(22.9, "cm"), format_area(8064.5, "mm")
    ('22.9 sq mm', '0.23 sq cm', '80.6 sq cm')
    """
    if unit == "mm" and mm2 < MM_PER["cm"] ** 2:
        value, name = mm2, "mm"
    else:
        name = "in" if unit == "in" else "cm"
        value = mm2 / MM_PER[name] ** 2
    if 0 < value < LEAST_AREA:
        return f"under {LEAST_AREA} sq {name}"
    return f"{value:.1f} sq {name}" if value >= 0.95 else f"{value:.2g} sq {name}"
