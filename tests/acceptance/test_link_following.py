"""A guest follows a machine through a real broker: its values, its silence, its end."""

import threading
from collections.abc import Callable, Iterator

import pytest

from controller.errors import UsageError
from controller.link import following, link
from controller.link.asking import ask_run
from controller.link.following import Follower
from controller.link.settings import LinkSettings
from controller.link.wishes import Command
from controller.view.board import Standing, View
from tests.helpers.brokers import Mosquitto
from tests.helpers.moments import SET_TEST
from tests.helpers.telling import Telling
from tests.helpers.watcher import Watcher

pytestmark = pytest.mark.mosquitto
FAR_S = 60.0  # never reached unless something is wrong


@pytest.fixture(autouse=True)
def _impatient(monkeypatch: pytest.MonkeyPatch) -> None:
    for module in (link, following):
        monkeypatch.setattr(module, "FIRST_PAUSE_S", 0.05)
        monkeypatch.setattr(module, "LONGEST_PAUSE_S", 0.1)


@pytest.fixture
def follower(mosquitto: Mosquitto) -> Iterator[Follower]:
    made = Follower(LinkSettings(port=mosquitto.port))
    made.start()
    yield made
    made.close()


def until(follower: Follower, what: str, happened: Callable[[View], bool]) -> View:
    waited = threading.Event()
    for _ in range(int(FAR_S / 0.02)):
        view = follower.view()
        if happened(view):
            return view
        waited.wait(0.02)
    raise AssertionError(f"never seen: {what}; {follower.view()}")


def until_standing(follower: Follower, standing: Standing) -> View:
    return until(follower, standing, lambda view: view.standing is standing)


def test_a_machine_is_followed_from_its_first_word_to_its_leave(
    mosquitto: Mosquitto, follower: Follower
) -> None:
    until_standing(follower, Standing.NO_MACHINE)
    with Telling(LinkSettings(port=mosquitto.port)) as machine:
        view = until_standing(follower, Standing.LIVE)
        assert (view.facts.bowl_c, view.facts.phase) == (43.21, "melt")
        machine.show(ask=SET_TEST)
        view = until(follower, "a question", lambda view: view.facts.asked is not None)
        assert view.is_live
    until_standing(follower, Standing.OFF)


def test_a_broker_that_dies_is_noticed_and_found_again(
    mosquitto: Mosquitto, follower: Follower
) -> None:
    with Telling(LinkSettings(port=mosquitto.port)):
        until_standing(follower, Standing.LIVE)
        mosquitto.kill()
        view = until_standing(follower, Standing.NO_BROKER)
        assert view.facts.bowl_c == 43.21
        until(follower, "a reason", lambda _: bool(follower.trouble))
        mosquitto.start()
        until_standing(follower, Standing.LIVE)
        assert follower.trouble == ""


def test_an_answer_to_a_question_that_is_over_is_refused(mosquitto: Mosquitto) -> None:
    settings = LinkSettings(port=mosquitto.port)
    with Telling(settings) as machine, Watcher(mosquitto.port) as watcher:
        machine.show(ask=SET_TEST)
        watcher.until_topic("homie/5/bainward/ask/id", SET_TEST.id)
        with pytest.raises(UsageError, match="over before the answer was taken"):
            ask_run(settings, Command.ANSWER, "yes", "swap-water")
        assert machine.link.take(0.0, SET_TEST) == ()
