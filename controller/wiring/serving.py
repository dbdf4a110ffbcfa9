"""A bench served as hardware to processes that know nothing of it.

Responsible for putting bench, time and server together; not for what lies where (hardware/bench).
"""

import asyncio
import signal
from collections.abc import Awaitable, Callable, Sequence
from functools import partial
from pathlib import Path

from controller.clock import Clock
from controller.errors import HardwareError, MachineFileError
from controller.files.attach_shape import BenchAttach
from controller.files.machine_file import MachineFile
from controller.files.profile_file import load_profile
from controller.wiring.attaching import attach_bench
from hardware.bench.attach import Bench
from hardware.bench.board import boards_of
from hardware.bench.board_server import Server, ServerError
from hardware.bench.file_machine import FileMachine

FILES_TICK_S = 0.1  # how often the files follow: own engineering value, not published


def served_bench(machine_file: MachineFile, profile_name: str) -> Bench:
    """The bench of that machine, with what the profile begins with in its bowl.

    Raises:
        MachineFileError: the machine is a real one.
        ProfileError: there is no such profile, or it doesn't suit the machine.
    """
    plan, machine = machine_file.attach, machine_file.machine
    if not isinstance(plan, BenchAttach):
        raise MachineFileError(
            f"bench serves a simulated machine, and {machine.name} is a real one; name a machine "
            "of the bench."
        )
    return attach_bench(plan, machine, load_profile(profile_name, machine))


def served_time(clock: Clock, speed: float) -> Callable[[], float]:
    """The bench's own seconds, which begin at 0 and go so many times as fast."""
    began_s = clock.now_s()
    return lambda: (clock.now_s() - began_s) * speed


def serve_boards(
    bench: Bench, places: Sequence[str], clock_s: Callable[[], float], ready: Callable[[], None]
) -> None:
    """Serve it as Modbus boards, at each of the places, until SIGINT or SIGTERM.

    Raises:
        HardwareError: the place can't be had, or the library is missing.
    """
    try:
        boards = boards_of(bench, clock_s)
        servers = [Server(boards, at) for at in places]
        asyncio.run(_until_told(lambda over: _serve_all(servers, ready, over)))
    except ServerError as error:
        raise HardwareError(str(error)) from error


def serve_files(
    bench: Bench, folder: Path, clock_s: Callable[[], float], ready: Callable[[], None]
) -> None:
    """Serve it as a tree of files until SIGINT or SIGTERM.

    Raises:
        HardwareError: the files can't be written.
    """
    try:
        machine = FileMachine(bench, folder)
        machine.follow(clock_s())
        asyncio.run(_until_told(lambda over: _follow(machine, clock_s, ready, over)))
    except OSError as error:
        raise HardwareError(
            f"The files in {folder} can't be written ({error.strerror}); name a folder that may "
            "be written."
        ) from error


async def _serve_all(
    servers: Sequence[Server], ready: Callable[[], None], over: asyncio.Event
) -> None:
    waiting = set(range(len(servers)))

    def one_ready(number: int) -> None:
        waiting.discard(number)
        if not waiting:
            ready()

    try:
        async with asyncio.TaskGroup() as group:
            for number, server in enumerate(servers):
                group.create_task(server.serve(partial(one_ready, number), over))
    except* ServerError as failed:
        raise failed.exceptions[0] from None


async def _follow(
    machine: FileMachine,
    clock_s: Callable[[], float],
    ready: Callable[[], None],
    over: asyncio.Event,
) -> None:
    ready()
    while not over.is_set():
        machine.follow(clock_s())
        try:
            await asyncio.wait_for(over.wait(), FILES_TICK_S)
        except TimeoutError:
            continue


async def _until_told(work: Callable[[asyncio.Event], Awaitable[None]]) -> None:
    over = asyncio.Event()
    loop = asyncio.get_running_loop()
    for number in (signal.SIGINT, signal.SIGTERM):
        loop.add_signal_handler(number, over.set)
    await work(over)
