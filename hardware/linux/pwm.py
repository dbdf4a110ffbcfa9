"""A stirrer whose speed is set through the kernel's files of a PWM output.

Responsible for those files and for speed as a share of full speed; not for which speed is wanted.
The kernel's output goes on when our process dies: fit for a stirrer, never for a heater. Facts of
the files: Documentation/ABI/testing/sysfs-class-pwm and Documentation/driver-api/pwm.rst of Linux.
"""

import math
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from controller.ports import Fault
from hardware.linux.errors import AttachError
from hardware.linux.kernel_file import find

_NS_PER_S = 1e9


@dataclass(frozen=True, slots=True, kw_only=True)
class PwmPlan:
    """Where the output is, and what it does."""

    path: str  # the output's folder, such as pwm0 of a chip; * for what may change its number
    period_s: float
    full_rpm: float  # the stirrer's speed at full duty


class PwmStirrer:
    """The motor behind that output."""

    def __init__(self, plan: PwmPlan, root: Path) -> None:
        """Take the output, standing.

        Raises:
            AttachError: it isn't there, or can't be written.
        """
        self._plan = plan
        self._period_ns = round(plan.period_s * _NS_PER_S)
        self._duty_ns = -1
        self._folder = _exported(plan.path, root)
        try:
            # Off before anything else: a duty longer than the period is refused.
            with suppress(OSError):  # by an output that has no period yet
                self._write("duty_cycle", 0)
            self._write("period", self._period_ns)
            self._set(0)
            # Standing is a duty of 0 that is enabled; what a disabled output does is undefined.
            self._write("enable", 1)
        except OSError as error:
            raise AttachError(
                f"The PWM output {plan.path} can't be set ({error.strerror}); see that this user "
                "may write its files, and that its period suits the chip."
            ) from error

    def drive(self, *, rpm: float, now_s: float) -> None:  # noqa: ARG002 - the port's contract
        """Turn at that speed, full at most; OSError when the output is gone."""
        share = rpm / self._plan.full_rpm if math.isfinite(rpm) else 0.0
        self._set(round(min(1.0, max(0.0, share)) * self._period_ns))

    def close(self) -> None:
        """Stand."""
        self._set(0)

    def _set(self, duty_ns: int) -> None:
        if duty_ns != self._duty_ns:
            self._write("duty_cycle", duty_ns)
            self._duty_ns = duty_ns

    def _write(self, name: str, value: int) -> None:
        (self._folder / name).write_text(f"{value}\n", encoding="ascii")


def _exported(path: str, root: Path) -> Path:
    """The output's folder, which a chip shows once it has been asked for it."""
    place = root / path.lstrip("/")
    chip = find(place.parent)
    if isinstance(chip, Fault) or not chip.is_dir():
        raise AttachError(
            f"There is no PWM chip, or more than one, at {place.parent}; look for the right one "
            "with ls -d /sys/class/pwm/pwmchip*, and write its output's path, like "
            "/sys/class/pwm/pwmchip0/pwm0."
        )
    folder = chip / place.name
    if not folder.is_dir():
        with suppress(OSError):  # what comes of it is seen by the folder
            (chip / "export").write_text(place.name.removeprefix("pwm"), encoding="ascii")
    if not folder.is_dir():
        raise AttachError(
            f"The PWM chip at {chip} gives no output {place.name}; see which it has (its file "
            "npwm counts them from 0), and what else uses it."
        )
    return folder
