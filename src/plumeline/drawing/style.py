"""Which style an element of a drawing has: fill, stroke, whether it is seen. Attribute, style sheet, ``style``."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Final, Self

from .xml_file import TooMuchError

__all__ = ["FAINT", "Rules", "Seen", "Style", "declared", "parse_rules", "seen_of", "share", "styled", "target_of"]

_READ: Final = (
    "fill", "stroke", "fill-rule", "display", "visibility", "opacity", "fill-opacity", "stroke-opacity",
    "stroke-width", "color", "clip-path", "clip-rule", "mask", "stop-opacity", "stop-color",
)  # fmt: skip

FAINT: Final = 0.01
"""Paint that lets through all but this share is not seen."""

LONGEST_SELECTOR: Final = 200
"""Letters of one selector; longer ones are passed over."""

MOST_SELECTORS: Final = 20_000
MOST_TRIED: Final = 1_000_000
"""Selectors of a style sheet, and how often parts of them are held against elements; beyond them it is a mistake."""

LONGEST_VALUE: Final = 200
"""Letters of one paint, share or width; longer ones are none."""

Value = Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Seen:
    """What a selector can ask of an element."""

    tag: str
    id: str = ""
    classes: frozenset[str] = frozenset()
    first: bool = False


def seen_of(tag: str, attributes: Value, *, first: bool = False) -> Seen:
    """Return what selectors can ask of an element; tags and classes in small letters."""
    return Seen(tag.lower(), attributes.get("id", ""), frozenset(attributes.get("class", "").lower().split()), first)


@dataclass(frozen=True, slots=True)
class _Part:
    """One compound selector: ``rect.a#b``."""

    tag: str = "*"
    ids: tuple[str, ...] = ()
    classes: tuple[str, ...] = ()
    first: bool = False

    def fits(self, element: Seen) -> bool:
        return (
            self.tag in ("*", element.tag)
            and all(i == element.id for i in self.ids)
            and element.classes.issuperset(self.classes)
            and (element.first or not self.first)
        )


@dataclass(frozen=True, slots=True)
class _Rule:
    """A selector: its parts from the outside in, which of them must be direct children, and what it says."""

    parts: tuple[_Part, ...]
    direct: tuple[bool, ...]
    weight: tuple[int, int, int]
    place: int
    says: Value

    def fits(self, chain: Sequence[Seen]) -> bool:
        if not self.parts[-1].fits(chain[-1]):
            return False
        levels = {len(chain) - 1}  # where the part inside may stand; from the inside out
        for part, direct in zip(reversed(self.parts[:-1]), reversed(self.direct[:-1])):
            near = {k - 1 for k in levels} if direct else set(range(max(levels)))
            levels = {k for k in near if k >= 0 and part.fits(chain[k])}
            if not levels:
                return False
        return True


@dataclass(slots=True)
class Rules:
    """The rules of a style sheet, found by what their last part asks for; ``file`` is said in a refusal."""

    file: str = ""
    by_key: dict[str, list[_Rule]] = field(default_factory=dict)
    tried: int = 0

    def says(self, chain: Sequence[Seen]) -> Iterator[Value]:
        """Yield what the rules that fit the last element of a chain say, the weakest first.

        Raises
        ------
        TooMuchError
            So many rules for so many elements are a mistake or an attack.
        """
        if not self.by_key:
            return
        element = chain[-1]
        keys = ["*", element.tag, f"#{element.id}", *(f".{c}" for c in sorted(element.classes))]
        likely = [rule for key in keys for rule in self.by_key.get(key, ())]
        self.tried += sum(1 + (len(rule.parts) - 1) * len(chain) for rule in likely)
        if self.tried > MOST_TRIED:
            raise self.too_much("has too many rules for too many elements")
        found = [rule for rule in likely if rule.fits(chain)]
        for rule in sorted(found, key=lambda r: (r.weight, r.place)):
            yield rule.says

    def too_much(self, rule: str) -> TooMuchError:
        """Return the error of a style sheet beyond a limit."""
        way = "Save it as plain SVG, with the colours as attributes."
        return TooMuchError(rule, file=self.file, key="style", what_to_do=way)


