"""The page's doors: one test for each way in that is not hers."""

from __future__ import annotations

import asyncio
import base64
import io
import json
import zipfile
from collections.abc import AsyncIterator, Iterator
from pathlib import Path
from typing import Any

import httpx
import pypdf
import pytest

from plumeline.page.app import MOST_STREAMS, _Pages, make_app
from plumeline.page.house import House
from plumeline.page.safety import MOST_BODY, MOST_CHANGES, Guard

PORT, TOKEN = 8123, "a-secret-of-this-test"
HERE = f"http://127.0.0.1:{PORT}"
PLAN = """\
title = "One block"
[top.blocks]
setting = "straight"
size = 3
rows = [["block"]]
[[zone]]
name = "block"
patches = ["*"]
[zone.fill]
kind = "spiral"
"""


class Client:
    """A browser of sorts: each request goes straight into the page, cookies and headers are kept."""

    def __init__(self, app: Any) -> None:
        self.transport = httpx.ASGITransport(app)
        self.headers: dict[str, str] = {}
        self.cookies = httpx.Cookies()

    def get(self, path: str, **said: Any) -> httpx.Response:
        return self.ask("GET", path, **said)

    def post(self, path: str, **said: Any) -> httpx.Response:
        return self.ask("POST", path, **said)

    def ask(self, method: str, path: str, headers: dict[str, str] | None = None, **said: Any) -> httpx.Response:
        async def go() -> httpx.Response:
            async with httpx.AsyncClient(transport=self.transport, base_url=HERE, cookies=self.cookies) as client:
                answer = await client.request(method, path, headers={**self.headers, **(headers or {})}, **said)
                self.cookies.update(client.cookies)
                return answer

        return asyncio.run(go())


class Clock:
    now = 0.0

    def __call__(self) -> float:
        return self.now


@pytest.fixture
def house(tmp_path: Path) -> Iterator[House]:
    folder = tmp_path / "hers"
    folder.mkdir()
    (folder / "one.toml").write_text(PLAN, encoding="utf-8")
    (tmp_path / "secret.toml").write_text("secret = 1", encoding="utf-8")
    house = House(folder)
    house.open("one.toml").wait(seconds=60)
    yield house
    if house.sitting:
        house.sitting.close()


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def client(house: House, clock: Clock) -> Client:
    guard = Guard(make_app(house, lambda: None), port=lambda: PORT, token=TOKEN, clock=clock)
    client = Client(guard)
    client.headers["Origin"] = HERE
    client.cookies.set(f"plumeline-{PORT}", TOKEN)
    return client


def test_the_address_with_its_token_opens_the_page_and_hides_it(house: House) -> None:
    guard = Guard(make_app(house, lambda: None), port=lambda: PORT, token=TOKEN)
    client = Client(guard)
    answer = client.get("/", params={"token": TOKEN})
    assert (answer.status_code, answer.headers["location"]) == (303, "/")
    cookie = answer.headers["set-cookie"].lower()
    assert "samesite=strict" in cookie and "httponly" in cookie
    page = client.get("/")
    assert page.status_code == 200 and TOKEN not in page.text


@pytest.mark.parametrize("path", ["/", "/state", "/data", "/text", "/events", "/static/page.js"])
@pytest.mark.parametrize("token", [None, "", "wrong", "\u00e4"])
def test_no_token_no_answer(client: Client, path: str, token: str | None) -> None:
    client.cookies.clear()
    answer = client.get(path, params={} if token is None else {"token": token})
    assert answer.status_code == 403 and "One block" not in answer.text


@pytest.mark.parametrize("host", ["evil.example", f"evil.example:{PORT}", "127.0.0.1", "127.0.0.1:80", ""])
def test_a_foreign_host_is_refused(client: Client, host: str) -> None:
    assert client.get("/text", headers={"Host": host}).status_code == 421


@pytest.mark.parametrize("origin", ["http://evil.example", "null", f"https://127.0.0.1:{PORT}", "http://127.0.0.1:1"])
def test_a_change_from_a_foreign_page_is_refused(client: Client, house: House, origin: str) -> None:
    before = house.sitting.seen if house.sitting else None
    answer = client.post("/edit", json={"do": "text", "text": ""}, headers={"Origin": origin})
    assert answer.status_code == 403
    del client.headers["Origin"]
    assert client.post("/edit", json={"do": "undo"}).status_code == 403
    assert house.sitting and house.sitting.seen is before
    assert "access-control-allow-origin" not in client.get("/state").headers


