"""Joining one group of strokes: weave the net, choose the passes, walk it, order the lines, draw them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np

from ..model import FloatArray, Line, Path, Span, Stroke, Way, as_path
from ..tolerances import MEET_MM
from .entering import Sewn, entries_of
from .order import Order
from .ordering import Ordering, layers_of
from .passes import choose_passes, fewest_lines
from .sources import Kind, Source, Woven, sources_of, sub_path, weave
from .steps import step_ways
from .walk import Trail, walk

__all__ = ["Group", "join_group"]


@dataclass(frozen=True, slots=True, eq=False)
class Group:
    """What joining one group gives.

    ``lines`` in sewing order, spans numbering the strokes given; the fewest lines possible; the weighed and the
    plain length of passes beyond the stitching itself; passes at the busiest place; whether the pairing of odd
    ends is proven the cheapest; greatest distance of a met point from its node (mm). ``ordering`` puts the lines in
    order, ``draw`` draws them anew as it sews them.
    """

    lines: tuple[Line, ...] = ()
    fewest_possible: int = 0
    extra_mm: float = 0.0
    busiest_passes: int = 0
    proven: bool = True
    widest_mm: float = 0.0
    ordering: Ordering | None = None
    draw: Callable[[Sequence[Sewn]], tuple[Line, ...]] = lambda sewn: ()


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
    ordering = Ordering(
        tuple(entries_of(trails, woven, sources)),
        woven,
        tuple(layers_of(trails, woven, sources, strokes)),
        (at_start, at_end),
        order,
    )

    def draw(sewn: Sequence[Sewn]) -> tuple[Line, ...]:
        return _Drawing(sources, woven, thread, reach).draw(sewn)

    length = woven.along[:, 1] - woven.along[:, 0]
    busiest = np.array([s.busiest - 1 for s in sources])[woven.source] * woven.net.required + chosen.times
    return Group(
        lines=draw(ordering.sewn(begin)),
        fewest_possible=fewest_lines(woven.net),
        extra_mm=float((length * (chosen.times - woven.net.required)).sum()),
        busiest_passes=int(busiest.max()),
        proven=chosen.proven,
        widest_mm=woven.widest_mm,
        ordering=ordering,
        draw=draw,
    )


def _nearest_node(woven: Woven, point: tuple[float, float]) -> int:
    used = np.unique(woven.net.ends[woven.net.required].ravel())
    far = np.hypot(*(woven.nodes[used] - np.asarray(point)).T)
    return int(used[np.argmin(far)])


@dataclass(slots=True)
class _Drawing:
    """Draws trails as lines, counting the passes over each edge as they are sewn."""

    sources: Sequence[Source]
    woven: Woven
    thread: str
    reach: int
    sewn: dict[int, int] = field(default_factory=dict)

    def draw(self, trails: Sequence[Sewn]) -> tuple[Line, ...]:
        out = []
        for trail, first in trails:
            runs = self._runs(trail)
            if first is not None:
                self._begin_ring(runs[0], first)
            out.append(self._line(runs))
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

    def _begin_ring(self, run: _Run, first: int) -> None:
        # a lone closed stroke begins at another of its points than the fill's
        lengths = self.sources[run.source].lengths
        run.start, run.end = float(lengths[first]), float(lengths[first] + lengths[-1])
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
