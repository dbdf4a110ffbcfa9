"""A real process, a real broker, real signals."""

import signal
from pathlib import Path

import pytest

from controller.errors import Exit
from controller.files.machine_file import bench_machine_path
from controller.journal.reader import read_run
from tests.helpers.brokers import Mosquitto, free_port
from tests.helpers.homie import faults_in_device
from tests.helpers.process import end, start
from tests.helpers.watcher import Watcher

REFERENCE = str(bench_machine_path("reference"))
DEVICE = "homie/5/bainward"


def record(folder: Path) -> Path:
    """The one record in a folder."""
    (path,) = folder.glob("*.jsonl")
    return path


@pytest.mark.mosquitto
@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_a_signal_stops_a_run_with_heat_off_and_the_record_closed(
    number: signal.Signals, mosquitto: Mosquitto, tmp_path: Path
) -> None:
    words = ("run", "dark", "--machine", REFERENCE, "--journal-dir", str(tmp_path))
    with Watcher(mosquitto.port) as onlooker:
        process = start(tmp_path, *words, "--broker", f"127.0.0.1:{mosquitto.port}")
        onlooker.until_topic(f"{DEVICE}/run/state", "running")
        onlooker.until_topic(f"{DEVICE}/heater/relay", "true")

        process.send_signal(number)
        code, out, _ = end(process)

        onlooker.until_topic(f"{DEVICE}/$state", "disconnected")
        assert code == Exit.STOPPED
        assert onlooker.topics[f"{DEVICE}/heater/relay"] == "false"
        assert onlooker.topics[f"{DEVICE}/run/state"] == "stopped"
    run = read_run(record(tmp_path))
    assert run.closing is not None
    assert run.closing.outcome == "stopped"
    assert run.closing.signal == number.name
    assert not run.samples[-1].heater_on
    assert "stopped" in out


@pytest.mark.mosquitto
def test_a_killed_daemon_leaves_a_readable_record_and_the_broker_says_lost(
    mosquitto: Mosquitto, tmp_path: Path
) -> None:
    words = ("run", "dark", "--machine", REFERENCE, "--journal-dir", str(tmp_path))
    with Watcher(mosquitto.port) as onlooker:
        process = start(tmp_path, *words, "--broker", f"127.0.0.1:{mosquitto.port}")
        onlooker.until_topic(f"{DEVICE}/$state", "ready")
        onlooker.until_topic(f"{DEVICE}/heater/relay", "true")

        process.kill()
        code, _, _ = end(process)

        onlooker.until_topic(f"{DEVICE}/$state", "lost")
        assert code == -signal.SIGKILL
    run = read_run(record(tmp_path))
    assert run.closing is None
    assert run.header.profile_name == "dark"
    assert run.samples

    # The next start says what was cut off, and heats only if a person says so.
    code, _, err = end(start(tmp_path, *words, "--no-broker"))
    assert code == Exit.STOPPED
    assert run.header.run_id in err
    assert "--begin-again" in err
    assert len(list(tmp_path.glob("*.jsonl"))) == 1

    process = start(tmp_path, *words, "--no-broker", "--begin-again", "--log", "json")
    assert process.stderr is not None
    assert "run_started" in process.stderr.readline()
    process.terminate()
    code, _, _ = end(process)
    assert code == Exit.STOPPED
    assert len(list(tmp_path.glob("*.jsonl"))) == 2


@pytest.mark.parametrize("told", [(), ("--chocolate", "dark")])
def test_a_run_that_was_told_what_is_in_the_bowl_does_not_ask(
    told: tuple[str, ...], tmp_path: Path
) -> None:
    words = ("run", "dark", "--machine", REFERENCE, "--journal-dir", str(tmp_path), "--no-broker")
    process = start(tmp_path, *words, *told, "--log", "json")
    assert process.stderr is not None
    any("phase_entered" in line for line in process.stderr)
    process.terminate()
    end(process)
    asked = [one for one in read_run(record(tmp_path)).events if one.name == "question_asked"]
    assert [one.facts["id"] for one in asked] == ([] if told else ["kind"])


def test_a_second_daemon_on_the_same_machine_is_refused(tmp_path: Path) -> None:
    words = ("run", "dark", "--machine", REFERENCE, "--journal-dir", str(tmp_path), "--no-broker")
    first = start(tmp_path, *words, "--log", "json")
    assert first.stderr is not None
    assert "run_started" in first.stderr.readline()

    code, out, err = end(start(tmp_path, *words))

    first.terminate()
    end(first)
    assert code == Exit.BUSY
    assert out == ""
    assert "already run by another bainward" in err
    assert "stop that one first" in err
    assert len(err.splitlines()) == 1


def test_a_try_at_speed_shows_the_whole_tree_live_on_its_embedded_broker(tmp_path: Path) -> None:
    port = free_port()
    words = ("try", "dark", "--speed", "60", "--port", str(port), "--journal-dir", str(tmp_path))
    process = start(tmp_path, *words)
    assert process.stdout is not None
    assert f"127.0.0.1:{port}" in process.stdout.readline()

    with Watcher(port) as onlooker:
        onlooker.until_topic("homie/5/bainward-try/$state", "ready")
        onlooker.until_topic("homie/5/bainward-try/run/phase", "melt")
        first = onlooker.topics["homie/5/bainward-try/run/elapsed"]
        onlooker.until(
            "time going by",
            lambda w: w.topics["homie/5/bainward-try/run/elapsed"] != first,
        )
        topics = dict(onlooker.topics)
        process.terminate()
        code, _, _ = end(process)

    assert faults_in_device(topics, "bainward-try") == []
    assert code == Exit.STOPPED