@pytest.mark.parametrize("name", ["../secret.toml", "..%2fsecret.toml", "%2e%2e/secret.toml", "/etc/passwd", "page.py"])
def test_nothing_but_the_page_s_own_files(client: Client, name: str) -> None:
    answer = client.get(f"/static/{name}")
    assert answer.status_code == 404 and "secret" not in answer.text


@pytest.mark.parametrize("name", ["../secret.toml", "/etc/hosts", "link.toml", "nobody.toml"])
def test_only_plans_that_were_listed_are_opened(client: Client, house: House, name: str) -> None:
    (house.folder / "link.toml").symlink_to(house.folder.parent / "secret.toml")
    answer = client.post("/start", json={"how": "open", "name": name})
    assert answer.status_code == 422 and "is no plan of this folder" in answer.json()["error"]


@pytest.mark.parametrize("folder", ["..", "../out", "/tmp/out", "a/b", "", ".", "link"])
def test_files_are_written_beside_the_plan_only(client: Client, house: House, folder: str) -> None:
    outside = house.folder.parent / "outside"
    outside.mkdir()
    (house.folder / "link").symlink_to(outside)
    before = sorted(p.name for p in house.folder.parent.rglob("*"))
    answer = client.post("/files", json={"folder": folder, "formats": ["svg"]})
    assert answer.status_code == 422, answer.text
    assert sorted(p.name for p in house.folder.parent.rglob("*")) == before


