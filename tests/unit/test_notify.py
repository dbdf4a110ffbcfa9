"""Words to the service manager; the protocol as the manual page sd_notify(3) has it."""

import os
import socket
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from controller import notify

WORDS = [
    (notify.ready, b"READY=1"),
    (notify.alive, b"WATCHDOG=1"),
    (notify.stopping, b"STOPPING=1"),
]
MANY = 10_000  # more datagrams than any kernel queues for one that does not read


@pytest.fixture
def manager() -> Iterator[socket.socket]:
    """A manager's end of the socket, not yet at an address."""
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as channel:
        channel.settimeout(5.0)
        yield channel


@pytest.mark.parametrize(("say", "word"), WORDS)
def test_the_word_reaches_a_socket_in_the_file_system(
    say: Callable[[], bool],
    word: bytes,
    manager: socket.socket,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    address = str(tmp_path / "notify")
    manager.bind(address)
    monkeypatch.setenv("NOTIFY_SOCKET", address)
    assert say()
    assert manager.recv(100) == word


def test_a_leading_at_names_an_abstract_socket(
    manager: socket.socket, monkeypatch: pytest.MonkeyPatch
) -> None:
    name = f"bainward-test-{os.getpid()}"
    manager.bind("\0" + name)
    monkeypatch.setenv("NOTIFY_SOCKET", "@" + name)
    assert notify.alive()
    assert manager.recv(100) == b"WATCHDOG=1"


def test_without_a_manager_nothing_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("NOTIFY_SOCKET", raising=False)
    assert not notify.alive()


@pytest.mark.parametrize("address", ["", "vsock:2:1234", "relative"])
def test_an_address_of_another_kind_is_left_alone(
    address: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("NOTIFY_SOCKET", address)
    assert not notify.alive()


def test_a_manager_that_has_gone_is_no_error(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("NOTIFY_SOCKET", str(tmp_path / "gone"))
    assert not notify.alive()


def test_a_manager_that_does_not_read_never_makes_the_guard_wait(
    manager: socket.socket, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    address = str(tmp_path / "stuck")
    manager.bind(address)
    monkeypatch.setenv("NOTIFY_SOCKET", address)
    # A sender that waited would hang here for ever; one that does not is told of the full queue.
    assert not all(notify.alive() for _ in range(MANY))
