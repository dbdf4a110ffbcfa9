"""Secrets that the link needs: its password, and the context of an encrypted connection.

Responsible for reading them once, at the start, so that what is missing is told before a run; not
for sending them. A secret never stands in a command line, a log line or an error.
"""

import hashlib
import hmac
import os
import ssl
import stat
from pathlib import Path

from controller.errors import AccessError, MachineFileError
from controller.link.settings import LinkSettings, Remote, Tls

# OpenSSL's X509_V_FLAG_NO_CHECK_TIME (openssl/x509_vfy.h). A board without a battery for its
# clock may come up in any year; the authority is our own, and what leaked is made anew.
_NO_CHECK_TIME = 0x200000
_ID_DIGITS = 12  # hexadecimal: nobody tries so many names; own engineering value
_LEAST_KEY = 32  # of hexadecimal digits that is 128 bits; own engineering value
# A group may read a secret: that is how one user's file is lent to another user's service.
_TOO_OPEN = stat.S_IWGRP | stat.S_IRWXO


def check_privacy(settings: LinkSettings) -> None:
    """See that no secret, and nothing that heat hangs on, is sent in plain over a network.

    Raises:
        MachineFileError: It would be.
    """
    if settings.in_plain is not None:
        raise MachineFileError(f"The link's broker: {settings.in_plain}.")


def password(settings: LinkSettings) -> str | None:
    """The broker's password, from its file or its environment variable; None without either.

    Raises:
        AccessError: It can't be read.
        MachineFileError: It, or what heat hangs on, would go in plain over a network.
    """
    check_privacy(settings)
    if settings.password_variable is not None:
        return _from_environment(settings.password_variable)
    if settings.password_file is None:
        return None
    return _text(settings.password_file)


def secret_in(path: Path, what: str) -> str:
    """The one line of a file that holds a secret of ours; `what` names it, as "push token".

    Raises:
        AccessError: It can't be read, others may read it, or it is something else.
    """
    return _text(path, what, whose="")


def _from_environment(name: str) -> str:
    found = os.environ.get(name)
    if not found:
        raise AccessError(
            f"The broker's password should stand in the environment variable {name}, which is "
            "not set; set it, or name a file with password_file."
        )
    return found


def client_id(settings: LinkSettings, secret: str | None) -> str:
    """The name under which the machine comes to the broker, the same after every start.

    A broker hangs up on a client when another comes under its name. So the name holds something
    that only the machine's own secret gives, where it has one: its key or its password.

    Raises:
        AccessError: The key can't be read.
    """
    tls, known = settings.tls, (secret or "").encode()
    if tls is not None and tls.key_file is not None:
        try:
            known = _read(tls.key_file, "key")
        except OSError as error:
            raise AccessError(
                f"The link's key {tls.key_file} can't be read ({error.strerror}); "
                "let this user read it."
            ) from error
    if not known:
        return settings.device_id
    digest = hmac.new(known, settings.device_id.encode(), hashlib.sha256).hexdigest()
    return f"{settings.device_id}-{digest[:_ID_DIGITS]}"


def signing_key(settings: LinkSettings) -> bytes:
    """The key that requests are signed with; empty where none is needed.

    Raises:
        AccessError: It can't be read.
        MachineFileError: It is missing or too short to keep anybody out.
    """
    if settings.remote is not Remote.SIGNED:
        return b""
    if settings.signing_key_file is None:
        raise MachineFileError('remote = "signed" needs a key; name its file with signing_key.')
    key = _text(settings.signing_key_file, "signing key").encode()
    if len(key) < _LEAST_KEY:
        raise MachineFileError(
            f"The signing key {settings.signing_key_file} has {len(key)} characters and must have "
            f"{_LEAST_KEY} at least; make one with: openssl rand -hex 32"
        )
    return key


def _read(path: Path, what: str, whose: str = "link's ") -> bytes:
    """The bytes of a secret, if nobody else on the computer may read or change them.

    Raises:
        AccessError: Others may; or it is a device or a pipe, which might never end.
        OSError: It can't be read.
    """
    with open(path, "rb", opener=_without_waiting) as file:
        told = os.fstat(file.fileno()).st_mode
        if not stat.S_ISREG(told):
            raise AccessError(
                f"The {whose}{what} file {path} is no file; name one with the {what}."
            )
        if told & _TOO_OPEN:
            raise AccessError(
                f"Others may read or change the {whose}{what} file {path} "
                f"(mode {stat.S_IMODE(told):03o}); keep them out with: chmod o=,g-w {path}"
            )
        return file.read()


def _without_waiting(path: str, flags: int) -> int:
    """Else a pipe that nobody writes to would hold up the start for ever."""
    return os.open(path, flags | os.O_NONBLOCK)


def _text(path: Path, what: str = "password", whose: str = "link's ") -> str:
    try:
        text = _read(path, what, whose).decode().strip("\r\n")
    except (OSError, UnicodeDecodeError) as error:
        why = error.strerror if isinstance(error, OSError) else "it is not UTF-8 text"
        raise AccessError(
            f"The {whose}{what} file {path} can't be read: {why}. "
            f"Put the {what} into it, readable by this user."
        ) from error
    if (
        len(text.splitlines()) != 1 or "\0" in text
    ):  # a key would else go to the broker as the password
        raise AccessError(
            f"The {whose}{what} file {path} must have the {what} as its one line, and no more; "
            "see whether it is the right file."
        )
    return text


def tls_context(tls: Tls | None) -> ssl.SSLContext | None:
    """What an encrypted connection is made with; None where there is none.

    The broker must show a certificate for its host name by that authority; its dates don't count.

    Raises:
        AccessError: A file can't be read.
        MachineFileError: A file is no certificate or key, or the two don't belong together.
    """
    if tls is None:
        return None
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
    context.minimum_version = ssl.TLSVersion.TLSv1_2
    context.verify_flags |= _NO_CHECK_TIME
    path = tls.ca_file
    try:
        context.load_verify_locations(cafile=path)
        if tls.certificate_file is not None:
            path = tls.certificate_file
            context.load_cert_chain(path, tls.key_file, password=_no_passphrase)
    except (ssl.SSLError, ValueError) as error:
        raise MachineFileError(
            f"{path} can't be used for an encrypted connection: name PEM files, ca with the "
            "authority's certificate, certificate with ours, key with its key and no passphrase."
        ) from error
    except OSError as error:
        raise AccessError(
            f"A certificate or key of the link, {error.filename or path}, can't be read "
            f"({error.strerror}); let this user read it."
        ) from error
    return context


def _no_passphrase() -> str:
    """Else OpenSSL would ask at the terminal, and a service would wait there for ever."""
    raise ValueError("it has a passphrase")
