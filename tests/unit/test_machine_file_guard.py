"""The table `[guard]` of a machine file: what it says and what it must not say.

Responsible for the guard's table; the rest of a machine file is tested in test_machine_file.
"""

import shlex
import subprocess
from pathlib import Path

import pytest

from controller.errors import MachineFileError
from controller.files.explain import explain_machine
from controller.files.machine_file import bench_machine_path, load_machine_file, typed
from controller.guard.decision import Limits
from controller.guard.settings import (
    GuardSettings,
    LineAt,
    LineKind,
    ProbeAt,
    ProbeKind,
    from_text,
    latch_place,
    socket_places,
    to_text,
)
from tests.helpers.kitchen_file import loaded
from tests.helpers.records import replace

SOUND = (Path(__file__).parent / "bad_files" / "sound_machine.toml").read_text(encoding="utf-8")
GUARD = """
[guard]
socket = "here.guard"
latch = "here.latch"
lease = "0.5 s"

[guard.main]
kind = "gpio"
name = "HEAT"

[guard.second]
kind = "file"
path = "second"

[guard.mains_live]
kind = "gpio"
name = "LIVE"
active_low = true

[guard.heartbeat]
kind = "gpio"
name = "PUMP"

[guard.probe]
kind = "1-wire"
path = "/sys/bus/w1/devices/28-0/temperature"
"""
LEAST = """
[guard.main]
kind = "file"
path = "line"
[guard.probe]
kind = "hwmon"
path = "temp1_input"
"""


def guard_of(folder: Path, text: str) -> GuardSettings | None:
    """The guard of the sound machine with this text added."""
    path = folder / "machine.toml"
    path.write_text(SOUND + text, encoding="utf-8")
    return load_machine_file(path).guard


def test_all_that_the_table_says_reaches_the_guard(tmp_path: Path) -> None:
    assert guard_of(tmp_path, GUARD) == GuardSettings(
        machine="sample",
        sockets=(str(tmp_path / "here.guard"),),
        latch=str(tmp_path / "here.latch"),
        main=LineAt(kind=LineKind.GPIO, place="HEAT"),
        second=LineAt(kind=LineKind.FILE, place=str(tmp_path / "second")),
        mains_live=LineAt(kind=LineKind.GPIO, place="LIVE", active_low=True),
        heartbeat=LineAt(kind=LineKind.GPIO, place="PUMP"),
        probe=ProbeAt(kind=ProbeKind.ONE_WIRE, path="/sys/bus/w1/devices/28-0/temperature"),
        limits=Limits(cap_mc=62_000, lease_ms=500),
    )


def test_what_the_table_leaves_out_has_a_usual_value(tmp_path: Path) -> None:
    guard = guard_of(tmp_path, LEAST)
    assert guard is not None
    assert guard.limits == Limits(cap_mc=62_000)
    assert guard.sockets == socket_places("sample")
    assert guard.latch == latch_place("sample")
    assert (guard.second, guard.mains_live, guard.heartbeat) == (None, None, None)


def test_a_machine_without_the_table_has_no_guard_of_its_own(tmp_path: Path) -> None:
    assert guard_of(tmp_path, "") is None


def test_only_a_guard_of_its_own_keeps_a_trip_for_a_person_to_clear(tmp_path: Path) -> None:
    assert loaded(tmp_path).machine.keeps_trips
    assert not load_machine_file(bench_machine_path("reference")).machine.keeps_trips


def test_a_machine_knows_its_file_as_it_is_typed_in_a_command(tmp_path: Path) -> None:
    folder = tmp_path / "my kitchen"
    folder.mkdir()
    assert loaded(folder).machine.file == shlex.quote(str(loaded(folder).path))
    assert loaded(folder).machine.file.startswith("'")


