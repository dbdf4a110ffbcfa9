"""Which machine a word or a path means."""

import shutil
from pathlib import Path

import pytest

from controller.errors import MachineFileError
from controller.files.attach_shape import BenchAttach
from controller.files.machine_file import bench_machine_path, bench_machines
from controller.wiring import machine_meant


@pytest.mark.parametrize("name", bench_machines())
def test_each_machine_of_the_bench_is_meant_by_its_name(name: str) -> None:
    machine_file = machine_meant(name)
    assert machine_file.machine.name == name
    assert isinstance(machine_file.attach, BenchAttach)
    assert machine_file.attach.machine == name


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
    with pytest.raises(MachineFileError, match='no machine "referense"; did you mean reference'):
        machine_meant("referense")
    with pytest.raises(
        MachineFileError, match=r"the bench has .*brisk.*reference.*\./kitchen\.toml"
    ):
        machine_meant("zzz")


def test_a_file_that_is_not_there_is_told_as_a_file() -> None:
    with pytest.raises(MachineFileError, match=r"nowhere\.toml, there is no such file"):
        machine_meant("nowhere.toml")
