"""The page's addresses: what it can ask, and what it can do to the plan."""

from __future__ import annotations

import asyncio
import json
import tomllib
from collections.abc import AsyncIterator, Callable, Mapping
from dataclasses import asdict
from pathlib import Path
from typing import Any

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, Response, StreamingResponse
from starlette.routing import Route

from ..errors import InputError, PlumelineError
from ..ideas import ideas_for
from ..output import writer_names
from ..output.cautions import cautions_text
from ..sitting import PlanChangedError, Seen, Sitting
from .forms import fill_forms
from .house import House
from .packing import pack

__all__ = ["make_app", "static_files"]

STATIC = Path(__file__).parent / "static"
KINDS = {".html": "text/html; charset=utf-8", ".js": "text/javascript; charset=utf-8", ".css": "text/css"}

MOST_STREAMS = 12
"""Tabs that are told news at once; one more is refused, so that hanging ones can't pile up."""

ALIVE_SECONDS = 15.0
"""How often a quiet stream says that it is alive; a tab that is gone is noticed then."""


LOOK_SECONDS = 0.1
"""How often a stream looks whether there is news: soon enough, and it notices the end of the program."""


def static_files() -> dict[str, bytes]:
    """Return the page's own files by name; nothing else is ever served from there."""
    return {path.name: path.read_bytes() for path in sorted(STATIC.iterdir()) if path.suffix in KINDS}


def make_app(house: House, stop: Callable[[], None], *, ending: Callable[[], bool] = lambda: False) -> Starlette:
    """Return the page of one house; ``stop`` ends the server when she says so, ``ending`` tells whether it ends."""
    return Starlette(routes=_Pages(house, stop, ending).routes())


class _Pages:
    def __init__(self, house: House, stop: Callable[[], None], ending: Callable[[], bool]) -> None:
        self.house, self.stop, self.ending = house, stop, ending
        self.files = static_files()
        self.forms = fill_forms()
        self.streams = 0

    def routes(self) -> list[Route]:
        gets = {
            "/": self.front,
            "/static/{name}": self.static,
            "/state": self.state,
            "/data": self.data,
            "/fills": self.fills,
            "/zones": self.zones,
            "/text": self.text,
            "/ideas": self.ideas,
            "/events": self.events,
        }
        posts = {
            "/edit": self.edit,
            "/start": self.start,
            "/files": self.write,
            "/zip": self.zip,
            "/stop": self.end,
        }
        return [
            *(Route(path, self._said(to), methods=["GET"]) for path, to in gets.items()),
            *(Route(path, self._said(to), methods=["POST"]) for path, to in posts.items()),
        ]

    def _said(self, to: Callable[[Request], Any]) -> Callable[[Request], Any]:
        """Return a handler whose errors are one plain line to her."""

        async def handler(request: Request) -> Response:
            try:
                answer: Response = await to(request)
            except PlanChangedError as error:
                return JSONResponse({"error": str(error), "clash": True}, 409)
            except InputError as error:
                return JSONResponse({"error": str(error)}, 422)
            except PlumelineError as error:
                return JSONResponse({"error": str(error)}, 500)
            return answer

        return handler

    # -- asked ----------------------------------------------------------------------------------------------

    async def front(self, _request: Request) -> Response:
        return Response(self.files["index.html"], media_type=KINDS[".html"])

    async def static(self, request: Request) -> Response:
        name = request.path_params["name"]
        if name not in self.files:
            return Response("There is no such file.", 404, media_type="text/plain")
        return Response(self.files[name], media_type=KINDS[Path(name).suffix])

    async def state(self, _request: Request) -> Response:
        return JSONResponse(self._state())

    def _state(self) -> dict[str, Any]:
        sitting = self.house.sitting
        if sitting is None:
            return {"open": False, "plans": self.house.plans(), "formats": list(writer_names())}
        seen = sitting.seen
        plan = seen.drawn.plan if seen.drawn else None
        return {
            "open": True,
            "file": sitting.file.name,
            "title": plan.title if plan else sitting.file.stem,
            "number": seen.number,
            "busy": seen.busy,
            "error": seen.error,
            "can_undo": sitting.can_undo,
            "can_redo": sitting.can_redo,
            "option": sitting.option,
            "options": list(plan.options) if plan else [],
            "units": plan.units if plan else "in",
            "formats": list(writer_names()),
            "ready": seen.quilt is not None and not seen.busy,
        }

    async def data(self, _request: Request) -> Response:
        sitting = self._sitting()
        seen = sitting.seen
        if seen.top is None:
            return Response(status_code=204)
        quilt = seen.quilt if seen.quilt is not None and not seen.busy else None
        packed = await run_in_threadpool(pack, seen.top, seen.drawn, quilt)
        return Response(packed, media_type="application/octet-stream")

    async def fills(self, _request: Request) -> Response:
        return JSONResponse(self.forms)

    async def zones(self, _request: Request) -> Response:
        sitting = self._sitting()
        raw = tomllib.loads(sitting.seen.text)
        drawn = sitting.seen.drawn
        specs = {spec.name: spec for spec in drawn.plan.zones} if drawn else {}
        fills = drawn.plan.fills if drawn else {}
        return JSONResponse(
            [
                {
                    "name": zone["name"],
                    "divide": zone.get("divide", []),
                    "parts": list(specs[zone["name"]].part_names) if zone["name"] in specs else [""],
                    "fill": {part: list(map(dict, stack)) for part, stack in fills.get(zone["name"], {}).items()},
                }
                for zone in raw.get("zone", [])
            ]
        )

    async def text(self, _request: Request) -> Response:
        return Response(self._sitting().seen.text, media_type="text/plain; charset=utf-8")

    async def ideas(self, request: Request) -> Response:
        sitting, zone = self._sitting(), request.query_params.get("zone", "")
        part = request.query_params.get("part", "")
        if sitting.seen.drawn is None:
            raise InputError("is not there yet", key="the quilt", what_to_do="Wait until it is drawn.")
        found = await run_in_threadpool(ideas_for, sitting.seen.drawn, zone, part=part)
        return JSONResponse([_idea_table(idea) for idea in found])

    async def events(self, _request: Request) -> Response:
        if self.streams >= MOST_STREAMS:
            return Response("Too many tabs are open.", 429, media_type="text/plain")
        return StreamingResponse(self._news(), media_type="text/event-stream")

    async def _news(self) -> AsyncIterator[str]:
        loop, wake = asyncio.get_running_loop(), asyncio.Event()
        sitting = self.house.sitting

        def tell(_seen: Seen) -> None:
            loop.call_soon_threadsafe(wake.set)

        end = sitting.listen(tell) if sitting else lambda: None
        self.streams += 1
        try:
            while not self.ending():
                wake.clear()
                yield f"data: {json.dumps(self._state())}\n\n"
                quiet = loop.time() + ALIVE_SECONDS
                while not wake.is_set() and not self.ending():
                    await asyncio.sleep(LOOK_SECONDS)
                    if loop.time() > quiet:
                        quiet = loop.time() + ALIVE_SECONDS
                        yield ": still here\n\n"
        finally:
            self.streams -= 1
            end()

    # -- done -----------------------------------------------------------------------------------------------

    async def edit(self, request: Request) -> Response:
        said = await _table(request)
        sitting = self._sitting()
        await run_in_threadpool(_edited, sitting, said)
        return JSONResponse(self._state())

    async def start(self, request: Request) -> Response:
        said = await _table(request)
        await run_in_threadpool(self.house.start, said)
        return JSONResponse(self._state())

    async def write(self, request: Request) -> Response:
        said = await _table(request)
        folder, formats = str(said.get("folder", "")), _words(said, "formats")
        names = await run_in_threadpool(self.house.write, folder, formats, force=said.get("force") is True)
        title = self._state()["title"]
        return JSONResponse({"folder": folder, "names": names, "cautions": cautions_text(title, names)})

    async def zip(self, request: Request) -> Response:
        name, data = await run_in_threadpool(self.house.zipped, _words(await _table(request), "formats"))
        headers = {"Content-Disposition": f'attachment; filename="{name.encode("ascii", "replace").decode()}"'}
        return Response(data, media_type="application/zip", headers=headers)

    async def end(self, _request: Request) -> Response:
        self.stop()
        return JSONResponse({"stopped": True})

    def _sitting(self) -> Sitting:
        if self.house.sitting is None:
            raise InputError("is open yet", key="no plan", what_to_do="Start one first.")
        return self.house.sitting


