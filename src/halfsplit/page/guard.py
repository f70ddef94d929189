"""The guard at the door: who may ask, how much may be sent, and what a browser may do with the answer."""

from __future__ import annotations

import hmac
from http.cookies import SimpleCookie
from urllib.parse import parse_qs, urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from halfsplit.page.desk import Desk

BODY_BYTES = 48 * 2**20
"""The largest body that is taken in: twenty sweeps, or a photo; each reading has its own limit besides."""
COOKIE = "halfsplit_token"
SAFE = ("GET", "HEAD")
HEADERS = {
    "content-security-policy": "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; "
    "font-src 'self'; connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'",
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), microphone=(), geolocation=(), usb=(), serial=()",
    "cache-control": "no-store",
}


class TooLarge(Exception):
    """More was sent than is taken in."""


def bare_host(value: str) -> str:
    """A Host header without its port."""
    end = value.rfind(":")
    return value[:end] if end > value.rfind("]") else value


class Guard:
    """ASGI middleware: refuses what does not come from the page itself, and sets the headers of every answer."""

    def __init__(self, app: ASGIApp, desk: Desk) -> None:
        self.app = app
        self.desk = desk

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            if scope["type"] == "lifespan":
                await self.app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        refused = self.refusal(scope, headers) or self.stranger(scope, headers)
        if refused is not None:
            await refused(scope, receive, headed(send))
            return
        began = [False]
        try:
            await self.app(scope, bounded(receive), headed(send, began))
        except TooLarge:
            if began[0]:
                raise
            await too_large()(scope, receive, headed(send))

    def refusal(self, scope: Scope, headers: Headers) -> Response | None:
        """An answer where the request may not be served, or None."""
        host = headers.get("host", "")
        if bare_host(host).lower() not in self.desk.hosts:
            return PlainTextResponse("this page is not served under that name; open the address that was printed", 421)
        if scope["method"] not in (*SAFE, "POST"):
            return PlainTextResponse("only GET and POST are served here", 405)
        origin, site = headers.get("origin"), headers.get("sec-fetch-site", "same-origin")
        if scope["method"] == "POST":
            if origin is None and "sec-fetch-site" not in headers:
                return PlainTextResponse("a form says where it comes from; this one did not", 403)
            if origin is not None and urlsplit(origin).netloc.lower() != host.lower():
                return PlainTextResponse("sent from another page; refused", 403)
            if site not in ("same-origin", "none"):
                return PlainTextResponse("sent from another page; refused", 403)
        length = headers.get("content-length", "0")
        if not length.isdecimal() or int(length[:20]) > BODY_BYTES:
            return too_large()
        return None

    def stranger(self, scope: Scope, headers: Headers) -> Response | None:
        """An answer for a browser that has not shown the token, or None."""
        wanted = self.desk.token
        if not wanted:
            return None
        morsel = SimpleCookie(headers.get("cookie", "")).get(COOKIE)
        if morsel is not None and hmac.compare_digest(morsel.value.encode(), wanted.encode()):
            return None
        shown = parse_qs(scope["query_string"].decode("latin-1")).get("token", [""])[0]
        if scope["method"] in SAFE and hmac.compare_digest(shown.encode(), wanted.encode()):
            answer = RedirectResponse(scope["path"], 303)
            answer.set_cookie(COOKIE, wanted, httponly=True, samesite="strict")
            return answer
        return PlainTextResponse("open the whole address that was printed, with its token", 401)


def too_large() -> Response:
    """The answer to more than is taken in."""
    return PlainTextResponse(f"more than {BODY_BYTES // 2**20} MiB at once; send fewer or smaller files", 413)


def bounded(receive: Receive) -> Receive:
    """The body, counted as it comes: a length that was not told is bounded too."""
    taken = 0

    async def counted() -> Message:
        nonlocal taken
        message = await receive()
        taken += len(message.get("body", b""))
        if taken > BODY_BYTES:
            raise TooLarge
        return message

    return counted


def headed(send: Send, began: list[bool] | None = None) -> Send:
    """Answers with the headers of the house; what a route has set itself stays."""

    async def with_headers(message: Message) -> None:
        if message["type"] == "http.response.start":
            if began is not None:
                began[0] = True
            headers = MutableHeaders(scope=message)
            for name, value in HEADERS.items():
                headers.setdefault(name, value)
        await send(message)

    return with_headers
