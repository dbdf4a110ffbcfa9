"""Profiles that must be refused: each names file, key, what is wrong and what to write.

Responsible for one spoilt place at a time; not for shipped profiles.
"""

import re
from pathlib import Path

import pytest

from controller.core.machine import Machine
from controller.errors import Exit, ProfileError
from controller.files.machine_file import load_machine_file
from controller.files.profile_file import load_profile
from tests.helpers.records import replace

SOUND = (Path(__file__).parent / "bad_files" / "sound_profile.toml").read_text(encoding="utf-8")
MACHINE = load_machine_file(None).machine


def spoilt(*edits: tuple[str, str]) -> str:
    """The sound text with the first occurrence of each old text replaced."""
    text = SOUND
    for old, new in edits:
        assert old in text, f"the test's own text is gone: {old}"
        text = text.replace(old, new, 1)
    return text


def complaint(folder: Path, text: str, machine: Machine = MACHINE) -> str:
    """What is said about a file of that text."""
    path = folder / "mine.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(ProfileError) as caught:
        load_profile(str(path), machine)
    assert caught.value.exit_code is Exit.BAD_FILE
    return str(caught.value)


def from_phase(name: str, old: str, new: str) -> tuple[str, str]:
    """An edit of the first `old` after the phase's name."""
    head, rest = SOUND.split(f'name = "{name}"', 1)
    before, _ = rest.split(old, 1)
    assert head
    return f'name = "{name}"{before}{old}', f'name = "{name}"{before}{new}'


MELT, COOL, HOLD = 'phase "melt" · ', 'phase "cool" · ', 'phase "hold" · '
SWAP, LATE = f'{COOL}question "swap" · ', f'{COOL}question "late-seed" · '
TEST, FINISH = f'{HOLD}question "set-test" · ', f'{HOLD}question "finish" · '

WARMED = from_phase("hold", '"31.5 C"', '"31.5 C"\nwarm_to = "33 C"')
COOLER = ('"31.5 C"', '"31.5 C"\nwarm_to = "31 C"')

SEED_BATH, NEVER_57 = ('"33.4 C"', '"33.5 C"'), ('bath = "60 C"', 'bath = "57 C"')
PAUSED = '"26 C" to "33.4 C"'

