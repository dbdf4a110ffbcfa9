"""What is proposed for a batch that is out of temper: orders of the trade, and worked balances."""

import math

import pytest

from controller.core.actions import Act, Do, Ending
from controller.core.ahead import Batch, Kitchen, filled, kept, kitchen_of, led
from controller.core.batches import COUNT, EVEN
from controller.core.chocolate import content_of
from controller.core.crystallising import Crystals
from controller.core.mishaps import BY_WORD, MISHAPS, Told, Window, window_of
from controller.core.profile import Kind
from controller.core.rescue_words import steps_text, title, why_text
from controller.core.rescuing import (
    LEAST,
    Means,
    cheapest,
    endings,
    melting,
    top_up_share,
)
from controller.core.tempering import spread_of
from controller.core.thermal import begin, prior_of
from controller.files.profile_file import load_profile
from controller.wiring import machine_meant
from tests.helpers.records import replace

MACHINE = machine_meant(None).machine
KINDS = (Kind.DARK, Kind.MILK, Kind.WHITE)


def window(kind: Kind = Kind.DARK) -> Window:
    """The temperatures of the profile that ships for a kind."""
    return window_of(load_profile(str(kind), MACHINE), content_of(kind).softer_k)


def kitchen(kind: Kind = Kind.DARK) -> Kitchen:
    """The reference machine as nothing but its file knows it."""
    at_c = window(kind).work_c
    belief = begin(prior_of(MACHINE, kind, 1.0), at_c, at_c, has_melted=True)
    return kitchen_of(belief, MACHINE, at_c)


def after(word: str, kind: Kind = Kind.DARK, **told: float) -> Batch:
    """The batch after a mishap."""
    row, window_ = BY_WORD[word], window(kind)
    full = row.filled(Told(**told), window_)
    bowl_c = row.bowl_c(full, window_)
    return Batch(bowl_c, bowl_c, row.made(full, window_), is_set=row.is_set)


def proposed(batch: Batch, kind: Kind = Kind.DARK, means: Means | None = None) -> Ending:
    """What is proposed for it; something always is."""
    found = endings(batch, window(kind), kitchen(kind), means=means or Means())
    best = cheapest(found) or melting(found)
    assert best is not None
    return best


def middle(batch: Batch) -> float:
    """Form V, half of the possible batches below."""
    return spread_of(batch.bank, EVEN)[0][1]


def alike(form_v: float) -> tuple[Crystals, ...]:
    """All possible batches with as much solid."""
    return ((form_v, 0.0, 0.8, 0.0, form_v),) * COUNT


@pytest.mark.parametrize("kind", KINDS)
def test_seed_that_was_forgotten_is_added_and_nothing_is_melted_again(kind: Kind) -> None:
    best = proposed(after("seed-forgotten", kind), kind)
    assert best.action.act is Act.SEED
    # Where the bowl is at work already, seed need not wait; else it waits for form V's melting,
    # 33.8 °C in dark (Wille & Lutton, J. Am. Oil Chem. Soc. 43:491 (1966)).
    assert best.action.moves[0].do is Do.SEED
    assert 0.0 < best.added_kg < 0.1 * MACHINE.batch_kg


def test_seed_waits_until_the_bowl_is_no_warmer_than_form_v_s_melting() -> None:
    best = proposed(after("temper-lost"))
    assert best.action.act is Act.SEED
    first, second, *_ = best.action.moves
    assert first.do is Do.LEAD
    assert first.temp_c == pytest.approx(33.8)
    assert second.do is Do.SEED


def test_a_batch_in_temper_is_worked_with() -> None:
    best = proposed(Batch(31.8, 31.8, alike(0.013)))
    assert best.action.act is Act.WAIT
    assert best.takes_s == 0.0
    assert title(best) == "Go on working"


def test_chocolate_that_has_set_is_melted_whatever_else_there_is() -> None:
    found = endings(after("set-in-bowl"), window(), kitchen())
    assert {one.action.act for one in found} == {Act.MELT, Act.MELT_SEED}
    assert min(one.takes_s for one in found) > 1500.0


