"""Shapes and lines into a top: gaps closed once, patches found, seams between them.

The way: near corners and edges are snapped together; everything is noded and the faces between the lines are found;
each face is given to the patch that covers it (the innermost, where patches lie inside patches); faces thinner than
the closing distance go to a neighbour; faces of one patch that no line parts are one piece; an edge with two
different pieces at its sides is seam. After noding, what is beside what is settled by integers alone.
"""

from __future__ import annotations

from collections import Counter, deque
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from shapely import Polygon

from ..drawing import OpenLine, Shape
from ..errors import TopError
from ..geometry import (
    NODE_GRID_MM,
    Faces,
    are_thin,
    as_region,
    chains,
    close_ring,
    covering,
    faces,
    merge_faces,
    near_paths,
    path_length,
    reading_order,
    rings,
    snap_together,
    sound_outline,
    tidy_regions,
    transform,
)
from ..model import Finding, FloatArray, Patch, Path, Seam, Top, as_path
from ..units import Unit, format_area, format_length, format_small_length
from . import told

__all__ = ["CLOSE_GAPS_MM", "assemble"]

CLOSE_GAPS_MM = 25.4 / 32
"""Corners and edges nearer than 1/32 in are the same: what a drawing hand misses, less than piecing ever does."""

NOTICED_MM = 0.1
"""Corners brought together over less than this are not worth a word."""

MOST_ALIKE = 50
"""Copies of one patch in one place; more are a slip of the drawing program, and slow to tell apart."""

_NOWHERE = -1


GAP_SHARE = 0.25
"""Of the edge of a gap at least this much lies on patches; of a strip that sticks out beyond them only its end."""


@dataclass(slots=True)
class _Work:
    """What the stages share."""

    shapes: Sequence[Shape]
    lines: Sequence[OpenLine]
    within: float
    file: str | None
    layered: bool = False
    unit: Unit = "in"
    findings: list[Finding] = field(default_factory=list)

    def fault(self, name: str, rule: str, what_to_do: str) -> TopError:
        return TopError(rule, file=self.file, key=f"patch '{name}'", what_to_do=what_to_do)


def assemble(
    shapes: Sequence[Shape],
    lines: Sequence[OpenLine] = (),
    guides: Mapping[str, Path] | None = None,
    *,
    close_gaps_mm: float = CLOSE_GAPS_MM,
    may_travel: bool = True,
    layered: bool = False,
    unit: Unit = "in",
    file: str | None = None,
) -> Top:
    """Return the top that shapes make.

    Parameters
    ----------
    shapes : sequence of Shape
        The patches as drawn. One inside another makes a hole in it.
    lines : sequence of OpenLine
        Lines that cut the patches they cross.
    guides : mapping of str to Path, optional
        Lines that cut nothing; they are only moved with the top.
    close_gaps_mm : float
        Corners and edges nearer than this are the same; what is thinner than this is no patch.
    may_travel : bool
        Whether stitching may travel in the ditch of the seams (False where they are pressed open).
    layered : bool
        Where shapes overlap all the same, the later one has it (else that is refused).
    unit : {"in", "mm", "cm"}
        The unit of lengths and areas in findings.
    file : str, optional
        The drawing's name, for messages.

    Returns
    -------
    Top
        Patches, seams, guides, and what was noticed.

    Raises
    ------
    TopError
        No patches, two patches of one name, an outline that is no region, or patches that overlap by more than can
        be mended.
    """
    work = _Work(shapes, lines, close_gaps_mm, file, layered, unit)
    if not shapes:
        raise TopError("has no closed shape; patches are closed shapes", file=file, what_to_do="Draw the patches.")
    _refuse_doubles((s.name for s in shapes), work)
    drawn = _checked(work)
    _refuse_heaps(drawn, work)
    table, regions, snapped_lines, shift = _snapped(drawn, work)
    owner, thin = _owners(table, regions, work)
    _report_loose(table, snapped_lines, work)
    label, owner_of = _pieces(table, owner, thin, snapped_lines)
    outlines = _outlines(table, label, len(owner_of))
    names, order = _names(outlines, owner_of, work)
    patches = tuple(Patch(names[p], as_region(outlines[p]), shapes[owner_of[p]].colour) for p in order)
    if not patches:
        raise TopError("no shape is wider than close_gaps", file=file, what_to_do="Check the drawing's size.")
    _refuse_doubles((p.name for p in patches), work)
    gone = sorted(set(range(len(shapes))) - set(owner_of))
    if gone:
        work.findings.append(told.left_out({shapes[k].name: drawn[k].area for k in gone}, unit))
    place = {p: k for k, p in enumerate(order)}
    seams = _seams(table, np.array([place.get(p, _NOWHERE) for p in label.tolist()]), patches, may_travel)
    moved = {name: as_path(np.asarray(path) + shift) for name, path in (guides or {}).items()}
    return _at_origin(Top(patches, seams, moved, (0.0, 0.0), told.joined(work.findings)))


