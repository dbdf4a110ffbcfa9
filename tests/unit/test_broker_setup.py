"""The command that sets up a broker: its files, their permissions, what it prints and refuses."""

import argparse
import os
import re
import sys
import tomllib
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.x509.oid import ExtensionOID

from controller.commands.main import main
from controller.commands.options import parser
from controller.errors import Exit
from controller.files.machine_shape import MqttTable
from controller.service.broker import BrokerPlan, access_list, new_password, password_line
from controller.service.certificates import issue

NOW = datetime(2026, 1, 1, tzinfo=UTC)
PLAN = BrokerPlan(hosts=("kitchen.local",), device="bainward", port=8883, device_port=8884)


def set_up(folder: Path, *more: str) -> Exit:
    return Exit(main(["broker-setup", str(folder), "--host", "kitchen.local", *more]))


def test_it_prints_the_three_lines_that_a_phone_needs(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert set_up(tmp_path / "b", "--device", "kitchen") is Exit.DONE
    lines = capsys.readouterr().out.splitlines()
    password = (tmp_path / "b/phone/cook.password").read_text("utf-8").strip()
    assert lines[1:4] == [
        "  Broker: kitchen.local, port 8883, with TLS",
        f"  User: cook, password: {password}",
        "  Subscribe to: homie/5/kitchen/#",
    ]


def test_secrets_are_for_their_owner_alone(tmp_path: Path) -> None:
    set_up(tmp_path / "b")
    files = [path for path in (tmp_path / "b").rglob("*") if path.is_file()]
    assert len(files) == 14
    for path in files:
        is_open = path.stat().st_mode & 0o077 != 0
        assert is_open == (path.suffix == ".crt"), path


def test_the_table_that_it_writes_is_one_that_a_machine_file_takes(tmp_path: Path) -> None:
    set_up(tmp_path / "b", "--device", "kitchen", "--device-port", "9000")
    raw = tomllib.loads((tmp_path / "b/device/mqtt.toml").read_text("utf-8"))
    settings = MqttTable.model_validate(raw["mqtt"]).settings(tmp_path)
    assert (settings.host, settings.port, settings.device_id) == ("kitchen.local", 9000, "kitchen")
    assert settings.tls is not None
    for path in (settings.tls.ca_file, settings.tls.certificate_file, settings.tls.key_file):
        assert path is not None
        assert path.is_file()


def test_nothing_is_written_over(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "mine").touch()
    assert set_up(tmp_path) is Exit.USAGE
    assert "is not empty; name a new folder" in capsys.readouterr().err
    assert [path.name for path in tmp_path.iterdir()] == ["mine"]


@pytest.mark.parametrize(
    ("more", "sentence"),
    [
        (("--device", "Küche"), "can't stand in a topic"),
        (("--device", "a/#"), "can't stand in a topic"),
        (("--device", "cook"), "is the name of a role"),
        (("--device", "onlooker"), "is the name of a role"),
        (("--device", "a" * 65), "has 65 signs, and its certificate has room for 64"),
        (("--host", "my kitchen"), "is no host name or address"),
        (("--host", "a\nallow_anonymous true"), "is no host name or address"),
        (("--port", "8884"), "need a port each"),
    ],
)
def test_what_would_break_the_configuration_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], more: tuple[str, ...], sentence: str
) -> None:
    assert set_up(tmp_path / "b", *more) is Exit.USAGE
    assert sentence in capsys.readouterr().err
    assert not (tmp_path / "b").exists()


def test_a_name_as_long_as_names_may_be_is_taken(tmp_path: Path) -> None:
    host = ".".join(["kitchen"] * 31)  # 247 signs
    words = ["broker-setup", str(tmp_path / "b"), "--device", "a" * 64, "--host", host]
    assert main(words) == Exit.DONE


def test_a_path_that_would_break_the_configuration_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert set_up(tmp_path / "my broker") is Exit.USAGE
    assert "mosquitto can't read the path" in capsys.readouterr().err


