"""Where the machines of a sweep run: in this process, on all cores, or on a Dask cluster.

Responsible for lost workers costing time and nothing else; not for what a worker does, nor for
keeping rows.
"""

import importlib.util
import logging
import os
import select
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import CancelledError
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager, suppress
from functools import partial
from signal import SIG_IGN, SIGINT, signal
from threading import Thread
from typing import TYPE_CHECKING

from controller.errors import CrashError, UsageError
from controller.report.table import Row
from controller.trials.sweep_work import Numbers, Work, run_numbers

if TYPE_CHECKING:
    from distributed import Client, Future

NO_JOBLIB = (
    "Sweeping on several cores needs joblib, which is not installed; install bainward with its "
    "extra: pip install '.[sweep]', or give --processes 1."
)
NO_DISTRIBUTED = (
    "Sweeping on a cluster needs Dask, which is not installed; install bainward with its extra: "
    "pip install '.[cluster]'."
)
# Own engineering values, not published.
CHUNK_MAX = 8  # machines a worker takes at a time: seconds of work against milliseconds of handing
CHUNKS_EACH = 4  # at least so many turns for each worker, so that none idles long at the end
PROCESSES_A_CORE = 8  # more only wait for each other, and each takes its 100 MB
LOSSES_MAX = 3  # losses without one row in between: then it is the machine, not bad luck
SCHEDULER_WAIT_S = 10.0
WORKER_WAIT_S = 30.0
LOOK_S = 30.0  # how long we wait for something to be finished before we look round

Rows = dict[int, Row]
# Runs all these machines somewhere and yields their rows as they are done, in any order.
Workers = Callable[[Work, Sequence[int]], Iterator[Rows]]


