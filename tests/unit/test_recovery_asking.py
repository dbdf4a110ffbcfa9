"""The question after a cut: evidence from record and clocks, the answer from a person."""

import io
import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from controller.clock import VirtualClock
from controller.commands.boots import note_boot
from controller.commands.resuming import BEGIN_AGAIN, RESUME, Place, ask_about_cut_run
from controller.core.machine import Machine
from controller.core.profile import Action, Choice, Profile, Question, Then, When
from controller.core.recovery import FRESH, Beginning
from controller.core.state import Event, EventName, Mode
from controller.errors import StoppedError
from controller.journal.cut import boot_s_at_cut, find_cut, wall_at_cut
from controller.journal.reader import read_run
from controller.journal.records import CLOCK_READ, Header, Identity, Note, Stamp, header_of
from controller.journal.writer import Journal
from controller.ports import Devices, Reading, missing
from tests.helpers.batch import a_machine, a_moment, a_profile, an_event, still_clock
from tests.helpers.records import replace

BEGAN = "2031-02-03T10:00:00+00:00"
BEGAN_BOOT_S = 5000.0
CUT_S = 3600.0  # of the run
BEFORE = Identity(
    run_id="cut-run",
    began_utc=BEGAN,
    version="1",
    profile_made_of="p",
    machine_made_of="m",
    boot_id="boot-a",
)
LATER = replace(BEFORE, run_id="next-run", boot_id="boot-b")


def a_question(ask_id: str, action: Action, then: Then = Then.CONTINUE) -> Question:
    """A question with one answer."""
    return Question(
        id=ask_id,
        text="Do it.",
        when=When.START,
        bowl_c=None,
        choices=(Choice(word="done", adds_energy=False, then=then),),
        unanswered_s=None,
        unanswered=None,
        action=action,
    )


QUESTIONS = (
    a_question("swap", Action.SWAP_WATER),
    a_question("seed", Action.ADD_SEED),
    a_question("test", Action.SET_TEST),
    a_question("longer", Action.NONE, Then.DWELL_AGAIN),
)


def the_profile() -> Profile:
    """The made-up batch, each of its phases with all the questions."""
    plain = a_profile()
    return replace(plain, phases=tuple(replace(p, questions=QUESTIONS) for p in plain.phases))


def answered(ask_id: str) -> Event:
    """The event of an answer."""
    question = next(one for one in QUESTIONS if one.id == ask_id)
    return an_event(
        EventName.QUESTION_ANSWERED, id=ask_id, choice="done", by="local", action=question.action
    )


@dataclass(slots=True)
class Clocks:
    """The other clocks while the record is written; read at its first tick, then every step."""

    synchronised: bool = True
    step_s: float = CUT_S
    reads: int = 0

    def __call__(self) -> Stamp:
        """Read them."""
        passed_s = self.step_s * self.reads
        self.reads += 1
        return Stamp(
            utc=(datetime.fromisoformat(BEGAN) + timedelta(seconds=passed_s)).isoformat(),
            boot_s=BEGAN_BOOT_S + passed_s,
            synchronised=self.synchronised,
        )


def write_cut(
    folder: Path,
    *,
    identity: Identity = BEFORE,
    phase: int = 0,
    bowl_c: float = 40.0,
    events: Sequence[Event] = (),
    mode: Mode = Mode.RUNNING,
    clocks: Clocks | None = None,
) -> Header:
    """A run that broke off an hour after it began."""
    header = header_of(the_profile(), a_machine(), identity)
    journal = Journal(
        folder / f"{identity.run_id}.jsonl",
        header=header,
        clock_s=still_clock,
        stamp=clocks or Clocks(),
    )
    journal.tell(a_moment(0.0, phase=phase, bowl_c=bowl_c, events=tuple(events)))
    journal.tell(a_moment(CUT_S, phase=phase, bowl_c=bowl_c, mode=mode))
    assert journal.drain(10.0)
    return header


@dataclass(slots=True)
class Probe:
    """A thermometer that says what it was told to, then the last of it for ever."""

    readings: list[Reading]

    def read(self, now_s: float) -> Reading:  # noqa: ARG002 - the port's contract
        """Give the next."""
        return self.readings.pop(0) if len(self.readings) > 1 else self.readings[0]


class Untouched:
    """A heater and stirrer that must not be driven before the answer."""

    def drive(self, **_: object) -> None:
        """Fail the test."""
        raise AssertionError("driven before anybody has answered")