def _idea_table(idea: Any) -> dict[str, Any]:
    table = asdict(idea)
    table["paths"] = [path.round(2).tolist() for path in idea.paths]
    table["outline"] = [ring.round(2).tolist() for ring in idea.outline]
    return table


def _edited(sitting: Sitting, said: Mapping[str, Any]) -> None:
    """Do one edit of the page.

    Raises
    ------
    InputError
        It is none of those that there are, or its words are of the wrong kind.
    """
    do, over = said.get("do"), said.get("over") is True
    if do == "choose":
        stack = said.get("stack")
        if not isinstance(stack, list) or not all(isinstance(layer, dict) for layer in stack):
            raise InputError("must be a list of fills", key="stack")
        sitting.choose(str(said.get("zone", "")), stack, part=str(said.get("part", "")), over=over)
    elif do == "join":
        sitting.join(str(said.get("name", "")), _words(said, "patches"), over=over)
    elif do == "divide":
        steps = said.get("steps")
        if not isinstance(steps, list) or not all(isinstance(s, dict) and isinstance(s.get("by"), str) for s in steps):
            raise InputError("must be a list of divisions, each with a by", key="steps")
        sitting.divide(str(said.get("zone", "")), steps, over=over)
    elif do == "text":
        sitting.change(str(said.get("text", "")), over=over)
    elif do == "undo":
        sitting.undo(over=over)
    elif do == "redo":
        sitting.redo(over=over)
    elif do == "take-up":
        sitting.look()
    elif do == "option":
        sitting.look_at(None if said.get("option") is None else str(said["option"]))
    else:
        raise InputError(f"is {do!r}; is no change that this page makes", key="do")


async def _table(request: Request) -> dict[str, Any]:
    try:
        said = json.loads(await request.body())
    except (ValueError, RecursionError):
        raise InputError("is no JSON that this page would send", key="the request") from None
    if not isinstance(said, dict):
        raise InputError("must be a table", key="the request")
    return said


def _words(said: Mapping[str, Any], key: str) -> list[str]:
    words = said.get(key)
    if not isinstance(words, list) or not all(isinstance(word, str) for word in words):
        raise InputError("must be a list of words", key=key)
    return words
