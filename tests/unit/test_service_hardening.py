"""How far the units are closed, and that what a machine's parts need stays in reach."""

import re
import shutil
import subprocess
from pathlib import Path
from typing import Any

import pytest

from controller.commands.main import main
from controller.errors import Exit
from controller.files.machine_file import load_machine_file
from controller.service.making import groups_of, port_of, service_of
from controller.service.units import (
    GUARD_UNIT,
    NOTIFY_UNIT,
    PAGE_UNIT,
    RUN_UNIT,
    PagePlan,
    units,
)
from tests.helpers.records import replace
from tests.helpers.unit_files import GUARD, SERVICE, SOUND, Unit, parsed

NEEDS_SYSTEMD = pytest.mark.skipif(
    shutil.which("systemd-analyze") is None,
    reason="SYSTEMD'S OWN CHECKER IS MISSING: install the package systemd to check the units",
)


PUSH = """\
schema = 1
machine = "kitchen.toml"
[push]
protocol = "ntfy"
url = "https://push.example/a"
"""


@pytest.fixture
def guard() -> Unit:
    """The guard's unit."""
    return parsed(units(SERVICE)[GUARD_UNIT])


@pytest.fixture
def run() -> Unit:
    """The unit of a run."""
    return parsed(units(SERVICE)[RUN_UNIT])


@pytest.fixture
def machine_file(tmp_path: Path) -> Path:
    """A machine file with a guard."""
    path = tmp_path / "kitchen.toml"
    path.write_text(SOUND + GUARD, encoding="utf-8")
    return path


def test_lines_and_thermometers_stay_in_reach(guard: Unit, run: Unit) -> None:
    # The first hides /dev/gpiochip*; under the others the groups that own devices are nobody's, or
    # the host's folders are gone.
    hiding = {"PrivateDevices", "PrivateUsers", "DynamicUser", "RootDirectory", "RootImage"}
    for unit in (guard, run):
        assert not hiding & set(unit["Service"])


HARDENED = {
    "NoNewPrivileges": "yes",
    "ProtectSystem": "strict",
    "PrivateTmp": "yes",
    "PrivateMounts": "yes",
    "DevicePolicy": "closed",
    "ProtectProc": "invisible",
    "ProtectKernelModules": "yes",
    "ProtectKernelLogs": "yes",
    "ProtectKernelTunables": "yes",
    "ProtectControlGroups": "yes",
    "ProtectHostname": "yes",
    "RestrictNamespaces": "yes",
    "RestrictSUIDSGID": "yes",
    "RemoveIPC": "yes",
    "LockPersonality": "yes",
    "MemoryDenyWriteExecute": "yes",
    "SystemCallArchitectures": "native",
    "SystemCallErrorNumber": "EPERM",
    "UMask": "0027",
}
OF_THE_GUARD = {
    "ProtectClock": "yes",
    "ProcSubset": "pid",
    "PrivateNetwork": "yes",
    "IPAddressDeny": "any",
    "SystemCallFilter": "@system-service",
}


def test_each_hardening_of_both_units_is_kept(guard: Unit, run: Unit) -> None:
    assert {key: guard["Service"].get(key) for key in HARDENED} == HARDENED
    assert {key: run["Service"].get(key) for key in HARDENED} == HARDENED
    assert {key: guard["Service"].get(key) for key in OF_THE_GUARD} == OF_THE_GUARD
    assert run["Service"]["RestrictRealtime"] == "yes"


def test_a_user_has_no_capability_and_root_one() -> None:
    named = units(replace(SERVICE, user="chocolate"))
    for text in named.values():
        assert parsed(text)["Service"]["CapabilityBoundingSet"] == ""
    for text in units(SERVICE).values():
        assert parsed(text)["Service"]["CapabilityBoundingSet"] == "CAP_DAC_OVERRIDE"


def test_a_run_may_ask_whether_the_clock_is_held_to_a_time_server(run: Unit) -> None:
    # adjtimex(2) is clock_adjtime(2) in C libraries of today; neither is in @system-service.
    calls = run["Service"]["SystemCallFilter"].split()
    assert calls == ["@system-service", "adjtimex", "clock_adjtime", "clock_adjtime64"]


@pytest.mark.parametrize(
    ("place", "home"),
    [("/home/cook/kitchen.toml", "read-only"), ("/etc/bainward/kitchen.toml", "yes")],
)
def test_homes_are_hidden_unless_something_of_ours_lies_there(place: str, home: str) -> None:
    for text in units(replace(SERVICE, machine_file=Path(place))).values():
        assert parsed(text)["Service"]["ProtectHome"] == home


