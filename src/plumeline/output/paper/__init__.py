"""Paper: what goes to her by hand. One file a kind; `sheets` cuts any into sheets, `full_size` gives one SVG."""

from __future__ import annotations

from ...errors import OutputError, nearest
from . import cut, marks, measure, pounce, practice, ruler, through, trace
from .customer import CustomerIdea, CustomerSheet, customer_pdf, customer_svg
from .drawing import PaperDrawing, PaperKind, PaperSettings, Space, mirrored
from .full_size import cutter_svg, full_size_svg
from .sheets import PAPERS, Paper, find_paper, paper_pdf, sheet_count

__all__ = [
    "CUSTOMER",
    "KINDS",
    "PAPERS",
    "CustomerIdea",
    "CustomerSheet",
    "Paper",
    "PaperDrawing",
    "PaperKind",
    "PaperSettings",
    "Space",
    "customer_pdf",
    "customer_svg",
    "cutter_svg",
    "find_kind",
    "find_paper",
    "full_size_svg",
    "mirrored",
    "paper_pdf",
    "sheet_count",
]

KINDS: dict[str, PaperKind] = {
    kind.name: kind
    for kind in (trace.KIND, through.KIND, cut.KIND, pounce.KIND, marks.KIND, ruler.KIND, practice.KIND, measure.KIND)
}
"""Every kind of paper by name, in the order that they are listed to her."""

CUSTOMER = "customer"
"""One more kind, of the whole quilt and not of a zone: ideas to choose from, with a line to sign."""


def find_kind(name: str) -> PaperKind:
    """Return a kind of paper by name.

    Parameters
    ----------
    name : str
        As ``--kind`` has it.

    Returns
    -------
    PaperKind
        What it is and how it is drawn.

    Raises
    ------
    OutputError
        There is none; the message lists all and the nearest.
    """
    if name not in KINDS:
        near = nearest(name, KINDS)
        raise OutputError(
            f"is {name!r}; must be one of {', '.join([*KINDS, CUSTOMER])}",
            key="--kind",
            what_to_do=f"Did you mean {near!r}?" if near else None,
        )
    return KINDS[name]
