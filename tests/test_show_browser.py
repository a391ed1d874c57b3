"""The page that is sent, in a real browser: it asks for nothing, is read without a mouse, plays the very needle points.

Needs Debian's Chromium (/usr/bin/chromium) and is skipped with a reason where there is none.
"""

import base64
import csv
import io
import re
import unicodedata
from pathlib import Path

import numpy as np
import pyembroidery
import pytest
from PIL import Image
from pypdf import PdfReader

from plumeline import quilt as job
from plumeline.output import CAUTIONS, find_writer
from plumeline.page import show_page

playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
CHROMIUM = Path("/usr/bin/chromium")
pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(not CHROMIUM.exists(), reason="/usr/bin/chromium is not installed"),
]

PLAN = """
title = "Two <ideas> & a half"
units = "in"
[top.blocks]
setting = "straight"
size = 5
rows = [["a", "a"], ["a", "b"]]
[machine]
bobbin_yards = 8
[fabrics]
"b-*" = "#336677"
[[zone]]
name = "plain"
patches = ["a-*"]
each = "patch"
inset = "1/4"
[zone.fill]
kind = "crosshatch"
spacing = "1/2"
[[zone]]
name = "last"
patches = ["b-2-2"]
[zone.fill]
kind = "spiral"
spacing = "1/2"
[options.straight]
[options.round.plain]
kind = "spiral"
spacing = "1/2"
[prices]
currency = "$"
[prices.fills]
"*" = { per_square_inch = 0.03 }
"""

STRIPED = """
title = "Striped"
units = "in"
[top.blocks]
setting = "straight"
size = 4
rows = [["a"]]
[fabrics]
"a-*" = { picture = "stripes.png", width = "1/2" }
[[zone]]
name = "plain"
patches = ["a-*"]
[zone.fill]
kind = "spiral"
spacing = "1"
"""


@pytest.fixture(scope="module")
def quilts(tmp_path_factory):
    path = tmp_path_factory.mktemp("show") / "two.toml"
    path.write_text(PLAN, encoding="utf-8")
    plan = job.read_plan(path)
    return {name: job.stitch(plan, option=name) for name in plan.options}


