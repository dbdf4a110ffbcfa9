"""The command `health`: a sound machine is well, and each defect that is planted is named."""

import sys
from collections.abc import Callable
from functools import cache
from importlib.metadata import packages_distributions
from pathlib import Path
from typing import NamedTuple

import pytest

from controller.commands.health import asked_guard, real_place, report
from controller.commands.main import main
from controller.errors import Exit, HardwareError
from controller.files.machine_file import load_machine_file
from controller.health.access import Who, may_use
from controller.health.checks import CHECKS, examine
from controller.health.finding import Finding, fault, real_systemctl, remark
from controller.link.broker import EmbeddedBroker
from tests.helpers.brokers import free_port
from tests.helpers.guest_defects import GUEST_DEFECTS
from tests.helpers.health_defects import DEFECTS as OTHERS
from tests.helpers.health_defects import FAULT, no_guard
from tests.helpers.kernel_tree import BATH_ID, BOWL_ID, scratchpad, slave_text
from tests.helpers.sentences import ROOT, calls, fragments
from tests.helpers.steps import folder_in_memory
from tests.helpers.well import Well

DEFECTS = OTHERS | GUEST_DEFECTS
ROOM = "controller/health"
MODULES = tuple(
    f"{ROOM}/{path.name}"
    for path in sorted((ROOT / ROOM).glob("*.py"))
    if path.stem not in {"__init__", "finding", "checks"}  # shapes and the table
)


@pytest.fixture
def well(tmp_path: Path) -> Well:
    """A machine whose health is sound."""
    return Well(tmp_path)


def test_a_sound_machine_is_well(well: Well) -> None:
    assert well.found() == {}
    said = report(examine(well.place()))
    assert said.startswith("Well: outputs after a process has died, ")
    assert said.count("\n") == 1


def test_a_page_and_pushes_that_are_sound_are_well(well: Well) -> None:
    well.with_guests()
    assert well.found() == {}
    well.guests.update(ActiveState="inactive", UnitFileState="disabled")
    assert well.found() == {}  # nobody wants them to run
    well.guests.clear()
    assert well.found() == {}  # no systemd: told of once, with the guard


class Seen(NamedTuple):
    """What came of a defect."""

    found: dict[str, tuple[Finding, ...]]
    came: frozenset[tuple[str, int]]  # modules and lines that found something


@cache
def seen(name: str) -> Seen:
    """Plant it, and look."""
    came: set[tuple[str, int]] = set()

    def noting(real: Callable[[str], Finding]) -> Callable[[str], Finding]:
        def noted(says: str) -> Finding:
            caller = sys._getframe(1)  # noqa: SLF001 - whose line it is
            came.add((str(Path(caller.f_code.co_filename).relative_to(ROOT)), caller.f_lineno))
            return real(says)

        return noted

    with folder_in_memory() as folder, pytest.MonkeyPatch.context() as patch:
        for module in MODULES:
            for word, real in (("fault", fault), ("remark", remark)):
                patch.setattr(
                    f"{module.removesuffix('.py').replace('/', '.')}.{word}",
                    noting(real),
                    raising=False,
                )
        well = Well(folder)
        DEFECTS[name].plant(well)
        for place, instead in DEFECTS[name].instead.items():
            patch.setattr(place, instead)
        return Seen(well.found(), frozenset(came))


@pytest.mark.parametrize("name", DEFECTS)
def test_a_defect_that_is_planted_is_named_in_one_sentence(name: str) -> None:
    defect, found = DEFECTS[name], seen(name).found
    meant = [one for one in found[defect.check] if defect.says in one.says]
    assert meant, found
    for one in meant:
        assert one.weight is defect.weight
        assert one.says.endswith(".")
        assert "\n" not in one.says
        assert ". " not in one.says.removesuffix(".")
    assert set(found) <= {defect.check, *defect.besides}


def test_every_check_has_a_defect_that_is_planted() -> None:
    planted = {defect.check for defect in DEFECTS.values()}
    assert planted == {check.what for check in CHECKS}


def test_nothing_that_health_can_find_is_without_a_defect() -> None:
    came = {at for name in DEFECTS for at in seen(name).came}
    spots = [spot for module in MODULES for spot in calls(module, ("fault", "remark"))]
    assert not [spot for spot in spots if not any(spot.holds(at) for at in came)]
    said = [one.says for name in DEFECTS for many in seen(name).found.values() for one in many]
    prose = [one for module in MODULES for one in fragments(module)]
    unsaid = [one for one in prose if not any(one.text in text for text in said)]
    assert not unsaid, "no defect makes it say so"


