"""Joining strokes into the fewest continuous lines, reach by reach; planned stops and places to rest."""

from __future__ import annotations

from .bobbins import rest_places, stop_for_bobbins
from .marks import Marks, marks_in, named_marks, origin_of
from .polylines import join
from .reaches import Reach, Reaches, Refit, choose_reaches, refit
from .works import STAGES, Joined, Work, join_works

__all__ = [
    "STAGES",
    "Joined",
    "Marks",
    "Reach",
    "Reaches",
    "Refit",
    "Work",
    "choose_reaches",
    "join",
    "join_works",
    "marks_in",
    "named_marks",
    "origin_of",
    "refit",
    "rest_places",
    "stop_for_bobbins",
]