def test_without_seed_no_seed_is_proposed() -> None:
    none = Means(seed=False, melt=False)
    for word in ("seed-forgotten", "too-thick", "set-in-bowl"):
        found = endings(after(word), window(), kitchen(), means=none)
        acts = {one.action.act for one in found}
        assert acts.isdisjoint({Act.SEED, Act.MELT_SEED, Act.TOP_UP})
        assert all(one.added_kg == 0.0 for one in found)


def test_less_time_is_cheaper_and_among_equal_times_less_chocolate() -> None:
    some = proposed(after("seed-forgotten"))
    some = replace(some, action=replace(some.action, act=Act.WARM))
    quick = replace(some, takes_s=400.0, added_kg=0.3)
    sparing = replace(some, takes_s=590.0, added_kg=0.1)
    slow = replace(some, takes_s=700.0, added_kg=0.0)
    assert cheapest([slow, quick, sparing]) is sparing
    assert cheapest([slow, quick]) is quick
    assert cheapest([replace(quick, confidence=0.6), slow]) is slow
    unlikely = replace(quick, confidence=LEAST - 0.01)
    assert cheapest([unlikely]) is None
    assert cheapest([unlikely, replace(slow, confidence=LEAST)]) is not None


def test_a_whole_melt_leaves_no_crystal_and_takes_the_longest() -> None:
    # A melt at 45 to 55 °C leaves none to recrystallise from: van Langevelde et al., J. Am. Oil
    # Chem. Soc. 78:919 (2001).
    melted = kept(led(Batch(31.8, 31.8, alike(0.06)), kitchen(), 50.0), kitchen(), 600.0)
    assert all(sum(one[:4]) < 1e-3 for one in melted.bank)
    found = endings(after("too-thick"), window(), kitchen())
    slowest = max(found, key=lambda one: one.takes_s)
    assert slowest.action.act in {Act.MELT, Act.MELT_SEED}


def test_a_top_up_is_limited_by_the_heat_balance() -> None:
    # 1.0 kg at 31.0 °C with melt at 40 °C, not above 32.2 °C: 1.2 / 7.8 = 0.1538 kg; worked by
    # hand, the specific heat cancels (Beckett, 4th ed., pp. 667-668: 1590 J/(kg K) for both).
    bare = replace(kitchen(), bowl_k_share=1.0, batch_kg=1.0)
    assert top_up_share(bare, 31.0, 40.0, 32.2) == pytest.approx(0.1538, abs=1e-4)
    topped = filled(Batch(31.0, 31.0, alike(0.05)), bare, 0.1538, 40.0, is_set=False)
    assert topped.bowl_c == pytest.approx(32.2, abs=1e-3)
    assert topped.added_kg == pytest.approx(0.1538)
    # ... and dilutes what is solid as much.
    assert topped.bank[0][0] == pytest.approx(0.05 / 1.1538, rel=1e-3)
    # A bowl that takes part of the heat bears more; melt that is no warmer bears anything.
    assert top_up_share(replace(bare, bowl_k_share=0.8), 31.0, 40.0, 32.2) > 0.1538
    assert top_up_share(bare, 31.0, 32.0, 32.2) == math.inf


def test_the_trap_seed_at_once_melts_out_and_a_portion_held_back_stays() -> None:
    # The same 10 % of the total: all at once into 45 °C, or its last third once the bowl is at
    # 34 °C (the trade holds some back: common practice, no source).
    warm = Batch(45.0, 45.0, alike(0.0))
    at_once = kept(filled(warm, kitchen(), 0.111, 20.0, is_set=True), kitchen(), 600.0)
    first = led(filled(warm, kitchen(), 0.074, 20.0, is_set=True), kitchen(), 34.0)
    late = kept(filled(first, kitchen(), 0.037, 20.0, is_set=True), kitchen(), 600.0)
    assert middle(at_once) < 0.002
    assert middle(late) > 0.008


def test_colder_water_is_swapped_in_only_on_the_way_down() -> None:
    at_work = Batch(31.8, 31.8, alike(0.01))
    assert led(at_work, kitchen(), 33.5).swapped_kg == 0.0
    down = led(at_work, kitchen(), 28.0)
    assert 0.0 < down.swapped_kg <= MACHINE.water_kg
    assert down.bowl_c == 28.0
    assert down.spent_s > 60.0


