"""Percent enlargement, as a photocopier is set: from the size a thing is drawn at to the size it is wanted."""

from __future__ import annotations

import math

__all__ = ["copier_percent", "copier_steps"]

LEAST, MOST = 25, 400
"""Percent that common copiers go down and up to in one step."""


def copier_percent(wanted_mm: float, drawn_mm: float) -> int:
    """Return the whole percent to enlarge *to*: wanted over drawn (100 is the same size); halves go up.

    Whole percents are right to half a percent of the drawn size, which is why a sheet bears a test square.
    """
    return math.floor(100.0 * wanted_mm / drawn_mm + 0.5)


def copier_steps(percent: int, *, least: int = LEAST, most: int = MOST) -> tuple[int, ...]:
    """Return the settings, one after the other, that come nearest to a percent.

    One where the copier reaches it; else the fewest, each a whole percent within its reach, whose product comes
    nearest (then those that begin with the strongest setting). A step that is copied from a copy loses sharpness,
    so the fewest go first.

    Raises
    ------
    ValueError
        The percent is not above 0, or the copier can't both enlarge and reduce.

    Examples
    --------
    >>> copier_steps(600)
    (400, 150)
    """
    if percent <= 0 or not 0 < least < 100 < most:
        raise ValueError(f"is {percent} % on a copier of {least} to {most} %; must be above 0 on one that does both")
    if least <= percent <= most:
        return (percent,)
    end = most if percent > most else least
    steps: tuple[int, ...] = ()
    left = float(percent)
    while not least * end / 100 <= left <= most * end / 100:  # more than two steps are left
        steps += (end,)
        left = left * 100 / end
    pairs = [(first, min(max(math.floor(left * 100 / first + 0.5), least), most)) for first in range(least, most + 1)]
    best = min(pairs, key=lambda pair: (abs(pair[0] * pair[1] / 100 - left), -abs(math.log(pair[0] / 100))))
    return (*steps, *best)