def _at_origin(top: Top) -> Top:
    # what was mended or left out may have moved the corner of the whole a little
    bounds = np.array([p.outline.bounds for p in top.patches])
    (left, upper), (right, lower) = bounds[:, :2].min(axis=0), bounds[:, 2:].max(axis=0)
    size = (float(right - left), float(lower - upper))
    if left == 0 and upper == 0:
        return replace(top, size=size)
    shift = (-float(left), -float(upper))
    return replace(
        top,
        patches=tuple(replace(p, outline=transform(p.outline, np.eye(2), shift)) for p in top.patches),
        seams=tuple(replace(s, path=as_path(s.path + shift)) for s in top.seams),
        guides={name: as_path(path + shift) for name, path in top.guides.items()},
        size=size,
    )


def _refuse_doubles(names: Iterable[str], work: _Work) -> None:
    doubled = sorted(name for name, count in Counter(names).items() if count > 1)
    if doubled:
        raise work.fault(doubled[0], "is the name of two patches; each needs its own", "Rename one of them.")


def _refuse_heaps(drawn: Sequence[Polygon], work: _Work) -> None:
    alike: dict[tuple[float, ...], list[int]] = {}
    for k, region in enumerate(drawn):
        alike.setdefault(tuple(np.round([*region.bounds, region.area], 1)), []).append(k)
    heap = max(alike.values(), key=len)
    if len(heap) > MOST_ALIKE:
        raise work.fault(
            work.shapes[heap[0]].name,
            f"lies on {len(heap) - 1:,} others of its size and place; must be on at most {MOST_ALIKE - 1}",
            "Take the copies out of the drawing.",
        )


def _checked(work: _Work) -> list[Polygon]:
    regions: list[Polygon] = []
    changes: dict[str, float] = {}
    for shape in work.shapes:
        try:
            region, change = sound_outline(shape.shell, shape.holes, within_mm=work.within)
        except ValueError as error:
            raise work.fault(shape.name, str(error), "Redraw it as one plain outline.") from error
        regions.append(region)
        if change:
            changes[shape.name] = change
    if changes:
        work.findings.append(told.mended(changes, work.unit))
    return regions


def _snapped(drawn: Sequence[Polygon], work: _Work) -> tuple[Faces, list[list[Polygon]], list[Path], FloatArray]:
    """Snap, move to the origin, node."""
    outlines = [rings(region) for region in drawn]
    paths = [r for rs in outlines for r in rs] + [line.path for line in work.lines]
    count = sum(len(rs) for rs in outlines)
    shape = [i for i, rs in enumerate(outlines) for _ in rs] + [len(drawn) + k for k in range(len(work.lines))]
    is_line = [k >= count for k in range(len(paths))]
    snapped = snap_together(paths, [not line for line in is_line], shape, within_mm=work.within, follows=is_line)
    corners = np.vstack(snapped.paths[:count])
    shift = -corners.min(axis=0)
    moved = [as_path(np.round((p + shift) / NODE_GRID_MM) * NODE_GRID_MM) for p in snapped.paths]
    regions: list[list[Polygon]] = []
    k = 0
    for rs in outlines:
        regions.append(tidy_regions(moved[k], moved[k + 1 : k + len(rs)]))
        k += len(rs)
    _report_moved(drawn, regions, snapped.moved_mm[:count], shape[:count], work)
    table = faces([close_ring(p) for p in moved[:count] if len(p) > 2] + moved[count:])
    return table, regions, moved[count:], shift


def _report_moved(
    before: Sequence[Polygon], after: Sequence[Sequence[Polygon]], moved: np.ndarray, shape: Sequence[int], work: _Work
) -> None:
    touched = sorted({s for s, m in zip(shape, moved.tolist()) if m > NOTICED_MM})
    if not touched:
        return
    changes = {work.shapes[s].name: abs(sum(r.area for r in after[s]) - before[s].area) for s in touched}
    work.findings.append(told.moved(changes, float(moved.max()), work.unit))


