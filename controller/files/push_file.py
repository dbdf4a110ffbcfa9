"""Loads a push file: whom `bainward notify` tells, of which machine, and when it keeps quiet.

Responsible for finding, reading and refusing; not for secrets (credentials) or sending (push).
"""

import re
import shutil
from collections.abc import Callable
from dataclasses import dataclass
from datetime import time
from pathlib import Path
from typing import Annotated
from urllib.parse import urlsplit

from pydantic import BeforeValidator, Field, ValidationError

from controller.errors import PushFileError
from controller.files.complaints import complaints
from controller.files.link_rules import LINK_RULES
from controller.files.machine_shape import MqttTable
from controller.files.mistaken import PUSH, refuse_another
from controller.files.shapes import FileTable, Sentence, Table
from controller.files.temperatures import quoted
from controller.files.toml_file import beside, read_toml
from controller.link.settings import LinkSettings
from controller.push.settings import Kind, Protocol, PushSettings, Quiet

_MOST_PARTS = 32  # of a command
_MOST_MESSAGES = 100
_HOUR = re.compile(r"([01]?[0-9]|2[0-3]):([0-5][0-9])")
_URL_SIGNS = re.compile(r"[!-~]{1,500}")  # visible ASCII: RFC 3986 has no others


def _url(raw: object) -> str:
    example = 'write one like "https://push.example/kitchen"'
    if not isinstance(raw, str) or not _URL_SIGNS.fullmatch(raw):
        raise ValueError(f"{quoted(raw)} is no address; {example}")
    try:
        parts = urlsplit(raw)
        is_whole = parts.scheme in {"http", "https"} and parts.hostname and parts.port != 0
    except ValueError:
        is_whole = False
    if not is_whole:
        raise ValueError(f"{quoted(raw)} is no address of a service; {example}")
    if "@" in parts.netloc:
        raise ValueError(
            "a password does not belong in this file; put a token into a file that only you can "
            'read and write token_file = "push-token"'
        )
    return raw.partition("#")[0]


def _hour(raw: object) -> time:
    found = _HOUR.fullmatch(raw) if isinstance(raw, str) else None
    if found is None:
        raise ValueError(f'{quoted(raw)} is no time of day; write one like "22:00"')
    return time(int(found[1]), int(found[2]))


def _no_token(_raw: object) -> None:
    raise ValueError(
        "a token does not belong in this file; put it alone into a file that only you can read "
        'and write token_file = "push-token"'
    )


Hour = Annotated[time, BeforeValidator(_hour)]
Told = Annotated[Kind, Field(strict=False)]


class PushTable(Table):
    """`[push]`: how a message is handed over, and which."""

    protocol: Protocol = Field(strict=False, examples=['"ntfy"'])
    url: Annotated[str, BeforeValidator(_url)] | None = None
    token_file: Sentence | None = None
    token: Annotated[None, BeforeValidator(_no_token)] = None
    ca: Sentence | None = None
    command: tuple[Sentence, ...] = Field(
        (), strict=False, max_length=_MOST_PARTS, examples=['["/usr/local/bin/tell-me"]']
    )
    tell: tuple[Told, ...] = Field(
        tuple(Kind), strict=False, min_length=1, examples=['["alarm", "question"]']
    )
    most: Annotated[int, Field(ge=1, le=_MOST_MESSAGES, examples=["12"])] = 12
    quiet_from: Hour | None = Field(None, examples=['"22:00"'])
    quiet_until: Hour | None = Field(None, examples=['"07:00"'])

    def settings(self, folder: Path) -> PushSettings:
        """The settings; files with a relative path lie beside the push file."""
        quiet = None
        if self.quiet_from is not None and self.quiet_until is not None:
            quiet = Quiet(begins=self.quiet_from, ends=self.quiet_until)
        return PushSettings(
            protocol=self.protocol,
            url=self.url or "",
            token_file=None if self.token_file is None else beside(folder, self.token_file),
            ca_file=None if self.ca is None else beside(folder, self.ca),
            command=self._command(folder),
            kinds=frozenset(self.tell),
            most=self.most,
            quiet=quiet,
        )

    def _command(self, folder: Path) -> tuple[str, ...]:
        """A program with a slash lies beside the file, another one is looked for on the PATH."""
        if not self.command or "/" not in self.command[0]:
            return self.command
        return (str(beside(folder, self.command[0]).absolute()), *self.command[1:])