def devices(bath: Sequence[Reading], bowl: Sequence[Reading]) -> Devices:
    """Two thermometers, and nothing that may be touched."""
    return Devices(
        bath=Probe(list(bath)), bowl=Probe(list(bowl)), heater=Untouched(), stirrer=Untouched()
    )


@dataclass(slots=True)
class Typed:
    """A person who types these words, then goes away."""

    words: list[str]
    asked: int = field(default=0)

    def hear(self) -> str | None:
        """Give the next word."""
        self.asked += 1
        return self.words.pop(0) if self.words else None


NEXT_BOOT = Stamp(utc="2031-02-03T11:04:00+00:00", boot_s=30.0, synchronised=True)


def ask(  # noqa: PLR0913 - the function under test takes as many
    folder: Path,
    *,
    bath_c: float = 40.5,
    bowl_c: float = 40.0,
    identity: Identity = LATER,
    stamp: Stamp = NEXT_BOOT,
    word: str = "",
    typed: Sequence[str] | None = None,
    machine: Machine | None = None,
    shown: io.StringIO | None = None,
) -> Beginning:
    """Ask about whatever was cut in `folder`, four minutes after."""
    return ask_about_cut_run(
        Place(
            folder=folder,
            profile=the_profile(),
            machine=machine or a_machine(),
            identity=identity,
            stamp=stamp,
        ),
        devices([Reading(bath_c)], [Reading(bowl_c)]),
        VirtualClock(),
        word=word,
        person=None if typed is None else Typed(list(typed)),
        shown=shown or io.StringIO(),
    )


def test_with_no_cut_run_a_run_begins_afresh_and_nobody_is_asked(tmp_path: Path) -> None:
    assert ask(tmp_path, typed=[]) == FRESH


@pytest.mark.parametrize("mode", [Mode.STOPPING, Mode.STOPPED, Mode.COMPLETE, Mode.IDLE])
def test_a_run_that_was_over_when_the_power_went_is_not_asked_about(
    tmp_path: Path, mode: Mode
) -> None:
    write_cut(tmp_path, mode=mode)
    assert ask(tmp_path) == FRESH


def test_without_a_persons_word_nothing_is_heated(tmp_path: Path) -> None:
    write_cut(tmp_path)
    with pytest.raises(
        StoppedError,
        match=r"cut-run was cut off in melt after 60 min with the bowl"
        r" at 40.0 °C.*start again with --resume or --begin-again",
    ):
        ask(tmp_path)


@pytest.mark.parametrize("word", [RESUME, RESUME.upper()])
def test_a_person_may_go_on_with_the_run(tmp_path: Path, word: str) -> None:
    write_cut(tmp_path, events=(answered("swap"),))
    shown = io.StringIO()
    begins = ask(tmp_path, typed=["yes please", word], shown=shown)
    assert begins.phase == 0
    assert begins.continues == "cut-run"
    assert begins.answered == frozenset({"swap"})
    assert shown.getvalue().count("Type resume, begin-again or stop, then Enter.") == 2


@pytest.mark.parametrize("words", [["stop"], [], ["perhaps"]])
def test_a_stop_or_silence_heats_nothing_and_asks_again_at_the_next_start(
    tmp_path: Path, words: list[str]
) -> None:
    write_cut(tmp_path)
    for _ in range(2):
        with pytest.raises(StoppedError, match="Nothing was heated; the next start asks again"):
            ask(tmp_path, typed=words)


def test_the_command_lines_word_is_a_persons(tmp_path: Path) -> None:
    write_cut(tmp_path)
    assert ask(tmp_path, word=RESUME).continues == "cut-run"
    assert ask(tmp_path, word=BEGIN_AGAIN) == FRESH


def test_a_word_for_what_is_not_offered_is_refused_with_the_reason(tmp_path: Path) -> None:
    write_cut(tmp_path, phase=3, bowl_c=31.5)
    with pytest.raises(
        StoppedError,
        match=r"begun to set.*--resume is refused; the choices are"
        r" begin-again or stop",
    ):
        ask(tmp_path, bath_c=25.0, bowl_c=25.0, word=RESUME)
    begins = ask(tmp_path, bath_c=25.0, bowl_c=25.0, word=BEGIN_AGAIN)
    assert begins == Beginning(stir_from_c=32.0, is_kind_known=True)


