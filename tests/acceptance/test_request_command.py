"""The command that asks a run over MQTT, through the shipped broker and in the three modes."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from controller.commands.main import main
from controller.errors import Exit
from controller.files.machine_file import bench_machine_path
from controller.link import asking
from controller.link.commands import WHY, Refusal
from controller.service.broker import COOK
from tests.helpers.brokers import free_port
from tests.helpers.process import end, start
from tests.helpers.secured import DEVICE, Secured
from tests.helpers.watcher import Watcher

BASE = f"homie/5/{DEVICE}"


def machine_file(secured: Secured, folder: Path, remote: str, *more: str) -> Path:
    """A bench machine with the table that `broker-setup` wrote, in another mode."""
    table = (secured.folder / "device" / "mqtt.toml").read_text("utf-8")
    table = table.replace('remote = "off"', f'remote = "{remote}"')
    path = folder / f"{remote}.toml"
    shipped = bench_machine_path("reference").read_text("utf-8")
    path.write_text(shipped + table + "\n".join(more), encoding="utf-8")
    return path


def signed(secured: Secured, folder: Path) -> Path:
    key = secured.folder / "device" / "signing.key"
    return machine_file(secured, folder, "signed", f'signing_key = "{key}"\n')


@contextmanager
def running(machine: Path, cook: Watcher, home: Path) -> Iterator[None]:
    """A run that publishes, stopped in the end."""
    process = start(home, "run", "dark", "--machine", str(machine), "--journal-dir", str(home))
    try:
        cook.until_topic(f"{BASE}/$state", "ready")
        yield
        cook.send(f"{BASE}/control/command/set", "stop")
    finally:
        code, _, err = end(process)
    assert (code, err) == (Exit.STOPPED, "")


@pytest.fixture
def cook(secured: Secured) -> Iterator[Watcher]:
    with Watcher(secured.port, login=secured.login(COOK)) as made:
        yield made


def ask(machine: Path, *words: str) -> Exit:
    return Exit(main(["request", "--machine", str(machine), *words]))


@pytest.mark.mosquitto
def test_a_signed_run_goes_on_for_who_has_the_key_and_for_nobody_else(
    secured: Secured, cook: Watcher, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    machine, keyless = signed(secured, tmp_path), machine_file(secured, tmp_path, "access-list")
    with running(machine, cook, tmp_path):
        assert ask(machine, "pause") is Exit.DONE
        cook.until_topic(f"{BASE}/run/state", "paused")
        assert ask(keyless, "resume") is Exit.USAGE
        assert WHY[Refusal.BAD_SIGNATURE] in capsys.readouterr().err
        assert ask(machine, "resume") is Exit.DONE
        assert "The run took it: resume." in capsys.readouterr().out
        cook.until_topic(f"{BASE}/run/state", "running")
        assert ask(machine, "answer", "never-asked") is Exit.USAGE
        assert WHY[Refusal.NO_QUESTION] in capsys.readouterr().err
        # The guest who asked took nothing away from the run.
        states = [seen.payload for seen in cook.seen if seen.topic == f"{BASE}/$state"]
        assert states == ["init", "ready"]


@pytest.mark.mosquitto
def test_where_no_run_goes_on_it_says_so(
    secured: Secured,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(asking, "FIND_S", 0.2)
    machine = machine_file(secured, tmp_path, "off")
    assert ask(machine, "stop") is Exit.HARDWARE
    assert "No machine publishes below homie/5/bainward; start a run" in capsys.readouterr().err


def test_where_no_broker_is_it_says_so(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "kitchen.toml"
    table = f'[mqtt]\nhost = "127.0.0.1"\nport = {free_port()}\n'
    path.write_text(bench_machine_path("reference").read_text("utf-8") + table, encoding="utf-8")
    assert ask(path, "stop") is Exit.HARDWARE
    assert "can't be asked" in capsys.readouterr().err
