"""The command `calibrate`: its words, and what it says on the way."""

import argparse
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

import pytest

from controller.commands import calibrating, sites
from controller.commands.options import parser
from controller.commissioning.proofs import Step
from controller.errors import Exit, UnprovenError, UsageError
from controller.files.machine_file import MachineFile, load_machine_file
from controller.ports import Kind, Sensor
from hardware.bench.attach import Bench, attach
from hardware.bench.parameters import Parameters
from tests.helpers.commissioned import Minutes, Scripted, site_in

BEFORE = (Step.PROBES, Step.PROVE)


class Stage:
    """A bench, the person beside it, and the command."""

    def __init__(self, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        """Nothing is calibrated."""
        self.path = folder / "kitchen.toml"
        self.clock, self.person = Minutes(), Scripted()
        self.bench: Bench = attach(
            machine=Parameters(bath_probe_off=0.5),
            seed=3,
            kind=Kind.WATER,
            batch_kg=1.0,
            seed_share=0.0,
            fitted=frozenset(),
        )
        self.sensors: Mapping[str, Sensor] = {"bath": self.bench.devices.bath}
        site_in(folder, self.person, self.clock, shown=BEFORE)
        monkeypatch.setattr(
            calibrating, "opened_site", lambda _: site_in(folder, self.person, self.clock)
        )
        monkeypatch.setattr(calibrating, "thermometers_of", self._opened)

    @contextmanager
    def _opened(self, _machine_file: MachineFile) -> Iterator[Mapping[str, Sensor]]:
        yield self.sensors

    def calibrate(self, *words: str) -> str:
        """Give the command; what is said last."""
        options = parser().parse_args(
            ["calibrate", *words, "--machine", str(self.path)], argparse.Namespace()
        )
        assert calibrating.calibrate(options) is Exit.DONE
        return self.person.said[-1]


@pytest.fixture
def stage(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Stage:
    """A stage in a folder of its own."""
    return Stage(tmp_path, monkeypatch)


def test_the_command_leads_from_ice_over_boiling_water_to_a_corrected_file(stage: Stage) -> None:
    stage.bench.hold_probe("bath", 0.0)
    assert stage.calibrate("bath").endswith("--at boiling` with --pressure or --altitude.")
    assert "crushed ice" in stage.person.said[0]
    stage.bench.hold_probe("bath", 97.05)
    sheet = stage.calibrate("bath", "--pressure", "912 hPa")
    assert "[probes] bath_offset =" in sheet
    offset_k = load_machine_file(stage.path).machine.bath_offset_k
    assert offset_k == pytest.approx(-0.25, abs=0.05)
    assert stage.calibrate("bath", "--undo").endswith("is corrected by 0 K.")
    assert load_machine_file(stage.path).machine.bath_offset_k == 0.0


def test_an_altitude_leaves_it_loose_and_says_so(stage: Stage) -> None:
    stage.bench.hold_probe("bath", 0.0)
    stage.calibrate("bath", "--at", "ice")
    stage.bench.hold_probe("bath", 97.05)
    sheet = stage.calibrate("bath", "--at", "boiling", "--altitude", "880 m")
    assert "That is loose: give --pressure from a barometer instead of --altitude" in sheet
    assert "one at 31 °C beside a thermometer" in sheet


def test_a_point_beside_another_thermometer_alone_is_told_what_it_lacks_and_nothing_of_boiling(
    stage: Stage,
) -> None:
    stage.bench.hold_probe("bath", 31.2)
    sheet = stage.calibrate("bath", "--beside", "31.2 C")
    assert "That is loose, since it can't be surer than the thermometer beside it" in sheet
    assert "--altitude" not in sheet
    assert "Between two points" not in sheet
    assert "loose" not in stage.calibrate("bath", "--beside", "31.2 C", "--sure", "0.03 K")


def test_boiling_water_without_its_pressure_is_refused_before_anything_is_read(
    stage: Stage,
) -> None:
    with pytest.raises(UsageError, match="add --pressure"):
        stage.calibrate("bath", "--at", "boiling")
    assert stage.person.said == []


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--pressure", "900"), "has no unit"),
        (("--pressure", "29 hPa"), "did you mean"),
        (("--altitude", "90 km"), "can't be"),
        (("--beside", "31.2"), "has no unit"),
        (("--beside", "310 C"), "can't be; write one like 31.2 C"),
        (("--beside", "31.2 C", "--sure", "0 K"), "can't be; write one like 0.1 K"),
        (("--at", "ice", "--undo"), "not allowed with"),
    ],
)
def test_a_value_that_can_not_be_is_refused_by_the_command_line(
    words: tuple[str, ...], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as caught:
        parser().parse_args(["calibrate", "bath", "--machine", "k.toml", *words])
    assert caught.value.code == Exit.USAGE
    assert said in capsys.readouterr().err


def test_a_machine_of_the_bench_is_refused_with_how_to_try_the_steps(tmp_path: Path) -> None:
    path = tmp_path / "bench.toml"
    reference = load_machine_file(None).path
    assert reference is not None
    path.write_text(reference.read_text(encoding="utf-8"), encoding="utf-8")
    with pytest.raises(UsageError, match="bainward bench --files DIR"):
        sites.opened_site(path)


def test_a_real_machine_is_opened_in_real_time(tmp_path: Path) -> None:
    site_in(tmp_path, Scripted(), Minutes())
    site = sites.opened_site(tmp_path / "kitchen.toml")
    assert site.name == "kitchen"
    with pytest.raises(UnprovenError, match="bainward probes"):
        site.begin(Step.PROVE)
