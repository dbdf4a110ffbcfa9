"""What the machines of the control benchmark are asked to do: profiles made up for it.

Responsible for the legs and for what is aimed at in them; not for running them. The legs are those
of the shipped profile `dark`, with its bath limits; only what lies between them is made up:

- `curve`: melt, cool, rewarm, hold for two hours, stop the stirrer for two minutes. Cooling is
  preparation here and not judged: the cook swaps water as somebody would who knows the machine's
  true numbers, so that every machine comes to about 28 °C with a bath that is as warm.
- `relay`: the same with less of melt, an hour's hold and nothing after it, for the relay of 5 s.
- `cooling`: melt, then cool as `dark` itself asks for it.
- `addition`: the curve with cold chocolate put into the held bowl by a question, so that the
  controller is told of it as it happens.
"""

from controller.core.profile import Action, Choice, LateAction, Phase, Profile, Question, When
from controller.core.records import replace
from controller.files.profile_file import load_profile
from controller.wiring import machine_meant
from hardware.bench.parameters import DARK, WATER_J_PER_KG_K, Parameters
from tests.benchmarks.rivals.bound import BAND_K, Aim

WORK_C = 31.5
WORK_CEILING_C = 33.4  # 0.4 K under form V's melting, as the rules of profiles allow
SETTLE_S = 60.0
WATCHED_S = 600.0  # how long a leg that is judged goes on once it is reached
HOLD_S = 7200.0
RELAY_HOLD_S = 3600.0
STILL_S = 120.0
AFTER_S = 1200.0
ADDED_SHARE = 0.2 / 1.5  # 200 g into the batch of `brisk`
# Preparation: the water swaps aim under 28 °C, so that a bowl that keeps 0.5 K comes there.
COOL_C = 28.0
MEET_C = 26.0
COLDEST_C = 8.0
MILD_C = 27.7
WIDE_K = 1.0
PATIENCE_S = 9000.0  # a leg that takes longer has failed
COOLING_PATIENCE_S = 3600.0  # the same where cooling is judged

DONE = (Choice(word="done", adds_energy=False),)


def _dark() -> Profile:
    return load_profile("dark", machine_meant("reference").machine)


def _leg(phase: Phase, name: str, dwell_s: float) -> Phase:
    return replace(
        phase,
        name=name,
        dwell_s=dwell_s,
        settle_s=SETTLE_S,
        late_after_s=PATIENCE_S + dwell_s,
        late_action=LateAction.STOP,
        questions=(),
    )


def _melt(dark: Profile, watched_s: float) -> Phase:
    return replace(_leg(dark.phases[0], "melt", watched_s), tolerance_k=0.3)


def _work(dark: Profile, name: str, dwell_s: float) -> Phase:
    leg = _leg(dark.phases[2], name, dwell_s)
    return replace(
        leg,
        bowl_target_c=WORK_C,
        pause_at_c=WORK_C,
        tolerance_k=0.3,
        bath_ceiling_c=WORK_CEILING_C,
        bath_cut_c=WORK_CEILING_C + 1.5,
    )


def _swap(id_: str, water_c: float, *, below_c: float | None = None) -> Question:
    return Question(
        id=id_,
        text="Swap all of the bath water.",
        when=When.START if below_c is None else When.BOWL_AT_MOST,
        bowl_c=below_c,
        choices=DONE,
        unanswered_s=None,
        unanswered=None,
        action=Action.SWAP_WATER,
        share=1.0,
        water_c=water_c,
    )