_COMPOUND = re.compile(r"(?:\*|[\w-]+)?(?:[.#][\w-]+|:first-child)*")


def parse_rules(text: str, file: str = "") -> Rules:
    """Return the rules of a style sheet whose selectors are made of elements, ``*``, classes and ids.

    One may stand within another (``g rect``) or directly in it (``g > rect``). Other selectors are passed over; rules
    for print or for small screens too.

    Raises
    ------
    TooMuchError
        There are more than `MOST_SELECTORS`, each counted once in a rule.
    """
    rules = Rules(file)
    count = 0
    for place, (selectors, body) in enumerate(_blocks(text)):
        several = dict.fromkeys(selectors.split(","))  # said twice, it says no more
        count += len(several)
        if count > MOST_SELECTORS:
            raise rules.too_much(f"holds more than {MOST_SELECTORS:,} selectors")
        says = _declarations(body)
        for selector in several:
            rule = _rule(selector, place, says) if len(selector) <= LONGEST_SELECTOR else None
            if rule:
                last = rule.parts[-1]
                key = f"#{last.ids[0]}" if last.ids else f".{last.classes[0]}" if last.classes else last.tag
                rules.by_key.setdefault(key, []).append(rule)
    return rules


def _blocks(text: str) -> Iterator[tuple[str, str]]:
    # selectors and declarations; by splitting, not by searching, so that a long sheet takes no longer than its length
    first, *rest = text.split("/*")
    plain = first + "".join(part.partition("*/")[2] for part in rest)
    plain = plain.replace("<!--", " ").replace("-->", " ")
    around: list[str] = []
    for piece in plain.split("}"):
        *heads, body = piece.split("{")
        heads = [head.rpartition(";")[2] for head in heads]
        if not heads:  # the end of a block of blocks
            around = around[:-1]
            continue
        around += heads[:-1]
        if all(re.match(r"\s*@media\s+(all|screen)\s*$", a) for a in around) and "@" not in heads[-1]:
            yield heads[-1], body


def _rule(selector: str, place: int, says: Value) -> _Rule | None:
    words = re.sub(r"\s*>\s*", " > ", selector.strip()).split()
    parts: list[_Part] = []
    direct: list[bool] = []
    for k, word in enumerate(words):
        if word == ">":
            continue
        if not _COMPOUND.fullmatch(word):
            return None
        tag = re.match(r"[\w-]*", word)
        ids, classes = tuple(re.findall(r"#([\w-]+)", word)), tuple(re.findall(r"\.([\w-]+)", word.lower()))
        parts.append(_Part((tag[0].lower() if tag else "") or "*", ids, classes, ":first-child" in word))
        direct.append(k + 1 < len(words) and words[k + 1] == ">")
    if not parts:
        return None
    counted = [(len(p.ids), len(p.classes) + p.first, p.tag != "*") for p in parts]
    a, b, c = (sum(int(n) for n in column) for column in zip(*counted))
    return _Rule(tuple(parts), tuple(direct), (a, b, c), place, says)


def _declarations(text: str | None) -> dict[str, str]:
    pairs = (part.split(":", 1) for part in (text or "").split(";") if ":" in part)
    return {k.strip().lower(): v.replace("!important", "").strip() for k, v in pairs}


