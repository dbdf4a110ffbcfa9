"""What people announce: its words, what the belief makes of it, and what it can never change."""

import math

import pytest

from controller.core.announcement import Announcement, Deed, announced, doubt
from controller.core.hands import LID_OFF_LOSS, MIXING_S
from controller.core.signals import Request, Source, Verb
from controller.core.state import EventName
from controller.core.thermal import BATH, BOWL, DRIFT, LN_R, LOSS
from tests.helpers.records import replace
from tests.helpers.scene import Rig, names

WORDS = [
    ("added 200 g", Announcement(deed=Deed.ADDED, mass_kg=0.2)),
    ("Added  0.2 KG at 20 C", Announcement(deed=Deed.ADDED, mass_kg=0.2, temp_c=20.0)),
    ("added 200g at 20.5 °C", Announcement(deed=Deed.ADDED, mass_kg=0.2, temp_c=20.5)),
    ("topped-up 300 g at 113 F", Announcement(deed=Deed.TOPPED_UP, mass_kg=0.3, temp_c=45.0)),
    ("swapped", Announcement(deed=Deed.SWAPPED)),
    ("swapped 50 % at 15 C", Announcement(deed=Deed.SWAPPED, share=0.5, temp_c=15.0)),
    ("swapped at 15 C", Announcement(deed=Deed.SWAPPED, temp_c=15.0)),
    ("stirrer paused", Announcement(deed=Deed.STIRRER_PAUSED)),
    ("stirrer on", Announcement(deed=Deed.STIRRER_ON)),
    ("lid open", Announcement(deed=Deed.LID_OPEN)),
    ("lid closed", Announcement(deed=Deed.LID_CLOSED)),
]
NO_WORDS = [
    "", "added", "added g", "added 200", "added 50 %", "added -200 g", "added 0 g", "added 6 kg",
    "added nan g", "added 1e3 g", "added 200 g at 101 C", "added 200 g at -1 C", "added 200 g now",
    "swapped 101 %", "swapped 0 %", "swapped 200 g", "lid", "lid open at 20 C", "lid open 5 g",
    "stirrer", "heat on", "added 200 g at 20", "added 0.2 g", "added 200 g at 68 C",
    "topped-up 300 g at 20 C", "topped-up 300 g at 104 C", "added 2\u0660\u0660 g",
]  # fmt: skip


@pytest.mark.parametrize(("text", "meant"), WORDS)
def test_plain_words_mean_a_deed(text: str, meant: Announcement) -> None:
    got = announced(text)
    assert got is not None
    assert got.deed is meant.deed
    for name in ("mass_kg", "share", "temp_c"):
        assert getattr(got, name) == pytest.approx(getattr(meant, name), nan_ok=True)


@pytest.mark.parametrize("text", NO_WORDS)
def test_what_is_no_deed_or_can_not_be_true_means_nothing(text: str) -> None:
    assert announced(text) is None


@pytest.mark.parametrize(("text", "meant"), WORDS)
def test_a_deed_is_told_in_words_that_mean_it(text: str, meant: Announcement) -> None:
    again = announced(meant.words)
    assert again is not None, text
    assert again.words == meant.words


@pytest.mark.parametrize(
    ("text", "slip"),
    [
        ("added 200 kg", "200 kg can't be: 1 g to 5 kg go in at a time; did you mean 200 g?"),
        ("Topped-up  0.3 g at 45 C", "did you mean 0.3 kg?"),
        ("added -200 g", "did you mean 200 g?"),
        ("added 90000 kg", "90000 kg can't be: 1 g to 5 kg go in at a time."),
        ("added 200", "200 has no unit; did you mean 200 g?"),
        ("added 200 g at 68 C", "68 C can't be: from 0 to 40 C can; did you mean 68 F?"),
        ("topped-up 300 g at 113 C", "did you mean 113 F?"),
        ("topped-up 300 g at 45 F", "45 F can't be: from 25 to 60 C can; did you mean 45 C?"),
        ("topped-up 300 g at 300 C", "300 C can't be: from 25 to 60 C can."),
        ("swapped 50 % at 150 C", "did you mean 150 F?"),
        ("added 200 g", ""),
        ("swapped 101 %", ""),
        ("heat on", ""),
    ],
)
def test_a_slip_in_an_announcement_is_named(text: str, slip: str) -> None:
    assert slip in doubt(text)
    assert bool(doubt(text)) is bool(slip)
    assert doubt(text) == "" or announced(text) is None