def _owners(table: Faces, regions: Sequence[Sequence[Polygon]], work: _Work) -> tuple[np.ndarray, np.ndarray]:
    """Return for each face the index of its shape, or -1, and whether it is too thin for a patch."""
    kept = [(i, r) for i, rs in enumerate(regions) for r in rs]
    cover = [tuple(dict.fromkeys(kept[k][0] for k in c)) for c in covering(table.regions, [r for _, r in kept])]
    thin = are_thin(table.regions, work.within)
    owner = np.full(len(table.regions), _NOWHERE)
    nested = _Nesting(cover, thin)
    holes: dict[tuple[int, int], None] = {}
    covered: dict[int, dict[str, None]] = {}
    covered_mm2 = 0.0
    for f, c in enumerate(cover):
        inner = nested.innermost(c)
        if inner is not None:
            owner[f] = inner
            holes.update({(k, inner): None for k in c if nested.inside(inner, k)})
            laid_over = {work.shapes[k].name: None for k in c if k != inner and not nested.inside(inner, k)}
            if laid_over and not thin[f]:
                covered.setdefault(inner, {}).update(laid_over)
                covered_mm2 += table.regions[f].area
        elif len(c) > 1 and not thin[f]:
            if work.layered:
                owner[f] = c[-1]
                continue
            raise _overlap(table.regions[f], c, nested, work)
    if covered:
        under = {work.shapes[k].name: list(names) for k, names in sorted(covered.items())}
        work.findings.append(told.laid_over(under, covered_mm2, work.unit))
    if holes:
        _report_inside(list(holes), regions, work)
    _mend_thin(table, owner, cover, thin, work)
    _report_openings(table, owner, work)
    return owner, thin


def _report_inside(holes: Sequence[tuple[int, int]], regions: Sequence[Sequence[Polygon]], work: _Work) -> None:
    # `holes`: outer and inner; of those that lie round a patch the smallest is the one it is seen in
    areas = [sum(r.area for r in rs) for rs in regions]
    outer_of: dict[int, int] = {}
    for outer, inner in sorted(holes):
        if inner not in outer_of or areas[outer] < areas[outer_of[inner]]:
            outer_of[inner] = outer
    names = {work.shapes[i].name: work.shapes[o].name for i, o in outer_of.items()}
    work.findings.append(told.inside(names, sum(areas[i] for i in outer_of), work.unit))


class _Nesting:
    """Which shapes lie wholly inside which, and which are laid over others; thin faces apart.

    A shape inside one other makes a hole in it, whichever was drawn first. A shape that no single one holds, but
    that shapes drawn before it cover everywhere, is laid over them: an applique over seams. A patch drawn in the wrong
    place is neither, since some of it lies where no patch was.
    """

    def __init__(self, cover: Sequence[tuple[int, ...]], thin: np.ndarray) -> None:
        self.faces: dict[int, set[int]] = {}
        for f, c in enumerate(cover):
            if not thin[f]:
                for k in c:
                    self.faces.setdefault(k, set()).add(f)
        self.laid = {
            k
            for k, own in self.faces.items()
            if all(any(b < k and not own <= self.faces[b] for b in cover[f]) for f in own)
        }

    def inside(self, inner: int, outer: int) -> bool:
        return self.faces.get(inner, set()) < self.faces.get(outer, set())

    def settled(self, a: int, b: int) -> bool:
        return self.above(a, b) or self.above(b, a)

    def same(self, a: int, b: int) -> bool:
        return self.faces.get(a) == self.faces.get(b)

    def above(self, a: int, b: int) -> bool:
        return self.inside(a, b) or (a > b and a in self.laid and not self.inside(b, a))

    def innermost(self, shapes: Sequence[int]) -> int | None:
        """Return the shape that lies inside or over each of the others; None when none does."""
        return next((a for a in shapes if all(self.above(a, b) for b in shapes if b != a)), None)


def _overlap(region: Polygon, cover: Sequence[int], nested: _Nesting, work: _Work) -> TopError:
    pairs = [(p, q) for i, p in enumerate(cover) for q in cover[i + 1 :]]
    # three may lie each over the next in a ring, though every two are settled
    a, b = next((pair for pair in pairs if not nested.settled(*pair)), pairs[0])
    one, other = work.shapes[a].name, work.shapes[b].name
    if nested.same(a, b):
        return work.fault(one, f"covers the same place as '{other}'", "Delete one of the two.")
    left, top, right, bottom = region.bounds
    return work.fault(
        one,
        f"overlaps '{other}' by {format_area(region.area, work.unit)} (over {format_length(right - left, work.unit)} x "
        f"{format_length(bottom - top, work.unit)}); patches may overlap by close_gaps, "
        f"{format_small_length(work.within, work.unit)}, at most",
        "Move or redraw one of them so that their edges meet.",
    )


