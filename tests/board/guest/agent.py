"""The hands of a test inside the virtual board: kills, looks at lines, writes thermometers.

Responsible for one answer, a JSON line, to each question on the second serial port, and for
measuring from outside the processes under test; not for judging anything. Standard library only.
"""

import ctypes
import fcntl
import json
import os
import signal
import subprocess
import threading
import time
import tty
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

PORT = "/dev/ttyS1"
LINES = Path("/etc/board-lines").resolve()
NAMES = ("HEAT", "SECOND", "STIR", "LEVEL", "LID", "STOP", "SHAFT", "COOL")
NUMBERS = {name: number for number, name in enumerate(NAMES)}
FEEDING = "/run/board-plant"  # holds a word once the plant feeds
LOOK_S = 0.01
SLAVE_FORCE, SMBUS, WORD = 0x0706, 0x0720, 3  # linux/i2c-dev.h, linux/i2c.h
STEPS_PER_C = 256  # the sensor's register: °C in the high byte, its fraction in the low one


class Message(ctypes.Structure):
    """i2c_smbus_ioctl_data of linux/i2c-dev.h."""

    _fields_ = (
        ("write", ctypes.c_uint8),
        ("register", ctypes.c_uint8),
        ("size", ctypes.c_uint32),
        ("data", ctypes.c_void_p),
    )


@cache
def _value_of(name: str) -> int:
    """A line's file, which is opened once: an emulated processor has better to do."""
    return os.open(LINES / f"sim_gpio{NUMBERS[name]}" / "value", os.O_RDONLY)


def line(name: str) -> int:
    """What the world sees on a line: its driven level, or else its pull."""
    return int(os.pread(_value_of(name), 2, 0))


def persist(name: str, *, on: bool) -> None:
    """Have the board keep a line as it was last driven, also when nobody drives it any more.

    The simulator's lines fall back to their pull; so the pull follows what is driven.
    """
    if on:
        KEPT.add(name)
        KEEPS.set()
    else:
        KEPT.discard(name)
        if not KEPT:
            KEEPS.clear()
        pull(name, "down")


def keep() -> None:
    """Follow the lines of `KEPT`, for ever."""
    while KEEPS.wait():
        for name in tuple(KEPT):
            pull(name, "up" if line(name) else "down")
        time.sleep(KEEP_S)


KEPT: set[str] = set()
KEEPS = threading.Event()  # there are some
KEEP_S = 0.002


def pull(name: str, way: str) -> None:
    """Pull an undriven line up or down."""
    (LINES / f"sim_gpio{NUMBERS[name]}" / "pull").write_text(f"pull-{way}")


def warm(name: str, bath_c: float) -> str:
    """Make a thermometer show this; returns what the kernel then reads from it."""
    sensor = show(name, bath_c)
    return sensor.read_text().strip()


def show(name: str, bath_c: float) -> Path:
    """Put a temperature into a thermometer's register; its file."""
    sensor = sensor_of(name)
    put(sensor.parents[2].name, round(bath_c * STEPS_PER_C) & 0xFFE0)
    return sensor


@cache
def sensor_of(name: str) -> Path:
    """The file of a thermometer."""
    return Path(f"/etc/board-{name}").resolve()


def put(chip: str, value: int) -> None:
    """Write the first register of a chip on the bus, named as in 1-0048."""
    bus, _, address = chip.partition("-")
    data = ctypes.create_string_buffer(34)
    data.raw = value.to_bytes(2, "big") + bytes(
        32
    )  # SMBus sends the low byte first, the sensor the high one
    port = os.open(f"/dev/i2c-{bus}", os.O_RDWR)
    try:
        fcntl.ioctl(port, SLAVE_FORCE, int(address, 16))
        fcntl.ioctl(port, SMBUS, Message(0, 0, WORD, ctypes.addressof(data)))
    finally:
        os.close(port)


def wait(name: str, level: int, limit_s: float) -> float | None:
    """Seconds until the line is at the level; None if it never is."""
    began_s = time.monotonic()
    while line(name) != level:
        if time.monotonic() - began_s > limit_s:
            return None
        time.sleep(LOOK_S)
    return time.monotonic() - began_s


