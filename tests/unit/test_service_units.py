"""The systemd units: what stands in them, and that systemd's own checker finds nothing."""

import re
import shutil
import subprocess
from pathlib import Path

import pytest

from controller.commands.main import main
from controller.errors import Exit
from controller.guard.settings import SYSTEM_STATE_HOME, latch_place
from controller.push.posting import WHOLE_S
from controller.service import units as templates
from controller.service.units import (
    GUARD_UNIT,
    HARDWARE_WATCHDOG,
    NOTIFY_UNIT,
    PAGE_UNIT,
    RUN_UNIT,
    Service,
    units,
    watchdog_drop_in,
)
from tests.helpers.records import replace
from tests.helpers.unit_files import GUARD, SERVICE, SOUND, Unit, parsed

FROZEN_S = 3  # the promise: off within this


@pytest.fixture
def guard() -> Unit:
    """The guard's unit."""
    return parsed(units(SERVICE)[GUARD_UNIT])


@pytest.fixture
def run() -> Unit:
    """The unit of a run."""
    return parsed(units(SERVICE)[RUN_UNIT])


def seconds(text: str) -> float:
    """A time of a unit, in seconds."""
    return float(text.removesuffix("s"))


def test_the_guard_is_the_only_one_that_starts_at_boot(guard: Unit, run: Unit) -> None:
    assert guard["Install"]["WantedBy"] == "multi-user.target"
    assert not run.has_section("Install")


def test_a_busy_board_puts_the_run_before_others_and_the_guard_before_the_run(
    guard: Unit, run: Unit
) -> None:
    assert int(run["Service"]["Nice"]) < 0
    assert "CPUSchedulingPolicy" not in run["Service"]
    assert guard["Service"]["CPUSchedulingPolicy"] == "fifo"


def test_a_run_never_starts_again_by_itself(run: Unit) -> None:
    assert run["Service"]["Restart"] == "no"
    assert "--begin-again" not in run["Service"]["ExecStart"]  # a person's word, not the unit's


def test_the_guards_restart_is_not_passed_on_to_a_run(run: Unit) -> None:
    # Requires= and its kin hand a restart on: systemd.unit(5), "Mapping of unit properties".
    tied = {"Requires", "Requisite", "BindsTo", "PartOf", "Upholds"}
    assert not tied & set(run["Unit"])
    assert run["Unit"]["Wants"] == run["Unit"]["After"] == GUARD_UNIT


def test_the_guard_always_comes_back(guard: Unit) -> None:
    assert guard["Service"]["Restart"] == "always"
    assert guard["Unit"]["StartLimitIntervalSec"] == "0"


def test_before_the_computer_sleeps_the_guard_ends_with_heat_off(guard: Unit) -> None:
    # systemd.special(7), sleep.target: pulled in by suspend and hibernation alike.
    assert guard["Unit"]["Conflicts"] == guard["Unit"]["Before"] == "sleep.target"


def test_whatever_ends_the_guard_its_line_is_driven_off(guard: Unit) -> None:
    command = guard["Service"]["ExecStopPost"]
    assert command == (
        '"/opt/bainward/bin/bainward" guard --off --machine "/etc/bainward/kitchen.toml"'
    )


def test_a_frozen_process_is_killed_by_the_one_signal_that_it_heeds(guard: Unit, run: Unit) -> None:
    for unit in (guard, run):
        assert unit["Service"]["Type"] == "notify"
        assert unit["Service"]["WatchdogSignal"] == "SIGKILL"
        assert seconds(unit["Service"]["TimeoutAbortSec"]) == 1


def test_a_frozen_guard_leaves_time_to_switch_off(guard: Unit) -> None:
    assert seconds(guard["Service"]["WatchdogSec"]) < FROZEN_S


def test_a_one_shot_on_a_slow_board_is_let_to_its_end(guard: Unit) -> None:
    # This bounds ExecStopPost= too: with 2 s a virtual board's one-shot was ended before it began.
    assert seconds(guard["Service"]["TimeoutStopSec"]) >= 10


def test_the_hardware_watchdog_is_fed_before_a_common_boards_timer_ends() -> None:
    said = parsed(watchdog_drop_in())["Manager"]["RuntimeWatchdogSec"]
    assert float(said) < 15  # the timer's end on a common board, as in the project's notes
    for line in watchdog_drop_in().splitlines():
        assert f"#   {line}\n" in units(SERVICE)[GUARD_UNIT]
    assert str(HARDWARE_WATCHDOG) in units(SERVICE)[GUARD_UNIT]


def test_a_guard_by_hand_knows_where_the_services_guard_remembers_trips(
    guard: Unit, monkeypatch: pytest.MonkeyPatch
) -> None:
    name, _, value = guard["Service"]["Environment"].partition("=")
    assert value == str(SYSTEM_STATE_HOME)
    monkeypatch.setenv(name, value)
    assert latch_place("kitchen") == "/var/lib/bainward/kitchen.latch"


