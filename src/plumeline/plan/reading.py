"""Read a plan file and check everything in it but the settings of fills (the pipeline checks those)."""

from __future__ import annotations

import math
import os
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path, PurePosixPath, PureWindowsPath
from typing import Annotated, Any, TypeAlias

from pydantic import Field, ValidationError

from ..errors import InputError, PlanError, nearest, shown, unprintable
from ..model import Batting, Machine, Thread
from ..opening import leads_inside, read_plain_file
from ..specs import INSIDE, OLD_INSIDE, GuideSpec, ZoneSpec, matching
from ..units import MM_PER, Unit
from .block_rows import with_rows
from .fields import Name, Table
from .guide_tables import GuideTable
from .measured_tables import MeasuredPieceTable, StraightLimitsTable
from .messages import list_of, settings_errors, unknown_key
from .toml_faults import toml_fault
from .top_tables import BattingTable, Fabric, FabricTable, MachineTable, PricesTable, QuiltTable, ThreadTable, TopTable
from .zone_tables import ZoneTable, only_ditch

__all__ = ["Plan", "RawFills", "parse_plan", "read_plan"]

RawFills: TypeAlias = Mapping[str, tuple[Mapping[str, Any], ...]]
"""The fills of one zone as she wrote them: part (or pattern such as ``wedge-*``) to its stack."""

MOST_BYTES = 2_000_000
"""A plan is a small text file; this is twenty times the largest that a person would write."""

NO_PLANS = (".svg", ".dxf", ".pdf", ".dst", ".exp", ".csv", ".gcode", ".png", ".jpg", ".jpeg")
"""Endings of drawings, pictures and stitch files, which are easily given in the plan's place."""

MOST_ZONES = 2_000
"""Zone entries in one plan."""

MOST_GUIDES = 1_000
"""Guides written into one plan."""

MOST_LAYERS = 12
"""Fills in one stack."""

MOST_DEPTH = 12
"""Tables within tables: the plan itself needs 6."""

MOST_NUMBER = 1e12
"""No number in a plan is larger."""


@dataclass(frozen=True, slots=True, eq=False)
class Plan:
    """A plan, read and checked.

    Attributes
    ----------
    file : str
        Name of the file, for messages.
    folder : pathlib.Path
        Where it lies; no path in it leaves this folder.
    units : {"in", "mm", "cm"}
        Unit of its bare numbers.
    chance : int
        Seed of all that is left to chance.
    top : TopTable
        Drawing, blocks or measured block, lengths in mm.
    zones : tuple of ZoneSpec
        The zone entries in order.
    guides : tuple of GuideSpec
        The guides that the plan writes out; those of the drawing are in the top.
    fills : mapping of zone name to RawFills
        Fill settings as she wrote them, options not applied.
    options : mapping of option name to zone name to RawFills
        What each option replaces.
    option : str or None
        The option that `with_option` applied.
    fabrics : mapping of pattern to FabricTable
        Fabrics of patches by name, ``*`` for any letters.
    prices : PricesTable or None
        What she asks for her work.
    density : float or None
        Inches of line seen per square inch that is asked of the whole quilt.
    measured : tuple of MeasuredPieceTable
        What the tape says of pieces of the top.
    straight : StraightLimitsTable
        From where on something is out of true.
    texts : tuple of str
        Every text in the plan, sorted: what may be the name of a file (see `files_read`).
    in_old_words : tuple of str
        Zones whose fills call what is left inside ``rest``, as plans did before.
    """

    file: str
    folder: Path
    title: str
    units: Unit
    chance: int
    top: TopTable
    machine: Machine
    batting: Batting
    threads: Mapping[str, Thread]
    zones: tuple[ZoneSpec, ...]
    fills: Mapping[str, RawFills]
    options: Mapping[str, Mapping[str, RawFills]]
    option: str | None = None
    fabrics: Mapping[str, FabricTable] = field(default_factory=dict)
    prices: PricesTable | None = None
    measured: tuple[MeasuredPieceTable, ...] = ()
    straight: StraightLimitsTable = field(default_factory=StraightLimitsTable)
    texts: tuple[str, ...] = ()
    guides: tuple[GuideSpec, ...] = ()
    in_old_words: tuple[str, ...] = ()
    density: float | None = None

    @property
    def drawing(self) -> Path | None:
        """Where the drawing lies, or None when the top comes from a table."""
        return None if self.top.drawing is None else self.folder / self.top.drawing

    def with_option(self, name: str) -> Plan:
        """Return this plan with the fills that an option replaces.

        Raises
        ------
        PlanError
            The plan has no option of that name.
        """
        if name not in self.options:
            near = nearest(name, self.options)
            raise PlanError(
                f"has no option '{name}'; {_options_told(self.options)}",
                file=self.file,
                what_to_do=f"Did you mean '{near}'?" if near else None,
            )
        changed = {zone: _replaced(self.fills[zone], fills) for zone, fills in self.options[name].items()}
        return replace(self, fills={**self.fills, **changed}, option=name)


