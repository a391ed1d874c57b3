"""The one-file page to send: the quilt, its figures, and the stitching played; no request to anywhere."""

from __future__ import annotations

import base64
import json
import re
from collections.abc import Mapping
from html import escape
from typing import Any

from ..drawing.raster import jpeg_bytes
from ..output.cautions import cautions_text
from ..pipeline.cloth import cloth_light, cloth_of
from ..pipeline.compare import compared
from ..pipeline.writing import Quilt
from .assets import static_files
from .packing import pack

__all__ = ["show_page"]

MODULES = ("camera.js", "data.js", "cloth.js", "tapes.js", "player.js", "hands.js", "dom.js", "watch.js", "found.js",
           "show.js")  # fmt: skip
"""The parts of the page that it is made of, each after those that it needs."""

OPENING_QUALITY = 80
"""Of the JPEG that is seen until the stitches are unpacked: it is there for a moment."""

_IMPORT = re.compile(r"^import .*;\n", re.MULTILINE)
_EXPORT = re.compile(r"^export ", re.MULTILINE)


def show_page(quilts: Mapping[str, Quilt]) -> str:
    """Return one HTML page that holds everything: drawing, data and figures of each option.

    Parameters
    ----------
    quilts : mapping of option name to Quilt
        At least one; the first is shown first. A plan without options has one, named by its title.

    Returns
    -------
    str
        The page; it needs nothing from outside itself.
    """
    files = static_files()
    script = "".join(_EXPORT.sub("", _IMPORT.sub("", files[name].decode())) for name in MODULES)
    first = next(iter(quilts.values()))
    apart = [idea.apart for idea in compared(list(quilts.items()))]
    options = [_option(name, quilt, words) for (name, quilt), words in zip(quilts.items(), apart)]
    data = json.dumps(options, ensure_ascii=False).replace("</", "<\\/")
    title = escape(first.plan.title)
    return f"""<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; script-src 'unsafe-inline'; style-src \
'unsafe-inline'; img-src data: blob:">
<title>{title}</title>
<style>
{files["page.css"].decode()}
{files["show.css"].decode()}
</style>
</head>
<body class="sent">
<header><h1>{title}</h1><div class="row" id="acts">
<button type="button" id="see-spaces" aria-pressed="true">The quilt</button>
<button type="button" id="see-watch" aria-pressed="false">Watch it stitched</button>
<button type="button" id="see-found" aria-pressed="false">Figures and notes</button>
</div></header>
<main>
<div id="table">
<img id="opening" elementtiming="opening" alt="" src="{_opening(first)}">
<canvas id="cloth" tabindex="0" role="img" aria-describedby="said"
 aria-label="The quilt. Arrow keys move, plus and minus zoom, 0 shows all of it."></canvas>
<svg id="marks" aria-hidden="true"></svg>
<div class="row" id="zooms"><button type="button" id="closer" aria-label="Closer">+</button>
<button type="button" id="farther" aria-label="Farther">&minus;</button>
<button type="button" id="whole" aria-label="All of the quilt">All</button></div>
</div>
<aside id="beside" tabindex="0" aria-label="Ideas, figures and notes"></aside>
</main>
<section id="paper" aria-hidden="true"></section>
<footer><p id="said" role="status" aria-live="polite"></p>
<details id="cautions"><summary>Before anything is sewn: read this first</summary>
<pre>{escape(cautions_text(first.plan.title, ()))}</pre></details></footer>
<script type="application/json" id="data">{data}</script>
<script type="module">
{script}
</script>
</body>
</html>
"""


def _opening(quilt: Quilt) -> str:
    """Return the cloth as an address that holds it: it is seen at once, before the stitches are unpacked."""
    return "data:image/jpeg;base64," + base64.b64encode(jpeg_bytes(cloth_of(quilt), quality=OPENING_QUALITY)).decode()


def _option(name: str, quilt: Quilt, apart: str) -> dict[str, Any]:
    """Return one option as the page reads it: what sets it apart, its data, and the light on its cloth."""
    light, box = cloth_light(quilt)
    return {
        "name": name,
        "apart": apart,
        "data": base64.b64encode(pack(quilt.top, None, quilt)).decode(),
        "light": {"source": "data:image/jpeg;base64," + base64.b64encode(light).decode(), "box": box},
    }
