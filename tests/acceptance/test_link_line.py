"""What the screen of a run says of its broker, over the link itself and one that comes late."""

import io
from collections.abc import Iterator

import pytest

import controller.link.link as module
from controller.commands.link_line import AWAY_S, LinkLine
from controller.link.link import Link
from controller.link.settings import LinkSettings
from controller.report.progress import ProgressLine
from tests.helpers.brokers import Mosquitto
from tests.helpers.guard_stage import until
from tests.helpers.logs import listening_log
from tests.helpers.moments import moment, profile, state


class Told:
    """A screen, the line on it, and a run's seconds that pass as a test says."""

    def __init__(self, link: Link | None = None, *, is_real: bool = True) -> None:
        """Nothing said yet; without a link there is no broker."""
        self.stream, self.run_s = io.StringIO(), 0.0
        screen = ProgressLine(self.stream, profile=profile(), clock_s=lambda: 0.0)
        self.line = LinkLine(screen, is_real=is_real)
        if link is not None:
            self.line.follow(link)

    def pass_s(self, seconds: float) -> str:
        """So many ticks of a second; what was said meanwhile."""
        before = len(self.stream.getvalue())
        for _ in range(round(seconds)):
            self.run_s += 1.0
            self.line.tell(moment(state(run_s=self.run_s)))
        return self.stream.getvalue()[before:]


@pytest.fixture
def link(mosquitto: Mosquitto, monkeypatch: pytest.MonkeyPatch) -> Iterator[Link]:
    monkeypatch.setattr(module, "FIRST_PAUSE_S", 0.05)
    monkeypatch.setattr(module, "LONGEST_PAUSE_S", 0.1)
    mosquitto.kill()
    made = Link(LinkSettings(port=mosquitto.port), profile(), run_id="a", log=listening_log()[0])
    made.start()
    until("a refused connection", lambda: bool(made.trouble))
    yield made
    made.close(wait_s=0.3)


@pytest.mark.mosquitto
def test_a_broker_that_stays_away_is_told_of_once_with_the_reason(link: Link) -> None:
    told = Told(link)
    assert told.pass_s(AWAY_S) == ""
    said = told.pass_s(1.0)
    assert said.startswith(f"0:00:16  no broker at {link.address} (Connection refused): nobody")
    assert "see to its address and that it runs" in said
    assert told.pass_s(300.0) == ""


@pytest.mark.mosquitto
def test_one_that_comes_late_is_told_of_and_missed_again_when_it_goes(
    link: Link, mosquitto: Mosquitto
) -> None:
    told = Told(link)
    assert "no broker at" in told.pass_s(20.0)
    mosquitto.start()
    until("a welcome", lambda: link.connected)
    assert told.pass_s(2.0) == f"0:00:21  the broker at {link.address} is there\n"
    assert told.pass_s(100.0) == ""
    mosquitto.kill()
    until("a loss", lambda: not link.connected and bool(link.trouble))
    assert told.pass_s(AWAY_S - 1.0) == ""
    assert "no broker at" in told.pass_s(2.0)


@pytest.mark.mosquitto
def test_in_simulated_time_no_broker_could_come_in_time(link: Link) -> None:
    assert Told(link, is_real=False).pass_s(100.0) == ""


def test_a_run_without_a_broker_says_nothing_of_one() -> None:
    assert Told().pass_s(100.0) == ""
