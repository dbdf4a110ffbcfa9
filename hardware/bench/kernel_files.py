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
# A thermocouple's converter of 0.0078125 °C a code (datasheet 19-7534, from memory, not checked).
_CODES_PER_C = 128
# A thermistor of 10 kΩ at 25 °C under another of 10 kΩ at 3.3 V, at a voltage converter of 0.125 mV
# a code: own engineering values, and the law of Steinhart and Hart the other way round.
_NTC_A, _NTC_B, _NTC_C = 1.0295e-3, 2.391e-4, 1.568e-7
_SERIES_OHM, _SUPPLY_MV, _MV_PER_CODE = 10_000.0, 3300.0, 0.125
_ZERO_K = 273.15


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
            pt100, couple, ntc = self._converters(number)
            for folder in (
                *(_ONE_WIRE.format(ONE_WIRE_IDS[name]), _HWMON.format(number)),
                *(pt100, couple, ntc),
            ):
                (root / folder).mkdir(parents=True, exist_ok=True)
            self._write(f"{_HWMON.format(number)}/name", f"{name}\n")
            self._write(f"{pt100}/name", f"{name}-pt100\n")
            self._write(f"{pt100}/in_temp_scale", "31.250000\n")
            self._write(f"{couple}/name", f"{name}-couple\n")
            self._write(f"{couple}/in_temp_scale", f"{_MC_PER_C / _CODES_PER_C:f}\n")
            self._write(f"{ntc}/name", f"{name}-ntc\n")
            self._write(f"{ntc}/in_voltage0_scale", f"{_MV_PER_CODE:f}\n")

    def _converters(self, number: int) -> list[str]:
        """The folders of platinum, thermocouple and thermistor of one thermometer."""
        return [_IIO.format(number + kind * len(ONE_WIRE_IDS)) for kind in range(3)]

    def show(self, now_s: float) -> None:
        """Write what each thermometer says at that moment."""
        for number, (name, sensor) in enumerate(self._sensors.items()):
            reading = _finite(sensor.read(now_s))
            one_wire = _ONE_WIRE.format(ONE_WIRE_IDS[name])
            self._write(f"{one_wire}/w1_slave", _slave_text(reading))
            plain = _thousandths(reading)
            self._write(f"{one_wire}/temperature", plain)
            self._write(f"{_HWMON.format(number)}/temp1_input", plain)
            pt100, couple, ntc = self._converters(number)
            code, is_faulty = _ratio(reading)
            self._write(f"{pt100}/in_temp_raw", code)
            self._write(f"{pt100}/fault_ovuv", f"{int(is_faulty)}\n")
            self._write(f"{couple}/in_temp_raw", _couple(reading))
            self._write(f"{ntc}/in_voltage0_raw", _ntc(reading))

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


_CODE_FAULTS = {Fault.NO_ANSWER: "", Fault.ALL_ZERO: "0\n"}


def _couple(reading: Reading) -> str:
    """The code of a thermocouple's converter, whose driver gives an error for a broken one."""
    if reading.fault is not Fault.NONE:
        return _CODE_FAULTS.get(reading.fault, "no code\n")
    return f"{round(reading.value * _CODES_PER_C)}\n"


def _ntc(reading: Reading) -> str:
    """The code of a thermistor's divider; an open one leaves the whole supply."""
    if reading.fault is Fault.NO_ANSWER:
        return f"{round(_SUPPLY_MV / _MV_PER_CODE)}\n"
    if reading.fault is not Fault.NONE:
        return _CODE_FAULTS.get(reading.fault, "no code\n")
    half = (_NTC_A - 1.0 / (reading.value + _ZERO_K)) / (2.0 * _NTC_C)
    root = math.sqrt((_NTC_B / (3.0 * _NTC_C)) ** 3 + half**2)
    ohm = math.exp(math.cbrt(root - half) - math.cbrt(root + half))
    return f"{round(_SUPPLY_MV * ohm / (ohm + _SERIES_OHM) / _MV_PER_CODE)}\n"
