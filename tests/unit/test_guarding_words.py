"""What a person reads whose re-arm the guard has refused.

Responsible for those words; not for when the guard refuses (test_guard_keeper).
"""

from controller.commands.guarding import refused
from controller.guard.decision import Cause
from controller.guard.messages import Status
from controller.guard.resets import rule_of


def after(cause: Cause) -> Status:
    """What the guard says with that cause still latched."""
    return Status(latched=cause, heat=False, bath_mc=61_000, number=0)


def test_what_the_guard_must_see_first_is_named_and_the_same_command_goes_on() -> None:
    said = refused(after(Cause.BATH_OVER_CAP), rule_of(Cause.BATH_OVER_CAP))
    assert said == (
        "Still latched (bath-over-cap): the guard must first see for 10 s: a bath under the "
        "machine's limit, by the guard's thermometer. Wait until that is so, then type the same "
        "command again.\n"
    )


def test_where_nothing_is_measured_the_cause_says_what_to_do() -> None:
    said = refused(after(Cause.GUARD_RESTARTED), rule_of(Cause.GUARD_RESTARTED))
    assert said.startswith("Still latched (guard-restarted): Look at the batch and at why")
