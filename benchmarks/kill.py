"""Kill a run at random moments: no half file may be left, and no process.

    python benchmarks/kill.py [--kills 100] [--seed 1]

A plan of sixteen spaces is stitched by several processes and killed (``kill -9``) at a random moment of its time.
After each kill every file in the folder must be whole (each is one of a run that was left to end), and all processes
must be gone within five seconds. The next run must sweep what the killed one left. Linux only.
"""

from __future__ import annotations

import argparse
import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

PLAN = """[top.blocks]
size = 6
rows = [["a", "b", "a", "b"], ["b", "a", "b", "a"], ["a", "b", "a", "b"], ["b", "a", "b", "a"]]
[[zone]]
name = "all"
patches = ["a-*", "b-*"]
each = "patch"
[zone.fill]
kind = "channel"
spacing = "1/2"
"""


def started(folder: Path) -> subprocess.Popen[bytes]:
    """Start a run in a session of its own, so that its processes can be told from others."""
    command = [sys.executable, "-m", "plumeline", "stitch", "many.toml", "--to", "out", "--force"]
    return subprocess.Popen(
        command, cwd=folder, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, start_new_session=True
    )


def left(session: int) -> list[str]:
    """Return the processes of a session that still live."""
    found = subprocess.run(["ps", "-o", "pid=,stat=", "-s", str(session)], capture_output=True, text=True, check=False)
    return [line for line in found.stdout.splitlines() if "Z" not in line.split()[1]]


def main() -> int:
    """Kill, look, and say what was found."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--kills", type=int, default=100)
    asked.add_argument("--seed", type=int, default=1)
    given = asked.parse_args()
    rng, faults = random.Random(given.seed), 0
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "many.toml").write_text(PLAN)
        begun = time.monotonic()
        if started(folder).wait() != 0:
            raise SystemExit("the run that is left to end does not end well")
        whole_time = time.monotonic() - begun
        whole = {p.name: p.read_bytes() for p in (folder / "out").iterdir()}
        for number in range(given.kills):
            shutil.rmtree(folder / "out", ignore_errors=True)
            run = started(folder)
            # one in three near the end, where the files are written
            share = rng.uniform(0.85, 1.05) if number % 3 == 0 else rng.uniform(0.0, 1.0)
            time.sleep(share * whole_time)
            os.kill(run.pid, signal.SIGKILL)
            run.wait()
            until = time.monotonic() + 5
            while left(run.pid) and time.monotonic() < until:
                time.sleep(0.05)
            alive = left(run.pid)
            there = {p.name: p.read_bytes() for p in (folder / "out").glob("*")} if (folder / "out").is_dir() else {}
            half = [n for n, data in there.items() if not n.startswith(".plumeline-") and whole.get(n) != data]
            if alive or half:
                faults += 1
                print(f"kill {number} at {share:.2f}: left alive {alive}, half written {half}", flush=True)
        if started(folder).wait() != 0 or {p.name for p in (folder / "out").iterdir()} != set(whole):
            faults += 1
            print("the run after the last kill does not tidy up", flush=True)
    print(f"{given.kills} kills, {faults} faults")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
