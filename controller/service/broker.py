"""The configuration of a mosquitto broker for one machine and the phones around it.

Responsible for what stands in its files; not for where they are written, nor for certificates.
Directives and the form of a password as in the manual page mosquitto.conf(5) and the program
mosquitto_passwd of mosquitto 2.0.
"""

import base64
import hashlib
import secrets
from dataclasses import dataclass
from pathlib import Path

COOK, ONLOOKER = "cook", "onlooker"
NAME_LENGTH = 64  # of a certificate's common name: ub-common-name of RFC 5280, appendix A.1

# 20 signs of 31 that nobody takes for one another: 99 bits, which no list of passwords holds, so
# that stretching them (mosquitto's own number of rounds) needs to add nothing.
_SIGNS = "abcdefghjkmnpqrstuvwxyz23456789"
_GROUPS, _GROUP = 4, 5
_ROUNDS, _SALT_BYTES = 101, 12

_CONFIG = """\
# Written by `bainward broker-setup`; mosquitto 2.0 or newer. Start it with: mosquitto -c THIS FILE
# Nobody without a name, nobody without encryption, and each name to what its role needs.
per_listener_settings false
allow_anonymous false
password_file {folder}/passwords
acl_file {folder}/access-list

# Phones and hubs: a password each.
listener {port}
max_connections 100
cafile {folder}/ca.crt
certfile {folder}/server.crt
keyfile {folder}/server.key
tls_version tlsv1.2

# The machine: its certificate is its name, and nobody else gets in here.
listener {device_port}
max_connections 10
cafile {folder}/ca.crt
certfile {folder}/server.crt
keyfile {folder}/server.key
tls_version tlsv1.2
require_certificate true
use_identity_as_username true

# Nothing is kept on disk: the machine says everything again on each connection.
persistence false
# What one client may cost. Own engineering values.
max_packet_size 65536
max_inflight_messages 100
max_queued_messages 1000
max_queued_bytes 4194304
max_keepalive 300
memory_limit 67108864
set_tcp_nodelay true
log_dest stderr
log_type error
log_type warning
log_type notice
"""

_ACCESS = """\
# Written by `bainward broker-setup`. Whoever is not named here may do nothing.

# The machine.
user {device}
topic readwrite homie/5/{device}/#
topic readwrite homie/5/{device}-try/#
topic write homeassistant/device/{device}/config
topic write homeassistant/device/{device}-try/config

# A cook: sees everything, and may ask. The machine decides what it heeds.
user {cook}
topic read homie/5/{device}/#
topic read homie/5/{device}-try/#
topic read homeassistant/#
topic write homie/5/{device}/control/command/set
topic write homie/5/{device}/control/request/set
topic write homie/5/{device}-try/control/command/set
topic write homie/5/{device}-try/control/request/set

# An onlooker: sees everything.
user {onlooker}
topic read homie/5/{device}/#
topic read homie/5/{device}-try/#
topic read homeassistant/#
"""

_MQTT = """\
# Written by `bainward broker-setup`: put this into the machine file.
[mqtt]
host = "{host}"
port = {device_port}
device = "{device}"
ca = "{folder}/ca.crt"
certificate = "{folder}/device.crt"
key = "{folder}/device.key"
# Who may ask over MQTT for what adds heat: "off" nobody, "access-list" every cook, "signed" whoever
# has the key (signing_key = "{folder}/signing.key").
remote = "off"
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class BrokerPlan:
    """A broker for one machine."""

    hosts: tuple[str, ...]  # names and addresses under which it is reached; the first is told
    device: str  # the machine's id in topics, and its name at the broker
    port: int  # for phones
    device_port: int  # for the machine


def config(plan: BrokerPlan, folder: Path) -> str:
    """The broker's own file; `folder` is where it and its files lie."""
    return _CONFIG.format(folder=folder, port=plan.port, device_port=plan.device_port)


def access_list(plan: BrokerPlan) -> str:
    """Who may read and write which topics."""
    return _ACCESS.format(device=plan.device, cook=COOK, onlooker=ONLOOKER)


def machine_table(plan: BrokerPlan, folder: Path) -> str:
    """The machine file's table; `folder` is where the device's files lie."""
    return _MQTT.format(
        host=plan.hosts[0], device_port=plan.device_port, device=plan.device, folder=folder
    )


def new_password() -> str:
    """A random password that can be typed on a phone."""
    groups = ("".join(secrets.choice(_SIGNS) for _ in range(_GROUP)) for _ in range(_GROUPS))
    return "-".join(groups)


def password_line(user: str, password: str) -> str:
    """One line of mosquitto's password file."""
    salt = secrets.token_bytes(_SALT_BYTES)
    digest = hashlib.pbkdf2_hmac("sha512", password.encode(), salt, _ROUNDS)
    salt64, digest64 = (base64.b64encode(part).decode() for part in (salt, digest))
    return f"{user}:$7${_ROUNDS}${salt64}${digest64}\n"
