"""A wish from words: what contradicts itself, and the order in which things are made."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from controller.core.profile import Kind
from controller.files.machine_file import load_machine_file
from controller.files.profile_file import load_profile
from controller.planning.amounts import batch_kg
from controller.planning.plan import carrying, machine_for, plan_of
from controller.planning.sheet import sheet
from controller.planning.wish import Wish, Words, piece_words, shell_words, wish_of

EGG = "hollow egg: egg 160 x 110 mm, wall 3 mm"
STICKS = "candied-peel sticks: 48 x 8 g at 40 %"
MACHINE = load_machine_file(None).machine


def wish(**told: str) -> Wish:
    """With a batch, unless one is told."""
    return wish_of({"batch": "1.2 kg", **told}, [], MACHINE)


def refusal(told: Words, *makes: Words) -> str:
    """What is said to it."""
    with pytest.raises(ValueError, match=": ") as caught:
        wish_of(told, [(f"make {number}", one) for number, one in enumerate(makes, 1)], MACHINE)
    return str(caught.value)


def test_pieces_and_shells_are_read_from_a_line() -> None:
    assert piece_words(STICKS) == {
        "name": "candied-peel sticks",
        "count": "48",
        "centre": "8 g",
        "coating": "40 %",
    }
    assert piece_words("48x8g at 40%") == {"count": "48", "centre": "8g", "coating": "40%"}
    assert shell_words("2 x sphere 120 mm, wall 3 mm, 2 at once") == {
        "count": "2",
        "shape": "sphere",
        "size": "120 mm",
        "wall": "3 mm",
        "at_once": "2",
    }
    assert shell_words(EGG)["size"] == "160 x 110 mm"


@pytest.mark.parametrize("text", ["48", "48 sticks", "", "egg 160 x 110 mm"])
def test_a_line_that_says_something_else_is_refused_with_an_example(text: str) -> None:
    with pytest.raises(ValueError, match='write it like "48 x 8 g at 40 %": number, one centre'):
        piece_words(text)
    with pytest.raises(ValueError, match='write it like "egg 160 x 110 mm, wall 3 mm": shape'):
        shell_words(text)


def test_what_is_made_keeps_its_order() -> None:
    found = wish_of({}, [("b", shell_words(EGG)), ("a", piece_words(STICKS))], MACHINE)
    assert [use.name for use in found.uses] == ["hollow egg", "candied-peel sticks"]
    assert [use.count for use in found.uses] == [1, 48]
    # 48 x 8 g x 0.4 / 0.6 = 256 g, and 200 g left to dip in
    assert found.uses[1].takes_kg == pytest.approx(0.256)
    assert found.uses[1].needs_kg == pytest.approx(0.456)


def test_sizes_may_each_have_a_unit_or_share_the_last_one() -> None:
    both = [
        wish_of({}, [("egg", {"shape": "egg", "size": size, "wall": "3 mm"})], MACHINE).uses[0]
        for size in ("160 x 110 mm", "16 cm x 110 mm")
    ]
    assert both[0] == both[1]


@pytest.mark.parametrize(
    ("shape", "size", "shell_g"),
    [
        # Worked by hand: pi/6 (12^3 - 11.4^3) x 1.3, half of it, pi/6 (16 x 11^2 - 15.4 x 10.4^2)
        # x 1.3, and pi/4 (3^2 x 2 - 2.4^2 x 1.7) x 1.3 g.
        ("sphere", "120 mm", 167.8),
        ("dome", "120 mm", 83.9),
        ("egg", "160 x 110 mm", 184.0),
        ("cup", "30 x 20 mm", 8.38),
    ],
)
def test_each_shape_weighs_what_its_wall_does(shape: str, size: str, shell_g: float) -> None:
    words = {"shape": shape, "size": size, "wall": "3 mm"}
    use = wish_of({}, [("it", words)], MACHINE).uses[0]
    assert 1000.0 * use.takes_kg == pytest.approx(shell_g, rel=2e-3)


def test_more_than_a_few_batches_of_pieces_are_planned_in_rounds() -> None:
    said = refusal({}, {"count": "2000", "centre": "20 g", "coating": "30 %"})
    # 2000 x 20 g x 0.3 / 0.7 = 17.1 kg, 5 % more, 0.2 kg left: 18.2 kg by 1.5 kg
    assert "plan one of 13 rounds" in said


def test_the_least_batch_covers_a_thermometer() -> None:
    cup = {"shape": "cup", "size": "10 x 10 mm", "wall": "1 mm"}
    assert batch_kg(wish_of({}, [("cup", cup)], MACHINE).uses) == 0.1


@given(
    room_c=st.floats(5.0, 40.0),
    humidity=st.floats(5.0, 100.0),
    tap_c=st.floats(1.0, 35.0),
    batch=st.floats(0.1, 6.0),
    kind=st.sampled_from(["dark", "milk", "white"]),
)
@settings(max_examples=40, deadline=None)
def test_every_sane_wish_has_a_page(
    room_c: float, humidity: float, tap_c: float, batch: float, kind: str
) -> None:
    told = {"room": f"{room_c:.2f} C", "tap": f"{tap_c:.2f} C", "chocolate": kind}
    told |= {"humidity": f"{humidity:.2f} %", "batch": f"{batch:.3f} kg"}
    wish = wish_of(told, [], MACHINE)
    profile = load_profile(kind, carrying(wish, MACHINE))
    page = sheet(plan_of(wish, profile, machine_for(wish, MACHINE), MACHINE.batch_kg))
    assert "nan" not in page
    assert "inf" not in page
    assert len(page.splitlines()) <= 60


def test_what_is_not_told_is_assumed_and_said_to_be() -> None:
    found = wish()
    assert (found.kind, found.room_c, found.humidity) == (Kind.DARK, MACHINE.room_c, 0.5)
    assert found.pressure_hpa == pytest.approx(1013.25)
    assert found.seed_c == MACHINE.room_c
    assert found.assumed == ("room", "humidity", "tap", "fridge")
    assert wish(room="27 C", tap="12 C").assumed == ("humidity", "fridge")


def test_a_weather_report_s_pressure_at_a_height_is_seen_through() -> None:
    assert wish(altitude="850 m").pressure_hpa == pytest.approx(915.2, abs=0.5)
    assert wish(altitude="850 m", pressure="905 hPa").pressure_hpa == 905.0
    said = refusal({"batch": "1 kg", "altitude": "850 m", "pressure": "1013 hPa"})
    assert said.startswith("pressure: 1013 hPa is not the air's at 850 m")
    assert "sea level: leave it out" in said


@pytest.mark.parametrize(
    ("told", "said"),
    [
        ({}, 'batch: nothing is to be made; tell pieces, like "48 x 8 g at 40 %", a shell, or a'),
        ({"batch": "1 kg", "chocolate": "mlik"}, "did you mean milk?"),
        ({"batch": "1 kg", "chocolate": "ruby"}, "write one of dark, milk, white"),
        ({"batch": "1 kg", "chocolate": "water"}, "chocolate: "),
        ({"batch": "1 kg", "room": "81 C"}, "room: "),
        ({"batch": "1200 kg"}, "batch: "),
        ({"batch": "15 kg"}, "10 times what the machine reference is for (1.5 kg)"),
        ({"batch": "1 kg", "fat": "70 %"}, "the cocoa on the label"),
    ],
)
def test_a_wish_that_makes_no_sense_is_refused(told: Words, said: str) -> None:
    assert said in refusal(told)


@pytest.mark.parametrize(
    ("make", "said"),
    [
        ({"count": "48", "centre": "8 kg", "coating": "40 %"}, "make 1 · centre: "),
        ({"count": "48", "centre": "8 g", "coating": "0.4"}, "did you mean 40 %?"),
        ({"count": "-48", "centre": "8 g", "coating": "40 %"}, "count: "),
        ({"count": "48", "centre": "8 g"}, "make 1 · coating: is missing"),
        ({"shape": "sphere", "size": "35 mm", "wall": "15 mm"}, "did you mean 1.5 mm"),
        ({"shape": "sphere", "size": "120 mm", "wall": "3 cm"}, "did you mean 3 mm?"),
        ({"shape": "sphere", "size": "12 x 8 cm", "wall": "3 mm"}, "sphere takes one size, not 2"),
        ({"shape": "egg", "size": "16 cm", "wall": "3 mm"}, "egg takes 2 sizes, not 1; write"),
        ({"shape": "sphera", "size": "12 cm", "wall": "3 mm"}, "did you mean sphere?"),
        ({"shape": "cube", "size": "12 cm", "wall": "3 mm"}, "write one of sphere, egg"),
        ({"shape": "egg", "size": "16 x -11 cm", "wall": "3 mm"}, "did you mean 11 cm?"),
    ],
)
def test_a_thing_that_can_t_be_made_is_refused_with_its_place(make: Words, said: str) -> None:
    assert said in refusal({}, make)
