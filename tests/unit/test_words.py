"""The headline: one sentence for a lock screen."""

import math

import pytest

from controller.core.outlook import Obstacle, Outlook
from controller.core.profile import Verdict
from controller.core.reasons import fate, why
from controller.core.scales import in_fahrenheit, retold
from controller.core.state import Mode, Trip
from controller.core.words import headline, heat_now, shown_temperature, trip_sentence
from tests.helpers.moments import SET_TEST, TRIP, phase, profile, state

OWN = profile()

SENTENCES = [
    (state(), "Melting: 43.2 °C, on the way to 50.0 °C"),
    (
        state(bowl_c=50.04, reached=True, dwelled_s=130.0),
        "Melting: 50.0 °C, staying there for another 8 min",
    ),
    (state(bowl_c=50.04, reached=True, dwelled=True), "Melting: 50.0 °C, there"),
    (state(bowl_c=31.5, phase=1, reached=True), "Holding: 31.5 °C, there"),
    (
        state(bowl_c=31.5, phase=1, reached=True, verdict=Verdict.IN_TEMPER),
        "Holding: 31.5 °C, in temper",
    ),
    (
        state(phase=0, reached=True, dwelled_s=570.0, verdict=Verdict.IN_TEMPER, bowl_c=50.0),
        "Melting: 50.0 °C, in temper, staying there for another 1 min",
    ),
    (state(phase=9), "Holding: 43.2 °C, on the way to 31.5 °C"),
    (
        state(bowl_c=math.nan, withheld=("bowl-probe-missing",)),
        (
            "Melting: the bowl thermometer gives no value, heat is held back for now "
            "(bowl probe missing)"
        ),
    ),
    (
        state(outlook=Outlook(early_s=1500.0, likely_s=1925.4, late_s=2600.0)),
        "Melting: 43.2 °C, on the way to 50.0 °C; ready in 30 min (23 to 41)",
    ),
    (
        state(outlook=Outlook(obstacle=Obstacle.ROOM, obstacle_c=28.0, room_c=29.04), phase=1),
        (
            "Holding: 43.2 °C, on the way to 31.5 °C. 28.0 °C can't be reached by waiting in a "
            "room of 29.0 °C with the lid on: swap some of the bath's water for colder, or cool "
            "the room."
        ),
    ),
    (
        state(outlook=Outlook(obstacle=Obstacle.TIME, obstacle_c=50.0)),
        (
            "Melting: 43.2 °C, on the way to 50.0 °C. 50.0 °C won't be reached in the next 6 hours "
            "like this."
        ),
    ),
    (
        state(
            phase=1,
            reached=True,
            outlook=Outlook(early_s=9.0, likely_s=9.0, late_s=9.0, is_ready=True),
        ),
        "Holding: 43.2 °C, there",
    ),
    (state(mode=Mode.IDLE), "Nothing is running."),
    (state(mode=Mode.PAUSING), "Going to a pause: 43.2 °C, bowl kept at 45.0 °C"),
    (state(mode=Mode.PAUSED), "Paused: 43.2 °C, bowl kept at 45.0 °C"),
    (state(mode=Mode.RESUMING), "Going on after a pause: 43.2 °C, on the way to 50.0 °C"),
    (state(mode=Mode.STOPPING), "Stopping: heat is off."),
    (state(mode=Mode.STOPPED), "Stopped: heat is off."),
    (state(mode=Mode.ABORTING), "Ending the run early: heat is off."),
    (state(mode=Mode.ABORTED), "The run ended early: heat is off."),
    (state(mode=Mode.COMPLETE), "Finished; no set test was made."),
    (state(mode=Mode.COMPLETE, verdict=Verdict.IN_TEMPER), "Finished: in temper."),
    (state(mode=Mode.COMPLETE, verdict=Verdict.NOT_IN_TEMPER), "Finished, but not in temper."),
]


@pytest.mark.parametrize(("given", "sentence"), SENTENCES)
def test_the_headline_says_where_the_run_stands(given: object, sentence: str) -> None:
    assert headline(given, OWN) == sentence  # type: ignore[arg-type] # the table mixes types


@pytest.mark.parametrize("mode", list(Mode))
def test_every_mode_has_a_headline_of_one_line(mode: Mode) -> None:
    sentence = headline(state(mode=mode), OWN)
    assert sentence
    assert "\n" not in sentence


def test_an_open_question_comes_before_the_temperature() -> None:
    assert headline(state(ask=SET_TEST), OWN) == SET_TEST.text


def test_a_trip_comes_before_a_question_and_says_what_to_do() -> None:
    sentence = headline(state(ask=SET_TEST, trips=(TRIP,), mode=Mode.ABORTED), OWN)
    kept = "The batch is not lost: a new run melts it anew."
    assert sentence == f"Heat is off. {TRIP.what} {why(TRIP.cause)} {TRIP.action} {kept}"


def test_a_phase_of_another_name_is_called_by_it() -> None:
    own = profile(phase("seed"))
    assert headline(state(), own) == "Seed: 43.2 °C, on the way to 50.0 °C"


