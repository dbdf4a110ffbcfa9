"""Finding, reading and translating a profile.

Responsible for files as such, shipped names and the way into the core; not for single faults.
"""

import os
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from controller.core.profile import (
    Action,
    Kind,
    LateAction,
    PowerBack,
    Profile,
    StopStirrer,
    Then,
    Verdict,
    When,
)
from controller.errors import ProfileError
from controller.files.machine_file import bench_machine_path, bench_machines, load_machine_file
from controller.files.profile_file import load_profile, seed_share, shipped_profiles

BAD_FILES = Path(__file__).parent / "bad_files"
PROFILES = Path(__file__).parents[2] / "profiles"
SOUND = (BAD_FILES / "sound_profile.toml").read_text(encoding="utf-8")
MACHINE = load_machine_file(None).machine


def sound() -> Profile:
    """The tests' own sound profile."""
    return load_profile(str(BAD_FILES / "sound_profile.toml"), MACHINE)


def refusal(name_or_path: str) -> str:
    """What is said about it."""
    with pytest.raises(ProfileError) as caught:
        load_profile(name_or_path, MACHINE)
    return str(caught.value)


SHIPPED = (
    "compound-coat",
    "dark",
    "dark-seeded",
    "hold-liquid",
    "melt-only",
    "milk",
    "milk-seeded",
    "reset",
    "water-trial",
    "white",
    "white-seeded",
)


def test_the_shipped_profiles_are_those_promised() -> None:
    assert shipped_profiles() == SHIPPED


def test_the_list_of_profiles_tells_of_each_that_is_shipped() -> None:
    listed = Path("profiles/README.md").read_text(encoding="utf-8").split("## ")[0]
    assert [name for name in SHIPPED if f"`{name}`" not in listed] == []


@pytest.mark.parametrize("name", shipped_profiles())
@pytest.mark.parametrize("machine", bench_machines())
def test_each_shipped_profile_suits_each_bench_machine(name: str, machine: str) -> None:
    profile = load_profile(name, load_machine_file(bench_machine_path(machine)).machine)
    assert profile.name == name


def test_the_head_of_a_profile_reaches_the_core() -> None:
    profile = sound()
    assert (profile.name, profile.title, profile.kind) == ("sample", "Sample", Kind.DARK)
    assert profile.source == "own engineering values, not published"
    assert profile.notes == ""
    assert (profile.bowl_never_above_c, profile.bath_never_above_c) == (55.0, 60.0)
    assert (profile.stop_stirrer, profile.power_back) == (StopStirrer.KEEP, PowerBack.ASK)
    assert profile.lost_probe_wait_s == 20.0


def test_a_phase_reaches_the_core_in_our_units() -> None:
    melt, cool, _ = sound().phases
    assert (melt.name, melt.bowl_target_c, melt.tolerance_k) == ("melt", 50.0, 0.5)
    assert (melt.settle_s, melt.dwell_s, melt.rate_limit_k_per_min) == (60.0, 600.0, 1.0)
    assert (melt.bath_ceiling_c, melt.bath_cut_c) == (56.0, 58.0)
    assert (melt.stirrer_rpm, melt.stir_from_c) == (30.0, 32.0)
    assert (melt.late_after_s, melt.late_action) == (7200.0, LateAction.WARN)
    assert cool.rate_limit_k_per_min is None
    assert cool.late_action is LateAction.TRIP


def test_a_pause_is_at_the_target_unless_the_file_says_otherwise() -> None:
    melt, cool, _ = sound().phases
    assert melt.pause_at_c == melt.bowl_target_c
    assert cool.pause_at_c == 32.0


def test_a_question_reaches_the_core_with_its_amounts_filled_in() -> None:
    swap, first, late = sound().phases[1].questions
    # 90 % of 3 kg of water, 8 % and 2 % of a batch of 1.5 kg.
    assert swap.text == "Swap 2.7 kg of the bath water for water at 15.0 °C (59.0 °F)."
    assert first.text == "Add 120 g of seed."
    assert late.text == "Add 30 g more of it."
    assert (swap.action, swap.share, swap.water_c) == (Action.SWAP_WATER, 0.9, 15.0)
    assert (swap.unanswered_s, swap.unanswered) == (600.0, "skipped")
    assert (late.when, late.bowl_c, late.unanswered_s) == (When.BOWL_AT_MOST, 33.8, None)


