"""Registration marks by name: the same letters on every sheet, in every file's origin and in a refit."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import count, product
from string import ascii_uppercase

import numpy as np

from ..model import Reach

__all__ = ["Marks", "marks_in", "named_marks", "origin_of"]

Marks = Mapping[str, tuple[float, float]]
"""Name to place on the top, mm."""

LETTERS = "".join(c for c in ascii_uppercase if c not in "IO")

SAME_MM = 0.05
"""Marks of two reaches nearer than this are one mark: seam crossings are told apart by 0.1 mm."""


def named_marks(reaches: Sequence[Reach]) -> dict[str, tuple[float, float]]:
    """Return the marks of all reaches as A, B, ... in sewing order; one that several reaches share once.

    I and O are left out: on cloth they read as 1 and 0.

    Parameters
    ----------
    reaches : sequence of Reach
        In sewing order.

    Returns
    -------
    dict of str to (x, y)
        Name to place, mm on the top; empty for no reaches.

    Examples
    --------
    >>> from plumeline.model import as_path
    >>> first = Reach(1, (0, 0, 10, 10), as_path(np.zeros((0, 2))))
    >>> named_marks([first, Reach(2, (8, 0, 18, 10), as_path([(8, 0), (8, 10)]))])
    {'A': (8.0, 0.0), 'B': (8.0, 10.0)}
    """
    places: list[tuple[float, float]] = []
    for reach in reaches:
        for x, y in reach.marks.tolist():
            if all(abs(x - a) > SAME_MM or abs(y - b) > SAME_MM for a, b in places):
                places.append((x, y))
    names = ("".join(letters) for length in count(1) for letters in product(LETTERS, repeat=length))
    return dict(zip(names, places))


def marks_in(reach: Reach, marks: Marks, *, of: Sequence[Reach] | None = None) -> dict[str, tuple[float, float]]:
    """Return the marks that lie within a reach, its own first; ``of``: only the own marks of those reaches.

    Parameters
    ----------
    reach : Reach
        Its window says what lies in it.
    marks : Marks
        As `named_marks` gives them.
    of : sequence of Reach, optional
        Reaches whose own marks alone are taken; all when left out.

    Returns
    -------
    dict of str to (x, y)
        Name to place, mm on the top.
    """
    left, top, right, bottom = reach.window
    inside = {
        name: (x, y)
        for name, (x, y) in marks.items()
        if left - SAME_MM <= x <= right + SAME_MM and top - SAME_MM <= y <= bottom + SAME_MM
    }
    own = _own(inside, [reach])
    wanted = set(inside) if of is None else _own(inside, of)
    return {name: inside[name] for name in sorted(wanted, key=lambda n: (n not in own, list(marks).index(n)))}


def _own(marks: Marks, reaches: Sequence[Reach]) -> set[str]:
    places = np.vstack([np.zeros((0, 2)), *(reach.marks for reach in reaches)])
    return {name for name, at in marks.items() if (np.abs(places - at) <= SAME_MM).all(axis=1).any()}


def origin_of(reach: Reach, marks: Marks) -> tuple[str | None, tuple[float, float]]:
    """Return name and place of what a reach's files call 0, 0: its first mark, else its top left corner (None).

    Parameters
    ----------
    reach : Reach
        A reach with its marks.
    marks : Marks
        As `named_marks` gives them.

    Returns
    -------
    str or None, (x, y)
        The mark's name, and its place in mm on the top.
    """
    inside = marks_in(reach, marks)
    name = next(iter(inside), None)
    return (None, reach.window[:2]) if name is None else (name, inside[name])