def test_the_headline_speaks_fahrenheit_on_request() -> None:
    sentence = headline(state(bowl_c=45.0), OWN, fahrenheit=True)
    assert sentence == "Melting: 113.0 °F, on the way to 122.0 °F"


# The Fahrenheit scale by its definition: ice point 32 °F, steam point 212 °F, both scales meet
# at -40 (NIST SP 811, appendix B.9, from memory, not checked).
@pytest.mark.parametrize(("celsius", "fahrenheit"), [(0, 32), (100, 212), (-40, -40), (45, 113)])
def test_fahrenheit_meets_celsius_at_the_fixed_points(celsius: float, fahrenheit: float) -> None:
    assert in_fahrenheit(celsius) == pytest.approx(fahrenheit, abs=1e-12)


# By hand: °F = 1.8 · °C + 32, and a span of 1 K is 1.8 °F.
@pytest.mark.parametrize(
    ("sentence", "in_f"),
    [
        ("Held at 31.5 °C, then 40 °C.", "Held at 88.7 °F, then 104 °F."),
        ("Let it set at 18 to 21 °C (64 to 70 °F).", "Let it set at 64 to 70 °F."),
        ("Keep it at 15 to 18 °C.", "Keep it at 59 to 64 °F."),
        ("Between 18 and 21 °C, or 18-21 °C.", "Between 64 and 70 °F, or 64-70 °F."),
        ("Water at 15.0 °C (59.0 °F) (from the tap).", "Water at 59.0 °F (from the tap)."),
        ("Announce topped-up 182 g at 40 C.", "Announce topped-up 182 g at 104 F."),
        ("It says -5.0 °C, which can't be.", "It says 23.0 °F, which can't be."),
        (
            "They agree within 1 K (2 °F); now 0.3 K warmer.",
            "They agree within 2 °F; now 0.5 °F warmer.",
        ),
        ("A pot warms by 12 K a minute.", "A pot warms by 21.6 °F a minute."),
        (
            "Run 20310203T1-dark-12 Cook 3 Kids 1.5 kg.",
            "Run 20310203T1-dark-12 Cook 3 Kids 1.5 kg.",
        ),
        ("Already 88.7 °F and 0.5 °F warmer.", "Already 88.7 °F and 0.5 °F warmer."),
    ],
)
def test_a_sentence_is_told_again_in_fahrenheit(sentence: str, in_f: str) -> None:
    assert retold(sentence, fahrenheit=True) == in_f
    assert retold(sentence, fahrenheit=False) == sentence


@pytest.mark.parametrize("nothing", [math.nan, math.inf])
def test_a_temperature_that_is_no_number_is_unknown(nothing: float) -> None:
    assert shown_temperature(nothing) == "unknown"


def test_a_relay_that_is_stuck_is_not_promised_to_be_off() -> None:
    trip = Trip(cause="relay-stuck-on", at_s=1.0, what="It rises.", action="Unplug it.")
    assert trip_sentence(trip) == (
        f"Heat was told to be off and may be ON. It rises. {why('relay-stuck-on')} Unplug it. "
        f"{fate('relay-stuck-on')}"
    )


@pytest.mark.parametrize(
    ("causes", "now"),
    [
        (("relay-stuck-on",), "was told to be off and may be ON"),
        (("heater-live-when-off",), "was told to be off and may be ON"),
        (("bath-over-limit",), "was told to be off and may be ON"),
        (("guard-silent",), "was told to be off and may be ON"),
        (("limits-changed",), "was told to be off and may be ON"),
        (("guard-latched",), "was told to be off"),
        (("guard-latched", "heater-live-when-off"), "was told to be off and may be ON"),
        (("level-lost",), "is off"),
        ((), "is off"),
    ],
)
def test_heat_is_called_off_only_where_what_switches_it_is_sound(
    causes: tuple[str, ...], now: str
) -> None:
    assert heat_now(causes) == now


def test_a_trip_says_what_becomes_of_the_batch() -> None:
    assert "not lost" in fate("level-lost")
    assert "smell burnt" in fate("bowl-over-limit")
    assert fate("kind-wrong") == ""  # before any heat
    assert fate("a-word-of-a-newer-version") == ""


def test_once_a_relay_may_be_stuck_no_trip_of_the_run_promises_that_heat_is_off() -> None:
    stuck = Trip(cause="relay-stuck-on", at_s=1.0, what="It rises.", action="Unplug it.")
    over = Trip(cause="bowl-over-limit", at_s=9.0, what="It is hot.", action="Let it cool.")
    hot = f"It is hot. {why('bowl-over-limit')} Let it cool. {fate('bowl-over-limit')}"
    said = f"Heat was told to be off and may be ON. {hot}"
    assert trip_sentence(over, (stuck, over)) == said
    assert trip_sentence(over, (over,)) == f"Heat is off. {hot}"
    assert headline(state(trips=(over, stuck)), profile()) == said
