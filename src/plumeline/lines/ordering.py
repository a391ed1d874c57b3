"""The lines of one group in order: lower layers of a stack first, wished ends kept, short moves of the head."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from ..model import FloatArray, Stroke
from ..tolerances import MEET_MM
from .entering import Entries, Sewn, best_entries, nodes_of
from .order import FEW, Order, bands, best_orders, order_lines
from .sources import Source, Woven
from .walk import Trail

__all__ = ["PLACES", "Ordering", "layers_of"]

BANDS = 4
"""Rings or rows in which lines are ordered: more of them cost longer moves and extra starts."""

PLACES = 24
"""Places of a closed line that are weighed while a few lines are put in order; then all of them are."""

ROUNDS = 2
"""How often many lines are put in order, the second time with closed ones entered where the first order wants it."""


@dataclass(frozen=True, slots=True, eq=False)
class Ordering:
    """What decides in which order the lines of one group are sewn.

    Attributes
    ----------
    entries : tuple of Entries
        The lines, each with the places where it may be begun and left.
    layers : tuple of dict
        For each line the lowest layer that it holds of each zone.
    wished : tuple
        The nodes to start and to end at, or None.
    """

    entries: tuple[Entries, ...]
    woven: Woven
    layers: tuple[Mapping[str, int], ...]
    wished: tuple[int | None, int | None]
    order: Order

    @property
    def free(self) -> bool:
        """Whether the lines are few, and in any order that their layers allow."""
        return len(self.entries) <= FEW and self.order == "any" and self.wished == (None, None)

    def before(self) -> list[set[int]]:
        """Return for each line those that hold a lower layer of one of its zones; of a circle of such lines none."""
        out = [_lower(k, self.layers) for k in range(len(self.layers))]
        return out if _can_be_kept(out) else [set() for _ in out]

    def sewn(self, begin: FloatArray | None, then: FloatArray | None = None) -> list[Sewn]:
        """Return the lines as they are sewn where the head comes from one place and goes on to another.

        It comes from the top left corner of all where neither is known.
        """
        lines = self.in_order(begin, then)
        start, end = (None if node is None else self.woven.nodes[node] for node in self.wished)
        chosen, _ = best_entries(lines, begin if start is None else start, then if end is None else end)
        return [line.sewn(k) for line, k in zip(lines, chosen)]

    def in_order(self, begin: FloatArray | None, then: FloatArray | None = None) -> list[Entries]:
        """Return the lines in sewing order, each with the entries that the wished ends leave."""
        start, end = self.wished
        here = begin if start is None else self.woven.nodes[start]
        goal = then if end is None else self.woven.nodes[end]
        nodes = [nodes_of(e.trail, self.woven.net.ends) for e in self.entries]
        band = bands(np.array([self.woven.nodes[n].mean(axis=0) for n in nodes]), self.order, count=BANDS)
        found: list[int] = []
        for k in np.unique(band):
            at = np.flatnonzero(band == k).tolist()
            last = k == band.max()
            order, here = _short_moves([self.entries[i] for i in at], here, goal if last else None)
            found += [at[i] for i in order]
        found = _with_ends_fixed(_lower_layers_first(found, self.layers), nodes, start, end)
        lines = [self.entries[k] for k in found]
        if start is not None:
            lines[0] = lines[0].at_node(start, self.woven, last=False)
        if end is not None and len(lines[-1].at) > 1:
            lines[-1] = lines[-1].at_node(end, self.woven, last=True)
        return lines


def _short_moves(
    entries: Sequence[Entries], begin: FloatArray | None, then: FloatArray | None
) -> tuple[list[int], FloatArray]:
    """Return the order of lines in which the head moves little, and where it then stands."""
    here = begin
    if begin is None and (then is None or len(entries) > FEW):
        here = np.vstack([line.where.reshape(-1, 2) for line in entries]).min(axis=0)
    if len(entries) <= FEW:
        (found,) = best_orders([[e.some(PLACES) for e in entries]], begin=here, then=then)
    else:
        found = _many_moves(entries, here, then)
    chosen, _ = best_entries([entries[k] for k in found], here, then)
    return found, entries[found[-1]].where[chosen[-1], 1]


def _many_moves(entries: Sequence[Entries], begin: FloatArray | None, then: FloatArray | None) -> list[int]:
    ways = np.array([e.where[0] for e in entries])
    best, least = list(range(len(entries))), np.inf
    for _ in range(ROUNDS if any(e.trail.closed for e in entries) else 1):
        found = [k for k, _ in order_lines(ways[:, 0], ways[:, 1], begin=begin, then=then)]
        chosen, moved = best_entries([entries[k] for k in found], begin, then)
        if moved < least - MEET_MM:
            best, least = found, moved
        for k, choice in zip(found, chosen):
            ways[k] = entries[k].where[choice]
    return best


def layers_of(
    trails: Sequence[Trail], woven: Woven, sources: Sequence[Source], strokes: Sequence[Stroke]
) -> list[dict[str, int]]:
    """Return for each trail the lowest layer that it holds of each zone: 0 for the first fill of the zone's stack."""
    stack: dict[str, dict[str, int]] = {}
    for stroke in strokes:
        fills = stack.setdefault(stroke.zone, {})
        fills.setdefault(stroke.fill, len(fills))
    out: list[dict[str, int]] = []
    for trail in trails:
        held: dict[str, int] = {}
        for k in dict.fromkeys(int(woven.source[edge]) for edge, _ in trail.edges):
            for member in sources[k].members:
                stroke = strokes[member.stroke]
                layer = stack[stroke.zone][stroke.fill]
                held[stroke.zone] = min(layer, held.get(stroke.zone, layer))
        out.append(held)
    return out


