"""Log lines: for people or machines, with the run and its phase on each."""

import io
import json
import logging
import threading
from collections.abc import Iterator
from datetime import UTC, datetime

import pytest
import structlog

from controller.core.state import EventName
from controller.logs import EventLog, set_up
from tests.helpers.batch import a_moment, an_event

AT = datetime(2031, 2, 3, 10, 0, 0, 5000, tzinfo=UTC)


def wall_time() -> datetime:
    """A moment in the future."""
    return AT


@pytest.fixture(autouse=True)
def _as_before() -> Iterator[None]:
    yield
    structlog.reset_defaults()


def json_lines(stream: io.StringIO) -> list[dict[str, object]]:
    """What was logged."""
    return [json.loads(line) for line in stream.getvalue().splitlines()]


def test_a_json_line_has_time_level_run_and_phase() -> None:
    stream = io.StringIO()
    bound = set_up(stream, json_lines=True, wall_time=wall_time)
    structlog.get_logger().info("run_started", profile="dark")
    bound.run_id, bound.phase = "run-1", "melt"
    structlog.get_logger().warning("broker_lost")
    assert json_lines(stream) == [
        {
            "at": "2031-02-03T10:00:00.005+00:00",
            "event": "run_started",
            "level": "info",
            "profile": "dark",
        },
        {
            "at": "2031-02-03T10:00:00.005+00:00",
            "event": "broker_lost",
            "level": "warning",
            "phase": "melt",
            "run_id": "run-1",
        },
    ]


def test_another_thread_knows_the_run_too() -> None:
    stream = io.StringIO()
    set_up(stream, json_lines=True, wall_time=wall_time).run_id = "run-1"
    thread = threading.Thread(target=structlog.get_logger().info, args=("broker_connected",))
    thread.start()
    thread.join()
    assert json_lines(stream)[0]["run_id"] == "run-1"


def test_the_console_line_is_plain_text_without_colours_in_a_pipe() -> None:
    stream = io.StringIO()
    set_up(stream, json_lines=False, wall_time=wall_time)
    structlog.get_logger().info("run_ended", outcome="complete")
    text = stream.getvalue()
    assert text.startswith("2031-02-03T10:00:00.005+00:00 [info")
    assert "run_ended" in text
    assert "outcome=complete" in text
    assert "\x1b" not in text


def test_lines_below_the_least_level_are_dropped() -> None:
    stream = io.StringIO()
    set_up(stream, json_lines=True, wall_time=wall_time, least=logging.WARNING)
    structlog.get_logger().info("run_started")
    assert stream.getvalue() == ""


@pytest.mark.parametrize("as_json", [True, False])
def test_an_exception_is_logged_with_its_trace(*, as_json: bool) -> None:
    stream = io.StringIO()
    set_up(stream, json_lines=as_json, wall_time=wall_time)
    try:
        int("out of cocoa")
    except ValueError:
        structlog.get_logger().exception("loop_failed")
    assert "out of cocoa" in stream.getvalue()
    assert "Traceback" in stream.getvalue()


def an_event_log(stream: io.StringIO) -> EventLog:
    """Logs the events of ticks as JSON lines."""
    bound = set_up(stream, json_lines=True, wall_time=wall_time)
    return EventLog(structlog.get_logger(), bound, ("melt", "cool"))


def test_events_of_a_tick_are_logged_with_their_facts_and_the_phase() -> None:
    stream = io.StringIO()
    log = an_event_log(stream)
    log.tell(a_moment(0.0))
    log.tell(a_moment(1.5, phase=1, events=(an_event(EventName.PHASE_ENTERED, bowl_c=45.5),)))
    (line,) = json_lines(stream)
    assert line["event"] == "phase_entered"
    assert line["level"] == "info"
    assert line["phase"] == "cool"
    assert line["bowl_c"] == 45.5
    assert line["run_s"] == 1.5


def test_a_trip_is_an_error_and_withheld_heat_a_warning() -> None:
    stream = io.StringIO()
    events = (an_event(EventName.TRIP_LATCHED), an_event(EventName.HEAT_WITHHELD))
    an_event_log(stream).tell(a_moment(0.0, events=events))
    assert [line["level"] for line in json_lines(stream)] == ["error", "warning"]


def test_what_a_screen_shows_is_not_logged_beside_it_and_all_else_is() -> None:
    stream = io.StringIO()
    bound = set_up(stream, json_lines=True, wall_time=wall_time)
    told = frozenset({EventName.TRIP_LATCHED})
    log = EventLog(structlog.get_logger(), bound, ("melt", "cool"), shown=told)
    events = (an_event(EventName.TRIP_LATCHED), an_event(EventName.HEAT_WITHHELD))
    log.tell(a_moment(0.0, phase=1, events=events))
    structlog.get_logger().error("loop_failed")
    lines = json_lines(stream)
    assert [line["event"] for line in lines] == ["heat_withheld", "loop_failed"]
    assert {line["phase"] for line in lines} == {"cool"}


def test_a_fact_named_like_a_part_of_the_line_does_no_harm() -> None:
    stream = io.StringIO()
    event = an_event(EventName.DWELL_ENDED, event="x", level="y", at="z", run_s=9.0)
    an_event_log(stream).tell(a_moment(0.0, events=(event,)))
    (line,) = json_lines(stream)
    assert line["event"] == "dwell_ended"
    assert line["level"] == "info"
    assert line["run_s"] == 0.0


class Gone(io.StringIO):
    """A terminal that has been closed."""

    def write(self, _text: str) -> int:
        """Fail as a closed terminal does."""
        raise OSError(5, "Input/output error")


def test_a_terminal_that_goes_away_does_not_end_the_run() -> None:
    stream = Gone()
    set_up(stream, json_lines=True, wall_time=wall_time)
    log = structlog.get_logger()
    log.info("run_started")
    log.error("broker_lost")
    assert stream.getvalue() == ""
