"""Ideas for the whole quilt that keep to so many hours or a price, evenly tight; what is given up is told."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from typing import Any, TypeAlias

from .errors import InputError
from .fills import find_fill
from .ideas import CANDIDATES, Idea, each_idea, idea_of
from .pipeline.price import asked_for
from .quilt import Drawn
from .units import Unit, format_length

__all__ = ["Choice", "IdeaSet", "Places", "idea_set", "ideas_by_place"]

Places: TypeAlias = Mapping[tuple[str, str], tuple[int, list[Idea]]]
"""In how many spaces of each zone's part ideas go, and which."""

MOST_KINDS = 4
"""More kinds in one quilt compete with each other (trade judgement, no source)."""

EVEN = 1.5
"""Tightest to most open space of a set: beyond it the quilt is stiff here and limp there."""

LOWER = 0.85
"""So much of the tightness is left in each step towards the hours or the price."""

MOST_STEPS = 8
"""Of them: after eight a quarter of the line is left."""


@dataclass(frozen=True, slots=True, eq=False)
class Choice:
    """What a set puts into one zone's part: the idea, and how many spaces it goes into."""

    zone: str
    part: str
    spaces: int
    idea: Idea

    @property
    def minutes(self) -> float:
        """Minutes at the machine for all its spaces."""
        return self.idea.minutes * self.spaces


@dataclass(frozen=True, slots=True, eq=False)
class IdeaSet:
    """A set of ideas for the whole quilt.

    Attributes
    ----------
    choices : tuple of Choice
        One for each zone's part, in the plan's order.
    minutes : float
        At the machine, each space with its own start and stop; lines that are joined take less.
    price : float or None
        By the plan's rates, its minimum at least; None where it has none.
    kept : bool
        Whether it keeps to what was asked.
    given_up : tuple of str
        What is plainer or more open than the first choice, in words.
    """

    choices: tuple[Choice, ...]
    minutes: float
    price: float | None
    kept: bool
    given_up: tuple[str, ...]

    @property
    def fills(self) -> dict[str, dict[str, list[dict[str, Any]]]]:
        """The set as fills by zone and part, as a plan's option holds them."""
        out: dict[str, dict[str, list[dict[str, Any]]]] = {}
        for choice in self.choices:
            out.setdefault(choice.zone, {})[choice.part] = [dict(layer) for layer in choice.idea.stack]
        return out


def idea_set(
    drawn: Drawn,
    *,
    minutes: float | None = None,
    price: float | None = None,
    found: Places | None = None,
) -> IdeaSet:
    """Return ideas for every zone that go together and keep to so many minutes, or to a price.

    Each zone's ideas are those of `plumeline.ideas`. Of all groups of at most `MOST_KINDS` kinds the one is taken
    whose best ideas have most reasons for them, each by the share of the quilt that it covers. Spaces that are much
    tighter or more open than the middle one get its tightness where their fill can. Then all is made more open, as far
    as the batting allows, and last the kind is made plainer where that saves most for what speaks against it, until
    it keeps to what is asked.

    Parameters
    ----------
    minutes, price : float
        One of them: what the set keeps to.
    found : mapping, optional
        What `ideas_by_place` returns, for several sets of one quilt.

    Raises
    ------
    InputError
        Nothing is asked, or a price and the plan has no rates; no idea suits a zone.
    """
    if (minutes is None) == (price is None):
        raise InputError("must be one of hours and price", key="what the set keeps to")
    asked = minutes if minutes is not None else price
    if asked is None or not 0 < asked < math.inf:
        raise InputError(f"is {asked}; must be above 0", key="what the set keeps to")
    if price is not None and drawn.plan.prices is None:
        raise InputError(
            "can't be worked out: the plan has no [prices]", key="--price", what_to_do="Add them, or say --hours."
        )
    found = ideas_by_place(drawn) if found is None else found
    choices = _even(drawn, _of_few_kinds(found))
    first = choices
    for _ in range(MOST_STEPS):
        if _keeps(drawn, choices, minutes, price):
            break
        lower = _opened(drawn, choices)
        if lower is None:
            break
        choices = lower
    kept = _keeps(drawn, choices, minutes, price)
    while not kept:
        plainer = _plainer(drawn, choices, found)
        if plainer is None:
            break
        choices = plainer
        kept = _keeps(drawn, choices, minutes, price)
    total = sum(choice.minutes for choice in choices)
    return IdeaSet(choices, total, _price(drawn, choices), kept, tuple(_given_up(first, choices, drawn.plan.units)))


def ideas_by_place(drawn: Drawn) -> dict[tuple[str, str], tuple[int, list[Idea]]]:
    """Return the ideas for every zone's part that is not done yet, and in how many spaces each goes.

    Raises
    ------
    InputError
        No idea suits a zone, or there is no zone.
    """
    spaces: dict[tuple[str, str], int] = {}
    for zone in (*drawn.zones, *drawn.bare):
        spaces[zone.name, zone.part] = spaces.get((zone.name, zone.part), 0) + 1
    found = {}
    for (name, part), count in spaces.items():
        if next(spec for spec in drawn.plan.zones if spec.name == name).done:
            continue
        ideas = list(each_idea(drawn, name, part=part))
        if not ideas:
            raise InputError("has no fill that suits it", key=f"zone '{name}'", what_to_do="Divide it or join it.")
        found[name, part] = count, ideas
    if not found:
        raise InputError("has no zone that ideas could go into", file=drawn.plan.file)
    return found


