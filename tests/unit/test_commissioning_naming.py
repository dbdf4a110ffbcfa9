"""Thermometers named by a warm hand, over the kernel's files of a bench."""

from dataclasses import replace
from pathlib import Path

import pytest

from controller.commissioning.naming import Seen, name_probes
from controller.commissioning.proofs import Step
from controller.commissioning.site import Site
from controller.errors import UnprovenError
from controller.files.attach_shape import LinuxAttach
from controller.ports import Fault
from controller.wiring.looking import _named, kernels_own, seen_thermometers
from hardware.absent import NoThermometer
from hardware.linux.looking import Thermometers
from tests.helpers.commissioned import Kitchen, Scripted, machine_text, site_in

TURNS = ("bath", "bowl", "guard")


class Hand(Scripted):
    """Somebody who warms what is asked for, or what the test says instead."""

    def __init__(self, kitchen: Kitchen, **instead: tuple[str, ...]) -> None:
        """Hands are empty."""
        super().__init__()
        self.kitchen, self.instead = kitchen, instead

    def say(self, text: str) -> None:
        """Take it into the hand once told to; the readings that tell where it began come first."""
        super().say(text)
        turn = next((one for one in TURNS if text.endswith(f"{one}'s turn.")), "")
        for one in TURNS:
            self.kitchen.hand(one, "33\n" if one in self.instead.get(turn, (turn,)) else "")


def seen_in(site: Site, kitchen: Kitchen) -> tuple[Seen, ...]:
    """The kernel's thermometers, measured whenever the clock moves."""
    plan, guard = site.machine_file.attach, site.machine_file.guard
    assert isinstance(plan, LinuxAttach)
    assert guard is not None
    own, plans = _named(plan, guard.probe)
    found = Thermometers(plans, kitchen.clock.now_s, plan.root)
    before = kitchen.clock.due

    def due(now_s: float) -> None:
        before(now_s)
        found.take()

    kitchen.clock.due = due
    found.take()
    return kernels_own(own, plans, found.sensors, plan.root)


def staged(
    folder: Path, *changes: tuple[str, str], **instead: tuple[str, ...]
) -> tuple[Site, tuple[Seen, ...], Hand, Kitchen]:
    """A machine of which nothing was shown, and the hand beside it."""
    (folder / "kitchen.toml").write_text(machine_text(*changes), encoding="utf-8")
    kitchen = Kitchen(folder)
    hand = Hand(kitchen, **instead)
    site = site_in(folder, hand, kitchen.clock)
    return site, seen_in(site, kitchen), hand, kitchen


def test_each_thermometer_is_named_by_its_warmth_and_nothing_is_energised(tmp_path: Path) -> None:
    site, seen, hand, kitchen = staged(tmp_path)
    assert [one.roles for one in seen[:3]] == [("bath",), ("bowl",), ("guard",)]
    name_probes(site, seen)
    assert site.read().steps["probes"].facts == {
        "bath": "1-wire 28-0000000000b1",
        "bowl": "1-wire 28-0000000000b2",
        "guard": "1-wire 28-0000000000b3",
    }
    assert not site.lacks((Step.PROBES,))
    assert "28-0000000000b1" in hand.said[0]
    assert any("bowl 2" in line for line in hand.shown)
    assert kitchen.bench.plant.element_on_j == 0.0


def test_another_one_than_the_machine_file_says_is_named_with_what_to_write(
    tmp_path: Path,
) -> None:
    site, seen, _, _ = staged(tmp_path, bath=("bowl",))
    said = r'bowl\'s by the machine file.*\[attach\.bath\] kind = "1-wire", id = "28-0000000000b2"'
    with pytest.raises(UnprovenError, match=said):
        name_probes(site, seen)
    assert site.parts(Step.PROBES) == {}


def test_one_that_nobody_has_named_is_found_by_its_id(tmp_path: Path) -> None:
    wrong = ("28-0000000000b1", "28-0000000000ff")
    site, seen, hand, _ = staged(tmp_path, wrong)
    with pytest.raises(
        UnprovenError, match=r'under \[attach\.bath\] kind = "1-wire", id = "28-0+b1'
    ):
        name_probes(site, seen)
    assert "no value (no-answer)" in hand.said[0]


