"""Checks of who may do what: others kept out of what heats, the service's user let in.

Responsible for modes, owners and groups of files; not for what is in them.
"""

import grp
import os
import pwd
import stat
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

from controller.commissioning.proof_file import proofs_path
from controller.errors import BainwardError
from controller.files.push_file import load_push_file
from controller.health.finding import Findings, Place, fault
from controller.health.service import service_there
from controller.push.settings import PushSettings
from controller.service.making import LINES, PORTS, groups_of
from controller.service.units import Service

_CODE = Path(__file__).resolve().parents[1]
_NODES = {LINES: "gpiochip*", **{kind: f"{Path(name).name}*" for name, kind in PORTS.items()}}


class Who(NamedTuple):
    """A user with all groups."""

    name: str
    uid: int
    gids: frozenset[int]


def others_out(place: Place) -> Findings:
    """Nobody else may change what decides over heat, or read a secret."""
    for path in _decisive(place):
        bits = _mode(path) or 0
        if bits & stat.S_ISVTX and bits & stat.S_IWOTH:
            yield fault(
                f"Anybody on this computer may put files beside those in {path}: move what is "
                "there into a folder of its own, like /etc/bainward."
            )
        elif bits & stat.S_IWOTH:
            yield fault(
                f"Anybody on this computer may change {path}, and with it what heats: "
                f"chmod o-w {path}."
            )
    for whose, what, secret in (*_of_link(place), *_of_guests(place)):
        mode = _mode(secret)
        if mode is not None and mode & (stat.S_IWGRP | stat.S_IRWXO):
            yield fault(
                f"Others may read or change {whose} {what} in {secret}: chmod o=,g-w {secret}."
            )


def _of_link(place: Place) -> Iterator[tuple[str, str, Path]]:
    link = place.machine_file.link
    if link is None:
        return
    for what, secret in (
        ("password", link.password_file),
        ("signing key", link.signing_key_file),
        ("key", None if link.tls is None else link.tls.key_file),
    ):
        if secret is not None:
            yield "the link's", what, secret


def _of_guests(place: Place) -> Iterator[tuple[str, str, Path]]:
    service = service_there(place)
    if service is None:
        return
    if service.page is not None:
        for what, secret in (
            ("password", service.page.password),
            ("key", service.page.key),
        ):
            if secret is not None:
                yield "the page's", what, secret
    push = _push(service)
    if push is not None and push.token_file is not None:
        yield "the push", "token", push.token_file


def _push(service: Service) -> PushSettings | None:
    """How pushes are sent; a file that can't be used is told of elsewhere."""
    if service.push_file is None:
        return None
    try:
        return load_push_file(service.push_file).push
    except BainwardError:
        return None


def user_in(place: Place) -> Findings:
    """The service's user is there, and may open what its units need."""
    service = service_there(place)
    if service is None or service.user is None:
        return
    try:
        who = _who(service.user)
    except KeyError:
        groups = ",".join(groups_of(service))
        yield fault(
            f"The units run as {service.user}, and this computer has no such user: useradd "
            f"--system {f'--groups {groups} ' if groups else ''}{service.user}."
        )
        return
    for kind in dict.fromkeys((*service.guard_devices, *service.run_devices)):
        for node in sorted((place.root / "dev").glob(_NODES[kind])):
            if not may_use(who, node):
                yield fault(
                    f"The user {who.name} may not use {node} (of group {_group(node)}): "
                    f"usermod -aG {_group(node)} {who.name}, then systemctl restart bainward-guard."
                )
    named = place.machine_file.journal_dir
    if named is not None and named.exists() and not may_use(who, named):
        yield fault(
            f"The user {who.name} may not write records to {named}, and no run starts without one: "
            f"chown {who.name} {named}."
        )
    for path in (place.path, *_read_by(place, service)):
        if path.exists() and not may_use(who, path, os.R_OK):
            yield fault(
                f"The user {who.name} may not read {path}: chgrp {who.name} {path} and "
                f"chmod g+r {path}."
            )


def may_use(who: Who, path: Path, wanted: int = os.R_OK | os.W_OK) -> bool:
    """Whether a user may read and write it, by its owner, group and mode (path_resolution(7))."""
    if not who.uid:
        return True
    told = path.stat()
    if told.st_uid == who.uid:
        bits = told.st_mode >> 6
    elif told.st_gid in who.gids:
        bits = told.st_mode >> 3
    else:
        bits = told.st_mode
    return bits & wanted == wanted


def _decisive(place: Place) -> Iterator[Path]:
    yield from (place.path, place.path.parent, proofs_path(place.path))
    yield from (place.program, place.program.parent, _CODE)
    if place.records.exists():
        yield place.records


def _read_by(place: Place, service: Service) -> Iterator[Path]:
    """Files besides the machine's that its user must read."""
    if place.machine_file.link is not None:
        yield from place.machine_file.link.files
    if service.page is not None:
        yield from service.page.files.values()
    push = _push(service)
    if service.push_file is not None and push is not None:
        named = (service.push_file, push.token_file, push.ca_file)
        yield from (one for one in named if one is not None)


def _mode(path: Path) -> int | None:
    try:
        return path.stat().st_mode
    except OSError:
        return None  # told of where it is read


def _who(name: str) -> Who:
    entry = pwd.getpwnam(name)
    return Who(name, entry.pw_uid, frozenset(os.getgrouplist(name, entry.pw_gid)))


def _group(path: Path) -> str:
    gid = path.stat().st_gid
    try:
        return grp.getgrgid(gid).gr_name
    except KeyError:
        return str(gid)