def _of_few_kinds(found: Places) -> tuple[Choice, ...]:
    names = [name for name, _ in CANDIDATES]
    best: tuple[float, tuple[Choice, ...]] | None = None
    for many in range(1, min(MOST_KINDS, len(names)) + 1):
        for group in combinations(names, many):
            picked, total = [], 0.0
            for (zone, part), (count, ideas) in found.items():
                own = [idea for idea in ideas if idea.name in group]
                if not own:
                    break
                idea = max(own, key=lambda one: (one.points, -one.minutes))
                picked.append(Choice(zone, part, count, idea))
                total += idea.points * idea.area_mm2 * count
            if len(picked) == len(found) and (best is None or total > best[0] + 1e-9):
                best = total, tuple(picked)
    if best is None:  # no four kinds do for all: each its own best
        return tuple(Choice(z, p, n, max(i, key=lambda one: one.points)) for (z, p), (n, i) in found.items())
    return best[1]


def _middle(choices: Sequence[Choice]) -> float:
    """Return the tightness that half the area lies above, inches of line per square inch."""
    rows = sorted((c.idea.tight, c.idea.area_mm2 * c.spaces) for c in choices)
    half, so_far = sum(area for _, area in rows) / 2, 0.0
    for tight, area in rows:
        so_far += area
        if so_far >= half:
            return tight
    return rows[-1][0]


def _even(drawn: Drawn, choices: tuple[Choice, ...]) -> tuple[Choice, ...]:
    middle, bound = _middle(choices), EVEN**0.5
    return tuple(
        choice if middle / bound <= choice.idea.tight <= middle * bound else _at(drawn, choice, middle) or choice
        for choice in choices
    )


def _at(drawn: Drawn, choice: Choice, tight: float) -> Choice | None:
    """Return the same idea at another tightness; None where its fill knows no tightness, or leaves too wide a gap."""
    *before, last = choice.idea.stack
    if "density" not in find_fill(str(last["kind"])).settings.model_fields:
        return None
    stack = (*before, {**{k: v for k, v in last.items() if k not in ("spacing", "plume")}, "density": round(tight, 2)})
    idea = idea_of(drawn, choice.zone, stack, part=choice.part, name=choice.idea.name)
    return None if idea is None or _too_open(drawn, idea) else replace(choice, idea=idea)


def _too_open(drawn: Drawn, idea: Idea) -> bool:
    """Return whether an idea leaves a wider gap than the batting bears."""
    widest = drawn.plan.batting.widest_gap_mm
    return widest is not None and idea.widest_gap_mm > widest


def _opened(drawn: Drawn, choices: tuple[Choice, ...]) -> tuple[Choice, ...] | None:
    """Return all a step more open, each as far as it can; None where none can or nothing is saved."""
    target = _middle(choices) * LOWER
    lower = tuple(_at(drawn, c, target) or c if c.idea.tight > target else c for c in choices)
    return lower if sum(c.minutes for c in lower) < sum(c.minutes for c in choices) - 0.5 else None


def _plainer(drawn: Drawn, choices: tuple[Choice, ...], found: Places) -> tuple[Choice, ...] | None:
    """Return the set with one zone quilted plainer, where that costs fewest reasons for the minutes it saves.

    None where nothing is saved, or only by a wider gap than the batting bears.
    """
    kinds = {c.idea.name for c in choices}
    offers = []
    for k, choice in enumerate(choices):
        for idea in found[choice.zone, choice.part][1]:
            saved = (choice.idea.minutes - idea.minutes) * choice.spaces
            if saved > 0.5 and (idea.name in kinds or len(kinds) < MOST_KINDS) and not _too_open(drawn, idea):
                offers.append(((choice.idea.points - idea.points) / saved, -saved, k, idea))
    if not offers:
        return None
    _, _, k, idea = min(offers, key=lambda offer: offer[:3])
    return (*choices[:k], replace(choices[k], idea=idea), *choices[k + 1 :])


def _keeps(drawn: Drawn, choices: Sequence[Choice], minutes: float | None, price: float | None) -> bool:
    if minutes is not None:
        return sum(choice.minutes for choice in choices) <= minutes
    now = _price(drawn, choices)
    return now is not None and price is not None and now <= price


def _price(drawn: Drawn, choices: Sequence[Choice]) -> float | None:
    """Return what to ask for a set, by the plan's rates; None where it has none."""
    prices = drawn.plan.prices
    if prices is None:
        return None
    total = 0.0
    for choice in choices:
        kinds = [str(layer["kind"]) for layer in choice.idea.stack]
        area_mm2 = choice.idea.area_mm2 * choice.spaces
        total += asked_for(kinds, prices, area_mm2=area_mm2, hours=choice.minutes / 60) or 0.0
    return max(total, prices.minimum)


def _given_up(first: Sequence[Choice], last: Sequence[Choice], unit: Unit) -> list[str]:
    said = []
    for was, now in zip(first, last):
        where = f"{now.zone}{f', {now.part}' if now.part else ''}"
        less = f"{was.minutes - now.minutes:.0f} min"
        if was.idea.name != now.idea.name:
            said.append(f"{where}: {now.idea.name} instead of {was.idea.name}, {less} less")
        elif now.idea.tight < was.idea.tight * 0.97:
            gap = format_length(now.idea.widest_gap_mm, unit)
            ratio = f"tightness {now.idea.tight:.1f} instead of {was.idea.tight:.1f}"
            said.append(f"{where}: {ratio}, widest gap {gap}, {less} less")
    return said
