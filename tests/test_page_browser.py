"""Whole stories in a real browser; skipped with a reason where there is none."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import time
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

import plumeline
from plumeline.page import show_page
from test_sitting import PLAN

CHROMIUM = Path("/usr/bin/chromium")
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]

pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(not CHROMIUM.exists(), reason="no Chromium at /usr/bin/chromium"),
]
sync_api = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")

WAIT = 60_000


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    with sync_api.sync_playwright() as play:
        browser = play.chromium.launch(executable_path=str(CHROMIUM), args=FLAGS)
        yield browser
        browser.close()


@pytest.fixture
def page(browser: Any) -> Iterator[Any]:
    page = browser.new_page(viewport={"width": 1280, "height": 800})
    wrong: list[str] = []
    asked: list[str] = []
    page.on("pageerror", lambda error: wrong.append(str(error)))
    page.on("request", lambda request: asked.append(request.url))
    page.wrong, page.asked = wrong, asked
    yield page
    page.close()
    assert wrong == []


@pytest.fixture
def served(tmp_path: Path) -> Iterator[tuple[str, Path]]:
    """An address of a page that is served from a folder of its own."""
    command = [sys.executable, "-m", "plumeline", "open", "--no-browser"]
    env = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path), "PYTHONUNBUFFERED": "1"}
    with subprocess.Popen(command, cwd=tmp_path, env=env, stdout=subprocess.PIPE, text=True) as server:
        assert server.stdout is not None
        address = server.stdout.readline().strip()
        assert re.fullmatch(r"http://127\.0\.0\.1:\d+/\?token=\S+", address)
        yield address, tmp_path
        server.terminate()


def ready(page: Any) -> None:
    page.wait_for_selector('#cloth[data-ready="joined"]', timeout=WAIT)


def fill_of(file: Path, zone: str) -> Any:
    return next(z for z in tomllib.loads(file.read_text(encoding="utf-8"))["zone"] if z["name"] == zone).get("fill")


def until(what: Any) -> None:
    end = time.monotonic() + WAIT / 1000
    while not what():
        assert time.monotonic() < end
        time.sleep(0.05)


def test_from_the_form_of_blocks_to_files(page: Any, served: tuple[str, Path]) -> None:
    address, folder = served
    page.goto(address)
    form = page.locator("#start-blocks")
    for name, value in {"title": "Small one", "across": "2", "down": "2", "block": "3", "borders": "1"}.items():
        form.locator(f'[name="{name}"]').fill(value)
    assert "8.0 x 8.0 in" in page.locator("section.card", has=form).inner_text()  # 2 x 3 in and a border of 1 all round
    form.get_by_role("button").click()
    plan = folder / "small-one.toml"
    page.get_by_role("button", name="block-: no fill yet").or_(
        page.get_by_role("button", name="block: no fill yet")
    ).first.click(timeout=WAIT)
    page.select_option("#kind", "spiral")
    until(lambda: any(z.get("fill") for z in tomllib.loads(plan.read_text(encoding="utf-8"))["zone"]))
    ready(page)
    page.click("#see-take")
    page.click("#write")
    page.get_by_text("Read this first").wait_for(timeout=WAIT)
    assert {"small-one.dst", "small-one.svg", "small-one-read-first.txt"} <= {
        p.name for p in (folder / "stitched").iterdir()
    }


def test_touch_choose_undo_ideas_and_an_editor_meanwhile(page: Any, served: tuple[str, Path]) -> None:
    address, folder = served
    plan = folder / "four.toml"
    plan.write_text(PLAN, encoding="utf-8")
    page.goto(address)
    page.get_by_role("button", name="four.toml").click()
    ready(page)
    box = page.locator("#cloth").bounding_box()
    page.mouse.click(box["x"] + box["width"] * 0.65, box["y"] + box["height"] * 0.75)  # the lower right square
    page.get_by_role("heading", name="last").wait_for()
    page.select_option("#kind", "rings")
    until(lambda: fill_of(plan, "last") == {"kind": "rings"})
    page.locator("summary", has_text="Settings").click()
    page.fill("#set-rows", "2")
    page.keyboard.press("Tab")
    until(lambda: fill_of(plan, "last") == {"kind": "rings", "rows": 2})
    for _ in range(2):
        page.locator("#undo:enabled").click()
        page.wait_for_function("document.getElementById('said').textContent !== 'One moment.'")
    until(lambda: plan.read_text(encoding="utf-8") == PLAN)
    page.click("#show-ideas")
    page.locator(".idea").first.wait_for(timeout=WAIT)
    assert page.locator(".idea").count() >= 8
    plan.write_text(PLAN.replace("Four squares", "From the editor"), encoding="utf-8")
    page.get_by_role("heading", name="From the editor").wait_for(timeout=WAIT)
    plan.write_text(PLAN.replace('"spiral"', '"sprial"'), encoding="utf-8")
    page.get_by_role("alert").filter(has_text="sprial").wait_for(timeout=WAIT)
    host = address.split("/?")[0]
    assert all(url.startswith(host) for url in page.asked)


def test_by_keyboard_alone(page: Any, served: tuple[str, Path]) -> None:
    address, folder = served
    plan = folder / "four.toml"
    plan.write_text(PLAN, encoding="utf-8")
    page.goto(address)
    page.get_by_role("button", name="four.toml").focus()
    page.keyboard.press("Enter")
    ready(page)
    page.locator("#cloth").focus()
    page.keyboard.press("+")
    page.keyboard.press("ArrowLeft")
    page.get_by_role("button", name="last", exact=True).focus()
    page.keyboard.press("Enter")
    page.locator("#kind").focus()
    page.keyboard.type("crosshatch")
    page.keyboard.press("Enter")
    until(lambda: fill_of(plan, "last") == {"kind": "crosshatch"})
    page.locator("#cloth").focus()
    page.keyboard.press("Control+z")
    until(lambda: plan.read_text(encoding="utf-8") == PLAN)


def test_the_page_to_send_plays_the_needle_points(page: Any, tmp_path: Path) -> None:
    (tmp_path / "four.toml").write_text(PLAN, encoding="utf-8")
    quilt = plumeline.stitch(plumeline.read_plan(tmp_path / "four.toml"))
    target = tmp_path / "four.html"
    target.write_text(show_page({"as it stands": quilt}), encoding="utf-8")
    page.goto(target.as_uri())
    ready(page)
    page.click("#see-watch")
    sewn = quilt.report.totals.stitches
    assert f"of {sewn:,}" in page.inner_text("#watch-words")
    page.get_by_role("button", name="Next line").click()
    assert page.inner_text("#watch-words").startswith(f"Line 2 of {len(quilt.lines)}")
    page.click("#see-found")
    assert f"{sewn:,}" in page.inner_text("aside")
    assert page.asked == [target.as_uri()]