def test_a_user_is_named_only_on_wish(guard: Unit) -> None:
    named = units(
        Service(command=SERVICE.command, machine_file=SERVICE.machine_file, user="chocolate")
    )
    assert "User" not in guard["Service"]
    assert all(parsed(text)["Service"]["User"] == "chocolate" for text in named.values())


def test_odd_signs_in_a_path_mean_themselves() -> None:
    odd = Service(
        command=Path('/opt/my "own" $HOME/bainward'),
        machine_file=Path("/home/50%/back\\slash.toml"),
        writable=(Path("/srv/100% mine"),),
    )
    unit = parsed(units(odd)[GUARD_UNIT])
    assert unit["Service"]["ExecStart"] == (
        r'"/opt/my \"own\" $$HOME/bainward" guard --machine "/home/50%%/back\\slash.toml"'
    )
    assert unit["Service"]["ReadWritePaths"] == '"-/srv/100%% mine"'


# ---- the command


@pytest.fixture
def machine_file(tmp_path: Path) -> Path:
    """A machine file with a guard."""
    path = tmp_path / "kitchen.toml"
    path.write_text(SOUND + GUARD, encoding="utf-8")
    return path


def test_the_command_writes_both_units_and_says_what_is_next(
    machine_file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["service", "--machine", str(machine_file), str(tmp_path)]) == Exit.DONE
    said = capsys.readouterr().out
    for name in (GUARD_UNIT, RUN_UNIT):
        text = (tmp_path / name).read_text(encoding="utf-8")
        assert f'--machine "{machine_file}"' in text
        assert f"Written: {tmp_path / name}\n" in said
    assert f"RuntimeWatchdogSec={templates.HARDWARE_WATCHDOG_S}\n" in said
    assert "systemctl enable --now bainward-guard\n" in said


def test_the_units_start_an_executable_by_its_full_path(machine_file: Path, tmp_path: Path) -> None:
    assert main(["service", "--machine", str(machine_file), str(tmp_path)]) == Exit.DONE
    command = parsed((tmp_path / GUARD_UNIT).read_text())["Service"]["ExecStart"]
    path = Path(command.split('"')[1])
    assert path.is_absolute()
    assert path.name == "bainward"


def test_the_folder_of_the_records_can_be_written(machine_file: Path, tmp_path: Path) -> None:
    text = machine_file.read_text(encoding="utf-8")
    machine_file.write_text(text.replace('"runs"', '"/srv/records"'), encoding="utf-8")
    main(["service", "--machine", str(machine_file), str(tmp_path)])
    unit = (tmp_path / RUN_UNIT).read_text(encoding="utf-8")
    assert f'ReadWritePaths="-{tmp_path}" "-/srv/records"\n' in unit


