"""Everything that approved figures are taken of, by group and name: each case is called and tells its figures.

A case takes a nudge: 0 as it stands in the tables; with another its space is larger by so many billionths of itself,
which no figure should tell.
"""

from __future__ import annotations

import asyncio
import contextlib
import io
import json
import os
import shlex
import tempfile
from functools import cache, partial
from pathlib import Path
from unittest import mock

import httpx
import numpy as np
from PIL import Image

import approved_fills
import figures
from approved_page import ASKED, PAGE_PLAN
from approved_scenes import SCENES, nudged
from plumeline import __version__
from plumeline.cli import main
from plumeline.errors import PlumelineError
from plumeline.output import find_writer
from plumeline.page.app import make_app
from plumeline.page.house import House
from plumeline.top import SaidSize, from_drawing

FOREIGN = Path(__file__).parent / "data" / "foreign"
DRAWINGS = (
    "artboard.svg",
    "cairo.pdf",
    "diagram-editor.svg",
    "drawn-by-eye.svg",
    "editor-layers-in.svgz",
    "ezdxf-blocks-no-unit.dxf",
    "ezdxf-hatches.dxf",
    "ezdxf-seams.dxf",
    "figured.svg",
    "matplotlib-axes.svg",
    "one-path-a-colour.svg",
    "pstoedit.dxf",
    "reportlab.pdf",
    "rsvg-convert.svg",
    "seams-only.svg",
    "style-classes.svg",
    "toyplot.svg",
)
HERE = "http://127.0.0.1:8123"
ONE_WORKER = mock.patch("os.sched_getaffinity", return_value={0}, create=True)
"""The figures are the same for any number; one process is quicker for so little."""


KEPT = Path(__file__).parent / "data" / "approved"


def approved(group):
    """Return the approved figures of a group by case."""
    return json.loads((KEPT / f"{group}.json").read_text(encoding="utf-8"))


@cache
def cases():
    """Return all cases by group and name."""
    return {
        "fills": {name: partial(_filled, draw) for name, draw in approved_fills.cases().items()},
        "scenes": {name: partial(_played, scene) for name, scene in SCENES.items()},
        "drawings": {name: partial(_read, FOREIGN / name) for name in DRAWINGS},
        "page": {"asked and changed": _asked},
    }


def _filled(draw, nudge):
    return figures.of(draw(nudge))


def _read(path, nudge):
    """Read a drawing as a top 40 in wide, painted shapes first, then lines."""
    wide = SaidSize(width_mm=1016.0 * (1 + nudge * 1e-9))
    found = {}
    for how in ("painted", "lines"):
        try:
            found[how] = figures.of(from_drawing(path, read=how, size=wide))
        except PlumelineError as error:  # what is said of a drawing that can't be read so is a figure too
            found[how] = str(error)
    return found


# -- commands ---------------------------------------------------------------------------------------------------


def _played(scene, nudge):
    """Run the commands of a scene in a folder of its own; of each: code, words, and the files that it left."""
    found = []
    with tempfile.TemporaryDirectory() as folder, contextlib.chdir(folder):
        for name, text in scene.files.items():
            Path(name).write_text(nudged(text, nudge), encoding="utf-8")
        Image.fromarray(np.uint8(np.add.outer(np.arange(40) * 5, np.arange(60) * 2))).save("dots.png")
        seen = _files()
        for command in scene.commands:
            if command in scene.changes:
                name, was, now = scene.changes[command]
                Path(name).write_text(Path(name).read_text(encoding="utf-8").replace(was, now), encoding="utf-8")
                seen = _files()
            told = _run(shlex.split(command))
            files = _files()
            told["files"] = {name: _of_file(name, data) for name, data in files.items() if seen.get(name) != data}
            found.append({command: told})
            seen = files
    return figures.several(found) if len(found) <= figures.FEW else found


def _files():
    return {str(path): path.read_bytes() for path in sorted(Path().rglob("*")) if path.is_file()}


def _run(arguments):
    out, err = io.StringIO(), io.StringIO()
    before = {key: os.environ.get(key) for key in ("COLUMNS", "PLUMELINE_CACHE", "NO_COLOR")}
    os.environ.update({"COLUMNS": "110", "PLUMELINE_CACHE": "", "NO_COLOR": "1"})
    try:
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err), ONE_WORKER:
            main(arguments)
    except SystemExit as leave:
        code = leave.code
    finally:
        for key, value in before.items():
            os.environ.pop(key) if value is None else os.environ.update({key: value})
    return {"code": code, "out": figures.words(_plain(out.getvalue())), "err": figures.words(_plain(err.getvalue()))}


def _plain(text):
    return text.replace(__version__, "VERSION")


def _of_file(name, data):
    """Return the figures of a file; of a stitch file what its reader finds too."""
    suffix = Path(name).suffix.lower()
    if suffix in (".dst", ".exp"):
        return {
            "read": figures.of(find_writer(suffix[1:]).read(data)),
            "bytes": figures.array(np.frombuffer(data, "u1")),
        }
    if suffix in (".png", ".pdf"):
        return figures.of_picture(suffix, data)
    text = _plain(data.decode("utf-8"))
    return figures.of(json.loads(text)) if suffix == ".json" else figures.words(text)


# -- the page ---------------------------------------------------------------------------------------------------


def _asked(nudge):
    """Ask and change one plan on the page; of each request: code and what was answered."""
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / "page.toml").write_text(nudged(PAGE_PLAN, nudge), encoding="utf-8")
        before, os.environ["PLUMELINE_CACHE"] = os.environ.get("PLUMELINE_CACHE"), ""
        house = House(Path(folder))
        house.open("page.toml").wait(seconds=120)
        try:
            found = asyncio.run(_ask_all(house))
        finally:
            house.sitting.close()
            os.environ.pop("PLUMELINE_CACHE") if before is None else os.environ.update({"PLUMELINE_CACHE": before})
    return found


async def _ask_all(house):
    found = []
    transport = httpx.ASGITransport(make_app(house, lambda: None))
    async with httpx.AsyncClient(transport=transport, base_url=HERE) as client:
        for way, path, said in ASKED:
            answer = await client.request(way, path, json=said)
            if way == "POST":
                await asyncio.to_thread(house.sitting.wait, seconds=120)
            found.append({f"{way} {path} {'' if said is None else said.get('do', '')}": _of_answer(answer)})
    return found


def _of_answer(answer):
    kind = answer.headers["content-type"].partition(";")[0]
    told = {"code": answer.status_code}
    if kind == "application/octet-stream":
        long = int.from_bytes(answer.content[:4], "little")
        head, floats = json.loads(answer.content[4 : 4 + long]), np.frombuffer(answer.content[4 + long :], "<f4")
        told |= {"head": figures.of(head), "floats": figures.array(floats), "said": answer.headers.get("x-figures", "")}
    elif kind == "application/json":
        said = answer.json()
        # how often it was told and whether it is still at work depend on how quick the machine is
        hasty = ("number", "busy", "doing", "ready", "fresh")
        told["said"] = figures.of({k: v for k, v in said.items() if k not in hasty} if isinstance(said, dict) else said)
    elif kind == "application/x-ndjson":
        told["said"] = figures.of([json.loads(row) for row in answer.text.splitlines()])
    else:
        told["said"] = figures.words(answer.text)
    return told
