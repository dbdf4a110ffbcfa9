"""The command `health`: a sound machine is well, and each defect that is planted is named."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from importlib.metadata import packages_distributions
from pathlib import Path
from typing import NamedTuple

import pytest

from controller.commands.health import asked_guard, real_place, report
from controller.commands.main import main
from controller.errors import Exit, HardwareError
from controller.files.machine_file import load_machine_file
from controller.guard.decision import Cause
from controller.guard.messages import Status
from controller.health.access import Who, may_use
from controller.health.checks import CHECKS, examine
from controller.health.finding import Finding, Weight, real_systemctl
from controller.link.broker import EmbeddedBroker
from tests.helpers.brokers import free_port
from tests.helpers.kernel_tree import BATH_ID, BOWL_ID
from tests.helpers.well import USER, Well

FAULT, REMARK = Weight.FAULT, Weight.REMARK


@pytest.fixture
def well(tmp_path: Path) -> Well:
    """A machine whose health is sound."""
    return Well(tmp_path)


class Defect(NamedTuple):
    """One thing that is spoilt, and what is to be said of it."""

    check: str
    plant: Callable[[Well], object]
    says: str
    weight: Weight = FAULT
    besides: tuple[str, ...] = ()  # checks that rightly see it, too


def no_guard() -> Status:
    """As when nobody listens."""
    raise HardwareError("No guard answers at /run/bainward/kitchen.guard: start it.")


def latched() -> Status:
    """A guard that has seen too hot a bath."""
    return Status(
        latched=Cause.BATH_OVER_CAP, heat=False, bath_mc=20_000, number=0, since_s=1_800_000_000
    )


def blind() -> Status:
    """A guard whose thermometer is unplugged."""
    return Status(latched=Cause.NONE, heat=False, bath_mc=None, number=0)


def elsewhere() -> Status:
    """A guard whose thermometer lies on the table."""
    return Status(latched=Cause.NONE, heat=False, bath_mc=24_000, number=0)


def persisting(well: Well) -> None:
    """A kernel that keeps lines driven."""
    folder = well.root / "sys/module/pinctrl_bcm2835/parameters"
    folder.mkdir(parents=True)
    (folder / "persist_gpio_outputs").write_text("Y\n", encoding="ascii")


def unplugged(well: Well) -> None:
    """A 1-wire thermometer that gives an empty file, as the kernel does."""
    (well.measure(BATH_ID, 20.0) / "w1_slave").write_text("", encoding="ascii")


def broker_away(well: Well) -> None:
    """A broker where nobody listens."""
    well.write(more=f'[mqtt]\nhost = "127.0.0.1"\nport = {free_port()}\ndevice = "kitchen"\n')


def open_secret(well: Well) -> None:
    """A password that anybody may read."""
    secret = well.home / "mqtt-password"
    secret.write_text("guess\n", encoding="utf-8")
    secret.chmod(0o644)
    well.write(
        more=f'[mqtt]\nhost = "127.0.0.1"\nport = {free_port()}\nusername = "kitchen"\n'
        'password_file = "mqtt-password"\n'
    )


def shut_book(well: Well) -> None:
    """A folder for records that is not the service's user's."""
    (well.home / "book").mkdir()
    well.write(more='[journal]\nfolder = "book"\n')
    well.install()


def torn(well: Well) -> None:
    """A record with a line that is not as it was written."""
    record = well.records / "run-1.jsonl"
    lines = record.read_bytes().split(b"\n")
    lines[2] = lines[2][:-9] + b"X" * 9
    record.write_bytes(b"\n".join(lines))


def foreign_proofs(well: Well) -> None:
    """Proofs of another machine beside this one's file."""
    path = well.home / "kitchen.proofs.json"
    path.write_text(path.read_text("utf-8").replace('"kitchen"', '"shop"'), "utf-8")


