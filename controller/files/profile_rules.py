"""Rules about the whole profile, and the one place where every rule is applied.

Responsible for whether a well-formed profile makes sense; not for its syntax (profile_shape).
"""

from collections.abc import Callable, Iterator

from controller.core.chocolate import form_v_melts_c
from controller.core.machine import Machine
from controller.core.profile import Action, Kind, Profile, Question, When
from controller.files.crystals import crystals_from
from controller.files.phase_rules import PHASE_RULES
from controller.files.question_rules import QUESTION_RULES
from controller.files.rule_cases import (
    SLACK,
    PhaseCase,
    ProfileCase,
    QuestionCase,
    at_most,
    repeated,
)
from controller.files.temperatures import quoted

# Milk proteins grain above 50 °C (McGee, On Food and Cooking, 2004); 58 °C is the highest melt
# temperature in use for dark chocolate (a fact of the trade, common practice, no source). Compound
# coatings hold milk or whey powder, too, and get milk's limit (own engineering value).
BOWL_LIMITS_C = {Kind.DARK: 58.0, Kind.MILK: 50.0, Kind.WHITE: 50.0, Kind.COMPOUND: 50.0}
UNTEMPERED = frozenset({Kind.COMPOUND, Kind.WATER})  # neither is seeded nor tested for temper
MOST_SEED = 0.5  # the trade seeds with 10 to 33 % of the batch (common practice, no source)

ProfileRule = Callable[[ProfileCase], str | None]


def questions(profile: Profile) -> Iterator[Question]:
    """Every question of a profile in its order."""
    for phase in profile.phases:
        yield from phase.questions


def _seeds(profile: Profile) -> tuple[Question, ...]:
    return tuple(one for one in questions(profile) if one.action is Action.ADD_SEED)


def seed_share(profile: Profile) -> float:
    """How much of the whole batch the cook adds as seed, 0 to 1."""
    return sum(seed.share or 0.0 for seed in _seeds(profile))


def _bowl_spares_the_kind(case: ProfileCase) -> str | None:
    kind, limit_c = case.profile.kind, BOWL_LIMITS_C.get(case.profile.kind)
    if limit_c is None or case.profile.bowl_never_above_c <= limit_c + SLACK:
        return None
    return f"{kind} chocolate is spoilt above {limit_c:g} °C; write at most {at_most(limit_c)}"


def _bowl_within_machine(case: ProfileCase) -> str | None:
    limit_c = case.machine.bowl_max_c
    if case.profile.bowl_never_above_c <= limit_c + SLACK:
        return None
    return f"a profile can't raise the machine's bowl limit; write at most {at_most(limit_c)}"


def _bath_within_machine(case: ProfileCase) -> str | None:
    limit_c = case.machine.bath_max_c
    if case.profile.bath_never_above_c <= limit_c + SLACK:
        return None
    return f"a profile can't raise the machine's bath limit; write at most {at_most(limit_c)}"


def _phases_are_told_apart(case: ProfileCase) -> str | None:
    twice = repeated(tuple(phase.name for phase in case.profile.phases))
    return f"two phases are named {quoted(twice)}; give each its own name" if twice else None


def _questions_are_told_apart(case: ProfileCase) -> str | None:
    twice = repeated(tuple(question.id for question in questions(case.profile)))
    return f"two questions have the id {quoted(twice)}; give each its own id" if twice else None


def _seed_is_a_part(case: ProfileCase) -> str | None:
    percent = 100.0 * seed_share(case.profile)
    most = 100.0 * MOST_SEED
    if percent < most:
        return None
    return (
        f"the seed adds up to {percent:g} % of the batch; write shares with a sum below {most:g} %"
    )


def _late_seed_survives(case: ProfileCase) -> str | None:
    """Seed that meets too warm a bowl only melts, so the last portion waits until it is cool."""
    seeds = _seeds(case.profile)
    if not seeds:
        return None
    late = seeds[-1]
    melts_c = form_v_melts_c(case.profile.kind)
    is_cool = late.bowl_c is not None and late.bowl_c <= melts_c + SLACK
    is_one_big = len(seeds) == 1 and late.when is not When.BOWL_AT_MOST
    if is_cool or is_one_big:
        return None
    return (
        f"the last portion of seed, {quoted(late.id)}, would melt (in {case.profile.kind} form V "
        f'melts at {melts_c:g} °C); write when = "bowl-at-most" and bowl at most {at_most(melts_c)}'
    )


def _only_chocolate_is_tempered(case: ProfileCase) -> str | None:
    kind = case.profile.kind
    if kind not in UNTEMPERED:
        return None
    chocolate_only = {Action.ADD_SEED, Action.SET_TEST}
    odd = next((one for one in questions(case.profile) if one.action in chocolate_only), None)
    if odd is None:
        return None
    return f"{kind} can't do {odd.action} ({quoted(odd.id)}); leave it out or write another kind"


PROFILE_RULES: tuple[tuple[str, ProfileRule], ...] = (
    ("never_above · bowl", _bowl_spares_the_kind),
    ("never_above · bowl", _bowl_within_machine),
    ("never_above · bath", _bath_within_machine),
    ("phase · name", _phases_are_told_apart),
    ("question · id", _questions_are_told_apart),
    ("question · share", _seed_is_a_part),
    ("question · bowl", _late_seed_survives),
    ("kind", _only_chocolate_is_tempered),
)


def _phase_cases(profile: Profile, machine: Machine) -> Iterator[PhaseCase]:
    earlier = (None, *profile.phases[:-1])
    first = crystals_from(profile)
    for index, (before, phase) in enumerate(zip(earlier, profile.phases, strict=True)):
        yield PhaseCase(
            phase=phase,
            before=before,
            is_last=phase is profile.phases[-1],
            has_crystals=first is not None and index >= first,
            profile=profile,
            machine=machine,
        )


def _about_profile(profile: Profile, machine: Machine) -> Iterator[tuple[str, str | None]]:
    case = ProfileCase(profile=profile, machine=machine)
    return ((key, rule(case)) for key, rule in PROFILE_RULES)


def _about_phase(case: PhaseCase) -> Iterator[tuple[str, str | None]]:
    place = f"phase {quoted(case.phase.name)}"
    yield from ((f"{place} · {key}", rule(case)) for key, rule in PHASE_RULES)
    for question in case.phase.questions:
        asked = QuestionCase(question=question, phase=case.phase, profile=case.profile)
        spot = f"{place} · question {quoted(question.id)}"
        yield from ((f"{spot} · {key}", rule(asked)) for key, rule in QUESTION_RULES)


def rule_complaints(profile: Profile, machine: Machine) -> list[str]:
    """One sentence for each rule that the profile breaks on this machine; none when it is fine."""
    found = list(_about_profile(profile, machine))
    for case in _phase_cases(profile, machine):
        found.extend(_about_phase(case))
    return [f"{where}: {what}" for where, what in found if what is not None]