# Each: what it shows, the edits, the key named, the remedy.
BAD = [
    # single values
    ("a bare number", [('"50 C"', "50")], f"{MELT}bowl", 'write "50 C" or "50 F"'),
    ("a bare text", [('"50 C"', '"50"')], f"{MELT}bowl", 'write "50 C" or "50 F"'),
    ("a decimal comma", [('"50 C"', '"50,5 C"')], f"{MELT}bowl", 'write it like "45 C"'),
    ("fahrenheit as celsius", [('"50 C"', '"122 C"')], f"{MELT}bowl", 'did you mean "122 F"?'),
    ("over the compiled bath", [('"60 C"', '"71 C"')], "never_above · bath", 'to "70 C"'),
    ("over the compiled bowl", [('"55 C"', '"61 C"')], "never_above · bowl", 'to "60 C"'),
    ("a span in celsius", [('"0.5 K"', '"0.5 C"')], f"{MELT}tolerance", 'write "0.5 K"'),
    ("no tolerance", [('"0.5 K"', '"0 K"')], f"{MELT}tolerance", 'write "0.1 K" to "3 K"'),
    ("a negative time", [('"60 s"', '"-1 s"')], f"{MELT}settle", 'write "0 s" to "30 min"'),
    ("a bare time", [('"10 min"', "600")], f"{MELT}dwell", '"600 s" or "600 min" or "600 h"'),
    ("a wild stirrer", [('"30 rpm"', '"3000 rpm"')], f"{MELT}stirrer", 'to "200 rpm"'),
    ("a bare share", [('"90 %"', "0.9")], f"{SWAP}share", 'write "0.9 %"'),
    ("more than all", [('"90 %"', '"190 %"')], f"{SWAP}share", 'to "100 %"'),
    ("a long probe wait", [('"20 s"', '"10 min"')], "outcome · lost_probe_wait", 'to "30 s"'),
    (
        "a text for a truth",
        [("= false", '= "no"')],
        "adds_energy",
        "write adds_energy = true or adds_energy = false",
    ),
    ("a loud word", [('"sample"', '"My Curve!"')], "name", "write a-z, 0-9 and hyphens"),
    ("no title", [('"Sample"', '"  "')], "title", "in quotes"),
    ("a bell in the title", [('"Sample"', r'"Sam\u0007ple"')], "title", "leave them out"),
    # keys, tables and words
    ("an unknown key", [("dwell =", "dwel =")], f"{MELT}dwel", "did you mean dwell?"),
    ("a strange key", [("schema = 1", "schema = 1\nxyzzy = 2")], "xyzzy", "known are schema, name"),
    ("a missing key", [('bath_cut = "58 C"\n', "")], f"{MELT}bath_cut", 'bath_cut = "58 C"'),
    ("a missing table", [("[never_above]", "[never_abov]")], "never_above", "[never_above]"),
    ("no source", [("source =", "sauce =")], "source", "write source ="),
    ("a misspelt kind", [('"dark"', '"drak"')], "kind", 'write "dark"'),
    ("a misspelt moment", [('"start"', '"startt"')], f"{SWAP}when", 'write "start"'),
    ("a misspelt action", [('"swap-water"', '"swap-wine"')], f"{SWAP}action", '"swap-water"'),
    ("a misspelt end", [('"trip"', '"tripp"')], f"{COOL}late_action", 'write "trip"'),
    ("a newer schema", [("schema = 1", "schema = 2")], "schema", "write schema = 1"),
    ("no schema", [("schema = 1", "")], "schema", "write schema = 1"),
    ("a phase as a text", [("[[phase]]", "[phase]")], "line", "[name] or [[name]]"),
    # the whole profile
    ("dark too hot", [('"55 C"', '"58.5 C"')], "never_above · bowl", 'at most "58 C"'),
    (
        "milk too hot",
        [('"dark"', '"milk"'), ('"55 C"', '"51 C"')],
        "never_above · bowl",
        'at most "50 C"',
    ),
    (
        "white too hot",
        [('"dark"', '"white"'), ('"55 C"', '"50.5 C"')],
        "never_above · bowl",
        'at most "50 C"',
    ),
    ("over the machine's bath", [('"60 C"', '"63 C"')], "never_above · bath", 'at most "62 C"'),
    ("twin phases", [('"hold"', '"melt"')], "phase · name", "give each its own name"),
    ("twin questions", [('"finish"', '"swap"')], "question · id", "give each its own id"),
    ("all seed", [('"8 %"', '"48 %"')], "question · share", "a sum below 50 %"),
    ("late seed too warm", [('"33.8 C"', '"34 C"')], "question · bowl", 'at most "33.8 C"'),
    ("late seed for milk", [('"dark"', '"milk"')], "question · bowl", 'at most "32.3 C"'),
    (
        "late seed too early",
        [('"bowl-at-most"\nbowl = "33.8 C"', '"reached"')],
        "question · bowl",
        'when = "bowl-at-most"',
    ),
    ("a seeded coating", [('"dark"', '"compound"')], "kind", "compound can't do add-seed"),
    ("seeded water", [('"dark"', '"water"')], "kind", "leave it out or write another kind"),
    # one phase
    ("target over never", [('"50 C"', '"54.8 C"')], f"{MELT}bowl", 'at most "54.5 C"'),
    ("a bath too hot", [('"56 C"', '"58.4 C"')], f"{MELT}bath_ceiling", 'at most "58 C"'),
    ("hold too hot", [from_phase("hold", "33.4", "34")], f"{HOLD}bath_ceiling", '"33.4 C"'),
    (
        "hold too far over it",
        [from_phase("hold", "31.5", "31"), ('"33.4 C"', '"33.1 C"')],
        f"{HOLD}bath_ceiling",
        'at most "33 C"',
    ),
    (
        "held where crystals melt",
        [from_phase("hold", "31.5", "32.9"), ('"33.4 C"', '"33.8 C"')],
        f"{HOLD}bowl",
        'at most "32.7 C"',
    ),
    ("a seed bath too hot", [SEED_BATH], f"{COOL}bath_ceiling", 'at most "33.4 C"'),
    ("a bath without a cut", [NEVER_57], f"{MELT}bath_ceiling", 'at most "55.5 C"'),
    ("a ceiling too low", [('"56 C"', '"51 C"')], f"{MELT}bath_ceiling", 'at least "51.6 C"'),
    ("a cut too near", [('"58 C"', '"57 C"')], f"{MELT}bath_cut", 'at least "57.5 C"'),
    ("a cut over never", [('"58 C"', '"61 C"')], f"{MELT}bath_cut", 'at most "60 C"'),
    ("a cut under the bath", [('"57.5 C"', '"50 C"')], f"{COOL}bath_cut", 'at least "57.5 C"'),
    ("a still target", [from_phase("cool", "26", "29")], f"{COOL}stir_from", 'at most "28 C"'),
    ("a pause that sets", [from_phase("cool", "32", "25")], f"{COOL}pause_at", PAUSED),
    ("a pause too hot", [from_phase("cool", "32", "40")], f"{COOL}pause_at", PAUSED),
    ("a warming too far", [WARMED], f"{HOLD}warm_to", 'at most "32.5 C"'),
    ("a warming downwards", [from_phase("hold", *COOLER)], f"{HOLD}warm_to", 'than "31.5 C"'),
    (
        "a warmed melt",
        [('"50 C"', '"50 C"\nwarm_to = "50.5 C"')],
        f"{MELT}warm_to",
        "only the last",
    ),
    ("late before dwell", [('"2 h"', '"11 min"')], f"{MELT}late_after", "a longer time than"),
    ("a rate too fast", [('"1 K/min"', '"3 K/min"')], f"{MELT}rate_limit", "leave it out"),
    ("a rate too slow", [('"1 K/min"', '"0.1 K/min"')], f"{MELT}rate_limit", "a faster rate"),
    # one question
    ("no bowl to wait for", [('bowl = "33.8 C"\n', "")], f"{LATE}bowl", 'write bowl = "33.5 C"'),
    (
        "a bowl for nothing",
        [('share = "90 %"', 'share = "90 %"\nbowl = "33 C"')],
        f"{SWAP}bowl",
        'write when = "bowl-at-most"',
    ),
    ("never asked", [('"33.8 C"', '"27 C"')], f"{LATE}bowl", 'write at least "28 C"'),
    ("no share", [('share = "2 %"\n', "")], f"{LATE}share", 'write share = "10 %"'),
    (
        "a share for nothing",
        [('action = "set-test"', 'action = "set-test"\nshare = "5 %"')],
        f"{TEST}share",
        "leave it out",
    ),
    (
        "an amount nobody is told",
        [('share = "90 %"\n', ""), ("Swap {mass} of", "Swap some of")],
        f"{SWAP}text",
        "write {mass}",
    ),
    (
        "a computed amount and an unfilled one",
        [('share = "90 %"\n', ""), ("Swap {mass} of", "Swap {mass} or {less} of")],
        f"{SWAP}text",
        "no other braces",
    ),
    (
        "computed, with a warm tap",
        [('share = "90 %"\nwater = "15 C"', 'water = "28 C"')],
        f"{SWAP}water",
        'less than "28 C"',
    ),
    (
        "water for nothing",
        [('share = "2 %"', 'share = "2 %"\nwater = "15 C"')],
        f"{LATE}water",
        "leave it out",
    ),
    ("warm water", [('"15 C"', '"30 C"')], f"{SWAP}water", 'less than "28 C"'),
    ("an unfilled amount", [("clean?", "clean {mass}?")], f"{TEST}text", "no other braces"),
    (
        "no choice",
        [(SOUND[SOUND.rindex('[[phase.question.choice]]\nword = "finished"') :], "choice = []\n")],
        f"{FINISH}choice",
        "write [[phase.question.choice]]",
    ),
    ("twin choices", [('"longer"', '"finished"')], f"{FINISH}choice", "give each its own"),
    (
        "no way out",
        [
            (
                '"finished"\nadds_energy = false',
                '"finished"\nadds_energy = true\nthen = "dwell-again"',
            )
        ],
        f"{FINISH}choice",
        'write then = "continue" or "stop"',
    ),
    ("free heat", [("= true", "= false")], f"{FINISH}choice", "write adds_energy = true"),
    ("again too soon", [('"dwelled"', '"start"')], f"{FINISH}choice", 'when = "dwelled"'),
    (
        "a verdict without a test",
        [('action = "set-test"\n', "")],
        f"{TEST}choice",
        'write action = "set-test"',
    ),
    (
        "a test without a verdict",
        [('verdict = "in-temper"\n', ""), ('verdict = "not-in-temper"\n', "")],
        f"{TEST}choice",
        'write verdict = "in-temper"',
    ),
    (
        "a test that can't be passed",
        [('verdict = "in-temper"\n', "")],
        f"{TEST}choice",
        'write verdict = "in-temper"',
    ),
    (
        "a test that can't be failed",
        [('verdict = "not-in-temper"\n', "")],
        f"{TEST}choice",
        'verdict = "not-in-temper"',
    ),
    (
        "half a silence",
        [('unanswered_after = "10 min"\n', "")],
        f"{SWAP}unanswered_choice",
        "write both, or neither",
    ),
    ("a silent stranger", [('"skipped"', '"nobody"')], f"{SWAP}unanswered_choice", "done, skipped"),
    (
        "a silence that heats",
        [('"skipped"\nadds_energy = false', '"skipped"\nadds_energy = true')],
        f"{SWAP}unanswered_choice",
        "write a choice with adds_energy = false",
    ),
    (
        "a silence before the deed is done",
        [('unanswered_after = "10 min"', 'unanswered_after = "10 min"\ntakes = "10 min"')],
        f"{SWAP}unanswered_after",
        "write more than takes",
    ),
    (
        "a deed that takes a day",
        [('unanswered_after = "10 min"', 'unanswered_after = "10 min"\ntakes = "24 h"')],
        "takes",
        'write "10 s" to "1 h"',
    ),
    (
        "a silence that stands at the machine",
        [('"skipped"\nadds_energy = false', '"skipped"\nadds_energy = false\nat_machine = true')],
        f"{SWAP}unanswered_choice",
        "write a choice without at_machine",
    ),
    (
        "a word for where somebody stands",
        [('"skipped"\nadds_energy = false', '"skipped"\nadds_energy = false\nat_machine = "no"')],
        "at_machine",
        "must be true or false; write at_machine = true or at_machine = false",
    ),
]


