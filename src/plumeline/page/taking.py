"""What she takes with her from the page: stitch files, one page to send, paper at true size."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from ..errors import InputError
from ..output.paper import CUSTOMER, KINDS, PAPERS, Paper, PaperSettings, find_kind, find_paper
from ..pipeline.compare import AS_IT_STANDS
from ..pipeline.files import files_of, stem_of
from ..pipeline.paper import customer_files, paper_drawings, paper_files
from ..quilt import Quilt, check_formats
from .said import words_said
from .show import show_page

__all__ = ["Taken", "paper_forms", "taken_files"]


@dataclass(frozen=True, slots=True)
class Taken:
    """What is wanted: formats of the stitching, a page to send, kinds of paper and its size.

    ``zone`` is the zone on paper; every one when empty. ``many``: more sheets than usual are meant.
    """

    formats: tuple[str, ...] = ()
    page: bool = False
    papers: tuple[str, ...] = ()
    paper: Paper = PAPERS["letter"]
    zone: str = ""
    many: bool = False

    @classmethod
    def read(cls, said: Mapping[str, Any]) -> Taken:
        """Return what a request wants.

        Raises
        ------
        InputError
            It is of the wrong kind, or wants nothing; no such format or kind of paper.
        """
        papers = tuple(words_said(said, "papers")) if "papers" in said else ()
        formats = tuple(words_said(said, "formats"))
        if not (formats or papers or said.get("page") is True):
            raise InputError("holds nothing yet", key="what to take", what_to_do="Tick at least one kind of file.")
        if formats:
            check_formats(formats)
        for kind in papers:
            if kind != CUSTOMER:
                find_kind(kind)
        paper = find_paper(str(said.get("size") or "letter"))
        zone, many = str(said.get("zone") or ""), said.get("many") is True
        return cls(formats, said.get("page") is True, papers, paper, zone, many)


def taken_files(quilt: Quilt, wanted: Taken) -> dict[str, bytes]:
    """Return all files that are wanted, by name; with a format come pictures, figures and cautions.

    Raises
    ------
    InputError
        Something can't be drawn, such as a zone without stitching, or there are too many sheets.
    """
    files = files_of(quilt, wanted.formats) if wanted.formats else {}
    if wanted.page:
        files |= {f"{stem_of(quilt.plan)}.html": show_page({quilt.plan.title: quilt}).encode()}
    zones = [wanted.zone] if wanted.zone else []
    for name in wanted.papers:
        if name == CUSTOMER:
            files |= customer_files([(quilt.plan.option or AS_IT_STANDS, quilt)], wanted.paper)
        else:
            settings = PaperSettings(units=quilt.plan.units)
            files |= paper_files(
                paper_drawings(quilt, find_kind(name), zones, settings), wanted.paper, many=wanted.many
            )
    return files


def paper_forms() -> dict[str, Any]:
    """Return what there is to choose from on paper: kinds with a line on each, and sizes of a sheet."""
    kinds = [{"name": kind.name, "about": kind.description} for kind in KINDS.values()]
    kinds.append({"name": CUSTOMER, "about": "the whole quilt as a sheet for a customer, with a line to sign"})
    return {"kinds": kinds, "sizes": list(PAPERS)}
