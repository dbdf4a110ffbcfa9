"""What the kernel does with outputs when the process that drives them dies.

Responsible for finding out and saying it in a sentence; not for changing it.
"""

from pathlib import Path

from controller.ports import Fault
from hardware.linux.kernel_file import read_bytes

MODULES = Path("sys/module")  # under the root
# The drivers with that parameter, "Y" or "N" as all bool parameters of the kernel:
# drivers/pinctrl/bcm/pinctrl-bcm2835.c of Linux, and the same for another chip in
# https://github.com/raspberrypi/linux/pull/6150; dtparam=strict_gpiod came with
# https://github.com/raspberrypi/linux/pull/6117.
PERSISTING = ("pinctrl_bcm2835", "pinctrl_rp1")


def persisting_outputs(root: Path = Path("/")) -> str | None:
    """A sentence that says what to set when outputs outlive their process here, else None."""
    for module in PERSISTING:
        path = root / MODULES / module / "parameters" / "persist_gpio_outputs"
        content = read_bytes(path)
        if not isinstance(content, Fault) and content.strip() == b"Y":
            return (
                f"This kernel keeps outputs driven after their process has died ({module}, "
                "persist_gpio_outputs=Y), so a heater may stay on: write dtparam=strict_gpiod "
                "into config.txt and restart the computer."
            )
    return None
