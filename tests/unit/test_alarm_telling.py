"""Wherever an alarm is told it says what was seen, why that is bad and what to do now.

One run on the bench loses its bowl's thermometer: an alarm first, then a trip. Looked at are the
screen, the record and who reads it, the alerts and log lines of MQTT, and the demo's story.
"""

import io
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path

import pytest

from controller.commands.demo_batch import Narrator
from controller.core.interlock_rows import Cause
from controller.core.interlocks import PRIORITIES
from controller.core.reasons import why
from controller.core.state import Event, EventName
from controller.files.profile_file import load_profile
from controller.journal.growing import Growing
from controller.journal.reader import read_run
from controller.link.chronicle import line
from controller.link.tree import alerts
from controller.ports import Moment
from controller.report.progress import ProgressLine
from controller.report.summary import summarise, summary_text
from controller.screen.retelling import Retelling
from controller.trials import Trial, run_trial
from tests.helpers.runs import bench_machine

CAUSE = Cause.BOWL_PROBE_MISSING
NAMES = {"alarm": EventName.ALARM_RAISED, "trip": EventName.TRIP_LATCHED}


@dataclass(slots=True)
class Places:
    """What was told in each place, of the alarm and of the trip."""

    events: dict[str, Event] = field(default_factory=dict)
    alerts: dict[str, str] = field(default_factory=dict)
    told: dict[tuple[str, str], str] = field(default_factory=dict)

    def tell(self, moment: Moment) -> None:
        """Note the alert of the tick in which one of the two was told."""
        for kind, name in NAMES.items():
            for event in moment.events:
                if event.name is name and event.facts["cause"] == CAUSE:
                    self.events[kind] = event
                    self.alerts[kind] = alerts(moment)[CAUSE]


@pytest.fixture(scope="module")
def run(tmp_path_factory: pytest.TempPathFactory) -> Places:
    """The run, and all that was told of it."""
    path, shown, story = tmp_path_factory.mktemp("told") / "a.jsonl", io.StringIO(), io.StringIO()
    profile = load_profile("dark", bench_machine("brisk").machine)
    screen = ProgressLine(shown, profile=profile, clock_s=lambda: 0.0)
    narrator = Narrator(profile, datetime(2031, 2, 3, tzinfo=UTC), fahrenheit=False)
    places, trial = Places(), Trial(profile="dark", machine="brisk", faults=(FAULT,))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("sys.stdout", story)
        run_trial(trial, journal=path, tellers=(screen, narrator, places))
    told = places.told
    lines = shown.getvalue().splitlines()
    told["alarm", "screen"] = next(one for one in lines if "  attention: Heat is held" in one)
    told["trip", "screen"] = next(one for one in lines if "  Heat is off." in one)
    told["alarm", "story"] = " ".join(story.getvalue().partition("It says: ")[2].split())
    told["trip", "summary"] = " ".join(summary_text(summarise(read_run(path))).split())
    for kind, event in places.events.items():
        told[kind, "alert"], told[kind, "log"] = places.alerts[kind], line(event)
    for kind, text in watched(path):
        told[kind, "watch"] = text
    notes = {note.name: note.facts for note in read_run(path).events}
    for kind, name in NAMES.items():
        told[kind, "record"] = " ".join(str(notes[name].get(key)) for key in PARTS)
    return places


FAULT = "bowl-probe-open@melt+60s"
PARTS = ("what", "why", "action")
PLACES = [
    *(("alarm", place) for place in ("screen", "story", "record", "watch", "alert", "log")),
    *(("trip", place) for place in ("screen", "record", "summary", "watch", "alert", "log")),
]


def watched(path: Path) -> Iterator[tuple[str, str]]:
    """What `bainward watch` shows of a record, right after each of the two."""
    with Growing(path) as growing:
        retelling = Retelling(growing.header)
        while news := growing.news():
            for record in news:
                retelling.hear(record)
                found = [one.text for one in retelling.facts().alerts if one.cause == CAUSE]
                kinds = [kind for kind, name in NAMES.items() if name == getattr(record, "name", 0)]
                yield from ((kind, text) for kind in kinds for text in found)


@pytest.mark.parametrize(("kind", "place"), PLACES)
def test_each_place_says_what_why_and_what_to_do_in_this_order(
    run: Places, kind: str, place: str
) -> None:
    facts, text = run.events[kind].facts, run.told[kind, place]
    assert facts["why"] == why(CAUSE) != ""
    found = [text.find(str(facts[part])) for part in PARTS]
    assert -1 < found[0] < found[1] < found[2]


@pytest.mark.parametrize("kind", NAMES)
def test_the_record_has_the_priority_of_each(run: Places, kind: str) -> None:
    assert run.events[kind].facts["priority"] == PRIORITIES[CAUSE]