@pytest.mark.parametrize(
    "change", [{"version": "2"}, {"profile_made_of": "q"}, {"machine_made_of": "n"}]
)
def test_another_program_profile_or_machine_file_can_only_begin_afresh(
    tmp_path: Path, change: dict[str, str]
) -> None:
    write_cut(tmp_path)
    other = replace(LATER, **change)
    with pytest.raises(StoppedError, match="not those that it ran with"):
        ask(tmp_path, identity=other, word=RESUME)
    assert ask(tmp_path, identity=other, word=BEGIN_AGAIN) == FRESH


def test_a_record_without_hashes_is_nobodys(tmp_path: Path) -> None:
    bare = replace(BEFORE, profile_made_of="")
    write_cut(tmp_path, identity=bare)
    with pytest.raises(StoppedError, match="not those that it ran with"):
        ask(tmp_path, identity=replace(bare, run_id="next-run"), word=RESUME)


def test_a_run_that_tripped_before_the_cut_can_only_be_set_aside(tmp_path: Path) -> None:
    trip = an_event(EventName.TRIP_LATCHED, cause="level-lost", what="x", action="y")
    write_cut(tmp_path, mode=Mode.ABORTED, events=(trip,))
    with pytest.raises(StoppedError, match="had tripped"):
        ask(tmp_path, word=RESUME)
    assert ask(tmp_path, word=BEGIN_AGAIN) == FRESH


def test_thermometers_are_given_time_and_their_offsets(tmp_path: Path) -> None:
    write_cut(tmp_path, phase=3, bowl_c=31.5)
    place = Place(
        folder=tmp_path,
        profile=the_profile(),
        machine=replace(a_machine(), bath_offset_k=0.5, bowl_offset_k=-20.0),
        identity=LATER,
        stamp=NEXT_BOOT,
    )
    slow = devices([missing(), Reading(31.7)], [missing(), missing(), Reading(51.4)])
    begins = ask_about_cut_run(
        place, slow, VirtualClock(), word=RESUME, person=None, shown=io.StringIO()
    )
    assert begins.phase == 3


@pytest.mark.parametrize("bad", [missing(), Reading(31.5, 60.0), Reading(math.nan)])
def test_a_thermometer_that_stays_silent_or_stale_ends_in_a_sentence(
    tmp_path: Path, bad: Reading
) -> None:
    write_cut(tmp_path)
    place = Place(
        folder=tmp_path,
        profile=the_profile(),
        machine=a_machine(),
        identity=LATER,
        stamp=NEXT_BOOT,
    )
    clock = VirtualClock()
    with pytest.raises(StoppedError, match="the bowl at unknown, which no sound thermometer says"):
        ask_about_cut_run(
            place,
            devices([Reading(40.0)], [bad]),
            clock,
            word=BEGIN_AGAIN,
            person=None,
            shown=io.StringIO(),
        )
    assert clock.now_s() == 10.0


HOLD = {"phase": 3, "bowl_c": 31.5}  # its offer stands and falls with the gap


@pytest.mark.parametrize(
    ("synchronised", "stamp", "same_boot", "offered"),
    [
        (True, NEXT_BOOT, False, True),  # four minutes by the wall clock
        (False, NEXT_BOOT, False, False),  # which was not set then
        (True, replace(NEXT_BOOT, synchronised=False), False, False),  # or is not now
        (True, replace(NEXT_BOOT, utc="2031-02-03T12:00:00+00:00"), False, False),
        # The program alone had died: the seconds since boot went on.
        (False, replace(NEXT_BOOT, boot_s=BEGAN_BOOT_S + CUT_S + 60.0), True, True),
        (True, replace(NEXT_BOOT, boot_s=BEGAN_BOOT_S + CUT_S + 3600.0), True, False),
    ],
)
def test_the_gap_is_known_only_by_a_clock_that_went_on_or_was_set(
    tmp_path: Path, synchronised: bool, stamp: Stamp, same_boot: bool, offered: bool
) -> None:
    write_cut(tmp_path, phase=3, bowl_c=31.5, clocks=Clocks(synchronised=synchronised))
    identity = replace(LATER, boot_id="boot-a") if same_boot else LATER
    if offered:
        begins = ask(
            tmp_path, bath_c=32.1, bowl_c=31.4, identity=identity, stamp=stamp, word=RESUME
        )
        assert begins.phase == 3
    else:
        with pytest.raises(StoppedError, match="a time unknown"):
            ask(tmp_path, bath_c=32.1, bowl_c=31.4, identity=identity, stamp=stamp, word=RESUME)


