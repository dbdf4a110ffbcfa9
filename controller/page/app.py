"""The web application: the page's files, its facts, signing in, and errands to the run.

Responsible for HTTP; not for who gets in at all (door), what is shown (snapshot) or done (errands).
"""

import asyncio
from collections.abc import Awaitable, Callable
from dataclasses import dataclass
from functools import partial
from http import HTTPStatus
from pathlib import Path
from typing import TypeVar

import msgspec
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import JSONResponse, Response, StreamingResponse
from starlette.routing import Route
from starlette.types import ASGIApp

from controller.clock import process_s
from controller.link.settings import Remote
from controller.page.door import HANG_UP, MOST_BODY_BYTES, Door, address_of
from controller.page.errands import Errand, Errands, errand_of
from controller.page.passwords import MOST, Hash
from controller.page.snapshot import curve, snapshot
from controller.page.stream import Stream
from controller.page.visits import SIGNED_IN_S, Allowances, Visit, Visits
from controller.view.board import View

STATIC = Path(__file__).with_name("static")
FILES = {
    "/": ("page.html", "text/html"),
    "/page.css": ("page.css", "text/css"),
    "/page.js": ("page.js", "text/javascript"),
    "/curve.js": ("curve.js", "text/javascript"),
    "/icon.svg": ("icon.svg", "image/svg+xml"),
}
COOKIE = "bainward"
# Own engineering values, not published.
BODY_WAIT_S = 5.0
TRIES_AT_ONCE, TRY_EACH_S = 5.0, 20.0  # of signing in, from one address
ALL_TRIES_AT_ONCE, ALL_TRY_EACH_S = 20.0, 5.0  # from everywhere
ERRANDS_AT_ONCE, ERRAND_EACH_S = 10.0, 2.0


