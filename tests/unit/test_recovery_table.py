"""What may be offered after a cut: a test for each row of the table, on both sides of its edges.

The rows are those of our own design (own engineering values, not published).
"""

import math

import pytest

from controller.core.chocolate import form_v_melts_c
from controller.core.profile import Kind, PowerBack, Profile
from controller.core.recovery import FRESH, Beginning, decide
from controller.core.recovery_rows import ROWS, Cut, Now, Offer, Role, role_of
from controller.files.machine_file import load_machine_file
from controller.files.profile_file import load_profile
from tests.helpers.batch import a_machine, a_profile
from tests.helpers.records import replace

MELT, COOL, REWARM, HOLD = range(4)  # 46, 27, 31.5 and 31.5 °C
MIN = 60.0
MACHINE = load_machine_file(None).machine


def a_cut(phase: int, *, bowl_c: float, bath_c: float | None = None, **changes: object) -> Cut:
    """A run cut in a phase, its bath as warm as its bowl."""
    cut = Cut(
        phase=phase, bath_c=bowl_c if bath_c is None else bath_c, bowl_c=bowl_c, hottest_c=bowl_c
    )
    return replace(cut, **changes)  # type: ignore[arg-type] # any field of the dataclass


def now(bowl_c: float, *, gap_s: float | None = 2 * MIN, **changes: object) -> Now:
    """The next start, shortly after, the bath as warm as the bowl."""
    given = Now(bath_c=bowl_c, bowl_c=bowl_c, gap_s=gap_s, boots=1)
    return replace(given, **changes)  # type: ignore[arg-type] # any field of the dataclass


def row_of(cut: Cut, found: Now, profile: Profile | None = None) -> tuple[str, Offer]:
    """Which row decides, and what it offers."""
    decision = decide(cut, found, profile or a_profile(), a_machine())
    return decision.row, decision.offer


RESUMED = [
    # phase, seeded, bowl at the cut, bowl now, gap
    ("melt", MELT, False, 40.0, 40.0, 2 * MIN),
    ("melt", MELT, False, 40.0, 22.0, None),
    ("cool-unseeded", COOL, False, 34.0, 33.8, 2 * MIN),
    ("cool-unseeded", COOL, False, 34.0, 27.1, None),
    ("cool-seeded", COOL, True, 33.0, 33.0, 5 * MIN),
    ("cool-seeded", COOL, True, 26.0, 26.0, 1 * MIN),
    ("work", REWARM, False, 30.1, 30.0, 2 * MIN),
    ("work", HOLD, False, 32.0, 32.0, 1 * MIN),
    ("work", HOLD, False, 31.5, 30.8, 10 * MIN),
]
MELTED = [
    ("else", COOL, False, 27.0, 27.0, 2 * MIN),
    ("else", COOL, True, 33.1, 33.1, 2 * MIN),
    ("else", COOL, True, 26.0, 25.9, 2 * MIN),
    ("else", COOL, True, 32.0, 31.7, 5 * MIN + 1),
    ("else", COOL, True, 32.0, 32.0, None),
    ("else", HOLD, False, 30.2, 29.9, 2 * MIN),
    ("else", HOLD, False, 32.1, 32.1, 2 * MIN),
    ("else", HOLD, False, 31.5, 30.8, 10 * MIN + 1),
    ("else", HOLD, False, 31.5, 30.8, None),
    ("else", HOLD, False, 31.5, 29.0, None),
    ("set", HOLD, False, 31.5, 28.9, None),
    ("else", HOLD, False, 31.5, 27.1, 75 * MIN),
    ("set", HOLD, False, 31.5, 26.9, 75 * MIN),
]


@pytest.mark.parametrize(("row", "phase", "seeded", "was_c", "is_c", "gap_s"), RESUMED)
def test_a_batch_that_is_still_what_it_was_may_be_gone_on_with(
    row: str, phase: int, seeded: bool, was_c: float, is_c: float, gap_s: float | None
) -> None:
    cut = a_cut(phase, bowl_c=was_c, is_seeded=seeded)
    assert row_of(cut, now(is_c, gap_s=gap_s)) == (row, Offer.RESUME)


@pytest.mark.parametrize(("row", "phase", "seeded", "was_c", "is_c", "gap_s"), MELTED)
def test_a_batch_that_may_have_changed_must_be_melted_again(
    row: str, phase: int, seeded: bool, was_c: float, is_c: float, gap_s: float | None
) -> None:
    cut = a_cut(phase, bowl_c=was_c, is_seeded=seeded)
    assert row_of(cut, now(is_c, gap_s=gap_s)) == (row, Offer.MELT_AGAIN)