DEFECTS = {
    "a kernel that keeps lines driven": Defect(
        "outputs after a process has died", persisting, "write dtparam=strict_gpiod"
    ),
    "a clock of long ago": Defect(
        "time of day",
        lambda well: setattr(well, "now", datetime(2000, 1, 1, tzinfo=UTC)),
        "clock says 2000-01-01, and",
        besides=("proofs of commissioning",),
    ),
    "a clock that nobody holds": Defect(
        "time of day",
        lambda well: setattr(well, "is_synchronised", False),
        "held to no time server",
        REMARK,
    ),
    "a full disk": Defect(
        "disk and memory",
        lambda well: setattr(well, "disk_left_mb", 3.0),
        "The disk of the record has 3 MB left: delete or move old records",
    ),
    "no memory": Defect(
        "disk and memory",
        lambda well: setattr(well, "memory_left_mb", 20.0),
        "The computer has 20 MB of memory left: end other programs",
    ),
    "a machine file for all to write": Defect(
        "who may change what heats",
        lambda well: well.path.chmod(0o666),
        "Anybody on this computer may change",
    ),
    "a machine file in a folder for all": Defect(
        "who may change what heats",
        lambda well: well.home.chmod(0o1777),
        "move what is there into a folder of its own",
    ),
    "a program for all to write": Defect(
        "who may change what heats",
        lambda well: well.program.chmod(0o777),
        "bin/bainward, and with it what heats: chmod o-w",
    ),
    "a password for all to read": Defect(
        "who may change what heats", open_secret, "the link's password in", besides=("broker",)
    ),
    "a user that isn't there": Defect(
        "the service's user",
        lambda well: well.install("nobody-of-that-name"),
        "no such user: useradd --system --groups gpio nobody-of-that-name",
    ),
    "a line that the user may not use": Defect(
        "the service's user",
        lambda well: (well.root / "dev/gpiochip0").chmod(0o660),
        f"The user {USER} may not use",
    ),
    "a machine file that the user may not read": Defect(
        "the service's user",
        lambda well: well.path.chmod(0o600),
        f"The user {USER} may not read",
    ),
    "records that the user may not write": Defect(
        "the service's user", shut_book, f"The user {USER} may not write records to"
    ),
    "no service": Defect(
        "units and guard's service",
        lambda well: well.unit.unlink(),
        "No service is set up for the guard",
        REMARK,
    ),
    "a unit of before an upgrade": Defect(
        "units and guard's service",
        lambda well: well.unit.write_text(f"User={USER}\n", encoding="utf-8"),
        "is not as this bainward writes it for this machine",
    ),
    "half of the units": Defect(
        "units and guard's service",
        lambda well: (well.unit.parent / "bainward@.service").unlink(),
        "bainward@.service is missing",
    ),
    "units that systemd has not read": Defect(
        "units and guard's service",
        lambda well: well.systemd.update(NeedDaemonReload="yes"),
        "systemctl daemon-reload",
    ),
    "a guard's service that failed": Defect(
        "units and guard's service",
        lambda well: well.systemd.update(ActiveState="failed"),
        "The guard's service is failed",
    ),
    "a guard that doesn't start at boot": Defect(
        "units and guard's service",
        lambda well: well.systemd.update(UnitFileState="disabled"),
        "systemctl enable bainward-guard",
        REMARK,
    ),
    "a guard that ends again and again": Defect(
        "units and guard's service",
        lambda well: well.systemd.update(NRestarts="7"),
        "was started again 7 times",
        REMARK,
    ),
    "a board's watchdog that nobody feeds": Defect(
        "units and guard's service",
        lambda well: setattr(well, "watchdog", "0"),
        "RuntimeWatchdogSec=14",
        REMARK,
    ),
    "no systemd": Defect(
        "units and guard's service",
        lambda well: well.systemd.clear(),
        "systemd can't be asked",
        REMARK,
    ),
    "no guard": Defect("guard", lambda well: setattr(well, "status", no_guard), "No guard answers"),
    "a trip that nobody cleared": Defect(
        "guard",
        lambda well: setattr(well, "status", latched),
        "The guard has latched bath-over-cap on 2027-01-15, since the bath was hotter than its "
        "limit: unplug the machine",
    ),
    "a guard that sees nothing": Defect(
        "guard", lambda well: setattr(well, "status", blind), "[guard.probe]"
    ),
    "a thermometer that is unplugged": Defect(
        "thermometers", unplugged, "The bath thermometer gives no value (no-answer)"
    ),
    "a thermometer that says what can't be": Defect(
        "thermometers",
        lambda well: well.measure(BOWL_ID, 121.0),
        "The bowl thermometer reads 121.0 °C, which can't be in the bowl",
    ),
    "two thermometers that disagree": Defect(
        "thermometers",
        lambda well: setattr(well, "status", elsewhere),
        "are 4.0 K apart in the same water",
    ),
    "a broker that is away": Defect("broker", broker_away, "doesn't let the machine in", REMARK),
    "a proof that has expired": Defect(
        "proofs of commissioning",
        lambda well: well.prove(well.now - timedelta(days=200)),
        "which counts 183 days: do it with `bainward prove",
    ),
    "a proof that ends soon": Defect(
        "proofs of commissioning",
        lambda well: well.prove(well.now - timedelta(days=180)),
        "counts for 3 more days",
        REMARK,
    ),
    "nothing proven": Defect(
        "proofs of commissioning",
        lambda well: (well.home / "kitchen.proofs.json").unlink(),
        "has not been shown on machine kitchen yet: do it with `bainward probes",
    ),
    "another machine's proofs": Defect(
        "proofs of commissioning", foreign_proofs, "not of kitchen; move it away"
    ),
    "a damaged record": Defect("newest record", torn, "can be trusted to its line 2", REMARK),
}


def test_a_sound_machine_is_well(well: Well) -> None:
    assert well.found() == {}
    said = report(examine(well.place()))
    assert said.startswith("Well: outputs after a process has died, ")
    assert said.count("\n") == 1


@pytest.mark.parametrize("name", DEFECTS)
def test_a_defect_that_is_planted_is_named_in_one_sentence(well: Well, name: str) -> None:
    defect = DEFECTS[name]
    defect.plant(well)
    found = well.found()
    meant = [one for one in found[defect.check] if defect.says in one.says]
    assert meant, found
    for one in meant:
        assert one.weight is defect.weight
        assert one.says.endswith(".")
        assert "\n" not in one.says
        assert ". " not in one.says.removesuffix(".")
    assert set(found) <= {defect.check, *defect.besides}


def test_every_check_has_a_defect_that_is_planted() -> None:
    planted = {defect.check for defect in DEFECTS.values()} | {"foreign packages"}
    assert planted == {check.what for check in CHECKS}


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


def test_a_disk_that_the_kernel_made_read_only_is_told_of(
    well: Well, monkeypatch: pytest.MonkeyPatch
) -> None:
    import os  # noqa: PLC0415 - the one call that is replaced

    real = os.statvfs(well.records)
    values = list(real)
    values[8] |= os.ST_RDONLY
    monkeypatch.setattr("os.statvfs", lambda _path: os.statvfs_result(values))
    assert "can only be read" in well.found()["disk and memory"][0].says


def test_a_machine_without_any_record_yet_is_well(well: Well) -> None:
    (well.records / "run-1.jsonl").unlink()
    assert well.found() == {}
    well.records.rmdir()
    assert well.found() == {}


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
