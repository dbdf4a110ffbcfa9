"""What the last product leaves in a machine, and who must say so before the next."""

import io
from argparse import Namespace
from pathlib import Path

import pytest

from controller.book.notes import read_notes
from controller.book.traces import Last, allergen_of, left_behind, memory_path, recall
from controller.commands.tracing import Product, attending_text, keep, product_of
from controller.core.profile import Kind, Profile
from controller.errors import StoppedError, TableError, UsageError
from controller.files.machine_file import load_machine_file
from controller.files.profile_file import load_profile
from tests.helpers.batch import an_identity

AFTER_MILK = Last(
    machine="kitchen",
    run_id="run-0",
    began_utc="2031-02-02T10:00:00+00:00",
    title="milk (Milk chocolate)",
    carries=("milk",),
)


def shipped(name: str) -> Profile:
    return load_profile(name, load_machine_file(None).machine)


def asked(
    profile: str,
    last: Last | None,
    typed: str | None = None,
    *,
    contains: str | None = None,
    chocolate: str | None = None,
    traces: str | None = None,
) -> tuple[Product, str]:
    """The product, and what was shown; `typed` is what a person answers, None: nobody is there."""
    shown = io.StringIO()
    person = None if typed is None else io.StringIO(typed)
    options = Namespace(contains=contains, chocolate=chocolate, traces=traces)
    return product_of(options, shipped(profile), last, person, shown), shown.getvalue()


def test_dark_after_milk_does_not_begin_until_somebody_says_so() -> None:
    with pytest.raises(StoppedError, match=r"leaves traces of milk.*--traces washed"):
        asked("dark", AFTER_MILK)
    with pytest.raises(StoppedError, match="Nothing was begun"):
        asked("dark", AFTER_MILK, "\n")


def test_traces_that_are_accepted_go_onto_the_batch() -> None:
    product, shown = asked("dark", AFTER_MILK, "Accepted\n")
    assert product.traces == ("milk",)
    assert "Last in this machine: milk (Milk chocolate), 2031-02-02 10:00 UTC" in shown


@pytest.mark.parametrize(("typed", "traces"), [("washed\n", None), (None, "washed")])
def test_a_washed_machine_leaves_none(typed: str | None, traces: str | None) -> None:
    product, _ = asked("dark", AFTER_MILK, typed, traces=traces)
    assert product.traces == ()


def test_milk_after_milk_or_dark_needs_no_word() -> None:
    assert asked("milk", AFTER_MILK)[1] == ""
    assert asked("white", None)[0].contains == ("milk",)


def test_water_is_no_product() -> None:
    assert asked("water-trial", AFTER_MILK)[0] == Product(kind=Kind.WATER, contains=(), traces=())


def test_what_was_accepted_is_still_in_the_machine_afterwards(tmp_path: Path) -> None:
    product, _ = asked("dark", AFTER_MILK, contains="nuts", traces="accepted")
    record = tmp_path / "run-1.jsonl"
    keep(record, an_identity(), shipped("dark"), "my kitchen/1", tmp_path, product)
    assert memory_path(tmp_path, "my kitchen/1").name == "my_kitchen_1.last.json"
    last = recall(tmp_path, "my kitchen/1")
    assert last is not None
    assert last.carries == ("milk", "nuts")
    assert left_behind(last, ("milk",)) == ("nuts",)
    notes = read_notes(record)
    assert (notes.chocolate, notes.contains, notes.traces) == ("dark", ("nuts",), ("milk",))


def test_a_trial_with_water_changes_nothing(tmp_path: Path) -> None:
    product, _ = asked("water-trial", None)
    keep(tmp_path / "r.jsonl", an_identity(), shipped("water-trial"), "kitchen", tmp_path, product)
    assert list(tmp_path.iterdir()) == []


def test_a_memory_that_can_t_be_understood_is_no_clean_machine(tmp_path: Path) -> None:
    memory_path(tmp_path, "kitchen").write_text('{"carries": ["milk"]}', encoding="utf-8")
    with pytest.raises(TableError, match="wash the machine and delete the file"):
        recall(tmp_path, "kitchen")


def test_a_profile_for_several_kinds_is_told_which() -> None:
    assert asked("melt-only", None)[0].contains == ("milk",)
    assert asked("melt-only", None, chocolate="dark")[0].contains == ()


@pytest.mark.parametrize(("profile", "chocolate"), [("milk", "dark"), ("water-trial", "dark")])
def test_a_profile_of_one_kind_takes_no_other(profile: str, chocolate: str) -> None:
    with pytest.raises(UsageError, match="take a profile of that kind"):
        asked(profile, None, chocolate=chocolate)


def test_an_allergen_that_is_misspelt_is_answered_with_the_nearest() -> None:
    with pytest.raises(
        UsageError, match=r'--contains: "nutz" is no allergen.*did you mean nuts\?$'
    ):
        asked("dark", None, contains="soya, nutz")
    with pytest.raises(ValueError, match="write some of gluten"):
        allergen_of("37 C")


def test_who_must_stay_is_told_with_each_question_and_what_silence_does() -> None:
    told = attending_text(shipped("hold-liquid"))
    assert "Somebody stays with a heated machine" in told
    assert "still-there in hold" in told
    assert "But still-there takes nobody after 15 min of silence." in told


def test_a_machine_of_the_bench_is_said_to_be_none() -> None:
    told = attending_text(shipped("dark"), is_bench=True)
    assert "simulated on the bench, and takes as long as a real one." in told
    assert "simulated" not in attending_text(shipped("dark"))
