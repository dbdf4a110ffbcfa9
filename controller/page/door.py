"""The door: which requests come in at all, and what every answer carries.

Responsible for whom a browser may be speaking for, for sizes and for headers; not for who is signed
in (visits) nor for answers (app).
"""

import ipaddress
import re
from collections.abc import Callable, Iterable
from http import HTTPStatus

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from controller.page.visits import Allowances

# Own engineering values, not published: a page opens seven requests, and asks seldom after that.
AT_ONCE = 120.0
EACH_S = 0.1
MOST_BODY_BYTES = 4096

HEADERS = {
    # Everything comes from here, and nothing is written into the page itself.
    "content-security-policy": "default-src 'none'; script-src 'self'; style-src 'self'; "
    "img-src 'self'; connect-src 'self'; manifest-src 'self'; base-uri 'none'; "
    "form-action 'none'; frame-ancestors 'none'",
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "referrer-policy": "no-referrer",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), microphone=(), geolocation=()",
    "cache-control": "no-store",
}
# With a refusal: else the rest of a body that nobody wants would be read to its end.
HANG_UP = {"connection": "close"}
_HOST = re.compile(r"(\[[0-9a-f:.]+\]|[a-z0-9.-]+)(:[0-9]{1,5})?")
_SAFE = frozenset({"GET", "HEAD"})


class Door:
    """Stands before the application."""

    def __init__(self, app: ASGIApp, names: Iterable[str], clock_s: Callable[[], float]) -> None:
        """`names` are those by which the page may be asked for, besides bare addresses.

        Else somebody's name that leads here would make their page ours in a browser's eyes.
        """
        self._app = app
        self._names = frozenset(name.casefold().rstrip(".") for name in names)
        self._asking = Allowances(AT_ONCE, EACH_S, clock_s)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request in, or say why not."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return

        async def answer(message: Message) -> None:
            if message["type"] == "http.response.start":
                MutableHeaders(scope=message).update(HEADERS)
            await send(message)

        refusal = self._refusal(scope)
        if refusal is None:
            await self._app(scope, receive, answer)
        else:
            status, why = refusal
            await PlainTextResponse(f"{why}\n", status, HANG_UP)(scope, receive, answer)

    def _refusal(self, scope: Scope) -> tuple[HTTPStatus, str] | None:
        headers = Headers(scope=scope)
        host = headers.get("host", "").casefold()
        if len(headers.getlist("host")) != 1 or not self._is_ours(host):
            return (
                HTTPStatus.MISDIRECTED_REQUEST,
                "This page is not known by that name; ask by its address, or start it with --host.",
            )
        if not self._asking.take(address_of(scope)):
            return HTTPStatus.TOO_MANY_REQUESTS, "Too many requests; wait a moment."
        site = headers.get("sec-fetch-site", "same-origin")
        if scope["method"] in _SAFE:
            is_foreign = site == "cross-site" and scope["path"] != "/"
        else:
            own = f"{scope['scheme']}://{host}"
            is_foreign = headers.get("origin", "").casefold() != own or site != "same-origin"
        if is_foreign:
            return HTTPStatus.FORBIDDEN, "Another page asked for this; open this one and ask there."
        return None

    def _is_ours(self, host: str) -> bool:
        found = _HOST.fullmatch(host)
        if found is None:
            return False
        name = found[1].strip("[]").rstrip(".")
        return name in self._names or _is_address(name)


def address_of(scope: Scope) -> str:
    """Where a request comes from; a whole /64 network counts as one, for it is one home."""
    client = scope.get("client")
    if not client:
        return ""
    address = ipaddress.ip_address(client[0].partition("%")[0])
    if isinstance(address, ipaddress.IPv4Address):
        return str(address)
    mapped = address.ipv4_mapped
    return str(mapped or ipaddress.ip_network((address, 64), strict=False))


def _is_address(name: str) -> bool:
    try:
        ipaddress.ip_address(name)
    except ValueError:
        return False
    return True
