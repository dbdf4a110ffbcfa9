"""Log lines of the link: worded, bounded, and never old."""

import pytest

from controller.core.state import Event, EventName
from controller.link.chronicle import WAITING, Chronicle, line


def event(name: EventName = EventName.PHASE_ENTERED, **facts: str | float | bool) -> Event:
    return Event(name=name, facts=facts)


@pytest.mark.parametrize(
    ("given", "text"),
    [
        (event(phase="hold"), "phase entered: phase hold"),
        (event(EventName.QUESTION_ANSWERED, id="seed", choice="done", action=""),
         "question answered: id seed, choice done"),
        (event(EventName.TRIP_LATCHED, at_c=62.123456789), "trip latched: at_c 62.1235"),
        (event(EventName.DWELL_ENDED), "dwell ended"),
    ],
)  # fmt: skip
def test_an_event_is_one_plain_line(given: Event, text: str) -> None:
    assert line(given) == text


def test_trouble_has_a_level_of_its_own() -> None:
    chronicle = Chronicle()
    chronicle.note([event(name) for name in EventName])
    levels = {told[1]: told[0] for told in iter(chronicle.next, None)}
    assert levels["trip latched"] == "error"
    assert levels["heat withheld"] == levels["request refused"] == "warn"
    assert levels["phase entered"] == "info"


def test_when_nobody_takes_them_the_oldest_lines_give_way() -> None:
    chronicle = Chronicle()
    chronicle.note([event(phase=f"n{number}") for number in range(WAITING + 5)])
    assert chronicle.next() == ("info", "phase entered: phase n5")


def test_what_nobody_heard_is_dropped() -> None:
    chronicle = Chronicle()
    chronicle.note([event()])
    chronicle.forget()
    assert chronicle.next() is None
