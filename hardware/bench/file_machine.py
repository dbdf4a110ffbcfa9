"""A bench as a whole machine of files: thermometers as the kernel shows them, lines that are read.

Responsible for following those lines and hands, and showing what comes of it; not for the files'
texts (kernel_files), nor for when. Files keep their last level when who wrote them is gone.
"""

from pathlib import Path

from hardware.bench.attach import Bench
from hardware.bench.kernel_files import KernelFiles

HEATER = "lines/heater"  # what the guard writes: 0 or 1
LID = "lines/lid"  # 1 while the lid is on
STOP = "lines/stop"  # 1 while nobody presses the stop button: for a person's own hand
SECOND = "lines/second"  # the same of the second switch, where one is fitted
MAINS_LIVE = "lines/mains-live"  # what the guard reads: 1 with voltage behind both, where fitted
PWM = "sys/class/pwm/pwmchip0/pwm0"  # the stirrer's output
# What a person does at the machine, written into files: where a thermometer is (a temperature in
# °C, or empty for its own place), and 1 for a cut-out that has tripped or a stop button pressed.
HANDS = "hands"
PROBES = ("bath", "bowl", "guard")
CUTS = ("cut-out", "stop-button")
FULL_RPM = 60.0  # at full duty: own engineering value
_PWM_FILES = ("period", "duty_cycle", "enable")
_HOLDABLE_C = (-30.0, 150.0)


class FileMachine:
    """A bench behind a folder."""

    def __init__(self, bench: Bench, folder: Path) -> None:
        """Everything off and in its place; OSError when the files can't be written."""
        self._bench = bench
        self._heater, self._second = folder / HEATER, folder / SECOND
        self._pwm, self._hands = folder / PWM, folder / HANDS
        lines = [self._heater, *(self._pwm / name for name in _PWM_FILES)]
        lines += [self._second] if bench.has_second else []
        lines += [self._hands / name for name in CUTS]
        for path in lines:
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(b"0\n")
        (folder / STOP).write_bytes(b"1\n")
        self._lid, self._shown_lid = folder / LID, b""
        for name in PROBES:
            (self._hands / name).write_bytes(b"\n")
        devices = bench.devices
        probes = {"bath": devices.bath, "bowl": devices.bowl, "guard": bench.guard_probe}
        self._files = KernelFiles(folder, probes)
        self._live_at = folder / MAINS_LIVE
        self._live_told = False
        if bench.mains_live is not None:
            self._live_at.write_bytes(b"0\n")

    def follow(self, now_s: float) -> None:
        """Do what lines and hands say, and show what is measured then."""
        devices = self._bench.devices
        self._follow_hands(now_s)
        first = _number(self._heater) > 0.0
        if self._bench.has_second:
            second = _number(self._second) > 0.0
            alone = 0 if first and second else 1 if first else 2
            devices.heater.drive(on=first or second, now_s=now_s, alone=alone)
        else:
            devices.heater.drive(on=first, now_s=now_s)
        devices.stirrer.drive(rpm=self._rpm(), now_s=now_s)
        self._files.show(now_s)
        self._show_lid(now_s)
        self._show_live(now_s)

    def _show_lid(self, now_s: float) -> None:
        """At once, so that nobody reads half of it."""
        lid = self._bench.devices.lid
        shown = b"1\n" if lid is None or lid.read(now_s).value >= 1.0 else b"0\n"
        if shown != self._shown_lid:
            draft = self._lid.with_name(".lid")
            draft.write_bytes(shown)
            draft.replace(self._lid)
            self._shown_lid = shown

    def _follow_hands(self, now_s: float) -> None:
        for name in PROBES:
            self._bench.hold_probe(name, _held_c(self._hands / name))
        off = any(_number(self._hands / name) > 0.0 for name in CUTS)
        self._bench.cut_heater(off=off, now_s=now_s)

    def _show_live(self, now_s: float) -> None:
        sensor = self._bench.mains_live
        if sensor is None:
            return
        live = sensor.read(now_s).value > 0.0
        if live is not self._live_told:
            self._live_told = live
            with self._live_at.open("r+b") as file:  # in place: a guard holds it open
                file.write(b"1\n" if live else b"0\n")

    def _rpm(self) -> float:
        period_ns, duty_ns, enabled = (_number(self._pwm / name) for name in _PWM_FILES)
        return FULL_RPM * duty_ns / period_ns if enabled and period_ns else 0.0


def _number(path: Path) -> float:
    """What a file holds; 0 while it is being written, or when somebody took it away."""
    try:
        return float(path.read_bytes())
    except (OSError, ValueError):
        return 0.0


def _held_c(path: Path) -> float | None:
    """Where a hand holds a thermometer; None for its own place, or what is no such temperature."""
    try:
        held_c = float(path.read_bytes())
    except (OSError, ValueError):
        return None
    low, high = _HOLDABLE_C
    return held_c if low <= held_c <= high else None