def _options_told(options: Mapping[str, Any]) -> str:
    return f"its options are {list_of(list(options))}" if options else "it has none"


def _replaced(fills: RawFills, by: RawFills) -> RawFills:
    kept = {part: stack for part, stack in fills.items() if not any(matching(new, [part]) for new in by)}
    return {**kept, **by}


class _PlanTable(Table):
    title: Name = "Untitled"
    units: Unit = "in"
    chance: Annotated[int, Field(strict=True, ge=0, le=2**63 - 1)] = 7
    top: TopTable
    machine: MachineTable = MachineTable()
    batting: BattingTable = BattingTable()
    thread: Annotated[dict[Name, ThreadTable], Field(max_length=100)] = Field(default_factory=dict)
    fabrics: Annotated[dict[Name, Fabric], Field(max_length=200)] = Field(default_factory=dict)
    prices: PricesTable | None = None
    quilt: QuiltTable = QuiltTable()
    straight: StraightLimitsTable = StraightLimitsTable()
    measured: Annotated[tuple[MeasuredPieceTable, ...], Field(max_length=MOST_ZONES)] = ()
    zone: Annotated[tuple[ZoneTable, ...], Field(max_length=MOST_ZONES)] = ()
    guide: Annotated[tuple[GuideTable, ...], Field(max_length=MOST_GUIDES)] = ()
    options: dict[Name, dict[Name, Any]] = Field(default_factory=dict)


def read_plan(path: str | Path) -> Plan:
    """Read a plan file.

    Parameters
    ----------
    path : path
        A TOML file.

    Returns
    -------
    Plan
        Checked, but for the settings of its fills.

    Raises
    ------
    PlanError
        It can't be read, or something in it can't be used; the message says what, where and the way out.
    """
    path = Path(path)
    missing = "Check the name, or start one with 'plumeline new'."
    if not path.suffix and os.path.isfile(f"{path}.toml"):  # noqa: PTH113 - Path.is_file() raises at a name too long
        missing = f"Did you mean '{path.name}.toml'?"
    data = read_plain_file(path, PlanError, most=MOST_BYTES, missing=missing)
    if path.suffix.lower() in NO_PLANS:
        raise PlanError(
            f"is no plan; a plan is a text file that ends in .toml, not in {path.suffix}",
            file=path.name,
            what_to_do="Give the plan, or start one with 'plumeline new'.",
        )
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        raise PlanError(
            f"line {line} is not UTF-8 text", file=path.name, what_to_do="Save the file with the encoding UTF-8."
        ) from None
    return parse_plan(text, file=path.name, folder=path.parent)


def parse_plan(text: str, *, file: str = "plan.toml", folder: str | Path = ".") -> Plan:
    """Read a plan from its text; see `read_plan`.

    Parameters
    ----------
    text : str
        The plan as TOML.
    file : str
        Its name, for messages.
    folder : path
        Where the files that it names lie.

    Returns
    -------
    Plan
        Checked, but for the settings of its fills.

    Raises
    ------
    PlanError
        It is no TOML, or something in it can't be used.
    """
    try:
        raw = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise toml_fault(text, error, file=file) from None
    except RecursionError:
        raise PlanError("has lists nested too deeply to read", file=file) from None
    except ValueError:
        raise PlanError("has a number with too many digits to read", file=file) from None
    try:
        _check_values(raw, file)
    except PlanError as error:
        raise _in_zone(error, raw) from None
    return _plan(raw, file, Path(folder))


