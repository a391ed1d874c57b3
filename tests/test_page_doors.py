"""The page's lesser doors: no plan yet, words of another kind, how it is opened, what is no request at all."""

from __future__ import annotations

import asyncio
import sys
import tomllib
from pathlib import Path
from typing import Any

import pytest

import plumeline
from plumeline.errors import InputError
from plumeline.page import app as page_app
from plumeline.page import serve
from plumeline.page.app import _Pages, make_app
from plumeline.page.house import SAMPLE, House
from plumeline.page.safety import Guard
from test_page_safety import HERE, PLAN, PORT, TOKEN, Client, clock, house  # noqa: F401 - fixtures
from test_page_safety import client as client


def refused(answer: Any) -> str:
    assert answer.status_code == 422
    told = answer.json()["error"]
    assert "Traceback" not in told and "\n" not in told
    return told


@pytest.fixture
def nobody(tmp_path: Path) -> Client:
    """A page that has no plan open."""
    found = Client(Guard(make_app(House(tmp_path), lambda: None), port=lambda: PORT, token=TOKEN))
    found.headers["Origin"] = HERE
    found.cookies.set(f"plumeline-{PORT}", TOKEN)
    return found


def test_without_a_plan_every_change_says_to_start_one(nobody: Client, tmp_path: Path) -> None:
    for path, said in (
        ("/edit", {"do": "undo"}),
        ("/files", {"folder": "out", "formats": ["dst"]}),
        ("/zip", {"formats": ["dst"]}),
    ):
        assert refused(nobody.post(path, json=said)) == "no plan is open yet. Start one first."
    for path in ("/ideas?zone=a", "/space?zone=a", "/text"):
        assert nobody.get(path).status_code in (200, 422), path
    assert not list(tmp_path.iterdir())


CM = {
    "blocks": {"across": "2", "down": "3", "block": "30", "borders": "5"},
    "measures": dict.fromkeys(("top", "right", "bottom", "left"), "40")
    | dict.fromkeys(("down_right", "down_left"), "56.57"),
}


@pytest.mark.parametrize(("how", "size"), [("blocks", (700, 1000)), ("measures", (400, 400))])
def test_lengths_may_be_centimetres(nobody: Client, tmp_path: Path, how: str, size: tuple[int, int]) -> None:
    assert nobody.post("/start", json={"how": how, "title": "new", "units": "cm", **CM[how]}).status_code == 200
    plan = plumeline.read_plan(tmp_path / "new.toml")
    assert plan.units == "cm"
    assert plumeline.stitch(plan).top.size == pytest.approx(size, abs=0.1)  # mm
    again = {"how": how, "title": "other", "units": "yd", **CM[how]}
    assert refused(nobody.post("/start", json=again)) == "units: are 'yd'; must be in or cm"
    assert not (tmp_path / "other.toml").exists()


def test_a_plan_whose_top_is_not_there_has_no_spaces_yet(nobody: Client, tmp_path: Path) -> None:
    (tmp_path / "torn.toml").write_text('[top]\ndrawing = "gone.svg"\n', encoding="utf-8")
    nobody.post("/start", json={"how": "open", "name": "torn.toml"})
    assert refused(nobody.get("/ideas?zone=block")) == "the quilt is not drawn yet. Wait until it is."


@pytest.mark.parametrize(
    ("path", "said", "why"),
    [
        ("/edit", {"do": "divide", "zone": "block", "steps": 7}, "steps: must be a list of divisions"),
        ("/edit", {"do": "divide", "zone": "block", "steps": [{"width": 1}]}, "steps: must be a list of divisions"),
        ("/edit", {"do": "set", "key": "title", "value": 1}, "key: must be a list of words"),
        ("/edit", {"do": "set", "key": ["chance", 2], "value": 1}, "key: must be a list of words"),
        ("/edit", {"do": "option", "option": "nobody"}, "has no option 'nobody'"),
        ("/start", {"how": "magic", "title": "new"}, "how: is 'magic'; must be open, sample, drawing, photo"),
        (
            "/start",
            {"how": "blocks", "title": "new", "across": "0", "down": "1", "block": "3"},
            "across: is '0'; must be a whole number from 1",
        ),
        (
            "/start",
            {"how": "blocks", "title": "new", "across": "2", "down": "x", "block": "3"},
            "down: is 'x'; must be a whole number from 1",
        ),
    ],
)
def test_words_of_another_kind_change_nothing(
    client: Client,
    house: House,  # noqa: F811
    path: str,
    said: dict[str, Any],
    why: str,
) -> None:
    assert why in refused(client.post(path, json=said))
    assert [p.name for p in house.folder.glob("*.toml")] == ["one.toml"]
    assert (house.folder / "one.toml").read_text(encoding="utf-8") == PLAN


def test_another_option_is_looked_at_and_the_plan_stays(client: Client, house: House) -> None:  # noqa: F811
    text = PLAN + '[options.straight.block]\nkind = "channel"\n'
    assert client.post("/edit", json={"do": "text", "text": text}).status_code == 200
    assert house.sitting is not None
    for option, kind in (("straight", "channel"), (None, "spiral")):
        assert client.post("/edit", json={"do": "option", "option": option}).status_code == 200
        quilt = house.sitting.wait(seconds=60)
        assert {s.fill for f in quilt.filled for s in f.strokes} == {kind}
    assert (house.folder / "one.toml").read_text(encoding="utf-8") == text


