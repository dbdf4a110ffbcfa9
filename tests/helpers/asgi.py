"""One request to a web application, without a server in between.

Responsible for what a browser, or who pretends to be one, sends; not for any expectation.
"""

import asyncio
import json
from dataclasses import dataclass
from typing import Any

from starlette.types import ASGIApp, Message

HOST = "127.0.0.1:8080"
ORIGIN = f"http://{HOST}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What came back."""

    status: int
    headers: dict[str, str]
    body: bytes

    @property
    def said(self) -> Any:  # noqa: ANN401 - whatever JSON it is
        """The body, read as JSON."""
        return json.loads(self.body)

    @property
    def cookie(self) -> str:
        """The cookie that was set, as a browser would send it back."""
        return self.headers.get("set-cookie", "").partition(";")[0]


def ask(
    app: ASGIApp,
    path: str,
    body: object = None,
    *,
    method: str | None = None,
    headers: dict[str, str | None] | None = None,
    client: str = "192.168.1.7",
) -> Answer:
    """Ask as the page itself would; `headers` are changes to that, None takes one away.

    A body makes a POST: bytes as they are, anything else as JSON.
    """
    is_post = body is not None
    given: dict[str, str | None] = {"host": HOST, "sec-fetch-site": "same-origin"}
    if is_post:
        given |= {"origin": ORIGIN, "content-type": "application/json"}
    given |= headers or {}
    raw = body if isinstance(body, bytes) else json.dumps(body).encode()
    scope = {
        "type": "http",
        "asgi": {"version": "3.0"},
        "http_version": "1.1",
        "method": method or ("POST" if is_post else "GET"),
        "scheme": "http",
        "path": path,
        "raw_path": path.encode(),
        "root_path": "",
        "query_string": b"",
        "headers": [(k.encode(), v.encode()) for k, v in given.items() if v is not None],
        "client": (client, 5555),
        "server": ("127.0.0.1", 8080),
    }
    return asyncio.run(_answered(app, scope, raw if is_post else b""))


async def _answered(app: ASGIApp, scope: dict[str, Any], body: bytes) -> Answer:
    parts = [body[at : at + 1024] for at in range(0, len(body), 1024)] or [b""]
    told: list[Message] = []

    async def receive() -> Message:
        part = parts.pop(0) if parts else b""
        return {"type": "http.request", "body": part, "more_body": bool(parts)}

    async def send(message: Message) -> None:
        told.append(message)

    await app(scope, receive, send)
    begun = next(one for one in told if one["type"] == "http.response.start")
    return Answer(
        status=begun["status"],
        headers={key.decode(): value.decode() for key, value in begun["headers"]},
        body=b"".join(one.get("body", b"") for one in told),
    )
