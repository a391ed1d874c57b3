"""Equal names become a family, numbered as one reads."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

from shapely import Polygon

from ..drawing import OpenLine, Shape
from ..geometry import reading_order

__all__ = ["lines_apart_by_name", "numbered"]


def numbered(shapes: Sequence[Shape]) -> list[Shape]:
    """Return shapes of which no two share a name: equal names get ``-1``, ``-2`` ... in reading order."""
    counts = Counter(s.name for s in shapes)
    out = list(shapes)
    taken = {name for name, n in counts.items() if n == 1}
    for name in [n for n, c in counts.items() if c > 1]:
        alike = [k for k, s in enumerate(shapes) if s.name == name]
        number = 0
        for place in reading_order([Polygon(shapes[k].shell) for k in alike]):
            number += 1
            while f"{name}-{number}" in taken:
                number += 1
            called = f"{name}-{number}"
            taken.add(called)
            out[alike[place]] = replace(out[alike[place]], name=called)
    return out


def lines_apart_by_name(lines: Sequence[OpenLine]) -> list[OpenLine]:
    """Return lines of which no two share a name: equal names get ``-1``, ``-2`` ... in drawing order."""
    counts = Counter(line.name for line in lines)
    taken = {name for name, n in counts.items() if n == 1}
    seen: Counter[str] = Counter()
    out = []
    for line in lines:
        if counts[line.name] == 1:
            out.append(line)
            continue
        seen[line.name] += 1
        while f"{line.name}-{seen[line.name]}" in taken:
            seen[line.name] += 1
        called = f"{line.name}-{seen[line.name]}"
        taken.add(called)
        out.append(replace(line, name=called))
    return out
