"""The command `request`: what it takes, and whom it asks. Real runs are asked under acceptance."""

from pathlib import Path

import pytest

from controller.commands import requesting
from controller.commands.main import main
from controller.errors import Exit
from controller.files.machine_file import bench_machine_path
from controller.link.settings import LinkSettings
from controller.link.wishes import Command

REFERENCE = bench_machine_path("reference")


@pytest.fixture
def asked(monkeypatch: pytest.MonkeyPatch) -> list[tuple[str, int, str, Command, str]]:
    """Whom the command asked for what; every request is granted."""
    asked: list[tuple[str, int, str, Command, str]] = []

    def ask(settings: LinkSettings, command: Command, choice: str) -> str:
        asked.append((settings.host, settings.port, settings.device_id, command, choice))
        return command.value

    monkeypatch.setattr(requesting, "ask_run", ask)
    return asked


def request(machine: Path, *words: str) -> Exit:
    return Exit(main(["request", "--machine", str(machine), *words]))


@pytest.fixture
def kitchen(tmp_path: Path) -> Path:
    """A bench machine with a broker."""
    path = tmp_path / "kitchen.toml"
    table = '[mqtt]\nhost = "broker.example"\nport = 8884\ndevice = "kitchen"\n'
    path.write_text(REFERENCE.read_text("utf-8") + table, encoding="utf-8")
    return path


def test_the_machine_file_s_broker_is_asked(
    asked: list[object], kitchen: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert request(kitchen, "Answer", "longer") is Exit.DONE
    assert asked == [("broker.example", 8884, "kitchen", Command.ANSWER, "longer")]
    assert capsys.readouterr().out == "The run took it: answer.\n"


def test_another_broker_and_a_try_may_be_named(asked: list[object], kitchen: Path) -> None:
    request(kitchen, "--broker", "127.0.0.1:1884", "--try", "resume")
    request(REFERENCE, "--broker", "127.0.0.1:1884", "stop")
    assert asked == [
        ("127.0.0.1", 1884, "kitchen-try", Command.RESUME, ""),
        ("127.0.0.1", 1884, "bainward", Command.STOP, ""),
    ]


@pytest.mark.parametrize(
    "words", [("start",), ("reset",), ("heat",), ("answer",), ("stop", "now"), ("answer", "a", "b")]
)
def test_what_is_no_request_is_told_without_asking_anybody(
    words: tuple[str, ...],
    asked: list[object],
    kitchen: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert request(kitchen, *words) is Exit.USAGE
    assert "write stop, pause, acknowledge, resume, or answer WORD" in capsys.readouterr().err
    assert asked == []


def test_a_machine_without_a_broker_is_told(
    asked: list[object], capsys: pytest.CaptureFixture[str]
) -> None:
    assert request(REFERENCE, "stop") is Exit.USAGE
    assert "has no [mqtt]" in capsys.readouterr().err
    assert asked == []


def test_what_a_file_holds_does_not_steer_the_terminal(
    kitchen: Path, asked: list[object], capsys: pytest.CaptureFixture[str]
) -> None:
    kitchen.write_text(kitchen.read_text("utf-8") + '"a\\u001b[31m" = 1\n', encoding="utf-8")
    assert request(kitchen, "stop") is Exit.BAD_FILE
    said = capsys.readouterr().err
    assert "a?[31m: is not a key here" in said
    assert "\x1b" not in said
    assert asked == []
