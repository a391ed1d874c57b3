"""Traditional blocks of the common trade, drawn from their plain geometry on a grid.

Only names that have been common property for generations are here; where one construction goes by several, the others
lead to it. Fabrics are named by what they do in the block; what is left round the figure is ``background``.
"""

from __future__ import annotations

import math
import re

from ..errors import TopError, nearest
from .cut_blocks import Cut, TraditionalBlock, block_of, four_turns

__all__ = ["FABRIC_COLOURS", "TRADITIONAL", "find_block"]

FABRIC_COLOURS = {
    "background": "#f1e9d8", "bird": "#35566f", "card-a": "#a23b3b", "card-b": "#35566f", "card-c": "#c0892f",
    "card-d": "#55703f", "center": "#c0892f", "chain": "#35566f", "claw": "#7a4a2b", "corner": "#8fa8b8",
    "dark": "#35566f", "dash": "#a23b3b", "edge": "#b9cbd3", "frame": "#c9d3cf", "goose": "#7a4a2b",
    "knot": "#c0892f", "large": "#b9cbd3", "light": "#e3d3ae", "middle": "#b07f57", "pad": "#7a4a2b",
    "rail": "#35566f", "round-a": "#c0892f", "round-b": "#a23b3b", "round-c": "#e3d3ae", "round-d": "#35566f",
    "round-e": "#b9cbd3", "round-f": "#55703f", "round-g": "#f1e9d8", "sash": "#c9d3cf", "sill": "#35566f",
    "snowball": "#f1e9d8", "spool": "#7a4a2b", "star": "#a23b3b", "stone": "#c0892f", "thread": "#a23b3b",
    "tie": "#35566f", "tooth": "#a23b3b", "triangle": "#35566f", "window": "#e3d3ae", "wing": "#35566f",
}  # fmt: skip
"""A colour for each fabric until the plan names her own: enough to see the figure."""

_DARK_LIGHT = {"d": "dark", "l": "light"}
_R2 = math.sqrt(2)


def _rectangle(letter: str, x: float, y: float, wide: float, high: float) -> Cut:
    return letter, ((x, y), (x + wide, y), (x + wide, y + high), (x, y + high))


def _goose(x: float, y: float, goose: str, sky: str) -> tuple[Cut, ...]:
    """Give a goose that flies up, two units wide and one high, and the sky beside it."""
    return (
        (goose, ((x, y + 1), (x + 1, y), (x + 2, y + 1))),
        (sky, ((x, y), (x + 1, y), (x, y + 1))),
        (sky, ((x + 1, y), (x + 2, y), (x + 2, y + 1))),
    )


