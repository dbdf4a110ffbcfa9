"""A virtual board for its tests, or a loud word that there is none.

Responsible for machine file, units and boards; not for any expectation.
"""

import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from controller.commissioning.computer import computer_id
from controller.files.machine_file import load_machine_file
from tests.board.board import Board, Kit
from tests.helpers.proven import prove_all

ROOT = Path(__file__).resolve().parents[2]
MACHINE = Path(__file__).parent / "kitchen.toml"
WHOLE = Path(__file__).parent / "whole.toml"
AGENT = Path(__file__).parent / "guest" / "agent.py"

BOARD_TARGET = """\
[Unit]
Description=What the virtual board boots to
Wants=board-agent.service bainward-guard.service
AllowIsolate=yes
"""

# As an enabled guard would, the guard above starts at boot. The agent must outlive all of it.
BOARD_AGENT = """\
[Unit]
Description=The hands of the tests
DefaultDependencies=no

[Service]
ExecStart={python} -u {agent}
WorkingDirectory={root}
Environment=PYTHONPATH={root}
OOMScoreAdjust=-1000
CPUSchedulingPolicy=fifo
CPUSchedulingPriority=50
CPUSchedulingResetOnFork=yes
"""

# Only matter where this checkout's own Python lies in /tmp: a service's private one would hide it,
# and systemd's cleaning at boot would remove it. Its packages may be another checkout's.
KEEP_TMP = "[Service]\nPrivateTmp=no\nEnvironment=PYTHONPATH={root}\n"
UNITS = ("bainward-guard.service", "bainward@.service")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """All tests of this folder need a board."""
    for item in items:
        if Path(__file__).parent in item.path.parents:
            item.add_marker(pytest.mark.board)


@pytest.fixture(scope="session")
def kit() -> Kit:
    """What `.ci/board` brought."""
    folder = os.environ.get("BAINWARD_BOARD_KIT")
    if folder is None:
        pytest.skip("NOT TESTED ON A VIRTUAL BOARD: run .ci/board, which brings QEMU and a kernel")
    return Kit(Path(folder))


@pytest.fixture(scope="session")
def etc(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """What lies over the host's /etc: the units as `bainward service` writes them."""
    folder = tmp_path_factory.mktemp("etc")
    machine = folder / "bainward" / "kitchen.toml"
    system = folder / "systemd" / "system"
    drop_ins = folder / "systemd" / "system.conf.d"
    for path in (machine.parent, system, drop_ins):
        path.mkdir(parents=True)
    own = folder / "machine-id"  # else systemd draws one at each boot
    own.write_text(f"{'b0a2d' * 6}01\n", encoding="ascii")
    for source in (MACHINE, WHOLE):
        placed = machine.parent / source.name
        placed.write_text(source.read_text(encoding="utf-8"), encoding="utf-8")
        prove_all(load_machine_file(placed), on=computer_id((own,)))
    command = Path(sys.executable).parent / "bainward"
    said = subprocess.run(
        [command, "service", "--machine", machine, system],
        capture_output=True,
        text=True,
        check=True,
    ).stdout
    for name in UNITS:
        unit = system / name
        text = unit.read_text(encoding="utf-8").replace(str(folder), "/etc")
        unit.write_text(text, encoding="utf-8")
        if Path(sys.prefix).is_relative_to("/tmp"):  # noqa: S108 - asked about, not written to
            (system / f"{name}.d").mkdir()
            (system / f"{name}.d" / "tmp.conf").write_text(
                KEEP_TMP.format(root=ROOT), encoding="utf-8"
            )
    (folder / "tmpfiles.d").mkdir()
    (folder / "tmpfiles.d" / "tmp.conf").write_text("# Nothing to clean.\n", encoding="utf-8")
    (drop_ins / "bainward-watchdog.conf").write_text(advice(said), encoding="utf-8")
    (system / "board.target").write_text(BOARD_TARGET, encoding="utf-8")
    agent = BOARD_AGENT.format(python=sys.executable, agent=AGENT, root=ROOT)
    (system / "board-agent.service").write_text(agent, encoding="utf-8")
    return folder


def advice(said: str) -> str:
    """The drop-in that the command tells people to write."""
    lines = [line.strip() for line in said.splitlines()]
    first = lines.index("[Manager]")
    return "\n".join(lines[first : first + 2]) + "\n"


@pytest.fixture(scope="module")
def board(
    kit: Kit, etc: Path, tmp_path_factory: pytest.TempPathFactory, request: pytest.FixtureRequest
) -> Iterator[Board]:
    """A board that has booted, for the tests of one module, in their order.

    A module whose `IN_OWN_TIME` is true gets one whose clock is its own.
    """
    own_time = bool(getattr(request.module, "IN_OWN_TIME", False))
    made = Board(kit, etc, tmp_path_factory.mktemp("board"), own_time=own_time)
    try:
        made.power_on()
        yield made
    finally:
        made.power_off()
