"""The link's own life: password, pauses, its thread. Brokers of all kinds are under acceptance."""

import gc
import socket
import threading
import warnings
from collections.abc import Callable
from pathlib import Path

import pytest

from controller.errors import AccessError, Exit, MachineFileError
from controller.link import link as module
from controller.link.link import Link
from controller.link.settings import LinkSettings
from controller.ports import Panel, Teller
from tests.helpers.brokers import WELCOME, Scripted, free_port
from tests.helpers.logs import listening_log
from tests.helpers.moments import moment, profile

FAR_S = 60.0  # never reached unless something is wrong


def make(settings: LinkSettings) -> tuple[Link, list[dict[str, object]]]:
    log, lines = listening_log()
    return Link(settings, profile(), run_id="a", log=log), lines  # type: ignore[return-value] # read only


def test_a_link_that_was_never_started_takes_everything_in_silence() -> None:
    link, _ = make(LinkSettings(port=free_port()))
    link.tell(moment())
    assert link.take(0.0, None) == ()
    assert not link.connected
    assert link.refused == {}
    link.close()


def test_a_link_is_a_teller_and_a_panel() -> None:
    def hired(teller: Teller, panel: Panel) -> tuple[object, object]:
        return teller, panel

    link, _ = make(LinkSettings())
    assert hired(link, link) == (link, link)


@pytest.mark.parametrize("bad", ["", "Kitchen", "a/b", "a#", "-a", "a-", "a\x00", "küche", "a\n"])
def test_a_device_id_that_cannot_stand_in_a_topic_is_told_at_once(bad: str) -> None:
    with pytest.raises(MachineFileError, match="can't stand in a topic"):
        make(LinkSettings(device_id=bad))


def test_a_password_file_that_is_not_there_is_told_at_once(tmp_path: Path) -> None:
    with pytest.raises(AccessError, match=r"password file .*secret can't be read") as caught:
        make(LinkSettings(password_file=tmp_path / "secret"))
    assert caught.value.exit_code is Exit.NO_PERMISSION


def test_a_password_file_that_is_no_text_is_told_at_once(tmp_path: Path) -> None:
    path = tmp_path / "secret"
    path.write_bytes(b"\xff\xfe")
    path.chmod(0o600)
    with pytest.raises(AccessError):
        make(LinkSettings(password_file=path))


def test_a_password_that_would_go_in_plain_is_told_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COOK_WORD", "hunter2")
    with pytest.raises(MachineFileError, match="in plain over the network") as caught:
        make(LinkSettings(host="kitchen.local", password_variable="COOK_WORD"))
    assert caught.value.exit_code is Exit.BAD_FILE
    assert "hunter2" not in str(caught.value)


def seen(event: threading.Event) -> Callable[[socket.socket], None]:
    def answer(connection: socket.socket) -> None:
        connection.sendall(WELCOME)
        event.set()

    return answer


def test_the_password_reaches_the_broker_without_its_line_end_and_never_the_log(
    tmp_path: Path,
) -> None:
    path = tmp_path / "secret"
    path.write_text("drei Nüsse\n", encoding="utf-8")
    path.chmod(0o600)
    came = threading.Event()
    server = Scripted(seen(came))
    link, lines = make(LinkSettings(port=server.port, username="cook", password_file=path))
    link.start()
    assert came.wait(FAR_S)
    link.close(wait_s=0.2)
    server.close()
    assert server.connects[0].endswith(b"\x00\x0bdrei N\xc3\xbcsse")
    assert "Nüsse" not in str(lines)


def test_pauses_between_tries_grow_to_a_limit(monkeypatch: pytest.MonkeyPatch) -> None:
    link, lines = make(LinkSettings(port=free_port()))
    pauses: list[float] = []

    def wait(pause_s: float) -> bool:
        pauses.append(pause_s)
        if len(pauses) == 6:
            link._closing.set()  # noqa: SLF001 - ends the loop from inside
        return False

    monkeypatch.setattr(link._closing, "wait", wait)  # noqa: SLF001 - nothing else sees the pauses
    link._supervise()  # noqa: SLF001 - in this thread, so that it needs no waiting
    assert pauses == [1.0, 2.0, 4.0, 8.0, 10.0, 10.0]
    assert {line["event"] for line in lines} == {"broker_lost"}
    assert "refused" in str(lines[0]["reason"])
    assert [line["level"] for line in lines] == ["warning"] + ["debug"] * 5


