"""What keeps a page on her own machine hers: who may ask, how much, how often, and what the browser may load."""

from __future__ import annotations

import secrets
import time
from collections.abc import Callable
from http.cookies import CookieError, SimpleCookie
from typing import Any

from starlette.datastructures import Headers, MutableHeaders, QueryParams
from starlette.responses import PlainTextResponse, RedirectResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

__all__ = ["MOST_BODY", "Guard"]

MOST_BODY = 8_000_000
"""Bytes of one request: a large drawing; a plan is far smaller."""

MOST_CHANGES = 40
"""Changes at once, and then as many a second: quicker than any hand, slower than a loop gone wild."""

POLICY = (
    "default-src 'self'; img-src 'self' blob: data:; object-src 'none'; base-uri 'none'; form-action 'self'; "
    "frame-ancestors 'none'"
)
"""Nothing from anywhere else, and no script but the page's own files."""

HEADERS = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cache-Control": "no-store",
}


class Guard:
    """Lets through only what her own page asks.

    Parameters
    ----------
    app : ASGI application
        The page.
    port : callable
        Returns the port once it is known.
    token : str
        The secret in the address; kept in a cookie after the first visit.
    clock : callable
        Seconds, for the limit of changes.
    """

    def __init__(
        self,
        app: ASGIApp,
        *,
        port: Callable[[], int],
        token: str,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._app, self._port, self._token, self._clock = app, port, token, clock
        self._left, self._at = float(MOST_CHANGES), clock()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer, refuse, or pass on."""
        if scope["type"] != "http":
            if scope["type"] == "lifespan":
                await self._app(scope, receive, send)
            return
        refused = self._refused(scope)
        if refused is not None:
            await refused(scope, receive, _sealed(send))
            return
        body = await _body(receive)
        if body is None:
            await _no(413, "That is more than this page takes.")(scope, receive, _sealed(send))
            return
        await self._app(scope, _again(body, receive), _sealed(send))

    def _refused(self, scope: Scope) -> ASGIApp | None:
        headers, port = Headers(scope=scope), self._port()
        hosts = {f"127.0.0.1:{port}", f"localhost:{port}"}
        if headers.get("host", "") not in hosts:
            return _no(421, "This page answers only on this machine.")
        changes = scope["method"] not in ("GET", "HEAD")
        origin = headers.get("origin")
        if (changes or origin) and (origin or "").removeprefix("http://") not in hosts:
            return _no(403, "A change must come from the page itself.")
        name = f"plumeline-{port}"
        given = QueryParams(scope["query_string"].decode("latin-1")).get("token")
        if scope["path"] == "/" and given is not None:
            if not secrets.compare_digest(given.encode(), self._token.encode()):
                return _no(403, "That address is not the one that was printed.")
            answer = RedirectResponse("/", 303)
            answer.set_cookie(name, self._token, httponly=True, samesite="strict", path="/")
            return answer
        if not secrets.compare_digest(_cookie(headers.get("cookie", ""), name).encode(), self._token.encode()):
            return _no(403, "Open the address that was printed in the terminal, with its token.")
        if int(headers.get("content-length", "0") if headers.get("content-length", "0").isdecimal() else 0) > MOST_BODY:
            return _no(413, "That is more than this page takes.")
        if changes and not self._may_change():
            return _no(429, "Too many changes at once. Wait a second.")
        return None

    def _may_change(self) -> bool:
        now = self._clock()
        self._left = min(MOST_CHANGES, self._left + (now - self._at) * MOST_CHANGES)
        self._at = now
        if self._left < 1:
            return False
        self._left -= 1
        return True


def _no(status: int, text: str) -> ASGIApp:
    return PlainTextResponse(text, status)


def _cookie(header: str, name: str) -> str:
    jar: SimpleCookie = SimpleCookie()
    try:
        jar.load(header)
    except CookieError:
        return ""
    return jar[name].value if name in jar else ""


async def _body(receive: Receive) -> bytes | None:
    """Return the whole body, or None when it is too long."""
    parts, size, more = [], 0, True
    while more:
        message = await receive()
        if message["type"] == "http.disconnect":
            break
        part = message.get("body", b"")
        size += len(part)
        if size > MOST_BODY:
            return None
        parts.append(part)
        more = message.get("more_body", False)
    return b"".join(parts)


def _again(body: bytes, receive: Receive) -> Receive:
    told = False

    async def once() -> Message:
        nonlocal told
        if told:
            return await receive()
        told = True
        return {"type": "http.request", "body": body, "more_body": False}

    return once


def _sealed(send: Send) -> Send:
    async def sending(message: Any) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in HEADERS.items():
                headers[name] = value
        await send(message)

    return sending
