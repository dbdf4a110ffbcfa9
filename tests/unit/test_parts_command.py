"""The command `parts`: options, what it chooses, what it warns of, and the page in the document."""

import re
import shlex
from itertools import pairwise
from pathlib import Path

import pytest

from controller.commands.advising import advised
from controller.commands.main import main
from controller.commands.options import parser
from controller.core.machine import Machine
from controller.core.records import replace
from controller.errors import BainwardError, Exit
from controller.files.machine_file import load_machine_file
from controller.files.profile_file import load_profile
from controller.planning.heater import (
    SIZES_W,
    SOON_S,
    Heater,
    Stuck,
    chosen,
    heater,
    lacks_of,
    pot_for,
    water_kg_for,
)
from controller.planning.parts import order_of, parts_for
from controller.planning.probe_budget import probe_kind

DOCUMENT = Path(__file__).resolve().parents[2] / "hardware" / "README.md"


def page(*words: str) -> str:
    """What the command prints, each part in one line."""
    text = advised(parser().parse_args(["parts", *words]))
    return text.replace("\n            ", " ")


def refusal(*words: str) -> str:
    """The sentence in which it is refused."""
    with pytest.raises(BainwardError) as caught:
        page(*words)
    assert caught.value.exit_code is Exit.USAGE
    return str(caught.value)


@pytest.fixture(scope="module")
def machine() -> Machine:
    """The bench's reference."""
    return load_machine_file(None).machine


def sizes(machine: Machine) -> tuple[Heater, ...]:
    """Each usual heater in this pot."""
    profile = load_profile("dark", machine)
    return tuple(heater(power_w, machine, profile, 99.97) for power_w in SIZES_W)


def test_a_batch_is_enough_and_what_is_assumed_is_said() -> None:
    text = page("--batch", "1.5 kg")
    assert text.startswith("Parts for 1.5 kg of dark chocolate on 230 V\n")
    assert "Assumed, as it was not told: a usual pot for it, mains of 230 V, 1-wire" in text


def test_every_danger_stands_beside_its_part_and_the_first_before_everything() -> None:
    text = page("--batch", "1.5 kg")
    first = text.index("DANGER: mains beside hot water")
    assert first < text.index("Heater")
    assert "Your local electrical code comes before it" in text
    for part, danger in (
        ("Stuck on", "DANGER: fire"),
        ("Cut-out", "DANGER: scald"),
        ("Mains", "DANGER: shock"),
        ("Probes", "DANGER: a probe out of the water"),
        ("Stirrer", "DANGER: it starts by itself"),
    ):
        at = text.index(f"\n{part} ")
        after = re.search(r"\n\S", text[at + 1 :])
        assert after is not None
        assert danger in text[at : at + 1 + after.start()], part


def test_the_least_heater_that_is_soon_enough_is_chosen(machine: Machine) -> None:
    every = sizes(machine)
    best = chosen(every)
    assert best is not None
    assert best.melts_p90_s <= SOON_S
    assert all(one.melts_p90_s > SOON_S for one in every if one.power_w < best.power_w)


def a_size(power_w: float, melts_min: float, late_min: float, draws_a: float = 2.0) -> Heater:
    """A heater of these figures."""
    return Heater(
        power_w=power_w,
        draws_a=draws_a,
        draws_high_a=draws_a,
        melts_s=60.0 * melts_min,
        melts_p90_s=60.0 * late_min,
        melt_duty=0.2,
        hold_duty=0.1,
        pulse_k=0.1,
        dry_k_per_min=30.0,
        stuck=Stuck(spoils_s=200.0, boils_s=3000.0),
    )


def test_where_more_power_hardly_helps_the_least_such_is_chosen() -> None:
    # 800 W alone is done within the hour, and saves a minute over a fourth of the power.
    flat = (a_size(200.0, 45.0, 63.0), a_size(400.0, 44.5, 62.0), a_size(800.0, 44.0, 60.0))
    assert chosen(flat) == flat[0]
    large = (a_size(200.0, 160.0, 230.0), a_size(400.0, 80.0, 110.0), a_size(800.0, 70.0, 98.0))
    assert chosen(large) == large[1]
    quick = (a_size(200.0, 40.0, 58.0), a_size(400.0, 20.0, 29.0), a_size(800.0, 10.0, 15.0))
    assert chosen(quick) == quick[0]


