"""Which machine a word or a path means."""

import shutil
from pathlib import Path

import pytest

from controller.errors import MachineFileError
from controller.files.attach_shape import BenchAttach
from controller.files.machine_file import bench_machine_path, bench_machines
from controller.files.profile_file import load_profile
from controller.wiring import attach_bench, machine_meant
from hardware.bench.draws import draw


@pytest.mark.parametrize("name", bench_machines())
def test_each_machine_of_the_bench_is_meant_by_its_name(name: str) -> None:
    machine_file = machine_meant(name)
    assert machine_file.machine.name == name
    assert isinstance(machine_file.attach, BenchAttach)
    assert machine_file.attach.machine == name


def test_a_drawn_machine_is_as_its_owner_wrote_it_down() -> None:
    drawn = draw(1, 17)
    machine_file = machine_meant("drawn-1-17")
    machine, told = machine_file.machine, drawn.told
    assert machine.name == "drawn-1-17"
    assert (machine.batch_kg, machine.water_kg) == (told.batch_kg, told.water_kg)
    assert (machine.heater_w, machine.loss_w_per_k) == (told.heater_w, told.loss_w_per_k)
    assert (machine.vessel_j_per_k, machine.room_c) == (told.vessel_j_per_k, told.room_c)
    assert machine.bath_max_c == machine_meant("reference").machine.bath_max_c


def test_the_bowl_of_a_drawn_machine_holds_what_it_truly_holds() -> None:
    machine_file = machine_meant("drawn-1-17")
    assert isinstance(machine_file.attach, BenchAttach)
    profile = load_profile("dark", machine_file.machine)
    bench = attach_bench(machine_file.attach, machine_file.machine, profile)
    assert bench.plant.mass_kg == draw(1, 17).batch_kg
    assert bench.plant.mass_kg != machine_file.machine.batch_kg


def test_a_machine_file_may_name_a_drawn_bench(tmp_path: Path) -> None:
    path = tmp_path / "own.toml"
    text = bench_machine_path("brisk").read_text(encoding="utf-8")
    path.write_text(text.replace('machine = "brisk"', 'machine = "drawn-2-5"'), encoding="utf-8")
    machine_file = machine_meant(path)
    assert isinstance(machine_file.attach, BenchAttach)
    assert (machine_file.machine.name, machine_file.attach.machine) == ("brisk", "drawn-2-5")


def test_nobody_named_means_the_reference() -> None:
    assert machine_meant(None).machine.name == "reference"


def test_a_path_means_a_file_with_or_without_suffix(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    for name in ("mine.toml", "mine"):
        shutil.copy(bench_machine_path("brisk"), tmp_path / name)
    for word in ("mine.toml", "./mine.toml", str(tmp_path / "mine.toml"), "mine", Path("mine")):
        assert machine_meant(word).machine.name == "brisk"


def test_a_name_of_the_bench_wins_over_a_file_without_suffix(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    shutil.copy(bench_machine_path("brisk"), tmp_path / "reference")
    assert machine_meant("reference").machine.name == "reference"
    assert machine_meant(Path("reference")).machine.name == "brisk"


def test_a_name_that_is_none_is_answered_with_the_nearest_or_with_all() -> None:
    with pytest.raises(MachineFileError, match='no machine "referenze"; did you mean reference'):
        machine_meant("referenze")
    with pytest.raises(MachineFileError, match="drawn-SEED-NUMBER, numbered from 1"):
        machine_meant("drawn-1-0")
    with pytest.raises(
        MachineFileError, match=r"the bench has .*brisk.*reference.*\./kitchen\.toml"
    ):
        machine_meant("zzz")
    with pytest.raises(MachineFileError, match='There is no machine ""; the bench has'):
        machine_meant("")


def test_a_file_that_is_not_there_is_told_as_a_file() -> None:
    with pytest.raises(MachineFileError, match=r"nowhere\.toml: there is no such file"):
        machine_meant("nowhere.toml")


def test_the_file_name_of_a_machine_of_the_bench_is_answered_with_its_name(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    with pytest.raises(MachineFileError, match=r"no file brisk\.toml .* is meant by brisk alone"):
        machine_meant("brisk.toml")
