"""The page's addresses: what it can ask, and what it can do to the plan."""

from __future__ import annotations

import asyncio
import json
import tomllib
from collections.abc import AsyncGenerator, AsyncIterator, Callable
from contextlib import suppress
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any

import numpy as np
from starlette.applications import Starlette
from starlette.concurrency import iterate_in_threadpool, run_in_threadpool
from starlette.datastructures import QueryParams
from starlette.requests import Request
from starlette.responses import JSONResponse, Response, StreamingResponse
from starlette.routing import Route

from ..alike import alike_spaces, alike_zones
from ..dividing import divisions_for
from ..errors import InputError, PlumelineError
from ..film import Mark, grown_with, marks_on
from ..geometry import close_ring, simplify_paths
from ..ideas import Idea, drawn_in, each_idea
from ..ideaset import IdeaSet, Places, idea_set, ideas_by_place
from ..model import Zone
from ..output import find_writer, writer_names
from ..output.cautions import cautions_text
from ..pipeline.compare import AS_IT_STANDS, compared
from ..pipeline.lookup import motif_names
from ..quilt import Drawn
from ..sitting import PlanChangedError, Seen, Sitting
from ..top import TRADITIONAL
from ..units import parse_number
from .assets import KINDS, static_files
from .edits import do_edit, marks_said, space_said, stack_said
from .forms import fill_forms
from .house import House
from .packing import pack, pack_fresh
from .taking import Taken, paper_forms

__all__ = ["MOST_STREAMS", "make_app"]

MOST_STREAMS = 12
"""Tabs that are told news at once; one more is refused, so that hanging ones can't pile up."""

BLOCKS = [block.name for block in TRADITIONAL]

ALIVE_SECONDS = 15.0
"""How often a quiet stream says that it is alive; a tab that is gone is noticed then."""


PICTURE_STEPS = 3_000
"""An idea's picture is at most 600 dots wide: its lines go over as fine as a fifth of one."""

LOOK_SECONDS = 0.1
"""How often a stream looks for news that it is not woken for: how far it is, and the end of the program."""


def make_app(house: House, stop: Callable[[], None], *, ending: Callable[[], bool] = lambda: False) -> Starlette:
    """Return the page of one house; ``stop`` ends the server when she says so, ``ending`` tells whether it ends."""
    return Starlette(routes=_Pages(house, stop, ending).routes())


