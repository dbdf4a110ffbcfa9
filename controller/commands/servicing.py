"""The command `service`: systemd units for guard, runs, pushes and page of one machine.

Responsible for finding what the units name and writing them; not for what stands in them.
"""

import argparse
import os
import re
import shutil
import sys
from dataclasses import replace
from pathlib import Path

from controller.commands.paging import check_page
from controller.errors import AccessError, Exit, MachineFileError, UsageError
from controller.files.machine_file import load_machine_file
from controller.files.push_file import load_push_file
from controller.service.making import groups_of, service_of
from controller.service.units import (
    HARDWARE_WATCHDOG,
    HARDWARE_WATCHDOG_S,
    PagePlan,
    Service,
    units,
    watchdog_drop_in,
)

# After "User/Group Name Syntax" of systemd, its strict form.
_USER = re.compile(r"[a-z_][a-z0-9_-]{0,30}")

USER = """\
Guard and runs are to run as {user}, which this computer needs, with whatever owns the devices:
  useradd --system --home-dir /var/lib/bainward --shell /usr/sbin/nologin {groups}{user}
and whoever is to announce, re-arm and see in its group: usermod -aG {user} YOUR-NAME
"""
ROOT = """\
Guard and runs are to run as root, who may do more than they need: with --user bainward they run
as a user of their own.
"""
NEXT = """\
Next, as root:
  systemctl daemon-reload
  systemctl enable --now bainward-guard
See that all is well: bainward health --machine {machine}
Then start a run when you stand at the machine:
  systemctl start bainward@PROFILE
If the kernel or systemd hangs, only the board's own watchdog can reset it. Write into
{place}
{lines}and reboot a kernel that panicked: write kernel.panic = 1 into /etc/sysctl.d/bainward.conf
Until that reset heat may stay on for up to {seconds} s: the cut-out and the fuse stand behind it.
"""
NEXT_PUSH = """\
Try the pushes with the test of `bainward notify FILE --test`, then:
  systemctl enable --now bainward-notify
"""
NEXT_PAGE = """\
Try the page by hand as it stands in its unit, then it is at {listen}, also after a restart, with:
  systemctl enable --now bainward-page
"""


def write_units(options: argparse.Namespace) -> Exit:
    """`bainward service`: write the units and say what to do with them."""
    path = Path(os.path.realpath(options.machine))  # which raises nothing over a link to itself
    machine_file = load_machine_file(path)
    if machine_file.guard is None:
        raise MachineFileError(
            f"{path} has no [guard], so no heater can be driven and there is nothing to supervise; "
            "add the table [guard] or use bainward run."
        )
    _refuse_unprintable(path)
    push_file = None if options.notify is None else _push_file(options.notify)
    service = service_of(path, machine_file, installed_command(), _user(options.user))
    service = replace(service, push_file=push_file, page=_page(path, options))
    for name, text in units(service).items():
        _write(options.folder / name, text)
        sys.stdout.write(f"Written: {options.folder / name}\n")
    sys.stdout.write(_who(service))
    sys.stdout.write(
        NEXT.format(
            machine=path,
            place=HARDWARE_WATCHDOG,
            lines="".join(f"  {line}\n" for line in watchdog_drop_in().splitlines()),
            seconds=HARDWARE_WATCHDOG_S + 1,
        )
    )
    if push_file is not None:
        sys.stdout.write(NEXT_PUSH)
    if service.page is not None:
        sys.stdout.write(NEXT_PAGE.format(listen=service.page.listen))
    return Exit.DONE


def _push_file(path: Path) -> Path:
    """The push file's whole path, when it can be used."""
    load_push_file(path)
    _refuse_unprintable(path.resolve())
    return path.resolve()


def _page(machine: Path, options: argparse.Namespace) -> PagePlan | None:
    """How the page is served, when it can be."""
    named = (options.page_password, options.page_certificate, options.page_key)
    if options.page is None:
        if any(named):
            raise UsageError("--page-password and its like belong to a page; add --page.")
        return None
    host, port = options.page
    if not port:
        raise UsageError("A service's page needs a port of its own; write one, as in :8080.")
    check_page(machine, host, *named)
    password, certificate, key = (None if file is None else file.resolve() for file in named)
    for file in filter(None, (password, certificate, key)):
        _refuse_unprintable(file)
    listen = f"[{host}]:{port}" if ":" in host else f"{host}:{port}"
    return PagePlan(listen=listen, password=password, certificate=certificate, key=key)


def installed_command() -> Path:
    """The installed command: the one that runs now, or else the one on PATH.

    Raises:
        UsageError: there is none, so that a unit could not start it.
    """
    beside = Path(sys.executable).parent / "bainward"
    found = str(beside) if beside.is_file() else shutil.which("bainward")
    if found is None:
        raise UsageError(
            "There is no installed command bainward for the units to start; "
            "install the project with pip and call its command."
        )
    return Path(found).absolute()


def _refuse_unprintable(path: Path) -> None:
    """A line break in a path would begin a directive of its own."""
    if not str(path).isprintable():
        raise UsageError(f"The path {str(path)!r} has an unprintable sign; rename it.")


def _who(service: Service) -> str:
    """As whom they run, and how that user comes to be."""
    if service.user is None:
        return ROOT
    groups = ",".join(groups_of(service))
    return USER.format(user=service.user, groups=f"--groups {groups} " if groups else "")


def _user(name: str | None) -> str | None:
    if name is not None and not _USER.fullmatch(name):
        raise UsageError(f"{name!r} is no user name; write one like --user chocolate")
    return name


def _write(path: Path, text: str) -> None:
    try:
        path.write_text(text, encoding="utf-8")
    except OSError as error:
        raise AccessError(
            f"The unit {path} can't be written ({error.strerror}); "
            "name a folder that can be, or call this as root."
        ) from error