def test_a_folder_that_others_can_change_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "b"
    folder.mkdir()
    folder.chmod(0o777)
    assert set_up(folder) is Exit.USAGE
    assert "can be changed by others" in capsys.readouterr().err
    assert not list(folder.iterdir())


def test_a_shell_that_shares_its_files_shares_none_of_these(tmp_path: Path) -> None:
    before = os.umask(0)
    try:
        assert set_up(tmp_path / "b") is Exit.DONE
    finally:
        os.umask(before)
    for path in [tmp_path / "b", *(tmp_path / "b").rglob("*")]:
        assert path.stat().st_mode & 0o022 == 0, path


def test_a_folder_that_can_t_be_made_is_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "file").touch()
    assert set_up(tmp_path / "file/b") is Exit.NO_PERMISSION
    assert "can't be written" in capsys.readouterr().err


def test_without_the_library_it_says_what_to_install(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "controller.service.certificates", None)
    assert set_up(tmp_path / "b") is Exit.USAGE
    assert "pip install '.[certificates]'" in capsys.readouterr().err


def test_the_broker_s_certificate_is_for_its_names_and_no_longer_than_phones_take() -> None:
    issued = issue(("kitchen.local", "192.0.2.7"), "bainward", NOW)
    server = x509.load_pem_x509_certificate(issued.server.certificate)
    names = server.extensions.get_extension_for_oid(ExtensionOID.SUBJECT_ALTERNATIVE_NAME).value
    assert isinstance(names, x509.SubjectAlternativeName)
    assert names.get_values_for_type(x509.DNSName) == ["kitchen.local"]
    assert [str(one) for one in names.get_values_for_type(x509.IPAddress)] == ["192.0.2.7"]
    assert server.not_valid_after_utc - server.not_valid_before_utc <= timedelta(days=825)
    assert server.not_valid_after_utc == issued.server_until


def test_the_machine_s_certificate_is_its_name_and_outlives_any_wrong_clock() -> None:
    device = x509.load_pem_x509_certificate(issue(("a",), "kitchen", NOW).device.certificate)
    assert device.subject.rfc4514_string() == "CN=kitchen"
    assert (device.not_valid_before_utc.year, device.not_valid_after_utc.year) == (2000, 2099)


def test_no_two_set_ups_share_a_secret() -> None:
    first, second = (issue(("a",), "b", NOW) for _ in range(2))
    assert len({first.server.key, second.server.key, first.device.key, second.device.key}) == 4
    assert len({new_password() for _ in range(100)}) == 100
    assert re.fullmatch(r"([a-z2-9]{5}-){3}[a-z2-9]{5}", new_password())
    assert password_line("cook", "x") != password_line("cook", "x")  # salted


def test_only_the_machine_writes_and_a_cook_only_asks() -> None:
    writes: dict[str, list[str]] = {}
    user = ""
    for line in access_list(PLAN).splitlines():
        word, _, rest = line.partition(" ")
        if word == "user":
            user = rest
        elif word == "topic" and not rest.startswith("read "):
            writes.setdefault(user, []).append(rest.partition(" ")[2])
    assert "onlooker" not in writes
    assert all(re.search(r"/control/(command|request)/set$", topic) for topic in writes["cook"])
    assert set(writes) == {"bainward", "cook"}


def every_option(given: argparse.ArgumentParser) -> Iterator[str]:
    """Every word that any command knows, but for those that want a file."""
    for action in given._actions:  # noqa: SLF001 - argparse tells it in no other way
        if action.type is not Path:
            yield from action.option_strings
        if isinstance(action, argparse._SubParsersAction):  # noqa: SLF001 - the same
            for command in action.choices.values():
                yield from every_option(command)


def test_no_command_takes_a_secret_where_every_user_of_the_computer_could_read_it() -> None:
    words = set(every_option(parser()))
    assert "--broker" in words
    assert not [word for word in words if re.search("password|secret|token|key", word)]