def test_a_list_of_devices_names_lines_and_ports_and_nothing_else() -> None:
    service = replace(SERVICE, guard_devices=("char-gpiochip",), run_devices=("char-ttyUSB",))
    made = units(service)
    assert "DeviceAllow=char-gpiochip rw\n" in made[GUARD_UNIT]
    assert "DeviceAllow=char-ttyUSB rw\n" in made[RUN_UNIT]
    assert all(text.count("DeviceAllow=") == 1 for text in made.values())


def test_a_stirrer_by_pwm_may_write_below_sys(guard: Unit) -> None:
    made = units(replace(SERVICE, run_writes_sys=True))
    assert "ProtectKernelTunables" not in parsed(made[RUN_UNIT])["Service"]
    assert "ProtectKernelTunables" in guard["Service"]
    made = units(replace(SERVICE, guard_writes_sys=True))
    assert "ProtectKernelTunables" not in parsed(made[GUARD_UNIT])["Service"]


@pytest.mark.parametrize(
    ("at", "kinds"),
    [
        ("/dev/ttyUSB0", ("char-ttyUSB",)),
        ("/dev/ttyAMA0", ("char-ttyAMA",)),
        ("/dev/serial/by-id/usb-1", ("char-ttyUSB", "char-ttyACM", "char-ttyAMA", "char-ttyS")),
        ("127.0.0.1:1502", ()),
    ],
)
def test_a_port_is_allowed_by_its_class(at: str, kinds: tuple[str, ...]) -> None:
    assert port_of(at) == kinds


def test_what_a_machine_of_wires_needs_is_seen_in_its_file(tmp_path: Path) -> None:
    document = (Path(__file__).resolve().parents[2] / "hardware" / "README.md").read_text("utf-8")
    text = document.partition("<!-- machine -->")[2].partition("```toml")[2].partition("```")[0]
    path = tmp_path / "kitchen.toml"
    path.write_text(text, encoding="utf-8")
    made = service_of(path, load_machine_file(path), Path("/opt/bin/bainward"), "chocolate")
    assert made.guard_devices == made.run_devices == ("char-gpiochip",)
    assert groups_of(made) == ("gpio",)
    assert not made.run_writes_sys
    path.write_text(
        text.replace('line = "GPIO27"', 'pwm = "/sys/class/pwm/pwmchip0/pwm0"\nfull = "60 rpm"'),
        encoding="utf-8",
    )
    made = service_of(path, load_machine_file(path), Path("/opt/bin/bainward"), "chocolate")
    assert made.run_writes_sys
    assert made.run_devices == ()


def test_a_line_that_is_a_file_and_a_latch_of_ones_own_can_be_written(tmp_path: Path) -> None:
    path = tmp_path / "etc" / "kitchen.toml"
    path.parent.mkdir()
    lines = GUARD.replace('kind = "gpio"\nname = "HEAT"', 'kind = "file"\npath = "/srv/lines/heat"')
    more = '[guard]\nlatch = "/srv/latch/kitchen"\nsocket = "/srv/door/kitchen"\n'
    path.write_text(SOUND + more + lines, encoding="utf-8")
    made = service_of(path, load_machine_file(path), Path("/opt/bin/bainward"), None)
    wanted = {Path("/srv/lines"), Path("/srv/latch"), Path("/srv/door"), path.parent}
    assert wanted <= set(made.writable)
    assert not made.guard_writes_sys
    path.write_text((SOUND + lines).replace("/srv/lines/heat", "/sys/heat"), encoding="utf-8")
    made = service_of(path, load_machine_file(path), Path("/opt/bin/bainward"), None)
    assert made.guard_writes_sys
    assert Path("/sys") not in made.writable


@NEEDS_SYSTEMD
@pytest.mark.parametrize(
    ("name", "most"),
    [
        (GUARD_UNIT, 1.0),
        ("bainward@dark.service", 2.2),
        (NOTIFY_UNIT, 1.6),
        (PAGE_UNIT, 1.4),
    ],
)
def test_systemd_itself_finds_little_exposed(
    machine_file: Path, tmp_path: Path, name: str, most: float
) -> None:
    push_file = tmp_path / "phone.toml"
    push_file.write_text(PUSH, encoding="utf-8")
    line = ["service", "--machine", str(machine_file), str(tmp_path), "--user", "chocolate"]
    assert main([*line, "--page", "--notify", str(push_file)]) == Exit.DONE
    (tmp_path / RUN_UNIT).rename(tmp_path / "bainward@dark.service")
    said = subprocess.run(
        ["systemd-analyze", "security", "--offline=yes", "--no-pager", str(tmp_path / name)],
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    ).stdout
    found = re.search(r"Overall exposure level for \S+: (\d+\.\d)", said)
    if found is None:
        pytest.skip("THIS SYSTEMD IS TOO OLD TO JUDGE UNITS THAT ARE NOT INSTALLED")
    assert float(found.group(1)) <= most, said