def chunked(numbers: Sequence[int], workers: int) -> list[Numbers]:
    """The numbers in portions that keep so many workers busy."""
    size = max(1, min(CHUNK_MAX, len(numbers) // (workers * CHUNKS_EACH)))
    return [tuple(numbers[i : i + size]) for i in range(0, len(numbers), size)]


def here(work: Work, numbers: Sequence[int]) -> Iterator[Rows]:
    """One machine after the other in this process."""
    for number in numbers:
        yield run_numbers(work, (number,))


def on_cores(processes: int | None) -> Workers:
    """Spread them over so many processes of this computer; None: one a core, as far as we can.

    Without joblib that is this one alone, slower and as right.

    Raises:
        UsageError: joblib is not installed, or they are more than it can bear.
    """
    cores = len(os.sched_getaffinity(0))
    if processes is None and importlib.util.find_spec("joblib") is None:
        return here
    processes = processes or cores
    if processes > PROCESSES_A_CORE * cores:
        raise UsageError(
            f"{processes} --processes are too many for this computer; give at most "
            f"{PROCESSES_A_CORE * cores}, {PROCESSES_A_CORE} for each of its {cores} cores."
        )
    if processes == 1:
        return here
    if importlib.util.find_spec("joblib") is None:
        raise UsageError(NO_JOBLIB)
    return partial(_on_cores, processes)


def _on_cores(processes: int, work: Work, numbers: Sequence[int]) -> Iterator[Rows]:
    """Begin the pool anew with what is left, as often as it breaks."""
    left = dict.fromkeys(chunked(numbers, processes))
    losses = 0
    while left:
        try:
            # Never one: that would run in this process, which a deadly machine then ends.
            for chunk, rows in _pool(max(2, min(processes, len(left))), work, tuple(left)):
                del left[chunk]
                losses = 0
                yield rows
        except BrokenProcessPool as error:
            losses += 1
            if losses == LOSSES_MAX:
                raise _lost(sum(map(len, left))) from error
            left = dict.fromkeys(_suspects_last(tuple(left), processes))


def _suspects_last(chunks: Sequence[Numbers], processes: int) -> Iterator[Numbers]:
    """The chunks in the order to try next, when a worker was lost while the first of them ran.

    If it was a machine that did it, all others are to be done before it does it again.
    """
    yield from chunks[processes:]
    for chunk in chunks[:processes]:
        yield from ((number,) for number in chunk)


def _pool(processes: int, work: Work, chunks: Iterable[Numbers]) -> Iterator[tuple[Numbers, Rows]]:
    from joblib import Parallel, delayed  # noqa: PLC0415 - an extra

    pool = Parallel(
        n_jobs=processes,
        backend="loky",
        return_as="generator_unordered",
        batch_size=1,  # the chunks are ours
        initializer=_belong_to,
        initargs=(os.getpid(),),
    )
    done: Iterator[tuple[Numbers, Rows]] = pool(delayed(_named)(work, chunk) for chunk in chunks)
    return done


def _named(work: Work, chunk: Numbers) -> tuple[Numbers, Rows]:
    return chunk, run_numbers(work, chunk)


def _belong_to(parent: int) -> None:
    """Leave Ctrl-C to the parent, who ends the workers in order, and never outlive it."""
    signal(SIGINT, SIG_IGN)
    Thread(target=_end_with, args=(parent,), name="parent's end", daemon=True).start()


def _end_with(parent: int) -> None:
    """A parent that is killed can end nobody, and loky's workers would wait on for minutes."""
    with suppress(ProcessLookupError):  # gone already
        select.select((os.pidfd_open(parent),), (), ())
    os._exit(1)


def on_cluster(address: str) -> Workers:
    """Spread them over the workers of the Dask scheduler at `address`.

    Raises:
        UsageError: Dask is not installed.
    """
    if importlib.util.find_spec("distributed") is None:
        raise UsageError(NO_DISTRIBUTED)
    return partial(_on_cluster, address)


def _on_cluster(address: str, work: Work, numbers: Sequence[int]) -> Iterator[Rows]:
    """Hand out all at once; what a lost worker held, the scheduler gives to another, or we do.

    Raises:
        UsageError: no scheduler or no worker answers, or one of them lacks our packages.
        CrashError: scheduler or workers went away, or one chunk loses worker after worker.
    """
    from distributed import KilledWorker  # noqa: PLC0415 - an extra

    with _client(address) as client, _explained(address):
        task = partial(run_numbers, work)
        chunks = chunked(numbers, len(client.ncores()))
        begun = dict(zip(client.map(task, chunks, pure=False), chunks, strict=True))
        losses: Counter[Numbers] = Counter()
        while begun:
            for future in _finished(client, address, begun):
                try:
                    rows = future.result(timeout=LOOK_S)
                except TimeoutError:
                    continue  # lost with its worker before we had it; the scheduler begins it anew
                except KilledWorker as error:
                    chunk = begun.pop(future)
                    begun[client.submit(task, chunk, pure=False)] = chunk
                    losses[chunk] += 1
                    if losses[chunk] == LOSSES_MAX:
                        raise _lost(sum(map(len, begun.values()))) from error
                else:
                    del begun[future]
                    yield rows


def _finished(
    client: "Client", address: str, begun: "Iterable[Future[Rows]]"
) -> "Iterable[Future[Rows]]":
    """Those that are done, once one is; none of them if that takes long.

    Raises:
        CrashError: it takes long because no worker is left.
    """
    from distributed import wait  # noqa: PLC0415 - an extra

    if not client.ncores():
        raise CrashError(
            f"The Dask scheduler at {address} has no worker any more; finished machines are kept, "
            "so start one and give the same command again."
        )
    try:
        done: set[Future[Rows]] = wait(
            list(begun), timeout=LOOK_S, return_when="FIRST_COMPLETED"
        ).done
    except TimeoutError:
        return ()
    return done


@contextmanager
def _client(address: str) -> "Iterator[Client]":
    """A client of the scheduler, once there is a worker."""
    from distributed import Client  # noqa: PLC0415 - an extra

    # A result lost with its worker is begun anew: what to do about it is never for the reader.
    logging.getLogger("distributed.client").setLevel(logging.ERROR)
    try:
        client = Client(address, timeout=SCHEDULER_WAIT_S)
    except (OSError, ValueError) as error:
        raise UsageError(
            f"No Dask scheduler answers at {address}; start one there, or name another, "
            "for example tcp://127.0.0.1:8786."
        ) from error
    with client:
        try:
            client.wait_for_workers(1, timeout=WORKER_WAIT_S)
        except TimeoutError as error:
            raise UsageError(
                f"The Dask scheduler at {address} has no worker; start one there, with bainward "
                "installed as here."
            ) from error
        yield client


@contextmanager
def _explained(address: str) -> Iterator[None]:
    """Say in a sentence what went wrong between us, the scheduler and its workers."""
    from distributed.comm.core import CommClosedError  # noqa: PLC0415 - an extra

    try:
        yield
    except (ImportError, RuntimeError) as error:
        raise UsageError(
            f"The cluster at {address} can't run it ({type(error.__cause__ or error).__name__}: "
            f"{error.__cause__ or error}); install the same bainward on scheduler and workers."
        ) from error
    except (CancelledError, CommClosedError) as error:
        raise CrashError(
            f"The Dask scheduler at {address} has gone; finished machines are kept, so once it is "
            "back give the same command again."
        ) from error


def _lost(left: int) -> CrashError:
    return CrashError(
        f"{LOSSES_MAX} times in a row workers were lost without finishing anything, with {left} "
        "machines left, perhaps for want of memory; finished ones are kept, so free some memory "
        "or take fewer --processes, and give the same command again."
    )
