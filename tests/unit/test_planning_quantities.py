"""Quantities in any unit, and the slip that is named where one is absurd."""

from datetime import datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.planning import quantities as q
from controller.planning.hours import hour_text, wished_hour
from controller.planning.quantities import Quantity, read, whole

NOON = datetime(2031, 2, 3, 12, 0)  # noqa: DTZ001 - a local clock, as the command hands it in


@pytest.mark.parametrize(
    ("text", "quantity", "value"),
    [
        ("8 g", q.CENTRE, 0.008),
        ("1.5kg", q.BATCH, 1.5),
        ("1,5 kg", q.BATCH, 1.5),
        ("2 lb", q.BATCH, 0.90718474),
        ("80.6 F", q.ROOM, 27.0),
        ("27°C", q.ROOM, 27.0),
        ("27 c", q.ROOM, 27.0),
        ("850 m", q.ALTITUDE, 850.0),
        ("2800 ft", q.ALTITUDE, 853.44),
        ("91.5 kPa", q.PRESSURE, 915.0),
        ("915 mbar", q.PRESSURE, 915.0),
        ("72 %", q.HUMIDITY, 0.72),
        ("72", q.HUMIDITY, 0.72),
        ("3 mm", q.WALL, 0.003),
        ("-20 C", q.FRIDGE, -20.0),
        ("1.5 h", q.WORK, 5400.0),
    ],
)
def test_a_quantity_is_taken_in_whatever_unit(text: str, quantity: Quantity, value: float) -> None:
    assert read(text, quantity) == pytest.approx(value)


@pytest.mark.parametrize(
    ("text", "quantity", "said"),
    [
        ("8 kg", q.CENTRE, "did you mean 8 g?"),
        ("-8 g", q.CENTRE, "did you mean 8 g?"),
        ("1500 kg", q.BATCH, "did you mean 1500 g?"),
        ("30 kg", q.BATCH, "from 0.1 to 20 kg; write one like 1.5 kg"),  # and no ounces
        ("80 lb", q.BATCH, "did you mean 80 oz?"),
        ("1.5 g", q.BATCH, "did you mean 1.5 kg?"),
        ("81 C", q.ROOM, "did you mean 81 F?"),
        ("20 F", q.ROOM, "did you mean 20 C?"),
        ("55 C", q.TAP, "did you mean 55 F?"),
        ("0.65", q.HUMIDITY, "did you mean 65 %?"),
        ("720 %", q.HUMIDITY, "from 5 to 100 %; write one like 55 %"),
        ("850 km", q.ALTITUDE, "did you mean 850 m?"),
        ("91500 hPa", q.PRESSURE, "did you mean 91500 Pa?"),
        ("70 %", q.FAT, "the cocoa on the label is not the fat"),
        ("3 cm", q.WALL, "did you mean 3 mm?"),
        ("40 h", q.WORK, "did you mean 40 min?"),
        ("0.3 mm", q.WALL, "did you mean 0.3 cm?"),
        ("27", q.ROOM, 'has no unit; write "27 C"'),
        ("60", q.TAP, 'has no unit; write "60 F"'),
        ("850", q.ALTITUDE, 'write "850 m" or "850 ft"'),
        ("1,500 g", q.BATCH, "two ways; write 1500 or 1.500"),
        ("3 stone", q.BATCH, "unknown unit; known are kg, g, oz, lb"),
        ("1..5 kg", q.BATCH, "is no number"),
        ("1e9", q.COUNT, "can't be: it should be from 1 to 2000"),
        ("1e400 kg", q.BATCH, "can't be: it should be from 0.1 to 20 kg"),
        ("10000000000 kg", q.BATCH, "can't be: it should be from 0.1 to 20 kg"),
        ("-1e400 C", q.ROOM, "can't be: it should be from 5 to 40 C"),
        ("15e2 kg", q.BATCH, "did you mean 1500 g?"),
        ("warm", q.ROOM, "is no quantity; write one like 21 C"),
        ("nan C", q.ROOM, "is no quantity"),
    ],
)
def test_what_is_absurd_is_refused_and_the_slip_named(
    text: str, quantity: Quantity, said: str
) -> None:
    with pytest.raises(ValueError, match=r"write|mean|label|number|known") as caught:
        read(text, quantity)
    assert said in str(caught.value)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("text", ["0", "-48", "4.5", "48000", "some", ""])
def test_a_number_of_things_is_whole_and_sane(text: str) -> None:
    assert whole("48") == 48
    with pytest.raises(ValueError, match=r"write|mean"):
        whole(text)


@given(
    text=st.text(max_size=30),
    quantity=st.sampled_from([q.BATCH, q.ROOM, q.HUMIDITY, q.PRESSURE, q.WALL, q.COUNT]),
)
def test_whatever_is_written_is_a_sane_value_or_one_sentence(text: str, quantity: Quantity) -> None:
    try:
        value, said = read(text, quantity), "one sentence"
    except ValueError as error:
        value, said = quantity.inside(quantity.low, next(iter(quantity.units))), str(error)
    assert quantity.is_sane(value)
    assert said.isprintable()


@pytest.mark.parametrize(
    ("text", "meant"),
    [
        ("15:00", "15:00"),
        ("3 pm", "15:00"),
        ("12 am", "00:00 tomorrow"),
        ("11:30", "11:30 tomorrow"),
        ("15.30", "15:30"),
        ("tomorrow 8", "08:00 tomorrow"),
        ("2031-02-05 14:00", "14:00 on 2031-02-05"),
    ],
)
def test_an_hour_is_the_next_one_unless_its_day_is_told(text: str, meant: str) -> None:
    assert hour_text(wished_hour(text, NOON), NOON) == meant


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("25:00", "no hour of a day"),
        ("13 pm", "is no hour"),
        ("soon", "is no hour; write"),
        ("today 11:00", "is over"),
        ("2031-02-30 10:00", "no hour of a day"),
        ("2032-02-03 10:00", "more than 30 days ahead"),
    ],
)
def test_an_hour_that_is_none_or_over_is_refused(text: str, said: str) -> None:
    with pytest.raises(ValueError, match=said):
        wished_hour(text, NOON)
