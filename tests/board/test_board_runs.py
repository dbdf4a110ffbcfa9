"""On a real kernel: a whole short run with inputs, hwmon and IIO thermometers fed by a plant.

The guard is the one of the units, the run's broker is on the host; the conformance suite of all
devices comes last, without a guard. The tests share one board, one after the other.
"""

import json
import queue
import re
import shutil
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from paho.mqtt.client import Client, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion

from controller.errors import Exit
from tests.board.board import Board
from tests.board.kitchen import (
    COMMAND,
    GUARD,
    LONG_S,
    PATIENCE_S,
    guard_ready,
    latched,
    plant_feeds,
    rearm,
    say,
)
from tests.helpers.brokers import Mosquitto

IN_OWN_TIME = True  # a run is more than an emulated processor on a busy host does in real time
MACHINE = "/etc/bainward/whole.toml"
PROFILE = str(Path(__file__).parent / "short_batch.toml")
RUNS = "/var/lib/bainward/runs"
RUN_S = 900.0  # never reached unless something is wrong
LID_S = 8.0  # longer than it must be off to be believed, on a slow processor, too
PRESS_S = 0.2  # shorter than a tick
OFF_S = 3.0


@pytest.fixture(scope="module")
def broker(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Mosquitto]:
    """A broker on the host."""
    executable = shutil.which("mosquitto") or shutil.which("mosquitto", path="/usr/sbin")
    if executable is None:
        pytest.skip("NOT TESTED WITH A BROKER ON THE HOST: install mosquitto")
    made = Mosquitto(executable, tmp_path_factory.mktemp("broker"))
    made.start()
    yield made
    made.kill()


class Onlooker:
    """Somebody on the host who looks at what the broker is told."""

    def __init__(self, port: int) -> None:
        """Subscribed to everything of the machine."""
        self.heard: queue.SimpleQueue[tuple[str, str]] = queue.SimpleQueue()
        self._client = Client(CallbackAPIVersion.VERSION2)
        self._client.on_message = self._take
        self._client.connect("127.0.0.1", port)
        self._client.subscribe("homie/5/bainward/#", 1)
        self._client.loop_start()

    def _take(self, _client: Client, _data: object, message: MQTTMessage) -> None:
        self.heard.put((message.topic, message.payload.decode(errors="replace")))

    def end(self) -> set[tuple[str, str]]:
        """All that was heard."""
        self._client.loop_stop()
        self._client.disconnect()
        return {self.heard.get() for _ in range(self.heard.qsize())}


def made_ready(board: Board) -> None:
    """A guard that may give heat, and a plant at room temperature."""
    guard_ready(board)
    if latched(board) != "none":
        rearm(board)
    plant_feeds(board)


def run_started(board: Board, *words: str) -> int:
    """A run on all that the board has; its process."""
    options = ("--begin-again", "--journal-dir", RUNS, "--machine", MACHINE)
    return int(board.ask("start", COMMAND, "run", PROFILE, *options, *words))


def heats(board: Board) -> None:
    """Wait until both lines of the heater are on."""
    for name in ("HEAT", "SECOND"):
        if board.ask("wait", name, 1, PATIENCE_S, limit_s=LONG_S) is None:
            raise AssertionError(board.ask("read", "/run/board-program.log"))


def newest_events(board: Board) -> list[dict[str, object]]:
    """What happened in the newest run, by its record."""
    path = board.ask("files", RUNS, "*.jsonl")[-1]
    lines = [json.loads(line) for line in str(board.ask("read", path)).splitlines()]
    return [line for line in lines if line["kind"] == "event"]


