"""The page's application: what it shows, who may ask, and who gets nowhere."""

import base64
import hashlib
import re
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import pytest
from starlette.types import ASGIApp

from controller.errors import UsageError
from controller.link.settings import LinkSettings, Remote
from controller.link.wishes import Command
from controller.page import errands, passwords
from controller.page.app import FILES, STATIC, Shown, application
from controller.page.door import AT_ONCE, EACH_S, MOST_BODY_BYTES, PATIENCE_S
from controller.page.errands import Errands
from controller.page.passwords import Hash
from controller.page.visits import MOST_FORMS, SIGNED_IN_S
from controller.view.board import Standing, View
from controller.view.facts import facts_of
from tests.helpers.asgi import HOST, Answer, ask
from tests.helpers.moments import SET_TEST, TRIP, moment, state
from tests.helpers.records import replace
from tests.helpers.topics import told

PASSWORD = "swirl-the-bowl"  # noqa: S105 - the tests' own
FLOOD, TURNS = 250, round(AT_ONCE + PATIENCE_S / EACH_S)  # that it asks for, and gets at most


@dataclass
class Kitchen:
    """An application, its clock, and what reached the run."""

    app: ASGIApp
    asked: list[tuple[Command, str, str]] = field(default_factory=list)
    now_s: float = 0.0
    waited_s: list[float] = field(default_factory=list)  # of requests, for their turn
    cookie: str = ""

    def get(self, path: str) -> Any:  # noqa: ANN401 - whatever JSON it is
        """What is answered there, read."""
        return ask(self.app, path, headers={"cookie": self.cookie}).said

    def post(self, path: str, body: object, **more: Any) -> Answer:  # noqa: ANN401 - of `ask`
        """Send something there as this visitor."""
        headers = {"cookie": self.cookie, **more.pop("headers", {})}
        return ask(self.app, path, body, headers=headers, **more)

    def sign_in(self, password: str = PASSWORD) -> Answer:
        """Be somebody who signs in."""
        answer = self.post("/sign-in", {"password": password})
        self.cookie = answer.cookie or self.cookie
        return answer

    def form(self) -> str:
        """A fresh form."""
        form: str = self.get("/who")["form"]
        return form


Make = Callable[..., Kitchen]


@pytest.fixture
def make(monkeypatch: pytest.MonkeyPatch) -> Make:
    monkeypatch.setattr(passwords, "LN_N", 4)  # the real work is for test_page_passwords.py

    def made(*, remote: Remote = Remote.OFF, has_password: bool = True, **changes: Any) -> Kitchen:  # noqa: ANN401 - any field of the state
        kitchen: Kitchen

        def ask_run(_settings: LinkSettings, command: Command, choice: str, id_: str) -> str:
            kitchen.asked.append((command, choice, id_))
            if choice == "no":
                raise UsageError("The run refused: for a test.")
            return command.value

        monkeypatch.setattr(errands, "ask_run", ask_run)
        facts = facts_of(told(moment(state(**changes))))
        view = View(facts=facts, standing=Standing.LIVE, age_s=1.0, samples=())
        password = Hash.of(PASSWORD) if has_password else None
        shown = Shown(view=lambda: view, remote=remote, password=password)

        async def pause(wait_s: float) -> None:
            kitchen.waited_s.append(wait_s)

        app = application(
            shown,
            Errands(LinkSettings()),
            names=("Kitchen.local",),
            clock_s=lambda: kitchen.now_s,
            pause=pause,
        )
        kitchen = Kitchen(app)
        return kitchen

    return made


@pytest.mark.parametrize("path", FILES)
def test_the_page_comes_from_here_alone_and_lets_nothing_else_in(make: Make, path: str) -> None:
    answer = ask(make().app, path)
    assert answer.status == 200
    policy = answer.headers["content-security-policy"]
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy
    assert "frame-ancestors 'none'" in policy
    assert answer.headers["x-content-type-options"] == "nosniff"
    text = answer.body.decode().replace("http://www.w3.org/2000/svg", "")
    assert "http:" not in text
    assert "https:" not in text


