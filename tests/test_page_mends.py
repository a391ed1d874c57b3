"""The button beside a finding, pressed in a real browser on a plan that raises the finding: it goes, and comes back.

Each plan is small; what the button asks for is done by the sitting, as the page does it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

import plumeline
from plumeline.page.edits import do_edit
from test_page_browser import CHROMIUM, FLAGS, Served

pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(not CHROMIUM.exists(), reason="no Chromium at /usr/bin/chromium"),
]
sync_api = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")

TWO = """\
title = "Two"  # her own words
[top.blocks]
setting = "straight"
size = 6
rows = [["block", "block"]]
"""
BOTH = TWO + '[[zone]]\nname = "a"\npatches = ["*"]\n'
LEFT = TWO + '[[zone]]\nname = "a"\npatches = ["block-1-1"]\n'
GUIDE = '[[guide]]\nname = "s-{0}"\npoints = {1}\n'
FEATHER = '[zone.fill]\nkind = "feather"\nspines = "s-*"\n'
SPIRAL = '[zone.fill]\nkind = "spiral"\n'

# a seam that bows by 1/10 in over 6 in
BOWED = """<svg xmlns="http://www.w3.org/2000/svg" width="12in" height="6in" viewBox="0 0 12 6">
<path id="left" d="M0 0H6Q6.2 3 6 6H0Z"/><path id="right" d="M6 0H12V6H6Q6.2 3 6 0Z"/></svg>"""

PLANS = {
    "straight-beside-crooked": """\
title = "Bowed"
[top]
drawing = "bowed.svg"
[[zone]]
name = "a"
patches = ["left"]
[zone.fill]
kind = "channel"
angle = 90
""",
    "feather-no-room": BOTH + 'inset = "2 1/2"\n[zone.fill]\nkind = "feather"\nplume = 3\n',
    "fill-too-small": BOTH + 'inset = "2 1/2"\n[zone.fill]\nkind = "spiral"\nspacing = 1\n',
    "gap-too-wide": "[batting]\nwidest_gap = 2\n".join(
        (TWO, BOTH.removeprefix(TWO) + '[zone.fill]\nkind = "channel"\nspacing = 3\n')
    ),
    "density-not-met": BOTH + '[zone.fill]\nkind = "feather"\ndensity = 20\n',
    "fence-outside": LEFT + "fences = [[[8, -1], [8, 7]]]\n" + SPIRAL,
    "open-part-outside": LEFT + "leave_open = [{ centre = [9, 3], radius = 1 }]\n" + SPIRAL,
    "feather-spine-outside": LEFT + FEATHER + GUIDE.format(1, "[[1, 3], [11, 3]]"),
    "feather-spine-crosses": LEFT + FEATHER + GUIDE.format(1, "[[1, 3], [5, 3]]") + GUIDE.format(2, "[[3, 1], [3, 5]]"),
    "starts-show": BOTH + 'inset = "3/4"\n' + SPIRAL,
}

ASKED = """async (one) => {
  const { mendOf } = await import("/static/mend.js");
  const [zones, known] = await Promise.all(["/zones", "/fills"].map(async (path) => (await fetch(path)).json()));
  const edits = [];
  const show = (name) => edits.push({ show: name });
  const page = { zones, fills: known.fills, edit: (body) => edits.push(body), show };
  const row = mendOf(page)(one);
  if (row) row.querySelectorAll("button").forEach((button) => button.click());
  return edits;
}"""


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    served = Served(tmp_path_factory.mktemp("mends"))
    (served.folder / "bowed.svg").write_text(BOWED, encoding="utf-8")
    yield served
    served.stop()


@pytest.fixture(scope="module")
def page(served: Served) -> Iterator[Any]:
    with sync_api.sync_playwright() as play:
        browser = play.chromium.launch(executable_path=str(CHROMIUM), args=FLAGS)
        page = browser.new_page()
        page.goto(served.address)
        page.wait_for_selector("#start-file")
        yield page
        browser.close()


def asked(page: Any, code: str, zone: str | None, text: str = "") -> list[dict[str, Any]]:
    """Return what the buttons beside a finding ask for."""
    found: list[dict[str, Any]] = page.evaluate(ASKED, {"code": code, "zone": zone, "text": text})
    return found


@pytest.mark.parametrize("code", PLANS)
def test_a_button_mends_what_it_stands_beside_and_undo_brings_the_plan_back(
    page: Any, served: Served, code: str
) -> None:
    plan = served.plan(PLANS[code], f"{code}.toml")
    before, sitting = plan.read_bytes(), served.house.sitting
    assert sitting is not None
    found = [f for f in sitting.wait(seconds=120).report.findings if f.code == code]
    assert found
    edits = asked(page, code, found[0].zone, found[0].text)
    assert edits
    for body in edits:
        do_edit(sitting, body)
        assert plan.read_bytes() != before
        assert code not in [f.code for f in sitting.wait(seconds=120).report.findings]
        sitting.undo()
        assert plan.read_bytes() == before


def test_no_fill_leads_to_the_space_and_one_of_many_gets_the_tightness_of_all(page: Any, served: Served) -> None:
    served.plan(BOTH, "open.toml")
    assert served.house.sitting is not None
    (found,) = served.house.sitting.wait(seconds=120).report.findings
    assert asked(page, found.code, found.zone, found.text) == [{"show": "a"}]
    served.plan(LEFT + SPIRAL + 'spacing = "1/4"\n', "tight.toml")
    served.house.sitting.wait(seconds=120)
    stack = [{"kind": "spiral", "density": "even"}]
    assert asked(page, "tighter-than-its-like", "a") == [{"do": "choose", "zone": "a", "part": "", "stack": stack}]


def test_a_drawing_takes_the_width_that_she_knows(page: Any, served: Served) -> None:
    plan = served.plan(PLANS["straight-beside-crooked"], "wide.toml")
    assert served.house.sitting is not None
    served.house.sitting.wait(seconds=120)
    page.reload()
    page.wait_for_selector('#cloth[data-ready="joined"]')
    page.click("#see-found")
    card = page.locator(".finding", has_text="read as 12 x 6 in")
    card.locator("input").fill("24")
    card.get_by_role("button", name="Take this width").click()
    page.locator(".finding", has_text="read as 24 x 12 in").wait_for()
    assert plumeline.stitch(plumeline.read_plan(plan)).top.size == pytest.approx((609.6, 304.8))


def test_every_finding_with_a_button_is_pressed_here() -> None:
    script = Path(__file__).parents[1] / "src/plumeline/page/static/mend.js"
    _, mends = script.read_text(encoding="utf-8").split("const MENDS")
    others = {"no-fill", "tighter-than-its-like", "size-read", "size-implausible"}
    assert set(re.findall(r'^  "([a-z-]+)":', mends, re.M)) == {*PLANS, *others}
