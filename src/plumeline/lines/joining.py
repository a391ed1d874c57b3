"""Joining one group of strokes: weave the net, choose the passes, walk it, order the lines, draw them."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from ..geometry import NearPaths
from ..model import FloatArray, Line, Path, Span, Stroke, Way, as_path
from ..tolerances import MEET_MM
from .order import Order, bands, order_lines
from .passes import choose_passes, fewest_lines
from .sources import Kind, Source, Woven, sources_of, sub_path, weave
from .steps import step_ways
from .walk import Trail, walk

__all__ = ["Group", "join_group"]


BANDS = 4
"""Rings or rows in which lines are ordered: more of them cost longer moves and extra starts."""


BESIDE_SEAM_MM = 6.35
"""A start or stop within 1/4 in of a seam, the usual clearance, is lost beside it."""


@dataclass(frozen=True, slots=True, eq=False)
class Group:
    """What joining one group gives.

    ``lines`` in sewing order, spans numbering the strokes given; the fewest lines possible; the weighed and the
    plain length of passes beyond the stitching itself; passes at the busiest place; whether the pairing of odd
    ends is proven the cheapest; greatest distance of a met point from its node (mm). ``between`` draws the lines
    anew, in the order and direction in which the head comes from one place and goes on to another by short moves.
    """

    lines: tuple[Line, ...] = ()
    fewest_possible: int = 0
    extra_mm: float = 0.0
    busiest_passes: int = 0
    proven: bool = True
    widest_mm: float = 0.0
    between: Callable[[FloatArray | None, FloatArray | None], tuple[Line, ...]] = lambda begin, then: ()


@dataclass(slots=True)
class _Run:
    # a stretch of one source sewn without a break
    source: int
    start: float
    end: float
    forward: bool
    kind: Kind
    pass_no: int
    first_node: int
    last_node: int


def join_group(
    strokes: Sequence[Stroke],
    ways: Sequence[Way],
    *,
    jump_mm: float,
    passes: int = 2,
    start: tuple[float, float] | None = None,
    end: tuple[float, float] | None = None,
    begin: FloatArray | None = None,
    sewn: Sequence[Path] = (),
    steps_mm: float = 0.0,
    may_step: Callable[[Path, int], bool] = lambda path, stroke: True,
    order: Order = "any",
    tolerance_mm: float = MEET_MM,
    thread: str = "main",
    reach: int = 1,
) -> Group:
    """Join strokes of one thread over ways into lines.

    Parameters
    ----------
    start, end : (x, y), optional
        Wished start of the first line and end of the last one: the nearest point of the stitching that may be entered.
    begin : (2,), optional
        Where the head stands before; the first line starts near it.
    sewn : sequence of Path
        Stretches of ways sewn before, one for each pass; they count towards the passes allowed.
    steps_mm : float
        Longest visible step between strokes that no way connects; 0: none.
    may_step : callable
        Whether a step (its path, the number of a stroke at its end) may be sewn.
    """
    sources = sources_of(strokes, ways, passes=passes)
    if not any(s.required for s in sources):
        return Group()
    wished = [p for p in (start, end) if p is not None]
    woven = weave(sources, tolerance_mm=tolerance_mm, sewn=sewn, wished=wished)
    if steps_mm > 0:
        added = step_ways(sources, woven, strokes, within_mm=steps_mm, passes=passes, may_step=may_step)
        if added:
            sources = (*sources, *added)
            woven = weave(sources, tolerance_mm=tolerance_mm, sewn=sewn, wished=wished)
    at_start, at_end = (None if p is None else _nearest_node(woven, p) for p in (start, end))
    chosen = choose_passes(woven.net, jump_mm=jump_mm, start=at_start, end=at_end)
    trails = walk(woven.net.ends, chosen.times, woven.heading)
    layers = _layers(trails, woven, sources, strokes)

    def between(here: FloatArray | None, then: FloatArray | None) -> tuple[Line, ...]:
        ordered = _in_order(trails, woven, layers, (here, then), (at_start, at_end), order)
        return _Drawing(sources, woven, thread, reach).draw(ordered)

    length = woven.along[:, 1] - woven.along[:, 0]
    busiest = np.array([s.busiest - 1 for s in sources])[woven.source] * woven.net.required + chosen.times
    return Group(
        lines=between(begin, None),
        fewest_possible=fewest_lines(woven.net),
        extra_mm=float((length * (chosen.times - woven.net.required)).sum()),
        busiest_passes=int(busiest.max()),
        proven=chosen.proven,
        widest_mm=woven.widest_mm,
        between=between,
    )


def _nearest_node(woven: Woven, point: tuple[float, float]) -> int:
    used = np.unique(woven.net.ends[woven.net.required].ravel())
    far = np.hypot(*(woven.nodes[used] - np.asarray(point)).T)
    return int(used[np.argmin(far)])


def _step_nodes(trail: Trail, ends: NDArray[np.int64]) -> list[int]:
    nodes = [int(ends[e, 0 if forward else 1]) for e, forward in trail.edges]
    e, forward = trail.edges[-1]
    return [*nodes, int(ends[e, 1 if forward else 0])]


def _turned(trail: Trail) -> Trail:
    return Trail(tuple((e, not forward) for e, forward in reversed(trail.edges)), trail.closed)


def _in_order(
    trails: tuple[Trail, ...],
    woven: Woven,
    layers: Sequence[Mapping[str, int]],
    moves: tuple[FloatArray | None, FloatArray | None],
    wished: tuple[int | None, int | None],
    order: Order,
) -> list[Trail]:
    """Return the trails in sewing order and direction, closed ones entered where the moves to and from them are short.

    ``moves``: where the head comes from and where it goes on to; ``wished``: the nodes to start and to end at.
    """
    start, end = wished
    begin = woven.nodes[start] if start is not None else moves[0]
    then = woven.nodes[end] if end is not None else moves[1]
    nodes = [_step_nodes(t, woven.net.ends) for t in trails]
    here = begin
    first = np.array([woven.nodes[n[0]] for n in nodes])
    last = np.array([woven.nodes[n[-1]] for n in nodes])
    band = bands(np.array([woven.nodes[n].mean(axis=0) for n in nodes]), order, count=BANDS)
    sequence: list[tuple[int, bool]] = []
    for k in np.unique(band):
        at = np.flatnonzero(band == k)
        found = order_lines(first[at], last[at], begin=here, then=then if k == band.max() else None)
        sequence += [(int(at[i]), turn) for i, turn in found]
        i, turn = sequence[-1]
        here = first[i] if turn else last[i]
    sequence = _with_ends_fixed(_lower_layers_first(sequence, layers), nodes, start, end)
    starts = [last[k] if turn else first[k] for k, turn in sequence]
    here = begin
    out: list[Trail] = []
    for place, (k, turn) in enumerate(sequence):
        trail = _turned(trails[k]) if turn else trails[k]
        if trail.closed:
            final = place == len(sequence) - 1
            node = start if not out else end if final else None
            trail = _entered_near(trail, woven, [here, then if final else starts[place + 1]], node)
        out.append(trail)
        here = woven.nodes[_step_nodes(trail, woven.net.ends)[-1]]
    return out


def _layers(
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


def _lower_layers_first(
    sequence: list[tuple[int, bool]], layers: Sequence[Mapping[str, int]]
) -> list[tuple[int, bool]]:
    """Return the sequence with every line behind those that hold a lower layer of one of its zones."""
    lines_of: dict[str, list[tuple[int, int, int]]] = {}
    for at, (k, _) in enumerate(sequence):
        for zone, layer in layers[k].items():
            lines_of.setdefault(zone, []).append((layer, at, k))
    turn, out, done = dict(sequence), [], set()
    for k, _ in sequence:
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
                if turn.get(line) is not None:
                    out.append((line, turn.pop(line)))
    return out


def _with_ends_fixed(
    sequence: list[tuple[int, bool]], nodes: list[list[int]], start: int | None, end: int | None
) -> list[tuple[int, bool]]:
    # the line that holds the wished start comes first, the one that holds the wished end last
    for node, place in ((end, -1), (start, 0)):
        if node is None:
            continue
        for at, (k, turn) in enumerate(sequence):
            on = nodes[k]
            if node in (on[0], on[-1]) or (on[0] == on[-1] and node in on):
                fits = node == (on[0] if place == 0 else on[-1])
                sequence.pop(at)
                sequence.insert(0 if place == 0 else len(sequence), (k, turn if on[0] == on[-1] else not fits))
                break
    return sequence


def _entered_near(trail: Trail, woven: Woven, moves: Sequence[FloatArray | None], node: int | None) -> Trail:
    """Return a closed trail started at the given node, else at a hidden one near where the head comes from and goes."""
    on = np.array(_step_nodes(trail, woven.net.ends)[:-1])
    choice = np.flatnonzero(on == node) if node is not None else np.zeros(0, dtype=np.int64)
    if not len(choice):
        choice = np.flatnonzero(woven.net.hidden[on])
    if not len(choice):
        choice = np.arange(len(on))
    far = np.zeros(len(choice))
    for place in moves:
        if place is not None:
            far += np.hypot(*(woven.nodes[on[choice]] - place).T)
    k = int(choice[np.argmin(np.round(far, 6))])
    return Trail(trail.edges[k:] + trail.edges[:k], True)


@dataclass(slots=True)
class _Drawing:
    """Draws trails as lines, counting the passes over each edge as they are sewn."""

    sources: Sequence[Source]
    woven: Woven
    thread: str
    reach: int
    sewn: dict[int, int] = field(default_factory=dict)
    busy: set[int] = field(init=False)
    seams: NearPaths = field(init=False)

    def __post_init__(self) -> None:
        # nodes that more than one source meets: a line there starts where it was planned
        self.seams = NearPaths([s.path for s in self.sources if s.kind == "seam"])
        self.busy = set(np.flatnonzero(np.bincount(self.woven.net.ends.ravel()) > 2).tolist())

    def draw(self, trails: Sequence[Trail]) -> tuple[Line, ...]:
        here: FloatArray | None = None
        out = []
        for trail in trails:
            runs = self._runs(trail)
            if len(runs) == 1 and self.sources[runs[0].source].closed:
                self._enter_ring(runs[0], here)
            out.append(self._line(runs))
            here = out[-1].path[-1]
        return tuple(out)

    def _runs(self, trail: Trail) -> list[_Run]:
        runs: list[_Run] = []
        for edge, forward in trail.edges:
            k = int(self.woven.source[edge])
            source = self.sources[k]
            self.sewn[edge] = pass_no = self.sewn.get(edge, 0) + 1
            kind: Kind = "backtrack" if source.required and pass_no > 1 else source.kind
            a, b = (float(x) for x in self.woven.along[edge])
            u, v = (int(n) for n in self.woven.net.ends[edge])
            if not forward:
                u, v = v, u
            run = _Run(k, a, b, forward, kind, pass_no, u, v)
            if not (runs and self._goes_on(runs[-1], run)):
                runs.append(run)
        return runs

    def _goes_on(self, last: _Run, run: _Run) -> bool:
        """Lengthen the last run by the next one where both are one stretch of one source."""
        same = (last.source, last.forward, last.kind, last.pass_no) == (run.source, run.forward, run.kind, run.pass_no)
        if not same:
            return False
        source = self.sources[run.source]
        total = float(source.lengths[-1])
        reached, begins = (last.end, run.start) if run.forward else (last.start, run.end)
        gap = abs(reached - begins)
        gap = min(gap, abs(gap - total)) if source.closed else gap
        if gap > 1e-9 or last.end - last.start + run.end - run.start > total + 1e-6:
            return False
        if run.forward:
            last.end += run.end - run.start
        else:
            last.start -= run.end - run.start
        if source.closed and last.start < 0:
            last.start, last.end = last.start + total, last.end + total
        last.last_node = run.last_node
        return True

    def _enter_ring(self, run: _Run, here: FloatArray | None) -> None:
        """Start a lone closed stroke at its point nearest the head; where it passes a seam, beside that."""
        source = self.sources[run.source]
        if not source.splits or run.first_node in self.busy:
            return
        ring = source.path[:-1]
        beside, _ = self.seams.nearest(ring, BESIDE_SEAM_MM)
        if here is None:  # the first of a group stays where it was planned, but for a seam
            if not len(beside):
                return
            here = self.woven.nodes[run.first_node]
        choice = np.sort(beside) if len(beside) else np.arange(len(ring))
        k = int(choice[np.argmin(np.hypot(*(ring[choice] - here).T))])
        run.start, run.end = float(source.lengths[k]), float(source.lengths[k] + source.lengths[-1])
        run.first_node = run.last_node = -1

    def _line(self, runs: list[_Run]) -> Line:
        points: list[FloatArray] = []
        spans: list[Span] = []
        count = 0
        for k, run in enumerate(runs):
            path, spanned = self._drawn(run)
            if k:  # runs meet at their node
                path[0] = points[-1][-1] = self.woven.nodes[run.first_node]
                path = path[1:]
            offset = count - (1 if k else 0)
            points.append(path)
            count += len(path)
            spans += [Span(offset + a, offset + b, kind, stroke, no) for a, b, kind, stroke, no in spanned]
        return Line(as_path(np.vstack(points)), tuple(spans), self.thread, self.reach)

    def _drawn(self, run: _Run) -> tuple[FloatArray, list[tuple[int, int, Kind, int | None, int]]]:
        source = self.sources[run.source]
        spans: list[tuple[int, int, Kind, int | None, int]] = []
        if len(source.members) < 2:
            path = sub_path(source, run.start, run.end)
            stroke = source.members[0].stroke if source.members else None
            spans.append((0, len(path) - 1, run.kind, stroke, run.pass_no))
        else:  # a chain is sewn whole, point by point
            path = source.path
            for m in source.members:
                kind = m.role if run.pass_no == 1 else "backtrack"
                number = run.pass_no if m.role != "backtrack" else run.pass_no + 1
                spans.append((m.start, m.end, kind, m.stroke, number))
        last = len(path) - 1
        path = path.copy()
        if not run.forward:
            path = path[::-1].copy()
            spans = [(last - b, last - a, kind, stroke, number) for a, b, kind, stroke, number in reversed(spans)]
        return path, spans
