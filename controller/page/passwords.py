"""The page's password: kept as a hash in a file, and compared with what a visitor types.

Responsible for the hash and its file; not for who is signed in (visits).
"""

import base64
import hashlib
import hmac
import os
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Self

from controller.errors import AccessError, MachineFileError
from controller.link.credentials import secret_in

# RFC 7914 (scrypt). The work is that of N = 2^17, r = 8, p = 1, which OWASP's Password Storage
# Cheat Sheet asks for; these need 16 MiB instead of 128, for a small board has a run to keep going.
LN_N, _R, _P = 14, 8, 5
_BYTES = 32
_SALT_BYTES = 16
_MEMORY_BYTES = 64 * 1024 * 1024
LEAST = 8  # characters; own engineering value, not published
MOST = 128
_FORM = re.compile(r"scrypt:14:8:5:([A-Za-z0-9+/=]{24}):([A-Za-z0-9+/=]{44})")


@dataclass(frozen=True, slots=True, kw_only=True)
class Hash:
    """What is kept of a password."""

    salt: bytes
    digest: bytes

    @classmethod
    def of(cls, password: str) -> Self:
        """A fresh hash."""
        salt = os.urandom(_SALT_BYTES)
        return cls(salt=salt, digest=_digest(password, salt))

    def fits(self, password: str) -> bool:
        """Whether this is the password; takes a tenth of a second or more, on purpose."""
        return hmac.compare_digest(self.digest, _digest(password, self.salt))

    def __str__(self) -> str:
        """As it stands in its file."""
        salt, digest = (base64.b64encode(one).decode() for one in (self.salt, self.digest))
        return f"scrypt:{LN_N}:{_R}:{_P}:{salt}:{digest}"


def read_hash(path: Path) -> Hash:
    """The hash that a file holds, if nobody else may read or change it.

    Raises:
        AccessError: it can't be read, or others may.
        MachineFileError: it holds something else.
    """
    found = _FORM.fullmatch(secret_in(path, "page's password"))
    if found is None:
        raise MachineFileError(
            f"{path} holds no password's hash; make one with: bainward page --set-password {path}"
        )
    salt, digest = (base64.b64decode(one) for one in found.groups())
    return Hash(salt=salt, digest=digest)


def write_hash(path: Path, made: Hash) -> None:
    """Keep a hash in a file that only this user may read.

    Raises:
        AccessError: it can't be written.
    """
    part = path.with_name(f".{path.name}.new")
    try:
        part.unlink(missing_ok=True)
        with os.fdopen(os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w") as file:
            file.write(f"{made}\n")
            file.flush()
            os.fsync(file.fileno())
        part.replace(path)
    except OSError as error:
        raise AccessError(
            f"The page's password file {path} can't be written ({error.strerror}); "
            "name one in a folder that can be."
        ) from error


def _digest(password: str, salt: bytes) -> bytes:
    return hashlib.scrypt(
        password.encode(errors="replace"),
        salt=salt,
        n=1 << LN_N,
        r=_R,
        p=_P,
        maxmem=_MEMORY_BYTES,
        dklen=_BYTES,
    )
