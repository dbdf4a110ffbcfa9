"""All that health can find, planted on a machine that is sound otherwise.

Responsible for the table and for planting; not for the machine (well) or any expectation.
"""

import os
from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from types import MappingProxyType
from typing import NamedTuple

from controller.errors import HardwareError
from controller.guard.decision import Cause
from controller.guard.messages import Status
from controller.health.finding import Weight
from controller.ports import Reading
from tests.helpers.brokers import free_port
from tests.helpers.kernel_tree import BATH_ID, BOWL_ID, hwmon
from tests.helpers.well import USER, Well

FAULT, REMARK = Weight.FAULT, Weight.REMARK


class Defect(NamedTuple):
    """One thing that is spoilt, and what is to be said of it."""

    check: str
    plant: Callable[[Well], object]
    says: str
    weight: Weight = FAULT
    besides: tuple[str, ...] = ()  # checks that rightly see it, too
    instead: Mapping[str, object] = MappingProxyType({})  # of the system's own word


def no_guard() -> Status:
    """As when nobody listens."""
    raise HardwareError("No guard answers at /run/bainward/kitchen.guard: start it.")


def latched() -> Status:
    """A guard that has seen too hot a bath."""
    return Status(
        latched=Cause.BATH_OVER_CAP, heat=False, bath_mc=20_000, number=0, since_s=1_800_000_000
    )


def latched_twice() -> Status:
    """One that has seen something else besides."""
    return replace(latched(), also=("level-lost",))


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


def open_key(well: Well) -> None:
    """A key that requests are signed with, which a group may change."""
    key = well.home / "signing-key"
    key.write_text("0123456789abcdef0123456789abcdef\n", encoding="utf-8")
    key.chmod(0o664)  # and the service may read
    well.write(
        more=f'[mqtt]\nhost = "127.0.0.1"\nport = {free_port()}\nremote = "signed"\n'
        'signing_key = "signing-key"\n'
    )


def one_name_for_two(well: Well) -> None:
    """Two chips that are called as the bowl's is in the machine file."""
    for number in (1, 2):
        hwmon(well.root, number, "bowl", 20_000)
    well.write((f'kind = "1-wire"\nid = "{BOWL_ID}"', 'kind = "hwmon"\nname = "bowl"'))
    well.prove()
    well.install()


def setting(device: str, file: str, text: str) -> Callable[[Well], object]:
    """What the driver of a 1-wire thermometer says of it."""
    place = f"sys/bus/w1/devices/{device}/{file}"
    return lambda well: (well.root / place).write_text(f"{text}\n", encoding="ascii")


def reset_by_watchdog(well: Well) -> None:
    """A board whose kernel hung and was reset."""
    folder = well.root / "sys/class/watchdog/watchdog0"
    folder.mkdir(parents=True)
    (folder / "bootstatus").write_text("32\n", encoding="ascii")


def aged(well: Well) -> None:
    """A bath's thermometer whose last value is a minute old."""

    class Aged:
        """Measures no more."""

        def read(self, now_s: float) -> Reading:  # noqa: ARG002 - the Sensor's contract
            """Its last."""
            return Reading(20.0, 60.0)

    well.sensors = {"bath": Aged()}


def read_only(path: str | Path) -> os.statvfs_result:
    """What the kernel says of a disk that it has made so."""
    values = list(SOUND_STATVFS(path))
    values[8] |= os.ST_RDONLY
    return os.statvfs_result(values)


SOUND_STATVFS = os.statvfs


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
    "a folder for records that is closed": Defect(
        "disk and memory",
        lambda well: well.install(None),
        "Records can't be written to",
        # Root may write anywhere, so the system's own word is replaced.
        instead={"os.access": lambda path, _mode: Path(path).name != "records"},
    ),
    "a disk that the kernel made read-only": Defect(
        "disk and memory",
        lambda _well: None,
        "can only be read, as after an error",
        instead={"os.statvfs": read_only},
    ),
    "a package with one of our names": Defect(
        "foreign packages",
        lambda well: setattr(well, "owners", lambda: {"hardware": ["bainward", "hydroponics"]}),
        "The package hydroponics also installs a module named 'hardware'",
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
    "a signing key that a group may change": Defect(
        "who may change what heats", open_key, "the link's signing key in", besides=("broker",)
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
    "a board that its watchdog reset": Defect(
        "units and guard's service",
        reset_by_watchdog,
        "The board was last reset by its own watchdog (",
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
        "limit: unplug; let the bath cool; look for a dry bath, stuck switch or moved probe, then "
        "end any run and type",
    ),
    "what must be true before it is cleared": Defect(
        "guard",
        lambda well: setattr(well, "status", latched),
        "must be true: Somebody has found out what overheated and mended it, and it has cooled.",
        REMARK,
    ),
    "a second one that came after it": Defect(
        "guard",
        lambda well: setattr(well, "status", latched_twice),
        "The guard has latched level-lost besides: `bainward alarms level-lost` says what to do.",
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
    "a thermometer that measures no more": Defect(
        "thermometers", aged, "The bath thermometer gives no value (an old one only)"
    ),
    "a bath hotter than any": Defect(
        "thermometers",
        lambda well: well.measure(BATH_ID, 121.0),
        "The bath thermometer reads 121.0 °C, which can't be in the water",
    ),
    "two thermometers of one name": Defect(
        "thermometers",
        one_name_for_two,
        "Machine kitchen: ",
        besides=("who may change what heats",),
    ),
    "a thermometer without a wire for its power": Defect(
        "thermometers",
        setting(BATH_ID, "ext_power", "0"),
        "The bath thermometer takes its power from its data line (",
        REMARK,
    ),
    "a thermometer with coarse steps": Defect(
        "thermometers",
        setting(BOWL_ID, "resolution", "9"),
        "The bowl thermometer measures in steps of 0.5 K only: echo 12 > ",
        REMARK,
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
    "proofs of another computer": Defect(
        "proofs of commissioning",
        lambda well: setattr(well, "computer", "another"),
        "with another computer than this, whose lines may lead to another machine than kitchen",
    ),
    "a record that is none": Defect(
        "newest record",
        lambda well: (well.records / "run-1.jsonl").write_text("[]\n", encoding="utf-8"),
        "run-1.jsonl",
        REMARK,
    ),
    "records that can't be looked at": Defect(
        "newest record",
        lambda well: (well.records / "run-2.jsonl").symlink_to("run-2.jsonl"),
        "can't be read (Too many levels of symbolic links): give them to this user",
    ),
    "a damaged record": Defect("newest record", torn, "can be trusted to its line 2", REMARK),
}