def _lower(line: int, layers: Sequence[Mapping[str, int]]) -> set[int]:
    # the lines that hold a lower layer of a zone of this one
    own = layers[line]
    return {
        k
        for k, other in enumerate(layers)
        if k != line and any(zone in other and other[zone] < layer for zone, layer in own.items())
    }


def _can_be_kept(before: Sequence[set[int]]) -> bool:
    # whether some order has each line behind all those that it waits for
    done: set[int] = set()
    while len(done) < len(before):
        ready = {k for k, needs in enumerate(before) if k not in done and needs <= done}
        if not ready:
            return False
        done |= ready
    return True


def _lower_layers_first(sequence: Sequence[int], layers: Sequence[Mapping[str, int]]) -> list[int]:
    """Return the sequence with every line behind those that hold a lower layer of one of its zones."""
    lines_of: dict[str, list[tuple[int, int, int]]] = {}
    for at, k in enumerate(sequence):
        for zone, layer in layers[k].items():
            lines_of.setdefault(zone, []).append((layer, at, k))
    out: list[int] = []
    done: set[int] = set()
    placed: set[int] = set()
    for k in sequence:
        waiting = [k]
        while waiting:
            line = waiting[-1]
            if line not in done:
                done.add(line)  # marked before its forerunners, so that two lines can't wait for each other
                before = [
                    (at, other)
                    for zone, layer in layers[line].items()
                    for low, at, other in lines_of[zone]
                    if low < layer and other not in done
                ]
                waiting += [other for _, other in sorted(set(before), reverse=True)]
            else:
                waiting.pop()
                if line not in placed:
                    placed.add(line)
                    out.append(line)
    return out


def _with_ends_fixed(sequence: list[int], nodes: list[list[int]], start: int | None, end: int | None) -> list[int]:
    # the line that holds the wished start comes first, the one that holds the wished end last
    for node, place in ((end, -1), (start, 0)):
        for at, k in enumerate(sequence):
            on = nodes[k]
            if node is not None and (node in (on[0], on[-1]) or (on[0] == on[-1] and node in on)):
                sequence.insert(0 if place == 0 else len(sequence), sequence.pop(at))
                break
    return sequence