def test_of_what_is_written_into_the_page_its_own_script_runs_and_no_other(make: Make) -> None:
    answer = ask(make().app, "/")
    (own,) = re.findall(rb"<script>(.*?)</script>", answer.body, re.DOTALL)
    digest = base64.b64encode(hashlib.sha256(own).digest()).decode()
    policy = answer.headers["content-security-policy"]
    assert f"script-src 'self' 'sha256-{digest}';" in policy
    assert policy.count("sha256-") == 1


def test_the_page_weighs_little() -> None:
    assert sum(path.stat().st_size for path in STATIC.iterdir()) < 60_000


def test_the_facts_are_there_for_everybody(make: Make) -> None:
    facts = make(ask=SET_TEST).get("/facts")
    assert (facts["word"], facts["bowl"], facts["live"]) == ("Your turn", "43.2 °C", True)
    words = {one["word"]: (one["heats"], one["here"]) for one in facts["asked"]["choices"]}
    assert words == {"yes": (False, True), "no": (False, True), "warm-on": (True, False)}
    assert make(trips=(TRIP,)).get("/facts")["alerts"][0]["cause"] == "level-lost"


def test_an_answer_that_heats_is_offered_where_the_machine_takes_it(make: Make) -> None:
    for remote in (Remote.ACCESS_LIST, Remote.SIGNED):
        choices = make(remote=remote, ask=SET_TEST).get("/facts")["asked"]["choices"]
        assert all(one["here"] for one in choices)


def test_a_page_without_a_password_only_shows(make: Make) -> None:
    kitchen = make(has_password=False)
    assert kitchen.get("/who") == {
        "has_password": False,
        "signed_in": False,
        "form": "",
        "said": "",
    }
    assert kitchen.sign_in().status == 403
    assert kitchen.post("/ask", {"form": "", "command": "stop"}).status == 401
    assert kitchen.asked == []


def test_who_signed_in_answers_the_question_that_was_on_the_page(make: Make) -> None:
    kitchen = make(ask=SET_TEST)
    answer = kitchen.sign_in()
    assert answer.status == 200
    cookie = answer.headers["set-cookie"].lower()
    assert "httponly" in cookie
    assert "samesite=strict" in cookie
    body = {"form": answer.said["form"], "command": "answer", "choice": "yes", "ask": "set-test"}
    done = kitchen.post("/ask", body)
    assert (done.status, done.said["said"]) == (200, "The run took it: answer yes.")
    assert kitchen.asked == [(Command.ANSWER, "yes", "set-test")]
    again = kitchen.post("/ask", {**body, "form": done.said["form"], "choice": "no"})
    assert (again.status, again.said["said"]) == (409, "The run refused: for a test.")


def test_a_form_counts_once_and_only_for_whom_it_was_made(make: Make) -> None:
    kitchen = make()
    kitchen.sign_in()
    body = {"form": kitchen.form(), "command": "stop"}
    first = kitchen.cookie
    kitchen.cookie = ""
    kitchen.sign_in()
    assert kitchen.post("/ask", body).status == 403
    kitchen.cookie = first
    assert kitchen.post("/ask", body).status == 200
    assert kitchen.post("/ask", body).status == 403
    assert kitchen.post("/ask", {"form": "guess", "command": "stop"}).status == 403
    assert kitchen.asked == [(Command.STOP, "", "")]


def test_forms_that_nobody_uses_do_not_pile_up(make: Make) -> None:
    kitchen = make()
    kitchen.sign_in()
    old = kitchen.form()
    for _ in range(MOST_FORMS):
        kitchen.form()
    assert kitchen.post("/ask", {"form": old, "command": "stop"}).status == 403


