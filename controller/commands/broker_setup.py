"""The command `broker-setup`: a hardened broker for one machine and the phones around it.

Responsible for writing the files and saying what to do with them; not for what stands in them.
"""

import argparse
import os
import re
import shutil
import socket
import sys
from pathlib import Path
from secrets import token_hex

from controller.clock import wall_time
from controller.errors import AccessError, Exit, UsageError
from controller.service.broker import (
    COOK,
    NAME_LENGTH,
    ONLOOKER,
    BrokerPlan,
    access_list,
    config,
    machine_table,
    new_password,
    password_line,
)

_HOST = re.compile(r"[A-Za-z0-9]([A-Za-z0-9.:-]{0,251}[A-Za-z0-9])?")
_DEVICE = re.compile(r"[a-z0-9]([a-z0-9-]*[a-z0-9])?")  # Homie convention 5, topic ids
_PLAIN_PATH = re.compile(r"[A-Za-z0-9/._+-]+")  # a space would end a directive's value
_KEY_BYTES = 32
_SECRET, _PUBLIC = 0o600, 0o644
_FOLDER = 0o755  # whatever the shell's umask would let others do
_OTHERS_WRITE = 0o022
_BROKER_USER = "mosquitto"  # as which a mosquitto that root started goes on

_PHONE = """\
A phone needs these three lines, and {folder}/ca.crt as the authority to trust:
  Broker: {host}, port {port}, with TLS
  User: {user}, password: {password}
  Subscribe to: homie/5/{device}/#
"""
_NEXT = """\
Who may only look takes the user {onlooker} and the password in {folder}/phone/onlooker.password.
Start the broker where it is to run: mosquitto -c {folder}/broker/mosquitto.conf
The machine file needs what stands in {folder}/device/mqtt.toml
The broker's certificate ends on {until:%Y-%m-%d}: set up again, in a new folder, before that day.
"""


def set_up_broker(options: argparse.Namespace) -> Exit:
    """`bainward broker-setup`: write everything, and print what a phone needs."""
    folder = options.folder.absolute()
    plan = BrokerPlan(
        hosts=_hosts(options.host),
        device=_device(options.device),
        port=options.port,
        device_port=options.device_port,
    )
    if plan.port == plan.device_port:
        raise UsageError("Phones and the machine need a port each; give another --device-port.")
    if not _PLAIN_PATH.fullmatch(str(folder)):
        raise UsageError(f"mosquitto can't read the path {str(folder)!r}; name a plain one.")
    try:
        from controller.service.certificates import issue  # noqa: PLC0415 - an extra
    except ImportError as error:
        raise UsageError(
            "Certificates need a library that is not here: "
            "install it with pip install '.[certificates]'."
        ) from error
    issued = issue(_reached(plan.hosts), plan.device, wall_time())
    passwords = {COOK: new_password(), ONLOOKER: new_password()}
    lines = "".join(password_line(user, secret) for user, secret in passwords.items())
    files: dict[str, bytes | str] = {
        "broker/ca.crt": issued.authority,
        "broker/server.crt": issued.server.certificate,
        "broker/server.key": issued.server.key,
        "broker/passwords": lines,
        "broker/access-list": access_list(plan),
        "broker/mosquitto.conf": config(plan, folder / "broker"),
        "device/ca.crt": issued.authority,
        "device/device.crt": issued.device.certificate,
        "device/device.key": issued.device.key,
        "device/mqtt.toml": machine_table(plan, folder / "device"),
        "device/signing.key": f"{token_hex(_KEY_BYTES)}\n",
        "phone/ca.crt": issued.authority,
        **{f"phone/{user}.password": f"{secret}\n" for user, secret in passwords.items()},
    }
    _write(folder, files)
    told = {"host": plan.hosts[0], "port": plan.port, "device": plan.device}
    sys.stdout.write(
        _PHONE.format(folder=folder / "phone", user=COOK, password=passwords[COOK], **told)
    )
    sys.stdout.write(_NEXT.format(onlooker=ONLOOKER, folder=folder, until=issued.server_until))
    return Exit.DONE


def _hosts(given: list[str] | None) -> tuple[str, ...]:
    hosts = tuple(given or ()) or (f"{socket.gethostname().partition('.')[0]}.local",)
    for host in hosts:
        if not _HOST.fullmatch(host):
            raise UsageError(
                f"{host!r} is no host name or address; write one like --host kitchen.local"
            )
    return hosts


def _reached(hosts: tuple[str, ...]) -> tuple[str, ...]:
    """What the certificate is for: what phones are told, and the computer for itself."""
    return tuple(dict.fromkeys((*hosts, "localhost", "127.0.0.1")))


def _device(name: str) -> str:
    if not _DEVICE.fullmatch(name):
        raise UsageError(f"{name!r} can't stand in a topic; use a to z, 0 to 9 and hyphens inside.")
    if len(name) > NAME_LENGTH:
        raise UsageError(
            f"The device's name has {len(name)} signs, and its certificate has room for "
            f"{NAME_LENGTH}; give a shorter --device."
        )
    if name in {COOK, ONLOOKER}:
        raise UsageError(f"{name!r} is the name of a role, whose password would be the machine's.")
    return name


def _write(folder: Path, files: dict[str, bytes | str]) -> None:
    """Write into an empty or new folder: nobody's running broker is changed under its feet.

    Secrets are made unreadable for others before anything is in them.
    """
    try:
        if folder.exists() and any(folder.iterdir()):
            raise UsageError(f"{folder} is not empty; name a new folder, so that nothing is lost.")
        folder.mkdir(_FOLDER, parents=True, exist_ok=True)
        told = folder.stat()
        if told.st_uid != os.geteuid() or told.st_mode & _OTHERS_WRITE:
            raise UsageError(
                f"{folder} can be changed by others, who could change the files in it; "
                "name a folder that is yours alone."
            )
        for name, content in files.items():
            path = folder / name
            path.parent.mkdir(_FOLDER, exist_ok=True)
            path.touch(_PUBLIC if path.suffix == ".crt" else _SECRET, exist_ok=False)
            path.write_bytes(content.encode() if isinstance(content, str) else content)
        _give_to_broker(folder / "broker")
    except OSError as error:
        raise AccessError(
            f"{error.filename or folder} can't be written ({error.strerror}); "
            "name a folder that can be."
        ) from error


def _give_to_broker(folder: Path) -> None:
    """A mosquitto that root starts goes on as a user of its own, who must read its files."""
    if os.geteuid() != 0:
        return
    try:
        for path in (folder, *folder.iterdir()):
            shutil.chown(path, user=_BROKER_USER)
    except LookupError:
        sys.stdout.write(
            f"There is no user {_BROKER_USER} here: whoever runs the broker must be able to read "
            f"{folder}.\n"
        )
