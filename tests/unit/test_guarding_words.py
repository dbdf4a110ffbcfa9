"""What a person reads whose re-arm the guard has refused.

Responsible for those words; not for when the guard refuses (test_guard_keeper).
"""

from dataclasses import replace

from controller.commands.guarding import END_FIRST, refused
from controller.guard.decision import Cause
from controller.guard.messages import Status


def after(cause: Cause) -> Status:
    """What the guard says with that cause still latched."""
    return Status(latched=cause, heat=False, bath_mc=61_000, number=0)


def test_what_the_guard_must_see_first_is_named_and_the_same_command_goes_on() -> None:
    said = refused(after(Cause.BATH_OVER_CAP), after(Cause.BATH_OVER_CAP))
    assert said == (
        "Still latched (bath-over-cap): the guard must first see for 10 s: a bath under the "
        "machine's limit, by the guard's thermometer. Wait until that is so, then type the same "
        "command again.\n"
    )


def test_where_nothing_is_measured_the_cause_says_what_to_do() -> None:
    said = refused(after(Cause.GUARD_RESTARTED), after(Cause.GUARD_RESTARTED))
    assert said.startswith("Still latched (guard-restarted): Look at the batch and at why")


def test_of_several_causes_every_proof_is_named() -> None:
    shown = replace(after(Cause.LEASE_LAPSED), also=("first-switch-stuck", "guard-probe-lost"))
    said = refused(shown, shown)
    assert "a heater that is dead" in said
    assert "the guard's thermometer" in said


def test_what_came_while_the_person_read_is_named() -> None:
    shown = after(Cause.LEASE_LAPSED)
    said = refused(shown, replace(shown, also=("heater-live-when-off",)))
    assert "something came meanwhile: heater-live-when-off." in said


def test_a_run_that_came_while_the_person_read_is_to_be_ended() -> None:
    shown = after(Cause.LEASE_LAPSED)
    assert refused(shown, replace(shown, led=True)).endswith(f"{END_FIRST}\n")