@pytest.mark.parametrize(
    "body",
    [
        b"",
        b"[]",
        b"\xff",
        b'{"form": "a"' + b"[" * 3000,
        {"command": "stop"},
        {"form": "F", "command": "start"},
        {"form": "F", "command": "reset"},
        {"form": "F", "command": "heat"},
        {"form": "F", "command": "answer"},
        {"form": "F", "command": "answer", "choice": "yes"},
        {"form": "F", "command": "stop", "token": "x"},
        {"form": "F", "command": "answer", "choice": "a\nb", "ask": "c"},
        {"form": "F", "command": "answer", "choice": "a" * 129, "ask": "c"},
        {"form": 1, "command": "stop"},
    ],
)
def test_nothing_but_what_the_page_sends_is_taken(make: Make, body: object) -> None:
    kitchen = make()
    kitchen.sign_in()
    if isinstance(body, dict) and body.get("form") == "F":
        body = {**body, "form": kitchen.form()}
    assert kitchen.post("/ask", body).status == 400
    assert kitchen.asked == []


FORGED = [
    {"origin": "http://elsewhere.example"},
    {"origin": "null"},
    {"origin": None},
    {"origin": f"https://{HOST}"},
    {"sec-fetch-site": "cross-site"},
    {"sec-fetch-site": "same-site"},
    {"content-type": "text/plain"},
    {"content-type": "application/x-www-form-urlencoded"},
]


@pytest.mark.parametrize("headers", FORGED, ids=str)
def test_another_page_in_the_same_browser_gets_nowhere(
    make: Make, headers: dict[str, str | None]
) -> None:
    kitchen = make()
    kitchen.sign_in()
    body = {"form": kitchen.form(), "command": "stop"}
    for path in ("/ask", "/sign-in", "/sign-out"):
        assert kitchen.post(path, body, headers=headers).status in {403, 415}
    assert kitchen.asked == []
    assert kitchen.post("/ask", body).status == 200  # it was not used up


def test_a_name_that_somebody_else_made_lead_here_is_refused(make: Make) -> None:
    app = make().app
    for host in ("elsewhere.example", "", "127.0.0.1.elsewhere.example", "a b", "x" * 300):
        assert ask(app, "/facts", headers={"host": host}).status == 421
    for host in (
        "127.0.0.1",
        "[fe80::1]:8080",
        "192.168.1.4:80",
        "kitchen.local",
        "KITCHEN.local.",
    ):
        assert ask(app, "/facts", headers={"host": host}).status == 200


def test_a_foreign_page_can_not_even_look(make: Make) -> None:
    app = make().app
    for path in ("/facts", "/live", "/who", "/samples"):
        assert ask(app, path, headers={"sec-fetch-site": "cross-site"}).status == 403
    for what in ("document", None):  # a link to it
        headers = {"sec-fetch-site": "cross-site", "sec-fetch-dest": what}
        assert ask(app, "/", headers=headers).status == 200


def test_a_huge_body_is_not_read_to_its_end(make: Make) -> None:
    kitchen = make()
    assert kitchen.post("/sign-in", b" " * (MOST_BODY_BYTES + 1)).status == 413


def test_a_flood_from_one_house_is_turned_away_and_others_are_served(make: Make) -> None:
    kitchen = make()
    flood = [ask(kitchen.app, "/facts", client="10.0.0.9") for _ in range(FLOOD)]
    assert [one.status for one in flood] == [200] * TURNS + [429] * (FLOOD - TURNS)
    assert flood[-1].headers["refresh"] == "5"  # a page on a wall has nobody to load it again
    assert max(kitchen.waited_s) <= PATIENCE_S
    kitchen.waited_s.clear()
    assert ask(kitchen.app, "/facts").status == 200
    assert kitchen.waited_s == []
    kitchen.now_s += PATIENCE_S + 10.0 * EACH_S
    assert ask(kitchen.app, "/facts", client="10.0.0.9").status == 200
    assert kitchen.waited_s == []


