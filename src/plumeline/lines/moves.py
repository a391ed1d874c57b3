"""Short moves of the head over a whole quilt: which line of each group comes when, and from which of its ends.

The groups (reach, stage, band, thread) are sewn one after the other; where one ends and the next begins is settled for
all of them at once.
"""

from __future__ import annotations

from collections.abc import Sequence

from ..model import Line
from .entering import Entries, best_entries
from .joining import Group
from .order import best_orders
from .ordering import PLACES, Ordering

__all__ = ["moved_less"]


def moved_less(groups: Sequence[Group]) -> list[tuple[Line, ...]]:
    """Return the lines of each group, in the order and direction in which the head moves little from start to stop.

    Lines of a group are put in the best order where they are few and free; those of other groups stay in their own
    order. Then each is entered where that is best for the whole sequence.
    """
    sewn = [(k, group, group.ordering) for k, group in enumerate(groups) if group.ordering is not None]
    out: list[tuple[Line, ...]] = [() for _ in groups]
    if len(sewn) < 2:
        return [group.lines for group in groups]
    orders = _orders([group for _, group, _ in sewn], [ordering for _, _, ordering in sewn])
    chosen, _ = best_entries([line for order in orders for line in order], None, None)
    at = 0
    for (k, group, _), order in zip(sewn, orders):
        choices = chosen[at : at + len(order)]
        out[k] = group.draw([line.sewn(choice) for line, choice in zip(order, choices)])
        at += len(order)
    return out


def _orders(groups: Sequence[Group], orderings: Sequence[Ordering]) -> list[list[Entries]]:
    """Return the lines of each group in order, each with the places where it may be begun and left."""
    fixed: list[list[Entries] | None] = []
    for k, ordering in enumerate(orderings):
        begin = groups[k - 1].lines[-1].path[-1] if k else None
        then = groups[k + 1].lines[0].path[0] if k + 1 < len(groups) else None
        fixed.append(None if ordering.free else ordering.in_order(begin, then))
    # lines in an order of their own go in one by one
    places, before = [], []
    for ordering, order in zip(orderings, fixed):
        if order is None:
            places.append([line.some(PLACES) for line in ordering.entries])
            before.append(ordering.before())
        else:
            places += [[line.some(PLACES)] for line in order]
            before += [[set[int]()]] * len(order)
    found = iter(best_orders(places, before=before))
    out = []
    for ordering, order in zip(orderings, fixed):
        if order is None:
            out.append([ordering.entries[k] for k in next(found)])
        else:
            out.append([line for line, _ in zip(order, found)])
    return out
