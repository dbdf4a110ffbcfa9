"""Plain folders that look like the kernel's files of thermometers, for tests.

Responsible for their layout and texts; not for what is expected of a driver.
"""

from pathlib import Path

from hardware.linux.one_wire import crc8

BATH_ID = "28-00000a1b2c3d"
BOWL_ID = "28-00000a1b2c3e"


def scratchpad(code: int, *, rest: bytes = bytes.fromhex("4b467fff0c10")) -> bytes:
    """Nine bytes of a thermometer that measured `code` steps of 1/16 °C."""
    head = code.to_bytes(2, "little", signed=True) + rest
    return head + bytes([crc8(head)])


def slave_text(content: bytes, *, verdict: str = "YES", shown_mc: int = 0) -> str:
    """What a read of `w1_slave` gives for those nine bytes."""
    row = content.hex(" ")
    return f"{row} : crc={crc8(content[:8]):02x} {verdict}\n{row} t={shown_mc}\n"


def one_wire(root: Path, name: str, code: int) -> Path:
    """A thermometer on the 1-wire bus; the folder it lies in."""
    folder = root / "sys/bus/w1/devices" / name
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "w1_slave").write_text(slave_text(scratchpad(code)), encoding="ascii")
    return folder


def hwmon(root: Path, number: int, name: str, thousandths: int, file: str = "temp1_input") -> Path:
    """A thermometer, or what `file` says, with a hwmon driver; the folder it lies in."""
    folder = root / f"sys/class/hwmon/hwmon{number}"
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "name").write_text(f"{name}\n", encoding="ascii")
    (folder / file).write_text(f"{thousandths}\n", encoding="ascii")
    return folder


def switch(root: Path, name: str) -> Path:
    """A switch in a file, active."""
    path = root / "lines" / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text("1\n", encoding="ascii")
    return path


def iio(root: Path, number: int, name: str, **files: str) -> Path:
    """A converter with an IIO driver; the folder it lies in, with those files in it."""
    folder = root / f"sys/bus/iio/devices/iio:device{number}"
    folder.mkdir(parents=True, exist_ok=True)
    for file, text in {"name": name, **files}.items():
        (folder / file).write_text(f"{text}\n", encoding="ascii")
    return folder


def ratio_converter(root: Path, number: int, code: int, name: str = "max31865") -> Path:
    """A converter of platinum thermometers; the folder it lies in."""
    files = {"in_temp_raw": str(code), "in_temp_scale": "31.250000", "fault_ovuv": "0"}
    return iio(root, number, name, **files)


def thermocouple(root: Path, number: int, value_c: float) -> Path:
    """A converter of thermocouples; the folder it lies in."""
    code = round(value_c * 128)
    files = {"in_temp_raw": str(code), "in_temp_scale": "7.812500", "fault_oc": "0"}
    return iio(root, number, "max31856", **files)