def _texts(value: Any) -> Iterator[str]:
    """Yield every text in a plan's tables, keys too."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for key, inner in value.items():
            yield key
            yield from _texts(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from _texts(inner)


def _check_values(value: Any, file: str, key: str = "", depth: int = 0) -> None:
    """Refuse what no table of a plan can hold, also in fill settings that are read later."""
    if depth > MOST_DEPTH:
        raise PlanError(f"is nested more than {MOST_DEPTH} deep", file=file, key=key)
    if isinstance(value, dict):
        for name, inner in value.items():
            _check_text(name, file, f"{key}.{name}" if key else name)
            _check_values(inner, file, f"{key}.{name}" if key else name, depth + 1)
    elif isinstance(value, list):
        for place, inner in enumerate(value):
            _check_values(inner, file, f"{key}.{place + 1}", depth + 1)
    elif isinstance(value, (int, float)):
        if isinstance(value, float) and not math.isfinite(value):
            raise PlanError(f"is {value}; must be a finite number", file=file, key=key)
        if abs(value) > MOST_NUMBER and key != "chance":
            raise PlanError(f"is a number over {MOST_NUMBER:g}; must be smaller", file=file, key=key)
    elif isinstance(value, str):
        _check_text(value, file, key)
    else:
        raise PlanError(f"is the date or time {value}; must be a number or text in quotes", file=file, key=key)


def _check_text(text: str, file: str, key: str) -> None:
    if any(map(unprintable, text)):
        raise PlanError(
            f"is '{shown(text)}'; must be on one line, of letters that can be printed",
            file=file,
            key=key,
            what_to_do="Take the line break or the control character out.",
        )


def _plan(raw: dict[str, Any], file: str, folder: Path) -> Plan:
    if "top" not in raw:
        raise PlanError(
            "is missing", file=file, key="top", what_to_do='Say where the patches come from, as drawing = "top.svg".'
        )
    raw = with_rows(raw, folder, file)
    said = raw.get("units", "in")
    units = said if isinstance(said, str) and said in MM_PER else "in"
    try:
        table = _PlanTable.model_validate(raw, context={"units": units})
    except ValidationError as error:
        raise _in_zone(settings_errors(error, _PlanTable, raw, units=units, file=file)[0], raw) from None
    if table.top.drawing is not None:
        _stays_inside(table.top.drawing, folder, file, "top.drawing")
    for key, named in (("top.photo", table.top.photo), ("top.film", table.top.film)):
        if named is not None:
            _stays_inside(named, folder, file, key)
    for pattern, fabric in table.fabrics.items():
        if fabric.picture is not None:
            _stays_inside(fabric.picture, folder, file, f"fabrics.{pattern}.picture")
    threads = {name: thread.thread(name) for name, thread in table.thread.items()}
    threads.setdefault("main", Thread())
    zones = tuple(_shared(zone.spec(), table.options) for zone in table.zone)
    _check_zones(zones, threads, file)
    fills = {spec.name: _fills(zone.fill, spec, file, "fill") for zone, spec in zip(table.zone, zones)}
    written = [{zone.name: zone.fill for zone in table.zone}, *table.options.values()]
    return Plan(
        file=file,
        folder=folder,
        title=table.title,
        units=table.units,
        chance=table.chance,
        top=table.top,
        machine=table.machine.machine(),
        batting=table.batting.batting(),
        threads=threads,
        fabrics=table.fabrics,
        prices=table.prices,
        density=table.quilt.seen,
        measured=table.measured,
        straight=table.straight,
        zones=zones,
        fills=fills,
        options=_options(table.options, zones, file),
        texts=tuple(sorted(set(_texts(raw)))),
        guides=tuple(guide.spec() for guide in table.guide),
        in_old_words=tuple(dict.fromkeys(name for tables in written for name in _in_old_words(tables))),
    )


def _shared(spec: ZoneSpec, options: Mapping[str, Mapping[str, Any]]) -> ZoneSpec:
    """Return a zone that is to share its patches only where every option leaves it in the ditch too."""
    others = [zones[spec.name] for zones in options.values() if spec.name in zones]
    return replace(spec, shares=spec.shares and all(map(only_ditch, others)))


def _in_zone(error: PlanError, raw: Mapping[str, Any]) -> InputError:
    """Return the error with the zone's name in place of its number."""
    steps = (error.key or "").split(".")
    if steps[0] != "zone" or len(steps) < 2:
        return error
    entry = raw["zone"][int(steps[1]) - 1]
    name = entry.get("name") if isinstance(entry, Mapping) else None
    if isinstance(name, str) and name:
        error.zone, error.key = name, ".".join(steps[2:]) or None
    else:
        error.key = ".".join([f"zone {steps[1]}", *steps[2:]])
    if steps[2:] == ["kind"]:
        error.what_to_do = "A kind stands below a line [zone.fill]: write that line, or take the # away before it."
    return error


