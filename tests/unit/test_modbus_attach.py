"""A machine on a Modbus board: what is asked of the board, and what becomes of its answers.

Responsible for a board that answers, through the real client and a real server; not for spoilt
frames (test_modbus_frames), nor for the guard's side.
"""

from collections.abc import Iterator, Sequence

import pytest

from controller.ports import Fault, Permit, Quality, Reading
from hardware.bench.attach import BenchFault
from hardware.bench.board import RUN_UNIT, Coil, boards_of
from hardware.modbus.attach import (
    ROUNDS_OF_GRACE,
    AttachError,
    MeasuredPlan,
    ModbusMachine,
    ModbusPlan,
    Point,
    reading_of,
)
from tests.helpers.records import replace
from tests.helpers.served_board import Hand, degrees, machine_plan, tcp_boards, water_bench


class Guard:
    """A heater and its guard's word that do nothing."""

    def drive(
        self, *, on: bool, now_s: float, cap_c: float = 0.0, good: bool = True, alone: int = 0
    ) -> None:
        """Nothing."""

    def read(self, now_s: float) -> Permit:
        """Nothing latched."""
        return Permit(latched="none", age_s=now_s, bath_c=45.0)

    def latch(self, causes: Sequence[str], now_s: float) -> None:
        """Nothing."""


class Scene:
    """A bench as a board, and how it is reached."""

    def __init__(self) -> None:
        """All at 0 s."""
        self.clock = Hand()
        self.bench = water_bench()
        self.boards = boards_of(self.bench, self.clock)
        self.board = self.boards[RUN_UNIT]
        self.at = ""
        self.made: list[ModbusMachine] = []

    def machine(self, plan: ModbusPlan | None = None) -> ModbusMachine:
        """A machine on it."""
        guard = Guard()
        machine = ModbusMachine(
            plan or machine_plan(self.at), heater=guard, permit=guard, clock_s=self.clock
        )
        self.made.append(machine)
        return machine


@pytest.fixture
def scene() -> Iterator[Scene]:
    """A board that is served over TCP."""
    made = Scene()
    with tcp_boards(made.boards) as made.at:
        yield made
        for machine in made.made:
            machine.close()


def test_everything_that_the_board_has_is_read(scene: Scene) -> None:
    machine = scene.machine()
    devices = machine.devices
    devices.stirrer.drive(rpm=30.0, now_s=0.0)
    for second in range(21):  # a host that is silent for longer finds its outputs open
        scene.clock.at_s = float(second)
        machine.take()
    shown_c = scene.bench.devices.bath.read(20.0).value
    assert devices.bath.read(20.0).value == pytest.approx(shown_c, abs=0.006)
    assert devices.bowl.read(20.0).value == pytest.approx(20.0, abs=0.1)
    assert devices.shaft is not None
    assert devices.shaft.read(20.0).value == pytest.approx(30.0, abs=0.1)
    assert devices.load is not None
    assert devices.load.read(20.0).value > 0.0
    assert devices.level is not None
    assert devices.level.read(20.0) == Reading(1.0)
    assert devices.bath.read(23.5).age_s == 3.5


@pytest.mark.parametrize(
    ("host_loss_s", "said"),
    [
        (0.0, "has none set of the time after which it opens its outputs"),
        (6.0, "keeps its outputs for 6 s without its host"),
        (600.0, "set that to 2 to 5 s on the board"),
    ],
)
def test_a_board_that_keeps_its_outputs_without_its_host_is_refused(
    scene: Scene, host_loss_s: float, said: str
) -> None:
    scene.board.host_loss_s = host_loss_s
    with pytest.raises(AttachError, match=said):
        scene.machine()


def test_a_board_that_does_not_tell_its_time_out_is_refused(scene: Scene) -> None:
    plan = machine_plan(scene.at)
    nowhere = replace(plan.board, host_loss=Point(table="holding_register", address=99))
    with pytest.raises(AttachError, match=r"doesn't tell the time after.*holding register 99"):
        scene.machine(replace(plan, board=nowhere))


def test_a_board_that_is_not_there_is_refused_with_what_to_look_for() -> None:
    plan = machine_plan("127.0.0.1:9")  # the port of the discard service, which nobody runs
    with pytest.raises(AttachError, match="doesn't answer; check its supply, wires, address"):
        ModbusMachine(plan, heater=Guard(), permit=None, clock_s=Hand())


