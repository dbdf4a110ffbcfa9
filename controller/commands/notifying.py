"""The command `notify`: tell a locked phone what a machine says over MQTT.

Responsible for reading the push file, secrets and signals; not for what is told or how (push).
"""

import argparse
import os
import secrets
import signal
import ssl
import sys
import threading
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import replace
from pathlib import Path

from controller import notify as manager
from controller.clock import wall_time
from controller.commands.places import made, state_folder
from controller.core.interlock_rows import Priority
from controller.errors import AccessError, BusyError, Exit, HardwareError, PushFileError
from controller.files.machine_file import load_machine_file
from controller.files.push_file import PushFile, load_push_file
from controller.link.credentials import secret_in
from controller.link.settings import LinkSettings
from controller.lock import MachineLock
from controller.push.calling import Caller
from controller.push.errand import Listener, Runner, Sender
from controller.push.message import Message, Waiting
from controller.push.parcel import TAKEN
from controller.push.posting import WHOLE_S, Poster
from controller.push.settings import Kind, Protocol, PushSettings
from controller.push.spool import Spool

_LEAVE_S = WHOLE_S + 5.0  # a message that is being sent is let to its end
_ID_BYTES = 4


def notify(options: argparse.Namespace) -> Exit:
    """`bainward notify FILE`: until a signal ends it.

    Raises:
        PushFileError: the push file can't be used, or names no broker.
        AccessError: a secret can't be read, or the disk takes nothing.
        BusyError: the same is done by another process already.
        HardwareError: with --test, the message was not taken.
    """
    file = load_push_file(options.file)
    link = _link(file, options)
    sender = _sender(file.push, link)
    if options.test:
        return _test(sender, link.device_id)
    name = f"notify-{link.device_id}-{options.file.stem}"
    folder = made(state_folder())
    try:
        with MachineLock(folder, name), _ending() as ending:
            _run(folder / f"{name}.sqlite", link, file.push, sender, ending)
    except BusyError as error:
        raise BusyError(
            f"Another `bainward notify {options.file.name}` tells of {link.device_id} already; "
            "stop that one first."
        ) from error
    return Exit.DONE


def _run(
    path: Path, link: LinkSettings, push: PushSettings, sender: Sender, ending: threading.Event
) -> None:
    """Both threads, this one at the broker, until the end is due."""
    with closing(Spool(path)) as spool:
        listener = Listener(link, push, spool, say=_say)
        runner = Runner(path, push, sender, say=_say)
        thread = threading.Thread(target=runner.run, args=(ending,), name="push", daemon=True)
        thread.start()
        manager.ready()
        try:
            listener.listen(ending, manager.alive)
        finally:
            manager.stopping()
            ending.set()
            thread.join(_LEAVE_S)
    if not thread.is_alive() and runner.error is not None:
        raise runner.error


@contextmanager
def _ending() -> Iterator[threading.Event]:
    """Set by the signals that ask for the end."""
    ending = threading.Event()
    numbers = (signal.SIGTERM, signal.SIGINT, signal.SIGHUP)
    before = {one: signal.signal(one, lambda *_: ending.set()) for one in numbers}
    try:
        yield ending
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


def _link(file: PushFile, options: argparse.Namespace) -> LinkSettings:
    link = file.link
    if file.machine_file is not None:
        link = load_machine_file(file.machine_file).link
    if link is None and options.broker is None:
        raise PushFileError(
            f"{options.file.name}, machine: {file.machine_file} has no [mqtt], so it is not known "
            "whom to listen to; add the table there, or name a broker with --broker HOST:PORT"
        )
    link = link or LinkSettings()
    if options.broker is not None:
        host, port = options.broker
        link = replace(link, host=host, port=port)
    return replace(link, device_id=f"{link.device_id}-try") if options.try_ else link


def _sender(push: PushSettings, link: LinkSettings) -> Sender:
    if push.protocol is Protocol.COMMAND:
        hidden = link.password_variable
        kept = {key: value for key, value in os.environ.items() if key != hidden}
        return Caller(push.command, surroundings=kept)
    token = None if push.token_file is None else secret_in(push.token_file, "push token")
    if token is not None and not (token.isascii() and token.isprintable() and " " not in token):
        raise AccessError(
            f"The push token file {push.token_file} has signs that no token has; see whether it "
            "is the right file."
        )
    return Poster(push, token=token, tls=_trust(push.ca_file))


def _trust(ca_file: Path | None) -> ssl.SSLContext:
    """Whom to believe: the authorities of this computer, or one of our own alone."""
    try:
        return ssl.create_default_context(cafile=ca_file)
    except ssl.SSLError as error:
        raise PushFileError(
            f"{ca_file} can't be used as ca; name a PEM file with the authority's certificate."
        ) from error
    except OSError as error:
        raise AccessError(
            f"The authority's certificate {ca_file} can't be read ({error.strerror}); "
            "let this user read it."
        ) from error


def _test(sender: Sender, device: str) -> Exit:
    """One message, now."""
    message = Message(
        kind=Kind.STATE,
        priority=Priority.MEDIUM,
        title=f"Test - {device}",
        text=f"A test: alarms and questions of {device} will come this way. Nothing is to be done.",
        about="",
        value="",
    )
    one = Waiting(
        number=0,
        id=f"test-{secrets.token_hex(_ID_BYTES)}",
        message=message,
        at_s=wall_time().timestamp(),
        is_held=False,
    )
    answer = sender.send(one, message.text)
    if answer is not TAKEN:
        raise HardwareError(
            f"The test message was not taken ({answer.why}); see to address, token, certificate "
            "or command in the push file, and whether the service runs."
        )
    sys.stdout.write("The test message was taken: it should be on the phone now.\n")
    return Exit.DONE


def _say(sentence: str) -> None:
    """A line on standard error, which a service manager keeps."""
    sys.stderr.write(f"bainward: {sentence}\n")
    sys.stderr.flush()