def test_a_held_batch_that_was_ever_two_kelvin_over_its_target_is_melted_again() -> None:
    hot = a_cut(HOLD, bowl_c=31.5, hottest_c=33.6)
    assert row_of(hot, now(31.5)) == ("else", Offer.MELT_AGAIN)
    assert row_of(replace(hot, hottest_c=33.4), now(31.5)) == ("work", Offer.RESUME)
    assert row_of(replace(hot, hottest_c=math.nan), now(31.5)) == ("else", Offer.MELT_AGAIN)


@pytest.mark.parametrize("kind", ["milk", "white"])
def test_a_held_batch_that_was_where_its_crystals_melt_is_melted_again(kind: str) -> None:
    profile = load_profile(kind, MACHINE)
    hold = len(profile.phases) - 1
    target_c, melts_c = profile.phases[hold].bowl_target_c, form_v_melts_c(profile.kind)
    cut = replace(a_cut(hold, bowl_c=target_c), hottest_c=melts_c + 0.1)
    assert melts_c + 0.1 < target_c + 2.0
    again = decide(cut, now(target_c), profile, MACHINE)
    assert (again.row, again.offer) == ("else", Offer.MELT_AGAIN)
    fine = decide(replace(cut, hottest_c=melts_c), now(target_c), profile, MACHINE)
    assert (fine.row, fine.offer) == ("work", Offer.RESUME)


def test_what_is_kept_melted_has_no_crystals_that_could_have_melted() -> None:
    profile = load_profile("melt-only", MACHINE)
    cut = a_cut(1, bowl_c=profile.phases[1].bowl_target_c)
    assert decide(cut, now(cut.bowl_c), profile, MACHINE).row == "work"


@pytest.mark.parametrize(("kind", "lives_to_c"), [(Kind.MILK, 31.5), (Kind.WHITE, 30.5)])
def test_seed_lives_less_high_in_milk_and_white(kind: Kind, lives_to_c: float) -> None:
    profile = a_profile(kind=kind)
    cut = a_cut(COOL, bowl_c=lives_to_c, is_seeded=True)
    assert row_of(cut, now(lives_to_c), profile) == ("cool-seeded", Offer.RESUME)
    assert row_of(cut, now(lives_to_c + 0.1), profile) == ("else", Offer.MELT_AGAIN)


@pytest.mark.parametrize("bad_c", [math.nan, math.inf, -5.1, 85.0])
@pytest.mark.parametrize("which", ["bath_c", "bowl_c"])
def test_without_sound_thermometers_nothing_is_offered(which: str, bad_c: float) -> None:
    found = replace(now(40.0), **{which: bad_c})  # type: ignore[arg-type] # one of the two floats
    decision = decide(a_cut(MELT, bowl_c=40.0), found, a_profile(), a_machine())
    assert (decision.row, decision.offer) == ("probe-bad", Offer.STOP_ONLY)
    assert not decision.may_set_aside


def test_a_computer_that_keeps_starting_is_offered_nothing() -> None:
    cut = a_cut(MELT, bowl_c=40.0)
    assert row_of(cut, now(40.0, boots=2)) == ("melt", Offer.RESUME)
    assert row_of(cut, now(40.0, boots=3)) == ("boots", Offer.STOP_ONLY)


@pytest.mark.parametrize(
    ("phase", "found"),
    [
        (MELT, now(55.1, bath_c=50.0)),  # the profile's and the machine's bowl limit is 55 °C
        (MELT, now(45.0, bath_c=54.1)),  # the melt's bath cut is at 54 °C
        (HOLD, now(31.5, bath_c=39.6)),  # the hold's at 39.5 °C
    ],
)
def test_over_a_limit_nothing_is_offered(phase: int, found: Now) -> None:
    cut = a_cut(phase, bowl_c=found.bowl_c, bath_c=found.bath_c)
    assert row_of(cut, found) == ("over-limit", Offer.STOP_ONLY)
    cooler = replace(found, bath_c=found.bath_c - 0.2, bowl_c=found.bowl_c - 0.2)
    assert row_of(cut, cooler)[1] is Offer.RESUME


def test_a_run_that_had_tripped_or_whose_files_changed_can_only_be_set_aside() -> None:
    for changes, row in (({"tripped": "level-lost"}, "tripped"), ({"is_same": False}, "changed")):
        decision = decide(a_cut(MELT, bowl_c=40.0, **changes), now(40.0), a_profile(), a_machine())
        assert (decision.row, decision.offer) == (row, Offer.STOP_ONLY)
        assert decision.may_set_aside
        assert decision.beginning == FRESH