@pytest.fixture(scope="module")
def html(quilts, tmp_path_factory):
    path = tmp_path_factory.mktemp("page") / "show me.html"
    path.write_text(show_page(quilts), encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def browser():
    with playwright.sync_playwright() as play:
        chromium = play.chromium.launch(executable_path=str(CHROMIUM), args=["--no-sandbox"])
        yield chromium
        chromium.close()


@pytest.fixture
def opened(browser, html):
    """Open the page under given conditions; whatever goes wrong in it fails the test."""
    wrong, asked, contexts = [], [], []

    def _open(**how):
        context = browser.new_context(viewport={"width": 1100, "height": 750}, **how)
        contexts.append(context)
        page = context.new_page()
        page.on("pageerror", lambda error: wrong.append(str(error)))
        page.on("console", lambda message: wrong.append(message.text))
        page.on("request", lambda request: asked.append(request.url))
        page.goto(html.as_uri())
        while not page.evaluate("performance.getEntriesByName('cloth drawn').length"):
            page.wait_for_timeout(20)
        return page

    yield _open
    for context in contexts:
        context.close()
    assert not wrong
    # the light on the cloth is a picture inside the page: an address of data, and no request
    assert {url for url in asked if not url.startswith("data:")} == {html.as_uri()}


def test_it_opens_from_disk_and_asks_for_nothing(opened):
    page = opened(offline=True)
    assert page.title() == "Two <ideas> & a half"
    assert "continuous line" in page.inner_text("#said")
    assert page.evaluate("document.querySelectorAll('[src]:not([src^=\"data:\"]), link, iframe').length") == 0
    for caution in CAUTIONS:
        assert caution in page.text_content("#cautions")


def colours(page):
    """Return the colours of the canvas, coarsely, most frequent first."""
    return page.evaluate(
        """() => {
          const c = document.getElementById('cloth');
          const copy = document.createElement('canvas');
          [copy.width, copy.height] = [c.width, c.height];
          const own = copy.getContext('2d', { willReadFrequently: true });
          own.drawImage(c, 0, 0);
          const d = own.getImageData(0, 0, c.width, c.height).data;
          const n = {};
          for (let i = 0; i < d.length; i += 4) {
            if (d[i + 3] < 255) continue;
            const k = [d[i] >> 5, d[i + 1] >> 5, d[i + 2] >> 5].join();
            n[k] = (n[k] || 0) + 1;
          }
          return Object.entries(n).sort((a, b) => b[1] - a[1]).map((e) => e[0]);
        }"""
    )


def test_the_cloth_has_her_fabric_and_stands_up(opened, quilts):
    page = opened()
    page.wait_for_timeout(300)
    seen = colours(page)
    assert f"{0x33 >> 5},{0x66 >> 5},{0x77 >> 5}" in seen[:8]
    before = page.evaluate("document.getElementById('cloth').toDataURL()")
    page.click("summary:has-text('Show on the cloth')")
    page.uncheck("text=quilting")
    page.wait_for_timeout(300)
    flat = colours(page)
    assert len(flat) < len(seen)  # without quilting there is neither light nor shade
    page.check("text=quilting")
    page.check("text=travel")
    page.wait_for_timeout(300)
    assert page.evaluate("document.getElementById('cloth').toDataURL()") != before  # travel has its own colours


def reds(pixels):
    """Return how often red begins along the middle row of a picture."""
    row = pixels[len(pixels) // 2].astype(int)
    red, blue = row[:, 0] > row[:, 2] + 60, row[:, 2] > row[:, 0] + 60
    row = red[red | blue]
    return int(row[0]) + int(np.count_nonzero(row[1:] & ~row[:-1]))


def test_a_print_is_seen_at_its_true_size_at_once_and_when_it_is_drawn(browser, tmp_path):
    """Stripes that repeat every 1/2 in, 4 in across: red begins 8 times, in the first picture and on the canvas."""
    stripes = np.zeros((20, 40, 3), dtype=np.uint8)
    stripes[:, :20], stripes[:, 20:] = (220, 20, 20), (20, 20, 220)
    Image.fromarray(stripes).save(tmp_path / "stripes.png")
    (tmp_path / "one.toml").write_text(STRIPED, encoding="utf-8")
    html = tmp_path / "one.html"
    html.write_text(show_page({"one": job.stitch(job.read_plan(tmp_path / "one.toml"))}), encoding="utf-8")
    page = browser.new_page(viewport={"width": 1100, "height": 750})
    page.goto(html.as_uri())
    while not page.evaluate("performance.getEntriesByName('cloth drawn').length"):
        page.wait_for_timeout(20)
    address = page.evaluate("document.getElementById('cloth').toDataURL()")
    assert page.locator("#opening").count() == 0  # it is gone once the cloth is drawn from the stitches
    page.close()
    first = re.search(r'id="opening"[^>]*base64,([^"]+)"', html.read_text(encoding="utf-8"))[1]
    for data in (first, address.split(",")[1]):
        seen = np.asarray(Image.open(io.BytesIO(base64.b64decode(data))).convert("RGB"))
        assert reds(seen) == 8


def points_of(page):
    return tuple(float(v) for v in page.get_attribute("#watch-where", "data-mm").split())


def sought(page, at):
    page.evaluate(
        "at => { const t = document.getElementById('time'); t.value = at; t.dispatchEvent(new Event('input')); }", at
    )
    return points_of(page)


@pytest.mark.parametrize("form", ["dst", "csv"])
def test_the_player_goes_through_the_very_needle_points(opened, quilts, form):
    """The points as another reader finds them in the stitch file of the first idea; every one of them is visited."""
    quilt = quilts["straight"]
    (points,) = quilt.points
    data = find_writer(form).write(points, "x", origin=(0.0, 0.0))
    if form == "dst":
        rows = pyembroidery.read_dst(io.BytesIO(data)).stitches
        lines = [[]]
        for x, y, command in rows:
            if command & 0xFF == pyembroidery.STITCH:
                lines[-1].append((x / 10, y / 10))
            elif command & 0xFF == pyembroidery.JUMP and lines[-1]:
                lines.append([])
            elif command & 0xFF == pyembroidery.COLOR_CHANGE and len(lines[-1]) > 1:
                lines.append([])  # a stop for the bobbin; that after a first stitch is to pull the thread up
        lines = [line for line in lines if line]
        close = 0.052  # the file keeps tenths of a millimetre, the page thousandths
    else:
        table = list(csv.DictReader(io.StringIO(data.decode())))
        numbers = sorted({row["line"] for row in table if row["line"]}, key=int)
        lines = [
            [
                (float(r["x_mm"]), float(r["y_mm"]))
                for r in table
                if r["line"] == n and r["command"] in ("stitch", "tie")
            ]
            for n in numbers
        ]
        close = 0.002
    expected = [at for line in lines for at in line]  # one unit of time from each to the next, and one for each move
    assert len(expected) == sum(len(line) for line in lines)
    page = opened()
    page.click("#see-watch")
    assert int(page.get_attribute("#time", "max")) == len(expected) - 1
    found = page.evaluate(
        """() => {
          const t = document.getElementById('time'), out = [];
          for (let at = 0; at <= Number(t.max); at += 1) {
            t.value = at;
            t.dispatchEvent(new Event('input'));
            out.push(document.getElementById('watch-where').dataset.mm);
          }
          return out;
        }"""
    )
    assert np.allclose([[float(v) for v in at.split()] for at in found], expected, rtol=0, atol=close)
    first = np.cumsum([0, *(len(line) for line in lines)])
    for number, (at, line) in enumerate(zip(first, lines), 1):
        page.select_option("#line", str(number - 1))
        assert np.allclose(points_of(page), line[0], atol=close)
        assert page.inner_text("#watch-words").startswith(f"Line {number} (")
        sought(page, int(at) + 3)
        assert f", stitch 3 of {len(line) - 1:,}, " in page.inner_text("#watch-words")


def test_moves_and_stops_are_said(opened, quilts):
    lines = quilts["straight"].lines
    page = opened()
    page.click("#see-watch")
    said = []
    for k in range(len(lines)):
        page.select_option("#line", str(k))
        said.append(page.inner_text("#watch-words"))
    assert "starts here" in said[0]
    assert len(said) > 2
    for words, before, line in zip(said[1:], lines, lines[1:]):
        apart = float(np.hypot(*(line.path[0] - before.path[-1])))
        wanted = f"starts {apart / 25.4:.1f} in from where the line before stopped" if apart > 0.05 else "same place"
        assert wanted in words
    planned = quilts["straight"].report.totals.bobbins - 1
    assert f"{planned} stop" in page.inner_text("#beside")


def test_playing_goes_on_pauses_and_comes_to_the_end(opened):
    page = opened()
    page.click("#see-watch")
    page.select_option("#speed", "600")
    page.click("#play")
    page.wait_for_timeout(400)
    page.click("#play")
    somewhere = float(page.input_value("#time"))
    assert 0 < somewhere < float(page.get_attribute("#time", "max"))
    page.wait_for_timeout(150)
    assert float(page.input_value("#time")) == somewhere
    sought(page, int(page.get_attribute("#time", "max")) - 5)
    page.click("#play")
    page.wait_for_timeout(300)
    assert page.inner_text("#play") == "Play"
    assert "ends here" in page.inner_text("#watch-words")


def test_it_is_read_and_used_by_keyboard_alone(opened):
    page = opened()

    def go_to(name):
        for _ in range(80):
            page.keyboard.press("Tab")
            if page.evaluate("n => (document.activeElement.innerText || document.activeElement.id) === n", name):
                assert page.evaluate("document.activeElement.matches(':focus-visible')")
                return
        pytest.fail(f"no way to {name} by Tab")

    go_to("round")
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.innerText") == "round"  # the focus stays where it was
    page.keyboard.press("Tab")
    page.keyboard.press("Space")
    assert page.inner_text("#said") == "Ticked: round. Print this page, or say so in a letter."
    go_to("plain: spiral")
    page.keyboard.press("Enter")
    assert re.match(r"plain(, \d)?: spiral, \d+ stitches, widest gap", page.inner_text("#said"))
    page.evaluate("document.body.focus()")
    go_to("cloth")
    before = page.evaluate("document.getElementById('cloth').toDataURL()")
    for key in ("ArrowLeft", "+", "ArrowDown"):
        page.keyboard.press(key)
    page.wait_for_timeout(400)
    assert page.evaluate("document.getElementById('cloth').toDataURL()") != before
    page.evaluate("document.getElementById('acts').querySelector('button').focus()")
    go_to("Watch it stitched")
    page.keyboard.press("Enter")
    go_to("time")
    page.keyboard.press("ArrowRight")
    page.keyboard.press("ArrowRight")
    assert page.input_value("#time") == "2"
    assert ", stitch 2 of " in page.get_attribute("#time", "aria-valuetext")
    page.keyboard.press("End")
    assert "ends here" in page.inner_text("[role=status].skip")


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing_to_mend(opened, scheme):
    """The rules of axe-core, in every view."""
    axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="axe-playwright-python is not installed")
    page = opened(color_scheme=scheme, bypass_csp=True)
    for view in ("#see-spaces", "#see-watch", "#see-found"):
        page.click(view)
        for result in axe.Axe().run(page).response["violations"]:
            pytest.fail(f"{view}: {result['id']}: {result['help']}: {[n['html'][:120] for n in result['nodes']][:3]}")


def test_dark_is_dark_and_cloth_keeps_its_colours(opened):
    pages = {scheme: opened(color_scheme=scheme) for scheme in ("light", "dark")}
    look = "getComputedStyle(document.body).backgroundColor"
    ground = {scheme: sum(map(int, re.findall(r"\d+", page.evaluate(look)))) for scheme, page in pages.items()}
    assert ground["dark"] < 200 < 600 < ground["light"]
    for _ in range(100):  # the light on the cloth comes a moment after the cloth
        if colours(pages["dark"])[:6] == colours(pages["light"])[:6]:
            break
        pages["dark"].wait_for_timeout(100)
    assert colours(pages["dark"])[:6] == colours(pages["light"])[:6]


def test_little_motion_holds_nothing_and_says_so(opened):
    page = opened(reduced_motion="reduce")
    page.click("#see-watch")
    assert "step line by line" in page.inner_text("#beside")


def test_on_paper_each_idea_has_picture_figures_and_a_box(opened, tmp_path):
    page = opened()
    page.check("text=round: this one, please")
    page.pdf(path=tmp_path / "paper.pdf", format="Letter")
    reader = PdfReader(tmp_path / "paper.pdf")
    text = unicodedata.normalize("NFKC", " ".join(p.extract_text() for p in reader.pages))  # no two letters in one
    words = " ".join(text.split())
    assert words.count("This one, please") == 2
    assert words.count("☒") == 1
    assert words.count("continuous lines") == 2
    assert "washing comes on top" in words
    for caution in CAUTIONS:
        assert " ".join(caution.split()) in words
    pictures = [image for p in reader.pages for image in p.images]
    assert len(pictures) == 2
    assert all(min(np.asarray(image.image).shape[:2]) >= 1500 for image in pictures)
