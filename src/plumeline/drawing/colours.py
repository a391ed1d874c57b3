"""Colours of a drawing: as ``#rrggbb``, and as the word a person would use."""

from __future__ import annotations

import colorsys
import re
from typing import Final

__all__ = ["colour_hex", "colour_share", "colour_word"]

_NAMES: Final = """
aliceblue:f0f8ff antiquewhite:faebd7 aqua:00ffff aquamarine:7fffd4 azure:f0ffff beige:f5f5dc bisque:ffe4c4
black:000000 blanchedalmond:ffebcd blue:0000ff blueviolet:8a2be2 brown:a52a2a burlywood:deb887 cadetblue:5f9ea0
chartreuse:7fff00 chocolate:d2691e coral:ff7f50 cornflowerblue:6495ed cornsilk:fff8dc crimson:dc143c cyan:00ffff
darkblue:00008b darkcyan:008b8b darkgoldenrod:b8860b darkgray:a9a9a9 darkgreen:006400 darkgrey:a9a9a9 darkkhaki:bdb76b
darkmagenta:8b008b darkolivegreen:556b2f darkorange:ff8c00 darkorchid:9932cc darkred:8b0000 darksalmon:e9967a
darkseagreen:8fbc8f darkslateblue:483d8b darkslategray:2f4f4f darkslategrey:2f4f4f darkturquoise:00ced1
darkviolet:9400d3 deeppink:ff1493 deepskyblue:00bfff dimgray:696969 dimgrey:696969 dodgerblue:1e90ff firebrick:b22222
floralwhite:fffaf0 forestgreen:228b22 fuchsia:ff00ff gainsboro:dcdcdc ghostwhite:f8f8ff gold:ffd700 goldenrod:daa520
gray:808080 green:008000 greenyellow:adff2f grey:808080 honeydew:f0fff0 hotpink:ff69b4 indianred:cd5c5c indigo:4b0082
ivory:fffff0 khaki:f0e68c lavender:e6e6fa lavenderblush:fff0f5 lawngreen:7cfc00 lemonchiffon:fffacd lightblue:add8e6
lightcoral:f08080 lightcyan:e0ffff lightgoldenrodyellow:fafad2 lightgray:d3d3d3 lightgreen:90ee90 lightgrey:d3d3d3
lightpink:ffb6c1 lightsalmon:ffa07a lightseagreen:20b2aa lightskyblue:87cefa lightslategray:778899
lightslategrey:778899 lightsteelblue:b0c4de lightyellow:ffffe0 lime:00ff00 limegreen:32cd32 linen:faf0e6
magenta:ff00ff maroon:800000 mediumaquamarine:66cdaa mediumblue:0000cd mediumorchid:ba55d3 mediumpurple:9370db
mediumseagreen:3cb371 mediumslateblue:7b68ee mediumspringgreen:00fa9a mediumturquoise:48d1cc mediumvioletred:c71585
midnightblue:191970 mintcream:f5fffa mistyrose:ffe4e1 moccasin:ffe4b5 navajowhite:ffdead navy:000080 oldlace:fdf5e6
olive:808000 olivedrab:6b8e23 orange:ffa500 orangered:ff4500 orchid:da70d6 palegoldenrod:eee8aa palegreen:98fb98
paleturquoise:afeeee palevioletred:db7093 papayawhip:ffefd5 peachpuff:ffdab9 peru:cd853f pink:ffc0cb plum:dda0dd
powderblue:b0e0e6 purple:800080 rebeccapurple:663399 red:ff0000 rosybrown:bc8f8f royalblue:4169e1 saddlebrown:8b4513
salmon:fa8072 sandybrown:f4a460 seagreen:2e8b57 seashell:fff5ee sienna:a0522d silver:c0c0c0 skyblue:87ceeb
slateblue:6a5acd slategray:708090 slategrey:708090 snow:fffafa springgreen:00ff7f steelblue:4682b4 tan:d2b48c
teal:008080 thistle:d8bfd8 tomato:ff6347 turquoise:40e0d0 violet:ee82ee wheat:f5deb3 white:ffffff whitesmoke:f5f5f5
yellow:ffff00 yellowgreen:9acd32
"""