def test_no_hint_at_fahrenheit_for_what_is_just_too_hot(tmp_path: Path) -> None:
    assert "did you mean" not in complaint(tmp_path, spoilt(('"60 C"', '"71 C"')))


@pytest.mark.parametrize(
    ("edits", "key", "remedy"), [case[1:] for case in BAD], ids=[case[0] for case in BAD]
)
def test_a_bad_profile_is_refused_with_file_key_and_remedy(
    tmp_path: Path, edits: list[tuple[str, str]], key: str, remedy: str
) -> None:
    said = complaint(tmp_path, spoilt(*edits))
    lines = [line for line in said.splitlines() if key in line and remedy in line]
    assert lines, said
    assert all(line.startswith(("mine.toml, ", "mine.toml: ")) for line in said.splitlines())


@pytest.mark.parametrize("room_c", [10.0, 20.0, 30.0])
def test_a_hold_that_is_too_warm_brings_one_sentence_whose_advice_is_accepted(
    tmp_path: Path, room_c: float
) -> None:
    warmed = from_phase("hold", '"31.5 C"', '"33.9 C"\nwarm_to = "34 C"')
    (said,) = complaint(tmp_path, spoilt(warmed), replace(MACHINE, room_c=room_c)).splitlines()
    advised = re.search(rf'{HOLD}bowl: .* write at most ("[0-9.]+ C")$', said)
    assert advised
    obeyed = spoilt(from_phase("hold", '"31.5 C"', advised[1]))
    (tmp_path / "mine.toml").write_text(obeyed, encoding="utf-8")
    profile = load_profile(str(tmp_path / "mine.toml"), replace(MACHINE, room_c=room_c))
    assert profile.phases[-1].bowl_target_c < 33.4