def test_who_asks_a_little_too_fast_waits_and_gets_everything(make: Make) -> None:
    kitchen = make()
    asked = [ask(kitchen.app, "/page.js").status for _ in range(round(AT_ONCE) + 3)]
    assert set(asked) == {200}
    assert kitchen.waited_s == pytest.approx([EACH_S, 2 * EACH_S, 3 * EACH_S])


@pytest.mark.parametrize(("path", "what"), [("/facts", "empty"), ("/", "empty"), ("/", "iframe")])
def test_another_page_in_the_same_browser_uses_up_nobodys_turn(
    make: Make, path: str, what: str
) -> None:
    kitchen = make()
    foreign: dict[str, str | None] = {"sec-fetch-site": "cross-site", "sec-fetch-dest": what}
    for _ in range(FLOOD):
        assert ask(kitchen.app, path, headers=foreign).status == 403
    assert ask(kitchen.app, "/facts").status == 200
    assert kitchen.waited_s == []


def test_a_network_of_addresses_is_one_house(make: Make) -> None:
    app = make().app
    flood = [ask(app, "/facts", client=f"2001:db8::{n:x}").status for n in range(FLOOD)]
    assert flood.count(429) == FLOOD - TURNS


def test_passwords_can_not_be_tried_out(make: Make) -> None:
    kitchen = make()
    tries = [kitchen.sign_in(f"wrong-{number}") for number in range(8)]
    assert [one.status for one in tries] == [403] * 5 + [429] * 3
    assert kitchen.cookie == ""
    assert kitchen.sign_in().status == 429
    kitchen.now_s += 21.0
    assert kitchen.sign_in().status == 200


def test_a_very_long_password_costs_nothing(make: Make) -> None:
    assert make().sign_in("x" * 2000).status == 403


def test_asking_too_much_is_refused(make: Make) -> None:
    kitchen = make()
    kitchen.sign_in()
    done = [
        kitchen.post("/ask", {"form": kitchen.form(), "command": "pause"}).status for _ in range(12)
    ]
    assert done == [200] * 10 + [429] * 2
    assert len(kitchen.asked) == 10


def test_so_many_errands_under_way_that_another_would_wait_are_enough(
    make: Make, monkeypatch: pytest.MonkeyPatch
) -> None:
    kitchen = make()
    kitchen.sign_in()
    monkeypatch.setattr(errands, "MOST_AT_ONCE", 0)
    refused = kitchen.post("/ask", {"form": kitchen.form(), "command": "pause"})
    assert (refused.status, kitchen.asked) == (429, [])


def test_signing_in_ends_by_itself_and_by_signing_out(make: Make) -> None:
    kitchen = make()
    kitchen.sign_in()
    form = kitchen.form()
    kitchen.now_s += SIGNED_IN_S
    assert not kitchen.get("/who")["signed_in"]
    assert kitchen.post("/ask", {"form": form, "command": "stop"}).status == 401
    kitchen.sign_in()
    kept = kitchen.cookie
    kitchen.post("/sign-out", {"form": kitchen.form()})
    kitchen.cookie = kept
    assert not kitchen.get("/who")["signed_in"]
    assert kitchen.asked == []


def test_only_the_ways_that_there_are_lead_anywhere(make: Make) -> None:
    app = make().app
    for path in ("/../page.py", "/static/page.js", "//", "/%2e%2e/", "/favicon.ico", "/docs"):
        assert ask(app, path).status == 404
    for path in ("/", "/facts", "/live"):
        assert ask(app, path, b"{}").status == 405
        assert ask(app, path, method="DELETE").status == 403


def test_what_a_machine_says_stays_text(make: Make) -> None:
    evil = SET_TEST.text + "</script><img src=x onerror=alert(1)>"
    facts = make(ask=replace(SET_TEST, text=evil)).get("/facts")
    assert facts["asked"]["text"] == evil
    assert "innerHTML" not in (STATIC / "page.js").read_text("utf-8")