def test_what_an_editor_wrote_is_taken_up_when_she_asks(client: Client, house: House) -> None:  # noqa: F811
    (house.folder / "one.toml").write_text(PLAN.replace('"spiral"', '"rings"'), encoding="utf-8")
    assert client.post("/edit", json={"do": "take-up"}).status_code == 200
    assert house.sitting is not None
    assert {s.fill for f in house.sitting.wait(seconds=60).filled for s in f.strokes} == {"rings"}


def test_a_quiet_stream_says_that_it_is_there(house: House, monkeypatch: pytest.MonkeyPatch) -> None:  # noqa: F811
    monkeypatch.setattr(page_app, "ALIVE_SECONDS", 0.0)
    monkeypatch.setattr(page_app, "LOOK_SECONDS", 0.01)
    pages = _Pages(house, lambda: None, lambda: False)

    async def go() -> list[str]:
        stream = pages.news()
        told = [await anext(stream) for _ in range(3)]
        await stream.aclose()
        return told

    first, *later = asyncio.run(go())
    assert first.startswith("data: ")
    assert ": still here\n\n" in later


def guarded(events: list[dict[str, Any]], scope: dict[str, Any]) -> tuple[list[str], list[dict[str, Any]]]:
    """Send a guard what a server would send; return the kinds that came through to the page, and the answers."""
    seen: list[str] = []
    answers: list[dict[str, Any]] = []

    async def page(scope: Any, receive: Any, send: Any) -> None:
        seen.append(scope["type"])
        if scope["type"] == "http":
            seen.append((await receive()).get("body", b"").decode())

    async def receive() -> dict[str, Any]:
        return events.pop(0)

    async def send(message: Any) -> None:
        answers.append(message)

    asyncio.run(Guard(page, port=lambda: PORT, token=TOKEN)(scope, receive, send))  # type: ignore[arg-type]
    return seen, answers


def test_the_server_s_own_start_comes_through_and_a_socket_does_not() -> None:
    assert guarded([], {"type": "lifespan"}) == (["lifespan"], [])
    assert guarded([{"type": "websocket.connect"}], {"type": "websocket"}) == ([], [])


def test_who_goes_away_in_the_middle_has_said_what_came_so_far() -> None:
    scope = {
        "type": "http",
        "method": "POST",
        "path": "/edit",
        "query_string": b"",
        "headers": [
            (b"host", f"127.0.0.1:{PORT}".encode()),
            (b"origin", HERE.encode()),
            (b"cookie", f"plumeline-{PORT}={TOKEN}".encode()),
        ],
    }
    events = [
        {"type": "http.request", "body": b"half", "more_body": True},
        {"type": "http.disconnect"},
        {"type": "http.request", "body": b" more", "more_body": False},
    ]
    assert guarded(events, scope) == (["http", "half"], [])
    assert len(events) == 1


@pytest.fixture
def opened(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> dict[str, list[str]]:
    """Open the page without serving it; what her browser and her terminal were told."""
    told: dict[str, list[str]] = {"browser": [], "terminal": []}
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(serve.PageServer, "run", lambda server, sockets: server.ready())
    monkeypatch.setattr(serve.webbrowser, "open", told["browser"].append)
    monkeypatch.setattr(sys, "setswitchinterval", lambda _seconds: None)
    return told


def test_the_sample_is_written_once_and_opened(opened: dict[str, list[str]], tmp_path: Path) -> None:
    serve.open_page(None, sample=True, tell=opened["terminal"].append)
    (address,) = opened["terminal"]
    assert address.startswith("http://127.0.0.1:") and "token=" in address
    assert opened["browser"] == [address]
    plan = tmp_path / "plumeline-sample" / SAMPLE
    assert tomllib.loads(plan.read_text(encoding="utf-8"))["title"] == "Plain and Star"
    plan.write_text(plan.read_text(encoding="utf-8").replace('"Plain and Star"', '"Mine"'), encoding="utf-8")
    serve.open_page(None, sample=True, tell=opened["terminal"].append)
    assert tomllib.loads(plan.read_text(encoding="utf-8"))["title"] == "Mine"


def test_her_own_plan_or_none_is_opened_and_one_that_is_gone_is_not(
    opened: dict[str, list[str]], tmp_path: Path
) -> None:
    (tmp_path / "one.toml").write_text(PLAN, encoding="utf-8")
    for plan in (tmp_path / "one.toml", None):
        serve.open_page(plan, browser=False, tell=opened["terminal"].append)
    assert len(opened["terminal"]) == 2 and opened["browser"] == []
    with pytest.raises(InputError, match="is not there"):
        serve.open_page(tmp_path / "two.toml", tell=opened["terminal"].append)
    assert len(opened["terminal"]) == 2


def test_what_was_filled_is_kept_for_the_next_time(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    kept = tmp_path / "kept"
    monkeypatch.setenv("PLUMELINE_CACHE", str(kept))
    folder = tmp_path / "hers"
    folder.mkdir()
    (folder / "one.toml").write_text(PLAN, encoding="utf-8")
    found = House(folder)
    try:
        found.open("one.toml").wait(seconds=60)
    finally:
        assert found.sitting is not None
        found.sitting.close()
    assert [p.suffix for p in kept.iterdir()] == [".zone"]
