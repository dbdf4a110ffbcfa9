"""The commands that only read: `check` and `profiles`.

Responsible for printing explanations; not for the rules (controller/files).
"""

import argparse
import sys
from importlib.metadata import packages_distributions

from controller.errors import Exit, HardwareError
from controller.files.explain import explain_machine, explain_profile
from controller.files.machine_file import load_machine_file
from controller.files.profile_file import load_profile, shipped_profiles
from controller.health.computer import foreign_packages
from controller.wiring import machine_meant, persisting_outputs


def check(options: argparse.Namespace) -> Exit:
    """Check a machine file, and each profile against it.

    Raises:
        BainwardError: something is wrong; the sentence says what, where and what to do.
    """
    fahrenheit = options.units == "F"
    machine_file = machine_meant(options.machine)
    sys.stdout.write(explain_machine(machine_file, fahrenheit=fahrenheit).rstrip() + "\n")
    for name in options.profiles:
        profile = load_profile(name, machine_file.machine)
        text = explain_profile(profile, machine_file.machine, fahrenheit=fahrenheit)
        sys.stdout.write("\n" + text.rstrip() + "\n")
    refuse_foreign_packages()
    if (advice := persisting_outputs()) is not None:
        sys.stdout.write(f"\n{advice}\n")
    return Exit.DONE


def refuse_foreign_packages() -> None:
    """Our import names are generic: refuse when another distribution owns one too.

    Raises:
        HardwareError: imports could pick up somebody else's code.
    """
    for says in foreign_packages(packages_distributions()):
        raise HardwareError(says)


def list_profiles(options: argparse.Namespace) -> Exit:
    """List the shipped profiles as they are on the shipped bench machine."""
    machine = load_machine_file(None).machine
    fahrenheit = options.units == "F"
    for name in shipped_profiles():
        profile = load_profile(name, machine)
        legs = " · ".join(
            f"{phase.name} {_shown(phase.bowl_target_c, fahrenheit)}" for phase in profile.phases
        )
        sys.stdout.write(f"{name:14} {profile.title}\n{'':14} {legs}\n")
    return Exit.DONE


def _shown(value_c: float, fahrenheit: bool) -> str:
    from controller.files.temperatures import celsius_text  # noqa: PLC0415

    return celsius_text(value_c, fahrenheit=fahrenheit)