def test_the_sound_profile_itself_is_accepted(tmp_path: Path) -> None:
    path = tmp_path / "mine.toml"
    path.write_text(SOUND, encoding="utf-8")
    assert load_profile(str(path), MACHINE).name == "sample"


def test_one_spoilt_place_brings_one_sentence(tmp_path: Path) -> None:
    said = complaint(tmp_path, spoilt(('"58 C"', '"57 C"')))
    assert said == (
        'mine.toml, phase "melt" · bath_cut: the cut must stand 1.5 K above bath_ceiling; '
        'write at least "57.5 C"'
    )


def test_each_of_two_spoilt_places_brings_its_own_line(tmp_path: Path) -> None:
    said = complaint(tmp_path, spoilt(('"58 C"', "58"), ('"50 C"', "50")))
    assert [line.split(":")[0] for line in said.splitlines()] == [
        'mine.toml, phase "melt" · bowl',
        'mine.toml, phase "melt" · bath_cut',
    ]


def test_a_list_item_without_a_name_is_counted(tmp_path: Path) -> None:
    said = complaint(tmp_path, spoilt(('name = "melt"\n', "")))
    assert 'phase 1 · name: is missing; write name = "melt"' in said


def test_a_target_below_the_room_needs_cold_water(tmp_path: Path) -> None:
    warm = replace(MACHINE, room_c=29.0)
    text = spoilt(
        ('action = "swap-water"\nshare = "90 %"\nwater = "15 C"\n', ""),
        ("{mass}", ""),
        ("{water}", ""),
    )
    said = complaint(tmp_path, text, warm)
    assert 'phase "cool" · bowl' in said
    assert 'add a question with action = "swap-water"' in said


