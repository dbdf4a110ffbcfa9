"""The embedded broker's refusals, each one sentence."""

import importlib
import signal
import socket
from types import SimpleNamespace

import pytest

from controller.errors import BusyError, Exit, UsageError
from controller.link.broker import EmbeddedBroker
from tests.helpers.brokers import accepts, free_port


def test_a_taken_port_is_told_in_one_sentence() -> None:
    with socket.create_server(("127.0.0.1", 0)) as server:
        port = server.getsockname()[1]
        with pytest.raises(BusyError, match=rf"can't listen on 127\.0\.0\.1:{port}") as caught:
            EmbeddedBroker(port).start()
    assert caught.value.exit_code is Exit.BUSY
    assert "--broker" in str(caught.value)


def test_a_broker_that_does_not_come_up_is_told_too(monkeypatch: pytest.MonkeyPatch) -> None:
    class Broken:
        def __init__(self, config_path: str) -> None:
            self.config_path = config_path

        def start(self) -> None:
            raise RuntimeError("broker did not start listening within 10.0s")

    monkeypatch.setattr(importlib, "import_module", lambda _: SimpleNamespace(Broker=Broken))
    with pytest.raises(BusyError, match="did not start listening"):
        EmbeddedBroker(1).start()


def test_a_missing_extra_says_how_to_install_it(monkeypatch: pytest.MonkeyPatch) -> None:
    def missing(name: str) -> None:
        raise ModuleNotFoundError(f"No module named {name!r}")

    monkeypatch.setattr(importlib, "import_module", missing)
    with pytest.raises(UsageError, match=r"pip install '\.\[broker\]'") as caught:
        EmbeddedBroker(free_port()).start()
    assert caught.value.exit_code is Exit.USAGE


def test_it_listens_frees_its_port_and_may_be_stopped_twice() -> None:
    broker = EmbeddedBroker(free_port())
    broker.stop()
    before = signal.pthread_sigmask(signal.SIG_BLOCK, ())
    broker.start()
    assert signal.pthread_sigmask(signal.SIG_BLOCK, ()) == before
    assert accepts(broker.port)
    broker.stop()
    broker.stop()
    assert not accepts(broker.port)
