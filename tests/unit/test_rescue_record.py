"""`bainward rescue` by the record of a run: its newest estimate, as old as the record is."""

from collections.abc import Callable
from dataclasses import replace as with_words
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from controller.commands import rescue_record
from controller.commands.main import main
from controller.core.batches import COUNT, TemperState
from controller.core.load_evidence import Melt
from controller.core.profile import Kind
from controller.core.tempering import Temper, Unseen
from controller.errors import Exit
from controller.journal.writer import Journal
from tests.helpers.batch import a_header, a_moment, still_clock
from tests.helpers.records import replace

BEGAN = datetime(2026, 1, 1, 6, 0, tzinfo=UTC)
Rescue = Callable[..., tuple[int, str]]


def estimate(
    form_v: float, verdict: Temper, why: str, unseen: Unseen = Unseen.NOTHING
) -> TemperState:
    """What was judged of a batch with so much form V."""
    return TemperState(
        verdict=verdict,
        confidence=0.9,
        why=why,
        form_v=(0.9 * form_v, form_v, 1.1 * form_v),
        unstable=0.0,
        bank=((form_v, 0.0, 0.6, 0.0, 0.02),) * COUNT,
        melt=Melt(at_rpm=30.0),
        unseen=unseen,
    )


@pytest.fixture
def rescue(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> Rescue:
    """Write a record of an estimate and ask for a rescue so many minutes after its end."""

    def asked(
        temper: TemperState | None, *words: str, minutes: float = 0.0, kind: Kind = Kind.DARK
    ) -> tuple[int, str]:
        named = with_words(a_header(), began_utc=BEGAN.isoformat(), profile_kind=kind)
        path = tmp_path / f"{named.run_id}.jsonl"
        path.unlink(missing_ok=True)
        journal = Journal(path, header=named, clock_s=still_clock)
        given = a_moment(60.0)
        progress = replace(given.state.progress, phase=1)
        judged = temper or TemperState()
        state = replace(given.state, temper=judged, progress=progress, bowl_c=31.8)
        journal.tell(replace(given, state=state))
        journal.finish(None, "stopped")
        now = BEGAN + timedelta(seconds=60.0, minutes=minutes)
        monkeypatch.setattr(rescue_record, "wall_time", lambda: now)
        code = main(["rescue", "--folder", str(tmp_path), *words])
        shown = capsys.readouterr()
        return code, shown.out + shown.err

    return asked


def believed(text: str) -> float:
    """Form V as it is told, % of the fat."""
    return float(text.partition("Form V is about ")[2].split(" ")[0])


LOST = estimate(1e-6, Temper.MELTED_OUT, "The good crystals have melted: form V is about 0 %.")


def test_a_run_whose_crystals_have_melted_gets_seed(rescue: Rescue) -> None:
    code, text = rescue(LOST)
    assert code == Exit.DONE
    assert "the good crystals have melted. The bowl is at 31.8 °C." in text
    assert "Do this: Add seed" in text


def test_a_run_in_temper_is_gone_on_with(rescue: Rescue) -> None:
    good = estimate(0.014, Temper.IN_TEMPER, "In temper: form V is about 1.4 %.")
    assert "Do this: Go on working." in rescue(good)[1]


def test_after_a_while_the_bowl_is_asked_for_and_what_cooled_meanwhile_counts(
    rescue: Rescue,
) -> None:
    good = estimate(0.014, Temper.IN_TEMPER, "In temper: form V is about 1.4 %.")
    code, text = rescue(good, minutes=45.0)
    assert code == Exit.USAGE
    assert "ends 45 min ago" in text
    assert "--bowl '30 C'" in text
    code, text = rescue(good, "--bowl", "29 C", minutes=45.0)
    assert code == Exit.DONE
    assert "Go on working" not in text
    kept_warm = rescue(good, "--bowl", "31.8 C", minutes=45.0)[1]
    assert believed(text) > believed(kept_warm) > 1.4
    code, text = rescue(good, "--bowl", "21 C", minutes=90.0)
    assert "Do this: Melt all of it" in text
    code, text = rescue(good, minutes=1200.0)
    assert code == Exit.USAGE
    assert "ends 20 h ago" in text
    assert "how warm the bowl is now, like bainward rescue set-in-bowl --bowl '21 C'" in text


def test_a_record_that_says_nothing_of_crystals_asks_what_happened(rescue: Rescue) -> None:
    for temper in (None, replace(LOST, unseen=Unseen.BLIND)):
        code, text = rescue(temper)
        assert code == Exit.USAGE
        assert "does not say what its crystals were like" in text


def test_a_run_that_tempers_nothing_is_refused(rescue: Rescue) -> None:
    code, text = rescue(LOST, kind=Kind.COMPOUND)
    assert code == Exit.USAGE
    assert "tempers nothing" in text
