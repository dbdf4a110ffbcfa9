"""A run that nobody hears of any more is told once, and so is its return."""

import pytest

from controller.core.interlock_rows import Priority
from controller.core.state import Mode
from controller.push.message import Message
from controller.push.silence import ALONE_S, LOST_S, STILL_S, Hearing, listen
from controller.push.telling import UNDER_WAY, Facts


class Scene:
    """A machine at work that was just heard, and a clock."""

    def __init__(self, mode: str = "running") -> None:
        """A run in `mode`."""
        self.facts: Facts = {"run/state": mode}
        self.now_s = 1000.0
        self.hearing = Hearing(heard_s=self.now_s, broker_s=self.now_s)
        self.hearing.connects(self.now_s)
        self.connected = True
        self.beat()

    def beat(self, *, kept: bool = False) -> None:
        """The machine's clock beats."""
        self.hearing.hears("safety/heartbeat", "7", self.now_s, kept=kept)

    def state(self, word: str, *, kept: bool = False) -> None:
        """The device's state is said."""
        self.hearing.hears("$state", word, self.now_s, kept=kept)

    def after(self, seconds: float) -> tuple[Message, ...]:
        """What is told in this time, looking each second."""
        told: tuple[Message, ...] = ()
        for _ in range(int(seconds)):
            self.now_s += 1.0
            if self.connected:
                self.hearing.stays(self.now_s)
            told += listen(
                self.facts, self.hearing, self.now_s, "kitchen", is_connected=self.connected
            )
        return told


def test_a_machine_that_beats_is_no_silence() -> None:
    scene = Scene()
    for _ in range(30):
        assert scene.after(10) == ()
        scene.beat()


def test_a_hung_machine_is_told_once_as_an_alarm() -> None:
    scene = Scene()
    assert scene.after(STILL_S - 1) == ()
    (told,) = scene.after(600)
    assert told.priority is Priority.HIGH
    assert told.text.startswith("The machine says nothing any more, though it is connected")
    assert "Go and look" in told.text


def test_a_lost_machine_is_told_once_and_its_return_too() -> None:
    scene = Scene()
    scene.state("lost")
    assert scene.after(LOST_S - 1) == ()
    (told,) = scene.after(600)
    assert told.text.startswith("The machine has lost its connection")
    scene.state("ready")
    scene.beat()
    (back,) = scene.after(5)
    assert (back.text, back.priority) == ("The machine is heard again.", Priority.MEDIUM)
    assert scene.after(5) == ()


def test_a_cable_that_is_plugged_in_again_soon_is_not_told() -> None:
    scene = Scene()
    scene.state("lost")
    scene.after(LOST_S - 5)
    scene.state("ready")
    scene.beat()
    assert scene.after(30) == ()


def test_a_broker_that_is_gone_is_told_once() -> None:
    scene = Scene()
    scene.connected = False
    assert scene.after(ALONE_S - 1) == ()
    (told,) = scene.after(600)
    assert told.text.startswith("The MQTT broker can't be reached, so no alarm")


@pytest.mark.parametrize("mode", sorted(set(Mode) - UNDER_WAY))
def test_silence_without_a_run_is_none(mode: str) -> None:
    scene = Scene(mode)
    scene.state("lost")
    assert scene.after(600) == ()
    scene.connected = False
    assert scene.after(600) == ()


def test_what_a_broker_had_kept_is_no_sign_of_life() -> None:
    scene = Scene()
    scene.after(STILL_S + 1)
    scene.hearing.connects(scene.now_s)
    scene.state("ready", kept=True)
    scene.beat(kept=True)
    assert scene.after(STILL_S + 60) == ()  # neither told again nor told to be back
    scene.beat()
    assert [one.text for one in scene.after(1)] == ["The machine is heard again."]


def test_a_silence_that_was_told_before_a_restart_is_not_told_again() -> None:
    scene = Scene()
    scene.after(STILL_S + 1)
    again = Scene()
    again.facts = scene.facts
    again.hearing.is_live = False
    assert again.after(600) == ()


def test_a_machine_that_was_lost_when_listening_began_is_told() -> None:
    scene = Scene()
    scene.hearing.connects(scene.now_s)
    scene.state("lost", kept=True)
    assert len(scene.after(600)) == 1