def test_a_phase_that_the_profile_has_not_counts_as_changed() -> None:
    assert row_of(a_cut(4, bowl_c=31.5), now(31.5)) == ("changed", Offer.STOP_ONLY)


def test_a_profile_may_want_every_cut_batch_melted_again() -> None:
    profile = replace(a_profile(), power_back=PowerBack.BEGIN_AGAIN)
    assert row_of(a_cut(MELT, bowl_c=40.0), now(40.0), profile) == (
        "profile-says",
        Offer.MELT_AGAIN,
    )


def test_water_goes_on_where_it_was() -> None:
    profile = a_profile(kind=Kind.WATER)
    assert row_of(a_cut(HOLD, bowl_c=31.5), now(21.0, gap_s=None), profile) == (
        "water",
        Offer.RESUME,
    )
    found = decide(a_cut(HOLD, bowl_c=31.5), now(21.0), profile, a_machine())
    assert found.beginning == Beginning(phase=HOLD, is_kind_known=True)


def melt_credit_s(now_c: float, gap_s: float | None, dwelled_s: float = 200.0) -> float:
    """The dwell that still counts after a cut in the melt at 46 °C."""
    cut = a_cut(MELT, bowl_c=46.0, dwelled_s=dwelled_s)
    return decide(cut, now(now_c, gap_s=gap_s), a_profile(), a_machine()).beginning.dwelled_s


def test_a_melts_dwell_counts_only_while_hot_and_after_a_short_known_gap() -> None:
    assert melt_credit_s(45.7, 4 * MIN) == 200.0
    assert melt_credit_s(45.0, 10 * MIN) == 200.0
    assert melt_credit_s(44.9, 10 * MIN) == 0.0
    assert melt_credit_s(45.0, 10 * MIN + 1) == 0.0
    assert melt_credit_s(45.7, None) == 0.0
    assert melt_credit_s(45.7, 4 * MIN, dwelled_s=400.0) == 300.0  # never more than is wanted


def test_only_a_melts_dwell_counts() -> None:
    cut = a_cut(HOLD, bowl_c=31.5, dwelled_s=200.0, answered=frozenset({"finish"}))
    begins = decide(cut, now(31.5), a_profile(), a_machine()).beginning
    assert begins == Beginning(phase=HOLD, answered=frozenset({"finish"}), is_kind_known=True)


def test_the_stirrer_waits_for_32_degrees_wherever_chocolate_may_be_solid() -> None:
    melt = decide(a_cut(MELT, bowl_c=30.0), now(30.0), a_profile(), a_machine())
    hardened = decide(a_cut(HOLD, bowl_c=31.5), now(26.0, gap_s=None), a_profile(), a_machine())
    assert melt.beginning.stir_from_c == hardened.beginning.stir_from_c == 32.0
    assert hardened.beginning.phase == MELT
    working = decide(a_cut(HOLD, bowl_c=31.5), now(31.5), a_profile(), a_machine())
    assert working.beginning.stir_from_c == -math.inf


def test_the_gap_that_cooling_does_not_bear_out_counts_as_unknown() -> None:
    cut = a_cut(HOLD, bowl_c=31.5)  # half an hour brings it to 29.4 °C, ten minutes to 30.8 °C
    assert decide(cut, now(30.8, gap_s=10 * MIN), a_profile(), a_machine()).offer is Offer.RESUME
    doubtful = decide(cut, now(30.8, gap_s=1 * MIN), a_profile(), a_machine())
    assert doubtful.offer is Offer.MELT_AGAIN
    assert "a time unknown" in doubtful.why


def test_roles_come_from_the_targets_and_not_from_names() -> None:
    profile = a_profile((("warm", 46.0, 1), ("seed", 32.0, 1), ("keep", 32.0, 1), ("up", 33.0, 1)))
    roles = [role_of(profile, index) for index in range(4)]
    assert roles == [Role.MELT, Role.COOL, Role.WORK, Role.WORK]


def test_every_row_says_why_in_one_sentence_with_its_numbers() -> None:
    why = decide(a_cut(HOLD, bowl_c=31.5), now(31.3), a_profile(), a_machine(), fahrenheit=True).why
    assert why == (
        "The bowl is at 88.3 °F, near its 88.7 °F, and stood for 2 min only: "
        "go on, and make a set test."
    )
    credit = decide(
        a_cut(MELT, bowl_c=46.0, dwelled_s=240.0), now(45.8), a_profile(), a_machine()
    ).why
    assert credit.endswith("it can go on, 4 min of its dwell done.")
    assert len({row.name for row in ROWS}) == len(ROWS)
