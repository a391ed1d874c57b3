"""plumeline open: the page in her own browser."""

from __future__ import annotations

from pathlib import Path

import click

from ..errors import InputError
from ..page import open_page
from ._shared import PATH, workers

__all__ = ["command"]


@click.command("open")
@click.argument("plan", type=PATH, required=False)
@click.option("--sample", is_flag=True, help="The sample quilt, written to plumeline-sample.")
@click.option(
    "--port",
    type=click.IntRange(0, 65535),
    default=0,
    show_default=True,
    help="Port of the page's address; 0 takes a free one.",
)
@click.option("--no-browser", is_flag=True, help="Only print the address.")
def command(plan: Path | None, sample: bool, port: int, no_browser: bool) -> None:
    """Open a PLAN, or start one, on a page in your browser. Everything stays on this computer; Ctrl-C ends it."""
    if plan is not None and sample:
        raise InputError("is given with a plan; must be one of them", key="--sample")
    open_page(plan, sample=sample, port=port, browser=not no_browser, workers=workers(), tell=_say)


def _say(address: str) -> None:
    click.echo(address)