def test_no_size_that_draws_too_much_is_chosen() -> None:
    assert chosen((a_size(2000.0, 20.0, 30.0, draws_a=18.0),)) is None
    text = page("--batch", "20 kg", "--room", "8 C")
    assert "Heater      NO: none of the usual sizes" in text or "Heater      2000 W" in text


def test_a_batch_larger_than_any_that_was_tried_is_told_to_be_a_guess() -> None:
    assert "take them for guesses" in page("--batch", "6 kg")
    assert "take them for guesses" not in page("--batch", "4 kg")


def test_more_power_melts_no_later_and_leaves_less_time_when_it_sticks(machine: Machine) -> None:
    every = sizes(machine)
    assert all(a.stuck.spoils_s > b.stuck.spoils_s for a, b in pairwise(every))
    assert every[0].melts_s > every[4].melts_s > every[-1].melts_s


def test_low_mains_voltage_forbids_what_draws_too_much() -> None:
    assert "draws" not in page("--batch", "1.5 kg", "--mains", "120 V").split("Mains")[0]
    text = page("--batch", "1.5 kg", "--mains", "100 V", "--heater", "1500 W")
    assert "NO: it draws 16.5 A with the mains high." in text


def test_a_pot_between_those_known_is_between_them() -> None:
    low, some, high = pot_for(0.5), pot_for(1.0), pot_for(1.5)
    assert all(a < b < c or a == b for a, b, c in zip(low, some, high, strict=True))
    assert pot_for(6.0)[0] == pytest.approx(12.0)
    assert pot_for(0.1) == pot_for(0.5)


def test_too_little_water_for_the_pulse_is_told_with_what_would_do(machine: Machine) -> None:
    words = ["--batch", "0.5 kg", "--water", "0.5 kg", "--heater", "2000 W", "--shortest", "10 s"]
    text = page(*words)
    assert "NO: one pulse of 10 s warms the bath by 8.0 K" in text
    found = re.search(r"take (\d+\.\d) kg of water", text)
    assert found is not None
    small = replace(machine, min_on_s=10.0, vessel_j_per_k=pot_for(0.5)[1])
    assert float(found[1]) == pytest.approx(water_kg_for(2000.0, small), abs=0.05)


def test_a_heater_too_weak_to_melt_it_is_refused_in_words() -> None:
    text = page("--batch", "6 kg", "--heater", "100 W", "--room", "10 C")
    assert "100 W: it never melts this batch" in text
    assert "NO: it never melts it." in text


def test_contacts_that_last_too_few_batches_are_told_so() -> None:
    worn = page("--batch", "1.5 kg", "--relay", "mechanical", "--endurance", "20000")
    assert "fewer than 300: take longer pulses (--shortest) or solid-state" in worn
    fit = page("--batch", "1.5 kg", "--relay", "mechanical")
    assert "replace it before" in fit
    assert "The second, solid-state" in fit
    assert "The second, a relay or contactor" in page("--batch", "1.5 kg")


def test_longer_pulses_spare_a_relay(machine: Machine) -> None:
    def cycles(shortest: str) -> float:
        told = {"batch": "1.5 kg", "relay": "mechanical", "shortest": shortest}
        order = order_of(told, machine, is_own=False)
        return parts_for(order, load_profile("dark", order.machine)).cycles

    assert cycles("4 s") > 1.8 * cycles("8 s")


def test_platinum_of_class_b_does_not_fit_before_it_is_calibrated() -> None:
    text = page("--batch", "1.5 kg", "--probe", "platinum B")
    assert "Platinum, class b" not in text
    assert "±0.46 K at 31.8 °C as sold, its converter ±0.29 K" in text
    before, after = text.split("Calibrated: ")
    assert "That does not fit: calibrate it" in before
    assert "That fits." in after


def test_a_fine_probe_fits_as_it_is_sold() -> None:
    text = page("--batch", "1.5 kg", "--probe", "0.1 K")
    assert "That does not fit" not in text