def test_a_short_press_of_the_stop_button_between_two_ticks_ends_heat_and_stirring(
    board: Board,
) -> None:
    made_ready(board)
    pid = run_started(board, "--no-broker")
    heats(board)
    assert board.ask("wait", "STIR", 1, PATIENCE_S, limit_s=LONG_S) is not None
    board.ask("flick", "STOP", PRESS_S)
    for name in ("HEAT", "SECOND", "STIR"):
        off_s = board.ask("wait", name, 0, PATIENCE_S, limit_s=LONG_S)
        assert off_s is not None, f"{name} stayed on"
        say(f"{name} off after a press of {PRESS_S:g} s", PRESS_S + off_s)
        assert off_s <= OFF_S
    code = board.ask("finished", pid, PATIENCE_S, limit_s=LONG_S)
    assert code == Exit.STOPPED, board.ask("read", "/run/board-program.log")
    assert "button_pressed" in {one["event"] for one in newest_events(board)}
    assert latched(board) == "none"


def test_a_whole_short_run_goes_through_real_lines_chips_and_a_broker_of_the_host(
    board: Board, broker: Mosquitto
) -> None:
    made_ready(board)
    onlooker, began_s = Onlooker(broker.port), board.ask("uptime")
    pid = run_started(board, "--broker", f"10.0.2.2:{broker.port}")
    heats(board)
    board.ask("flick", "LID", LID_S)
    code = board.ask("finished", pid, RUN_S, limit_s=RUN_S + PATIENCE_S)
    assert code == Exit.DONE, board.ask("read", "/run/board-program.log")
    say("a whole short run", board.ask("uptime") - began_s)
    assert [board.ask("line", name) for name in ("HEAT", "SECOND", "STIR", "COOL")] == [0] * 4
    assert latched(board) == "none"
    events = newest_events(board)
    entered = [one["phase"] for one in events if one["event"] == "phase_entered"]
    assert entered == ["melt", "cool", "hold"]
    deeds = [one["facts"] for one in events if one["event"] == "deed_announced"]
    assert deeds == [
        {"deed": "lid open", "by": "switch"},
        {"deed": "lid closed", "by": "switch"},
    ]
    heard = onlooker.end()
    phases = {word for topic, word in heard if topic.endswith("run/phase")}
    assert {"melt", "cool", "hold"} <= phases
    lid = {word for topic, word in heard if topic.endswith("lid/open")}
    assert lid >= {"true", "false"}
    assert "complete" in {word for topic, word in heard if topic.endswith("run/state")}


def test_water_that_is_lost_ends_the_run_by_its_name(board: Board) -> None:
    made_ready(board)
    pid = run_started(board, "--no-broker")
    heats(board)
    board.ask("pull", "LEVEL", "down")
    off_s = board.ask("wait", "HEAT", 0, PATIENCE_S, limit_s=LONG_S)
    assert off_s is not None
    say("HEAT off after the level switch", off_s)
    assert off_s <= OFF_S
    code = board.ask("finished", pid, RUN_S, limit_s=RUN_S + PATIENCE_S)
    board.ask("pull", "LEVEL", "up")
    assert code == Exit.TRIPPED, board.ask("read", "/run/board-program.log")
    trips = [one["facts"] for one in newest_events(board) if one["event"] == "trip_latched"]
    assert [one["cause"] for one in trips] == ["level-lost"]  # type: ignore[index]  # plain JSON


def test_the_devices_of_a_board_keep_to_what_is_expected_of_all_devices(board: Board) -> None:
    guard_ready(board)
    board.ask("end")
    board.ask("call", "systemctl", "stop", GUARD)  # which holds the heater's lines
    bare = ("env", "PYTEST_DISABLE_PLUGIN_AUTOLOAD=1", sys.executable, "-m", "pytest", "-q")
    words = ("-p", "no:cacheprovider", "-p", "tests.board.guest.rig", "tests/conformance")
    said = str(board.ask("call", *bare, *words, limit_s=RUN_S))
    board.ask("call", "systemctl", "start", GUARD)
    *_, last = said.splitlines()
    assert re.fullmatch(r"[1-9][0-9]+ passed in .*", last), said