def test_a_giant_body_is_refused_unread(client: Client) -> None:
    async def endless() -> AsyncIterator[bytes]:
        for _ in range(3 * MOST_BODY // 100_000):
            yield b" " * 100_000

    assert client.post("/edit", content=b" " * (MOST_BODY + 1)).status_code == 413
    assert client.post("/edit", content=endless()).status_code == 413


def test_a_thousand_changes_a_second_are_not_done(client: Client, clock: Clock, house: House) -> None:
    codes = [client.post("/edit", json={"do": "redo"}).status_code for _ in range(MOST_CHANGES + 60)]
    assert codes.count(200) == MOST_CHANGES and set(codes) == {200, 429}
    clock.now = 1.0
    assert client.post("/edit", json={"do": "redo"}).status_code == 200


BOMB = (
    '<!DOCTYPE svg [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;">]>'
    '<svg xmlns="http://www.w3.org/2000/svg" width="10mm" height="10mm"><title>&b;</title></svg>'
)
READER = (
    '<!DOCTYPE svg [<!ENTITY x SYSTEM "file:///etc/hosts">]>'
    '<svg xmlns="http://www.w3.org/2000/svg" width="10mm" height="10mm"><title>&x;</title></svg>'
)


@pytest.mark.parametrize("svg", [BOMB, READER, "<svg", "", "\0" * 50])
def test_a_hostile_drawing_is_refused_and_leaves_nothing(client: Client, house: House, svg: str) -> None:
    before = sorted(p.name for p in house.folder.iterdir())
    drawing = base64.b64encode(svg.encode()).decode()
    answer = client.post("/start", json={"how": "drawing", "title": "bad", "suffix": ".svg", "drawing": drawing})
    assert answer.status_code == 422 and answer.json()["error"]
    assert sorted(p.name for p in house.folder.iterdir()) == before


@pytest.mark.parametrize(
    ("suffix", "drawing"),
    [(".exe", "AAAA"), ("", "AAAA"), (".svg/../../x", "AAAA"), (".dxf", "no base 64!"), (".pdf", "AAAA")],
)
def test_a_drawing_of_another_kind_is_refused_and_leaves_nothing(
    client: Client, house: House, suffix: str, drawing: str
) -> None:
    before = sorted(p.name for p in house.folder.iterdir())
    answer = client.post("/start", json={"how": "drawing", "title": "bad", "suffix": suffix, "drawing": drawing})
    assert answer.status_code == 422 and answer.json()["error"]
    assert sorted(p.name for p in house.folder.iterdir()) == before


@pytest.mark.parametrize(
    "text", ['title = "x"\n[top]\ndrawing = "../secret.toml"', "a" * 2_100_000, "[[[", "x = [" * 900]
)
def test_a_hostile_plan_is_refused_and_hers_stays(client: Client, house: House, text: str) -> None:
    answer = client.post("/edit", json={"do": "text", "text": text})
    assert answer.status_code == 422 and answer.json()["error"]
    assert (house.folder / "one.toml").read_text(encoding="utf-8") == PLAN


@pytest.mark.parametrize(
    "body", [b"", b"[1]", b"{", b"[" * 100_000, b'{"do": "rm"}', b'{"do": "choose", "stack": 7}', b'{"do": {"a": 1}}']
)
def test_nonsense_is_one_plain_line(client: Client, body: bytes) -> None:
    answer = client.post("/edit", content=body)
    assert answer.status_code == 422 and "Traceback" not in answer.text and answer.json()["error"]


def test_the_browser_is_told_to_load_nothing_from_elsewhere(client: Client) -> None:
    for answer in (client.get("/"), client.get("/nowhere"), client.get("/text", headers={"Host": "evil.example"})):
        policy = answer.headers["content-security-policy"]
        assert "default-src 'self'" in policy and "unsafe" not in policy
        assert answer.headers["x-content-type-options"] == "nosniff"
        assert answer.headers["referrer-policy"] == "no-referrer"
    assert "http" not in client.get("/").text.replace("127.0.0.1", "")


def test_files_and_zip_hold_the_same_with_their_cautions(client: Client, house: House) -> None:
    done = client.post("/files", json={"folder": "stitched", "formats": ["svg", "dst"]}).json()
    assert "hands" in done["cautions"]
    answer = client.post("/zip", json={"formats": ["svg", "dst"]})
    with zipfile.ZipFile(io.BytesIO(answer.content)) as pack:
        assert set(pack.namelist()) == set(done["names"])
        for name in done["names"]:
            assert pack.read(name) == (house.folder / "stitched" / name).read_bytes()
    again = client.post("/files", json={"folder": "stitched", "formats": ["svg"]})
    assert again.status_code == 422 and "exists already" in again.json()["error"]


def test_paper_comes_with_the_files_or_alone(client: Client, house: House) -> None:
    papers = [kind["name"] for kind in client.get("/fills").json()["papers"]["kinds"]]
    alone = client.post("/files", json={"folder": "paper", "formats": [], "papers": papers, "size": "a4"}).json()
    suffixes = {name.rsplit(".", 1)[1] for name in alone["names"]}
    assert suffixes == {"pdf", "svg", "dxf"} and len(alone["names"]) >= 2 * len(papers)
    for name in alone["names"]:
        if name.endswith(".pdf") and "customer" not in name:
            first = pypdf.PdfReader(house.folder / "paper" / name).pages[0].mediabox
            assert (first.width / 72 * 25.4, first.height / 72 * 25.4) == pytest.approx((210, 297), abs=0.1)  # ISO 216
    both = client.post("/files", json={"folder": "both", "formats": ["dst"], "papers": ["trace"], "zone": "block"})
    assert {name.rsplit(".", 1)[1] for name in both.json()["names"]} >= {"pdf", "dst", "png"}


@pytest.mark.parametrize(
    ("said", "why"),
    [
        ({"formats": []}, "Tick at least one"),
        ({"formats": [], "papers": ["napkin"]}, "'napkin'; must be one of"),
        ({"formats": [], "papers": ["trace"], "size": "a9"}, "'a9'"),
        ({"formats": [], "papers": ["trace"], "zone": "blocks"}, "Did you mean 'block'"),
    ],
)
def test_what_can_not_be_taken_is_said_and_nothing_is_written(
    client: Client, house: House, said: dict[str, Any], why: str
) -> None:
    answer = client.post("/files", json={"folder": "none", **said})
    assert answer.status_code == 422 and why in answer.json()["error"]
    assert not (house.folder / "none").exists()


def test_a_clash_is_told_as_one(client: Client, house: House) -> None:
    assert house.sitting is not None
    house.sitting.close()  # nobody looks at the file any more
    (house.folder / "one.toml").write_text(PLAN.replace("One", "Her"), encoding="utf-8")
    edit = {"do": "choose", "zone": "block", "stack": [{"kind": "rings"}]}
    answer = client.post("/edit", json=edit)
    if answer.status_code == 200:  # the watcher was quicker, and had taken it up
        assert '"Her block"' in (house.folder / "one.toml").read_text(encoding="utf-8")
        return
    assert answer.status_code == 409 and answer.json()["clash"] is True
    assert '"Her block"' in (house.folder / "one.toml").read_text(encoding="utf-8")
    assert client.post("/edit", json={**edit, "over": True}).json()["can_undo"] is True


def test_forms_say_what_the_settings_models_say(client: Client) -> None:
    from plumeline.fills import all_fills

    forms = {form["kind"]: form for form in json.loads(client.get("/fills").text)["fills"]}
    assert list(forms) == list(all_fills())
    for kind, fill in all_fills().items():
        model = fill.settings
        keys = [field["key"] for field in forms[kind]["fields"]]
        assert keys == [name.removesuffix("_mm").removesuffix("_deg") for name in model.model_fields]
        assert all(field["about"] for field in forms[kind]["fields"])


def test_streams_that_hang_are_few_and_let_go(house: House) -> None:
    pages = _Pages(house, lambda: None, lambda: False)

    async def go() -> None:
        hanging = [pages.news() for _ in range(MOST_STREAMS)]
        for stream in hanging:
            assert "One block" in await anext(stream)  # and nobody reads on
        assert (await pages.events(None)).status_code == 429  # type: ignore[arg-type]
        for stream in hanging:
            await stream.aclose()
        assert pages.streams == 0

    asyncio.run(go())


def test_a_stream_ends_with_the_program(house: House) -> None:
    ends: list[bool] = []
    pages = _Pages(house, lambda: None, lambda: bool(ends))

    async def go() -> list[str]:
        told = []
        async for line in pages.news():
            told.append(line)
            ends.append(True)
        return told

    assert len(asyncio.run(go())) == 1


ENDLESS = float("1e400")


@pytest.mark.parametrize(
    "marks",
    [
        7,
        [7],
        [{"kind": "rm"}],
        [{"kind": "spine", "points": "x"}],
        [{"kind": "spine", "points": [[0, 0]]}],
        [{"kind": "spine", "points": [[0, 0], [0, 0]]}],
        [{"kind": "spine", "points": [[0, 0], [ENDLESS, 0]]}],
        [{"kind": "spine", "points": [[k, 0] for k in range(100_000)]}],
        [{"kind": "open", "points": [[5, 5]], "radius_mm": -1}],
        [{"kind": "fence", "points": [[0, 0], [9, k]]} for k in range(1, 500)],
    ],
)
@pytest.mark.parametrize("path", ["/grow", "/edit"])
def test_marks_that_are_none_are_refused(client: Client, house: House, path: str, marks: Any) -> None:
    said = json.dumps({"do": "film", "zone": "block", "part": "", "number": 1, "marks": marks})
    answer = client.post(path, content=said.encode())
    assert answer.status_code == 422 and answer.json()["error"]
    assert (house.folder / "one.toml").read_text(encoding="utf-8") == PLAN


@pytest.mark.parametrize("photo", ["", "not base 64", "AAAA", "PHN2Zz4="])
@pytest.mark.parametrize("corners", [None, [[0, 0]], [[0, 0], [9, 0], [9, 9], [0, 9]]])
def test_a_photo_that_is_none_is_refused_and_leaves_nothing(
    client: Client, house: House, photo: str, corners: Any
) -> None:
    before = sorted(p.name for p in house.folder.iterdir())
    said = {"how": "photo", "title": "bad", "photo": photo, "corners": corners, "width": "8", "height": "8"}
    answer = client.post("/start", json=said)
    assert answer.status_code == 422 and answer.json()["error"]
    assert sorted(p.name for p in house.folder.iterdir()) == before


@pytest.mark.parametrize("name", ["../x", "", "..", "/"])
def test_a_title_cannot_lead_out_of_the_folder(client: Client, house: House, name: str) -> None:
    outside = sorted(p.name for p in house.folder.parent.iterdir())
    said = {"how": "blocks", "title": name, "across": "1", "down": "1", "block": "3", "borders": ""}
    answer = client.post("/start", json=said)
    assert sorted(p.name for p in house.folder.parent.iterdir()) == outside
    assert answer.status_code == 422 or (house.folder / "x.toml").is_file()


def test_a_plan_that_is_there_is_not_written_over(client: Client, house: House) -> None:
    said = {"how": "blocks", "title": "One", "across": "1", "down": "1", "block": "3", "borders": ""}
    answer = client.post("/start", json=said)
    assert answer.status_code == 422 and "already" in answer.json()["error"]
    assert (house.folder / "one.toml").read_text(encoding="utf-8") == PLAN


def test_an_unknown_space_or_option_is_one_plain_line(client: Client) -> None:
    for path in ("/space?zone=nobody", "/space?zone=block&number=99", "/ideas?zone=nobody", "/beside?option=nobody"):
        answer = client.get(path)
        assert answer.status_code == 422 and "Traceback" not in answer.text, path