def test_whose_home_a_machine_file_lies_in_is_not_published(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("HOME", str(tmp_path))
    path = tmp_path / "my kitchen" / "machine.toml"
    assert typed(path) == "~/'my kitchen/machine.toml'"
    told = subprocess.run(["/bin/sh", "-c", f"echo {typed(path)}"], capture_output=True, check=True)
    assert told.stdout.decode() == f"{path}\n"


BAD = [
    ("a longer lease", ('"0.5 s"', '"3 s"'), "guard · lease", 'write "0.2 s" to "2 s"'),
    ("a lease by number", ('"0.5 s"', "1"), "guard · lease", "has no unit"),
    ("no main line", ("[guard.main]", "[guard.mian]"), "guard · main", "write [guard.main]"),
    ("a line of no kind", ('kind = "gpio"\n', ""), "guard · main · kind", 'write kind = "gpio"'),
    ("a line of wood", ('"gpio"', '"wood"'), "guard · main · kind", 'write "file"'),
    ("a nameless line", ('name = "HEAT"', ""), "guard", "main has no name"),
    ("a file without path", ('path = "second"', ""), "guard", "second has no path"),
    ("a line with both", ('"HEAT"', '"HEAT"\npath = "x"'), "guard", "main has a path too"),
    ("one line for two", ('"LIVE"', '"HEAT"'), "guard", "main and mains_live are the same line"),
    (
        "an output active low",
        ('"HEAT"', '"HEAT"\nactive_low = true'),
        "active_low",
        "known are kind, path, name",
    ),
    ("no thermometer", ("[guard.probe]", "[guard.prob]"), "guard · probe", "write [guard.probe]"),
    (
        "a thermometer by a number that changes",
        (
            'kind = "1-wire"\npath = "/sys/bus/w1/devices/28-0/temperature"',
            'kind = "hwmon"\npath = "/sys/class/hwmon/hwmon3/temp1_input"',
        ),
        "guard · probe · path",
        "hwmon*/temp1_input",
    ),
    ("an odd thermometer", ('"1-wire"', '"wire"'), "guard · probe · kind", '"1-wire"'),
]


@pytest.mark.parametrize(
    ("edit", "key", "remedy"), [case[1:] for case in BAD], ids=[case[0] for case in BAD]
)
def test_a_bad_guard_table_is_refused_with_key_and_remedy(
    tmp_path: Path, edit: tuple[str, str], key: str, remedy: str
) -> None:
    assert edit[0] in GUARD
    with pytest.raises(MachineFileError) as caught:
        guard_of(tmp_path, GUARD.replace(*edit, 1))
    said = str(caught.value)
    assert [line for line in said.splitlines() if key in line and remedy in line], said


@pytest.mark.parametrize("key", ["lease", "short_lapse", "over", "probe_lost"])
def test_a_file_tightens_a_limit_and_never_loosens_it(tmp_path: Path, key: str) -> None:
    with pytest.raises(MachineFileError, match="out of range"):
        guard_of(tmp_path, f'[guard]\n{key} = "31 s"\n{LEAST}')
    tight = guard_of(tmp_path, f'[guard]\n{key} = "1 s"\n{LEAST}')
    assert tight is not None
    assert tight.limits != Limits(cap_mc=62_000)


def test_the_socket_lies_in_the_users_folder_first(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_RUNTIME_DIR", "/run/user/7")
    assert socket_places("a") == ("/run/user/7/bainward/a.guard", "/run/bainward/a.guard")
    monkeypatch.setenv("XDG_RUNTIME_DIR", "relative")
    assert socket_places("a") == ("/run/bainward/a.guard",)


def test_the_latch_lies_where_state_is_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_STATE_HOME", "/elsewhere")
    assert latch_place("a") == "/elsewhere/bainward/a.latch"
    monkeypatch.delenv("XDG_STATE_HOME")
    monkeypatch.setenv("HOME", "/home/cook")
    assert latch_place("a") == "/home/cook/.local/state/bainward/a.latch"


@pytest.mark.parametrize("text", [GUARD, LEAST])
def test_settings_pass_from_one_process_to_the_next_unchanged(tmp_path: Path, text: str) -> None:
    guard = guard_of(tmp_path, text)
    assert guard is not None
    assert from_text(to_text(guard)) == guard
    assert from_text(to_text(replace(guard, machine="other"))) != guard


def explained(folder: Path, text: str) -> str:
    path = folder / "mine.toml"
    path.write_text(f"{SOUND}\n{text}", encoding="utf-8")
    return explain_machine(load_machine_file(path), fahrenheit=False)


def test_a_guard_is_explained_with_its_lines_thermometer_and_places(tmp_path: Path) -> None:
    text = explained(tmp_path, GUARD)
    assert (
        f"Guard: heater on HEAT (gpio), second switch on {tmp_path / 'second'} (file), "
        "mains-live on LIVE (gpio, active low), heartbeat on PUMP (gpio)." in text
    )
    assert "Guard's thermometer: /sys/bus/w1/devices/28-0/temperature (1-wire)." in text
    assert f"remembers trips in {tmp_path / 'here.latch'}" in text
    assert f"listens at {tmp_path / 'here.guard'}." in text


def test_what_a_guard_is_not_fitted_with_is_said_with_what_it_means(tmp_path: Path) -> None:
    text = explained(tmp_path, LEAST)
    assert "second switch on nothing, mains-live on nothing, heartbeat on nothing." in text
    assert "No mains-live input" in text


def test_whoever_gives_a_bench_a_guard_learns_that_its_runs_do_not_ask_it(tmp_path: Path) -> None:
    assert "A run on the bench never asks that guard" in explained(tmp_path, LEAST)
    assert "never asks that guard" not in explained(tmp_path, "")