def test_choices_reach_the_core_with_their_ends_and_verdicts() -> None:
    test, finish = sound().phases[2].questions
    assert [choice.verdict for choice in test.choices] == [
        Verdict.IN_TEMPER,
        Verdict.NOT_IN_TEMPER,
    ]
    assert [(choice.word, choice.adds_energy, choice.then) for choice in finish.choices] == [
        ("finished", False, Then.CONTINUE),
        ("longer", True, Then.DWELL_AGAIN),
    ]


def test_the_seed_is_the_sum_of_its_portions() -> None:
    assert seed_share(sound()) == pytest.approx(0.10)
    assert seed_share(load_profile("dark", MACHINE)) == 0.0


def test_an_unknown_name_is_answered_with_the_nearest_shipped_one() -> None:
    assert refusal("drak").startswith('There is no profile "drak"; did you mean dark?')


def test_a_name_like_none_is_answered_with_all_shipped_ones() -> None:
    said = refusal("xyzzy")
    assert "shipped are " + ", ".join(SHIPPED) in said
    assert "./mine.toml" in said


def test_a_missing_file_is_named_with_what_to_check(tmp_path: Path) -> None:
    assert refusal(str(tmp_path / "none.toml")) == (
        f"none.toml: there is no such file as {tmp_path / 'none.toml'}; check the path"
    )


def test_the_file_name_of_a_shipped_profile_is_answered_with_its_name(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    assert refusal("dark.toml") == (
        "There is no file dark.toml in this folder; the shipped profile is meant by dark alone."
    )
    (tmp_path / "dark.toml").write_text("", encoding="utf-8")
    assert "dark.toml, schema: is missing" in refusal("dark.toml")


def test_a_folder_is_no_profile(tmp_path: Path) -> None:
    assert "can't be read" in refusal(str(tmp_path))


@pytest.mark.skipif(os.geteuid() == 0, reason="the superuser may read everything")
def test_an_unreadable_file_is_named_with_what_to_check(tmp_path: Path) -> None:
    path = tmp_path / "mine.toml"
    path.write_text(SOUND, encoding="utf-8")
    path.chmod(0)
    assert "mine.toml: can't be read (Permission denied)" in refusal(str(path))


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"\xff\xfe", "is not text in UTF-8; save it again as UTF-8"),
        (b"#" * 300_000, "is too big for a file of ours"),
        (b"a = " + b"[" * 5000, "is nested too deeply; write plain tables"),
        (b"schema = 1\nname == 2\n", "not valid TOML in line 2"),
        (b'schema = 1\nname = "dark', "not valid TOML at its end"),
        (b"a = 1\na = 2\n", "not valid TOML in line 2 (Cannot overwrite a value)"),
        (b"schema = " + b"1" * 5000, "holds a number that is too long"),
        (
            b"schema = 0x" + b"f" * 5000,
            "schema: must be a whole number of few digits; write schema = 1",
        ),
        (b"kind = 0x" + b"f" * 5000, 'kind: "a huge number" is not one of dark'),
        (b"never_above.bowl = 0x" + b"f" * 5000, 'bowl: "a huge number" is no number with'),
        (b"", "schema: is missing; write schema = 1"),
        (b"phase = 3", "phase: must be a list of tables; write [[phase]]"),
        (b"phase = []", "phase: must be at least one table; write [[phase]]"),
        (b"phase = [3]", "phase 1: must be a table; write [[phase]]"),
        (b"[[never_above]]", "never_above: must be a table; write [never_above]"),
        (b"title = 3", 'title: "3" is no text'),
        (b"name = 1979-05-27", 'name: "1979-05-27" is not a plain word'),
    ],
)
def test_a_file_that_is_no_profile_is_refused_in_a_sentence(
    tmp_path: Path, content: bytes, said: str
) -> None:
    path = tmp_path / "mine.toml"
    path.write_bytes(content)
    answer = refusal(str(path))
    assert said in answer
    assert all(line.startswith(("mine.toml, ", "mine.toml: ")) for line in answer.splitlines())


def test_phases_that_all_have_a_fault_are_not_called_none(tmp_path: Path) -> None:
    path = tmp_path / "mine.toml"
    path.write_text(SOUND.replace(' rpm"', '"'), encoding="utf-8")
    answer = refusal(str(path))
    assert "stirrer" in answer
    assert "at least one table" not in answer


