"""Who may talk to the desk: this machine, under the desk's own address, with the secret in it."""

from __future__ import annotations

import hmac
from typing import TYPE_CHECKING

from starlette.datastructures import Headers, MutableHeaders
from starlette.exceptions import HTTPException
from starlette.responses import PlainTextResponse, RedirectResponse

from latchlore.desk import wording

if TYPE_CHECKING:
    from collections.abc import Sequence

    from starlette.responses import Response
    from starlette.types import ASGIApp, Message, Receive, Scope, Send

HEADERS = {
    "content-security-policy": "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self' data:; "
    "connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'",
    "referrer-policy": "same-origin",  # the address is secret; under "no-referrer" forms tell no origin
    "x-content-type-options": "nosniff",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "cache-control": "no-store",
}
"""Sent with every answer."""

READING = frozenset({"GET", "HEAD"})
TAKING = frozenset({"POST"})
MAX_BODY = 32 << 20
"""Bytes that one request may bring: more than any log typed by hand, and than the images of such machines."""
HOSTS = ("127.0.0.1", "localhost")


def _stated_length(headers: Headers) -> int:
    """The length that a request states; one that is no number counts as too much."""
    stated = headers.get("content-length", "0")
    return int(stated) if stated.isascii() and stated.isdigit() and len(stated) < 20 else MAX_BODY + 1


class _Body:
    """What a request brings: the same messages, until they have brought `MAX_BODY` bytes.

    `is_whole`: whether all of it has arrived, or there is none.
    """

    def __init__(self, receive: Receive, *, is_there: bool) -> None:
        self._receive = receive
        self._taken = 0
        self.is_whole = not is_there

    async def receive(self) -> Message:
        """The next message.  Refuses more than is taken."""
        message = await self._receive()
        self._taken += len(message.get("body", b""))
        if self._taken > MAX_BODY:
            raise HTTPException(413, wording.REFUSED_SIZE, {"connection": "close"})
        if message["type"] == "http.request" and not message.get("more_body", False):
            self.is_whole = True
        return message


class Guard:
    """Refuses what does not come from the desk's own page on this machine, before the application sees it.

    `port` None: any port counts (a test's client has none).  `hosts`: the names that the desk goes by (an IPv6 address
    in brackets).  The token is the first part of every path; what is
    passed on begins behind it.
    """

    def __init__(self, app: ASGIApp, token: str, port: int | None = None, hosts: Sequence[str] = HOSTS) -> None:
        self._app = app
        self._hosts = tuple(hosts)
        self._token = token.encode()
        self._port = port

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer or refuse one request."""
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
            return
        if scope["type"] != "http":
            return  # no other protocol is spoken; the server closes the connection

        body = _Body(receive, is_there=scope["method"] not in READING)

        async def send_guarded(message: Message) -> None:
            if message["type"] == "http.response.start":
                MutableHeaders(scope=message).update(HEADERS)
                if not body.is_whole:  # what is still on its way is not read: it may be without end
                    MutableHeaders(scope=message)["connection"] = "close"
            await send(message)

        refusal = self._refusal(scope)
        if refusal is not None:
            await refusal(scope, receive, send_guarded)
            return
        await self._app(scope, body.receive, send_guarded)

    def _refusal(self, scope: Scope) -> Response | None:
        headers = Headers(scope=scope)
        if not self._is_own_host(headers.get("host", "")):
            return PlainTextResponse(wording.REFUSED_HOST, 421)
        origin = headers.get("origin")
        is_own = origin is not None and origin.startswith("http://") and self._is_own_host(origin[7:])
        if not is_own and (origin is not None or scope["method"] not in READING):
            return PlainTextResponse(wording.REFUSED_ORIGIN, 403)
        if headers.get("sec-fetch-site", "none") not in {"none", "same-origin"}:
            return PlainTextResponse(wording.REFUSED_ORIGIN, 403)
        token, slash, _ = scope["path"].removeprefix("/").partition("/")
        if not hmac.compare_digest(token.encode(), self._token):
            return PlainTextResponse(wording.NOT_FOUND, 404)
        if scope["method"] not in READING | TAKING:
            return PlainTextResponse(wording.REFUSED_METHOD, 405, {"allow": "GET, HEAD, POST"})
        if _stated_length(headers) > MAX_BODY:
            return PlainTextResponse(wording.REFUSED_SIZE, 413, {"connection": "close"})
        if not slash:
            return RedirectResponse(f"/{token}/")
        scope["root_path"] = f"{scope.get('root_path', '')}/{token}"
        return None

    def _is_own_host(self, host: str) -> bool:
        name, _, port = host.rpartition(":") if ":" in host else (host, "", "")
        return name in self._hosts and (self._port is None or port == str(self._port))