def _beside(table: Faces, which: np.ndarray) -> dict[int, Counter[int]]:
    """Return for each face in question how much of its edge it shares with each other (-1: with the outside)."""
    beside: dict[int, Counter[int]] = {int(f): Counter() for f in np.flatnonzero(which)}
    index = np.flatnonzero((which[table.sides] & (table.sides >= 0)).any(axis=1))
    lengths = np.hypot(*(table.edges[index, 1] - table.edges[index, 0]).T)
    for (a, b), length in zip(table.sides[index].tolist(), lengths.tolist()):
        if a in beside:
            beside[a][b] += length
        if b in beside:
            beside[b][a] += length
    return beside


def _hatched(
    table: Faces, owner: np.ndarray, cover: Sequence[tuple[int, ...]], thin: np.ndarray, within: float
) -> np.ndarray:
    """Return which faces lie bare between lines drawn close together: no thin gap, but many side by side."""
    bare = thin & (owner == _NOWHERE) & np.array([not c for c in cover], dtype=bool)
    inner = table.sides[(table.sides >= 0).all(axis=1)]
    pairs = inner[bare[inner].all(axis=1)]
    out = np.zeros(len(owner), dtype=bool)
    if not len(pairs):
        return out
    links = coo_array((np.ones(len(pairs)), (pairs[:, 0], pairs[:, 1])), shape=(len(owner), len(owner)))
    _, group = connected_components(links, directed=False)
    several = np.unique(group[pairs.ravel()])
    for g in several.tolist():
        own = np.flatnonzero(bare & (group == g))
        if not are_thin(merge_faces([table.regions[f] for f in own.tolist()]), within).all():
            out[own] = True
    return out


def _mend_thin(
    table: Faces, owner: np.ndarray, cover: Sequence[tuple[int, ...]], thin: np.ndarray, work: _Work
) -> None:
    # Thin faces go to the neighbour along their longest edge: one of the patches that cover them, where there is one.
    # A bare one that hardly touches a patch is no gap, but lies between lines drawn close together beyond the patches.
    hatched = _hatched(table, owner, cover, thin, work.within)
    beside = _beside(table, thin & ~hatched)
    waiting = list(beside)
    mended: dict[int, tuple[float, set[str]]] = {}
    settled = ~thin
    while waiting:
        later = []
        for f in waiting:
            near = [g for g in beside[f] if g >= 0 and settled[g] and owner[g] != _NOWHERE]
            touched = sum(beside[f][g] for g in near)
            if not near or (not cover[f] and touched < GAP_SHARE * beside[f].total()):
                later.append(f)
                continue
            mine = [g for g in near if owner[g] in cover[f]] or near
            owner[f] = owner[max(mine, key=lambda g: (beside[f][g], -g))]
            settled[f] = True
            covered = min(len(cover[f]), 2)
            area, names = mended.setdefault(covered, (0.0, set()))
            names |= {work.shapes[k].name for k in (*cover[f], int(owner[f]))}
            mended[covered] = (area + table.regions[f].area, names)
        if len(later) == len(waiting):
            break
        waiting = later
    for f in waiting:
        owner[f] = cover[f][0] if cover[f] else _NOWHERE
    for covered, (area, names) in sorted(mended.items()):
        if area > NOTICED_MM:
            work.findings.append(told.thin_given(covered, sorted(names), area, work.unit))


def _report_openings(table: Faces, owner: np.ndarray, work: _Work) -> None:
    # an unowned face with nothing but patches round it; one that reaches the outside lies between stray lines
    bare_face = owner == _NOWHERE
    bare_face[table.sides[(table.sides == _NOWHERE).any(axis=1)].max(axis=1)] = False
    bare = [table.regions[f] for f in np.flatnonzero(bare_face).tolist()]
    if bare:
        work.findings.append(told.open_between([(region.bounds, region.area) for region in bare], work.unit))


def _report_loose(table: Faces, lines: Sequence[Path], work: _Work) -> None:
    if not table.loose or not lines:
        return
    middle = np.array([p.mean(axis=0) for p in table.loose])
    at = near_paths(middle, lines, within_mm=2 * NODE_GRID_MM)
    free = np.bincount(at[at >= 0], [path_length(p) for p, k in zip(table.loose, at) if k >= 0], len(lines))
    hanging: dict[str, float] = {}
    for line, length in zip(work.lines, free.tolist()):  # what hides a line in part leaves pieces of one name
        if length > work.within:
            hanging[line.name] = hanging.get(line.name, 0.0) + length
    if hanging:
        work.findings.append(told.dangling(hanging, work.unit))


