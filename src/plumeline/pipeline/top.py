"""The top that a plan names."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TypeVar

import numpy as np

from ..drawing.raster import read_picture, resized
from ..errors import DrawingError, InputError, PlanError, ZoneError, nearest
from ..model import Fabric, Patch, Photo, Top
from ..plan import BlocksTable, Plan
from ..plan.messages import list_of
from ..specs import family_matching, matching
from ..top import (
    BlockPlace,
    BlockTable,
    Border,
    Known,
    Measured,
    Pieces,
    SaidSize,
    Sashing,
    StraightLimits,
    as_measured,
    block_places,
    film_guides,
    from_blocks,
    from_drawing,
    from_measures,
    made_guides,
    photo_of,
    size_beside_photo,
    size_of_table,
    top_of_photo,
)

__all__ = ["blocks_of", "limits_of", "read_top"]

_T = TypeVar("_T")


MOST_PRINT_PX = 1500
"""Longer side of a fabric's picture as it is kept: more than any cloth picture shows of it."""


def read_top(plan: Plan) -> Top:
    """Return the top that a plan names as measured, with the guides that it writes out, patches in their fabrics.

    Raises
    ------
    InputError
        The drawing, a table or a fabric can't be used.
    """
    photo = None if plan.top.photo is None else _read(plan, "photo", photo_of)
    top = _patches(plan, photo)
    own = top.guides
    film = {} if plan.top.film is None else _read(plan, "film", lambda path: film_guides(path, own))
    blocks = blocks_of(plan)
    made = made_guides(replace(top, guides={**top.guides, **film}), plan.guides, blocks)
    if made:
        top = replace(top, guides={**top.guides, **made})
    top = as_measured(top, _measured(plan), blocks, pressed_open=plan.top.pressed == "open", unit=plan.units)
    # a photo and the lines on film show the top as it is: measures move the plan, not them
    if film:
        top = replace(top, guides={**top.guides, **film})
    if photo is not None:
        findings = (*top.findings, *size_beside_photo(top, photo, plan.units))
        top = replace(top, photo=photo, findings=findings)
    return replace(top, patches=_in_fabrics(top.patches, plan)) if plan.fabrics else top


def blocks_of(plan: Plan) -> tuple[BlockPlace, ...]:
    """Return where the blocks of a plan's table lie as planned; empty when its top comes from something else."""
    return () if plan.top.blocks is None else block_places(_table(plan.top.blocks))


def limits_of(plan: Plan) -> StraightLimits:
    """Return from where on a plan counts something as out of true."""
    return StraightLimits(**{key: value for key, value in plan.straight.model_dump().items() if value is not None})


def _measured(plan: Plan) -> list[Measured]:
    out = []
    for said in plan.measured:
        sides, bows, diagonals = said.by_place
        out.append(Measured(said.patch, said.block, sides, diagonals, bows, said.edges))
    return out


def _in_fabrics(patches: Sequence[Patch], plan: Plan) -> tuple[Patch, ...]:
    """Return patches in their fabrics: a patch's own name overrides a pattern, a longer one a shorter."""
    names = [patch.name for patch in patches]
    chosen: dict[str, str] = {}
    for pattern in sorted(plan.fabrics, key=lambda p: ("*" not in p, len(p))):
        found = matching(pattern, names) or family_matching(pattern, names)
        if not found:
            near = nearest(pattern, names)
            raise PlanError(
                f"is the name of no patch; there are {list_of(names)}",
                file=plan.file,
                key=f"fabrics.{pattern}",
                what_to_do=f"Did you mean {near!r}?" if near else None,
            )
        chosen |= dict.fromkeys(found, pattern)
    looks = {pattern: _look(plan, pattern) for pattern in plan.fabrics}
    plain: tuple[str | None, Fabric | None] = (None, None)
    out = []
    for patch in patches:
        colour, fabric = looks[chosen[patch.name]] if patch.name in chosen else plain
        out.append(patch if colour is None else replace(patch, colour=colour, fabric=fabric))
    return tuple(out)


def _look(plan: Plan, pattern: str) -> tuple[str | None, Fabric | None]:
    """Return a fabric's colour (the mean of its picture) and its print."""
    said = plan.fabrics[pattern]
    if said.picture is None or said.width_mm is None:
        return said.colour, None
    try:
        pixels = read_picture(plan.folder / said.picture)
    except DrawingError as error:
        raise error.at(file=plan.file, key=f"fabrics.{pattern}.picture") from None
    share = MOST_PRINT_PX / max(pixels.shape)
    if share < 1:
        rows, cols = (max(1, round(share * n)) for n in pixels.shape[:2])
        pixels = resized(pixels, cols, rows)
    mean = pixels.reshape(-1, 3).mean(axis=0)
    return "#" + "".join(f"{round(v):02x}" for v in mean), Fabric(pixels, said.width_mm)


def _read(plan: Plan, key: str, reader: Callable[[Path], _T]) -> _T:
    """Return what a reader makes of the file that a key of ``[top]`` names."""
    try:
        return reader(plan.folder / str(getattr(plan.top, key)))
    except InputError as error:
        # the file's own name stands before the fault, the plan's before both
        error.rule = f"{error.file or ''} {error.rule}".strip()
        error.file = None
        raise error.at(file=plan.file, key=f"top.{key}") from None


def _patches(plan: Plan, photo: Photo | None) -> Top:
    said, pressed_open = plan.top, plan.top.pressed == "open"
    if plan.drawing is not None:
        known = None if said.known is None else Known(said.known.from_, said.known.to, said.known.length_mm)
        return from_drawing(
            plan.drawing,
            close_gaps_mm=said.close_gaps_mm,
            guides=said.guides,
            pressed_open=pressed_open,
            read=said.read,
            size=SaidSize(said.width_mm, said.height_mm, known),
            page=said.page,
            unit=plan.units,
        )
    if said.blocks is not None:
        top = from_blocks(_table(said.blocks), pressed_open=pressed_open, unit=plan.units)
        return replace(top, findings=(*size_of_table(top.size, plan.units), *top.findings))
    if said.measured is None and photo is not None:
        return top_of_photo(photo)
    if said.measured is None:
        raise ZoneError("says nothing of where the patches come from", file=plan.file, key="top")
    top = from_measures(said.measured.sides_mm, said.measured.diagonals_mm, unit=plan.units)
    return replace(top, findings=(*size_of_table(top.size, plan.units), *top.findings))


def _table(blocks: BlocksTable) -> BlockTable:
    sashing = blocks.sashing
    return BlockTable(
        setting=blocks.setting,
        size_mm=blocks.size_mm,
        rows=blocks.rows,
        between=blocks.between,
        sashing=None if sashing is None else Sashing(sashing.width_mm, sashing.outer, sashing.cornerstones),
        borders=[Border(b.name, b.width_mm, b.turned, b.pieced, b.count) for b in blocks.borders],
        pieces={
            name: Pieces([np.asarray(line) for line in p.lines], p.grid, p.by_place, p.block, round(p.turn_deg / 90))
            for name, p in blocks.pieces.items()
        },
    )
