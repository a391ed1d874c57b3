"""What to ask for a quilt, by the rates of its plan."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from typing import TYPE_CHECKING

from ..plan import PricesTable

if TYPE_CHECKING:
    from .result import Report

__all__ = ["Price", "asked_for", "price_of"]

SQUARE_INCH_MM2 = 25.4**2


@dataclass(frozen=True, slots=True)
class Price:
    """What to ask.

    Attributes
    ----------
    amount : Decimal
        Whole cents, the minimum at least.
    currency : str
        Its sign or letters.
    is_minimum : bool
        Whether the rates come to less than the minimum.
    unpriced : tuple of str
        Fills for which the plan has no rate; their spaces are not in the amount.
    """

    amount: Decimal
    currency: str
    is_minimum: bool
    unpriced: tuple[str, ...]

    def __str__(self) -> str:
        gap = " " if self.currency[-1].isalnum() else ""
        return f"{self.currency}{gap}{self.amount:,.2f}"


def asked_for(kinds: Iterable[str], prices: PricesTable, *, area_mm2: float, hours: float) -> float | None:
    """Return what to ask for a space: the most that one of its fills comes to; None where none of them has a rate.

    A rate per square inch is of the space's area, a rate per hour of its time at the machine.
    """
    rates = (prices.fills.get(kind) or prices.fills.get("*") for kind in kinds)
    asked = (
        (rate.per_square_inch or 0.0) * area_mm2 / SQUARE_INCH_MM2 + (rate.per_hour or 0.0) * hours
        for rate in rates
        if rate is not None
    )
    return max(asked, default=None)


def price_of(report: Report, prices: PricesTable | None) -> Price | None:
    """Return what to ask for what a report tells of; None when the plan has no prices.

    Every space is asked for once, see `asked_for`; its hours are its share of all the time at the machine, by length
    sewn.
    """
    if prices is None:
        return None
    sewn = sum(row.sewn_mm for row in report.zones if not row.done)
    total, unpriced = 0.0, []
    for row in report.zones:
        hours = report.totals.minutes / 60 * row.sewn_mm / sewn if sewn and not row.done else 0.0
        asked = asked_for(row.fill.split(" + "), prices, area_mm2=row.area_mm2, hours=hours)
        if asked is None:
            unpriced.append(row.fill)
        total += asked or 0.0
    amount = max(total, prices.minimum)
    cents = Decimal(repr(amount)).quantize(Decimal("0.01"), ROUND_HALF_UP)
    return Price(cents, prices.currency, total < prices.minimum, tuple(dict.fromkeys(unpriced)))