class _Pages:
    """Every address of the page, answered for one house."""

    def __init__(self, house: House, stop: Callable[[], None], ending: Callable[[], bool]) -> None:
        self.house, self.stop, self.ending = house, stop, ending
        self.files = static_files()
        self.forms = fill_forms()
        self.streams = 0
        self._places: tuple[Drawn, Places] | None = None

    def routes(self) -> list[Route]:
        gets = {
            "/": self.front,
            "/static/{name}": self.static,
            "/state": self.state,
            "/data": self.data,
            "/fresh": self.fresh,
            "/fills": self.fills,
            "/zones": self.zones,
            "/text": self.text,
            "/ideas": self.ideas,
            "/set": self.idea_set,
            "/space": self.space,
            "/beside": self.beside,
            "/folders": self.folders,
            "/events": self.events,
        }
        posts = {
            "/edit": self.edit,
            "/grow": self.grow,
            "/try": self.try_out,
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
            house = self.house
            return {"open": False, "plans": house.plans(), "folder": str(house.folder), "blocks": BLOCKS}
        seen = sitting.seen
        plan = seen.drawn.plan if seen.drawn else None
        return {
            "open": True,
            "file": sitting.file.name,
            "title": plan.title if plan else _title_of(seen.text, sitting.file.stem),
            "number": seen.number,
            "busy": seen.busy,
            "error": seen.error,
            "can_undo": sitting.can_undo,
            "can_redo": sitting.can_redo,
            "option": sitting.option,
            "options": list(plan.options) if plan else [],
            "units": plan.units if plan else "in",
            "priced": plan is not None and plan.prices is not None,
            "doing": seen.doing if seen.busy else "",
            "ready": seen.quilt is not None and not seen.busy,
            "fresh": bool(seen.partial) and seen.drawn is not None,
        }

    async def data(self, _request: Request) -> Response:
        sitting = self.house.opened()
        seen = sitting.seen
        if seen.top is None:
            return Response(status_code=204)
        quilt = seen.quilt if seen.quilt is not None and not seen.busy else None
        packed = await run_in_threadpool(pack, seen.top, seen.drawn, quilt, partial=seen.partial)
        return Response(packed, media_type="application/octet-stream")

    async def fresh(self, _request: Request) -> Response:
        """Answer what a change has filled so far, to be laid over what is on the screen."""
        seen = self.house.opened().seen
        if seen.drawn is None or not seen.partial:
            return Response(status_code=204)
        packed = await run_in_threadpool(pack_fresh, seen.drawn, seen.partial)
        return Response(packed, media_type="application/octet-stream")

    async def fills(self, _request: Request) -> Response:
        """Answer what there is to choose from: fills with their fields, motifs, kinds of files and of paper."""
        formats = [{"name": name, "about": find_writer(name).description} for name in writer_names()]
        choices = {"fills": self.forms, "motifs": list(motif_names()), "formats": formats, "papers": paper_forms()}
        return JSONResponse(choices)

    async def zones(self, _request: Request) -> Response:
        sitting = self.house.opened()
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
                    **{key: zone[key] for key in ("alike", "turn", "mirror") if key in zone},
                    "fill": {part: list(map(dict, stack)) for part, stack in fills.get(zone["name"], {}).items()},
                }
                for zone in raw.get("zone", [])
            ]
        )

    async def text(self, _request: Request) -> Response:
        return Response(self.house.opened().seen.text, media_type="text/plain; charset=utf-8")

    async def ideas(self, request: Request) -> Response:
        said = request.query_params
        number = _number(said.get("number", "1"))
        found = each_idea(
            self.house.opened().drawn,
            said.get("zone", ""),
            part=said.get("part", ""),
            number=number,
            workers=self.house.workers,
        )

        async def lines() -> AsyncIterator[str]:
            async for idea in iterate_in_threadpool(found):
                yield json.dumps(_idea_table(idea)) + "\n"

        return StreamingResponse(lines(), media_type="application/x-ndjson")

    async def idea_set(self, request: Request) -> Response:
        """Answer a set of ideas for the whole quilt that keeps to so many hours, or to a price."""
        drawn, said = self.house.opened().drawn, request.query_params
        hours, price = (_amount(said, key) for key in ("hours", "price"))
        made = await run_in_threadpool(self._set_of, drawn, None if hours is None else 60 * hours, price)
        return JSONResponse(_set_table(drawn, made))

    def _set_of(self, drawn: Drawn, minutes: float | None, price: float | None) -> IdeaSet:
        if self._places is None or self._places[0] is not drawn:
            self._places = drawn, ideas_by_place(drawn)
        return idea_set(drawn, minutes=minutes, price=price, found=self._places[1])

    async def space(self, request: Request) -> Response:
        """Answer what there is to one space: ways of breaking it up, marks on the film, zones that are alike."""
        said = request.query_params
        drawn, zone = (
            self.house.opened().drawn,
            space_said(self.house.opened(), {**said, "number": _number(said.get("number", "1"))}),
        )
        return JSONResponse(await run_in_threadpool(_told_of_space, drawn, zone))

    async def beside(self, request: Request) -> Response:
        """Answer one option as bytes to draw, its figures in a header."""
        option = request.query_params.get("option") or None
        quilt = await run_in_threadpool(self.house.opened().quilt_of, option)
        (idea,) = await run_in_threadpool(compared, [(option or AS_IT_STANDS, quilt)])
        packed = await run_in_threadpool(pack, quilt.top, None, quilt)
        figures = json.dumps(idea.rows(quilt.plan.units), ensure_ascii=True)
        return Response(packed, media_type="application/octet-stream", headers={"X-Figures": figures})

    async def folders(self, _request: Request) -> Response:
        return JSONResponse(self.house.folders())

    async def events(self, _request: Request) -> Response:
        if self.streams >= MOST_STREAMS:
            return Response("Too many tabs are open.", 429, media_type="text/plain")
        return StreamingResponse(self.news(), media_type="text/event-stream")

    async def news(self) -> AsyncGenerator[str, None]:
        """Yield how things stand whenever it changes, as lines of an event stream."""
        self.streams += 1
        loop, woken = asyncio.get_running_loop(), asyncio.Event()
        heard: Sitting | None = None
        end: Callable[[], None] = _nothing

        def wake(_: Seen) -> None:
            loop.call_soon_threadsafe(woken.set)

        try:
            told, quiet = "", 0.0
            while not self.ending():
                if self.house.sitting is not heard:
                    end()
                    heard = self.house.sitting
                    end = heard.listen(wake) if heard else _nothing
                woken.clear()
                state = json.dumps(self._state())
                now = loop.time()
                if state != told:
                    told, quiet = state, now + ALIVE_SECONDS
                    yield f"data: {state}\n\n"
                elif now > quiet:
                    quiet = now + ALIVE_SECONDS
                    yield ": still here\n\n"
                with suppress(TimeoutError):
                    await asyncio.wait_for(woken.wait(), LOOK_SECONDS)
        finally:
            end()
            self.streams -= 1

    # -- done -----------------------------------------------------------------------------------------------

    async def edit(self, request: Request) -> Response:
        said = await _table(request)
        sitting = self.house.opened()
        await run_in_threadpool(do_edit, sitting, said)
        return JSONResponse(self._state())

    async def grow(self, request: Request) -> Response:
        """Answer what would fill one space with other marks on the film; nothing is written."""
        said = await _table(request)
        drawn, zone = self.house.opened().drawn, space_said(self.house.opened(), said)
        marks = marks_said(said)
        filled = await run_in_threadpool(grown_with, drawn, zone, marks)
        return JSONResponse(
            {
                "paths": [(close_ring(s.path) if s.closed else s.path).round(2).tolist() for s in filled.strokes],
                "marks": [_mark_table(mark) for mark in marks],
                "found": [finding.text for finding in filled.findings if finding.severity != "note"],
            }
        )

    async def try_out(self, request: Request) -> Response:
        """Answer what another stack of fills would draw in one space, to be laid over it; nothing is written."""
        said = await _table(request)
        drawn, zone = self.house.opened().drawn, space_said(self.house.opened(), said)
        filled = await run_in_threadpool(drawn_in, drawn, zone, stack_said(said))
        return Response(pack_fresh(drawn, [(zone, filled)]), media_type="application/octet-stream")

    async def start(self, request: Request) -> Response:
        said = await _table(request)
        await run_in_threadpool(self.house.start, said)
        return JSONResponse(self._state())

    async def write(self, request: Request) -> Response:
        said = await _table(request)
        folder, force = str(said.get("folder", "")), said.get("force") is True
        names = await run_in_threadpool(self.house.write, folder, Taken.read(said), force=force)
        title = self._state()["title"]
        return JSONResponse(
            {
                "folder": folder,
                "where": str(self.house.folder / folder),
                "names": names,
                "cautions": cautions_text(title, names),
            }
        )

    async def zip(self, request: Request) -> Response:
        said = await _table(request)
        name, data = await run_in_threadpool(self.house.zipped, Taken.read(said))
        headers = {"Content-Disposition": f'attachment; filename="{name.encode("ascii", "replace").decode()}"'}
        return Response(data, media_type="application/zip", headers=headers)

    async def end(self, _request: Request) -> Response:
        self.stop()
        return JSONResponse({"stopped": True})