def test_a_lower_limit_of_the_machine_wants_a_lower_cut_out(tmp_path: Path) -> None:
    text = (DOCUMENT.parents[1] / "hardware/bench/machines/reference.toml").read_text("utf-8")
    path = tmp_path / "cool.toml"
    text = text.replace('bath = "62 C"', 'bath = "54 C"').replace('bowl = "60 C"', 'bowl = "54 C"')
    path.write_text(text, encoding="utf-8")
    assert "Cut-out     70.0 °C" in page("--machine", "reference")
    with pytest.raises(BainwardError, match="54"):
        page("--machine", str(path))  # the dark profile itself wants more
    assert "Cut-out     60.0 °C" in page("--machine", str(path), "--chocolate", "white")


def test_a_machine_s_own_file_is_taken_as_it_is() -> None:
    text = page("--machine", "weak-heater")
    assert "Heater      200 W" in text
    assert "a usual pot" not in text
    assert "mechanical, with pulses of 8 s" in page("--machine", "mechanical-relay")


def test_high_up_the_bath_boils_sooner() -> None:
    assert "(at 93.3 °C)" in page("--batch", "1.5 kg", "--altitude", "2000 m")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ([], "--batch: how much chocolate is it to hold?"),
        (["--batch", "1500 kg"], "did you mean 1500 g?"),
        (["--batch", "1.5"], '"1.5" has no unit'),
        (["--batch", "1 kg", "--mains", "12 V"], "this page is about mains"),
        (["--batch", "1 kg", "--heater", "0.5 W"], "did you mean 0.5 kW?"),
        (["--batch", "1 kg", "--probe", "pt100"], "write 1-wire, platinum with its class"),
        (["--batch", "1 kg", "--probe", "9 K"], "from 0.005 to 3 K"),
        (["--batch", "1 kg", "--probe", "0.2"], "is no thermometer"),
        (["--batch", "1 kg", "--relay", "triac"], "write solid-state or mechanical"),
        (["--batch", "1 kg", "--chocolate", "water"], "write dark, milk or white"),
        (["--batch", "1 kg", "--hold", "2000 min"], "--hold: "),
        (["--batch", "1 kg", "--endurance", "many"], "--endurance: "),
        (["--batch", "1 kg", "--room", "70 C"], "did you mean 70 F?"),
    ],
)
def test_what_makes_no_sense_is_refused_in_one_sentence(words: list[str], said: str) -> None:
    found = refusal(*words)
    assert said in found
    assert "\n" not in found
    assert found.endswith((".", "?"))


def test_thermometers_go_by_several_spellings() -> None:
    assert probe_kind("1-wire") == probe_kind("1 Wire")
    assert probe_kind("Pt100 class A") == probe_kind("platinum a") == probe_kind("pt100A")
    assert probe_kind("±0.2 K") == probe_kind("0,2 K")


def test_the_page_is_printed_and_in_fahrenheit_on_wish(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["parts", "--batch", "1.5 kg", "--units", "F"]) == Exit.DONE
    text = capsys.readouterr().out
    assert "158.0 °F" in text
    assert all(len(line) <= 78 for line in text.splitlines())


def test_what_it_prints_for_a_machine_file_is_taken_by_one(tmp_path: Path) -> None:
    text = advised(parser().parse_args(["parts", "--batch", "2 kg", "--mains", "120 V"]))
    table = text[text.index("[bath]") :]
    rest = """
[limits]
bath = "62 C"
bowl = "60 C"
[fitted]
level_switch = false
shaft_pulses = false
load_signal = false
[attach]
kind = "bench"
machine = "reference"
seed = 1
answer_after = "20 s"
"""
    path = tmp_path / "new.toml"
    path.write_text(f'schema = 1\nname = "new"\n{table}{rest}', encoding="utf-8")
    machine = load_machine_file(path).machine
    assert (machine.batch_kg, machine.mains_v) == (2.0, 120.0)
    assert not [one for one in sizes(machine) if one.power_w == machine.heater_w and lacks_of(one)]


def without_hours(text: str) -> list[str]:
    """The page without the figures that rest on the forecast, which is tuned now and then."""
    return [line for line in text.strip().splitlines() if not re.search(r"\d min|\d h \d\d", line)]


def test_the_page_in_the_document_is_what_its_command_prints() -> None:
    text = DOCUMENT.read_text(encoding="utf-8")
    block = text.partition("<!-- parts -->")[2].partition("<!-- end -->")[0].split("```")
    words = shlex.split(block[1])
    assert words[:3] == ["sh", "bainward", "parts"]
    printed = advised(parser().parse_args(words[2:]))
    assert without_hours(block[3]) == without_hours(printed)