def test_a_machine_without_a_guard_needs_no_service(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "bench.toml"
    path.write_text(SOUND, encoding="utf-8")
    assert main(["service", "--machine", str(path), str(tmp_path)]) == Exit.BAD_FILE
    assert "has no [guard]" in capsys.readouterr().err
    assert not (tmp_path / GUARD_UNIT).exists()


def test_the_command_says_how_the_user_comes_to_be_with_its_groups(
    machine_file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    line = ["service", "--machine", str(machine_file), str(tmp_path)]
    main([*line, "--user", "chocolate"])
    said = capsys.readouterr().out
    assert "/usr/sbin/nologin --groups gpio chocolate\n" in said
    assert "usermod -aG chocolate YOUR-NAME\n" in said
    main(line)
    assert "as root, who may do more than they need" in capsys.readouterr().out


@pytest.fixture
def push_file(tmp_path: Path) -> Path:
    """A push file that can be used."""
    path = tmp_path / "phone.toml"
    path.write_text(
        'schema = 1\nmachine = "kitchen.toml"\n'
        '[push]\nprotocol = "ntfy"\nurl = "https://push.example/a"\n',
        encoding="utf-8",
    )
    return path


def test_pushes_get_a_unit_on_wish(
    machine_file: Path, push_file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ["service", "--machine", str(machine_file), str(tmp_path)]
    assert main(words) == Exit.DONE
    assert not (tmp_path / NOTIFY_UNIT).exists()
    assert main([*words, "--notify", str(push_file)]) == Exit.DONE
    unit = parsed((tmp_path / NOTIFY_UNIT).read_text(encoding="utf-8"))["Service"]
    assert unit["ExecStart"].endswith(f'bainward" notify "{push_file}"')
    assert unit["Type"] == "notify"
    assert "systemctl enable --now bainward-notify\n" in capsys.readouterr().out


def test_a_push_file_that_can_not_be_used_gets_no_unit(
    machine_file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ["service", "--machine", str(machine_file), str(tmp_path), "--notify", "none.toml"]
    assert main(words) == Exit.BAD_FILE
    assert "none.toml: there is no such file" in capsys.readouterr().err
    assert not (tmp_path / GUARD_UNIT).exists()


def test_what_a_person_must_mend_is_not_started_again_and_again() -> None:
    push = replace(SERVICE, push_file=Path("/etc/bainward/phone.toml"))
    unit = parsed(units(push)[NOTIFY_UNIT])["Service"]
    assert unit["Restart"] == "on-failure"
    never = [Exit.USAGE, Exit.BAD_FILE]
    assert unit["RestartPreventExitStatus"] == " ".join(str(int(code)) for code in never)
    # A message that is being sent is let to its end.
    assert seconds(unit["TimeoutStopSec"]) > WHOLE_S + 5.0


def test_a_user_that_no_system_has_is_refused(
    machine_file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    line = ["service", "--machine", str(machine_file), str(tmp_path), "--user", "a\nExecStart=b"]
    assert main(line) == Exit.USAGE
    assert "is no user name" in capsys.readouterr().err


def test_a_path_that_breaks_a_line_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "two\nlines.toml"
    path.write_text(SOUND + GUARD, encoding="utf-8")
    assert main(["service", "--machine", str(path), str(tmp_path)]) == Exit.USAGE
    assert "unprintable" in capsys.readouterr().err


def test_a_folder_that_is_not_there_is_named(
    machine_file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    line = ["service", "--machine", str(machine_file), str(tmp_path / "none")]
    assert main(line) == Exit.NO_PERMISSION
    assert "can't be written" in capsys.readouterr().err


def test_without_an_installed_command_nothing_is_written(
    machine_file: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.setattr("sys.executable", str(tmp_path / "python"))
    monkeypatch.setenv("PATH", str(tmp_path))
    assert main(["service", "--machine", str(machine_file), str(tmp_path)]) == Exit.USAGE
    assert "no installed command" in capsys.readouterr().err


def test_a_command_on_the_path_is_found(
    machine_file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    command = tmp_path / "bainward"
    command.write_text("#!/bin/sh\n", encoding="utf-8")
    command.chmod(0o755)
    monkeypatch.setattr("sys.executable", "/nowhere/python")
    monkeypatch.setenv("PATH", str(tmp_path))
    assert main(["service", "--machine", str(machine_file), str(tmp_path)]) == Exit.DONE
    assert f'ExecStart="{command}" guard' in (tmp_path / GUARD_UNIT).read_text(encoding="utf-8")


NEEDS_SYSTEMD = pytest.mark.skipif(
    shutil.which("systemd-analyze") is None,
    reason="SYSTEMD'S OWN CHECKER IS MISSING: install the package systemd to check the units",
)


@NEEDS_SYSTEMD
def test_systemds_own_checker_finds_nothing(
    machine_file: Path, push_file: Path, tmp_path: Path
) -> None:
    words = ["service", "--machine", str(machine_file), str(tmp_path), "--notify", str(push_file)]
    assert main([*words, "--page"]) == Exit.DONE
    (tmp_path / RUN_UNIT).rename(tmp_path / "bainward@dark.service")  # a template has no instance
    names = (GUARD_UNIT, NOTIFY_UNIT, PAGE_UNIT, "bainward@dark.service")
    result = subprocess.run(
        ["systemd-analyze", "verify", "--man=no", *(str(tmp_path / name) for name in names)],
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )
    said = result.stdout + result.stderr
    ours = [line for line in said.splitlines() if re.search(r"bainward|Unknown|Failed", line)]
    assert ours == []
    assert result.returncode == 0, said


@pytest.mark.parametrize(
    ("by_network", "families"), [(False, "AF_UNIX"), (True, "AF_UNIX AF_INET AF_INET6")]
)
def test_a_guard_reaches_the_network_only_where_its_board_is_there(
    by_network: bool, families: str
) -> None:
    service = replace(SERVICE, guard_by_network=by_network)
    lines = units(service)[GUARD_UNIT].splitlines()
    assert f"RestrictAddressFamilies={families}" in lines


@pytest.mark.parametrize(
    ("at", "families"),
    [("127.0.0.1:1502", "AF_UNIX AF_INET AF_INET6"), ("/dev/ttyUSB1", "AF_UNIX")],
)
def test_the_command_sees_where_the_guards_board_is(tmp_path: Path, at: str, families: str) -> None:
    text = (Path(__file__).resolve().parents[1] / "helpers/board_machine.toml").read_text("utf-8")
    first, second = text.split("[guard]")
    machine = tmp_path / "kitchen.toml"
    machine.write_text(first + "[guard]" + second.replace("127.0.0.1:1502", at), "utf-8")
    assert main(["service", "--machine", str(machine), str(tmp_path)]) == Exit.DONE
    unit = (tmp_path / GUARD_UNIT).read_text("utf-8")
    assert f"RestrictAddressFamilies={families}" in unit.splitlines()