class LateHand(Hand):
    """Somebody who held the bath's before they were asked, and lets go once they are told to."""

    def say(self, text: str) -> None:
        """Do what it says; take it again once it is cool."""
        super().say(text)
        self.is_told = "let go of it" in text
        self.seconds = 0

    def show(self, text: str) -> None:
        """Wait a minute or so."""
        super().show(text)
        self.seconds += 1
        if self.is_told and self.seconds == 90:
            self.kitchen.hand("bath", "33\n")


def test_one_that_was_in_the_hand_before_is_named_once_it_has_cooled(tmp_path: Path) -> None:
    site, seen, _, kitchen = staged(tmp_path)
    kitchen.hand("bath", "33\n")
    for _ in range(12):
        kitchen.clock.wait_until(kitchen.clock.now_s() + 10.0)
    hand = LateHand(kitchen)
    name_probes(site_in(tmp_path, hand, kitchen.clock), seen)
    assert sum("was at 33 °C before, as in a hand: let go" in said for said in hand.said) == 1
    assert set(site.read().steps["probes"].facts) == set(TURNS)


def test_what_is_shown_first_is_corrected_as_the_machine_file_says(tmp_path: Path) -> None:
    site, seen, hand, _ = staged(
        tmp_path, ("[fitted]", '[probes]\nbowl_offset = "1.5 K"\n\n[fitted]'), bath=()
    )
    with pytest.raises(UnprovenError):
        name_probes(site, seen)
    lines = [line.split() for line in hand.said[0].splitlines() if "1-wire" in line]
    bath, bowl = float(lines[0][1]), float(lines[1][1])
    assert bowl - bath > 1.2


def test_where_no_thermometer_gives_a_value_nobody_warms_one_for_minutes(tmp_path: Path) -> None:
    site, seen, hand, kitchen = staged(tmp_path)
    silent = [replace(one, sensor=NoThermometer()) for one in seen]
    with pytest.raises(UnprovenError, match="No thermometer gives a value: see to plugs"):
        name_probes(site, silent)
    assert kitchen.clock.at_s < 10.0
    assert hand.shown == []


def test_what_was_named_is_kept_when_it_is_broken_off(tmp_path: Path) -> None:
    site, seen, _, kitchen = staged(tmp_path, bowl=())
    with pytest.raises(UnprovenError, match="No thermometer rose"):
        name_probes(site, seen)
    assert set(site.parts(Step.PROBES)) == {"bath"}
    hand = Hand(kitchen)
    name_probes(site_in(tmp_path, hand, kitchen.clock), seen)
    assert any("bath: named before" in said for said in hand.said)
    assert set(site.read().steps["probes"].facts) == set(TURNS)


@pytest.mark.parametrize(
    ("change", "roles", "where"),
    [
        (("[fitted]", "[fitted]"), "guard", "1-wire 28-0000000000b3"),
        (
            (
                'kind = "1-wire"\nid = "28-0000000000b2"',
                'kind = "hwmon"\nname = "bowl"',
            ),
            "bowl",
            "hwmon bowl",
        ),
        (
            (
                'kind = "1-wire"\npath = "tree/sys/bus/w1/devices/28-0000000000b3/temperature"',
                'kind = "hwmon"\npath = "tree/sys/class/hwmon/hwmon*/temp3_input"',
            ),
            "guard",
            "temp3_input",
        ),
    ],
)
def test_real_thermometers_are_opened_with_whose_they_are(
    tmp_path: Path, change: tuple[str, str], roles: str, where: str
) -> None:
    (tmp_path / "kitchen.toml").write_text(machine_text(change), encoding="utf-8")
    kitchen = Kitchen(tmp_path)
    site = site_in(tmp_path, Scripted(), kitchen.clock)
    with seen_thermometers(site.machine_file, kitchen.clock) as seen:
        mine = [one for one in seen if roles in one.roles]
        assert len(mine) == 1
        assert where in mine[0].where
        reading = mine[0].sensor.read(kitchen.clock.now_s())
    if where == "temp3_input":
        assert reading.fault is Fault.NO_ANSWER
    else:
        assert abs(reading.value - 20.0) < 1.5