_NAMED: Final = dict(pair.split(":") for pair in _NAMES.split())
"""The colour names of CSS Color 4."""


def colour_hex(text: str) -> str | None:
    """Return a colour as ``#rrggbb``; None for no colour, a pattern or gradient, or a name outside CSS.

    Examples
    --------
    >>> colour_hex("rgb(100%, 50%, 0%)"), colour_hex("hsl(120, 100%, 25%)"), colour_hex("url(#weave)")
    ('#ff7f00', '#008000', None)
    """
    word = text.strip().lower()
    if match := re.fullmatch(r"#([0-9a-f]{3,4}|[0-9a-f]{6}|[0-9a-f]{8})", word):
        digits = match[1]
        if len(digits) < 6:
            digits = "".join(2 * d for d in digits)
        return f"#{digits[:6]}"
    if match := re.fullmatch(r"(rgb|hsl)a?\(([^)]*)\)", word):
        parts = re.split(r"[\s,/]+", match[2].strip())[:3]
        if len(parts) == 3 and all(re.fullmatch(r"-?\d*\.?\d+(%|deg)?", p) for p in parts):
            return _from_parts(match[1], parts)
    return f"#{_NAMED[word]}" if word in _NAMED else None


def colour_share(text: str) -> float:
    """Return how much a colour covers by its own word, 0 to 1: 1 where it says nothing of it.

    Examples
    --------
    >>> colour_share("rgba(0, 0, 0, 0.5)"), colour_share("#00000033"), colour_share("red")
    (0.5, 0.2, 1.0)
    """
    word = text.strip().lower()
    if word == "transparent":
        return 0.0
    if match := re.fullmatch(r"#(?:[0-9a-f]{3}([0-9a-f])|[0-9a-f]{6}([0-9a-f]{2}))", word):
        return int(match[2] or 2 * match[1], 16) / 255
    if match := re.fullmatch(r"(?:rgb|hsl)a?\([^,/)]*(?:(?:,[^,)]*){2},|/)\s*(\d*\.?\d+)(%?)\s*\)", word):
        return min(float(match[1]) / (100 if match[2] else 1), 1.0)
    return 1.0


def _from_parts(kind: str, parts: list[str]) -> str:
    if kind == "hsl":
        hue, saturation, light = (float(p.rstrip("%deg")) for p in parts)
        shares = colorsys.hls_to_rgb(hue / 360 % 1, min(light / 100, 1), min(saturation / 100, 1))
        values = [255 * v for v in shares]
    else:
        values = [float(p[:-1]) * 2.55 if p.endswith("%") else float(p.rstrip("deg")) for p in parts]
    return "#" + "".join(f"{min(255, max(0, int(v + 0.5))):02x}" for v in values)


_HUES: Final = (
    (14, "red"), (42, "orange"), (68, "yellow"), (165, "green"), (195, "teal"), (255, "blue"), (295, "purple"),
    (342, "pink"), (361, "red"),
)  # fmt: skip
"""Where one colour word ends on the wheel of hues, in degrees."""


def colour_word(colour: str) -> str:
    """Return the word a person would use for a colour ``#rrggbb``.

    Examples
    --------
    >>> colour_word("#fafafa"), colour_word("#1f3a8a"), colour_word("#f4c2c2")
    ('white', 'dark-blue', 'light-red')
    """
    red, green, blue = (int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5))
    hue, light, _ = colorsys.rgb_to_hls(red, green, blue)
    spread = max(red, green, blue) - min(red, green, blue)
    if spread < 0.12:
        return "white" if light > 0.92 else "black" if light < 0.12 else "grey"
    word = next(name for end, name in _HUES if hue * 360 < end)
    if word == "orange" and light < 0.45:
        return "brown"
    return f"light-{word}" if light > 0.75 else f"dark-{word}" if light < 0.35 else word