def wish(text: str, source: Source = Source.LOCAL) -> Request:
    """A person's announcement."""
    return Request(verb=Verb.ANNOUNCE, source=source, announcement=announced(text))


def held() -> Rig:
    """A machine held at its target for a while."""
    return Rig(bath_c=42.0, bowl_c=40.0).start().run(300)


def mean(rig: Rig, index: int) -> float:
    """A number of the belief."""
    assert rig.state.belief is not None
    return rig.state.belief.mean[index]


def test_water_that_is_said_to_be_swapped_is_believed_before_the_probe_shows_it() -> None:
    rig = held()
    before_c = mean(rig, BATH)
    events = rig.step(wish("swapped 50 % at 12 C"))
    assert EventName.DEED_ANNOUNCED in names(events)
    assert mean(rig, BATH) == pytest.approx(0.5 * (before_c + 12.0), abs=0.1)


def test_cold_chocolate_cools_the_bowl_and_melted_chocolate_does_what_it_is_said_to() -> None:
    rig = held()
    before_c = mean(rig, BOWL)
    rig.step(wish("added 300 g at 20 C"))
    assert mean(rig, BOWL) == pytest.approx(before_c + (20.0 - before_c) / 6.0, abs=0.1)
    assert rig.state.belief is not None
    assert rig.state.belief.solid > 0.1
    warm = held()
    warm.step(wish("topped-up 300 g at 45 C"))
    assert mean(warm, BOWL) > before_c
    assert warm.state.belief is not None
    assert warm.state.belief.solid == 0.0


def test_while_added_chocolate_mixes_in_nothing_is_learned_of_the_machine_from_it() -> None:
    rig = Rig(bath_c=33.0, bowl_c=32.0).start().run(10)
    assert rig.state.belief is not None
    rig.state = replace(rig.state, belief=replace(rig.state.belief, has_melted=True))
    rig.step(wish("added 100 g at 20 C"))
    learned = [(mean(rig, LN_R), mean(rig, DRIFT))]
    for _ in range(60):
        rig.bowl_c -= 0.02
        rig.step()
        learned.append((mean(rig, LN_R), mean(rig, DRIFT)))
    assert max(size for size, _ in learned) - min(size for size, _ in learned) < 1e-3
    assert max(heat for _, heat in learned) - min(heat for _, heat in learned) < 1e-3
    assert mean(rig, BOWL) == pytest.approx(rig.bowl_c, abs=0.3)
    rig.run(int(MIXING_S))
    assert rig.state.belief is not None
    assert rig.state.belief.mixing_s == 0.0


def test_an_open_lid_loses_more_until_it_is_closed() -> None:
    rig = held()
    before = mean(rig, LOSS)
    rig.step(wish("lid open"))
    assert mean(rig, LOSS) == pytest.approx(LID_OFF_LOSS * before, rel=0.02)
    rig.step(wish("lid open"))
    assert mean(rig, LOSS) < 1.1 * LID_OFF_LOSS * before
    rig.step(wish("lid closed"))
    assert mean(rig, LOSS) == pytest.approx(before, rel=0.02)


def is_stirred(rig: Rig) -> bool:
    """Whether the stirrer is believed to turn."""
    return rig.state.belief is not None and rig.state.belief.is_stirred


def test_a_paused_stirrer_counts_as_standing_until_it_is_on_or_forgotten() -> None:
    rig = held()
    assert is_stirred(rig)
    rig.step(wish("stirrer paused"))
    rig.step()
    assert not is_stirred(rig)
    rig.step(wish("stirrer on"))
    rig.step()
    assert is_stirred(rig)
    rig.run(61)
    rig.step(wish("stirrer paused"))
    rig.run(600 - 2)
    assert not is_stirred(rig)
    rig.run(4)
    assert is_stirred(rig)


def test_only_a_few_announcements_a_minute_are_taken() -> None:
    rig = held()
    for _ in range(3):
        assert EventName.DEED_ANNOUNCED in names(rig.step(wish("swapped")))
    assert names(rig.step(wish("swapped"))) == [EventName.REQUEST_REFUSED]
    rig.run(60)
    assert EventName.DEED_ANNOUNCED in names(rig.step(wish("swapped")))


