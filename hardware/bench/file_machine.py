"""A bench as a whole machine of files: thermometers as the kernel shows them, lines that are read.

Responsible for following those lines and showing what comes of it; not for the files' texts
(kernel_files), nor for when. Files keep their last level when who wrote them is gone.
"""

from pathlib import Path

from hardware.bench.attach import Bench
from hardware.bench.kernel_files import KernelFiles

HEATER = "lines/heater"  # what the guard writes: 0 or 1
LID = "lines/lid"  # 1 while the lid is on
STOP = "lines/stop"  # 1 while nobody presses the stop button: for a person's own hand
PWM = "sys/class/pwm/pwmchip0/pwm0"  # the stirrer's output
FULL_RPM = 60.0  # at full duty: own engineering value
_PWM_FILES = ("period", "duty_cycle", "enable")


class FileMachine:
    """A bench behind a folder."""

    def __init__(self, bench: Bench, folder: Path) -> None:
        """Everything off; OSError when the files can't be written."""
        self._bench = bench
        self._heater, self._pwm = folder / HEATER, folder / PWM
        for path in (self._heater, *(self._pwm / name for name in _PWM_FILES)):
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(b"0\n")
        (folder / STOP).write_bytes(b"1\n")
        self._lid, self._shown_lid = folder / LID, b""
        devices = bench.devices
        probes = {"bath": devices.bath, "bowl": devices.bowl, "guard": bench.guard_probe}
        self._files = KernelFiles(folder, probes)

    def follow(self, now_s: float) -> None:
        """Drive what the lines say, and show what is measured then."""
        devices = self._bench.devices
        devices.heater.drive(on=_number(self._heater) > 0.0, now_s=now_s)
        devices.stirrer.drive(rpm=self._rpm(), now_s=now_s)
        self._files.show(now_s)
        self._show_lid(now_s)

    def _show_lid(self, now_s: float) -> None:
        """At once, so that nobody reads half of it."""
        lid = self._bench.devices.lid
        shown = b"1\n" if lid is None or lid.read(now_s).value >= 1.0 else b"0\n"
        if shown != self._shown_lid:
            draft = self._lid.with_name(".lid")
            draft.write_bytes(shown)
            draft.replace(self._lid)
            self._shown_lid = shown

    def _rpm(self) -> float:
        period_ns, duty_ns, enabled = (_number(self._pwm / name) for name in _PWM_FILES)
        return FULL_RPM * duty_ns / period_ns if enabled and period_ns else 0.0


def _number(path: Path) -> float:
    """What a file holds; 0 while it is being written, or when somebody took it away."""
    try:
        return float(path.read_bytes())
    except (OSError, ValueError):
        return 0.0