def _patchwork() -> tuple[TraditionalBlock, ...]:
    """Return the blocks of squares and bars."""
    checked = "\n".join(" ".join("dl"[(x + y) % 2] for x in range(9)) for y in range(9))
    nine = [row.split() for row in checked.split("\n")]
    double = [[nine[y][x] if (x // 3 + y // 3) % 2 == 0 else "." for x in range(9)] for y in range(9)]
    plain = [_rectangle("b", 3 * x, 3 * y, 3, 3) for y in range(3) for x in range(3) if (x + y) % 2]
    rounds = [[f"{abs(x - 3) + abs(y - 3)}" for x in range(7)] for y in range(7)]
    fence: list[Cut] = []
    for x, y, across in ((0, 0, True), (3, 0, False), (3, 3, True), (0, 3, False)):
        for k, letter in enumerate("dml"):
            fence.append(_rectangle(letter, x, y + k, 3, 1) if across else _rectangle(letter, x + k, y, 1, 3))
    bricks = [_rectangle("dl"[(x // 2 + y // 2) % 2], x, y, 2, 1) for y in (0, 2) for x in (0, 2)]
    bricks += [_rectangle("l" if y == 1 else "d", x, y, w, 1) for y in (1, 3) for x, w in ((0, 1), (3, 1))]
    bricks += [_rectangle("d" if y == 1 else "l", 1, y, 2, 1) for y in (1, 3)]
    return (
        block_of("four patch", "d l\nl d", fabrics=_DARK_LIGHT),
        block_of("nine patch", "d l d\nl d l\nd l d", fabrics=_DARK_LIGHT),
        block_of("sixteen patch", "d l d l\nl d l d\nd l d l\nl d l d", also=["checkerboard"], fabrics=_DARK_LIGHT),
        block_of(
            "double four patch",
            "d l . .\nl d . .\n. . d l\n. . l d",
            [_rectangle("b", 2, 0, 2, 2), _rectangle("b", 0, 2, 2, 2)],
            fabrics={"b": "background", **_DARK_LIGHT},
        ),
        block_of(
            "double nine patch",
            _joined(double),
            plain,
            fabrics={"b": "background", **_DARK_LIGHT},
        ),
        block_of(
            "puss in the corner",
            "k . . k\n. . . .\n. . . .\nk . . k",
            [("c", ((1, 1), (3, 1), (3, 3), (1, 3))), *four_turns(4, _rectangle("b", 1, 0, 2, 1))],
            fabrics={"b": "background", "c": "center", "k": "corner"},
        ),
        block_of(
            "double irish chain",
            "d m b m d\nm d m d m\nb m d m b\nm d m d m\nd m b m d",
            fabrics={"b": "background", "d": "chain", "m": "edge"},
        ),
        block_of(
            "trip around the world",
            _joined(rounds),
            fabrics={str(k): f"round-{'abcdefg'[k]}" for k in range(7)},
        ),
        block_of(
            "rail fence",
            "",
            fence,
            side=6,
            fabrics={"d": "dark", "m": "middle", "l": "light"},
        ),
        block_of("brick", "", bricks, also=["bricks", "brick wall"], side=4, fabrics=_DARK_LIGHT),
        block_of(
            "log cabin",
            "",
            _spiral_of_logs(),
            side=7,
            fabrics={"c": "center", **_DARK_LIGHT},
        ),
        block_of(
            "courthouse steps",
            "",
            _steps(),
            side=7,
            fabrics={"c": "center", **_DARK_LIGHT},
        ),
        block_of(
            "quarter log cabin",
            "",
            [
                _rectangle("c", 0, 0, 1, 1),
                *(cut for k in (1, 2, 3) for cut in (_rectangle("l", k, 0, 1, k), _rectangle("d", 0, k, k + 1, 1))),
            ],
            also=["half log cabin"],
            side=4,
            fabrics={"c": "center", **_DARK_LIGHT},
        ),
    )


def _joined(rows: list[list[str]]) -> str:
    return "\n".join(" ".join(row) for row in rows)


def _spiral_of_logs() -> list[Cut]:
    """Give three rounds of logs round a center, each sewn on after the one before: two light, two dark."""
    cuts = [_rectangle("c", 3, 3, 1, 1)]
    for k in (1, 2, 3):
        low, long = 3 - k, 2 * k
        cuts += [
            _rectangle("l", low + 1, low, long - 1, 1),  # above
            _rectangle("l", low + long, low, 1, long),  # to the right
            _rectangle("d", low + 1, low + long, long, 1),  # below
            _rectangle("d", low, low, 1, long + 1),  # to the left
        ]
    return cuts


def _steps() -> list[Cut]:
    """Give three rounds of logs round a center, sewn on in pairs: light above and below, dark at the sides."""
    cuts = [_rectangle("c", 3, 3, 1, 1)]
    for k in (1, 2, 3):
        low, long = 3 - k, 2 * k
        cuts += [_rectangle("l", low + 1, y, long - 1, 1) for y in (low, low + long)]
        cuts += [_rectangle("d", x, low, 1, long + 1) for x in (low, low + long)]
    return cuts


def _triangles() -> tuple[TraditionalBlock, ...]:
    """Return the blocks of squares cut corner to corner."""
    broken = (
        r"l\d d/l d\l l/d",
        r"l/d d\l d/l l\d",
        r"d\l l/d l\d d/l",
        r"d/l l\d l/d d\l",
    )
    big = [("d", ((4, 1), (4, 4), (1, 4))), ("l", ((1, 1), (4, 1), (1, 4)))]
    lady = [["l/d" if x in (0, 4) or y in (0, 4) else "." for x in range(5)] for y in range(5)]
    return (
        block_of("half-square triangle", "l/d", fabrics=_DARK_LIGHT),
        block_of("quarter-square triangle", "dldl", also=["hourglass"], fabrics=_DARK_LIGHT),
        block_of(
            "split quarter-square triangle",
            ".",
            [("d", ((1, 0), (1, 1), (0, 1))), ("l", ((0, 0), (1, 0), (0.5, 0.5))), ("m", ((0, 0), (0.5, 0.5), (0, 1)))],
            fabrics={"m": "middle", **_DARK_LIGHT},
        ),
        block_of("pinwheel", "l\\d l/d\nd/l d\\l", fabrics=_DARK_LIGHT),
        block_of("broken dishes", "\n".join(broken), fabrics=_DARK_LIGHT),
        block_of("split nine patch", "d d d/l\nd d/l l\nd/l l l", fabrics=_DARK_LIGHT),
        block_of(
            "flock of geese",
            ". . l/d l/d\n. . l/d l/d\nl/d l/d . .\nl/d l/d . .",
            [
                (letter, tuple((x + shift, y + shift) for x, y in points))
                for shift in (0, 2)
                for letter, points in (("l", ((0, 0), (2, 0), (0, 2))), ("d", ((2, 0), (2, 2), (0, 2))))
            ],
            fabrics=_DARK_LIGHT,
        ),
        block_of(
            "birds in the air",
            "d/b d/b .\nd/b . .\n. . .",
            [("d", ((k, 2 - k), (k + 1, 2 - k), (k, 3 - k))) for k in range(3)] + [("l", ((3, 0), (3, 3), (0, 3)))],
            fabrics={"b": "background", "d": "bird", "l": "large"},
        ),
        block_of("lady of the lake", _joined(lady), big, fabrics=_DARK_LIGHT),
        block_of(
            "buckeye beauty",
            "d l . .\nl d . .\n. . d l\n. . l d",
            [
                ("b", ((2, 0), (4, 0), (4, 2))),
                ("t", ((2, 0), (4, 2), (2, 2))),
                ("t", ((0, 2), (2, 2), (2, 4))),
                ("b", ((0, 2), (2, 4), (0, 4))),
            ],
            fabrics={"b": "background", "t": "triangle", **_DARK_LIGHT},
        ),
        block_of(
            "jacob's ladder",
            "l d . . l d\nd l . . d l\n. . l d . .\n. . d l . .\nl d . . l d\nd l . . d l",
            [
                (letter, tuple((x + right, y + down) for x, y in points))
                for right, down, upper, lower in (
                    (2, 0, "t", "b"),
                    (0, 2, "t", "b"),
                    (4, 2, "b", "t"),
                    (2, 4, "b", "t"),
                )
                for letter, points in ((upper, ((0, 0), (2, 0), (0, 2))), (lower, ((2, 0), (2, 2), (0, 2))))
            ],
            fabrics={"b": "background", "t": "triangle", **_DARK_LIGHT},
        ),
        block_of(
            "bear's paw",
            r"""
            b   k\b k\b .   b/k b/k b
            b\k .   .   .   .   .   k/b
            b\k .   .   .   .   .   k/b
            .   .   .   c   .   .   .
            b/k .   .   .   .   .   k\b
            b/k .   .   .   .   .   k\b
            b   k/b k/b .   b\k b\k b
            """,
            [
                *(_rectangle("p", x, y, 2, 2) for y in (1, 4) for x in (1, 4)),
                *four_turns(7, _rectangle("s", 3, 0, 1, 3)),
            ],
            fabrics={"b": "background", "c": "center", "k": "claw", "p": "pad", "s": "sash"},
        ),
    )


def _stars_and_rings() -> tuple[TraditionalBlock, ...]:
    """Return stars, and figures that go round a center."""
    half = _R2 / 2
    middle = 1 + half
    return (
        block_of(
            "sawtooth star",
            "b . . b\n. . . .\n. . . .\nb . . b",
            [
                _rectangle("c", 1, 1, 2, 2),
                *four_turns(
                    4,
                    ("b", ((1, 0), (3, 0), (2, 1))),
                    ("s", ((1, 0), (2, 1), (1, 1))),
                    ("s", ((3, 0), (3, 1), (2, 1))),
                ),
            ],
            fabrics={"b": "background", "c": "center", "s": "star"},
        ),
        block_of(
            "ohio star",
            "b bsbs b\nsbsb c sbsb\nb bsbs b",
            also=["variable star"],
            fabrics={"b": "background", "c": "center", "s": "star"},
        ),
        block_of(
            "friendship star",
            "b s\\b b\nb/s s s/b\nb b\\s b",
            fabrics={"b": "background", "s": "star"},
        ),
        block_of(
            "lemoyne star",
            "",
            four_turns(
                2 + _R2,
                ("b", ((0, 0), (1, 0), (1, 1), (0, 1))),
                ("b", ((1, 0), (1 + _R2, 0), (middle, half))),
                ("d", ((1, 0), (middle, half), (middle, middle), (1, 1))),
                ("l", ((1 + _R2, 0), (1 + _R2, 1), (middle, middle), (middle, half))),
            ),
            also=["eight-pointed star"],
            side=2 + _R2,
            fabrics={"b": "background", **_DARK_LIGHT},
        ),
        block_of(
            "kaleidoscope",
            "",
            four_turns(
                2 + _R2,
                ("k", ((0, 0), (1, 0), (0, 1))),
                ("l", ((1, 0), (1 + _R2, 0), (middle, middle))),
                ("d", ((0, 1), (1, 0), (middle, middle))),
            ),
            side=2 + _R2,
            fabrics={"k": "corner", **_DARK_LIGHT},
        ),
        block_of(
            "churn dash",
            "b/d . d\\b\n. c .\nb\\d . d/b",
            four_turns(3, _rectangle("b", 1, 0, 1, 0.5), _rectangle("d", 1, 0.5, 1, 0.5)),
            also=["hole in the barn door", "monkey wrench"],
            fabrics={"b": "background", "c": "center", "d": "dash"},
        ),
        block_of(
            "shoofly",
            "b/w b w\\b\nb c b\nb\\w b w/b",
            also=["shoo fly"],
            fabrics={"b": "background", "c": "center", "w": "wing"},
        ),
        block_of(
            "rolling stone",
            ". . .\n. c .\n. . .",
            four_turns(
                3,
                ("s", ((0.5, 0), (1, 0.5), (0.5, 1), (0, 0.5))),
                *(
                    ("d", points)
                    for points in (
                        ((0, 0), (0.5, 0), (0, 0.5)),
                        ((0.5, 0), (1, 0), (1, 0.5)),
                        ((1, 0.5), (1, 1), (0.5, 1)),
                        ((0, 0.5), (0.5, 1), (0, 1)),
                    )
                ),
                _rectangle("b", 1, 0, 1, 0.5),
                _rectangle("r", 1, 0.5, 1, 0.5),
            ),
            fabrics={"b": "background", "c": "center", "d": "corner", "r": "rail", "s": "stone"},
        ),
        block_of(
            "card trick",
            ". . .\n. . .\n. . .",
            _cards(),
            fabrics={"b": "background", "t": "card-a", "u": "card-b", "v": "card-c", "w": "card-d"},
        ),
        block_of(
            "dutchman's puzzle",
            "",
            four_turns(4, *_goose(0, 0, "g", "b"), *_goose(0, 1, "g", "b")),
            side=4,
            fabrics={"b": "background", "g": "goose"},
        ),
        block_of(
            "flying geese",
            "",
            [*_goose(0, 0, "g", "b"), *_goose(0, 1, "g", "b")],
            side=2,
            fabrics={"b": "background", "g": "goose"},
        ),
    )


def _cards() -> tuple[Cut, ...]:
    """Give four cards on point, each over its neighbour to one side and under the one to the other."""
    cuts: list[Cut] = []
    letters = "tuvw"
    first = (
        ("b", ((0, 0), (1, 0), (0, 1))),
        ("1", ((1, 0), (1, 1), (0, 1))),
        ("1", ((1, 0), (2, 1), (1, 1))),
        ("b", ((1, 0), (2, 0), (1.5, 0.5))),
        ("2", ((2, 0), (2, 1), (1.5, 0.5))),
        ("1", ((1, 1), (2, 1), (1.5, 1.5))),
    )
    turned = four_turns(3, *first)
    for k, (letter, points) in enumerate(turned):
        quarter = k // len(first)
        own = letters[(quarter + int(letter) - 1) % 4] if letter in "12" else letter
        cuts.append((own, points))
    return tuple(cuts)


def _figures() -> tuple[TraditionalBlock, ...]:
    """Return squares set in squares, and figures of a few large pieces."""
    return (
        block_of(
            "square in a square",
            "",
            [("c", ((1, 0), (2, 1), (1, 2), (0, 1))), *four_turns(2, ("k", ((0, 0), (1, 0), (0, 1))))],
            also=["diamond in a square"],
            side=2,
            fabrics={"c": "center", "k": "corner"},
        ),
        block_of(
            "economy patch",
            "",
            [
                _rectangle("c", 1, 1, 2, 2),
                *four_turns(4, ("m", ((1, 1), (2, 0), (3, 1))), ("k", ((0, 0), (2, 0), (0, 2)))),
            ],
            also=["thrift block"],
            side=4,
            fabrics={"c": "center", "k": "corner", "m": "middle"},
        ),
        block_of(
            "snowball",
            "",
            [
                ("s", ((1, 0), (2, 0), (3, 1), (3, 2), (2, 3), (1, 3), (0, 2), (0, 1))),
                *four_turns(3, ("k", ((0, 0), (1, 0), (0, 1)))),
            ],
            also=["octagon"],
            side=3,
            fabrics={"k": "corner", "s": "snowball"},
        ),
        block_of(
            "spool",
            ". . .\n. t .\n. . .",
            [
                ("s", ((0, 0), (3, 0), (2, 1), (1, 1))),
                ("b", ((3, 0), (3, 3), (2, 2), (2, 1))),
                ("s", ((3, 3), (0, 3), (1, 2), (2, 2))),
                ("b", ((0, 3), (0, 0), (1, 1), (1, 2))),
            ],
            fabrics={"b": "background", "s": "spool", "t": "thread"},
        ),
        block_of(
            "attic windows",
            "",
            [
                _rectangle("w", 1, 0, 3, 3),
                ("l", ((0, 0), (1, 0), (1, 3), (0, 4))),
                ("d", ((0, 4), (1, 3), (4, 3), (4, 4))),
            ],
            also=["attic window"],
            side=4,
            fabrics={"w": "window", "l": "frame", "d": "sill"},
        ),
        block_of(
            "bow tie",
            "",
            [
                _rectangle("t", 2, 0, 2, 2),
                _rectangle("t", 0, 2, 2, 2),
                ("b", ((0, 0), (2, 0), (2, 1), (1, 2), (0, 2))),
                ("k", ((2, 1), (2, 2), (1, 2))),
                ("b", ((4, 4), (2, 4), (2, 3), (3, 2), (4, 2))),
                ("k", ((2, 3), (2, 2), (3, 2))),
            ],
            also=["necktie"],
            side=4,
            fabrics={"b": "background", "k": "knot", "t": "tie"},
        ),
    )


TRADITIONAL: tuple[TraditionalBlock, ...] = tuple(
    sorted((*_patchwork(), *_triangles(), *_stars_and_rings(), *_figures()), key=lambda block: block.name)
)
"""All that are known, by name."""


def _key(name: str) -> str:
    return re.sub(r"[^a-z0-9]+", "", name.lower())


def find_block(name: str) -> TraditionalBlock:
    """Return the block of that name, also by another name; capitals, hyphens, blanks and apostrophes do not count.

    Parameters
    ----------
    name : str
        Of a traditional block.

    Returns
    -------
    TraditionalBlock
        Its pieces.

    Raises
    ------
    TopError
        There is none.
    """
    known = {_key(said): block for block in TRADITIONAL for said in (block.name, *block.also)}
    found = known.get(_key(name))
    if found is None:
        said = [one for block in TRADITIONAL for one in (block.name, *block.also)]
        near = nearest(name.lower().replace("-", " "), said)
        raise TopError(
            f"is {name!r}; no traditional block is called so",
            what_to_do=f"Did you mean '{near}'?" if near else "'plumeline blocks' lists them.",
        )
    return found
