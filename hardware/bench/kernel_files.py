"""A bench whose thermometers lie in a tree of files, as the Linux kernel would show them.

Responsible for the texts of those files; not for when they are written, nor for any driver that
reads them. Each thermometer is there in every kind, so that a machine file may name any of them.
"""

import math
from collections.abc import Callable, Mapping
from pathlib import Path

from controller.ports import Fault, Reading, Sensor, missing

# As the kernel names what hangs on a 1-wire bus: family 28, and six bytes of our own.
ONE_WIRE_IDS = {
    "bath": "28-0000000000b1",
    "bowl": "28-0000000000b2",
    "guard": "28-0000000000b3",
}
_ONE_WIRE = "sys/bus/w1/devices/{}"
_HWMON = "sys/class/hwmon/hwmon{}"
_IIO = "sys/bus/iio/devices/iio:device{}"
_STEPS_PER_C = 16  # of a 12 bit thermometer: datasheet 19-7487
_REST = bytes.fromhex("4b467fff0c10")  # thresholds, 12 bit, reserved bytes of the same
_POWER_ON = 85 * _STEPS_PER_C
_CRC_POLYNOMIAL = 0x8C  # x⁸ + x⁵ + x⁴ + 1, lowest bit first: the same
_MC_PER_C = 1000
# IEC 60751 over 0 °C, and a ratio converter of 15 bits with a resistor of four times the element's
# (datasheet 19-6478). Written out once more: a bench must not lean on what is tested with it.
_A_PER_C, _B_PER_C2 = 3.9083e-3, -5.775e-7
_ZERO_CODE = 1 << 13


class KernelFiles:
    """The thermometers of a bench, as files."""

    def __init__(self, root: Path, sensors: Mapping[str, Sensor]) -> None:
        """Make the folders; OSError when that can't be.

        Args:
            root: Where the kernel's files begin.
            sensors: "bath", "bowl" and "guard", or some of them.
        """
        self._root, self._sensors = root, sensors
        self._written: dict[str, str] = {}
        for number, name in enumerate(sensors):
            for folder in (
                _ONE_WIRE.format(ONE_WIRE_IDS[name]),
                _HWMON.format(number),
                _IIO.format(number),
            ):
                (root / folder).mkdir(parents=True, exist_ok=True)
            self._write(f"{_HWMON.format(number)}/name", f"{name}\n")
            self._write(f"{_IIO.format(number)}/name", f"{name}-pt100\n")
            self._write(f"{_IIO.format(number)}/in_temp_scale", "31.250000\n")

    def show(self, now_s: float) -> None:
        """Write what each thermometer says at that moment."""
        for number, (name, sensor) in enumerate(self._sensors.items()):
            reading = _finite(sensor.read(now_s))
            one_wire = _ONE_WIRE.format(ONE_WIRE_IDS[name])
            self._write(f"{one_wire}/w1_slave", _slave_text(reading))
            plain = _thousandths(reading)
            self._write(f"{one_wire}/temperature", plain)
            self._write(f"{_HWMON.format(number)}/temp1_input", plain)
            code, is_faulty = _ratio(reading)
            self._write(f"{_IIO.format(number)}/in_temp_raw", code)
            self._write(f"{_IIO.format(number)}/fault_ovuv", f"{int(is_faulty)}\n")

    def _write(self, place: str, text: str) -> None:
        """At once, so that nobody reads half of it; what is there already is left alone."""
        if self._written.get(place) == text:
            return
        self._written[place] = text
        path = self._root / place
        draft = path.with_name(f".{path.name}")
        draft.write_text(text, encoding="ascii")
        draft.replace(path)


def _finite(reading: Reading) -> Reading:
    """A driver that gives no number gives an error."""
    is_number = reading.fault is not Fault.NONE or math.isfinite(reading.value)
    return reading if is_number else missing(Fault.DEVICE)


def _crc8(content: bytes) -> int:
    crc = 0
    for byte in content:
        crc ^= byte
        for _ in range(8):
            crc = crc >> 1 ^ (_CRC_POLYNOMIAL if crc & 1 else 0)
    return crc


def _code_text(code: int, *, right: bool = True) -> str:
    head = code.to_bytes(2, "little", signed=True) + _REST
    crc = _crc8(head)
    row = (head + bytes([crc if right else crc ^ 1])).hex(" ")
    verdict = "YES" if right else "NO"
    shown_mc = code * _MC_PER_C // _STEPS_PER_C
    return f"{row} : crc={crc:02x} {verdict}\n{row} t={shown_mc}\n"


_SLAVE_FAULTS: dict[Fault, Callable[[], str]] = {
    Fault.NO_ANSWER: lambda: "",
    Fault.CHECKSUM: lambda: _code_text(_POWER_ON, right=False),
    Fault.POWER_ON_VALUE: lambda: _code_text(_POWER_ON),
    Fault.ALL_ZERO: lambda: f"{bytes(9).hex(' ')} : crc=00 YES\n{bytes(9).hex(' ')} t=0\n",
    Fault.DEVICE: lambda: "no thermometer\n",
}
_PLAIN_FAULTS = {
    Fault.NO_ANSWER: "",
    Fault.CHECKSUM: "",  # the kernel's word for it is an empty file, too
    Fault.POWER_ON_VALUE: "85000\n",
    Fault.ALL_ZERO: "0\n",
    Fault.DEVICE: "no thermometer\n",
}


def _slave_text(reading: Reading) -> str:
    if reading.fault is not Fault.NONE:
        return _SLAVE_FAULTS[reading.fault]()
    return _code_text(round(reading.value * _STEPS_PER_C))


def _thousandths(reading: Reading) -> str:
    if reading.fault is not Fault.NONE:
        return _PLAIN_FAULTS[reading.fault]
    return f"{round(reading.value * _MC_PER_C)}\n"


def _ratio(reading: Reading) -> tuple[str, bool]:
    """The code of the ratio converter, and whether its fault bit is set."""
    if reading.fault is Fault.NO_ANSWER:
        return f"{4 * _ZERO_CODE - 1}\n", False  # an open element
    if reading.fault is Fault.ALL_ZERO:
        return "0\n", False
    if reading.fault is not Fault.NONE:
        return f"{_ZERO_CODE}\n", True
    value_c = reading.value
    return f"{round(_ZERO_CODE * (1.0 + _A_PER_C * value_c + _B_PER_C2 * value_c**2))}\n", False
