"""Which message may go: quiet hours, limits, age."""

from datetime import time

import pytest

from controller.core.interlock_rows import Priority
from controller.push.message import Message, Waiting
from controller.push.pacing import (
    LATE_S,
    LONGEST_PAUSE_S,
    MOST_PRESSING,
    TOO_OLD_S,
    Choice,
    aged,
    choose,
    next_pause_s,
)
from controller.push.settings import Kind, Protocol, PushSettings, Quiet
from controller.push.telling import Facts

NIGHT = Quiet(begins=time(22, 0), ends=time(7, 0))
SETTINGS = PushSettings(protocol=Protocol.NTFY, url="https://push.example/a", most=3, quiet=NIGHT)
NOW_S = 5_000_000.0
AT_NIGHT, BY_DAY = time(23, 30), time(12, 0)
ASKED: Facts = {"ask/id": "set-test"}


def question(number: int = 1, *, held: bool = False, at_s: float = NOW_S) -> Waiting:
    return waiting(number, Kind.QUESTION, Priority.MEDIUM, held=held, at_s=at_s)


def alarm(number: int = 1, priority: Priority = Priority.HIGH) -> Waiting:
    return waiting(number, Kind.ALARM, priority)


def waiting(
    number: int, kind: Kind, priority: Priority, *, held: bool = False, at_s: float = NOW_S
) -> Waiting:
    message = Message(
        kind=kind, priority=priority, title="t", text="Do it.", about="ask/id", value="set-test"
    )
    return Waiting(number=number, id=f"x-{number}", message=message, at_s=at_s, is_held=held)


def chosen(
    *those: Waiting, local: time = BY_DAY, facts: Facts = ASKED, sent: tuple[int, int] = (0, 0)
) -> Choice:
    return choose(those, SETTINGS, facts, now_s=NOW_S, local=local, sent=sent)


@pytest.mark.parametrize(
    ("local", "holds"),
    [
        (time(21, 59), False),
        (time(22, 0), True),
        (time(0, 0), True),
        (time(6, 59), True),
        (time(7, 0), False),
    ],
)
def test_quiet_hours_go_over_midnight(local: time, holds: bool) -> None:
    assert NIGHT.holds(local) is holds


def test_quiet_hours_within_a_day() -> None:
    nap = Quiet(begins=time(13, 0), ends=time(14, 30))
    assert [nap.holds(time(hour)) for hour in (12, 13, 14, 15)] == [False, True, True, False]


def test_the_first_that_waits_goes() -> None:
    assert chosen(question(1), question(2)).send == question(1)
    assert chosen() == Choice()


def test_at_night_only_an_alarm_of_high_priority_goes() -> None:
    choice = chosen(question(1), alarm(2, Priority.MEDIUM), alarm(3), local=AT_NIGHT)
    assert choice.send == alarm(3)
    assert choice.hold == (1, 2)
    assert chosen(question(1, held=True), local=AT_NIGHT) == Choice()  # noted once


def test_in_the_morning_goes_what_is_still_so_and_no_more() -> None:
    asked, answered = question(1, held=True), {"ask/id": "none"}
    assert chosen(asked).send == asked
    assert chosen(asked, facts=answered) == Choice(over=((1, "settled"),))
    assert chosen(asked, facts=answered, local=AT_NIGHT) == Choice()


def test_what_no_quiet_hour_held_back_goes_though_it_is_settled() -> None:
    assert chosen(question(), facts={}).send == question()


def test_too_many_in_a_while_wait_and_pressing_ones_do_not() -> None:
    assert chosen(question(), sent=(0, 2)).send == question()
    assert chosen(question(), sent=(0, 3)) == Choice()
    assert chosen(question(1), alarm(2), sent=(0, 3)).send == alarm(2)
    assert chosen(question(), sent=(99, 0)).send == question()


def test_even_pressing_ones_have_a_limit() -> None:
    assert chosen(alarm(), sent=(MOST_PRESSING - 1, 0)).send == alarm()
    assert chosen(alarm(), sent=(MOST_PRESSING, 0)) == Choice()


def test_what_could_not_be_told_for_a_day_goes_only_while_it_is_so() -> None:
    old = question(1, at_s=NOW_S - TOO_OLD_S - 1)
    assert chosen(old).send == old
    assert chosen(old, facts={}) == Choice(over=((1, "settled"),))


def test_what_comes_late_says_so() -> None:
    assert aged(question(at_s=NOW_S - LATE_S + 1), NOW_S) == "Do it."
    assert aged(question(at_s=NOW_S - 600), NOW_S) == "Do it. (This was 10 min ago.)"
    assert aged(question(at_s=0.0), NOW_S) == "Do it. (This was a day or more ago.)"
    assert aged(question(at_s=NOW_S + 9e9), NOW_S) == "Do it."  # the clock was set back


def test_pauses_grow_and_end_growing() -> None:
    pauses, pause_s = [], 0.0
    for _ in range(12):
        pause_s = next_pause_s(pause_s)
        pauses.append(pause_s)
    assert pauses[:4] == [2.0, 4.0, 8.0, 16.0]
    assert pauses[-1] == LONGEST_PAUSE_S
