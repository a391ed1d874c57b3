"""What the page can do to the plan: one named edit each, its words checked."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from ..errors import InputError
from ..film import Mark
from ..model import Zone
from ..sitting import Fills, Sitting
from .said import words_said

__all__ = ["do_edit", "fills_said", "marks_said", "space_said", "stack_said"]

KINDS = ("spine", "fence", "open")


def do_edit(sitting: Sitting, said: Mapping[str, Any]) -> None:
    """Do one edit of the page.

    Raises
    ------
    InputError
        It is none of those that there are, or its words are of the wrong kind.
    """
    do, over = said.get("do"), said.get("over") is True
    zone, part = str(said.get("zone", "")), str(said.get("part", ""))
    sitting.looking = str(said.get("looking", ""))
    if do == "choose":
        also = words_said(said, "also") if "also" in said else ()
        sitting.choose(zone, stack_said(said), part=part, also=also, over=over)
    elif do == "join":
        sitting.join(str(said.get("name", "")), words_said(said, "patches"), over=over)
    elif do == "divide":
        steps = said.get("steps")
        if not isinstance(steps, list) or not all(isinstance(s, dict) and isinstance(s.get("by"), str) for s in steps):
            raise InputError("must be a list of divisions, each with a by", key="steps")
        sitting.divide(zone, steps, over=over)
    elif do == "film":
        sitting.draw_on_film(space_said(sitting, said), marks_said(said), over=over)
    elif do == "part-off":
        space, name = space_said(sitting, said), str(said.get("name", ""))
        sitting.part_off(space, name, alike=said.get("alike") is True, over=over)
    elif do == "keep":
        fills = fills_said(said) if "fills" in said else None
        sitting.keep_as(str(said.get("name", "")), fills=fills, over=over)
    elif do == "set":
        sitting.change({tuple(words_said(said, "key")): said.get("value")}, over=over)
    elif do == "text":
        sitting.change(str(said.get("text", "")), over=over)
    elif do == "undo":
        sitting.undo(over=over)
    elif do == "redo":
        sitting.redo(over=over)
    elif do == "take-up":
        sitting.look()
    elif do == "option":
        sitting.look_at(None if said.get("option") is None else str(said["option"]))
    else:
        raise InputError(f"is {do!r}; is no change that this page makes", key="do")


def stack_said(said: Mapping[str, Any]) -> list[Mapping[str, Any]]:
    """Return the stack of fills that a request says.

    Raises
    ------
    InputError
        It is none.
    """
    stack = said.get("stack")
    if not isinstance(stack, list) or not all(isinstance(layer, dict) for layer in stack):
        raise InputError("must be a list of fills", key="stack")
    return stack


def fills_said(said: Mapping[str, Any]) -> Fills:
    """Return the fills of the whole quilt that a request says, by zone and part.

    Raises
    ------
    InputError
        They are none.
    """
    fills = said.get("fills")
    if not isinstance(fills, dict) or not all(isinstance(parts, dict) for parts in fills.values()):
        raise InputError("must be tables of fills by zone and part", key="fills")
    return {
        zone: {part: stack_said({"stack": stack}) for part, stack in parts.items()} for zone, parts in fills.items()
    }


def space_said(sitting: Sitting, said: Mapping[str, Any]) -> Zone:
    """Return the space that a request names by its zone, part and number.

    Raises
    ------
    InputError
        There is no such space.
    """
    drawn = sitting.seen.drawn
    wanted = (str(said.get("zone", "")), str(said.get("part", "")), said.get("number", 1))
    for zone in (*drawn.zones, *drawn.bare) if drawn else ():
        if (zone.name, zone.part, zone.number) == wanted:
            return zone
    raise InputError("is no space of this quilt any more", key=f"{wanted[0] or 'the space'}")


def marks_said(said: Mapping[str, Any]) -> list[Mark]:
    """Return the marks that a request draws on the film, mm on the top.

    Raises
    ------
    InputError
        They are none, or one of them can't be drawn.
    """
    rows = said.get("marks")
    if not isinstance(rows, list):
        raise InputError("must be a list of marks", key="marks")
    out = []
    for row in rows:
        if not isinstance(row, dict) or row.get("kind") not in KINDS:
            raise InputError("must each be a spine, a fence or a place left open", key="marks")
        try:
            points = np.array(row.get("points"), dtype=np.float64).reshape(-1, 2)
            soft, radius = float(row.get("soft_mm") or 0.0), float(row.get("radius_mm") or 0.0)
        except (TypeError, ValueError):
            raise InputError("must be lists of x and y in mm", key="points of a mark") from None
        out.append(Mark(row["kind"], points, soft_mm=soft, radius_mm=radius))
    return out
