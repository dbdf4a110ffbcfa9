"""A push service for tests: a real HTTP server that keeps what it is sent.

Responsible for taking, refusing and stalling; not for any expectation.
"""

import ssl
import threading
from collections.abc import Callable
from dataclasses import dataclass
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from types import TracebackType
from typing import Self

FAR_S = 60.0  # never reached unless something is wrong
Pause = Callable[[], None]


@dataclass(frozen=True, slots=True)
class Post:
    """One request."""

    path: str
    headers: dict[str, str]
    body: str

    @property
    def id(self) -> str:
        """By which a repetition is known."""
        return self.headers.get("X-Sequence-ID") or self.headers.get("Topic", "")


class PushService:
    """On a free loopback port while the `with` block lasts."""

    def __init__(self, *, port: int = 0, tls: ssl.SSLContext | None = None) -> None:
        """Listen; every request is taken until `statuses` says otherwise."""
        self.posts: list[Post] = []
        self.statuses: list[tuple[int, dict[str, str]]] = []  # of the next answers, then 200
        self.before_answering: Pause = _at_once
        self._changed = threading.Condition()
        self._server = ThreadingHTTPServer(("127.0.0.1", port), self._handler())
        self._server.daemon_threads = True
        self.port: int = self._server.server_address[1]
        self._scheme = "http"
        if tls is not None:
            self._server.socket = tls.wrap_socket(self._server.socket, server_side=True)
            self._scheme = "https"
        self._thread = threading.Thread(target=self._server.serve_forever, args=(0.02,))

    @property
    def url(self) -> str:
        """Of a topic."""
        return f"{self._scheme}://localhost:{self.port}/kitchen"

    def __enter__(self) -> Self:
        """Answer from now on."""
        self._thread.start()
        return self

    def __exit__(
        self, _kind: type[BaseException] | None, _error: object, _trace: TracebackType | None
    ) -> None:
        """Take no more."""
        self._server.shutdown()
        self._thread.join()
        self._server.server_close()

    def until(self, count: int) -> list[Post]:
        """Wait for so many requests; what came by then."""
        with self._changed:
            came = self._changed.wait_for(lambda: len(self.posts) >= count, FAR_S)
        assert came, f"{count} never came, but {self.posts}"
        return list(self.posts)

    def _take(self, post: Post) -> tuple[int, dict[str, str]]:
        with self._changed:
            self.posts.append(post)
            self._changed.notify_all()
            return self.statuses.pop(0) if self.statuses else (200, {})

    def _handler(self) -> type[BaseHTTPRequestHandler]:
        service = self

        class Handler(BaseHTTPRequestHandler):
            def do_POST(self) -> None:
                body = self.rfile.read(int(self.headers["Content-Length"])).decode()
                status, headers = service._take(Post(self.path, dict(self.headers), body))
                service.before_answering()
                self.send_response(status)
                for name, value in headers.items():
                    self.send_header(name, value)
                self.send_header("Content-Length", "0")
                self.end_headers()

            def log_message(self, *_: object) -> None:
                """Keep quiet."""

        return Handler


def _at_once() -> None:
    """No pause."""