def _pieces(table: Faces, owner: np.ndarray, thin: np.ndarray, lines: Sequence[Path]) -> tuple[np.ndarray, list[int]]:
    """Return for each face the piece it belongs to (-1: none), and for each piece its shape.

    A line parts what lies at its two sides, but cuts off nothing too thin for a patch.
    """
    sides = table.sides
    inner = np.flatnonzero((sides >= 0).all(axis=1))
    one, other = owner[sides[inner]].T
    index = inner[(one == other) & (one != _NOWHERE)]
    cut = near_paths(table.edges[index].mean(axis=1), lines, within_mm=2 * NODE_GRID_MM) >= 0
    root = list(range(len(owner)))

    def find(f: int) -> int:
        while root[f] != f:
            root[f] = root[root[f]]
            f = root[f]
        return f

    for a, b in sides[index[~cut]].tolist():
        root[find(a)] = find(b)
    _join_thin(table, index[cut], thin, root, find)
    label = np.full(len(owner), _NOWHERE)
    owner_of: list[int] = []
    number: dict[int, int] = {}
    for f, o in enumerate(owner.tolist()):
        if o != _NOWHERE:
            r = find(f)
            if r not in number:
                number[r] = len(owner_of)
                owner_of.append(o)
            label[f] = number[r]
    return label, owner_of


def _join_thin(table: Faces, cut: np.ndarray, thin: np.ndarray, root: list[int], find: Callable[[int], int]) -> None:
    # what lines cut off and holds thin faces only goes to the neighbour of its shape along its longest edge
    thick = {find(f) for f in np.flatnonzero(~thin).tolist()}
    beside: dict[int, Counter[int]] = {}
    lengths = np.hypot(*(table.edges[cut, 1] - table.edges[cut, 0]).T)
    for (a, b), length in zip(table.sides[cut].tolist(), lengths.tolist()):
        p, q = find(a), find(b)
        if p != q and not (p in thick and q in thick):
            beside.setdefault(p, Counter())[q] += length
            beside.setdefault(q, Counter())[p] += length
    rest = deque(p for p in beside if p in thick)
    settled = set(rest)
    while rest:
        p = rest.popleft()
        for q, _ in beside[p].most_common():
            if q not in settled:
                settled.add(q)
                near = [r for r in beside[q] if r in settled and r != q]
                root[q] = find(max(near, key=lambda r: (beside[q][r], -r)))
                rest.append(q)
    for p in beside:  # crumbs of a thin shape hang together
        if p not in settled:
            for q in beside[p]:
                root[find(q)] = find(p)


def _outlines(table: Faces, label: np.ndarray, count: int) -> list[Polygon]:
    of_piece: list[list[Polygon]] = [[] for _ in range(count)]
    for region, piece in zip(table.regions, label.tolist()):
        if piece != _NOWHERE:
            of_piece[piece].append(region)
    return [max(merge_faces(own), key=lambda p: p.area) for own in of_piece]


def _names(outlines: Sequence[Polygon], owner_of: Sequence[int], work: _Work) -> tuple[dict[int, str], list[int]]:
    """Return a name for each piece, and the pieces in the order of their shapes, then in reading order."""
    of_shape: dict[int, list[int]] = {}
    for piece, o in enumerate(owner_of):
        of_shape.setdefault(o, []).append(piece)
    names: dict[int, str] = {}
    order: list[int] = []
    for o in sorted(of_shape):
        pieces, name = of_shape[o], work.shapes[o].name
        if len(pieces) > 1:
            pieces = [pieces[k] for k in reading_order([outlines[p] for p in pieces])]
        names.update({p: f"{name}-{k}" if len(pieces) > 1 else name for k, p in enumerate(pieces, 1)})
        order += pieces
    return names, order


def _seams(table: Faces, patch: np.ndarray, patches: Sequence[Patch], may_travel: bool) -> tuple[Seam, ...]:
    """Return the seams, each maximal stretch between the same two patches one, in the order of the patches."""
    outside = len(patches)
    ends = np.where(table.sides >= 0, patch[table.sides], _NOWHERE)
    ends = np.sort(np.where(ends == _NOWHERE, outside, ends), axis=1)
    seam = np.flatnonzero((ends[:, 0] != ends[:, 1]) & (ends[:, 0] < outside))
    order = seam[np.lexsort((ends[seam, 1], ends[seam, 0]))]
    groups = np.split(order, np.flatnonzero(np.diff(ends[order], axis=0).any(axis=1)) + 1) if len(order) else []
    out = []
    for group in groups:
        a, b = ends[group[0]].tolist()
        other = patches[b].name if b < outside else None
        out += [Seam(patches[a].name, other, path, may_travel and b < outside) for path in chains(table.edges[group])]
    return tuple(out)