def test_a_bowl_that_can_not_come_there_takes_for_ever() -> None:
    warm = replace(kitchen(), room_c=35.0, water_c=35.0)
    assert led(Batch(36.0, 36.0, alike(0.0)), warm, 28.0).spent_s == math.inf
    found = endings(Batch(36.0, 36.0, alike(0.0)), window(), warm)
    assert cheapest(found) is None
    assert all(one.confidence == 0.0 for one in found if math.isinf(one.takes_s))


def test_a_machine_too_weak_to_melt_proposes_no_melt_and_its_words_bear_that() -> None:
    weak = replace(MACHINE, heater_w=8.0)
    at_c = window().work_c
    belief = begin(prior_of(weak, Kind.DARK, 1.0), at_c, at_c, has_melted=True)
    found = endings(Batch(at_c, at_c, alike(0.05)), window(), kitchen_of(belief, weak, at_c))
    melts = [one for one in found if one.action.act in {Act.MELT, Act.MELT_SEED}]
    assert all(math.isinf(one.takes_s) for one in melts)
    assert melting(found) is None
    for one in found:
        assert title(one)
        assert why_text(one, found)
    assert "(longer than anybody waits)" in title(melts[0])


def test_warm_for_longer_or_warmer_leaves_fewer_crystals() -> None:
    # Form V's melting is a range about 33.8 °C (Wille & Lutton 1966).
    left = [middle(after("too-warm", at_c=at_c, for_s=600.0)) for at_c in (33.0, 34.5, 36.0)]
    assert left == sorted(left, reverse=True)
    left = [middle(after("too-warm", at_c=36.0, for_s=for_s)) for for_s in (60.0, 180.0, 600.0)]
    assert left == sorted(left, reverse=True)


def test_held_too_cool_it_grows_thick_and_standing_it_grows_slower() -> None:
    # Held, it thickens; still chocolate crystallises slower (Dhonsi & Stapley, J. Food Eng. 77:936
    # (2006)).
    assert middle(after("too-cool", at_c=30.0, for_s=2400.0)) > 0.02
    row = BY_WORD["stirrer-stood"]
    stood = middle(after("stirrer-stood", for_s=2400.0))
    stirred = middle(after("too-cool", at_c=window().work_c, for_s=2400.0))
    assert row.takes_time
    assert stood < stirred


def test_there_are_a_dozen_mishaps_and_each_leaves_a_batch_or_what_it_is_good_for() -> None:
    assert len([row for row in MISHAPS if not row.is_ruined]) >= 12
    assert len(BY_WORD) == len(MISHAPS)
    for row in MISHAPS:
        if row.is_ruined:
            assert row.makes
            continue
        bank = after(row.word, Kind.MILK).bank
        assert len(bank) == COUNT
        assert all(math.isfinite(value) and value >= 0.0 for one in bank for value in one)
    for word in ("streaked", "too-thick"):
        best = proposed(after(word, Kind.MILK), Kind.MILK)
        assert best.confidence > LEAST, word
        assert math.isfinite(best.takes_s)


def test_what_to_do_is_said_in_amounts_and_temperatures_of_either_scale() -> None:
    best = proposed(after("temper-lost"))
    lines = steps_text(best, window(), water_c=15.0)
    assert any("33.8 °C or below" in line and " g of finely" in line for line in lines)
    assert lines[0].startswith("Swap ")
    assert "of the bath's water for cold water at 15.0 °C, and" in lines[0]
    assert "°F" in steps_text(best, window(), water_c=15.0, fahrenheit=True)[1]
    found = endings(after("temper-lost"), window(), kitchen())
    assert "melting all of it would take" in why_text(best, found)
    remelt = melting(found)
    assert remelt is not None
    assert "the best without melting (add seed, " in why_text(remelt, found)
    only = endings(after("set-in-bowl"), window(), kitchen())
    assert "nothing gentler" in why_text(only[0], only)
    assert "stirring once it is soft" in steps_text(only[0], window(), water_c=15.0)[0]
    back = proposed(Batch(33.0, 33.0, alike(0.013)))
    assert title(back).startswith("Bring it back to its working temperature (")