class PushFileTable(FileTable):
    """The whole file."""

    machine: Sentence | None = Field(None, examples=['"kitchen.toml"'])
    mqtt: MqttTable | None = None
    push: PushTable = Field(examples=["[push]"])


@dataclass(frozen=True, slots=True, kw_only=True)
class PushFile:
    """All that a push file says: the broker, or the machine file that names it."""

    push: PushSettings
    link: LinkSettings | None
    machine_file: Path | None


def _has_an_address(table: PushFileTable) -> str | None:
    is_command = table.push.protocol is Protocol.COMMAND
    if is_command is (table.push.url is None):
        return None
    if is_command:
        return 'does nothing beside protocol = "command"; leave it out'
    return 'is missing; write url = "https://push.example/kitchen"'


def _has_a_command(table: PushFileTable) -> str | None:
    is_command = table.push.protocol is Protocol.COMMAND
    if is_command and not table.push.command:
        return 'is missing beside protocol = "command"; write command = ["/usr/local/bin/tell-me"]'
    if not is_command and table.push.command:
        return f'does nothing beside protocol = "{table.push.protocol}"; leave it out'
    return None


def _web_only(key: str, table: PushFileTable) -> str | None:
    if getattr(table.push, key) is None or table.push.protocol is not Protocol.COMMAND:
        return None
    return 'does nothing beside protocol = "command"; leave it out'


def _quiet_has_two_ends(table: PushFileTable) -> str | None:
    if (table.push.quiet_from is None) is (table.push.quiet_until is None):
        return None
    return 'write both, such as quiet_from = "22:00" and quiet_until = "07:00"'


def _has_a_broker(table: PushFileTable) -> str | None:
    if (table.machine is None) is not (table.mqtt is None):
        return None
    if table.mqtt is None:
        return 'is missing; write machine = "kitchen.toml", whose [mqtt] counts, or [mqtt] here'
    return "stands beside [mqtt]; the broker comes from one of them, so leave one out"


_RULES: tuple[tuple[str, Callable[[PushFileTable], str | None]], ...] = (
    ("push · url", _has_an_address),
    ("push · command", _has_a_command),
    ("push · token_file", lambda table: _web_only("token_file", table)),
    ("push · ca", lambda table: _web_only("ca", table)),
    ("push · quiet_from", _quiet_has_two_ends),
    ("push · url", lambda table: table.push.settings(Path()).in_plain),
    ("machine", _has_a_broker),
)


def load_push_file(path: Path) -> PushFile:
    """What the file says.

    Raises:
        PushFileError: it can't be found, read or used; one line for each fault.
    """
    try:
        raw = read_toml(path)
        refuse_another(raw, PUSH)
        table = PushFileTable.model_validate(raw)
        found = _broken_rules(table)
        if not found:
            return _whole(table, path.parent)
    except ValidationError as error:
        found = complaints(error, PushFileTable, raw)
    except ValueError as error:
        raise PushFileError(f"{path.name}: {error}") from None
    raise PushFileError("\n".join(f"{path.name}, {sentence}" for sentence in found))


def _broken_rules(table: PushFileTable) -> list[str]:
    told = [(key, rule(table)) for key, rule in _RULES]
    if table.mqtt is not None:
        told += [(key, rule(table.mqtt)) for key, rule in LINK_RULES]
    return [f"{key}: {what}" for key, what in told if what is not None]


def _whole(table: PushFileTable, folder: Path) -> PushFile:
    push = table.push.settings(folder)
    if push.command and shutil.which(push.command[0]) is None:
        raise ValueError(
            f"push · command: there is no program {quoted(push.command[0])} to be started; "
            "write its whole path, and let this user execute it"
        )
    return PushFile(
        push=push,
        link=None if table.mqtt is None else table.mqtt.settings(folder),
        machine_file=None if table.machine is None else beside(folder, table.machine),
    )