def _stays_inside(drawing: str, folder: Path, file: str, key: str) -> None:
    windows = PureWindowsPath(drawing)
    parts = {*PurePosixPath(drawing).parts, *windows.parts}
    outside = ".." in parts or PurePosixPath(drawing).is_absolute() or bool(windows.drive or windows.root)
    if outside or not leads_inside(folder / drawing, folder):
        raise PlanError(
            f"is '{drawing}'; must stay within the plan's folder",
            file=file,
            key=key,
            what_to_do="Put the file itself beside the plan.",
        )


def _check_zones(zones: tuple[ZoneSpec, ...], threads: Mapping[str, Thread], file: str) -> None:
    names: set[str] = set()
    for spec in zones:
        if spec.name in names:
            raise PlanError(
                "is the name of two zones",
                file=file,
                zone=spec.name,
                what_to_do="Give one of them another name, or list the patches of both in one.",
            )
        names.add(spec.name)
        if spec.thread not in threads:
            raise PlanError(
                f"is '{spec.thread}'; must be one of {list_of(list(threads))}",
                file=file,
                zone=spec.name,
                key="thread",
                what_to_do=f"Add a table [thread.{spec.thread}].",
            )


def _fills(value: Any, spec: ZoneSpec, file: str, key: str) -> RawFills:
    """Return a zone's fills by part; an undivided zone's is the fill of its one part, ``""``."""
    if value is None:
        return {}
    where = {"file": file, "zone": spec.name}
    if isinstance(value, list) or (isinstance(value, dict) and ("kind" in value or (not spec.divide and not value))):
        if spec.divide:
            raise PlanError(
                f"has no part; the zone is divided into {list_of(spec.part_names)}",
                key=key,
                what_to_do=f"Write the fill of each part, as in [{'zone.' if key == 'fill' else ''}{key}.{INSIDE}].",
                **where,
            )
        return {"": _stack(value, key, where)}
    if not isinstance(value, dict):
        raise PlanError(f"is {value!r}; must be a table with a kind", key=key, **where)
    for part, table in value.items():
        if not isinstance(table, (dict, list)) or (not spec.divide and part not in OLD_INSIDE):
            if spec.divide:
                raise unknown_key(f"{key}.{part}", spec.part_names, **where)
            raise PlanError("has no kind; must say which fill", key=key, what_to_do='Add kind = "...".', **where)
        if not matching(_today(part, spec), spec.part_names):
            raise unknown_key(f"{key}.{part}", spec.part_names, **where)
    return {_today(part, spec): _stack(table, f"{key}.{part}", where) for part, table in value.items()}


def _today(part: str, spec: ZoneSpec) -> str:
    """Return what a part is called today."""
    return part if part not in OLD_INSIDE else INSIDE if spec.divide else ""


def _in_old_words(tables: Mapping[str, Any]) -> tuple[str, ...]:
    """Return the names of zones whose fills name a part as plans did before."""
    return tuple(
        name
        for name, fills in tables.items()
        if isinstance(fills, dict) and "kind" not in fills and any(part in fills for part in OLD_INSIDE)
    )


def _stack(value: dict[str, Any] | list[Any], key: str, where: dict[str, str]) -> tuple[Mapping[str, Any], ...]:
    layers = value if isinstance(value, list) else [value]
    if not 1 <= len(layers) <= MOST_LAYERS:
        raise PlanError(f"has {len(layers)} fills; must have 1 to {MOST_LAYERS}", key=key, **where)
    for place, layer in enumerate(layers):
        at = f"{key}.{place + 1}" if len(layers) > 1 else key
        if not isinstance(layer, dict):
            raise PlanError(f"is {layer!r}; must be a table with a kind", key=at, **where)
        if not isinstance(layer.get("kind"), str):
            rule = f"is {layer['kind']!r}; must be the name of a fill" if "kind" in layer else "is missing"
            raise PlanError(rule, key=f"{at}.kind", what_to_do="Say which fill.", **where)
    return tuple(layers)


def _options(
    raw: Mapping[str, Mapping[str, Any]], zones: tuple[ZoneSpec, ...], file: str
) -> dict[str, dict[str, RawFills]]:
    by_name = {spec.name: spec for spec in zones}
    options: dict[str, dict[str, RawFills]] = {}
    for option, changes in raw.items():
        options[option] = {}
        for zone, fills in changes.items():
            if zone not in by_name:
                raise unknown_key(f"options.{option}.{zone}", list(by_name), file=file)
            options[option][zone] = _fills(fills, by_name[zone], file, f'options.{option}."{zone}"')
    return options