def _nothing() -> None:
    """End nothing."""


def _title_of(text: str, otherwise: str) -> str:
    """Return the title of a plan that is not drawn yet."""
    try:
        return str(tomllib.loads(text).get("title", otherwise))
    except tomllib.TOMLDecodeError:
        return otherwise


def _told_of_space(drawn: Drawn, zone: Zone) -> dict[str, Any]:
    return {
        "divisions": [
            {"words": d.words, "steps": list(d.steps), "parts": [part.round(2).tolist() for part in d.parts]}
            for d in divisions_for(drawn, zone)
        ],
        "marks": [_mark_table(mark) for mark in marks_on(drawn, zone)],
        "alike": alike_zones(drawn, zone),
        "of_shape": len(alike_spaces(drawn, zone)),
    }


def _idea_table(idea: Idea) -> dict[str, Any]:
    table = asdict(replace(idea, paths=()))
    far = max(float(np.ptp(ring, axis=0).max()) for ring in idea.outline)
    table["paths"] = [path.round(2).tolist() for path in simplify_paths(idea.paths, far / PICTURE_STEPS)]
    table["outline"] = [ring.round(2).tolist() for ring in idea.outline]
    return table | {"points": idea.points, "by_hand": idea.by_hand}


def _set_table(drawn: Drawn, made: IdeaSet) -> dict[str, Any]:
    prices = drawn.plan.prices
    return {
        "choices": [
            {
                "label": f"{choice.zone}, {choice.part}" if choice.part else choice.zone,
                "spaces": choice.spaces,
                "minutes": choice.minutes,
                "idea": _idea_table(choice.idea),
            }
            for choice in made.choices
        ],
        "minutes": made.minutes,
        "price": None if made.price is None or prices is None else f"{prices.currency} {made.price:,.2f}",
        "kept": made.kept,
        "given_up": list(made.given_up),
        "fills": made.fills,
    }


def _mark_table(mark: Mark) -> dict[str, Any]:
    return {
        "kind": mark.kind,
        "points": mark.points.round(3).tolist(),
        "path": mark.path.round(2).tolist(),
        "soft_mm": mark.soft_mm,
        "radius_mm": mark.radius_mm,
    }


def _amount(said: QueryParams, key: str) -> float | None:
    """Return hours or a price as she types them; None where she leaves them out."""
    text = said.get(key, "").strip()
    if not text:
        return None
    try:
        return parse_number(text)
    except ValueError as error:
        raise InputError(str(error), key=key) from None


def _number(text: str) -> int:
    return int(text) if text.isdecimal() and len(text) < 7 else 1


async def _table(request: Request) -> dict[str, Any]:
    try:
        said = json.loads(await request.body())
    except (ValueError, RecursionError):
        raise InputError("is no JSON that this page would send", key="the request") from None
    if not isinstance(said, dict):
        raise InputError("must be a table", key="the request")
    return said
