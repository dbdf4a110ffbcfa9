"""The push file: what it says, and one sentence for what can't be."""

from datetime import time
from pathlib import Path

import pytest

from controller.errors import PushFileError
from controller.files.push_file import PushFile, load_push_file
from controller.push.settings import Kind, Protocol, PushSettings, Quiet

NTFY = 'protocol = "ntfy"\nurl = "https://push.example/kitchen"\n'
MACHINE = 'machine = "kitchen.toml"\n'


def written(folder: Path, push: str = NTFY, top: str = MACHINE, mqtt: str = "") -> Path:
    path = folder / "phone.toml"
    path.write_text(f"schema = 1\n{top}[push]\n{push}{mqtt}", encoding="utf-8")
    return path


def loaded(folder: Path, push: str = NTFY, top: str = MACHINE, mqtt: str = "") -> PushFile:
    return load_push_file(written(folder, push, top, mqtt))


def refused(folder: Path, push: str = NTFY, top: str = MACHINE, mqtt: str = "") -> str:
    with pytest.raises(PushFileError) as caught:
        loaded(folder, push, top, mqtt)
    said = str(caught.value)
    assert said.startswith("phone.toml")
    assert len(said.splitlines()) == 1
    return said


def test_little_is_enough(tmp_path: Path) -> None:
    file = loaded(tmp_path)
    assert file.push == PushSettings(protocol=Protocol.NTFY, url="https://push.example/kitchen")
    assert file.machine_file == tmp_path / "kitchen.toml"
    assert file.link is None


def test_everything_can_be_said(tmp_path: Path) -> None:
    more = (
        'token_file = "push-token"\nca = "/etc/ca.crt"\ntell = ["alarm", "question"]\nmost = 5\n'
        'quiet_from = "22:30"\nquiet_until = "7:00"\n'
    )
    broker = '[mqtt]\nhost = "localhost"\ndevice = "kitchen"\n'
    file = loaded(tmp_path, NTFY + more, "", broker)
    assert file.push == PushSettings(
        protocol=Protocol.NTFY,
        url="https://push.example/kitchen",
        token_file=tmp_path / "push-token",
        ca_file=Path("/etc/ca.crt"),
        kinds=frozenset({Kind.ALARM, Kind.QUESTION}),
        most=5,
        quiet=Quiet(begins=time(22, 30), ends=time(7, 0)),
    )
    assert file.link is not None
    assert file.link.device_id == "kitchen"


def test_a_command_lies_beside_the_file_or_on_the_path(tmp_path: Path) -> None:
    program = tmp_path / "tell"
    program.write_text("#!/bin/sh\n")
    program.chmod(0o755)
    beside = loaded(tmp_path, 'protocol = "command"\ncommand = ["./tell", "-n"]\n')
    assert beside.push.command == (str(program), "-n")
    on_path = loaded(tmp_path, 'protocol = "command"\ncommand = ["cat"]\n')
    assert on_path.push.command == ("cat",)


@pytest.mark.parametrize(
    ("push", "sentence"),
    [
        ('protocol = "ntfy"\n', 'push · url: is missing; write url = "https://'),
        ('protocol = "ntfi"\nurl = "https://a/b"\n', '"ntfi" is not one of ntfy, unifiedpush'),
        ('protocol = "ntfy"\nurl = "push.example/a"\n', "is no address of a service; write one"),
        ('protocol = "ntfy"\nurl = "ftp://push.example/a"\n', "is no address of a service"),
        ('protocol = "ntfy"\nurl = "https://a:99999/b"\n', "is no address of a service"),
        ('protocol = "ntfy"\nurl = "https://a/b c"\n', "is no address; write one like"),
        ('protocol = "ntfy"\nurl = "https://a/b\\r\\nX: y"\n', "is no address; write one like"),
        ('protocol = "ntfy"\nurl = "https://me:pw@a/b"\n', "a password does not belong in this"),
        (NTFY + 'token = "tk_x"\n', "push · token: a token does not belong in this file"),
        (NTFY + "most = 0\n", "push · most: must be greater than or equal to 1"),
        (NTFY + 'tell = ["alarms"]\n', '"alarms" is not one of alarm, question, state'),
        (NTFY + "tell = []\n", "push · tell"),
        (NTFY + 'quiet_from = "22:00"\n', "push · quiet_from: write both, such as"),
        (NTFY + 'quiet_from = "25:00"\nquiet_until = "07:00"\n', '"25:00" is no time of day'),
        (NTFY + 'command = ["cat"]\n', 'push · command: does nothing beside protocol = "ntfy"'),
        (NTFY + 'kwiet = "a"\n', "push · kwiet: is not a key here"),
        ('protocol = "command"\n', 'push · command: is missing beside protocol = "command"'),
        ('protocol = "command"\ncommand = ["./no"]\n', "push · command: there is no program"),
        ('protocol = "command"\ncommand = "cat"\n', "push · command: must be a list"),
        (
            'protocol = "command"\ncommand = ["cat"]\ntoken_file = "a"\n',
            'push · token_file: does nothing beside protocol = "command"',
        ),
        (
            'protocol = "command"\ncommand = ["cat"]\nca = "a"\n',
            'push · ca: does nothing beside protocol = "command"',
        ),
        (
            'protocol = "command"\ncommand = ["cat"]\nurl = "https://a/b"\n',
            'push · url: does nothing beside protocol = "command"',
        ),
        (
            'protocol = "ntfy"\nurl = "http://push.example/a"\ntoken_file = "a"\n',
            "push · url: the token would go in plain over the network to push.example; write an",
        ),
    ],
)
def test_what_can_not_be_is_told_in_one_sentence(tmp_path: Path, push: str, sentence: str) -> None:
    assert sentence in refused(tmp_path, push)


def test_a_token_may_stay_plain_on_this_computer(tmp_path: Path) -> None:
    for host in ("localhost", "127.0.0.1", "[::1]"):
        push = f'protocol = "ntfy"\nurl = "http://{host}:2586/a"\ntoken_file = "a"\n'
        assert loaded(tmp_path, push).push.in_plain is None


def test_the_broker_comes_from_one_place(tmp_path: Path) -> None:
    assert 'machine: is missing; write machine = "kitchen.toml"' in refused(tmp_path, top="")
    both = refused(tmp_path, mqtt='[mqtt]\nhost = "localhost"\n')
    assert "machine: stands beside [mqtt]; the broker comes from one of them" in both


def test_the_broker_s_table_has_the_rules_of_a_machine_file_s(tmp_path: Path) -> None:
    said = refused(tmp_path, top="", mqtt='[mqtt]\nhost = "localhost"\npassword_file = "b"\n')
    assert 'mqtt · username: is missing beside password_file; write username = "bainward"' in said


def test_another_kind_of_file_is_told(tmp_path: Path) -> None:
    path = tmp_path / "phone.toml"
    path.write_text("schema = 1\n[[phase]]\n", encoding="utf-8")
    with pytest.raises(PushFileError, match="a push file is wanted here, and this is a profile"):
        load_push_file(path)
    with pytest.raises(PushFileError, match="there is no such file"):
        load_push_file(tmp_path / "none.toml")
