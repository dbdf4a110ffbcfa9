"""What `bainward check` says of a profile and of a machine.

Responsible for the facts in the text; not for its layout.
"""

from pathlib import Path

import pytest

from controller.core.machine import Machine
from controller.core.profile import StopStirrer
from controller.files.explain import explain_machine, explain_profile
from controller.files.machine_file import load_machine_file
from controller.files.profile_file import load_profile, shipped_profiles
from controller.link.settings import LinkSettings, Remote, Tls
from tests.helpers.records import replace

FOLDER = Path(__file__).parent / "bad_files"
BENCH = load_machine_file(None)
MACHINE = BENCH.machine
SOUND = load_profile(str(FOLDER / "sound_profile.toml"), MACHINE)


def of_machine(machine: Machine) -> str:
    """The explanation of the bench with another machine in it."""
    return explain_machine(replace(BENCH, machine=machine), fahrenheit=False)


@pytest.mark.parametrize("name", shipped_profiles())
def test_each_shipped_profile_is_explained_with_source_and_phases(name: str) -> None:
    profile = load_profile(name, MACHINE)
    text = explain_profile(profile, MACHINE, fahrenheit=False)
    assert profile.source in text
    assert profile.notes in text
    assert all(f"\n{phase.name} " in text for phase in profile.phases)


def test_a_phase_is_one_row_of_its_numbers() -> None:
    text = explain_profile(SOUND, MACHINE, fahrenheit=False)
    row = next(line for line in text.splitlines() if line.startswith("melt"))
    assert " ".join(row.split()) == (
        "melt 50.0 °C 0.5 K 10 min 56.0 °C 58.0 °C 30 rpm from 32.0 °C 2 h, warns"
    )


def test_the_columns_of_the_table_stand_under_their_headings() -> None:
    lines = explain_profile(SOUND, MACHINE, fahrenheit=False).splitlines()
    head = next(line for line in lines if line.startswith("phase "))
    row = next(line for line in lines if line.startswith("cool "))
    assert row[head.index("bath up to") :].startswith("33.4 °C")
    assert row[head.index("stirrer") :].startswith("30 rpm")


def test_everything_is_shown_in_fahrenheit_when_asked() -> None:
    text = explain_profile(SOUND, MACHINE, fahrenheit=True)
    assert "122.0 °F" in text  # 50 °C, by the definition of the scale
    assert "0.9 °F" in text  # a span of 0.5 K
    assert "131.0 °F" in text  # 55 °C
    assert "92.8 °F or less" in text  # 33.8 °C


def test_questions_are_shown_with_moment_choices_and_silence() -> None:
    text = explain_profile(SOUND, MACHINE, fahrenheit=False)
    assert "cool, at its start: Swap 2.7 kg of the bath water" in text
    assert "done, skipped; takes skipped after 10 min" in text
    assert "cool, at a bowl of 33.8 °C or less: Add 30 g more of it." in text
    assert "hold, at its target: Is the smear clean?" in text
    assert "hold, after its dwell: Are you finished?" in text
    assert "finished, longer (adds energy); waits for an answer" in text


def test_a_question_for_what_takes_its_time_says_so() -> None:
    text = explain_profile(load_profile("dark", MACHINE), MACHINE, fahrenheit=False)
    assert "clean, streaked, not-set; waits for an answer; says when 5 min are over" in text


def test_a_seeded_profile_says_how_to_part_the_batch() -> None:
    text = explain_profile(SOUND, MACHINE, fahrenheit=False)
    assert "Batch: melt 1.35 kg, keep 150 g as seed." in text  # 10 % of 1.5 kg
    assert "as seed" not in explain_profile(load_profile("dark", MACHINE), MACHINE, False)


def test_a_profile_without_notes_shows_none() -> None:
    assert "Notes" not in explain_profile(SOUND, MACHINE, fahrenheit=False)


def test_a_phase_that_never_stirs_says_so() -> None:
    still = replace(SOUND, phases=(replace(SOUND.phases[0], stirrer_rpm=0.0),))
    assert "  still  " in explain_profile(still, MACHINE, fahrenheit=False)