def test_what_was_done_before_an_earlier_cut_counts_too(tmp_path: Path) -> None:
    write_cut(tmp_path, phase=1, bowl_c=32.0, events=(answered("swap"), answered("seed")))
    second = replace(
        BEFORE, run_id="second", began_utc="2031-02-03T10:02:00+00:00", continues="cut-run"
    )
    events = (answered("test"), answered("longer"))
    write_cut(tmp_path, identity=second, phase=1, bowl_c=32.0, events=events)
    begins = ask(tmp_path, bath_c=32.1, bowl_c=31.9, word=RESUME)
    assert begins.answered == frozenset({"swap", "seed"})  # a set test must be made again
    assert begins.continues == "second"
    with pytest.raises(StoppedError, match="nobody can know what crystals"):
        ask(tmp_path, bath_c=35.0, bowl_c=34.0, word=RESUME)  # its seed has melted out


def test_a_missing_earlier_record_is_no_reason_to_fail(tmp_path: Path) -> None:
    write_cut(tmp_path, identity=replace(BEFORE, continues="gone"))
    assert ask(tmp_path, word=RESUME).continues == "cut-run"


def test_dwell_is_counted_from_samples_in_tolerance_once_the_target_was_reached(
    tmp_path: Path,
) -> None:
    journal = Journal(
        tmp_path / "cut-run.jsonl",
        header=header_of(the_profile(), a_machine(), BEFORE),
        clock_s=still_clock,
        stamp=Clocks(step_s=60.0),
    )
    reached = an_event(EventName.TARGET_REACHED, phase="melt")
    for run_s in range(300):
        bowl_c = 44.0 if 150 <= run_s < 200 else 46.0
        events = (reached,) if run_s == 100 else ()
        journal.tell(a_moment(float(run_s), bowl_c=bowl_c, events=events))
    assert journal.drain(10.0)
    stamp = replace(NEXT_BOOT, utc="2031-02-03T10:06:00+00:00")
    begins = ask(tmp_path, bath_c=46.5, bowl_c=45.9, stamp=stamp, word=RESUME)
    assert begins.dwelled_s == pytest.approx(149 - 4, abs=8)  # and less the 50 s in which it fell


def test_after_the_third_boot_within_ten_minutes_nothing_is_offered(tmp_path: Path) -> None:
    write_cut(tmp_path)
    for name in ("one", "two"):
        note_boot(tmp_path, name, NEXT_BOOT)
    with pytest.raises(StoppedError, match="started 3 times within ten minutes"):
        ask(tmp_path, word=BEGIN_AGAIN)


@pytest.mark.parametrize("facts", [{}, {"utc": "noon"}, {"utc": "2031-02-03T11:00:00"}])
def test_a_clock_reading_that_makes_no_sense_leaves_the_gap_unknown(
    tmp_path: Path, facts: dict[str, str]
) -> None:
    header = write_cut(tmp_path, phase=3, bowl_c=31.5)
    run = read_run(tmp_path / f"{header.run_id}.jsonl")
    note = Note(
        seq=9,
        t_s=CUT_S,
        name=CLOCK_READ,
        phase="hold",
        facts={"synchronised": True, "boot_s": "soon", **facts},
    )
    strange = replace(run, events=(*run.events, note))
    assert wall_at_cut(strange) is None
    assert boot_s_at_cut(strange) is None
    assert wall_at_cut(replace(run, events=())) is None
    assert boot_s_at_cut(replace(run, events=())) is None


def test_a_record_that_cannot_be_read_is_passed_over(tmp_path: Path) -> None:
    write_cut(tmp_path)
    path = tmp_path / "cut-run.jsonl"
    lines = path.read_bytes().splitlines(keepends=True)
    path.write_bytes(lines[0])
    assert find_cut(tmp_path, "kitchen") is None  # nothing was recorded of it
    path.unlink()
    (tmp_path / "cut-run.jsonl").mkdir()
    assert find_cut(tmp_path, "kitchen") is None


def test_answers_that_the_profile_does_not_know_count_for_nothing(tmp_path: Path) -> None:
    events = [
        an_event(EventName.QUESTION_ANSWERED, id="swap", choice="perhaps", by="local"),
        an_event(EventName.QUESTION_ANSWERED, id="other", choice="done", by="local"),
    ]
    write_cut(tmp_path, events=events)
    assert ask(tmp_path, word=RESUME).answered == frozenset()
