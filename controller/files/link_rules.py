"""Rules on the table `[mqtt]` that look at more than one key.

Responsible for one sentence each: what is wrong and what to write; not for single values
(machine_shape) or for files (machine_file, push_file).
"""

from collections.abc import Callable
from pathlib import Path

from controller.files.machine_shape import MqttTable
from controller.link.settings import Remote, Transport

LinkRule = Callable[[MqttTable], str | None]


def _password_has_a_name(mqtt: MqttTable) -> str | None:
    if mqtt.username is not None:
        return None
    given = [key for key in ("password_file", "password_variable") if getattr(mqtt, key)]
    return f'is missing beside {given[0]}; write username = "bainward"' if given else None


def _password_stands_once(mqtt: MqttTable) -> str | None:
    if not (mqtt.password_file and mqtt.password_variable):
        return None
    return "stands beside password_variable; the password comes from one of them, so leave one out"


def _certificates_are_whole(mqtt: MqttTable) -> str | None:
    """An own certificate is no use without its key, nor without an encrypted connection."""
    needed = {"certificate": ("key", "ca"), "key": ("certificate", "ca")}
    for key, others in needed.items():
        for other in others:
            if getattr(mqtt, key) is not None and getattr(mqtt, other) is None:
                return f'{other} is missing beside {key}; write {other} = "FILE" (PEM)'
    return None


def _access_list_knows_names(mqtt: MqttTable) -> str | None:
    """A broker that lets us in without a name lets in everybody else, too."""
    if mqtt.remote is not Remote.ACCESS_LIST or mqtt.username or mqtt.certificate:
        return None
    return (
        '"access-list" trusts a broker that knows who is who; write username or certificate, '
        'or remote = "signed"'
    )


def _nothing_goes_in_plain(mqtt: MqttTable) -> str | None:
    return mqtt.settings(Path()).in_plain


def _signing_has_a_key(mqtt: MqttTable) -> str | None:
    if (mqtt.remote is Remote.SIGNED) == (mqtt.signing_key is not None):
        return None
    if mqtt.signing_key is None:
        return 'is missing beside remote = "signed"; write signing_key = "FILE"'
    return f'does nothing beside remote = "{mqtt.remote}"; write remote = "signed" or leave it out'


def _path_has_websockets(mqtt: MqttTable) -> str | None:
    if mqtt.path is None or mqtt.transport is Transport.WEBSOCKETS:
        return None
    return 'stands beside transport = "tcp"; write transport = "websockets", or leave path out'


# The key that each of them is about, and the rule.
LINK_RULES: tuple[tuple[str, LinkRule], ...] = (
    ("mqtt · username", _password_has_a_name),
    ("mqtt · password_file", _password_stands_once),
    ("mqtt", _certificates_are_whole),
    ("mqtt · signing_key", _signing_has_a_key),
    ("mqtt · path", _path_has_websockets),
    ("mqtt · remote", _access_list_knows_names),
    ("mqtt · host", _nothing_goes_in_plain),
)
