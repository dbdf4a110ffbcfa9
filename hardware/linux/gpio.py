"""Lines of the GPIO character device, by their names.

Responsible for finding, taking and letting go of one line; not for what it switches. The bindings
are imported only when a line is wanted: they are an extra.
"""

from datetime import timedelta
from pathlib import Path
from types import ModuleType
from typing import Any, Protocol

from hardware.linux.errors import AttachError
from hardware.linux.inputs import Button, InputPlan, Shaft, Switch

CONSUMER = "bainward"
DEV = Path("/dev")


class Output(Protocol):
    """One output, off until told."""

    def drive(self, *, on: bool) -> None:
        """Drive it; OSError when the line is gone."""
        ...

    def close(self) -> None:
        """Drive it off and let go."""
        ...


class GpioOutput:
    """One line, held by us alone."""

    def __init__(self, gpiod: ModuleType, chip: Path, name: str) -> None:
        """Take it, driven off; OSError when it can't be had."""
        self._name = name
        self._values = gpiod.line.Value
        settings = gpiod.LineSettings(
            direction=gpiod.line.Direction.OUTPUT, output_value=self._values.INACTIVE
        )
        self._request: Any = gpiod.request_lines(
            str(chip), consumer=CONSUMER, config={name: settings}
        )

    def drive(self, *, on: bool) -> None:
        """Drive it."""
        self._request.set_value(self._name, self._values.ACTIVE if on else self._values.INACTIVE)

    def close(self) -> None:
        """Drive it off and let go."""
        try:
            self.drive(on=False)
        finally:
            self._request.release()


def open_output(name: str, dev: Path = DEV) -> GpioOutput:
    """The line of that name, driven off.

    Raises:
        AttachError: the bindings are missing, the name is unknown or not the only one, or the line
            is taken or forbidden.
    """
    gpiod = _bindings()
    chip = _chip_of(gpiod, name, dev)
    try:
        return GpioOutput(gpiod, chip, name)
    except OSError as error:
        raise _refused(name, chip, error) from error


def open_switch(plan: InputPlan, dev: Path = DEV) -> Switch:
    """The input of that plan as a switch.

    Raises:
        AttachError: as with an output.
    """
    gpiod = _bindings()
    return Switch(_taken(gpiod, plan, dev), plan, gpiod.line.Value.ACTIVE)


def open_button(plan: InputPlan, dev: Path = DEV) -> Button:
    """The input of that plan as a stop button, which is active while nobody presses it.

    Raises:
        AttachError: as with an output.
    """
    gpiod = _bindings()
    request = _taken(gpiod, plan, dev, edge_detection=gpiod.line.Edge.FALLING)
    return Button(request, plan, gpiod.line.Value.ACTIVE)


def open_shaft(plan: InputPlan, dev: Path = DEV) -> Shaft:
    """The input of that plan as a shaft's pulses.

    Raises:
        AttachError: as with an output.
    """
    gpiod = _bindings()
    return Shaft(_taken(gpiod, plan, dev, edge_detection=gpiod.line.Edge.RISING), plan)


def _taken(gpiod: ModuleType, plan: InputPlan, dev: Path, **more: object) -> Any:  # noqa: ANN401 - a class of an optional package
    """The input, held by us alone, debounced by the kernel."""
    chip = _chip_of(gpiod, plan.line, dev)
    settings = gpiod.LineSettings(
        direction=gpiod.line.Direction.INPUT,
        active_low=plan.active_low,
        debounce_period=timedelta(seconds=plan.debounce_s),
        **more,
    )
    try:
        return gpiod.request_lines(str(chip), consumer=CONSUMER, config={plan.line: settings})
    except OSError as error:
        raise _refused(plan.line, chip, error) from error


def _chip_of(gpiod: ModuleType, name: str, dev: Path) -> Path:
    """The only chip with a line of that name."""
    # A chip may have a second name in /dev, a link kept for programs of an older kernel:
    # https://github.com/raspberrypi/linux/pull/6144 and what came of it.
    chips = sorted({path.resolve() for path in dev.glob("gpiochip*")})
    found = [chip for chip in chips if _has_line(gpiod, chip, name)]
    if len(found) != 1:
        there = f"There are {len(found)} lines" if found else "There is no line"
        raise AttachError(
            f'{there} named "{name}" on this computer; '
            "look for the right name with gpioinfo and write it into the machine file."
        )
    return found[0]


def _refused(name: str, chip: Path, error: OSError) -> AttachError:
    return AttachError(
        f'The line "{name}" can\'t be had ({error.strerror}); stop what else uses it '
        f"(gpioinfo names it), or join the group that owns {chip}."
    )


def _bindings() -> ModuleType:
    try:
        import gpiod  # noqa: PLC0415 - an extra, wanted only where a line is
    except ImportError as error:
        raise AttachError(
            "A GPIO line needs the package gpiod; install it with pip install '.[linux]'."
        ) from error
    return gpiod


def _has_line(gpiod: ModuleType, chip: Path, name: str) -> bool:
    """Whether that chip has it; a chip that we may not open has none for us."""
    try:
        with gpiod.Chip(str(chip)) as opened:
            # The bindings take "17" for the 17th line; only its own name counts here.
            return bool(opened.get_line_info(name).name == name)
    except OSError:
        return False