def test_the_output_goes_on_and_off_as_it_is_told_and_off_in_the_end(scene: Scene) -> None:
    with scene.machine() as machine:
        machine.devices.stirrer.drive(rpm=30.0, now_s=0.0)
        machine.take()
        assert scene.board.coils()[Coil.STIRRER]
        machine.devices.stirrer.drive(rpm=0.0, now_s=1.0)
        machine.take()
        assert not scene.board.coils()[Coil.STIRRER]
        machine.devices.stirrer.drive(rpm=30.0, now_s=2.0)
    assert not scene.board.coils()[Coil.STIRRER]


def test_a_host_that_falls_silent_leaves_every_output_open_after_the_time_out(
    scene: Scene,
) -> None:
    machine = scene.machine()
    machine.devices.stirrer.drive(rpm=30.0, now_s=0.0)
    machine.take()
    scene.clock.at_s = scene.board.host_loss_s - 0.1
    scene.board.live()
    assert scene.board.coils()[Coil.STIRRER]
    scene.clock.at_s = scene.board.host_loss_s + 0.1
    scene.board.live()
    assert not any(scene.board.coils())


def test_an_output_that_shows_otherwise_than_it_was_told_makes_the_board_unbelieved(
    scene: Scene, monkeypatch: pytest.MonkeyPatch
) -> None:
    machine = scene.machine()
    machine.devices.stirrer.drive(rpm=30.0, now_s=0.0)
    stuck = [False] * len(Coil)
    monkeypatch.setattr(scene.board, "discrete_inputs", lambda: [*stuck, True])
    for number in range(ROUNDS_OF_GRACE + 2):
        machine.take()
        is_good = machine.devices.bath.read(0.0).quality is Quality.GOOD
        assert is_good is (number < ROUNDS_OF_GRACE)
    assert machine.devices.bath.read(0.0).fault is Fault.DEVICE
    machine.devices.stirrer.drive(rpm=0.0, now_s=0.0)
    machine.take()
    assert machine.devices.bath.read(0.0).quality is Quality.GOOD


def test_a_board_that_has_started_anew_is_unbelieved_once_and_then_asked_again(
    scene: Scene,
) -> None:
    machine = scene.machine()
    machine.take()
    scene.board.restart()
    machine.take()
    assert machine.devices.bath.read(0.0).fault is Fault.DEVICE
    machine.take()
    assert machine.devices.bath.read(0.0).quality is Quality.GOOD
    scene.board.restart()
    scene.board.host_loss_s = 0.0  # what it was set to is lost with its power
    for _ in range(3):
        machine.take()
        assert machine.devices.bath.read(0.0).fault is Fault.DEVICE


def test_a_broken_thermometer_of_the_board_is_a_fault(scene: Scene) -> None:
    machine = scene.machine()
    scene.bench.inject(BenchFault.BATH_PROBE_OPEN)
    scene.clock.at_s = 5.0
    machine.take()
    assert machine.devices.bath.read(5.0).fault is Fault.DEVICE
    assert machine.devices.bowl.read(5.0).quality is Quality.GOOD


@pytest.mark.parametrize(
    ("register", "plan", "reading"),
    [
        (4512, degrees(0), Reading(45.12)),
        (0xFFFF, degrees(0), Reading(-0.01)),
        (0, degrees(0), Fault.ALL_ZERO),
        (0x8000, degrees(0), Fault.DEVICE),
        (15001, degrees(0), Fault.DEVICE),
        (0xFFFF, replace(degrees(0), signed=False), Fault.DEVICE),
        (31815, replace(degrees(0), offset=-27315), Reading(45.0)),  # a board that counts kelvins
        (1, MeasuredPlan(point=Point(table="coil", address=0)), Reading(1.0)),
    ],
)
def test_a_register_means_what_the_machine_file_says(
    register: int, plan: MeasuredPlan, reading: Reading | Fault
) -> None:
    found = reading_of(plan, register)
    if isinstance(reading, Fault):
        assert found.fault is reading
    else:
        assert found.value == pytest.approx(reading.value)
