"""Speed of the page in a real browser against what is meant; run: python benchmarks/page.py [sample|block|top|strip].

``sample``: the sample quilt. ``block``: feathers in a 12 in block. ``top``: 200 spaces, 536,000 stitches.
``strip``: one space 110 in long.
The first figures are by the clock, as she feels them; a busy machine is told by the processor time of the server beside
them. Nothing is kept between runs: the cache is off.

What came out stands in docs/page.md. The browser is there before the program is started, as hers is.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from playwright.sync_api import sync_playwright

CHROMIUM = "/usr/bin/chromium"

TOP = """\
title = "Two hundred"
[top.blocks]
setting = "straight"
size = 6
rows = [{rows}]
[machine]
bobbin_yards = 100
[[zone]]
name = "blocks"
patches = ["*"]
each = "patch"
[zone.fill]
kind = "spiral"
spacing = "1/8"
"""

BLOCK = """\
title = "One block"
[top.measured]
sides = [12, 12, 12, 12]
diagonals = [16.9706, 16.9706]
[[zone]]
name = "block"
patches = ["*"]
[zone.fill]
kind = "feather"
"""

STRIP = """\
title = "One long border"
[top.measured]
sides = [110, 12, 110, 12]
diagonals = [110.6526, 110.6526]
[[zone]]
name = "border"
patches = ["*"]
[zone.fill]
kind = "feather"
spines = "wave"
"""

WANTED = {
    "top on screen": 1.5,
    "first quilting on screen": 1.5,
    "touch to outline": 0.05,
    "a slider's step to new quilting": 0.2,
    "a setting to new quilting": 0.2,
    "first three ideas": 1.0,
    "all ideas": 4.0,
    "a frame while moving": 1 / 60,
    "a frame while zooming": 1 / 60,
}
"""Seconds that the page should take at most."""


def served(folder: Path, arguments: list[str]) -> tuple[subprocess.Popen[str], str]:
    """Start the page and return its process and address."""
    env = {**os.environ, "PLUMELINE_CACHE": "", "PYTHONUNBUFFERED": "1"}
    command = [sys.executable, "-m", "plumeline", "open", "--no-browser", "--port", "0", *arguments]
    server = subprocess.Popen(command, cwd=folder, env=env, stdout=subprocess.PIPE, text=True)
    assert server.stdout is not None
    return server, server.stdout.readline().strip()


def processor(server: subprocess.Popen[str]) -> float:
    """Return the processor seconds of the server so far, its own and its children's that have ended."""
    fields = Path(f"/proc/{server.pid}/stat").read_text(encoding="ascii").rsplit(")", 1)[1].split()
    return sum(int(n) for n in fields[11:15]) / os.sysconf("SC_CLK_TCK")


def memory_mb(server: subprocess.Popen[str]) -> float:
    """Return the most memory that the server had."""
    status = Path(f"/proc/{server.pid}/status").read_text(encoding="ascii")
    return int(next(line for line in status.splitlines() if line.startswith("VmHWM")).split()[1]) / 1024


MOVE = """async (zooming) => {
  const cloth = document.getElementById("cloth");
  const box = cloth.getBoundingClientRect();
  const at = (x, y) => ({ pointerId: 7, clientX: box.left + x, clientY: box.top + y, bubbles: true, cancelable: true });
  const frames = [];
  cloth.setPointerCapture = () => {};
  if (!zooming) cloth.dispatchEvent(new PointerEvent("pointerdown", at(300, 300)));
  let before = performance.now();
  for (let k = 0; k < 60; k += 1) {
    if (zooming) cloth.dispatchEvent(new WheelEvent("wheel", { ...at(400, 300), deltaY: k < 40 ? -60 : 120 }));
    else cloth.dispatchEvent(new PointerEvent("pointermove", at(300 + 3 * k, 300 + 2 * k)));
    await new Promise(requestAnimationFrame);
    frames.push(performance.now() - before);
    before = performance.now();
  }
  if (!zooming) cloth.dispatchEvent(new PointerEvent("pointerup", at(480, 420)));
  frames.sort((a, b) => a - b);
  return [frames[30] / 1000, frames[53] / 1000];
}"""
"""Moves or zooms through sixty frames; the middle one's time and that of the slowest but six, in seconds."""


SLIDE = """() => {
  const slide = document.querySelector("#settings input[type=range]");
  slide.stepUp();
  slide.dispatchEvent(new Event("input", { bubbles: true }));
}"""