def test_a_path_with_a_null_byte_is_refused() -> None:
    assert refusal("a\0/b.toml") == "b.toml: is no path; write one without null bytes"


def test_a_byte_order_mark_is_no_hindrance(tmp_path: Path) -> None:
    path = tmp_path / "mine.toml"
    path.write_text(SOUND, encoding="utf-8-sig")
    assert load_profile(str(path), MACHINE) == sound()


def test_a_hopeless_file_brings_no_more_than_twenty_sentences(tmp_path: Path) -> None:
    path = tmp_path / "mine.toml"
    path.write_text("\n".join(f"strange{n} = 1" for n in range(40)), encoding="utf-8")
    assert len(refusal(str(path)).splitlines()) == 20


def refusal_or_nothing(path: Path) -> str:
    """The refusal, or nothing when the file loads; any other exception escapes."""
    try:
        load_profile(str(path), MACHINE)
    except ProfileError as error:
        return str(error)
    return ""


@settings(
    max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(data=st.data())
def test_a_mutated_profile_loads_or_is_refused_and_nothing_else(
    tmp_path: Path, data: st.DataObject
) -> None:
    text = SOUND
    for _ in range(data.draw(st.integers(1, 3))):
        begin = data.draw(st.integers(0, len(text)))
        end = data.draw(st.integers(begin, min(len(text), begin + 12)))
        text = text[:begin] + data.draw(st.text(max_size=6)) + text[end:]
    path = tmp_path / "mutant.toml"
    path.write_text(text, encoding="utf-8", errors="replace", newline="")
    said = refusal_or_nothing(path)
    assert all(line.startswith(("mutant.toml, ", "mutant.toml: ")) for line in said.splitlines())


VALUES = st.recursive(
    st.sampled_from(['"45 C"', '"1 K"', '"dark"', "true", "nan", "-inf", "0", "1e400", "07:32:00"]),
    lambda inner: (
        st.lists(inner, max_size=3).map(lambda parts: f"[{', '.join(parts)}]")
        | st.lists(inner, max_size=3).map(
            lambda parts: "{" + ", ".join(f"name{n} = {part}" for n, part in enumerate(parts)) + "}"
        )
    ),
    max_leaves=6,
)
LINES = [line for line in SOUND.splitlines() if " = " in line]


@settings(
    max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(line=st.sampled_from(LINES), value=VALUES)
def test_any_value_at_any_key_loads_or_is_refused_and_nothing_else(
    tmp_path: Path, line: str, value: str
) -> None:
    key = line.partition(" = ")[0]
    path = tmp_path / "mutant.toml"
    path.write_text(SOUND.replace(line, f"{key} = {value}", 1), encoding="utf-8")
    said = refusal_or_nothing(path)
    assert all(line.startswith("mutant.toml, ") for line in said.splitlines())


def test_the_example_of_the_readme_loads(tmp_path: Path) -> None:
    readme = (PROFILES / "README.md").read_text(encoding="utf-8")
    path = tmp_path / "mine.toml"
    path.write_text(readme.split("```toml\n")[1].split("```")[0], encoding="utf-8")
    profile = load_profile(str(path), MACHINE)
    assert [phase.name for phase in profile.phases] == ["melt", "hold"]
    assert profile.phases[1].questions[1].text == "Add 22 g of finely chopped seed."


def test_the_readme_names_every_shipped_profile() -> None:
    readme = (PROFILES / "README.md").read_text(encoding="utf-8")
    assert all(f"`{name}`" in readme for name in shipped_profiles())


def test_a_batch_that_is_tested_for_temper_is_not_held_where_its_crystals_melt(
    tmp_path: Path,
) -> None:
    path = tmp_path / "hot.toml"
    text = (PROFILES / "dark.toml").read_text(encoding="utf-8")
    hot = text.replace('bowl = "31.8 C"', 'bowl = "36 C"').replace('"33.4 C"', '"38 C"')
    path.write_text(hot.replace('"35.3 C"', '"40 C"'), encoding="utf-8")
    with pytest.raises(ProfileError, match=r"good crystals may melt; write at most .32\.7 C."):
        load_profile(str(path), MACHINE)