def test_a_foreign_package_with_one_of_our_names_is_named(
    well: Well, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    info = tmp_path / "site" / "hydroponics-1.0.dist-info"
    info.mkdir(parents=True)
    (info / "METADATA").write_text("Metadata-Version: 2.1\nName: hydroponics\nVersion: 1.0\n")
    (info / "top_level.txt").write_text("hardware\n", encoding="utf-8")
    well.owners = packages_distributions
    assert well.found() == {}
    monkeypatch.syspath_prepend(str(info.parent))
    says = well.found()["foreign packages"][0].says
    assert says.startswith("The package hydroponics also installs a module named 'hardware'")


def test_records_that_can_t_be_written_are_told_of(
    well: Well, monkeypatch: pytest.MonkeyPatch
) -> None:
    # Root may write anywhere, so the system's own word is replaced.
    well.install(None)
    monkeypatch.setattr("os.access", lambda path, _mode: path != well.records)
    assert "Records can't be written" in well.found()["disk and memory"][0].says
    well.install()  # what matters then is what the service's user may
    assert well.found() == {}


def test_a_machine_without_any_record_yet_is_well(well: Well) -> None:
    (well.records / "run-1.jsonl").unlink()
    assert well.found() == {}
    well.records.rmdir()
    assert well.found() == {}


@pytest.mark.parametrize(
    ("resolution", "ext_power", "status"),
    [("12", "1", "0"), ("-5", "-5", "16"), ("", "", ""), ("33", "7", "no number")],
)
def test_what_the_kernel_says_of_sound_parts_or_fails_to_say_is_nothing_to_tell(
    well: Well, resolution: str, ext_power: str, status: str
) -> None:
    board = well.root / "sys/class/watchdog/watchdog0"
    board.mkdir(parents=True)
    (board / "bootstatus").write_text(f"{status}\n", encoding="ascii")
    for name in (BATH_ID, BOWL_ID):
        folder = well.measure(name, 20.0)
        (folder / "resolution").write_text(f"{resolution}\n", encoding="ascii")
        (folder / "ext_power").write_text(f"{ext_power}\n", encoding="ascii")
    assert well.found() == {}


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("", "no-answer"),
        (slave_text(scratchpad(85 * 16)), "power-on-value"),
        (slave_text(bytes(9)), "all-zero"),
        (slave_text(scratchpad(320), verdict="NO"), "checksum"),
        (slave_text(scratchpad(-110 * 16)), "device"),  # what a pulled wire gave
    ],
)
def test_each_thing_that_a_1_wire_file_says_in_place_of_a_value_is_named_by_its_word(
    well: Well, text: str, word: str
) -> None:
    (well.measure(BOWL_ID, 20.0) / "w1_slave").write_text(text, encoding="ascii")
    told = well.found()["thermometers"]
    assert [one.says.partition(": ")[0] for one in told] == [
        f"The bowl thermometer gives no value ({word})"
    ]


def test_a_service_as_root_needs_no_group(well: Well) -> None:
    (well.root / "dev/gpiochip0").chmod(0o600)
    well.install(None)
    assert well.found() == {}


def test_a_bench_is_asked_for_no_device(tmp_path: Path) -> None:
    bench = real_place(Path(__file__).resolve().parents[2] / "hardware/bench/machines/small.toml")
    assert not bench.is_real
    found = {check.what: many for check, many in examine(bench)}
    for what in ("guard", "thermometers", "units and guard's service", "proofs of commissioning"):
        assert found[what] == ()
    with pytest.raises(HardwareError):
        asked_guard(bench.machine_file)
    assert tmp_path.exists()


def test_a_broker_that_lets_us_in_is_well(well: Well) -> None:
    broker = EmbeddedBroker(free_port())
    broker.start()
    try:
        well.write(more=f'[mqtt]\nhost = "127.0.0.1"\nport = {broker.port}\n')
        well.install()
        assert well.found() == {}
    finally:
        broker.stop()


@pytest.mark.parametrize(
    ("uid", "gids", "mode", "may"),
    [
        (0, set[int](), 0o000, True),
        (7, {7}, 0o600, True),
        (8, {9}, 0o660, True),
        (8, {9}, 0o640, False),
        (8, {8}, 0o660, False),
        (8, {8}, 0o666, True),
        (7, {9}, 0o066, False),  # the owner's bits alone count for the owner
    ],
)
def test_access_goes_by_owner_group_and_others_in_that_order(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    uid: int,
    gids: set[int],
    mode: int,
    may: bool,
) -> None:
    class Told(NamedTuple):
        st_uid: int = 7
        st_gid: int = 9
        st_mode: int = mode

    monkeypatch.setattr(Path, "stat", lambda _path: Told())
    found = may_use(Who("somebody", uid, frozenset(gids)), tmp_path)
    monkeypatch.undo()
    assert found is may


def test_the_command_gives_9_for_a_fault_and_0_for_remarks(
    well: Well, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def found(_path: Path) -> object:
        return well.place()

    monkeypatch.setattr("controller.commands.health.real_place", found)
    well.is_synchronised = False
    assert main(["health", "--machine", str(well.path)]) == Exit.DONE
    assert capsys.readouterr().out.startswith("remark: This computer's clock")
    well.status = no_guard
    assert main(["health", "--machine", str(well.path)]) == Exit.HARDWARE
    assert capsys.readouterr().out.endswith("Faults: 1. Mend them before anything heats.\n")


def test_a_real_place_is_this_computer(well: Well, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_STATE_HOME", str(well.folder / "state"))
    monkeypatch.setattr("controller.commands.health.SYSTEM_STATE", well.folder / "none")
    place = real_place(well.path)
    assert place.records == well.folder / "state" / "bainward" / "runs"
    assert place.sources.disk_left_mb() > 0.0
    monkeypatch.setattr("controller.commands.health.SYSTEM_STATE", well.folder)
    assert real_place(well.path).records == well.folder / "runs"
    with pytest.raises(HardwareError, match="No guard answers"):
        asked_guard(load_machine_file(well.path))


def test_a_computer_without_systemctl_says_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PATH", "/nowhere")
    assert real_systemctl(("show",)) == ""


def test_a_report_lists_faults_and_what_is_well() -> None:
    found = ((CHECKS[0], (Finding(FAULT, "Wrong."),)), (CHECKS[1], ()))
    assert report(found) == (
        "FAULT: Wrong.\nWell: time of day.\nFaults: 1. Mend them before anything heats.\n"
    )


@pytest.mark.parametrize("command", ["health", "service"])
def test_a_machine_file_that_is_a_link_to_itself_is_said_to_be_one(
    command: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    loop = tmp_path / "loop.toml"
    loop.symlink_to(loop)
    assert main([command, "--machine", str(loop)]) == Exit.BAD_FILE
    said = capsys.readouterr().err
    assert "loop.toml: can't be read (Too many levels of symbolic links)" in said
    assert said.count("\n") == 1
