"""The plan file: read, checked, changed, started. Fill settings stay raw: the pipeline checks them."""

from __future__ import annotations

from .editing import StarterZone, edit_plan, starter_plan
from .edits import with_division, with_fill, with_option, with_own_zone, with_zone
from .reading import Plan, parse_plan, read_plan
from .reads import files_read
from .top_tables import (
    BlocksTable,
    BorderTable,
    MeasuredTable,
    PiecesTable,
    PricesTable,
    SashingTable,
    TopTable,
)

__all__ = [
    "BlocksTable",
    "BorderTable",
    "MeasuredTable",
    "PiecesTable",
    "Plan",
    "PricesTable",
    "SashingTable",
    "StarterZone",
    "TopTable",
    "edit_plan",
    "files_read",
    "parse_plan",
    "read_plan",
    "starter_plan",
    "with_division",
    "with_fill",
    "with_option",
    "with_own_zone",
    "with_zone",
]