def test_a_connection_that_held_makes_the_next_pause_short_again(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    link, _ = make(LinkSettings(port=free_port()))
    pauses: list[float] = []
    clock = iter([0.0, 0.1, 10.0, 10.1, 20.0, 20.0 + module.STEADY_S])
    monkeypatch.setattr(module, "process_s", lambda: next(clock))

    def wait(pause_s: float) -> bool:
        pauses.append(pause_s)
        if len(pauses) == 3:
            link._closing.set()  # noqa: SLF001 - ends the loop from inside
        return False

    monkeypatch.setattr(link._closing, "wait", wait)  # noqa: SLF001 - nothing else sees the pauses
    link._supervise()  # noqa: SLF001 - in this thread, so that it needs no waiting
    assert pauses == [1.0, 2.0, 1.0]


def test_a_thread_that_died_is_started_again_but_not_in_a_hurry(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    link, _ = make(LinkSettings(port=free_port()))
    starts: list[threading.Event] = []

    def die() -> None:
        starts.append(threading.Event())

    now = [0.0]
    monkeypatch.setattr(module, "process_s", lambda: now[0])
    monkeypatch.setattr(link, "_supervise", die)
    link.start()
    assert link._thread is not None  # noqa: SLF001 - waited for, so that it is surely dead
    link._thread.join(FAR_S)  # noqa: SLF001
    link.tell(moment())
    assert len(starts) == 1
    now[0] += module.REVIVE_S
    link.tell(moment())
    link._thread.join(FAR_S)  # noqa: SLF001
    assert len(starts) == 2
    link.close()
    now[0] += module.REVIVE_S
    link.tell(moment())
    assert len(starts) == 2


def test_no_thread_to_be_had_is_no_trouble_for_the_loop(monkeypatch: pytest.MonkeyPatch) -> None:
    link, _ = make(LinkSettings(port=free_port()))
    monkeypatch.setattr(link, "_supervise", lambda: None)
    link.start()
    assert link._thread is not None  # noqa: SLF001 - waited for, so that it is surely dead
    link._thread.join(FAR_S)  # noqa: SLF001
    monkeypatch.setattr(module, "REVIVE_S", 0.0)

    def refuse() -> None:
        raise RuntimeError("can't start new thread")

    monkeypatch.setattr(link, "start", refuse)
    link.tell(moment())


def test_closing_twice_and_with_a_silent_broker_leaves_nothing_open() -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", ResourceWarning)
        gc.collect()  # what other tests left open is not asked here
    came = threading.Event()
    server = Scripted(seen(came))
    link, lines = make(LinkSettings(port=server.port))
    link.tell(moment())
    link.start()
    assert came.wait(FAR_S)
    link.close(wait_s=0.3)
    link.close(wait_s=0.3)
    assert link._thread is not None  # noqa: SLF001 - that it ends is what is asked
    link._thread.join(FAR_S)  # noqa: SLF001
    assert not link._thread.is_alive()  # noqa: SLF001
    assert not link.connected
    assert lines[-1]["reason"] == "the broker did not acknowledge the last values in time"
    server.close()
    gc.collect()  # a socket left open would be a warning, and so an error, here


def test_it_asks_before_each_step_whether_a_tick_is_due(monkeypatch: pytest.MonkeyPatch) -> None:
    asked = threading.Semaphore(0)
    told: list[float] = []

    class Patient:
        def __init__(self, period_s: float) -> None:
            told.append(period_s)

        def told(self, now_s: float) -> None:
            told.append(now_s)

        def give_way(self) -> None:
            asked.release()

    monkeypatch.setattr(module, "Courtesy", Patient)
    monkeypatch.setattr(module, "STEP_S", 0.01)
    server = Scripted(lambda connection: connection.sendall(WELCOME))
    link = Link(
        LinkSettings(port=server.port), profile(), run_id="a", period_s=0.5, log=listening_log()[0]
    )
    link.tell(moment())
    link.start()
    for _ in range(3):
        assert asked.acquire(timeout=FAR_S)
    link.close(wait_s=0.1)
    server.close()
    assert told[0] == 0.5
    assert len(told) == 2
