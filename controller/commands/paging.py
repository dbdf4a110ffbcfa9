"""The command `page`: a web page that shows a machine, and asks it what a signed-in cook asks.

Responsible for the options and what is printed; not for the page itself (controller/page).
"""

import argparse
import getpass
import socket
import sys
from contextlib import closing
from dataclasses import replace
from importlib import import_module
from ipaddress import ip_address
from pathlib import Path
from types import ModuleType
from typing import TYPE_CHECKING

from controller import notify as manager
from controller.commands.requesting import settings_meant
from controller.errors import Exit, UsageError
from controller.link.following import Follower
from controller.link.settings import LinkSettings
from controller.page import passwords
from controller.page.passwords import Hash

if TYPE_CHECKING:  # its libraries are an extra
    from controller.page.server import Place


def page(options: argparse.Namespace) -> Exit:
    """`bainward page`: serve until a signal ends it; with --set-password only keep a password.

    Raises:
        UsageError: options don't fit together, or a library is missing.
        BainwardError: a file can't be used, or a port not had.
    """
    if options.set_password is not None:
        return _set_password(options.set_password)
    host, _ = options.listen
    settings = settings_meant(options.machine, options.broker, is_try=options.try_)
    password = _password(host, options.password, options.certificate, options.key)
    _serve(options, settings, password)
    return Exit.DONE


def check_page(
    machine: Path, host: str, password: Path | None, certificate: Path | None, key: Path | None
) -> None:
    """See that a page could be served so, as a service that nobody looks at.

    Raises:
        UsageError: options don't fit together, or a library is missing.
        BainwardError: a file can't be used.
    """
    settings_meant(str(machine), None, is_try=False)
    _password(host, password, certificate, key)
    for file in (certificate, key):
        if file is not None and not file.is_file():
            raise UsageError(f"There is no file {file}; name the page's PEM files.")
    _library("starlette")
    _library("uvicorn")


def _password(
    host: str, password: Path | None, certificate: Path | None, key: Path | None
) -> Hash | None:
    """The password's hash, where it may be asked for there."""
    if (certificate is None) != (key is None):
        raise UsageError("--certificate and --key go together; give both, or neither.")
    made = None if password is None else passwords.read_hash(password)
    if made is not None and certificate is None and not _is_loopback(host):
        raise UsageError(
            f"The password would go in plain over the network to {host}; add --certificate and "
            "--key, or listen on 127.0.0.1, or leave --password away: then the page only shows."
        )
    return made


def _library(name: str) -> ModuleType:
    try:
        return import_module(name)
    except ModuleNotFoundError as error:
        raise UsageError(
            f"A page wants {error.name}, which is not installed: pip install '.[page]'"
        ) from error


def _serve(options: argparse.Namespace, settings: LinkSettings, password: Hash | None) -> None:
    app, server = _library("controller.page.app"), _library("controller.page.server")
    host, port = options.listen
    place = server.Place(host=host, port=port, certificate=options.certificate, key=options.key)
    errands = import_module("controller.page.errands").Errands(settings)
    follower = Follower(settings)
    shown = app.Shown(
        view=follower.view,
        trouble=lambda: follower.trouble,
        remote=settings.remote,
        fahrenheit=None if options.units is None else options.units == "F",
        password=password,
        is_encrypted=place.certificate is not None,
    )
    names = ("localhost", *_own_names(), *options.host)
    with closing(server.listening(place)) as sock:
        place = replace(place, port=sock.getsockname()[1])
        web = server.prepared(
            place,
            lambda is_over: app.application(
                shown,
                errands,
                names=names,
                is_over=is_over,
                alive=lambda: follower.is_alive and manager.alive(),
            ),
        )
        follower.start()
        sys.stdout.write(
            f"Page at {_reached(place).url}, machine {settings.device_id} "
            f"at {settings.host}:{settings.port}. "
            f"{'Sign in to answer.' if password else 'It only shows: no --password was given.'}\n"
        )
        sys.stdout.flush()
        manager.ready()
        try:
            server.serve(web, sock)
        finally:
            manager.stopping()
            follower.close()


def _reached(place: "Place") -> "Place":
    """Where others find it: a server that listens everywhere is found by the computer's name."""
    everywhere = ip_address(place.host).is_unspecified
    return replace(place, host=socket.gethostname()) if everywhere else place


def _set_password(path: Path) -> Exit:
    """Ask for a password, twice at a terminal, and keep its hash."""
    if sys.stdin.isatty():
        password = getpass.getpass("Password of the page: ")
        if getpass.getpass("Once more: ") != password:
            raise UsageError("The two are not the same; nothing was written.")
    else:
        password = sys.stdin.readline().rstrip("\r\n")
    if not passwords.LEAST <= len(password) <= passwords.MOST:
        raise UsageError(
            f"A password has {passwords.LEAST} to {passwords.MOST} characters; nothing was written."
        )
    passwords.write_hash(path, Hash.of(password))
    sys.stdout.write(f"Written: {path}. Start the page with --password {path}\n")
    return Exit.DONE


def _own_names() -> tuple[str, ...]:
    """By what other computers in the house may call this one."""
    name = socket.gethostname()
    return (name, f"{name}.local", f"{name.partition('.')[0]}.local")


def _is_loopback(host: str) -> bool:
    return host == "localhost" or ip_address(host).is_loopback
