"""The command `watch`: a run on this terminal, live over MQTT or from its growing record.

Responsible for whom to watch and for how long; not for what is shown (screen) or known (view).
"""

import argparse
import os
import shlex
import signal
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Protocol

from controller.book.shelf import find
from controller.clock import process_s, wall_time
from controller.commands.places import shelf_folder
from controller.commands.requesting import settings_meant
from controller.errors import Exit, UsageError
from controller.journal.growing import Growing
from controller.journal.reader import SUFFIX
from controller.link.following import Follower
from controller.screen.layout import Frame, Line, clipped, plain, screen, what_counts
from controller.screen.retelling import Retelling
from controller.screen.terminal import Terminal, has_colours
from controller.view.board import Standing, View

# Own engineering values: as quick as somebody reads, and as seldom as a small board likes it.
STEP_S = 0.25
LASTS_S = 1.5  # a machine says a new sentence within a second
PATIENCE_S = 3.0  # for broker and machine to be heard, before their absence is worth a word


class Source(Protocol):
    """Where the facts come from."""

    name: str  # of the machine
    how: str  # to answer a question

    @property
    def trouble(self) -> str:
        """Why nothing can be heard; empty while it can."""
        ...

    @property
    def is_over(self) -> bool:
        """Whether nothing more will ever come."""
        ...

    def view(self) -> View:
        """All that can be shown now."""
        ...


def watch(options: argparse.Namespace) -> Exit:
    """`bainward watch`: until q, a signal, or in plain lines the end of a record.

    Raises:
        UsageError: nobody said what to watch, or no record is meant.
        BainwardError: a record or secret can't be read.
    """
    with _source(options) as source:
        if sys.stdout.isatty():
            return _on_screen(source, options)
        return _in_lines(source, options)


@contextmanager
def _source(options: argparse.Namespace) -> Iterator[Source]:
    if options.run is not None:
        if options.machine or options.broker or options.try_:
            raise UsageError(
                f"A record ({options.run}) is watched without a broker; leave out --machine, "
                "--broker and --try, or leave out the record."
            )
        with Growing(_record(options)) as growing:
            yield Recorded(growing)
        return
    if not (options.machine or options.broker or options.try_):
        raise UsageError(
            "It is not known what to watch; name a machine with --machine FILE, a broker with "
            "--broker HOST:PORT, a try of this computer with --try, or a record such as last."
        )
    settings = settings_meant(options.machine, options.broker, is_try=options.try_)
    follower = Follower(settings)
    follower.start()
    try:
        yield Live(follower, settings.device_id, _how(options))
    finally:
        follower.close()


def _record(options: argparse.Namespace) -> Path:
    word = str(options.run)
    if "/" in word or word.endswith(SUFFIX) or Path(word).exists():
        return Path(word)
    return find(shelf_folder(options), word)


def _how(options: argparse.Namespace) -> str:
    machine = shlex.quote(str(options.machine)) if options.machine else "FILE"
    tried = " --try" if options.try_ else ""
    return (
        f"To answer: bainward request answer WORD --machine {machine}{tried}, or at the run's own "
        "keyboard; what leads to heat only where the machine allows it."
    )


class Live:
    """A machine over MQTT."""

    is_over = False

    def __init__(self, follower: Follower, name: str, how: str) -> None:
        """The follower has been started."""
        self._follower = follower
        self.name = name
        self.how = how

    @property
    def trouble(self) -> str:
        """In the words of whoever noticed."""
        return self._follower.trouble

    def view(self) -> View:
        """What was heard so far."""
        return self._follower.view()


class Recorded:
    """A run by its record, while it grows."""

    trouble = ""
    how = "To answer: at the run's own keyboard."

    def __init__(self, growing: Growing) -> None:
        """All that is there is read at the first look."""
        self._growing = growing
        self._told = Retelling(growing.header)
        self.name = growing.header.machine_name
        self._news_s: float | None = None

    @property
    def is_over(self) -> bool:
        """Whether the record has its end."""
        return self._told.is_over

    def view(self) -> View:
        """What is written by now."""
        has_news = False
        while news := self._growing.news():
            has_news = True
            for record in news:
                self._told.hear(record)
        if self._news_s is None:
            self._news_s = process_s() - self._growing.age_s(wall_time().timestamp())
        elif has_news:
            self._news_s = process_s()
        return self._told.view(process_s() - self._news_s)


def _frame(source: Source, options: argparse.Namespace, columns: int, rows: int) -> Frame:
    return Frame(
        name=source.name,
        columns=columns,
        rows=rows,
        fahrenheit=None if options.units is None else options.units == "F",
        how=source.how,
        trouble=source.trouble,
    )


def _is_early(view: View, began_s: float) -> bool:
    """Whether the machine may still be found, so that nothing needs to be told of its absence."""
    is_unheard = view.standing is Standing.NO_BROKER or view.standing is Standing.OLD
    return is_unheard and view.age_s is None and process_s() - began_s < PATIENCE_S


def _on_screen(source: Source, options: argparse.Namespace) -> Exit:
    began_s = process_s()
    with Terminal(sys.stdout, sys.stdin, colours=has_colours(os.environ)) as terminal:
        while True:
            columns, rows = terminal.size
            view = source.view()
            if _is_early(view, began_s):
                terminal.draw((Line(clipped(f"Looking for {source.name} ...", columns)),))
            else:
                terminal.draw(screen(view, _frame(source, options, columns, rows)))
            if not terminal.wait(STEP_S):
                return Exit.DONE


def _in_lines(source: Source, options: argparse.Namespace) -> Exit:
    """A line for each change, once it has lasted: sentences come a moment after words."""
    told: tuple[object, ...] = ()
    newest = told
    since_s = began_s = process_s()
    with _ending() as ending:
        while True:
            view = source.view()
            frame = _frame(source, options, 0, 0)
            counts = what_counts(view)
            if counts != newest:
                newest, since_s = counts, process_s()
            has_lasted = source.is_over or process_s() - since_s >= LASTS_S
            if counts != told and has_lasted and not _is_early(view, began_s):
                told = counts
                sys.stdout.write(f"{wall_time().astimezone():%H:%M:%S}  {plain(view, frame)}\n")
                sys.stdout.flush()
            if source.is_over or ending.wait(STEP_S):
                return Exit.DONE


@contextmanager
def _ending() -> Iterator[threading.Event]:
    """Set by the signals that ask for the end."""
    ending = threading.Event()
    before = {
        one: signal.signal(one, lambda *_: ending.set()) for one in (signal.SIGINT, signal.SIGTERM)
    }
    try:
        yield ending
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
