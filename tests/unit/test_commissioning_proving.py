"""Each cut of the heat proven on a bench behind files, and each defect that keeps it from being."""

from collections.abc import Callable, Mapping
from pathlib import Path

import pytest

from controller.commissioning.proofs import Step
from controller.commissioning.proving import Prover
from controller.errors import StoppedError, UnprovenError
from hardware.bench.faults import BenchFault
from hardware.bench.file_machine import HEATER, SECOND
from tests.helpers.commissioned import Kitchen, Scripted, machine_text, site_in

BOTH = ("second-switch", "mains-live")
BLIND = (
    ('[guard.mains_live]\nkind = "file"\npath = "tree/lines/mains-live"\n', ""),
    ('[guard.second]\nkind = "file"\npath = "tree/lines/second"\n', ""),
)
Deeds = Mapping[str, Callable[[], str]]


def willing(kitchen: Kitchen) -> dict[str, Callable[[], str]]:
    """Somebody who does all that is asked for."""
    return {
        "Water covers": lambda: "yes",
        "Let the cut-out trip": lambda: kitchen.hand("cut-out", "1"),
        "reset it by hand": lambda: kitchen.hand("cut-out", "0"),
        "Press the stop": lambda: kitchen.hand("stop-button", "1"),
        "Release": lambda: kitchen.hand("stop-button", "0"),
    }


def prover(folder: Path, kitchen: Kitchen, deeds: Deeds) -> tuple[Prover, Scripted]:
    """Somebody at the machine, of which only the thermometers are known."""
    person = Scripted(deeds)
    site = site_in(folder, person, kitchen.clock, shown=(Step.PROBES,))
    return Prover(site, kitchen.opened), person


def test_a_sound_machine_is_proven_and_hardly_warmed(tmp_path: Path) -> None:
    kitchen = Kitchen(tmp_path, *BOTH)
    proves, person = prover(tmp_path, kitchen, willing(kitchen))
    proves.run()
    site = proves.site
    done = site.read().steps["prove"]
    assert list(done.facts) == [
        *("off-is-dead", "second-opens", "first-opens", "on-is-live"),
        *("guard-bites", "cut-out", "stop-button"),
    ]
    assert done.facts["cut-out"] == "measured"
    assert "of silence" in done.facts["guard-bites"]
    assert not site.lacks((Step.PROVE,))
    assert kitchen.bench.plant.element_on_j < 500.0 * 12.0  # two kelvins of this bath at most
    assert {(tmp_path / "tree" / line).read_text() for line in (HEATER, SECOND)} == {"0\n"}
    assert any("cut-out: shown" in said for said in person.said)


@pytest.mark.parametrize(
    ("fault", "said", "shown"),
    [
        (BenchFault.RELAY_WELDED, "so the first is stuck", {"off-is-dead", "second-opens"}),
        (BenchFault.SECOND_SWITCH_WELDED, "so the second is stuck", {"off-is-dead"}),
        (
            BenchFault.RELAY_OPEN,
            "the heater stays dead: unplug, and check plug",
            {"off-is-dead", "second-opens", "first-opens"},
        ),
        (
            BenchFault.MAINS_LIVE_DEAD,
            "stays dead: unplug, and check plug",
            {"off-is-dead", "second-opens", "first-opens"},
        ),
        (BenchFault.MAINS_LIVE_STUCK, "is live though nothing asks", set()),
    ],
)
def test_each_defect_of_the_switches_blocks_with_its_sentence(
    tmp_path: Path, fault: BenchFault, said: str, shown: set[str]
) -> None:
    kitchen = Kitchen(tmp_path, *BOTH)
    kitchen.fault(fault)
    proves, _ = prover(tmp_path, kitchen, willing(kitchen))
    with pytest.raises(UnprovenError, match=said):
        proves.run()
    assert set(proves.site.parts(Step.PROVE)) == shown
    assert "prove" not in proves.site.read().steps
    assert not kitchen.guard.heat


def test_what_was_shown_is_kept_when_it_is_broken_off_and_not_asked_again(tmp_path: Path) -> None:
    kitchen = Kitchen(tmp_path, *BOTH)
    deeds = willing(kitchen)
    del deeds["Press the stop"]
    proves, _ = prover(tmp_path, kitchen, deeds)
    with pytest.raises(StoppedError):
        proves.run()
    again, person = prover(tmp_path, kitchen, willing(kitchen))
    again.run()
    assert [question.split()[0] for question in person.asked] == ["Water", "Press", "Release"]
    assert len(again.site.read().steps["prove"].facts) == 7
    later, person = prover(tmp_path, kitchen, willing(kitchen))
    later.run()  # once it is dated it begins anew
    assert len(person.asked) == 5


def test_nothing_is_heated_before_somebody_says_that_it_may(tmp_path: Path) -> None:
    kitchen = Kitchen(tmp_path, *BOTH)
    proves, _ = prover(tmp_path, kitchen, {"Water covers": lambda: "no"})
    with pytest.raises(UnprovenError, match="fill the bath with cold water"):
        proves.run()
    proves, _ = prover(tmp_path, kitchen, willing(kitchen) | {"Let the cut-out trip": lambda: "no"})
    with pytest.raises(UnprovenError, match="That was not done"):
        proves.run()
    assert kitchen.bench.plant.element_on_j < 500.0 * 6.0


def test_where_no_voltage_is_seen_the_person_looks(tmp_path: Path) -> None:
    (tmp_path / "kitchen.toml").write_text(machine_text(*BLIND), encoding="utf-8")
    kitchen = Kitchen(tmp_path)
    told: list[str] = []

    def looks() -> str:
        """By the last announcement of what is to be seen."""
        told.append(next(said for said in reversed(person.said) if "look at" in said))
        cut = any((tmp_path / "tree/hands" / name).read_text() == "1" for name in CUTS)
        return "no" if cut or told[-1].startswith("Nothing") else "yes"

    proves, person = prover(tmp_path, kitchen, {"voltage": looks, **willing(kitchen)})
    proves.run()
    facts = proves.site.read().steps["prove"].facts
    assert facts["on-is-live"] == facts["stop-button"] == "seen by a person"
    assert facts["guard-bites"].startswith("by the guard's word")
    assert "second-opens" not in facts


CUTS = ("cut-out", "stop-button")