def test_stop_power_back_and_a_lost_probe_are_said() -> None:
    text = explain_profile(replace(SOUND, stop_stirrer=StopStirrer.OFF), MACHINE, False)
    assert "Stop: heater and stirrer off." in text
    assert "Power back: no heat by itself" in text
    assert "Lost probe: heat is withheld at once; after 20 s the run trips." in text


def test_what_is_not_fitted_is_said_to_be_unseen() -> None:
    text = of_machine(replace(MACHINE, has_level=False, has_shaft=False, has_load=False))
    assert "No level switch: low or lost water can't be seen." in text
    assert "No shaft pulses: a stirrer that stands can't be seen." in text
    assert "No load signal: a belt or paddle that came off, a stirrer that turns" in text


def test_what_is_fitted_is_not_said_to_be_unseen() -> None:
    full = replace(MACHINE, has_level=True, has_shaft=True, has_load=True)
    text = of_machine(replace(full, has_mains=True, has_current=True))
    assert "can't be seen" not in text


def test_a_machine_without_a_second_switch_is_told_what_that_means() -> None:
    told = "No second switch: a relay that welds shut can't be overruled, and only a cut-out keeps"
    assert told in of_machine(MACHINE)
    assert "No second switch" not in of_machine(replace(MACHINE, has_second=True))


def test_a_machine_that_does_not_see_its_heater_is_told_what_that_means() -> None:
    text = of_machine(MACHINE)
    assert "No mains-live input: the first minutes of a switch that stays closed or open" in text
    assert "No heater current: the first minutes of a heater that is dead or of another" in text


def test_a_machine_is_explained_with_limits_sizes_and_reach() -> None:
    text = explain_machine(load_machine_file(FOLDER / "sound_machine.toml"), fahrenheit=True)
    assert "Limits: bath 143.6 °F, bowl 140.0 °F." in text  # 62 and 60 °C
    assert "3 kg of water, vessel 700 J/K, heater 500 W, loss 2.5 W/K to a room at 68.0 °F" in text
    assert "at least 8 s on and 6 s off" in text
    assert "Probe offsets: bath -0.54 °F, bowl 0.5 °F." in text
    assert 'the bench machine "brisk", seed 7; its cook answers after 30 s' in text
    assert "Broker: localhost:8883 as sample-1, not encrypted; nobody may ask" in text
    assert f"Journal: {FOLDER / 'runs'}." in text


@pytest.mark.parametrize(
    ("remote", "words"),
    [
        (Remote.OFF, "encrypted; nobody may ask for heat over it."),
        (Remote.ACCESS_LIST, "whom the broker lets write may ask for what leads to heat."),
        (Remote.SIGNED, "whoever has the signing key may ask for what leads to heat."),
    ],
)
def test_a_machine_is_told_who_may_heat_it_from_afar(remote: Remote, words: str) -> None:
    link = LinkSettings(remote=remote, tls=Tls(ca_file=FOLDER / "ca.crt"))
    text = explain_machine(replace(BENCH, link=link), fahrenheit=False)
    assert words in text
    assert "as bainward, encrypted; " in text


def test_a_machine_without_broker_and_journal_folder_says_so() -> None:
    text = explain_machine(BENCH, fahrenheit=False)
    assert "Broker: none." in text
    assert "Journal: the default folder." in text


@pytest.mark.parametrize(
    ("kind", "sink"), [("pump", "towards 53.6 °F"), ("fan", "towards the room")]
)
def test_who_cools_is_said(tmp_path: Path, kind: str, sink: str) -> None:
    sound = (FOLDER / "sound_machine.toml").read_text(encoding="utf-8")
    sound = sound.replace("[bath]", '[bath]\ncold_water = "12 C"', 1)
    path = tmp_path / "machine.toml"
    path.write_text(sound, encoding="utf-8")
    said = explain_machine(load_machine_file(path), fahrenheit=True)
    assert "Cooling: by the cook, with water at 53.6 °F." in said
    table = f'[cooling]\nkind = "{kind}"\ncarries = "60 W/K"\nmin_on = "7 s"\n'
    path.write_text(sound.replace("[bowl]", f"{table}[bowl]", 1), encoding="utf-8")
    said = explain_machine(load_machine_file(path), fahrenheit=True)
    assert f"Cooling: a {kind} that takes 60 W/K {sink}, at least 7 s on and 10 s off." in said
