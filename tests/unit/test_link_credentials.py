"""The link's secrets: from where they come, and one clear sentence where they don't."""

import os
import ssl
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest
from cryptography.hazmat.primitives import serialization
from cryptography.hazmat.primitives.asymmetric import ec

from controller.errors import AccessError, Exit, MachineFileError
from controller.link.credentials import check_privacy, client_id, password, signing_key, tls_context
from controller.link.settings import LinkSettings, Remote, Tls
from controller.service.certificates import Certificates, issue

ISSUED: Certificates = issue(("broker.local",), "bainward", datetime(2026, 1, 1, tzinfo=UTC))


FROM_ENVIRONMENT = LinkSettings(password_variable="COOK_WORD")


def tls(folder: Path, *, certificate: bytes = ISSUED.device.certificate, key: bytes) -> Tls:
    paths = {}
    for name, content in {"ca": ISSUED.authority, "crt": certificate, "key": key}.items():
        paths[name] = folder / name
        paths[name].write_bytes(content)
        paths[name].chmod(0o600)
    return Tls(ca_file=paths["ca"], certificate_file=paths["crt"], key_file=paths["key"])


def test_a_password_comes_from_the_environment(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COOK_WORD", "drei Nüsse")
    assert password(FROM_ENVIRONMENT) == "drei Nüsse"
    assert password(LinkSettings()) is None


@pytest.mark.parametrize("value", [None, ""])
def test_a_variable_without_a_password_is_told_at_once(
    monkeypatch: pytest.MonkeyPatch, value: str | None
) -> None:
    monkeypatch.delenv("COOK_WORD", raising=False)
    if value is not None:
        monkeypatch.setenv("COOK_WORD", value)
    with pytest.raises(AccessError, match="variable COOK_WORD, which is not set; set it"):
        password(FROM_ENVIRONMENT)


def test_a_password_file_of_no_text_does_not_show_its_bytes(tmp_path: Path) -> None:
    path = tmp_path / "secret"
    path.write_bytes(b"hunter2\xff")
    path.chmod(0o600)
    with pytest.raises(AccessError, match="it is not UTF-8 text") as caught:
        password(LinkSettings(password_file=path))
    assert "hunter2" not in str(caught.value)
    assert "0xff" not in str(caught.value)


@pytest.mark.parametrize("content", [ISSUED.device.key, b"hunter2\nhunter3\n", b"\n", b"hunter2\0"])
def test_a_password_file_of_anything_but_one_line_is_told_without_it(
    tmp_path: Path, content: bytes
) -> None:
    path = tmp_path / "secret"
    path.write_bytes(content)
    path.chmod(0o600)
    with pytest.raises(AccessError, match="as its one line, and no more") as caught:
        password(LinkSettings(password_file=path))
    assert "hunter" not in str(caught.value)


def test_no_encryption_is_no_context() -> None:
    assert tls_context(None) is None


def test_an_encrypted_connection_wants_a_certificate_for_the_name_but_not_a_right_clock(
    tmp_path: Path,
) -> None:
    context = tls_context(tls(tmp_path, key=ISSUED.device.key))
    assert context is not None
    assert context.verify_mode is ssl.CERT_REQUIRED
    assert context.check_hostname
    assert context.minimum_version is ssl.TLSVersion.TLSv1_2
    assert context.verify_flags & 0x200000  # X509_V_FLAG_NO_CHECK_TIME of openssl/x509_vfy.h


def locked_key() -> bytes:
    return ec.generate_private_key(ec.SECP256R1()).private_bytes(
        serialization.Encoding.PEM,
        serialization.PrivateFormat.PKCS8,
        serialization.BestAvailableEncryption(b"x"),
    )


@pytest.mark.parametrize(
    "key",
    [b"", b"no key", ISSUED.server.key, locked_key()],
    ids=["empty", "no key", "of another certificate", "with a passphrase"],
)
def test_a_key_that_does_not_fit_is_told_at_once(tmp_path: Path, key: bytes) -> None:
    with pytest.raises(MachineFileError, match="can't be used for an encrypted connection") as told:
        tls_context(tls(tmp_path, key=key))
    assert told.value.exit_code is Exit.BAD_FILE


def test_an_authority_that_is_none_is_told_at_once(tmp_path: Path) -> None:
    path = tmp_path / "ca"
    path.write_text("-----BEGIN CERTIFICATE-----\nx\n", encoding="utf-8")
    with pytest.raises(MachineFileError, match="ca can't be used"):
        tls_context(Tls(ca_file=path))


def test_a_certificate_file_that_is_not_there_is_told_at_once(tmp_path: Path) -> None:
    with pytest.raises(AccessError, match="can't be read") as told:
        tls_context(Tls(ca_file=tmp_path / "ca"))
    assert told.value.exit_code is Exit.NO_PERMISSION


def test_a_signing_key_is_read_only_where_requests_are_signed(tmp_path: Path) -> None:
    path = tmp_path / "key"
    path.write_text("k" * 32 + "\n", encoding="utf-8")
    path.chmod(0o640)  # a group may look: the file may be lent to a service
    for remote, expected in ((Remote.SIGNED, b"k" * 32), (Remote.OFF, b"")):
        assert signing_key(LinkSettings(remote=remote, signing_key_file=path)) == expected


def test_a_signing_key_that_keeps_nobody_out_is_told_at_once(tmp_path: Path) -> None:
    path = tmp_path / "key"
    path.write_text("k" * 31, encoding="utf-8")
    path.chmod(0o600)
    with pytest.raises(MachineFileError, match="has 31 characters and must have 32"):
        signing_key(LinkSettings(remote=Remote.SIGNED, signing_key_file=path))
    with pytest.raises(MachineFileError, match="name its file with signing_key"):
        signing_key(LinkSettings(remote=Remote.SIGNED))
    with pytest.raises(AccessError, match=r"signing key file .* can't be read"):
        signing_key(LinkSettings(remote=Remote.SIGNED, signing_key_file=tmp_path / "none"))


def test_a_machine_without_a_secret_comes_under_its_plain_name() -> None:
    assert client_id(LinkSettings(device_id="kitchen"), None) == "kitchen"


def test_a_machine_s_name_is_always_the_same_and_only_its_secret_gives_it(tmp_path: Path) -> None:
    by_password = LinkSettings(device_id="kitchen", username="cook")
    by_key = LinkSettings(device_id="kitchen", tls=tls(tmp_path, key=ISSUED.device.key))
    names = [
        client_id(by_password, "one"),
        client_id(by_password, "two"),
        client_id(by_key, None),
        client_id(LinkSettings(device_id="kitchen-try", tls=by_key.tls), None),
    ]
    assert len(set(names)) == len(names)
    assert all(name.startswith("kitchen-") for name in names)
    assert client_id(by_key, None) == names[2]
    assert max(map(len, names[:3])) <= 23  # which every broker takes: MQTT 3.1.1, section 3.1.3.1


def test_a_key_that_can_t_be_read_is_told(tmp_path: Path) -> None:
    settings = LinkSettings(tls=Tls(ca_file=tmp_path, key_file=tmp_path / "none"))
    with pytest.raises(AccessError, match=r"key .*none can't be read"):
        client_id(settings, None)


@pytest.mark.parametrize("mode", [0o644, 0o620, 0o602, 0o601])
def test_a_secret_that_others_may_read_or_change_is_told_at_once(tmp_path: Path, mode: int) -> None:
    secret = tmp_path / "secret"
    secret.write_text("k" * 32, encoding="utf-8")
    secret.chmod(mode)
    for read in (
        lambda: password(LinkSettings(password_file=secret)),
        lambda: signing_key(LinkSettings(remote=Remote.SIGNED, signing_key_file=secret)),
        lambda: client_id(LinkSettings(tls=Tls(ca_file=secret, key_file=secret)), None),
    ):
        with pytest.raises(AccessError, match="Others may read or change") as told:
            read()
        assert f"chmod o=,g-w {secret}" in str(told.value)
        assert "kkk" not in str(told.value)


def test_a_secret_is_not_read_without_an_end(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe", 0o600)
    for path in (tmp_path / "pipe", Path("/dev/zero")):
        with pytest.raises(AccessError, match=f"{path} is no file"):
            password(LinkSettings(password_file=path))


IN_PLAIN = LinkSettings(host="kitchen.local", password_variable="COOK_WORD")


@pytest.mark.parametrize(
    "settings",
    [
        IN_PLAIN,
        replace(IN_PLAIN, host="127.0.0.1.example"),
        replace(IN_PLAIN, host="0.0.0.0"),  # noqa: S104 - nobody listens
        replace(IN_PLAIN, password_variable=None, password_file=Path("secret")),
        replace(IN_PLAIN, password_variable=None, remote=Remote.ACCESS_LIST),
    ],
)
def test_nothing_that_matters_goes_in_plain_over_a_network(settings: LinkSettings) -> None:
    with pytest.raises(MachineFileError, match=f"over the network to {settings.host}; write ca"):
        check_privacy(settings)
    for host in ("127.0.0.1", "127.8.9.1", "::1", "localhost", "LocalHost"):
        check_privacy(replace(settings, host=host))
    check_privacy(replace(settings, tls=Tls(ca_file=Path("ca.crt"))))


def test_a_machine_without_a_secret_or_with_a_signature_may_speak_in_plain() -> None:
    open_one = replace(IN_PLAIN, password_variable=None)
    check_privacy(open_one)
    check_privacy(replace(open_one, remote=Remote.SIGNED, username="cook"))
