"""The door: which requests come in at all, and what every answer carries.

Responsible for whom a browser may be speaking for, for sizes and for headers; not for who is signed
in (visits) nor for answers (app).
"""

import asyncio
import base64
import hashlib
import ipaddress
import re
from collections.abc import Awaitable, Callable, Iterable
from http import HTTPStatus

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from controller.page.visits import Allowances

# Own engineering values, not published: a page opens eight requests, and asks seldom after that.
AT_ONCE = 160.0  # twenty viewers of one home who open it together
EACH_S = 0.1
# Who asks sooner waits: a page that lacks one of its files would never be live.
PATIENCE_S = 5.0
MOST_BODY_BYTES = 4096

_OWN_SCRIPT = re.compile(rb"<script>(.*?)</script>", re.DOTALL)
HEADERS = {
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
# A page on a wall has nobody who loads it again: HTML standard, "shared declarative refresh steps".
_AGAIN = {"retry-after": f"{PATIENCE_S:g}", "refresh": f"{PATIENCE_S:g}"}
_HOST = re.compile(r"(\[[0-9a-f:.]+\]|[a-z0-9.-]+)(:[0-9]{1,5})?")
_SAFE = frozenset({"GET", "HEAD"})
_LINK = "document"  # Fetch Metadata Request Headers, "Sec-Fetch-Dest": a page of its own


class Door:
    """Stands before the application."""

    def __init__(
        self,
        app: ASGIApp,
        names: Iterable[str],
        clock_s: Callable[[], float],
        *,
        page: bytes = b"",
        pause: Callable[[float], Awaitable[object]] = asyncio.sleep,
    ) -> None:
        """`names` are those by which the page may be asked for, besides bare addresses.

        Else somebody's name that leads here would make their page ours in a browser's eyes. `page`
        is the one whose own script may run, `pause` waits for so many seconds.
        """
        self._app = app
        self._headers = {"content-security-policy": _policy(page), **HEADERS}
        self._pause = pause
        self._names = frozenset(name.casefold().rstrip(".") for name in names)
        self._asking = Allowances(AT_ONCE, EACH_S, clock_s)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request in, or say why not."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return

        async def answer(message: Message) -> None:
            if message["type"] == "http.response.start":
                MutableHeaders(scope=message).update(self._headers)
            await send(message)

        app = self._refusal(scope)
        if app is None:
            wait_s = self._asking.claim(address_of(scope), PATIENCE_S)
            if wait_s:
                await self._pause(wait_s)
            app = _TOO_MANY if wait_s is None else self._app
        await app(scope, receive, answer)

    def _refusal(self, scope: Scope) -> ASGIApp | None:
        """The answer to a request that is none of this page's own; it costs nobody a turn."""
        headers = Headers(scope=scope)
        host = headers.get("host", "").casefold()
        if len(headers.getlist("host")) != 1 or not self._is_ours(host):
            return _NOT_BY_THAT_NAME
        site = headers.get("sec-fetch-site", "same-origin")
        if scope["method"] in _SAFE:
            # A link may lead here; a page that loads this one over and over follows none.
            is_link = scope["path"] == "/" and headers.get("sec-fetch-dest", _LINK) == _LINK
            is_foreign = site == "cross-site" and not is_link
        else:
            own = f"{scope['scheme']}://{host}"
            is_foreign = headers.get("origin", "").casefold() != own or site != "same-origin"
        if is_foreign:
            return _FROM_ANOTHER
        return None

    def _is_ours(self, host: str) -> bool:
        found = _HOST.fullmatch(host)
        if found is None:
            return False
        name = found[1].strip("[]").rstrip(".")
        return name in self._names or _is_address(name)


def _saying(status: HTTPStatus, why: str, **more: str) -> ASGIApp:
    return PlainTextResponse(f"{why}\n", status, HANG_UP | more)


_NOT_BY_THAT_NAME = _saying(
    HTTPStatus.MISDIRECTED_REQUEST,
    "This page is not known by that name; ask by its address, or start it with --host.",
)
_TOO_MANY = _saying(
    HTTPStatus.TOO_MANY_REQUESTS,
    "Too much is asked of this page from your network; it is tried again in a moment.",
    **_AGAIN,
)
_FROM_ANOTHER = _saying(
    HTTPStatus.FORBIDDEN, "Another page asked for this; open this one and ask there."
)


def _policy(page: bytes) -> str:
    """Everything comes from here, and of what is written into the page only its own script runs.

    That script is named by its hash: Content Security Policy Level 3, "hash-source".
    """
    hashes = (base64.b64encode(hashlib.sha256(own).digest()) for own in _OWN_SCRIPT.findall(page))
    scripts = " ".join(("'self'", *(f"'sha256-{one.decode()}'" for one in hashes)))
    return (
        f"default-src 'none'; script-src {scripts}; style-src 'self'; img-src 'self'; "
        "connect-src 'self'; manifest-src 'self'; base-uri 'none'; form-action 'none'; "
        "frame-ancestors 'none'"
    )


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
