"""Serve the page on this machine until she ends it."""

from __future__ import annotations

import asyncio
import logging
import secrets
import socket
import sys
import webbrowser
from collections.abc import Callable
from pathlib import Path

import uvicorn

from ..errors import InputError
from .app import make_app
from .house import SAMPLE, House, write_sample
from .safety import Guard

__all__ = ["PageServer", "open_page", "server_of"]

HERE = "127.0.0.1"

SWITCH_SECONDS = 0.0005
"""How long a thread that fills spaces goes on before one that answers her gets its turn; a page takes a hundred."""

KEEP_SECONDS = 3
"""How long open connections are waited for at the end."""


class PageServer(uvicorn.Server):
    """A server that says when it is ready."""

    def __init__(self, config: uvicorn.Config, ready: Callable[[], None]) -> None:
        super().__init__(config)
        self.ready = ready

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        """Start, then say that the page is ready."""
        await super().startup(sockets)
        if self.started:
            self.ready()


def open_page(
    plan: Path | None,
    *,
    sample: bool = False,
    port: int = 0,
    browser: bool = True,
    workers: int = 1,
    tell: Callable[[str], None] = print,
) -> None:
    """Serve the page until Ctrl-C, or until she ends it on the page.

    Parameters
    ----------
    plan : path, optional
        The plan to open; None: the page offers to start one in the working folder.
    sample : bool
        Write the sample quilt into ``plumeline-sample`` unless it is there, and open it.
    port : int
        0 takes a free one.
    browser : bool
        Whether to open her browser.
    workers : int
        Processes that fill zones side by side.
    tell : callable
        Gets the address on a line of its own when the page is ready.

    Raises
    ------
    InputError
        The plan can't be read, or the port is taken.
    """
    folder = Path("plumeline-sample") if sample else plan.parent if plan else Path()
    if sample:
        write_sample(folder)
    house = House(folder.resolve(), workers=workers, aside=True)
    name = SAMPLE if sample else plan.name if plan else None
    if name is not None:
        if not (house.folder / name).is_file():
            raise InputError("is not there", file=str(plan), what_to_do="Check the name, or open the page without it.")
        house.open(name)
    try:
        listening = socket.create_server((HERE, port))
    except OSError as error:
        raise InputError(
            f"is {port}, which can't be used ({error.strerror})", key="--port", what_to_do="Choose another, or 0."
        ) from None
    server, address = server_of(house, listening)

    def ready() -> None:
        tell(address)
        if browser:
            webbrowser.open(address)

    server.ready = ready
    sys.setswitchinterval(SWITCH_SECONDS)
    try:
        server.run(sockets=[listening])
    finally:
        if house.sitting is not None:
            house.sitting.close()
        listening.close()


def server_of(
    house: House, listening: socket.socket, *, ready: Callable[[], None] = lambda: None
) -> tuple[PageServer, str]:
    """Return what serves a house on an open socket, and the address that opens its page."""
    port, token = listening.getsockname()[1], secrets.token_urlsafe(24)
    servers: list[PageServer] = []

    def end() -> None:
        for server in servers:
            server.should_exit = True

    app = make_app(house, end, ending=lambda: any(server.should_exit for server in servers))
    config = uvicorn.Config(
        Guard(app, port=lambda: port, token=token),
        log_level="warning",
        access_log=False,
        server_header=False,
        timeout_graceful_shutdown=KEEP_SECONDS,
        lifespan="off",
    )
    logging.getLogger("uvicorn.error").addFilter(_not_of_the_end)
    servers.append(PageServer(config, ready))
    return servers[0], f"http://{HERE}:{port}/?token={token}"


def _not_of_the_end(record: logging.LogRecord) -> bool:
    """Return whether a line of the server's log is of use to her: what is cut off when she ends it is none."""
    fault = record.exc_info[1] if record.exc_info else None
    return not isinstance(fault, asyncio.CancelledError) and "running task(s)" not in record.getMessage()