def warmest_c(rig: Rig, *every_20_s: Request) -> float:
    """The warmest that the bowl gets within 25 minutes."""
    over_c = rig.bowl_c
    for second in range(1500):
        rig.step(*(() if second % 20 else every_20_s))
        over_c = max(over_c, rig.bowl_c)
    return over_c


def test_nobody_afar_warms_a_bowl_by_saying_again_and_again_that_its_water_is_cold() -> None:
    rig = held()
    told_c = warmest_c(rig, wish("swapped 100 % at 0 C", Source.LINK))
    assert told_c <= warmest_c(held()) + 0.2
    refused = [str(one["reason"]) for one in rig.facts(EventName.REQUEST_REFUSED)]
    assert len(refused) == 70
    assert set(refused) == {"from afar one swap in 5 minutes is taken"}


def test_a_cook_at_the_machine_may_say_two_swaps_in_a_row() -> None:
    rig = held()
    assert EventName.DEED_ANNOUNCED in names(rig.step(wish("swapped 50 % at 12 C", Source.LINK)))
    assert EventName.DEED_ANNOUNCED in names(rig.step(wish("swapped 50 % at 12 C")))


def test_an_announcement_before_there_is_a_belief_or_of_nothing_is_refused() -> None:
    rig = Rig()
    assert EventName.REQUEST_REFUSED in names(
        rig.step(wish("swapped"), bath=rig.readings().bath.__class__(math.nan))
    )
    assert names(held().step(wish("nonsense"))) == [EventName.REQUEST_REFUSED]


def test_more_than_twice_the_batch_is_taken_for_a_slip_between_g_and_kg() -> None:
    rig = held()
    batch_kg = rig.machine.batch_kg
    (refused,) = rig.step(wish(f"added {2.1 * batch_kg:.2f} kg"))
    assert refused.name is EventName.REQUEST_REFUSED
    assert "over twice the batch of 1.5 kg; mind g and kg" in str(refused.facts["reason"])
    (heeded,) = rig.step(wish(f"added {1.9 * batch_kg:.2f} kg"))
    assert heeded.name is EventName.DEED_ANNOUNCED


@pytest.mark.parametrize(
    "said",
    [
        Announcement(deed=Deed.ADDED),
        Announcement(deed=Deed.ADDED, mass_kg=math.inf),
        Announcement(deed=Deed.TOPPED_UP, mass_kg=0.1, temp_c=math.inf),
        Announcement(deed=Deed.SWAPPED, share=2.0, temp_c=15.0),
    ],
)
def test_a_panel_is_not_trusted_to_have_checked_the_numbers(said: Announcement) -> None:
    events = held().step(Request(verb=Verb.ANNOUNCE, announcement=said))
    assert names(events) == [EventName.REQUEST_REFUSED]


def is_counted_anew(rig: Rig) -> bool:
    """Whether the interlocks will count anew after the last tick."""
    return rig.state.watch.memory.touched


def test_the_interlocks_count_anew_only_for_a_person_at_the_machine_and_seldom() -> None:
    rig = held()
    rig.step(wish("swapped", Source.LINK))
    assert not is_counted_anew(rig)
    rig.step(wish("lid open"))
    assert not is_counted_anew(rig)
    rig.step(wish("swapped"))
    assert is_counted_anew(rig)
    rig.step()
    assert not is_counted_anew(rig)
    rig.run(596)
    rig.step(wish("added 100 g"))
    assert not is_counted_anew(rig)
    rig.run(4)
    rig.step(wish("added 100 g"))
    assert is_counted_anew(rig)


@pytest.mark.parametrize(
    ("rig", "cause"),
    [
        (Rig(element_works=False, bath_c=38.0, bowl_c=25.0), "heat-without-effect"),
        (Rig(is_welded=True, bath_c=40.0, bowl_c=40.0), "relay-stuck-on"),
    ],
    ids=["dead element", "welded relay"],
)
def test_no_number_of_announcements_keeps_an_interlock_from_seeing(rig: Rig, cause: str) -> None:
    rig.start()
    for _ in range(120):
        rig.step(wish("swapped 90 % at 10 C"), wish("added 1 kg", Source.LINK))
        rig.run(29, until=lambda rig: bool(rig.state.trips))
        if rig.state.trips:
            break
    assert [trip.cause for trip in rig.state.trips] == [cause]