def test_pushes_are_closed_likewise_but_for_what_their_command_may_be() -> None:
    push = replace(SERVICE, push_file=Path("/etc/bainward/phone.toml"), run_devices=("char-ttyS",))
    unit = parsed(units(push)[NOTIFY_UNIT])["Service"]
    wanted = {key: value for key, value in HARDENED.items() if key != "MemoryDenyWriteExecute"}
    assert {key: unit.get(key) for key in wanted} == wanted
    assert not {"MemoryDenyWriteExecute", "DeviceAllow"} & set(unit)  # any program; no device


def page_unit(**changes: Any) -> dict[str, str]:  # noqa: ANN401 - any field
    service = replace(SERVICE, page=PagePlan(listen="0.0.0.0:8080"), **changes)
    return dict(parsed(units(service)[PAGE_UNIT])["Service"])


def test_the_page_is_closed_more_than_what_needs_devices() -> None:
    unit = page_unit(user="chocolate", run_devices=("char-ttyS",))
    assert {key: unit.get(key) for key in HARDENED} == HARDENED
    closed = ("PrivateDevices", "PrivateUsers", "ProtectClock", "RestrictRealtime")
    assert {unit.get(key) for key in closed} == {"yes"}
    assert (unit["SocketBindDeny"], unit["SocketBindAllow"]) == ("any", "tcp:8080")
    assert unit["CapabilityBoundingSet"] == ""
    assert not {"DeviceAllow", "StateDirectory", "ReadWritePaths"} & set(unit)


def test_the_page_finds_neither_the_guards_door_nor_latch_nor_records(tmp_path: Path) -> None:
    path = tmp_path / "kitchen.toml"
    more = '[guard]\nsocket = "/srv/door/kitchen"\n'
    path.write_text(SOUND.replace('"runs"', '"/srv/book"') + more + GUARD, "utf-8")
    made = service_of(path, load_machine_file(path), Path("/opt/bin/bainward"), None)
    hidden = page_unit(private=made.private)["InaccessiblePaths"]
    for folder in ("/run/bainward", "/var/lib/bainward", "/srv/door", "/srv/book"):
        assert f'"-{folder}"' in hidden
    assert str(tmp_path) not in hidden


def test_what_is_hidden_from_the_page_is_there_before_it_and_stays_the_same_folder() -> None:
    # systemd.exec(5): RuntimeDirectory= is removed when its unit stops, and what is mounted over a
    # folder goes with it.
    guard = parsed(units(SERVICE)[GUARD_UNIT])["Service"]
    assert (guard["RuntimeDirectory"], guard["RuntimeDirectoryPreserve"]) == ("bainward", "yes")
    before = page_unit()["ExecStartPre"]
    assert before.startswith("+")  # as nobody else may make a folder there
    assert {"/run/bainward", "/var/lib/bainward"} <= set(before.split())


def test_what_the_page_reads_is_not_hidden_from_it() -> None:
    private = (Path("/var/lib/bainward"), Path("/run/bainward"))
    plan = PagePlan(listen="127.0.0.1:8080", password=Path("/var/lib/bainward/page.password"))
    text = units(replace(SERVICE, page=plan, private=private))[PAGE_UNIT]
    assert parsed(text)["Service"]["InaccessiblePaths"] == '"-/run/bainward"'


def test_a_port_that_wants_a_capability_gets_that_one_alone() -> None:
    plan = PagePlan(listen="0.0.0.0:443")
    for user in ("chocolate", None):
        unit = parsed(units(replace(SERVICE, page=plan, user=user))[PAGE_UNIT])["Service"]
        assert unit["CapabilityBoundingSet"].split()[-1] == "CAP_NET_BIND_SERVICE"
        assert ("AmbientCapabilities" in unit) is (user is not None)
        assert "PrivateUsers" not in unit  # in which that capability would count for nothing
