"""One suite for everything that claims to be a device: what the daemon relies on in the ports.

Responsible for the contract of `controller.ports`; not for how well a device does its work. A
new kind of hardware joins by adding a factory to `RIGS` (tests/helpers/rigs.py).
"""

import math
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from controller.ports import Devices, Fault, Quality, Reading, Sensor
from hardware.modbus.client import Client
from tests.helpers.rigs import RIGS, Rig

TICKS = 40


@pytest.fixture(params=RIGS)
def rig(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Rig]:
    """Each rig in turn."""
    made = RIGS[str(request.param)](tmp_path)
    yield made
    made.close()


@contextmanager
def no_waiting() -> Iterator[None]:
    """Let every wait of this thread fail: a device returns at once."""

    def refuse(*_args: object, **_kwargs: object) -> None:
        raise AssertionError("a device waited")

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(time, "sleep", refuse)
        patch.setattr(threading.Event, "wait", refuse)
        patch.setattr(threading.Condition, "wait", refuse)
        patch.setattr(Client, "read", refuse)
        patch.setattr(Client, "switch", refuse)
        yield


def sensors(devices: Devices) -> dict[str, Sensor]:
    """All that reads."""
    fitted = {
        "bath": devices.bath,
        "bowl": devices.bowl,
        "level": devices.level,
        "shaft": devices.shaft,
        "load": devices.load,
        "current": devices.current,
        "lid": devices.lid,
        "stop": devices.stop,
    }
    return {name: sensor for name, sensor in fitted.items() if sensor is not None}


def one_tick(rig: Rig, now_s: float, *, on: bool, rpm: float) -> dict[str, Reading]:
    """What the daemon does in one tick."""
    rig.measure(now_s)
    readings = {name: sensor.read(now_s) for name, sensor in sensors(rig.devices).items()}
    rig.devices.heater.drive(on=on, now_s=now_s)
    rig.devices.stirrer.drive(rpm=rpm, now_s=now_s)
    if rig.devices.cooler is not None:
        rig.devices.cooler.drive(on=not on, now_s=now_s)
    for indicator in (rig.devices.buzzer, rig.devices.lamp):
        if indicator is not None:
            indicator.drive(on=on, now_s=now_s)
    return readings


def is_lawful(reading: Reading) -> bool:
    """Whether a reading keeps the contract: an age, and no number beside a fault."""
    faultless = reading.fault is Fault.NONE
    return reading.age_s >= 0.0 and (faultless or math.isnan(reading.value))


def test_a_whole_device_gives_good_readings(rig: Rig) -> None:
    for tick in range(TICKS):
        for reading in one_tick(rig, float(tick), on=True, rpm=30.0).values():
            assert is_lawful(reading)
            assert reading.quality is Quality.GOOD


def test_the_heater_is_off_until_told(rig: Rig) -> None:
    for tick in range(TICKS):
        for sensor in sensors(rig.devices).values():
            sensor.read(float(tick))
    assert rig.heated_j() == 0.0


def test_the_heater_heats_when_told_and_not_after_it_is_told_off(rig: Rig) -> None:
    one_tick(rig, 0.0, on=True, rpm=0.0)
    one_tick(rig, 10.0, on=False, rpm=0.0)
    heated_j = rig.heated_j()
    assert heated_j > 0.0
    for tick in range(11, 11 + TICKS):
        one_tick(rig, float(tick), on=False, rpm=0.0)
    assert rig.heated_j() == heated_j


def test_telling_the_heater_the_same_again_changes_nothing(rig: Rig) -> None:
    for _ in range(3):
        rig.devices.heater.drive(on=False, now_s=1.0)
    one_tick(rig, 20.0, on=False, rpm=0.0)
    assert rig.heated_j() == 0.0


def test_every_break_is_a_value_and_never_an_exception(rig: Rig) -> None:
    for number, broken in enumerate(rig.breakages):
        one_tick(rig, number * 10.0, on=True, rpm=30.0)
        broken()
        for second in range(1, 10):
            readings = one_tick(rig, number * 10.0 + second, on=second % 2 == 0, rpm=30.0)
            assert all(is_lawful(reading) for reading in readings.values())


def test_a_clock_that_stands_or_steps_back_is_no_error(rig: Rig) -> None:
    for now_s in (100.0, 100.0, 40.0, 100.25, 100.0, 101.0):
        for reading in one_tick(rig, now_s, on=True, rpm=30.0).values():
            assert is_lawful(reading)


def test_a_long_silence_is_no_error(rig: Rig) -> None:
    one_tick(rig, 0.0, on=False, rpm=0.0)
    readings = one_tick(rig, 7200.0, on=False, rpm=0.0)
    assert all(reading.quality is Quality.GOOD for reading in readings.values())


@pytest.mark.parametrize("rpm", [0.0, -30.0, math.nan, math.inf, 1e9])
def test_the_stirrer_takes_any_number(rig: Rig, rpm: float) -> None:
    one_tick(rig, 0.0, on=False, rpm=rpm)
    readings = one_tick(rig, 30.0, on=False, rpm=rpm)
    assert all(is_lawful(reading) for reading in readings.values())
    assert all(math.isfinite(reading.value) for reading in readings.values())


def test_a_fitted_shaft_follows_the_stirrer(rig: Rig) -> None:
    one_tick(rig, 0.0, on=False, rpm=30.0)
    turning = one_tick(rig, 20.0, on=False, rpm=0.0)
    standing = one_tick(rig, 40.0, on=False, rpm=0.0)
    assert ("shaft" in turning) == (rig.devices.shaft is not None)
    if "shaft" in turning:
        assert turning["shaft"].value == pytest.approx(30.0, rel=0.1)
        assert standing["shaft"].value == 0.0


def test_a_fitted_stop_button_and_lid_say_when_they_are_pressed_and_opened(rig: Rig) -> None:
    before = one_tick(rig, 0.0, on=False, rpm=0.0)
    rig.press()
    rig.open_lid(True)
    after = one_tick(rig, 2.0, on=False, rpm=0.0)
    rig.open_lid(False)
    closed = one_tick(rig, 4.0, on=False, rpm=0.0)
    for name in {"stop", "lid"} & set(before):
        assert (before[name].value, after[name].value) == (1.0, 0.0)
    if "lid" in closed:
        assert closed["lid"].value == 1.0


def test_a_fitted_load_is_felt_while_the_stirrer_turns_and_never_under_nothing(rig: Rig) -> None:
    for second in range(0, 40, 2):
        readings = one_tick(rig, float(second), on=False, rpm=30.0)
        if "load" in readings:
            assert readings["load"].value >= 0.0