def _swaps(parameters: Parameters) -> tuple[Question, ...]:
    """Cold water for bath and bowl to meet under 28 °C, twice if need be; then a bath as warm."""
    chocolate_j_per_k = parameters.batch_kg * DARK.cool_j_per_kg_k * parameters.heat_ratio
    warm_j_per_k = chocolate_j_per_k + parameters.bowl_j_per_k + parameters.pot_j_per_k
    water_j_per_k = parameters.water_kg * WATER_J_PER_KG_K

    def water_for(from_c: float) -> float:
        return max(COLDEST_C, MEET_C - warm_j_per_k * (from_c - MEET_C) / water_j_per_k)

    melt_c = _dark().phases[0].bowl_target_c
    first_c = water_for(melt_c)
    whole_j_per_k = warm_j_per_k + water_j_per_k
    meet_c = (warm_j_per_k * melt_c + water_j_per_k * first_c) / whole_j_per_k
    swaps = [_swap("cold", first_c)]
    if meet_c > MEET_C + 0.5:
        again_c = meet_c + 1.5
        swaps.append(_swap("cold-again", water_for(again_c), below_c=again_c))
    return (*swaps, _swap("mild", MILD_C, below_c=COOL_C + 0.3))


def _prepared(dark: Profile, parameters: Parameters) -> Phase:
    cool = _leg(dark.phases[1], "cool", SETTLE_S)
    return replace(cool, bowl_target_c=COOL_C, tolerance_k=WIDE_K, questions=_swaps(parameters))


def _passing(dark: Profile, name: str, dwell_s: float, rpm: float) -> Phase:
    """A leg that lasts so long, whatever happens."""
    leg = _work(dark, name, dwell_s)
    return replace(leg, tolerance_k=WIDE_K, settle_s=0.0, stirrer_rpm=rpm)


def _made_of(dark: Profile, name: str, *phases: Phase) -> Profile:
    return replace(dark, name=name, phases=phases)


def curve(parameters: Parameters) -> Profile:
    """The long one."""
    dark = _dark()
    rpm = dark.phases[2].stirrer_rpm
    return _made_of(
        dark,
        "curve",
        _melt(dark, WATCHED_S),
        _prepared(dark, parameters),
        _work(dark, "rewarm", WATCHED_S),
        _work(dark, "hold", HOLD_S),
        _passing(dark, "still", STILL_S, 0.0),
        _passing(dark, "after", AFTER_S, rpm),
    )


def relay(parameters: Parameters) -> Profile:
    """The one for slow relays."""
    dark = _dark()
    return _made_of(
        dark,
        "relay",
        _melt(dark, SETTLE_S),
        _prepared(dark, parameters),
        _work(dark, "rewarm", WATCHED_S),
        _work(dark, "hold", RELAY_HOLD_S),
    )


def cooling() -> Profile:
    """The one that cools as `dark` asks for it."""
    dark = _dark()
    cool = replace(
        _leg(dark.phases[1], "cool", WATCHED_S),
        tolerance_k=0.3,
        late_after_s=COOLING_PATIENCE_S,
        questions=dark.phases[1].questions,
    )
    return _made_of(dark, "cooling", _melt(dark, WATCHED_S), cool)


def addition(parameters: Parameters) -> Profile:
    """The one in which something is added."""
    dark = _dark()
    added = Question(
        id="addition",
        text="Add cold chocolate.",
        when=When.START,
        bowl_c=None,
        choices=DONE,
        unanswered_s=None,
        unanswered=None,
        action=Action.ADD_SEED,
        share=ADDED_SHARE,
    )
    after = replace(_passing(dark, "added", AFTER_S, dark.phases[2].stirrer_rpm), tolerance_k=5.0)
    return _made_of(
        dark,
        "addition",
        _melt(dark, WATCHED_S),
        _prepared(dark, parameters),
        _work(dark, "rewarm", WATCHED_S),
        _work(dark, "hold", WATCHED_S),
        replace(after, questions=(added,)),
    )


def aim(phase: Phase, band_k: float = BAND_K, beyond_k: float = BAND_K) -> Aim:
    """What a phase aims at, for bound and rivals."""
    return Aim(
        target_c=phase.bowl_target_c,
        ceiling_c=phase.bath_ceiling_c,
        stir_from_c=phase.stir_from_c,
        band_k=band_k,
        beyond_k=beyond_k,
    )
