"""What every reader of a kind of file hands over: the marks on a sheet, in the order in which they are painted."""

from __future__ import annotations

from dataclasses import dataclass, field

from shapely.geometry.base import BaseGeometry

from ..errors import DrawingError
from ..model import Finding, Path
from ..units import Unit

__all__ = ["Mark", "Sheet", "Track", "faults_in_one"]


@dataclass(frozen=True, slots=True, eq=False)
class Track:
    """One subpath in mm, y down; the first point of a closed one is not repeated.

    ``gap`` is how far apart the ends were drawn of one that only its paint closes (0: closed as drawn, or open).
    """

    path: Path
    closed: bool
    gap: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class Mark:
    """One element that is drawn.

    Attributes
    ----------
    tracks : tuple of Track
        Its subpaths.
    filled, stroked : bool
        Whether its inside and its outline are painted; one that has neither is not seen.
    evenodd : bool
        Its fill rule.
    colour, stroke : str or None
        ``#rrggbb``, of a gradient its mean; None for none and for a pattern.
    cloth : str
        ``"plain"``, or ``"figured"`` for a pattern or gradient.
    name, layer, spare : str or None
        What she called it, what she called the nearest group that has a name, and the name that a program made up.
    clip : geometry or None
        All outside of it is hidden.
    sheer : bool
        Whether what it fills is painted so faintly that what lies below shows through.
    bare : bool
        Whether it has neither fill nor outline, though nothing hides it.
    """

    tracks: tuple[Track, ...]
    filled: bool
    stroked: bool
    evenodd: bool = False
    colour: str | None = None
    stroke: str | None = None
    cloth: str = "plain"
    name: str | None = None
    layer: str | None = None
    spare: str | None = None
    clip: BaseGeometry | None = None
    bare: bool = False
    sheer: bool = False


@dataclass(slots=True)
class Sheet:
    """A file's marks, its page in mm (None: it has none), and what was noted while reading.

    ``sized``, ``unit_mm`` and ``outlines`` as in `Drawing`; ``unit``: that of lengths and areas in findings;
    ``origin``: where in mm the file's own 0, 0 lies.
    """

    file: str
    marks: list[Mark] = field(default_factory=list)
    page: tuple[float, float] | None = None
    unit_mm: float = 1.0
    sized: bool = True
    outlines: bool = False
    findings: list[Finding] = field(default_factory=list)
    unit: Unit = "in"
    origin: tuple[float, float] = (0.0, 0.0)


def faults_in_one(faults: list[DrawingError], file: str) -> DrawingError:
    """Return the faults of a file as one error that lists them all."""
    if len(faults) == 1:
        return faults[0]
    shown = [f"({k}) {f.key}: {f.rule}" if f.key else f"({k}) {f.rule}" for k, f in enumerate(faults[:12], 1)]
    more = f" and {len(faults) - 12} more" if len(faults) > 12 else ""
    ways = list(dict.fromkeys(f.what_to_do for f in faults if f.what_to_do))
    return DrawingError(
        f"has {len(faults)} faults: {'; '.join(shown)}{more}", file=file, what_to_do=" ".join(ways[:3]) or None
    )
