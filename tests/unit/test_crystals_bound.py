"""What a profile may ask of the bath once the batch has crystals to lose.

Responsible for shipped profiles bent in one place; not for single values (test_profile_refusals).
"""

import re
from pathlib import Path

import pytest

from controller.core.machine import Machine
from controller.core.profile import Profile
from controller.errors import ProfileError
from controller.files.crystals import crystals_from, tempers
from controller.files.machine_file import load_machine_file
from controller.files.profile_file import load_profile
from tests.helpers.records import replace

PROFILES = Path(__file__).parents[2] / "profiles"
MACHINE = load_machine_file(None).machine
CLASSIC = ("dark", "milk", "white")
ADVICE = re.compile(r'"(\w+)" · (\w+): .*write at most "([0-9.]+ C)"')
SEEDED = ("dark-seeded", "milk-seeded", "white-seeded")


def shipped(name: str) -> str:
    """The text of a shipped profile."""
    return (PROFILES / f"{name}.toml").read_text(encoding="utf-8")


def bent(text: str, phase: str, **values: str) -> str:
    """That text with other values in one phase; an empty one takes the key out."""
    head, rest = text.split(f'name = "{phase}"', 1)
    inside, mark, after = rest.partition("[[phase]]")
    for key, value in values.items():
        line = f'{key} = "{value}"' if value else ""
        inside, count = re.subn(rf"^{key} = .*$", line, inside, count=1, flags=re.MULTILINE)
        inside = inside if count else f"\n{line}{inside}"
    return f'{head}name = "{phase}"{inside}{mark}{after}'


def untested(text: str) -> str:
    """That text without its set test."""
    begin = text.index('[[phase.question]]\nid = "set-test"')
    return text[:begin] + text[text.index('[[phase.question]]\nid = "finish"') :]


def said_of(folder: Path, text: str, machine: Machine = MACHINE) -> list[str]:
    """What is said about a file of that text, a line each; nothing when it is accepted."""
    path = folder / "mine.toml"
    path.write_text(text, encoding="utf-8")
    try:
        load_profile(str(path), machine)
    except ProfileError as error:
        return str(error).splitlines()
    return []


def loaded(name: str) -> Profile:
    """A shipped profile."""
    return load_profile(name, MACHINE)


@pytest.mark.parametrize("name", [*CLASSIC, *SEEDED])
def test_crystals_are_there_from_the_coolest_phase_or_the_seed_on(name: str) -> None:
    assert crystals_from(loaded(name)) == 1


def test_seed_that_melts_whole_brings_no_crystals_to_lose() -> None:
    trap = load_profile(str(PROFILES / "examples" / "seed-at-once.toml"), MACHINE)
    assert [phase.name for phase in trap.phases][1:3] == ["seed", "cool"]
    assert crystals_from(trap) == 2


@pytest.mark.parametrize(
    "name", ["compound-coat", "hold-liquid", "melt-only", "reset", "water-trial"]
)
def test_what_is_only_melted_has_no_crystals_to_lose(name: str) -> None:
    assert not tempers(loaded(name))
    assert crystals_from(loaded(name)) is None


def test_a_tested_batch_that_never_cools_is_bound_where_it_is_tested() -> None:
    dark = loaded("dark")
    hot = tuple(replace(phase, bowl_target_c=40.0) for phase in dark.phases)
    assert crystals_from(replace(dark, phases=hot)) == len(hot) - 1


@pytest.mark.parametrize("phase", ["cool", "rewarm"])
def test_no_phase_with_crystals_may_stand_in_a_bath_that_melts_them(
    tmp_path: Path, phase: str
) -> None:
    # Accepted once, and a bowl's thermometer that crept away melted the batch.
    text = bent(shipped("dark"), phase, bath_ceiling="45 C", bath_cut="58 C", pause_at="44 C")
    for later in ("rewarm", "hold"):
        text = bent(text, later, bath_cut="58 C")
    ceiling, pause = said_of(tmp_path, text)
    assert f'phase "{phase}" · bath_ceiling: ' in ceiling
    assert ceiling.endswith('write at most "33.4 C"')
    assert f'phase "{phase}" · pause_at: ' in pause
    assert pause.endswith('to "33.4 C"')


def test_a_seed_phase_may_not_stand_in_one_either(tmp_path: Path) -> None:
    text = bent(shipped("dark-seeded"), "seed", bath_ceiling="50 C")
    (said,) = said_of(tmp_path, bent(text, "hold", bath_cut="55 C"))
    assert 'phase "seed" · bath_ceiling: ' in said


@pytest.mark.parametrize("name", ["dark", "dark-seeded"])
def test_a_batch_without_a_set_test_has_crystals_too(tmp_path: Path, name: str) -> None:
    text = bent(untested(shipped(name)), "hold", warm_to="")
    assert said_of(tmp_path, text) == []
    hot = bent(text, "hold", bowl="33.5 C", bath_ceiling="35.5 C", bath_cut="37 C")
    bowl, ceiling = said_of(tmp_path, hot)
    assert bowl.endswith('write at most "32.7 C"')
    assert ceiling.endswith('write at most "33.4 C"')


@pytest.mark.parametrize("room_c", [0.0, 5.0, 8.0, 10.0, 13.0, 14.0])
@pytest.mark.parametrize(
    "name", [*CLASSIC, *SEEDED, "compound-coat", "hold-liquid", "melt-only", "reset"]
)
def test_who_does_what_is_said_in_a_cold_room_is_not_refused_again(
    tmp_path: Path, name: str, room_c: float
) -> None:
    cold, text = replace(MACHINE, room_c=room_c), shipped(name)
    for _ in range(4):
        said = said_of(tmp_path, text, cold)
        if not said:
            return
        assert all("write at least" not in one for one in said)
        for one in filter(None, map(ADVICE.search, said)):
            text = bent(text, one[1], **{one[2]: one[3]})
        warmer = [one for one in said if "warm_to" in one]
        text = bent(text, "hold", warm_to="") if warmer else text
    pytest.fail("\n".join(said))


def test_a_room_that_is_too_cold_may_be_warmed_instead(tmp_path: Path) -> None:
    (said, _) = said_of(tmp_path, shipped("white"), replace(MACHINE, room_c=12.0))
    told = re.search(r"warm the room to (\d+) °C, or write", said)
    assert told
    assert said_of(tmp_path, shipped("white"), replace(MACHINE, room_c=float(told[1]))) == []


def test_chocolate_is_not_to_be_warmed_beyond_what_its_bath_keeps(tmp_path: Path) -> None:
    # (30.9 + 0.0532 * 20) / 1.0532 = 30.35 °C: what a bath of 30.9 °C keeps in a room of 20 °C.
    (said,) = said_of(tmp_path, bent(shipped("white"), "hold", warm_to="30.5 C"))
    assert "in a room of 20 °C a bath at its ceiling keeps it no warmer" in said
    assert said.endswith('write more than "30 C" and at most "30.3 C", or leave it out')
    full = bent(shipped("milk"), "hold", bowl="31.2 C", warm_to="31.5 C")
    assert said_of(tmp_path, full)[0].endswith("keeps it no warmer; leave it out")


@pytest.mark.parametrize("name", [*CLASSIC, *SEEDED])
def test_a_cold_room_alone_forbids_no_warming(tmp_path: Path, name: str) -> None:
    said = said_of(tmp_path, shipped(name), replace(MACHINE, room_c=15.0))
    assert said == []