class _Key(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """What signing in sends."""

    password: str


class _Leave(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """What signing out sends."""

    form: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """What the page is made of."""

    view: Callable[[], View]
    trouble: Callable[[], str] = lambda: ""  # why the broker can't be heard
    remote: Remote = Remote.OFF
    fahrenheit: bool | None = None  # None: as the machine publishes
    password: Hash | None = None  # None: nobody can sign in, and nothing can be asked
    is_encrypted: bool = False


class _Refused(Exception):  # noqa: N818 - no error: an answer
    """Answer with this status and sentence."""

    def __init__(self, status: HTTPStatus, why: str) -> None:
        super().__init__(why)
        self.status, self.why = status, why


class Desk:
    """Who is signed in, and what they may ask."""

    def __init__(self, shown: Shown, errands: Errands, clock_s: Callable[[], float]) -> None:
        """Nobody is signed in."""
        self._shown = shown
        self._errands = errands
        self._visits = Visits(clock_s)
        self._tries = Allowances(TRIES_AT_ONCE, TRY_EACH_S, clock_s)
        self._all_tries = Allowances(ALL_TRIES_AT_ONCE, ALL_TRY_EACH_S, clock_s)
        self._asking = Allowances(ERRANDS_AT_ONCE, ERRAND_EACH_S, clock_s)
        self._one_by_one = asyncio.Lock()  # a hash takes memory

    async def who(self, request: Request) -> Response:
        """Whether this visitor may ask for something, and a form to do it with."""
        return self._answer(self._visits.of(_cookie(request)))

    async def sign_in(self, request: Request) -> Response:
        """Take a password."""
        if self._shown.password is None:
            raise _Refused(HTTPStatus.FORBIDDEN, "This page has no password, so it only shows.")
        key = _read(await _body(request), _Key)
        address = address_of(request.scope)
        if not (self._tries.take(address) and self._all_tries.take("")):
            raise _Refused(HTTPStatus.TOO_MANY_REQUESTS, "Too many tries; wait a minute.")
        async with self._one_by_one:
            fits = len(key.password) <= MOST and await asyncio.to_thread(
                self._shown.password.fits, key.password
            )
        if not fits:
            raise _Refused(HTTPStatus.FORBIDDEN, "That is not the page's password.")
        self._visits.end(_cookie(request))
        cookie = self._visits.begin()
        answer = self._answer(self._visits.of(cookie))
        answer.set_cookie(
            COOKIE,
            cookie,
            max_age=int(SIGNED_IN_S),
            httponly=True,
            samesite="strict",
            secure=self._shown.is_encrypted,
        )
        return answer

    async def sign_out(self, request: Request) -> Response:
        """Forget a visitor."""
        visit = self._visitor(request)
        self._used(visit, _read(await _body(request), _Leave).form)
        self._visits.end(_cookie(request))
        answer = self._answer(None)
        answer.delete_cookie(COOKIE, httponly=True, samesite="strict")
        return answer

    async def ask(self, request: Request) -> Response:
        """Carry an errand to the run."""
        visit = self._visitor(request)
        errand = errand_of(await _body(request))
        if errand is None:
            raise _Refused(HTTPStatus.BAD_REQUEST, "That is nothing that can be asked from here.")
        self._used(visit, errand.form)
        if self._errands.is_busy or not self._asking.take(""):
            raise _Refused(
                HTTPStatus.TOO_MANY_REQUESTS, "Too much is being asked; go to the machine, or wait."
            )
        return await self._carried(visit, errand)

    async def _carried(self, visit: Visit, errand: Errand) -> Response:
        is_done, said = await self._errands.run(errand)
        status = HTTPStatus.OK if is_done else HTTPStatus.CONFLICT
        return self._answer(visit, said, status)

    def _visitor(self, request: Request) -> Visit:
        visit = self._visits.of(_cookie(request))
        if visit is None:
            raise _Refused(HTTPStatus.UNAUTHORIZED, "Sign in first.")
        return visit

    def _used(self, visit: Visit, form: str) -> None:
        if not visit.uses(form):
            raise _Refused(HTTPStatus.FORBIDDEN, "This form was used before; load the page anew.")

    def _answer(
        self, visit: Visit | None, said: str = "", status: HTTPStatus = HTTPStatus.OK
    ) -> Response:
        return JSONResponse(
            {
                "has_password": self._shown.password is not None,
                "signed_in": visit is not None,
                "form": "" if visit is None else visit.form(),
                "said": said,
            },
            status,
        )


def application(
    shown: Shown,
    errands: Errands,
    *,
    names: tuple[str, ...] = (),
    is_over: Callable[[], bool] = lambda: False,
    alive: Callable[[], object] = lambda: None,
    clock_s: Callable[[], float] = process_s,
    pause: Callable[[float], Awaitable[object]] = asyncio.sleep,
) -> ASGIApp:
    """The whole application; `names` are the host names it answers to besides addresses.

    `alive` is called as long as its loop comes round: a service manager may wait for it. `pause`
    waits for so many seconds.
    """
    desk = Desk(shown, errands, clock_s)
    stream = Stream(partial(_snapshot, shown), is_over, alive)

    async def facts(_request: Request) -> Response:
        return _json(_snapshot(shown))

    async def samples(_request: Request) -> Response:
        return _json(curve(shown.view(), fahrenheit=shown.fahrenheit))

    async def live(_request: Request) -> Response:
        return StreamingResponse(stream.events(), media_type="text/event-stream")

    app = Starlette(
        routes=[
            *(Route(path, _file(*file)) for path, file in FILES.items()),
            Route("/facts", facts),
            Route("/samples", samples),
            Route("/live", live),
            Route("/who", desk.who),
            Route("/sign-in", desk.sign_in, methods=["POST"]),
            Route("/sign-out", desk.sign_out, methods=["POST"]),
            Route("/ask", desk.ask, methods=["POST"]),
        ],
        exception_handlers={_Refused: _refused},
        lifespan=lambda _app: stream.running(),
    )
    return Door(app, names, clock_s, page=(STATIC / FILES["/"][0]).read_bytes(), pause=pause)


def _snapshot(shown: Shown) -> str:
    return snapshot(
        shown.view(),
        fahrenheit=shown.fahrenheit,
        remote=shown.remote,
        trouble=shown.trouble(),
    )


def _json(text: str) -> Response:
    return Response(text, media_type="application/json")


def _file(name: str, kind: str) -> Callable[[Request], Awaitable[Response]]:
    content = (STATIC / name).read_bytes()

    async def served(_request: Request) -> Response:
        return Response(content, media_type=kind)

    return served


def _refused(_request: Request, error: Exception) -> Response:
    status = error.status if isinstance(error, _Refused) else HTTPStatus.INTERNAL_SERVER_ERROR
    return JSONResponse({"said": str(error)}, status, HANG_UP)


def _cookie(request: Request) -> str:
    return request.cookies.get(COOKIE, "")


async def _body(request: Request) -> bytes:
    """The body, as far as it comes soon and is short."""
    if request.headers.get("content-type", "") != "application/json":
        raise _Refused(HTTPStatus.UNSUPPORTED_MEDIA_TYPE, "Send JSON, as the page does.")
    body = b""
    try:
        async with asyncio.timeout(BODY_WAIT_S):
            async for part in request.stream():
                body += part
                if len(body) > MOST_BODY_BYTES:
                    raise _Refused(
                        HTTPStatus.REQUEST_ENTITY_TOO_LARGE, "That is more than any form here has."
                    )
    except TimeoutError:
        raise _Refused(HTTPStatus.REQUEST_TIMEOUT, "The rest of that never came.") from None
    return body


_Form = TypeVar("_Form", bound=msgspec.Struct)


def _read(body: bytes, form: type[_Form]) -> _Form:
    try:
        return msgspec.json.decode(body, type=form)
    except (msgspec.MsgspecError, ValueError, RecursionError):
        raise _Refused(HTTPStatus.BAD_REQUEST, "That form is not as this page sends it.") from None