def measured(kind: str, tell: Callable[[str], None]) -> dict[str, tuple[float, float]]:
    """Return for each figure its seconds by the clock and of the server's processor."""
    out: dict[str, tuple[float, float]] = {}
    with tempfile.TemporaryDirectory() as name, sync_playwright() as play:
        folder = Path(name)
        browser = play.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox", "--disable-gpu"])
        page = browser.new_page(viewport={"width": 1280, "height": 800})
        began = time.perf_counter()
        if kind == "sample":
            server, address = served(folder, ["--sample"])
        else:
            rows = ", ".join("[" + ", ".join(['"block"'] * 20) + "]" for _ in range(10))
            plans = {"block": BLOCK, "top": TOP.format(rows=rows), "strip": STRIP}
            (folder / "quilt.toml").write_text(plans[kind], encoding="utf-8")
            server, address = served(folder, ["quilt.toml"])

        def keep(figure: str, since: float, cpu: float) -> None:
            out[figure] = time.perf_counter() - since, processor(server) - cpu
            tell(f"{figure}: {out[figure][0]:.2f} s")

        page.goto(address)
        page.set_default_timeout(600_000)
        page.wait_for_selector("#cloth[data-ready]")
        keep("top on screen", began, 0.0)
        page.wait_for_selector('#cloth[data-ready="drawn"], #cloth[data-ready="joined"]')
        keep("first quilting on screen", began, 0.0)
        page.wait_for_selector('#cloth[data-ready="joined"]')
        keep("joined and measured", began, 0.0)
        _touched(page, server, keep, tell)
        for how, zooming in (("moving", False), ("zooming", True)):
            middle, slow = page.evaluate(MOVE, zooming)
            out[f"a frame while {how}"], out[f"a slow frame while {how}"] = (middle, 0.0), (slow, 0.0)
        out["server's memory, MB"] = memory_mb(server), 0.0
        heap = page.evaluate("performance.memory ? performance.memory.usedJSHeapSize / 1e6 : 0")
        out["tab's memory, MB (scripts)"] = heap, 0.0
        browser.close()
        server.terminate()
        server.wait()
    return out


def _touched(
    page: Any, server: subprocess.Popen[str], keep: Callable[[str, float, float], None], tell: Callable[[str], None]
) -> None:
    box = page.locator("#cloth").bounding_box()
    since, cpu = time.perf_counter(), processor(server)
    page.mouse.click(box["x"] + 0.45 * box["width"], box["y"] + 0.45 * box["height"])
    page.wait_for_selector("#marks path", state="attached")
    keep("touch to outline", since, cpu)
    page.wait_for_selector("#of-space[data-ready]")
    keep("touch to ways of breaking it up", since, cpu)
    tell(f"the space touched: {page.locator('#beside h2').inner_text()}, {page.locator('#kind').input_value()}")
    page.locator("summary", has_text="Settings").click()
    since, cpu = time.perf_counter(), processor(server)
    page.evaluate(SLIDE)
    page.wait_for_selector("#cloth[data-tried]")
    keep("a slider's step to new quilting", since, cpu)
    number = page.get_attribute("#cloth", "data-number")
    field = next(k for k in ("#set-lean", "#set-inset", "#set-turns", "#set-spacing") if page.locator(k).count())
    page.fill(field, "0.6" if field == "#set-lean" else "3/16")
    since, cpu = time.perf_counter(), processor(server)
    page.keyboard.press("Tab")
    page.wait_for_selector(f'#cloth:not([data-number="{number}"])')
    keep("a setting to new quilting", since, cpu)
    page.wait_for_selector('#cloth[data-ready="joined"]')
    since, cpu = time.perf_counter(), processor(server)
    page.click("#show-ideas")
    page.wait_for_selector(".idea:nth-of-type(3)", state="attached")
    keep("first three ideas", since, cpu)
    page.wait_for_selector("#ideas[data-done]", state="attached")
    keep("all ideas", since, cpu)


def main() -> None:
    """Measure and print a table."""
    for kind in sys.argv[1:] or ("sample", "block", "top", "strip"):
        print(kind)
        for figure, (clock, cpu) in measured(kind, lambda text: print(text, file=sys.stderr)).items():
            wanted = f"{WANTED[figure]:.3g}" if figure in WANTED else ""
            print(f"  {figure:32} {clock:9.3f}  server's processor {cpu:8.2f}  wanted {wanted}")


if __name__ == "__main__":
    main()