def test_a_water_swap_that_is_too_small_for_a_warm_room_is_refused(tmp_path: Path) -> None:
    warm = replace(MACHINE, room_c=29.0)
    said = complaint(tmp_path, spoilt(('"90 %"', '"40 %"')), warm)
    assert 'phase "cool" · bowl: the water swap ends at' in said
    assert "write a bigger share or colder water" in said


def test_a_computed_swap_may_come_twice_where_the_room_is_too_warm(tmp_path: Path) -> None:
    warm, computed = replace(MACHINE, room_c=29.0), ('share = "90 %"\n', "")
    path = tmp_path / "mine.toml"
    path.write_text(spoilt(computed), encoding="utf-8")
    assert load_profile(str(path), warm).phases[1].questions[0].is_computed
    # Three times the batch: once would end at 35.6 °C.
    heavy = replace(warm, batch_kg=4.5)
    assert load_profile(str(path), heavy).name == "sample"
    said = complaint(tmp_path, spoilt(computed), replace(heavy, batch_kg=15.0))
    assert "the water swap ends at" in said


def test_a_first_phase_below_the_room_needs_cold_water_too(tmp_path: Path) -> None:
    hot = replace(MACHINE, room_c=38.0)
    first = 'bowl = "50 C"'
    said = complaint(tmp_path, spoilt((first, 'bowl = "37 C"')), hot)
    assert 'phase "melt" · bowl: the room (38 °C) can\'t cool to this' in said


def test_a_target_that_the_heater_cannot_hold_is_refused(tmp_path: Path) -> None:
    weak = replace(MACHINE, heater_w=60.0)
    said = complaint(tmp_path, SOUND, weak)
    assert 'phase "melt" · bowl: the heater can\'t hold this against the room' in said
    # 0.8 * 60 W / 2.5 W/K over 1 + 0.33/6.2 (own engineering values) above 20 °C.
    assert 'write at most "38.2 C"' in said


def test_a_profile_cannot_raise_the_bowl_limit_of_a_cooler_machine(tmp_path: Path) -> None:
    cool = replace(MACHINE, bowl_max_c=52.0)
    said = complaint(tmp_path, SOUND, cool)
    assert "never_above · bowl: a profile can't raise the machine's bowl limit" in said
    assert 'write at most "52 C"' in said


def test_a_limit_written_in_fahrenheit_is_taken_exactly(tmp_path: Path) -> None:
    path = tmp_path / "mine.toml"
    # 136.4 °F is 58 °C and 133.7 °F is 56.5 °C, by the definition of the Fahrenheit scale.
    text = spoilt(
        ('bath_ceiling = "56 C"', 'bath_ceiling = "56.5 C"'),
        ('"58 C"', '"136.4 F"'),
        ('"57.5 C"', '"136.4 F"'),
    )
    path.write_text(text, encoding="utf-8")
    assert load_profile(str(path), MACHINE).phases[0].bath_cut_c == pytest.approx(58.0)


def test_a_still_phase_may_pause_anywhere_under_its_ceiling(tmp_path: Path) -> None:
    path = tmp_path / "mine.toml"
    cool_still = from_phase("cool", '"30 rpm"', '"0 rpm"')
    path.write_text(spoilt(cool_still), encoding="utf-8")
    assert load_profile(str(path), MACHINE).phases[1].stirrer_rpm == 0.0


def test_one_big_portion_of_seed_may_go_in_at_once(tmp_path: Path) -> None:
    late = SOUND[
        SOUND.index('[[phase.question]]\nid = "late-seed"') : SOUND.index(
            '[[phase]]\nname = "hold"'
        )
    ]
    path = tmp_path / "mine.toml"
    path.write_text(spoilt((late, ""), ('"8 %"', '"25 %"')), encoding="utf-8")
    profile = load_profile(str(path), MACHINE)
    assert [one.id for one in profile.phases[1].questions] == ["swap", "first-seed"]
