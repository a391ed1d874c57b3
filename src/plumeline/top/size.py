"""Whether a top is of a size that a quilt can have: said, or refused, before the long work."""

from __future__ import annotations

from ..codes import FindingCode
from ..errors import TopError
from ..model import Finding
from ..units import MM_PER, Unit, format_length

__all__ = ["LARGE_MM", "LONGEST_MM", "size_of_table"]

LARGE_MM = 130 * 25.4
"""More than the largest bed quilts, in either way: a slip of the unit is likely."""

LONGEST_MM = 20_000.0
"""No quilt is longer; it is refused before the work, which would fill the memory."""

SMALL_MM = 10 * 25.4
"""A likely reading of a large top is at least this long."""


def size_of_table(size: tuple[float, float], unit: Unit) -> tuple[Finding, ...]:
    """Return what is to be said of the size of a top that a plan gives in numbers, in mm.

    Parameters
    ----------
    size : width, height
        mm.
    unit : {"in", "mm", "cm"}
        The unit that the numbers were taken for.

    Returns
    -------
    tuple of Finding
        One warning where either way is over `LARGE_MM`, else empty.

    Raises
    ------
    TopError
        It is over `LONGEST_MM` in either way; the message says which unit may have been meant.
    """
    longest = max(size)
    if longest <= LARGE_MM:
        return ()
    said = f"the top would be {_spoken(size, unit)}"
    likely = {u: MM_PER[u] / MM_PER[unit] for u in ("mm", "cm") if u != unit}
    meant = next((u for u, share in likely.items() if SMALL_MM <= longest * share < LARGE_MM), None)
    way = f"Numbers without a unit are read in {unit}"
    if meant is not None:
        then = _spoken((size[0] * likely[meant], size[1] * likely[meant]), unit)
        way += f'; if they are {meant}, write units = "{meant}": the top is then {then}.'
    else:
        way += "; look for a slip in them."
    if longest > LONGEST_MM:
        raise TopError(f"{said}; must be at most {LONGEST_MM / 1000:g} m either way", key="top", what_to_do=way)
    return (Finding(FindingCode.SIZE_IMPLAUSIBLE, "warning", None, f"{said}, which is large for a quilt", way),)


def _spoken(size: tuple[float, float], unit: Unit) -> str:
    width, height = (format_length(v, unit, per_inch=4) for v in size)
    return f"{width.removesuffix(f' {unit}')} x {height}"