def strike(pid: int, number: int, name: str = "HEAT", limit_s: float = 20.0) -> float | None:
    """Send a signal, and tell after how long the line was off; None if it stayed on."""
    os.kill(pid, number)
    return wait(name, 0, limit_s)


def watch(name: str, for_s: float) -> list[int]:
    """Every level that a line had meanwhile, each once."""
    began_s, seen = time.monotonic(), set()
    while time.monotonic() - began_s < for_s:
        seen.add(line(name))
        time.sleep(LOOK_S)
    return sorted(seen)


def call(*words: str) -> str:
    """What a command printed."""
    done = subprocess.run(words, capture_output=True, text=True, check=False)
    return (done.stdout + done.stderr).strip()


def until(words: list[str], wanted: str, limit_s: float) -> float | None:
    """Seconds until a command prints what is wanted; None if it never does."""
    began_s = time.monotonic()
    while wanted not in call(*words):
        if time.monotonic() - began_s > limit_s:
            return None
        time.sleep(ASK_S)
    return time.monotonic() - began_s


ASK_S = 0.5  # a program started anew each time is dear in an emulated processor

CHILDREN: list[subprocess.Popen[bytes]] = []


def start(*words: str) -> int:
    """Start a program and leave it running; its process id."""
    with Path("/run/board-program.log").open("ab") as log:
        child = subprocess.Popen(words, stdin=subprocess.DEVNULL, stdout=log, stderr=log)
    CHILDREN.append(child)
    return child.pid


def end() -> None:
    """End and collect what was started."""
    for child in CHILDREN:
        child.kill()
        child.wait()
    CHILDREN.clear()


def finished(pid: int, limit_s: float) -> int | None:
    """The exit code of a program that was started; None if it goes on for so long."""
    child = next(child for child in CHILDREN if child.pid == pid)
    try:
        return child.wait(limit_s)
    except subprocess.TimeoutExpired:
        return None


def flick(name: str, for_s: float) -> None:
    """Pull an input down for a moment, as a short press does, and up again."""
    pull(name, "down")
    time.sleep(for_s)
    pull(name, "up")


def read(path: str) -> str | None:
    """A file's text; None if it is not there."""
    file = Path(path)
    return file.read_text(encoding="utf-8", errors="replace") if file.exists() else None


def files(folder: str, pattern: str) -> list[str]:
    """The names that match, in order."""
    return sorted(str(path) for path in Path(folder).glob(pattern))


def write(path: str, text: str) -> None:
    """Write a file of the kernel's or of the board's own."""
    Path(path).write_text(text, encoding="utf-8")


def uptime() -> float:
    """Seconds since the kernel began."""
    return float(Path("/proc/uptime").read_text().split()[0])


HANDS: dict[str, Callable[..., Any]] = {
    hand.__name__: hand
    for hand in (
        line,
        persist,
        pull,
        warm,
        wait,
        strike,
        watch,
        call,
        start,
        until,
        finished,
        flick,
        end,
        read,
        files,
        write,
        uptime,
    )
}


def main() -> None:
    """Answer until the board goes off."""
    signal.signal(signal.SIGHUP, signal.SIG_IGN)
    threading.Thread(target=keep, daemon=True).start()
    port = os.open(PORT, os.O_RDWR | os.O_NOCTTY)
    tty.setraw(port)
    with os.fdopen(port, "r+b", buffering=0) as wire:
        wire.write(json.dumps({"hello": uptime()}).encode() + b"\n")
        waiting = b""
        while True:
            waiting += wire.read(4096) or b""
            *questions, waiting = waiting.split(b"\n")
            for question in questions:
                answer = json.dumps(answered(question)).encode() + b"\n"
                while answer:
                    answer = answer[wire.write(answer) or 0 :]


def answered(question: bytes) -> dict[str, Any]:
    """The answer, or what went wrong."""
    try:
        name, words, named = json.loads(question)
        return {"answer": HANDS[name](*words, **named)}
    except Exception as error:  # noqa: BLE001 - whatever it was, the test on the host must see it
        return {"failed": repr(error)}


if __name__ == "__main__":
    main()