@dataclass(frozen=True, slots=True)
class Style:
    """Inherited style as written; ``shown`` is False under ``display: none``, which no child can undo."""

    fill: str = "black"
    stroke: str = "none"
    fill_rule: str = "nonzero"
    clip_rule: str = "nonzero"
    visibility: str = "visible"
    color: str = "black"
    opacity: float = 1.0
    fill_opacity: float = 1.0
    stroke_opacity: float = 1.0
    stroke_width: str = "1"
    shown: bool = True
    clip: str = ""
    mask: str = ""

    @property
    def filled(self) -> bool:
        """Whether the inside is painted."""
        return not _no_paint(self.fill) and self.opacity * self.fill_opacity > FAINT

    @property
    def stroked(self) -> bool:
        """Whether the outline is painted."""
        width = re.match(r"\s*[+-]?[\d.]+", self.stroke_width)
        thick = not width or float(width[0].strip(".") or 0) > 0
        return thick and not _no_paint(self.stroke) and self.opacity * self.stroke_opacity > FAINT

    @property
    def bare(self) -> bool:
        """Whether nothing paints it, though nothing hides it: an outline without a pen."""
        return self.opacity > FAINT and _no_paint(self.fill) and _no_paint(self.stroke)

    @property
    def seen(self) -> bool:
        """Whether the element is drawn at all."""
        return self.shown and self.visibility == "visible"

    def taken(self) -> Self:
        """Return this style without the clip and mask, which are not inherited but hold for the whole group."""
        return replace(self, clip="", mask="")


def _no_paint(paint: str) -> bool:
    word = paint.strip().lower()
    clear = re.fullmatch(r"(?:rgba|hsla)\(.*[,/]\s*0*(?:\.0*)?%?\s*\)|#[0-9a-f]{6}00|#[0-9a-f]{3}0", word)
    return word in ("none", "transparent") or bool(clear)


def declared(attributes: Value, chain: Sequence[Seen], rules: Rules) -> dict[str, str]:
    """Return what is said of an element itself: attributes, then rules from the weakest on, then ``style``."""
    given = {k: attributes[k].strip() for k in _READ if k in attributes}
    for says in rules.says(chain):
        given.update({k: v for k, v in says.items() if k in _READ})
    given.update(_declarations(attributes.get("style")))
    return {k: v for k, v in given.items() if 0 < len(v) <= LONGEST_VALUE and v.lower() != "inherit"}


def styled(parent: Style, attributes: Value, chain: Sequence[Seen], rules: Rules) -> Style:
    """Return an element's style: inherited, then attributes, rules from the weakest on, then ``style``.

    ``chain`` is the element and all that it is in, from the outside in.
    """
    new = declared(attributes, chain, rules)
    color = new.get("color", parent.color)
    fill, stroke = (_paint(new.get(k), old, color) for k, old in (("fill", parent.fill), ("stroke", parent.stroke)))
    return Style(
        fill=fill,
        stroke=stroke,
        fill_rule=new.get("fill-rule", parent.fill_rule).lower(),
        clip_rule=new.get("clip-rule", parent.clip_rule).lower(),
        visibility=new.get("visibility", parent.visibility).lower(),
        color=color,
        opacity=parent.opacity * share(new.get("opacity"), 1.0),
        fill_opacity=share(new.get("fill-opacity"), parent.fill_opacity),
        stroke_opacity=share(new.get("stroke-opacity"), parent.stroke_opacity),
        stroke_width=new.get("stroke-width", parent.stroke_width),
        shown=parent.shown and new.get("display", "").lower() != "none",
        clip=target_of(new.get("clip-path")),
        mask=target_of(new.get("mask")),
    )


def _paint(text: str | None, inherited: str, color: str) -> str:
    if text is None:
        return inherited
    if (text := text.strip()).startswith("var(") and text.endswith(")"):
        text = text[4:-1].partition(",")[2].strip() or inherited
    return color if text.lower() == "currentcolor" else text


def share(text: str | None, default: float) -> float:
    """Return a share or percentage as 0 to 1; the default where there is none, or no number."""
    found = re.fullmatch(r"\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:e[+-]?\d+)?)\s*(%?)\s*", text or "", re.IGNORECASE)
    if not found:
        return default
    return min(max(float(found[1]) / (100 if found[2] else 1), 0.0), 1.0)


def target_of(text: str | None) -> str:
    """Return the id that ``url(#id)`` names; empty for all else."""
    found = re.match(r"\s*url\(\s*['\"]?#([^'\")]+)['\"]?\s*\)", text or "")
    return found[1] if found else ""
