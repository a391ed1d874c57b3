"""The first command of the README, run whole: every file that it promises is there, and says the same."""

import csv
import json

import pyembroidery
from PIL import Image
from pypdf import PdfReader

from plumeline.demo import block_files, quilt_files


def test_the_demo_of_one_block_writes_all_that_it_names_and_nothing_over_it(run, tmp_path):
    block = tmp_path / "one block"
    code, out, err = run("demo", "--block", "--to", block, "--formats", "svg,dst,csv")
    assert code == 0, err
    for name, text in block_files().items():
        assert (block / name).read_text(encoding="utf-8") == text
    stitched = {p.name for p in (block / "stitched").iterdir()}
    stem = next(name.removesuffix(".dst") for name in stitched if name.endswith(".dst"))
    for end in (".svg", ".csv", "-cloth.png", "-path.png", "-path.svg", "-read-first.txt"):
        assert f"{stem}{end}" in stitched
    assert str(block / "stitched" / f"{stem}-cloth.png") in out
    assert "hands" in (block / "stitched" / f"{stem}-read-first.txt").read_text(encoding="utf-8")
    with Image.open(block / "stitched" / f"{stem}-cloth.png") as cloth:
        assert min(cloth.size) > 600
    report = json.loads((block / "stitched" / "report.json").read_text(encoding="utf-8"))
    read = pyembroidery.read_dst(str(block / "stitched" / f"{stem}.dst")).stitches
    sewn = sum(command & 0xFF == pyembroidery.STITCH for _, _, command in read)
    with (block / "stitched" / f"{stem}.csv").open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(line for line in file if not line.startswith("#")))
    assert report["totals"]["stitches"] <= sewn <= report["totals"]["stitches"] + 4 * report["totals"]["lines"]
    assert len(rows) >= report["totals"]["stitches"]
    papers = sorted(p.name for p in (block / "paper").iterdir())
    kinds = {name.split("-")[0] for name in papers}
    assert all(len(PdfReader(block / "paper" / name).pages) >= 1 for name in papers if name.endswith(".pdf"))
    before = {p: p.read_bytes() for p in block.rglob("*") if p.is_file()}
    code, out, err = run("demo", "--block", "--to", block)
    assert code == 2 and "exists already" in err and out == ""
    assert {p: p.read_bytes() for p in block.rglob("*") if p.is_file()} == before
    assert kinds >= {"trace", "through", "cut", "pounce", "marks", "ruler", "practice"}


SMALL = """\
title = "Plain and Star"
[top.blocks]
setting = "straight"
size = 4
rows = [["block", "block"]]
[[zone]]
name = "star centres"
patches = ["*"]
each = "patch"
[zone.fill]
kind = "meander"
spacing = "1/2"
[options.feathers."star centres"]
kind = "spiral"
[options.rulers."star centres"]
kind = "channel"
spacing = 1
"""


def test_the_ideas_of_the_whole_quilt_are_told_side_by_side(run, tmp_path, monkeypatch):
    """With a small plan in place of the sample, whose three ideas take a minute."""
    monkeypatch.setattr("plumeline.demo.quilt_files", lambda: {"plain-and-star.toml": SMALL})
    code, out, err = run("demo", "--to", tmp_path / "all")
    assert code == 0, err
    reports = {}
    for option in ("feathers", "rulers"):
        folder = tmp_path / "all" / "stitched" / option
        assert (folder / f"plain-and-star-{option}.dst").is_file()
        reports[option] = json.loads((folder / "report.json").read_text(encoding="utf-8"))["totals"]
    told = out[out.index("The three ideas side by side:") :].splitlines()
    for option, totals in reports.items():
        (line,) = [line for line in told if line.startswith(f"  {option} ")]
        assert f"{totals['stitches']:,} stitches" in line and f"{totals['lines']} line" in line
    assert (tmp_path / "all" / "paper" / "customer-quilt.pdf").is_file()


def test_a_format_that_is_none_is_refused_before_anything_is_written(run, tmp_path):
    code, _, err = run("demo", "--to", tmp_path / "x", "--formats", "svg,dts")
    assert code == 2 and "Did you mean 'dst'?" in err
    assert not (tmp_path / "x").exists()
    assert len(quilt_files()) >= 2
